/* Where the capture cannot carry a reading: the reading goes, with the reason; and what a technician should be told. */
#include "measure/work.h"

#include "measure/beside.h"

#include <math.h>

static const double least_cycles = 1.2;

static bool remark_number(gw_work *work, const char *before, double number, int digits, const char *after) {
    char text[32];
    const char *remark =
        gw_arena_printf(work->out->arena, "%s%s%s", before, gw_number_print(number, digits, text, sizeof text), after);
    return remark ? gw_work_remark(work, remark) : gw_error_memory(work->error);
}

/* ---- too short ----------------------------------------------------------------------------------- */

static const gw_reading_key of_a_cycle[] = {
    GW_DC,        GW_AC_RMS,    GW_TOTAL_RMS,     GW_CREST, GW_FREQUENCY, GW_PITCH,    GW_LEVEL,
    GW_LEVEL_DBV, GW_LEVEL_DBU, GW_THD,           GW_THD_N, GW_SINAD,     GW_NOISE,    GW_NOISE_A,
    GW_SNR,       GW_HUM,       GW_NOISE_DENSITY, GW_DRIFT, GW_CLIP_HIGH, GW_CLIP_LOW,
};

static void of_a_cycle_withhold(gw_work *work, const char *why) {
    work->out->clues.too_short = true;
    for (size_t k = 0; k < sizeof of_a_cycle / sizeof *of_a_cycle; k++)
        gw_work_none(work, of_a_cycle[k], why);
    work->out->harmonic_count = 0;
}

/* Variance of the model's waveform over the present samples of a part of the record. */
static double model_power(const gw_fit *fit, size_t from, size_t to) {
    double sum = 0, squares = 0, n = 0;
    for (size_t i = from; i < to; i++) {
        if (fit->marks && fit->marks[i])
            continue;
        double v = fit->values[i] - fit->residual[i] - fit->dc;
        sum += v;
        squares += v * v;
        n++;
    }
    return n > 0 ? squares / n - sum / n * (sum / n) : 0;
}

/* A period that nothing states and that is not seen twice is told by what comes again in the rest of the record. Its
 * part of the waveform's variance, and that re the noise, under which any other period would do as well; the rest's
 * ends, so many parts of it, don't count: where nothing comes again the fit puts an edge there. */
static const double again_least = 0.03, again_noise = 5;
enum { AGAIN_ENDS = 8 };

static bool comes_hardly_again(const gw_work *work) {
    const gw_fit *fit = &work->model->fit;
    double cycles = work->model->cycles;
    if (work->out->signal != GW_SIGNAL_PERIODIC || work->options->stimulus.frequency_hz > 0 ||
        !(cycles >= least_cycles && cycles < 2))
        return false;
    size_t rest = fit->count - (size_t)(1 / fit->base[GW_BASE_SIGNAL]), end = rest / AGAIN_ENDS;
    double all = model_power(fit, 0, fit->count);
    return model_power(fit, end, rest - end) < again_least * all + again_noise * work->model->variance;
}

static bool short_withhold(gw_work *work) {
    double cycles = work->model->cycles,
           expected = work->options->stimulus.frequency_hz * (double)work->block->count / work->block->rate_hz;
    bool stated_short = !work->model->tone && expected > 0 && expected < least_cycles;
    if ((cycles > 0 && cycles < least_cycles) || stated_short) {
        of_a_cycle_withhold(work, "less than 1.2 cycles of the signal in the record");
        return remark_number(work, "the record holds only ", cycles > 0 ? cycles : expected, 2,
                             " cycles of the signal");
    }
    if (!comes_hardly_again(work))
        return true;
    of_a_cycle_withhold(work, "hardly anything of the signal comes twice in the record");
    return gw_work_remark(work, "hardly anything of the signal comes twice in the record: capture two periods or more");
}

/* ---- overload and gaps --------------------------------------------------------------------------- */

static const gw_reading_key of_the_size[] = {
    GW_DC,        GW_AC_RMS,    GW_TOTAL_RMS, GW_PEAK_TO_PEAK, GW_CREST, GW_LEVEL,
    GW_LEVEL_DBV, GW_LEVEL_DBU, GW_THD,       GW_THD_N,        GW_SINAD, GW_SNR,
};

typedef struct tally {
    size_t missing, overload;
    bool high, low; /* overload at the top, at the bottom */
} tally;

/* An overloaded sample has no value: the side is that of the last one that has. */
static tally marks_count(const gw_work *work) {
    const gw_block *b = work->given;
    tally out = {.overload = b->overload};
    size_t marked = 0;
    double last = 0, dc = work->model->fit.dc;
    for (size_t i = 0; b->marks && i < b->count; i++) {
        if (b->marks[i] == GW_SAMPLE_PRESENT)
            last = b->volts[i];
        else if (b->marks[i] == GW_SAMPLE_MISSING)
            out.missing++;
        else {
            marked++;
            out.high = out.high || last >= dc;
            out.low = out.low || last < dc;
        }
    }
    if (marked > out.overload)
        out.overload = marked;
    if (out.overload && !marked)
        out.high = out.low = true;
    return out;
}

static bool overload_withhold(gw_work *work, const tally *t) {
    if (!t->overload)
        return true;
    work->out->clues.overloaded = true;
    char text[32];
    const char *why = gw_arena_printf(work->out->arena, "overloaded: at least %s",
                                      gw_number_print(work->out->values[GW_AC_RMS].value, 3, text, sizeof text));
    if (!why)
        return gw_error_memory(work->error);
    for (size_t k = 0; k < sizeof of_the_size / sizeof *of_the_size; k++)
        gw_work_none(work, of_the_size[k], k && k < 3 ? why : "the capture is overloaded");
    if (t->high)
        gw_work_none(work, GW_PEAK_HIGH, "the capture is overloaded at the top");
    if (t->low)
        gw_work_none(work, GW_PEAK_LOW, "the capture is overloaded at the bottom");
    return remark_number(work, "the capture is overloaded: ", (double)t->overload, 6,
                         " samples; levels are at least as shown by the rest");
}

/* What the record's every sample counts in, where the fit's lines can stand without the missing ones. */
static const gw_reading_key of_the_whole[] = {
    GW_AC_RMS, GW_TOTAL_RMS, GW_CREST, GW_THD, GW_THD_N, GW_SINAD, GW_NOISE, GW_NOISE_A, GW_SNR,
};

/* Above this share of missing samples. */
static const double missing_most = 0.001;

static bool gaps_tell(gw_work *work, const tally *t) {
    for (size_t k = 0; work->block->marks != work->whole->marks && k < sizeof of_the_whole / sizeof *of_the_whole; k++)
        gw_work_none(work, of_the_whole[k], "the signal cuts out");
    if (!t->missing)
        return true;
    work->out->clues.gappy = (double)t->missing > missing_most * (double)work->block->count;
    for (size_t k = 0; work->out->clues.gappy && k < sizeof of_the_whole / sizeof *of_the_whole; k++)
        gw_work_none(work, of_the_whole[k], "samples are missing from the record");
    return remark_number(work, "", (double)t->missing, 6, " samples are missing: they are left out of the fit");
}

/* ---- other remarks ------------------------------------------------------------------------------- */

/* The steps' error of a sine gathers in its own harmonics when the same samples come again in every few cycles. */
static bool is_coherent(const gw_work *work) {
    if (work->out->signal != GW_SIGNAL_SINE || work->coherent < 0.5)
        return false;
    double frequency = work->model->fit.base[GW_BASE_SIGNAL], n = (double)work->block->count;
    double peak = sqrt(2) * gw_work_line_rms(&work->model->fit.lines[0]) / work->block->step;
    for (double every = 2; every <= 200 && every * 4 < n; every++) {
        double slip = fabs(every * frequency - round(every * frequency));
        if (slip / every * n * 6.2832 * peak < 0.5)
            return true;
    }
    return false;
}

static bool shape_tell(gw_work *work) {
    const gw_clues *clues = &work->out->clues;
    if (clues->crossover && !gw_work_remark(work, "a flat spot at the zero crossing: crossover distortion"))
        return false;
    bool sine = work->options->stimulus.shape == GW_SHAPE_SINE || work->options->sine_expected;
    if (clues->slew_limited && !gw_work_remark(work, sine ? "a constant slope through zero: slew limiting"
                                                          : "a constant slope through zero: a triangle wave, or a "
                                                            "sine that slew limiting bends"))
        return false;
    if ((clues->high.clipped && clues->high.recorder) || (clues->low.clipped && clues->low.recorder))
        return gw_work_remark(work,
                              "clipped at the end of the recorder's range: distortion and level are the recorder's");
    return true;
}

/* Of the level: what wavers so little changes its square by a hundredth. */
static const double much_sway = 0.1;

static bool model_tell(gw_work *work) {
    const gw_model *model = work->model;
    if (work->sway_v > much_sway * work->out->values[GW_LEVEL].value && work->out->signal == GW_SIGNAL_SINE &&
        work->block->marks == work->whole->marks &&
        !gw_work_remark(work, "its level or its pitch wavers: the level shown is that of the steady part"))
        return false;
    if ((model->mains_hidden || model->hum_possible) &&
        !gw_work_remark(work, "a slow bend that may be hum: the record is too short to tell, DC is uncertain by it"))
        return false;
    if (model->mains_signal && !(model->mains_hz > 0) &&
        !gw_work_remark(work, "the signal stands on the mains frequency: hum can't be told from it"))
        return false;
    if (gw_mains_twice_hidden(model) &&
        !gw_work_remark(work,
                        "the signal stands on twice the mains frequency: the hum shown is without its part there"))
        return false;
    if (is_coherent(work) && !gw_work_remark(work, "the frequency divides the sample rate: quantising error gathers in "
                                                   "the harmonics instead of in the noise"))
        return false;
    if (work->out->dc_hidden)
        return gw_work_remark(work, work->out->source.wav
                                        ? "sound cards block DC: the DC shown is the recording's, not the circuit's"
                                        : "the input was AC-coupled: the DC shown is not the circuit's");
    return true;
}

bool gw_work_doubts(gw_work *work) {
    gw_clues *clues = &work->out->clues;
    tally t = marks_count(work);
    clues->too_coarse = clues->codes > 0 && clues->codes < 8 && work->model->tone;
    double dc = fabs(work->model->fit.dc), step = work->block->step;
    clues->dc_exactly_zero = step > 0 && !work->out->source.wav && clues->codes > 8 &&
                             dc < fmax(0.05 * step, work->out->values[GW_DC].u_random) && dc < 0.1 * step;
    return short_withhold(work) && overload_withhold(work, &t) && gaps_tell(work, &t) && shape_tell(work) &&
           model_tell(work);
}
