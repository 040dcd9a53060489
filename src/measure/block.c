#include "measure/block.h"

#include "measure/living.h"
#include "measure/soft.h"
#include "measure/work.h"

#include <math.h>
#include <stdlib.h>

/* Common practice for oscilloscopes' vertical accuracy. */
static const double text_accuracy = 0.03;

typedef bool step(gw_work *work);

/* In this order: each uses what those before it found. */
static step *const steps[] = {
    gw_work_resolution, gw_work_beyond,   gw_work_tones,    gw_work_noise,      gw_work_classify,
    gw_work_jumps,      gw_work_levels,   gw_work_extremes, gw_work_distortion, gw_work_hum,
    gw_work_drift,      gw_work_products, gw_work_clues,    gw_work_doubts,
};

gw_readings *gw_readings_new(gw_error *error) {
    gw_readings *out = calloc(1, sizeof *out);
    if (out)
        out->arena = gw_arena_new();
    if (!out || !out->arena) {
        free(out);
        gw_error_memory(error);
        return NULL;
    }
    return out;
}

void gw_readings_free(gw_readings *readings) {
    if (!readings)
        return;
    gw_strings_free(&readings->remarks);
    gw_arena_free(readings->arena);
    free(readings);
}

static bool measure(const gw_block *given, const gw_block *block, const gw_block *living,
                    const gw_measure_options *options, const gw_model *model, gw_readings *out, gw_error *error) {
    gw_work work = {.block = living,
                    .whole = block,
                    .given = given,
                    .options = options,
                    .model = model,
                    .out = out,
                    .error = error};
    work.accuracy = options->accuracy >= 0 ? options->accuracy : out->source.wav ? 0 : text_accuracy;
    work.noise_v = sqrt(model->variance);
    bool done = true;
    for (size_t k = 0; k < sizeof steps / sizeof *steps && done; k++)
        done = steps[k](&work);
    if (done && living->marks != block->marks)
        done = gw_work_remark(&work, "the signal cuts out: level, hum and noise are those while it is there");
    if (done && block->marks != given->marks)
        done = gw_work_remark(&work, "the signal swells or dies down in the record: all is read where it is steady");
    free(work.quiet);
    return done;
}

bool gw_measure_block(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_error *error) {
    gw_legacy legacy;
    return gw_measure_segment(block, options, out, &legacy, error);
}

/* The model of a block; where its signal has soft ends that of the steady part, which `*steady` is by `*soft`. The
 * caller frees `*soft` and ends the model, in any case. */
static bool model_of_steady(const gw_block *block, const gw_measure_options *options, gw_model *model, gw_block *steady,
                            unsigned char **soft, gw_error *error) {
    gw_model between;
    *steady = *block;
    *soft = NULL;
    if (!gw_model_build(block, &options->stimulus, options->mains_hz, model, error))
        return false;
    if (!gw_soft_ends_find(block, model, soft))
        return gw_error_memory(error);
    if (!*soft)
        return true;
    steady->marks = *soft;
    steady->hint = NULL;
    if (!gw_model_build(steady, &options->stimulus, options->mains_hz, &between, error))
        return false;
    if (between.tone) {
        gw_model_end(model);
        *model = between;
        return true;
    }
    gw_model_end(&between);
    free(*soft);
    *soft = NULL;
    *steady = *block;
    return true;
}

bool gw_measure_segment(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_legacy *legacy,
                        gw_error *error) {
    static const gw_measure_options nothing = {.accuracy = -1};
    if (!options)
        options = &nothing;
    gw_model model;
    gw_block steady, living;
    unsigned char *soft, *marks = NULL;
    *legacy = (gw_legacy){0};
    bool done = model_of_steady(block, options, &model, &steady, &soft, error) &&
                gw_living_find(&steady, options, &model, &living, &marks, error) &&
                measure(block, &steady, &living, options, &model, out, error) && !(error && error->set);
    if (done && !marks && !soft) {
        legacy->hint = gw_model_hint(&model);
        gw_outline_make(&model, out, block, &legacy->outline);
    }
    gw_model_end(&model);
    free(marks);
    free(soft);
    return done;
}
