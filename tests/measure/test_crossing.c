/* Two channels of noise, one of which is the other earlier or later by whole samples; and when it is a tone that
 * carries one channel to the other. */
#include "measure/captured.h"
#include "measure/crossing.h"
#include "measure/signals.h"

enum { N = 6000, MOST = 20, RATE = 48000 };

static gw_pair pair_later(int samples, double gain) {
    uint64_t random = 81;
    double *noise = new_volts(N + 2 * MOST), *other = new_volts(N);
    add_noise(noise, N + 2 * MOST, 0.1, &random);
    for (int i = 0; i < N; i++)
        other[i] = gain * noise[i + MOST - samples];
    gw_capture *capture = capture_of(noise + MOST, other, N, RATE);
    gw_crossing crossing;
    gw_pair pair;
    assert_true(gw_crossing_make(capture, 0, 1, 0, &crossing, NULL));
    assert_true(gw_crossing_pair(&crossing, RATE, &pair, NULL));
    gw_crossing_free(&crossing);
    gw_capture_free(capture);
    free(noise);
    free(other);
    return pair;
}

/* The channel of the output may have been recorded first, and the probes may be the wrong way round: a delay has a
 * sign. A copy's delay is known to a small part of a sample. */
static void what_comes_earlier_has_a_negative_delay(void **state) {
    (void)state;
    static const int later[] = {-MOST, -7, -1, 0, 1, 7, MOST};
    for (size_t k = 0; k < sizeof later / sizeof *later; k++)
        for (int turned = 0; turned < 2; turned++) {
            gw_pair pair = pair_later(later[k], turned ? -0.5 : 2);
            assert_true(pair.valid);
            assert_close(pair.delay_s * RATE, later[k], 0.05);
            assert_int_equal(pair.polarity, turned ? -1 : 1);
        }
}

/* A hole in one channel's record is no silence of that channel: of white noise and its double, the part that the hole
 * takes away tells nothing, and what is there is a copy, wholly coherent. */
static void a_hole_in_a_channel_says_nothing(void **state) {
    (void)state;
    enum { HOLE = 400 };
    uint64_t random = 83;
    double *one = new_volts(N), *other = new_volts(N);
    add_noise(one, N, 0.1, &random);
    for (size_t i = 0; i < N; i++)
        other[i] = i >= N / 2 && i < N / 2 + HOLE ? NAN : 2 * one[i];
    for (int turned = 0; turned < 2; turned++) {
        gw_capture *capture = capture_of(one, other, N, RATE);
        gw_crossing crossing;
        gw_pair pair;
        assert_int_equal(capture->channels[1].missing, HOLE);
        assert_true(gw_crossing_make(capture, turned ? 1 : 0, turned ? 0 : 1, 0, &crossing, NULL));
        assert_true(gw_crossing_pair(&crossing, RATE, &pair, NULL));
        assert_true(pair.valid);
        assert_close(pair.gain, turned ? 0.5 : 2, 1e-3);
        assert_close(pair.coherence, 1, 1e-3);
        gw_crossing_free(&crossing);
        gw_capture_free(capture);
    }
    free(one), free(other);
}

static gw_pair pair_of(const double *one, const double *other) {
    gw_capture *capture = capture_of(one, other, N, RATE);
    gw_pair pair;
    assert_true(gw_measure_pair(capture, 0, 1, &pair, NULL));
    gw_capture_free(capture);
    return pair;
}

/* Where noise of power N lies beside a tone of power S, the tone is 1/(1 + N/S) of that channel: with noise of their
 * own on both, coherence is the product of the two (Bendat & Piersol). */
static void coherence_of_a_tone_is_its_part_of_both_channels(void **state) {
    (void)state;
    static const double rests[][2] = {{0, 0.2}, {0.08, 0}, {0.05, 0.5}}; /* N/S */
    uint64_t random = 82;
    for (size_t c = 0; c < sizeof rests / sizeof *rests; c++) {
        double *one = new_volts(N), *other = new_volts(N);
        add_sine(one, N, RATE, 1, 1000.3, 0.3);
        add_sine(other, N, RATE, 1, 1000.3, 0.8);
        add_noise(one, N, sqrt(rests[c][0] / 2), &random);
        add_noise(other, N, sqrt(rests[c][1] / 2), &random);
        gw_pair pair = pair_of(one, other);
        assert_true(pair.valid);
        assert_close(pair.frequency_hz, 1000.3, 0.5);
        /* the power of N values of noise scatters by √(2/N), 1.8 % */
        double rest = rests[c][0] + rests[c][1], coherence = 1 / ((1 + rests[c][0]) * (1 + rests[c][1]));
        assert_close(pair.coherence, coherence, 1e-4 + 4 * 0.018 * rest);
        free(one), free(other);
    }
}

/* Of ten lines alike the first holds a tenth of the power and carries nothing: a coupling that halves all others and
 * takes it away lets √(9/10)/2 through, by power, at no frequency of its own. */
static void many_lines_alike_are_programme(void **state) {
    (void)state;
    double *one = new_volts(N), *other = new_volts(N);
    for (int k = 1; k <= 10; k++) {
        add_sine(one, N, RATE, 0.1, 1000.3 * k, 0.7 * k * k);
        add_sine(other, N, RATE, k > 1 ? 0.05 : 0.001, 1000.3 * k, 0.7 * k * k);
    }
    gw_pair pair = pair_of(one, other);
    assert_true(pair.valid);
    assert_close(pair.frequency_hz, 0, 0);
    assert_close(pair.gain, sqrt(0.9) / 2, 0.005);
    free(one), free(other);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_comes_earlier_has_a_negative_delay),
        cmocka_unit_test(a_hole_in_a_channel_says_nothing),
        cmocka_unit_test(coherence_of_a_tone_is_its_part_of_both_channels),
        cmocka_unit_test(many_lines_alike_are_programme),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
