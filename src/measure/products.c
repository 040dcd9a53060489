/* Intermodulation of two tones by the published definitions. */
#include "measure/work.h"

#include <math.h>

/* Amplitude (RMS) of the product first·f1 + second·f2; 0 where the model has none. */
static double product(const gw_work *work, int first, int second) {
    const gw_fit *fit = &work->model->fit;
    size_t line = gw_fit_find(fit, first, second, 0);
    if (line == fit->line_count)
        line = gw_fit_find(fit, -first, -second, 0);
    return line < fit->line_count ? gw_work_line_rms(&fit->lines[line]) : 0;
}

/* From this ratio of the tones on the lower one is taken to modulate the upper. */
static const double modulation_ratio = 4;

static bool tell(gw_work *work, const char *definition) {
    char second[32], third[32];
    const gw_clues *clues = &work->out->clues;
    const char *remark = gw_arena_printf(work->out->arena, "intermodulation, %s: second order %s %%, third order %s %%",
                                         definition, gw_number_print(100 * clues->imd_second, 4, second, sizeof second),
                                         gw_number_print(100 * clues->imd_third, 4, third, sizeof third));
    return remark ? gw_work_remark(work, remark) : gw_error_memory(work->error);
}

/* SMPTE RP 120: sums of the sideband pairs of second and third order re the upper tone. IEC 60268-3: the difference
 * tone, and the sum of the two products of third order beside the tones, re twice the upper tone. */
bool gw_work_products(gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    if (!work->model->two_tone)
        return true;
    gw_clues *clues = &work->out->clues;
    double upper = product(work, 0, 1);
    if (!(upper > 0))
        return true;
    if (fit->base[GW_BASE_SECOND] >= modulation_ratio * fit->base[GW_BASE_SIGNAL]) {
        clues->imd_second = (product(work, 1, 1) + product(work, -1, 1)) / upper;
        clues->imd_third = (product(work, 2, 1) + product(work, -2, 1)) / upper;
        return tell(work, "SMPTE RP 120 (sideband pairs re the upper tone)");
    }
    clues->imd_second = product(work, -1, 1) / (2 * upper);
    clues->imd_third = (product(work, 2, -1) + product(work, -1, 2)) / (2 * upper);
    return tell(work, "IEC 60268-3 difference frequency (re twice the upper tone)");
}
