/* Test signals: the table of shapes, what can be generated, levels and fades. */
#include "measure/generator.h"

#include <math.h>
#include <stdlib.h>

/* 997 Hz: AES17's own choice. It shares no short period with the usual rates, so quantising errors spread instead of
 * gathering in harmonics. */
const gw_test_shape_info gw_test_shapes[GW_TEST_SHAPE_COUNT] = {
    [GW_TEST_SINE] = {"sine", "a sine of 997 Hz (1 kHz divides 48 kHz and gathers quantising error in harmonics)",
                      "AES17", 997, 0, 1},
    [GW_TEST_SAW] = {"saw", "a falling saw, harmonics up to the end of the band", "Fourier's series", 110, 0, 1},
    [GW_TEST_SQUARE] = {"square", "a square, odd harmonics up to the end of the band", "Fourier's series", 1000, 0, 1},
    [GW_TEST_TWO_TONE] = {"two-tone", "60 Hz and 7 kHz, amplitudes 4 to 1: modulation distortion", "SMPTE RP 120", 60,
                          7000, 0.8},
    [GW_TEST_DIFFERENCE] = {"difference", "19 kHz and 20 kHz, amplitudes 1 to 1: difference-frequency distortion",
                            "IEC 60268-3", 19000, 20000, 0.5},
    [GW_TEST_SWEEP] = {"sweep", "a sine from 20 Hz to 20 kHz, as many octaves in every second", "Farina 2000", 20,
                       20000, 1},
    [GW_TEST_STEPS] = {"steps", "a sine whose level rises in equal steps", NULL, 997, 0, 1},
    [GW_TEST_PINK] = {"pink", "noise with the same power in every octave (-3.01 dB an octave)", NULL, 0, 0, 1},
    [GW_TEST_WHITE] = {"white", "noise with the same power in every hertz, normally distributed", NULL, 0, 0, 1},
    [GW_TEST_SILENCE] = {"silence", "nothing but dither", NULL, 0, 0, 1},
};

typedef struct maker {
    void (*fill)(gw_generator *of, double *values, size_t count);
    void (*size)(gw_generator *of, double *rms, double *peak);
} maker;

static const maker makers[GW_TEST_SHAPE_COUNT] = {
    [GW_TEST_SINE] = {gw_generator_sine, gw_generator_sine_size},
    [GW_TEST_SAW] = {gw_generator_series, gw_generator_series_size},
    [GW_TEST_SQUARE] = {gw_generator_series, gw_generator_series_size},
    [GW_TEST_TWO_TONE] = {gw_generator_pair, gw_generator_pair_size},
    [GW_TEST_DIFFERENCE] = {gw_generator_pair, gw_generator_pair_size},
    [GW_TEST_SWEEP] = {gw_generator_sweep, gw_generator_sine_size},
    [GW_TEST_STEPS] = {gw_generator_steps, gw_generator_sine_size},
    [GW_TEST_PINK] = {gw_generator_pink, gw_generator_noise_size},
    [GW_TEST_WHITE] = {gw_generator_white, gw_generator_noise_size},
    [GW_TEST_SILENCE] = {gw_generator_silence, gw_generator_silence_size},
};

void gw_generator_fill(gw_generator *of, double *values, size_t count) {
    makers[of->signal.shape].fill(of, values, count);
    of->next += count;
}

static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

static bool check_frequencies(const gw_test_signal *signal, gw_error *error) {
    const gw_test_shape_info *info = &gw_test_shapes[signal->shape];
    bool series = signal->shape == GW_TEST_SAW || signal->shape == GW_TEST_SQUARE;
    double top = signal->rate_hz * (series ? GW_GENERATOR_TOP : 0.5);
    double highest = info->second_hz > 0 ? signal->second_hz : signal->frequency_hz;
    char text[2][32];
    if (info->frequency_hz == 0)
        return true;
    if (!(signal->frequency_hz > 0))
        return gw_error_set(error, NULL, 0, "no such frequency");
    if (!(highest < top))
        return gw_error_set(error, NULL, 0, "%s Hz is not below %s Hz, where the band ends at this sample rate",
                            gw_number_print(highest, 9, text[0], sizeof text[0]),
                            gw_number_print(top, 9, text[1], sizeof text[1]));
    if (info->second_hz > 0 && !(signal->second_hz > signal->frequency_hz))
        return gw_error_set(error, NULL, 0, "the second frequency is not above the first");
    if (signal->shape == GW_TEST_STEPS &&
        (double)signal->samples * signal->frequency_hz / signal->rate_hz < signal->steps)
        return gw_error_set(error, NULL, 0, "too short for a cycle in each of %d steps", signal->steps);
    return true;
}

static bool check(const gw_test_signal *signal, gw_error *error) {
    if (!within(signal->rate_hz, 1, 1e9) || signal->samples == 0 || signal->samples > UINT64_C(1) << 40)
        return gw_error_set(error, NULL, 0, "no such sample rate or length");
    if (!within(signal->rms, 0, 1e6))
        return gw_error_set(error, NULL, 0, "no such level");
    if (!(signal->fade_s >= 0) || 2 * signal->fade_s * signal->rate_hz > (double)signal->samples)
        return gw_error_set(error, NULL, 0, "the two fades are longer than the signal");
    if (signal->shape == GW_TEST_STEPS && (!within(signal->steps, 1, 1000) || !within(signal->step_ratio, 1, 1e6)))
        return gw_error_set(error, NULL, 0, "no such steps");
    return check_frequencies(signal, error);
}

/* Scales to the level, unless a peak would then exceed full scale. */
static bool set_level(gw_generator *of, gw_error *error) {
    double rms = 1, peak = 0;
    char text[32];
    makers[of->signal.shape].size(of, &rms, &peak);
    of->scale = rms > 0 ? of->signal.rms / rms : 0;
    if (of->scale * peak <= 1 + 1e-9)
        return true;
    /* decibels re a full-scale sine (AES17), rounded down so that what is said does fit */
    double highest = floor(1000 * gw_db_from_ratio(rms / peak * sqrt(2)) + 1e-6) / 1000;
    return gw_error_set(error, NULL, 0,
                        "the peaks would exceed full scale: the highest level of this signal is %s dBFS",
                        gw_number_fixed(highest, 3, text, sizeof text));
}

bool gw_generator_new(const gw_test_signal *signal, gw_generator **out, gw_error *error) {
    *out = NULL;
    if ((unsigned)signal->shape >= GW_TEST_SHAPE_COUNT)
        return gw_error_set(error, NULL, 0, "no such shape");
    gw_generator *made = calloc(1, sizeof *made);
    if (made == NULL)
        return gw_error_memory(error);
    made->signal = *signal;
    if (signal->frequency_hz == 0)
        made->signal.frequency_hz = gw_test_shapes[signal->shape].frequency_hz;
    if (signal->second_hz == 0)
        made->signal.second_hz = gw_test_shapes[signal->shape].second_hz;
    bool fine = check(&made->signal, error);
    if (fine && made->signal.frequency_hz > 0)
        made->harmonics = (int)fmin(GW_GENERATOR_TOP * signal->rate_hz / made->signal.frequency_hz, 1e6);
    if (!fine || !set_level(made, error)) {
        gw_generator_free(made);
        return false;
    }
    *out = made;
    return true;
}

void gw_generator_free(gw_generator *generator) {
    free(generator);
}

/* Raised cosine: 0 at the very ends, 1 from the fade's length on. */
static double fade_at(const gw_test_signal *signal, uint64_t index) {
    double fade = signal->fade_s * signal->rate_hz;
    uint64_t from_end = signal->samples - 1 - index;
    double edge = (double)(index < from_end ? index : from_end);
    return edge >= fade ? 1 : 0.5 - 0.5 * cos(3.141592653589793 * edge / fade);
}

void gw_generator_next(gw_generator *generator, double *values, size_t count) {
    for (size_t done = 0; done < count;) {
        uint64_t left = generator->signal.samples - generator->next;
        size_t block = count - done < GW_GENERATOR_BLOCK ? count - done : GW_GENERATOR_BLOCK;
        if (left == 0) {
            values[done++] = 0;
            continue;
        }
        if (left < block)
            block = (size_t)left;
        uint64_t first = generator->next;
        gw_generator_fill(generator, values + done, block);
        for (size_t i = 0; i < block; i++)
            values[done + i] *= generator->scale * fade_at(&generator->signal, first + i);
        done += block;
    }
}
