/* Bad chain files: each gives one clear error with its line, and the nearest known word where there is one. */
#include "chain_testing.h"

#include <stdlib.h>

typedef struct bad {
    const char *text;
    long line;
    const char *says; /* a part of the error */
} bad;

static const bad bads[] = {
    {"", 0, "empty chain file"},
    {"\n\n# nothing\n", 0, "chain without points"},
    {"[chain]\ntitle = x\n", 0, "chain without points"},
    {"title = x\n[point A]\n", 1, "'title' stands before any section"},
    {"[point A]\n[chian]\n", 2, "did you mean 'chain'"},
    {"[points A]\n", 1, "did you mean 'point'"},
    {"[point]\n", 1, "point without a name"},
    {"[rail   ]\n", 1, "rail without a name"},
    {"[chain Tarn]\n[point A]\n", 1, "has no name"},
    {"[point A\n", 1, "not closed by ']'"},
    {"[point A] what = x\n", 1, "not closed by ']'"},
    {"[point A]b]\n", 1, "not closed by ']'"},
    {"[point a name that goes on and on and on and on.]\n", 1, "longer than 40 bytes"},
    {"[point a name that goes on and on and on and on and on and on]\n", 1, "longer than 49 bytes"},
    {"[point A]\nwhat is this\n", 2, "neither a [section] nor 'key = value': 'what is this'"},
    {"[point A]\nrandom words\n[point B]\ndc = 5 kHz\n", 2, "neither"},
    {"[point A]\nwhat is this", 2, "neither"},
    {"[point A]\n= x\n", 2, "no key before '='"},
    /* names */
    {"[point A]\n[point B]\n[point A]\n", 3, "'A' is already taken by the point of line 1"},
    {"[point +15]\n[rail +15]\n", 2, "'+15' is already taken by the point of line 1"},
    {"[chain]\n[point A]\n[chain]\n", 3, "section 'chain' is already at line 1"},
    {"[instrument]\n[instrument]\n", 2, "already at line 1"},
    {"[point A]\nwhat = x\ndc = 0 V\nwhat = y\n", 4, "key 'what' is already given at line 2"},
    /* keys */
    {"[point A]\nstge = wire\n", 2, "unknown key 'stge' in a section 'point'; did you mean 'stage'?"},
    {"[chain]\nstimulis = none\n", 2, "did you mean 'stimulus'"},
    {"[chain]\ncomplain = x\n", 2, "did you mean 'complaint'"},
    {"[instrument]\naccurracy = 3 %\n", 2, "did you mean 'accuracy'"},
    {"[rail +15]\nripplle = < 5 mV\n", 2, "did you mean 'ripple'"},
    {"[chain]\nqqqqqqq = x\n", 2, "unknown key 'qqqqqqq'"},
    {"[point A]\nripple = < 5 mV\n", 2, "does not belong in a section 'point', but in 'rail'"},
    {"[rail A]\nstage = wire\n", 2, "does not belong in a section 'rail', but in 'point'"},
    {"[instrument]\ntitle = x\n", 2, "but in 'chain'"},
    /* stages */
    {"[point A]\n[point B]\nstage = nonverting rf=1k rg=1k\n", 3, "did you mean 'noninverting'"},
    {"[point A]\nstage = thing\n", 2, "kinds are noninverting, inverting"},
    {"[point A]\nstage = \n", 2, "'stage' is empty"},
    {"[point A]\nstage = noninverting rf=47k\n", 2, "stage 'noninverting' needs 'rg'"},
    {"[point A]\nstage = noninverting rf=47k rx=1k\n", 2, "unknown part 'rx'"},
    {"[point A]\nstage = inverting rf=47k rinn=1k\n", 2, "did you mean 'rin'"},
    {"[point A]\nstage = noninverting 47k 4k7\n", 2, "unknown part '47k'"},
    {"[point A]\nstage = follower rf=47k\n", 2, "unknown part 'rf'"},
    {"[point A]\nstage = noninverting rf=0 rg=4k7\n", 2, "'rf' makes no sense as '0'"},
    {"[point A]\nstage = noninverting rf=47k rg=0\n", 2, "'rg' makes no sense as '0'"},
    {"[point A]\nstage = noninverting rf=-47k rg=4k7\n", 2, "'rf' makes no sense as '-47k'"},
    {"[point A]\nstage = noninverting rf=47k rg=4k7 rg=4k7\n", 2, "'rg' is stated twice"},
    {"[point A]\nstage = noninverting rf=47q rg=4k7\n", 2, "unknown unit 'q'"},
    {"[point A]\nstage = noninverting rf=10 uF rg=4k7\n", 2, "'rf' takes ohms, not farads"},
    {"[point A]\nstage = noninverting rf= rg=4k7\n", 2, "not a quantity: 'rg=4k7' for 'rf'"},
    {"[point A]\nstage = noninverting rf=47k rg=4k7 tol=-5 %\n", 2, "'tol' makes no sense as '-5 %'"},
    {"[point A]\nstage = noninverting rf=47k rg=4k7 tol=100 %\n", 2, "'tol' makes no sense"},
    {"[point A]\nstage = noninverting rf=47k rg=4k7 tol=5\n", 2, "'tol' takes per cent, not a bare number"},
    {"[point A]\nstage = noninverting rf=47k rg=4k7 tol=5 kHz\n", 2, "'tol' takes per cent, not hertz"},
    {"[point A]\nstage = noninverting rf=47k rg=4k7 tol=5% tol=5%\n", 2, "'tol' is stated twice"},
    {"[point A]\nstage = noninverting rf=1e300 rg=1e-300\n", 2, "makes no sense"},
    {"[point A]\nstage = coupling c=0 load=47k\n", 2, "'c' makes no sense as '0'"},
    {"[point A]\nstage = coupling c=10u load=47k source=-1\n", 2, "'source' makes no sense"},
    {"[point A]\nstage = coupling c=10 kohm load=47k\n", 2, "'c' takes farads, not ohms"},
    {"[point A]\nstage = pot position=0 %\n", 2, "'position' makes no sense as '0 %'"},
    {"[point A]\nstage = pot position=120 %\n", 2, "'position' makes no sense"},
    {"[point A]\nstage = pot position=50 % taper=log\n", 2, "'taper' cannot be 'log': it is one of linear, audio"},
    {"[point A]\nstage = pot position=50 % taper=audoi\n", 2, "did you mean 'audio'"},
    {"[point A]\nstage = transformer ratio=1:10\n", 2, "'ratio'"},
    {"[point A]\nstage = transformer ratio=-1\n", 2, "'ratio' makes no sense"},
    {"[point A]\nstage = mix r=1k r=1k r=1k r=1k r=1k r=1k r=1k r=1k r=1k\n", 2, "more than 8 resistors"},
    {"[chain]\nstimulus = sine 1 mHz 1 V\n[point A]\nstage = coupling c=1p load=1m\n", 4, "would have a gain of"},
    {"[point A]\nstage = wire blocks_dc\n", 2, "did you mean 'blocks-dc'"},
    /* figures */
    {"[point A]\ndc = 5 kHz\n", 2, "'dc' takes volts, not hertz: '5 kHz'"},
    {"[point A]\ndc = 20\n", 2, "'dc' takes volts, not a bare number"},
    {"[point A]\ndc = some\n", 2, "not a quantity: 'some' for 'dc'"},
    {"[point A]\ndc = 4 dBu\n", 2, "cannot be in decibels"},
    {"[point A]\ndc = 4 Vpp\n", 2, "cannot be a peak value"},
    {"[point A]\ndc = 0 V ± 5 %\n", 2, "tolerance that leaves no room"},
    {"[point A]\ndc = 5 V ± 0 V\n", 2, "tolerance that leaves no room"},
    {"[point A]\ndc = 5 V ± 1 dB\n", 2, "cannot be in decibels"},
    {"[point A]\ndc = 5 V ± 1 Hz\n", 2, "cannot have a tolerance in hertz"},
    {"[point A]\ndc = 5 V ± -1 V\n", 2, "negative tolerance"},
    {"[point A]\ndc = 5 V ±\n", 2, "not a quantity: '"},
    {"[point A]\ndc =\n", 2, "not a quantity: '' for 'dc'"},
    {"[point A]\ndc = 1e999 V\n", 2, "not a quantity: '"},
    {"[point A]\ndc = nan V\n", 2, "not a quantity: '"},
    {"[point A]\ngain = 5 V\n", 2, "'gain' takes a bare number or decibels, not volts"},
    {"[point A]\ngain = 0\n", 2, "'gain' makes no sense as '0'"},
    {"[point A]\ngain = 2000 dB\n", 2, "'gain' makes no sense"},
    {"[point A]\ngain = 20 dB ± 0 dB\n", 2, "leaves no room"},
    {"[point A]\ngain = 20 dB ± 150 %\n", 2, "reaches below nothing"},
    {"[point A]\ngain = 20 dB ± 1 V\n", 2, "cannot have a tolerance in volts"},
    {"[point A]\ngain = 20 dB ± 1\n", 2, "cannot have a tolerance in a bare number"},
    {"[point A]\nlevel = 440 Hz\n", 2, "'level' takes volts, not hertz"},
    {"[point A]\nlevel = -1 V\n", 2, "'level' makes no sense"},
    {"[chain]\nstimulus = noise 1 V\n[point A]\nlevel = 1 Vpp\n", 4, "needs volts RMS"},
    {"[point A]\nfrequency = 1 V\n", 2, "'frequency' takes hertz, not volts"},
    {"[point A]\nfrequency = 0 Hz\n", 2, "'frequency' makes no sense"},
    {"[point A]\nthd = < 0.5\n", 2, "'thd' takes per cent or decibels, not a bare number"},
    {"[point A]\nthd = < 0 %\n", 2, "'thd' makes no sense"},
    {"[point A]\nthd = > 1 %\n", 2, "not a quantity: '"},
    {"[point A]\nnoise = < 1 %\n", 2, "'noise' takes volts, not per cent"},
    {"[point A]\nnoise = < 0 V\n", 2, "'noise' makes no sense"},
    {"[rail A]\nripple = < 10 mVpp\n", 2, "'ripple' cannot be a peak value"},
    {"[point A]\nreach = easily\n", 2, "'reach' cannot be 'easily': it is one of easy, awkward, hard; did you mean"},
    {"[point A]\nsuspect = 0\n", 2, "'suspect' makes no sense"},
    {"[point A]\nsuspect = -1\n", 2, "'suspect' makes no sense"},
    {"[point A]\nprobe = x0\n", 2, "'probe' makes no sense"},
    {"[point A]\nprobe = 5 V\n", 2, "'probe' takes a bare number"},
    {"[point A]\ncoupling = a\n", 2, "'coupling' cannot be 'a'"},
    {"[instrument]\ncalibrate = tone.wav\n[point A]\n", 2, "'tone.wav is 1 V'"},
    {"[instrument]\ncalibrate = tone.wav is 5 kHz\n[point A]\n", 2, "'calibrate' takes volts"},
    {"[instrument]\ncalibrate = tone.wav is 0 V\n[point A]\n", 2, "makes no sense as '0 V'"},
    {"[instrument]\nfull_scale = 1 V\ncalibrate = tone.wav is 1 V\n[point A]\n", 3, "together"},
    {"[point A]\nfull_scale = 2 Hz\n", 2, "'full_scale' takes volts, not hertz"},
    {"[point A]\nfull_scale = 18 dBu\n", 2, "cannot be in decibels"},
    {"[point A]\nreading = about 5\n", 2, "not a quantity: '"},
    {"[instrument]\naccuracy = 3\n[point A]\n", 2, "'accuracy' takes per cent"},
    {"[instrument]\naccuracy = -3 %\n[point A]\n", 2, "'accuracy' makes no sense"},
    {"[instrument]\nzero = 5 %\n[point A]\n", 2, "'zero' takes volts"},
    {"[instrument]\nrate = 0 Hz\n[point A]\n", 2, "'rate' makes no sense"},
    {"[point A]\nrate = 48000\n", 2, "'rate' takes hertz, not a bare number"},
    {"[chain]\nmains = 5 V\n[point A]\n", 2, "'mains' takes hertz, not volts"},
    {"[chain]\nmains = 5 kHz\n[point A]\n", 2, "'mains' makes no sense"},
    {"[chain]\nband = 20 Hz\n[point A]\n", 2, "'band' needs two frequencies"},
    {"[chain]\nband = 20 kHz .. 20 Hz\n[point A]\n", 2, "ends below its beginning"},
    {"[chain]\ndecision = guardd\n[point A]\n", 2, "did you mean 'guarded'"},
    {"[chain]\nstimulus = sin 1 kHz\n[point A]\n", 2, "did you mean 'sine'"},
    {"[chain]\nstimulus = square 1 kHz\n[point A]\n", 2, "write 'periodic'"},
    {"[chain]\nstimulus =\n[point A]\n", 2, "'stimulus' is empty"},
    /* after */
    {"[point A]\n[point B]\nafter = C\n", 3, "'after' names no point of this chain: 'C'"},
    {"[point U1-7]\n[point B]\nafter = U1-6\n", 3, "did you mean 'U1-7'"},
    {"[point A]\nafter = A\n", 2, "circular 'after': 'A' follows 'A'"},
    {"[point A]\n[point B]\nafter = C\n[point C]\n", 3, "circular 'after'"},
    {"[point A]\nafter = C\n[point B]\n[point C]\n", 2, "circular 'after'"},
    {"[point A]\n[rail +9]\n[point B]\nafter = +9\n", 4, "names the rail '+9'"},
    {"[point A]\nafter =\n", 2, "'after' names no point"},
    /* characters */
    {"[point A]\nwhat = a\x1b[31mb\n", 2, "control character"},
    {"[point A]\nwhat = a\x07\n", 2, "control character"},
};

static void check_error(const char *text, size_t length, long line, const char *says) {
    gw_chain *chain = NULL;
    gw_error error = {0};
    char printed[900];
    bool good = gw_chain_parse(text, length, "bad.ini", &chain, &error);
    gw_error_print(&error, printed, sizeof printed);
    if (good || chain != NULL || !error.set || error.line != line || strstr(error.text, says) == NULL)
        fail_msg("of <<%.80s>> it said <<%s>>, not line %ld <<%s>>", text, printed, line, says);
    if (strcmp(error.file, "bad.ini") != 0)
        fail_msg("no file in <<%s>>", printed);
}

static void test_table(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof bads / sizeof *bads; i++)
        check_error(bads[i].text, strlen(bads[i].text), bads[i].line, bads[i].says);
}

/* The same faults with the line ends of other systems, and a UTF-8 mark before: the same lines are named. */
static void test_table_with_other_line_ends(void **state) {
    static const char *const ends[] = {"\r\n", "\r"};
    (void)state;
    for (size_t e = 0; e < 2; e++)
        for (size_t i = 1; i < sizeof bads / sizeof *bads; i++) {
            gw_text text = {0};
            gw_text_add(&text, "\xEF\xBB\xBF");
            for (const char *at = bads[i].text; *at != '\0'; at++)
                if (*at == '\n')
                    gw_text_add(&text, ends[e]);
                else
                    gw_text_add_char(&text, *at);
            check_error(text.data, text.length, bads[i].line, bads[i].says);
            gw_text_free(&text);
        }
}

static void test_nul(void **state) {
    static const char text[] = "[point A]\nwhat = a\0b\n";
    static const char wide[] = "\xFF\xFE[\0p\0o\0i\0n\0t\0";
    (void)state;
    check_error(text, sizeof text - 1, 2, "NUL byte");
    check_error(wide, sizeof wide - 1, 1, "NUL byte");
}

static void test_too_many_points(void **state) {
    (void)state;
    gw_text text = {0};
    for (int i = 0; i < 2001; i++)
        gw_text_printf(&text, "[point P%d]\n", i);
    check_error(text.data, text.length, 2001, "more than 2000 points");
    gw_text_free(&text);
}

/* No prefix of a good file, and no good file with any one byte replaced, does anything but parse or give an error. */
static void test_cut_and_bent_files(void **state) {
    static const char good[] =
        "[chain]\nstimulus = sine 1 kHz 100 mV\n[point A]\nstage = pot position=50 % taper=audio\n"
        "dc = 0 V ± 20 mV\n[point B]\nafter = A\ngain = x10 ± 5 %\nstage = mix r=1k,2k tol=J\n";
    static const char bytes[] = "\0\n\r[]=:#; %\"\xC2\xFF\x80-9kx";
    char text[sizeof good];
    size_t parsed = 0;
    (void)state;
    for (size_t i = 0; i < sizeof good - 1; i++)
        for (size_t k = 0; k < sizeof bytes; k++) {
            gw_chain *chain = NULL;
            gw_error error = {0};
            memcpy(text, good, sizeof good);
            text[i] = bytes[k];
            size_t length = k == sizeof bytes - 1 ? i : sizeof good - 1;
            bool fine = gw_chain_parse(text, length, "bent.ini", &chain, &error);
            assert_int_equal(fine, chain != NULL);
            assert_int_equal(fine, !error.set);
            parsed += fine;
            gw_chain_free(chain);
        }
    assert_true(parsed > 100);
}

static void test_missing_file(void **state) {
    (void)state;
    gw_chain *chain = NULL;
    gw_error error = {0};
    assert_false(gw_chain_load("/nowhere/at/all.ini", &chain, &error));
    assert_null(chain);
    assert_true(error.set);
    assert_false(gw_chain_load("/nowhere/at/all.ini", &chain, NULL));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table),
        cmocka_unit_test(test_table_with_other_line_ends),
        cmocka_unit_test(test_nul),
        cmocka_unit_test(test_too_many_points),
        cmocka_unit_test(test_cut_and_bent_files),
        cmocka_unit_test(test_missing_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
