/* Cut-outs of a sine: of a part of a period and of many, of few samples a period, several in a capture; and what is
 * none. The captures are simulated: the truth is where the samples were taken away. */
#include "measure/measured.h"
#include "trials.h"

enum { N = 12000, TRIALS = 60, CUTS = 3 };
static const double rate = 48000;

typedef struct cut {
    double start, length; /* samples */
} cut;

/* `count` cuts of `least` to `most` samples, one in each equal part of the record and well inside it. */
static void cuts_draw(cut *cuts, size_t count, double least, double most, uint64_t *random) {
    double part = (double)N / (double)count;
    for (size_t k = 0; k < count; k++) {
        cuts[k].length = floor(least * pow(most / least, random_even(random)));
        cuts[k].start = floor((double)k * part + 0.2 * part + random_even(random) * (0.6 * part - cuts[k].length));
    }
}

static void cuts_make(double *v, const cut *cuts, size_t count, double left) {
    for (size_t k = 0; k < count; k++)
        for (size_t i = (size_t)cuts[k].start; i < (size_t)(cuts[k].start + cuts[k].length); i++)
            v[i] *= left;
}

/* Each cut once, begin and end to a tenth of a period or two samples and nothing else; the sine as it is beside. */
static void check(const gw_readings *r, double hz, const cut *cuts, size_t count) {
    double near = fmax(0.1 * rate / hz, 2);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    assert_close(value_of(r, GW_FREQUENCY), hz, 1e-3 * hz);
    assert_close(value_of(r, GW_LEVEL), sqrt(0.5), 0.005);
    assert_close(value_of(r, GW_DROPOUTS), (double)count, 0);
    assert_int_equal(r->event_count, count);
    for (size_t k = 0; k < count; k++) {
        assert_int_equal(r->events[k].kind, GW_EVENT_DROPOUT);
        assert_close(r->events[k].start_s * rate, cuts[k].start, near);
        assert_close((r->events[k].start_s + r->events[k].length_s) * rate, cuts[k].start + cuts[k].length, near);
    }
}

static void found(double least_hz, double most_hz, double least_periods, double most_periods, double left,
                  uint64_t random) {
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS); t++) {
        cut cuts[CUTS];
        double hz = least_hz * pow(most_hz / least_hz, random_even(&random));
        size_t count = 1 + (size_t)t % CUTS;
        cuts_draw(cuts, count, least_periods * rate / hz, most_periods * rate / hz, &random);
        for (size_t i = 0; i < N; i++)
            v[i] = 0;
        add_sine(v, N, rate, 1, hz, two_pi * random_even(&random));
        cuts_make(v, cuts, count, left);
        add_noise(v, N, 1e-3, &random);
        gw_readings *r = measured(v, N, rate, 0);
        check(r, hz, cuts, count);
        gw_readings_free(r);
    }
    free(v);
}

/* Half a period has the peak in it, wherever it begins. */
static void test_part_of_a_period(void **state) {
    (void)state;
    found(70, 400, 0.5, 0.75, 0, 31);
}

static void test_many_periods(void **state) {
    (void)state;
    found(150, 3000, 1, 8, 0, 32);
}

/* From 4.8 samples a period down to 2.4. */
static void test_few_samples_a_period(void **state) {
    (void)state;
    found(10e3, 20e3, 10, 300, 0, 33);
}

static void test_something_left(void **state) {
    (void)state;
    found(100, 2000, 0.5, 8, 0.3, 34);
}

/* Parts of half periods that come at one phase are a bent waveform's, whose level sways; at any phase they are cuts. */
static void test_parts_at_one_phase(void **state) {
    (void)state;
    enum { PARTS = 5, SHORT = 4800 };
    uint64_t random = 41;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(60); t++) {
        double hz = 350 + 550 * random_even(&random), sway_hz = 10 + 7 * random_even(&random);
        double start = random_even(&random), turn = random_even(&random);
        for (size_t i = 0; i < SHORT; i++) {
            double level = 2.4 * (1 + 0.66 * sin(two_pi * (sway_hz * (double)i / rate + turn)));
            v[i] = fmax(fmin(level * sin(two_pi * (hz * (double)i / rate + start)), 1), -1);
        }
        add_noise(v, SHORT, 1e-3, &random);
        gw_readings *r = measured(v, SHORT, rate, 0);
        assert_close(value_of(r, GW_DROPOUTS), 0, 0);
        gw_readings_free(r);
    }
    for (int t = 0; t < trials_of(20); t++) {
        cut cuts[PARTS];
        double hz = 70 + 60 * random_even(&random);
        cuts_draw(cuts, PARTS, 0.45 * rate / hz, 0.49 * rate / hz, &random);
        for (size_t i = 0; i < N; i++)
            v[i] = sin(two_pi * hz * (double)i / rate);
        cuts_make(v, cuts, PARTS, 0);
        add_noise(v, N, 1e-3, &random);
        gw_readings *r = measured(v, N, rate, 0);
        check(r, hz, cuts, PARTS);
        gw_readings_free(r);
    }
    free(v);
}

/* Of a saw of a stated frequency a cut of some periods is told as well, and where. */
static void test_saw_that_cuts_out(void **state) {
    (void)state;
    uint64_t random = 39;
    double *v = new_volts(N);
    for (int t = 0; t < 6; t++) {
        cut gone;
        double hz = 300 * pow(4, random_even(&random)), period = rate / hz, turn = random_even(&random);
        cuts_draw(&gone, 1, 4 * period, 8 * period, &random);
        for (size_t i = 0; i < N; i++) {
            double turns = (double)i / period + turn;
            v[i] = 2 * (turns - floor(turns)) - 1;
        }
        cuts_make(v, &gone, 1, 0);
        add_noise(v, N, 1e-3, &random);
        const gw_measure_options stated = {.stimulus = {.shape = GW_SHAPE_PERIODIC, .frequency_hz = hz}};
        gw_readings *r = measured_with(v, N, rate, 0, &stated);
        assert_close(value_of(r, GW_FREQUENCY), hz, 1e-3 * hz);
        assert_close(value_of(r, GW_DROPOUTS), 1, 0);
        for (size_t k = 0; k < r->event_count; k++)
            if (r->events[k].kind == GW_EVENT_DROPOUT) {
                assert_close(r->events[k].start_s * rate, gone.start, 1.5 * period);
                assert_close(r->events[k].length_s * rate, gone.length, 2 * period);
            }
        gw_readings_free(r);
    }
    free(v);
}

/* Two pulses of a train that come weaker than the others are no cut, and between pulses nothing is gone: the RMS is
 * that of the whole record, about its mean. */
static void test_pulses_that_come_weaker(void **state) {
    (void)state;
    enum { SHORT = 4000 };
    uint64_t random = 40;
    double *v = new_volts(SHORT);
    for (int t = 0; t < 10; t++) {
        double cycles = 15 + 40 * random_even(&random), duty = 0.02 + 0.08 * random_even(&random), sum = 0, squares = 0;
        double start = random_even(&random);
        for (size_t i = 0; i < SHORT; i++) {
            double turns = cycles * (double)i / SHORT + start, whole = floor(turns);
            v[i] = turns - whole >= duty ? 0 : whole == 5 || whole == 6 ? 0.3 : 1;
        }
        add_noise(v, SHORT, 0.003, &random);
        for (size_t i = 0; i < SHORT; i++) {
            sum += v[i];
            squares += v[i] * v[i];
        }
        gw_readings *r = measured(v, SHORT, 1e5, 0);
        double rms = sqrt(squares / SHORT - sum * sum / SHORT / SHORT);
        assert_close(value_of(r, GW_AC_RMS), rms, 0.05 * rms);
        assert_close(value_of(r, GW_FREQUENCY), 25 * cycles, 0.05 * cycles);
        gw_readings_free(r);
    }
    free(v);
}

/* A contact that bounces comes back for less than half a millisecond, near the sine's peak, within the cut: one cut,
 * not two. */
static void test_bouncing_contact(void **state) {
    (void)state;
    uint64_t random = 38;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS); t++) {
        double hz = 100 * pow(4, random_even(&random)), period = rate / hz;
        size_t back = 8 + (size_t)(12 * random_even(&random)), peak = (size_t)(period * floor(N / 2 / period));
        cut whole = {.start = (double)peak - floor(period * (1 + random_even(&random))),
                     .length = floor(period * (2.5 + random_even(&random)))};
        for (size_t i = 0; i < N; i++)
            v[i] = cos(two_pi * hz / rate * ((double)i - (double)peak - (double)back / 2));
        for (size_t i = (size_t)whole.start; i < (size_t)(whole.start + whole.length); i++)
            v[i] *= i >= peak && i < peak + back ? 1 : 0;
        add_noise(v, N, 1e-3, &random);
        gw_readings *r = measured(v, N, rate, 0);
        check(r, hz, &whole, 1);
        gw_readings_free(r);
    }
    free(v);
}

static size_t dropouts_of(const double *v) {
    gw_readings *r = measured(v, N, rate, 0);
    size_t count = 0;
    for (size_t k = 0; k < r->event_count; k++)
        count += r->events[k].kind == GW_EVENT_DROPOUT;
    gw_readings_free(r);
    return count;
}

/* DC that jumps to another level and back, as large as the sine, for a part of a period to some periods. */
static void test_jumps_of_dc(void **state) {
    (void)state;
    uint64_t random = 36;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS); t++) {
        cut jumps[CUTS];
        double hz = 100 * pow(10, random_even(&random)), height = 0.3 + 0.7 * random_even(&random);
        cuts_draw(jumps, CUTS, 0.3 * rate / hz, 4 * rate / hz, &random);
        for (size_t i = 0; i < N; i++)
            v[i] = 0;
        add_sine(v, N, rate, 1, hz, two_pi * random_even(&random));
        for (size_t k = 0; k < CUTS; k++)
            for (size_t i = 0; i < (size_t)jumps[k].length; i++)
                v[(size_t)jumps[k].start + i] += k % 2 ? height : -height;
        add_noise(v, N, 1e-3, &random);
        assert_int_equal(dropouts_of(v), 0);
    }
    free(v);
}

/* Impulses that fade, of either sign and about as high as the sine: some of them meet it, and both together are nothing
 * for a while. Of 60 captures in one at most that is told as a cut, and crackle in nearly all. */
static void test_impulses_that_fade(void **state) {
    (void)state;
    uint64_t random = 37;
    double *v = new_volts(N);
    int trials = trials_of(TRIALS), gone = 0, crackling = 0;
    for (int t = 0; t < trials; t++) {
        double hz = 100 * pow(10, random_even(&random)), fade = rate * 1e-4 * pow(10, random_even(&random));
        for (size_t i = 0; i < N; i++)
            v[i] = 0;
        add_sine(v, N, rate, 1, hz, two_pi * random_even(&random));
        for (int k = 0; k < 10; k++) {
            double height = (0.4 + 1.1 * random_even(&random)) * (random_even(&random) < 0.5 ? -1 : 1);
            for (size_t at = (size_t)(N * random_even(&random)), i = 0; at + i < N; i++)
                v[at + i] += height * exp(-(double)i / fade);
        }
        add_noise(v, N, 1e-3, &random);
        gw_readings *r = measured(v, N, rate, 0);
        gone += value_of(r, GW_DROPOUTS) > 0;
        crackling += r->clues.crackle_count > 0;
        gw_readings_free(r);
    }
    assert_in_range(gone, 0, 1);
    assert_in_range(crackling, trials - trials / 20, trials);
    free(v);
}

/* A pitch that wavers by up to 1 % runs out of step with any steady sine; a level that sways by less than half, and
 * impulses, take nothing away for a while. */
static void test_what_is_none(void **state) {
    (void)state;
    uint64_t random = 35;
    double *v = new_volts(N);
    for (int t = 0; t < trials_of(TRIALS); t++) {
        double hz = 200 * pow(10, random_even(&random)), slow = 4 + 16 * random_even(&random);
        double most = 0.01 * hz / slow * random_even(&random), sway = 0.45 * random_even(&random);
        for (size_t i = 0; i < N; i++) {
            double time = (double)i / rate, swing = sin(two_pi * slow * time);
            v[i] = t % 3 == 0   ? sin(two_pi * hz * time + most * swing)
                   : t % 3 == 1 ? (1 + sway * swing) * sin(two_pi * hz * time)
                                : sin(two_pi * hz * time);
        }
        for (int k = 0; k < 5 && t % 3 == 2; k++)
            v[(size_t)(N * random_even(&random))] += 2 * random_even(&random) - 1;
        add_noise(v, N, 1e-3, &random);
        assert_int_equal(dropouts_of(v), 0);
    }
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_part_of_a_period),
        cmocka_unit_test(test_many_periods),
        cmocka_unit_test(test_few_samples_a_period),
        cmocka_unit_test(test_something_left),
        cmocka_unit_test(test_what_is_none),
        cmocka_unit_test(test_jumps_of_dc),
        cmocka_unit_test(test_impulses_that_fade),
        cmocka_unit_test(test_bouncing_contact),
        cmocka_unit_test(test_parts_at_one_phase),
        cmocka_unit_test(test_saw_that_cuts_out),
        cmocka_unit_test(test_pulses_that_come_weaker),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
