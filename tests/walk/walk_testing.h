/* Chains out of a text and readings out of a few figures, for tests of judging: what the measuring would have said of a
 * capture, without a capture. */
#ifndef WALK_TESTING_H
#define WALK_TESTING_H

#include "assert_close.h"
#include "gainwalk/walk.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BENCH_POINTS = 40, BENCH_RAILS = 6, BENCH_LINES = 12 };

typedef struct bench {
    gw_chain *chain;
    gw_readings readings[BENCH_POINTS], references[BENCH_POINTS], rail_readings[BENCH_RAILS];
    gw_harmonic harmonics[BENCH_POINTS][BENCH_LINES];
    gw_tone tones[BENCH_POINTS][BENCH_LINES];
    gw_probe points[BENCH_POINTS], rails[BENCH_RAILS];
    gw_walk *walk;
} bench;

/* A bench with an instrument of 3 %, as a scope has. */
static const double bench_accuracy = 0.03;
static const double bench_step_share = 1.0 / 100; /* of the level: 8 bits, screen half full */

static inline void bench_open(bench *b, const char *text) {
    gw_error error = {0};
    char line[900];
    memset(b, 0, sizeof *b);
    if (!gw_chain_parse(text, strlen(text), "bench/tarn.ini", &b->chain, &error))
        fail_msg("%s", gw_error_print(&error, line, sizeof line));
    assert_true(b->chain->point_count <= BENCH_POINTS && b->chain->rail_count <= BENCH_RAILS);
}

static inline void bench_close(bench *b) {
    gw_walk_free(b->walk);
    gw_chain_free(b->chain);
}

static inline int bench_point(const bench *b, const char *name) {
    for (size_t i = 0; i < b->chain->point_count; i++)
        if (strcmp(b->chain->points[i].name, name) == 0)
            return (int)i;
    fail_msg("no point '%s'", name);
    return -1;
}

static inline int bench_rail(const bench *b, const char *name) {
    for (size_t i = 0; i < b->chain->rail_count; i++)
        if (strcmp(b->chain->rails[i].name, name) == 0)
            return (int)i;
    fail_msg("no rail '%s'", name);
    return -1;
}

static inline void say(gw_readings *r, gw_reading_key key, double value, double random, double scale) {
    double size = value < 0 ? -value : value;
    r->values[key] = (gw_reading){.state = GW_READING_VALUE,
                                  .value = value,
                                  .u_random = random,
                                  .u_scale = scale * size / sqrt(3),
                                  .u95 = 2 * sqrt(random * random + scale * scale * size * size / 3)};
}

static inline void say_below(gw_readings *r, gw_reading_key key, double bound) {
    r->values[key] = (gw_reading){.state = GW_READING_BELOW, .value = bound, .why = "limited by the capture"};
}

static inline void say_nothing(gw_readings *r, gw_reading_key key, const char *why) {
    r->values[key] = (gw_reading){.state = GW_READING_NONE, .why = why};
}

/* A clean sine on a scope: level in volts RMS, DC in volts. */
static inline void say_sine(gw_readings *r, double frequency_hz, double level_v, double dc_v) {
    double step = level_v * bench_step_share;
    memset(r, 0, sizeof *r);
    r->source.unit = "V";
    r->source.file = "bench.csv";
    r->source.step = step;
    r->source.rate_hz = 250e3;
    r->source.duration_s = 0.1;
    r->source.samples = 25000;
    r->band_low_hz = 20;
    r->band_high_hz = 20e3;
    r->signal = GW_SIGNAL_SINE;
    r->noise_floor_v = step / 3;
    r->clues.cycles = 100;
    r->clues.codes = 280;
    r->clues.mains_hz = 50;
    say(r, GW_LEVEL, level_v, 2e-4 * level_v, bench_accuracy);
    say(r, GW_AC_RMS, level_v, 2e-4 * level_v, bench_accuracy);
    say(r, GW_PEAK_TO_PEAK, 2.83 * level_v, step, bench_accuracy);
    say(r, GW_FREQUENCY, frequency_hz, 1e-5 * frequency_hz, 0);
    say(r, GW_DC, dc_v, step / 20, bench_accuracy);
    say_below(r, GW_THD, 0.003);
    say_below(r, GW_NOISE, step / 2);
    say_below(r, GW_HUM, step / 4);
    say(r, GW_CLIP_HIGH, 0, 0, 0);
    say(r, GW_CLIP_LOW, 0, 0, 0);
    say(r, GW_DROPOUTS, 0, 0, 0);
}

/* A quiet point: nothing but DC and a little noise. */
static inline void say_silence(gw_readings *r, double noise_v, double dc_v) {
    say_sine(r, 1000, noise_v, dc_v);
    r->signal = GW_SIGNAL_DC;
    r->source.step = noise_v;
    r->noise_floor_v = noise_v;
    say_nothing(r, GW_LEVEL, "no signal");
    say_nothing(r, GW_FREQUENCY, "no periodic signal");
    say_nothing(r, GW_THD, "no signal");
    say(r, GW_AC_RMS, noise_v, 0.01 * noise_v, bench_accuracy);
    say(r, GW_DC, dc_v, noise_v / 20, bench_accuracy);
}

/* Mains alone, as a probe that touches nothing picks it up. */
static inline void say_mains(gw_readings *r, double level_v) {
    say_sine(r, 50, level_v, 0);
    say(r, GW_HUM, level_v, 1e-3 * level_v, bench_accuracy);
    r->clues.hum_mains_v = level_v;
}

static inline gw_readings *put(bench *b, const char *name) {
    int i = bench_point(b, name);
    b->points[i].state = GW_PROBE_READ;
    b->points[i].readings = &b->readings[i];
    return &b->readings[i];
}

static inline gw_readings *put_sine(bench *b, const char *name, double level_v, double dc_v) {
    gw_readings *r = put(b, name);
    double hz = b->chain->stimulus.frequency_hz > 0 ? b->chain->stimulus.frequency_hz : 1000;
    say_sine(r, hz, level_v, dc_v);
    return r;
}

static inline gw_readings *put_silence(bench *b, const char *name, double noise_v, double dc_v) {
    gw_readings *r = put(b, name);
    say_silence(r, noise_v, dc_v);
    return r;
}

static inline gw_readings *put_rail(bench *b, const char *name, double dc_v, double ripple_v) {
    int i = bench_rail(b, name);
    gw_readings *r = &b->rail_readings[i];
    say_silence(r, 1e-3, dc_v);
    say(r, GW_DC, dc_v, 1e-4, 0.002);
    if (ripple_v > 0)
        say(r, GW_HUM, ripple_v, 0.01 * ripple_v, bench_accuracy);
    else
        say_below(r, GW_HUM, 1e-4);
    b->rails[i].state = GW_PROBE_READ;
    b->rails[i].readings = r;
    return r;
}

static inline const gw_walk *walk_of(bench *b) {
    gw_error error = {0};
    gw_walk_free(b->walk);
    b->walk = NULL;
    assert_true(gw_walk_run(b->chain, b->points, b->rails, &b->walk, &error));
    assert_non_null(b->walk->verdict.summary);
    return b->walk;
}

/* ---- what came out ---- */

static inline void explain(const gw_walk *walk) {
    print_message("%s: %s\n", gw_verdict_name(walk->verdict.status), walk->verdict.summary);
    for (size_t i = 0; i < walk->finding_count; i++) {
        const gw_finding *f = &walk->findings[i];
        print_message("  %zu %s %s from %d to %d point %d rail %d follows %d: %s\n", i, gw_finding_infos[f->code].code,
                      gw_status_name(f->status), f->from, f->to, f->point, f->rail, f->follows, f->evidence);
    }
}

#define assert_or_explain(condition, walk)                                                                             \
    do {                                                                                                               \
        if (!(condition)) {                                                                                            \
            explain(walk);                                                                                             \
            fail_msg("%s", #condition);                                                                                \
        }                                                                                                              \
    } while (0)

static inline size_t count_findings(const gw_walk *walk, gw_status status, bool leading_only) {
    size_t count = 0;
    for (size_t i = 0; i < walk->finding_count; i++)
        count += walk->findings[i].status == status && (!leading_only || walk->findings[i].follows < 0) ? 1 : 0;
    return count;
}

static inline const gw_finding *find(const bench *b, gw_finding_code code, const char *point) {
    int at = bench_point(b, point);
    for (size_t i = 0; i < b->walk->finding_count; i++)
        if (b->walk->findings[i].code == code && b->walk->findings[i].point == at)
            return &b->walk->findings[i];
    return NULL;
}

static inline bool remarks_on(const bench *b, const char *words) {
    for (size_t i = 0; i < b->walk->remarks.count; i++)
        if (strstr(b->walk->remarks.items[i], words))
            return true;
    return false;
}

static inline const gw_walk_stage *stage_to(const bench *b, const char *point) {
    int at = bench_point(b, point);
    for (size_t i = 0; i < b->walk->stage_count; i++)
        if (b->walk->stages[i].to == at)
            return &b->walk->stages[i];
    fail_msg("no stage leads to '%s'", point);
    return NULL;
}

/* One fault, of this kind, between these points (`from` NULL: before the first), and nothing else that leads. */
static inline void expect_fault(bench *b, gw_finding_code code, const char *from, const char *to) {
    const gw_walk *walk = walk_of(b);
    assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
    assert_or_explain(walk->findings[walk->verdict.finding].code == code, walk);
    assert_or_explain(walk->verdict.from == (from ? bench_point(b, from) : -1), walk);
    assert_or_explain(walk->verdict.to == bench_point(b, to), walk);
    assert_or_explain(count_findings(walk, GW_OFF, true) == 1, walk);
    assert_int_equal(gw_walk_exit(walk), 1);
}

static inline void expect_verdict(bench *b, gw_verdict_status status) {
    const gw_walk *walk = walk_of(b);
    assert_or_explain(walk->verdict.status == status, walk);
}

/* In order: nothing off, nothing unsure, every point of status ok or unjudged. */
static inline void expect_clear(bench *b) {
    expect_verdict(b, GW_VERDICT_CLEAR);
    assert_or_explain(b->walk->finding_count == 0, b->walk);
    assert_int_equal(gw_walk_exit(b->walk), 0);
}

#endif
