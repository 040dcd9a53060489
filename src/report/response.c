/* Response against frequency: of the command `response`, and of a walk's stages. */
#include "report/response.h"

#include "base/tree.h"

#include <math.h>

/* Lines shown to people: a third of an octave apart. */
enum { SHOWN_EVERY = 4 };

static void add_corner(gw_text *out, const char *name, double frequency_hz) {
    char text[32];
    if (frequency_hz > 0)
        gw_text_printf(out, "%s corner (-3 dB): %s\n", name,
                       gw_quantity_print(frequency_hz, 0, "Hz", 3, text, sizeof text));
    else
        gw_text_printf(out, "%s corner (-3 dB): none in the band\n", name);
}

static void add_text(const gw_response *of, gw_text *out) {
    char text[3][32];
    double middle_db = gw_db_from_ratio(of->middle_gain);
    gw_text_printf(out, "gain at %s: %s dB\n", gw_quantity_print(of->middle_hz, 0, "Hz", 3, text[0], sizeof text[0]),
                   gw_number_fixed(middle_db, 2, text[1], sizeof text[1]));
    add_corner(out, "lower", of->low_hz);
    add_corner(out, "upper", of->high_hz);
    gw_text_add(out, "\n  frequency   gain dB   re the middle\n");
    for (size_t i = 0; i < of->count; i += SHOWN_EVERY) {
        double db = gw_db_from_ratio(of->lines[i].gain);
        gw_text_printf(out, "%11s %9s %15s\n",
                       gw_quantity_print(of->lines[i].frequency_hz, 0, "Hz", 3, text[0], sizeof text[0]),
                       gw_number_fixed(db, 2, text[1], sizeof text[1]),
                       gw_number_fixed(db - middle_db, 2, text[2], sizeof text[2]));
    }
}

static void add_member(gw_text *out, const char *before, const char *name, double value, const char *after) {
    char text[32];
    gw_text_printf(out, "%s\"%s\": %s%s", before, name, gw_number_print(value, 9, text, sizeof text), after);
}

static void add_json(const gw_response *of, const char *program, gw_text *out) {
    gw_text_printf(out, "{\"format\": \"gainwalk-response\", \"version\": 1, \"program\": \"%s\",\n", program);
    add_member(out, " ", "middle_hz", of->middle_hz, ", ");
    add_member(out, "", "middle_gain_db", gw_db_from_ratio(of->middle_gain), ", ");
    add_member(out, "", "delay_s", of->delay_s, ",\n");
    if (of->low_hz > 0)
        add_member(out, " ", "low_hz", of->low_hz, ",");
    if (of->high_hz > 0)
        add_member(out, " ", "high_hz", of->high_hz, ",");
    gw_text_add(out, "\n \"lines\": [\n");
    for (size_t i = 0; i < of->count; i++) {
        add_member(out, "  {", "frequency_hz", of->lines[i].frequency_hz, ", ");
        add_member(out, "", "gain_db", gw_db_from_ratio(of->lines[i].gain), ", ");
        add_member(out, "", "coherence", of->lines[i].coherence, i + 1 < of->count ? "},\n" : "}]}\n");
    }
}

bool gw_report_response_text(const gw_response *response, const gw_report_options *options, gw_text *out,
                             gw_error *error) {
    (void)options;
    add_text(response, out);
    return !out->failed || gw_error_memory(error);
}

bool gw_report_response_json(const gw_response *response, const gw_report_options *options, gw_text *out,
                             gw_error *error) {
    add_json(response, options->program, out);
    return !out->failed || gw_error_memory(error);
}
