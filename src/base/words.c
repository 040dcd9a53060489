#include "gainwalk/base.h"

#include <string.h>

enum { WORD_MAX = 63 };

static int lower(char character) {
    return character >= 'A' && character <= 'Z' ? character - 'A' + 'a' : (unsigned char)character;
}

bool gw_word_equal(const char *one, const char *other) {
    while (*one != '\0' && lower(*one) == lower(*other)) {
        one++;
        other++;
    }
    return lower(*one) == lower(*other);
}

static size_t smallest(size_t a, size_t b, size_t c) {
    size_t least = a < b ? a : b;
    return least < c ? least : c;
}

/* Optimal string alignment distance without regard to case; words longer than WORD_MAX are not compared. */
static size_t distance(const char *one, const char *other) {
    size_t n = strlen(one), m = strlen(other);
    if (n > WORD_MAX || m > WORD_MAX)
        return SIZE_MAX;
    size_t rows[3][WORD_MAX + 1];
    for (size_t j = 0; j <= m; j++)
        rows[0][j] = j;
    for (size_t i = 1; i <= n; i++) {
        size_t *now = rows[i % 3], *last = rows[(i + 2) % 3], *before = rows[(i + 1) % 3];
        now[0] = i;
        for (size_t j = 1; j <= m; j++) {
            size_t differs = lower(one[i - 1]) != lower(other[j - 1]);
            now[j] = smallest(last[j] + 1, now[j - 1] + 1, last[j - 1] + differs);
            bool swapped =
                i > 1 && j > 1 && lower(one[i - 1]) == lower(other[j - 2]) && lower(one[i - 2]) == lower(other[j - 1]);
            if (swapped && before[j - 2] + 1 < now[j])
                now[j] = before[j - 2] + 1;
        }
    }
    return rows[n % 3][m];
}

const char *gw_word_nearest(const char *word, const char *const *known) {
    size_t length = strlen(word);
    size_t best = length / 3 > 1 ? length / 3 : 1;
    const char *nearest = NULL;
    for (; *known != NULL; known++) {
        size_t d = distance(word, *known);
        if (d < best || (d == best && nearest == NULL)) {
            best = d;
            nearest = *known;
        }
    }
    return nearest;
}
