/* Where to probe next: least expected cost over a set of suspects of which exactly one is at fault. Private to
 * src/walk/. */
#ifndef GAINWALK_WALK_SEARCH_H
#define GAINWALK_WALK_SEARCH_H

#include <stdbool.h>
#include <stddef.h>

/* What probing costs by reach; only the ratios matter. */
extern const double gw_reach_costs[3];

/* Suspects as a forest: suspect i is what leads to node i; `parent[i]` is the node before it, -1 at a root. Probing
 * node i at `cost[i]` (0: can't be probed) shows a fault exactly when the culprit lies on the way from its root to i.
 * `outside` is the weight of one more suspect that no probe reaches, behind all nodes. */
typedef struct gw_search {
    size_t count;
    const int *parent;
    const double *weight, *cost;
    double outside;
} gw_search;

typedef struct gw_search_step {
    bool has;             /* something can still be told apart */
    size_t node;          /* to be probed next */
    double expected_cost; /* to the end, over the weights */
    double expected;      /* probes to the end, on average */
    size_t worst;         /* probes to the end, at most */
} gw_search_step;

/* The best next probe. Exact up to 62 suspects (dynamic programming over the sets of suspects that can be left), and
 * for a single line of up to 400 (over its spans); beyond that the cut that best halves the weight for its cost. Equal
 * weights and costs give half-split: at most ceil(log2 n) probes. False when memory is out. */
bool gw_search_best(const gw_search *search, gw_search_step *out);

#endif
