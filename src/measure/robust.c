#include "robust.h"

#include "gainwalk/capture.h"

#include <math.h>
#include <stdlib.h>

static void swap(double *one, double *other) {
    double kept = *one;
    *one = *other;
    *other = kept;
}

/* The middle one of three, so that sorted and constant records stay fast. */
static double pivot_of(const double *values, size_t low, size_t high) {
    double a = values[low], b = values[low + (high - low) / 2], c = values[high];
    return fmax(fmin(a, b), fmin(fmax(a, b), c));
}

double gw_rank_select(double *values, size_t count, size_t rank) {
    size_t low = 0, high = count - 1;
    while (low < high) {
        double pivot = pivot_of(values, low, high);
        size_t below = low, at = low, above = high + 1; /* values[low..below) < pivot, [below..at) equal, [above..) > */
        while (at < above) {
            if (values[at] < pivot)
                swap(&values[below++], &values[at++]);
            else if (values[at] > pivot)
                swap(&values[at], &values[--above]);
            else
                at++;
        }
        if (rank < below)
            high = below - 1;
        else if (rank >= above)
            low = above;
        else
            return pivot;
    }
    return values[rank];
}

double gw_median(double *values, size_t count) {
    if (count == 0)
        return 0;
    double upper = gw_rank_select(values, count, count / 2);
    if (count % 2)
        return upper;
    double lower = values[0];
    for (size_t i = 1; i < count / 2; i++)
        lower = fmax(lower, values[i]);
    return (lower + upper) / 2;
}

bool gw_robust_sigma(const double *values, const unsigned char *marks, size_t n, double *sigma) {
    *sigma = 0;
    double *kept = malloc((n ? n : 1) * sizeof *kept);
    if (!kept)
        return false;
    size_t count = 0;
    for (size_t i = 0; i < n; i++)
        if (!marks || marks[i] == GW_SAMPLE_PRESENT)
            kept[count++] = values[i];
    if (count > 1) {
        double middle = gw_median(kept, count);
        for (size_t i = 0; i < count; i++)
            kept[i] = fabs(kept[i] - middle);
        *sigma = gw_median(kept, count) / GW_GAUSS_QUARTILE;
    }
    free(kept);
    return true;
}
