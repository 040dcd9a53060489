/* Factors of normal tolerance intervals. */
#include "gainwalk/record.h"

#include <math.h>

static const double two_pi = 6.283185307179586476925286766559;

static double normal_below(double z) {
    return 0.5 * erfc(-z / sqrt(2));
}

static double normal_quantile(double share) {
    double low = -40, high = 40;
    for (int i = 0; i < 200; i++) {
        double middle = 0.5 * (low + high);
        *(normal_below(middle) < share ? &low : &high) = middle;
    }
    return low;
}

/* Regularised lower incomplete gamma function, by its series or its continued fraction (Abramowitz & Stegun 6.5.29,
 * 6.5.31; the fraction by Lentz's method). */
static double gamma_share(double a, double x) {
    if (!(x > 0))
        return 0;
    double front = exp(a * log(x) - x - lgamma(a));
    if (x < a + 1) {
        double term = 1 / a, sum = term;
        for (int n = 1; n < 10000 && term > 1e-17 * sum; n++) {
            term *= x / (a + n);
            sum += term;
        }
        return front * sum;
    }
    double b = x + 1 - a, c = 1e300, d = 1 / b, h = d;
    for (int n = 1; n < 10000; n++) {
        double an = -n * (n - a);
        b += 2;
        d = 1 / (an * d + b);
        c = b + an / c;
        h *= d * c;
        if (fabs(d * c - 1) < 1e-16)
            break;
    }
    return 1 - front * h;
}

/* r such that mean ± r holds `content` of a unit normal population around 0. */
static double half_width(double mean, double content) {
    double low = 0, high = fabs(mean) + 40;
    for (int i = 0; i < 100; i++) {
        double middle = 0.5 * (low + high);
        double held = normal_below(mean + middle) - normal_below(mean - middle);
        *(held < content ? &low : &high) = middle;
    }
    return low;
}

enum { NODES = 128, FINE_NODES = 8000 };

static double simpson_weight(int node, int last) {
    return node == 0 || node == last ? 1 : node % 2 == 1 ? 4 : 2;
}

/* Over where the sample's mean may lie: the chance that the interval is wide enough there. */
static double two_sided_confidence(double k, double count, const double *widths) {
    double step = 8 / sqrt(count) / NODES, sum = 0, nu = count - 1;
    for (int i = 0; i <= NODES; i++) {
        double mean = i * step, ratio = widths[i] / k;
        double wide = 1 - gamma_share(0.5 * nu, 0.5 * nu * ratio * ratio);
        sum += simpson_weight(i, NODES) * wide * exp(-0.5 * count * mean * mean);
    }
    return 2 * sqrt(count / two_pi) * sum * step / 3;
}

/* Over the sample's standard deviation (chi distribution). */
static double one_sided_confidence(double k, double count, double z) {
    double nu = count - 1, top = 1 + 9 / sqrt(2 * nu), step = top / FINE_NODES, sum = 0;
    double front = log(2) + 0.5 * nu * log(0.5 * nu) - lgamma(0.5 * nu);
    for (int i = 0; i <= FINE_NODES; i++) {
        double s = i * step;
        double density = s > 0 ? exp(front + (nu - 1) * log(s) - 0.5 * nu * s * s) : nu == 1 ? exp(front) : 0;
        sum += simpson_weight(i, FINE_NODES) * density * normal_below(sqrt(count) * (k * s - z));
    }
    return sum * step / 3;
}

double gw_tolerance_factor(size_t count, double content, double confidence, bool two_sided) {
    if (count < 2)
        return 0;
    double n = (double)count, z = normal_quantile(content), widths[NODES + 1];
    for (int i = 0; two_sided && i <= NODES; i++)
        widths[i] = half_width(i * 8 / sqrt(n) / NODES, content);
    double low = 1e-3, high = 1e5;
    for (int i = 0; i < 60; i++) {
        double middle = sqrt(low * high);
        double held = two_sided ? two_sided_confidence(middle, n, widths) : one_sided_confidence(middle, n, z);
        *(held < confidence ? &low : &high) = middle;
    }
    return high;
}
