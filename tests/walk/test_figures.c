/* Figures with their uncertainty, and what is expected where little or much was stated. */
#include "walk_testing.h"

#include "walk/walker.h"

static const double pi = 3.14159265358979323846;

/* What u95 holds beyond its two parts is random (JCGM 100: what is not common to both ends of a ratio); a bound has no
 * uncertainty of its own, and nothing is nothing. */
static void parts_of_an_uncertainty(void **state) {
    (void)state;
    static const struct {
        double u_random, u_scale, u95, random, scale;
    } known[] = {
        {0.03, 0.04, 0.1, 0.015, 0.02}, /* 2 hypot(3, 4): nothing left over */
        {0, 0, 0.1, 0.025, 0},          /* all of it left over */
        {0.01, 0.03, 0.1, 0.02, 0.015}, /* 5² - 3² = 4² */
        {0.03, 0.04, 0.01, 0.015, 0.02} /* told smaller than its parts: the parts stand */
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        gw_reading reading = {.state = GW_READING_VALUE,
                              .value = -2,
                              .u_random = known[i].u_random,
                              .u_scale = known[i].u_scale,
                              .u95 = known[i].u95};
        gw_figure figure = gw_figure_of(&reading);
        assert_true(figure.has && !figure.below);
        assert_close(figure.value, -2, 0);
        assert_close(figure.random, known[i].random, 1e-12);
        assert_close(figure.scale, known[i].scale, 1e-12);
    }
    gw_reading bound = {.state = GW_READING_BELOW, .value = 1, .u95 = 0.5}, none = {.state = GW_READING_NONE};
    gw_figure figure = gw_figure_of(&bound);
    assert_true(figure.has && figure.below);
    assert_close(gw_figure_u95(&figure), 0, 0);
    assert_false(gw_figure_of(&none).has);
}

static void findings_by_kind_and_place(void **state) {
    (void)state;
    gw_walker walker = {0};
    assert_non_null(gw_finding_add(&walker, GW_FOUND_LEVEL_LOW, GW_OFF, 0, 1));
    assert_non_null(gw_finding_add(&walker, GW_FOUND_CLIPPED, GW_OFF, 1, 2));
    assert_non_null(gw_finding_add(&walker, GW_FOUND_LEVEL_LOW, GW_UNSURE, 1, 2));
    assert_int_equal(gw_finding_at(&walker, GW_FOUND_LEVEL_LOW, 1), 0);
    assert_int_equal(gw_finding_at(&walker, GW_FOUND_CLIPPED, 2), 1);
    assert_int_equal(gw_finding_at(&walker, GW_FOUND_LEVEL_LOW, 2), 2);
    assert_int_equal(gw_finding_at(&walker, GW_FOUND_CLIPPED, 1), -1);
    assert_int_equal(gw_finding_at(&walker, GW_FOUND_HUM_ADDED, 2), -1);
    free(walker.findings);
}

/* DC passes a wire or a follower as it is, however loosely its gain for the signal is stated. */
static void dc_passes_a_wire_whole(void **state) {
    (void)state;
    static const char *const kinds[] = {"wire", "follower"};
    for (size_t k = 0; k < 2; k++) {
        char text[200];
        bench b;
        snprintf(
            text, sizeof text,
            "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\ndc = 6 V\n[point B]\nstage = %s\ngain = 0 dB ± 6 dB\n",
            kinds[k]);
        bench_open(&b, text);
        put_sine(&b, "A", 0.1, 6);
        put_sine(&b, "B", 0.1, 6);
        expect_clear(&b);
        put_sine(&b, "B", 0.1, 4.5); /* a quarter of it is gone */
        assert_or_explain(walk_of(&b)->verdict.status == GW_VERDICT_FAULT, b.walk);
        assert_int_equal(stage_to(&b, "B")->dc.status, GW_OFF);
        bench_close(&b);
    }
}

/* Where no frequency is stated the first capture that shows one says at which the parts are computed: a low-pass of
 * 10 kilohms and 22 nF passes 1/sqrt(1 + (2 pi f R C)²). */
static void the_first_capture_says_the_frequency(void **state) {
    (void)state;
    static const double frequencies_hz[] = {440, 2000};
    for (size_t k = 0; k < 2; k++) {
        double hz = frequencies_hz[k], passed = 1 / hypot(1, 6.283185307179586 * hz * 10e3 * 22e-9);
        bench b;
        bench_open(
            &b,
            "[chain]\nstimulus = sine\n[point A]\n[point B]\nstage = wire\n[point C]\nstage = lowpass r=10k c=22n\n");
        say_nothing(put_sine(&b, "A", 0.1, 0), GW_FREQUENCY, "too short");
        say_sine(put_sine(&b, "B", 0.1, 0), hz, 0.1, 0);
        say_sine(put_sine(&b, "C", 0.1, 0), hz, 0.1 * passed, 0);
        const gw_walk *walk = walk_of(&b);
        assert_or_explain(walk->finding_count == 0, walk);
        assert_close(stage_to(&b, "C")->gain.expected, passed, 1e-3 * passed);
        say_sine(put_sine(&b, "C", 0.1, 0), hz, 0.03 * passed, 0);
        assert_or_explain(walk_of(&b)->finding_count > 0, b.walk);
        assert_non_null(find(&b, GW_FOUND_LEVEL_LOW, "C"));
        bench_close(&b);
    }
}

/* A frequency that was found judges as one that was stated: same limits, same status at every level. */
static void a_found_frequency_judges_like_a_stated_one(void **state) {
    (void)state;
    static const char stages[] =
        "[point A]\n[point B]\nstage = coupling c=10n load=20k\n[point C]\nstage = lowpass r=10k c=22n\n"
        "[point D]\nstage = noninverting rf=47k rg=4k7\n[point E]\nstage = coupling c=15n load=20k\n";
    bench told, found;
    char text[500];
    snprintf(text, sizeof text, "[chain]\nstimulus = sine 1 kHz\n%s", stages);
    bench_open(&told, text);
    snprintf(text, sizeof text, "[chain]\nstimulus = sine\n%s", stages);
    bench_open(&found, text);
    put_sine(&told, "A", 0.1, 0), put_sine(&found, "A", 0.1, 0);
    put_sine(&told, "E", 0.1, 0), put_sine(&found, "E", 0.1, 0);
    double should = stage_to((walk_of(&told), &told), "E")->gain.expected;
    for (double part = 0.2; part < 5; part *= 1.02) {
        put_sine(&told, "E", 0.1 * should * part, 0), put_sine(&found, "E", 0.1 * should * part, 0);
        const gw_judgement *one = &stage_to((walk_of(&told), &told), "E")->gain;
        const gw_judgement *other = &stage_to((walk_of(&found), &found), "E")->gain;
        assert_close(other->expected, one->expected, 1e-9);
        assert_close(other->low, one->low, 1e-9);
        assert_close(other->high, one->high, 1e-9);
        assert_int_equal(other->status, one->status);
    }
    bench_close(&told);
    bench_close(&found);
}

/* A point that a meter was held to is judged by what the meter said, 0 V included: there is no capture to ask. */
static void a_meter_may_say_zero(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz\n[point A]\n[point B]\nstage = follower\ndc = 5 V ± 10 %\nreading = "
                   "0 V ± 1 mV\n");
    put_sine(&b, "A", 0.1, 5);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT && find(&b, GW_FOUND_DC_SHIFT, "B"), walk);
    bench_close(&b);
}

/* That an output swings about ground shows two supplies, and makes a bias of 4.5 V elsewhere a fault; hum on a dead
 * output shows nothing. */
static void a_dead_output_shows_no_second_supply(void **state) {
    (void)state;
    for (int dead = 0; dead < 2; dead++) {
        bench b;
        bench_open(&b,
                   "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point U1]\nstage = noninverting rf=47k rg=4k7\n"
                   "[point C1]\nstage = coupling c=1u load=100k\n[point U2]\nstage = follower\n");
        put_sine(&b, "A", 0.1, 0);
        put_sine(&b, "U1", 1.1, 4.5);
        put_sine(&b, "C1", 1.1, 0);
        gw_readings *r = dead ? put_silence(&b, "U2", 1e-3, 0) : put_sine(&b, "U2", 1.1, 0);
        say(r, GW_PEAK_LOW, dead ? -0.1 : -1.55, 1e-3, bench_accuracy);
        const gw_walk *walk = walk_of(&b);
        assert_or_explain((find(&b, GW_FOUND_DC_SHIFT, "U1") != NULL) == !dead, walk);
        assert_or_explain((find(&b, GW_FOUND_SIGNAL_LOST, "U2") != NULL) == dead, walk);
        bench_close(&b);
    }
}

/* Of parts that are computed, the worst of each at once widens the limits; of a stated gain its own limits do. */
static void limits_hold_their_parts(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\n[point B]\nstage = amp\ngain = 20 dB ± 1 dB\n"
                   "[point C]\nstage = amp\ngain = -20 dB ± 1 dB\n");
    put_sine(&b, "A", 0.1, 0);
    put_sine(&b, "C", 0.1, 0);
    const gw_walk *walk = walk_of(&b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_CLEAR, walk);
    const gw_judgement *gain = &stage_to(&b, "C")->gain;
    /* unprobed between: 0 dB; the spreads of the two add as squares or one by one, between ±1.41 and ±2 dB */
    assert_close(gain->expected, 1, 1e-9);
    assert_true(gain->high >= pow(10, 1.41 / 20) - 1e-9 && gain->high <= pow(10, 2.0 / 20) + 1e-9);
    assert_true(gain->low <= pow(10, -1.41 / 20) + 1e-9 && gain->low >= pow(10, -2.0 / 20) - 1e-9);
    bench_close(&b);
}

/* What is fed in as a sine and comes out as a square has passed by its fundamental: of a square of peak V, 4/π V peak
 * or 0.9003 V RMS (Fourier series), where V is the RMS of all of it. The harmonics are the stage's own. */
static void gain_of_a_bent_sine_is_that_of_its_fundamental(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = amp\n");
    put_sine(&b, "A", 1, 0);
    gw_readings *r = put_sine(&b, "B", 2, 0);
    r->signal = GW_SIGNAL_PERIODIC;
    r->harmonics = b.harmonics[bench_point(&b, "B")];
    for (int order = 1; order <= 9; order += 2) {
        double rms = 2 * 4 / pi / sqrt(2) / order;
        r->harmonics[r->harmonic_count++] =
            (gw_harmonic){.order = order, .frequency_hz = 1e3 * order, .rms = rms, .u95 = 1e-3 * rms, .resolved = true};
    }
    walk_of(&b);
    assert_or_explain(stage_to(&b, "B")->gain.has_value, b.walk);
    assert_close(stage_to(&b, "B")->gain.value, 2 * 0.9003, 1e-3);
    /* the fundamental is the line of order 1, wherever it stands in the list */
    for (size_t i = 0; i < r->harmonic_count / 2; i++) {
        gw_harmonic kept = r->harmonics[i];
        r->harmonics[i] = r->harmonics[r->harmonic_count - 1 - i];
        r->harmonics[r->harmonic_count - 1 - i] = kept;
    }
    walk_of(&b);
    assert_close(stage_to(&b, "B")->gain.value, 2 * 0.9003, 1e-3);
    bench_close(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(parts_of_an_uncertainty),
        cmocka_unit_test(findings_by_kind_and_place),
        cmocka_unit_test(dc_passes_a_wire_whole),
        cmocka_unit_test(the_first_capture_says_the_frequency),
        cmocka_unit_test(limits_hold_their_parts),
        cmocka_unit_test(a_found_frequency_judges_like_a_stated_one),
        cmocka_unit_test(gain_of_a_bent_sine_is_that_of_its_fundamental),
        cmocka_unit_test(a_meter_may_say_zero),
        cmocka_unit_test(a_dead_output_shows_no_second_supply),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
