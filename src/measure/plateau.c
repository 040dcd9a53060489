#include "plateau.h"

#include <math.h>

/* Common practice. A plateau of an edge shape (pulse, square) is reached and left in less than this of its length. */
static const double edge_of_plateau = 0.5;
/* A cut leaves its plateau with a kink: half a plateau further on it has fallen by more than a rounded top, which has
 * fallen by three tolerances below the plateau's edge there (a parabola); two steps more for the rounding of both. */
static const double kink_tolerances = 4, kink_steps = 2;
/* Twice the way down is twice the drop on a straight flank. */
static const double steeper = 2.3;
enum { RUN_AT_LEAST = 3, BRIDGED = 2, STAIRS_A_PLATEAU = 1 };

/* One record turned so that the end looked at is the top, and what its plateaus have in common. */
typedef struct plateaus {
    const gw_flats_input *in;
    double sign, top, bottom, tolerance;
    size_t runs, samples;        /* at the top */
    size_t whole, whole_samples; /* those that neither begin nor end with the record */
    size_t longest;              /* samples */
    double rise, fall;           /* samples from and to half height, summed */
    size_t rises, falls, kinks, stairs;
} plateaus;

static bool present(const plateaus *p, size_t i) {
    return !p->in->marks || p->in->marks[i] == GW_SAMPLE_PRESENT;
}

static double value_at(const plateaus *p, size_t i) {
    return p->sign * p->in->volts[i];
}

static bool at_top(const plateaus *p, size_t i) {
    return present(p, i) && value_at(p, i) >= p->top - p->tolerance;
}

/* End (one behind) of the run at the top that starts at `i`; gaps that are short against it are bridged: noise rides on
 * it. */
static size_t run_end(const plateaus *p, size_t i) {
    size_t end = i + 1;
    for (size_t j = end; j < p->in->n && j <= end + BRIDGED + (end - i) / 4; j++)
        if (at_top(p, j))
            end = j + 1;
    return end;
}

/* Samples from the edge of a plateau to half height, going in `direction`; -1 where the record ends before. */
static double way_down(const plateaus *p, size_t edge, int direction) {
    double half = (p->top + p->bottom) / 2, steps = 0;
    for (size_t i = edge; i<p->in->n; i = direction> 0 ? i + 1 : i - 1) {
        if (present(p, i) && value_at(p, i) < half)
            return steps;
        steps++;
        if (i == 0 && direction < 0)
            break;
    }
    return -1;
}

/* Whether the flank falls off with a kink from the sample `edge` beside the plateau, going in `direction`: far enough
 * half a plateau on, and from there on no more steeply. What approaches its top as a charging capacitor does is steeper
 * the further away, by e^(w/2T) + 1 over the second half of a plateau w: at least 4 where the first half shows a kink.
 */
static bool has_kink(const plateaus *p, size_t edge, int direction, size_t ahead) {
    size_t room = direction > 0 ? p->in->n - 1 - edge : edge;
    if (edge >= p->in->n || room + 1 < ahead)
        return false;
    size_t near = direction > 0 ? edge + ahead - 1 : edge + 1 - ahead;
    double drop = p->top - value_at(p, near);
    if (drop <= kink_tolerances * p->tolerance + kink_steps * p->in->step)
        return false;
    if (room + 1 < 2 * ahead)
        return true;
    size_t far = direction > 0 ? edge + 2 * ahead - 1 : edge + 1 - 2 * ahead;
    return p->top - value_at(p, far) < steeper * drop;
}

static void count_edges(plateaus *p, size_t start, size_t end) {
    size_t ahead = (end - start) / 2 ? (end - start) / 2 : 1;
    double before = start > 0 ? way_down(p, start - 1, -1) : -1, behind = way_down(p, end, 1);
    p->rise += fmax(before, 0);
    p->rises += before >= 0;
    p->fall += fmax(behind, 0);
    p->falls += behind >= 0;
    p->kinks += start > 0 && has_kink(p, start - 1, -1, ahead) && has_kink(p, end, 1, ahead);
}

static void walk_top(plateaus *p) {
    for (size_t i = 0; i < p->in->n; i++) {
        if (!at_top(p, i))
            continue;
        size_t end = run_end(p, i);
        p->longest = end - i > p->longest ? end - i : p->longest;
        if (end - i >= RUN_AT_LEAST) {
            p->runs++;
            p->samples += end - i;
            bool whole = i > 0 && end < p->in->n;
            p->whole += whole;
            p->whole_samples += whole ? end - i : 0;
            count_edges(p, i, end);
        }
        i = end;
    }
}

/* Runs of at least half a plateau that stand still well below the top and above the bottom: a staircase has them. */
static void count_stairs(plateaus *p, double plateau) {
    double margin = 0.05 * (p->top - p->bottom) + p->tolerance;
    size_t least = (size_t)fmax(plateau / 2, RUN_AT_LEAST);
    for (size_t i = 0; i < p->in->n; i++) {
        double first = value_at(p, i);
        size_t end = i + 1;
        while (end < p->in->n && fabs(value_at(p, end) - first) <= p->tolerance)
            end++;
        if (end - i >= least && first < p->top - margin && first > p->bottom + margin)
            p->stairs++;
        i = end - 1;
    }
}

/* Edges so fast against the plateau that it is the shape's own. */
static bool flat_by_shape(const plateaus *p, double plateau) {
    double rise = p->rises ? p->rise / (double)p->rises : 0, fall = p->falls ? p->fall / (double)p->falls : 0;
    bool fast_rise = p->rises && rise <= fmax(edge_of_plateau * plateau, 1);
    bool fast_fall = p->falls && fall <= fmax(edge_of_plateau * plateau, 1);
    return (fast_rise && fast_fall) || p->stairs >= STAIRS_A_PLATEAU * p->runs;
}

static bool ends_known(const gw_flats_input *in) {
    return in->low_end != 0 || in->high_end != 0;
}

gw_flat gw_plateau_judge(const gw_flats_input *in, double sign, double top, double bottom) {
    gw_flat none = {.level_v = sign * top};
    double end = sign > 0 ? in->high_end : -in->low_end;
    bool periodic = in->frequency_hz > 0;
    if (!periodic && (!ends_known(in) || top < end - 1.5 * in->step))
        return none;
    double noise = periodic ? 6 * in->noise_v : 0; /* between the highest and the lowest of a noisy plateau */
    double tolerance = fmax(fmax(0.5 * in->step, noise), 1e-9 * (top - bottom));
    plateaus p = {.in = in, .sign = sign, .top = top, .bottom = bottom, .tolerance = tolerance};
    if (tolerance > 0.1 * (top - bottom))
        return none;
    walk_top(&p);
    if (p.runs == 0)
        return none;
    double plateau = p.whole ? (double)p.whole_samples / (double)p.whole : (double)p.samples / (double)p.runs;
    count_stairs(&p, plateau);
    if (flat_by_shape(&p, plateau) || p.kinks * 2 < p.runs)
        return none;
    return (gw_flat){.share = (double)p.samples / (double)in->n, .level_v = sign * top, .clipped = true};
}
