/* How the segments of a long capture are shared out among stretches, in which one that was fitted stands for others. */
#include "assert_close.h"
#include "measure/stretches.h"

#include <stdlib.h>

/* All segments lie in one stretch each; a stretch is no longer than what lies before it, nor than a stretch may be,
 * which has room for no more. The longest here is a day at 192 kHz, in segments of 131072 samples. */
static void stretches_hold_all_segments_and_no_more_than_they_may(void **state) {
    (void)state;
    static const uint64_t lengths[] = {1, 2, 3, 110, 511, 512, 513, 1024, 1025, 2000, 5000, 130000};
    for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++) {
        size_t count = 0;
        uint64_t *ends = gw_stretch_ends(lengths[k], &count), from = 0, longest = 0;
        assert_non_null(ends);
        for (size_t i = 0; i < count; i++) {
            assert_true(ends[i] > from);
            uint64_t length = ends[i] - from;
            assert_true(length <= (from > 0 ? from : 1));
            longest = length > longest ? length : longest;
            from = ends[i];
        }
        assert_int_equal(from, lengths[k]);
        assert_true(longest <= GW_STRETCH_MAX);
        /* the more in a stretch, the fewer are fitted */
        assert_true(lengths[k] < 4 * GW_STRETCH_MAX || longest == GW_STRETCH_MAX);
        free(ends);
    }
}

/* How many samples were overloaded is known of a whole capture; of which part they were it does not say. */
static void a_captures_overload_is_that_of_all_its_samples(void **state) {
    (void)state;
    enum { SAMPLES = 1000, OVERLOADED = 7 };
    double volts[SAMPLES] = {0};
    unsigned char marks[SAMPLES] = {0};
    gw_channel channel = {.step = 0.01, .overload = OVERLOADED};
    const gw_capture capture = {.samples = SAMPLES, .rate_hz = 48e3, .channels = &channel, .channel_count = 1};
    const gw_desk desk = {.volts = volts, .marks = marks};
    static const size_t parts[] = {1, SAMPLES / 2, SAMPLES - 1};
    assert_int_equal(gw_desk_block(&capture, &channel, &desk, SAMPLES).overload, OVERLOADED);
    for (size_t k = 0; k < sizeof parts / sizeof *parts; k++)
        assert_int_equal(gw_desk_block(&capture, &channel, &desk, parts[k]).overload, 0);
}

/* One segment of five is fitted, and all others are found like it: it stands for all five. Of seven, with two that are
 * like none and fitted themselves, it stands for five, and they for themselves. */
static void a_fitted_segment_stands_for_itself_and_those_like_it(void **state) {
    (void)state;
    for (size_t unlike = 0; unlike <= 2; unlike += 2) {
        gw_error error = {0};
        gw_stretch s;
        gw_unit unit;
        size_t count = 5 + unlike, fitted = 0;
        assert_true(gw_stretch_begin(&s, 0, count, &error));
        while (gw_stretch_give(&s, &unit)) {
            if (unit.fit) {
                fitted++;
                s.segments[unit.from].like = unit.from;
                s.segments[unit.from].weight = 1;
                unit.outline.usable = true;
            }
            for (size_t k = unit.from; !unit.fit && k < unit.to; k++)
                if (k < 5 && s.fitted == 0)
                    s.settled[k] = true;
            gw_stretch_take(&s, &unit);
        }
        assert_int_equal(s.phase, GW_STRETCH_DONE);
        assert_int_equal(fitted, 1 + unlike);
        assert_int_equal(s.segments[0].weight, 5);
        for (size_t k = 5; k < count; k++)
            assert_int_equal(s.segments[k].weight, 1);
        gw_stretch_end(&s);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stretches_hold_all_segments_and_no_more_than_they_may),
        cmocka_unit_test(a_captures_overload_is_that_of_all_its_samples),
        cmocka_unit_test(a_fitted_segment_stands_for_itself_and_those_like_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
