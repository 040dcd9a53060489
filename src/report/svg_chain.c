/* The chain, top to bottom. A branch leaves its point to the right and runs in a lane of its own. */
#include "report/odd.h"
#include "report/svg.h"

#include <stdlib.h>
#include <string.h>

enum { FIRST_X = 16, LANES_WIDTH = 110 };

typedef struct lanes {
    size_t *of;    /* lane of each point */
    size_t *until; /* last row a lane is taken to */
    size_t count;
} lanes;

static bool has_earlier_child(const gw_walk *walk, size_t index) {
    for (size_t i = 0; i < index; i++)
        if (walk->points[i].after == walk->points[index].after)
            return true;
    return false;
}

/* The lowest lane that is free from the row of the parent on. */
static size_t free_lane(const lanes *in, size_t parent) {
    for (size_t i = 0; i < in->count; i++)
        if (in->until[i] < parent)
            return i;
    return in->count;
}

/* Last row of a lane that begins at `index`: the first children in a line. */
static size_t end_of_lane(const gw_walk *walk, size_t index) {
    size_t at = index;
    for (size_t i = index + 1; i < walk->point_count; i++)
        if (walk->points[i].after == (int)at)
            at = i;
    return at;
}

static void place_points(const gw_walk *walk, lanes *in) {
    for (size_t i = 0; i < walk->point_count; i++) {
        int after = walk->points[i].after;
        if (after >= 0 && !has_earlier_child(walk, i)) {
            in->of[i] = in->of[after];
            continue;
        }
        size_t lane = free_lane(in, after >= 0 ? (size_t)after : i);
        in->of[i] = lane;
        in->until[lane] = end_of_lane(walk, i);
        in->count = lane == in->count ? lane + 1 : in->count;
    }
}

static double lane_x(const lanes *in, size_t lane) {
    double gap = in->count > 1 ? (double)LANES_WIDTH / (double)(in->count - 1) : 0;
    return FIRST_X + (double)lane * (gap < 22 ? gap : 22);
}

/* Whether the fault lies on the way to this point. */
static bool is_faulty(const gw_walk *walk, size_t index) {
    const gw_verdict *verdict = &walk->verdict;
    if (verdict->status != GW_VERDICT_FAULT && verdict->status != GW_VERDICT_UNSURE)
        return false;
    for (int at = verdict->to; at >= 0 && at != verdict->from; at = walk->points[at].after)
        if (at == (int)index)
            return true;
    return false;
}

static void put_fault(gw_text *out, const gw_walk *walk, const lanes *in) {
    int to = walk->verdict.to;
    bool fault = walk->verdict.status == GW_VERDICT_FAULT;
    if (to >= 0 && is_faulty(walk, (size_t)to))
        gw_svg_text(out, fault ? "off" : "unsure", lane_x(in, in->count - 1) + 18, gw_svg_row((size_t)to) - 18, 80,
                    fault ? "fault here" : "unsure here");
}

static void put_edge(gw_text *out, const gw_walk *walk, const lanes *in, size_t index) {
    int after = walk->points[index].after;
    if (after < 0)
        return;
    double x0 = lane_x(in, in->of[after]), y0 = gw_svg_row((size_t)after);
    double x1 = lane_x(in, in->of[index]), y1 = gw_svg_row(index);
    gw_text_printf(out, "<path class=\"%s\" d=\"", is_faulty(walk, index) ? "bad" : "path");
    gw_svg_point(out, 'M', x0, y0);
    if (x0 < x1 || x0 > x1) {
        gw_svg_point(out, 'C', x0, y0 + 22);
        gw_svg_point(out, ' ', x1, y0 + 8);
        gw_svg_point(out, ' ', x1, y0 + 30);
    }
    gw_svg_point(out, 'L', x1, y1);
    gw_text_add(out, "\"/>\n");
}

/* "coupling, -31.2 dB" under the name of the point. */
static void put_stage(gw_text *out, const gw_walk *walk, size_t index, double x, double y) {
    const gw_walk_stage *stage = gw_shown_stage_to(walk, index);
    const gw_walk_point *point = &walk->points[index];
    gw_text said = {0};
    char figure[80];
    if (stage != NULL) {
        gw_shown_judgement gain = gw_shown_judge(&stage->gain, NULL);
        gw_text_add(&said, stage->kind != NULL ? stage->kind : "");
        gw_shown_print(&gain.figure, 3, figure, sizeof figure);
        gw_text_printf(&said, "%s%s", said.length > 0 && *figure != '\0' ? ", " : "", figure);
    }
    if (point->what != NULL)
        gw_text_printf(&said, "%s%s", said.length > 0 ? " \xC2\xB7 " : "", point->what);
    gw_svg_text(out, "small", x, y + 9, GW_SVG_WIDTH - x, gw_text_string(&said));
    gw_text_part_free(out, &said);
}

static void put_point(gw_text *out, const gw_walk *walk, const lanes *in, size_t index) {
    const gw_walk_point *point = &walk->points[index];
    double y = gw_svg_row(index), text_x = lane_x(in, in->count > 0 ? in->count - 1 : 0) + 18;
    gw_text words = {0};
    gw_odd_words(walk, false, index, &words);
    gw_svg_node(out, point->status, lane_x(in, in->of[index]), y);
    gw_svg_text(out, "name", text_x, y - 4, 90, point->name);
    bool odd = point->status == GW_OFF || point->status == GW_UNSURE;
    gw_svg_text(out, odd ? gw_html_class(point->status) : "small", text_x + 98, y - 4, GW_SVG_WIDTH - text_x - 98,
                gw_text_string(&words));
    put_stage(out, walk, index, text_x, y);
    gw_text_part_free(out, &words);
}

/* What a screen reader says of the drawing. */
static void put_label(gw_text *label, const gw_walk *walk) {
    gw_text_printf(label, "The chain: %zu points", walk->point_count);
    for (size_t i = 0; i < walk->point_count; i++) {
        const char *after = gw_shown_point(walk, walk->points[i].after);
        gw_text_printf(label, "%s %s%s%s", i == 0 ? "," : ";", walk->points[i].name, after != NULL ? " after " : "",
                       after != NULL ? after : "");
        if (is_faulty(walk, i))
            gw_text_add(label, ", the faulty stage lies before it");
    }
}

bool gw_svg_chain(gw_text *out, const gw_walk *walk) {
    lanes in = {.of = calloc(walk->point_count + 1, sizeof *in.of),
                .until = calloc(walk->point_count + 1, sizeof *in.until)};
    gw_text label = {0};
    bool done = in.of != NULL && in.until != NULL;
    if (done) {
        place_points(walk, &in);
        put_label(&label, walk);
        gw_svg_begin(out, GW_SVG_TOP + GW_SVG_PITCH * (double)walk->point_count + 6, gw_text_string(&label));
        for (size_t i = 0; i < walk->point_count; i++)
            put_edge(out, walk, &in, i);
        put_fault(out, walk, &in);
        for (size_t i = 0; i < walk->point_count; i++)
            put_point(out, walk, &in, i);
        gw_svg_end(out);
    }
    gw_text_part_free(out, &label);
    free(in.of);
    free(in.until);
    return done;
}
