/* Test signals that are known at every instant. */
#include "measure/generator.h"

#include <math.h>
#include <string.h>

static const double two_pi = 6.283185307179586476925286766559;

/* Cycles since the start, less the whole ones. The product is exact for whole frequencies: no drift however long. */
static double cycle_at(double frequency_hz, double rate_hz, uint64_t index) {
    return fmod(frequency_hz * (double)index, rate_hz) / rate_hz;
}

void gw_generator_sine(gw_generator *of, double *values, size_t count) {
    for (size_t i = 0; i < count; i++)
        values[i] = sin(two_pi * cycle_at(of->signal.frequency_hz, of->signal.rate_hz, of->next + i));
}

void gw_generator_sine_size(gw_generator *of, double *rms, double *peak) {
    (void)of;
    *rms = sqrt(0.5);
    *peak = 1;
}

static int order_step(const gw_generator *of) {
    return of->signal.shape == GW_TEST_SQUARE ? 2 : 1;
}

/* Fourier's series, cut where the band ends: the sum of sin(kx)/k over all k (a falling saw) or the odd ones (square).
 * sin((k+s)x) = 2 cos(sx) sin(kx) - sin((k-s)x) makes one order of a whole block from the two before it. */
void gw_generator_series(gw_generator *of, double *values, size_t count) {
    double twice[GW_GENERATOR_BLOCK], now[GW_GENERATOR_BLOCK], last[GW_GENERATOR_BLOCK];
    int step = order_step(of);
    for (size_t i = 0; i < count; i++) {
        double angle = two_pi * cycle_at(of->signal.frequency_hz, of->signal.rate_hz, of->next + i);
        twice[i] = 2 * cos(step * angle);
        now[i] = sin(angle);
        last[i] = step == 2 ? -now[i] : 0; /* sin((1-s)x) */
        values[i] = 0;
    }
    for (int order = 1; order <= of->harmonics; order += step)
        for (size_t i = 0; i < count; i++) {
            double after = twice[i] * now[i] - last[i];
            values[i] += now[i] / order;
            last[i] = now[i];
            now[i] = after;
        }
}

/* The sum of n terms is highest at pi/(n+1) for all orders, at pi/(2n) for the odd ones, where the derivative (the
 * Dirichlet kernel) has its first zero: the overshoot that Gibbs described. */
void gw_generator_series_size(gw_generator *of, double *rms, double *peak) {
    int step = order_step(of);
    int terms = (of->harmonics + step - 1) / step;
    double angle = step == 1 ? 0.5 * two_pi / (terms + 1) : 0.25 * two_pi / terms;
    double square = 0;
    *peak = 0;
    for (int i = 0; i < terms; i++) {
        int order = 1 + step * i;
        square += 0.5 / ((double)order * order);
        *peak += sin(order * angle) / order;
    }
    *rms = sqrt(square);
}

/* Two tones, the shape's share of the first. */
void gw_generator_pair(gw_generator *of, double *values, size_t count) {
    const gw_test_signal *signal = &of->signal;
    double share = gw_test_shapes[signal->shape].share;
    for (size_t i = 0; i < count; i++)
        values[i] = share * sin(two_pi * cycle_at(signal->frequency_hz, signal->rate_hz, of->next + i)) +
                    (1 - share) * sin(two_pi * cycle_at(signal->second_hz, signal->rate_hz, of->next + i));
}

void gw_generator_pair_size(gw_generator *of, double *rms, double *peak) {
    double share = gw_test_shapes[of->signal.shape].share;
    *rms = sqrt(0.5 * (share * share + (1 - share) * (1 - share)));
    *peak = 1;
}

/* The exponential sweep: sin(2 pi f1 L (exp(t/L) - 1)), L = T / ln(f2/f1) (Farina 2000). */
void gw_generator_sweep(gw_generator *of, double *values, size_t count) {
    const gw_test_signal *signal = &of->signal;
    double length_s = (double)signal->samples / signal->rate_hz;
    double span_s = length_s / log(signal->second_hz / signal->frequency_hz);
    for (size_t i = 0; i < count; i++) {
        double time_s = (double)(of->next + i) / signal->rate_hz;
        double cycles = signal->frequency_hz * span_s * expm1(time_s / span_s);
        values[i] = sin(two_pi * fmod(cycles, 1.0));
    }
}

/* Steps of equal length, the quietest first. Each begins with a whole cycle, where the sine is 0, so nothing clicks. */
void gw_generator_steps(gw_generator *of, double *values, size_t count) {
    const gw_test_signal *signal = &of->signal;
    double all = floor((double)signal->samples * signal->frequency_hz / signal->rate_hz);
    gw_generator_sine(of, values, count);
    for (size_t i = 0; i < count; i++) {
        double cycle = floor((double)(of->next + i) * signal->frequency_hz / signal->rate_hz);
        double step = floor(cycle * signal->steps / all);
        double below = fmax(signal->steps - 1 - step, 0);
        values[i] *= pow(signal->step_ratio, -below);
    }
}

void gw_generator_silence(gw_generator *of, double *values, size_t count) {
    (void)of;
    memset(values, 0, count * sizeof *values);
}

void gw_generator_silence_size(gw_generator *of, double *rms, double *peak) {
    (void)of;
    *rms = 1;
    *peak = 0;
}
