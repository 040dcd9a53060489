/* Any two faults together, behind stages of any kind: what is told hangs together, and a second fault hides no first
 * one. The faults are put into readings; what must hold is what include/gainwalk/walk.h says of findings. */
#include "walk_testing.h"

static const char *const names[] = {"A", "B", "C", "D"};
static const char *const stages[] = {"wire",
                                     "pot position=50 % value=10k load=1M",
                                     "coupling c=10u load=100k",
                                     "noninverting rf=1k rg=1M",
                                     "lowpass r=1k c=1n",
                                     "amp"};
enum { POINTS = 4, STAGES = sizeof stages / sizeof *stages };

typedef struct hurt {
    bench bench;
    gw_event events[POINTS][3];
    double level[POINTS];
} hurt;

typedef void fault(hurt *h, int i);

static gw_readings *at(hurt *h, int i) {
    return &h->bench.readings[i];
}

/* Signal from a point on, as large as it was times `by`. */
static void scale(hurt *h, int i, double by) {
    for (int k = i; k < POINTS; k++) {
        h->level[k] *= by;
        double dc = at(h, k)->values[GW_DC].value;
        put_sine(&h->bench, names[k], h->level[k], dc);
    }
}

static void lose(hurt *h, int i) {
    for (int k = i; k < POINTS; k++)
        put_silence(&h->bench, names[k], 1e-3, 0);
}

static void weaken(hurt *h, int i) {
    scale(h, i, 0.3);
}

static void strengthen(hurt *h, int i) {
    scale(h, i, 9); /* not what the other took, or a probe would be doubted */
}

static void shift(hurt *h, int i) {
    for (int k = i; k < POINTS; k++)
        say(at(h, k), GW_DC, 2, 1e-3, 0);
}

static void cut_tops(hurt *h, int i) {
    for (int k = i; k < POINTS; k++) {
        gw_clues *clues = &at(h, k)->clues;
        clues->high = (gw_flat){.clipped = true, .share = 0.2, .level_v = h->level[k]};
        clues->low = (gw_flat){.clipped = true, .share = 0.2, .level_v = -h->level[k]};
        say(at(h, k), GW_THD, 0.1, 1e-3, 0);
        say(at(h, k), GW_CLIP_HIGH, 0.2, 1e-3, 0);
    }
}

static void bend(hurt *h, int i) {
    for (int k = i; k < POINTS; k++)
        say(at(h, k), GW_THD, 0.06, 1e-3, 0);
}

static void make_noise(hurt *h, int i) {
    for (int k = i; k < POINTS; k++)
        say(at(h, k), GW_NOISE, 0.1 * h->level[k], 1e-3 * h->level[k], 0);
}

static void hum(hurt *h, int i) {
    for (int k = i; k < POINTS; k++) {
        say(at(h, k), GW_HUM, 0.2 * h->level[k], 1e-3 * h->level[k], 0);
        at(h, k)->clues.hum_twice_v = 0.2 * h->level[k];
    }
}

static void whistle(hurt *h, int i) {
    for (int k = i; k < POINTS; k++) {
        h->bench.tones[k][0] =
            (gw_tone){.kind = GW_TONE_OTHER, .frequency_hz = 7310, .rms = 0.4 * h->level[k], .u95 = 1e-4};
        at(h, k)->tones = h->bench.tones[k];
        at(h, k)->tone_count = 1;
    }
}

static void boat(hurt *h, int i) {
    for (int k = i; k < POINTS; k++) {
        at(h, k)->clues.wobble_hz = 4;
        at(h, k)->clues.wobble_depth = 0.3;
    }
}

static void put_events(hurt *h, int i, gw_event_kind kind, double size) {
    for (int k = i; k < POINTS; k++) {
        for (int e = 0; e < 3; e++)
            h->events[k][e] = (gw_event){kind, 0.0111 + 0.0237 * e + 0.001 * e * e, 5e-3, size * h->level[k]};
        at(h, k)->events = h->events[k];
        at(h, k)->event_count = 3;
    }
}

static void interrupt(hurt *h, int i) {
    put_events(h, i, GW_EVENT_DROPOUT, 0);
    for (int k = i; k < POINTS; k++)
        say(at(h, k), GW_DROPOUTS, 3, 0, 0);
}

static void crackle(hurt *h, int i) {
    put_events(h, i, GW_EVENT_CRACKLE, 0.5);
}

static void detune(hurt *h, int i) {
    for (int k = i; k < POINTS; k++)
        say(at(h, k), GW_FREQUENCY, 1040, 0.01, 0);
}

static void stay(hurt *h, int i) {
    (void)h, (void)i;
}

static fault *const faults[] = {stay,       lose, weaken,  strengthen, shift,     cut_tops, bend,
                                make_noise, hum,  whistle, boat,       interrupt, crackle,  detune};
enum { FAULTS = sizeof faults / sizeof *faults };

/* One fault at the second point, another at the third or the last. */
static const gw_walk *two(hurt *h, int stage, int one, int other, int where) {
    char text[500];
    memset(h, 0, sizeof *h);
    snprintf(
        text, sizeof text,
        "[chain]\nstimulus = sine 1 kHz 1 V\n[point A]\n[point B]\nstage = %s\ngain = 0 dB ± 1 dB\ndc = 0 V ± 0.1 V\n"
        "[point C]\nstage = wire\ngain = 0 dB ± 1 dB\n[point D]\nstage = %s\ngain = 0 dB ± 1 dB\nthd = < 1 %%\n"
        "[rail plus]\ndc = 15 V ± 5 %%\n",
        stages[stage], stages[(stage + 2) % STAGES]);
    bench_open(&h->bench, text);
    for (int k = 0; k < POINTS; k++) {
        h->level[k] = 1;
        put_sine(&h->bench, names[k], 1, 0);
    }
    put_rail(&h->bench, "plus", 15, 0);
    faults[one](h, 1);
    faults[other](h, where);
    return walk_of(&h->bench);
}

/* What follows ends at something that follows from nothing; who leads does; everything told has its evidence. */
static void hangs_together(const gw_walk *walk) {
    int count = (int)walk->finding_count;
    for (int i = 0; i < count; i++) {
        int hops = 0;
        for (int top = i; walk->findings[top].follows >= 0; top = walk->findings[top].follows) {
            assert_or_explain(walk->findings[top].follows < count && walk->findings[top].follows != top, walk);
            assert_or_explain(++hops <= count, walk);
        }
        assert_or_explain(walk->findings[i].evidence && *walk->findings[i].evidence, walk);
        assert_or_explain(walk->findings[i].cause_count <= GW_CAUSES_MAX, walk);
    }
    int leading = walk->verdict.finding;
    assert_or_explain(leading < count && (leading < 0 || walk->findings[leading].follows < 0), walk);
    assert_or_explain((walk->verdict.status == GW_VERDICT_FAULT) == (gw_walk_exit(walk) == 1), walk);
    assert_or_explain(walk->verdict.status != GW_VERDICT_CLEAR || count_findings(walk, GW_OFF, false) == 0, walk);
}

static void a_second_fault_hides_no_first_one(void **state) {
    (void)state;
    static hurt h;
    int alone = 0;
    for (int stage = 0; stage < STAGES; stage++)
        for (int one = 0; one < FAULTS; one++) {
            bool found = two(&h, stage, one, 0, 3)->verdict.status == GW_VERDICT_FAULT;
            alone += found;
            hangs_together(h.bench.walk);
            bench_close(&h.bench);
            for (int other = 0; other < FAULTS; other++)
                for (int where = 1; where < POINTS; where++) {
                    const gw_walk *walk = two(&h, stage, one, other, where);
                    hangs_together(walk);
                    /* what took place before the signal is lost at the same point is gone with it */
                    if (found && where > 1)
                        assert_or_explain(walk->verdict.status == GW_VERDICT_FAULT, walk);
                    bench_close(&h.bench);
                }
        }
    assert_true(alone >= STAGES * (FAULTS - 1) * 3 / 4); /* most of them are faults by themselves */
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_second_fault_hides_no_first_one)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
