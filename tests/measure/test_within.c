/* Whoever reads a record reads that record alone: it stands where readable memory ends, and reaching beyond stops the
 * test. */
#include "measure/measured.h"

#include <fcntl.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

static const double rate = 48000;

/* A page of doubles with a page behind it that no one may read; where the first ends. */
static double *forbidden_from(size_t page) {
    int zeros = open("/dev/zero", O_RDWR);
    assert_true(zeros >= 0);
    double *pages = mmap(NULL, 2 * page, PROT_READ | PROT_WRITE, MAP_PRIVATE, zeros, 0);
    assert_true(pages != MAP_FAILED);
    close(zeros);
    double *end = pages + page / sizeof *pages;
    assert_int_equal(mprotect(end, page, PROT_NONE), 0);
    return end;
}

/* A sine of a volt in noise, or noise alone, in as few samples as make hardly one window of an envelope. The mean
 * square of n samples of a sine is 1/2 to within 1/(2n·sin ω), ω being what it turns by from one to the next. */
static void nothing_is_read_beyond_the_end(void **state) {
    (void)state;
    enum { LEAST = 16, MOST = 160 };
    static const double periods[] = {2.1, 2.7, 3.3, 3.9, 5.3, 11, 0}; /* samples */
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    double *end = forbidden_from(page);
    uint64_t random = 94;
    for (size_t n = LEAST; n <= MOST; n += n < 80 ? 1 : 16)
        for (size_t k = 0; k < sizeof periods / sizeof *periods; k++) {
            double *v = end - n;
            memset(v, 0, n * sizeof *v);
            if (periods[k] > 0)
                add_sine(v, n, rate, 1, rate / periods[k], 0.3);
            add_noise(v, n, 1e-3, &random);
            gw_readings *r = measured(v, n, rate, 0);
            double most = periods[k] > 0 ? 1 / ((double)n * sin(two_pi / periods[k])) : 1e-3;
            assert_close(value_of(r, GW_TOTAL_RMS), periods[k] > 0 ? sqrt(0.5) : 1e-3, most + 1e-3);
            gw_readings_free(r);
        }
    assert_int_equal(munmap(end - page / sizeof *end, 2 * page), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_read_beyond_the_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
