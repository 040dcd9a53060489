/* Parts done side by side are joined in their order, whoever is done first. */
#include "assert_close.h"
#include "capture/turns.h"

#include <time.h>

enum { PARTS = 400, THREADS = 4 };

/* The first part of each thread is done last: the others wait, also longer than they look. */
static void rest(size_t part) {
    struct timespec while_s = {.tv_nsec = part == 0 ? 30000000 : 0};
    if (part % 97 == 0)
        nanosleep(&while_s, NULL);
}

static void test_in_order(void **state) {
    (void)state;
    gw_turns turns = GW_TURNS;
    size_t order[PARTS], count = 0;
#pragma omp parallel for schedule(dynamic) num_threads(THREADS)
    for (size_t k = 0; k < PARTS; k++) {
        rest(k);
        gw_turn_await(&turns, k);
        order[count++] = k;
        gw_turn_pass(&turns);
    }
    assert_int_equal(count, PARTS);
    for (size_t k = 0; k < PARTS; k++)
        assert_int_equal(order[k], k);
}

static void test_alone(void **state) {
    (void)state;
    gw_turns turns = GW_TURNS;
    for (size_t k = 0; k < PARTS; k++) {
        gw_turn_await(&turns, k);
        gw_turn_pass(&turns);
    }
    assert_int_equal(turns.next, PARTS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_in_order),
        cmocka_unit_test(test_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
