/* How often a test draws a case at random. */
#ifndef GAINWALK_TESTS_TRIALS_H
#define GAINWALK_TESTS_TRIALS_H

#include <stdlib.h>

/* A fifth of `all` in a build that tests/builds/sanitize.py runs (GAINWALK_SANITIZED): it looks for faults of the
 * program, not for a share of right answers, and is five to ten times as slow. */
static inline int trials_of(int all) {
    return getenv("GAINWALK_SANITIZED") != NULL ? (all + 4) / 5 : all;
}

#endif
