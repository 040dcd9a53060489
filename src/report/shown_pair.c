#include "report/shown.h"

gw_shown_pair gw_shown_from_pair(const gw_pair *pair) {
    static const double half_turn_rad = 3.14159265358979323846;
    if (!pair->valid || !(pair->gain > 0))
        return (gw_shown_pair){.why = "nothing in common with it, or the record is too short to tell",
                               .polarity = "unknown"};
    return (gw_shown_pair){.gain_db = gw_db_from_ratio(pair->gain),
                           .gain_u95_db = gw_db_from_ratio(1 + pair->gain_u95 / pair->gain),
                           .phase_deg = pair->phase_rad * 180 / half_turn_rad,
                           .polarity = pair->polarity > 0   ? "kept"
                                       : pair->polarity < 0 ? "flipped"
                                                            : "unknown"};
}
