#include "report/json.h"

#include <math.h>

static const double degrees = 180 / 3.14159265358979323846;

json_t *gw_json_root(gw_tree *tree, const char *format, const gw_report_options *options) {
    json_t *root = gw_tree_object(tree);
    gw_tree_add_text(tree, root, "format", format);
    gw_tree_add_integer(tree, root, "version", GW_JSON_VERSION);
    gw_tree_add_text(tree, root, "program",
                     options != NULL && options->program != NULL ? options->program : "gainwalk");
    return root;
}

json_t *gw_json_line(gw_tree *tree, const char *format, size_t number, const gw_report_options *options) {
    json_t *root = gw_json_root(tree, format, options);
    gw_tree_add_integer(tree, root, "input", (long long)number);
    return root;
}

json_t *gw_json_refused(gw_tree *tree, const char *file, const char *why) {
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "file", file);
    gw_tree_add_text(tree, object, "error", why);
    return object;
}

static json_t *shown_object(gw_tree *tree, const gw_shown *shown) {
    json_t *object = gw_tree_object(tree);
    if (shown->state == GW_READING_VALUE)
        gw_tree_add_real(tree, object, "value", shown->value);
    if (shown->state == GW_READING_BELOW)
        gw_tree_add_real(tree, object, "below", shown->value);
    gw_tree_add_text(tree, object, "unit", shown->unit);
    if (shown->state == GW_READING_VALUE)
        gw_tree_add_real(tree, object, "u95", shown->u95);
    else
        gw_tree_add_text(tree, object, "why", shown->why);
    return object;
}

void gw_json_add_shown(gw_tree *tree, json_t *to, const char *key, const gw_shown *shown) {
    gw_tree_add(tree, to, key, shown_object(tree, shown));
}

void gw_json_add_judged(gw_tree *tree, json_t *to, const char *key, const gw_shown_judgement *judged) {
    json_t *object = shown_object(tree, &judged->figure);
    if (judged->has_expected) {
        gw_tree_add_real(tree, object, "expected", judged->expected);
        gw_tree_add_real(tree, object, "tolerance", judged->tolerance);
    }
    gw_tree_add_text(tree, object, "status", gw_status_name(judged->status));
    gw_tree_add(tree, to, key, object);
}

static void add_readings(gw_tree *tree, json_t *to, const gw_readings *readings) {
    json_t *object = gw_tree_object(tree);
    for (int key = 0; key < GW_READING_COUNT; key++) {
        gw_shown shown = gw_shown_reading((gw_reading_key)key, &readings->values[key], readings->source.unit);
        json_t *reading = shown_object(tree, &shown);
        if (key == GW_PITCH && shown.state == GW_READING_VALUE) {
            char note[8];
            if (*gw_shown_note(readings->values[GW_FREQUENCY].value, note, sizeof note))
                gw_tree_add_text(tree, reading, "note", note);
        }
        gw_tree_add(tree, object, gw_reading_infos[key].key, reading);
    }
    gw_tree_add(tree, to, "readings", object);
}

static void add_harmonics(gw_tree *tree, json_t *to, const gw_readings *readings) {
    json_t *array = gw_tree_array(tree);
    const char *unit = gw_reading_unit(GW_AC_RMS, readings->source.unit);
    for (size_t i = 0; i < readings->harmonic_count; i++) {
        const gw_harmonic *harmonic = &readings->harmonics[i];
        if (!harmonic->resolved) /* what the capture cannot support is not told */
            continue;
        json_t *object = gw_tree_object(tree);
        gw_tree_add_integer(tree, object, "order", harmonic->order);
        gw_tree_add_real(tree, object, "rms", harmonic->rms);
        gw_tree_add_text(tree, object, "unit", unit);
        gw_tree_add_real(tree, object, "u95", harmonic->u95);
        gw_tree_add_real(tree, object, "phase_deg", harmonic->phase_rad * degrees);
        gw_tree_add(tree, array, NULL, object);
    }
    gw_tree_add(tree, to, "harmonics", array);
}

static void add_tones(gw_tree *tree, json_t *to, const gw_readings *readings) {
    json_t *array = gw_tree_array(tree);
    const char *unit = gw_reading_unit(GW_AC_RMS, readings->source.unit);
    for (size_t i = 0; i < readings->tone_count; i++) {
        json_t *object = gw_tree_object(tree);
        gw_tree_add_real(tree, object, "frequency_hz", readings->tones[i].frequency_hz);
        gw_tree_add_real(tree, object, "rms", readings->tones[i].rms);
        gw_tree_add_text(tree, object, "unit", unit);
        gw_tree_add_text(tree, object, "kind", gw_tone_kind_name(readings->tones[i].kind));
        gw_tree_add(tree, array, NULL, object);
    }
    gw_tree_add(tree, to, "tones", array);
}

/* A dropout has no size. */
static void add_events(gw_tree *tree, json_t *to, const gw_readings *readings) {
    json_t *array = gw_tree_array(tree);
    const char *unit = gw_reading_unit(GW_AC_RMS, readings->source.unit);
    for (size_t i = 0; i < readings->event_count; i++) {
        const gw_event *event = &readings->events[i];
        json_t *object = gw_tree_object(tree);
        gw_tree_add_text(tree, object, "kind", gw_event_kind_name(event->kind));
        gw_tree_add_real(tree, object, "start_s", event->start_s);
        gw_tree_add_real(tree, object, "length_s", event->length_s);
        if (event->kind != GW_EVENT_DROPOUT) {
            gw_tree_add_real(tree, object, "size", event->size_v);
            gw_tree_add_text(tree, object, "unit", unit);
        }
        gw_tree_add(tree, array, NULL, object);
    }
    gw_tree_add(tree, to, "events", array);
}

/* The band of noise and THD+N, as far as the record shows it; null where it shows nothing of it. */
static void add_band(gw_tree *tree, json_t *to, const gw_readings *readings) {
    if (!(readings->band_high_hz > readings->band_low_hz)) {
        gw_tree_add_null(tree, to, "band_hz");
        return;
    }
    json_t *band = gw_tree_array(tree);
    gw_tree_add_real(tree, band, NULL, readings->band_low_hz);
    gw_tree_add_real(tree, band, NULL, readings->band_high_hz);
    gw_tree_add(tree, to, "band_hz", band);
}

json_t *gw_json_capture(gw_tree *tree, const gw_readings *readings) {
    const gw_source *source = &readings->source;
    json_t *object = gw_tree_object(tree);
    gw_tree_add_text(tree, object, "file", source->file);
    gw_tree_add_integer(tree, object, "channel", source->channel);
    gw_tree_add_text(tree, object, "channel_name", source->channel_name);
    gw_tree_add_real(tree, object, "rate_hz", source->rate_hz);
    gw_tree_add_integer(tree, object, "samples", (long long)source->samples);
    gw_tree_add_real(tree, object, "duration_s", source->duration_s);
    gw_tree_add_real(tree, object, "step_v", source->step > 0 ? source->step : (double)NAN);
    add_band(tree, object, readings);
    gw_tree_add_text(tree, object, "signal", gw_signal_name(readings->signal));
    gw_tree_add_strings(tree, object, "remarks", &readings->remarks);
    add_readings(tree, object, readings);
    add_harmonics(tree, object, readings);
    add_tones(tree, object, readings);
    add_events(tree, object, readings);
    return object;
}
