/* Records damaged at random: each is refused, or is one that every report can be made from. */
#include "assert_close.h"

#include "report/invented.h"
#include "trials.h"

#include <jansson.h>
#include <stdlib.h>

/* Numerical Recipes' quick generator; the seed is fixed. */
static uint32_t random_next(uint32_t *state) {
    *state = *state * 1664525U + 1013904223U;
    return *state >> 8;
}

typedef bool walk_report(const gw_walk *const *, size_t, const gw_report_options *, gw_text *, gw_error *);

static void make_every_report(const gw_walk *walk, const gw_walk *healthy) {
    static walk_report *const reports[] = {gw_report_walk_text, gw_report_walk_json, gw_report_walk_csv,
                                           gw_report_walk_html};
    gw_report_options options = {.program = "gainwalk 0.1.0", .color = true};
    gw_error error = {0};
    for (size_t i = 0; i < sizeof reports / sizeof *reports; i++) {
        gw_text text = {0};
        assert_true(reports[i](&walk, 1, &options, &text, &error));
        gw_text_free(&text);
    }
    gw_comparison *comparison = NULL;
    gw_text text = {0};
    assert_true(gw_compare_run(walk, healthy, &comparison, &error));
    const gw_comparison *one[] = {comparison};
    assert_true(gw_report_compare_html(one, 1, &options, &text, &error));
    gw_text_free(&text);
    gw_comparison_free(comparison);
}

static char *record_of(const gw_walk *walk) {
    gw_text text = {0};
    gw_error error = {0};
    gw_record_options options = {.program = "gainwalk 0.1.0"};
    assert_true(gw_record_write(&walk, 1, &options, &text, &error));
    return text.data;
}

/* Half of the damage goes where the structure is, not into the long curves. */
static size_t place_of(uint32_t *state, size_t length) {
    uint32_t kind = random_next(state) % 4, at = random_next(state);
    if (kind == 0)
        return at % 4000;
    return kind == 1 ? length - 1 - at % 12000 : at % length;
}

static void damaged_records_are_refused_or_usable(void **state) {
    (void)state;
    static const char replacements[] = "0123456789-+.eE\",:[]{}ntf\x01\xFF ";
    gw_walk *walk = invented_walk();
    char *text = record_of(walk);
    size_t length = strlen(text), refused = 0, usable = 0;
    uint32_t seed = 20261125;
    int trials = trials_of(250);
    for (int i = 0; i < trials; i++) {
        size_t at = place_of(&seed, length);
        char kept = text[at];
        text[at] = replacements[random_next(&seed) % (sizeof replacements - 1)];
        gw_record *record = NULL;
        gw_error error = {0};
        if (gw_record_parse(text, length, "r.json", &record, &error)) {
            assert_int_equal(record->walk_count, 1);
            make_every_report(&record->walks[0], walk);
            usable++;
        } else {
            assert_true(error.set);
            assert_null(record);
            refused++;
        }
        gw_record_free(record);
        text[at] = kept;
    }
    assert_true(refused > (size_t)trials / 13 && usable > (size_t)trials / 13); /* both kinds were met */
    free(text);
    invented_free(walk);
}

/* ---- values of another kind -------------------------------------------------------------------------- */

enum { KEYS_MAX = 512 };

typedef struct bent {
    json_t *root;
    const char *seen[KEYS_MAX]; /* keys that were tried: those of a list's items are the same in each */
    size_t count, refused;
} bent;

/* Whether the record as it stands now is taken; the reason into `why` if not. */
static bool is_taken(const bent *of, char *why, size_t size) {
    char *text = json_dumps(of->root, JSON_COMPACT);
    gw_record *record = NULL;
    gw_error error = {0};
    bool taken = gw_record_parse(text, strlen(text), "r.json", &record, &error);
    assert_true(taken || (error.set && record == NULL));
    if (!taken)
        gw_error_print(&error, why, size);
    gw_record_free(record);
    free(text);
    return taken;
}

static int kind_of(const json_t *value) {
    return json_is_number(value) ? 0 : json_is_boolean(value) ? 1 : (int)json_typeof(value) + 2;
}

/* What must be there must also be of its kind, and the refusal names it. */
static void try_key(bent *of, json_t *object, const char *key) {
    static const char *const others[] = {"7",  "-1",    "3000000000", "true", "\"x\"",
                                         "[]", "[[7]]", "[null]",     "{}",   "null"};
    char why[512];
    json_t *kept = json_incref(json_object_get(object, key));
    json_object_del(object, key);
    bool needed = !is_taken(of, why, sizeof why);
    if (needed && strstr(why, key) == NULL)
        fail_msg("without %s: %s", key, why);
    for (size_t i = 0; needed && i < sizeof others / sizeof *others; i++) {
        json_t *other = json_loads(others[i], JSON_DECODE_ANY, NULL);
        bool same_kind = kind_of(other) == kind_of(kept),
             may_be = same_kind || json_is_null(other) || json_is_null(kept);
        json_object_set_new(object, key, other);
        bool taken = is_taken(of, why, sizeof why);
        if ((taken && !may_be) || (!taken && !same_kind && strstr(why, key) == NULL))
            fail_msg("'%s' as %s: %s", key, others[i], taken ? "taken" : why);
        of->refused += !taken;
    }
    json_object_set_new(object, key, kept);
}

static void try_all(bent *of, json_t *value);

static void try_object(bent *of, json_t *object) {
    char *keys[KEYS_MAX];
    size_t count = 0;
    for (void *at = json_object_iter(object); at != NULL && count < KEYS_MAX; at = json_object_iter_next(object, at))
        keys[count++] = strdup(json_object_iter_key(at));
    for (size_t i = 0; i < count; i++) {
        bool seen = false;
        for (size_t k = 0; k < of->count && !seen; k++)
            seen = strcmp(of->seen[k], keys[i]) == 0;
        if (!seen) {
            try_key(of, object, keys[i]);
            assert_true(of->count < KEYS_MAX);
            of->seen[of->count++] = strdup(keys[i]);
        }
        try_all(of, json_object_get(object, keys[i]));
        free(keys[i]);
    }
}

static void try_all(bent *of, json_t *value) {
    if (json_is_object(value))
        try_object(of, value);
    for (size_t i = 0; json_is_array(value) && i < json_array_size(value) && i < 2; i++)
        try_all(of, json_array_get(value, i));
}

static void values_of_another_kind_are_refused(void **state) {
    (void)state;
    gw_walk *walk = invented_walk();
    for (size_t k = 0; k < walk->point_count; k++) { /* short curves: it is read thousands of times */
        gw_readings *readings = (gw_readings *)(uintptr_t)walk->points[k].readings;
        if (readings != NULL)
            readings->waveform.count = readings->spectrum.count = 3;
    }
    char *text = record_of(walk), why[512];
    bent all = {.root = json_loads(text, 0, NULL)};
    assert_non_null(all.root);
    assert_true(is_taken(&all, why, sizeof why));
    try_all(&all, all.root);
    assert_true(all.count > 100 && all.refused > 500);
    for (size_t i = 0; i < all.count; i++)
        free((void *)(uintptr_t)all.seen[i]);
    json_decref(all.root);
    free(text);
    invented_free(walk);
}

/* Values that are numbers, and make no sense. */
static void senseless_values_do_no_harm(void **state) {
    (void)state;
    static const double values[] = {0, -1, 1e308, -1e308, 5e-324, (double)INFINITY, (double)-INFINITY, (double)NAN};
    gw_walk *healthy = invented_walk();
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        gw_walk *walk = invented_walk();
        for (size_t k = 0; k < walk->point_count; k++) {
            gw_readings *readings = (gw_readings *)(uintptr_t)walk->points[k].readings;
            walk->points[k].expected_level_v = walk->points[k].expected_low_v = walk->points[k].expected_high_v =
                values[i];
            if (readings == NULL)
                continue;
            readings->values[GW_LEVEL] = readings->values[GW_DC] = invented_value(values[i], values[i]);
            readings->values[GW_FREQUENCY] = readings->values[GW_PITCH] = invented_value(values[i], values[i]);
            readings->source.rate_hz = readings->source.duration_s = readings->source.step = values[i];
            readings->waveform.start = readings->spectrum.start = values[i];
            readings->waveform.high[3] = readings->spectrum.high[3] = values[i];
            readings->harmonics[0].frequency_hz = readings->harmonics[0].rms = values[i];
            readings->band_low_hz = readings->band_high_hz = values[i];
        }
        walk->stages[0].gain = (gw_judgement){.has_value = true,
                                              .value = values[i],
                                              .u95 = values[i],
                                              .has_expected = true,
                                              .expected = values[i],
                                              .low = values[i],
                                              .high = values[i]};
        walk->probes_expected = values[i];
        char *text = record_of(walk);
        gw_record *record = NULL;
        gw_error error = {0};
        assert_true(gw_record_parse(text, strlen(text), "r.json", &record, &error));
        make_every_report(&record->walks[0], healthy);
        make_every_report(healthy, &record->walks[0]);
        gw_record_free(record);
        free(text);
        invented_free(walk);
    }
    invented_free(healthy);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(damaged_records_are_refused_or_usable),
        cmocka_unit_test(values_of_another_kind_are_refused),
        cmocka_unit_test(senseless_values_do_no_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
