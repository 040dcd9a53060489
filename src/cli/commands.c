/* The tables of commands and options, and the look-up of the command named first. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

enum { KNOWN_MAX = 32 };

const option_info gw_cli_options[OPTION_COUNT] = {
    [OPTION_JSON] = {"json", NULL, "print JSON instead of text"},
    [OPTION_HTML] = {"html", "FILE", "write a report to look at and to print"},
    [OPTION_CSV] = {"csv", "FILE", "write a table, one row a point"},
    [OPTION_SAVE] = {"save", "FILE", "keep the readings and the verdict as a record"},
    [OPTION_FORCE] = {"force", NULL, "replace files that exist already"},
    [OPTION_OUTPUT] = {"output", "FILE", "file to write (new: chain.ini, learn: learnt.ini); - is standard output"},
    [OPTION_FROM] = {"from", "FOLDER", "one point for each capture of the folder, in name order"},
    [OPTION_LIST] = {"from", "FILE", "more inputs, from a file with one a line; - is standard input"},
    [OPTION_SHARD] = {"shard", "K/N", "every N-th input only, from the K-th on: N runs share a long list"},
    [OPTION_LINES] = {"lines", NULL, "print JSON in one line an input, as they are done, with the input's number"},
    [OPTION_GAIN] = {"gain", "LIST", "expected gains between successive captures: 0dB,20dB,x0.5"},
    [OPTION_STIMULUS] = {"stimulus", "TEXT", "what is fed in: 'sine 1kHz 100mV'"},
    [OPTION_CHANNEL] = {"channel", "N", "channel to use, by number or heading name"},
    [OPTION_PROBE] = {"probe", "FACTOR", "probe factor that the files do not hold yet: x10"},
    [OPTION_FULL_SCALE] = {"full-scale", "LEVEL", "volts at digital full scale of WAV files: 1.95V"},
    [OPTION_ACCURACY] = {"accuracy", "PERCENT",
                         "vertical accuracy of the instrument: 3% (default for text files; WAV: 0)"},
    [OPTION_REFERENCE] = {"reference", "N", "channel with what went in: gain, phase and delay to each other channel"},
    [OPTION_MAINS] = {"mains", "FREQUENCY", "mains frequency: 50Hz or 60Hz (default: found out)"},
    [OPTION_BAND] = {"band", "LOW..HIGH", "band of noise and THD+N (default 20Hz..20kHz)"},
    [OPTION_RATE] = {"rate", "FREQUENCY", "sample rate, of files that give none or of a test signal (default 48kHz)"},
    [OPTION_FREQUENCY] = {"frequency", "F", "of the signal: 997Hz; of two tones 60Hz+7kHz; of a sweep 20Hz..20kHz"},
    [OPTION_LEVEL] = {"level", "LEVEL", "RMS: -20dBFS (default), or 100mV, 4dBu where --full-scale is given"},
    [OPTION_LENGTH] = {"length", "TIME", "how long (default 10s)"},
    [OPTION_FADE] = {"fade", "TIME", "soft start and end (default 10ms)"},
    [OPTION_CHANNELS] = {"channels", "N", "channels, all with the same signal (default 1)"},
    [OPTION_BITS] = {"bits", "16|24|float", "of each sample (default 24)"},
    [OPTION_DITHER] = {"dither", "tpdf|none",
                       "noise of two steps' width that frees rounding of distortion (default tpdf)"},
    [OPTION_SEED] = {"seed", "N", "another noise for each number (default 1)"},
    [OPTION_STEPS] = {"steps", "N", "how many levels (default 7)"},
    [OPTION_STEP] = {"step", "GAIN", "from one level to the next (default 10dB)"},
    [OPTION_ASSIGN] = {"assign", "name|order",
                       "captures belong to the point of their name (default), or to the next one"},
    [OPTION_JOBS] = {"jobs", "N", "captures to read at a time (default: one a processor)"},
    [OPTION_QUIET] = {"quiet", NULL, "the verdict alone"},
    [OPTION_COLOR] = {"color", "auto|always|never", "colours on the terminal (default auto; NO_COLOR turns them off)"},
    [OPTION_HELP] = {"help", NULL, "this help"},
    [OPTION_VERSION] = {"version", NULL, "the program's version"},
};

#define OUTPUTS  (WITH(OPTION_JSON) | WITH(OPTION_CSV) | WITH(OPTION_FORCE))
#define KEPT     (WITH(OPTION_HTML) | WITH(OPTION_SAVE))
#define LONG_JOB (WITH(OPTION_LIST) | WITH(OPTION_SHARD) | WITH(OPTION_LINES))
#define BENCH                                                                                                          \
    (WITH(OPTION_STIMULUS) | WITH(OPTION_CHANNEL) | WITH(OPTION_PROBE) | WITH(OPTION_FULL_SCALE) |                     \
     WITH(OPTION_ACCURACY) | WITH(OPTION_MAINS) | WITH(OPTION_BAND) | WITH(OPTION_RATE))

const command gw_cli_commands[] = {
    {.name = "walk",
     .usage = "CHAIN.ini... | CAPTURE...",
     .summary = "find the stage where the signal goes wrong",
     .details = "Judges the captures of one or more chain files. Without a chain file the captures are successive\n"
                "points of the signal path, in the order given; the options below then say what is known of them.\n",
     .example = "gainwalk walk --gain 0dB,20dB in.csv u1.csv out.csv",
     .options = OUTPUTS | KEPT | BENCH | LONG_JOB | WITH(OPTION_GAIN),
     .run = gw_cli_walk},
    {.name = "measure",
     .usage = "CAPTURE...",
     .summary = "readings of captures, without judging",
     .details =
         "Every channel of every file, each figure with its uncertainty (95 %) or why it cannot be given. With\n"
         "--reference also gain, phase, delay, polarity and coherence from that channel to the others, of a tone or\n"
         "of any programme.\n",
     .example = "gainwalk measure --stimulus 'sine 1kHz' out.csv",
     .options = OUTPUTS | BENCH | LONG_JOB | WITH(OPTION_REFERENCE),
     .run = gw_cli_measure},
    {.name = "peek",
     .usage = "CAPTURE...",
     .summary = "how a capture file was understood",
     .details = "Rate, channels, units, first values, what was ignored, and remarks. Nothing is measured.\n",
     .example = "gainwalk peek scope.csv",
     .options = WITH(OPTION_JSON),
     .run = gw_cli_peek},
    {.name = "compare",
     .usage = "BEFORE AFTER",
     .summary = "before and after the repair, point by point",
     .details = "Two records (made by walk --save) or chain files of the same unit: what became better, worse, or\n"
                "stayed the same within its uncertainty.\n",
     .example = "gainwalk compare before.json after.json",
     .options = OUTPUTS | WITH(OPTION_HTML),
     .run = gw_cli_compare},
    {.name = "learn",
     .usage = "CHAIN.ini [RECORD...]",
     .summary = "expectations from known-good units, as a chain file",
     .details =
         "Gain, DC, THD and noise of each point as good units show them: records (made by walk --save) or chain files\n"
         "with captures of the same chain; without any the chain's own captures. Limits are tolerance intervals for\n"
         "few samples (ISO 16269-6); each line says how many units it rests on.\n",
     .example = "gainwalk learn --output voice.ini tarn.ini good1.json good2.json good3.json",
     .options = WITH(OPTION_OUTPUT) | WITH(OPTION_FORCE),
     .run = gw_cli_learn},
    {.name = "watch",
     .usage = "CHAIN.ini",
     .summary = "judge each capture as it arrives in the captures folder",
     .details =
         "Shows the new point, the verdict so far and where to probe next. With --assign order a file of any name\n"
         "is taken for the point that was suggested. An --html page reloads itself. Ctrl-C ends with the full\n"
         "report.\n",
     .example = "gainwalk watch --assign order --html tarn.html tarn.ini",
     .options = OUTPUTS | KEPT | WITH(OPTION_ASSIGN),
     .run = gw_cli_watch},
    {.name = "new",
     .usage = "POINT... | --from FOLDER",
     .summary = "write a commented chain file to fill in",
     .details = "The points in the order of the signal, by the names of the test points or parts.\n",
     .example = "gainwalk new --output tarn.ini J1 U1-7 C9 J2",
     .options = WITH(OPTION_OUTPUT) | WITH(OPTION_FROM) | WITH(OPTION_FORCE),
     .run = gw_cli_new},
    {.name = "tone",
     .usage = "[SHAPE] OUT.wav",
     .summary = "write a test signal to feed in",
     .details =
         "Shapes: sine (default), saw, square, two-tone, difference, sweep, steps, pink, white, silence; 'gainwalk\n"
         "explain SHAPE' tells of each. Levels are RMS; 0 dBFS is a sine that just reaches full scale (AES17).\n"
         "The same options give the same bytes.\n",
     .example = "gainwalk tone sine --level 100mV --full-scale 1.95V tone.wav",
     .options = WITH(OPTION_FREQUENCY) | WITH(OPTION_LEVEL) | WITH(OPTION_FULL_SCALE) | WITH(OPTION_LENGTH) |
                WITH(OPTION_FADE) | WITH(OPTION_CHANNELS) | WITH(OPTION_RATE) | WITH(OPTION_BITS) |
                WITH(OPTION_DITHER) | WITH(OPTION_SEED) | WITH(OPTION_STEPS) | WITH(OPTION_STEP) | WITH(OPTION_FORCE),
     .run = gw_cli_tone},
    {.name = "response",
     .usage = "[SWEEP.wav] CAPTURE",
     .summary = "gain against frequency, and the -3 dB corners",
     .details =
         "From a sweep or noise: of one capture with the stimulus on its first channel and the output on its second,\n"
         "or of the file that was played and the capture of what came out, at the same sample rate. Gains of two\n"
         "files hold between volts only if both have the same full scale.\n",
     .example = "gainwalk response sweep.wav out.wav",
     .options = WITH(OPTION_JSON),
     .run = gw_cli_response},
    {.name = "explain",
     .usage = "[WORD...]",
     .summary = "what a reading, finding, stage kind or key means",
     .details =
         "Meaning, formula, source, likely causes and the check that would confirm each. Alone it lists all words.\n",
     .example = "gainwalk explain dc-passed coupling",
     .options = 0,
     .run = gw_cli_explain},
    {.name = "pages",
     .usage = "man|man-chain|bash|zsh",
     .summary = "manual pages and shell completions, for the installation",
     .details = "Written from the tables that the program itself works with.\n",
     .example = "gainwalk pages man --output gainwalk.1",
     .options = WITH(OPTION_OUTPUT) | WITH(OPTION_FORCE),
     .hidden = true,
     .run = gw_cli_pages},
    {.name = NULL},
};

static const command *find_command(const char *name) {
    for (const command *at = gw_cli_commands; at->name != NULL; at++)
        if (strcmp(at->name, name) == 0)
            return at;
    return NULL;
}

static int unknown_command(const char *name) {
    const char *known[KNOWN_MAX] = {NULL};
    size_t count = 0;
    for (const command *at = gw_cli_commands; at->name != NULL && count + 1 < KNOWN_MAX; at++)
        if (!at->hidden)
            known[count++] = at->name;
    const char *nearest = gw_word_nearest(name, known);
    gw_error error = {0};
    if (nearest != NULL)
        gw_error_set(&error, NULL, 0, "unknown command '%s', did you mean '%s'?", name, nearest);
    else
        gw_error_set(&error, NULL, 0, "unknown command '%s', see 'gainwalk --help'", name);
    return gw_cli_fail(&error);
}

static int print_help(const command *of) {
    gw_text text = {0};
    gw_cli_help(of, &text);
    bool printed = gw_cli_print(&text);
    gw_text_free(&text);
    return printed ? EXIT_IN_ORDER : EXIT_NOT_DONE;
}

static int print_version(void) {
    gw_text text = {0};
    gw_text_add(&text, PROGRAM "\n");
    bool printed = gw_cli_print(&text);
    gw_text_free(&text);
    return printed ? EXIT_IN_ORDER : EXIT_NOT_DONE;
}

static int run_command(const command *of, int argc, char **argv) {
    arguments given = {0};
    gw_error error = {0};
    int status = EXIT_NOT_DONE;
    if (!gw_cli_parse(of, argc, argv, 2, &given, &error) || !gw_cli_gather(&given, &error) ||
        !gw_cli_outputs_apart(&given, &error))
        status = gw_cli_fail(&error);
    else if (given.values[OPTION_HELP] != NULL)
        status = print_help(of);
    else if (given.values[OPTION_VERSION] != NULL)
        status = print_version();
    else
        status = of->run(&given);
    free(given.words);
    free(given.list);
    return status;
}

int gw_cli_main(int argc, char **argv) {
    const char *name = argc > 1 ? argv[1] : NULL;
    if (name == NULL) {
        gw_error error = {0};
        gw_error_set(&error, NULL, 0, "no command given, see 'gainwalk --help'");
        return gw_cli_fail(&error);
    }
    if (strcmp(name, "--version") == 0)
        return print_version();
    bool help = strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0 || strcmp(name, "help") == 0;
    if (help && argc > 2 && argv[2][0] != '-') {
        const command *of = find_command(argv[2]);
        return of != NULL ? print_help(of) : unknown_command(argv[2]);
    }
    if (help)
        return print_help(NULL);
    const command *of = find_command(name);
    return of != NULL ? run_command(of, argc, argv) : unknown_command(name);
}
