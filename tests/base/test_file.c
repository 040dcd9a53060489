/* Files are read whole and written whole or not at all. */
#include "assert_close.h"

#include "gainwalk/base.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char scratch_folder[] = "/tmp/gainwalk-file-XXXXXX";

static char *in_scratch(const char *name) {
    return gw_path_join(scratch_folder, name);
}

static int make_folder(void **state) {
    (void)state;
    return mkdtemp(scratch_folder) == NULL;
}

/* Fails where a test left something behind. */
static int remove_folder(void **state) {
    (void)state;
    return rmdir(scratch_folder);
}

static size_t entries(const char *file) {
    char *folder = gw_path_folder(file);
    DIR *open = opendir(folder);
    size_t count = 0;
    for (struct dirent *entry = readdir(open); entry != NULL; entry = readdir(open))
        count += entry->d_name[0] != '.';
    closedir(open);
    free(folder);
    return count;
}

static void written_file_is_never_lost(void **state) {
    (void)state;
    char *path = in_scratch("record.json");
    gw_error error = {0};
    assert_true(gw_file_write(path, "first", 5, false, &error));
    assert_false(gw_file_write(path, "second", 6, false, &error));
    assert_string_equal(error.text, "exists already, not overwritten");
    char *bytes = NULL;
    size_t length = 0;
    gw_error_clear(&error);
    assert_true(gw_file_read(path, 100, &bytes, &length, &error));
    assert_int_equal(length, 5);
    assert_string_equal(bytes, "first");
    free(bytes);
    assert_true(gw_file_write(path, "third", 5, true, &error));
    assert_true(gw_file_read(path, 100, &bytes, &length, &error));
    assert_string_equal(bytes, "third");
    free(bytes);
    assert_int_equal(entries(path), 1);
    unlink(path);
    free(path);
}

static void nothing_is_left_where_nothing_can_be_written(void **state) {
    (void)state;
    char *path = in_scratch("nowhere/record.json");
    gw_error error = {0};
    assert_false(gw_file_write(path, "x", 1, false, &error));
    assert_non_null(strstr(error.text, "cannot be written"));
    free(path);
    gw_error_clear(&error);
    assert_false(gw_file_write("/dev/null", "x", 1, true, &error));
    assert_string_equal(error.text, "not a regular file, not overwritten");
}

static void what_is_no_file_is_refused_and_never_waited_for(void **state) {
    (void)state;
    char *bytes = NULL;
    size_t length = 0;
    gw_error error = {0};
    char *fifo = in_scratch("fifo");
    assert_int_equal(mkfifo(fifo, 0600), 0);
    assert_false(gw_file_read(fifo, 100, &bytes, &length, &error));
    assert_string_equal(error.text, "cannot be read: not a regular file");
    unlink(fifo);
    free(fifo);
    gw_error_clear(&error);
    assert_false(gw_file_read("/", 100, &bytes, &length, &error));
    assert_string_equal(error.text, "cannot be read: a folder");
    gw_error_clear(&error);
    assert_false(gw_file_read("/no/such/file", 100, &bytes, &length, &error));
    assert_string_equal(error.text, "cannot be read: No such file or directory");
    assert_null(bytes);
    char *path = in_scratch("big");
    gw_error_clear(&error);
    assert_true(gw_file_write(path, "12345", 5, false, &error));
    assert_false(gw_file_read(path, 4, &bytes, &length, &error));
    assert_string_equal(error.text, "too large: up to 4 bytes are read");
    unlink(path);
    free(path);
}

static void paths(void **state) {
    (void)state;
    static const char *const rows[][3] = {{"a/b", "c", "a/b/c"}, {"a/", "c", "a/c"}, {"", "c", "c"}, {"a", "/c", "/c"}};
    for (size_t i = 0; i < 4; i++) {
        char *joined = gw_path_join(rows[i][0], rows[i][1]);
        assert_string_equal(joined, rows[i][2]);
        free(joined);
    }
    char *folder = gw_path_folder("/x");
    assert_string_equal(folder, "/");
    free(folder);
    assert_string_equal(gw_path_name("a/b/c.csv"), "c.csv");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(written_file_is_never_lost),
        cmocka_unit_test(nothing_is_left_where_nothing_can_be_written),
        cmocka_unit_test(what_is_no_file_is_refused_and_never_waited_for),
        cmocka_unit_test(paths),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
