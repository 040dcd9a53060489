/* One quantity that a stage adds to the signal, judged. */
#include "walk/added.h"

#include <math.h>

/* For certain, so many times the input's at least; and unsure only where it is so many times what counts as gross. */
static const double least_times = 2, plainly_gross = 2;

static double lowest_added(const gw_added *a) {
    double most_before = hypot(a->in + a->in_u95, a->floor), least = a->out - a->out_u95;
    /* harmonics and hum may add in phase, so the difference is what is certain; noise adds in power */
    return a->powers ? gw_rest(least, most_before) : fmax(0, least - most_before);
}

static double highest_added(const gw_added *a) {
    double before = a->in_below ? 0 : fmax(0, a->in - a->in_u95);
    return gw_rest(a->out + a->out_u95, before);
}

static gw_status judge_stated(const gw_added *a, bool simple, const char **why) {
    double limit = a->limit->limit, u95 = simple ? 0 : a->out_u95;
    if (a->out_below) {
        *why = a->out <= limit ? NULL : "the capture cannot show as little as the limit";
        return a->out <= limit ? GW_OK : GW_UNSURE;
    }
    if (a->out + u95 <= limit || highest_added(a) <= limit)
        return GW_OK;
    if (lowest_added(a) > limit)
        return GW_OFF;
    if (!a->in_below && a->in > limit) {
        *why = "already in the stage's input";
        return GW_UNJUDGED;
    }
    *why = a->out <= 2 * a->floor ? "of the size of the instrument's own" : "the limit lies within the uncertainty";
    return GW_UNSURE;
}

gw_status gw_added_gross(const gw_added *a) {
    if (!a->fed || a->out_below || !(a->whole > 0))
        return GW_UNJUDGED;
    double least = a->out - a->out_u95, most_before = a->in + a->in_u95;
    bool more = a->out > gross_times * most_before;
    if (more && lowest_added(a) > a->gross * a->whole && least > least_times * most_before &&
        least > floor_times * a->floor)
        return GW_OFF;
    /* far beyond by its value, though not for certain: that is for the next capture to settle */
    return more && a->out > plainly_gross * a->gross * a->whole && a->out > floor_times * a->floor ? GW_UNSURE
                                                                                                   : GW_UNJUDGED;
}

gw_judgement gw_added_judge(const gw_walker *walker, const gw_added *a) {
    gw_judgement out = {.kind = a->kind, .status = GW_UNJUDGED, .why = a->why};
    if (!a->has)
        return out;
    out.has_value = true;
    out.below = a->out_below;
    out.value = a->in_below ? a->out : gw_rest(a->out, a->in);
    double up = highest_added(a) - out.value;
    out.u95 = a->out_below ? 0 : fmax(a->out_u95, fmin(up, a->out_u95 + a->in_u95));
    if (a->limit->stated) {
        out.has_expected = true;
        out.high = a->limit->limit;
        out.how = "stated";
        out.status = judge_stated(a, walker->chain->simple_decision, &out.why);
    } else {
        out.status = gw_added_gross(a);
        out.why = out.status == GW_OFF      ? "far beyond what any stage adds in health"
                  : out.status == GW_UNSURE ? "far beyond what any stage adds in health, if it is not the capture's"
                                            : "no limit is stated";
    }
    return out;
}
