/* What is kept for the next capture is the same as what is made anew, and is given back in the end. */
#include "assert_close.h"
#include "measure/shelf.h"
#include "signals.h"

#include <malloc.h>

static size_t in_use(void) {
    return mallinfo2().uordblks; /* 0 under a sanitizer, which tells of leaks itself */
}

/* Plans, windows and comb of many lengths; the memory in use with them. */
static size_t use_a_shelf(double *room) {
    gw_shelf *shelf = gw_shelf_new();
    assert_non_null(shelf);
    for (size_t length = 64; length <= 4096; length *= 2) {
        gw_fft *plan = gw_shelf_plan(shelf, length);
        assert_non_null(plan);
        gw_shelf_window(shelf, room, length);
        gw_shelf_return(shelf, plan);
    }
    assert_non_null(gw_shelf_comb(shelf));
    size_t held = in_use();
    gw_shelf_free(shelf);
    return held;
}

/* After thirty shelves less is in use than with one: what the C library keeps for the next time is little. */
static void all_is_given_back(void **state) {
    (void)state;
    double *room = new_volts(4096);
    gw_shelf_free(NULL);
    size_t held = use_a_shelf(room);
    for (int round = 0; round < 30; round++)
        use_a_shelf(room);
    assert_true(in_use() <= held);
    free(room);
}

/* Hann: sin²(pi i/n), first time and again. */
static void windows_from_the_shelf(void **state) {
    (void)state;
    static const size_t lengths[] = {1000, 37, 1000, 2048, 37, 5, 1000};
    double *window = new_volts(2048);
    gw_shelf *shelf = gw_shelf_new();
    for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++) {
        gw_shelf_window(shelf, window, lengths[k]);
        for (size_t i = 0; i < lengths[k]; i++)
            assert_close(window[i], pow(sin(two_pi / 2 * (double)i / (double)lengths[k]), 2), 1e-14);
    }
    gw_shelf_free(shelf);
    free(window);
}

/* Both densities of a record, from a shelf or without. */
static void densities(gw_shelf *shelf, const double *volts, size_t count, gw_arena *arena, gw_psd *out) {
    assert_true(gw_psd_welch_by(shelf, volts, NULL, count, 48000, 0, arena, &out[0]));
    assert_true(gw_psd_welch_by(shelf, volts, NULL, count, 48000, count, arena, &out[1]));
}

/* What was prepared is all that the densities ask for, and they are the same with it, bit for bit. */
static void prepared_for_densities(void **state) {
    (void)state;
    enum { COUNT = 30011 };
    double *volts = new_volts(COUNT);
    uint64_t random = 3;
    for (size_t i = 0; i < COUNT; i++)
        volts[i] = random_gauss(&random);
    gw_shelf *shelf = gw_shelf_new();
    gw_psd_prepare(shelf, COUNT);
    size_t held = in_use();
    for (int round = 0; round < 2; round++) {
        gw_arena *arena = gw_arena_new();
        gw_psd with[2], without[2];
        densities(shelf, volts, COUNT, arena, with);
        densities(NULL, volts, COUNT, arena, without);
        for (int k = 0; k < 2; k++) {
            assert_int_equal(with[k].bins, without[k].bins);
            assert_memory_equal(with[k].density, without[k].density, with[k].bins * sizeof(double));
        }
        gw_arena_free(arena);
        assert_true(in_use() < held + 4096); /* a plan or a window takes more */
    }
    gw_shelf_free(shelf);
    free(volts);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_is_given_back),
        cmocka_unit_test(windows_from_the_shelf),
        cmocka_unit_test(prepared_for_densities),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
