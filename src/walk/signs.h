/* Signs by which the causes of a finding are told apart: each true or false of one finding. Private to src/walk/. */
#ifndef GAINWALK_WALK_SIGNS_H
#define GAINWALK_WALK_SIGNS_H

#include "walk/walker.h"

/* What the rules look at. */
typedef struct gw_scene {
    const gw_walker *walker;
    const gw_finding *found;
    const gw_readings *readings; /* of the point or rail; may be NULL */
    const gw_span *span;         /* NULL for rails */
    const char *kind;            /* of the last stage; "" */
    double gain, expected;       /* ratios; 0 unknown */
    double off_db;               /* gain over expectation */
    bool hum_rose;
} gw_scene;

typedef bool gw_sign(const gw_scene *s);

gw_scene gw_signs_look(const gw_walker *walker, const gw_finding *found);

gw_sign gw_sign_is_wire, gw_sign_is_pot, gw_sign_is_contact, gw_sign_is_divider, gw_sign_is_op_amp, gw_sign_is_passive,
    gw_sign_is_source, gw_sign_is_coupling, gw_sign_is_no_coupling, gw_sign_is_discrete, gw_sign_gain_is_one,
    gw_sign_gain_is_not_one, gw_sign_is_half, gw_sign_is_half_with_hum, gw_sign_is_not_half, gw_sign_is_tenth,
    gw_sign_is_not_tenth, gw_sign_is_tenfold, gw_sign_is_not_tenfold, gw_sign_is_loaded, gw_sign_dc_is_ok,
    gw_sign_is_stuck, gw_sign_is_not_stuck, gw_sign_rail_is_off, gw_sign_rail_is_unprobed, gw_sign_rails_are_ok,
    gw_sign_mains_only, gw_sign_is_inside, gw_sign_fed_wrong, gw_sign_clips_both, gw_sign_clips_one,
    gw_sign_level_is_high, gw_sign_clips_far_below, gw_sign_has_crossover, gw_sign_has_no_crossover, gw_sign_is_slewing,
    gw_sign_is_not_slewing, gw_sign_hum_is_twice, gw_sign_hum_is_not_twice, gw_sign_hum_is_pure, gw_sign_hum_is_comb,
    gw_sign_ripple_is_high, gw_sign_twice_with_clean_rail, gw_sign_is_slow, gw_sign_is_not_slow, gw_sign_is_overloaded,
    gw_sign_is_coarse, gw_sign_is_short, gw_sign_is_gappy, gw_sign_rail_is_gone, gw_sign_rail_is_low,
    gw_sign_rail_is_high, gw_sign_slides, gw_sign_slides_not, gw_sign_nothing_is_fed;

#endif
