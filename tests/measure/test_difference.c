/* Two tones whose difference is a multiple of the mains, through a stage that bends: u + a u², u = A cos x + B cos y,
 * has a difference tone of peak a A B. It is no hum; where there is hum, hum stays hum. */
#include "measure/measured.h"
#include "trials.h"

enum { N = 24000, TRIALS = 40 };
static const double rate = 48000;

typedef struct pair {
    double low, apart, bend;
} pair;

static void bend_make(double *v, pair p, double hum, uint64_t *random) {
    double one = two_pi * random_even(random), other = two_pi * random_even(random);
    for (size_t i = 0; i < N; i++) {
        double time = (double)i / rate;
        double u = 0.3 * cos(two_pi * p.low * time + one) + 0.2 * cos(two_pi * (p.low + p.apart) * time + other);
        v[i] = u + p.bend * u * u + hum * (sin(two_pi * 50 * time) + 0.5 * sin(two_pi * 150 * time));
    }
    add_noise(v, N, 1e-5, random);
}

static const gw_tone *tone_at(const gw_readings *r, double hz) {
    for (size_t k = 0; k < r->tone_count; k++)
        if (fabs(r->tones[k].frequency_hz - hz) < 1)
            return &r->tones[k];
    return NULL;
}

static pair pair_draw(uint64_t *random) {
    static const double apart[] = {100, 120, 200, 240};
    return (pair){.low = 700 + 6000 * random_even(random),
                  .apart = apart[(size_t)(4 * random_even(random))],
                  .bend = 0.003 * pow(30, random_even(random))};
}

static void test_difference_is_no_hum(void **state) {
    (void)state;
    uint64_t random = 61;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS); t++) {
        pair p = pair_draw(&random);
        bend_make(v, p, 0, &random);
        gw_readings *r = measured(v, N, rate, 0);
        const gw_tone *tone = tone_at(r, p.apart);
        assert_non_null(tone);
        assert_int_equal(tone->kind, GW_TONE_PRODUCT);
        assert_close(tone->rms, p.bend * 0.3 * 0.2 / sqrt(2), fmax(tone->u95, 0.02 * tone->rms));
        assert_int_not_equal(r->values[GW_HUM].state, GW_READING_VALUE);
        gw_readings_free(r);
    }
    free(v);
}

static void test_hum_stays(void **state) {
    (void)state;
    uint64_t random = 62;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS / 2); t++) {
        pair p = pair_draw(&random);
        bend_make(v, p, 0.002, &random);
        gw_readings *r = measured(v, N, rate, 0);
        const gw_tone *tone = tone_at(r, 50);
        assert_non_null(tone);
        assert_int_equal(tone->kind, GW_TONE_MAINS);
        assert_close(tone->rms, 0.002 / sqrt(2), 1e-5);
        gw_readings_free(r);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_difference_is_no_hum),
        cmocka_unit_test(test_hum_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
