/* A click in noise that lies on a slow bend, in a record of a fraction of a cycle of the mains: simulated. */
#include "measure/measured.h"

static size_t crackle_of(const double *v, size_t n, double rate) {
    gw_readings *r = measured(v, n, rate, 0);
    size_t count = 0;
    for (size_t k = 0; k < r->event_count; k++)
        count += r->events[k].kind == GW_EVENT_CRACKLE;
    gw_readings_free(r);
    return count;
}

/* A click of twelve deviations of the noise stands out of it, whether a slow bend lies under both (a fraction of a
 * cycle of hum, a hundred times as high as the noise and more) or not: the bend is no noise. */
static void a_bend_hides_no_click(void **state) {
    (void)state;
    enum { LENGTH = 4000, AT = 2500 };
    static const double cycles[] = {0.04, 0.06, 0.11}, hums[] = {0, 0.5, 5};
    for (size_t k = 0; k < 9; k++) {
        uint64_t random = 56;
        double of_mains = cycles[k % 3], rate = LENGTH / of_mains * 50, *v = new_volts(LENGTH);
        for (size_t i = 0; i < LENGTH; i++)
            v[i] = hums[k / 3] * cos(two_pi * of_mains * ((double)i / LENGTH - 0.5));
        add_noise(v, LENGTH, 1e-3, &random);
        v[AT] += 12e-3;
        assert_int_equal(crackle_of(v, LENGTH, rate), 1);
        free(v);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bend_hides_no_click),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
