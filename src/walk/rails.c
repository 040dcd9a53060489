/* Rails first: their DC and their ripple. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>

/* A limit finer than this many steps of the capture cannot be judged. */
static const double steps_needed = 3;
/* Of all that moves on a rail more is no hum that has been found. */
static const double hum_of_all = 2;

static gw_judgement judge_dc(const gw_walker *walker, const gw_point *rail, const gw_walk_point *out) {
    gw_judgement dc = {.kind = GW_JUDGE_VOLTS, .status = GW_UNJUDGED};
    const gw_readings *readings = out->readings;
    gw_reading flat;
    double random = 0, grid = 0;
    if (out->metered) {
        dc.has_value = true;
        dc.value = out->meter_v;
        dc.u95 = out->meter_u95_v;
    } else if (readings && !readings->dc_hidden && gw_layout_flat_dc(readings, &flat, &grid)) {
        dc.has_value = true;
        dc.value = flat.value;
        dc.u95 = flat.u95;
    } else if (!readings || readings->dc_hidden || !gw_reading_has(readings, GW_DC)) {
        dc.why = readings && readings->dc_hidden ? "the capture hides DC" : "DC cannot be read";
        return dc;
    } else {
        dc.has_value = true;
        dc.value = readings->values[GW_DC].value;
        dc.u95 = readings->values[GW_DC].u95;
        random = 2 * readings->values[GW_DC].u_random;
        grid = steps_needed * readings->source.step;
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
    gw_status far = gw_judge_range(dc.value, dc.u95, fmin(dc.low, dc.expected - grid),
                                   fmax(dc.high, dc.expected + grid), walker->chain->simple_decision, random);
    if (dc.status == GW_OFF && far != GW_OFF)
        dc.status = GW_UNSURE;
    if (dc.status == GW_UNSURE)
        dc.why =
            far == GW_OK ? "the limit is finer than the capture resolves" : "the limit lies within the uncertainty";
    return dc;
}

/* The mains and its multiples. A rail whose ripple is all there is may have been read as a signal of that frequency. */
static gw_reading ripple_of(const gw_walker *walker, const gw_readings *readings) {
    const gw_reading *hum = &readings->values[GW_HUM], *level = &readings->values[GW_LEVEL];
    double frequency = gw_reading_or(readings, GW_FREQUENCY, 0), mains = gw_rail_mains(readings);
    bool comb = readings->signal == GW_SIGNAL_SINE || readings->signal == GW_SIGNAL_PERIODIC;
    const gw_reading *whole = &readings->values[GW_AC_RMS];
    /* edges that come with the mains are its ripple, whatever the fit made of their lines */
    if (whole->state == GW_READING_VALUE && whole->value > hum_of_all * hum->value && hum->state != GW_READING_NONE &&
        gw_marks_in_step(walker, readings))
        return *whole;
    if (hum->state != GW_READING_NONE)
        return *hum;
    if (comb && mains > 0 && frequency > 0 && level->state == GW_READING_VALUE)
        return *level;
    gw_reading all = readings->values[GW_AC_RMS];
    if (all.state == GW_READING_VALUE)
        all.state = GW_READING_BELOW;
    all.why = "the capture cannot tell ripple from the rest";
    return all;
}

/* 50 or 60 where the rail's own frequency is the mains or up to six times it; 0 otherwise. */
double gw_rail_mains(const gw_readings *readings) {
    double frequency = gw_reading_or(readings, GW_FREQUENCY, 0);
    for (int order = 1; order <= 6; order++)
        for (int mains = 50; mains <= 60; mains += 10)
            if (gw_level_same(frequency, order * mains, 0.015))
                return mains;
    return readings->clues.mains_hz;
}

static gw_judgement judge_ripple(const gw_walker *walker, const gw_point *rail, const gw_readings *readings) {
    gw_judgement ripple = {.kind = GW_JUDGE_VOLTS, .status = GW_UNJUDGED};
    if (!readings) {
        ripple.why = "no capture";
        return ripple;
    }
    gw_reading hum = ripple_of(walker, readings);
    if (hum.state == GW_READING_NONE) {
        ripple.why = hum.why;
        return ripple;
    }
    ripple.has_value = true;
    ripple.below = hum.state == GW_READING_BELOW;
    ripple.value = hum.value;
    ripple.u95 = ripple.below ? 0 : hum.u95;
    if (!rail->ripple.stated) {
        ripple.why = "no limit is stated";
        return ripple;
    }
    ripple.has_expected = true;
    ripple.high = rail->ripple.limit;
    ripple.how = "stated";
    ripple.status = gw_judge_limit(ripple.value, ripple.u95, ripple.below, ripple.high, walker->chain->simple_decision,
                                   2 * hum.u_random);
    if (ripple.status == GW_UNSURE)
        ripple.why =
            ripple.below ? "the capture cannot show as little as the limit" : "the limit lies within the uncertainty";
    return ripple;
}

static gw_finding *add(gw_walker *walker, gw_finding_code code, gw_status status, int rail) {
    gw_finding *found = gw_finding_add(walker, code, status, -1, -1);
    if (found)
        found->rail = rail;
    return found;
}

/* Ripple at the mains itself against twice the mains. */
void gw_rail_parts(const gw_readings *readings, double *once, double *twice) {
    double mains = gw_rail_mains(readings), frequency = gw_reading_or(readings, GW_FREQUENCY, 0);
    *once = readings->clues.hum_mains_v;
    *twice = readings->clues.hum_twice_v;
    if (readings->values[GW_HUM].state != GW_READING_NONE || !(mains > 0))
        return;
    *once = gw_level_same(frequency, mains, 0.015) ? gw_reading_or(readings, GW_LEVEL, 0) : 0;
    *twice = *once > 0 ? 0 : gw_reading_or(readings, GW_LEVEL, 0);
    for (size_t i = 0; *once > 0 && i < readings->harmonic_count; i++) {
        *once = readings->harmonics[i].order == 1 ? readings->harmonics[i].rms : *once;
        *twice = readings->harmonics[i].order == 2 ? readings->harmonics[i].rms : *twice;
    }
}

static const char *ripple_words(const gw_readings *readings) {
    double once, twice;
    gw_rail_parts(readings, &once, &twice);
    if (twice > 2 * once)
        return ", mostly at twice the mains";
    if (once > 2 * twice)
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
