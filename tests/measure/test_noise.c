/* Noise in a band: hand-made spectra, closed forms of thermal and 1/f noise, and what a fit takes away. */
#include "measure/noise.h"
#include "measured.h"

static const gw_fitted nothing = {0};

static void partial_bins_at_the_edges(void **state) {
    (void)state;
    double density[5] = {1, 2, 4, 8, 16};
    gw_psd psd = {.bins = 5, .bin_hz = 10, .density = density, .duration_s = 0.1, .freedom = 2, .segments = 1};
    /* bars: 0..5, 5..15, 15..25, 25..35, 35..40 Hz */
    static const struct {
        double low, high, power;
    } cases[] = {{0, 40, 5 + 20 + 40 + 80 + 80},
                 {10, 20, 5 * 2 + 5 * 4},
                 {12, 13, 2},
                 {0, 2.5, 2.5},
                 {37, 99, 48},
                 {4, 6, 1 + 2}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        gw_noise noise = gw_noise_rms(&psd, (gw_band){cases[i].low, cases[i].high}, GW_WEIGHT_FLAT, nothing);
        assert_true(noise.valid);
        assert_close(noise.rms, sqrt(cases[i].power), 1e-12);
    }
    assert_false(gw_noise_rms(&psd, (gw_band){50, 60}, GW_WEIGHT_FLAT, nothing).valid);
    assert_false(gw_noise_rms(&psd, (gw_band){30, 30}, GW_WEIGHT_FLAT, nothing).valid);
    gw_psd empty = {0};
    assert_false(gw_noise_rms(&empty, (gw_band){20, 20e3}, GW_WEIGHT_FLAT, nothing).valid);
}

static void thermal_noise_of_a_resistor(void **state) {
    (void)state;
    /* sqrt(4 k T R B), k = 1.380649e-23 J/K (2019 SI): 10 kohm at 300 K in 20 kHz is 1.82032 uV, 12.8716 nV/sqrt(Hz) */
    enum { N = 96000 };
    double *x = new_volts(N);
    uint64_t seed = 11;
    add_noise(x, N, sqrt(4 * 1.380649e-23 * 300 * 10e3 * 48e3), &seed);
    gw_arena *arena = gw_arena_new();
    gw_psd psd;
    gw_floor floor;
    assert_true(gw_psd_welch(x, NULL, N, 96e3, 0, arena, &psd));
    gw_noise noise = gw_noise_rms(&psd, (gw_band){0, 20e3}, GW_WEIGHT_FLAT, nothing);
    assert_close(noise.rms, 1.82032e-6, 3 * noise.relative * 1.82032e-6);
    assert_close(noise.relative, 0.0035355, 0.0003); /* B&P: 1/(2 sqrt(B T)), B = 20 kHz, T = 1 s */
    assert_true(gw_noise_density(&psd, (gw_band){20, 20e3}, nothing, &floor));
    assert_true(floor.valid);
    assert_close(floor.density, 12.8716e-9, 3 * floor.relative * 12.8716e-9);
    assert_true(floor.relative < 0.01);
    gw_arena_free(arena);
    free(x);
}

static void one_over_f_noise_of_a_published_example(void **state) {
    (void)state;
    /* TI SBOA585, Table 7-6, gain 1: 130 nV/sqrt(Hz) at 0.2 Hz, to 45.5 kHz: 130 nV sqrt(0.2 ln(45.5 k/0.2)) = 0.2042
     * uV
     */
    gw_psd psd = {.bins = 910001, .bin_hz = 0.05, .duration_s = 160, .freedom = 15, .segments = 8};
    psd.density = new_volts(psd.bins);
    for (size_t k = 1; k < psd.bins; k++)
        psd.density[k] = 130e-9 * 130e-9 * 0.2 / ((double)k * 0.05);
    gw_noise noise = gw_noise_rms(&psd, (gw_band){0.2, 45500}, GW_WEIGHT_FLAT, nothing);
    assert_close(noise.rms, 0.2042e-6, 0.0001e-6);
    free(psd.density);
}

static void few_slow_swings_are_known_no_better_than_their_number(void **state) {
    (void)state;
    /* all of the noise in one bin of 0.05 Hz above DC, or in one of many: in a record of 200 s its power scatters by
     * 1/sqrt(B T) at least (B&P), its RMS by half of that; nothing of the lowest bins is better known than elsewhere */
    double density[64] = {0}, lowest = 0;
    gw_psd psd = {.bins = 64, .bin_hz = 0.05, .density = density, .duration_s = 200, .freedom = 36, .segments = 19};
    static const size_t places[] = {1, 12, 30};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        size_t k = places[i];
        density[k] = 1e-6;
        gw_noise noise = gw_noise_rms(&psd, (gw_band){0.01, 2}, GW_WEIGHT_FLAT, nothing);
        assert_true(noise.valid);
        assert_close(noise.rms, sqrt(1e-6 * 0.05), 1e-9);
        assert_true(noise.relative >= 0.5 / sqrt(0.05 * 200) * (1 - 1e-9));
        lowest = i == 0 ? noise.relative : lowest;
        assert_true(noise.relative <= lowest);
        density[k] = 0;
    }
}

static void median_of_chi_square(void **state) {
    (void)state;
    /* exact for 2 degrees: ln 2. Others: tables of chi-square at p = 0.5 (Abramowitz & Stegun, Table 26.8: 4: 3.35669,
     * 10: 9.34182, 30: 29.3360) */
    assert_close(gw_chi_square_median(2), log(2), 2e-3);
    assert_close(gw_chi_square_median(4) * 4, 3.35669, 5e-4);
    assert_close(gw_chi_square_median(10) * 10, 9.34182, 1e-4);
    assert_close(gw_chi_square_median(30) * 30, 29.3360, 1e-4);
}

static void density_does_not_see_lines_nor_length(void **state) {
    (void)state;
    static const size_t lengths[] = {600, 5000, 40000};
    uint64_t seed = 12;
    for (size_t t = 0; t < 3; t++) {
        double mean = 0, square = 0, said = 0;
        enum { TRIALS = 60 };
        for (int trial = 0; trial < TRIALS; trial++) {
            size_t n = lengths[t];
            double *x = new_volts(n);
            add_noise(x, n, 1, &seed);
            add_sine(x, n, 2, 5, 0.333, 0);
            gw_arena *arena = gw_arena_new();
            gw_psd psd;
            gw_floor floor;
            assert_true(gw_psd_welch(x, NULL, n, 2, 0, arena, &psd));
            assert_true(gw_noise_density(&psd, (gw_band){0, 1}, nothing, &floor));
            mean += floor.density / TRIALS;
            square += floor.density * floor.density / TRIALS;
            said = floor.relative;
            gw_arena_free(arena);
            free(x);
        }
        double scatter = sqrt(square - mean * mean);
        /* a line spreads over the few bins of a short record's spectrum: 4 of 33 shift the median */
        assert_close(mean, 1, t == 0 ? 0.15 : 0.02);
        if (t > 0)
            assert_close(said / scatter, 1, 0.35); /* 60 trials know a scatter to 9 % */
    }
}

/* Takes sine and cosine of whole periods of the record out, exactly (they are orthogonal). */
static void take_out(double *x, size_t n, size_t cycles) {
    double c = 0, s = 0;
    for (size_t i = 0; i < n; i++) {
        double angle = two_pi * (double)(cycles * i % n) / (double)n;
        c += x[i] * cos(angle);
        s += x[i] * sin(angle);
    }
    double scale = (cycles == 0 ? 1.0 : 2.0) / (double)n;
    for (size_t i = 0; i < n; i++) {
        double angle = two_pi * (double)(cycles * i % n) / (double)n;
        x[i] -= scale * (c * cos(angle) + s * sin(angle));
    }
}

static void what_the_fit_took_is_given_back(void **state) {
    (void)state;
    enum { N = 256, TRIALS = 400, FITTED = 17 };
    uint64_t seed = 13;
    double frequencies[FITTED], power = 0, wide = 0;
    for (size_t k = 0; k < FITTED; k++)
        frequencies[k] = 3.0 * (double)k / N; /* rate 1 Hz: every third line up to 0.1875 Hz */
    gw_fitted fitted = {frequencies, FITTED};
    for (int t = 0; t < TRIALS; t++) {
        double x[N] = {0};
        add_noise(x, N, 1, &seed);
        for (size_t k = 0; k < FITTED; k++)
            take_out(x, N, 3 * k);
        gw_arena *arena = gw_arena_new();
        gw_psd psd;
        assert_true(gw_psd_welch(x, NULL, N, 1, 0, arena, &psd));
        gw_noise low = gw_noise_rms(&psd, (gw_band){0, 0.19}, GW_WEIGHT_FLAT, fitted);
        gw_noise all = gw_noise_rms(&psd, (gw_band){0, 0.5}, GW_WEIGHT_FLAT, fitted);
        power += low.rms * low.rms / 0.38 / TRIALS;
        wide += all.rms * all.rms / TRIALS;
        gw_arena_free(arena);
    }
    assert_close(wide, 1, 0.02);  /* 400 x 223 degrees of freedom: 0.005 */
    assert_close(power, 1, 0.05); /* without giving back it would be 0.67 */
}

static void stated_uncertainty_holds(void **state) {
    (void)state;
    static const struct {
        size_t n;
        double low, high; /* of a rate of 1 Hz */
    } cases[] = {{300, 0, 0.5}, {1000, 0.05, 0.25}, {5000, 0.001, 0.4}, {5000, 0.1, 0.12}, {40000, 0, 0.5}};
    enum { TRIALS = 400 };
    uint64_t seed = 14;
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        double truth = sqrt(2 * (cases[c].high - cases[c].low));
        size_t n = cases[c].n;
        int trials = n > 20000 ? 100 : TRIALS, inside = 0;
        double *x = new_volts(n), squares = 0, said = 0;
        for (int t = 0; t < trials; t++) {
            for (size_t i = 0; i < n; i++)
                x[i] = 0;
            add_noise(x, n, 1, &seed);
            gw_arena *arena = gw_arena_new();
            gw_psd psd;
            assert_true(gw_psd_welch(x, NULL, n, 1, 0, arena, &psd));
            gw_noise noise = gw_noise_rms(&psd, (gw_band){cases[c].low, cases[c].high}, GW_WEIGHT_FLAT, nothing);
            inside += fabs(noise.rms - truth) <= 2 * noise.relative * noise.rms;
            squares += (noise.rms / truth - 1) * (noise.rms / truth - 1) / trials;
            said += noise.relative / trials;
            gw_arena_free(arena);
        }
        free(x);
        print_message("noise n %zu band %g..%g: covered %.1f %%, said/seen %.3f\n", n, cases[c].low, cases[c].high,
                      100.0 * inside / trials, said / sqrt(squares));
        assert_in_range(inside * 1000 / trials, 915, 995); /* 95.4 % by theory; 400 trials scatter by 1 % */
        assert_close(said / sqrt(squares), 1, trials > 100 ? 0.15 : 0.25);
    }
}

/* White noise and, nine times its power, noise that a first-order low-pass at 1 Hz leaves (x' = a x + e, density
 * 2 sigma^2/rate over |1 - a e^-jw|^2): below the band, and what the segments see of so few cycles is not what the
 * whole record holds. The integral of the density by a sum of fine steps. */
static void rumble_below_the_band(void **state) {
    (void)state;
    enum { N = 48000, TRIALS = 60, STEPS = 40000 };
    const double rate = 48e3, sigma = 1, rumble = 3, a = exp(-two_pi * 1 / rate), e = rumble * sqrt(1 - a * a);
    const gw_band band = {20, 20e3};
    double truth = 0;
    for (int k = 0; k < STEPS; k++) {
        double f = band.low_hz + (k + 0.5) * (band.high_hz - band.low_hz) / STEPS, w = two_pi * f / rate;
        double low_pass = e * e / (1 + a * a - 2 * a * cos(w));
        truth += 2 / rate * (sigma * sigma + low_pass) * (band.high_hz - band.low_hz) / STEPS;
    }
    uint64_t seed = 19;
    int inside = 0;
    double *x = new_volts(N);
    for (int t = 0; t < TRIALS; t++) {
        double slow = rumble * random_gauss(&seed);
        for (size_t i = 0; i < N; i++) {
            slow = a * slow + e * random_gauss(&seed);
            x[i] = slow + sigma * random_gauss(&seed);
        }
        gw_arena *arena = gw_arena_new();
        gw_psd psd;
        assert_true(gw_psd_welch(x, NULL, N, rate, 0, arena, &psd));
        gw_noise noise = gw_noise_rms(&psd, band, GW_WEIGHT_FLAT, nothing);
        inside += fabs(noise.rms - sqrt(truth)) <= 2 * noise.relative * noise.rms;
        assert_close(noise.rms, sqrt(truth), 0.06 * sqrt(truth));
        gw_arena_free(arena);
    }
    free(x);
    print_message("noise above a rumble: covered %d of %d\n", inside, TRIALS);
    assert_in_range(inside, 0.9 * TRIALS, TRIALS);
}

static void band_that_a_record_can_show(void **state) {
    (void)state;
    gw_band audio = {20, 20e3};
    gw_band_shown shown = gw_noise_band(audio, 960, 48e3); /* 20 ms: one cycle of 50 Hz */
    assert_true(shown.valid && shown.low_cut && !shown.high_cut);
    assert_close(shown.band.low_hz, 50, 1e-9);
    shown = gw_noise_band(audio, 4000, 2e3);
    assert_true(shown.valid && !shown.low_cut && shown.high_cut);
    assert_close(shown.band.high_hz, 1000, 1e-9);
    shown = gw_noise_band(audio, 10, 1e6); /* 10 us show nothing of the audio band */
    assert_false(shown.valid);
    shown = gw_noise_band(audio, 48000, 48e3);
    assert_true(shown.valid && !shown.low_cut && !shown.high_cut);
    assert_false(gw_noise_band(audio, 0, 48e3).valid);
}

/* Pink noise in a spectrum of a single segment: every bin is the density there times chi-square with two degrees of
 * freedom, halved. The median of the density is that at the middle of the band. */
static void density_of_coloured_noise(void **state) {
    (void)state;
    enum { BINS = 2001, TRIALS = 50 };
    double density[BINS], mean = 0;
    uint64_t seed = 15;
    int held = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        gw_psd psd = {.bins = BINS, .bin_hz = 10, .duration_s = 0.1, .freedom = 2, .segments = 1, .density = density};
        gw_floor floor;
        for (size_t k = 0; k < BINS; k++)
            density[k] = -log(1 - random_even(&seed)) / (10 * fmax((double)k, 0.5));
        assert_true(gw_noise_density(&psd, (gw_band){20, 20e3}, nothing, &floor));
        mean += floor.density / sqrt(1 / 10010.0) / TRIALS;
        held += fabs(floor.density - sqrt(1 / 10010.0)) < 2 * floor.relative * floor.density;
    }
    assert_close(mean, 1, 0.03);
    assert_in_range(held, TRIALS * 86 / 100, TRIALS);
}

/* Whatever the comb took of the noise, between few lines or many. */
static void noise_under_a_comb(void **state) {
    (void)state;
    enum { N = 2000, TRIALS = 40 };
    static const double cycles[] = {2.3, 5.2, 9.8, 30.2};
    double x[N], sigma = 2e-3, rate = 40e3; /* 20 Hz .. 20 kHz is all of it but a thousandth */
    uint64_t seed = 16;
    for (size_t c = 0; c < sizeof cycles / sizeof *cycles; c++) {
        int noise = 0, density = 0;
        for (int trial = 0; trial < TRIALS; trial++) {
            double frequency = cycles[c] * rate / N, phase = two_pi * random_even(&seed);
            for (size_t i = 0; i < N; i++)
                x[i] = 0;
            for (int k = 1; k * frequency < 0.98 * rate / 2; k++)
                add_sine(x, N, rate, 0.6 / k, k * frequency, k * phase);
            add_noise(x, N, sigma, &seed);
            gw_readings *r = measured(x, N, rate, 0);
            const gw_reading *all = &r->values[GW_NOISE], *one = &r->values[GW_NOISE_DENSITY];
            noise += all->state == GW_READING_VALUE ? fabs(all->value - sigma) <= all->u95 : all->value >= sigma;
            density += one->state == GW_READING_VALUE ? fabs(one->value - sigma / sqrt(rate / 2)) <= one->u95
                                                      : one->value >= sigma / sqrt(rate / 2);
            gw_readings_free(r);
        }
        if (noise * 100 < 85 * TRIALS || density * 100 < 85 * TRIALS)
            print_error("%g cycles: noise %d, density %d of %d\n", cycles[c], noise, density, TRIALS);
        assert_in_range(noise, TRIALS * 85 / 100, TRIALS);
        assert_in_range(density, TRIALS * 85 / 100, TRIALS);
    }
}

/* Noise that rises to low frequencies has a slope in every record; it is no drift for certain. */
static void slope_of_pink_noise(void **state) {
    (void)state;
    enum { N = 4000, TRIALS = 40, LOWEST = 4 };
    double *x = new_volts(N);
    uint64_t seed = 17;
    int held = 0;
    for (int trial = 0; trial < TRIALS; trial++) {
        for (size_t i = 0; i < N; i++)
            x[i] = 0.1;
        /* lines at every quarter of a cycle of the record, the power of each as one over its frequency */
        for (int k = 1; k < 150 * LOWEST; k++)
            add_sine(x, N, 48e3, 3e-3 * sqrt(1.0 / k) * sqrt(-2 * log(1 - random_even(&seed))), k * 48e3 / (LOWEST * N),
                     two_pi * random_even(&seed));
        add_noise(x, N, 2e-3, &seed);
        gw_readings *r = measured(x, N, 48e3, 0);
        held +=
            r->values[GW_DRIFT].state != GW_READING_VALUE || fabs(r->values[GW_DRIFT].value) <= r->values[GW_DRIFT].u95;
        gw_readings_free(r);
    }
    assert_in_range(held, TRIALS * 80 / 100, TRIALS);
    free(x);
}

/* White noise through weighting A, of IEC 61672-1's poles, by quadrature with 30 digits: -2.048 dB in 20 Hz .. 20 kHz,
 * -2.719 dB up to 24 kHz, 13462 Hz in all. */
static void bandwidth_of_the_weighting(void **state) {
    (void)state;
    assert_close(gw_noise_bandwidth((gw_band){20, 20e3}, GW_WEIGHT_FLAT), 19980, 1e-6);
    assert_close(10 * log10(gw_noise_bandwidth((gw_band){20, 20e3}, GW_WEIGHT_A) / 19980), -2.048, 1e-3);
    assert_close(10 * log10(gw_noise_bandwidth((gw_band){20, 24e3}, GW_WEIGHT_A) / 23980), -2.719, 1e-3);
    assert_close(gw_noise_bandwidth((gw_band){0, 1e7}, GW_WEIGHT_A), 13462, 2);
    assert_close(gw_noise_bandwidth((gw_band){30, 30}, GW_WEIGHT_A), 0, 0);
}

static const gw_reading *weighted_of(double seconds, double rate_hz, gw_readings **r) {
    size_t n = (size_t)lround(seconds * rate_hz);
    double *x = new_volts(n);
    uint64_t seed = 91;
    add_noise(x, n, 1e-3, &seed);
    *r = measured(x, n, rate_hz, 0);
    free(x);
    return &(*r)->values[GW_NOISE_A];
}

/* A-weighted noise is what goes through the weighting; a record that shows less than half of that has none to tell. */
static void no_weighted_noise_of_another_band(void **state) {
    (void)state;
    static const struct {
        double seconds, rate_hz;
        const char *why;
    } cases[] = {{0.1, 48e3, NULL},
                 {1e-3, 1e6, NULL},
                 {0.1, 22050, NULL},
                 {1e-4, 1e6, "the record is too short for A-weighting"},
                 {0.1, 8e3, "the sample rate is too low for A-weighting"}};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        gw_readings *r;
        const gw_reading *weighted = weighted_of(cases[k].seconds, cases[k].rate_hz, &r);
        assert_int_equal(weighted->state, cases[k].why ? GW_READING_NONE : GW_READING_VALUE);
        if (cases[k].why)
            assert_string_equal(weighted->why, cases[k].why);
        assert_int_equal(r->values[GW_NOISE].state, GW_READING_VALUE);
        gw_readings_free(r);
    }
}

static void silence_is_zero(void **state) {
    (void)state;
    double x[512] = {0};
    gw_arena *arena = gw_arena_new();
    gw_psd psd;
    gw_floor floor;
    assert_true(gw_psd_welch(x, NULL, 512, 48e3, 0, arena, &psd));
    gw_noise noise = gw_noise_rms(&psd, (gw_band){20, 20e3}, GW_WEIGHT_A, nothing);
    assert_true(noise.valid);
    assert_close(noise.rms, 0, 0);
    assert_close(noise.relative, 0, 0);
    assert_true(gw_noise_density(&psd, (gw_band){20, 20e3}, nothing, &floor));
    assert_close(floor.density, 0, 0);
    assert_true(gw_noise_density(&psd, (gw_band){20, 21}, nothing, &floor));
    assert_false(floor.valid);
    gw_arena_free(arena);
}

/* A tenth of a cycle of hum and less, with no tone beside it, is a slow bend 60 dB above the noise: the noise that is
 * told is that of the white samples in the record's band, from 1/T to 20 kHz (Parseval), and no part of the bend. */
static void a_part_of_hum_alone_is_no_noise(void **state) {
    (void)state;
    enum { SHORT = 1200, TRIALS = 20 };
    const double sigma = 1e-3;
    double x[SHORT];
    uint64_t seed = 47;
    for (int t = 0; t < TRIALS; t++) {
        double rate = SHORT * 50 / (0.06 + 0.05 * random_even(&seed));
        for (size_t i = 0; i < SHORT; i++)
            x[i] = 0.3;
        add_sine(x, SHORT, rate, 1, 50, two_pi * random_even(&seed));
        add_noise(x, SHORT, sigma, &seed);
        gw_readings *r = measured(x, SHORT, rate, 0);
        double noise = sigma * sqrt((20e3 - rate / SHORT) / (rate / 2));
        assert_close(value_of(r, GW_NOISE) / noise, 1, 0.6);
        gw_readings_free(r);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(partial_bins_at_the_edges),
        cmocka_unit_test(thermal_noise_of_a_resistor),
        cmocka_unit_test(one_over_f_noise_of_a_published_example),
        cmocka_unit_test(few_slow_swings_are_known_no_better_than_their_number),
        cmocka_unit_test(median_of_chi_square),
        cmocka_unit_test(density_does_not_see_lines_nor_length),
        cmocka_unit_test(what_the_fit_took_is_given_back),
        cmocka_unit_test(stated_uncertainty_holds),
        cmocka_unit_test(rumble_below_the_band),
        cmocka_unit_test(band_that_a_record_can_show),
        cmocka_unit_test(density_of_coloured_noise),
        cmocka_unit_test(noise_under_a_comb),
        cmocka_unit_test(slope_of_pink_noise),
        cmocka_unit_test(bandwidth_of_the_weighting),
        cmocka_unit_test(no_weighted_noise_of_another_band),
        cmocka_unit_test(silence_is_zero),
        cmocka_unit_test(a_part_of_hum_alone_is_no_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
