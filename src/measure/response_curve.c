/* What a response's lines say: gain in the middle, corners; the response between two points; readings of a sweep. */
#include "measure/response.h"

#include <math.h>

/* Gain at a frequency between two lines, straight in decibels against octaves. */
static double gain_at(const gw_response *of, double frequency_hz) {
    size_t i = 0;
    while (i + 1 < of->count && of->lines[i + 1].frequency_hz < frequency_hz)
        i++;
    const gw_response_line *one = &of->lines[i], *next = &of->lines[i + 1 < of->count ? i + 1 : i];
    if (next->frequency_hz <= one->frequency_hz)
        return one->gain;
    double share = log(frequency_hz / one->frequency_hz) / log(next->frequency_hz / one->frequency_hz);
    return exp((1 - share) * log(one->gain) + share * log(next->gain));
}

/* From the middle outwards to where the gain has fallen to its half power; 0 where it does not. */
static double corner(const gw_response *of, bool upwards) {
    double level = of->middle_gain * sqrt(0.5);
    for (size_t i = 0; i + 1 < of->count; i++) {
        size_t at = upwards ? i : of->count - 1 - i, next = upwards ? at + 1 : at - 1;
        const gw_response_line *inner = &of->lines[at], *outer = &of->lines[next];
        bool outside = upwards ? outer->frequency_hz > of->middle_hz : outer->frequency_hz < of->middle_hz;
        if (!outside || outer->gain > level)
            continue;
        double share = inner->gain > level ? log(inner->gain / level) / log(inner->gain / outer->gain) : 0;
        return inner->frequency_hz * pow(outer->frequency_hz / inner->frequency_hz, share);
    }
    return 0;
}

static void find_middle(gw_response *of) {
    double low = of->lines[0].frequency_hz, high = of->lines[of->count - 1].frequency_hz;
    of->middle_hz = low <= 1000 && high >= 1000 ? 1000 : sqrt(low * high);
    of->middle_gain = gain_at(of, of->middle_hz);
}

gw_response *gw_response_new(size_t bands) {
    gw_arena *arena = gw_arena_new();
    gw_response *made = arena != NULL ? gw_arena_take(arena, sizeof *made) : NULL;
    if (made != NULL && (made->lines = gw_arena_array(arena, bands + 1, sizeof *made->lines)) != NULL) {
        made->arena = arena;
        return made;
    }
    gw_arena_free(arena);
    return NULL;
}

void gw_response_finish(gw_response *of) {
    find_middle(of);
    of->low_hz = corner(of, false);
    of->high_hz = corner(of, true);
}

void gw_response_free(gw_response *response) {
    if (response != NULL)
        gw_arena_free(response->arena);
}

bool gw_response_between(const gw_response *from, const gw_response *to, gw_response **out, gw_error *error) {
    *out = gw_response_new(from->count);
    if (*out == NULL)
        return gw_error_memory(error);
    gw_response *made = *out;
    for (size_t i = 0, k = 0; i < from->count; i++) {
        const gw_response_line *one = &from->lines[i];
        while (k < to->count && to->lines[k].frequency_hz < one->frequency_hz * (1 - 1e-9))
            k++;
        if (k == to->count || to->lines[k].frequency_hz > one->frequency_hz * (1 + 1e-9) || !(one->gain > 0))
            continue;
        const gw_response_line *other = &to->lines[k];
        made->lines[made->count++] = (gw_response_line){.frequency_hz = one->frequency_hz,
                                                        .gain = other->gain / one->gain,
                                                        .coherence = fmin(one->coherence, other->coherence),
                                                        .u95 = hypot(one->u95, other->u95)};
    }
    made->delay_s = to->delay_s - from->delay_s;
    made->stimulus_rms = from->stimulus_rms;
    if (made->count < 2)
        made->count = 0;
    else
        gw_response_finish(made);
    return true;
}

/* ---- readings of a sweep --------------------------------------------------------------------------- */

static const char not_of_a_sweep[] = "a sweep is fed in";

/* Levels of the record hold for any signal, the others need a steady one. */
static void forget_the_steady(gw_readings *readings) {
    static const gw_reading_key steady[] = {GW_FREQUENCY, GW_PITCH,         GW_THD, GW_THD_N, GW_SINAD,    GW_NOISE,
                                            GW_NOISE_A,   GW_NOISE_DENSITY, GW_HUM, GW_SNR,   GW_DROPOUTS, GW_DRIFT};
    for (size_t i = 0; i < sizeof steady / sizeof *steady; i++)
        readings->values[steady[i]] = (gw_reading){.state = GW_READING_NONE, .why = not_of_a_sweep};
    readings->harmonic_count = readings->tone_count = readings->event_count = 0;
    gw_clues *clues = &readings->clues;
    clues->crossover = clues->slew_limited = false;
    clues->hum_mains_v = clues->hum_twice_v = clues->hum_rest_v = 0;
    clues->crackle_count = clues->step_count = clues->wobble_hz = clues->wobble_depth = clues->cycles = 0;
    clues->imd_second = clues->imd_third = 0;
}

static void set_level(gw_readings *readings, const gw_reading *level) {
    readings->values[GW_LEVEL] = readings->values[GW_LEVEL_DBV] = readings->values[GW_LEVEL_DBU] = *level;
}

void gw_readings_take_sweep(gw_readings *readings) {
    forget_the_steady(readings);
    readings->signal = GW_SIGNAL_SWEEP;
    set_level(readings, &readings->values[GW_AC_RMS]);
}

/* Noise and distortion at the middle, as the lines beside it show them. */
static double share_open(const gw_response *response) {
    size_t best = 0;
    for (size_t i = 1; i < response->count; i++)
        if (fabs(log(response->lines[i].frequency_hz / response->middle_hz)) <
            fabs(log(response->lines[best].frequency_hz / response->middle_hz)))
            best = i;
    return response->lines[best].u95;
}

void gw_readings_take_response(gw_readings *readings, const gw_response *response) {
    const gw_reading *all = &readings->values[GW_AC_RMS];
    if (response->count == 0) {
        gw_reading level = {.state = GW_READING_BELOW, .value = all->value + all->u95, .why = "no sweep in it"};
        if (all->state != GW_READING_VALUE)
            level = *all;
        forget_the_steady(readings);
        readings->signal = GW_SIGNAL_NONE;
        set_level(readings, &level);
        return;
    }
    double value = response->middle_gain * response->stimulus_rms;
    double scale = all->state == GW_READING_VALUE && all->value > 0 ? all->u_scale / all->value : 0;
    double random = share_open(response) / 2;
    gw_reading level = {.state = GW_READING_VALUE,
                        .value = value,
                        .u_random = value * random,
                        .u_scale = value * scale,
                        .u95 = 2 * value * hypot(random, scale)};
    gw_readings_take_sweep(readings);
    set_level(readings, &level);
}
