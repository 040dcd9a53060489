/* Levels, stages, part codes and the search for the next probe against published/stages.txt. */
#include "published.h"

#include "chain/chain_testing.h"
#include "gainwalk/measure.h"
#include "walk/search.h"

static const double degree = 3.14159265358979323846 / 180;

static double quantity(const char *text) {
    gw_quantity out;
    gw_error error = {0};
    if (!gw_quantity_parse(text, &out, "bench", 1, &error))
        fail_msg("%s", error.text);
    return out.value;
}

static double shown_dbu(double rms) {
    gw_reading reading = {.state = GW_READING_VALUE, .value = rms, .u95 = 0.01 * rms};
    double shown, u95;
    assert_true(gw_reading_shown(GW_LEVEL_DBU, &reading, "V", &shown, &u95));
    return shown;
}

static void test_levels(void **state) {
    (void)state;
    published("L01", gw_dbu_reference_v);
    published("L01", quantity("0 dBu"));
    published("L02", shown_dbu(1));
    published("L03", quantity("+4 dBu"));
    published("L04", quantity("-10 dBV"));
    published("L05", shown_dbu(quantity("-10 dBV")));
    published("L27", quantity("18 dBu"));
    published("L28", quantity("24 dBu"));
}

static gw_gain gain_of(const char *stage, double frequency_hz) {
    gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
    gw_gain gain = gw_stage_gain(&chain->points[1].stage, frequency_hz);
    gw_chain_free(chain);
    return gain;
}

static double low_corner(const char *stage) {
    gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
    double low, high;
    gw_stage_corners(&chain->points[1].stage, &low, &high);
    gw_chain_free(chain);
    return low;
}

static double settling(const char *stage) {
    gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
    double seconds = gw_stage_settling(&chain->points[1].stage);
    gw_chain_free(chain);
    return seconds;
}

static void test_high_pass(void **state) {
    (void)state;
    static const char *const ratios[] = {"0.1", "0.5", "1", "2", "10"};
    static const char *const circuits[] = {"coupling c=1u load=10k", "highpass r=10k c=1u"};
    double corner = published_value("R-fc");
    for (size_t c = 0; c < 2; c++) {
        published("R-fc", low_corner(circuits[c]));
        for (size_t k = 0; k < 5; k++) {
            char name[40];
            gw_gain gain = gain_of(circuits[c], published_number(ratios[k]) * corner);
            snprintf(name, sizeof name, "R-att-%s", ratios[k]);
            published(name, decibels(gain.magnitude));
            snprintf(name, sizeof name, "R-ph-%s", ratios[k]);
            published(name, gain.phase_rad / degree);
        }
    }
    /* where it has fallen by 0.1 dB */
    double low = 1, high = 20;
    for (int pass = 0; pass < 60; pass++) {
        double middle = 0.5 * (low + high);
        *(decibels(gain_of(circuits[0], middle * corner).magnitude) < -0.1 ? &low : &high) = middle;
    }
    published("R-20-0.1dB", low);
    published("R-t1", settling("coupling c=1u load=1M"));
    published("R-t-ex", settling("coupling c=10u load=100k"));
}

static void test_published_listing(void **state) {
    (void)state;
    static const char *const frequencies[] = {"1", "11.47", "32.42", "63.84", "95.26", "126.7", "158.1"};
    for (size_t k = 0; k < sizeof frequencies / sizeof *frequencies; k++) {
        char name[40];
        snprintf(name, sizeof name, "R-kup-%s", frequencies[k]);
        published(name, gain_of("coupling c=0.5u load=1k", published_number(frequencies[k])).magnitude);
    }
    published("R-kup-fc", low_corner("coupling c=0.5u load=1k"));
}

static void test_gains(void **state) {
    (void)state;
    published("R-load1", decibels(gain_of("divider top=1k bottom=10k", 1000).magnitude));
    published("R-load2", decibels(gain_of("divider top=10k bottom=1M", 1000).magnitude));
    published("R-load3", decibels(gain_of("divider top=100k bottom=10M", 1000).magnitude));
    gw_gain inverting = gain_of("inverting rf=100k rin=10k", 1000),
            plain = gain_of("noninverting rf=100k rg=10k", 1000);
    published("R-inv", inverting.magnitude * cos(inverting.phase_rad));
    published("R-invdb", decibels(inverting.magnitude));
    published("R-non", plain.magnitude * cos(plain.phase_rad));
    published("R-nondb", decibels(plain.magnitude));
}

static void test_spread(void **state) {
    (void)state;
    static const char *const tolerances[][2] = {{"0.01", "1 %"}, {"0.05", "5 %"}, {"0.001", "0.1 %"}, {"0.1", "10 %"}};
    static const char *const stages[][2] = {{"non", "noninverting rf=100k rg=10k"},
                                            {"inv", "inverting rf=100k rin=10k"}};
    for (size_t k = 0; k < 8; k++) {
        char stage[80], name[40];
        double low, high;
        bool worst_case;
        snprintf(stage, sizeof stage, "%s tol=%s", stages[k % 2][1], tolerances[k / 2][1]);
        gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
        double nominal = gw_stage_gain(&chain->points[1].stage, 1000).magnitude;
        gw_stage_spread(&chain->points[1].stage, 1000, &low, &high, &worst_case);
        snprintf(name, sizeof name, "T-%s-max-%s", stages[k % 2][0], tolerances[k / 2][0]);
        published(name, decibels(high / nominal));
        snprintf(name, sizeof name, "T-%s-min-%s", stages[k % 2][0], tolerances[k / 2][0]);
        if (k % 2 == 0)
            published(name, decibels(low / nominal));
        gw_chain_free(chain);
    }
}

static void test_part_codes(void **state) {
    (void)state;
    static const char *const ohms[] = {"4K7", "2R2", "R47", "470R", "47K3", "4M7", "1K0", "R10", "2M2"};
    static const char *const farads[] = {"10p", "4n7", "1u0", "2n2", "10u"};
    char name[40];
    for (size_t k = 0; k < sizeof ohms / sizeof *ohms; k++) {
        snprintf(name, sizeof name, "T-rkm-%s", ohms[k]);
        published(name, quantity(ohms[k]));
    }
    for (size_t k = 0; k < sizeof farads / sizeof *farads; k++) {
        snprintf(name, sizeof name, "T-rkm-%s", farads[k]);
        published(name, quantity(farads[k]));
    }
}

static void test_tolerance_letters(void **state) {
    (void)state;
    for (const char *letter = "BCDFGJKM"; *letter; letter++) {
        char stage[80], name[40];
        snprintf(stage, sizeof stage, "inverting rf=100k rin=10k tol=%c", *letter);
        gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
        snprintf(name, sizeof name, "T-tol-%c", *letter);
        published(name, 100 * chain->points[1].stage.tolerance[0]);
        gw_chain_free(chain);
    }
}

static void test_half_split(void **state) {
    (void)state;
    static const size_t lengths[] = {4, 5, 7, 8, 10, 16, 32};
    for (size_t k = 0; k < sizeof lengths / sizeof *lengths; k++) {
        int parent[32];
        double weight[32], cost[32];
        for (size_t i = 0; i < lengths[k]; i++) {
            parent[i] = (int)i - 1;
            weight[i] = 1;
            cost[i] = i + 1 < lengths[k] ? 1 : 0; /* the end is known to be bad */
        }
        gw_search search = {.count = lengths[k], .parent = parent, .weight = weight, .cost = cost};
        gw_search_step step;
        char name[40];
        assert_true(gw_search_best(&search, &step));
        snprintf(name, sizeof name, "D-exp-%zu", lengths[k]);
        published(name, step.expected);
        snprintf(name, sizeof name, "D-max-%zu", lengths[k]);
        published(name, (double)step.worst);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_levels),
        cmocka_unit_test(test_high_pass),
        cmocka_unit_test(test_published_listing),
        cmocka_unit_test(test_gains),
        cmocka_unit_test(test_spread),
        cmocka_unit_test(test_part_codes),
        cmocka_unit_test(test_tolerance_letters),
        cmocka_unit_test(test_half_split),
        cmocka_unit_test(published_all_checked),
    };
    return published_read("stages.txt") || cmocka_run_group_tests(tests, NULL, NULL);
}
