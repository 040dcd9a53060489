/* A record that shows less of a sine than a cycle, on a DC far larger than itself. */
#include "measure/measured.h"
#include "measure/model.h"

#include "gainwalk/capture.h"

#include <string.h>

enum { N = 1000 };

/* The sine on 5 V; one sample of ten is missing, and a stretch of fifty: `fill` is what stands in their places. */
static void swing_make(double cycles, double fill, double *v, unsigned char *marks) {
    uint64_t random = 3;
    memset(v, 0, N * sizeof *v);
    add_sine(v, N, N, 1, cycles, 1);
    add_noise(v, N, 1e-3, &random);
    for (size_t i = 0; i < N; i++) {
        bool missing = i % 10 == 3 || (i > 500 && i <= 550);
        marks[i] = missing ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
        v[i] = missing ? fill : v[i] + 5;
    }
}

/* Between 0.6 and 1.1 cycles, far above the noise, are known as a sine; samples that are missing take part in nothing,
 * whatever value stands in their places. */
static void missing_samples_hide_no_swing(void **state) {
    (void)state;
    static const double fills[] = {0, 5, -20, 1000};
    double v[N];
    unsigned char marks[N];
    gw_stimulus unknown = {0};
    gw_error error = {0};
    for (double cycles = 0.6; cycles < 1.15; cycles += 0.1)
        for (size_t k = 0; k < sizeof fills / sizeof *fills; k++) {
            gw_model model;
            swing_make(cycles, fills[k], v, marks);
            gw_block block = {.volts = v, .marks = marks, .count = N, .rate_hz = 100e3};
            assert_true(gw_model_build(&block, &unknown, 0, &model, &error));
            assert_true(model.tone);
            assert_close(model.cycles, cycles, 0.01);
            assert_close(model.fit.dc, 5, 0.02);
            gw_model_end(&model);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(missing_samples_hide_no_swing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
