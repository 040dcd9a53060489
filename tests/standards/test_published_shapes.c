/* Readings of ideal waveforms against published/shapes.txt: levels, crest factors, THD over several orders by both
 * definitions, clipping, dead zones, pulses, rectifiers, a polynomial. */
#include "published.h"

#include "standards/waveforms.h"

enum { N = 20000 };

/* no coincidence of samples and period; the band holds all harmonics */
static const double rate = 1e6, cycles = 21.3137;
static const gw_measure_options as_a_sine = {.stimulus = {.shape = GW_SHAPE_SINE}, .band_high_hz = 5e5};

/* Averages over a sample stand where a jump lies between two. */
static gw_readings *drawn(shape *wave, double parameter, int parts, const char *unit) {
    double *v = new_volts(N);
    for (size_t i = 0; i < N; i++)
        for (int part = 0; part < parts; part++)
            v[i] += wave(cycles * ((double)i + (part + 0.5) / parts - 0.5) / N + 0.137, parameter) / parts;
    gw_readings *r = measured_with(v, N, rate, 0, &as_a_sine);
    r->source.unit = unit;
    free(v);
    return r;
}

static double thd_over(const gw_readings *r, size_t last) {
    double power = 0;
    assert_true(r->harmonic_count >= last);
    for (size_t k = 1; k < last; k++)
        power += r->harmonics[k].rms * r->harmonics[k].rms;
    return 100 * sqrt(power) / r->harmonics[0].rms;
}

static const char *named(const char *stem, const char *leaf) {
    static char name[80];
    snprintf(name, sizeof name, "%s-%s", stem, leaf);
    return name;
}

/* All orders: SINAD of a record without noise (IEEE Std 1057). */
static double thd_of_all(const gw_readings *r) {
    return 100 / value_of(r, GW_SINAD);
}

static void orders_check(const gw_readings *r, const char *stem) {
    published(named(stem, "o5"), thd_over(r, 5));
    published(named(stem, "o10"), thd_over(r, 10));
    published(named(stem, "o10"), 100 * value_of(r, GW_THD));
    published(named(stem, "o20"), thd_over(r, 20));
    published(named(stem, "all"), thd_of_all(r));
}

static void test_distortion_of_ideal_shapes(void **state) {
    (void)state;
    static const struct {
        const char *stem;
        shape *wave;
    } shapes[] = {
        {"H-square", square}, {"H-tri", triangle}, {"H-saw", saw}, {"H-half", half_wave}, {"H-full", full_wave}};
    for (size_t k = 0; k < sizeof shapes / sizeof *shapes; k++) {
        gw_readings *r = drawn(shapes[k].wave, 1, 1, "V");
        orders_check(r, shapes[k].stem);
        if (k < 3) /* over all of AC, in a band that holds it all */
            published(named(shapes[k].stem, "R"), 100 * value_of(r, GW_THD_N));
        if (k == 0 || k == 2) { /* so many orders after the fundamental */
            published(named(shapes[k].stem, "n5"), thd_over(r, 6));
            published(named(shapes[k].stem, "n10"), thd_over(r, 11));
            published(named(shapes[k].stem, "n20"), thd_over(r, 21));
        }
        gw_readings_free(r);
    }
}

typedef struct bend {
    const char *stem;
    shape *wave;
    const char *leaves; /* of them: d the DC, b the fundamental, 2 the second harmonic, a all orders alone */
    double levels[8];   /* ended by a negative one */
} bend;

static void bend_check(const bend *b, double level) {
    char stem[40];
    snprintf(stem, sizeof stem, "%s-%.4g", b->stem, level);
    gw_readings *r = drawn(b->wave, level, 1, "V");
    if (strchr(b->leaves, 'a'))
        published(named(stem, "all"), thd_of_all(r));
    else
        orders_check(r, stem);
    if (strchr(b->leaves, 'b'))
        published(named(stem, "b1"), sqrt(2) * r->harmonics[0].rms);
    if (strchr(b->leaves, 'd'))
        published(named(stem, "dc"), value_of(r, GW_DC));
    if (strchr(b->leaves, '2'))
        published(named(stem, "h2"), 100 * r->harmonics[1].rms / r->harmonics[0].rms);
    gw_readings_free(r);
}

static void test_bent_sines(void **state) {
    (void)state;
    static const bend bends[] = {
        {"H-clip", clipped, "b", {0.99, 0.95, 0.9, 0.8, 0.70710678118654752, 0.5, 0.25, -1}},
        {"H-aclip", clipped_above, "d2", {0.9, 0.8, 0.5, 0, -1}},
        {"H-dead", dead_zone, "b", {0.01, 0.02, 0.05, 0.1, 0.2, 0.5, -1}},
        {"H-gate", gated, "a", {0.05, 0.1, 0.2, -1}},
    };
    for (size_t k = 0; k < sizeof bends / sizeof *bends; k++)
        for (size_t i = 0; bends[k].levels[i] >= 0; i++)
            bend_check(&bends[k], bends[k].levels[i]);
}

static void test_pulses(void **state) {
    (void)state;
    static const double duties[] = {0.1, 0.25, 0.4, 0.45};
    for (size_t k = 0; k < 4; k++) {
        char name[40];
        snprintf(name, sizeof name, "H-pulse-%g", duties[k]);
        gw_readings *r = drawn(pulse, duties[k], 1, "V");
        published(name, thd_of_all(r));
        gw_readings_free(r);
    }
}

/* So many samples a period, the edges between them: all images fold onto harmonics. */
static void test_coherent_squares(void **state) {
    (void)state;
    static const int samples[] = {48, 44, 100};
    for (size_t k = 0; k < 3; k++) {
        char name[40];
        snprintf(name, sizeof name, "H-sqsamp-%d", samples[k]);
        double *v = new_volts(N);
        for (int i = 0; i < N; i++)
            v[i] = i % samples[k] < samples[k] / 2 ? 1 : -1;
        gw_readings *r = measured_with(v, N, rate, 0, &as_a_sine);
        published(name, thd_of_all(r));
        gw_readings_free(r);
        free(v);
    }
}

static void test_levels(void **state) {
    (void)state;
    static const struct {
        const char *dbfs, *crest;
        shape *wave;
        double parameter;
    } shapes[] = {
        {"L06", "L10", clipped, 1}, {"L07", "L11", square, 1}, {"L09", "L12", triangle, 1}, {"L09", "L12", saw, 1}};
    for (size_t k = 0; k < 4; k++) {
        gw_readings *r = drawn(shapes[k].wave, shapes[k].parameter, 1, "FS");
        gw_reading rms = r->values[GW_AC_RMS];
        double shown, u95;
        assert_true(gw_reading_shown(GW_LEVEL_DBV, &rms, "FS", &shown, &u95));
        published(shapes[k].dbfs, shown);
        published(shapes[k].crest, value_of(r, GW_CREST));
        gw_readings_free(r);
    }
}

static double crest_with_dc(const gw_readings *r) {
    return fmax(value_of(r, GW_PEAK_HIGH), -value_of(r, GW_PEAK_LOW)) / value_of(r, GW_TOTAL_RMS);
}

static void test_rectified(void **state) {
    (void)state;
    gw_readings *r = drawn(half_wave, 1, 1, "V");
    published("L13", crest_with_dc(r));
    published("L22", value_of(r, GW_TOTAL_RMS));
    published("L23", value_of(r, GW_DC));
    published("L24", value_of(r, GW_AC_RMS));
    gw_readings_free(r);
    r = drawn(full_wave, 1, 1, "V");
    published("L14", crest_with_dc(r));
    published("L25", value_of(r, GW_DC));
    published("L26", value_of(r, GW_AC_RMS));
    double ratio = r->harmonics[0].rms / r->harmonics[1].rms;
    published("M-fw24", ratio);
    published("M-fw24db", gw_db_from_ratio(ratio));
    gw_readings_free(r);
    r = drawn(pulse, 0.1, 1, "V");
    published("L15", crest_with_dc(r));
    gw_readings_free(r);
    r = drawn(half_wave, 115 * sqrt(2), 1, "V");
    published("R-tc962-pk", value_of(r, GW_PEAK_HIGH));
    published("R-tc962-av", value_of(r, GW_DC));
    published("R-tc962-ex", value_of(r, GW_DC));
    gw_readings_free(r);
    r = drawn(saw, 0.5, 1, "V");
    published("M-saw", value_of(r, GW_AC_RMS));
    published("M-saw1", r->harmonics[0].rms);
    gw_readings_free(r);
}

static void test_definitions(void **state) {
    (void)state;
    published("H-db-1", gw_db_from_ratio(0.01));
    published("H-db-0.1", gw_db_from_ratio(0.001));
    gw_readings *r = drawn(sine_and_third, 0.01, 1, "V");
    published("H-sinad-a", gw_db_from_ratio(value_of(r, GW_SINAD)));
    gw_readings_free(r);
    r = drawn(sine_and_third, 0.1, 1, "V");
    published("H-conv-10", 100 * value_of(r, GW_THD_N));
    gw_readings_free(r);
    r = drawn(sine_and_third, 0.5, 1, "V");
    published("H-conv-50", 100 * value_of(r, GW_THD_N));
    gw_readings_free(r);
    /* 1 % and 0.5 %, re the fundamental (THD+N itself is re all of it) */
    r = drawn(third_and_second, 0.01, 1, "V");
    double rest = value_of(r, GW_THD_N);
    published("H-comb", 100 * rest / sqrt(1 - rest * rest));
    gw_readings_free(r);
}

static void test_polynomial(void **state) {
    (void)state;
    gw_readings *r = drawn(bent, 0, 1, "V");
    published("I-h1", sqrt(2) * value_of(r, GW_LEVEL));
    published("I-dc", value_of(r, GW_DC));
    published("I-h2", sqrt(2) * r->harmonics[1].rms);
    published("I-h3", sqrt(2) * r->harmonics[2].rms);
    published("I-thd", 100 * value_of(r, GW_THD));
    gw_readings_free(r);
}

/* What white noise alone puts on the harmonics' lines: it must not be told as distortion. */
static void test_noise_on_harmonics(void **state) {
    (void)state;
    enum { COUNT = 1000, RECORDS = 300 };
    double *v = new_volts(COUNT), power = 0;
    uint64_t random = 77;
    for (int k = 0; k < RECORDS; k++) {
        memset(v, 0, COUNT * sizeof *v);
        add_sine(v, COUNT, COUNT, sqrt(2), 10.3, two_pi * random_even(&random));
        add_noise(v, COUNT, 0.01, &random);
        gw_readings *r = measured_with(v, COUNT, 100e3, 0, &as_a_sine);
        double thd = thd_over(r, 10);
        power += thd * thd / RECORDS;
        assert_int_equal(r->values[GW_THD].state, GW_READING_BELOW);
        assert_true(100 * r->values[GW_THD].value > thd / 2);
        gw_readings_free(r);
    }
    published("H-floor", sqrt(power));
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_distortion_of_ideal_shapes),
        cmocka_unit_test(test_bent_sines),
        cmocka_unit_test(test_pulses),
        cmocka_unit_test(test_coherent_squares),
        cmocka_unit_test(test_levels),
        cmocka_unit_test(test_rectified),
        cmocka_unit_test(test_definitions),
        cmocka_unit_test(test_polynomial),
        cmocka_unit_test(test_noise_on_harmonics),
        cmocka_unit_test(published_all_checked),
    };
    return published_read("shapes.txt") || cmocka_run_group_tests(tests, NULL, NULL);
}
