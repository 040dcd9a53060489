/* Published check values, read from tests/standards/published/: each with its source, what is asked and how near we
 * stay.
 *
 * A test program reads one of the files, checks value by value, and ends with published_all_checked: a value that
 * nobody looks at is no check. */
#ifndef GAINWALK_TESTS_PUBLISHED_H
#define GAINWALK_TESTS_PUBLISHED_H

#include "assert_close.h"
#include "gainwalk/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct published_row {
    char name[40];
    double value, asked, tight;
    bool checked;
} published_row;

static published_row published_rows[400];
static size_t published_count;

static inline double published_number(const char *text) {
    double value;
    if (!gw_number_parse(text, strlen(text), &value)) {
        print_error("no number: %s\n", text);
        fail();
    }
    return value;
}

/* name, value, unit, asked, tight, what: divided by tabs. */
static inline void published_line(char *line) {
    char *fields[6], *rest = line;
    for (int k = 0; k < 6; k++) {
        fields[k] = rest;
        rest += strcspn(rest, k < 5 ? "\t" : "");
        assert_true(k == 5 || *rest == '\t');
        if (k < 5)
            *rest++ = '\0';
    }
    assert_true(published_count < sizeof published_rows / sizeof *published_rows);
    published_row *row = &published_rows[published_count++];
    snprintf(row->name, sizeof row->name, "%s", fields[0]);
    row->value = published_number(fields[1]);
    row->asked = published_number(fields[3]);
    row->tight = published_number(fields[4]);
    assert_true(row->tight <= row->asked && strlen(fields[5]) > 0);
}

static inline int published_read(const char *file) {
    char path[1024], *text = NULL;
    size_t length;
    bool sourced = false;
    snprintf(path, sizeof path, "%s/standards/published/%s", GAINWALK_TESTS, file);
    if (!gw_file_read(path, 1 << 20, &text, &length, NULL)) {
        print_error("%s cannot be read\n", path);
        return 1;
    }
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n")) {
        if (strncmp(line, "source\t", 7) == 0) {
            sourced = true;
        } else if (*line != '#') {
            assert_true(sourced);
            published_line(line);
        }
    }
    free(text);
    return published_count == 0;
}

static inline published_row *published_find(const char *name) {
    for (size_t k = 0; k < published_count; k++)
        if (strcmp(published_rows[k].name, name) == 0)
            return &published_rows[k];
    print_error("no published value %s\n", name);
    fail();
    return NULL;
}

/* The value, where it is what a record is made from or a limit. */
static inline double published_value(const char *name) {
    published_row *row = published_find(name);
    row->checked = true;
    return row->value;
}

/* Within what is asked, and as near as it was. */
static inline void published(const char *name, double actual) {
    published_row *row = published_find(name);
    row->checked = true;
    if (!(fabs(actual - row->value) <= row->tight))
        print_error("%s:\n", name);
    assert_close(actual, row->value, row->asked);
    assert_close(actual, row->value, row->tight);
}

static inline void published_all_checked(void **state) {
    (void)state;
    for (size_t k = 0; k < published_count; k++) {
        if (!published_rows[k].checked)
            print_error("%s is not checked\n", published_rows[k].name);
        assert_true(published_rows[k].checked);
    }
}

#endif
