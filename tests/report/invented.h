/* An invented walk (the Tarn spring echo) and everything in it, made by hand: reports are tested against what was put
 * in, without any measuring. Figures are invented; curves are sines with a little third harmonic. */
#ifndef GAINWALK_TESTS_INVENTED_H
#define GAINWALK_TESTS_INVENTED_H

#include "gainwalk/report.h"

#include <math.h>
#include <string.h>

static const double invented_pi = 3.14159265358979323846;

static inline gw_reading invented_value(double value, double u95) {
    return (gw_reading){.state = GW_READING_VALUE, .value = value, .u95 = u95, .u_random = u95 / 4, .u_scale = u95 / 3};
}

static inline gw_reading invented_below(double bound, const char *why) {
    return (gw_reading){.state = GW_READING_BELOW, .value = bound, .why = why};
}

static inline gw_trace invented_wave(gw_arena *arena, double level, double dc) {
    gw_trace trace = {.count = 400, .start = 0, .end = 0.005};
    trace.low = gw_arena_array(arena, trace.count, sizeof(double));
    trace.high = gw_arena_array(arena, trace.count, sizeof(double));
    for (size_t i = 0; i < trace.count; i++) {
        double angle = 2 * invented_pi * 1000 * trace.end * (double)i / (double)trace.count;
        double volts = dc + sqrt(2.0) * level * (sin(angle) + 0.02 * sin(3 * angle));
        trace.low[i] = volts - 0.02 * level;
        trace.high[i] = volts + 0.02 * level;
    }
    return trace;
}

static inline gw_trace invented_spectrum(gw_arena *arena, double level) {
    gw_trace trace = {.count = 300, .start = 20, .end = 40000, .log_x = true};
    trace.high = gw_arena_array(arena, trace.count, sizeof(double));
    for (size_t i = 0; i < trace.count; i++) {
        double f = 20 * pow(2000, (double)i / 299);
        trace.high[i] = 1e-5 * (1 + 0.3 * sin((double)i * 1.7)) + level * exp(-pow(log(f / 1000) / 0.02, 2)) +
                        0.02 * level * exp(-pow(log(f / 3000) / 0.02, 2)) + 4e-5 * exp(-pow(log(f / 50) / 0.02, 2));
    }
    return trace;
}

/* Readings of a sine of 1 kHz. */
static inline gw_readings *invented_readings(const char *file, double level, double dc) {
    gw_arena *arena = gw_arena_new();
    gw_readings *made = gw_arena_take(arena, sizeof *made);
    made->arena = arena;
    made->source = (gw_source){.file = gw_arena_string(arena, file),
                               .channel = 1,
                               .channel_name = "CH1",
                               .unit = "V",
                               .rate_hz = 250000,
                               .duration_s = 0.02,
                               .step = 0.008,
                               .samples = 5000};
    made->signal = GW_SIGNAL_SINE;
    for (int i = 0; i < GW_READING_COUNT; i++)
        made->values[i].why = "the record is too short";
    made->values[GW_DC] = invented_value(dc, 0.0004);
    made->values[GW_AC_RMS] = invented_value(level * 1.0002, level * 0.035);
    made->values[GW_LEVEL] = made->values[GW_LEVEL_DBV] = made->values[GW_LEVEL_DBU] =
        invented_value(level, level * 0.035);
    made->values[GW_FREQUENCY] = invented_value(1000.02, 0.05);
    made->values[GW_CREST] = invented_value(1.42, 0.01);
    made->values[GW_THD] = invented_below(0.004, "limited by the capture's resolution");
    made->values[GW_NOISE] = invented_value(0.00012, 0.00003);
    made->values[GW_NOISE_DENSITY] = invented_value(8.5e-7, 1e-7);
    made->values[GW_SNR] = invented_value(level / 0.00012, level / 0.00012 * 0.2);
    made->harmonics = gw_arena_array(arena, 3, sizeof *made->harmonics);
    made->harmonic_count = 3;
    for (int i = 0; i < 3; i++)
        made->harmonics[i] = (gw_harmonic){.order = i + 1,
                                           .frequency_hz = 1000.02 * (i + 1),
                                           .rms = i == 0 ? level : level * 0.02 / i,
                                           .u95 = level * 0.001,
                                           .phase_rad = 0.25 * (i + 1),
                                           .resolved = i != 1};
    made->tones = gw_arena_array(arena, 1, sizeof *made->tones);
    made->tone_count = 1;
    made->tones[0] = (gw_tone){.frequency_hz = 50, .rms = 4e-5, .u95 = 1e-5, .kind = GW_TONE_MAINS, .order = 1};
    made->waveform = invented_wave(arena, level, dc);
    made->spectrum = invented_spectrum(arena, level);
    made->band_low_hz = 20;
    made->band_high_hz = 20000;
    made->noise_floor_v = 0.0002;
    made->clues.mains_hz = 50;
    return made;
}

static inline gw_judgement invented_gain(double db, double expected_db, gw_status status) {
    double expected = gw_ratio_from_db(expected_db), value = gw_ratio_from_db(db);
    return (gw_judgement){.kind = GW_JUDGE_GAIN,
                          .has_value = true,
                          .value = value,
                          .u95 = value * 0.0435,
                          .has_expected = true,
                          .expected = expected,
                          .low = expected * gw_ratio_from_db(-1),
                          .high = expected * gw_ratio_from_db(1),
                          .status = status,
                          .how = "1 + rf/rg"};
}

static inline gw_judgement invented_dc(double dc, double expected, double tolerance, gw_status status) {
    return (gw_judgement){.kind = GW_JUDGE_VOLTS,
                          .has_value = true,
                          .value = dc,
                          .u95 = 0.0004,
                          .has_expected = true,
                          .expected = expected,
                          .low = expected - tolerance,
                          .high = expected + tolerance,
                          .status = status,
                          .how = "stated"};
}

static inline gw_judgement invented_none(gw_measure_kind kind, const char *why) {
    return (gw_judgement){.kind = kind, .why = why};
}

typedef struct invented_row {
    const char *name, *what;
    int after;
    gw_status status;
    double level, dc, gain_db, expected_db;
    const char *kind;
} invented_row;

static const invented_row invented_rows[] = {
    {"J1", "input jack, tip", -1, GW_OK, 0.1, 0.0021, 0, 0, NULL},
    {"U1-7", "first op-amp, output", 0, GW_OK, 1.092, 0.0062, 20.76, 20.83, "noninverting"},
    {"C9", "behind the coupling capacitor", 1, GW_OFF, 0.0301, 0.0003, -31.2, -0.03, "coupling"},
    {"VOL", "wiper of the volume control", 2, GW_OK, 0.0031, 0.0003, -19.7, -20, "pot"},
    {"SEND", "drive of the spring", 1, GW_OK, 0.546, 0.0101, -6.02, -6, "amp"},
    {"X2", "return of the spring", 4, GW_UNPROBED, 0, 0, 0, 0, NULL},
    {"X3", NULL, 4, GW_UNREADABLE, 0, 0, 0, 0, NULL},
};
enum { INVENTED_POINTS = sizeof invented_rows / sizeof *invented_rows };

static inline void invented_fill_point(gw_walk *walk, size_t index, const invented_row *row) {
    gw_walk_point *point = &walk->points[index];
    *point = (gw_walk_point){.name = row->name, .what = row->what, .after = row->after, .status = row->status};
    if (row->status == GW_UNREADABLE)
        point->why = "no-such.csv: cannot be opened: no such file";
    if (row->status == GW_UNPROBED || row->status == GW_UNREADABLE)
        return;
    point->readings =
        invented_readings(gw_arena_printf(walk->arena, "%02zu-%s.csv", index + 1, row->name), row->level, row->dc);
    point->expected_level_v = row->level * gw_ratio_from_db(row->expected_db - row->gain_db);
    point->expected_low_v = point->expected_level_v * 0.8;
    point->expected_high_v = point->expected_level_v * 1.25;
    if (row->kind == NULL)
        return;
    walk->stages[walk->stage_count++] = (gw_walk_stage){
        .from = row->after,
        .to = (int)index,
        .across = 1,
        .kind = row->kind,
        .status = row->status,
        .gain = invented_gain(row->gain_db, row->expected_db, row->status),
        .dc = invented_dc(row->dc, 0, 0.02, GW_OK),
        .thd_added = invented_none(GW_JUDGE_PERCENT, "no limit stated"),
        .noise_added = invented_none(GW_JUDGE_VOLTS, NULL),
        .hum_added = invented_none(GW_JUDGE_VOLTS, "the record is too short"),
        .polarity = GW_POLARITY_KEPT,
        .polarity_status = GW_OK,
        .note =
            index == 2 ? "blocks DC: 6.2 mV \xC2\xB1 0.4 mV stood before it, 0.3 mV \xC2\xB1 0.4 mV is left" : NULL};
}

static inline void invented_findings(gw_walk *walk) {
    walk->findings = gw_arena_array(walk->arena, 2, sizeof *walk->findings);
    walk->finding_count = 2;
    walk->findings[0] =
        (gw_finding){.code = GW_FOUND_LEVEL_LOW,
                     .from = 1,
                     .to = 2,
                     .point = 2,
                     .rail = -1,
                     .status = GW_OFF,
                     .evidence = "gain -31.2 dB, expected -0.0 \xC2\xB1 1.0 dB",
                     .causes = {"coupling capacitor open or dry", "broken track or joint between the two points"},
                     .cause_count = 2,
                     .confirm = "measure again at 10 kHz: through a dry capacitor more comes than at 1 kHz",
                     .lookalikes = "a shorted input behind it: comes back when that is lifted",
                     .follows = -1};
    walk->findings[1] = (gw_finding){.code = GW_FOUND_LEVEL_LOW,
                                     .from = 2,
                                     .to = 3,
                                     .point = 3,
                                     .rail = -1,
                                     .status = GW_OFF,
                                     .evidence = "level 31 dB under what the chain should give here",
                                     .follows = 0};
    walk->verdict = (gw_verdict){
        .status = GW_VERDICT_FAULT,
        .finding = 0,
        .from = 1,
        .to = 2,
        .point = 2,
        .rail = -1,
        .exact = true,
        .summary = "between U1-7 and C9 the level is too low: gain -31.2 dB, expected -0.0 \xC2\xB1 1.0 dB"};
    walk->next = gw_arena_array(walk->arena, 1, sizeof *walk->next);
    walk->next_count = 1;
    walk->next[0] = (gw_next){.point = 5, .rail = -1, .why = "halves what is left"};
    walk->probes_expected = 1.5;
}

static inline void invented_rail(gw_walk *walk) {
    walk->rails = gw_arena_array(walk->arena, 1, sizeof *walk->rails);
    walk->rail_count = 1;
    walk->rails[0] = (gw_walk_point){.name = "+15",
                                     .after = -1,
                                     .status = GW_OK,
                                     .metered = true,
                                     .meter_v = 15.02,
                                     .meter_u95_v = 0.0751,
                                     .dc = invented_dc(15.02, 15, 0.75, GW_OK)};
}

/* The dry path of the Tarn, its coupling capacitor dry; free with invented_free. */
static inline gw_walk *invented_walk(void) {
    gw_arena *arena = gw_arena_new();
    gw_walk *walk = gw_arena_take(arena, sizeof *walk);
    walk->arena = arena;
    walk->file = "tarn.ini";
    walk->title = "Tarn spring echo, dry path";
    walk->unit = "0417";
    walk->note = "customer reports no output";
    walk->stimulus = "sine 1 kHz 100 mV";
    walk->points = gw_arena_array(arena, INVENTED_POINTS, sizeof *walk->points);
    walk->stages = gw_arena_array(arena, INVENTED_POINTS, sizeof *walk->stages);
    walk->point_count = INVENTED_POINTS;
    for (size_t i = 0; i < INVENTED_POINTS; i++)
        invented_fill_point(walk, i, &invented_rows[i]);
    invented_rail(walk);
    invented_findings(walk);
    static const char *const conditions[] = {"stimulus",  "sine 1 kHz 100 mV",  "mains", "50 Hz", "accuracy", "3 %",
                                             "complaint", "no output, hum only"};
    for (size_t i = 0; i < sizeof conditions / sizeof *conditions; i++)
        gw_strings_add(&walk->conditions, conditions[i]);
    gw_strings_add(&walk->remarks, "the stimulus is taken as steady between captures");
    return walk;
}

static inline void invented_free_readings(gw_readings *readings) {
    if (readings == NULL)
        return;
    gw_strings_free(&readings->remarks);
    gw_arena_free(readings->arena);
}

static inline void invented_free(gw_walk *walk) {
    for (size_t i = 0; i < walk->point_count; i++)
        invented_free_readings((gw_readings *)(uintptr_t)walk->points[i].readings);
    gw_strings_free(&walk->conditions);
    gw_strings_free(&walk->remarks);
    gw_arena_free(walk->arena);
}

#endif
