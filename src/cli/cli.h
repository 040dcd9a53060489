/* The command line: one table of commands, one of options; help, completion and manual read the same tables. */
#ifndef GAINWALK_CLI_H
#define GAINWALK_CLI_H

#include "gainwalk/gainwalk.h"

#include <sys/stat.h>
#include <time.h>

#define PROGRAM "gainwalk " GAINWALK_VERSION

/* Exit statuses. Of several outcomes the gravest decides: see gw_cli_worse. */
enum { EXIT_IN_ORDER = 0, EXIT_FAULT_FOUND = 1, EXIT_NOT_DONE = 2, EXIT_UNSURE = 3 };

typedef enum option_id {
    OPTION_JSON,
    OPTION_HTML,
    OPTION_CSV,
    OPTION_SAVE,
    OPTION_FORCE,
    OPTION_OUTPUT,
    OPTION_FROM,
    OPTION_LIST,
    OPTION_SHARD,
    OPTION_LINES,
    OPTION_GAIN,
    OPTION_STIMULUS,
    OPTION_CHANNEL,
    OPTION_PROBE,
    OPTION_FULL_SCALE,
    OPTION_ACCURACY,
    OPTION_REFERENCE,
    OPTION_MAINS,
    OPTION_BAND,
    OPTION_RATE,
    OPTION_FREQUENCY,
    OPTION_LEVEL,
    OPTION_LENGTH,
    OPTION_FADE,
    OPTION_CHANNELS,
    OPTION_BITS,
    OPTION_DITHER,
    OPTION_SEED,
    OPTION_STEPS,
    OPTION_STEP,
    OPTION_ASSIGN,
    OPTION_JOBS,
    OPTION_QUIET,
    OPTION_COLOR,
    OPTION_HELP,
    OPTION_VERSION,
    OPTION_COUNT
} option_id;

typedef struct option_info {
    const char *name;     /* without the two dashes */
    const char *argument; /* what it takes, as help shows it; choices as `one|other`; NULL for a switch */
    const char *meaning;
} option_info;

/* One row an option, indexed by option_id. */
extern const option_info gw_cli_options[OPTION_COUNT];

typedef struct command command;

/* A command line taken apart. Everything points into argv. */
typedef struct arguments {
    const command *command;
    const char *values[OPTION_COUNT]; /* NULL where not given; "" for a switch */
    const char **words;               /* what is no option, in order */
    size_t count;
    size_t shard, shards; /* words[i] is input `shard + i * shards` of all, see gw_cli_gather */
    char *list;           /* text of the list of inputs that words point into */
} arguments;

struct command {
    const char *name;
    const char *usage;   /* what follows the name */
    const char *summary; /* one line */
    const char *details; /* a few lines more, for its --help */
    const char *example;
    uint64_t options; /* bits of option_id beside the common ones */
    bool hidden;      /* not for people: left out of help, manual and completions */
    int (*run)(const arguments *given);
};

/* Ended by a NULL name. */
extern const command gw_cli_commands[];

#define WITH(option) (UINT64_C(1) << (option))

/* Adds the inputs that --from lists to the words, and keeps every N-th of them for --shard. False after `error` was
 * filled. The caller frees `words` and `list`. */
bool gw_cli_gather(arguments *given, gw_error *error);

/* Reads argv[from..argc) for a command. False after `error` was filled. The caller frees `words`. */
bool gw_cli_parse(const command *of, int argc, char **argv, int from, arguments *out, gw_error *error);

int gw_cli_main(int argc, char **argv);

/* Whether a command takes an option, the common ones included. */
bool gw_cli_takes(const command *of, size_t option);

/* Every word that `explain` knows, at most `max`; how many. */
size_t gw_cli_explain_words(const char **words, size_t max);

/* The manual pages in roff and the completions of shells, from the tables. */
void gw_cli_manual(gw_text *out);
void gw_cli_manual_chain(gw_text *out);
void gw_cli_completion_bash(gw_text *out);
void gw_cli_completion_zsh(gw_text *out);
/* What a command's words are, for completion. */
bool gw_cli_takes_words(const command *of);
bool gw_cli_takes_shapes(const command *of);

/* Text of `gainwalk --help`, or of one command's. */
void gw_cli_help(const command *of, gw_text *out);

/* Whether a word is `-`. */
bool gw_cli_is_standard(const char *word);
/* Bytes of a capture that comes by standard input. */
#define INPUT_MAX ((uint64_t)4 << 30)
/* Keeps standard input, `limit` bytes at most, in a temporary file, by whose name in `path` it can be opened until
 * gw_cli_drop_input. That goes by a descriptor, `*held`, and nothing is left however the program ends; where the system
 * has no such names it is -1, and the file has one of its own. On failure nothing is left. */
bool gw_cli_keep_input(uint64_t limit, char *path, size_t size, int *held, gw_error *error);
void gw_cli_drop_input(const char *path, int held);
/* All of standard input, `limit` bytes at most. */
bool gw_cli_input_text(size_t limit, gw_text *out, gw_error *error);

/* Prints an error on standard error, with the program's name before it; returns EXIT_NOT_DONE. */
int gw_cli_fail(const gw_error *error);

/* Writes a report to standard output, or where `path` says ("-" is standard output). False when that failed, and said.
 */
bool gw_cli_print(const gw_text *text);
bool gw_cli_write(const char *path, const gw_text *text, bool force);

/* Whether one of the files to write is standard output, which then belongs to it alone. */
bool gw_cli_output_taken(const arguments *given);

/* Brings a report where it belongs (`path` NULL: standard output), or tells why it could not be made; frees its text.
 */
bool gw_cli_deliver(bool made, gw_text *text, const gw_error *error, const arguments *given, const char *path);

/* The time in ISO 8601, UTC; NULL where there is no clock. */
const char *gw_cli_now(char *out, size_t size);

/* A line of news for whoever watches, on standard error. */
void gw_cli_note(const char *what, const char *subject);

/* Colour, width and such, from the options, the environment and whether standard output is a terminal. False after a
 * message. */
bool gw_cli_report_options(const arguments *given, gw_report_options *out);

/* The worse of two exit statuses: 2 before 1 before 3 before 0. */
int gw_cli_worse(int one, int other);

/* Threads to use: --jobs, or what the machine has. False after `error` was filled. */
bool gw_cli_jobs(const arguments *given, int *jobs, gw_error *error);

/* How many of `count` things to do at a time with `jobs` threads: what is left over goes into each of them. At least 1.
 */
int gw_cli_side_by_side(size_t count, int jobs);

/* Called first of all: arrays come and go by the hundred, and are kept by the allocator instead of being given back to
 * the system, cleared again and touched for the first time again. */
void gw_cli_memory_begin(void);

/* Called before several threads work on one file: what one of them is through with serves another. Threads with a file
 * each keep a heap each, for they would wait for each other. */
void gw_cli_memory_share(void);

/* What the options say of captures without a chain file. Unset options leave zeros (accuracy: -1). */
typedef struct bench {
    gw_capture_options capture;
    gw_measure_options measure;
} bench;
bool gw_cli_bench(const arguments *given, bench *out, gw_error *error);

/* The chain that captures on the command line make, in their order. The caller frees. */
bool gw_cli_plain_chain(const arguments *given, gw_chain **out, gw_error *error);

/* ---- one line an input, in the order of the inputs, each as soon as it and those before it are done ---- */
typedef struct line_queue {
    const arguments *given;
    gw_text *waiting; /* by input */
    bool *ready;
    size_t next; /* the first that is not printed yet */
    bool failed;
} line_queue;
bool gw_cli_lines_begin(line_queue *out, const arguments *given, gw_error *error);
/* Hands over the line of input `index` (its text is taken over), from any thread. */
void gw_cli_lines_put(line_queue *to, size_t index, gw_text *line);
/* False where a line could not be made or written, which was said. */
bool gw_cli_lines_end(line_queue *of);

/* ---- commands ---- */
int gw_cli_walk(const arguments *given);
int gw_cli_measure(const arguments *given);
int gw_cli_peek(const arguments *given);
int gw_cli_compare(const arguments *given);
int gw_cli_new(const arguments *given);
int gw_cli_explain(const arguments *given);
int gw_cli_tone(const arguments *given);
int gw_cli_watch(const arguments *given);
int gw_cli_learn(const arguments *given);
int gw_cli_response(const arguments *given);
int gw_cli_pages(const arguments *given);

/* ---- a chain judged from its files ---- */
typedef struct job job;

/* Reads and measures every capture of a chain (at most `jobs` at a time) and judges it. Takes the chain over, also on
 * failure. The caller frees with gw_cli_job_free. */
bool gw_cli_job_run(gw_chain *chain, int jobs, job **out, gw_error *error);

/* A file as it was when it was looked at: all zero where there is none. */
typedef struct file_stamp {
    dev_t device;
    ino_t inode;
    off_t size;
    struct timespec modified, changed;
} file_stamp;
file_stamp gw_cli_stamp(const char *path);

/* The same once more: captures that have not changed since are not measured again, if the chain file (`own`: before it
 * was loaded) has not changed either. Frees the earlier job, unless it fails. */
bool gw_cli_job_again(gw_chain *chain, const file_stamp *own, job *earlier, int jobs, job **out, gw_error *error);
void gw_cli_job_free(job *done);
const gw_walk *gw_cli_job_walk(const job *done);

/* Whether two words name one file that is there. */
bool gw_cli_are_one(const char *one, const char *other);

/* Whether the files to write are apart from each other and from what is read: words and list, or captures of walks. */
bool gw_cli_outputs_apart(const arguments *given, gw_error *error);
bool gw_cli_captures_apart(const arguments *given, const gw_walk *const *walks, size_t count, gw_error *error);

/* Every report of walks that the options ask for, on standard output and in files. False after a message. */
bool gw_cli_report_walks(const arguments *given, const gw_walk *const *walks, size_t count);

/* ---- where walks come from: a chain file, or a record ---- */
typedef struct source {
    job *judged;
    gw_record *record;
} source;
bool gw_cli_source_load(const char *word, int jobs, source *out, gw_error *error);
size_t gw_cli_source_count(const source *from);
const gw_walk *gw_cli_source_walk(const source *from, size_t index);
/* Captures that could not be read stand in the report; whoever reads only standard error is told here as well. */
void gw_cli_source_tell(const source *from);

void gw_cli_source_free(source *of);

/* ---- progress: on standard error, only on a terminal, only after half a second ---- */
typedef struct progress {
    bool shown;
    double started_s;
    size_t done, of;
} progress;
progress gw_cli_progress_begin(size_t of, bool quiet);
void gw_cli_progress_step(progress *state);
void gw_cli_progress_end(progress *state);

#endif
