/* What is kept of impulses by itself: made residuals, no fit. */
#include "assert_close.h"
#include "gainwalk/capture.h"
#include "measure/clicks.h"
#include "measure/signals.h"

enum { N = 9600, RATE = 48000, NOTE = 400 };

/* How many are left of one impulse from `first` on, `length` samples long. */
static size_t kept(const gw_clicks_of *of, size_t first, size_t length, double size_v) {
    gw_event event = {
        .kind = GW_EVENT_CRACKLE, .start_s = (double)first / RATE, .length_s = (double)length / RATE, .size_v = size_v};
    bool done = true;
    size_t left = gw_clicks_keep(of, &event, 1, &done);
    assert_true(done);
    return left;
}

/* From sample `first` on a tone of this peak about `mean`, that is gone after so many samples, in quiet noise. */
static double *tone_new(size_t first, size_t samples, double peak, double mean) {
    uint64_t random = 61;
    double *v = new_volts(N);
    add_noise(v, N, 1e-6, &random);
    for (size_t i = first; i < first + samples; i++)
        v[i] += mean + peak * sin(two_pi * (double)(i - first) / 20);
    return v;
}

/* Behind a crackle all is as it was; a note is still there when the time for which it was loudest is over. In
 * millivolts as in tens of volts. */
static void a_note_goes_on_behind_its_beginning(void **state) {
    (void)state;
    static const double peaks[] = {5e-3, 50};
    for (int k = 0; k < 2; k++)
        for (int goes_on = 0; goes_on < 2; goes_on++) {
            double *v = tone_new(4000, goes_on ? NOTE * 3 / 2 : NOTE, peaks[k], 0);
            gw_clicks_of of = {.residual = v, .volts = v, .n = N, .rate_hz = RATE, .notes = true};
            assert_int_equal(kept(&of, 4000, NOTE, peaks[k]), !goes_on);
            /* where something steady is measured, what stands out of it is none of the signal's */
            of.notes = false;
            assert_int_equal(kept(&of, 4000, NOTE, peaks[k]), 1);
            free(v);
        }
}

/* Behind a note it is the quarter of its length that counts: one that is heard no longer than that goes on, and another
 * that sets in after a pause is not the same one. */
static void a_note_goes_on_at_once(void **state) {
    (void)state;
    for (int pause = 0; pause < 2; pause++) {
        double *v = tone_new(4000, pause ? NOTE : NOTE * 5 / 4, 0.1, 0);
        for (size_t i = 4000 + NOTE * 5 / 4; pause && i < 4000 + NOTE * 5; i++)
            v[i] += 0.1 * sin(two_pi * (double)i / 20);
        gw_clicks_of of = {.residual = v, .volts = v, .n = N, .rate_hz = RATE, .notes = true};
        assert_int_equal(kept(&of, 4000, NOTE, 1), pause);
        free(v);
    }
}

/* A note that the record ends in goes on as far as it can be heard: what lies in memory behind the last sample is
 * silence that nobody recorded. */
static void a_note_is_heard_as_far_as_the_record_goes(void **state) {
    (void)state;
    enum { SHORT = N - 600, REST = 20 };
    size_t first = SHORT - REST - NOTE;
    double *v = tone_new(first, NOTE + REST, 0.1, 0);
    gw_clicks_of of = {.residual = v, .volts = v, .n = SHORT, .rate_hz = RATE, .notes = true};
    assert_int_equal(kept(&of, first, NOTE, 0.1), 0);
    of.notes = false;
    assert_int_equal(kept(&of, first, NOTE, 0.1), 1);
    free(v);
}

/* What a loudspeaker is to swing with goes to both sides alike; what stands on one side is a thump, which goes on too.
 */
static void a_thump_is_no_note(void **state) {
    (void)state;
    static const double peaks[] = {5e-3, 50};
    for (int k = 0; k < 2; k++) {
        double *v = tone_new(4000, NOTE * 3 / 2, peaks[k], peaks[k]);
        gw_clicks_of of = {.residual = v, .volts = v, .n = N, .rate_hz = RATE, .notes = true};
        assert_int_equal(kept(&of, 4000, NOTE, 2 * peaks[k]), 1);
        free(v);
    }
}

/* A sine of 1 V that swells over its first 10 ms: what is missing there is the model itself, turned over, the less of
 * it the later. A buzz of the same size that is no part of the sine is none of its swelling. */
static void a_test_signal_swells(void **state) {
    (void)state;
    enum { FADE = 480 };
    uint64_t random = 62;
    for (int swells = 0; swells < 2; swells++) {
        double *v = new_volts(N), *residual = new_volts(N);
        add_sine(v, N, RATE, 1, 1000, 0);
        add_noise(residual, N, 1e-5, &random);
        for (size_t i = 0; i < FADE; i++)
            residual[i] += (1 - (double)i / FADE) * (swells ? -v[i] : sin(two_pi * 3300 * (double)i / RATE));
        for (size_t i = 0; i < N; i++)
            v[i] += residual[i];
        gw_clicks_of of = {.residual = residual, .volts = v, .n = N, .rate_hz = RATE};
        assert_int_equal(kept(&of, 0, FADE - 80, 1), !swells);
        free(v);
        free(residual);
    }
}

/* The same of a sine about 3 V of DC, from which a stage without a coupling capacitor never comes away: what swells is
 * the sine, whose level is told from where it swings about. */
static void a_test_signal_swells_about_its_dc(void **state) {
    (void)state;
    enum { FADE = 480 };
    uint64_t random = 64;
    double *v = new_volts(N), *residual = new_volts(N);
    add_sine(v, N, RATE, 1, 1000, 0);
    add_noise(residual, N, 1e-5, &random);
    for (size_t i = 0; i < FADE; i++)
        residual[i] -= (1 - (double)i / FADE) * v[i];
    for (size_t i = 0; i < N; i++)
        v[i] += 3 + residual[i];
    for (int end = 0; end < 2; end++) {
        gw_clicks_of of = {.residual = residual, .volts = v, .n = N, .rate_hz = RATE, .dc = 3};
        assert_int_equal(kept(&of, end ? N - FADE + 80 : 0, FADE - 80, 1), 0);
        for (size_t i = 0, j = N - 1; i < j; i++, j--) { /* and as it dies down */
            double x = v[i], left = residual[i];
            v[i] = v[j];
            v[j] = x;
            residual[i] = residual[j];
            residual[j] = left;
        }
    }
    free(v);
    free(residual);
}

/* A waveform of 1 V, and where the fit didn't follow it. Behind an edge the wave stands elsewhere than before, and the
 * fit's doubt is no crackle; behind a crackle it stands where it was, and it is crackle upon a slope too, though that
 * also stands elsewhere. */
static void an_edge_does_not_return_to_where_it_came_from(void **state) {
    (void)state;
    enum { AT = 4800 };
    static const struct {
        double edge, impulse, slope;
        size_t left;
    } cases[] = {{1, 0, 0, 0}, {-1, 0, 0, 0}, {0, 1, 0, 1}, {0, -1, 0, 1}, {0, 1, 0.1, 1}};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        uint64_t random = 63;
        double *v = new_volts(N), *residual = new_volts(N);
        add_noise(residual, N, 1e-5, &random);
        residual[AT] += cases[k].edge + cases[k].impulse;
        for (size_t i = 0; i < N; i++)
            v[i] = cases[k].slope * (double)i + (i >= AT ? cases[k].edge : 0) + (i == AT ? cases[k].impulse : 0);
        gw_clicks_of of = {.residual = residual, .volts = v, .n = N, .rate_hz = RATE, .edges = true};
        assert_int_equal(kept(&of, AT, 1, cases[k].edge + cases[k].impulse), cases[k].left);
        /* a waveform without edges, as a sine, has none where the fit could be in doubt */
        of.edges = false;
        assert_int_equal(kept(&of, AT, 1, cases[k].edge + cases[k].impulse), 1);
        free(v);
        free(residual);
    }
}

/* A crackle of twenty samples that begins two samples behind a long gap stands out of the quiet that follows it: its
 * own samples tell nothing of what it was like before. In noise of half its size it stands out of nothing. */
static void a_crackle_is_no_part_of_what_was_before_it(void **state) {
    (void)state;
    enum { AT = 4000, LONG = 20, THERE = 2 };
    static unsigned char marks[N];
    for (size_t i = AT - 2000; i < AT - THERE; i++)
        marks[i] = GW_SAMPLE_MISSING;
    for (int loud = 0; loud < 2; loud++) {
        uint64_t random = 63;
        double *v = new_volts(N);
        add_noise(v, N, loud ? 0.05 : 1e-5, &random);
        for (size_t i = AT; i < AT + LONG; i++)
            v[i] += i % 2 ? 0.1 : -0.1;
        gw_clicks_of of = {.residual = v, .volts = v, .marks = marks, .n = N, .rate_hz = RATE};
        assert_int_equal(kept(&of, AT, LONG, 0.1), !loud);
        free(v);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_goes_on_behind_its_beginning),
        cmocka_unit_test(a_note_goes_on_at_once),
        cmocka_unit_test(a_note_is_heard_as_far_as_the_record_goes),
        cmocka_unit_test(a_thump_is_no_note),
        cmocka_unit_test(a_test_signal_swells),
        cmocka_unit_test(a_test_signal_swells_about_its_dc),
        cmocka_unit_test(an_edge_does_not_return_to_where_it_came_from),
        cmocka_unit_test(a_crackle_is_no_part_of_what_was_before_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
