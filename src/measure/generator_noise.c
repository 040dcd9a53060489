/* White and pink noise, the same for the same seed. */
#include "measure/generator.h"

#include <math.h>
#include <string.h>

static const double pi = 3.141592653589793238462643383279;

/* Pink noise follows 1/f down to here, hertz. */
static const double pink_low_hz = 5;
/* From pole to pole, in u (the square of frequency): two poles an octave keep the ladder's ripple far under what a
 * measurement can see. */
static const double pink_spacing = 2;
/* The ladder goes on above the u of half the rate, which is 4, so that its end does not show below. */
static const double pink_high_u = 4.0 * 256;

double gw_random_uniform(uint64_t seed, uint64_t index) {
    uint64_t z = seed + (index + 1) * UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    z ^= z >> 31;
    return (double)(z >> 11) * 0x1p-53;
}

/* Normal, mean 0, variance 1 (Box & Muller 1958). */
static double normal_at(uint64_t seed, uint64_t index) {
    double radius = sqrt(-2 * log(1 - gw_random_uniform(seed, 2 * index)));
    return radius * cos(2 * pi * gw_random_uniform(seed, 2 * index + 1));
}

void gw_generator_white(gw_generator *of, double *values, size_t count) {
    for (size_t i = 0; i < count; i++)
        values[i] = normal_at(of->signal.seed, of->next + i);
}

/* The a of a first-order section with |1 - a e^-jw|^2 = a (corner + u): (1-a)^2/a = corner. */
static double section_root(double corner) {
    double half = 1 + 0.5 * corner;
    return 1 / (half + sqrt(half * half - 1));
}

/* Pink noise wants |H|^2 proportional to 1/w.
 *
 * First a ladder of first-order sections. |1 - a e^-jw|^2 is exactly a (corner + u) with u = 4 sin(w/2)^2, so poles and
 * zeros that alternate at equal ratios in u follow u^(-1/2) without any warping towards half the rate (an alternating
 * ladder as an approximation of a fractional power: Oustaloup 1991). Then w and u^(1/2) differ by sin(w/2)/(w/2), a
 * smooth even function of w; a short symmetric filter, whose taps are the cosine series of sqrt(sin(w/2)/(w/2)),
 * corrects that. */
static void design_ladder(gw_pink *pink, double rate_hz) {
    double low = 2 * sin(pi * pink_low_hz / rate_hz);
    pink->sections = 0;
    for (double u = low * low; u < pink_high_u && pink->sections < GW_PINK_SECTIONS; u *= pink_spacing) {
        pink->pole[pink->sections] = section_root(u);
        pink->zero[pink->sections] = section_root(u * sqrt(pink_spacing));
        pink->sections++;
    }
}

/* The cosine series by the midpoint rule. */
static void design_taps(gw_pink *pink) {
    enum { POINTS = 4096, HALF = GW_PINK_TAPS / 2 };
    for (int k = 0; k <= HALF; k++) {
        double sum = 0;
        for (int i = 0; i < POINTS; i++) {
            double half_w = 0.5 * pi * (i + 0.5) / POINTS;
            sum += sqrt(sin(half_w) / half_w) * cos(2 * k * half_w);
        }
        pink->taps[HALF + k] = pink->taps[HALF - k] = sum / POINTS;
    }
}

static double pink_step(gw_pink *pink, double value) {
    for (size_t i = 0; i < pink->sections; i++) {
        double inner = value + pink->pole[i] * pink->before[i];
        value = inner - pink->zero[i] * pink->before[i];
        pink->before[i] = inner;
    }
    pink->line[pink->at] = pink->line[pink->at + GW_PINK_TAPS] = value;
    pink->at = (pink->at + 1) % GW_PINK_TAPS;
    double sum = 0;
    for (size_t i = 0; i < GW_PINK_TAPS; i++)
        sum += pink->taps[i] * pink->line[pink->at + i];
    return sum;
}

/* Half a second before the start, so that the slowest section has settled (its time constant is 32 ms). */
static void start_pink(gw_generator *of) {
    gw_pink *pink = &of->pink;
    uint64_t before = (uint64_t)(0.5 * of->signal.rate_hz);
    memset(pink, 0, sizeof *pink);
    design_ladder(pink, of->signal.rate_hz);
    design_taps(pink);
    for (uint64_t i = before; i > 0; i--)
        pink_step(pink, normal_at(of->signal.seed, UINT64_MAX / 4 - i));
}

void gw_generator_pink(gw_generator *of, double *values, size_t count) {
    if (of->next == 0)
        start_pink(of);
    for (size_t i = 0; i < count; i++)
        values[i] = pink_step(&of->pink, normal_at(of->signal.seed, of->next + i));
}

void gw_generator_noise_size(gw_generator *of, double *rms, double *peak) {
    double values[GW_GENERATOR_BLOCK];
    double square = 0;
    uint64_t left = of->signal.samples;
    *peak = 0;
    while (left > 0) {
        size_t count = left < GW_GENERATOR_BLOCK ? (size_t)left : GW_GENERATOR_BLOCK;
        gw_generator_fill(of, values, count);
        for (size_t i = 0; i < count; i++) {
            square += values[i] * values[i];
            *peak = fmax(*peak, fabs(values[i]));
        }
        left -= count;
    }
    *rms = sqrt(square / (double)of->signal.samples);
    of->next = 0;
}
