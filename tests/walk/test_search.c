/* Where to probe next: half-split, costs, trees. */
#include "assert_close.h"
#include "walk/search.h"

#include <stdlib.h>

enum { MOST = 64 };

typedef struct plan {
    int parent[MOST];
    double weight[MOST], cost[MOST];
} plan;

static gw_search line(plan *p, size_t count) {
    for (size_t i = 0; i < count; i++) {
        p->parent[i] = (int)i - 1;
        p->weight[i] = p->cost[i] = 1;
    }
    p->cost[count - 1] = 0; /* the end is known to be bad */
    return (gw_search){.count = count, .parent = p->parent, .weight = p->weight, .cost = p->cost};
}

/* Half-split, mean and worst (binary-search mathematics; NavPers and Army troubleshooting courses name the method). */
static void equal_suspects_are_half_split(void **state) {
    (void)state;
    const struct {
        size_t n, worst;
        double mean;
    } known[] = {{4, 2, 2.0000},  {5, 3, 2.4000},  {7, 3, 2.8571}, {8, 3, 3.0000},
                 {10, 4, 3.4000}, {16, 4, 4.0000}, {32, 5, 5.0000}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        plan p;
        gw_search_step step;
        gw_search search = line(&p, known[i].n);
        assert_true(gw_search_best(&search, &step));
        assert_true(step.has);
        assert_close(step.expected, known[i].mean, 1e-4);
        assert_close(step.expected_cost, known[i].mean, 1e-4);
        assert_int_equal(step.worst, known[i].worst);
        /* 8 suspects: behind the fourth */
        if (known[i].n % 2 == 0)
            assert_int_equal(step.node, known[i].n / 2 - 1);
    }
}

static void worst_is_the_logarithm_for_every_length(void **state) {
    (void)state;
    for (size_t n = 2; n <= 60; n++) {
        plan p;
        gw_search_step step;
        gw_search search = line(&p, n);
        size_t log = 0;
        while ((size_t)1 << log < n)
            log++;
        assert_true(gw_search_best(&search, &step));
        assert_int_equal(step.worst, log);
    }
}

static void one_suspect_needs_no_probe(void **state) {
    (void)state;
    plan p;
    gw_search_step step;
    gw_search search = line(&p, 1);
    assert_true(gw_search_best(&search, &step));
    assert_false(step.has);
    search.count = 0;
    assert_true(gw_search_best(&search, &step));
    assert_false(step.has);
}

/* Three suspects, weights 5, 3, 2; cut costs 1 and 1: probing behind the first splits 5 | 5, cost 1 + 0.5;
 * behind the second 8 | 2, cost 1 + 0.8 (by hand). */
static void likely_suspects_pull_the_cut(void **state) {
    (void)state;
    plan p;
    gw_search_step step;
    gw_search search = line(&p, 3);
    p.weight[0] = 5;
    p.weight[1] = 3;
    p.weight[2] = 2;
    assert_true(gw_search_best(&search, &step));
    assert_int_equal(step.node, 0);
    assert_close(step.expected, 1.5, 1e-12);
}

/* Four equal suspects, the middle point costs 4, its neighbours 1: the best first cut is a neighbour. By hand: first
 * behind the first costs 1, then (3/4) of the way cut behind the third at 1, then (2/4) the middle at 4: 1 + 0.75 + 2.
 */
static void hard_points_are_left_for_last(void **state) {
    (void)state;
    plan p;
    gw_search_step step;
    gw_search search = line(&p, 4);
    p.cost[1] = 4;
    assert_true(gw_search_best(&search, &step));
    assert_true(step.node == 0 || step.node == 2);
    assert_close(step.expected_cost, 3.75, 1e-12);
}

static void points_that_cannot_be_probed_are_not_chosen(void **state) {
    (void)state;
    plan p;
    gw_search_step step;
    gw_search search = line(&p, 8);
    for (size_t i = 0; i < 8; i++)
        p.cost[i] = i == 6 ? 1 : 0;
    assert_true(gw_search_best(&search, &step));
    assert_true(step.has);
    assert_int_equal(step.node, 6);
    assert_close(step.expected, 1, 1e-12);
}

/* Brute force over all orders of probing, written apart from the code under test: subsets of suspects as bits. */
static double best_cost(const gw_search *s, unsigned long set) {
    size_t all = s->count + (s->outside > 0 ? 1 : 0);
    double weight = 0, best = -1;
    for (size_t i = 0; i < all; i++)
        weight += set >> i & 1 ? (i < s->count ? s->weight[i] : s->outside) : 0;
    for (size_t node = 0; node < s->count; node++) {
        unsigned long way = 0;
        for (int k = (int)node; k >= 0; k = s->parent[k])
            way |= 1UL << k;
        if (!(s->cost[node] > 0) || !(set & way) || !(set & ~way))
            continue;
        double cost = weight * s->cost[node] + best_cost(s, set & way) + best_cost(s, set & ~way);
        best = best < 0 || cost < best ? cost : best;
    }
    return best < 0 ? 0 : best;
}

static double total(const gw_search *s) {
    double sum = s->outside;
    for (size_t i = 0; i < s->count; i++)
        sum += s->weight[i];
    return sum;
}

static void lines_and_trees_are_exact(void **state) {
    (void)state;
    unsigned seed = 4711;
    for (int round = 0; round < 60; round++) {
        plan p;
        gw_search_step step;
        size_t count = 3 + (size_t)round % 6;
        gw_search search = line(&p, count);
        for (size_t i = 0; i < count; i++) {
            seed = seed * 1103515245u + 12345u;
            p.weight[i] = 1 + (double)(seed >> 16 & 7);
            seed = seed * 1103515245u + 12345u;
            p.cost[i] = (double)(1u << (seed >> 16 & 3) % 3);
            seed = seed * 1103515245u + 12345u;
            if (round % 2 && i > 0)
                p.parent[i] = (int)((seed >> 16) % i);
        }
        search.outside = round % 3;
        assert_true(gw_search_best(&search, &step));
        double brute = best_cost(&search, (1UL << (count + (search.outside > 0 ? 1 : 0))) - 1);
        assert_close(step.expected_cost, brute / total(&search), 1e-9);
    }
}

static void long_lines_and_large_trees_are_answered(void **state) {
    (void)state;
    enum { large = 1000 };
    static int parent[large];
    static double weight[large], cost[large];
    gw_search_step step;
    for (int i = 0; i < large; i++) {
        parent[i] = i - 1;
        weight[i] = cost[i] = 1;
    }
    gw_search search = {.count = large, .parent = parent, .weight = weight, .cost = cost};
    assert_true(gw_search_best(&search, &step));
    assert_true(step.has && step.node == large / 2 - 1);
    for (int i = 1; i < large; i++)
        parent[i] = (i - 1) / 2;
    assert_true(gw_search_best(&search, &step));
    assert_true(step.has);
}

/* Weights 2, 1, 1, 2: halves cost 6 + 3 + 3 (by hand, times the weights' sum), one end first 6 + 4 + 2, as much; halves
 * need two probes at worst, the other three. */
static void of_plans_that_cost_the_same_the_shorter_one(void **state) {
    (void)state;
    plan p;
    gw_search_step step;
    gw_search search = line(&p, 4);
    p.weight[0] = p.weight[3] = 2;
    assert_true(gw_search_best(&search, &step));
    assert_close(step.expected, 2, 1e-12);
    assert_int_equal(step.node, 1);
    assert_int_equal(step.worst, 2);
}

/* Three branches of weights 1, 2, 1 at costs 4, 5, 4. By hand: the first, then the last 4 * 4 + 3 * 4 = 28; the middle
 * one, then either 4 * 5 + 2 * 4 = 28 as well. Two probes at worst in both, but only the middle one halves what is
 * left.
 */
static void of_plans_that_cost_the_same_the_more_even_one(void **state) {
    (void)state;
    static const int parent[] = {-1, -1, -1};
    static const double weight[] = {1, 2, 1}, cost[] = {4, 5, 4};
    gw_search_step step;
    gw_search search = {.count = 3, .parent = parent, .weight = weight, .cost = cost};
    assert_true(gw_search_best(&search, &step));
    assert_close(step.expected_cost, 28.0 / 4, 1e-12);
    assert_int_equal(step.worst, 2);
    assert_int_equal(step.node, 1);
}

static void branches_out_of_reach_leave_nothing_to_probe(void **state) {
    (void)state;
    static const int parent[] = {-1, 0, 0};
    static const double weight[] = {1, 1, 1}, cost[] = {0, 0, 0};
    gw_search_step step;
    gw_search search = {.count = 3, .parent = parent, .weight = weight, .cost = cost};
    assert_true(gw_search_best(&search, &step));
    assert_false(step.has);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(of_plans_that_cost_the_same_the_shorter_one),
        cmocka_unit_test(of_plans_that_cost_the_same_the_more_even_one),
        cmocka_unit_test(branches_out_of_reach_leave_nothing_to_probe),
        cmocka_unit_test(equal_suspects_are_half_split),
        cmocka_unit_test(worst_is_the_logarithm_for_every_length),
        cmocka_unit_test(one_suspect_needs_no_probe),
        cmocka_unit_test(likely_suspects_pull_the_cut),
        cmocka_unit_test(hard_points_are_left_for_last),
        cmocka_unit_test(points_that_cannot_be_probed_are_not_chosen),
        cmocka_unit_test(lines_and_trees_are_exact),
        cmocka_unit_test(long_lines_and_large_trees_are_answered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
