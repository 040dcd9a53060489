/* gainwalk response: gain against frequency. */
#include "cli.h"

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
    if (!find(given, &found, &error)) {
        gw_response_free(found);
        return gw_cli_fail(&error);
    }
    gw_report_options how;
    if (!gw_cli_report_options(given, &how)) {
        gw_response_free(found);
        return EXIT_NOT_DONE;
    }
    bool made = given->values[OPTION_JSON] != NULL ? gw_report_response_json(found, &how, &out, &error)
                                                   : gw_report_response_text(found, &how, &out, &error);
    bool printed = gw_cli_deliver(made, &out, &error, given, NULL);
    gw_response_free(found);
    return printed ? EXIT_IN_ORDER : EXIT_NOT_DONE;
}
