#include "measure/lasting.h"

#include "measure/plateaus.h"

#include <math.h>

/* Levels that differ by less are the same; below this share of the highest all is silence. Of the RMS. */
static const double same_level = 0.15, silence = 0.1;
/* Of the record: what is louder for a shorter time is no level of the signal. */
static const double usual_share = 0.1;
/* Of the usual level, at least, beside a gap. */
static const double back_again = 0.8;
/* Parts of a plateau that is not only passed through, and of one that lasts; between two of them, at most. */
enum { SOLID_PARTS = 2, LASTING_PARTS = 8, BETWEEN_PARTS = 2 };

void gw_lasting_parts(const gw_course_part *part, double *powers) {
    gw_course_cell cells[GW_COURSE_PARTS];
    gw_course_parts(part, cells);
    for (size_t k = 0; k < GW_LASTING_PARTS; k++) {
        double present = cells[k].present, mean = present > 0 ? cells[k].sum / present : 0;
        powers[k] = present > 0 ? fmax(cells[k].squares / present - mean * mean, 0) : -1;
    }
}

/* ---- levels that follow one another ------------------------------------------------------------------- */

static double level_of(const gw_plateau *p) {
    return sqrt(p->power / (double)p->parts);
}

static bool goes_on(const gw_lasting *all, double power) {
    if (!all->count)
        return false;
    double is = sqrt(power), was = level_of(&all->plateaus[all->count - 1]), high = sqrt(all->highest);
    return fabs(is - was) <= same_level * fmax(is, was) || fmax(is, was) < silence * high;
}

void gw_lasting_add(gw_lasting *all, uint64_t first, size_t count, const double *powers) {
    for (size_t k = 0; k < GW_LASTING_PARTS; k++) {
        uint64_t from = first + count * k / GW_LASTING_PARTS, to = first + count * (k + 1) / GW_LASTING_PARTS;
        if (powers[k] < 0 || from == to)
            continue;
        all->highest = fmax(all->highest, powers[k]);
        if (!goes_on(all, powers[k])) {
            all->wavers = all->wavers || all->count == GW_PLATEAUS_MAX;
            if (all->wavers)
                return;
            all->plateaus[all->count++] = (gw_plateau){.first = from};
        }
        gw_plateau *last = &all->plateaus[all->count - 1];
        last->end = to;
        last->parts++;
        last->power += powers[k];
    }
}

/* Parts whose level lies between half of `level` and all of it, and the sum of their powers. */
static size_t near_level(const gw_lasting *all, double level, double *power) {
    size_t parts = 0;
    *power = 0;
    for (size_t k = 0; k < all->count; k++) {
        double is = level_of(&all->plateaus[k]);
        if (is > level || is < 0.5 * level)
            continue;
        parts += all->plateaus[k].parts;
        *power += all->plateaus[k].power;
    }
    return parts;
}

/* RMS of the signal while it is there: the highest level that a good share of the record is near. */
static double usual_level(const gw_lasting *all) {
    double highest = 0, usual = 0, power;
    size_t parts = 0;
    for (size_t k = 0; k < all->count; k++)
        parts += all->plateaus[k].parts;
    for (size_t k = 0; k < all->count; k++) {
        double level = level_of(&all->plateaus[k]);
        size_t near = near_level(all, level, &power);
        if (level > highest && (double)near >= usual_share * (double)parts) {
            highest = level;
            usual = sqrt(power / (double)near);
        }
    }
    return usual;
}

static bool is_solid(const gw_plateau *p) {
    return p->parts >= SOLID_PARTS;
}

/* The next plateau from `k` on that is not only passed through; all->count where there is none, or it comes too late.
 */
static size_t next_solid(const gw_lasting *all, size_t k) {
    size_t between = 0;
    for (; k < all->count && !is_solid(&all->plateaus[k]); k++)
        between += all->plateaus[k].parts;
    return between <= BETWEEN_PARTS ? k : all->count;
}

bool gw_gap_next(const gw_lasting *all, gw_gap *gap) {
    double usual = usual_level(all);
    for (size_t k = gap->next; k < all->count && !all->wavers; k++) {
        size_t low = next_solid(all, k + 1), after = low;
        if (!is_solid(&all->plateaus[k]) || level_of(&all->plateaus[k]) < back_again * usual)
            continue;
        while (after < all->count && level_of(&all->plateaus[after]) < 0.5 * usual)
            after = next_solid(all, after + 1);
        if (after == low || after >= all->count || level_of(&all->plateaus[after]) < back_again * usual)
            continue;
        *gap = (gw_gap){.before = &all->plateaus[k],
                        .first = &all->plateaus[low],
                        .last = &all->plateaus[after - 1],
                        .after = &all->plateaus[after],
                        .next = after};
        while (!is_solid(gap->last))
            gap->last--;
        return true;
    }
    return false;
}

bool gw_silent_begin(const gw_lasting *all, const gw_plateau **silent, const gw_plateau **signal) {
    size_t first = next_solid(all, 0), then = first < all->count ? next_solid(all, first + 1) : all->count;
    if (all->wavers || then >= all->count)
        return false;
    double usual = usual_level(all);
    *silent = &all->plateaus[first];
    *signal = &all->plateaus[then];
    return level_of(*silent) < silence * usual && level_of(*signal) >= back_again * usual;
}

bool gw_silent_end(const gw_lasting *all, const gw_plateau **silent, const gw_plateau **signal) {
    size_t last = all->count, before;
    while (last > 0 && !is_solid(&all->plateaus[last - 1]))
        last--;
    for (before = last > 0 ? last - 1 : 0; before > 0 && !is_solid(&all->plateaus[before - 1]);)
        before--;
    if (all->wavers || before == 0 || next_solid(all, before) != last - 1)
        return false;
    double usual = usual_level(all);
    *silent = &all->plateaus[last - 1];
    *signal = &all->plateaus[before - 1];
    return level_of(*silent) < silence * usual && level_of(*signal) >= back_again * usual;
}

bool gw_lasting_gone(const gw_lasting *all) {
    gw_gap gap = {0};
    const gw_plateau *silent, *signal;
    return gw_gap_next(all, &gap) || gw_silent_begin(all, &silent, &signal) || gw_silent_end(all, &silent, &signal);
}

bool gw_lasting_mixed(const double *powers, double level) {
    double highest = 0, there = 0;
    size_t parts = 0, gone = 0;
    for (size_t k = 0; k < GW_LASTING_PARTS; k++)
        highest = fmax(highest, powers[k]);
    for (size_t k = 0; k < GW_LASTING_PARTS; k++) {
        bool low = powers[k] < 0.25 * highest;
        gone += low;
        parts += !low;
        there += low ? 0 : powers[k];
    }
    return gone > 0 && level * level < back_again * there / (double)parts;
}

bool gw_change_find(const gw_lasting *all, const gw_plateau **before, const gw_plateau **after) {
    size_t solid = 0, parts = 0;
    for (size_t k = 0; k < all->count; k++) {
        const gw_plateau *p = &all->plateaus[k];
        if (is_solid(p) && solid++ == 0)
            *before = p;
        else if (is_solid(p))
            *after = p;
        else
            parts += p->parts;
    }
    if (all->wavers || solid != 2 || parts > BETWEEN_PARTS)
        return false;
    /* a step of DC shows in one part, and the level is the same behind it */
    double was = level_of(*before), is = level_of(*after);
    return fabs(is - was) > same_level * fmax(is, was) && (*before)->parts >= LASTING_PARTS &&
           (*after)->parts >= LASTING_PARTS;
}
