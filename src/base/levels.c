/* Decibels are made here and nowhere else. */
#include "gainwalk/base.h"

#include <math.h>

/* 1 mW in 600 ohm: sqrt(0.001 * 600) V. */
const double gw_dbu_reference_v = 0.7745966692414834;

double gw_db_from_ratio(double ratio) {
    return 20.0 * log10(fabs(ratio));
}

double gw_ratio_from_db(double db) {
    return pow(10.0, db / 20.0);
}
