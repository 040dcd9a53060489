/* Gainwalk base: errors, text, arenas, numbers, quantities, files.
 *
 * Knows nothing of audio. Everything here is safe to call from several threads on different objects,
 * independent of the locale, and free of global state. */
#ifndef GAINWALK_BASE_H
#define GAINWALK_BASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define GW_PRINTF(format_at, first_at) __attribute__((format(printf, format_at, first_at)))
#else
#define GW_PRINTF(format_at, first_at)
#endif

/* ---- errors ------------------------------------------------------------------------------------- */

/* What went wrong, filled once where it happened: the first error set wins, later ones are dropped.
 * `line` is 0 where no line applies. Text is lower case, the fault first, the subject quoted, no full stop.
 * Start with `gw_error e = {0};`. */
typedef struct gw_error {
    bool set;
    long line;
    char file[256];
    char text[512];
} gw_error;

/* Fills `error` unless it is NULL or already set. `file` may be NULL. Over-long text is cut at a whole
 * UTF-8 character. Always returns false, so that a failing function can end with `return gw_error_set(…)`. */
bool gw_error_set(gw_error *error, const char *file, long line, const char *format, ...) GW_PRINTF(4, 5);

/* The one spelling of "out of memory". Returns false. */
bool gw_error_memory(gw_error *error);

/* Forgets an error, so that the same object can be filled again. NULL is fine. */
void gw_error_clear(gw_error *error);

/* Writes "file:line: text" (without the parts that are not known) to `out`, always ended by NUL, cut to `size`.
 * Returns `out`; "" when no error is set. */
char *gw_error_print(const gw_error *error, char *out, size_t size);

/* ---- arenas ------------------------------------------------------------------------------------- */

/* Many small things that live and die together. All of it is freed by gw_arena_free. */
typedef struct gw_arena gw_arena;

/* NULL when memory is out. */
gw_arena *gw_arena_new(void);
void gw_arena_free(gw_arena *arena);

/* Whether memory was ever out for it: for who makes do without what it asked for, and tells at the end. */
bool gw_arena_failed(const gw_arena *arena);

/* `size` bytes, zeroed, aligned for any object; NULL when memory is out. size 0 gives a valid pointer. */
void *gw_arena_take(gw_arena *arena, size_t size);

/* As gw_arena_take for `count` objects of `size` bytes, the product checked. */
void *gw_arena_array(gw_arena *arena, size_t count, size_t size);

/* A NUL-ended copy of `length` bytes of `text`; of the whole text. NULL when memory is out (or text is NULL). */
char *gw_arena_copy(gw_arena *arena, const char *text, size_t length);
char *gw_arena_string(gw_arena *arena, const char *text);
char *gw_arena_printf(gw_arena *arena, const char *format, ...) GW_PRINTF(2, 3);

/* ---- growing text and lists --------------------------------------------------------------------- */

/* Text that grows. `data` is NUL-ended once anything was added. When memory is out, `failed` is set and
 * stays, further additions do nothing: check it once at the end. Start with `gw_text t = {0};`. */
typedef struct gw_text {
    char *data;
    size_t length, capacity;
    bool failed;
} gw_text;

void gw_text_add(gw_text *text, const char *string);
void gw_text_add_bytes(gw_text *text, const char *bytes, size_t length);
void gw_text_add_char(gw_text *text, char character);
void gw_text_printf(gw_text *text, const char *format, ...) GW_PRINTF(2, 3);
void gw_text_free(gw_text *text);

/* Frees a text that went into `out`; one that was cut for want of memory fails `out`. */
void gw_text_part_free(gw_text *out, gw_text *part);
/* The text, never NULL ("" when empty). Valid until the next addition. */
const char *gw_text_string(const gw_text *text);

/* Takes the next character off `*text` and writes it to `out` (12 bytes) as it may be shown to people: what would steer
 * a terminal or turn the writing around is spelt out ("\x1b", "\u202e"), a newline or tab is a blank, bytes that are no
 * UTF-8 are U+FFFD. False at the end. */
bool gw_text_visible(const char **text, char out[12]);

/* A list of strings, each a copy. Start with `gw_strings s = {0};`. When memory is out, `failed` is set and stays: one
 * string or more is missing. */
typedef struct gw_strings {
    char **items;
    size_t count, capacity;
    bool failed;
} gw_strings;

/* Adds a copy; false when memory is out. */
bool gw_strings_add(gw_strings *list, const char *string);
bool gw_strings_printf(gw_strings *list, const char *format, ...) GW_PRINTF(2, 3);
void gw_strings_free(gw_strings *list);

/* Makes room for one more item of `size` bytes in a growing array (doubling, checked). `*items` may move.
 * False when memory is out; the old array is then untouched. */
bool gw_array_grow(void **items, size_t count, size_t *capacity, size_t size);
#define GW_GROW(items, count, capacity) gw_array_grow((void **)&(items), (count), &(capacity), sizeof *(items))

/* ---- words -------------------------------------------------------------------------------------- */

/* Equal but for ASCII case. */
bool gw_word_equal(const char *one, const char *other);

/* The word of `known` (a list ended by NULL) with the smallest edit distance to `word`, if that is close enough to
 * be a slip (a third of the letters, at least one); NULL otherwise. Optimal string alignment distance
 * (Damerau 1964). */
const char *gw_word_nearest(const char *word, const char *const *known);

/* ---- numbers ------------------------------------------------------------------------------------ */

/* Reads one decimal number that fills `text[0..length)` exactly: optional sign, digits with or without a decimal
 * point, optional exponent `e E` with sign. No blanks, no hexadecimal, no words. The result is the double nearest to
 * what is written, whatever the locale. False when the text is anything else, or too large for a double. */
bool gw_number_parse(const char *text, size_t length, double *out);

/* As gw_number_parse, but takes the longest number that `text` begins with; `*used` tells its length. */
bool gw_number_prefix(const char *text, size_t length, double *out, size_t *used);

/* Writes `value` with `digits` significant digits (1..17), the decimal sign a point whatever the locale; trailing zeros
 * kept off. An exponent below 1e-4 and from 1e10 (or 10 to `digits`, whichever is more). Not for NaN or infinity: they
 * are written "nan" and "inf". Returns `out`. 32 bytes always suffice. */
char *gw_number_print(double value, int digits, char *out, size_t size);

/* As printf("%.*f"), with a point whatever the locale. */
char *gw_number_fixed(double value, int decimals, char *out, size_t size);

/* ---- quantities --------------------------------------------------------------------------------- */

typedef enum gw_dimension {
    GW_DIM_NONE, /* a bare number or ratio */
    GW_DIM_VOLT,
    GW_DIM_HERTZ,
    GW_DIM_SECOND,
    GW_DIM_OHM,
    GW_DIM_FARAD,
    GW_DIM_HENRY,
    GW_DIM_AMPERE,
    GW_DIM_PERCENT, /* held as a ratio: 5 % is 0.05 */
    GW_DIM_DECIBEL, /* held as written, in decibels */
} gw_dimension;

/* A value in SI units with what it was written in. */
typedef struct gw_quantity {
    double value;
    gw_dimension dimension;
    bool peak_to_peak; /* written in Vpp */
} gw_quantity;

/* Reads a quantity that fills `text` (blanks around it are fine): a number, an SI prefix (p n u µ m k M G; K for k), a
 * unit (V Vrms Vpp Vp dBV dBu Hz s Ω ohm R F H A % dB), with or without blanks between; or an IEC 60062 code (`4k7`,
 * `2R2`, `100n`, `4u7`), whose dimension is GW_DIM_NONE unless a unit follows. dBV and dBu become volts RMS (dBu re
 * sqrt(0.6) V); Vpp stays peak to peak with `peak_to_peak` set; `Vp` likewise doubled. A leading `x` or `×` marks a
 * ratio (`x10`); `10x` too. On failure fills `error` with file and line and returns false. */
bool gw_quantity_parse(const char *text, gw_quantity *out, const char *file, long line, gw_error *error);

/* A value with a tolerance either way: `100 mV ± 5 %`, `0 V +- 20 mV`, `20 dB ± 1 dB`, `15 V`.
 * `has_tolerance` is false where none is written. `tolerance` keeps its own dimension (per cent, decibels or the
 * value's). */
typedef struct gw_tolerance {
    gw_quantity nominal;
    bool has_tolerance;
    gw_quantity tolerance;
} gw_tolerance;

bool gw_tolerance_parse(const char *text, gw_tolerance *out, const char *file, long line, gw_error *error);

/* Writes `value` with an engineering prefix and as many digits as `uncertainty` (95 %, same unit; 0 when unknown)
 * allows, at most `digits`: "98.7 mV". Micro is written µ. Returns `out`. */
char *gw_quantity_print(double value, double uncertainty, const char *unit, int digits, char *out, size_t size);

/* ---- levels: the only place where decibels are made ---------------------------------------------- */

/* 20 lg |ratio|; -infinity for 0. */
double gw_db_from_ratio(double ratio);
double gw_ratio_from_db(double db);
/* RMS volts of 0 dBu: the voltage of 1 mW in 600 ohm. */
extern const double gw_dbu_reference_v;

/* ---- files -------------------------------------------------------------------------------------- */

/* Writes the whole of `bytes` to `path` or nothing: temporary file beside it, flush to disk, rename. Refuses to replace
 * an existing file unless `force`. On failure no temporary file is left. */
bool gw_file_write(const char *path, const void *bytes, size_t length, bool force, gw_error *error);

/* Opens a regular file for reading; puts its size in bytes into `*size`. -1 after an error: nothing that could wait for
 * ever or never end (a FIFO, a device, a socket) is opened. The caller closes. */
int gw_file_open(const char *path, uintmax_t *size, gw_error *error);

/* The whole of a regular file of at most `limit` bytes, with a NUL behind it (not counted). The caller frees `*bytes`.
 */
bool gw_file_read(const char *path, size_t limit, char **bytes, size_t *length, gw_error *error);

/* `folder`/`name`, or a copy of `name` where that is absolute or folder is NULL or "". The caller frees; NULL when
 * memory is out. */
char *gw_path_join(const char *folder, const char *name);
/* The part of a path before its last '/', "" where there is none. The caller frees; NULL when memory is out. */
char *gw_path_folder(const char *path);
/* The part of a path behind its last '/'; inside `path`. */
const char *gw_path_name(const char *path);

#ifdef __cplusplus
}
#endif
#endif
