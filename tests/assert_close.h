/* The only assertion for floating point numbers in these tests: cmocka's own accept NaN and infinity. */
#ifndef GAINWALK_ASSERT_CLOSE_H
#define GAINWALK_ASSERT_CLOSE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

/* Fails unless `actual` and `expected` are finite and no further apart than `tolerance` (absolute, finite, not
 * negative). */
#define assert_close(actual, expected, tolerance)                                                                      \
    assert_close_at((double)(actual), (double)(expected), (double)(tolerance), #actual, __FILE__, __LINE__)

static inline void assert_close_at(double actual, double expected, double tolerance, const char *what, const char *file,
                                   int line) {
    if (isfinite(actual) && isfinite(expected) && isfinite(tolerance) && tolerance >= 0 &&
        fabs(actual - expected) <= tolerance)
        return;
    print_error("%s is %.17g, expected %.17g within %.3g\n", what, actual, expected, tolerance);
    _fail(file, line);
}

#endif
