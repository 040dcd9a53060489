/* Figures that compare the fundamental with the rest, and the noise with what the converter makes: where there is
 * nothing to compare, none is told. */
#include "measured.h"

enum { N = 4800 };
static const double rate_hz = 48e3;

/* Harmonics 2, 3 and 5 of 110 Hz, none at 110 Hz itself. SINAD is fundamental over the rest (IEEE Std 1057): here there
 * is none. */
static void no_fundamental_has_no_sinad(void **state) {
    (void)state;
    uint64_t seed = 12;
    for (int t = 0; t < 20; t++) {
        double *x = new_volts(N), phase = 7 * random_even(&seed);
        add_sine(x, N, rate_hz, 1, 220, phase);
        add_sine(x, N, rate_hz, 1, 330, 2 * phase);
        add_sine(x, N, rate_hz, 0.8, 550, 3 * phase);
        add_noise(x, N, 0.001, &seed);
        gw_readings *readings = measured(x, N, rate_hz, 0);
        assert_close(value_of(readings, GW_FREQUENCY), 110, 0.1);
        assert_int_equal(readings->values[GW_SINAD].state, GW_READING_NONE);
        assert_string_equal(readings->values[GW_SINAD].why, "the fundamental is not above the noise");
        gw_readings_free(readings);
        free(x);
    }
}

/* A sine with about as much noise as the converter's steps make, and so it is with the noise's density (white: the one
 * is the other times the root of the band). Where one is a bound the other can't be a figure. */
static void density_is_a_bound_where_noise_is(void **state) {
    (void)state;
    uint64_t seed = 13;
    int bounds = 0;
    for (int t = 0; t < 120; t++) {
        double *x = new_volts(N), step = 0.002 + 0.1 * random_even(&seed);
        add_sine(x, N, rate_hz, 1, 300 + 1500 * random_even(&seed), 7 * random_even(&seed));
        add_noise(x, N, (0.25 + 0.06 * random_even(&seed)) * step, &seed); /* steps make 0.289 */
        quantise(x, N, step);
        gw_readings *readings = measured(x, N, rate_hz, step);
        if (readings->values[GW_NOISE].state == GW_READING_BELOW) {
            bounds++;
            assert_int_equal(readings->values[GW_NOISE_DENSITY].state, GW_READING_BELOW);
        }
        gw_readings_free(readings);
        free(x);
    }
    print_message("noise is a bound in %d of 120\n", bounds);
    assert_in_range(bounds, 20, 100);
}

/* Whole periods of a sine whose fourth harmonic lies on half the rate, or a hair below it, as the fit has it: whatever
 * the samples hold there shows one phase of two. Orders 2 and 3 are there to be seen: 3 at 1 %, and the bound where
 * none is stays near what the noise makes: amplitudes of 2 sigma/sqrt(N) a line, two lines, 95 % of them (chi-square
 * with four degrees of freedom: 3.08 of either coefficient's). */
static void an_order_at_half_the_rate_hides_none(void **state) {
    (void)state;
    enum { COUNT = 800 };
    const double sigma = 0.004, line = sigma * sqrt(2.0 / COUNT);
    uint64_t seed = 21;
    for (int t = 0; t < 40; t++) {
        double *x = new_volts(COUNT), phase = 7 * random_even(&seed), f = 1000 + 0.01 * (random_even(&seed) - 0.5);
        add_sine(x, COUNT, 8000, 0.7, f, phase);
        if (t % 2)
            add_sine(x, COUNT, 8000, 0.007, 3 * f, 2 * phase);
        add_noise(x, COUNT, sigma, &seed);
        gw_readings *r = measured(x, COUNT, 8000, 0);
        assert_int_equal(r->harmonic_count, 3);
        const gw_reading *thd = &r->values[GW_THD];
        if (t % 2) {
            assert_close(value_of(r, GW_THD), 0.01, 4 * line / 0.7);
            assert_close(thd->value, 0.01, 2 * thd->u95);
        } else {
            assert_int_equal(thd->state, GW_READING_BELOW);
            assert_in_range(thd->value * 1e6, 1e6 * line / 0.7, 1e6 * 2 * 3.08 * line / 0.7);
        }
        gw_readings_free(r);
        free(x);
    }
}

/* THD+N is all but the fundamental over everything (AES17's idea): a strange tone belongs to the rest, and how well its
 * level is known belongs to u95. Its amplitude is known to sigma sqrt(2/N); white noise as far as
 * the band of 20 Hz to 20 kHz reaches. */
static void a_tone_makes_distortion_and_noise_less_certain(void **state) {
    (void)state;
    enum { COUNT = 2400, TRIALS = 200 };
    const double tone = 0.01, sigma = 0.003, rest = 0.5 * tone * tone + sigma * sigma * 19980 / 24000;
    const double truth = sqrt(rest / (0.5 + rest));
    uint64_t seed = 31;
    int held = 0;
    double sum = 0;
    for (int t = 0; t < TRIALS; t++) {
        double *x = new_volts(COUNT);
        add_sine(x, COUNT, rate_hz, 1, 900 + 200 * random_even(&seed), 7 * random_even(&seed));
        add_sine(x, COUNT, rate_hz, tone, 6300 + 400 * random_even(&seed), 7 * random_even(&seed));
        add_noise(x, COUNT, sigma, &seed);
        gw_readings *r = measured(x, COUNT, rate_hz, 0);
        double value = value_of(r, GW_THD_N);
        held += fabs(value - truth) <= r->values[GW_THD_N].u95;
        sum += value;
        gw_readings_free(r);
        free(x);
    }
    print_message("u95 of THD+N holds the truth in %d of %d\n", held, TRIALS);
    assert_close(sum / TRIALS, truth, 0.005 * truth);
    assert_in_range(held, 0.93 * TRIALS, TRIALS);
}

/* Eight samples a period: the error of the steps lies on the lines, none of it between them, so that there is no noise
 * to take the steps out of; what stands at order 3 is the signal's, give or take what the steps put on orders 2 and 3:
 * of their error, step^2/12, four of eight parts (Bennett 1948: every phase of the period errs by itself). */
static void steps_are_taken_out_of_noise_alone(void **state) {
    (void)state;
    enum { TRIALS = 400 };
    const double step = 0.01, third = 0.015, power = 0.5 * third * third;
    uint64_t seed = 32;
    double sum = 0;
    for (int t = 0; t < TRIALS; t++) {
        double *x = new_volts(N);
        add_sine(x, N, rate_hz, 1, 6000, 7 * random_even(&seed));
        add_sine(x, N, rate_hz, third, 18000, 7 * random_even(&seed));
        quantise(x, N, step);
        gw_readings *r = measured(x, N, rate_hz, step);
        double ratio = value_of(r, GW_THD_N);
        sum += ratio * ratio / (1 - ratio * ratio) / 2;
        gw_readings_free(r);
        free(x);
    }
    print_message("power of the rest %.4g, of order 3 alone %.4g\n", sum / TRIALS, power);
    assert_in_range(1e9 * sum / TRIALS, 1e9 * 0.98 * power, 1e9 * 1.02 * (power + 0.5 * step * step / 12));
}

/* The second harmonic of 20 kHz lies at 40 kHz: a rate of 48 kHz shows none (sampling theorem). */
static void a_sine_near_half_the_rate_has_no_harmonic(void **state) {
    (void)state;
    double *x = new_volts(N);
    uint64_t seed = 17;
    add_sine(x, N, rate_hz, 1, 20e3, 0.3);
    add_noise(x, N, 1e-3, &seed);
    gw_readings *readings = measured(x, N, rate_hz, 0);
    assert_int_equal(readings->values[GW_THD].state, GW_READING_NONE);
    assert_string_equal(readings->values[GW_THD].why, "no harmonic lies below half the sample rate");
    gw_readings_free(readings);
    free(x);
}

/* Six samples hold no spectrum to read a density from, and a level line no noise. */
static void a_short_record_has_no_density(void **state) {
    (void)state;
    static const double x[6] = {0.3, -0.8, 1.1, 0.2, -1.4, 0.6};
    gw_readings *readings = measured(x, 6, rate_hz, 0);
    assert_int_equal(readings->values[GW_NOISE_DENSITY].state, GW_READING_NONE);
    assert_string_equal(readings->values[GW_NOISE_DENSITY].why, "too short a record for a spectrum");
    gw_readings_free(readings);
    double flat[1000];
    for (size_t i = 0; i < 1000; i++)
        flat[i] = 0.5;
    readings = measured(flat, 1000, rate_hz, 0);
    assert_int_equal(readings->values[GW_NOISE_DENSITY].state, GW_READING_NONE);
    assert_string_equal(readings->values[GW_NOISE_DENSITY].why, "no noise in the record");
    gw_readings_free(readings);
}

/* A strange tone 54 dB under a sine and a few lines beside it moves the sine in the fit, and leaves several times the
 * noise there is: white, in the band of 20 Hz to 20 kHz. */
static void a_tone_near_the_signal_is_no_noise(void **state) {
    (void)state;
    enum { COUNT = 24000 };
    static const double apart[] = {2.6, 4, 6.3, 11.7, 30, 95};
    const double sigma = 1e-5, tone = 1e-3, noise = sigma * sqrt(19980.0 / 24000);
    uint64_t seed = 35;
    int held = 0, trials = 60;
    for (int t = 0; t < trials; t++) {
        double *x = new_volts(COUNT), f = 1440 + 40 * random_even(&seed), line = rate_hz / COUNT;
        add_sine(x, COUNT, rate_hz, 0.5, f, 7 * random_even(&seed));
        add_sine(x, COUNT, rate_hz, tone * sqrt(2), f + apart[t % 6] * line * (t % 4 < 2 ? 1 : -1),
                 7 * random_even(&seed));
        add_noise(x, COUNT, sigma, &seed);
        gw_readings *r = measured(x, COUNT, rate_hz, 0);
        assert_true(r->tone_count > 0);
        assert_close(r->tones[0].rms, tone, 0.03 * tone);
        assert_close(value_of(r, GW_NOISE), noise, 0.03 * noise);
        held += fabs(r->values[GW_NOISE].value - noise) <= r->values[GW_NOISE].u95;
        gw_readings_free(r);
        free(x);
    }
    print_message("u95 of the noise beside a tone near the signal holds it in %d of %d\n", held, trials);
    assert_in_range(held, 0.9 * trials, trials);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_short_record_has_no_density),
        cmocka_unit_test(a_sine_near_half_the_rate_has_no_harmonic),
        cmocka_unit_test(no_fundamental_has_no_sinad),
        cmocka_unit_test(density_is_a_bound_where_noise_is),
        cmocka_unit_test(an_order_at_half_the_rate_hides_none),
        cmocka_unit_test(a_tone_makes_distortion_and_noise_less_certain),
        cmocka_unit_test(steps_are_taken_out_of_noise_alone),
        cmocka_unit_test(a_tone_near_the_signal_is_no_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
