#include "measure/segments.h"

#include "measure/events.h"
#include "measure/tally.h"
#include "measure/traces.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SIGNALS = GW_SIGNAL_NOISE + 1, EVENTS_MAX = 256 };

struct gw_segments {
    double rate_hz;
    uint64_t taken;
    size_t segments, fitted;
    size_t kinds[SIGNALS];
    gw_tally tallies[SIGNALS][GW_READING_COUNT];
    gw_tally quiet[SIGNALS][GW_READING_COUNT]; /* of segments with less than half of that level */
    gw_phase_tally phases[SIGNALS];
    gw_readings *first[SIGNALS]; /* the first segment of each kind: harmonics, tones, pictures */
    gw_course course;
    gw_lasting lasting;
    gw_event events[EVENTS_MAX];
    size_t event_count;
    double power;  /* about its mean of the last part of the segment before, V²; negative where nothing is present */
    size_t untold; /* dropouts of segments that are none of the capture's, or the same as another */
    gw_clues clues;
    gw_strings remarks;
};

gw_segments *gw_segments_new(uint64_t samples, double rate_hz, gw_error *error) {
    gw_segments *all = calloc(1, sizeof *all);
    if (!all) {
        gw_error_memory(error);
        return NULL;
    }
    all->course.samples = samples;
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

/* A dropout that begins with its segment, and one that ended with the segment before, are one. Of either a piece may be
 * left on one side that is too short to be told from an impulse. */
static bool events_join(gw_segments *all, const gw_event *event) {
    double seam = (double)all->taken / all->rate_hz, near = 2 / all->rate_hz;
    if (event->kind == GW_EVENT_STEP || event->start_s > near)
        return false;
    for (size_t k = all->event_count; k-- > 0;) {
        gw_event *before = &all->events[k];
        bool both = before->kind == GW_EVENT_DROPOUT && event->kind == GW_EVENT_DROPOUT;
        bool piece = before->kind != GW_EVENT_STEP && before->kind != event->kind;
        if ((!both && !piece) || fabs(before->start_s + before->length_s - seam) > near)
            continue;
        before->kind = GW_EVENT_DROPOUT;
        before->length_s = seam + event->start_s + event->length_s - before->start_s;
        before->size_v = 0;
        all->untold += both;
        all->clues.crackle_count -= piece;
        return true;
    }
    return false;
}

/* Of the level: what the segment before ends with where the signal goes at once as the next one begins. */
static const double there_before = 0.7;

/* A dropout from the segment's begin on, which did not begin at the end of the segment before, though the signal was
 * low there already: it went little by little. */
static bool went_before(const gw_segments *all, const gw_readings *part, const gw_event *event) {
    const gw_reading *level = &part->values[GW_LEVEL];
    return event->kind == GW_EVENT_DROPOUT && event->start_s == 0 && all->segments > 0 && all->power >= 0 &&
           level->state == GW_READING_VALUE && sqrt(all->power) < there_before * level->value;
}

static void events_add(gw_segments *all, const gw_readings *part) {
    double start = (double)all->taken / all->rate_hz;
    for (size_t k = 0; k < part->event_count && all->event_count < EVENTS_MAX; k++) {
        if (events_join(all, &part->events[k]))
            continue;
        if (went_before(all, part, &part->events[k])) {
            all->untold++;
            continue;
        }
        all->events[all->event_count] = part->events[k];
        all->events[all->event_count++].start_s += start;
    }
}

static void flat_add(gw_flat *flat, const gw_flat *part, double sign, double weight) {
    if (part->clipped && (!flat->clipped || sign * part->level_v > sign * flat->level_v))
        flat->level_v = part->level_v;
    flat->clipped = flat->clipped || part->clipped;
    flat->recorder = flat->recorder || (part->clipped && part->recorder);
    flat->share += weight * part->share; /* divided at the end */
}

static void clues_add(gw_segments *all, const gw_clues *part, double weight) {
    gw_clues *c = &all->clues;
    flat_add(&c->high, &part->high, 1, weight);
    flat_add(&c->low, &part->low, -1, weight);
    c->crossover = c->crossover || part->crossover;
    c->slew_limited = c->slew_limited || part->slew_limited;
    c->crackle_count += part->crackle_count;
    c->step_count += part->step_count;
    c->hum_mains_v = hypot(c->hum_mains_v, sqrt(weight) * part->hum_mains_v); /* divided at the end */
    c->hum_twice_v = hypot(c->hum_twice_v, sqrt(weight) * part->hum_twice_v);
    c->hum_rest_v = hypot(c->hum_rest_v, sqrt(weight) * part->hum_rest_v);
    c->mains_hz = part->mains_hz > 0 ? part->mains_hz : c->mains_hz;
    if (part->wobble_depth > c->wobble_depth) {
        c->wobble_depth = part->wobble_depth;
        c->wobble_hz = part->wobble_hz;
    }
    c->imd_second = fmax(c->imd_second, part->imd_second);
    c->imd_third = fmax(c->imd_third, part->imd_third);
    c->cycles += weight * part->cycles;
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

/* The phase is known best in the middle of the segment. */
static void phase_add(gw_segments *all, const gw_segment *fitted, const gw_segment *segment) {
    const gw_readings *part = fitted->part;
    const gw_reading *frequency = &part->values[GW_FREQUENCY];
    if (frequency->state != GW_READING_VALUE || !part->harmonic_count)
        return;
    const gw_harmonic *h = &part->harmonics[0];
    if (!(h->rms > 0))
        return;
    double half = 0.5 * (double)(segment->count - 1) / all->rate_hz;
    double start = (double)all->taken / all->rate_hz, turns = frequency->value * half;
    double middle =
        segment == fitted ? h->phase_rad + 6.283185307179586 * (turns - floor(turns)) : segment->glance.phase_rad;
    gw_phase_add(&all->phases[part->signal], start + half, middle, h->u_random / h->rms, frequency->value,
                 frequency->u_random);
}

void gw_segment_end(gw_segment *segment) {
    if (!segment->kept)
        gw_readings_free(segment->part);
    gw_course_part_end(&segment->course);
    *segment = (gw_segment){0};
}

/* Is the reading known of each segment that is like the fitted one, by the looks at both? */
static bool known_of_each(const gw_segment *fitted, gw_reading_key key) {
    switch (key) {
    case GW_DC:
    case GW_AC_RMS:
    case GW_TOTAL_RMS:
    case GW_PEAK_HIGH:
    case GW_PEAK_LOW:
        return fitted->part->values[key].state == GW_READING_VALUE;
    case GW_LEVEL:
    case GW_LEVEL_DBV:
    case GW_LEVEL_DBU:
        return fitted->part->values[key].state == GW_READING_VALUE && fitted->tone && fitted->glance.amplitude[0] > 0;
    default:
        return false;
    }
}

static double value_of(const gw_glance *was, const gw_glance *is, gw_reading_key key, double value) {
    double squares = is->mean_square - was->mean_square;
    switch (key) {
    case GW_DC:
        return value + is->dc - was->dc;
    case GW_AC_RMS:
        return sqrt(fmax(value * value + squares, 0));
    case GW_TOTAL_RMS:
        return sqrt(fmax(value * value + squares + is->dc * is->dc - was->dc * was->dc, 0));
    case GW_PEAK_HIGH:
        return value + is->high - was->high;
    case GW_PEAK_LOW:
        return value + is->low - was->low;
    default:
        return value * is->amplitude[0] / was->amplitude[0];
    }
}

/* Where the readings of a segment go: one that the signal is there in for a part alone, or with less than half of the
 * level of those before stands aside, and those stand aside when one has more than twice theirs. */
static gw_tally *tallies_of(gw_segments *all, const gw_segment *segment) {
    const gw_readings *part = segment->part;
    gw_tally *loud = all->tallies[part->signal], *quiet = all->quiet[part->signal], *level = &loud[GW_LEVEL];
    const gw_reading *is = &part->values[GW_LEVEL];
    double usual = level->values ? sqrt(level->sum / (double)level->values) : 0;
    if (is->state == GW_READING_VALUE && gw_lasting_mixed(segment->powers, is->value))
        return quiet;
    if (is->state != GW_READING_VALUE || is->value > 2 * usual) {
        for (int key = 0; key < GW_READING_COUNT && is->state == GW_READING_VALUE && level->values; key++) {
            gw_tally_join(&quiet[key], &loud[key]);
            loud[key] = (gw_tally){0};
        }
        return loud;
    }
    return is->value < 0.5 * usual ? quiet : loud;
}

/* Of a segment like the fitted one: each reading that is known of it alone. */
static void like_add(gw_segments *all, const gw_segment *fitted, const gw_segment *segment) {
    gw_tally *tallies = tallies_of(all, fitted);
    for (int k = 0; k < GW_READING_COUNT; k++) {
        gw_reading_key key = (gw_reading_key)k;
        if (!known_of_each(fitted, key))
            continue;
        gw_reading reading = fitted->part->values[key];
        double was = reading.value;
        reading.value = value_of(&fitted->glance, &segment->glance, key, was);
        reading.u_scale *= was != 0 ? fabs(reading.value / was) : 1;
        reading.u95 = 2 * hypot(reading.u_random, reading.u_scale);
        gw_tally_add(&tallies[key], key, &reading, 1);
    }
}

static void fitted_add(gw_segments *all, const gw_segment *segment) {
    const gw_readings *part = segment->part;
    gw_tally *tallies = tallies_of(all, segment);
    events_add(all, part);
    clues_add(all, &part->clues, (double)segment->weight);
    for (int key = 0; key < GW_READING_COUNT; key++)
        gw_tally_add(&tallies[key], (gw_reading_key)key, &part->values[key],
                     known_of_each(segment, (gw_reading_key)key) ? 1 : segment->weight);
    all->kinds[part->signal] += segment->weight;
    all->fitted++;
}

bool gw_segments_wants(const gw_segments *all, const gw_segment *segment) {
    return segment->part && !all->first[segment->part->signal];
}

bool gw_segments_picture(const gw_block *block, gw_readings *part) {
    return gw_trace_spectrum(block->shelf, block->volts, block->marks, block->count, block->rate_hz, GW_COURSE_COLUMNS,
                             part->arena, &part->spectrum);
}

bool gw_segments_take(gw_segments *all, gw_segment *segments, size_t at, gw_error *error) {
    gw_segment *segment = &segments[at];
    const gw_segment *fitted = &segments[segment->like];
    bool done = true;
    gw_course_add(&all->course, &segment->course);
    gw_lasting_add(&all->lasting, segment->first, segment->count, segment->powers);
    phase_add(all, fitted, segment);
    if (segment == fitted) {
        fitted_add(all, segment);
        done = remarks_add(all, segment->part);
        segment->kept = gw_segments_wants(all, segment);
        if (segment->kept)
            all->first[segment->part->signal] = segment->part;
    } else {
        like_add(all, fitted, segment);
    }
    all->segments++;
    all->taken += segment->count;
    all->power = segment->powers[GW_LASTING_PARTS - 1];
    return done || gw_error_memory(error);
}

bool gw_segments_add(gw_segments *all, const gw_block *block, gw_readings *part, gw_error *error) {
    gw_segment segment = {.first = all->taken, .count = block->count, .part = part, .weight = 1};
    bool done = gw_course_part_make(block, segment.first, all->course.samples, &segment.course);
    if (done)
        gw_lasting_parts(&segment.course, segment.powers);
    done = done && (!gw_segments_wants(all, &segment) || gw_segments_picture(block, part));
    done = done && gw_segments_take(all, &segment, 0, error);
    gw_segment_end(&segment);
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
    bool gone = gw_lasting_gone(&all->lasting);
    for (int key = 0; key < GW_READING_COUNT; key++) {
        bool everywhere = gw_tally_everywhere((gw_reading_key)key);
        gw_tally tally = all->tallies[out->signal][key];
        if (everywhere || !gone)
            gw_tally_join(&tally, &all->quiet[out->signal][key]);
        for (size_t k = 0; k < SIGNALS && everywhere; k++)
            if (k != out->signal) {
                gw_tally_join(&tally, &all->tallies[k][key]);
                gw_tally_join(&tally, &all->quiet[k][key]);
            }
        out->values[key] = gw_tally_reading(&tally, (gw_reading_key)key);
        /* the reason may belong to a segment that goes before `out` does */
        if (out->values[key].why)
            out->values[key].why = gw_arena_string(out->arena, out->values[key].why);
    }
    if (out->values[GW_DROPOUTS].state == GW_READING_VALUE)
        out->values[GW_DROPOUTS].value = fmax(out->values[GW_DROPOUTS].value - (double)all->untold, 0);
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

/* A mean of frequencies that differ by so much, re itself, is none's. */
static const double apart_most = 0.25;

static void frequency_finish(const gw_segments *all, gw_readings *out) {
    double frequency, u;
    gw_reading *reading = &out->values[GW_FREQUENCY];
    if (reading->state == GW_READING_VALUE && reading->u95 > apart_most * reading->value) {
        *reading = (gw_reading){.state = GW_READING_NONE, .why = "it differs from part to part of the record"};
        out->values[GW_PITCH] = *reading;
    }
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

/* Says how much was fitted, where that is not all. */
static bool share_told(const gw_segments *all, gw_readings *out) {
    if (all->fitted == all->segments)
        return true;
    char each[32];
    double seconds = (double)all->course.samples / all->rate_hz / (double)all->segments;
    const char *told =
        gw_arena_printf(out->arena,
                        "fitted in %zu of %zu parts of %s: the others, looked through whole, show the "
                        "same; level, DC, peaks and events are of all",
                        all->fitted, all->segments, gw_quantity_print(seconds, 0, "s", 3, each, sizeof each));
    return told && gw_strings_add(&out->remarks, told);
}

const gw_lasting *gw_segments_lasting(const gw_segments *all) {
    return &all->lasting;
}

bool gw_segments_finish(gw_segments *all, gw_readings *out, gw_error *error) {
    out->signal = most(all);
    values_finish(all, out);
    frequency_finish(all, out);
    clues_finish(all, out);
    bool done = example_finish(all, out) && gw_course_finish(&all->course, out) && share_told(all, out);
    const gw_reading *dropouts = &out->values[GW_DROPOUTS];
    bool stays = dropouts->state == GW_READING_VALUE && dropouts->value == 0;
    for (size_t k = 0; k < all->remarks.count && done; k++)
        if (!stays || strcmp(all->remarks.items[k], gw_events_remark_gone) != 0)
            done = gw_strings_add(&out->remarks, all->remarks.items[k]);
    return done || gw_error_memory(error);
}
