/* What is known of a case before its causes are put in order: the signs by which they are told apart, and what is fed
 * in. */
#include "walk_testing.h"

#include "walk/signs.h"

/* A current limit cuts both ends, well inside the rails: on rails of 15 V either way at 2 V, say. Cut at 14 V, at one
 * end only, or where no rail is known, it tells of none. */
static void a_current_limit_cuts_both_ends_far_inside_the_rails(void **state) {
    (void)state;
    static const struct {
        bool rails, high, low;
        double level_v;
        bool is;
    } known[] = {{true, true, true, 2, true},   {true, true, true, 14, false},  {true, true, false, 2, false},
                 {true, false, true, 2, false}, {true, false, false, 0, false}, {false, true, true, 2, false},
                 {false, true, false, 2, false}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        bench b;
        bench_open(&b, known[i].rails ? "[chain]\n[rail V+]\ndc = 15 V\n[rail V-]\ndc = -15 V\n[point A]\n"
                                      : "[chain]\n[point A]\n");
        gw_walker walker = {.chain = b.chain};
        gw_readings readings = {.clues.high = {.clipped = known[i].high, .level_v = known[i].level_v},
                                .clues.low = {.clipped = known[i].low, .level_v = -known[i].level_v}};
        gw_scene scene = {.walker = &walker, .readings = &readings, .kind = ""};
        assert_int_equal(gw_sign_clips_far_below(&scene), known[i].is);
        bench_close(&b);
    }
}

/* A gain of a tenth of what it should be is 20 dB off, as by a probe's switch. "A tenth at most" is no gain at all, and
 * tells of no switch. */
static void a_bound_of_a_gain_is_no_gain(void **state) {
    (void)state;
    bench b;
    bench_open(&b, "[chain]\n[point A]\n[point B]\nstage = follower\n");
    gw_readings readings[2] = {0};
    gw_node nodes[2] = {{.point = &b.chain->points[0], .readings = &readings[0]},
                        {.point = &b.chain->points[1], .readings = &readings[1]}};
    gw_walk_stage stages[2] = {0};
    gw_span spans[2] = {0};
    gw_walker walker = {.chain = b.chain, .nodes = nodes, .stage_of = stages, .span_of = spans, .count = 2};
    gw_finding found = {.from = 0, .point = 1, .rail = -1};
    gw_judgement *gain = &stages[1].gain;
    *gain = (gw_judgement){.has_value = true, .value = 0.1, .has_expected = true, .expected = 1};
    gw_scene scene = gw_signs_look(&walker, &found);
    assert_close(scene.gain, 0.1, 1e-12);
    assert_close(scene.off_db, -20, 1e-9);
    assert_true(gw_sign_is_tenth(&scene));
    gain->below = true;
    scene = gw_signs_look(&walker, &found);
    assert_close(scene.gain, 0, 0);
    assert_false(gw_sign_is_tenth(&scene));
    bench_close(&b);
}

/* What is stated of the stimulus stands, whatever a capture has; a frequency that is not stated is the first that is
 * read, on the mains as well. Noise and nothing have none, though a capture of them may show a line. */
static void a_stated_stimulus_stands(void **state) {
    (void)state;
    static const struct {
        const char *text;
        double read_hz[2], hz;
    } known[] = {{"stimulus = sine 1 kHz 1 V\n", {1050, 1050}, 1000},
                 {"stimulus = sine\n", {1050, 1200}, 1050},
                 {"stimulus = sine\n", {0, 1200}, 1200},
                 {"stimulus = noise 1 V\n", {50, 50}, 0},
                 {"stimulus = none\n", {50, 50}, 0},
                 {"", {50, 100}, 50}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        char text[200];
        bench b;
        snprintf(text, sizeof text, "[chain]\n%s[point A]\n[point B]\nstage = follower\n", known[i].text);
        bench_open(&b, text);
        gw_node nodes[2] = {0};
        int order[2] = {0, 1};
        for (int k = 0; k < 2; k++) {
            gw_readings *r = put_sine(&b, k ? "B" : "A", 1, 0);
            say(r, GW_FREQUENCY, known[i].read_hz[k], 1e-3, 0);
            if (!(known[i].read_hz[k] > 0))
                say_nothing(r, GW_FREQUENCY, "too few cycles");
            nodes[k] = (gw_node){.point = &b.chain->points[k], .readings = r, .probe = &b.points[k]};
        }
        gw_walker walker = {.chain = b.chain, .nodes = nodes, .order = order, .count = 2};
        gw_stimulus_find(&walker);
        assert_int_equal(walker.shape, b.chain->stimulus.shape);
        assert_close(walker.frequency_hz, known[i].hz, 1e-9);
        bench_close(&b);
    }
}

/* What stands at its output with nothing fed in a stage makes by itself; a stimulus that is stated, or not known, may
 * as well have made it. */
static void nothing_is_fed_where_that_is_stated(void **state) {
    (void)state;
    static const struct {
        const char *text;
        bool nothing;
    } known[] = {{"stimulus = none\n", true},
                 {"stimulus = sine 1 kHz 1 V\n", false},
                 {"stimulus = noise 1 V\n", false},
                 {"", false}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        char text[200];
        bench b;
        snprintf(text, sizeof text, "[chain]\n%s[point A]\n[point B]\nstage = follower\n", known[i].text);
        bench_open(&b, text);
        gw_walker walker = {.chain = b.chain, .shape = b.chain->stimulus.shape};
        gw_scene scene = {.walker = &walker, .kind = ""};
        assert_int_equal(gw_sign_nothing_is_fed(&scene), known[i].nothing);
        bench_close(&b);
    }
}

/* A ground loop carries the mains with its third and fifth, whatever its size; a transformer's field induces the mains
 * alone; ripple behind a full-wave rectifier has twice the mains and its multiples (common practice). */
static void hum_of_a_loop_is_a_comb(void **state) {
    (void)state;
    static const struct {
        double mains, twice, rest;
        bool is;
    } known[] = {{1, 0, 0.8, true}, {1, 0, 0.05, false}, {0.1, 1, 0.3, false}};
    static const double sizes_v[] = {1e-5, 0.02, 20};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        for (size_t k = 0; k < sizeof sizes_v / sizeof *sizes_v; k++) {
            gw_readings readings = {.clues.hum_mains_v = known[i].mains * sizes_v[k],
                                    .clues.hum_twice_v = known[i].twice * sizes_v[k],
                                    .clues.hum_rest_v = known[i].rest * sizes_v[k]};
            gw_finding found = {.point = 0, .rail = -1};
            gw_scene scene = {.readings = &readings, .found = &found, .kind = ""};
            assert_int_equal(gw_sign_hum_is_comb(&scene), known[i].is);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_current_limit_cuts_both_ends_far_inside_the_rails),
        cmocka_unit_test(a_bound_of_a_gain_is_no_gain),
        cmocka_unit_test(a_stated_stimulus_stands),
        cmocka_unit_test(hum_of_a_loop_is_a_comb),
        cmocka_unit_test(nothing_is_fed_where_that_is_stated),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
