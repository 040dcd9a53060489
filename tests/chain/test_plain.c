/* Chains without a chain file. */
#include "chain_testing.h"

static const char *const three[] = {"caps/a.csv", "caps/b.csv", "c.wav"};

static gw_chain *chain_from(const gw_chain_plain *plain) {
    gw_chain *chain = NULL;
    gw_error error = {0};
    if (!gw_chain_from_files(plain, &chain, &error))
        fail_msg("%s: %s", error.file, error.text);
    return chain;
}

static void test_points_are_the_captures(void **state) {
    (void)state;
    gw_chain *chain = chain_from(&(gw_chain_plain){.captures = three, .count = 3});
    assert_int_equal(chain->point_count, 3);
    assert_string_equal(chain->points[0].name, "a");
    assert_string_equal(chain->points[2].name, "c");
    assert_string_equal(chain->points[1].capture, "caps/b.csv");
    assert_true(chain->points[1].capture_stated);
    for (int i = 0; i < 3; i++)
        assert_int_equal(chain->points[i].after, i - 1);
    assert_null(chain->file);
    assert_true(chain->accuracy < 0);
    assert_int_equal(chain->points[1].gain.origin, GW_ORIGIN_NONE);
    gw_chain_free(chain);
}

static void test_all_options(void **state) {
    (void)state;
    gw_chain *chain = chain_from(&(gw_chain_plain){.captures = three,
                                                   .count = 3,
                                                   .gains = "20dB,x0.5",
                                                   .stimulus = "sine 1kHz 100mV",
                                                   .channel = "2",
                                                   .mains = "60Hz",
                                                   .probe = "x10",
                                                   .accuracy = "2%"});
    assert_close(decibels(chain->points[1].gain.value), 20, 1e-9);
    assert_close(chain->points[2].gain.value, 0.5, 1e-12);
    assert_close(decibels(chain->points[2].gain.high / 0.5), 1, 1e-9);
    assert_string_equal(chain->points[1].channel, "2");
    assert_close(chain->points[1].probe, 10, 0);
    assert_close(chain->points[1].accuracy, 0.02, 1e-15);
    assert_close(chain->mains_hz, 60, 0);
    assert_close(chain->stimulus.level_v, 0.1, 1e-12);
    assert_string_equal(chain->stimulus_text, "sine 1kHz 100mV");
    gw_chain_free(chain);
}

/* As many gains as captures: the first is that of whatever drives the first point. */
static void test_a_gain_for_each_capture(void **state) {
    (void)state;
    gw_chain *chain = chain_from(&(gw_chain_plain){.captures = three, .count = 3, .gains = "0dB, 20 dB ± 2 dB , x0.5"});
    assert_int_equal(chain->points[0].gain.origin, GW_ORIGIN_NONE);
    assert_close(decibels(chain->points[1].gain.high / chain->points[1].gain.value), 2, 1e-9);
    gw_chain_free(chain);
}

static void test_alike_names(void **state) {
    static const char *const alike[] = {"1/out.csv", "2/out.csv", "out.wav", "out", ".csv", "4/.csv", "out-2.csv"};
    static const char *const names[] = {"out", "out-2", "out-3", "out-4", ".csv", ".csv-2", "out-2-2"};
    (void)state;
    gw_chain *chain = chain_from(&(gw_chain_plain){.captures = alike, .count = 7});
    for (size_t i = 0; i < 7; i++)
        assert_string_equal(chain->points[i].name, names[i]);
    gw_chain_free(chain);
}

static void check_refusal(const gw_chain_plain *plain, const char *file, const char *says) {
    gw_chain *chain = NULL;
    gw_error error = {0};
    assert_false(gw_chain_from_files(plain, &chain, &error));
    assert_null(chain);
    if (strcmp(error.file, file) != 0 || strstr(error.text, says) == NULL || error.line != 0)
        fail_msg("it said '%s', '%s'", error.file, error.text);
}

static void test_refusals(void **state) {
    (void)state;
    check_refusal(&(gw_chain_plain){.captures = three, .count = 0}, "", "no capture");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .gains = "0dB"}, "--gain", "1 gains for 3 captures");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .gains = "1,2,3,4"}, "--gain", "4 gains for 3");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .gains = "0dB,"}, "--gain", "not a quantity: ''");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .gains = "0dB,5V"}, "--gain", "not volts");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .probe = "0"}, "--probe", "makes no sense");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .mains = "fast"}, "--mains", "not a quantity");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .accuracy = "3"}, "--accuracy", "per cent");
    check_refusal(&(gw_chain_plain){.captures = three, .count = 3, .stimulus = "sin"}, "--stimulus", "mean 'sine'");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_points_are_the_captures),
        cmocka_unit_test(test_all_options),
        cmocka_unit_test(test_a_gain_for_each_capture),
        cmocka_unit_test(test_alike_names),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
