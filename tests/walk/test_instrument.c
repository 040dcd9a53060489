/* What is the instrument's own: its noise, its zero. And a meter beside it. */
#include "walk_testing.h"

#include <math.h>

static const char pads[] =
    "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\ngain = 0 dB\n[point C]\ngain = -20 dB\n"
    "[point D]\ngain = 10 dB\n";

/* 240 uV on every range, and a third of a step, added in power. */
static void put_range(bench *b, const char *name, double level_v, double step_v, double added_v) {
    gw_readings *r = put_sine(b, name, level_v, 0);
    double noise = sqrt(pow(240e-6, 2) + pow(step_v / 3, 2) + added_v * added_v);
    r->source.step = step_v;
    r->noise_floor_v = noise;
    say(r, GW_NOISE, noise, 0.02 * noise, 0);
}

/* Behind a pad it is a tenth of the signal, and 20 times what came in times the gain; on no range there is less. */
static void noise_that_every_range_has_is_the_instruments(void **state) {
    (void)state;
    bench b;
    bench_open(&b, pads);
    put_range(&b, "A", 25e-3, 100e-6, 0);
    put_range(&b, "B", 25e-3, 100e-6, 0);
    put_range(&b, "C", 2.5e-3, 10e-6, 0);
    put_range(&b, "D", 7.9e-3, 40e-6, 0);
    expect_clear(&b);
    /* at a fifth of the rate a white one is as much again by the root of five in the same band */
    b.readings[2].source.rate_hz = 50e3;
    double folded = sqrt(5) * 240e-6;
    say(&b.readings[2], GW_NOISE, folded, 0.02 * folded, 0);
    expect_clear(&b);
    /* 0.6 mV more there is the stage's: no other range has as much, and D passes it on */
    put_range(&b, "C", 2.5e-3, 10e-6, 600e-6);
    put_range(&b, "D", 7.9e-3, 40e-6, 1.9e-3);
    expect_fault(&b, GW_FOUND_NOISE_ADDED, "B", "C");
    /* all of it may be steps, where it goes with them */
    for (int i = 0; i < 4; i++)
        b.readings[i].values[GW_NOISE].value = 3 * b.readings[i].source.step;
    walk_of(&b);
    assert_or_explain(!find(&b, GW_FOUND_NOISE_ADDED, "C"), b.walk);
    bench_close(&b);
}

/* Three steps everywhere: on the coarsest range that is three times as many volts as came in, and still no stage's. */
static void noise_that_goes_with_the_steps_is_the_instruments(void **state) {
    (void)state;
    static const char *const points[] = {"A", "B", "C", "D"};
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\ngain = 0 dB\n[point C]\ngain = 0 dB\n"
                   "[point D]\ngain = 10 dB\n");
    for (int i = 0; i < 4; i++) {
        double step = i < 3 ? 1e-3 : 10e-3;
        gw_readings *r = put_sine(&b, points[i], i < 3 ? 25e-3 : 79e-3, 0);
        r->source.step = step;
        r->noise_floor_v = 3 * step;
        say(r, GW_NOISE, 3 * step, 0.02 * step, 0);
    }
    expect_clear(&b);
    say(&b.readings[3], GW_NOISE, 0.12, 1e-4, 0); /* twelve steps, at one range alone */
    b.readings[3].noise_floor_v = 0.12;
    expect_fault(&b, GW_FOUND_NOISE_ADDED, "C", "D");
    bench_close(&b);
}

/* 12 bits over the same screen as 8: the zero is no better for it (0.015 divisions of ten, as 4 codes of 8 bits). */
static void zero_is_no_better_for_finer_steps(void **state) {
    (void)state;
    bench b;
    for (int stated = 0; stated < 2; stated++) {
        bench_open(&b, stated ? "[chain]\nstimulus = sine 1 kHz\n[instrument]\nzero = 1 mV\n[point A]\n[point U1]\n"
                                "stage = follower\n"
                              : "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point U1]\nstage = follower\n");
        put_sine(&b, "A", 2.1, 0);
        gw_readings *r = put_sine(&b, "U1", 2.1, 0.06);
        b.readings[0].source.step = r->source.step = 6.0 / 4096;
        if (stated)
            expect_fault(&b, GW_FOUND_DC_SHIFT, "A", "U1");
        else
            expect_clear(&b);
        r = put_sine(&b, "U1", 2.1, 0.2);
        r->source.step = 6.0 / 4096;
        expect_fault(&b, GW_FOUND_DC_SHIFT, "A", "U1");
        bench_close(&b);
    }
}

/* A meter tells the DC that an AC-coupled capture of one of several voices hides. */
static void siblings_are_compared_by_a_meter_as_well(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point IN]\n[point V1]\ngroup = voices\n[point V2]\nafter = IN\n"
                   "group = voices\n[point V3]\nafter = IN\ngroup = voices\ncoupling = ac\nreading = 10.07 V ± 1 %\n");
    put_sine(&b, "IN", 0.1, 0);
    put_sine(&b, "V1", 0.1, -1.3e-3);
    put_sine(&b, "V2", 0.1, 0.4e-3);
    put_sine(&b, "V3", 0.1, 0)->dc_hidden = true;
    expect_fault(&b, GW_FOUND_ODD_ONE_OUT, "IN", "V3");
    assert_non_null(strstr(find(&b, GW_FOUND_ODD_ONE_OUT, "V3")->evidence, "DC 10"));
    bench_close(&b);
}

/* Of white noise of 1.2 steps over all that a capture spans, sqrt(20 kHz/24 kHz) lies below 20 kHz at 48 kHz: 1.1
 * steps, about what a converter makes. At 250 kHz as much of it there is sqrt(125/20) times as much in all, 2.75 steps,
 * and the circuit's. */
static void a_low_rate_leaves_more_of_the_converters_noise_in_the_band(void **state) {
    (void)state;
    for (int fast = 0; fast < 2; fast++) {
        bench b;
        bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = follower\n");
        put_sine(&b, "A", 1, 0);
        gw_readings *r = put_sine(&b, "B", 1, 0);
        r->source.step = 0.1;
        r->source.rate_hz = fast ? 250e3 : 48e3;
        b.readings[0].source.rate_hz = r->source.rate_hz;
        say(r, GW_NOISE, 0.11, 1e-4, 0);
        walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_NOISE_ADDED, "B") != NULL) == fast, b.walk);
        bench_close(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_that_every_range_has_is_the_instruments),
        cmocka_unit_test(noise_that_goes_with_the_steps_is_the_instruments),
        cmocka_unit_test(a_low_rate_leaves_more_of_the_converters_noise_in_the_band),
        cmocka_unit_test(zero_is_no_better_for_finer_steps),
        cmocka_unit_test(siblings_are_compared_by_a_meter_as_well),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
