/* Files that come, grow, change and vanish: which of them are complete. */
#ifndef GAINWALK_CLI_FOLDER_H
#define GAINWALK_CLI_FOLDER_H

#include "cli.h"

#include <sys/types.h>

typedef struct folder_file {
    char *path;
    dev_t device;
    ino_t inode;
    off_t size;
    long long modified_ns;
    double since_s; /* when it was last seen to change */
    int tries;      /* to read it since then */
    bool there;     /* at the last look */
    bool judged;    /* as it is now */
    bool used;      /* it was part of a verdict */
    bool early;     /* it was there before the watching began */
} folder_file;

/* A folder and single files elsewhere. */
typedef struct folder {
    char *path;
    gw_strings extra; /* files to look at beside the folder's */
    folder_file *files;
    size_t count, capacity;
    bool looked;
    bool missing; /* the folder, at the last look */
} folder;

bool gw_folder_open(folder *out, const char *path, gw_error *error);
void gw_folder_free(folder *of);

/* One more file to look at, whether in the folder or not. */
bool gw_folder_add(folder *to, const char *path, gw_error *error);

/* Looks at every file. Hidden files and those that a program is known to write first under another name are left out.
 * False only when memory is out. */
bool gw_folder_look(folder *at, double now_s, gw_error *error);

/* A file that has not changed (or has been gone) for `steady_s` and is not judged yet: the one that came first. NULL if
 * none. An empty file is never complete. */
folder_file *gw_folder_complete(const folder *of, double now_s, double steady_s);

/* Whether some file is not judged yet. */
bool gw_folder_waiting(const folder *of);

/* The file behind a path, by what the system says, not by its spelling; NULL where there is none. */
folder_file *gw_folder_find(const folder *of, const char *path);

#endif
