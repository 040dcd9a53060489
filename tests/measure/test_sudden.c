/* Whether a level goes at once or little by little: levels drawn by closed forms, whose course is known. */
#include "measure/sudden.h"

#include "measure/measured.h"

enum { N = 4000, FIRST = 1800, END = 2200, WINDOW = 20, LOW = END - FIRST };

typedef double shape(double at);

static gw_sudden_level mean_of(const void *signal, size_t from, size_t to) {
    const double *levels = signal;
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += levels[i];
    return (gw_sudden_level){.value = sum / (double)(to - from)};
}

/* The same where each level of a window has a deviation of a fifth. */
static gw_sudden_level noisy_mean(const void *signal, size_t from, size_t to) {
    gw_sudden_level out = mean_of(signal, from, to);
    out.sigma = 0.2;
    return out;
}

static gw_sudden_level unknown(const void *signal, size_t from, size_t to) {
    (void)signal;
    assert_true(from < to && to <= N);
    return (gw_sudden_level){.value = -1};
}

static bool goes_by(const double *levels, gw_sudden_level_fn *level, size_t n, size_t first, size_t end) {
    gw_sudden_signal signal = {levels, level, n, WINDOW, WINDOW / 4, WINDOW / 4};
    return gw_sudden(&signal, first, end);
}

static bool goes(const double *levels, size_t first, size_t end) {
    return goes_by(levels, mean_of, N, first, end);
}

/* A level of 1, and `left` from `first` to `end`. */
static void cut(double *levels, size_t first, size_t end, double left) {
    for (size_t i = 0; i < N; i++)
        levels[i] = i >= first && i < end ? left : 1;
}

/* `at`: -1 at the begin of the stretch, 0 in its middle, 1 at its end. */
static void draw(double *levels, shape *of) {
    for (size_t i = 0; i < N; i++)
        levels[i] = of(((double)i - 0.5 * (FIRST + END)) / (0.5 * LOW));
}

static void contacts_go_at_once(void **state) {
    (void)state;
    double levels[N];
    for (double left = 0; left < 0.6; left += 0.1) {
        cut(levels, FIRST, END, left);
        assert_true(goes(levels, FIRST, END));
        cut(levels, 0, END, left); /* and comes at once, where the record begins without */
        assert_true(goes(levels, 0, END));
        cut(levels, FIRST, N, left);
        assert_true(goes(levels, FIRST, N));
    }
    /* bounces before and behind */
    cut(levels, FIRST, END, 0);
    for (size_t i = 0; i < 12; i++)
        levels[FIRST - 40 + i] = levels[FIRST - 80 + i] = levels[END + 30 + i] = 0;
    assert_true(goes(levels, FIRST, END));
    /* a level that sways by a tenth all the time */
    cut(levels, FIRST, END, 0);
    for (size_t i = 0; i < N; i++)
        levels[i] *= 1 + 0.1 * sin(2 * 3.14159265358979 * (double)i / 900);
    assert_true(goes(levels, FIRST, END));
    /* soon behind the record's begin there is less to be seen, but enough */
    cut(levels, 60, 60 + LOW, 0);
    assert_true(goes(levels, 60, 60 + LOW));
}

static double cosine(double at) { /* half of it at the stretch's ends */
    return 0.5 - 0.5 * cos(0.5 * 3.14159265358979 * at);
}

static double triangle(double at) {
    double turn = fmod(fabs(at) / 4, 1);
    return turn < 0.5 ? 2 * turn : 2 - 2 * turn;
}

static double dip(double at) {
    return 1 - exp(-log(2) * at * at);
}

static double decay(double at) { /* a tenth at the stretch's end, where the next note begins */
    return exp(-log(10) * 0.5 * (fmod(at + 9, 5) - 3));
}

static double swells(double at) {
    return 1 / (1 + exp(-2 * (at - 1)));
}

static void levels_go_little_by_little(void **state) {
    (void)state;
    shape *const shapes[] = {cosine, triangle, dip, decay};
    double levels[N];
    for (size_t k = 0; k < sizeof shapes / sizeof *shapes; k++) {
        draw(levels, shapes[k]);
        assert_false(goes(levels, FIRST, END));
        /* the same soon behind the begin of the record: the slope tells */
        assert_false(goes_by(levels + FIRST - 60, mean_of, N - FIRST + 60, 60, 60 + LOW));
    }
    draw(levels, swells);
    assert_false(goes_by(levels + FIRST, mean_of, N - FIRST, 0, LOW));
    /* the end of one note, and the begin of the next */
    draw(levels, decay);
    assert_false(goes_by(levels + FIRST, mean_of, N - FIRST, 0, LOW));
}

static void hardly_lower_does_not_go(void **state) {
    (void)state;
    double levels[N];
    cut(levels, FIRST, END, 0.8);
    assert_false(goes(levels, FIRST, END));
}

/* What can't be told counts as going at once. */
static void what_cannot_be_told(void **state) {
    (void)state;
    double levels[N];
    draw(levels, cosine);
    assert_true(goes_by(levels, unknown, N, FIRST, END));
    assert_true(goes_by(levels, noisy_mean, N, FIRST, END));
    assert_true(goes_by(levels + FIRST - 30, mean_of, N - FIRST + 30, 30, 30 + LOW));
    assert_true(goes_by(levels, mean_of, 4, 1, 3));
}

/* A record in which one place is as low as another. */
static gw_sudden_level checked(const void *signal, size_t from, size_t to) {
    const size_t *n = signal;
    assert_true(from < to);
    assert_true(to <= *n);
    return (gw_sudden_level){.value = 1};
}

/* Whatever is asked, only places of the record are looked at. */
static void no_place_outside(void **state) {
    (void)state;
    uint64_t random = 5;
    for (int k = 0; k < 20000; k++) {
        size_t n = 1 + (size_t)(random_even(&random) * (k % 2 ? 40 : N));
        size_t first = k % 3 ? (size_t)(random_even(&random) * (double)n) : 0;
        size_t end = first + 1 + (size_t)(random_even(&random) * (double)(n - first - 1));
        gw_sudden_signal signal = {.signal = &n,
                                   .level = checked,
                                   .n = n,
                                   .window = 1 + (size_t)(random_even(&random) * 50),
                                   .blur = (size_t)(random_even(&random) * 20),
                                   .inner = (size_t)(random_even(&random) * 20)};
        gw_sudden(&signal, first, end);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(contacts_go_at_once),      cmocka_unit_test(levels_go_little_by_little),
        cmocka_unit_test(hardly_lower_does_not_go), cmocka_unit_test(what_cannot_be_told),
        cmocka_unit_test(no_place_outside),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
