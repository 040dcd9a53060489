/* Every allocation fails in turn, alone and with all that follow, through whole commands: no crash, nothing left
 * behind, a clear error, and nothing printed or written by halves. */
#include "faults/faulty.h"
#include "trials.h"

#include <math.h>

enum { DENSE = 600 }; /* every one of the first: reading the record is the same thousands of times */

static long next_of(long at, long stride) {
    long dense = trials_of(DENSE);
    return at + (at < dense ? 1 : dense < DENSE ? 5 * stride : stride);
}

/* Returns how many the command makes. */
static long fail_each(command_words of, bool lasting, long stride) {
    static outcome whole, made;
    run_command(of, NULL, &whole);
    assert_int_equal(whole.left, 0);
    long wrong = 0;
    for (long at = 1;; at = next_of(at, stride)) {
        fault one = {.call = "memory", .at = at, .lasting = lasting, .reason = ENOMEM};
        run_command(of, &one, &made);
        if (made.failed == 0) {
            assert_int_equal(made.status, whole.status);
            assert_int_equal(wrong, 0);
            return at;
        }
        if (!is_right_short_of_memory(&made, &whole)) {
            wrong++;
            print_error("%s %s, allocation %ld%s: status %d, %ld blocks left, %zu bytes printed, told: %s\n", of[1],
                        of[2], at, lasting ? " on" : "", made.status, made.left, strlen(made.printed), made.told);
        }
    }
}

static void every_allocation(command_words of) {
    assert_true(fail_each(of, false, 7) > 10);
    fail_each(of, true, 29);
}

static void walk_of_a_chain(void **state) {
    (void)state;
    every_allocation(COMMAND("walk", "chain.ini", "--jobs", "1"));
    every_allocation(COMMAND("walk", "--json", "chain.ini", "--jobs", "1"));
}

static void walk_of_captures(void **state) {
    (void)state;
    every_allocation(COMMAND("walk", "in.csv", "out.csv", "--gain", "20dB", "--csv", "-", "--jobs", "1"));
}

static void walk_of_a_record(void **state) {
    (void)state;
    every_allocation(COMMAND("walk", "before.json", "--html", "-", "--jobs", "1"));
}

static void measure(void **state) {
    (void)state;
    every_allocation(COMMAND("measure", "in.csv", "--jobs", "1"));
    every_allocation(COMMAND("measure", "--json", "in.wav", "--jobs", "1"));
    every_allocation(COMMAND("peek", "in.csv", "in.wav", "--jobs", "1"));
}

/* A saw with half of its samples missing, one by one but in no pattern, beside a sine that has values in every other
 * row. */
static void channels_with_holes(void **state) {
    (void)state;
    gw_text text = {0};
    gw_text_add(&text, "time (s),CH1 (V),CH2 (V)\n");
    for (int i = 0; i < 560; i++) {
        char number[32];
        gw_text_printf(&text, "%s,", gw_number_print(i * 2e-5, 9, number, sizeof number));
        double saw = fmod(i * 440 * 2e-5, 1) - 0.5, sine = sin(6.283185307 * 1000 * i * 2e-5);
        gw_text_printf(&text, "%s,", (i + (i > 300)) % 2 ? gw_number_fixed(saw, 4, number, sizeof number) : "");
        gw_text_printf(&text, "%s\n", i % 2 ? gw_number_fixed(sine, 4, number, sizeof number) : "");
    }
    write_text("holes.csv", text.data);
    gw_text_free(&text);
    every_allocation(COMMAND("measure", "--json", "holes.csv", "--jobs", "1"));
}

static void one_channel_against_another(void **state) {
    (void)state;
    every_allocation(COMMAND("measure", "--reference", "1", "--json", "pair.csv", "--jobs", "1"));
}

static void standard_input(void **state) {
    (void)state;
    input_name = "in.csv";
    every_allocation(COMMAND("measure", "--lines", "--jobs", "1", "-"));
    input_name = "before.json";
    every_allocation(COMMAND("walk", "--lines", "--jobs", "1", "-"));
}

static void compare(void **state) {
    (void)state;
    every_allocation(COMMAND("compare", "before.json", "after.json", "--jobs", "1"));
    every_allocation(COMMAND("compare", "--html", "-", "before.json", "after.json", "--jobs", "1"));
}

static void learn(void **state) {
    (void)state;
    every_allocation(COMMAND("learn", "chain.ini", "before.json", "after.json", "--output", "-", "--jobs", "1"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(walk_of_a_chain),
        cmocka_unit_test(walk_of_captures),
        cmocka_unit_test(walk_of_a_record),
        cmocka_unit_test(measure),
        cmocka_unit_test(compare),
        cmocka_unit_test(learn),
        cmocka_unit_test(standard_input),
        cmocka_unit_test(one_channel_against_another),
        cmocka_unit_test(channels_with_holes),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
