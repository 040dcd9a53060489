/* Which lines of a spectrum are the mains'. */
#include "measure/coarse_lines.h"

#include <math.h>

static const double mains_candidates[] = {50, 60};

/* The multiples of the mains that are taken for hum even where they are the strongest line; and where they are weak. */
enum { MAINS_FIRST = 2, MAINS_STRONG = 3, MAINS_WEAK = 20 };

static bool on_multiple(double cycles, double mains, int orders) {
    double order = mains >= 2 ? round(cycles / mains) : 0;
    double tolerance = fmin(GW_LINE_TOLERANCE + 0.002 * cycles, 0.2 * mains);
    return order >= 1 && order <= orders && fabs(cycles - order * mains) < tolerance;
}

bool gw_on_mains(const gw_line_search *t, double cycles, int orders) {
    return on_multiple(cycles, t->placed[0], orders) || on_multiple(cycles, t->placed[1], orders);
}

gw_line_comb gw_comb_at(const gw_line_search *t, double cycles) {
    gw_line_comb out = {.cycles = cycles};
    double weight = 0, product = 0;
    for (int pass = 0; pass < 2; pass++) {
        out.energy = 0;
        out.other = 0;
        out.lines = 0;
        for (size_t k = 0; k < t->peaks->count; k++) {
            const gw_peak *peak = &t->peaks->items[k];
            if (t->ignore[k] || peak->rms < t->steps_rms)
                continue;
            double order = round(peak->cycles / out.cycles);
            if (order < 1 || fabs(peak->cycles - order * out.cycles) > GW_LINE_TOLERANCE) {
                out.other += peak->rms * peak->rms;
                continue;
            }
            out.energy += peak->rms * peak->rms;
            out.lines++;
            weight += order * order * peak->rms * peak->rms;
            product += order * peak->cycles * peak->rms * peak->rms;
        }
        if (weight > 0)
            out.cycles = product / weight;
    }
    return out;
}

size_t gw_strongest_line(const gw_line_search *t) {
    size_t k = 0;
    while (k < t->peaks->count && t->ignore[k])
        k++;
    return k;
}

/* EN 50160: the mains keeps to 1 % during 99.5 % of the year. */
static const double mains_strays = 0.01;
/* Cycles a record that a strong line's place is known to. */
static const double line_known = 0.1;

/* Energy of the lines on the first multiples of a frequency that is known to `known` cycles. `series`: there are two or
 * more, and not of even orders alone, as a note's an octave above would be. */
static double energy_on(const gw_line_search *t, double mains, double known, bool *series) {
    size_t lines = 0, odd = 0;
    double energy = 0;
    for (size_t k = 0; k < t->peaks->count; k++) {
        const gw_peak *peak = &t->peaks->items[k];
        double order = round(peak->cycles / mains);
        if (order < 1 || order > GW_MAINS_LOW || peak->rms < t->steps_rms ||
            fabs(peak->cycles - order * mains) > line_known + order * known)
            continue;
        energy += peak->rms * peak->rms;
        odd += fmod(order, 2) > 0;
        lines++;
    }
    *series = lines > 1 && odd > 0;
    return energy;
}

/* Where the mains are: beside their nominal frequency where a comb stands there, with more than what lies on the
 * nominal one. What is near a stated frequency is the stimulus. */
static double mains_place(const gw_line_search *t, double nominal, double stated) {
    bool series;
    if (nominal < 2)
        return nominal;
    double best = nominal, highest = energy_on(t, nominal, 0, &series);
    for (size_t k = 0; k < t->peaks->count; k++) {
        double cycles = t->peaks->items[k].cycles, order = round(cycles / nominal), place = cycles / order;
        if (order < 1 || order > MAINS_STRONG || fabs(place - nominal) > mains_strays * nominal ||
            fabs(cycles - stated) < 0.03 * stated)
            continue;
        double energy = energy_on(t, place, 0.5 * line_known / order, &series);
        if (series && energy > highest) {
            highest = energy;
            best = place;
        }
    }
    return best;
}

void gw_mains_set(gw_line_search *t, double mains_hz, double stated) {
    for (int k = 0; k < 2; k++) {
        t->mains[k] = mains_hz > 0 ? (k ? 0 : mains_hz * t->duration_s) : mains_candidates[k] * t->duration_s;
        t->placed[k] = mains_place(t, t->mains[k], stated);
    }
}

/* ENTSO-E: 200 mHz of 50 Hz in normal operation. */
static const double grid_strays = 0.005;

/* Are nearly all lines low multiples of the strongest, which is no grid's? */
static bool is_one_comb(const gw_line_search *t, size_t first) {
    enum { LOW = 9 };
    gw_line_comb c = gw_comb_at(t, t->peaks->items[first].cycles);
    double beyond = 0;
    /* a grid keeps within half a per cent of its frequency: nearer to it lies hum */
    for (int k = 0; k < 2; k++) {
        double order = t->mains[k] > 0 ? fmax(round(c.cycles / t->mains[k]), 1) : 0;
        if (order > 0 && fabs(c.cycles - order * t->mains[k]) < grid_strays * order * t->mains[k])
            return false;
    }
    for (size_t k = 0; k < t->peaks->count; k++)
        if (t->peaks->items[k].cycles > (LOW + 0.5) * c.cycles)
            beyond = fmax(beyond, t->peaks->items[k].rms);
    return c.other < 0.01 * c.energy && beyond < 0.15 * t->peaks->items[first].rms;
}

/* The strongest line on the mains or twice that: what comes of it stands on further multiples, and is weaker. */
static double low_multiples(const gw_line_search *t) {
    double highest = 0;
    for (size_t k = 0; k < t->peaks->count; k++)
        if (gw_on_mains(t, t->peaks->items[k].cycles, MAINS_FIRST))
            highest = fmax(highest, t->peaks->items[k].rms);
    return highest;
}

/* Of lines that are no multiples of the strongest: the energy of those on one network's first multiples that are not
 * on the other's. */
static double energy_apart(const gw_line_search *t, size_t first, double mains, double other, int orders) {
    double energy = 0, strongest = t->peaks->items[first].cycles;
    for (size_t k = 0; k < t->peaks->count; k++) {
        const gw_peak *peak = &t->peaks->items[k];
        bool own = fabs(peak->cycles - round(peak->cycles / strongest) * strongest) < GW_LINE_TOLERANCE;
        if (!own && peak->rms > t->steps_rms && on_multiple(peak->cycles, mains, orders) &&
            !on_multiple(peak->cycles, other, GW_MAINS_LOW))
            energy += peak->rms * peak->rms;
    }
    return energy;
}

/* More than all that stands on the other network's multiples. */
static const double far_more = 30;

/* A signal of 100, 120, 150 or 180 Hz stands on twice or three times one network's frequency. Where the other lines are
 * the other network's, that one is the mains. */
static void network_settle(gw_line_search *t, size_t first) {
    double strongest = t->peaks->items[first].cycles;
    for (int k = 0; k < 2; k++) {
        double here = t->placed[k], there = t->placed[1 - k];
        if (on_multiple(strongest, here, MAINS_STRONG) && !on_multiple(strongest, here, 1) &&
            !on_multiple(strongest, there, MAINS_STRONG) &&
            energy_apart(t, first, there, here, MAINS_FIRST) >
                far_more * energy_apart(t, first, here, there, GW_MAINS_LOW))
            t->placed[k] = 0;
    }
}

bool gw_mains_aside(gw_line_search *t, const gw_stimulus *stimulus) {
    bool stated_mains =
        stimulus->frequency_hz > 0 && gw_on_mains(t, stimulus->frequency_hz * t->duration_s, MAINS_STRONG);
    size_t first = gw_strongest_line(t);
    if (first == t->peaks->count || stated_mains)
        return false;
    network_settle(t, first);
    double strong = t->peaks->items[first].rms;
    bool strong_is_mains = gw_on_mains(t, t->peaks->items[first].cycles, MAINS_STRONG), other = false;
    for (size_t k = 0; k < t->peaks->count; k++)
        other = other ||
                (!gw_on_mains(t, t->peaks->items[k].cycles, MAINS_STRONG) && t->peaks->items[k].rms > 0.1 * strong);
    bool stated_other = stimulus->frequency_hz > 0;
    if (strong_is_mains && !other && !stated_other)
        return true;
    /* one comb of a note that happens to lie there */
    if (strong_is_mains && !stated_other && is_one_comb(t, first))
        return false;
    /* a line on the third multiple or beyond, and nothing at the mains or at twice that, is no hum */
    bool low = false;
    for (size_t k = 0; k < t->peaks->count; k++)
        low = low || gw_on_mains(t, t->peaks->items[k].cycles, MAINS_FIRST);
    if (!low && strong_is_mains && !stated_other)
        return false;
    double hum = strong_is_mains ? 0 : low_multiples(t);
    for (size_t k = 0; k < t->peaks->count; k++) {
        const gw_peak *peak = &t->peaks->items[k];
        int orders = peak->rms > 0.1 * strong ? peak->rms < hum ? GW_MAINS_LOW : MAINS_STRONG : MAINS_WEAK;
        t->ignore[k] = gw_on_mains(t, peak->cycles, orders);
        t->aside += t->ignore[k] ? peak->rms * peak->rms : 0;
    }
    return false;
}
