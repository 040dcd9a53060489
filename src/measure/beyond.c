/* What of a periodic waveform the fit cannot follow: edges between two samples, harmonics above those it may hold. */
#include "measure/demand.h"
#include "measure/work.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

/* So many orders below the highest fitted tell how strong those beyond it are. */
enum { LAST_ORDERS = 16 };

/* Mean square of the harmonics above half the rate: those of a step of J are J/(pi k) high (Fourier), all above the
 * order K have J^2/(2 pi^2 K) together, K half a period in samples; each edge of a period has its own. */
static double beyond_edges(const gw_work *work) {
    double period = 1 / work->model->fit.base[GW_BASE_SIGNAL], height = work->edges.height_v;
    return work->edges.count / work->model->cycles * height * height / (pi * pi * period);
}

static int highest_order(const gw_fit *fit) {
    int highest = 0;
    for (size_t k = 0; k < fit->line_count; k++)
        highest = fit->lines[k].multiple[GW_BASE_SIGNAL] > highest ? fit->lines[k].multiple[GW_BASE_SIGNAL] : highest;
    return highest;
}

/* Had the fit no room for more? */
static bool is_full(const gw_fit *fit, int highest) {
    return gw_lines_left(fit) <= LAST_ORDERS / 2 || highest + LAST_ORDERS > GW_WISHES_MAX;
}

/* Mean square of the harmonics up to half the rate that the fit had no room for, as if they went on falling as those of
 * an edge do from where the last fitted ones are. */
static double beyond_room(const gw_fit *fit) {
    int highest = highest_order(fit);
    double power = 0, nyquist = floor(0.5 / fit->base[GW_BASE_SIGNAL]);
    if (!is_full(fit, highest) || highest <= LAST_ORDERS || !(nyquist > highest))
        return 0;
    for (size_t k = 0; k < fit->line_count; k++)
        if (fit->lines[k].multiple[GW_BASE_SIGNAL] > highest - LAST_ORDERS) {
            double rms = gw_work_line_rms(&fit->lines[k]);
            power += rms * rms / LAST_ORDERS;
        }
    return power * highest * (1 - highest / nyquist);
}

bool gw_work_beyond(gw_work *work) {
    const gw_model *model = work->model;
    double base = model->fit.base[GW_BASE_SIGNAL];
    if (!model->tone || model->two_tone || !(base > 0))
        return true;
    if (!gw_edges_unresolved(work->block->volts, work->block->marks, work->block->count, 1 / base, work->noise_v,
                             &work->edges))
        return gw_error_memory(work->error);
    /* of a comb that ends below half the rate nothing is folded down */
    if (!gw_work_reaches(work) && !is_full(&model->fit, highest_order(&model->fit)))
        work->edges.steepest = 0;
    work->beyond = beyond_edges(work) + beyond_room(&model->fit);
    return true;
}
