/* Stage kinds against handbook values. Each value has its source beside it; "closed form" means mathematics that anyone
 * can redo on paper, done here outside the code. */
#include "chain_testing.h"

static const double degree = 3.14159265358979323846 / 180;

static void check_gain(const char *stage, double frequency_hz, double magnitude, double degrees, double tolerance) {
    gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
    gw_gain gain = gw_stage_gain(&chain->points[1].stage, frequency_hz);
    assert_close(gain.magnitude, magnitude, tolerance);
    assert_close(gain.phase_rad, degrees * degree, 1e-6);
    gw_chain_free(chain);
}

static void test_opamp_gains(void **state) {
    (void)state;
    check_gain("noninverting rf=100k rg=10k", 1000, 11, 0, 1e-12); /* closed form */
    check_gain("inverting rf=100k rin=10k", 1000, 10, 180, 1e-12); /* closed form */
    check_gain("follower", 1000, 1, 0, 0);                         /* closed form */
    check_gain("noninverting rf=47k rg=4k7", 20, 11, 0, 1e-12);    /* closed form */
    check_gain("emitter rc=4k7 re=470", 1000, 10, 180, 1e-12);     /* closed form */
    check_gain("wire", 1000, 1, 0, 0);
    check_gain("transformer ratio=0.1", 1000, 0.1, 0, 1e-15);
}

static void test_dividers(void **state) {
    (void)state;
    check_gain("divider top=9k bottom=1k", 1000, 0.1, 0, 1e-12);                /* closed form: -20 dB */
    check_gain("divider top=10k bottom=10k load=10k", 1000, 1.0 / 3, 0, 1e-12); /* 5k of 15k */
    check_gain("divider top=1k bottom=10k", 1000, 1 / 1.1, 0, 1e-12);           /* -0.8279 dB: 1 kohm into 10 kohm */
    check_gain("pot position=50 %", 1000, 0.5, 0, 1e-12);
    check_gain("pot position=50% taper=audio", 1000, 0.1, 0, 1e-12); /* a tenth at half travel (common practice) */
    check_gain("pot position=100% taper=audio", 1000, 1, 0, 1e-12);
    check_gain("pot position=50% value=100k load=50k", 1000, 1.0 / 3, 0, 1e-12); /* 50k||50k = 25k of 75k */
    check_gain("mix r=10k r=10k", 1000, 0.5, 0, 1e-12);
    check_gain("mix r=10k,10k,10k,10k", 1000, 0.25, 0, 1e-12);
    check_gain("mix r1=10k r2=5k", 1000, 1.0 / 3, 0, 1e-12); /* 5k of 15k */
    check_gain("mix r=10k r=10k rf=22k", 1000, 2.2, 180, 1e-12);
}

/* First-order high-pass: |H| = r/sqrt(1 + r^2), phase atan(1/r); values computed outside (standards sheet R-att, R-ph;
 * treatment of RC coupling: US Navy NEETS Module 8, page from memory). 1 uF into 10 kohm: corner 15.9155 Hz. */
static void test_high_pass_table(void **state) {
    static const struct {
        double ratio, db, degrees;
    } rows[] = {{0.1, -20.043213737826424, 84.28940686250036},
                {0.5, -6.989700043360188, 63.43494882292201},
                {1, -3.010299956639812, 45.0},
                {2, -0.9691001300805642, 26.56505117707799},
                {10, -0.04321373782642574, 5.710593137499642},
                {6.55220321680277, -0.1, 8.677544020576992}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        static const char *const stages[] = {"coupling c=1u load=10k", "highpass r=10k c=1u",
                                             "coupling c=1u load=5k source=5k"};
        for (size_t k = 0; k < 3; k++) {
            gw_chain *chain = chain_with_stage(stages[k], "sine 1 kHz 1 V");
            gw_gain gain = gw_stage_gain(&chain->points[1].stage, rows[i].ratio * 15.915494309189533);
            double loading_db = k == 2 ? -6.020599913279624 : 0;
            assert_close(decibels(gain.magnitude), rows[i].db + loading_db, 1e-9);
            assert_close(gain.phase_rad / degree, rows[i].degrees, 1e-5);
            gw_chain_free(chain);
        }
    }
}

/* Lessons in Electric Circuits (T. Kuphaldt), vol. II, filters chapter, high-pass SPICE listing: 0.5 uF into 1 kohm, 1
 * V. Its frequencies are rounded, so its figures hold to a thousandth. */
static void test_published_listing(void **state) {
    static const struct {
        double frequency_hz, volts;
    } rows[] = {{1, 0.003142},   {11.47, 0.03602}, {32.42, 0.1013}, {63.84, 0.1966},
                {95.26, 0.2867}, {126.7, 0.3698},  {158.1, 0.4448}};
    (void)state;
    gw_chain *chain = chain_with_stage("coupling c=0.5u load=1k", "sine 1 kHz 1 V");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_close(gw_stage_gain(&chain->points[1].stage, rows[i].frequency_hz).magnitude, rows[i].volts,
                     1.001e-3 * rows[i].volts);
    gw_chain_free(chain);
}

static void check_corner(const char *stage, double low_hz, double high_hz, double settling_s) {
    gw_chain *chain = chain_with_stage(stage, "sine 1 kHz 1 V");
    double low = -1, high = -1;
    gw_stage_corners(&chain->points[1].stage, &low, &high);
    assert_close(low, low_hz, 1e-9 * (1 + low_hz));
    assert_close(high, high_hz, 1e-9 * (1 + high_hz));
    assert_close(gw_stage_settling(&chain->points[1].stage), settling_s, 1e-9);
    gw_chain_free(chain);
}

static void test_corners_and_settling(void **state) {
    (void)state;
    check_corner("coupling c=1u load=10k", 15.915494309189533, 0, 0.04605170185988092);  /* closed form */
    check_corner("coupling c=0.5u load=1k", 318.3098861837907, 0, 2.302585092994046e-3); /* Kuphaldt's circuit */
    check_corner("coupling c=10u load=100k", 0.15915494309189535, 0, 4.605170185988092); /* 1 s time constant, ln 100 */
    check_corner("coupling c=10u load=90k source=10k", 0.15915494309189535, 0, 4.605170185988092);
    check_corner("highpass r=10k c=1u", 15.915494309189533, 0, 0.04605170185988092);
    check_corner("lowpass r=1k c=100n", 0, 1591.5494309189535, 4.605170185988092e-4);
    check_corner("follower", 0, 0, 0);
}

static void test_low_pass(void **state) {
    (void)state;
    check_gain("lowpass r=1k c=100n", 1591.5494309189535, 0.7071067811865476, -45, 1e-12); /* closed form */
    check_gain("lowpass r=1k c=100n", 0, 1, 0, 0);
    check_gain("lowpass r=1k c=100n", 15915.494309189535, 0.09950371902099893, -84.28940686250036, 1e-12);
}

/* Worst case 1 + (rf/rg)(1 + t)/(1 - t), (rf/rin)(1 + t)/(1 - t): closed forms, decibels re nominal. */
static void test_spread_worst_case(void **state) {
    static const struct {
        const char *stage;
        double high_db, low_db;
    } rows[] = {{"noninverting rf=100k rg=10k tol=1 %", 0.1580733278677025, -0.15778616705051535},
                {"noninverting rf=100k rg=10k tol=5%", 0.7937839245766802, -0.7865904918890334},
                {"noninverting rf=100k rg=10k tol=10 %", 1.5982353358996169, -1.5692799306761502},
                {"noninverting rf=100k rg=10k tol=0.1 %", 0.01579396678117562, -0.015791095410303366},
                {"inverting rf=100k rin=10k tol=1 %", 0.17372358370185242, -0.17372358370185242},
                {"inverting rf=100k rin=10k tol=J", 0.8693138756218068, -0.8693138756218068}, /* IEC 60062: J is 5 % */
                {"inverting rf=100k rin=10k tol=K", 1.743003514378004, -1.743003514378004}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_chain *chain = chain_with_stage(rows[i].stage, "sine 1 kHz 1 V");
        const gw_stage *stage = &chain->points[1].stage;
        double low = 0, high = 0, nominal = gw_stage_gain(stage, 1000).magnitude;
        bool worst_case = false;
        gw_stage_spread(stage, 1000, &low, &high, &worst_case);
        assert_close(decibels(high / nominal), rows[i].high_db, 1e-9);
        assert_close(decibels(low / nominal), rows[i].low_db, 1e-9);
        assert_true(worst_case);
        gw_chain_free(chain);
    }
}

/* Four equal resistors into a node, 10 %: alone the first moves the share 1/4 to (1/1.1)/(1/1.1 + 3) or (1/0.9)/(1/0.9
 * + 3), each of the others to 1/(3 + 1/1.1) or 1/(3 + 1/0.9); root sum of squares by hand. */
static void test_spread_rss(void **state) {
    (void)state;
    gw_chain *chain = chain_with_stage("mix r=10k,10k,10k,10k tol=10 %", "sine 1 kHz 1 V");
    double low = 0, high = 0;
    bool worst_case = true;
    gw_stage_spread(&chain->points[1].stage, 1000, &low, &high, &worst_case);
    double first_up = 1 / 3.7 - 0.25, first_down = 0.25 - 1 / 4.3;
    double other_up = 1.1 / 4.3 - 0.25, other_down = 0.25 - 0.9 / 3.7;
    assert_false(worst_case);
    assert_close(high, 0.25 + sqrt(first_up * first_up + 3 * other_up * other_up), 1e-12);
    assert_close(low, 0.25 - sqrt(first_down * first_down + 3 * other_down * other_down), 1e-12);
    gw_chain_free(chain);
}

/* The same with all of them at their worst: (1/1.1)/(1/1.1 + 3/0.9) and (1/0.9)/(1/0.9 + 3/1.1). */
static void test_worst_of_many_parts(void **state) {
    (void)state;
    gw_chain *chain = chain_with_stage("mix r=10k,10k,10k,10k tol=10 %", "sine 1 kHz 1 V");
    double low = 0, high = 0;
    gw_stage_worst(&chain->points[1].stage, 1000, &low, &high);
    assert_close(low, (1 / 1.1) / (1 / 1.1 + 3 / 0.9), 1e-12);
    assert_close(high, (1 / 0.9) / (1 / 0.9 + 3 / 1.1), 1e-12);
    gw_chain_free(chain);
}

static void test_spread_without_tolerance_is_nothing(void **state) {
    (void)state;
    gw_chain *chain = chain_with_stage("divider top=9k bottom=1k", "sine 1 kHz 1 V");
    double low = 0, high = 0;
    bool worst_case = false;
    gw_stage_spread(&chain->points[1].stage, 1000, &low, &high, &worst_case);
    assert_close(low, 0.1, 1e-12);
    assert_close(high, 0.1, 1e-12);
    gw_chain_free(chain);
}

static void test_own_tolerance_of_a_part(void **state) {
    (void)state;
    gw_chain *chain = chain_with_stage("inverting rf=100k±10% rin=10k tol=0 %", "sine 1 kHz 1 V");
    double low = 0, high = 0;
    bool worst_case = false;
    gw_stage_spread(&chain->points[1].stage, 1000, &low, &high, &worst_case);
    assert_close(low, 9, 1e-12);
    assert_close(high, 11, 1e-12);
    gw_chain_free(chain);
}

/* IEC 60062:2016 letter codes (examples of the standard). */
static void test_part_codes(void **state) {
    static const struct {
        const char *code;
        double ohms;
    } ohms[] = {{"4K7", 4700},   {"4k7", 4700},     {"2R2", 2.2},  {"R47", 0.47}, {"470R", 470},
                {"47K3", 47300}, {"4M7", 4.7e6},    {"1K0", 1000}, {"R10", 0.1},  {"2M2", 2.2e6},
                {"47 k", 47000}, {"47kohm", 47000}, {"4700", 4700}};
    static const struct {
        const char *code;
        double farads;
    } farads[] = {{"10p", 1e-11}, {"4n7", 4.7e-9}, {"1u0", 1e-6},  {"2n2", 2.2e-9},
                  {"10u", 1e-5},  {"10 uF", 1e-5}, {"100n", 1e-7}, {"0.1 µF", 1e-7}};
    char stage[100];
    (void)state;
    for (size_t i = 0; i < sizeof ohms / sizeof *ohms; i++) {
        snprintf(stage, sizeof stage, "noninverting rf=%s rg=1k", ohms[i].code);
        gw_chain *chain = chain_with_stage(stage, "none");
        assert_close(chain->points[1].stage.parts[0], ohms[i].ohms, 1e-9 * ohms[i].ohms);
        gw_chain_free(chain);
    }
    for (size_t i = 0; i < sizeof farads / sizeof *farads; i++) {
        snprintf(stage, sizeof stage, "coupling c = %s load=47k", farads[i].code);
        gw_chain *chain = chain_with_stage(stage, "none");
        assert_close(chain->points[1].stage.parts[0], farads[i].farads, 1e-9 * farads[i].farads);
        gw_chain_free(chain);
    }
}

static void test_dc_and_polarity(void **state) {
    static const struct {
        const char *stage;
        gw_dc_path dc;
        int polarity;
        double noise_gain;
    } rows[] = {{"noninverting rf=90k rg=10k", GW_DC_PASSES, 1, 10},
                {"inverting rf=90k rin=10k", GW_DC_PASSES, -1, 10},
                {"follower", GW_DC_PASSES, 1, 1},
                {"divider top=1k bottom=1k", GW_DC_PASSES, 1, 1},
                {"pot position=10 %", GW_DC_PASSES, 1, 1},
                {"coupling c=1u load=10k", GW_DC_BLOCKED, 1, 0},
                {"lowpass r=1k c=1n", GW_DC_PASSES, 1, 1},
                {"highpass r=1k c=1n", GW_DC_BLOCKED, 1, 0},
                {"transformer ratio=2", GW_DC_BLOCKED, 0, 0},
                {"wire", GW_DC_PASSES, 1, 1},
                {"amp", GW_DC_UNKNOWN, 0, 1},
                {"amp blocks-dc", GW_DC_BLOCKED, 0, 0},
                {"emitter rc=1k re=100", GW_DC_UNKNOWN, -1, 10},
                {"mix r=10k r=10k", GW_DC_PASSES, 1, 1},
                {"mix r=10k r=10k rf=10k", GW_DC_PASSES, -1, 3}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        gw_chain *chain = chain_with_stage(rows[i].stage, "sine 1 kHz 1 V");
        const gw_stage *stage = &chain->points[1].stage;
        assert_int_equal(gw_stage_dc(stage), rows[i].dc);
        assert_int_equal(gw_stage_polarity(stage), rows[i].polarity);
        assert_int_equal(chain->points[1].polarity, rows[i].polarity);
        assert_close(gw_stage_noise_gain(stage), rows[i].noise_gain, 1e-12);
        gw_chain_free(chain);
    }
}

static void test_table_is_whole(void **state) {
    (void)state;
    size_t count = 0;
    for (const gw_stage_kind *kind = gw_stage_kinds; kind->name != NULL; kind++, count++) {
        assert_non_null(kind->meaning);
        assert_non_null(kind->formula);
        assert_non_null(kind->source);
        assert_true(kind->suspect > 0);
        assert_ptr_equal(gw_stage_kind_find(kind->name), kind);
        for (size_t i = 0; kind->parts[i].name != NULL; i++)
            assert_non_null(kind->parts[i].meaning);
    }
    assert_int_equal(count, 13);
    assert_null(gw_stage_kind_find("nothing"));
    assert_true(gw_stage_kind_find("wire")->suspect > gw_stage_kind_find("follower")->suspect);
    assert_true(gw_stage_kind_find("pot")->suspect > gw_stage_kind_find("follower")->suspect);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_opamp_gains),
        cmocka_unit_test(test_dividers),
        cmocka_unit_test(test_high_pass_table),
        cmocka_unit_test(test_published_listing),
        cmocka_unit_test(test_corners_and_settling),
        cmocka_unit_test(test_low_pass),
        cmocka_unit_test(test_spread_worst_case),
        cmocka_unit_test(test_spread_rss),
        cmocka_unit_test(test_worst_of_many_parts),
        cmocka_unit_test(test_spread_without_tolerance_is_nothing),
        cmocka_unit_test(test_own_tolerance_of_a_part),
        cmocka_unit_test(test_part_codes),
        cmocka_unit_test(test_dc_and_polarity),
        cmocka_unit_test(test_table_is_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
