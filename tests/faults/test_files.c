/* Every call that touches a file fails in turn, by a full disk, a broken disk, a missing right or an interruption,
 * while commands read and write: the command ends with 2 and says why, or all is as it should be; what was there before
 * is still there unless the new is there whole; no piece of a file stays behind. */
#include "faults/faulty.h"

static const char old_text[] = "what was here before\n";

typedef struct attempt {
    const char *words[12];
    const char *output; /* the file that it writes; NULL */
    bool existing;      /* which is there before */
} attempt;

static const attempt attempts[] = {
    {{"gainwalk", "walk", "--quiet", "--jobs", "1", "--save", "new.json", "chain.ini"}, "new.json", false},
    {{"gainwalk", "walk", "--quiet", "--jobs", "1", "--force", "--save", "new.json", "chain.ini"}, "new.json", true},
    {{"gainwalk", "walk", "--quiet", "--jobs", "1", "--force", "--html", "new.html", "before.json"}, "new.html", true},
    {{"gainwalk", "walk", "--jobs", "1", "--csv", "new.csv", "in.csv", "out.csv"}, "new.csv", false},
    {{"gainwalk", "measure", "--jobs", "1", "in.csv", "in.wav"}, NULL, false},
    {{"gainwalk", "compare", "before.json", "after.json"}, NULL, false},
    {{"gainwalk", "learn", "--output", "new.ini", "chain.ini", "before.json"}, "new.ini", false},
    {{"gainwalk", "tone", "--length", "10ms", "--force", "new.wav"}, "new.wav", true},
    {{"gainwalk", "new", "--output", "new.ini", "A", "B"}, "new.ini", false},
};

typedef struct way {
    const char *call;
    int reason;
} way;

static const way ways[] = {
    {"open", EACCES}, {"open", EMFILE},  {"open", ENOENT},  {"read", EIO},     {"read", EINTR},     {"write", ENOSPC},
    {"write", EIO},   {"write", EINTR},  {"fsync", EIO},    {"fsync", ENOSPC}, {"close", EIO},      {"rename", EACCES},
    {"link", EACCES}, {"link", EPERM},   {"stat", EIO},     {"lstat", EACCES}, {"opendir", EACCES}, {"readdir", EIO},
    {"print", EPIPE}, {"print", ENOSPC}, {"flush", ENOSPC},
};

static void put_before(const attempt *of) {
    if (of->output == NULL)
        return;
    unlink(of->output);
    if (of->existing)
        write_text(of->output, old_text);
}

/* The text of a file; NULL where there is none. The caller frees. */
static char *text_of(const char *name) {
    char *text = NULL;
    size_t length = 0;
    gw_error error = {0};
    return name != NULL && gw_file_read(name, 1 << 24, &text, &length, &error) ? text : NULL;
}

static bool is_record_time(const char *line) {
    return strstr(line, "\"created\"") != NULL || strstr(line, "created") != NULL;
}

/* Alike, but for the time of making. */
static bool alike(const char *one, const char *other) {
    if (one == NULL || other == NULL)
        return one == other;
    size_t length = strlen(one);
    return length == strlen(other) && (strcmp(one, other) == 0 || is_record_time(one));
}

static size_t names_in_folder(void) {
    size_t count = 0;
    DIR *folder = opendir(".");
    for (struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder))
        count++;
    closedir(folder);
    return count;
}

static bool is_right(const attempt *of, const outcome *made, const outcome *whole, const char *whole_file,
                     size_t names) {
    char *now_there = text_of(of->output);
    bool is_new = alike(now_there, whole_file);
    bool is_old = of->existing ? now_there != NULL && strcmp(now_there, old_text) == 0 : now_there == NULL;
    size_t more = of->output != NULL && !of->existing && now_there != NULL ? 1 : 0;
    free(now_there);
    if (made->left != 0 || names_in_folder() != names + more)
        return false;
    if (made->status == 2)
        return made->told[0] != '\0' && (of->output == NULL || is_old || is_new);
    return made->status == whole->status && (of->output == NULL || is_new);
}

static long try_way(const attempt *of, const way *by) {
    static outcome whole, made;
    long wrong = 0, at = 0;
    put_before(of);
    run_command(of->words, NULL, &whole);
    char *whole_file = text_of(of->output);
    do {
        fault one = {.call = by->call, .at = ++at, .reason = by->reason};
        put_before(of);
        size_t names = names_in_folder();
        run_command(of->words, &one, &made);
        if (is_right(of, &made, &whole, whole_file, names))
            continue;
        wrong++;
        print_error("%s %s, %s %ld fails by %s: status %d, %ld blocks left, told: %s\n", of->words[1], of->words[2],
                    by->call, at, strerror(by->reason), made.status, made.left, made.told);
    } while (made.failed > 0);
    free(whole_file);
    if (of->output != NULL)
        unlink(of->output);
    return wrong;
}

static void every_call_fails(void **state) {
    (void)state;
    long wrong = 0;
    for (size_t i = 0; i < sizeof attempts / sizeof *attempts; i++)
        for (size_t k = 0; k < sizeof ways / sizeof *ways; k++)
            wrong += try_way(&attempts[i], &ways[k]);
    assert_int_equal(wrong, 0);
}

/* An interrupted call is no failure: it is made again. */
static void interruptions_do_no_harm(void **state) {
    (void)state;
    static outcome made;
    static const char *const calls[] = {"read", "write"};
    for (size_t i = 0; i < 2; i++) {
        fault one = {.call = calls[i], .at = 2 - (long)i, .reason = EINTR};
        unlink("new.json");
        run_command(attempts[0].words, &one, &made);
        assert_int_equal(made.failed, 1);
        assert_int_equal(made.status, 1);
        assert_int_equal(unlink("new.json"), 0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_call_fails),
        cmocka_unit_test(interruptions_do_no_harm),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
