/* gainwalk watch: what its files share. */
#ifndef GAINWALK_CLI_WATCH_H
#define GAINWALK_CLI_WATCH_H

#include "folder.h"

/* A file taken for a point whose name it does not bear. */
typedef struct assignment {
    char *point, *path;
} assignment;

typedef struct watch {
    const arguments *given;
    const char *chain_path;
    bool by_order;
    int jobs;
    folder files;
    assignment *assigned;
    size_t assigned_count, assigned_capacity;
    job *judged; /* the latest; NULL before the first */
} watch;

/* ---- watch_judge.c ---- */

/* Judges all that is there now; the last outcome stays where that fails. */
bool gw_cli_watch_judge(watch *of, gw_error *error);

/* The first judgement, of what was there before. */
bool gw_cli_watch_begin(watch *of, gw_error *error);

/* Deals with every file that is complete: judges, and tells. */
void gw_cli_watch_round(watch *of, double now_s);
void gw_cli_watch_free(watch *of);

/* ---- watch_tell.c ---- */

/* The line of a point or rail, by its name. */
void gw_cli_watch_point(const gw_walk *walk, const char *name, const char *path, gw_text *out);
/* The verdict so far and where to probe next, on standard output and in the page. */
void gw_cli_watch_verdict(const watch *of, const gw_text *points);
/* The full report at the end; the exit status. */
int gw_cli_watch_end(const watch *of);

#endif
