#include "capture/packs.h"

#include <errno.h>
#include <math.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

#include "base/lanes.h"
#include "capture/digits.h"
#include "capture/room.h"

/* Sums of two such whole numbers are still exact in a double. */
static const double largest_whole = 0x1p52;

/* How what is left over the line is kept. */
typedef enum kept { KEPT_NOTHING, KEPT_BYTE = 1, KEPT_SHORT = 2, KEPT_WORD = 4, KEPT_VALUE = 8 } kept;

/* Of a column in a strip: start + step·i and what is left over that. */
typedef struct head {
    double start, step, minus; /* minus: what is left over where minus zero stands; -1 */
    uint64_t at;               /* of what is left, in the strip */
    int32_t power, kept;
} head;

typedef struct strip {
    size_t row, rows, at; /* at: in the file */
} strip;

struct gw_packs {
    size_t width, count, capacity; /* columns, strips */
    atomic_size_t length;          /* bytes of the file */
    int file;
    atomic_int reason; /* errno of what failed first, memory that is out among it; 0 */
    strip *strips;
};

gw_packs *gw_packs_new(size_t width) {
    gw_packs *out = calloc(1, sizeof *out);
    if (out == NULL)
        return NULL;
    out->width = width;
    out->file = gw_room_nameless_file();
    if (out->file >= 0)
        return out;
    free(out);
    return NULL;
}

void gw_packs_free(gw_packs *packs) {
    if (packs == NULL)
        return;
    close(packs->file);
    free(packs->strips);
    free(packs);
}

size_t gw_packs_width(const gw_packs *packs) {
    return packs->width;
}

bool gw_packs_good(const gw_packs *packs, gw_error *error) {
    int reason = packs != NULL ? packs->reason : 0;
    return reason == 0 ||
           gw_error_set(error, NULL, 0, "cannot keep what was read in the folder for temporary files: %s",
                        strerror(reason));
}

/* ---- packing ------------------------------------------------------------------------------------ */

/* By one operation on two doubles that are exact (Clinger 1990), as the numbers were read. */
static double value_of(double whole, int power) {
    if (power == GW_POWER_MINUS_ZERO)
        return -0.0;
    return power < 0 ? whole / gw_powers_of_ten[-power] : whole * gw_powers_of_ten[power];
}

void gw_printed_values(const gw_printed *printed, size_t count) {
    for (size_t i = 0; i < count; i++)
        printed->wholes[i] = value_of(printed->wholes[i], printed->powers[i]);
}

/* Whether there is one power but for what is minus zero; which one, and whether anything is. */
static bool one_power(const signed char *powers, size_t count, int *power, bool *minus) {
    unsigned char other = 0, any = 0;
    size_t first = 0;
    while (first + 1 < count && powers[first] == GW_POWER_MINUS_ZERO)
        first++;
    signed char one = powers[first];
    for (size_t i = first; i < count; i++) {
        unsigned char is_minus = powers[i] == GW_POWER_MINUS_ZERO;
        any |= is_minus;
        other |= is_minus ? 0 : (unsigned char)(powers[i] ^ one);
    }
    *power = (int)one;
    *minus = first > 0 || any != 0;
    return other == 0 && one != GW_POWER_MINUS_ZERO;
}

/* The least and most of the numbers, and of what is left over a line. */
GW_WIDE static void line_extent(const double *wholes, size_t count, double start, double step, double *extent) {
    double low = 0, high = 0, least = 0, most = 0;
#pragma omp simd reduction(min : low, least) reduction(max : high, most)
    for (size_t i = 0; i < count; i++) {
        double left = wholes[i] - (start + step * (double)(int32_t)i);
        low = wholes[i] < low ? wholes[i] : low;
        high = wholes[i] > high ? wholes[i] : high;
        least = left < least ? left : least;
        most = left > most ? left : most;
    }
    extent[0] = low;
    extent[1] = high;
    extent[2] = least;
    extent[3] = most;
}

GW_WIDE static void left_byte(const double *wholes, size_t count, double start, double step, uint8_t *out) {
    for (size_t i = 0; i < count; i++)
        out[i] = (uint8_t)(int32_t)(wholes[i] - (start + step * (double)(int32_t)i));
}

GW_WIDE static void left_short(const double *wholes, size_t count, double start, double step, uint16_t *out) {
    for (size_t i = 0; i < count; i++)
        out[i] = (uint16_t)(int32_t)(wholes[i] - (start + step * (double)(int32_t)i));
}

GW_WIDE static void left_word(const double *wholes, size_t count, double start, double step, int32_t *out) {
    for (size_t i = 0; i < count; i++)
        out[i] = (int32_t)(wholes[i] - (start + step * (double)(int32_t)i));
}

/* A line from the first to the last, of a whole step; its start such that nothing negative is left over it. One more
 * than the most that is left tells of minus zero. */
static head head_make(const gw_printed *column, size_t rows) {
    const double *wholes = column->wholes;
    head out = {.kept = KEPT_VALUE};
    double extent[4];
    bool minus;
    int power;
    if (!one_power(column->powers, rows, &power, &minus))
        return out;
    out.power = power;
    out.step = rows > 1 ? trunc((wholes[rows - 1] - wholes[0]) / (double)(rows - 1)) : 0;
    line_extent(wholes, rows, wholes[0], out.step, extent);
    double span = extent[3] - extent[2] + minus;
    if (extent[0] < -largest_whole || extent[1] > largest_whole || span > INT32_MAX)
        return out;
    out.start = wholes[0] + extent[2];
    out.minus = minus ? span : -1;
    out.kept = span < 1 ? KEPT_NOTHING : span <= UINT8_MAX ? KEPT_BYTE : span <= UINT16_MAX ? KEPT_SHORT : KEPT_WORD;
    return out;
}

/* Minus zero's mark where it stands. */
static void minus_put(const signed char *powers, size_t rows, const head *h, unsigned char *bytes) {
    uint16_t *shorts = (uint16_t *)(void *)bytes;
    int32_t *words = (int32_t *)(void *)bytes;
    for (size_t i = 0; i < rows; i++) {
        if (powers[i] != GW_POWER_MINUS_ZERO)
            continue;
        if (h->kept == KEPT_BYTE)
            bytes[i] = (uint8_t)h->minus;
        else if (h->kept == KEPT_SHORT)
            shorts[i] = (uint16_t)h->minus;
        else
            words[i] = (int32_t)h->minus;
    }
}

static void left_put(const gw_printed *column, size_t rows, const head *h, unsigned char *bytes) {
    if (h->kept == KEPT_BYTE) {
        left_byte(column->wholes, rows, h->start, h->step, bytes);
    } else if (h->kept == KEPT_SHORT) {
        left_short(column->wholes, rows, h->start, h->step, (uint16_t *)(void *)bytes);
    } else if (h->kept == KEPT_WORD) {
        left_word(column->wholes, rows, h->start, h->step, (int32_t *)(void *)bytes);
    } else if (h->kept == KEPT_VALUE) {
        gw_printed_values(column, rows);
        memcpy(bytes, column->wholes, rows * sizeof *column->wholes);
    }
    if (h->kept != KEPT_VALUE && h->minus > 0)
        minus_put(column->powers, rows, h, bytes);
}

static size_t in_eights(size_t length) {
    return (length + 7) / 8 * 8;
}

size_t gw_pack_most(size_t width, size_t rows) {
    return width * (sizeof(head) + rows * sizeof(double));
}

size_t gw_pack_strip(const gw_printed *columns, size_t width, size_t rows, unsigned char *bytes) {
    size_t length = width * sizeof(head);
    for (size_t c = 0; c < width; c++) {
        head h = head_make(&columns[c], rows);
        h.at = length;
        left_put(&columns[c], rows, &h, bytes + length);
        memcpy(bytes + c * sizeof h, &h, sizeof h);
        length += in_eights(rows * (size_t)h.kept);
    }
    return length;
}

/* ---- the file ----------------------------------------------------------------------------------- */

/* What failed first is what is told: a file that could not be written is too short to be read. */
static void failed(gw_packs *packs, int reason) {
    int none = 0;
    atomic_compare_exchange_strong(&packs->reason, &none, reason);
}

size_t gw_packs_reserve(gw_packs *packs, size_t length) {
    return atomic_fetch_add(&packs->length, length);
}

void gw_packs_place(gw_packs *packs, size_t row, size_t rows, size_t at) {
    if (GW_GROW(packs->strips, packs->count, packs->capacity))
        packs->strips[packs->count++] = (strip){row, rows, at};
    else
        failed(packs, ENOMEM);
}

/* Whether to go on after a system call that moved `moved` bytes. */
static bool moved_some(gw_packs *packs, ssize_t moved) {
    if (moved < 0 && errno == EINTR)
        return true;
    if (moved <= 0)
        failed(packs, moved < 0 ? errno : EIO);
    return moved > 0;
}

void gw_packs_write(gw_packs *packs, size_t at, const unsigned char *bytes, size_t length) {
    size_t done = 0;
    while (done < length) {
        ssize_t put = pwrite(packs->file, bytes + done, length - done, (off_t)(at + done));
        if (!moved_some(packs, put))
            break;
        done += put > 0 ? (size_t)put : 0;
    }
}

static bool file_read(gw_packs *packs, size_t at, void *bytes, size_t length) {
    size_t done = 0;
    while (done < length) {
        ssize_t got = pread(packs->file, (char *)bytes + done, length - done, (off_t)(at + done));
        if (!moved_some(packs, got))
            return false;
        done += got > 0 ? (size_t)got : 0;
    }
    return true;
}

/* ---- unpacking ---------------------------------------------------------------------------------- */

/* Values at a time. */
enum { PIECE = 8192 };

/* `values` are what is left over the line, from row `first` of the strip on. */
GW_WIDE static void values_make(const head *h, size_t first, size_t count, double *values) {
    const double start = h->start, step = h->step, minus = h->minus, from = (double)first;
    const double ten = gw_powers_of_ten[h->power < 0 ? -h->power : h->power];
    if (h->power < 0)
        for (size_t i = 0; i < count; i++) {
            double value = (start + step * (from + (double)(int32_t)i) + values[i]) / ten;
            values[i] = values[i] == minus ? -0.0 : value;
        }
    else
        for (size_t i = 0; i < count; i++) {
            double value = (start + step * (from + (double)(int32_t)i) + values[i]) * ten;
            values[i] = values[i] == minus ? -0.0 : value;
        }
}

GW_WIDE static void widen_byte(const uint8_t *left, size_t count, double *values) {
    for (size_t i = 0; i < count; i++)
        values[i] = (double)(int32_t)left[i];
}

GW_WIDE static void widen_short(const uint16_t *left, size_t count, double *values) {
    for (size_t i = 0; i < count; i++)
        values[i] = (double)(int32_t)left[i];
}

GW_WIDE static void widen_word(const int32_t *left, size_t count, double *values) {
    for (size_t i = 0; i < count; i++)
        values[i] = left[i];
}

/* Reads what is left over the line; false where it can't be read. */
static bool left_fetch(gw_packs *packs, size_t at, kept how, size_t count, double *values) {
    uint16_t shorts[PIECE];
    int32_t words[PIECE];
    uint8_t bytes[PIECE];
    bool right = true;
    switch (how) {
    case KEPT_NOTHING:
        memset(values, 0, count * sizeof *values);
        break;
    case KEPT_BYTE:
        if ((right = file_read(packs, at, bytes, count)))
            widen_byte(bytes, count, values);
        break;
    case KEPT_SHORT:
        if ((right = file_read(packs, at, shorts, count * sizeof *shorts)))
            widen_short(shorts, count, values);
        break;
    case KEPT_WORD:
        if ((right = file_read(packs, at, words, count * sizeof *words)))
            widen_word(words, count, values);
        break;
    case KEPT_VALUE:
        right = file_read(packs, at, values, count * sizeof *values);
        break;
    }
    return right;
}

/* Up to PIECE values of a column in a strip, from row `first` of it on; zeros where they can't be read. */
static void piece_fetch(gw_packs *packs, const strip *from, const head *h, size_t first, size_t count, double *values) {
    size_t at = from->at + (size_t)h->at + first * (size_t)h->kept;
    if (!left_fetch(packs, at, (kept)h->kept, count, values))
        memset(values, 0, count * sizeof *values);
    else if (h->kept != KEPT_VALUE)
        values_make(h, first, count, values);
}

static void strip_fetch(gw_packs *packs, const strip *from, size_t column, size_t first, size_t count, double *values) {
    head h;
    if (!file_read(packs, from->at + column * sizeof h, &h, sizeof h))
        h = (head){.kept = KEPT_NOTHING, .minus = -1};
    for (size_t done = 0; done < count; done += PIECE) {
        size_t some = count - done < PIECE ? count - done : PIECE;
        piece_fetch(packs, from, &h, first + done, some, values + done);
    }
}

/* The first strip that ends behind `row`. */
static size_t strip_find(const gw_packs *packs, size_t row) {
    size_t low = 0, high = packs->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (packs->strips[middle].row + packs->strips[middle].rows > row)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

void gw_packs_fetch(gw_packs *packs, size_t column, const double *room, size_t first, size_t count, double *values) {
    size_t at = strip_find(packs, first), end = first + count;
    while (first < end) {
        const strip *next = at < packs->count ? &packs->strips[at] : NULL;
        bool within = next != NULL && next->row <= first;
        size_t to = within         ? next->row + next->rows
                    : next != NULL ? next->row
                                   : end,
               some = (to < end ? to : end) - first;
        if (within)
            strip_fetch(packs, next, column, first - next->row, some, values);
        else
            memcpy(values, room + first, some * sizeof *values);
        at += within;
        first += some;
        values += some;
    }
}

void gw_packs_spread(gw_packs *packs, size_t column, double *room) {
    double values[PIECE];
    for (size_t k = 0; k < packs->count; k++)
        for (size_t done = 0; done < packs->strips[k].rows; done += PIECE) {
            const strip *from = &packs->strips[k];
            size_t some = from->rows - done < PIECE ? from->rows - done : PIECE;
            strip_fetch(packs, from, column, done, some, values);
            gw_room_write(room, (from->row + done) * sizeof *values, values, some * sizeof *values);
        }
}
