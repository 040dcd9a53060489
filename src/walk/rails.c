/* Rails first: their DC and their ripple. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

static gw_judgement judge_dc(const gw_walker *walker, const gw_point *rail, const gw_walk_point *out) {
    gw_judgement dc = {.kind = GW_JUDGE_VOLTS, .status = GW_UNJUDGED};
    const gw_readings *readings = out->readings;
    double random = 0;
    if (out->metered) {
        dc.has_value = true;
        dc.value = out->meter_v;
        dc.u95 = out->meter_u95_v;
    } else if (!readings || readings->dc_hidden || !gw_reading_has(readings, GW_DC)) {
        dc.why = readings && readings->dc_hidden ? "the capture hides DC" : "DC cannot be read";
        return dc;
    } else {
        dc.has_value = true;
        dc.value = readings->values[GW_DC].value;
        dc.u95 = readings->values[GW_DC].u95;
        random = 2 * readings->values[GW_DC].u_random;
    }
    if (rail->dc.origin == GW_ORIGIN_NONE) {
        dc.why = "no voltage is stated";
        return dc;
    }
    dc.has_expected = true;
    dc.expected = rail->dc.value;
    dc.low = rail->dc.low;
    dc.high = rail->dc.high;
    dc.how = rail->dc.how;
    dc.status = gw_judge_range(dc.value, dc.u95, dc.low, dc.high, walker->chain->simple_decision, random);
    if (dc.status == GW_UNSURE)
        dc.why = "the limit lies within the uncertainty";
    return dc;
}

static gw_judgement judge_ripple(const gw_walker *walker, const gw_point *rail, const gw_readings *readings) {
    gw_judgement ripple = {.kind = GW_JUDGE_VOLTS, .status = GW_UNJUDGED};
    const gw_reading *hum = readings ? &readings->values[GW_HUM] : NULL;
    if (!hum || hum->state == GW_READING_NONE) {
        ripple.why = hum && hum->why ? hum->why : "no capture";
        return ripple;
    }
    ripple.has_value = true;
    ripple.below = hum->state == GW_READING_BELOW;
    ripple.value = hum->value;
    ripple.u95 = ripple.below ? 0 : hum->u95;
    if (!rail->ripple.stated) {
        ripple.why = "no limit is stated";
        return ripple;
    }
    ripple.has_expected = true;
    ripple.high = rail->ripple.limit;
    ripple.how = "stated";
    ripple.status = gw_judge_limit(ripple.value, ripple.u95, ripple.below, ripple.high, walker->chain->simple_decision,
                                   2 * hum->u_random);
    if (ripple.status == GW_UNSURE)
        ripple.why = ripple.below ? "the capture cannot show as little as the limit"
                                  : "the limit lies within the "
                                    "uncertainty";
    return ripple;
}

static gw_finding *add(gw_walker *walker, gw_finding_code code, gw_status status, int rail) {
    gw_finding *found = gw_finding_add(walker, code, status, -1, -1);
    if (found)
        found->rail = rail;
    return found;
}

static const char *ripple_words(const gw_readings *readings) {
    const gw_clues *c = &readings->clues;
    if (c->hum_twice_v > 2 * c->hum_mains_v)
        return ", mostly at twice the mains";
    if (c->hum_mains_v > 2 * c->hum_twice_v)
        return ", mostly at the mains frequency";
    return "";
}

static void report(gw_walker *walker, int index, const gw_walk_point *rail) {
    if (rail->dc.status == GW_OFF || rail->dc.status == GW_UNSURE) {
        gw_finding *found = add(walker, GW_FOUND_RAIL_OFF, rail->dc.status, index);
        if (!found)
            return;
        found->evidence = gw_words_evidence(walker, "DC", &rail->dc, "V");
        if (rail->dc.status == GW_UNSURE)
            found->settle = "measure the rail with a meter and state it as `reading`";
    }
    if (rail->ripple.status == GW_OFF || rail->ripple.status == GW_UNSURE) {
        gw_finding *found = add(walker, GW_FOUND_RIPPLE_HIGH, rail->ripple.status, index);
        if (!found)
            return;
        found->evidence = gw_walker_text(walker, "%s%s", gw_words_evidence(walker, "ripple", &rail->ripple, "V"),
                                         ripple_words(rail->readings));
        if (rail->ripple.status == GW_UNSURE)
            found->settle = "capture the rail AC-coupled on a fine range, with a short ground lead";
    }
}

void gw_rails_judge(gw_walker *walker, const gw_probe *rails) {
    for (size_t i = 0; i < walker->walk->rail_count; i++) {
        gw_walk_point *out = &walker->walk->rails[i];
        const gw_point *rail = &walker->chain->rails[i];
        if (rails[i].state == GW_PROBE_UNREADABLE || (rails[i].state == GW_PROBE_NONE && !out->metered))
            continue;
        out->dc = judge_dc(walker, rail, out);
        out->ripple = judge_ripple(walker, rail, out->readings);
        out->status = gw_status_worse(gw_status_worse(GW_UNJUDGED, out->dc.status), out->ripple.status);
        report(walker, (int)i, out);
    }
}
