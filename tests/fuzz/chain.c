/* Chain files: refused with a reason, or every stage has figures and an unprobed walk can be told in every form. */
#include "fuzz.h"

static void ask_stage(const gw_stage *stage) {
    double low = 0, high = 0;
    bool worst_case = false;
    if (stage->kind->gain != NULL) {
        gw_stage_gain(stage, 0);
        gw_stage_gain(stage, 1000);
        gw_stage_spread(stage, 1000, &low, &high, &worst_case);
    }
    (void)gw_stage_polarity(stage);
    (void)gw_stage_dc(stage);
    (void)gw_stage_noise_gain(stage);
    (void)gw_stage_settling(stage);
    gw_stage_corners(stage, &low, &high);
}

static void walk_unprobed(const gw_chain *chain) {
    gw_probe *points = calloc(chain->point_count + 1, sizeof *points);
    gw_probe *rails = calloc(chain->rail_count + 1, sizeof *rails);
    gw_walk *walk = NULL;
    gw_error error = {0};
    MUST(points != NULL && rails != NULL);
    if (gw_walk_run(chain, points, rails, &walk, &error))
        tell_walk(walk);
    else
        must_tell(&error);
    gw_walk_free(walk);
    free(points);
    free(rails);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    gw_chain *chain = NULL;
    gw_error error = {0};
    char *text = string_of(bytes, length);
    if (gw_chain_parse(text, length, "/nowhere/fuzz.ini", &chain, &error)) {
        for (size_t i = 0; i < chain->point_count; i++)
            if (chain->points[i].has_stage)
                ask_stage(&chain->points[i].stage);
        walk_unprobed(chain);
    } else {
        must_tell(&error);
        MUST(chain == NULL);
    }
    gw_chain_free(chain);
    free(text);
    return 0;
}
