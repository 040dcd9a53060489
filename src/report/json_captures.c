/* JSON of `peek` and `measure`. */
#include "report/json.h"
#include "report/shown.h"

#include <math.h>

static json_t *peek_channel(gw_tree *tree, const gw_channel *channel) {
    json_t *object = gw_tree_object(tree), *first = gw_tree_array(tree);
    for (size_t i = 0; i < channel->first_count; i++) {
        if (channel->first_marks[i] == GW_SAMPLE_PRESENT)
            gw_tree_add_real(tree, first, NULL, channel->first[i]);
        else
            gw_tree_add_null(tree, first, NULL);
    }
    gw_tree_add_integer(tree, object, "number", channel->number);
    gw_tree_add_text(tree, object, "name", channel->name);
    gw_tree_add_text(tree, object, "unit", channel->unit);
    gw_tree_add(tree, object, "first", first);
    if (channel->has_range) {
        gw_tree_add_real(tree, object, "min", channel->min);
        gw_tree_add_real(tree, object, "max", channel->max);
    } else {
        gw_tree_add_null(tree, object, "min");
        gw_tree_add_null(tree, object, "max");
    }
    gw_tree_add_integer(tree, object, "missing", (long long)channel->missing);
    gw_tree_add_integer(tree, object, "overload", (long long)channel->overload);
    return object;
}

static json_t *peek_capture(gw_tree *tree, const gw_capture *capture) {
    json_t *object = gw_tree_object(tree), *channels = gw_tree_array(tree);
    gw_tree_add_text(tree, object, "file", capture->file);
    if (capture->rate_hz > 0)
        gw_tree_add_real(tree, object, "rate_hz", capture->rate_hz);
    else
        gw_tree_add_null(tree, object, "rate_hz");
    gw_tree_add_integer(tree, object, "samples", (long long)capture->samples);
    if (capture->has_start)
        gw_tree_add_real(tree, object, "start_s", capture->start_s);
    else
        gw_tree_add_null(tree, object, "start_s");
    for (size_t i = 0; i < capture->channel_count; i++)
        gw_tree_add(tree, channels, NULL, peek_channel(tree, &capture->channels[i]));
    gw_tree_add(tree, object, "channels", channels);
    gw_tree_add_strings(tree, object, "ignored", &capture->ignored);
    gw_tree_add_strings(tree, object, "remarks", &capture->remarks);
    return object;
}

bool gw_report_peek_json(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                         gw_text *out, gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_json_root(&tree, "gainwalk-peek", options), *array = gw_tree_array(&tree);
    for (size_t i = 0; i < count; i++)
        gw_tree_add(&tree, array, NULL,
                    captures[i].capture != NULL ? peek_capture(&tree, captures[i].capture)
                                                : gw_json_refused(&tree, captures[i].file, captures[i].error));
    gw_tree_add(&tree, root, "captures", array);
    return gw_tree_write(&tree, root, out, error);
}

/* From the reference channel to this one. */
static void add_pair(gw_tree *tree, json_t *object, const gw_pair *pair, int reference) {
    json_t *to = gw_tree_object(tree), *gain = gw_tree_object(tree);
    gw_tree_add_integer(tree, to, "channel", reference);
    gw_tree_add_text(tree, gain, "unit", "dB");
    gw_shown_pair shown = gw_shown_from_pair(pair);
    if (shown.why == NULL) {
        gw_tree_add_real(tree, gain, "value", shown.gain_db);
        gw_tree_add_real(tree, gain, "u95", shown.gain_u95_db);
        gw_tree_add_real(tree, to, "phase_deg", pair->frequency_hz > 0 ? shown.phase_deg : (double)NAN);
        gw_tree_add_real(tree, to, "delay_s", pair->delay_s);
        gw_tree_add_text(tree, to, "polarity", shown.polarity);
        gw_tree_add_real(tree, to, "frequency_hz", pair->frequency_hz > 0 ? pair->frequency_hz : (double)NAN);
    } else
        gw_tree_add_text(tree, gain, "why", shown.why);
    gw_tree_add_real(tree, to, "coherence", pair->coherence);
    gw_tree_add(tree, to, "gain", gain);
    gw_tree_add(tree, object, "reference", to);
}

static void add_measured(gw_tree *tree, json_t *array, const gw_report_capture *capture) {
    if (capture->error != NULL)
        gw_tree_add(tree, array, NULL, gw_json_refused(tree, capture->file, capture->error));
    for (size_t k = 0; k < capture->readings_count; k++) {
        json_t *object = gw_json_capture(tree, capture->readings[k]);
        if (capture->pairs != NULL && capture->readings[k]->source.channel != capture->reference)
            add_pair(tree, object, &capture->pairs[k], capture->reference);
        gw_tree_add(tree, array, NULL, object);
    }
}

bool gw_report_measure_json(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_json_root(&tree, "gainwalk-measure", options), *array = gw_tree_array(&tree);
    for (size_t i = 0; i < count; i++)
        add_measured(&tree, array, &captures[i]);
    gw_tree_add(&tree, root, "captures", array);
    return gw_tree_write(&tree, root, out, error);
}

bool gw_report_measure_line(const gw_report_capture *capture, size_t number, const gw_report_options *options,
                            gw_text *out, gw_error *error) {
    gw_tree tree = {0};
    json_t *root = gw_json_line(&tree, "gainwalk-measure", number, options), *array = gw_tree_array(&tree);
    add_measured(&tree, array, capture);
    gw_tree_add(&tree, root, "captures", array);
    return gw_tree_write_line(&tree, root, out, error);
}
