/* Dropouts, crackle, steps of DC, drift: what is there is found at its time, what is not is not. */
#include "measure/events.h"
#include "measure/measured.h"

#include <string.h>

enum { EVENTS = 32, N = 48000 };
static const double rate_hz = 48e3;

static double *sine_with_noise(double amplitude, double frequency_hz, double noise, uint64_t *seed) {
    double *x = new_volts(N);
    add_sine(x, N, rate_hz, amplitude, frequency_hz, 0.3);
    add_noise(x, N, noise, seed);
    return x;
}

static void scale_part(double *x, double from_s, double to_s, double gain) {
    for (size_t i = (size_t)(from_s * rate_hz); i < (size_t)(to_s * rate_hz); i++)
        x[i] *= gain;
}

static void dropouts_at_their_times(void **state) {
    (void)state;
    uint64_t seed = 41;
    double *x = sine_with_noise(1, 1000, 1e-3, &seed);
    scale_part(x, 0.200, 0.250, 0);
    scale_part(x, 0.600, 0.603, 0.01);
    scale_part(x, 0.700, 0.720, 0.3);
    scale_part(x, 0.800, 0.850, 0.6); /* no fall to half */
    scale_part(x, 0.960, 1.000, 0);   /* to the end */
    gw_event events[EVENTS];
    size_t count;
    assert_true(gw_events_dropouts(x, NULL, N, rate_hz, 0, 1000, 1e-3, events, EVENTS, &count));
    assert_int_equal(count, 4);
    static const double starts[] = {0.2, 0.6, 0.7, 0.96}, lengths[] = {0.05, 0.003, 0.02, 0.04};
    for (size_t i = 0; i < 4; i++) { /* within half a period of the signal */
        assert_int_equal(events[i].kind, GW_EVENT_DROPOUT);
        assert_close(events[i].start_s, starts[i], 0.5e-3);
        assert_close(events[i].length_s, lengths[i], 0.7e-3);
    }
    assert_true(gw_events_dropouts(x, NULL, N, rate_hz, 0, 1000, 1e-3, events, 2, &count));
    assert_int_equal(count, 4); /* all are counted, two are told */
    free(x);
}

static void dropouts_of_a_noisy_sine(void **state) {
    (void)state;
    uint64_t seed = 42;
    int found = 0, wrong = 0;
    for (int t = 0; t < 50; t++) {
        double *x = sine_with_noise(1, 997, 0.25, &seed);
        gw_event events[EVENTS];
        size_t count;
        assert_true(gw_events_dropouts(x, NULL, N, rate_hz, 0, 997, 0.25, events, EVENTS, &count));
        wrong += count > 0;
        for (size_t i = 9600; i < 14400; i++)
            x[i] = 0.25 * random_gauss(&seed);
        assert_true(gw_events_dropouts(x, NULL, N, rate_hz, 0, 997, 0.25, events, EVENTS, &count));
        found += count == 1 && fabs(events[0].start_s - 0.2) < 2e-3;
        free(x);
    }
    assert_int_equal(wrong, 0);
    assert_int_equal(found, 50);
}

/* A signal that swells and dies away softly, as a test signal does, does not cut out; one that is cut in it does. */
static void soft_starts_are_no_dropouts(void **state) {
    (void)state;
    uint64_t seed = 44;
    static const double fades_s[] = {0.01, 0.05, 0.2}, frequencies_hz[] = {100, 997, 5000};
    for (size_t f = 0; f < 3; f++)
        for (size_t k = 0; k < 3; k++) {
            double *x = sine_with_noise(1, frequencies_hz[k], 1e-3, &seed);
            for (size_t i = 0; i < (size_t)(fades_s[f] * rate_hz); i++) {
                double gain = 0.5 - 0.5 * cos(3.14159265358979 * (double)i / (fades_s[f] * rate_hz));
                x[i] *= gain;
                x[N - 1 - i] *= gain;
            }
            gw_event events[EVENTS];
            size_t count;
            assert_true(gw_events_dropouts(x, NULL, N, rate_hz, 0, frequencies_hz[k], 1e-3, events, EVENTS, &count));
            assert_int_equal(count, 0);
            scale_part(x, 0.5, 0.6, 0);
            assert_true(gw_events_dropouts(x, NULL, N, rate_hz, 0, frequencies_hz[k], 1e-3, events, EVENTS, &count));
            assert_int_equal(count, 1);
            free(x);
        }
}

static void steady_signals_have_no_dropouts(void **state) {
    (void)state;
    uint64_t seed = 43;
    int alarms = 0;
    for (int t = 0; t < 2000; t++) {
        size_t n = 500 + (size_t)(2000 * random_even(&seed)), count;
        double x[2500] = {0}, cycles = 1.5 + 100 * random_even(&seed), amplitude = 4 + 120 * random_even(&seed);
        add_sine(x, n, (double)n, amplitude, cycles, 7 * random_even(&seed));
        if (t % 3 == 0 && cycles < (double)n / 20)
            for (size_t i = 0; i < n; i++) /* a narrow pulse: mostly nothing, healthily */
                x[i] = fmod((double)i * cycles / (double)n, 1) < 0.1 ? amplitude : 0;
        add_noise(x, n, 0.5, &seed);
        quantise(x, n, 1);
        gw_event events[EVENTS];
        double dc = t % 3 == 0 && cycles < (double)n / 20 ? 0.1 * amplitude : 0;
        assert_true(gw_events_dropouts(x, NULL, n, (double)n, dc, cycles, 0.58, events, EVENTS, &count));
        alarms += count > 0;
    }
    assert_int_equal(alarms, 0);
    double x[1000] = {0};
    gw_event events[EVENTS];
    size_t count = 9;
    assert_true(gw_events_dropouts(x, NULL, 1000, 1000, 0, 0, 0, events, EVENTS, &count));
    assert_int_equal(count, 0); /* without a frequency there is no steady signal */
}

/* What is loud for less than a quarter of the record, and at once, is an outlier above the level that is usual; for
 * more than a quarter it is the level, and the rest has dropped out of it. Of 100 windows, 25 samples apart, those that
 * reach into the loud part are loud. */
static void the_usual_level_is_the_upper_quartile(void **state) {
    (void)state;
    enum { PERIOD = 100, HOP = 25, LENGTH = 99 * HOP + PERIOD };
    static const struct { size_t loud, dropouts; } cases[] = {{24, 0}, {27, 1}};
    for (size_t k = 0; k < 2; k++) {
        double x[LENGTH] = {0}, end = (double)(cases[k].loud * HOP);
        add_sine(x, LENGTH, LENGTH, 1, (double)LENGTH / PERIOD, 0.3);
        for (size_t i = 0; i < cases[k].loud * HOP; i++)
            x[i] *= 10;
        gw_event events[EVENTS];
        size_t count;
        assert_true(gw_events_dropouts(x, NULL, LENGTH, 48e3, 0, 48e3 / PERIOD, 0, events, EVENTS, &count));
        assert_int_equal(count, cases[k].dropouts);
        if (count == 1) /* within a window */
            assert_close(events[0].start_s * 48e3, end, PERIOD);
    }
}

/* Where every sample is missing no signal is known that could drop out; with the same samples present one does. */
static void what_is_missing_has_no_dropouts(void **state) {
    (void)state;
    enum { LENGTH = 1000 };
    double x[LENGTH] = {0};
    unsigned char marks[LENGTH];
    memset(marks, GW_SAMPLE_MISSING, sizeof marks);
    add_sine(x, LENGTH, LENGTH, 1, 10, 0.3);
    memset(x + 300, 0, 200 * sizeof *x);
    gw_event events[EVENTS];
    size_t count = 9;
    assert_true(gw_events_dropouts(x, marks, LENGTH, LENGTH, 0, 10, 0, events, EVENTS, &count));
    assert_int_equal(count, 0);
    assert_true(gw_events_dropouts(x, NULL, LENGTH, LENGTH, 0, 10, 0, events, EVENTS, &count));
    assert_int_equal(count, 1);
}

/* A square wave drops to 0.47 of itself for three periods, and a quarter of the record is missing, in gaps of more than
 * a period. What a fit leaves is half of the signal, but the level beside the drop is as steady as can be: windows
 * without a value make it no less so. Of any part of a square wave the RMS is its amplitude. */
static void gaps_hide_no_dropout(void **state) {
    (void)state;
    enum { PERIOD = 48, GAP = 60, AGAIN = 220, LENGTH = 60 * AGAIN, FROM = 18 * AGAIN + 70, TO = 19 * AGAIN - 10 };
    static double x[LENGTH];
    static unsigned char marks[LENGTH];
    uint64_t seed = 47;
    for (size_t i = 0; i < LENGTH; i++) {
        x[i] = (i % PERIOD < PERIOD / 2 ? 1 : -1) * (i >= FROM && i < TO ? 0.47 : 1);
        marks[i] = i % AGAIN < GAP ? GW_SAMPLE_MISSING : GW_SAMPLE_PRESENT;
    }
    add_noise(x, LENGTH, 1e-3, &seed);
    gw_event events[EVENTS];
    size_t count;
    assert_true(gw_events_dropouts(x, marks, LENGTH, 48e3, 0, 48e3 / PERIOD, 0.5, events, EVENTS, &count));
    assert_int_equal(count, 1);
    assert_close(events[0].start_s * 48e3, FROM, PERIOD);
    assert_close((events[0].start_s + events[0].length_s) * 48e3, TO, PERIOD);
}

/* Samples that are missing in the middle of a dropout don't end it: 50 ms of nothing, of which 1 to 8 ms are unknown.
 */
static void a_gap_ends_no_dropout(void **state) {
    (void)state;
    static unsigned char marks[N];
    uint64_t seed = 48;
    double *x = sine_with_noise(1, 1000, 1e-3, &seed);
    scale_part(x, 0.200, 0.250, 0.01);
    for (size_t ms = 1; ms <= 8; ms *= 2) {
        memset(marks + N * 22 / 100, GW_SAMPLE_MISSING, N / 1000 * ms);
        gw_event events[EVENTS];
        size_t count;
        assert_true(gw_events_dropouts(x, marks, N, rate_hz, 0, 1000, 1e-3, events, EVENTS, &count));
        assert_int_equal(count, 1);
        assert_close(events[0].start_s, 0.2, 1e-3);
        assert_close(events[0].length_s, 0.05, 1e-3);
    }
    free(x);
}

static void crackle_at_its_times(void **state) {
    (void)state;
    uint64_t seed = 44;
    double *x = new_volts(N);
    add_noise(x, N, 1e-3, &seed);
    x[4800] += 0.05;
    x[9600] -= 0.012;
    for (size_t i = 0; i < 12; i++) /* a burst rings: one event */
        x[24000 + i] += 0.1 * cos((double)i) * exp(-0.2 * (double)i);
    gw_event events[EVENTS];
    size_t count;
    assert_true(gw_events_crackle(x, NULL, N, rate_hz, -1, 0, 0, events, EVENTS, &count));
    assert_int_equal(count, 3);
    assert_close(events[0].start_s, 0.1, 1e-6);
    assert_close(events[0].size_v, 0.05, 0.005);
    assert_close(events[1].start_s, 0.2, 1e-6);
    assert_close(events[1].size_v, -0.012, 0.005);
    assert_close(events[2].start_s, 0.5, 1e-6);
    assert_close(events[2].size_v, 0.1, 0.005);
    assert_true(events[2].length_s < 0.5e-3);
    unsigned char *marks = calloc(N, 1);
    assert_non_null(marks);
    marks[4800] = 1;
    assert_true(gw_events_crackle(x, marks, N, rate_hz, -1, 0, 0, events, EVENTS, &count));
    assert_int_equal(count, 2);
    free(marks);
    free(x);
}

/* A record of 1.2 ms at 2 MHz, as of a tone of 9.7 kHz: its impulses 0.2 ms from each other are six, not one. */
static void impulses_of_a_short_record_are_told_apart(void **state) {
    (void)state;
    enum { SHORT = 2400 };
    uint64_t seed = 45;
    double x[SHORT] = {0};
    add_noise(x, SHORT, 1e-3, &seed);
    for (size_t k = 0; k < 6; k++)
        for (size_t i = 0; i < 12; i++)
            x[200 + 400 * k + i] += 0.1 * exp(-0.2 * (double)i);
    gw_event events[EVENTS];
    size_t count;
    assert_true(gw_events_crackle(x, NULL, SHORT, 2e6, -1, 0, 9.7e3, events, EVENTS, &count));
    assert_int_equal(count, 6);
    for (size_t k = 0; k < 6; k++)
        assert_close(events[k].start_s, (200 + 400 * (double)k) / 2e6, 1e-6);
}

static void noise_and_quantising_are_no_crackle(void **state) {
    (void)state;
    uint64_t seed = 45;
    int alarms = 0;
    for (int t = 0; t < 2000; t++) {
        size_t n = 500 + (size_t)(2000 * random_even(&seed)), count;
        double x[2500] = {0}, clean[2500] = {0}, cycles = 1.5 + 100 * random_even(&seed);
        add_sine(clean, n, (double)n, 2 + 120 * random_even(&seed), cycles, 7 * random_even(&seed));
        memcpy(x, clean, sizeof x);
        if (t % 2)
            add_noise(x, n, 2 * random_even(&seed), &seed);
        quantise(x, n, 1);
        for (size_t i = 0; i < n; i++)
            x[i] -= clean[i];
        gw_event events[EVENTS];
        assert_true(gw_events_crackle(x, NULL, n, (double)n, -1, 1, cycles, events, EVENTS, &count));
        alarms += count > 0;
        assert_true(gw_events_steps(x, NULL, n, (double)n, 1, cycles, events, EVENTS, &count));
        alarms += count > 0;
    }
    assert_int_equal(alarms, 0);
}

static void edges_of_a_square_wave_are_no_crackle(void **state) {
    (void)state;
    /* what is left of a naively sampled square after taking out its first harmonics: spikes at each edge */
    uint64_t seed = 46;
    static const double frequencies[] = {100, 440, 441.7, 997, 1234.5};
    for (size_t f = 0; f < 5; f++) {
        double *x = new_volts(N), hz = frequencies[f];
        for (size_t i = 0; i < N; i++)
            x[i] = sin(two_pi * hz * (double)i / rate_hz + 0.1) > 0 ? 1 : -1;
        for (int k = 1; k * hz < rate_hz / 2; k += 2)
            add_sine(x, N, rate_hz, -8 / two_pi / k, k * hz, 0.1 * k);
        add_noise(x, N, 1e-4, &seed);
        gw_event events[EVENTS];
        size_t count;
        assert_true(gw_events_crackle(x, NULL, N, rate_hz, -1, 0, hz, events, EVENTS, &count));
        assert_int_equal(count, 0);
        x[20000] += 3; /* yet a real one is seen */
        assert_true(gw_events_crackle(x, NULL, N, rate_hz, -1, 0, hz, events, EVENTS, &count));
        assert_int_equal(count, 1);
        assert_close(events[0].start_s, 20000 / rate_hz, 1e-3);
        free(x);
    }
}

static void steps_at_their_times(void **state) {
    (void)state;
    uint64_t seed = 47;
    double *x = new_volts(N);
    add_noise(x, N, 1e-3, &seed);
    for (size_t i = 12000; i < N; i++)
        x[i] += 0.010;
    for (size_t i = 36000; i < N; i++)
        x[i] -= 0.025;
    gw_event events[EVENTS];
    size_t count;
    assert_true(gw_events_steps(x, NULL, N, rate_hz, 0, 1000, events, EVENTS, &count));
    assert_int_equal(count, 2);
    assert_int_equal(events[0].kind, GW_EVENT_STEP);
    assert_close(events[0].start_s, 0.25, 1e-3);
    assert_close(events[0].size_v, 0.010, 0.0005);
    assert_close(events[1].start_s, 0.75, 1e-3);
    assert_close(events[1].size_v, -0.025, 0.0005);
    free(x);
}

/* Of a signal of five samples a period, or of three periods in the record, a step is found where it is all the same. */
static void steps_beside_a_fast_or_a_slow_signal(void **state) {
    (void)state;
    static const double frequencies_hz[] = {48e3 / 5, 3, 0};
    uint64_t seed = 48;
    for (size_t k = 0; k < 3; k++) {
        double *x = new_volts(N);
        add_noise(x, N, 1e-3, &seed);
        for (size_t i = 4000; i < N; i++)
            x[i] += 0.010;
        gw_event events[EVENTS];
        size_t count;
        assert_true(gw_events_steps(x, NULL, N, rate_hz, 0, frequencies_hz[k], events, EVENTS, &count));
        assert_int_equal(count, 1);
        assert_close(events[0].start_s, 4000 / rate_hz, 1e-3);
        free(x);
    }
}

/* What a fit leaves of a slow signal, 2 mV beside a step of 10: over whole periods it has no mean. Over a twentieth of
 * this record, 0.6 of a period, the means would sway by 0.96 of it (2 sin²(0.6 pi)/(0.6 pi) of a sine), a standard
 * deviation of a good millivolt: eight of them would hide the step. */
static void a_slow_signals_rest_hides_no_step(void **state) {
    (void)state;
    uint64_t seed = 53;
    for (int there = 0; there < 2; there++) {
        double *x = new_volts(N);
        add_sine(x, N, rate_hz, 0.002, 12, 0.4);
        add_noise(x, N, 1e-4, &seed);
        for (size_t i = 20000; there && i < N; i++)
            x[i] += 0.010;
        gw_event events[EVENTS];
        size_t count;
        assert_true(gw_events_steps(x, NULL, N, rate_hz, 0, 12, events, EVENTS, &count));
        assert_int_equal(count, there);
        if (there)
            assert_close(events[0].size_v, 0.010, 0.001);
        free(x);
    }
}

static void wander_noise_and_impulses_are_no_steps(void **state) {
    (void)state;
    uint64_t seed = 48;
    int alarms = 0;
    gw_event events[EVENTS];
    size_t count;
    for (int t = 0; t < 200; t++) {
        double x[5000], low = 0;
        for (size_t i = 0; i < 5000; i++) {
            low = 0.999 * low + random_gauss(&seed);
            x[i] = t % 2 ? random_gauss(&seed) : low;
        }
        assert_true(gw_events_steps(x, NULL, 5000, 5000, 0, t % 4 ? 50 : 0, events, EVENTS, &count));
        alarms += count > 0;
    }
    print_message("steps in white and red noise: %d of 200\n", alarms);
    assert_in_range(alarms, 0, 1);
    for (int kind = 0; kind < 3; kind++) {
        double *x = new_volts(N);
        add_noise(x, N, 1e-3, &seed);
        if (kind == 0)
            x[20000] += 30;
        for (size_t i = 0; i < N; i++) {
            double t = (double)i / rate_hz;
            if (kind == 1)
                x[i] += 0.05 * sin(two_pi * 0.7 * t); /* a slow sway */
            if (kind == 2)
                x[i] += 0.05 / (1 + exp(-(t - 0.5) / 0.03)); /* a shift that takes a tenth of a second */
        }
        assert_true(gw_events_steps(x, NULL, N, rate_hz, 0, 1000, events, EVENTS, &count));
        assert_int_equal(count, 0);
        free(x);
    }
}

/* Two tones beat: what they do within one beat is no dropout, what falls out of all of them is. */
static void beats_are_no_dropouts(void **state) {
    (void)state;
    enum { LENGTH = 9600 };
    static const double tones[][2] = {{10667, 11041}, {11427, 11630}, {3805, 4444},
                                      {533, 678},     {13e3, 14e3},   {250, 8e3}};
    double x[LENGTH];
    uint64_t seed = 51;
    for (size_t k = 0; k < sizeof tones / sizeof *tones; k++)
        for (int cut = 0; cut < 2; cut++) {
            memset(x, 0, sizeof x);
            add_sine(x, LENGTH, 48e3, 0.3, tones[k][0], 0.3);
            add_sine(x, LENGTH, 48e3, 0.3, tones[k][1], 2.1);
            for (size_t i = 4000; cut && i < 5200; i++)
                x[i] *= 0.1;
            add_noise(x, LENGTH, 1e-3, &seed);
            const gw_measure_options stated = {.accuracy = 0, .stimulus.shape = GW_SHAPE_TWO_TONE};
            gw_readings *r = measured_with(x, LENGTH, 48e3, 0, &stated);
            if (!cut)
                assert_int_equal(r->signal, GW_SIGNAL_TWO_TONE);
            if (!cut || r->signal == GW_SIGNAL_TWO_TONE)
                assert_close(value_of(r, GW_DROPOUTS), cut, 0);
            gw_readings_free(r);
        }
}

/* Two tones of 60 cycles whose beat comes 2.4 times: what the envelope does once or twice is nobody's habit, and no
 * dropouts are counted; nor of a tone that comes 2.4 times itself. Of 6 beats they are. */
static void dropouts_need_three_of_what_comes_again(void **state) {
    (void)state;
    enum { LENGTH = 9600 };
    static const struct {
        double first, second;
        const char *why;
    } cases[] = {
        {60, 62.4, "fewer than three beats of the two tones in the record"},
        {2.4, 0, "fewer than three cycles in the record"},
        {60, 66, NULL},
    };
    const gw_measure_options two = {.stimulus.shape = GW_SHAPE_TWO_TONE}, one = {.stimulus.shape = GW_SHAPE_SINE};
    uint64_t seed = 54;
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        double x[LENGTH] = {0};
        add_sine(x, LENGTH, LENGTH, 0.3, cases[k].first, 0.3);
        if (cases[k].second > 0)
            add_sine(x, LENGTH, LENGTH, 0.3, cases[k].second, 2.1);
        add_noise(x, LENGTH, 1e-3, &seed);
        gw_readings *r = measured_with(x, LENGTH, 48e3, 0, cases[k].second > 0 ? &two : &one);
        assert_int_equal(r->signal, cases[k].second > 0 ? GW_SIGNAL_TWO_TONE : GW_SIGNAL_SINE);
        if (cases[k].why) {
            assert_int_equal(r->values[GW_DROPOUTS].state, GW_READING_NONE);
            assert_string_equal(r->values[GW_DROPOUTS].why, cases[k].why);
        } else
            assert_close(value_of(r, GW_DROPOUTS), 0, 0);
        gw_readings_free(r);
    }
}

/* What happens to a sine makes it no other signal: a step of DC under it, or cut-outs (a twentieth of the record each).
 */
static void events_leave_the_sine(void **state) {
    (void)state;
    enum { LENGTH = 24000, TRIALS = 24 };
    double *x = new_volts(LENGTH);
    uint64_t seed = 52;
    int other[2] = {0, 0};
    for (int t = 0; t < 2 * TRIALS; t++) {
        double frequency = 120 * pow(10, random_even(&seed)), step = 0.05 + 0.3 * random_even(&seed);
        size_t at = LENGTH / 5 + (size_t)(0.6 * LENGTH * random_even(&seed)), cuts = (size_t)(1 + t / 2 % 3);
        memset(x, 0, LENGTH * sizeof *x);
        add_sine(x, LENGTH, 48e3, 0.4, frequency, two_pi * random_even(&seed));
        for (size_t i = at; t % 2 && i < LENGTH; i++)
            x[i] += step;
        for (size_t c = 0; t % 2 == 0 && c < cuts; c++) {
            size_t from = (size_t)(((double)c + 0.2 + 0.4 * random_even(&seed)) * LENGTH / (double)cuts);
            for (size_t i = from; i < from + LENGTH / 20; i++)
                x[i] *= 0.1;
        }
        add_noise(x, LENGTH, 1e-3, &seed);
        gw_readings *r = measured(x, LENGTH, 48e3, 0);
        other[t % 2] += r->signal != GW_SIGNAL_SINE || fabs(value_of(r, GW_FREQUENCY) / frequency - 1) > 0.01;
        gw_readings_free(r);
    }
    print_message("another signal: with cut-outs %d, with a step %d of %d\n", other[0], other[1], TRIALS);
    assert_in_range(other[0], 0, TRIALS / 6);
    assert_in_range(other[1], 0, TRIALS / 12);
    free(x);
}

/* Two clicks and a step of DC in a quiet record are three events: none is left out of the list, each is of its kind and
 * stands at its time. */
static void clicks_and_a_step_are_all_listed(void **state) {
    (void)state;
    enum { LENGTH = 24000 };
    static const double at[] = {0.1, 0.4, 0.25}; /* s: the clicks, the step */
    double *x = new_volts(LENGTH);
    uint64_t seed = 53;
    add_noise(x, LENGTH, 1e-4, &seed);
    for (size_t i = (size_t)(at[2] * rate_hz); i < LENGTH; i++)
        x[i] += 0.02;
    for (size_t k = 0; k < 2; k++)
        x[(size_t)(at[k] * rate_hz)] += 0.05;
    gw_readings *r = measured(x, LENGTH, rate_hz, 0);
    assert_int_equal(r->event_count, 3);
    for (size_t k = 0; k < 3; k++) {
        assert_int_equal(r->events[k].kind, k < 2 ? GW_EVENT_CRACKLE : GW_EVENT_STEP);
        assert_close(r->events[k].start_s, at[k], 1e-3);
        assert_close(r->events[k].size_v, k < 2 ? 0.05 : 0.02, 0.002);
    }
    gw_readings_free(r);
    free(x);
}

static void slope_of_a_line(void **state) {
    (void)state;
    uint64_t seed = 49;
    double slope, u, pulls = 0;
    enum { TRIALS = 200 };
    for (int t = 0; t < TRIALS; t++) {
        double x[1000];
        for (size_t i = 0; i < 1000; i++)
            x[i] = 7 - 0.002 * (double)i / 1000 + 1e-3 * random_gauss(&seed);
        assert_true(gw_drift_slope(x, NULL, 1000, 1000, 0, &slope, &u));
        /* least squares: sigma sqrt(12/n)/T (Kay 1993, line fit) */
        assert_close(u / (1e-3 * sqrt(12.0 / 1000)), 1, 0.12);
        pulls += pow((slope + 0.002) / u, 2) / TRIALS;
    }
    assert_close(sqrt(pulls), 1, 0.15);
    /* 2.3 cycles of a sine lean on a plain line by several times the slope; over whole periods they don't */
    double x[1000] = {0};
    add_sine(x, 1000, 1000, 1, 2.3, 0.5);
    for (size_t i = 0; i < 1000; i++)
        x[i] += 0.05 * (double)i / 1000;
    assert_false(gw_drift_slope(x, NULL, 1000, 1000, 2.3, &slope, &u)); /* two periods: no line */
    memset(x, 0, sizeof x);
    add_sine(x, 1000, 1000, 1, 10.4, 0.5);
    for (size_t i = 0; i < 1000; i++)
        x[i] += 0.05 * (double)i / 1000;
    assert_true(gw_drift_slope(x, NULL, 1000, 1000, 10.4, &slope, &u));
    assert_close(slope, 0.05, 0.01);
    assert_false(gw_drift_slope(x, NULL, 2, 1000, 0, &slope, &u));
    assert_false(gw_drift_slope(x, NULL, 0, 1000, 0, &slope, &u));
}

static void robust_deviation(void **state) {
    (void)state;
    uint64_t seed = 50;
    double *x = new_volts(20001), sigma;
    add_noise(x, 20001, 0.7, &seed);
    for (size_t i = 0; i < 2000; i++)
        x[i * 10] = 1e6; /* a tenth is wild */
    assert_true(gw_robust_sigma(x, NULL, 20001, &sigma));
    assert_close(sigma, 0.7, 0.12);
    for (size_t i = 0; i < 20001; i++)
        x[i] = (double)(i % 5);
    assert_true(gw_robust_sigma(x, NULL, 20001, &sigma)); /* |0,1,2,3,4 - 2|: median 1 */
    assert_close(sigma, 1 / 0.67449, 1e-5);
    assert_true(gw_robust_sigma(x, NULL, 1, &sigma));
    assert_close(sigma, 0, 0);
    double few[] = {5, 1, 4, 2};
    assert_close(gw_median(few, 4), 3, 0);
    assert_close(gw_median(few, 3), few[1], 0);
    assert_close(gw_median(few, 0), 0, 0);
    for (size_t rank = 0; rank < 20001; rank += 2500) {
        for (size_t i = 0; i < 20001; i++)
            x[i] = (double)((i * 7919) % 20001); /* a permutation */
        assert_close(gw_rank_select(x, 20001, rank), (double)rank, 0);
    }
    free(x);
}

/* 0, 1, 1, 2 V, a second apart: least squares by hand give 0.6 V/s, 0.2 V² of rest over two degrees of freedom and 5
 * s², so a standard uncertainty of sqrt(0.02) V/s. */
static void slope_of_four_points(void **state) {
    (void)state;
    static const double x[] = {0, 1, 1, 2};
    double slope, u;
    assert_true(gw_drift_slope(x, NULL, 4, 1, 0, &slope, &u));
    assert_close(slope, 0.6, 1e-12);
    assert_close(u, sqrt(0.02), 1e-12);
    assert_false(gw_drift_slope(x, NULL, 2, 1, 0, &slope, &u));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slope_of_four_points),
        cmocka_unit_test(dropouts_at_their_times),
        cmocka_unit_test(dropouts_of_a_noisy_sine),
        cmocka_unit_test(soft_starts_are_no_dropouts),
        cmocka_unit_test(steady_signals_have_no_dropouts),
        cmocka_unit_test(beats_are_no_dropouts),
        cmocka_unit_test(events_leave_the_sine),
        cmocka_unit_test(clicks_and_a_step_are_all_listed),
        cmocka_unit_test(the_usual_level_is_the_upper_quartile),
        cmocka_unit_test(what_is_missing_has_no_dropouts),
        cmocka_unit_test(gaps_hide_no_dropout),
        cmocka_unit_test(a_gap_ends_no_dropout),
        cmocka_unit_test(dropouts_need_three_of_what_comes_again),
        cmocka_unit_test(a_slow_signals_rest_hides_no_step),
        cmocka_unit_test(crackle_at_its_times),
        cmocka_unit_test(impulses_of_a_short_record_are_told_apart),
        cmocka_unit_test(noise_and_quantising_are_no_crackle),
        cmocka_unit_test(edges_of_a_square_wave_are_no_crackle),
        cmocka_unit_test(steps_at_their_times),
        cmocka_unit_test(steps_beside_a_fast_or_a_slow_signal),
        cmocka_unit_test(wander_noise_and_impulses_are_no_steps),
        cmocka_unit_test(slope_of_a_line),
        cmocka_unit_test(robust_deviation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
