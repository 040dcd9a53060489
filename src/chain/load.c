/* Chains: loaded, parsed, freed; and made of a mere list of captures. */
#include "draft.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* A chain file is written by hand: larger than this it is something else. */

/* ---- drafts --------------------------------------------------------------------------------------- */

bool gw_draft_start(gw_chain_draft *draft, const char *file) {
    *draft = (gw_chain_draft){.file = file, .probe = 1};
    draft->error = &draft->fault;
    draft->chain = calloc(1, sizeof *draft->chain);
    draft->arena = gw_arena_new();
    if (draft->chain == NULL || draft->arena == NULL) {
        free(draft->chain);
        gw_arena_free(draft->arena);
        draft->chain = NULL;
        draft->arena = NULL;
        return gw_error_memory(draft->error);
    }
    draft->chain->arena = draft->arena;
    draft->chain->accuracy = -1;
    draft->chain->folder = "";
    if (file != NULL)
        draft->chain->file = gw_draft_copy(draft, file);
    return !draft->error->set;
}

static bool is_folder(const char *path) {
    struct stat status;
    return stat(path, &status) == 0 && S_ISDIR(status.st_mode);
}

/* The folder stated; else one called `captures` beside the chain file; else the chain file's own. NULL: no memory. */
static char *folder_of_captures(const gw_chain_draft *draft) {
    char *own = gw_path_folder(draft->file);
    if (own == NULL)
        return NULL;
    char *below = gw_path_join(own, draft->captures != NULL ? draft->captures : "captures");
    if (below != NULL && draft->captures == NULL && !is_folder(below)) {
        free(below);
        return own;
    }
    free(own);
    return below;
}

static bool find_folder(gw_chain_draft *draft) {
    if (draft->file == NULL)
        return true;
    char *folder = folder_of_captures(draft);
    if (folder != NULL)
        draft->chain->folder = gw_draft_copy(draft, folder);
    else
        gw_error_memory(draft->error);
    free(folder);
    return !draft->error->set;
}

static bool find_calibration(gw_chain_draft *draft) {
    if (draft->calibrate == NULL)
        return true;
    if (draft->full_scale_v > 0)
        return gw_error_set(draft->error, draft->file, draft->chain->calibrate_line,
                            "calibrate and full_scale together: one of them says what full scale is");
    char *path = gw_path_join(draft->chain->folder, draft->calibrate);
    if (path == NULL)
        return gw_error_memory(draft->error);
    draft->chain->calibrate = gw_draft_copy(draft, path);
    free(path);
    return !draft->error->set;
}

/* What was played lies with the captures, or beside the chain file. */
static bool find_sweep(const gw_chain_draft *draft) {
    gw_chain *chain = draft->chain;
    if (draft->sweep == NULL) {
        bool unknown = chain->stimulus.shape == GW_SHAPE_SWEEP && chain->reference == NULL;
        return !unknown || gw_error_set(draft->error, draft->file, draft->sweep_line,
                                        "a sweep tells nothing without what was played: name its file with 'sweep = "
                                        "sweep.wav', or the channel that holds it with 'reference = 1'");
    }
    if (chain->stimulus.shape != GW_SHAPE_UNKNOWN && chain->stimulus.shape != GW_SHAPE_SWEEP)
        return gw_error_set(draft->error, draft->file, draft->sweep_line,
                            "'sweep' names what was played, but 'stimulus' is no sweep");
    chain->stimulus.shape = GW_SHAPE_SWEEP;
    char *own = gw_path_folder(draft->file != NULL ? draft->file : "");
    char *with = gw_path_join(chain->folder, draft->sweep), *beside = gw_path_join(own, draft->sweep);
    if (with != NULL && beside != NULL)
        chain->sweep = gw_draft_copy(draft, access(with, F_OK) == 0 ? with : beside);
    free(own);
    free(with);
    free(beside);
    if (chain->stimulus_text == NULL)
        chain->stimulus_text = "sweep";
    return chain->sweep != NULL || gw_error_memory(draft->error);
}

bool gw_draft_finish(gw_chain_draft *draft, bool good, gw_chain **out, gw_error *error) {
    good = good && find_folder(draft) && find_calibration(draft) && find_sweep(draft) && gw_draft_link(draft) &&
           gw_draft_resolve(draft);
    *out = good ? draft->chain : NULL;
    if (!good && draft->chain != NULL)
        gw_chain_free(draft->chain);
    if (!good && error != NULL && !error->set)
        *error = draft->fault;
    free(draft->points);
    free(draft->rails);
    return good;
}

/* ---- chain files ---------------------------------------------------------------------------------- */

bool gw_chain_parse(const char *text, size_t length, const char *file, gw_chain **out, gw_error *error) {
    gw_chain_draft draft;
    *out = NULL;
    if (length > GW_CHAIN_TEXT_MAX)
        return gw_error_set(error, file, 0, "too large: chain files of up to %d bytes are read",
                            (int)GW_CHAIN_TEXT_MAX);
    bool good = gw_draft_start(&draft, file) && gw_draft_read(&draft, text, length);
    return gw_draft_finish(&draft, good, out, error);
}

bool gw_chain_load(const char *path, gw_chain **out, gw_error *error) {
    char *text = NULL;
    size_t length = 0;
    *out = NULL;
    if (!gw_file_read(path, GW_CHAIN_TEXT_MAX, &text, &length, error))
        return false;
    bool good = gw_chain_parse(text, length, path, out, error);
    free(text);
    if (good && !gw_chain_find_captures(*out, error)) {
        gw_chain_free(*out);
        *out = NULL;
        return false;
    }
    return good;
}

void gw_chain_free(gw_chain *chain) {
    if (chain == NULL)
        return;
    gw_strings_free(&chain->conditions);
    gw_arena_free(chain->arena);
    free(chain);
}
