/* Reports: a walk, readings, captures or a comparison told as text, JSON, CSV or HTML. Everything is written into a
 * gw_text; whoever calls decides where it goes. Knows nothing of how anything was measured. */
#ifndef GAINWALK_REPORT_H
#define GAINWALK_REPORT_H

#include "gainwalk/record.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct gw_report_options {
    const char *program; /* "gainwalk 0.1.0" */
    bool color;
    int width;  /* columns of the terminal; 0 means 100 */
    bool quiet; /* verdict only */
} gw_report_options;

/* One capture in a report of `peek` or `measure`: what was read, or why not. */
typedef struct gw_report_capture {
    const char *file;
    const char *error;                  /* NULL when it was read */
    const gw_capture *capture;          /* peek */
    const gw_readings *const *readings; /* measure: one a channel */
    size_t readings_count;
    /* measure, NULL where nothing was asked for: from the reference channel to each of `readings`; that of the
     * reference itself is not shown */
    const gw_pair *pairs;
    int reference; /* number of the reference channel */
} gw_report_capture;

/* All of them return false only when memory is out (`error` set). */
bool gw_report_peek_text(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                         gw_text *out, gw_error *error);
bool gw_report_peek_json(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                         gw_text *out, gw_error *error);
bool gw_report_measure_text(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);
bool gw_report_measure_json(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);
bool gw_report_measure_csv(const gw_report_capture *captures, size_t count, const gw_report_options *options,
                           gw_text *out, gw_error *error);
bool gw_report_walk_text(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error);
bool gw_report_walk_json(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error);
bool gw_report_walk_csv(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                        gw_error *error);
bool gw_report_walk_html(const gw_walk *const *walks, size_t count, const gw_report_options *options, gw_text *out,
                         gw_error *error);

/* One line of JSON for one input of many, as soon as it is done: what gw_report_measure_json or gw_report_walk_json
 * says of it alone, and its number among the inputs, from 1. A chain that could not be judged stands there with its
 * file and an `error`. */
bool gw_report_measure_line(const gw_report_capture *capture, size_t number, const gw_report_options *options,
                            gw_text *out, gw_error *error);
bool gw_report_walk_line(const char *file, const char *failure, const gw_walk *const *walks, size_t count,
                         size_t number, const gw_report_options *options, gw_text *out, gw_error *error);

/* Response of one channel to another. */
bool gw_report_response_text(const gw_response *response, const gw_report_options *options, gw_text *out,
                             gw_error *error);
bool gw_report_response_json(const gw_response *response, const gw_report_options *options, gw_text *out,
                             gw_error *error);

/* Comparisons: several where the records hold several chains. */
bool gw_report_compare_text(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);
bool gw_report_compare_json(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);
bool gw_report_compare_csv(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                           gw_text *out, gw_error *error);
bool gw_report_compare_html(const gw_comparison *const *comparisons, size_t count, const gw_report_options *options,
                            gw_text *out, gw_error *error);

#ifdef __cplusplus
}
#endif
#endif
