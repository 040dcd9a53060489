#include "measure/coarse_lines.h"

#include "measure/bounds.h"
#include "measure/sweep.h"

#include <math.h>

enum { DIVISORS_MAX = 64 };

/* Up to this many cycles lines stand too near to each other, and the search goes over all frequencies instead. */
static const double few_cycles = 12;
static const double weak_energy = 1e-5; /* -50 dB re the strongest line: no ground for another fundamental */
/* Lines that mirror each other about the strongest: how near in cycles a record, how alike in height. A comb of few low
 * orders may look so, three lines of a high one do not stand alone. */
static const double mirror_near = 0.7, mirror_alike = 0.7;
enum { SWELLING_ORDER = 4 };

/* Folds that a line may come down by; by more than three only where chance would hardly put it so near. */
enum { FOLDS = 3, FOLDS_FAR = 40 };
static const double far_near = 0.02; /* of the fundamental */

/* The strongest line not far from half the sample rate: what is folded down will not be much stronger. */
static double edge_rms(const gw_line_search *t) {
    double edge = 0;
    for (size_t k = 0; k < t->peaks->count; k++)
        if (t->peaks->items[k].cycles > 0.3 * (double)t->block->count)
            edge = fmax(edge, t->peaks->items[k].rms);
    return edge;
}

/* Is the line a high harmonic of the comb, folded down by the sample rate? */
static bool is_folded(const gw_line_search *t, const gw_peak *peak, double fundamental) {
    double rate = (double)t->block->count; /* in cycles a record */
    double edge = edge_rms(t);
    for (int fold = 1; fold <= FOLDS_FAR; fold++)
        for (int sign = -1; sign <= 1; sign += 2) {
            bool far = fold > FOLDS;
            double cycles = fold * rate + sign * peak->cycles, order = round(cycles / fundamental);
            double within = GW_LINE_TOLERANCE + (far ? 0.002 : 0.004) * order;
            if (fabs(cycles - order * fundamental) < within && (!far || within < far_near * fundamental) &&
                peak->rms < 3 * edge * (far ? 0.5 / fold : 1))
                return true;
        }
    return false;
}

static bool on_comb(double cycles, const gw_line_comb *of) {
    double order = round(cycles / of->cycles);
    return order >= 1 && fabs(cycles - order * of->cycles) <= GW_LINE_TOLERANCE;
}

/* Is all that asks for the lower comb one line far above the strongest? A comb with nothing at its low orders and one
 * line at a high one is a tone beside the signal. */
static bool one_far_line(const gw_line_search *t, const gw_line_comb *best, const gw_line_comb *next) {
    double highest = 0;
    for (size_t k = 0; k < t->peaks->count; k++) {
        const gw_peak *peak = &t->peaks->items[k];
        if (!t->ignore[k] && peak->rms >= t->steps_rms && on_comb(peak->cycles, next) && !on_comb(peak->cycles, best))
            highest = fmax(highest, peak->cycles);
    }
    return next->lines == best->lines + 1 && highest > 2 * best->cycles;
}

/* A line on the other side of the strongest that mirrors this one: the strongest swells and fades (a tremolo). */
static bool has_mirror(const gw_line_search *t, size_t strongest, size_t of) {
    const gw_peak *items = t->peaks->items;
    double cycles = 2 * items[strongest].cycles - items[of].cycles;
    for (size_t k = strongest + 1; k < t->peaks->count; k++)
        if (k != of && fabs(items[k].cycles - cycles) < mirror_near && items[k].rms > mirror_alike * items[of].rms &&
            items[of].rms > mirror_alike * items[k].rms)
            return true;
    return false;
}

/* Is all that asks for the lower comb a pair of lines that mirror each other? Three lines of a swelling sine are on
 * some comb by chance, and where one is the other is too. */
static bool one_pair(const gw_line_search *t, size_t strongest, const gw_line_comb *best, const gw_line_comb *next) {
    if (next->lines != best->lines + 2)
        return false;
    for (size_t k = strongest + 1; k < t->peaks->count; k++) {
        const gw_peak *peak = &t->peaks->items[k];
        if (!t->ignore[k] && peak->rms >= t->steps_rms && on_comb(peak->cycles, next) && !on_comb(peak->cycles, best))
            return has_mirror(t, strongest, k);
    }
    return false;
}

/* Where the comb's second order is folded already, a line nearly as strong as the first is a tone of its own: of bent
 * waves none of the others has as much, and of any two tones there some order falls near the second. */
static const double second_order = 0.25, folded_weaker = 0.5;

static double folded_energy(const gw_line_search *t, double fundamental, double strong_energy) {
    return fundamental > second_order * (double)t->block->count ? folded_weaker * strong_energy : strong_energy;
}

/* Harmonics from above half the rate are as strong as the last below, and far weaker than the strongest. */
static const double folded_most = 1.5, edge_most = 0.2;

/* Is all that asks for a comb so many times lower no more than harmonics of the higher one, folded down by the sample
 * rate? They all fall on that comb where so many periods are a whole number of samples. */
static bool all_folded(const gw_line_search *t, const gw_line_comb *best, const gw_line_comb *next, int divisor) {
    double samples = divisor * (double)t->block->count / best->cycles, edge = edge_rms(t);
    if (fabs(samples - round(samples)) * next->cycles > GW_LINE_TOLERANCE ||
        !(edge < edge_most * t->peaks->items[0].rms))
        return false;
    for (size_t k = 0; k < t->peaks->count; k++) {
        const gw_peak *peak = &t->peaks->items[k];
        if (!t->ignore[k] && peak->rms > folded_most * edge && on_comb(peak->cycles, next) &&
            !on_comb(peak->cycles, best))
            return false;
    }
    return true;
}

/* Of the fundamentals that put the strongest line on one of their multiples, the one that the other lines ask for. A
 * lower one must bring lines that mere chance would hardly put there. */
static gw_line_comb comb_choose(gw_line_search *t, double strong_cycles, double strong_energy) {
    gw_line_comb best = gw_comb_at(t, strong_cycles);
    double folded = folded_energy(t, best.cycles, strong_energy);
    for (size_t k = 0; k < t->peaks->count; k++)
        t->ignore[k] = t->ignore[k] || (t->peaks->items[k].rms * t->peaks->items[k].rms < folded &&
                                        is_folded(t, &t->peaks->items[k], best.cycles));
    best = gw_comb_at(t, best.cycles);
    for (int divisor = 2; divisor <= DIVISORS_MAX; divisor++) {
        double cycles = strong_cycles / divisor;
        if (cycles < 3)
            break;
        gw_line_comb next = gw_comb_at(t, cycles);
        /* folded lines and spurs fall anywhere: what is left over must be on the new comb for the most part */
        if (next.energy <= best.energy + weak_energy * strong_energy || next.lines <= best.lines ||
            next.other > 0.3 * best.other)
            continue;
        double chance = pow(2 * GW_LINE_TOLERANCE / cycles, (double)(next.lines - best.lines)) * 0.5 * divisor;
        if (chance < 0.15 && !one_far_line(t, &best, &next) && !all_folded(t, &best, &next, divisor) &&
            !(divisor >= SWELLING_ORDER && one_pair(t, gw_strongest_line(t), &best, &next)))
            best = next;
    }
    return best;
}

/* Harmonics of a bent sine don't stand alone above this order, nor can a line that low tell which order it would be.
 * What stands alone above the audio band is no test tone, but an oscillation. */
static const double alone_order = 20, audio_hz = 20e3;
/* What has fewer cycles in the record is a step or a slope of DC beside a sine. Two lines nearer than so many beats are
 * a sine that swells or cuts out, unless the weaker has so much of the stronger. */
static const double slowest_tone = 4, least_beats = 5, beating = 0.5;

/* Two tones: two lines that hold nearly everything and, unless two tones are stated, are no small-number multiples of a
 * common fundamental. */
static double second_tone(const gw_line_search *t, size_t first, const gw_line_comb *chosen, bool stated) {
    const gw_peak *items = t->peaks->items;
    double total = 0;
    size_t second = t->peaks->count;
    for (size_t k = first; k < t->peaks->count; k++) {
        if (t->ignore[k])
            continue;
        total += items[k].rms * items[k].rms;
        if (k > first && second == t->peaks->count)
            second = k;
    }
    if (second == t->peaks->count || items[second].rms < 0.1 * items[first].rms || items[second].rms < t->steps_rms)
        return 0;
    double pair = items[first].rms * items[first].rms + items[second].rms * items[second].rms;
    double low = fmin(items[first].cycles, items[second].cycles),
           high = fmax(items[first].cycles, items[second].cycles);
    if (!stated && (low < slowest_tone || (high - low < least_beats && items[second].rms < beating * items[first].rms)))
        return 0;
    double order = round(high / low);
    bool harmonic =
        order <= alone_order ? fabs(high - order * low) < GW_LINE_TOLERANCE * order : high > audio_hz * t->duration_s;
    bool together = chosen && fabs(low - round(low / chosen->cycles) * chosen->cycles) < GW_LINE_TOLERANCE &&
                    fabs(high - round(high / chosen->cycles) * chosen->cycles) < GW_LINE_TOLERANCE;
    if (pair < 0.9 * total || pair < 0.7 * t->ac_power)
        return 0;
    if (!stated && has_mirror(t, first, second))
        return 0;
    if (!stated && (harmonic || (together && low / chosen->cycles < 3.5 && order <= alone_order)))
        return 0;
    return items[second].cycles;
}

/* The line nearest to a stated frequency, within 3 % and 60 dB of the strongest; peaks->count where there is none. */
static size_t line_near(const gw_line_search *t, double cycles) {
    size_t best = t->peaks->count;
    double reach = fmax(0.03 * cycles, 1.0);
    for (size_t k = 0; k < t->peaks->count; k++) {
        double off = fabs(t->peaks->items[k].cycles - cycles);
        if (off < reach && t->peaks->items[k].rms > 1e-3 * t->peaks->items[0].rms) {
            best = k;
            break; /* strongest first */
        }
    }
    return best;
}

/* A line that is so much of the record is its signal: a sine that cuts out has others around it. */
static const double one_line = 0.65;

/* More than any line of a pulse so narrow that none leads it. */
static const double half_of_all = 0.5;

/* Is one sine over the whole record half of all there is? A line's height counts mid-record for more than its ends, and
 * little of one that has grown or fallen by then. */
static bool is_half(const gw_line_search *t, double cycles) {
    double c, s, n = (double)t->block->count;
    if (t->block->marks)
        return false;
    gw_sweep_dot(t->block->volts, t->block->count, cycles / n, &c, &s);
    return 2 * (c * c + s * s) > half_of_all * t->ac_power * n * n;
}

/* Lines that no comb of many cycles explains: perhaps a narrow pulse of few, that has no strongest line. */
static bool few_instead(const gw_line_search *t, size_t first, gw_line_comb *chosen) {
    /* hum above a signal holds nothing against it, unless both may be one comb of the mains' */
    double rest = t->ac_power - (gw_on_mains(t, chosen->cycles, GW_MAINS_LOW) ? 0 : t->aside);
    double strongest = t->peaks->items[first].rms * t->peaks->items[first].rms;
    if ((chosen->other < 0.1 * chosen->energy && chosen->energy > 0.5 * rest) || strongest > one_line * rest ||
        is_half(t, t->peaks->items[first].cycles))
        return true;
    double cycles;
    if (!gw_search_period(t->block, 1.3, chosen->cycles, &cycles))
        return false;
    if (cycles > 0 && cycles < 0.6 * chosen->cycles)
        *chosen = (gw_line_comb){.cycles = cycles};
    return true;
}

/* Two tones are stated, and one of them stands on the mains (60 Hz and 7 kHz): where no two lines beside the mains are
 * a pair, the strongest of the mains and the strongest beside them. */
static double pair_on_mains(gw_line_search *t, size_t first) {
    if (first == 0 || first == t->peaks->count || !t->ignore[0])
        return 0;
    t->ignore[0] = false;
    double second = second_tone(t, 0, NULL, true);
    t->ignore[0] = true;
    return second;
}

static bool from_lines(gw_line_search *t, const gw_stimulus *stimulus, gw_coarse *out) {
    double count = (double)t->block->count;
    out->mains = gw_mains_aside(t, stimulus);
    size_t first = gw_strongest_line(t);
    if (first == t->peaks->count)
        return true;
    const gw_peak *items = t->peaks->items;
    size_t stated = stimulus->frequency_hz > 0 ? line_near(t, stimulus->frequency_hz * t->duration_s) : t->peaks->count;
    size_t upper = stimulus->second_hz > 0 ? line_near(t, stimulus->second_hz * t->duration_s) : t->peaks->count;
    if (stated < t->peaks->count) {
        out->signal = items[stated].cycles / count;
        out->order = 1;
        if (stimulus->shape == GW_SHAPE_TWO_TONE && upper < t->peaks->count)
            out->second = items[upper].cycles / count;
        return true;
    }
    bool two = stimulus->shape == GW_SHAPE_TWO_TONE;
    double second = two ? second_tone(t, first, NULL, true) : 0;
    if (two && second == 0) {
        second = pair_on_mains(t, first);
        first = second > 0 ? 0 : first;
    }
    gw_line_comb chosen = {0};
    if (second == 0)
        chosen = comb_choose(t, items[first].cycles, items[first].rms * items[first].rms);
    if (second == 0 && !two && stimulus->shape != GW_SHAPE_PERIODIC)
        second = second_tone(t, first, &chosen, false);
    if (second > 0) {
        out->signal = fmin(second, items[first].cycles) / count;
        out->second = fmax(second, items[first].cycles) / count;
        out->order = 1;
        return true;
    }
    if (!few_instead(t, first, &chosen))
        return false;
    out->signal = chosen.cycles / count;
    out->repeats = chosen.energy == 0;
    out->order = (int)round(items[first].cycles / chosen.cycles);
    return true;
}

/* Samples that differ by less than this share of themselves are a constant, rounded. */
static const double rounding = 1e-14;

/* Variance of the samples; 0 of a constant. */
static double ac_power_of(const gw_block *block) {
    double sum = 0, squares = 0, count = 0, first = block->count ? block->volts[0] : 0;
    for (size_t i = 0; i < block->count; i++) {
        if (block->marks && block->marks[i])
            continue;
        double v = block->volts[i] - first;
        sum += v;
        squares += v * v;
        count++;
    }
    double variance = count > 0 ? fmax(squares - sum * sum / count, 0) / count : 0,
           mean = count > 0 ? first + sum / count : 0;
    return variance > rounding * rounding * mean * mean ? variance : 0;
}

/* Has the signal so few cycles, as stated or for certain, that it is not to be looked for among the lines? */
static bool are_few(const gw_block *block, double stated) {
    return stated > 0 ? stated < few_cycles : gw_line_below(block, few_cycles);
}

/* By the lines of the spectrum; nothing is found where these are not what tells. `stated` is in cycles a record. */
static bool lines_try(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, double stated,
                      double ac_power, gw_coarse *out) {
    gw_peaks peaks;
    if (!gw_peaks_find(block->shelf, block->volts, block->marks, block->count, block->rate_hz, &peaks))
        return false;
    gw_line_search t = {.block = block,
                        .peaks = &peaks,
                        .ac_power = ac_power,
                        .steps_rms = block->step / sqrt(12),
                        .duration_s = (double)block->count / block->rate_hz};
    if (!peaks.count || (stated < few_cycles && peaks.items[0].cycles < few_cycles))
        return true;
    gw_mains_set(&t, mains_hz, stated);
    return from_lines(&t, stimulus, out);
}

bool gw_coarse_find(const gw_block *block, const gw_stimulus *stimulus, double mains_hz, gw_coarse *out) {
    *out = (gw_coarse){0};
    double ac_power = ac_power_of(block), stated = stimulus->frequency_hz * (double)block->count / block->rate_hz;
    if (ac_power == 0) /* what is left when its mean is taken away repeats as rounding does */
        return true;
    if (!are_few(block, stated) && !lines_try(block, stimulus, mains_hz, stated, ac_power, out))
        return false;
    if (out->signal > 0)
        return true;
    if (stated > 0.5 && stated < few_cycles) {
        bool done = gw_search_few(block, mains_hz, 0.9 * stated, 1.1 * stated, out);
        if (stimulus->shape == GW_SHAPE_TWO_TONE && out->signal > 0)
            out->second = stimulus->second_hz / block->rate_hz;
        return done;
    }
    return gw_search_few(block, mains_hz, 0.5, few_cycles + 1, out);
}
