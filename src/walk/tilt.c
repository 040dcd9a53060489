/* Highs lost, lows lost: the harmonics of a periodic signal, the two tones, or noise over the band, each against what
 * the stage should do at its frequency. A single sine cannot tell. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

/* A loss of half the power at one end of the band is what the trade calls a corner; parts of 10 % move the slope behind
 * one by under 2 dB. In nepers. */
static const double tilt_limit = 0.34538776394910684; /* 3 dB */
/* A line counts where it stands this many times above what is known of it, and above the steps of its capture: lines
 * near a converter's floor are the converter's own. */
static const double above_u95 = 5, above_step = 0.5;
/* Under so many codes from peak to peak nothing is known of harmonics. */
static const double least_codes = 12;

/* Intermodulation from which on the smaller of two tones is no measure of anything. */
static const double bent_products = 0.2, bent_times = 3;

/* Hardly more than one period of many lines can be explained by another period's lines. */
static const double periods_needed = 2;

/* One line of the signal in the input and what became of it: log of gain over expectation. */
typedef struct strand {
    double frequency_hz, log_gain, u;
    bool bound; /* log_gain is an upper bound: the line has sunk under the floor */
} strand;

/* An edge of height H lies anywhere within a sample and takes along what it adds to a line: with N samples a period,
 * 2 H/N of its amplitude for a whole sample, the same for every order. Two edges, each even within half a sample either
 * way, in step with the line or not: 95 % of RMS values within this many H/N. */
static const double edge_share = 0.65;
/* Lines by which that height is known; the first are the shape's. */
static const int edge_order = 5;
/* What is a line of the signal stood in what was fed in, with at least this share of what it has now; and nothing this
 * far under the fundamental tells of a response (a triangle's ninth harmonic has 1/81). */
static const double share_of_source = 0.33, least_of_first = 0.01;

/* Orders that a joint fit carries well, and frequencies that the sampling does not touch. */
enum { HIGHEST_ORDER = 10 };
/* Bands of noise that scatter by more tell nothing. */
static const double scatter_most = 0.15;
static const double below_rate = 0.25;

/* Ends of two spectra that may be compared lie within this ratio. */
static const double axes_alike = 1.6;

enum { STRANDS_MAX = 64, STRANDS_LEAST = 3 };

typedef struct strands {
    strand items[STRANDS_MAX];
    size_t count;
    double gain;              /* what the signal as a whole came through with, at most */
    double step_in, step_out; /* of the captures */
} strands;

static double floor_of(double u95, double step) {
    return fmax(above_u95 * u95, above_step * step);
}

static void add(const gw_walker *walker, const gw_span *span, strands *s, double frequency_hz, double in, double u_in,
                double out, double u_out) {
    double tilt = gw_layout_tilt(walker, span->from, span->to, frequency_hz);
    double expected = in * s->gain * tilt, floor_out = floor_of(u_out, s->step_out);
    /* a line that should stand under the floor of the output tells nothing */
    if (s->count >= STRANDS_MAX || !(tilt > 0) || in < floor_of(u_in, s->step_in) || expected < floor_out)
        return;
    strand *one = &s->items[s->count++];
    one->frequency_hz = frequency_hz;
    one->bound = out < floor_out;
    one->log_gain = log(fmax(out, one->bound ? floor_out : out) / in / tilt);
    one->u = hypot(u_in / in, one->bound ? 0 : u_out / out);
}

static const gw_harmonic *harmonic_of(const gw_readings *readings, int order) {
    for (size_t i = 0; i < readings->harmonic_count; i++)
        if (readings->harmonics[i].order == order)
            return &readings->harmonics[i];
    return NULL;
}

/* What steep edges leave open of each line, RMS volts. A pulse of height H has lines of 2 H/(n pi) at most. */
static double edge_u95(const gw_readings *readings) {
    const double pi = 3.14159265358979323846;
    double height = 0, first_hz = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        first_hz = line->order == 1 ? line->frequency_hz : first_hz;
        if (line->resolved && line->order >= edge_order && line->order <= HIGHEST_ORDER)
            height = fmax(height, line->order * pi / 2 * sqrt(2) * line->rms);
    }
    return readings->source.rate_hz > 0 ? edge_share * height * first_hz / readings->source.rate_hz : 0;
}

/* Was it fed in? By its share of the fundamental in the reference channel, or at the first point that shows the signal.
 */
static bool was_fed_in(const gw_walker *walker, int point, const gw_harmonic *line) {
    const gw_readings *here = walker->nodes[point].readings, *source = walker->nodes[point].reference;
    for (int i = point; i >= 0 && !walker->nodes[point].reference; i = walker->nodes[i].point->after)
        if (walker->nodes[i].usable && walker->nodes[i].readings->signal == GW_SIGNAL_PERIODIC)
            source = walker->nodes[i].readings;
    const gw_harmonic *first = harmonic_of(here, 1), *fed = source ? harmonic_of(source, line->order) : NULL,
                      *fed_first = source ? harmonic_of(source, 1) : NULL;
    if (!first || !(line->rms > least_of_first * first->rms))
        return false;
    return fed && fed_first && fed->resolved && fed_first->rms > 0 &&
           fed->rms / fed_first->rms >= share_of_source * line->rms / first->rms;
}

static void take_harmonics(const gw_walker *walker, const gw_span *span, strands *s) {
    const gw_readings *from = walker->nodes[span->from].readings, *to = walker->nodes[span->to].readings;
    double edge_in = edge_u95(from), edge_out = edge_u95(to);
    for (size_t i = 0; i < from->harmonic_count; i++) {
        const gw_harmonic *in = &from->harmonics[i];
        const gw_harmonic *out = harmonic_of(to, in->order);
        if (in->order > HIGHEST_ORDER || in->frequency_hz > from->band_high_hz ||
            in->frequency_hz > below_rate * fmin(from->source.rate_hz, to->source.rate_hz))
            continue;
        if (in->resolved && out && was_fed_in(walker, span->from, in))
            add(walker, span, s, in->frequency_hz, in->rms, hypot(in->u95, edge_in), out->resolved ? out->rms : 0,
                hypot(out->u95, edge_out));
    }
}

static void take_tones(const gw_walker *walker, const gw_span *span, strands *s) {
    const gw_readings *from = walker->nodes[span->from].readings, *to = walker->nodes[span->to].readings;
    for (size_t i = 0; i < from->tone_count; i++)
        for (size_t k = 0; k < to->tone_count; k++) {
            const gw_tone *in = &from->tones[i], *out = &to->tones[k];
            if (in->kind == GW_TONE_STIMULUS && out->kind == GW_TONE_STIMULUS &&
                fabs(out->frequency_hz / in->frequency_hz - 1) < 0.01)
                add(walker, span, s, in->frequency_hz, in->rms, in->u95, out->rms, out->u95);
        }
}

static bool is_spectrum(const gw_trace *trace) {
    return trace->count > 0 && trace->high && trace->log_x && trace->start > 0 && trace->end > trace->start;
}

/* Two records of about the same length and rate; a technician's are seldom of quite the same. */
static bool alike(double one, double other) {
    return one < axes_alike * other && other < axes_alike * one;
}

/* Mean power of the columns that lie between two frequencies. */
static double mean_power(const gw_trace *trace, double low_hz, double high_hz) {
    double columns = (double)trace->count / log(trace->end / trace->start), sum = 0;
    double first = ceil(columns * log(low_hz / trace->start)), last = floor(columns * log(high_hz / trace->start));
    size_t begin = first > 0 ? (size_t)first : 0, end = last > 0 ? (size_t)last : 0;
    if (end > trace->count)
        end = trace->count;
    for (size_t i = begin; i < end; i++)
        sum += trace->high[i] * trace->high[i];
    return end > begin ? sum / (double)(end - begin) : 0;
}

/* Of noise the spectra's columns, averaged in eight bands of what both show. */
static void take_noise(const gw_walker *walker, const gw_span *span, strands *s) {
    enum { bands = 8 };
    const gw_readings *from = walker->nodes[span->from].readings, *to = walker->nodes[span->to].readings;
    const gw_trace *in = &from->spectrum, *out = &to->spectrum;
    if (!is_spectrum(in) || !is_spectrum(out) || !alike(in->start, out->start) || !alike(in->end, out->end))
        return;
    double start = fmax(in->start, out->start), end = fmin(in->end, out->end);
    for (size_t band = 0; band < bands; band++) {
        double width_in_log = log(end / start) / bands, middle = start * exp(((double)band + 0.5) * width_in_log);
        double low_hz = start * exp((double)band * width_in_log), high_hz = low_hz * exp(width_in_log);
        double power_in = mean_power(in, low_hz, high_hz), power_out = mean_power(out, low_hz, high_hz);
        /* relative scatter of an RMS over bandwidth B and time T: 1/(2 sqrt(B T)); thrice that, for columns hold peaks
         */
        double width = middle * width_in_log;
        double u = 1.5 / sqrt(width * fmin(from->source.duration_s, to->source.duration_s));
        if (middle < from->band_low_hz || middle > from->band_high_hz || u > scatter_most || !(power_out > 0))
            continue;
        add(walker, span, s, middle, sqrt(power_in), u * sqrt(power_in), sqrt(power_out), u * sqrt(power_out));
    }
}

/* Mean of the lower (or upper) third of the strands, at least one. */
static double end_of(const strands *s, bool high, double *u, bool *bound) {
    size_t width = s->count / 3 ? s->count / 3 : 1;
    double sum = 0, squares = 0;
    *bound = false;
    for (size_t i = 0; i < width; i++) {
        const strand *one = &s->items[high ? s->count - 1 - i : i];
        sum += one->log_gain;
        squares += one->u * one->u;
        *bound = *bound || one->bound;
    }
    *u = sqrt(squares) / (double)width;
    return sum / (double)width;
}

static void sort(strands *s) {
    for (size_t i = 1; i < s->count; i++) {
        strand moving = s->items[i];
        size_t k = i;
        for (; k > 0 && s->items[k - 1].frequency_hz > moving.frequency_hz; k--)
            s->items[k] = s->items[k - 1];
        s->items[k] = moving;
    }
}

/* Which end is at fault where one is weaker than the other: the one that is off the expected gain. */
static bool high_end_lost(const gw_span *span, double low, double high) {
    if (!span->gain_known)
        return high < low;
    double expected = log(span->gain);
    return high < low ? high < expected - tilt_limit / 2 || fabs(low - expected) < fabs(high - expected)
                      : fabs(high - expected) > fabs(low - expected);
}

static void report(gw_walker *walker, const gw_span *span, bool highs, const strands *s, double low, double high) {
    char difference[32], from[64], to[64];
    /* where nothing is known of the stage, a slope may be its design */
    gw_finding *found = gw_finding_add(walker, highs ? GW_FOUND_HIGHS_LOST : GW_FOUND_LOWS_LOST,
                                       span->gain_known ? GW_OFF : GW_UNSURE, span->from, span->to);
    if (!found)
        return;
    if (!span->gain_known)
        found->settle = "state the stage: its design may do so";
    gw_words_db(exp(highs ? high - low : low - high), difference, sizeof difference);
    gw_quantity_print(s->items[highs ? s->count - 1 : 0].frequency_hz, 0, "Hz", 3, to, sizeof to);
    gw_quantity_print(s->items[highs ? 0 : s->count - 1].frequency_hz, 0, "Hz", 3, from, sizeof from);
    found->evidence = gw_walker_text(walker, "%s around %s against %s%s", difference, to, from,
                                     span->gain_known ? ", beyond what the stage should do" : "");
}

static bool is_fine_enough(const gw_readings *readings) {
    if (readings->signal == GW_SIGNAL_PERIODIC && readings->clues.cycles < periods_needed)
        return false;
    return !readings->clues.too_coarse && (readings->clues.codes <= 0 || readings->clues.codes >= least_codes);
}

/* The lines that can be compared, lowest first. */
static void take(const gw_walker *walker, const gw_span *span, strands *s) {
    const gw_node *to = &walker->nodes[span->to], *from = &walker->nodes[span->from];
    bool alive = to->detected && !to->dead && !to->below_dead && from->detected;
    if (!alive || from->readings->signal != to->readings->signal || !is_fine_enough(from->readings) ||
        !is_fine_enough(to->readings))
        return;
    s->gain = to->level.value / from->level.value;
    s->step_in = from->readings->source.step;
    s->step_out = to->readings->source.step;
    if (walker->shape == GW_SHAPE_PERIODIC && from->readings->signal == GW_SIGNAL_PERIODIC)
        take_harmonics(walker, span, s);
    else if (walker->shape == GW_SHAPE_TWO_TONE)
        take_tones(walker, span, s);
    else if (walker->shape == GW_SHAPE_NOISE)
        take_noise(walker, span, s);
    sort(s);
}

/* The lines between the ends lie between them: a filter's slope, not one line gone astray. */
static bool is_slope(const strands *s, double low, double high) {
    double sum = 0;
    size_t first = s->count / 3, last = s->count - s->count / 3;
    for (size_t i = first; i < last; i++)
        sum += s->items[i].log_gain;
    double middle = last > first ? sum / (double)(last - first) : (low + high) / 2, slack = tilt_limit / 2;
    return middle <= fmax(low, high) + slack && middle >= fmin(low, high) - slack;
}

/* Two tones that bend each other smother the smaller one: that is no loss of highs. */
static bool is_bent(const gw_walker *walker, const gw_span *span) {
    const gw_clues *to = &walker->nodes[span->to].readings->clues, *from = &walker->nodes[span->from].readings->clues;
    double here = hypot(to->imd_second, to->imd_third), before = hypot(from->imd_second, from->imd_third);
    return walker->shape == GW_SHAPE_TWO_TONE && here > bent_products && here > bent_times * before;
}

static void judge(gw_walker *walker, int point) {
    const gw_span *span = &walker->span_of[point];
    strands s = {.count = 0};
    take(walker, span, &s);
    if (is_bent(walker, span) || s.count < (walker->shape == GW_SHAPE_TWO_TONE ? 2 : STRANDS_LEAST))
        return;
    double u_low, u_high;
    bool bound_low, bound_high;
    double low = end_of(&s, false, &u_low, &bound_low), high = end_of(&s, true, &u_high, &bound_high);
    double limit = tilt_limit * sqrt((double)span->across) + 2 * hypot(u_low, u_high);
    /* a bound says "at most": it can show a loss, never its absence */
    if (fabs(high - low) <= limit || (high < low && bound_low) || (low < high && bound_high) ||
        !is_slope(&s, low, high))
        return;
    bool highs = high < low;
    if (highs != high_end_lost(span, low, high))
        return; /* the stronger end is the one that is off: a rise, not a loss */
    report(walker, span, highs, &s, low, high);
}

void gw_tilt_judge(gw_walker *walker) {
    for (size_t k = 0; k < walker->count; k++) {
        int i = walker->order[k];
        if (walker->nodes[i].usable && walker->nodes[i].from >= 0)
            judge(walker, i);
    }
}
