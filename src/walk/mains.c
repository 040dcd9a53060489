/* Lines on multiples of the mains: hum, also where the measuring could not tell it from the signal. */
#include "walk/walker.h"

#include <math.h>

/* As far as grids stray, and a line of few cycles; where hum stands in the capture, a short record's as well. */
static const double strays = 0.006, strays_in_hum = 0.012;
/* A line hardly stands so near to a multiple of the mains that were stated by chance. */
static const double nearly_exact = 0.002;
enum { first_orders = 3, comb_orders = 20 };
/* Hum under this share of the signal is residue; and so many times the input's is this stage's own. */
static const double gross_lines = 0.03, lines_times = 3, lines_steps = 0.4;

/* A line that stands out is known to this share of its width, one over the record's length. */
static const double line_known = 0.1;

static double width_hz(const gw_readings *readings) {
    return readings->source.duration_s > 0 ? 1 / readings->source.duration_s : 0;
}

static bool on_multiple(double frequency_hz, double mains_hz, int orders, double within, double width_hz) {
    double order = mains_hz > 0 ? floor(frequency_hz / mains_hz + 0.5) : 0;
    double reach = fmax(within * order * mains_hz, fmin(line_known * width_hz, 2 * within * order * mains_hz));
    return order >= 1 && order <= orders && fabs(frequency_hz - order * mains_hz) <= reach;
}

static double mains_of(const gw_walker *walker, const gw_readings *readings) {
    return walker->chain->mains_hz > 0 ? walker->chain->mains_hz : readings->clues.mains_hz;
}

/* Where the signal stands on one line of the mains, hum has no reading; its other lines show all the same. */
static bool shows_lines(const gw_walker *walker, const gw_readings *readings) {
    bool shows = gw_reading_has(readings, GW_HUM);
    for (size_t i = 0; i < readings->tone_count; i++)
        shows = shows || (readings->tones[i].kind == GW_TONE_OTHER &&
                          on_multiple(readings->tones[i].frequency_hz, mains_of(walker, readings), 1, strays,
                                      width_hz(readings)));
    return shows;
}

bool gw_mains_holds(const gw_walker *walker, const gw_readings *readings, double frequency_hz) {
    bool hums = shows_lines(walker, readings);
    return on_multiple(frequency_hz, mains_of(walker, readings), hums ? comb_orders : first_orders,
                       hums ? strays_in_hum : strays, width_hz(readings));
}

bool gw_mains_may_hold(const gw_walker *walker, double frequency_hz) {
    double stated = walker->chain->mains_hz;
    if (stated > 0)
        return on_multiple(frequency_hz, stated, comb_orders, nearly_exact, 0);
    return on_multiple(frequency_hz, 50, first_orders, strays, 0) ||
           on_multiple(frequency_hz, 60, first_orders, strays, 0);
}

/* Lines of the mains that the fit has as tones of their own; volts RMS. */
static double lines_rms(const gw_walker *walker, const gw_readings *readings) {
    double power = 0;
    for (size_t i = 0; i < readings->tone_count; i++) {
        const gw_tone *tone = &readings->tones[i];
        bool mains =
            gw_mains_holds(walker, readings, tone->frequency_hz) || gw_mains_may_hold(walker, tone->frequency_hz);
        power += tone->kind == GW_TONE_OTHER && mains ? tone->rms * tone->rms : 0;
    }
    return sqrt(power);
}

double gw_mains_hum(const gw_walker *walker, const gw_readings *readings) {
    return hypot(gw_reading_or(readings, GW_HUM, 0), lines_rms(walker, readings));
}

/* Σ of the lines' own uncertainties, volts. */
static double lines_u95(const gw_readings *readings) {
    double power = 0;
    for (size_t i = 0; i < readings->tone_count; i++)
        power += pow(readings->tones[i].kind == GW_TONE_OTHER ? readings->tones[i].u95 : 0, 2);
    return sqrt(power);
}

void gw_mains_judge(gw_walker *walker, int point, double gain, double whole) {
    const gw_node *node = &walker->nodes[point], *from = gw_layout_input(walker, point);
    const gw_readings *readings = node->readings;
    const gw_reading *hum = &readings->values[GW_HUM];
    bool silent = node->dead || !node->detected || !from || gw_finding_at(walker, GW_FOUND_HUM_ADDED, point) >= 0;
    double lines = lines_rms(walker, readings), held = hum->state == GW_READING_VALUE ? hum->value : 0;
    /* what the reading holds is judged by it */
    if (silent || lines < held || !shows_lines(walker, readings))
        return;
    double here = hypot(lines, held), u95 = lines_u95(readings);
    double before = (gw_mains_hum(walker, from->readings) + lines_u95(from->readings)) * gain;
    if (here - u95 < fmax(gross_lines * whole, lines_times * before) || here < lines_steps * readings->source.step)
        return;
    gw_finding *found = gw_finding_add(walker, GW_FOUND_HUM_ADDED, GW_OFF, walker->span_of[point].from, point);
    char level[64], part[32];
    if (!found)
        return;
    gw_quantity_print(here, u95, gw_words_unit(readings), 3, level, sizeof level);
    found->evidence =
        gw_walker_text(walker, "hum %s, %s of the signal", level, gw_words_percent(here / whole, part, sizeof part));
}
