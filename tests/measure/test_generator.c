/* What a test signal cannot be is refused with a reason; each shape is what its name says; behind its end there is
 * silence.
 */
#include "assert_close.h"
#include "gainwalk/measure.h"
#include "signals.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A good one: a tenth of a second of 1 kHz. */
static gw_test_signal sine(void) {
    return (gw_test_signal){.shape = GW_TEST_SINE,
                            .rate_hz = 48e3,
                            .samples = 4800,
                            .frequency_hz = 1000,
                            .rms = 0.1,
                            .steps = 3,
                            .step_ratio = 2};
}

static void refused(const gw_test_signal *signal, const char *says) {
    gw_generator *made = NULL;
    gw_error error = {0};
    char text[256];
    assert_false(gw_generator_new(signal, &made, &error));
    assert_null(made);
    gw_error_print(&error, text, sizeof text);
    if (strstr(text, says) == NULL)
        fail_msg("'%s' instead of '%s'", text, says);
}

static void signals_that_cannot_be_are_refused(void **state) {
    (void)state;
    static const double no_size[] = {-1, (double)NAN, (double)INFINITY};
    gw_test_signal one = sine();
    one.shape = GW_TEST_SHAPE_COUNT;
    refused(&one, "no such shape");
    for (size_t i = 0; i < sizeof no_size / sizeof *no_size; i++) {
        one = sine(), one.rate_hz = no_size[i];
        refused(&one, "no such sample rate or length");
        one = sine(), one.frequency_hz = no_size[i];
        refused(&one, isinf(no_size[i]) ? "is not below 24000 Hz" : "no such frequency");
        one = sine(), one.rms = no_size[i];
        refused(&one, "no such level");
        one = sine(), one.shape = GW_TEST_STEPS, one.step_ratio = no_size[i];
        refused(&one, "no such steps");
    }
    one = sine(), one.samples = 0;
    refused(&one, "no such sample rate or length");
    one = sine(), one.shape = GW_TEST_STEPS, one.steps = 0;
    refused(&one, "no such steps");
    one = sine(), one.shape = GW_TEST_TWO_TONE, one.frequency_hz = 7000, one.second_hz = 60;
    refused(&one, "the second frequency is not above the first");
    one = sine(), one.shape = GW_TEST_SWEEP, one.frequency_hz = 500, one.second_hz = 500;
    refused(&one, "the second frequency is not above the first");
    one = sine(), one.fade_s = 0.06;
    refused(&one, "fades are longer than the signal");
    one = sine(), one.rms = 0.8; /* peak 1.13 */
    refused(&one, "full scale");
}

static void behind_its_end_is_silence(void **state) {
    (void)state;
    gw_test_signal one = sine();
    gw_generator *made = NULL;
    gw_error error = {0};
    static double values[6000];
    double sum = 0;
    assert_true(gw_generator_new(&one, &made, &error));
    for (size_t i = 0; i < 6000; i++)
        values[i] = 9;
    for (size_t at = 0; at < 6000; at += 1500)
        gw_generator_next(made, values + at, 1500);
    for (size_t i = 0; i < 4800; i++)
        sum += values[i] * values[i];
    assert_close(sqrt(sum / 4800), 0.1, 1e-6); /* a hundred whole cycles */
    for (size_t i = 4800; i < 6000; i++)
        assert_close(values[i], 0, 0);
    gw_generator_free(made);
    gw_generator_free(NULL);
}

/* All of a signal, made in pieces of no round size in a buffer that held something else. */
static double *made_of(const gw_test_signal *signal) {
    gw_generator *made = NULL;
    gw_error error = {0};
    double *values = malloc(signal->samples * sizeof *values);
    assert_non_null(values);
    assert_true(gw_generator_new(signal, &made, &error));
    for (size_t i = 0; i < signal->samples; i++)
        values[i] = 9;
    for (size_t at = 0; at < signal->samples; at += 777)
        gw_generator_next(made, values + at, signal->samples - at < 777 ? signal->samples - at : 777);
    gw_generator_free(made);
    return values;
}

static double rms_between(const double *values, size_t from, size_t to) {
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += values[i] * values[i];
    return sqrt(sum / (double)(to - from));
}

/* How often the values rise through zero between two samples. */
static int rises_between(const double *values, size_t from, size_t to) {
    int rises = 0;
    for (size_t i = from + 1; i < to; i++)
        rises += values[i - 1] < 0 && values[i] >= 0;
    return rises;
}

static void silence_is_zero_throughout(void **state) {
    (void)state;
    gw_test_signal one = {.shape = GW_TEST_SILENCE, .rate_hz = 48e3, .samples = 5000};
    double *values = made_of(&one);
    for (size_t i = 0; i < 5000; i++)
        assert_close(values[i], 0, 0);
    free(values);
}

/* A frequency that is stated is kept; one that is not is the shape's own, of a sine 997 Hz (AES17). */
static void the_frequency_is_the_stated_one_or_the_shapes_own(void **state) {
    (void)state;
    static const struct {
        double stated_hz;
        int in_a_second;
    } cases[] = {{250, 250}, {0, 997}, {4321, 4321}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_test_signal one = sine();
        one.samples = 48000, one.frequency_hz = cases[i].stated_hz;
        double *values = made_of(&one);
        assert_in_range(rises_between(values, 0, 48000), cases[i].in_a_second - 1, cases[i].in_a_second);
        free(values);
    }
}

/* Saw and square as their Fourier series have them: of order n, 1/n of the first, the even ones missing in the square;
 * whole cycles at the exact sine of each order (a discrete Fourier sum) give it. */
static void series_have_the_orders_of_their_shape(void **state) {
    (void)state;
    static const gw_test_shape shapes[] = {GW_TEST_SAW, GW_TEST_SQUARE};
    for (size_t s = 0; s < 2; s++) {
        gw_test_signal one = sine();
        double first = 0;
        one.shape = shapes[s], one.frequency_hz = 1000;
        double *values = made_of(&one);
        assert_close(rms_between(values, 0, 4800), 0.1, 1e-6);
        for (int order = 1; order <= 7; order++) {
            double re = 0, im = 0;
            for (size_t i = 0; i < 4800; i++) {
                re += values[i] * cos(6.283185307179586 * order * (double)i / 48);
                im += values[i] * sin(6.283185307179586 * order * (double)i / 48);
            }
            first = order == 1 ? hypot(re, im) : first;
            bool missing = shapes[s] == GW_TEST_SQUARE && order % 2 == 0;
            assert_close(hypot(re, im) / first, missing ? 0 : 1.0 / order, 1e-9);
        }
        free(values);
    }
}

/* How high a band-limited saw or square may be: it overshoots (Gibbs), by Si(pi) = 1.85194 at its edge, whose half is
 * pi/2 of a saw and pi/4 of a square of the same series; the RMS is that of the ideal shape, but for the orders beyond
 * the band. */
static void overshoot_keeps_below_full_scale(void **state) {
    (void)state;
    static const struct {
        gw_test_shape shape;
        double highest_rms;
    } known[] = {{GW_TEST_SAW, 0.906900 / 1.851937}, {GW_TEST_SQUARE, 0.785398 / 0.925969}};
    for (size_t s = 0; s < 2; s++) {
        gw_test_signal one = sine();
        one.shape = known[s].shape, one.frequency_hz = 100, one.rms = 1.01 * known[s].highest_rms;
        refused(&one, "full scale");
        one.rms = 0.99 * known[s].highest_rms;
        double *values = made_of(&one), most = 0;
        for (size_t i = 0; i < one.samples; i++)
            most = fmax(most, fabs(values[i]));
        assert_close(most, 0.98, 0.02);
        free(values);
    }
}

/* An exponential sweep (Farina 2000): from f1 to f2 in T seconds, f1 T/ln(f2/f1) ((f2/f1)^(t/T) - 1) cycles until t. */
static void a_sweep_rises_exponentially(void **state) {
    (void)state;
    gw_test_signal one = sine();
    one.shape = GW_TEST_SWEEP, one.samples = 96000, one.frequency_hz = 50, one.second_hz = 5000;
    double *values = made_of(&one);
    for (int quarter = 1; quarter <= 4; quarter++) {
        double cycles = 50 * 2 / log(100) * (pow(100, quarter / 4.0) - 1);
        double rises = rises_between(values, 0, (size_t)quarter * 24000);
        assert_close(rises, cycles, 1.01);
    }
    free(values);
}

/* The numbers are those of the published generator (splitmix64; Steele, Lea & Flood 2014), as the tests draw theirs. */
static void random_numbers_as_published(void **state) {
    (void)state;
    static const uint64_t seeds[] = {0, 1, 1234567, UINT64_C(0xDEADBEEFCAFEF00D)};
    for (size_t s = 0; s < sizeof seeds / sizeof *seeds; s++) {
        uint64_t stream = seeds[s];
        for (uint64_t i = 0; i < 100; i++)
            assert_close(gw_random_uniform(seeds[s], i), random_even(&stream), 0);
    }
    /* the first of seed 0, as its authors print it */
    assert_close(gw_random_uniform(0, 0), (double)(UINT64_C(0xE220A8397B1DCDAF) >> 11) * 0x1p-53, 0);
}

/* Noise of any length is as loud as stated, not by chance about so. */
static void noise_is_as_loud_as_stated(void **state) {
    (void)state;
    static const uint64_t lengths[] = {100, 4095, 4096, 5000, 20000};
    for (size_t k = 0; k < 2 * sizeof lengths / sizeof *lengths; k++) {
        gw_test_signal one = sine();
        one.shape = k % 2 ? GW_TEST_PINK : GW_TEST_WHITE, one.samples = lengths[k / 2], one.rms = 0.05;
        double *values = made_of(&one);
        assert_close(rms_between(values, 0, one.samples), 0.05, 1e-9);
        free(values);
    }
}

/* A sine at full scale is as loud as a sine gets, and it is made. */
static void full_scale_itself_is_made(void **state) {
    (void)state;
    gw_test_signal one = sine();
    one.rms = sqrt(0.5);
    double *values = made_of(&one), most = 0;
    for (size_t i = 0; i < one.samples; i++)
        most = fmax(most, fabs(values[i]));
    assert_close(most, 1, 1e-6);
    free(values);
    one.rms *= 1.0001;
    refused(&one, "full scale");
}

/* Four steps of a second, the loudest as stated, each half of the next. */
static void steps_rise_by_their_ratio(void **state) {
    (void)state;
    gw_test_signal one = sine();
    one.shape = GW_TEST_STEPS, one.samples = 4 * 48000, one.steps = 4, one.step_ratio = 2;
    double *values = made_of(&one);
    for (size_t step = 0; step < 4; step++)
        assert_close(rms_between(values, step * 48000, (step + 1) * 48000), 0.1 / (double)(8u >> step), 1e-6);
    free(values);
}

/* A raised cosine: sin² of the quarter turn that the fade takes, at either end; the middle is as without. */
static void fades_are_raised_cosines(void **state) {
    (void)state;
    enum { FADE = 480 };
    gw_test_signal one = sine();
    gw_generator *plain = NULL, *faded = NULL;
    gw_error error = {0};
    static double volts[4800], whole[4800];
    assert_true(gw_generator_new(&one, &plain, &error));
    one.fade_s = FADE / one.rate_hz;
    assert_true(gw_generator_new(&one, &faded, &error));
    gw_generator_next(plain, whole, 4800);
    gw_generator_next(faded, volts, 4800);
    for (int i = 0; i < 4800; i++) {
        int edge = i < 4799 - i ? i : 4799 - i;
        double share = edge < FADE ? pow(sin(1.5707963267948966 * edge / FADE), 2) : 1;
        assert_close(volts[i], whole[i] * share, 1e-9);
    }
    gw_generator_free(plain);
    gw_generator_free(faded);
}

/* Power of one octave of a block's bins, by the definition of the transform. */
static double octave_power(const double *block, size_t n, size_t from) {
    double sum = 0;
    for (size_t bin = from; bin < 2 * from; bin++) {
        double turn = 6.283185307179586 * (double)bin / (double)n, w = 2 * cos(turn), one = 0, two = 0;
        for (size_t i = 0; i < n; i++) {
            double now = block[i] + w * one - two;
            two = one;
            one = now;
        }
        sum += one * one + two * two - w * one * two;
    }
    return sum;
}

/* Pink noise has the same power in every octave, white noise twice as much in each as in the one below. An octave of 16
 * bins in 16 blocks scatters by 1/16, 0.27 dB; 1.2 dB are met by chance hardly ever. */
static void octaves_of_noise(void **state) {
    (void)state;
    enum { BLOCK = 2048, BLOCKS = 16 };
    static double block[BLOCK];
    for (int white = 0; white < 2; white++) {
        gw_test_signal one = sine();
        gw_generator *made = NULL;
        gw_error error = {0};
        double power[6] = {0};
        one.shape = white ? GW_TEST_WHITE : GW_TEST_PINK;
        one.samples = (uint64_t)BLOCK * BLOCKS;
        assert_true(gw_generator_new(&one, &made, &error));
        for (int b = 0; b < BLOCKS; b++) {
            gw_generator_next(made, block, BLOCK);
            for (int k = 0; k < 6; k++)
                power[k] += octave_power(block, BLOCK, (size_t)16 << k);
        }
        for (int k = 1; k < 6; k++)
            assert_close(10 * log10(power[k] / power[0]), white ? 3.0103 * k : 0, 1.2);
        gw_generator_free(made);
    }
}

/* Pink down to 5 Hz and even below, or it would have no mean: an octave at 0.3 Hz then has 0.3/(5 ln 2) of what every
 * octave above 5 Hz has, -10.6 dB. 20 bins scatter by 1 dB. */
static void pink_noise_ends_at_5_hz(void **state) {
    (void)state;
    gw_test_signal one = sine();
    one.shape = GW_TEST_PINK, one.rate_hz = 1000, one.samples = 1 << 16;
    double *values = made_of(&one), low = 0, high = 0;
    for (uint64_t seed = 0; seed < 3; seed++) {
        one.seed = seed;
        free(values);
        values = made_of(&one);
        low += octave_power(values, one.samples, 20);
        high += octave_power(values, one.samples, 1280);
    }
    assert_close(10 * log10(low / high), -10.6, 2.5);
    free(values);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(octaves_of_noise),
        cmocka_unit_test(pink_noise_ends_at_5_hz),
        cmocka_unit_test(fades_are_raised_cosines),
        cmocka_unit_test(signals_that_cannot_be_are_refused),
        cmocka_unit_test(behind_its_end_is_silence),
        cmocka_unit_test(silence_is_zero_throughout),
        cmocka_unit_test(the_frequency_is_the_stated_one_or_the_shapes_own),
        cmocka_unit_test(series_have_the_orders_of_their_shape),
        cmocka_unit_test(overshoot_keeps_below_full_scale),
        cmocka_unit_test(a_sweep_rises_exponentially),
        cmocka_unit_test(steps_rise_by_their_ratio),
        cmocka_unit_test(random_numbers_as_published),
        cmocka_unit_test(full_scale_itself_is_made),
        cmocka_unit_test(noise_is_as_loud_as_stated),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
