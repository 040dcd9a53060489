/* Quantities as people read them: engineering prefixes, no more digits than the uncertainty allows. */
#include "gainwalk/base.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Decimals that the uncertainty allows: down to its first digit, to its second where the first is a 1. */
static int decimals_of_uncertainty(double uncertainty) {
    double place = floor(log10(uncertainty));
    double lead = uncertainty / pow(10.0, place);
    return (int)-place + (lead < 1.95 ? 1 : 0);
}

static bool takes_prefix(const char *unit) {
    static const char *const plain[] = {"", "dB", "dBV", "dBu", "dBFS", "%", "cents", "div", "codes", "FS"};
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++)
        if (strcmp(unit, plain[i]) == 0)
            return false;
    return true;
}

/* The engineering exponent (a multiple of 3) in which `size` reads 1..999, after rounding to `digits`. */
static int engineering_exponent(double size, int digits) {
    if (!(size > 0))
        return 0;
    double rounded = size * (1 + 0.5 * pow(10.0, -digits));
    int exponent = 3 * (int)floor(log10(rounded) / 3);
    return exponent < -12 ? -12 : exponent > 9 ? 9 : exponent;
}

static int clamp(int value, int low, int high) {
    return value < low ? low : value > high ? high : value;
}

char *gw_quantity_print(double value, double uncertainty, const char *unit, int digits, char *out, size_t size) {
    static const char *const names[] = {"p", "n", "\xC2\xB5", "m", "", "k", "M", "G"};
    if (!isfinite(value)) {
        snprintf(out, size, "%s%s%s", isnan(value) ? "nan" : value < 0 ? "-inf" : "inf", *unit ? " " : "", unit);
        return out;
    }
    digits = clamp(digits, 1, 15);
    double shown = fabs(value) > uncertainty ? fabs(value) : uncertainty;
    int exponent = takes_prefix(unit) ? engineering_exponent(shown, digits) : 0;
    double scale = pow(10.0, exponent);
    double scaled = value / scale, extent = shown / scale;
    /* 0.9996 with three digits is 1.00 */
    double rounded = extent * (1 + 0.5 * pow(10.0, -digits));
    int allowed = extent > 0 ? digits - 1 - (int)floor(log10(rounded)) : digits - 1;
    if (uncertainty > 0 && isfinite(uncertainty)) {
        int certain = decimals_of_uncertainty(uncertainty / scale);
        allowed = certain < allowed ? certain : allowed;
    }
    char number[64];
    gw_number_fixed(scaled, clamp(allowed, 0, 15), number, sizeof number);
    snprintf(out, size, "%s%s%s%s", number, *unit ? " " : "", names[exponent / 3 + 4], unit);
    return out;
}
