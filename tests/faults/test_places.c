/* Every place that asks for memory fails once, through commands of all kinds: no crash, nothing left behind, a clear
 * error. tests/faults/test_memory.c counts allocations, and so comes to few of the places that a long job asks from;
 * here a place is the chain of callers, and what asks an arena or a growing array for room fails too, even where there
 * is some. */
#include "faults/faulty.h"

#include <execinfo.h>

/* ---- room inside the program --------------------------------------------------------------------- */

REAL(gw_arena *, gw_arena_new, void) {
    return fails("memory") ? NULL : __real_gw_arena_new();
}

/* An arena that is asked for more than there can be knows that it failed. */
REAL(void *, gw_arena_take, gw_arena *arena, size_t size) {
    return __real_gw_arena_take(arena, fails("memory") ? SIZE_MAX : size);
}

REAL(void *, gw_arena_array, gw_arena *arena, size_t count, size_t size) {
    return fails("memory") ? __real_gw_arena_take(arena, SIZE_MAX) : __real_gw_arena_array(arena, count, size);
}

REAL(char *, gw_arena_copy, gw_arena *arena, const char *text, size_t length) {
    bool failing = text != NULL && fails("memory");
    return failing ? __real_gw_arena_take(arena, SIZE_MAX) : __real_gw_arena_copy(arena, text, length);
}

REAL(char *, gw_arena_string, gw_arena *arena, const char *text) {
    bool failing = text != NULL && fails("memory");
    return failing ? __real_gw_arena_take(arena, SIZE_MAX) : __real_gw_arena_string(arena, text);
}

char *__wrap_gw_arena_printf(gw_arena *arena, const char *format, ...);
char *__wrap_gw_arena_printf(gw_arena *arena, const char *format, ...) {
    if (fails("memory"))
        return __real_gw_arena_take(arena, SIZE_MAX);
    va_list rest;
    va_start(rest, format);
    char text[4096];
    int length = vsnprintf(text, sizeof text, format, rest);
    va_end(rest);
    assert_in_range(length, 0, sizeof text - 1);
    return __real_gw_arena_copy(arena, text, (size_t)length);
}

REAL(bool, gw_array_grow, void **items, size_t count, size_t *capacity, size_t size) {
    return fails("memory") ? false : __real_gw_array_grow(items, count, capacity, size);
}

/* ---- places -------------------------------------------------------------------------------------- */

enum { OWN = 3, DEPTH = 3, PLACES = 1 << 14 }; /* callers that are this test's own; callers that make a place */

static struct {
    size_t key;
    bool known;
} seen[PLACES];
static struct {
    long *items;
    size_t count, capacity;
} firsts; /* the numbers of the allocations that were the first of their place */

static bool is_new_place(size_t key) {
    size_t at = key % PLACES;
    while (seen[at].known && seen[at].key != key)
        at = (at + 1) % PLACES;
    if (seen[at].known)
        return false;
    seen[at].key = key;
    return seen[at].known = true;
}

static void note_place(long at) {
    void *callers[OWN + DEPTH];
    int count = backtrace(callers, OWN + DEPTH);
    size_t key = 1;
    for (int i = OWN; i < count; i++)
        key = (key ^ (size_t)(uintptr_t)callers[i]) * 0x9E3779B97F4A7C15U >> 7 | 1;
    if (!is_new_place(key))
        return;
    if (firsts.count == firsts.capacity) {
        firsts.capacity = firsts.capacity * 2 + 64;
        firsts.items = __real_realloc(firsts.items, firsts.capacity * sizeof *firsts.items);
    }
    firsts.items[firsts.count++] = at;
}

/* A place of any command before is not tried again. */
static void every_place(command_words of) {
    static outcome whole, made;
    run_command(of, NULL, &whole); /* so that files which are written are there already */
    firsts.count = 0;
    on_allocation = note_place;
    run_command(of, &(fault){.call = "memory"}, &whole);
    on_allocation = NULL;
    assert_int_equal(whole.left, 0);
    long wrong = 0;
    for (size_t i = 0; i < firsts.count; i++) {
        run_command(of, &(fault){.call = "memory", .at = firsts.items[i], .reason = ENOMEM}, &made);
        if (made.failed != 1 || !is_right_short_of_memory(&made, &whole)) {
            wrong++;
            print_error(
                "%s %s %s, allocation %ld: status %d (%d), %ld failed, %ld blocks left, %zu bytes printed (%zu), "
                "told: %s\n",
                of[1], of[2] == NULL ? "" : of[2], of[2] == NULL || of[3] == NULL ? "" : of[3], firsts.items[i],
                made.status, whole.status, made.failed, made.left, strlen(made.printed), strlen(whole.printed),
                made.told);
        }
    }
    assert_int_equal(wrong, 0);
}

/* ---- commands ------------------------------------------------------------------------------------ */

static void make(command_words of) {
    static outcome made;
    run_command(of, NULL, &made);
    if (made.status != 0)
        print_error("%s", made.told);
    assert_int_equal(made.status, 0);
}

static const char whole_chain[] =
    "[chain]\ntitle = all there is\nunit = 0417\nstimulus = sine 1 kHz 100 mV\nmains = 50 Hz\nband = 20 Hz .. 20 kHz\n"
    "customer = by the door\ncomplaint = hums\ncautions = live chassis\n\n[instrument]\naccuracy = 3 %\nzero = 5 mV\n"
    "instrument = 8-bit\n\n[point in]\nwhat = input\n\n[point out]\nstage = noninverting rf=9k rg=1k tol=5 %\nthd = < "
    "1 %\n"
    "noise = < 1 mV\nhum = < 1 mV\ndc = 0 V ± 20 mV\nlevel = 1 V ± 2 dB\nfrequency = 1 kHz ± 1 %\ngroup = outs\n\n"
    "[point other]\nafter = in\ncapture = out.csv\ngain = 14 dB ± 1 dB\ngroup = outs\nreach = awkward\nsuspect = 3\n\n"
    "[point bad]\nafter = in\ncapture = clipped.csv\nstage = inverting rf=10k rin=1k\n\n[point far]\nreading = 0.2 V ± "
    "1 %\n"
    "stage = coupling c=1u load=10k\n\n[rail plus]\nreading = 15 V ± 1 %\ndc = 15 V ± 5 %\n\n[rail minus]\n"
    "capture = in.csv\ndc = -15 V ± 5 %\nripple = < 5 mV\n";

static void walks(void **state) {
    (void)state;
    every_place(COMMAND("walk", "--jobs", "1", "whole.ini"));
    every_place(COMMAND("walk", "--jobs", "1", "--json", "whole.ini"));
    every_place(COMMAND("walk", "--jobs", "1", "--csv", "-", "whole.ini"));
    every_place(COMMAND("walk", "--jobs", "1", "--html", "-", "whole.ini"));
    every_place(COMMAND("walk", "--jobs", "1", "--quiet", "--save", "saved.json", "--force", "whole.ini"));
    every_place(COMMAND("walk", "--jobs", "1", "--lines", "--from", "list.txt"));
    every_place(
        COMMAND("walk", "--jobs", "1", "--gain", "0dB,20dB", "--stimulus", "sine 1kHz 100mV", "in.csv", "out.csv"));
    every_place(COMMAND("walk", "--jobs", "1", "saved.json"));
}

static void sweeps(void **state) {
    (void)state;
    every_place(COMMAND("walk", "--jobs", "1", "swept.ini"));
    every_place(COMMAND("walk", "--jobs", "1", "--html", "-", "swept.ini"));
    every_place(COMMAND("response", "--jobs", "1", "sweep.wav", "quieter.wav"));
    every_place(COMMAND("response", "--jobs", "1", "--json", "pair.csv"));
    every_place(COMMAND("response", "--jobs", "1", "chain.ini"));
}

static void measures(void **state) {
    (void)state;
    every_place(COMMAND("measure", "--jobs", "1", "in.csv", "in.wav", "two.wav", "pink.wav", "clipped.csv"));
    every_place(
        COMMAND("measure", "--jobs", "1", "--json", "square.wav", "sweep.wav", "steps.wav", "saw.wav", "no.csv"));
    every_place(COMMAND("measure", "--jobs", "1", "--csv", "-", "--mains", "50Hz", "in.csv", "pink.wav"));
    every_place(COMMAND("measure", "--jobs", "1", "--reference", "1", "pair.csv", "both.csv"));
    every_place(COMMAND("measure", "--jobs", "1", "--lines", "--from", "captures.txt"));
}

#define DATA GAINWALK_TESTS "/capture/data/"
#define MADE GAINWALK_TESTS "/capture/own/"

static void peeks(void **state) {
    (void)state;
    every_place(COMMAND("peek", DATA "d01.csv", DATA "d02.csv", DATA "d05.csv", DATA "d07c.csv", DATA "d11a.csv",
                        DATA "d13.txt", DATA "w17.w64", MADE "stacked.csv"));
    every_place(COMMAND("peek", "--json", MADE "utf16-nul.txt", MADE "two-parts.txt", MADE "rf64.wav",
                        MADE "bw64-own.wav", MADE "clock-iso.csv", MADE "clock-date.csv", MADE "codes-scaled.csv",
                        MADE "quotes.csv", MADE "envelope.csv", MADE "near-stated.csv", MADE "decimated.csv"));
    every_place(COMMAND("peek", DATA "d03.csv", DATA "d08.csv", DATA "d09.csv", DATA "d10.csv", DATA "p10.csv",
                        MADE "preamble-tagged.csv", MADE "beside-long.csv", MADE "one-long-line.txt"));
}

static void records(void **state) {
    (void)state;
    every_place(COMMAND("compare", "--jobs", "1", "before.json", "after.json"));
    every_place(COMMAND("compare", "--jobs", "1", "--json", "saved.json", "whole.ini"));
    every_place(COMMAND("compare", "--jobs", "1", "--csv", "-", "before.json", "after.json"));
    every_place(COMMAND("compare", "--jobs", "1", "--html", "-", "before.json", "after.json"));
    every_place(COMMAND("learn", "--jobs", "1", "chain.ini", "before.json", "after.json", "--output", "-"));
    every_place(
        COMMAND("learn", "--jobs", "1", "whole.ini", "saved.json", "saved.json", "saved.json", "--output", "-"));
}

static void others(void **state) {
    (void)state;
    every_place(COMMAND("new", "--output", "-", "J1", "U1-7", "J2"));
    every_place(COMMAND("new", "--output", "-", "--from", "."));
    every_place(COMMAND("tone", "--force", "--length", "20ms", "--full-scale", "1V", "--level", "100mV", "sine.wav"));
    every_place(COMMAND("tone", "pink", "--force", "--length", "20ms", "--channels", "2", "sine.wav"));
    every_place(COMMAND("explain"));
    every_place(COMMAND("explain", "thd", "coupling", "dc-passed", "sine", "stimulus"));
    every_place(COMMAND("pages", "man"));
    every_place(COMMAND("pages", "man-chain"));
    every_place(COMMAND("pages", "zsh"));
    every_place(COMMAND("--help"));
    every_place(COMMAND("walk", "--help"));
}

static int set_up_more(void **state) {
    if (set_up(state) != 0)
        return -1;
    void *first[4];
    backtrace(first, 4); /* loads what it needs */
    write_capture("clipped.csv", 1.0);
    write_text("whole.ini", whole_chain);
    write_text("swept.ini",
               "[chain]\nsweep = sweep.wav\n\n[point sweep]\n\n[point quieter]\nresponse = 100 Hz .. 10 kHz\n");
    write_text("list.txt", "whole.ini\n");
    write_text("captures.txt", "in.csv\n");
    write_text("both.csv", "time (s),CH1 (V),CH2 (V)\n0,1,2\n0.1,2,4\n0.2,1,2\n0.3,0,0\n");
    make(COMMAND("tone", "sweep", "--length", "100ms", "--frequency", "50Hz..15kHz", "sweep.wav"));
    make(COMMAND("tone", "sweep", "--length", "100ms", "--frequency", "50Hz..15kHz", "--level", "-30dBFS",
                 "quieter.wav"));
    make(COMMAND("tone", "two-tone", "--length", "20ms", "two.wav"));
    make(COMMAND("tone", "pink", "--length", "20ms", "pink.wav"));
    make(COMMAND("tone", "square", "--length", "20ms", "square.wav"));
    make(COMMAND("tone", "saw", "--length", "20ms", "saw.wav"));
    make(COMMAND("tone", "steps", "--length", "100ms", "steps.wav"));
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(walks), cmocka_unit_test(sweeps),  cmocka_unit_test(measures),
        cmocka_unit_test(peeks), cmocka_unit_test(records), cmocka_unit_test(others),
    };
    return cmocka_run_group_tests(tests, set_up_more, tear_down);
}
