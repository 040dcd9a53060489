/* Two tones through a polynomial, pitch, droop and mains against published/tones.txt. */
#include "published.h"

#include "measure/measured.h"

enum { N = 48000 };

static const double a2 = 0.01, a3 = 0.005;

/* y = x + a2 x² + a3 x³ of two tones. */
static gw_readings *bent(double rate, double f1, double amplitude1, double f2, double amplitude2, bool stated) {
    double *v = new_volts(N);
    uint64_t random = 1;
    add_sine(v, N, rate, amplitude1, f1, 0.3);
    add_sine(v, N, rate, amplitude2, f2, 1.1);
    for (size_t i = 0; i < N; i++)
        v[i] += a2 * v[i] * v[i] + a3 * v[i] * v[i] * v[i];
    add_noise(v, N, 1e-6, &random);
    gw_measure_options options = {.accuracy = 0};
    if (stated)
        options.stimulus = (gw_stimulus){.shape = GW_SHAPE_TWO_TONE, .frequency_hz = f1, .second_hz = f2};
    gw_readings *r = measured_with(v, N, rate, 0, &options);
    free(v);
    return r;
}

static double amplitude_at(const gw_readings *r, double frequency, gw_tone_kind kind) {
    for (size_t k = 0; k < r->tone_count; k++)
        if (fabs(r->tones[k].frequency_hz - frequency) < 0.5 && r->tones[k].kind == kind)
            return sqrt(2) * r->tones[k].rms;
    print_error("no tone at %g Hz\n", frequency);
    return 0;
}

/* The test signal that is fed in can be so strong, and no stronger: its peak is then full scale. */
static double most_rms(gw_test_shape shape) {
    double low = 0, high = 1;
    for (int pass = 0; pass < 40; pass++) {
        gw_test_signal wanted = {.shape = shape, .rate_hz = 48000, .samples = 48000, .rms = 0.5 * (low + high)};
        gw_generator *generator = NULL;
        gw_error error = {0};
        bool fits = gw_generator_new(&wanted, &generator, &error);
        gw_generator_free(generator);
        *(fits ? &low : &high) = wanted.rms;
    }
    return low;
}

/* A published amplitude at a frequency, in a bent pair of tones. */
typedef struct bent_line {
    const char *name;
    double frequency_hz;
    gw_tone_kind kind;
} bent_line;

/* What is published of a pair of tones: the lines, distortion of second and third order in per cent, and how strong the
 * test signal that is fed in can be. */
typedef struct pair {
    const char *second, *third, *rms, *dbfs;
    gw_test_shape shape;
    size_t count;
    bent_line lines[6];
} pair;

static void check_pair(const gw_readings *r, const pair *of) {
    assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
    for (size_t k = 0; k < of->count; k++)
        published(of->lines[k].name, amplitude_at(r, of->lines[k].frequency_hz, of->lines[k].kind));
    published(of->second, 100 * r->clues.imd_second);
    published(of->third, 100 * r->clues.imd_third);
    double most = most_rms(of->shape);
    published(of->rms, most);
    published(of->dbfs, gw_db_from_ratio(most * sqrt(2)));
}

static void test_modulation(void **state) {
    (void)state;
    static const pair smpte = {"I-smpte-d2",
                               "I-smpte-d3",
                               "I-smpte-rms",
                               "I-smpte-db",
                               GW_TEST_TWO_TONE,
                               5,
                               {{"I-smpte-c", 7000, GW_TONE_STIMULUS},
                                {"I-smpte-s2", 7060, GW_TONE_PRODUCT},
                                {"I-smpte-s2", 6940, GW_TONE_PRODUCT},
                                {"I-smpte-s3", 7120, GW_TONE_PRODUCT},
                                {"I-smpte-s3", 6880, GW_TONE_PRODUCT}}};
    gw_readings *r = bent(48000, 60, 0.8, 7000, 0.2, true);
    check_pair(r, &smpte);
    assert_close(value_of(r, GW_FREQUENCY), 60, 1e-6);
    assert_close(amplitude_at(r, 60, GW_TONE_STIMULUS), 0.8 + a3 * (0.75 * 0.512 + 1.5 * 0.8 * 0.04), 1e-7);
    assert_int_equal(r->values[GW_THD].state, GW_READING_NONE);
    gw_readings_free(r);
}

/* Found without being told: two lines that hold nearly all, and no small-number multiples of anything. */
static void test_difference_frequency(void **state) {
    (void)state;
    static const pair difference = {"I-dfd-d2",
                                    "I-dfd-d3",
                                    "I-dfd-rms",
                                    "I-dfd-db",
                                    GW_TEST_DIFFERENCE,
                                    5,
                                    {{"I-dfd-c", 20000, GW_TONE_STIMULUS},
                                     {"I-dfd-c", 19000, GW_TONE_STIMULUS},
                                     {"I-dfd-p2", 1000, GW_TONE_PRODUCT},
                                     {"I-dfd-p3", 18000, GW_TONE_PRODUCT},
                                     {"I-dfd-p3", 21000, GW_TONE_PRODUCT}}};
    gw_readings *r = bent(131072, 19000, 0.5, 20000, 0.5, false);
    check_pair(r, &difference);
    assert_close(value_of(r, GW_LEVEL), 0.50140625, 1e-6);
    gw_readings_free(r);
}

static gw_readings *sounded(double frequency) {
    double *v = new_volts(N);
    add_sine(v, N, 20000, 1, frequency, 0.3);
    gw_readings *r = measured(v, N, 20000, 0);
    free(v);
    return r;
}

/* Each note's own frequency is 0 cents from its name; a frequency has the cents that are published. */
static void test_pitch(void **state) {
    (void)state;
    static const char *const notes[] = {"A0", "E2", "A2", "C4", "E4", "A4", "C5", "A5", "C8"};
    static const struct {
        const char *name;
        double frequency;
    } off[] = {{"PT-441", 441}, {"PT-0.1pc", 440.44}, {"PT-iso-tol", 440.5}};
    for (size_t k = 0; k < sizeof notes / sizeof *notes; k++) {
        char name[40];
        snprintf(name, sizeof name, "PT-%s", notes[k]);
        gw_readings *r = sounded(published_value(name));
        assert_string_equal(r->note, notes[k]);
        assert_close(value_of(r, GW_PITCH), 0, 1e-3);
        published(name, value_of(r, GW_FREQUENCY));
        gw_readings_free(r);
    }
    for (size_t k = 0; k < 3; k++) {
        gw_readings *r = sounded(off[k].frequency);
        assert_string_equal(r->note, "A4");
        published(off[k].name, value_of(r, GW_PITCH));
        gw_readings_free(r);
    }
}

/* A held voltage that runs down: amperes over farads. */
static void test_droop(void **state) {
    (void)state;
    static const struct {
        const char *name;
        double slope, unit; /* V/s; of the published value */
    } holds[] = {{"S-1n", 1e-9 / 1e-9, 1}, {"S-100p", 100e-12 / 10e-9, 1e-3}, {"S-10p", 10e-12 / 100e-9, 1e-3}};
    double *v = new_volts(N);
    for (size_t k = 0; k < 3; k++) {
        uint64_t random = 6 + k;
        memset(v, 0, N * sizeof *v);
        for (size_t i = 0; i < N; i++)
            v[i] = 2 + holds[k].slope * (double)i / N;
        add_noise(v, N, 1e-6, &random);
        gw_readings *r = measured(v, N, N, 0); /* one second */
        published(holds[k].name, value_of(r, GW_DRIFT) / holds[k].unit);
        gw_readings_free(r);
    }
    free(v);
}

static const gw_tone *strongest_of(const gw_readings *r, gw_tone_kind kind) {
    const gw_tone *found = NULL;
    for (size_t k = 0; k < r->tone_count; k++)
        if (r->tones[k].kind == kind && (!found || r->tones[k].rms > found->rms))
            found = &r->tones[k];
    assert_non_null(found);
    return found;
}

/* Hum beside a signal, where the network is but for half a per cent of the year; a line where it may be on an island is
 * told as a tone: it could as well be a note. */
static void test_mains(void **state) {
    (void)state;
    static const char *const names[] = {"M-50-lo", "M-50-hi", "M-50-lo100", "M-50-hi100"};
    double *v = new_volts(N);
    for (size_t k = 0; k < 4; k++) {
        uint64_t random = 16 + k;
        memset(v, 0, N * sizeof *v);
        add_sine(v, N, N, 1, 1000.3, 0.4);
        add_sine(v, N, N, 0.02, published_value(names[k]), 1.2);
        add_noise(v, N, 1e-3, &random);
        gw_readings *r = measured_with(v, N, N, 0, &(gw_measure_options){.mains_hz = 50});
        const gw_tone *line = strongest_of(r, k < 2 ? GW_TONE_MAINS : GW_TONE_OTHER);
        published(names[k], line->frequency_hz);
        assert_close(line->rms, 0.02 / sqrt(2), 1e-4);
        if (k < 2)
            assert_close(value_of(r, GW_HUM), line->rms, 1e-6);
        gw_readings_free(r);
    }
    /* ripple of a full-wave rectifier: the saw of a reservoir at twice the mains, on a rail */
    memset(v, 0, N * sizeof *v);
    uint64_t random = 26;
    for (size_t i = 0; i < N; i++) {
        double turn = 120.0 * (double)i / N + 0.3;
        v[i] = 15 + 0.05 * (0.5 - (turn - floor(turn)));
    }
    add_noise(v, N, 1e-3, &random);
    gw_readings *r = measured_with(v, N, N, 0, &(gw_measure_options){.stimulus.shape = GW_SHAPE_NONE, .mains_hz = 60});
    published("M-rippf", strongest_of(r, GW_TONE_MAINS)->frequency_hz);
    gw_readings_free(r);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_modulation), cmocka_unit_test(test_difference_frequency),
        cmocka_unit_test(test_pitch),      cmocka_unit_test(test_droop),
        cmocka_unit_test(test_mains),      cmocka_unit_test(published_all_checked),
    };
    return published_read("tones.txt") || cmocka_run_group_tests(tests, NULL, NULL);
}
