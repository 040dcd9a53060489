/* What edges that pass between two samples leave unsure of the period and the mean: closed forms. */
#include "assert_close.h"
#include "measure/edges.h"

/* Two edges a period apart, each even within a sample: the period errs by the difference of two even errors, whose
 * variance is 2/12. Ten of them: 12/12/(10·99) (a straight line's slope). */
static void edges_leave_so_much_unsure(void **state) {
    (void)state;
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.count = 2, .height_v = 1}, 2, 50), sqrt(2.0 / 12), 1e-12);
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.count = 10, .height_v = 1}, 10.4, 50), sqrt(1.0 / 990),
                 1e-12);
    assert_close(gw_edges_period_uncertainty(&(gw_edges){0}, 10.4, 50), 0, 0);
    /* of steep ones, half a sample later each time: terms of a saw, 1/(pi k), times 1/(pi k) of a filter, up to k = 3;
     * those of odd k turn round from edge to edge (2), the second stays: √(1 + 1/81)/π² of it, as two deviations */
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.steepest = 0.5}, 2.3, 50.5), 0.5 * 0.10194470, 1e-8);
    /* ten, all at the same place of a sample; and by a thousandth of one further each time: 2·π/1000 of 1/π² a period,
     * twice and three times that of a fourth and a ninth (a line through so short a part of a sine: within a
     * thousandth)
     */
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.steepest = 1}, 10.4, 50), 0, 1e-12);
    assert_close(gw_edges_period_uncertainty(&(gw_edges){.steepest = 1}, 10.4, 50.001), 3.7140e-4, 1e-6);
    /* four edges of 2 V, each wrong by a sample's twelfth part's root: 2·√(4/12)/1000 */
    assert_close(gw_edges_mean_uncertainty(&(gw_edges){.count = 4, .height_v = 2}, 1000), 0.0011547005, 1e-9);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(edges_leave_so_much_unsure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
