/* Chains out of a text, for tests. */
#ifndef CHAIN_TESTING_H
#define CHAIN_TESTING_H

#include "assert_close.h"
#include "gainwalk/chain.h"

#include <stdio.h>
#include <string.h>

/* Parses, and fails the test with the error's text if that fails. */
static inline gw_chain *chain_of(const char *text) {
    gw_chain *chain = NULL;
    gw_error error = {0};
    char line[900];
    if (!gw_chain_parse(text, strlen(text), "bench/tarn.ini", &chain, &error))
        fail_msg("%s", gw_error_print(&error, line, sizeof line));
    return chain;
}

/* A chain of two points, `stage` between them. The stage is in points[1]. */
static inline gw_chain *chain_with_stage(const char *stage, const char *stimulus) {
    char text[800];
    snprintf(text, sizeof text, "[chain]\nstimulus = %s\n[point A]\n[point B]\nstage = %s\n", stimulus, stage);
    return chain_of(text);
}

/* Decibels, by the definition and not by the code under test. */
static inline double decibels(double ratio) {
    return 20 * log10(ratio);
}

#endif
