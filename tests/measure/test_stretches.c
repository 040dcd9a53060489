/* A recording of half an hour is fitted in a few of its segments: nothing that happens between them is lost. What it is
 * held against is the fit of every segment, and what was put in. */
#include "measure/crew.h"
#include "measure/measured.h"
#include "measure/segments.h"
#include "trials.h"

#include <stdio.h>
#include <unistd.h>

enum { RATE = 8000, SECONDS = 1800, SAMPLES = RATE * SECONDS };

static const double tone_v = 0.5;

/* Something that is there for a while. */
typedef struct happening {
    double from_s, length_s;
    double gain;              /* of the tone, beside 1; with `cut`, where it is cut off */
    double other_v, other_hz; /* amplitude of what comes in beside */
    double noise_more;        /* of the noise, a factor beside 1 */
    double lift_v;            /* of DC */
    bool cut;
} happening;

enum { HAPPENINGS_MAX = 6 };

typedef struct recording {
    const char *name;
    double tone_hz, noise_v, step_v;
    happening happenings[HAPPENINGS_MAX];
    unsigned fitted_most;
    double dropouts, impulses, steps; /* that are put in */
} recording;

static double signal_with(const happening *h, double t, double v, double *noise) {
    if (t < h->from_s || t >= h->from_s + h->length_s)
        return v;
    *noise *= 1 + h->noise_more;
    v = h->cut ? fmin(v, h->gain * tone_v) : v * (1 + h->gain);
    return v + h->other_v * sin(two_pi * h->other_hz * t) + h->lift_v;
}

static double frame_value(const recording *r, size_t i, uint64_t *random) {
    double t = (double)i / RATE, turn = r->tone_hz * t, noise = r->noise_v, sum = 0;
    double v = tone_v * sin(two_pi * (turn - floor(turn)));
    for (size_t k = 0; k < HAPPENINGS_MAX && r->happenings[k].length_s > 0; k++)
        v = signal_with(&r->happenings[k], t, v, &noise);
    /* twelve even numbers have a sum of variance 1, near enough Gaussian (Knuth, 3.4.1) */
    for (int k = 0; k < 3; k++)
        for (uint64_t word = random_bits(random), part = 0; part < 4; part++, word >>= 16)
            sum += (double)(word & 0xFFFF) / 65536 - 0.5;
    return r->step_v * round((v + noise * sum) / r->step_v);
}

/* 16-bit PCM; the caller unlinks. */
static void write_recording(const char *path, const recording *r) {
    gw_wav_layout layout = {.format = GW_WAV_PCM16, .rate_hz = RATE, .channels = 1, .frames = SAMPLES};
    enum { BLOCK = 1 << 16 };
    static double values[BLOCK];
    gw_error error = {0};
    uint64_t random = 11;
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    gw_text text = {0};
    assert_true(gw_wav_add_header(&layout, &text, &error));
    for (size_t at = 0; at < SAMPLES; at += BLOCK) {
        size_t now = SAMPLES - at < BLOCK ? SAMPLES - at : BLOCK;
        for (size_t i = 0; i < now; i++)
            values[i] = frame_value(r, at + i, &random);
        gw_wav_add_frames(&layout, values, NULL, now, &text);
        assert_int_equal(fwrite(text.data, 1, text.length, file), text.length);
        gw_text_free(&text);
        text = (gw_text){0};
    }
    assert_int_equal(fclose(file), 0);
}

static gw_readings *empty_readings(const gw_capture *capture, double step_v) {
    gw_error error = {0};
    gw_readings *out = gw_readings_new(&error);
    assert_non_null(out);
    out->source = (gw_source){
        .unit = "FS", .rate_hz = capture->rate_hz, .samples = capture->samples, .step = step_v, .wav = true};
    return out;
}

/* Every segment fitted, gathered as they come. */
static gw_readings *fit_every(const gw_capture *capture, double step_v) {
    static double volts[GW_SEGMENT_SAMPLES];
    gw_error error = {0};
    gw_readings *out = empty_readings(capture, step_v);
    gw_segments *all = gw_segments_new(capture->samples, capture->rate_hz, &error);
    uint64_t parts = (capture->samples + GW_SEGMENT_SAMPLES - 1) / GW_SEGMENT_SAMPLES;
    gw_legacy first = {0}, own;
    for (uint64_t k = 0; k < parts; k++) {
        uint64_t from = capture->samples * k / parts, to = capture->samples * (k + 1) / parts;
        assert_true(gw_capture_fetch(capture, 0, from, (size_t)(to - from), volts, NULL, &error));
        gw_block block = {.part = true, .volts = volts, .count = (size_t)(to - from), .rate_hz = RATE, .step = step_v};
        gw_readings *part = empty_readings(capture, step_v);
        block.hint = k > 0 ? &first.hint : NULL;
        part->source.samples = block.count;
        assert_true(gw_measure_segment(&block, NULL, part, k > 0 ? &own : &first, &error));
        assert_true(gw_segments_add(all, &block, part, &error));
    }
    assert_true(gw_segments_finish(all, out, &error));
    gw_segments_free(all);
    return out;
}

/* How many segments were fitted, of how many, by what is told. */
static void check_share(const gw_readings *r, const char *name, unsigned most) {
    unsigned fitted = 0, parts = 0;
    double seconds = 0;
    char unit = 0;
    for (size_t k = 0; k < r->remarks.count; k++)
        if (sscanf(r->remarks.items[k], "fitted in %u of %u parts of %lf %c", &fitted, &parts, &seconds, &unit) == 4)
            break;
    if (!(fitted >= 4 && fitted <= most && parts == 110))
        fail_msg("%s: fitted in %u of %u", name, fitted, parts);
    assert_close(seconds, SECONDS / 110.0, 0.1);
    assert_int_equal(unit, 's');
}

static void check_events(const gw_readings *r, const gw_readings *every, const char *name) {
    if (r->event_count != every->event_count)
        fail_msg("%s: %zu events, %zu in the fit of every segment", name, r->event_count, every->event_count);
    for (size_t k = 0; k < r->event_count; k++) {
        assert_int_equal(r->events[k].kind, every->events[k].kind);
        assert_close(r->events[k].start_s, every->events[k].start_s, 1e-3);
        assert_close(r->events[k].size_v, every->events[k].size_v, 1e-3 * tone_v);
    }
}

/* Within the uncertainty of either, which is larger where fewer segments were fitted. */
static void check_readings(const gw_readings *r, const gw_readings *every, const char *name) {
    for (int key = 0; key < GW_READING_COUNT; key++) {
        const gw_reading *few = &r->values[key], *all = &every->values[key];
        if (few->state != all->state)
            fail_msg("%s: %s has state %d, in every segment %d", name, gw_reading_infos[key].key, (int)few->state,
                     (int)all->state);
        if (few->state == GW_READING_NONE)
            continue;
        double apart = fabs(few->value - all->value), allowed = hypot(few->u95, all->u95) + 1e-9 * fabs(all->value);
        if (few->state == GW_READING_BELOW)
            allowed = 0.25 * all->value;
        if (!(apart <= allowed))
            fail_msg("%s: %s is %g ± %g, in every segment %g ± %g", name, gw_reading_infos[key].key, few->value,
                     few->u95, all->value, all->u95);
    }
}

static void check_clues(const gw_readings *r, const gw_readings *every) {
    const gw_clues *few = &r->clues, *all = &every->clues;
    assert_close(few->hum_mains_v, all->hum_mains_v, 0.02 * all->hum_mains_v);
    assert_close(few->hum_twice_v, all->hum_twice_v, 0.02 * all->hum_twice_v);
    assert_close(few->crackle_count, all->crackle_count, 0);
    assert_close(few->step_count, all->step_count, 0);
    assert_close(few->high.share, all->high.share, 1e-9);
    assert_true(few->high.clipped == all->high.clipped);
    assert_true(few->low.clipped == all->low.clipped);
}

#define USUAL .tone_hz = 437, .noise_v = 2e-4, .step_v = 1.0 / 32768

static const recording recordings[] = {
    {.name = "next to nothing",
     USUAL,
     .happenings = {{.from_s = 1000, .length_s = 400, .gain = 6e-4}},
     .fitted_most = 20},
    /* what rounding leaves repeats with the tone, and falls otherwise onto every segment */
    {.name = "coarse", .tone_hz = 437.5, .noise_v = 1e-4, .step_v = 1.0 / 64, .fitted_most = 10},
    {.name = "one after the other",
     USUAL,
     .happenings = {{.from_s = 401, .length_s = 10, .other_v = 2e-4, .other_hz = 100},
                    {.from_s = 601, .length_s = 9, .gain = 0.01},
                    {.from_s = 899.2, .length_s = 0.02, .gain = -1},
                    {.from_s = 1234.5, .length_s = 0.3, .other_v = 2e-3, .other_hz = 2900},
                    {.from_s = 1401.0011, .length_s = 0.0022, .gain = 0.9, .cut = true},
                    {.from_s = 1600.00005, .length_s = 1.2 / RATE, .lift_v = 4e-3}},
     .fitted_most = 36,
     .dropouts = 1,
     .impulses = 1},
    {.name = "from there on",
     USUAL,
     .happenings = {{.from_s = 901, .length_s = 2000, .gain = -0.01},
                    {.from_s = 777, .length_s = 2000, .lift_v = 4e-3},
                    {.from_s = 1500, .length_s = 30, .noise_more = 0.2},
                    {.from_s = 1001, .length_s = 1, .gain = 0.97, .cut = true}},
     .fitted_most = 36,
     .steps = 3}, /* cut crests have less DC: one down, one up */
};

/* What was put in, by its own measure. */
static void check_put_in(const gw_readings *r, const recording *of) {
    size_t dropouts = 0;
    for (size_t k = 0; k < r->event_count; k++)
        dropouts += r->events[k].kind == GW_EVENT_DROPOUT;
    assert_close((double)dropouts, of->dropouts, 0);
    assert_close(r->clues.step_count, of->steps, 0);
    if (of->impulses > 0)
        assert_true(r->clues.crackle_count >= of->impulses);
    /* the mean square of the tone over the whole, whatever lasted how long */
    double squares = SECONDS;
    for (size_t k = 0; k < HAPPENINGS_MAX && of->happenings[k].length_s > 0; k++) {
        const happening *h = &of->happenings[k];
        if (!h->cut)
            squares += fmin(h->length_s, SECONDS - h->from_s) * ((1 + h->gain) * (1 + h->gain) - 1);
    }
    assert_close(value_of(r, GW_LEVEL), tone_v * sqrt(0.5 * squares / SECONDS), fmax(1e-5 * tone_v, 0.1 * of->step_v));
}

static gw_readings *measure_by(const gw_capture *capture, double step_v, const gw_measure_options *options) {
    gw_crew_job job = {.capture = capture, .out = empty_readings(capture, step_v)};
    assert_true(gw_crew_measure(options, &job, 1));
    return job.out;
}

/* Bit for bit the same by three threads. */
static void check_jobs(const gw_capture *capture, double step_v, const gw_readings *alone) {
    gw_measure_options three = {.accuracy = -1, .jobs = 3};
    gw_readings *r = measure_by(capture, step_v, &three);
    for (int key = 0; key < GW_READING_COUNT; key++) {
        assert_memory_equal(&r->values[key].value, &alone->values[key].value, sizeof(double));
        assert_memory_equal(&r->values[key].u95, &alone->values[key].u95, sizeof(double));
    }
    assert_int_equal(r->level_count, alone->level_count);
    assert_memory_equal(r->levels, alone->levels, alone->level_count * sizeof *alone->levels);
    gw_readings_free(r);
}

static void check_recording(const recording *of, const char *path) {
    gw_error error = {0};
    gw_capture *capture = NULL;
    write_recording(path, of);
    assert_true(gw_capture_read(path, NULL, &capture, &error));
    capture->channels[0].step = of->step_v; /* as a text's values would have told */
    gw_readings *r = measure_by(capture, of->step_v, NULL), *every = fit_every(capture, of->step_v);
    check_jobs(capture, of->step_v, r);
    check_share(r, of->name, of->fitted_most);
    assert_int_equal(r->signal, GW_SIGNAL_SINE);
    check_put_in(r, of);
    check_events(r, every, of->name);
    check_readings(r, every, of->name);
    check_clues(r, every);
    gw_readings_free(r);
    gw_readings_free(every);
    gw_capture_free(capture);
}

static void test_nothing_is_lost(void **state) {
    (void)state;
    char path[] = "/tmp/gainwalk-stretches-XXXXXX";
    int descriptor = mkstemp(path);
    assert_true(descriptor >= 0);
    close(descriptor);
    for (int k = 0; k < trials_of((int)(sizeof recordings / sizeof *recordings)); k++)
        check_recording(&recordings[k], path);
    unlink(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_nothing_is_lost)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
