/* Clues through the whole measurement: what a bench fault shows, and what healthy captures must never show. Signatures
 * are common practice. Seeds are fixed. */
#include "../measure/signals.h"
#include "assert_close.h"
#include "measure/block.h"
#include "trials.h"

#include <string.h>

typedef enum fault { CLEAN, SOFT, CUT_OUT, CRACKLE, STEP, WOBBLE, CLIP, CLIP_HIGH, CROSSOVER, OSCILLATION, SAW } fault;

/* Clues, one bit each. */
enum {
    DROPOUT_SEEN = 1,
    CRACKLE_SEEN = 2,
    STEP_SEEN = 4,
    WOBBLE_SEEN = 8,
    HIGH_SEEN = 16,
    LOW_SEEN = 32,
    CROSSOVER_SEEN = 64,
    SLEW_SEEN = 128,
    TONE_SEEN = 256
};

typedef struct kind {
    const char *name;
    double rate_hz, hz, amplitude, step, noise;
    size_t n;
} kind;

static const kind scope = {"scope", 125e3, 900, 1, 0.01, 0.005, 2500};
static const kind card = {"sound card", 48e3, 1000, 0.3, 1.0 / 32768, 1e-4, 24000};

static double bent(fault which, double s, double phase, size_t i, const kind *k) {
    double t = (double)i / k->rate_hz, turns = phase / two_pi;
    switch (which) {
    case SOFT:
        return s - 0.1 * s * s * s;
    case CUT_OUT:
        return i > k->n * 4 / 10 && i < k->n / 2 ? 0 : s;
    case CRACKLE:
        return s + (i == k->n / 3 || i == k->n * 5 / 7 ? 0.5 : 0);
    case STEP:
        return s + (i > k->n * 4 / 10 ? 0.3 : 0);
    case WOBBLE:
        return s * (1 + 0.3 * sin(two_pi * 6 * t));
    case CLIP:
        return fmin(fmax(s, -0.8), 0.8);
    case CLIP_HIGH:
        return fmin(s, 0.7);
    case CROSSOVER:
        return s - fmin(fmax(s, -0.08), 0.08);
    case OSCILLATION:
        return s + 0.1 * sin(2.5 * (double)i);
    case SAW:
        return 2 * (turns - floor(turns)) - 1;
    default:
        return s;
    }
}

static unsigned clues_of(const gw_readings *r) {
    unsigned seen = 0;
    for (size_t i = 0; i < r->event_count; i++)
        seen |= r->events[i].kind == GW_EVENT_DROPOUT   ? DROPOUT_SEEN
                : r->events[i].kind == GW_EVENT_CRACKLE ? CRACKLE_SEEN
                                                        : STEP_SEEN;
    for (size_t i = 0; i < r->tone_count; i++)
        seen |= r->tones[i].kind == GW_TONE_OTHER ? TONE_SEEN : 0;
    seen |= r->clues.wobble_hz > 0 ? WOBBLE_SEEN : 0;
    seen |= r->clues.high.clipped ? HIGH_SEEN : 0;
    seen |= r->clues.low.clipped ? LOW_SEEN : 0;
    seen |= r->clues.crossover ? CROSSOVER_SEEN : 0;
    seen |= r->clues.slew_limited ? SLEW_SEEN : 0;
    return seen;
}

static unsigned seen_in(const kind *k, fault which, double noise, uint64_t *seed) {
    double *x = new_volts(k->n), hz = k->hz * (0.98 + 0.04 * random_even(seed)), start = two_pi * random_even(seed);
    for (size_t i = 0; i < k->n; i++) {
        double phase = two_pi * hz * (double)i / k->rate_hz + start;
        x[i] = k->amplitude * bent(which, sin(phase), phase, i, k);
    }
    add_noise(x, k->n, noise, seed);
    quantise(x, k->n, k->step);
    gw_error error = {0};
    gw_readings *r = gw_readings_new(&error);
    assert_non_null(r);
    r->source =
        (gw_source){.unit = "V", .rate_hz = k->rate_hz, .samples = k->n, .duration_s = (double)k->n / k->rate_hz};
    gw_stimulus stimulus = {.shape = which == SAW ? GW_SHAPE_PERIODIC : GW_SHAPE_SINE, .frequency_hz = hz};
    gw_measure_options options = {.stimulus = stimulus};
    gw_block block = {.volts = x, .count = k->n, .rate_hz = k->rate_hz, .step = k->step};
    assert_true(gw_measure_block(&block, &options, r, &error));
    unsigned seen = clues_of(r);
    gw_readings_free(r);
    free(x);
    return seen;
}

static void clean_captures_show_nothing(void **state) {
    (void)state;
    uint64_t seed = 701;
    int alarms = 0;
    enum { TRIALS = 400 };
    for (int t = 0; t < trials_of(TRIALS); t++) {
        kind k = scope;
        k.step = 2 / (12 + 240 * random_even(&seed)); /* 12 codes peak to peak and more */
        k.hz = 125e3 / 2500 * (1.5 + (t % 2 ? 10 : 100) * random_even(&seed));
        unsigned seen = seen_in(&k, CLEAN, k.step * (t % 3 ? 1.5 * random_even(&seed) : 0), &seed);
        if (seen)
            print_message("a clean sine of %.1f cycles in %.0f codes shows 0x%x\n", k.hz * 0.02, 2 / k.step, seen);
        alarms += seen != 0;
    }
    assert_in_range(alarms, 0, 2);
}

static void faults_show_what_they_are(void **state) {
    (void)state;
    static const struct {
        const char *name;
        const kind *kind;
        fault fault;
        unsigned must;
    } cases[] = {
        {"soft", &scope, SOFT, 0},
        {"cut out", &scope, CUT_OUT, DROPOUT_SEEN},
        {"crackle", &scope, CRACKLE, CRACKLE_SEEN},
        {"clipped", &scope, CLIP, HIGH_SEEN | LOW_SEEN},
        {"clipped above", &scope, CLIP_HIGH, HIGH_SEEN},
        {"crossover", &scope, CROSSOVER, CROSSOVER_SEEN},
        {"oscillation", &scope, OSCILLATION, TONE_SEEN},
        {"soft", &card, SOFT, 0},
        {"cut out", &card, CUT_OUT, DROPOUT_SEEN},
        {"crackle", &card, CRACKLE, CRACKLE_SEEN},
        {"step of DC", &card, STEP, STEP_SEEN},
        {"motor-boating", &card, WOBBLE, WOBBLE_SEEN},
        {"clipped", &card, CLIP, HIGH_SEEN | LOW_SEEN},
        {"clipped above", &card, CLIP_HIGH, HIGH_SEEN},
        {"crossover", &card, CROSSOVER, CROSSOVER_SEEN},
        {"oscillation", &card, OSCILLATION, TONE_SEEN},
        {"saw", &card, SAW, 0},
    };
    uint64_t seed = 702;
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        int right = 0, more = 0;
        enum { TRIALS = 10 };
        for (int t = 0; t < TRIALS; t++) {
            unsigned seen = seen_in(cases[c].kind, cases[c].fault, cases[c].kind->noise, &seed);
            right += (seen & cases[c].must) == cases[c].must;
            if (seen & ~cases[c].must)
                print_message("  beside it 0x%x\n", seen & ~cases[c].must);
            more += (seen & ~cases[c].must) != 0;
        }
        print_message("%-10s %-14s seen %d of %d, something else beside it %d\n", cases[c].kind->name, cases[c].name,
                      right, TRIALS, more);
        assert_in_range(right, 9, TRIALS);
        assert_in_range(more, 0, 1);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clean_captures_show_nothing),
        cmocka_unit_test(faults_show_what_they_are),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
