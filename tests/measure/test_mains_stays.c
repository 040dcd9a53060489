/* Which lines of the mains stay in a model: those without which it would leave much more than its noise. */
#include "measure/beside.h"
#include "measured.h"

enum { N = 1200, PRESENT = 300 };
static const double sigma = 0.01;

/* DC and a line at the mains, of which the record holds 1.2 cycles, only the first quarter of them present: then its
 * cosine and its sine, both at mid-record, lean on each other. Without the line where it is not `wanted`. */
static void begin(gw_model *model, const double *volts, const unsigned char *marks, bool wanted) {
    gw_error error = {0};
    *model = (gw_model){.mains_hz = 50};
    assert_true(gw_fit_begin(&model->fit, volts, marks, N, &error));
    model->fit.base[GW_BASE_MAINS] = 1.2 / N;
    if (wanted)
        assert_true(gw_fit_add(&model->fit, 0, 0, 1, &error));
    assert_true(gw_fit_solve(&model->fit, &error));
    assert_true(model->fit.solved);
}

/* What the sum of squares is without the line, less what it is with it. */
static double drop_of(const double *volts, const unsigned char *marks) {
    double rss[2];
    for (int i = 0; i < 2; i++) {
        gw_model model;
        begin(&model, volts, marks, i == 1);
        rss[i] = model.fit.rss;
        gw_model_end(&model);
    }
    return rss[0] - rss[1];
}

/* Noise, and hum of this phase that alone would bring `worth` times the noise's variance: does it stay? */
static bool stays(double phase, double worth, uint64_t *random) {
    static unsigned char marks[N];
    double v[N] = {0};
    gw_error error = {0};
    gw_model model;
    for (size_t i = 0; i < N; i++)
        marks[i] = i >= PRESENT;
    add_sine(v, N, N, 1, 1.2, phase);
    double size = sigma * sqrt(worth / drop_of(v, marks));
    for (size_t i = 0; i < N; i++)
        v[i] *= size;
    add_noise(v, N, sigma, random);
    begin(&model, v, marks, true);
    assert_true(gw_mains_leave(&model, &error));
    bool stayed = model.fit.line_count == 1;
    assert_close(model.mains_hz, stayed ? 50 : 0, 0);
    gw_model_end(&model);
    return stayed;
}

/* Of two unknowns, chance brings more than 18 variances once in e^9 records (chi-square with two degrees of freedom):
 * what brings eighty is hum, and what brings one is noise, whatever its phase. */
static void hum_stays_whatever_its_phase(void **state) {
    (void)state;
    uint64_t random = 8;
    for (int i = 0; i < 16; i++) {
        assert_true(stays(two_pi * i / 16, 80, &random));
        assert_false(stays(two_pi * i / 16, 1, &random));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hum_stays_whatever_its_phase),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
