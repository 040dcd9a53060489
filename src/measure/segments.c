#include "measure/segments.h"

#include "measure/tally.h"
#include "measure/traces.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SIGNALS = GW_SIGNAL_NOISE + 1, LEVELS_MAX = 600, COLUMNS = 720, EVENTS_MAX = 256 };

struct gw_segments {
    double rate_hz;
    uint64_t samples, taken;
    size_t kinds[SIGNALS];
    gw_tally tallies[SIGNALS][GW_READING_COUNT];
    gw_phase_tally phases[SIGNALS];
    gw_readings *first[SIGNALS]; /* the first segment of each kind: harmonics, tones, pictures */
    gw_level_point levels[LEVELS_MAX];
    double level_sum[LEVELS_MAX], level_squares[LEVELS_MAX], level_present[LEVELS_MAX];
    double low[COLUMNS], high[COLUMNS];
    bool seen[COLUMNS];
    gw_event events[EVENTS_MAX];
    size_t event_count;
    gw_clues clues;
    gw_strings remarks;
};

gw_segments *gw_segments_new(uint64_t samples, double rate_hz, gw_error *error) {
    gw_segments *all = calloc(1, sizeof *all);
    if (!all) {
        gw_error_memory(error);
        return NULL;
    }
    all->samples = samples;
    all->rate_hz = rate_hz;
    return all;
}

void gw_segments_free(gw_segments *all) {
    if (!all)
        return;
    for (size_t k = 0; k < SIGNALS; k++)
        gw_readings_free(all->first[k]);
    gw_strings_free(&all->remarks);
    free(all);
}

/* ---- adding -------------------------------------------------------------------------------------- */

/* Level against time and the waveform's columns, over the whole capture. */
static void course_add(gw_segments *all, const gw_block *block) {
    double whole = (double)all->samples;
    for (size_t i = 0; i < block->count; i++) {
        if (block->marks && block->marks[i] != GW_SAMPLE_PRESENT)
            continue;
        double at = (double)(all->taken + i) / whole, v = block->volts[i];
        size_t level = (size_t)(at * LEVELS_MAX), column = (size_t)(at * COLUMNS);
        all->level_sum[level] += v;
        all->level_squares[level] += v * v;
        all->level_present[level]++;
        if (!all->seen[column] || v < all->low[column])
            all->low[column] = v;
        if (!all->seen[column] || v > all->high[column])
            all->high[column] = v;
        all->seen[column] = true;
    }
}

static void events_add(gw_segments *all, const gw_readings *part) {
    double start = (double)all->taken / all->rate_hz;
    for (size_t k = 0; k < part->event_count && all->event_count < EVENTS_MAX; k++) {
        all->events[all->event_count] = part->events[k];
        all->events[all->event_count++].start_s += start;
    }
}

static void flat_add(gw_flat *flat, const gw_flat *part, double sign) {
    if (part->clipped && (!flat->clipped || sign * part->level_v > sign * flat->level_v))
        flat->level_v = part->level_v;
    flat->clipped = flat->clipped || part->clipped;
    flat->recorder = flat->recorder || (part->clipped && part->recorder);
    flat->share += part->share; /* divided at the end */
}

static void clues_add(gw_segments *all, const gw_clues *part) {
    gw_clues *c = &all->clues;
    flat_add(&c->high, &part->high, 1);
    flat_add(&c->low, &part->low, -1);
    c->crossover = c->crossover || part->crossover;
    c->slew_limited = c->slew_limited || part->slew_limited;
    c->crackle_count += part->crackle_count;
    c->step_count += part->step_count;
    c->hum_mains_v = hypot(c->hum_mains_v, part->hum_mains_v); /* divided at the end */
    c->hum_twice_v = hypot(c->hum_twice_v, part->hum_twice_v);
    c->hum_rest_v = hypot(c->hum_rest_v, part->hum_rest_v);
    c->mains_hz = part->mains_hz > 0 ? part->mains_hz : c->mains_hz;
    if (part->wobble_depth > c->wobble_depth) {
        c->wobble_depth = part->wobble_depth;
        c->wobble_hz = part->wobble_hz;
    }
    c->imd_second = fmax(c->imd_second, part->imd_second);
    c->imd_third = fmax(c->imd_third, part->imd_third);
    c->cycles += part->cycles;
    c->codes = fmax(c->codes, part->codes);
    c->overloaded = c->overloaded || part->overloaded;
    c->gappy = c->gappy || part->gappy;
}

static bool remarks_add(gw_segments *all, const gw_readings *part) {
    for (size_t k = 0; k < part->remarks.count; k++) {
        bool known = false;
        for (size_t j = 0; j < all->remarks.count && !known; j++)
            known = strcmp(all->remarks.items[j], part->remarks.items[k]) == 0;
        if (!known && all->remarks.count < 32 && !gw_strings_add(&all->remarks, part->remarks.items[k]))
            return false;
    }
    return true;
}

static void phase_add(gw_segments *all, const gw_readings *part) {
    const gw_reading *frequency = &part->values[GW_FREQUENCY];
    if (frequency->state != GW_READING_VALUE || !part->harmonic_count)
        return;
    const gw_harmonic *h = &part->harmonics[0];
    if (!(h->rms > 0))
        return;
    /* the phase is known best in the middle of the segment */
    double half = 0.5 * (double)(part->source.samples - 1) / all->rate_hz;
    double start = (double)all->taken / all->rate_hz;
    double turns = frequency->value * half;
    double middle = h->phase_rad + 6.283185307179586 * (turns - floor(turns));
    gw_phase_add(&all->phases[part->signal], start + half, middle, h->u_random / h->rms, frequency->value,
                 frequency->u_random);
}

bool gw_segments_add(gw_segments *all, const gw_block *block, gw_readings *part, gw_error *error) {
    gw_signal kind = part->signal;
    course_add(all, block);
    events_add(all, part);
    clues_add(all, &part->clues);
    phase_add(all, part);
    for (int key = 0; key < GW_READING_COUNT; key++)
        gw_tally_add(&all->tallies[kind][key], (gw_reading_key)key, &part->values[key]);
    bool done = remarks_add(all, part);
    all->kinds[kind]++;
    all->taken += block->count;
    if (!all->first[kind]) {
        all->first[kind] = part;
        done = done && gw_trace_spectrum(block->shelf, block->volts, block->marks, block->count, block->rate_hz,
                                         COLUMNS, part->arena, &part->spectrum);
    } else {
        gw_readings_free(part);
    }
    return done || gw_error_memory(error);
}

/* ---- finishing ----------------------------------------------------------------------------------- */

static gw_signal most(const gw_segments *all) {
    size_t best = 0;
    for (size_t k = 1; k < SIGNALS; k++)
        if (all->kinds[k] > all->kinds[best])
            best = k;
    return (gw_signal)best;
}

static void values_finish(const gw_segments *all, gw_readings *out) {
    for (int key = 0; key < GW_READING_COUNT; key++) {
        gw_tally tally = all->tallies[out->signal][key];
        for (size_t k = 0; k < SIGNALS && gw_tally_everywhere((gw_reading_key)key); k++)
            if (k != out->signal)
                gw_tally_join(&tally, &all->tallies[k][key]);
        out->values[key] = gw_tally_reading(&tally, (gw_reading_key)key);
        /* the reason may belong to a segment that goes before `out` does */
        if (out->values[key].why)
            out->values[key].why = gw_arena_string(out->arena, out->values[key].why);
    }
    gw_reading *high = &out->values[GW_PEAK_HIGH], *low = &out->values[GW_PEAK_LOW],
               *span = &out->values[GW_PEAK_TO_PEAK];
    if (high->state == GW_READING_VALUE && low->state == GW_READING_VALUE) {
        span->value = high->value - low->value;
        span->u_random = hypot(high->u_random, low->u_random);
        span->u95 = 2 * hypot(span->u_random, span->u_scale);
    }
    const gw_reading *ac = &out->values[GW_AC_RMS], *dc = &out->values[GW_DC];
    gw_reading *crest = &out->values[GW_CREST];
    if (crest->state == GW_READING_VALUE && ac->state == GW_READING_VALUE && ac->value > 0 &&
        span->state == GW_READING_VALUE && dc->state == GW_READING_VALUE)
        crest->value = fmax(high->value - dc->value, dc->value - low->value) / ac->value;
}

static void frequency_finish(const gw_segments *all, gw_readings *out) {
    double frequency, u;
    gw_reading *reading = &out->values[GW_FREQUENCY];
    if (reading->state != GW_READING_VALUE || !gw_phase_frequency(&all->phases[out->signal], &frequency, &u))
        return;
    /* scatter of the segments' own frequencies beyond their uncertainty: it is not steady, and has a mean only */
    if (fabs(frequency - reading->value) > 4 * hypot(u, reading->u_random))
        return;
    double cents = 1200 / (log(2) * frequency);
    gw_reading *pitch = &out->values[GW_PITCH];
    if (pitch->state == GW_READING_VALUE) {
        pitch->value += cents * (frequency - reading->value);
        pitch->u_random = cents * u;
        pitch->u95 = 2 * pitch->u_random;
    }
    reading->value = frequency;
    reading->u_random = u;
    reading->u95 = 2 * hypot(u, reading->u_scale);
}

static bool course_finish(gw_segments *all, gw_readings *out) {
    double duration = (double)all->samples / all->rate_hz;
    out->levels = gw_arena_array(out->arena, LEVELS_MAX, sizeof *out->levels);
    out->waveform.low = gw_arena_array(out->arena, COLUMNS, sizeof(double));
    out->waveform.high = gw_arena_array(out->arena, COLUMNS, sizeof(double));
    if (!out->levels || !out->waveform.low || !out->waveform.high)
        return false;
    for (size_t k = 0; k < LEVELS_MAX; k++) {
        double n = all->level_present[k];
        if (!(n > 0))
            continue;
        double dc = all->level_sum[k] / n;
        out->levels[out->level_count++] = (gw_level_point){.time_s = duration * ((double)k + 0.5) / LEVELS_MAX,
                                                           .rms_v = sqrt(fmax(all->level_squares[k] / n - dc * dc, 0)),
                                                           .dc_v = dc};
    }
    for (size_t k = 0; k < COLUMNS; k++) {
        size_t from = all->seen[k] || !k ? k : k - 1;
        all->low[k] = all->low[from];
        all->high[k] = all->high[from];
    }
    memcpy(out->waveform.low, all->low, sizeof all->low);
    memcpy(out->waveform.high, all->high, sizeof all->high);
    out->waveform.count = COLUMNS;
    out->waveform.start = out->source.start_s;
    out->waveform.end = out->source.start_s + duration;
    return true;
}

static void *copy(gw_arena *arena, const void *from, size_t count, size_t size) {
    void *to = gw_arena_array(arena, count ? count : 1, size);
    if (to && count)
        memcpy(to, from, count * size);
    return to;
}

static bool example_finish(const gw_segments *all, gw_readings *out) {
    const gw_readings *example = all->first[out->signal];
    out->harmonics = copy(out->arena, example->harmonics, example->harmonic_count, sizeof *out->harmonics);
    out->tones = copy(out->arena, example->tones, example->tone_count, sizeof *out->tones);
    out->events = copy(out->arena, all->events, all->event_count, sizeof *out->events);
    const gw_trace *spectrum = &example->spectrum;
    out->spectrum = *spectrum;
    out->spectrum.low = spectrum->low ? copy(out->arena, spectrum->low, spectrum->count, sizeof(double)) : NULL;
    out->spectrum.high = copy(out->arena, spectrum->high, spectrum->count, sizeof(double));
    out->note = example->note ? gw_arena_string(out->arena, example->note) : NULL;
    if (!out->harmonics || !out->tones || !out->events || !out->spectrum.high)
        return false;
    out->harmonic_count = example->harmonic_count;
    out->tone_count = example->tone_count;
    out->event_count = all->event_count;
    out->band_low_hz = example->band_low_hz;
    out->band_high_hz = example->band_high_hz;
    out->noise_floor_v = example->noise_floor_v;
    return true;
}

static void clues_finish(gw_segments *all, gw_readings *out) {
    size_t count = 0;
    for (size_t k = 0; k < SIGNALS; k++)
        count += all->kinds[k];
    double n = (double)count;
    out->clues = all->clues;
    out->clues.high.share /= n;
    out->clues.low.share /= n;
    out->clues.hum_mains_v /= sqrt(n);
    out->clues.hum_twice_v /= sqrt(n);
    out->clues.hum_rest_v /= sqrt(n);
    const gw_clues *first = &all->first[out->signal]->clues;
    out->clues.too_coarse = first->too_coarse;
    out->clues.too_short = first->too_short;
    out->clues.dc_exactly_zero = first->dc_exactly_zero;
}

bool gw_segments_finish(gw_segments *all, gw_readings *out, gw_error *error) {
    out->signal = most(all);
    values_finish(all, out);
    frequency_finish(all, out);
    clues_finish(all, out);
    bool done = example_finish(all, out) && course_finish(all, out);
    for (size_t k = 0; k < all->remarks.count && done; k++)
        done = gw_strings_add(&out->remarks, all->remarks.items[k]);
    return done || gw_error_memory(error);
}
