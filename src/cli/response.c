/* gainwalk response: gain against frequency. */
#include "cli.h"

#include <math.h>
#include <string.h>

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

static void add_json(const gw_response *of, gw_text *out) {
    gw_text_add(out, "{\"format\": \"gainwalk-response\", \"version\": 1, \"program\": \"" PROGRAM "\",\n");
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

static bool find(const arguments *given, gw_response **out, gw_error *error) {
    gw_capture *first = NULL, *second = NULL;
    if (given->count < 1 || given->count > 2)
        return gw_error_set(error, NULL, 0, "one capture with two channels, or the stimulus and a capture: %zu given",
                            given->count);
    bool fine = gw_capture_read(given->words[0], NULL, &first, error) &&
                (given->count == 1 || gw_capture_read(given->words[1], NULL, &second, error));
    if (fine && second == NULL && first->channel_count < 2)
        fine = gw_error_set(error, given->words[0], 0,
                            "has one channel: name the stimulus's own file before it, or capture the stimulus too");
    fine = fine && (second != NULL ? gw_response_run(first, 0, second, 0, out, error)
                                   : gw_response_run(first, 0, first, 1, out, error));
    if (fine && (*out)->count == 0)
        fine = gw_error_set(error, given->words[given->count - 1], 0,
                            "no response to be told: the output has nothing in common with the stimulus");
    gw_capture_free(first);
    gw_capture_free(second);
    return fine;
}

int gw_cli_response(const arguments *given) {
    gw_response *found = NULL;
    gw_text out = {0};
    gw_error error = {0};
    if (!find(given, &found, &error))
        return gw_cli_fail(&error);
    if (given->values[OPTION_JSON] != NULL)
        add_json(found, &out);
    else
        add_text(found, &out);
    bool printed = gw_cli_print(&out);
    gw_text_free(&out);
    gw_response_free(found);
    return printed ? EXIT_IN_ORDER : EXIT_NOT_DONE;
}
