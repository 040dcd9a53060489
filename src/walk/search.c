#include "walk/search.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

const double gw_reach_costs[3] = {1, 2, 4};

enum { line_most = 400, set_most = 62, states_most = 1 << 16 };
static const size_t slots = (size_t)2 * states_most; /* of the table of sets: half of them at most are taken */

/* Two plans cost the same within this. */
static const double tie = 1e-9;

static double total(const gw_search *search) {
    double sum = search->outside;
    for (size_t i = 0; i < search->count; i++)
        sum += search->weight[i];
    return sum;
}

/* ---- a single line: spans ---- */

static bool is_line(const gw_search *search) {
    for (size_t i = 0; i < search->count; i++)
        if (search->parent[i] != (int)i - 1)
            return false;
    return true;
}

typedef struct span_plan {
    double cost, probes; /* weight times what is still to pay; to probe */
    unsigned worst;
    unsigned cut; /* suspects before it are the nearer part; 0 where nothing can be told apart */
} span_plan;

typedef struct line {
    size_t n;    /* suspects, the one outside included */
    double *sum; /* running weight */
    const double *cost;
    span_plan *plans; /* n+1 by n+1 */
} line;

static span_plan *plan_at(const line *l, size_t from, size_t to) {
    return &l->plans[from * (l->n + 1) + to];
}

/* Of equal plans the more even one: fewer probes at worst, then the cut nearer the middle. */
static bool better(const span_plan *one, const span_plan *other, size_t from, size_t to) {
    if (other->cut == 0 || fabs(one->cost - other->cost) > tie * (1 + fabs(other->cost)))
        return other->cut == 0 || one->cost < other->cost;
    if (one->worst != other->worst)
        return one->worst < other->worst;
    double middle = (double)(from + to) / 2;
    return fabs(one->cut - middle) < fabs(other->cut - middle) - 0.25;
}

static void plan_span(const line *l, size_t from, size_t to) {
    span_plan *best = plan_at(l, from, to);
    double weight = l->sum[to] - l->sum[from];
    for (size_t cut = from + 1; cut < to; cut++) {
        if (!(l->cost[cut - 1] > 0))
            continue;
        const span_plan *near = plan_at(l, from, cut), *far = plan_at(l, cut, to);
        span_plan here = {.cost = weight * l->cost[cut - 1] + near->cost + far->cost,
                          .probes = weight + near->probes + far->probes,
                          .worst = 1 + (near->worst > far->worst ? near->worst : far->worst),
                          .cut = (unsigned)cut};
        if (better(&here, best, from, to))
            *best = here;
    }
}

static bool search_line(const gw_search *search, gw_search_step *out) {
    size_t n = search->count + (search->outside > 0 ? 1 : 0);
    line l = {.n = n, .cost = search->cost};
    l.sum = calloc(n + 1, sizeof *l.sum);
    l.plans = calloc((n + 1) * (n + 1), sizeof *l.plans);
    bool fine = l.sum && l.plans;
    for (size_t i = 0; fine && i < n; i++)
        l.sum[i + 1] = l.sum[i] + (i < search->count ? search->weight[i] : search->outside);
    for (size_t length = 2; fine && length <= n; length++)
        for (size_t from = 0; from + length <= n; from++)
            plan_span(&l, from, from + length);
    if (fine && n >= 2 && plan_at(&l, 0, n)->cut > 0) {
        const span_plan *plan = plan_at(&l, 0, n);
        *out = (gw_search_step){.has = true,
                                .node = plan->cut - 1,
                                .expected_cost = plan->cost / l.sum[n],
                                .expected = plan->probes / l.sum[n],
                                .worst = plan->worst};
    }
    free(l.plans);
    free(l.sum);
    return fine;
}

/* ---- a tree: sets of suspects ---- */

typedef struct set_plan {
    uint64_t set; /* 0: free slot */
    double cost, probes;
    unsigned worst, node; /* node: count where nothing can be told apart */
} set_plan;

typedef struct sets {
    const gw_search *search;
    uint64_t *way; /* suspects on the way to each node */
    set_plan *table;
    size_t used;
    bool full;
} sets;

static set_plan *find_slot(sets *s, uint64_t set) {
    uint64_t hash = set * UINT64_C(0x9E3779B97F4A7C15);
    size_t i = (size_t)(hash >> 47) % slots;
    while (s->table[i].set != 0 && s->table[i].set != set)
        i = (i + 1) % slots;
    return &s->table[i];
}

static double set_weight(const gw_search *search, uint64_t set) {
    double sum = 0;
    for (size_t i = 0; i < search->count; i++)
        if (set >> i & 1)
            sum += search->weight[i];
    return set >> search->count & 1 ? sum + search->outside : sum;
}

/* How uneven a cut is: what decides between plans of equal cost. */
static double unevenness(const gw_search *search, uint64_t bad, uint64_t good) {
    return fabs(set_weight(search, bad) - set_weight(search, good));
}

static set_plan plan_set(sets *s, uint64_t set);

static bool try_node(sets *s, uint64_t set, size_t node, double weight, set_plan *best) {
    uint64_t bad = set & s->way[node], good = set & ~s->way[node];
    if (!(s->search->cost[node] > 0) || !bad || !good)
        return false;
    set_plan one = plan_set(s, bad), other = plan_set(s, good);
    set_plan here = {.set = set,
                     .cost = weight * s->search->cost[node] + one.cost + other.cost,
                     .probes = weight + one.probes + other.probes,
                     .worst = 1 + (one.worst > other.worst ? one.worst : other.worst),
                     .node = (unsigned)node};
    bool first = best->node == s->search->count, same = fabs(here.cost - best->cost) <= tie * (1 + fabs(best->cost));
    bool take = first || (!same && here.cost < best->cost);
    if (!first && same) {
        uint64_t old = s->way[best->node];
        take = here.worst < best->worst ||
               (here.worst == best->worst &&
                unevenness(s->search, bad, good) < unevenness(s->search, set & old, set & ~old) - tie);
    }
    if (take)
        *best = here;
    return true;
}

/* The depth of the recursion is bounded by the number of suspects: each step leaves fewer. */
static set_plan plan_set(sets *s, uint64_t set) {
    set_plan *slot = find_slot(s, set);
    if (slot->set == set || s->full)
        return *slot;
    set_plan best = {.set = set, .node = (unsigned)s->search->count};
    double weight = set_weight(s->search, set);
    for (size_t node = 0; node < s->search->count; node++)
        try_node(s, set, node, weight, &best);
    if (s->used + 1 >= states_most) {
        s->full = true;
        return best;
    }
    slot = find_slot(s, set);
    *slot = best;
    s->used++;
    return best;
}

/* `*exact` is false where there are too many sets. */
static bool search_sets(const gw_search *search, gw_search_step *out, bool *exact) {
    sets s = {.search = search};
    s.way = calloc(search->count, sizeof *s.way);
    s.table = calloc(slots, sizeof *s.table);
    bool fine = s.way && s.table;
    for (size_t i = 0; fine && i < search->count; i++)
        for (int k = (int)i; k >= 0; k = search->parent[k])
            s.way[i] |= UINT64_C(1) << k;
    if (fine) {
        uint64_t all = (UINT64_C(1) << search->count) - 1;
        if (search->outside > 0)
            all |= UINT64_C(1) << search->count;
        set_plan plan = plan_set(&s, all);
        double weight = set_weight(search, all);
        *exact = !s.full;
        if (plan.node < search->count && weight > 0)
            *out = (gw_search_step){.has = true,
                                    .node = plan.node,
                                    .expected_cost = plan.cost / weight,
                                    .expected = plan.probes / weight,
                                    .worst = plan.worst};
    }
    free(s.table);
    free(s.way);
    return fine;
}

/* ---- too large for either: the cut that best halves what is left ---- */

static double way_weight(const gw_search *search, size_t node) {
    double sum = 0;
    for (int k = (int)node; k >= 0; k = search->parent[k])
        sum += search->weight[k];
    return sum;
}

static void search_greedy(const gw_search *search, gw_search_step *out) {
    double all = total(search), best = 0;
    for (size_t i = 0; i < search->count; i++) {
        double bad = way_weight(search, i) / all;
        if (!(search->cost[i] > 0) || bad <= 0 || bad >= 1)
            continue;
        double bits = -(bad * log2(bad) + (1 - bad) * log2(1 - bad));
        double gain = bits / search->cost[i];
        if (!out->has || gain > best + tie) {
            best = gain;
            *out = (gw_search_step){.has = true, .node = i};
        }
    }
    size_t suspects = search->count + (search->outside > 0 ? 1 : 0);
    out->expected = out->has ? log2((double)suspects) : 0;
    out->worst = (size_t)ceil(out->expected);
    out->expected_cost = out->expected;
}

bool gw_search_best(const gw_search *search, gw_search_step *out) {
    *out = (gw_search_step){0};
    if (search->count == 0 || !(total(search) > 0))
        return true;
    if (search->count <= line_most && is_line(search))
        return search_line(search, out);
    bool exact = false;
    if (search->count <= set_most && !search_sets(search, out, &exact))
        return false;
    if (!exact) {
        *out = (gw_search_step){0};
        search_greedy(search, out);
    }
    return true;
}
