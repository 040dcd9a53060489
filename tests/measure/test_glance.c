/* The cheap look at a segment: octaves of white noise and a pulse, lines taken out, what is alike and what is not. */
#include "measure/block.h"
#include "measure/glance.h"
#include "measure/measured.h"

#include <string.h>

enum { SAMPLES = 1 << 15 };

static const double rate = 48e3;

static gw_course_cell sums_of(const double *v, size_t count) {
    gw_course_cell c = {.present = (double)count, .low = v[0], .high = v[0]};
    for (size_t i = 0; i < count; i++) {
        c.sum += v[i];
        c.squares += v[i] * v[i];
        c.low = fmin(c.low, v[i]);
        c.high = fmax(c.high, v[i]);
    }
    return c;
}

static gw_glance look_at(const double *v, size_t count, const gw_outline *outline) {
    gw_block block = {.volts = v, .count = count, .rate_hz = rate};
    gw_course_cell sums = sums_of(v, count);
    double *room = new_volts(count);
    gw_glance out;
    gw_sweepers kept = {{NULL}};
    assert_true(gw_glance_make(&block, outline, &sums, &kept, room, &out));
    gw_glance again;
    assert_true(gw_glance_make(&block, outline, &sums, &kept, room, &again)); /* with what the first one left */
    assert_memory_equal(again.octaves, out.octaves, sizeof out.octaves);
    assert_memory_equal(again.amplitude, out.amplitude, sizeof out.amplitude);
    gw_sweepers_end(&kept);
    free(room);
    assert_true(out.made);
    return out;
}

/* Haar's wavelets are orthonormal: the octaves' energies sum up to the whole (Parseval), with DC's taken out. White
 * noise has the same variance in each. */
static void test_octaves(void **state) {
    (void)state;
    double *v = new_volts(SAMPLES);
    uint64_t random = 4;
    add_noise(v, SAMPLES, 0.3, &random);
    gw_outline none = {.usable = true};
    gw_glance g = look_at(v, SAMPLES, &none);
    double sum = 0, counted = 0;
    for (size_t k = 0; k < g.octave_count; k++) {
        sum += g.octaves[k].energy;
        counted += g.octaves[k].count;
        double scatter = sqrt(2 / g.octaves[k].count);
        assert_close(g.octaves[k].energy / g.octaves[k].count, 0.09, 5 * 0.09 * scatter);
        assert_true(g.octaves[k].largest < 36 * 0.09);
    }
    assert_close(counted, SAMPLES, 0);
    assert_close(sum / g.whole.energy, 1, 1e-12);
    assert_close(g.mean_square, 0.09, 5 * 0.09 * sqrt(2.0 / SAMPLES));
    free(v);
}

/* The vectors' form against plain sums of differences, at lengths that no vector fits. */
static void test_octaves_plain(void **state) {
    (void)state;
    static const size_t lengths[] = {131, 201, 1000, 1003, 4097};
    uint64_t random = 5;
    for (size_t n = 0; n < sizeof lengths / sizeof *lengths; n++) {
        size_t count = lengths[n];
        double *v = new_volts(count), mean = 0;
        add_noise(v, count, 1, &random);
        for (size_t i = 0; i < count; i++)
            mean += v[i] / (double)count;
        gw_outline none = {.usable = true};
        gw_glance g = look_at(v, count, &none);
        double whole = 0, energy = 0, largest = 0;
        for (size_t i = 0; i < count; i++)
            whole += (v[i] - mean) * (v[i] - mean);
        for (size_t i = 0; i + 1 < count; i += 2) {
            energy += 0.5 * (v[i] - v[i + 1]) * (v[i] - v[i + 1]);
            largest = fmax(largest, 0.5 * (v[i] - v[i + 1]) * (v[i] - v[i + 1]));
        }
        assert_close(g.whole.energy / whole, 1, 1e-12);
        assert_close(g.octaves[0].energy / energy, 1, 1e-12);
        assert_close(g.octaves[0].largest / largest, 1, 1e-12);
        energy = largest = 0;
        for (size_t i = 0; i + 3 < count; i += 4) {
            double apart = v[i] + v[i + 1] - v[i + 2] - v[i + 3];
            energy += 0.25 * apart * apart;
            largest = fmax(largest, 0.25 * apart * apart);
        }
        assert_close(g.octaves[1].energy / energy, 1, 1e-12);
        assert_close(g.octaves[1].largest / largest, 1, 1e-12);
        free(v);
    }
}

/* Amplitudes, DC and phase of lines a cycle and a half apart, whatever part of a cycle is left over at the end; nothing
 * is left of them. */
static void test_lines(void **state) {
    (void)state;
    size_t count = SAMPLES - 77;
    double *v = new_volts(count), f = 997.3 / rate, near = f + 1.5 / (double)count;
    add_sine(v, count, 1, 0.7, f, 0.3);
    add_sine(v, count, 1, 0.01, near, 1.1);
    for (size_t i = 0; i < count; i++)
        v[i] += 2.5;
    gw_outline lines = {.usable = true, .tone = true, .count = 2, .frequency = {f, near}};
    gw_glance g = look_at(v, count, &lines);
    assert_close(g.amplitude[0], 0.7, 1e-11);
    assert_close(g.amplitude[1], 0.01, 1e-11);
    assert_close(g.dc, 2.5, 1e-12);
    assert_close(g.mean_square, 0.5 * (0.49 + 1e-4), 1e-11);
    assert_true(g.whole.largest < 1e-20);
    /* sin(x + 0.3) is cos(x + 0.3 - pi/2) */
    double middle = two_pi * f * 0.5 * (double)(count - 1) + 0.3 - two_pi / 4;
    assert_close(cos(g.phase_rad - middle), 1, 1e-12);
    free(v);
}

typedef struct change {
    const char *what;
    double level, other_v, other_hz, noise, lift_v;
    size_t from, length; /* samples that are lifted */
    bool alike;
} change;

static void fill(double *v, const change *c, uint64_t seed) {
    memset(v, 0, SAMPLES * sizeof *v);
    add_sine(v, SAMPLES, rate, c->level, 1000.3, 0.1 * (double)seed);
    add_sine(v, SAMPLES, rate, 2e-3, 2000.6, 0.1);
    add_sine(v, SAMPLES, rate, c->other_v, c->other_hz, 0.1);
    add_noise(v, SAMPLES, c->noise, &seed);
    for (size_t i = c->from; i < c->from + c->length; i++)
        v[i] += c->lift_v;
}

/* Noise alone makes no difference in two hundred segments; small changes do, each by what shows it. */
static void test_alike(void **state) {
    (void)state;
    static const change changes[] = {
        {"the same", .level = 1, .noise = 1e-3, .alike = true},
        {"a little more level", .level = 1.0008, .noise = 1e-3, .alike = true},
        {"more level", .level = 1.003, .noise = 1e-3},
        {"more noise", .level = 1, .noise = 1.1e-3},
        {"hum", .level = 1, .noise = 1e-3, .other_v = 1.2e-4, .other_hz = 50},
        {"hum at twice", .level = 1, .noise = 1e-3, .other_v = 1.2e-4, .other_hz = 120},
        {"another tone", .level = 1, .noise = 1e-3, .other_v = 8e-4, .other_hz = 9000},
        {"more harmonics", .level = 1, .noise = 1e-3, .other_v = 2e-4, .other_hz = 2000.6},
        {"an impulse", .level = 1, .noise = 1e-3, .lift_v = 0.011, .from = 7777, .length = 1},
        {"a pulse", .level = 1, .noise = 1e-3, .lift_v = 2e-3, .from = 9001, .length = 60},
        {"a step", .level = 1, .noise = 1e-3, .lift_v = 4e-4, .from = SAMPLES / 3, .length = SAMPLES - SAMPLES / 3},
        {"DC", .level = 1, .noise = 1e-3, .lift_v = 0.02, .from = 0, .length = SAMPLES},
    };
    gw_outline lines = {.usable = true, .tone = true, .count = 2, .frequency = {1000.3 / rate, 2000.6 / rate}};
    double *v = new_volts(SAMPLES);
    fill(v, &changes[0], 1);
    gw_glance first = look_at(v, SAMPLES, &lines);
    for (size_t k = 0; k < sizeof changes / sizeof *changes; k++)
        for (uint64_t seed = 2; seed < (changes[k].alike ? 100 : 7); seed++) {
            fill(v, &changes[k], seed);
            gw_glance other = look_at(v, SAMPLES, &lines);
            if (gw_glance_alike(&first, &other, &lines) != changes[k].alike)
                fail_msg("%s, %d", changes[k].what, (int)seed);
        }
    free(v);
}

/* What a segment of a steady sine leaves to the others, or of one that is gone for a fifth of it, or for which memory
 * was out when its readings were to be taken. */
static gw_outline left_by(bool gone, bool failed) {
    enum { COUNT = 4800 };
    double *v = new_volts(COUNT);
    uint64_t random = 9;
    add_sine(v, COUNT, rate, 1, 1000, 0.4);
    if (gone)
        memset(v + 2000, 0, 960 * sizeof *v);
    add_noise(v, COUNT, 1e-3, &random);
    gw_block block = {.volts = v, .count = COUNT, .rate_hz = rate};
    gw_error error = {0};
    gw_readings *out = gw_readings_new(&error);
    assert_non_null(out);
    gw_modelled modelled;
    gw_outline outline = {.usable = true, .tone = true, .count = 1};
    assert_true(gw_segment_model(&block, NULL, &modelled, &error));
    if (failed)
        gw_error_memory(&error);
    assert_int_equal(gw_segment_read(&modelled, NULL, out, &outline, &error), !failed);
    gw_modelled_end(&modelled);
    gw_readings_free(out);
    free(v);
    return outline;
}

/* Other segments are held against what one that was fitted holds, from end to end; one that was not, or not all of it,
 * leaves them nothing. */
static void test_outline_is_of_whole_segments(void **state) {
    (void)state;
    gw_outline whole = left_by(false, false);
    assert_true(whole.usable && whole.tone);
    assert_close(whole.frequency[0] * rate, 1000, 0.1);
    for (int failed = 0; failed < 2; failed++) {
        gw_outline none = left_by(!failed, failed);
        assert_false(none.usable);
        assert_false(none.tone);
        assert_int_equal(none.count, 0);
    }
}

/* Level and waveform: cells by runs of samples are what each sample gives by itself, however the segments lie. */
static void test_course(void **state) {
    (void)state;
    enum { COUNT = 100003 };
    double *v = new_volts(COUNT);
    unsigned char *marks = calloc(COUNT, 1);
    uint64_t random = 8;
    add_noise(v, COUNT, 1, &random);
    for (int marked = 0; marked < 2; marked++) {
        gw_course course = {.samples = COUNT};
        static gw_course_cell levels[GW_COURSE_LEVELS], columns[GW_COURSE_COLUMNS];
        memset(levels, 0, sizeof levels);
        memset(columns, 0, sizeof columns);
        for (size_t i = 0; i < COUNT; i++) {
            marks[i] = marked && i % 7 == 3 ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
            gw_course_cell *two[] = {&levels[(size_t)((double)i / COUNT * GW_COURSE_LEVELS)],
                                     &columns[(size_t)((double)i / COUNT * GW_COURSE_COLUMNS)]};
            for (int k = 0; k < 2 && marks[i] == GW_SAMPLE_PRESENT; k++) {
                two[k]->low = two[k]->present > 0 ? fmin(two[k]->low, v[i]) : v[i];
                two[k]->high = two[k]->present > 0 ? fmax(two[k]->high, v[i]) : v[i];
                two[k]->present++;
                two[k]->sum += v[i];
                two[k]->squares += v[i] * v[i];
            }
        }
        for (size_t from = 0, count; from < COUNT; from += count) {
            count = COUNT - from < 7001 ? COUNT - from : 7001;
            gw_block block = {.volts = v + from, .marks = marked ? marks + from : NULL, .count = count};
            gw_course_part part;
            assert_true(gw_course_part_make(&block, from, COUNT, &part));
            gw_course_add(&course, &part);
            gw_course_part_end(&part);
        }
        for (size_t k = 0; k < GW_COURSE_LEVELS; k++) {
            assert_close(course.levels[k].present, levels[k].present, 0);
            assert_close(course.levels[k].sum, levels[k].sum, 1e-11);
            assert_close(course.levels[k].squares, levels[k].squares, 1e-11);
        }
        for (size_t k = 0; k < GW_COURSE_COLUMNS; k++) {
            assert_close(course.columns[k].low, columns[k].low, 0);
            assert_close(course.columns[k].high, columns[k].high, 0);
        }
    }
    free(marks);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_octaves), cmocka_unit_test(test_octaves_plain),
        cmocka_unit_test(test_lines),   cmocka_unit_test(test_alike),
        cmocka_unit_test(test_course),  cmocka_unit_test(test_outline_is_of_whole_segments),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
