/* Like points compared with each other: the odd one out, by median and median absolute deviation. */
#include "walk/walker.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* 1.4826 makes the median absolute deviation of Gaussian values their standard deviation; 3.5 of these is the usual
 * bound for an outlier (Iglewicz & Hoaglin 1993, from memory). */
static const double outlier_bound = 3.5 * 1.4826;
/* Health among siblings: 2 dB on pots (common practice), a tenth of a bias, 50 mV of offset, 2 % of pitch. */
static const double level_floor = 0.28782313662425572; /* 2.5 dB, in nepers */
static const double dc_floor_share = 0.10, dc_floor_v = 0.05, frequency_floor = 0.02;
enum { MEMBERS_LEAST = 3 };

typedef struct member {
    int point;
    double value, u95; /* in the scale that is compared */
    double shown;
} member;

typedef struct trait {
    const char *name;
    bool logarithmic;
    double (*floor)(double median);
    bool (*take)(const gw_walker *walker, int point, member *out);
} trait;

static double floor_of_level(double median) {
    (void)median;
    return level_floor;
}

static double floor_of_dc(double median) {
    return fmax(dc_floor_v, dc_floor_share * fabs(median));
}

static double floor_of_frequency(double median) {
    (void)median;
    return frequency_floor;
}

static bool take_level(const gw_walker *walker, int point, member *out) {
    const gw_node *node = &walker->nodes[point];
    if (!node->level.has || !(node->level.value > 0))
        return false;
    gw_figure reference = gw_level_reference(walker, node);
    out->shown = node->level.value;
    out->value = log(reference.has ? node->level.value / reference.value : node->level.value);
    out->u95 = hypot(gw_figure_u95(&node->level), reference.has ? gw_figure_u95(&reference) : 0);
    return true;
}

static bool take_dc(const gw_walker *walker, int point, member *out) {
    gw_reading dc;
    double step_v;
    if (!gw_layout_dc(walker, point, &dc, &step_v))
        return false;
    out->shown = out->value = dc.value;
    out->u95 = fmax(dc.u95, 3 * step_v);
    return true;
}

static bool take_frequency(const gw_walker *walker, int point, member *out) {
    const gw_node *node = &walker->nodes[point];
    if (!node->detected || !gw_reading_has(node->readings, GW_FREQUENCY))
        return false;
    out->shown = node->readings->values[GW_FREQUENCY].value;
    out->value = log(out->shown);
    out->u95 = node->readings->values[GW_FREQUENCY].u95 / out->shown;
    return true;
}

static const trait traits[] = {{"level", true, floor_of_level, take_level},
                               {"DC", false, floor_of_dc, take_dc},
                               {"frequency", true, floor_of_frequency, take_frequency}};

static int by_value(const void *one, const void *other) {
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

static double median_of(double *values, size_t count) {
    qsort(values, count, sizeof *values, by_value);
    return count % 2 ? values[count / 2] : (values[count / 2 - 1] + values[count / 2]) / 2;
}

static void report(gw_walker *walker, const trait *t, const member *odd, double median) {
    char value[64], usual[64], difference[32];
    const char *unit = strcmp(t->name, "frequency") == 0 ? "Hz" : gw_words_unit(walker->nodes[odd->point].readings);
    for (size_t i = 0; i < walker->finding_count; i++)
        if (walker->findings[i].code == GW_FOUND_ODD_ONE_OUT && walker->findings[i].point == odd->point)
            return; /* one of them is enough */
    gw_finding *found =
        gw_finding_add(walker, GW_FOUND_ODD_ONE_OUT, GW_OFF, walker->span_of[odd->point].from, odd->point);
    if (!found)
        return;
    gw_quantity_print(odd->shown, 0, unit, 3, value, sizeof value);
    if (t->logarithmic) {
        found->evidence = gw_walker_text(walker, "%s %s, %s from the middle of its siblings", t->name, value,
                                         gw_words_db(exp(odd->value - median), difference, sizeof difference));
        return;
    }
    gw_quantity_print(median, 0, unit, 3, usual, sizeof usual);
    found->evidence = gw_walker_text(walker, "%s %s, the middle of its siblings is %s", t->name, value, usual);
}

static void compare(gw_walker *walker, const trait *t, const member *members, size_t count, double *scratch) {
    for (size_t i = 0; i < count; i++)
        scratch[i] = members[i].value;
    double median = median_of(scratch, count);
    for (size_t i = 0; i < count; i++)
        scratch[i] = fabs(members[i].value - median);
    double bound = fmax(outlier_bound * median_of(scratch, count), t->floor(median));
    for (size_t i = 0; i < count; i++)
        scratch[i] = members[i].u95;
    double median_u95 = median_of(scratch, count); /* the middle is no better known than those beside it */
    for (size_t i = 0; i < count; i++)
        if (fabs(members[i].value - median) - 1.5 * hypot(members[i].u95, median_u95) > bound)
            report(walker, t, &members[i], median);
}

static bool leads_group(const gw_walker *walker, int point) {
    const char *group = walker->nodes[point].point->group;
    if (!group)
        return false;
    for (int i = 0; i < point; i++)
        if (walker->nodes[i].point->group && strcmp(walker->nodes[i].point->group, group) == 0)
            return false;
    return true;
}

static void judge_group(gw_walker *walker, const char *group, member *members, double *scratch) {
    for (size_t t = 0; t < sizeof traits / sizeof traits[0]; t++) {
        size_t count = 0;
        for (size_t i = 0; i < walker->count; i++) {
            const gw_node *node = &walker->nodes[i];
            if (!node->usable || !node->point->group || strcmp(node->point->group, group) != 0)
                continue;
            members[count] = (member){.point = (int)i};
            count += traits[t].take(walker, (int)i, &members[count]) ? 1 : 0;
        }
        if (count >= MEMBERS_LEAST)
            compare(walker, &traits[t], members, count, scratch);
    }
}

void gw_groups_judge(gw_walker *walker) {
    member *members = gw_arena_array(walker->arena, walker->count + 1, sizeof *members);
    double *scratch = gw_arena_array(walker->arena, walker->count + 1, sizeof *scratch);
    if (!members || !scratch) {
        walker->failed = true;
        return;
    }
    for (size_t i = 0; i < walker->count; i++)
        if (leads_group(walker, (int)i))
            judge_group(walker, walker->nodes[i].point->group, members, scratch);
}
