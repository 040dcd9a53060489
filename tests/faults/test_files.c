/* Every call that touches a file fails in turn, by a full disk, a broken disk, a missing right or an interruption,
 * while commands read and write: the command ends with 2 and says why, or all is as it should be; what was there before
 * is still there unless the new is there whole; no piece of a file stays behind. */
#include "faults/faulty.h"

static const char old_text[] = "what was here before\n";

typedef struct attempt {
    const char *words[12];
    const char *output; /* the file that it writes; NULL */
    bool existing;      /* which is there before */
    const char *ending; /* of a whole one; NULL: it has the same length each time */
    const char *input;  /* what comes by standard input; NULL */
} attempt;

static const attempt attempts[] = {
    {{"gainwalk", "walk", "--quiet", "--jobs", "1", "--save", "new.json", "chain.ini"},
     "new.json",
     false,
     "]\n}\n",
     NULL},
    {{"gainwalk", "walk", "--quiet", "--jobs", "1", "--force", "--save", "new.json", "chain.ini"},
     "new.json",
     true,
     "]\n}\n",
     NULL},
    {{"gainwalk", "walk", "--quiet", "--jobs", "1", "--force", "--html", "new.html", "before.json"},
     "new.html",
     true,
     "</html>\n",
     NULL},
    {{"gainwalk", "walk", "--jobs", "1", "--csv", "new.csv", "in.csv", "out.csv"}, "new.csv", false, "\n", NULL},
    {{"gainwalk", "measure", "--jobs", "1", "in.csv", "in.wav"}, NULL, false, NULL, NULL},
    {{"gainwalk", "compare", "before.json", "after.json"}, NULL, false, NULL, NULL},
    {{"gainwalk", "learn", "--output", "new.ini", "chain.ini", "before.json"}, "new.ini", false, NULL, NULL},
    {{"gainwalk", "tone", "--length", "100ms", "--force", "new.wav"}, "new.wav", true, NULL, NULL},
    {{"gainwalk", "new", "--output", "new.ini", "A", "B"}, "new.ini", false, NULL, NULL},
    {{"gainwalk", "peek", "-"}, NULL, false, NULL, "in.csv"},
    {{"gainwalk", "measure", "--json", "--jobs", "1", "-"}, NULL, false, NULL, "in.wav"},
    {{"gainwalk", "walk", "--jobs", "1", "-"}, NULL, false, NULL, "chain.ini"},
    {{"gainwalk", "measure", "--jobs", "1", "--from", "-"}, NULL, false, NULL, "list.txt"},
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

typedef struct content {
    char *bytes; /* NULL: there is no file */
    size_t length;
} content;

/* The caller frees `bytes`. */
static content content_of(const char *name) {
    content out = {0};
    gw_error error = {0};
    if (name != NULL)
        (void)gw_file_read(name, 1 << 24, &out.bytes, &out.length, &error);
    return out;
}

/* Not the same throughout: a record holds the time, and of a capture that could not be read the reason. */
static bool is_whole(const attempt *of, const content *there, const content *wanted) {
    if (there->bytes == NULL || wanted->bytes == NULL)
        return there->bytes == wanted->bytes;
    if (of->ending == NULL)
        return there->length == wanted->length && memcmp(there->bytes, wanted->bytes, there->length) == 0;
    size_t end = strlen(of->ending);
    return there->length > end && strcmp(there->bytes + there->length - end, of->ending) == 0;
}

static size_t names_in_folder(void) {
    size_t count = 0;
    DIR *folder = opendir(".");
    for (struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder))
        count++;
    closedir(folder);
    return count;
}

static bool is_right(const attempt *of, const outcome *made, const outcome *whole, const content *wanted,
                     size_t names) {
    content there = content_of(of->output);
    bool is_new = is_whole(of, &there, wanted);
    bool is_old = of->existing ? there.bytes != NULL && strcmp(there.bytes, old_text) == 0 : there.bytes == NULL;
    size_t more = of->output != NULL && !of->existing && there.bytes != NULL ? 1 : 0;
    free(there.bytes);
    if (made->left != 0 || names_in_folder() != names + more)
        return false;
    if (made->status == 2)
        return made->told[0] != '\0' && (of->output == NULL || is_old || is_new);
    return made->status == whole->status && (of->output == NULL || is_new);
}

static long try_way(const attempt *of, const way *by) {
    static outcome whole, made;
    long wrong = 0, at = 0;
    input_name = of->input != NULL ? of->input : "/dev/null";
    write_text("list.txt", "in.csv\nin.wav\n");
    put_before(of);
    run_command(of->words, NULL, &whole);
    if (whole.status == 2)
        print_error("%s %s: %s\n", of->words[1], of->words[2], whole.told);
    assert_int_not_equal(whole.status, 2);
    content wanted = content_of(of->output);
    do {
        fault one = {.call = by->call, .at = ++at, .reason = by->reason};
        put_before(of);
        size_t names = names_in_folder();
        run_command(of->words, &one, &made);
        if (is_right(of, &made, &whole, &wanted, names))
            continue;
        wrong++;
        print_error("%s %s, %s %ld fails by %s: status %d, %ld blocks left, told: %s\n", of->words[1], of->words[2],
                    by->call, at, strerror(by->reason), made.status, made.left, made.told);
    } while (made.failed > 0);
    free(wanted.bytes);
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

/* A table long enough to be packed into a file; with holes it is unpacked again, into columns that lie in files. */
static void write_long(const char *name, bool holes) {
    FILE *file = fopen(name, "w");
    assert_non_null(file);
    fputs("s,V,V\n", file);
    for (int i = 0; i < 280000; i++) {
        fprintf(file, "%.7f,%d.%03d,", i * 1e-6, i % 7, i % 1000);
        fprintf(file, holes && i > 150000 && i % 10000 == 9999 ? "\n" : "%d.5\n", i % 11);
    }
    assert_int_equal(fclose(file), 0);
}

/* Beyond what every_call_fails asks for: what is told of a long capture is the same, or that it could not be read. */
static void long_tables_lose_nothing(void **state) {
    (void)state;
    static outcome whole, made;
    static const way by[] = {{"read", EIO},    {"read", EINTR},     {"write", ENOSPC}, {"write", EIO},
                             {"write", EINTR}, {"reserve", ENOSPC}, {"open", EMFILE}};
    const char *words[] = {"gainwalk", "peek", "--json", "--jobs", "1", "long.csv", NULL};
    long wrong = 0;
    input_name = "/dev/null";
    for (int holes = 0; holes < 2; holes++) {
        write_long("long.csv", holes);
        run_command(words, NULL, &whole);
        assert_int_equal(whole.status, 0);
        for (size_t k = 0; k < sizeof by / sizeof *by; k++)
            for (long at = 1, more = 1; more > 0; at += 1 + at / 8, more = made.failed) { /* of many not each */
                fault one = {.call = by[k].call, .at = at, .lasting = by[k].reason == ENOSPC, .reason = by[k].reason};
                run_command(words, &one, &made);
                bool right = made.status == 2 ? strstr(made.told, strerror(by[k].reason)) != NULL
                                              : strcmp(made.printed, whole.printed) == 0;
                if (right && made.left == 0)
                    continue;
                wrong++;
                print_error("holes %d, %s %ld fails by %s: status %d, told: %s\n", holes, by[k].call, at,
                            strerror(by[k].reason), made.status, made.told);
            }
    }
    assert_int_equal(unlink("long.csv"), 0);
    assert_int_equal(wrong, 0);
}

static void put_into_pipe(const char *bytes, size_t length) {
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    assert_int_equal(write(ends[1], bytes, length), (ssize_t)length);
    close(ends[1]);
    __fpurge(stdin);
    clearerr(stdin);
    direct(0, ends[0]);
    close(ends[0]);
}

/* A pipe tells no size: it is cut off as soon as it has brought too much, and nothing of it stays. */
static void too_much_by_a_pipe(void **state) {
    (void)state;
    char path[64], text[256];
    int held;
    size_t names = names_in_folder();
    for (uint64_t limit = 9; limit <= 11; limit++) {
        gw_error error = {0};
        put_into_pipe("ten bytes\n", 10);
        assert_int_equal(gw_cli_keep_input(limit, path, sizeof path, &held, &error), limit >= 10);
        if (limit >= 10)
            gw_cli_drop_input(path, held);
        else
            assert_string_equal(gw_error_print(&error, text, sizeof text),
                                "-: too large: up to 9 bytes of standard input are kept");
        assert_int_equal(names_in_folder(), names);
    }
}

/* One that names no file: its reason is told, and nothing is left. */
static void input_that_cannot_be_kept(void **state) {
    (void)state;
    char path[64], text[256], long_name[100];
    int held;
    gw_error error = {0}, other = {0}, third = {0};
    memset(long_name, 'x', sizeof long_name);
    long_name[sizeof long_name - 1] = '\0';
    put_into_pipe("a", 1);
    setenv("TMPDIR", "nowhere", 1);
    assert_false(gw_cli_keep_input(9, path, sizeof path, &held, &error));
    assert_string_equal(gw_error_print(&error, text, sizeof text),
                        "-: standard input cannot be kept: No such file or directory");
    setenv("TMPDIR", long_name, 1);
    assert_false(gw_cli_keep_input(9, path, sizeof path, &held, &other));
    assert_non_null(strstr(gw_error_print(&other, text, sizeof text), "too long"));
    setenv("TMPDIR", ".", 1);
    input_name = ".";
    direct_input(); /* a folder */
    assert_false(gw_cli_keep_input(9, path, sizeof path, &held, &third));
    assert_string_equal(gw_error_print(&third, text, sizeof text), "-: standard input cannot be read: Is a directory");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_call_fails),          cmocka_unit_test(interruptions_do_no_harm),
        cmocka_unit_test(long_tables_lose_nothing),  cmocka_unit_test(too_much_by_a_pipe),
        cmocka_unit_test(input_that_cannot_be_kept),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
