#include "measure/certain.h"

#include <math.h>

/* Up to here lines stand so near to each other, and to DC, that what is around one is little and uncertain. */
static const double few_cycles = 12;
/* Demands on a line's drop of rss over the variance of the noise: few neighbours tell less than many. */
static const double over_few = 100, over_many = 30;
/* Share of what lies within `NEAR` bins that a tone holds, whatever modulates it. */
static const double near_share = 0.5;
/* A comb's lines over what is half-way between them. */
static const double comb_over = 4;

/* A comb of many lines in a record of few cycles can imitate any slow noise: what it leaves, re what it holds, is the
 * only evidence. Under about two cycles hardly anything repeats at all. */
static const double few_left = 0.6, two_cycles = 2.2, two_left = 0.15;

/* What lies beside a line may be this many times what white noise would bring before it counts as coloured: of five of
 * its frequencies it passes this once in two hundred times. */
static const double colour_least = 2.5;

enum { NEAR = 8, FAR_STEP = 4, FAR = 40, HALVES_MAX = 40 };

static bool is_signal(const gw_model *model, const gw_sinusoid *line) {
    return line->multiple[GW_BASE_SIGNAL] || (line->multiple[GW_BASE_SECOND] && !model->stray);
}

static double drop_of(const gw_fit *fit, const gw_sinusoid *line) {
    return 0.5 * (line->cosine * line->cosine + line->sine * line->sine) * (double)fit->present;
}

typedef struct around {
    double sum; /* of drops that lines there would bring */
    int count;
} around;

/* Adds what one frequency beside the line (in bins of the record) would bring, unless the model covers it. */
static void around_add(const gw_fit *fit, double bins, around *a) {
    double frequency = bins / (double)fit->count;
    if (bins < 0.5 || frequency > 0.5 - 0.5 / (double)fit->count)
        return;
    gw_candidate candidate = gw_fit_candidate(fit, frequency);
    if (candidate.share < 0.1)
        return;
    a->sum += candidate.drop;
    a->count++;
}

/* Frequencies beside a line in a record of few cycles that are told apart from it, nearest first. */
static const double offsets[] = {1, 1.5, 2, 2.5, 3, 4, 5, 6, 8};
/* Of a line of about one cycle only the side above is seen: noise that rises to low frequencies has fallen far below
 * its slowest swing a few cycles on, but not within two. */
static const double one_cycle = 1.3;
enum { NEAREST_OFFSETS = 3 };

/* A line in a record of few cycles: 2 times the noise's variance is what each frequency around it would bring. */
static bool stands_out_few(const gw_fit *fit, double bins, double drop) {
    around a = {0};
    for (size_t k = 0; k < sizeof offsets / sizeof *offsets; k++) {
        around_add(fit, bins - offsets[k], &a);
        around_add(fit, bins + offsets[k], &a);
        if (k + 1 == NEAREST_OFFSETS && bins < one_cycle && !(drop > over_few * 0.5 * a.sum / a.count))
            return false;
    }
    return a.count >= 3 && drop > over_few * 0.5 * a.sum / a.count;
}

static bool stands_out_many(const gw_fit *fit, double bins, double drop) {
    around near_it = {0}, far_off = {0};
    for (int k = 1; k <= NEAR; k++) {
        around_add(fit, bins - k, &near_it);
        around_add(fit, bins + k, &near_it);
    }
    for (int k = NEAR; k <= FAR; k += FAR_STEP) {
        around_add(fit, bins - k, &far_off);
        around_add(fit, bins + k, &far_off);
    }
    if (far_off.count >= 3 && drop < over_many * 0.5 * far_off.sum / far_off.count)
        return false;
    return drop > near_share * (drop + near_it.sum);
}

/* Lines of the comb against what is half-way between them. */
static bool comb_stands_out(const gw_fit *fit, double sum, double lines) {
    int highest = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_SIGNAL] > highest)
            highest = fit->lines[k].multiple[GW_BASE_SIGNAL];
    around a = {0};
    int every = highest / HALVES_MAX + 1;
    for (int order = 1; order <= highest; order += every)
        around_add(fit, (order + 0.5) * fit->base[GW_BASE_SIGNAL] * (double)fit->count, &a);
    return a.count >= 3 && sum / lines > comb_over * a.sum / a.count;
}

/* A comb's lines, each against what lies beside it: in noise of any colour each brings about as much as its neighbours
 * do (an exponential variable of mean 1), however far it stands above the record's mean. Every order counts, also those
 * that the model has left out, or chance would have its pick. */
static bool comb_is_local(const gw_fit *fit, double chance) {
    static const double beside[] = {-0.5, -0.4, -0.3, 0.3, 0.4, 0.5};
    double fundamental = fit->base[GW_BASE_SIGNAL] * (double)fit->count, sum = 0, orders = 0;
    int highest = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        highest = fit->lines[k].multiple[GW_BASE_SIGNAL] > highest ? fit->lines[k].multiple[GW_BASE_SIGNAL] : highest;
    for (int order = 1; order <= highest; order++) {
        size_t line = gw_fit_find(fit, order, 0, 0);
        around a = {0};
        for (size_t k = 0; line < fit->line_count && k < sizeof beside / sizeof *beside; k++)
            around_add(fit, (order + beside[k]) * fundamental, &a);
        orders++;
        if (a.count >= 2 && a.sum > 0)
            sum += drop_of(fit, &fit->lines[line]) * a.count / a.sum;
    }
    return sum > orders + 5 * sqrt(orders) + chance / 2;
}

/* What lies 2 to 6 cycles beside a line, and 2 from its comb's next. */
static around noise_beside(const gw_fit *fit, double cycles, double apart) {
    enum { NEAREST = 2, FARTHEST = 6 };
    around a = {0};
    for (double k = fmin(NEAREST, apart / 2); k <= fmin(FARTHEST, fmax(apart - NEAREST, apart / 2)); k++) {
        around_add(fit, cycles - k, &a);
        around_add(fit, cycles + k, &a);
    }
    return a;
}

double gw_noise_around(const gw_fit *fit, double cycles, double apart) {
    around a = noise_beside(fit, cycles, apart);
    return a.count > 0 ? 0.5 * a.sum / a.count : 0;
}

double gw_noise_demanded(const gw_fit *fit, double cycles, double apart) {
    static const double chance = 9; /* -ln of the probability of a line that is none */
    around a = noise_beside(fit, cycles, apart);
    /* the mean of n exponential variables is passed r-fold by another with probability (1 + r/n)^-n */
    return a.count > 0 ? 0.5 * a.sum * expm1(chance / a.count) / chance : 0;
}

double gw_noise_between(const gw_fit *fit, double cycles, double apart) {
    static const double halves[] = {0.5, 1.5, 2.5, 3.5}, chance = 9;
    around a = {0};
    for (size_t k = 0; k < sizeof halves / sizeof *halves; k++) {
        around_add(fit, cycles - halves[k] * apart, &a);
        around_add(fit, cycles + halves[k] * apart, &a);
    }
    double mean = a.count >= 3 ? 0.5 * a.sum / a.count : 0;
    return mean > colour_least * gw_fit_variance(fit) ? mean * a.count * expm1(chance / a.count) / chance : mean;
}

/* Does one line stand far over what is around it? */
static bool is_alone(const gw_fit *fit, const gw_sinusoid *line, double chance) {
    double drop = drop_of(fit, line), bins = gw_fit_frequency(fit, line) * (double)fit->count;
    return drop > chance * gw_fit_variance(fit) &&
           (bins < few_cycles ? stands_out_few(fit, bins, drop) : stands_out_many(fit, bins, drop));
}

/* Of two tones each must stand out: noise of a narrow band has two peaks as well. */
static bool are_two(const gw_fit *fit, double chance) {
    size_t one = gw_fit_find(fit, 1, 0, 0), other = gw_fit_find(fit, 0, 1, 0);
    return one < fit->line_count && other < fit->line_count && is_alone(fit, &fit->lines[one], chance) &&
           is_alone(fit, &fit->lines[other], chance);
}

bool gw_tone_certain(const gw_model *model) {
    const gw_fit *fit = &model->fit;
    const gw_sinusoid *strongest = NULL;
    double noise = gw_fit_variance(fit), sum = 0, lines = 0;
    for (size_t k = 0; k < fit->line_count; k++) {
        if (!is_signal(model, &fit->lines[k]))
            continue;
        if (!strongest || drop_of(fit, &fit->lines[k]) > drop_of(fit, strongest))
            strongest = &fit->lines[k];
        sum += drop_of(fit, &fit->lines[k]);
        lines++;
    }
    if (gw_fit_exact(fit))
        return true;
    double chance = 2 * (log((double)fit->present) + 7), cycles = fit->base[GW_BASE_SIGNAL] * (double)fit->count;
    double left = sqrt(noise * (double)fit->present / fmax(sum, 1e-300));
    if (!strongest || (lines > 3 && cycles < few_cycles && left > (cycles < two_cycles ? two_left : few_left)))
        return false;
    bool alone = model->two_tone ? are_two(fit, chance) : is_alone(fit, strongest, chance);
    bool together = lines > 3 && sum > (2 * lines + 8 * sqrt(lines) + chance) * noise;
    return alone || (together && comb_stands_out(fit, sum, lines) && comb_is_local(fit, chance));
}
