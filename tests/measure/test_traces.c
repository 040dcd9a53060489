/* Pictures keep their peaks. */
#include "assert_close.h"
#include "measure/traces.h"
#include "signals.h"

#include "gainwalk/capture.h"

#include <stdbool.h>
#include <string.h>

static void a_single_sample_survives(void **state) {
    (void)state;
    enum { N = 100003 };
    double *x = new_volts(N);
    x[77777] = 3;
    x[5] = -2;
    gw_arena *arena = gw_arena_new();
    gw_trace trace;
    assert_true(gw_trace_waveform(x, NULL, N, 1000, -5, 640, arena, &trace));
    assert_int_equal(trace.count, 640);
    assert_close(trace.start, -5, 0);
    assert_close(trace.end, -5 + 100.003, 1e-9);
    assert_false(trace.log_x);
    size_t ups = 0, downs = 0;
    for (size_t c = 0; c < 640; c++) {
        ups += trace.high[c] > 2.9;
        downs += trace.low[c] < -1.9;
    }
    assert_int_equal(ups, 1);
    assert_int_equal(downs, 1);
    assert_close(trace.high[497], 3, 0); /* 77777/100003 of 640 */
    assert_close(trace.low[0], -2, 0);
    gw_arena_free(arena);
    free(x);
}

static void few_samples_and_gaps(void **state) {
    (void)state;
    double x[] = {1, 2, 3, 4};
    unsigned char marks[] = {0, GW_SAMPLE_MISSING, 0, GW_SAMPLE_OVERLOAD};
    gw_arena *arena = gw_arena_new();
    gw_trace trace;
    assert_true(gw_trace_waveform(x, marks, 4, 2, 0, 100, arena, &trace));
    assert_int_equal(trace.count, 4);
    static const double expected[] = {1, 1, 3, 3};
    for (size_t c = 0; c < 4; c++) {
        assert_close(trace.low[c], expected[c], 0);
        assert_close(trace.high[c], expected[c], 0);
    }
    assert_true(gw_trace_waveform(x, NULL, 0, 2, 0, 100, arena, &trace));
    assert_int_equal(trace.count, 0);
    assert_true(gw_trace_spectrum(NULL, x, NULL, 4, 2, 100, arena, &trace));
    assert_int_equal(trace.count, 0);
    gw_arena_free(arena);
}

static void lines_survive_on_a_logarithmic_axis(void **state) {
    (void)state;
    enum { N = 48000, COLUMNS = 300 };
    double *x = new_volts(N);
    for (size_t i = 0; i < N; i++)
        x[i] = 10; /* DC does not hide them */
    static const double hz[] = {50, 1000, 17000, 23500}, amplitude[] = {0.1, 1, 0.003, 0.02};
    for (size_t l = 0; l < 4; l++)
        add_sine(x, N, N, amplitude[l], hz[l], 1);
    gw_arena *arena = gw_arena_new();
    gw_trace trace;
    assert_true(gw_trace_spectrum(NULL, x, NULL, N, N, COLUMNS, arena, &trace));
    assert_int_equal(trace.count, COLUMNS);
    assert_true(trace.log_x);
    assert_null(trace.low);
    assert_close(trace.start, 1, 1e-9);
    assert_close(trace.end, 24000, 1e-9);
    for (size_t l = 0; l < 4; l++) {
        size_t c = (size_t)(COLUMNS * log(hz[l]) / log(24000));
        double peak = fmax(trace.high[c], fmax(c ? trace.high[c - 1] : 0, c + 1 < COLUMNS ? trace.high[c + 1] : 0));
        assert_close(peak, amplitude[l] / sqrt(2), 1e-5);
    }
    assert_close(trace.high[150], 0, 1e-5); /* 155 Hz: nothing */
    gw_arena_free(arena);
    free(x);
}

/* Nor at an edge between two: 11 columns of 2048 lines meet at the powers of two, 5 hold many lines each. */
static void nothing_between_the_columns_is_lost(void **state) {
    (void)state;
    enum { N = 4096 };
    static const size_t columns[] = {97, 11, 5};
    for (size_t k = 0; k < 3; k++)
        for (size_t bin = 1; bin < N / 2; bin = bin < 8 ? bin + 1 : bin + 7) {
            double x[N] = {0};
            add_sine(x, N, N, 1, (double)bin, 0);
            gw_arena *arena = gw_arena_new();
            gw_trace trace;
            assert_true(gw_trace_spectrum(NULL, x, NULL, N, N, columns[k], arena, &trace));
            double peak = 0;
            for (size_t c = 0; c < trace.count; c++)
                peak = fmax(peak, trace.high[c]);
            assert_close(peak, sqrt(0.5), 1e-5);
            gw_arena_free(arena);
        }
}

/* A line on the edge belongs to the column that begins there; the one below has what the window leaves a bin beside it:
 * half (Hann). */
static void a_line_on_an_edge_is_in_one_column(void **state) {
    (void)state;
    enum { N = 4096 };
    for (size_t c = 2; c < 11; c++) {
        double x[N] = {0};
        add_sine(x, N, N, 1, (double)(1u << c), 0);
        gw_arena *arena = gw_arena_new();
        gw_trace trace;
        assert_true(gw_trace_spectrum(NULL, x, NULL, N, N, 11, arena, &trace));
        assert_close(trace.high[c], sqrt(0.5), 1e-5);
        assert_close(trace.high[c - 1], sqrt(0.5) / 2, 1e-3);
        gw_arena_free(arena);
    }
}

static void long_records_are_held_over_segments(void **state) {
    (void)state;
    size_t n = 600000;
    double *x = new_volts(n);
    add_sine(x, 50000, 48e3, 1, 3000, 0); /* a burst at the start, another at the very end */
    add_sine(x + n - 50000, 50000, 48e3, 1, 300, 0);
    gw_arena *arena = gw_arena_new();
    gw_trace trace;
    assert_true(gw_trace_spectrum(NULL, x, NULL, n, 48e3, 200, arena, &trace));
    double peaks[2] = {0};
    for (size_t c = 0; c < trace.count; c++) {
        double hz = trace.start * pow(trace.end / trace.start, ((double)c + 0.5) / 200);
        peaks[hz > 1000] = fmax(peaks[hz > 1000], trace.high[c]);
    }
    assert_true(peaks[0] > 0.01 && peaks[1] > 0.01);
    gw_arena_free(arena);
    free(x);
}

static void the_last_line_is_half_the_rate(void **state) {
    (void)state;
    double x[1000];
    for (size_t i = 0; i < 1000; i++)
        x[i] = i % 2 ? 1 : -1;
    gw_arena *arena = gw_arena_new();
    gw_trace trace;
    assert_true(
        gw_trace_spectrum(NULL, x, NULL, 1000, 1000, 2000, arena, &trace)); /* columns narrower than the lines */
    assert_close(trace.high[1999], 1, 1e-5);
    assert_close(trace.high[1000], 0, 1e-5);
    assert_true(gw_trace_spectrum(NULL, x, NULL, 1000, 1000, 10, arena, &trace));
    assert_close(trace.high[9], 1, 1e-5);
    gw_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_single_sample_survives),
        cmocka_unit_test(few_samples_and_gaps),
        cmocka_unit_test(lines_survive_on_a_logarithmic_axis),
        cmocka_unit_test(nothing_between_the_columns_is_lost),
        cmocka_unit_test(a_line_on_an_edge_is_in_one_column),
        cmocka_unit_test(long_records_are_held_over_segments),
        cmocka_unit_test(the_last_line_is_half_the_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
