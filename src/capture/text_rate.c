#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/axis.h"
#include "capture/text.h"

enum { RUN_LEAST = 3, SETTINGS_MAX = 1 << 20 };

static const double loose_interval = 0.001; /* from here on the printing's share in the rate is said */

static const char *print_hertz(double value, char *out, size_t size) {
    return gw_quantity_print(value, 0, "Hz", 6, out, size);
}

/* ---- a settings file of the same stem ------------------------------------------------------------ */

static char separator_of(const gw_script *script) {
    static const char separators[] = ";\t,";
    for (size_t i = 0; separators[i] != '\0'; i++)
        if (memchr(script->bytes, separators[i], script->length) != NULL)
            return separators[i];
    return ',';
}

/* Interval or rate of one file of settings; nothing when it has none, or cannot be read. */
static void read_settings(gw_page *page, const char *path, gw_settings *out) {
    gw_error unused = {0};
    gw_strings remarks = {0};
    gw_input input;
    gw_script script = {0};
    gw_line *lines;
    size_t count;
    if (!gw_input_open(&input, path, &unused))
        return;
    if (input.size > 0 && input.size <= SETTINGS_MAX && gw_script_read(&script, &input, &remarks, &unused)) {
        gw_format format = {.separator = separator_of(&script), .decimal = '.'};
        if (gw_lines_split(page->arena, &script, 0, script.length, format.separator, 2000, &lines, &count))
            gw_settings_take(out, page->arena, lines, count, format, 0, SIZE_MAX);
    }
    gw_script_free(&script);
    gw_strings_free(&remarks);
    gw_input_close(&input);
}

void gw_text_look_beside(gw_page *page) {
    static const char *const endings[] = {".txt", ".csv", ".set", ".ini", ".cfg", ".log",
                                          ".TXT", ".CSV", ".SET", ".INI", ".CFG", ".LOG"};
    const char *path = page->script.path, *dot = strrchr(gw_path_name(path), '.');
    size_t stem = dot != NULL ? (size_t)(dot - path) : strlen(path);
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
        gw_settings found = {0};
        char *other = gw_arena_printf(page->arena, "%.*s%s", (int)stem, path, endings[i]);
        if (other == NULL || strcmp(other, path) == 0 || stem > 4096)
            continue;
        read_settings(page, other, &found);
        if (!found.interval_s.given && !found.rate_hz.given)
            continue;
        page->beside_interval_s = found.interval_s;
        page->beside_rate_hz = found.rate_hz;
        page->beside_file = gw_path_name(other);
        return;
    }
}

/* ---- from the time column ------------------------------------------------------------------------ */

static bool refuse(const gw_page *page, gw_error *error, const char *text) {
    return gw_error_set(error, page->script.path, gw_script_line(&page->script, page->table.start), "%s", text);
}

static void reverse_bytes(unsigned char *marks, size_t count) {
    for (size_t i = 0; i < count / 2; i++) {
        unsigned char kept = marks[i];
        marks[i] = marks[count - 1 - i];
        marks[count - 1 - i] = kept;
    }
}

static void reverse_rows(gw_page *page) {
    size_t count = page->table.rows;
    for (size_t c = 0; c < page->table.width; c++) {
        double *values = page->table.columns[c].values;
        gw_column_unpack(&page->table, c);
        for (size_t i = 0; i < count / 2; i++) {
            double kept = values[i];
            values[i] = values[count - 1 - i];
            values[count - 1 - i] = kept;
        }
        if (page->table.columns[c].marks != NULL)
            reverse_bytes(page->table.columns[c].marks, count);
    }
}

static gw_times times_of(const gw_page *page) {
    return gw_table_times(&page->table, page->time, page->quantum, page->script.jobs);
}

/* The longest run of a column with gaps or restarts, measured by its own printed digits. */
static bool take_run(gw_capture *capture, gw_page *page, gw_extent *extent, gw_slope *slope, gw_error *error) {
    gw_column_unpack(&page->table, page->time);
    gw_times times = times_of(page);
    gw_run run;
    if (!gw_times_cut(&times, &run))
        return gw_error_memory(error);
    if (run.runs < 2)
        return refuse(page, error, "uneven sampling: the steps of the time column vary");
    if (run.count < RUN_LEAST)
        return refuse(page, error, "uneven sampling: the time column has gaps, and no run of 3 samples between them");
    int all = page->table.columns[page->time].last, last = all;
    if (!extent->reversed &&
        !gw_table_last_digit(&page->table, &page->script, page->vote.format,
                             page->vote.beside ? page->vote.preamble : NULL, page->time, run.first, run.count, &last))
        return gw_error_memory(error);
    page->quantum *= pow(10, last - all);
    if (!gw_times_fit(&times, run.first, run.count, slope) || slope->interval <= 0 ||
        !gw_slope_is_even(slope, page->quantum))
        return refuse(page, error, "uneven sampling: the steps of the time column vary");
    extent->first = run.first;
    extent->count = run.count;
    gw_capture_remark(capture,
                      "time has gaps or restarts: %zu segments, the longest run is used (rows %zu to %zu of "
                      "%zu)",
                      run.runs, run.first + 1, run.first + run.count, page->table.rows);
    return true;
}

/* The rows that are used, and their slope. */
static bool take_even(gw_capture *capture, gw_page *page, gw_extent *extent, bool *repeats, gw_slope *slope,
                      gw_error *error) {
    gw_times times = times_of(page);
    gw_evenness evenness = gw_times_judge(&times, repeats, slope);
    if (evenness == GW_TIMES_FALLING) {
        reverse_rows(page);
        times = times_of(page);
        extent->reversed = true;
        gw_capture_remark(capture, "time runs backwards: the rows are taken in reverse order");
        evenness = gw_times_judge(&times, repeats, slope);
    }
    if (evenness == GW_TIMES_PAIRS)
        return refuse(page, error, "minimum and maximum pairs (an envelope: every time stands twice), not a waveform");
    return evenness == GW_TIMES_EVEN || take_run(capture, page, extent, slope, error);
}

/* ---- stated and found ---------------------------------------------------------------------------- */

/* What the heading says, as rates: in its own cells, as a rate, as an interval. */
static size_t stated_rates(const gw_page *page, double *rates) {
    const gw_settings *s = &page->settings;
    size_t count = 0;
    if (page->heading.step.given)
        rates[count++] = 1 / page->heading.step.value;
    if (s->rate_hz.given)
        rates[count++] = s->rate_hz.value;
    if (s->interval_s.given) {
        rates[count++] = 1 / s->interval_s.value;
        /* without a unit of its own it may be in the axis's */
        if (!s->interval_s.has_unit && s->axis_unit.kind == GW_UNIT_SECOND && s->axis_unit.power != 0)
            rates[count++] = 1 / gw_unit_apply(s->axis_unit, s->interval_s.value);
    }
    return count;
}

static void remark_disagreement(gw_capture *capture, double stated_hz, double interval_s) {
    char one[48], other[48];
    gw_capture_remark(capture,
                      "the heading's interval of %s does not agree with the time column, which says %s: the "
                      "time column is used",
                      gw_quantity_print(1 / stated_hz, 0, "s", 6, one, sizeof one),
                      gw_quantity_print(interval_s, 0, "s", 6, other, sizeof other));
}

/* The stated rate where it lies within what the printing leaves open, else the plainest figure there. */
static void settle_rate(gw_capture *capture, const gw_page *page, const gw_slope *slope, double width, bool repeats) {
    double rates[4], d = slope->interval;
    size_t count = stated_rates(page, rates);
    for (size_t i = 0; i < count; i++)
        if (fabs(1 / rates[i] - d) <= width * (1 + 1e-9)) {
            capture->rate_hz = rates[i];
            capture->rate_from = "the heading, as the time column confirms";
            return;
        }
    if (d <= 0) {
        gw_capture_remark(capture, "all times are the same as printed, with too few digits: a rate must be given");
        return;
    }
    capture->rate_hz = gw_slope_snap(d, width);
    capture->rate_from = "the time column, by least squares";
    capture->rate_u95 = width / d;
    if (count > 0)
        remark_disagreement(capture, rates[0], 1 / capture->rate_hz);
    char share[40];
    gw_number_fixed(100 * width / d, width / d < 0.1 ? 1 : 0, share, sizeof share);
    if (repeats)
        gw_capture_remark(
            capture, "times repeat: they are printed with too few digits, and leave the rate open by %s %%", share);
    else if (width / d > loose_interval)
        gw_capture_remark(capture, "the printed digits of the time column leave the rate open by %s %%", share);
}

static bool rate_from_times(gw_capture *capture, gw_page *page, gw_extent *extent, gw_error *error) {
    bool repeats = false;
    gw_slope slope;
    if (!take_even(capture, page, extent, &repeats, &slope, error))
        return false;
    settle_rate(capture, page, &slope, gw_slope_width(&slope, page->quantum, extent->count), repeats);
    const gw_column *column = &page->table.columns[page->time];
    if (extent->first > 0)
        gw_column_unpack(&page->table, page->time);
    bool present = column->marks == NULL || (column->marks[extent->first] & GW_MARK_STATE) == GW_SAMPLE_PRESENT;
    capture->has_start = column->clocks == 0; /* a time of day is no place on the record's axis */
    capture->start_s = !capture->has_start ? 0 : present ? column->values[extent->first] : slope.start;
    if (column->missing > 0)
        gw_capture_remark(capture, "%zu times are missing: their rows are placed by their order", column->missing);
    if (page->counts_rows)
        gw_capture_remark(capture, "the first column counts 0, 1, 2 without a unit: taken for seconds; if it is a row "
                                   "number, a rate must be given");
    return true;
}

/* ---- without a time column ----------------------------------------------------------------------- */

static bool is_plausible(double interval_s) {
    return interval_s <= 1 && interval_s >= 1e-11;
}

/* An interval without a unit, with an axis unit given elsewhere: the reading that makes sense. */
static double interval_of(const gw_settings *s) {
    double plain = s->interval_s.value, scaled = gw_unit_apply(s->axis_unit, plain);
    if (s->interval_s.has_unit || s->axis_unit.kind != GW_UNIT_SECOND)
        return plain;
    return is_plausible(scaled) || !is_plausible(plain) ? scaled : plain;
}

static void rate_without_times(gw_capture *capture, const gw_page *page) {
    const gw_settings *s = &page->settings;
    const char *beside = page->beside_file;
    if (page->heading.step.given || s->interval_s.given) {
        capture->rate_hz = 1 / (page->heading.step.given ? page->heading.step.value : interval_of(s));
        capture->rate_from = "the interval in the heading";
    } else if (s->rate_hz.given) {
        capture->rate_hz = s->rate_hz.value;
        capture->rate_from = "the rate in the heading";
    } else if (beside != NULL) {
        capture->rate_hz = page->beside_rate_hz.given ? page->beside_rate_hz.value : 1 / page->beside_interval_s.value;
        capture->rate_from = gw_arena_printf(capture->store->arena, "the settings file '%s' beside it", beside);
        gw_capture_remark(capture, "the rate is from the settings file '%s' beside this one", beside);
    }
    const gw_stated *start = page->heading.start.given ? &page->heading.start : &s->start_s;
    if (start->given) {
        capture->has_start = true;
        capture->start_s = start->value;
    }
}

/* ---- both ---------------------------------------------------------------------------------------- */

static void check_rate(gw_capture *capture) {
    char text[48], length[48];
    double rate = capture->rate_hz, duration = rate > 0 ? (double)capture->samples / rate : 0;
    if (rate <= 0) {
        gw_capture_remark(capture, "no time column and no interval: a rate must be given");
    } else if (!isfinite(rate) || rate < 1 || rate > 1e11) {
        gw_capture_remark(capture, "a rate of %s is doubtful: is the unit of time right?",
                          print_hertz(rate, text, sizeof text));
    } else if (duration < 50e-6) {
        gw_capture_remark(capture, "the record lasts %s only: is the unit of time right?",
                          gw_quantity_print(duration, 0, "s", 3, length, sizeof length));
    }
}

/* Rates that anything samples at, as '--rate' takes them; beyond, the arithmetic of measuring would end. */
static const double least_hz = 1e-6, most_hz = 1e13;

static bool is_usable(double rate_hz) {
    return rate_hz >= least_hz && rate_hz <= most_hz;
}

/* One that the file states, or its times, and that is none: as if there were none. */
static void drop_unusable(gw_capture *capture) {
    if (capture->rate_hz <= 0 || is_usable(capture->rate_hz))
        return;
    gw_capture_remark(capture,
                      "the rate in the file lies beyond 1 \302\265Hz to 10 THz, and is not used: is the unit of "
                      "time right?");
    capture->rate_hz = 0;
    capture->rate_from = NULL;
}

/* A rate from outside the file fills in for one that it lacks, and contradicts none that it has. */
static void take_outside_rate(gw_capture *capture, double rate_hz) {
    char file[48], stated[48];
    if (!is_usable(rate_hz))
        return;
    if (capture->rate_hz <= 0) {
        capture->rate_hz = rate_hz;
        capture->rate_from = "as stated with the capture";
    } else if (fabs(capture->rate_hz / rate_hz - 1) > fmax(0.001, capture->rate_u95)) {
        gw_capture_remark(capture, "a rate of %s was stated, the file says %s: the file's is used",
                          print_hertz(rate_hz, stated, sizeof stated),
                          print_hertz(capture->rate_hz, file, sizeof file));
    }
}

/* The reciprocal of an interval without the last bit's noise: 5 µs is 200 kHz, not 199999.99999999997 Hz. */
static double rate_as_written(double rate_hz) {
    char text[40];
    double rate = rate_hz;
    gw_number_print(rate_hz, 15, text, sizeof text);
    return gw_number_parse(text, strlen(text), &rate) ? rate : rate_hz;
}

bool gw_text_find_rate(gw_capture *capture, gw_page *page, const gw_capture_options *options, gw_extent *extent,
                       gw_error *error) {
    *extent = (gw_extent){.count = page->table.rows};
    if (page->time != SIZE_MAX) {
        if (!rate_from_times(capture, page, extent, error))
            return false;
    } else {
        rate_without_times(capture, page);
    }
    capture->samples = extent->count;
    capture->rate_hz = rate_as_written(capture->rate_hz);
    drop_unusable(capture);
    take_outside_rate(capture, options->rate_hz);
    check_rate(capture);
    return true;
}
