/* Capture files of all kinds against their expectations: data/expected.json, own/expected.json.
 *
 * An expectation says what a file holds as the one who made it knows it. `or` gives further right answers. Values are
 * checked twice: as the expectation asks, and to a few parts in 1e12, which notices change. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <math.h>
#include <regex.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "gainwalk/capture.h"

typedef struct answer {
    gw_capture *capture;
    gw_error error;
    char why[2048]; /* the first thing that is not as expected */
} answer;

static bool wrong(answer *a, const char *format, ...) GW_PRINTF(2, 3);

static bool wrong(answer *a, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(a->why, sizeof a->why, format, arguments);
    va_end(arguments);
    return false;
}

static bool is_close(double actual, double expected, double tolerance) {
    return isfinite(actual) && fabs(actual - expected) <= tolerance;
}

/* Whether any remark, or the error, matches an extended regular expression. */
static bool mentions(const answer *a, const char *pattern) {
    regex_t regex;
    if (regcomp(&regex, pattern, REG_EXTENDED | REG_ICASE | REG_NOSUB) != 0)
        fail_msg("bad pattern %s", pattern);
    bool found = a->error.set && regexec(&regex, a->error.text, 0, NULL, 0) == 0;
    for (size_t i = 0; a->capture != NULL && i < a->capture->remarks.count; i++)
        found = found || regexec(&regex, a->capture->remarks.items[i], 0, NULL, 0) == 0;
    regfree(&regex);
    return found;
}

static bool check_mentions(answer *a, const json_t *expected) {
    size_t index;
    json_t *pattern;
    json_array_foreach(json_object_get(expected, "must_mention"), index, pattern) {
        if (!mentions(a, json_string_value(pattern)))
            return wrong(a, "no mention of %s", json_string_value(pattern));
    }
    json_array_foreach(json_object_get(expected, "must_not_mention"), index, pattern) {
        if (mentions(a, json_string_value(pattern)))
            return wrong(a, "false alarm: mentions %s", json_string_value(pattern));
    }
    return true;
}

static bool text_matches(const char *actual, const json_t *expected) {
    if (json_is_array(expected)) {
        size_t index;
        json_t *one;
        json_array_foreach(expected, index, one) {
            if (text_matches(actual, one))
                return true;
        }
        return false;
    }
    if (expected == NULL || json_is_null(expected))
        return expected == NULL || actual == NULL;
    return actual != NULL && strcmp(actual, json_string_value(expected)) == 0;
}

static bool count_matches(uint64_t actual, const json_t *expected) {
    if (!json_is_array(expected))
        return expected == NULL || (json_int_t)actual == json_integer_value(expected);
    size_t index;
    json_t *one;
    json_array_foreach(expected, index, one) {
        if ((json_int_t)actual == json_integer_value(one))
            return true;
    }
    return false;
}

static bool value_matches(double actual, const json_t *expected) {
    double value = json_number_value(expected);
    return is_close(actual, value, 1e-12 * fabs(value) + 1e-300);
}

static bool check_channel(answer *a, size_t number, const gw_channel *channel, const json_t *expected) {
    size_t index;
    json_t *value;
    if (!text_matches(channel->name, json_object_get(expected, "name")))
        return wrong(a, "channel %zu is named '%s'", number, channel->name != NULL ? channel->name : "(nothing)");
    const json_t *unit = json_object_get(expected, "unit");
    if (!json_is_null(unit) && !text_matches(channel->unit, unit))
        return wrong(a, "channel %zu has unit '%s'", number, channel->unit);
    json_array_foreach(json_object_get(expected, "first"), index, value) {
        if (index >= channel->first_count)
            return wrong(a, "channel %zu has %zu first values", number, channel->first_count);
        bool present = channel->first_marks[index] == GW_SAMPLE_PRESENT;
        if (present == json_is_null(value) || (present && !value_matches(channel->first[index], value)))
            return wrong(a, "channel %zu sample %zu is %.17g, mark %d", number, index, channel->first[index],
                         channel->first_marks[index]);
    }
    if (!value_matches(channel->min, json_object_get(expected, "min")) ||
        !value_matches(channel->max, json_object_get(expected, "max")))
        return wrong(a, "channel %zu ranges from %.17g to %.17g", number, channel->min, channel->max);
    if (!count_matches(channel->missing, json_object_get(expected, "missing")) ||
        !count_matches(channel->overload, json_object_get(expected, "overload")))
        return wrong(a, "channel %zu: %llu missing, %llu overloaded", number, (unsigned long long)channel->missing,
                     (unsigned long long)channel->overload);
    return true;
}

static bool check_rate(answer *a, const json_t *expected) {
    const json_t *rate = json_object_get(expected, "rate_hz"), *start = json_object_get(expected, "start_s");
    double value = json_number_value(rate);
    double tolerance = json_number_value(json_object_get(expected, "rate_tolerance_rel"));
    if (json_is_null(rate) && a->capture->rate_hz != 0)
        return wrong(a, "a rate of %.17g Hz is invented", a->capture->rate_hz);
    if (json_is_number(rate) && !is_close(a->capture->rate_hz, value, (tolerance > 0 ? tolerance : 1e-6) * value))
        return wrong(a, "rate is %.17g Hz", a->capture->rate_hz);
    if (!json_is_number(start))
        return true;
    tolerance = json_number_value(json_object_get(expected, "start_tolerance_s"));
    if (!a->capture->has_start ||
        !is_close(a->capture->start_s, json_number_value(start), tolerance > 0 ? tolerance : 1e-12))
        return wrong(a, "start is %.17g s (%s)", a->capture->start_s, a->capture->has_start ? "given" : "not given");
    return true;
}

static bool check_answer(answer *a, const json_t *expected) {
    bool accept = strcmp(json_string_value(json_object_get(expected, "verdict")), "accept") == 0;
    const json_t *channels = json_object_get(expected, "channels"), *samples = json_object_get(expected, "samples");
    if (accept != (a->capture != NULL))
        return wrong(a, "%s: %s", accept ? "refused" : "accepted", a->error.set ? a->error.text : "");
    if (!accept)
        return check_mentions(a, expected);
    if (json_is_integer(samples) && a->capture->samples != (uint64_t)json_integer_value(samples))
        return wrong(a, "%llu samples", (unsigned long long)a->capture->samples);
    if (!check_rate(a, expected))
        return false;
    if (json_is_array(channels) && json_array_size(channels) != a->capture->channel_count)
        return wrong(a, "%zu channels", a->capture->channel_count);
    for (size_t i = 0; i < json_array_size(channels); i++)
        if (!check_channel(a, i + 1, &a->capture->channels[i], json_array_get(channels, i)))
            return false;
    return check_mentions(a, expected);
}

/* The first answer, or one of those under `or`. */
static bool check_any(answer *a, const json_t *expected) {
    size_t index;
    json_t *other;
    if (check_answer(a, expected))
        return true;
    char first[sizeof a->why];
    memcpy(first, a->why, sizeof first);
    json_array_foreach(json_object_get(expected, "or"), index, other) {
        if (check_answer(a, other))
            return true;
    }
    memcpy(a->why, first, sizeof first);
    return false;
}

static void show(const answer *a) {
    for (size_t i = 0; a->capture != NULL && i < a->capture->remarks.count; i++)
        print_message("        remark: %s\n", a->capture->remarks.items[i]);
    for (size_t i = 0; a->capture != NULL && i < a->capture->ignored.count; i++)
        print_message("        ignored: %s\n", a->capture->ignored.items[i]);
    if (a->error.set)
        print_message("        error: %s\n", a->error.text);
}

/* Samples fetched one by one and at once are the same as told. */
static bool check_fetch(answer *a) {
    if (a->capture == NULL)
        return true;
    size_t count = a->capture->samples < 64 ? (size_t)a->capture->samples : 64;
    double values[64], single;
    unsigned char marks[64], mark;
    for (size_t c = 0; c < a->capture->channel_count; c++) {
        const gw_channel *channel = &a->capture->channels[c];
        if (!gw_capture_fetch(a->capture, c, 0, count, values, marks, &a->error))
            return wrong(a, "fetch fails: %s", a->error.text);
        for (size_t i = count; i-- > 0;) {
            if (!gw_capture_fetch(a->capture, c, i, 1, &single, &mark, &a->error) || single != values[i] ||
                mark != marks[i])
                return wrong(a, "sample %zu of channel %zu comes out otherwise alone", i, c + 1);
            if (i < channel->first_count && (values[i] != channel->first[i] || marks[i] != channel->first_marks[i]))
                return wrong(a, "sample %zu of channel %zu is not what is told as first", i, c + 1);
        }
    }
    return true;
}

static bool check_file(const char *folder, const char *name, const json_t *expected) {
    answer a = {0};
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    bool accepted = gw_capture_read(path, NULL, &a.capture, &a.error);
    bool right = accepted == (a.capture != NULL) && accepted != a.error.set;
    right = right && check_fetch(&a) && check_any(&a, expected);
    if (!right)
        print_error("    %s: %s (%s)\n", name, a.why, json_string_value(json_object_get(expected, "why")));
    if (!right || getenv("SHOW") != NULL) {
        print_message("    %s\n", name);
        show(&a);
    }
    gw_capture_free(a.capture);
    return right;
}

static void check_folder(const char *folder) {
    char path[1024];
    json_error_t problem;
    snprintf(path, sizeof path, "%s/expected.json", folder);
    json_t *all = json_load_file(path, 0, &problem);
    if (all == NULL)
        fail_msg("%s:%d: %s", path, problem.line, problem.text);
    const char *name;
    json_t *expected;
    size_t wrong_count = 0, count = 0;
    json_object_foreach(all, name, expected) {
        count++;
        wrong_count += !check_file(folder, name, expected);
    }
    json_decref(all);
    print_message("%zu of %zu right\n", count - wrong_count, count);
    assert_true(count > 0);
    assert_int_equal(wrong_count, 0);
}

static void test_handed_down(void **state) {
    (void)state;
    check_folder(GAINWALK_TESTS "/capture/data");
}

static void test_own(void **state) {
    (void)state;
    check_folder(GAINWALK_TESTS "/capture/own");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_handed_down), cmocka_unit_test(test_own)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
