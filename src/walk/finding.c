/* Findings while they are gathered. */
#include "walk/walker.h"

gw_finding *gw_finding_add(gw_walker *walker, gw_finding_code code, gw_status status, int from, int to) {
    if (!GW_GROW(walker->findings, walker->finding_count, walker->finding_capacity)) {
        walker->failed = true;
        return NULL;
    }
    gw_finding *found = &walker->findings[walker->finding_count++];
    *found = (gw_finding){
        .code = code, .status = status, .from = from, .to = to, .point = to, .rail = -1, .evidence = "", .follows = -1};
    return found;
}

int gw_finding_at(const gw_walker *walker, gw_finding_code code, int point) {
    for (size_t i = 0; i < walker->finding_count; i++)
        if (walker->findings[i].code == code && walker->findings[i].point == point)
            return (int)i;
    return -1;
}

bool gw_finding_is_doubt(gw_finding_code code) {
    return code == GW_FOUND_PROBE_SUSPECT || code == GW_FOUND_CAPTURE_POOR;
}

/* Rails first, then in the order of the signal; of one point, as they were found. */
static bool belongs_before(const gw_walker *walker, const gw_finding *one, const gw_finding *other) {
    if ((one->rail >= 0) != (other->rail >= 0))
        return one->rail >= 0;
    if (one->rail >= 0)
        return one->rail < other->rail;
    int depth = walker->nodes[one->point].depth, other_depth = walker->nodes[other->point].depth;
    return depth != other_depth ? depth < other_depth : one->point < other->point;
}

void gw_findings_sort(gw_walker *walker) {
    for (size_t i = 1; i < walker->finding_count; i++) {
        gw_finding moving = walker->findings[i];
        size_t k = i;
        for (; k > 0 && belongs_before(walker, &moving, &walker->findings[k - 1]); k--)
            walker->findings[k] = walker->findings[k - 1];
        walker->findings[k] = moving;
    }
}
