/* Numbers drawn for tests of the readers, the same every time. */
#ifndef GAINWALK_TESTS_CAPTURE_DRAWN_H
#define GAINWALK_TESTS_CAPTURE_DRAWN_H

#include <stdint.h>

static uint64_t state = 1;

/* SplitMix64 (Steele, Lea & Flood 2014). */
static unsigned random_below(unsigned many) {
    uint64_t z = (state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (unsigned)((z ^ (z >> 31)) % many);
}

#endif
