#include "measure/block.h"

#include "measure/events.h"
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
        done = gw_work_remark(&work, gw_events_remark_gone);
    if (done && block->marks != given->marks)
        done = gw_work_remark(&work, "the signal swells or dies down in the record: all is read where it is steady");
    free(work.quiet);
    return done;
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

static const gw_measure_options nothing = {.accuracy = -1};

bool gw_segment_model(const gw_block *block, const gw_measure_options *options, gw_modelled *out, gw_error *error) {
    options = options ? options : &nothing;
    *out = (gw_modelled){.block = block};
    bool done = model_of_steady(block, options, &out->model, &out->steady, &out->soft, error) &&
                gw_living_find(&out->steady, options, &out->model, &out->living, &out->marks, error);
    if (done && !out->marks && !out->soft)
        out->hint = gw_model_hint(&out->model);
    return done;
}

bool gw_segment_read(const gw_modelled *modelled, const gw_measure_options *options, gw_readings *out,
                     gw_outline *outline, gw_error *error) {
    *outline = (gw_outline){0};
    bool done = measure(modelled->block, &modelled->steady, &modelled->living, options ? options : &nothing,
                        &modelled->model, out, error) &&
                !(error && error->set);
    if (done && !modelled->marks && !modelled->soft)
        gw_outline_make(&modelled->model, out, modelled->block, outline);
    return done;
}

void gw_modelled_end(gw_modelled *modelled) {
    gw_model_end(&modelled->model);
    free(modelled->marks);
    free(modelled->soft);
}

bool gw_measure_segment(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_legacy *legacy,
                        gw_error *error) {
    gw_modelled modelled;
    *legacy = (gw_legacy){0};
    bool done = gw_segment_model(block, options, &modelled, error) &&
                gw_segment_read(&modelled, options, out, &legacy->outline, error);
    if (done)
        legacy->hint = modelled.hint;
    gw_modelled_end(&modelled);
    return done;
}

bool gw_measure_block(const gw_block *block, const gw_measure_options *options, gw_readings *out, gw_error *error) {
    gw_legacy legacy;
    return gw_measure_segment(block, options, out, &legacy, error);
}
