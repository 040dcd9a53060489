/* A waveform that a record shows once and a part of a second time: what comes again tells its period. */
#include "measure/measured.h"
#include "trials.h"

#include "gainwalk/capture.h"

enum { N = 1000, TRIALS = 60 };

/* 6 to 20 orders, each 1/k high, in slow noise of an eighth of the first: of 1.25 to 1.55 periods 17 of 20 are told, of
 * 1.7 to 2.5 most, and hardly any an octave or more off. */
static void period_of_a_bit_more_than_one(void **state) {
    (void)state;
    double x[N];
    uint64_t random = 5;
    int told[2] = {0}, wrong = 0, trials = trials_of(TRIALS);
    for (int t = 0; t < trials; t++)
        for (int more = 0; more < (t % 3 ? 1 : 2); more++) {
            double cycles = more ? 1.7 + 0.8 * random_even(&random) : 1.25 + 0.3 * random_even(&random), slow = 0;
            int orders = 6 + (int)(15 * random_even(&random));
            for (size_t i = 0; i < N; i++) {
                slow = 0.99 * slow + 0.14 * random_gauss(&random);
                x[i] = 0.13 * slow;
            }
            for (int k = 1; k <= orders; k++)
                add_sine(x, N, N, 1.0 / k, k * cycles, two_pi * random_even(&random));
            add_noise(x, N, 0.01, &random);
            gw_readings *r = measured(x, N, 1e5, 0);
            const gw_reading *frequency = &r->values[GW_FREQUENCY];
            if (frequency->state == GW_READING_VALUE) {
                double off = fabs(frequency->value / 100 / cycles - 1);
                told[more] += off < 0.02;
                wrong += off > 0.45;
            }
            gw_readings_free(r);
        }
    print_message("hardly a period %d, about two %d, an octave off %d of %d\n", told[0], told[1], wrong, trials);
    assert_in_range(told[0], trials * 85 / 100, trials);
    assert_in_range(told[1], trials / 3 * 6 / 10, trials);
    assert_in_range(wrong, 0, trials / 20);
}

enum { SHAPES = 4 };

/* A pulse of a tenth, a square, a saw, a decay; the phase in periods. */
static double shape_at(int shape, double phase) {
    double p = phase - floor(phase);
    double of[SHAPES] = {p < 0.1 ? 1 : -1, p < 0.5 ? 1 : -1, 2 * p - 1, exp(-6 * p)};
    return of[shape];
}

/* Noise is `below` the shape's RMS; the readings. */
static gw_readings *shape_measured(int shape, double cycles, double below, uint64_t *random) {
    double x[N], sum = 0, squares = 0, phase = random_even(random);
    for (size_t i = 0; i < N; i++) {
        x[i] = shape_at(shape, phase + cycles * (double)i / N);
        sum += x[i];
        squares += x[i] * x[i];
    }
    add_noise(x, N, sqrt(squares / N - sum / N * (sum / N)) / below, random);
    return measured(x, N, 1e5, 0);
}

/* Where only a plateau comes twice, any period would do: what is told is the period, or nothing. Of a square or a decay
 * of 1.6 periods six tenths come again, and of most records enough to tell. */
static void no_period_where_nothing_comes_again(void **state) {
    (void)state;
    static const double belows[] = {10, 100, 1000};
    uint64_t random = 6;
    int told = 0, wrong = 0, trials = trials_of(TRIALS) / 2 * SHAPES;
    for (int t = 0; t < trials; t++) {
        double cycles = 1.2 + 0.8 * random_even(&random);
        gw_readings *r = shape_measured(t % SHAPES, cycles, belows[t % 3], &random);
        const gw_reading *frequency = &r->values[GW_FREQUENCY];
        if (frequency->state == GW_READING_VALUE) {
            told++;
            wrong += fabs(frequency->value / 100 / cycles - 1) > 0.02;
        }
        gw_readings_free(r);
    }
    print_message("periods told %d of %d, wrong %d\n", told, trials, wrong);
    assert_in_range(told, trials / 2, trials);
    assert_in_range(wrong, 0, trials / 60);
}

/* What stands in the places of missing samples is no part of the waveform: a plateau comes again there, and nothing
 * else. */
static void missing_samples_do_not_come_again(void **state) {
    (void)state;
    static const gw_measure_options exact = {.accuracy = 0};
    uint64_t random = 8;
    double x[N] = {0};
    unsigned char marks[N];
    for (size_t i = 0; i < N; i++) {
        double at = (double)i / N;
        marks[i] = i % 40 == 7 ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
        x[i] = at > 0.4 && at < 0.5;
        if (marks[i])
            x[i] = i % 80 == 7 ? 50 : -50;
    }
    add_noise(x, N, 0.001, &random);
    gw_error error = {0};
    gw_readings *r = gw_readings_new(&error);
    gw_block block = {.volts = x, .marks = marks, .count = N, .rate_hz = 1e5};
    assert_non_null(r);
    assert_true(gw_measure_block(&block, &exact, r, &error));
    assert_true(r->values[GW_FREQUENCY].state != GW_READING_VALUE);
    gw_readings_free(r);
}

/* Edges in a tenth of noise, about two periods: no noise. */
static void two_periods_with_edges_are_no_noise(void **state) {
    (void)state;
    uint64_t random = 7;
    int periodic = 0, trials = trials_of(TRIALS) / 2 * SHAPES;
    for (int t = 0; t < trials; t++) {
        gw_readings *r = shape_measured(t % SHAPES, 1.7 + 0.5 * random_even(&random), 10, &random);
        periodic += r->signal == GW_SIGNAL_PERIODIC;
        gw_readings_free(r);
    }
    print_message("about two periods with edges: periodic %d of %d\n", periodic, trials);
    assert_in_range(periodic, trials * 85 / 100, trials);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(period_of_a_bit_more_than_one),
        cmocka_unit_test(no_period_where_nothing_comes_again),
        cmocka_unit_test(missing_samples_do_not_come_again),
        cmocka_unit_test(two_periods_with_edges_are_no_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
