#include "report/shown.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const gw_shown_conventions[] = {
    "THD is relative to the fundamental, orders 2 to 10",
    "dBFS is that of AES17: a full-scale sine reads 0 dBFS",
    "uncertainties are expanded, 95 % (coverage factor 2)",
    NULL,
};

const char *const gw_shown_cautions[] = {
    "Switch off, unplug and discharge the capacitors before touching anything inside; keep one hand away.",
    "A scope's earth clip is mains earth: never on a live chassis, a bridged or a floating output.",
    "Take loudspeakers off and use a dummy load; mind your ears.",
    "Put a divider and clamp before a sound card's input.",
    "Mains and anything above extra-low voltage is for qualified people; local rules come first.",
    NULL,
};

static const char *unit_of(const char *capture_unit) {
    return capture_unit != NULL ? capture_unit : "V";
}

bool gw_shown_again(gw_reading_key key, const char *capture_unit) {
    return key == GW_LEVEL_DBU && strcmp(gw_reading_unit(key, unit_of(capture_unit)),
                                         gw_reading_unit(GW_LEVEL_DBV, unit_of(capture_unit))) == 0;
}

gw_shown gw_shown_reading(gw_reading_key key, const gw_reading *reading, const char *capture_unit) {
    gw_shown shown = {.state = reading->state,
                      .unit = gw_reading_unit(key, unit_of(capture_unit)),
                      .why = reading->why != NULL ? reading->why : "not measured"};
    bool has = gw_reading_shown(key, reading, unit_of(capture_unit), &shown.value, &shown.u95);
    if (!has || !isfinite(shown.value) || !isfinite(shown.u95)) {
        shown.state = GW_READING_NONE;
        shown.value = shown.u95 = 0;
    }
    return shown;
}

/* ---- judged figures -------------------------------------------------------------------------------- */

static double shown_value(gw_measure_kind kind, double value) {
    if (kind == GW_JUDGE_PERCENT)
        return 100 * value;
    return kind == GW_JUDGE_GAIN ? gw_db_from_ratio(value) : value;
}

/* A ratio's uncertainty in decibels is that of its upper side, as for readings. */
static double shown_u95(gw_measure_kind kind, double value, double u95) {
    if (kind == GW_JUDGE_PERCENT)
        return 100 * u95;
    return kind == GW_JUDGE_GAIN ? gw_db_from_ratio(1 + u95 / fabs(value)) : u95;
}

static const char *judged_unit(gw_measure_kind kind, const char *capture_unit) {
    static const char *const units[] = {
        [GW_JUDGE_GAIN] = "dB", [GW_JUDGE_VOLTS] = NULL, [GW_JUDGE_PERCENT] = "%", [GW_JUDGE_HERTZ] = "Hz"};
    return units[kind] != NULL ? units[kind] : unit_of(capture_unit);
}

/* Limits need not lie evenly in decibels: the tolerance shown is the narrower side, so that nothing inside it is off.
 */
static void show_expected(const gw_judgement *judgement, gw_shown_judgement *out) {
    double expected = shown_value(judgement->kind, judgement->expected);
    double high = shown_value(judgement->kind, judgement->high), low = shown_value(judgement->kind, judgement->low);
    out->limit_only = judgement->kind != GW_JUDGE_GAIN && judgement->expected == 0 && judgement->low == 0;
    out->has_expected = isfinite(expected) && isfinite(high);
    out->expected = expected;
    bool upper = out->limit_only || !isfinite(low) || high - expected < expected - low;
    out->tolerance = upper ? high - expected : expected - low;
}

gw_shown_judgement gw_shown_judge(const gw_judgement *judgement, const char *capture_unit) {
    gw_shown_judgement out = {.status = judgement->status, .how = judgement->how};
    out.figure.unit = judged_unit(judgement->kind, capture_unit);
    out.figure.why = judgement->why != NULL ? judgement->why : "not measured";
    if (judgement->has_value) {
        out.figure.value = shown_value(judgement->kind, judgement->value);
        out.figure.u95 = shown_u95(judgement->kind, judgement->value, judgement->u95);
        out.figure.state = judgement->below ? GW_READING_BELOW : GW_READING_VALUE;
    }
    if (!isfinite(out.figure.value) || !isfinite(out.figure.u95)) {
        out.figure.state = GW_READING_NONE;
        out.figure.value = out.figure.u95 = 0;
        out.figure.why = judgement->why != NULL ? judgement->why : "nothing left to measure";
    }
    if (judgement->has_expected)
        show_expected(judgement, &out);
    return out;
}

const char *gw_shown_volts(const gw_walk_point *point) {
    return point->readings != NULL ? unit_of(point->readings->source.unit) : "V";
}

bool gw_shown_dc_hidden(const gw_walk_point *point) {
    return point->readings != NULL && point->readings->dc_hidden && !point->metered;
}

gw_shown gw_shown_at(const gw_walk_point *point, gw_reading_key key) {
    gw_shown nothing = {.state = GW_READING_NONE, .unit = "V", .why = "not measured"};
    if (key == GW_DC && point->metered)
        return (gw_shown){.state = GW_READING_VALUE, .value = point->meter_v, .u95 = point->meter_u95_v, .unit = "V"};
    if (key == GW_DC && gw_shown_dc_hidden(point))
        nothing.why = "the capture hides DC";
    if (point->readings == NULL || (key == GW_DC && gw_shown_dc_hidden(point)))
        return nothing;
    return gw_shown_reading(key, &point->readings->values[key], point->readings->source.unit);
}

#define POINT_FIELD(member, name)                                                                                      \
    { #member, name, offsetof(gw_walk_point, member) }
#define STAGE_FIELD(member, name)                                                                                      \
    { #member, name, offsetof(gw_walk_stage, member) }

const gw_judged_field gw_point_fields[] = {
    POINT_FIELD(level, "level"), POINT_FIELD(dc, "DC"),   POINT_FIELD(frequency, "frequency"), POINT_FIELD(thd, "THD"),
    POINT_FIELD(noise, "noise"), POINT_FIELD(hum, "hum"), POINT_FIELD(ripple, "ripple"),       {NULL, NULL, 0},
};

const gw_judged_field gw_stage_fields[] = {
    STAGE_FIELD(gain, "gain"),           STAGE_FIELD(dc, "DC"),
    STAGE_FIELD(thd_added, "added THD"), STAGE_FIELD(noise_added, "added noise"),
    STAGE_FIELD(hum_added, "added hum"), {NULL, NULL, 0},
};

const gw_judgement *gw_judged_of_point(const gw_walk_point *point, const gw_judged_field *field) {
    return (const gw_judgement *)(const void *)((const char *)point + field->offset);
}

const gw_judgement *gw_judged_of_stage(const gw_walk_stage *stage, const gw_judged_field *field) {
    return (const gw_judgement *)(const void *)((const char *)stage + field->offset);
}

/* ---- places ---------------------------------------------------------------------------------------- */

const gw_walk_stage *gw_shown_stage_to(const gw_walk *walk, size_t index) {
    for (size_t i = 0; i < walk->stage_count; i++)
        if (walk->stages[i].to == (int)index)
            return &walk->stages[i];
    return NULL;
}

const char *gw_shown_point(const gw_walk *walk, int index) {
    return index >= 0 && (size_t)index < walk->point_count ? walk->points[index].name : NULL;
}

const char *gw_shown_rail(const gw_walk *walk, int index) {
    return index >= 0 && (size_t)index < walk->rail_count ? walk->rails[index].name : NULL;
}

const char *gw_shown_place(const gw_walk *walk, int point, int rail) {
    const char *name = gw_shown_rail(walk, rail);
    return name != NULL ? name : gw_shown_point(walk, point);
}

/* ---- danger ---------------------------------------------------------------------------------------- */

static const double elv_ac_v = 50, elv_dc_v = 120; /* IEC 61140, extra-low voltage */

bool gw_shown_readings_dangerous(const gw_readings *readings, double *volts, bool *ac) {
    const gw_reading *rms = &readings->values[GW_AC_RMS], *dc = &readings->values[GW_DC];
    if (strcmp(unit_of(readings->source.unit), "V") != 0)
        return false;
    if (rms->state == GW_READING_VALUE && rms->value > elv_ac_v)
        return *volts = rms->value, *ac = true, true;
    if (dc->state == GW_READING_VALUE && fabs(dc->value) > elv_dc_v)
        return *volts = dc->value, *ac = false, true;
    return false;
}

static bool point_dangerous(const gw_walk_point *point, double *volts, bool *ac) {
    if (point->metered && fabs(point->meter_v) > elv_dc_v)
        return *volts = point->meter_v, *ac = false, true;
    return point->readings != NULL && gw_shown_readings_dangerous(point->readings, volts, ac);
}

bool gw_shown_dangerous(const gw_walk *walk, const char **name, double *volts, bool *ac) {
    for (size_t i = 0; i < walk->point_count + walk->rail_count; i++) {
        const gw_walk_point *point = i < walk->point_count ? &walk->points[i] : &walk->rails[i - walk->point_count];
        *name = point->name;
        if (point_dangerous(point, volts, ac))
            return true;
    }
    return false;
}

/* ---- printing -------------------------------------------------------------------------------------- */

char *gw_shown_print(const gw_shown *shown, int digits, char *out, size_t size) {
    char figure[64];
    out[0] = '\0';
    if (shown->state == GW_READING_NONE)
        return out;
    if (shown->state == GW_READING_VALUE && !(shown->u95 > 0)) /* counted, not measured */
        return gw_shown_exact(shown->value, shown->unit, digits, out, size);
    double u95 = shown->state == GW_READING_VALUE ? shown->u95 : 0;
    /* a bound may be rounded up, never down: "< 0.001 %" says all that anybody wants to know */
    bool tiny = shown->state == GW_READING_BELOW && strcmp(shown->unit, "%") == 0 && shown->value < 0.001;
    bool bound_db = shown->state == GW_READING_BELOW && strcmp(shown->unit, "dB") == 0;
    /* nobody wants a thousandth of a decibel */
    if (shown->state == GW_READING_VALUE && strcmp(shown->unit, "dB") == 0 && fabs(shown->value) < 0.995 && u95 > 0 &&
        u95 < 0.01) {
        gw_number_fixed(fabs(shown->value) < 0.0005 ? 0 : shown->value, 3, figure, sizeof figure);
        snprintf(out, size, "%s dB", figure);
        return out;
    }
    gw_quantity_print(tiny       ? 0.001
                      : bound_db ? ceil(shown->value)
                                 : shown->value,
                      u95, shown->unit,
                      tiny                               ? 1
                      : shown->state == GW_READING_BELOW ? 2
                                                         : digits,
                      figure, sizeof figure);
    snprintf(out, size, "%s%s", shown->state == GW_READING_BELOW ? "< " : "", figure);
    return out;
}

/* Decibels read better with one decimal on both sides. */
static void print_decibels(const gw_shown_judgement *judged, char *out, size_t size) {
    char expected[32], tolerance[32];
    gw_number_fixed(fabs(judged->expected) < 0.05 ? 0 : judged->expected, 1, expected, sizeof expected);
    gw_number_fixed(judged->tolerance, judged->tolerance < 0.095 ? 2 : 1, tolerance, sizeof tolerance);
    snprintf(out, size, "%s \xC2\xB1 %s dB", expected, tolerance);
}

/* "15 V ± 0.75 V" reads better than "15 V ± 750 mV": the tolerance takes the prefix of what is expected, unless it
 * would be too small a number. */
static void same_prefix(const gw_shown_judgement *judged, const char *expected, char *tolerance, size_t size) {
    const char *unit = strchr(expected, ' ');
    double number = 0;
    if (unit == NULL || !gw_number_parse(expected, (size_t)(unit - expected), &number) || !(fabs(number) > 0))
        return;
    double scaled = judged->tolerance * number / judged->expected;
    if (scaled < 0.01 || scaled >= 1000)
        return;
    char digits[40];
    snprintf(tolerance, size, "%s%s", gw_number_print(scaled, 3, digits, sizeof digits), unit);
}

char *gw_shown_print_expected(const gw_shown_judgement *judged, char *out, size_t size) {
    char expected[64], tolerance[64];
    const char *unit = judged->figure.unit;
    out[0] = '\0';
    if (!judged->has_expected)
        return out;
    if (strcmp(unit, "dB") == 0) {
        print_decibels(judged, out, size);
        return out;
    }
    gw_shown_exact(judged->tolerance, unit, 3, tolerance, sizeof tolerance);
    if (judged->limit_only) {
        snprintf(out, size, "< %s", tolerance);
        return out;
    }
    gw_shown_exact(judged->expected, unit, 4, expected, sizeof expected);
    same_prefix(judged, expected, tolerance, sizeof tolerance);
    snprintf(out, size, "%s \xC2\xB1 %s", expected, tolerance);
    return out;
}

char *gw_shown_exact(double value, const char *unit, int digits, char *out, size_t size) {
    gw_quantity_print(value, 0, unit, digits, out, size);
    char *point = strchr(out, '.');
    if (point == NULL)
        return out;
    char *tail = point + 1 + strspn(point + 1, "0123456789"), *end = tail;
    while (end[-1] == '0')
        end--;
    end -= end[-1] == '.';
    memmove(end, tail, strlen(tail) + 1);
    return out;
}

char *gw_shown_note(double frequency_hz, char *out, size_t size) {
    static const char *const names[] = {"C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"};
    out[0] = '\0';
    if (!(frequency_hz > 8) || frequency_hz > 25000)
        return out;
    int steps = (int)lround(12 * log2(frequency_hz / 440)) + 69; /* as MIDI counts: A4 is 69 */
    snprintf(out, size, "%s%d", names[steps % 12], steps / 12 - 1);
    return out;
}
