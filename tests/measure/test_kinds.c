/* What kind of signal a record holds: octaves, mains, and nothing invented. */
#include "measure/measured.h"
#include "trials.h"

#include <string.h>

enum { N = 2500 };

typedef double shape(double turn);

static double sine(double turn) {
    return sin(two_pi * turn);
}

static double saw(double turn) {
    return 2 * (turn - floor(turn)) - 1;
}

static double square(double turn) {
    return turn - floor(turn) < 0.5 ? 1 : -1;
}

static double pulse_third(double turn) {
    return turn - floor(turn) < 0.3 ? 1 : 0;
}

static double pulse_tenth(double turn) {
    return turn - floor(turn) < 0.1 ? 1 : 0;
}

static double pulse_narrow(double turn) {
    return turn - floor(turn) < 0.03 ? 1 : 0;
}

/* Lines 3, 4 and 5 of a fundamental that is not there. */
static double missing(double turn) {
    return sin(3 * two_pi * turn) + 0.7 * cos(4 * two_pi * turn) + 0.5 * sin(5 * two_pi * turn);
}

/* A second harmonic 20 dB above the fundamental. */
static double octave(double turn) {
    return 0.1 * sin(two_pi * turn) + sin(2 * two_pi * turn + 1);
}

static double rectified(double turn) {
    return fmax(sin(two_pi * turn), 0);
}

typedef struct octave_case {
    const char *name;
    shape *wave;
    double least_cycles;
} octave_case;

static const octave_case shapes[] = {
    {"sine", sine, 1.5},
    {"saw", saw, 1.8},
    {"square", square, 1.8},
    {"pulse 30 %", pulse_third, 2.2},
    {"pulse 10 %", pulse_tenth, 2.2},
    {"pulse 3 %", pulse_narrow, 2.4},
    {"missing fundamental", missing, 1.8},
    {"second harmonic", octave, 1.8},
    {"half wave", rectified, 1.8},
};

static void sample(shape *wave, double cycles, double phase, double *v) {
    for (size_t i = 0; i < N; i++) {
        v[i] = 0.1;
        for (int part = 0; part < 16; part++)
            v[i] += wave(cycles * ((double)i + part / 16.0) / N + phase) / 16;
    }
}

/* Behind an 8-bit converter, with a little noise, from two cycles to a few dozen. */
static void test_octaves(void **state) {
    (void)state;
    static const double all_cycles[] = {1.6, 2.43, 3.7, 5.2, 9.8, 14.3, 40.7};
    double *v = new_volts(N);
    uint64_t random = 5;
    for (size_t k = 0; k < sizeof shapes / sizeof *shapes; k++)
        for (size_t c = 0; c < sizeof all_cycles / sizeof *all_cycles; c++) {
            double cycles = all_cycles[c];
            if (cycles < shapes[k].least_cycles || (shapes[k].wave == pulse_narrow && cycles > 20))
                continue;
            sample(shapes[k].wave, cycles, random_even(&random), v);
            add_noise(v, N, 0.003, &random);
            quantise(v, N, 0.01);
            gw_readings *r = measured(v, N, 250e3, 0.01);
            double found = value_of(r, GW_FREQUENCY) / 100;
            if (fabs(found / cycles - 1) > 0.01)
                print_error("%s, %g cycles\n", shapes[k].name, cycles);
            assert_close(found / cycles, 1, 0.01);
            gw_readings_free(r);
        }
    free(v);
}

/* ---- nothing invented ---------------------------------------------------------------------------- */

static void has_no_tone(const gw_readings *r) {
    static const gw_reading_key keys[] = {GW_FREQUENCY, GW_PITCH, GW_THD, GW_THD_N, GW_SINAD, GW_SNR};
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
        assert_int_equal(r->values[keys[k]].state, GW_READING_NONE);
        assert_non_null(r->values[keys[k]].why);
    }
    assert_int_equal(r->harmonic_count, 0);
}

static void test_flat_line(void **state) {
    (void)state;
    double *v = new_volts(N);
    gw_readings *r = measured(v, N, 250e3, 0.01);
    assert_int_equal(r->signal, GW_SIGNAL_NONE);
    has_no_tone(r);
    assert_int_equal(r->values[GW_LEVEL].state, GW_READING_BELOW);
    assert_close(value_of(r, GW_DC), 0, 0);
    gw_readings_free(r);
    for (size_t i = 0; i < N; i++)
        v[i] = 5;
    r = measured(v, N, 250e3, 0.01);
    assert_int_equal(r->signal, GW_SIGNAL_DC);
    has_no_tone(r);
    assert_close(value_of(r, GW_DC), 5, 1e-12);
    /* half a step either way, rectangular: JCGM 100, 4.3.7 */
    assert_close(r->values[GW_DC].u95, 2 * 0.01 / sqrt(12), 1e-9);
    gw_readings_free(r);
    free(v);
}

/* A constant that no double holds, or rounded in its last digit, has no period, whatever its length and resolution. */
static void test_constants(void **state) {
    (void)state;
    static const double constants[] = {0.1, -1.1196, 0.868736, 1.1, -3.3, 0.092916, 1e-6, 4.7e3, 1.0 / 3};
    static const size_t counts[] = {64, 500, 1000, 2500, 4999, 10000};
    double *v = new_volts(10000);
    uint64_t random = 17;
    for (size_t c = 0; c < sizeof constants / sizeof *constants; c++)
        for (size_t n = 0; n < 4 * sizeof counts / sizeof *counts; n++) {
            size_t count = counts[n / 4];
            for (size_t i = 0; i < count; i++)
                v[i] = n % 2 && random_gauss(&random) > 0 ? nextafter(constants[c], 0) : constants[c];
            double step = n % 4 > 1 ? 0.01 * fabs(constants[c]) : 0;
            gw_readings *r = measured(v, count, 250e3, step);
            assert_int_equal(r->signal, GW_SIGNAL_DC);
            has_no_tone(r);
            assert_close(value_of(r, GW_DC), constants[c], 1e-12 * fabs(constants[c]));
            gw_readings_free(r);
        }
    free(v);
}

static void test_noise_has_no_tone(void **state) {
    (void)state;
    double *v = new_volts(N);
    uint64_t random = 11;
    for (int record = 0; record < trials_of(40); record++) {
        memset(v, 0, N * sizeof *v);
        add_noise(v, N, 0.1, &random);
        gw_readings *r = measured(v, N, 48000, 0);
        assert_int_equal(r->signal, GW_SIGNAL_NOISE);
        has_no_tone(r);
        /* 20 Hz .. 20 kHz of 24 kHz */
        assert_close(value_of(r, GW_NOISE), 0.1 * sqrt((20e3 - 20) / 24e3), 2 * r->values[GW_NOISE].u95);
        gw_readings_free(r);
    }
    free(v);
}

/* A pure sine through eight bits never shows distortion. */
static void test_pure_sine_has_no_distortion(void **state) {
    (void)state;
    double *v = new_volts(N);
    uint64_t random = 12;
    static const double noises[] = {0, 0.1, 0.3, 1};
    for (int record = 0; record < trials_of(160); record++) {
        double cycles = 1.6 + 20 * random_even(&random) * random_even(&random), codes = 10 + 117 * random_even(&random);
        memset(v, 0, N * sizeof *v);
        add_sine(v, N, N, codes, cycles, two_pi * random_even(&random));
        for (size_t i = 0; i < N; i++)
            v[i] += random_even(&random) * 1e-9 + record * 0.37;
        add_noise(v, N, noises[record % 4], &random);
        quantise(v, N, 1);
        gw_readings *r = measured(v, N, 250e3, 1);
        assert_int_equal(r->signal, GW_SIGNAL_SINE);
        assert_int_equal(r->values[GW_THD].state, GW_READING_BELOW);
        assert_true(r->values[GW_THD].value > 0);
        assert_non_null(r->values[GW_THD].why);
        gw_readings_free(r);
    }
    free(v);
}

/* Half a cycle supports nothing, and says so. */
static void test_half_a_cycle(void **state) {
    (void)state;
    double *v = new_volts(N);
    add_sine(v, N, N, 1, 0.6, 0.2);
    gw_readings *r = measured(v, N, 250e3, 0.001);
    has_no_tone(r);
    assert_true(r->clues.too_short);
    assert_int_equal(r->values[GW_LEVEL].state, GW_READING_NONE);
    assert_int_equal(r->values[GW_DC].state, GW_READING_NONE);
    assert_true(r->remarks.count > 0);
    gw_readings_free(r);
    free(v);
}

/* ---- mains, drift, gaps -------------------------------------------------------------------------- */

/* Hum four times the signal: the stimulus says which is which. */
static void test_hum_above_the_signal(void **state) {
    (void)state;
    enum { LONG = 20000 };
    double *v = new_volts(LONG);
    uint64_t random = 3;
    add_sine(v, LONG, 50e3, 0.1, 1000, 0.3);
    add_sine(v, LONG, 50e3, 0.4, 50.02, 1);
    add_sine(v, LONG, 50e3, 0.05, 100.04, 2);
    add_noise(v, LONG, 0.001, &random);
    gw_measure_options options = {.stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = 1000}};
    gw_readings *r = measured_with(v, LONG, 50e3, 0, &options);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_close(value_of(r, GW_FREQUENCY), 1000, 0.01);
    assert_close(value_of(r, GW_LEVEL), 0.1 / sqrt(2), 2e-5);
    assert_close(value_of(r, GW_HUM), sqrt(0.5 * (0.16 + 0.0025)), 2e-5);
    assert_close(r->clues.hum_mains_v, 0.4 / sqrt(2), 2e-5);
    assert_close(r->clues.hum_twice_v, 0.05 / sqrt(2), 2e-5);
    assert_close(r->clues.mains_hz, 50, 0.1);
    gw_readings_free(r);
    /* the same hum alone, the signal lost: no tone is made of it */
    memset(v, 0, LONG * sizeof *v);
    add_sine(v, LONG, 50e3, 0.4, 50.02, 1);
    add_noise(v, LONG, 0.001, &random);
    r = measured_with(v, LONG, 50e3, 0, &options);
    assert_int_equal(r->values[GW_FREQUENCY].state, GW_READING_NONE);
    assert_close(value_of(r, GW_HUM), 0.4 / sqrt(2), 2e-5);
    gw_readings_free(r);
    free(v);
}

/* Sixty cycles are found by themselves, and a rail's ripple is hum, not its signal. */
static void test_ripple_of_a_rail(void **state) {
    (void)state;
    enum { LONG = 10000 };
    double *v = new_volts(LONG);
    uint64_t random = 4;
    add_sine(v, LONG, 50e3, 0.01, 120, 0.3);
    add_sine(v, LONG, 50e3, 0.004, 240, 1);
    add_noise(v, LONG, 0.001, &random);
    for (size_t i = 0; i < LONG; i++)
        v[i] -= 15;
    gw_readings *r = measured(v, LONG, 50e3, 0);
    assert_int_equal(r->signal, GW_SIGNAL_DC);
    assert_close(value_of(r, GW_DC), -15, 5e-5);
    assert_close(r->clues.mains_hz, 60, 0.1);
    assert_close(value_of(r, GW_HUM), hypot(0.01, 0.004) / sqrt(2), 5e-5);
    gw_readings_free(r);
    free(v);
}

static void test_drift(void **state) {
    (void)state;
    enum { LONG = 10000 };
    double *v = new_volts(LONG);
    uint64_t random = 6;
    for (size_t i = 0; i < LONG; i++)
        v[i] = 2 - 0.5 * (double)i / 50e3;
    add_noise(v, LONG, 0.002, &random);
    gw_readings *r = measured(v, LONG, 50e3, 0);
    assert_int_equal(r->signal, GW_SIGNAL_DC);
    assert_close(value_of(r, GW_DRIFT), -0.5, 1e-3);
    assert_close(value_of(r, GW_NOISE), 0.002 * sqrt((20e3 - 20) / 25e3), 1e-4);
    gw_readings_free(r);
    free(v);
}

/* Total RMS is that of everything (what a true-RMS meter shows): a ramp of r beside the mean adds r^2/12, with a sine,
 * noise or nothing on it; AC RMS is what stands on the ramp. */
static void test_total_of_a_ramp(void **state) {
    (void)state;
    const double ramp = 3, sine = 1.4, sigma = 0.005;
    double *v = new_volts(N);
    uint64_t random = 8;
    for (int kind = 0; kind < 3; kind++) {
        double ac = kind == 0 ? 0 : kind == 1 ? sigma : hypot(sine / sqrt(2), sigma);
        memset(v, 0, N * sizeof *v);
        for (size_t i = 0; i < N; i++)
            v[i] = -1 + ramp * (double)i / N;
        if (kind > 0)
            add_noise(v, N, sigma, &random);
        if (kind > 1)
            add_sine(v, N, N, sine, 100, 0.3);
        gw_readings *r = measured(v, N, N, 0);
        double total = sqrt(0.5 * 0.5 + ramp * ramp / 12 + ac * ac);
        const gw_reading *told = &r->values[GW_TOTAL_RMS];
        assert_close(value_of(r, GW_TOTAL_RMS), total, 1e-3);
        assert_close(told->value, total, told->u95 + ramp / N);
        assert_close(value_of(r, GW_AC_RMS), ac, 1e-3);
        gw_readings_free(r);
    }
    free(v);
}

/* A stimulus is fed in at a frequency beside the mains, by a dial that is 1 % off: it is the signal, though the
 * record's resolution of one over its length reaches the mains. What stands on the mains itself is hum: half a per cent
 * is as far as grids stray (ENTSO-E, normal operation: 0.4 %). */
static void test_stated_beside_the_mains(void **state) {
    (void)state;
    static const struct {
        double stated_hz, there_hz, mains_hz;
        bool hum;
    } rows[] = {
        {101.7, 101.24, 0, false}, {61.2, 60.56, 60, false}, {122, 121.2, 60, false}, {51.5, 51, 50, false},
        {51.5, 50.05, 50, true},   {98, 99.9, 0, true},      {1000, 50, 50, true},    {1000, 60.02, 0, true},
    };
    enum { LONG = 5000 };
    double *v = new_volts(LONG);
    uint64_t random = 9;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        memset(v, 0, LONG * sizeof *v);
        add_sine(v, LONG, 5e3, 0.1, rows[k].there_hz, 0.4);
        add_noise(v, LONG, 0.001, &random);
        gw_measure_options options = {
            .accuracy = 0,
            .mains_hz = rows[k].mains_hz,
            .stimulus = {.shape = GW_SHAPE_SINE, .frequency_hz = rows[k].stated_hz},
        };
        gw_readings *r = measured_with(v, LONG, 5e3, 0, &options);
        if (rows[k].hum) {
            assert_int_equal(r->values[GW_FREQUENCY].state, GW_READING_NONE);
            assert_close(value_of(r, GW_HUM), 0.1 / sqrt(2), 1e-3);
        } else {
            assert_int_equal(r->signal, GW_SIGNAL_SINE);
            assert_close(value_of(r, GW_FREQUENCY), rows[k].there_hz, 0.01);
            assert_close(value_of(r, GW_LEVEL), 0.1 / sqrt(2), 1e-3);
        }
        gw_readings_free(r);
    }
    free(v);
}

/* Missing samples are left out, not taken for zero; overload withholds levels and says so. */
static void test_gaps_and_overload(void **state) {
    (void)state;
    double *v = new_volts(N);
    unsigned char *marks = calloc(N, 1);
    assert_non_null(marks);
    uint64_t random = 8;
    add_sine(v, N, N, 1, 7.3, 0.2);
    add_noise(v, N, 0.01, &random);
    for (size_t i = 0; i < N; i++)
        if (i % 23 == 0 || (i > 900 && i < 1000)) {
            marks[i] = GW_SAMPLE_MISSING;
            v[i] = 0;
        }
    gw_error error = {0};
    gw_block block = {.volts = v, .marks = marks, .count = N, .rate_hz = 1e4};
    gw_measure_options exact = {.accuracy = 0};
    gw_readings *r = gw_readings_new(&error);
    r->source.unit = "V";
    assert_true(gw_measure_block(&block, &exact, r, &error));
    assert_close(value_of(r, GW_LEVEL), 1 / sqrt(2), 1e-3);
    assert_close(value_of(r, GW_FREQUENCY), 29.2, 1e-2);
    assert_true(r->clues.gappy);
    assert_true(r->remarks.count > 0);
    gw_readings_free(r);
    for (size_t i = 0; i < N; i++)
        marks[i] = v[i] > 0.9 ? GW_SAMPLE_OVERLOAD : GW_SAMPLE_PRESENT;
    r = gw_readings_new(&error);
    r->source.unit = "V";
    assert_true(gw_measure_block(&block, &exact, r, &error));
    assert_true(r->clues.overloaded);
    assert_int_equal(r->values[GW_LEVEL].state, GW_READING_NONE);
    assert_int_equal(r->values[GW_PEAK_HIGH].state, GW_READING_NONE);
    assert_int_equal(r->values[GW_PEAK_LOW].state, GW_READING_VALUE);
    gw_readings_free(r);
    free(marks);
    free(v);
}

/* Every reading has a value, a bound with its reason, or a reason. */
static void test_reasons_are_complete(void **state) {
    (void)state;
    double *v = new_volts(N);
    for (int kind = 0; kind < 6; kind++) {
        memset(v, 0, N * sizeof *v);
        uint64_t random = 40;
        if (kind == 1 || kind == 5)
            add_noise(v, N, 0.01, &random);
        if (kind == 2 || kind == 5)
            add_sine(v, N, N, 1, 2.3, 0);
        if (kind == 3)
            sample(saw, 7.7, 0.1, v);
        size_t n = kind == 4 ? 3 : N;
        gw_readings *r = measured(v, n, 48000, kind == 5 ? 0.1 : 0);
        for (int key = 0; key < GW_READING_COUNT; key++)
            assert_true(r->values[key].state == GW_READING_VALUE ? r->values[key].why == NULL
                                                                 : r->values[key].why && *r->values[key].why);
        gw_readings_free(r);
    }
    free(v);
}

/* Slow noise of 0.1 s: whatever it is taken for, no reading of its size leaves the size of the samples themselves. */
static void test_slow_noise_stays_its_size(void **state) {
    (void)state;
    enum { LENGTH = 4800, TRIALS = 40 };
    double *v = new_volts(LENGTH);
    uint64_t random = 811;
    for (int t = 0; t < trials_of(TRIALS); t++) {
        double poles[6] = {0}, low = INFINITY, high = -INFINITY;
        for (int i = -20 * LENGTH; i < LENGTH; i++) {
            double sum = 0, even = random_gauss(&random);
            for (int k = 0; k < 6; k++) /* a pole every two octaves: about -3 dB an octave */
                sum += (poles[k] += (even - poles[k]) * 0.5 * pow(4, -k)) * pow(2, k);
            if (i >= 0) {
                v[i] = 0.01 * sum;
                low = fmin(low, v[i]);
                high = fmax(high, v[i]);
            }
        }
        gw_readings *r = measured(v, LENGTH, 48000, 0);
        const gw_reading *ac = &r->values[GW_AC_RMS], *dc = &r->values[GW_DC];
        if (ac->state == GW_READING_VALUE)
            assert_true(ac->value < high - low);
        if (dc->state == GW_READING_VALUE)
            assert_true(dc->value >= low && dc->value <= high);
        gw_readings_free(r);
    }
    free(v);
}

/* Noise that forgets itself in 100 to 10000 samples: its AC RMS is its samples' deviation from their mean, whatever hum
 * may hide in it. A slope or a slow line that the fit takes for more is a rare accident: one record in twenty at most.
 */
static void test_slow_noise_is_as_large_as_its_samples(void **state) {
    (void)state;
    enum { TRIALS = 120 };
    static const size_t lengths[] = {500, 1000, 2400, 4800};
    double *v = new_volts(4800);
    uint64_t random = 812;
    int beyond = 0, trials = trials_of(TRIALS);
    for (int t = 0; t < trials; t++) {
        size_t n = lengths[t % 4];
        double keeps = 0.99 + 0.0099 * random_even(&random), slow = 0, sum = 0, squares = 0;
        for (int i = 0; i < 2000; i++)
            slow = keeps * slow + random_gauss(&random);
        for (size_t i = 0; i < n; i++) {
            slow = keeps * slow + random_gauss(&random);
            v[i] = 0.01 * slow;
            sum += v[i];
            squares += v[i] * v[i];
        }
        double mean = sum / (double)n, deviation = sqrt(squares / (double)n - mean * mean);
        gw_readings *r = measured(v, n, 48000, 0);
        const gw_reading *ac = &r->values[GW_AC_RMS];
        beyond += ac->state == GW_READING_VALUE && ac->value > 1.3 * deviation;
        gw_readings_free(r);
    }
    print_message("slow noise larger than it is: %d of %d\n", beyond, trials);
    assert_in_range(beyond, 0, trials / 20);
    free(v);
}

/* 1.5 to 3 cycles, ten times as large as slow noise (a random walk) beside them, are a sine. */
static void test_few_cycles_in_slow_noise(void **state) {
    (void)state;
    double *v = new_volts(N);
    uint64_t random = 813;
    int sines = 0, trials = trials_of(60);
    for (int t = 0; t < trials; t++) {
        double cycles = 1.5 + 1.5 * random_even(&random), walk = 0;
        memset(v, 0, N * sizeof *v);
        add_sine(v, N, N, 1, cycles, two_pi * random_even(&random));
        for (size_t i = 0; i < N; i++) {
            walk += random_gauss(&random); /* rms about its mean: sqrt(n/6) */
            v[i] += 0.1 * sqrt(0.5) * walk / sqrt(N / 6.0);
        }
        gw_readings *r = measured(v, N, 48000, 0);
        sines += r->signal == GW_SIGNAL_SINE;
        gw_readings_free(r);
    }
    print_message("few cycles in slow noise: a sine in %d of %d\n", sines, trials);
    assert_true(10 * sines >= 8 * trials);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_few_cycles_in_slow_noise),
        cmocka_unit_test(test_slow_noise_is_as_large_as_its_samples),
        cmocka_unit_test(test_octaves),
        cmocka_unit_test(test_flat_line),
        cmocka_unit_test(test_constants),
        cmocka_unit_test(test_noise_has_no_tone),
        cmocka_unit_test(test_pure_sine_has_no_distortion),
        cmocka_unit_test(test_half_a_cycle),
        cmocka_unit_test(test_hum_above_the_signal),
        cmocka_unit_test(test_ripple_of_a_rail),
        cmocka_unit_test(test_drift),
        cmocka_unit_test(test_total_of_a_ramp),
        cmocka_unit_test(test_stated_beside_the_mains),
        cmocka_unit_test(test_gaps_and_overload),
        cmocka_unit_test(test_reasons_are_complete),
        cmocka_unit_test(test_slow_noise_stays_its_size),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
