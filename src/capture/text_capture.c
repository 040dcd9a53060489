/* A text made into a capture: the block of numbers first, then what stands around it. */
#include <math.h>
#include <string.h>

#include "capture/axis.h"
#include "capture/text.h"

enum { PREAMBLE_LINES = 4000, PREAMBLE_BYTES = 2 << 20, BESIDE_BYTES = 16 << 20, ROW_LEAST = 3 };

static bool refuse(const gw_page *page, gw_error *error, const char *text) {
    return gw_error_set(error, page->script.path, gw_script_line(&page->script, page->table.start), "%s", text);
}

static const unsigned char *beside_of(const gw_page *page) {
    return page->vote.beside ? page->vote.preamble : NULL;
}

/* ---- the block ----------------------------------------------------------------------------------- */

static bool read_table(gw_page *page, gw_error *error) {
    gw_table_free(&page->table);
    if (!gw_table_read(&page->table, &page->script, page->vote.format, beside_of(page), 0, page->script.length,
                       page->vote.expected_rows, error))
        return false;
    if (page->table.wide_rows > 1 && page->table.wide)
        return refuse(page, error, "too many columns: up to 1024 are read, or one line of values");
    return true;
}

/* Nothing to read: what the text seems to be. */
static bool refuse_empty(const gw_page *page, gw_error *error) {
    return gw_error_set(error, page->script.path, 0, "no rows of numbers: only text, a heading or settings");
}

/* What separates the cells above the data: the data's own separator; where these have one column, or are set apart by
 * blanks, the sign that most lines hold. */
static char heading_separator(const gw_page *page, size_t from) {
    static const char candidates[] = "\t;,";
    char best = page->vote.format.separator;
    size_t most = 0;
    if (best != ' ' && (page->table.width > 1 || page->table.raw_least > 1))
        return best;
    for (size_t i = 0; candidates[i] != '\0'; i++) {
        size_t lines = 0;
        for (const char *at = page->script.bytes + from, *end = page->script.bytes + page->table.start; at < end;
             at++) {
            const char *line_end = at + strcspn(at, "\r\n");
            at += strspn(at, " \t;"); /* a comment's mark separates nothing */
            lines += at < line_end && memchr(at, candidates[i], (size_t)(line_end - at)) != NULL;
            at = line_end;
        }
        best = lines > most ? candidates[i] : best;
        most = lines > most ? lines : most;
    }
    return most > 0 ? best : '\t';
}

/* A preamble beside the data stands in its first rows: where the lines that are looked through end. */
static size_t beside_end(const gw_page *page) {
    const char *bytes = page->script.bytes;
    size_t at = 0;
    for (size_t lines = 0; at < page->table.end && at < BESIDE_BYTES && lines < PREAMBLE_LINES; lines++) {
        gw_script_need(&page->script, at);
        at += strcspn(bytes + at, "\r\n");
        at += strspn(bytes + at, "\r\n");
    }
    return at < page->table.end ? at : page->table.end;
}

/* Where the lines above the data begin that are looked through, the last PREAMBLE_LINES: in memory from there to the
 * data. */
static bool preamble_begin(const gw_page *page, size_t *from, gw_error *error) {
    size_t end = page->table.start, lines = 0, at = end > PREAMBLE_BYTES ? end - PREAMBLE_BYTES : 0;
    gw_script_hold(&page->script, at, end);
    *from = at;
    if (at == 0)
        return true;
    *from += strcspn(page->script.bytes + at, "\r\n");
    for (at = *from; at < end && lines < PREAMBLE_LINES; lines++) {
        at += strspn(page->script.bytes + at, "\r\n");
        at += strcspn(page->script.bytes + at, "\r\n");
    }
    if (lines < PREAMBLE_LINES)
        return refuse(page, error, "too much text above the numbers: up to 2 MiB (2097152 bytes) of it are read");
    return true;
}

static bool find_heading(gw_page *page, gw_error *error) {
    size_t from = 0, end = page->vote.beside ? beside_end(page) : page->table.start;
    if (page->vote.beside)
        gw_script_hold(&page->script, 0, end);
    else if (!preamble_begin(page, &from, error))
        return false;
    if (!gw_lines_split(page->arena, &page->script, from, end, heading_separator(page, from), PREAMBLE_LINES,
                        &page->lines, &page->line_count))
        return gw_error_memory(error);
    if (page->vote.beside)
        return true;
    if (!gw_heading_find(&page->heading, page->arena, &page->script, page->lines, page->line_count, page->table.width,
                         page->vote.format))
        return gw_error_memory(error);
    return true;
}

/* All values in one row are one channel; a row of named figures is a result. */
static bool turn_single_row(gw_page *page, gw_error *error) {
    if (page->table.rows != 1 || page->table.wide || page->vote.beside)
        return true;
    if (page->table.width < ROW_LEAST)
        return refuse(page, error, "only one row of numbers: no waveform");
    if (page->heading.names != NULL || page->heading.units != NULL)
        return refuse(page, error, "one row of named figures: a result, not a waveform");
    return gw_table_turn(&page->table, error) && find_heading(page, error);
}

/* ---- decimal commas between commas ---------------------------------------------------------------- */

static bool all_whole(const gw_table *table) {
    for (size_t c = 0; c < table->width; c++)
        if (table->columns[c].decimals_most > 0 || table->columns[c].units != 0)
            return false;
    return true;
}

static bool first_is_ramp(const gw_table *table) {
    const gw_column *column = &table->columns[0];
    gw_times times = gw_table_times(table, 0, pow(10, column->last), 1);
    gw_slope slope;
    return column->numbers == table->rows && gw_times_fit(&times, 0, table->rows, &slope) && slope.interval > 0 &&
           gw_slope_is_even(&slope, times.quantum);
}

/* Twice as many fields as names, and no decimal point anywhere: two fields may be one number. */
static bool join_commas(gw_capture *capture, gw_page *page, gw_error *error) {
    const gw_table *table = &page->table;
    bool suspect = page->heading.half && page->vote.format.separator == ',' && page->vote.format.decimal == '.' &&
                   !page->vote.format.quoted_comma && table->width >= 4 && all_whole(table);
    if (!suspect)
        return true;
    size_t names = table->width / 2, rows = table->rows;
    bool regular = table->short_rows == 0 && table->raw_least == table->width;
    page->vote.format.joined = true;
    if (!read_table(page, error))
        return false;
    if (!regular || page->table.width != names || page->table.rows != rows || !first_is_ramp(&page->table))
        return refuse(page, error,
                      "commas both as decimal sign and as separator, it seems: the fields cannot be told "
                      "apart");
    gw_capture_remark(capture, "decimal commas between comma separators: two fields were joined to each number");
    return find_heading(page, error);
}

/* ---- the preamble --------------------------------------------------------------------------------- */

/* Each pair of columns has its preamble between the pair before it and itself. */
static bool take_beside(gw_page *page, gw_error *error) {
    size_t pair = 0, from = 0;
    page->beside = gw_arena_array(page->arena, page->table.width + 1, sizeof *page->beside);
    if (page->beside == NULL)
        return gw_error_memory(error);
    for (size_t c = 0; c + 1 < page->table.width; c++) {
        if (page->vote.preamble[c])
            continue;
        if (!gw_settings_take(&page->beside[pair++], page->arena, page->lines, page->line_count, page->vote.format,
                              from, c))
            return gw_error_memory(error);
        from = c + 2;
        c++;
    }
    page->settings = page->beside[0];
    return true;
}

static bool take_settings(gw_page *page, const gw_capture_options *options, gw_error *error) {
    page->rate_stated_hz = options->rate_hz;
    if (page->vote.beside)
        return take_beside(page, error);
    if (!gw_settings_take(&page->settings, page->arena, page->lines, page->heading.preamble, page->vote.format, 0,
                          SIZE_MAX))
        return gw_error_memory(error);
    if (!page->heading.step.given && !page->settings.interval_s.given && !page->settings.rate_hz.given)
        gw_text_look_beside(page);
    return true;
}

/* ---- what is told of the whole -------------------------------------------------------------------- */

static void tell_count(gw_capture *capture, const gw_page *page) {
    const gw_settings *s = &page->settings;
    uint64_t rows = page->table.rows;
    for (size_t i = 0; i < s->count_count; i++)
        if (s->counts[i] != rows && s->counts[i] != rows * page->channels && s->counts[i] != capture->samples)
            gw_capture_remark(capture, "announces %llu samples, holds %llu", (unsigned long long)s->counts[i],
                              (unsigned long long)rows);
}

static void tell(gw_capture *capture, const gw_page *page) {
    tell_count(capture, page);
    if (page->table.cut)
        gw_capture_remark(capture, "the last line is cut off: it is left out");
    if (page->table.others > 0)
        gw_capture_remark(capture, "the file holds %zu blocks of numbers: the longest part is used",
                          page->table.others + 1);
}

static bool read_page(gw_capture *capture, gw_page *page, const gw_capture_options *options, gw_error *error) {
    gw_extent extent;
    if (!gw_vote_take(&page->vote, &page->script, error))
        return false;
    if (page->vote.rows == 0 && !page->vote.beside)
        return refuse_empty(page, error);
    if (!read_table(page, error))
        return false;
    if (page->table.rows == 0 || page->table.width == 0)
        return refuse_empty(page, error);
    return find_heading(page, error) && join_commas(capture, page, error) && turn_single_row(page, error) &&
           take_settings(page, options, error) && gw_fields_judge(page, error) &&
           gw_text_find_rate(capture, page, options, &extent, error) &&
           gw_text_make_channels(capture, page, options, extent, error);
}

/* Where what was read could not be kept, all that was made of it is void: that is told, and no fault of the text. The
 * packs are those of the table, or those that the capture has taken over. */
static bool check_packs(const gw_capture *capture, const gw_page *page, bool right, gw_error *error) {
    const gw_packs *packs = page->table.packs != NULL ? page->table.packs : capture->store->packs;
    if (gw_packs_good(packs, NULL))
        return right;
    gw_error_clear(error);
    return gw_packs_good(packs, error);
}

bool gw_capture_read_text(gw_capture *capture, gw_input *input, const gw_capture_options *options, gw_error *error) {
    gw_page page = {.arena = capture->store->arena, .time = SIZE_MAX};
    bool right = gw_script_read(&page.script, input, &capture->remarks, error);
    page.script.jobs = options->jobs;
    right = right && read_page(capture, &page, options, error);
    right = check_packs(capture, &page, right, error);
    right = gw_script_check(&page.script, right, error);
    if (right)
        tell(capture, &page);
    gw_table_free(&page.table);
    gw_script_free(&page.script);
    return right;
}
