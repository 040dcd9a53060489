/* A floor of what is measured: one transform of each record by the library that the program uses, and nothing else.
 * Built and run by scripts/bench.
 *
 * usage: transform SAMPLES RECORDS
 */
#include <kiss_fftr.h>
#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv) {
    int given = argc > 2 ? atoi(argv[1]) : 0;
    if (given < 2 || given > 1 << 24)
        return 2;
    int n = kiss_fftr_next_fast_size_real(given);
    kiss_fft_scalar *record = malloc((size_t)n * sizeof *record);
    kiss_fft_cpx *bins = malloc(((size_t)n / 2 + 1) * sizeof *bins);
    kiss_fftr_cfg plan = kiss_fftr_alloc(n, 0, NULL, NULL);
    if (record == NULL || bins == NULL || plan == NULL)
        return 2;
    for (int i = 0; i < n; i++)
        record[i] = (kiss_fft_scalar)(i % 251) / 251;
    double sum = 0; /* so that nothing is left out as unused */
    for (long left = atol(argv[2]); left > 0; left--) {
        kiss_fftr(plan, record, bins);
        sum += bins[1].r;
    }
    printf("%g\n", sum);
    kiss_fftr_free(plan);
    free(bins);
    free(record);
    return 0;
}
