/* Tones of a stage's own, swings of the level, energy above the band: what was not in the input. */
#include "walk/walker.h"

#include <math.h>
#include <stdlib.h>

/* A tone under this share of the signal is residue, told but not judged. */
static const double gross_tone = 0.03, gross_fold = 0.10, gross_same_rate = 0.05, gross_wobble = 0.10;
static const double gross_above = 0.10, gross_unsettled = 0.12;
static const double tone_times = 3, tone_steps = 0.4, chance_times = 6;
/* A spectrum shows a line in the columns within this share of its frequency and so many lines of its record; nearer to
 * the signal it shows the signal's own skirts. */
static const double same_rate = 1e-3, same_line = 0.02, lines_beside = 2, lines_of_skirt = 6, lines_of_harmonic = 3;
/* What is beside the signal shows in the peaks as well, by this share of it at least. */
static const double shows_in_peaks = 0.8;
/* A line of an order that bending never makes alone, so many times above those beside it. */
enum { lowest_lone = 4 };
static const double lone_times = 4, below_rate = 0.4;
/* What a lower rate folds down is not looked for above: bias and clocks by design stay below (common practice); and in
 * no more multiples of a rate. */
static const double highest_residue = 250e3;
enum { most_folds = 50 };
/* A steady tone is one line, most of it in one of the spectrum's; looked for from so many times the fundamental on, its
 * own harmonics up to this order left out. */
static const double shows_as_line = 0.4, clear_of_signal = 2.5, own_orders = 10;

static double gain_to(const gw_walker *walker, int point) {
    const gw_judgement *gain = &walker->stage_of[point].gain;
    if (gain->has_value && !gain->below)
        return gain->value;
    return walker->span_of[point].gain_known ? walker->span_of[point].gain : 1;
}

static bool near(double one, double other, double within) {
    return one > 0 && other > 0 && fabs(one / other - 1) <= within;
}

/* A harmonic that the fit left over. Far up a harmonic would not stand alone, and chance hits one soon. */
static bool is_harmonic(const gw_walker *walker, double frequency_hz) {
    const double highest_order = 20;
    double base = walker->frequency_hz, order = base > 0 ? floor(frequency_hz / base + 0.5) : 0;
    bool within = order >= 1 && near(frequency_hz, order * base, 0.002);
    return within && (walker->shape == GW_SHAPE_PERIODIC || order <= highest_order);
}

/* The larger of the harmonics so many orders beside one; 0 where there are none. */
static double harmonic_rms(const gw_readings *readings, int order, int beside) {
    double highest = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        if (abs(line->order - order) == beside)
            highest = fmax(highest, line->rms);
    }
    return highest;
}

bool gw_tone_is_lone(const gw_readings *readings, const gw_harmonic *line) {
    return line->resolved && line->order >= lowest_lone &&
           line->rms >
               lone_times * fmax(harmonic_rms(readings, line->order, 1), harmonic_rms(readings, line->order, 2));
}

/* Stands one of the signal's own harmonics in that stretch of the spectrum, and not the frequency asked for? It would
 * pass for what is there. */
static bool is_of_signal(const gw_readings *readings, double low_hz, double high_hz, double asked_hz, double skirt_hz) {
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        if (line->resolved && line->frequency_hz > low_hz - skirt_hz && line->frequency_hz < high_hz + skirt_hz)
            return fabs(asked_hz - line->frequency_hz) > skirt_hz;
    }
    return false;
}

/* What a spectrum shows around a frequency, whatever became of it among the readings; volts RMS. */
static double spectrum_at(const gw_walker *walker, const gw_readings *readings, double frequency_hz) {
    const gw_trace *trace = &readings->spectrum;
    double line = readings->source.duration_s > 0 ? 1 / readings->source.duration_s : INFINITY, highest = 0;
    if (!trace->count || !trace->high || !trace->log_x || !(trace->start > 0) ||
        (walker->shape != GW_SHAPE_NOISE && fabs(frequency_hz - walker->frequency_hz) < lines_of_skirt * line))
        return 0;
    double reach = fmax(same_line * frequency_hz, lines_beside * line), span = log(trace->end / trace->start);
    for (size_t i = 0; i < trace->count; i++) {
        double low = trace->start * exp(span * (double)i / (double)trace->count);
        double high = trace->start * exp(span * (double)(i + 1) / (double)trace->count);
        if (high >= frequency_hz - reach && low <= frequency_hz + reach &&
            !is_of_signal(readings, low, high, frequency_hz, lines_of_harmonic * line))
            highest = fmax(highest, trace->high[i]);
    }
    return highest;
}

/* Where a capture of that rate shows a frequency that it cannot hold: folded down. */
static double folded(double frequency_hz, double rate_hz) {
    return rate_hz > 0 ? fabs(frequency_hz - rate_hz * floor(frequency_hz / rate_hz + 0.5)) : frequency_hz;
}

/* May a line that one capture shows be that of another, folded down by the first one's rate from above the other's
 * half rate, and perhaps by the other's too? */
static bool is_unfolded(double one_hz, double rate_hz, double other_hz, double other_rate_hz, double reach_hz) {
    for (int fold = 1; fold <= most_folds && fold * rate_hz - one_hz < highest_residue; fold++)
        for (int side = -1; side <= 1; side += 2) {
            double from_hz = fold * rate_hz + side * one_hz;
            if (from_hz < highest_residue && fabs(folded(from_hz, other_rate_hz) - other_hz) < reach_hz)
                return true;
        }
    return false;
}

/* A line of one capture as another may show it: in its place, or folded by either's rate or by both. */
static bool is_same_line(const gw_readings *one, double one_hz, const gw_readings *other, double other_hz) {
    double reach = lines_beside / fmin(one->source.duration_s, other->source.duration_s);
    double rate = one->source.rate_hz, other_rate = other->source.rate_hz;
    return near(one_hz, other_hz, same_line) || is_unfolded(one_hz, rate, other_hz, other_rate, reach) ||
           is_unfolded(other_hz, other_rate, one_hz, rate, reach);
}

/* What the input's capture shows of a frequency: in its place, folded down by its own rate, or above the other
 * capture's band and folded there into that place; volts RMS. */
static double spectrum_before(const gw_walker *walker, const gw_readings *input, double frequency_hz, double rate_hz) {
    double most_hz = input->source.rate_hz / 2;
    double highest =
        spectrum_at(walker, input, frequency_hz > most_hz ? folded(frequency_hz, 2 * most_hz) : frequency_hz);
    for (int fold = 1; fold <= most_folds && fold * rate_hz - frequency_hz < most_hz; fold++) {
        highest = fmax(highest, spectrum_at(walker, input, fold * rate_hz - frequency_hz));
        if (fold * rate_hz + frequency_hz < most_hz)
            highest = fmax(highest, spectrum_at(walker, input, fold * rate_hz + frequency_hz));
    }
    return highest;
}

/* The same tone further up than the input, as loud beside the signal as it is there: what a short capture of the input
 * cannot show may come from where all comes from. */
static double tone_from_afar(const gw_walker *walker, int point, double frequency_hz) {
    const gw_node *node = &walker->nodes[point], *up = gw_layout_input(walker, point);
    double loudest = 0;
    up = up ? gw_layout_input(walker, (int)(up - walker->nodes)) : NULL;
    for (int steps = 0; up && steps < (int)walker->count; steps++) {
        for (size_t i = 0; up->detected && i < up->readings->tone_count; i++) {
            const gw_tone *tone = &up->readings->tones[i];
            if (near(frequency_hz, tone->frequency_hz, same_line))
                loudest = fmax(loudest, (tone->rms + tone->u95) * node->level.value / up->level.value);
        }
        up = gw_layout_input(walker, (int)(up - walker->nodes));
    }
    return node->detected ? loudest : 0;
}

/* The same tone in the input, as the stage passes it on. */
static double tone_before(const gw_walker *walker, int point, double frequency_hz) {
    const gw_readings *readings = walker->nodes[point].readings;
    const gw_node *from = gw_layout_input(walker, point);
    double power = 0;
    if (!from)
        return 0;
    for (size_t i = 0; i < from->readings->tone_count; i++) {
        const gw_tone *tone = &from->readings->tones[i];
        if (is_same_line(readings, frequency_hz, from->readings, tone->frequency_hz))
            power += (tone->rms + tone->u95) * (tone->rms + tone->u95);
    }
    /* by chance it may stand on a harmonic there */
    for (size_t i = 0; i < from->readings->harmonic_count; i++) {
        const gw_harmonic *line = &from->readings->harmonics[i];
        if (gw_tone_is_lone(from->readings, line) &&
            is_same_line(readings, frequency_hz, from->readings, line->frequency_hz))
            power += (line->rms + line->u95) * (line->rms + line->u95);
    }
    double shown = spectrum_before(walker, from->readings, frequency_hz, readings->source.rate_hz);
    double tilt = gw_layout_tilt(walker, walker->span_of[point].from, point, frequency_hz);
    double passed = fmax(sqrt(power), shown) * gain_to(walker, point) * fmax(1, tilt);
    return fmax(passed, tone_from_afar(walker, point, frequency_hz));
}

/* What two tones that are fed in make together is no tone of a stage's own. */
static bool is_of_pair(const gw_walker *walker, const gw_readings *readings, double frequency_hz) {
    double pair_hz[2];
    return gw_level_pair(walker, pair_hz) && readings->source.duration_s > 0 &&
           gw_level_is_product(pair_hz, frequency_hz, fmax(1 / readings->source.duration_s, 1e-3 * frequency_hz));
}

/* What a single line of noise may reach by chance: its share of one resolution cell, several times over. */
static double chance_line(const gw_walker *walker, int point) {
    const gw_readings *readings = walker->nodes[point].readings;
    double cells = (readings->band_high_hz - readings->band_low_hz) * readings->source.duration_s;
    double share = cells > 1 ? chance_times / sqrt(cells) : 1;
    if (walker->shape == GW_SHAPE_NOISE)
        return walker->nodes[point].level.value * (cells > 1 ? fmax(share, 0.1) : 1);
    const gw_reading *noise = &readings->values[GW_NOISE];
    return noise->state == GW_READING_VALUE ? noise->value * fmin(share, 1) : 0;
}

static const gw_tone *loudest_added(const gw_walker *walker, int point) {
    const gw_readings *readings = walker->nodes[point].readings;
    const gw_tone *loudest = NULL;
    double chance = chance_line(walker, point);
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *tone = &readings->tones[i];
        bool own = tone->kind == GW_TONE_OTHER && !gw_mains_holds(walker, readings, tone->frequency_hz) &&
                   !near(tone->frequency_hz, walker->frequency_hz, 0.02) && !is_harmonic(walker, tone->frequency_hz) &&
                   !near(tone->frequency_hz, walker->chain->stimulus.second_hz, 0.02) &&
                   !is_of_pair(walker, readings, tone->frequency_hz);
        bool added = tone->rms - tone->u95 > tone_times * tone_before(walker, point, tone->frequency_hz) &&
                     tone->rms > fmax(chance, tone_steps * readings->source.step);
        if (own && added && (!loudest || tone->rms > loudest->rms))
            loudest = tone;
    }
    return loudest;
}

/* A line far up that stands on a harmonic of the signal by chance: alone, and not among the input's. Bending makes no
 * lone harmonic there. NULL where there is none. */
static const gw_harmonic *lone_line(const gw_walker *walker, int point) {
    const gw_readings *readings = walker->nodes[point].readings;
    const gw_node *from = gw_layout_input(walker, point);
    const gw_harmonic *loudest = NULL;
    for (size_t i = 0; from && i < readings->harmonic_count; i++) {
        const gw_harmonic *line = &readings->harmonics[i];
        bool seen = line->frequency_hz < below_rate * from->readings->source.rate_hz;
        double before = harmonic_rms(from->readings, line->order, 0) * gain_to(walker, point);
        bool far = line->order > own_orders || line->frequency_hz > readings->band_high_hz;
        far = far && !gw_mains_holds(walker, readings, line->frequency_hz);
        if (far && gw_tone_is_lone(readings, line) && seen && line->rms > lone_times * before &&
            line->rms - line->u95 > tone_times * tone_before(walker, point, line->frequency_hz) &&
            (!loudest || line->rms > loudest->rms))
            loudest = line;
    }
    return loudest;
}

/* What the signal should be here: a tone is judged by it even where the signal is gone. */
static double whole_level(const gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point];
    double level = node->detected ? node->level.value : 0;
    return fmax(level, walker->walk->points[point].expected_level_v);
}

static void report_tone(gw_walker *walker, int point, double frequency_hz, double rms, double share) {
    char frequency[64], level[64], part[32];
    bool mains = gw_mains_may_hold(walker, frequency_hz);
    gw_finding_code code = mains ? GW_FOUND_HUM_ADDED : GW_FOUND_TONE_ADDED;
    gw_finding *found = gw_finding_at(walker, code, point) >= 0
                            ? NULL
                            : gw_finding_add(walker, code, GW_OFF, walker->span_of[point].from, point);
    if (!found)
        return;
    gw_quantity_print(frequency_hz, 0, "Hz", 4, frequency, sizeof frequency);
    gw_quantity_print(rms, 0, gw_words_unit(walker->nodes[point].readings), 3, level, sizeof level);
    gw_words_percent(share, part, sizeof part);
    found->evidence = gw_walker_text(walker, "a steady %s of %s at %s, %s of the signal, not in the input",
                                     mains ? "hum" : "tone", level, frequency, part);
}

/* A stage that oscillates so hard that nothing else is left. */
static void judge_takeover(gw_walker *walker, int point) {
    const gw_readings *readings = walker->nodes[point].readings;
    double frequency = gw_reading_or(readings, GW_FREQUENCY, 0), level = gw_reading_or(readings, GW_LEVEL, 0);
    double whole = whole_level(walker, point);
    bool fed = near(frequency, walker->frequency_hz, same_line);
    if (frequency > 0 && !fed && !gw_level_is_mains(walker, frequency) && whole > 0 && level > 0.1 * whole)
        report_tone(walker, point, frequency, level, level / whole);
}

static void judge_lines(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point], *from = gw_layout_input(walker, point);
    const gw_tone *tone = loudest_added(walker, point);
    const gw_harmonic *line = lone_line(walker, point);
    double whole = whole_level(walker, point);
    /* harmonics of a sharp edge fold down between its lines: up to a tenth of the signal is its own */
    double gross = walker->shape == GW_SHAPE_PERIODIC ? gross_fold : gross_tone;
    /* but they fold alike at one rate, and then the input has them, too */
    if (from && walker->shape == GW_SHAPE_PERIODIC &&
        near(from->readings->source.rate_hz, node->readings->source.rate_hz, same_rate))
        gross = gross_same_rate;
    if (from && tone && whole > 0 && tone->rms - tone->u95 > gross * whole)
        report_tone(walker, point, tone->frequency_hz, tone->rms, tone->rms / whole);
    else if (from && line && !node->dead && whole > 0 && line->rms - line->u95 > gross_tone * whole)
        report_tone(walker, point, line->frequency_hz, line->rms, line->rms / whole);
    else if (node->strange)
        judge_takeover(walker, point);
    const gw_clues *clues = &node->readings->clues;
    double before = from ? from->readings->clues.wobble_depth : 0;
    if (node->dead || !node->detected || clues->wobble_depth < gross_wobble || clues->wobble_depth < 3 * before)
        return;
    gw_finding *found = gw_finding_add(walker, GW_FOUND_TONE_ADDED, GW_OFF, walker->span_of[point].from, point);
    char frequency[32], depth[32];
    if (found)
        found->evidence = gw_walker_text(walker, "the level swings at %s Hz by %s either way",
                                         gw_number_print(clues->wobble_hz, 2, frequency, sizeof frequency),
                                         gw_words_percent(clues->wobble_depth, depth, sizeof depth));
}

/* ---- above the band ---- */

/* The signal with the harmonics that were found, in the band and above it; volts RMS. */
static double with_harmonics(const gw_walker *walker, const gw_node *node) {
    const gw_readings *readings = node->readings;
    double thd = gw_reading_or(readings, GW_THD, 0), power = node->level.value * node->level.value * (1 + thd * thd);
    double lines = 0;
    for (size_t i = 0; i < readings->harmonic_count; i++)
        lines += readings->harmonics[i].resolved ? pow(readings->harmonics[i].rms, 2) : 0;
    return sqrt(walker->shape == GW_SHAPE_SINE ? fmax(power, lines) : power);
}

/* What of the whole is neither signal nor harmonics nor hum nor noise of the band. */
static double unaccounted(const gw_walker *walker, const gw_node *node) {
    const gw_readings *readings = node->readings;
    if (!gw_reading_has(readings, GW_AC_RMS) || !node->detected)
        return 0;
    const gw_reading *all = &readings->values[GW_AC_RMS];
    /* no RMS is larger than half the way from peak to peak */
    if (gw_reading_has(readings, GW_PEAK_TO_PEAK) && all->value > readings->values[GW_PEAK_TO_PEAK].value / 2)
        return 0;
    double signal = with_harmonics(walker, node);
    double known = hypot(hypot(signal, gw_mains_hum(walker, readings)), gw_reading_or(readings, GW_NOISE, 0));
    double margin = 2 * all->u_random + gw_figure_random_u95(&node->level) * node->level.value;
    return gw_rest(all->value - margin, known);
}

/* Noise of the band, spread over the whole bandwidth as white noise would be. */
static double white_share(const gw_readings *readings) {
    double band = readings->band_high_hz - readings->band_low_hz;
    double wide = band > 0 ? fmax(1, readings->source.rate_hz / 2 / band) : 1;
    const gw_reading *noise = &readings->values[GW_NOISE];
    /* noise that is badly known for so many samples is no noise but a line or two: as little of it as there may be */
    double least = noise->state == GW_READING_NONE ? 0 : fmax(0, noise->value - noise->u95);
    return least * sqrt(wide) + readings->source.step / 2;
}

static const double peak_of_rms = 2.8284271247461903; /* of a sine, peak to peak */

/* From peak to peak of the signal with its harmonics. */
static double swing_of_signal(const gw_walker *walker, const gw_node *node) {
    double sine = peak_of_rms * node->level.value * (1 + gw_reading_or(node->readings, GW_THD, 0));
    if (walker->shape != GW_SHAPE_PERIODIC && !(with_harmonics(walker, node) > sine / peak_of_rms))
        return sine;
    double swing = gw_outline_swing(node->readings);
    return walker->shape == GW_SHAPE_PERIODIC ? swing : fmax(sine, swing);
}

/* Peaks above what signal, harmonics, hum and noise make together, as the RMS of a sine that would reach them. */
static double unaccounted_peak(const gw_walker *walker, const gw_node *node) {
    const gw_readings *readings = node->readings;
    if (!gw_reading_has(readings, GW_PEAK_TO_PEAK) || !node->detected)
        return 0;
    const double noise_reach = 6, comb_reach = 5;
    double whole = readings->values[GW_PEAK_TO_PEAK].value - 2 * readings->source.step;
    double hum = gw_mains_hum(walker, readings), noise = white_share(readings);
    return fmax(0, (whole - comb_reach * hum - noise_reach * noise - swing_of_signal(walker, node)) / peak_of_rms);
}

/* The most of it that the peaks leave room for: a slow bend that was taken for hum makes the RMS larger than any sample
 * of the record is. */
static double peaks_allow(const gw_walker *walker, const gw_node *node) {
    const gw_readings *readings = node->readings;
    if (!gw_reading_has(readings, GW_PEAK_TO_PEAK))
        return INFINITY;
    double noise = 4 * gw_reading_or(readings, GW_NOISE, 0); /* two deviations at either end are soon reached */
    double least = swing_of_signal(walker, node) * (1 - gw_figure_random_u95(&node->level));
    return fmax(0, readings->values[GW_PEAK_TO_PEAK].value - noise - least) / peak_of_rms / shows_in_peaks;
}

/* The largest line above the signal that is none of its harmonics, volts RMS: where hum cannot be told from the rest,
 * only what stands there is no hum. */
static double highest_above(const gw_walker *walker, const gw_readings *readings) {
    const gw_trace *trace = &readings->spectrum;
    double span = trace->count && trace->start > 0 ? log(trace->end / trace->start) : 0, highest = 0;
    double line = readings->source.duration_s > 0 ? 1 / readings->source.duration_s : 0;
    for (size_t i = 0; trace->high && i < trace->count; i++) {
        double low = trace->start * exp(span * (double)i / (double)trace->count) - lines_beside * line;
        double high = trace->start * exp(span * (double)(i + 1) / (double)trace->count) + lines_beside * line;
        double order = floor(high / walker->frequency_hz);
        bool harmonic = order * walker->frequency_hz >= low && order <= own_orders;
        if (low > clear_of_signal * walker->frequency_hz && !harmonic)
            highest = fmax(highest, trace->high[i]);
    }
    return highest;
}

static double beside(const gw_walker *walker, const gw_node *node) {
    double rms = fmin(unaccounted(walker, node), peaks_allow(walker, node));
    double here = walker->shape == GW_SHAPE_SINE ? fmax(rms, unaccounted_peak(walker, node)) : rms;
    if (node->readings->values[GW_HUM].state == GW_READING_NONE)
        here = fmin(here, highest_above(walker, node->readings) / shows_as_line);
    return here;
}

/* Energy above the band: where the measuring gives no line for it, it still is in the whole. */
static void judge_above_band(gw_walker *walker, int point) {
    const gw_node *node = &walker->nodes[point], *from = gw_layout_input(walker, point);
    bool moments = gw_reading_or(node->readings, GW_DROPOUTS, 0) >= 1 || node->readings->event_count > 0 ||
                   node->readings->clues.wobble_depth > 0 || node->cuts.count > 0;
    bool steady = walker->shape == GW_SHAPE_SINE || walker->shape == GW_SHAPE_PERIODIC;
    if (!steady || !from || node->dead || !node->detected || moments ||
        gw_finding_at(walker, GW_FOUND_TONE_ADDED, point) >= 0)
        return;
    double whole = whole_level(walker, point), here = beside(walker, node);
    double before = beside(walker, from);
    /* a short record hides one line of a hum behind the signal's own: less than the hum that was found is a part of it
     */
    if (gw_finding_at(walker, GW_FOUND_HUM_ADDED, point) >= 0 && here < gw_mains_hum(walker, node->readings))
        return;
    double gross = node->readings->values[GW_HUM].state == GW_READING_NONE ? gross_unsettled : gross_above;
    if (here < gross * whole || here < tone_times * before * gain_to(walker, point) ||
        here < 2 * white_share(node->readings))
        return;
    gw_finding *found = gw_finding_add(walker, GW_FOUND_TONE_ADDED, GW_OFF, walker->span_of[point].from, point);
    char level[64], part[32];
    if (!found)
        return;
    gw_quantity_print(here, 0, gw_words_unit(node->readings), 3, level, sizeof level);
    found->evidence =
        gw_walker_text(walker, "%s beside signal, hum and noise of the band, %s of the signal, not in the input", level,
                       gw_words_percent(here / whole, part, sizeof part));
}

void gw_tones_judge(gw_walker *walker, int point) {
    gw_mains_judge(walker, point, gain_to(walker, point), whole_level(walker, point));
    judge_lines(walker, point);
    judge_above_band(walker, point);
}
