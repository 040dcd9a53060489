/* The causes of each finding in the order of the very case. A rule lifts a cause (or, with a negative weight, drops it)
 * where its sign is there; what no rule touches keeps the table's order. */
#include "walk/causes.h"
#include "walk/signs.h"

enum { DROP = -100 };

typedef struct rule {
    gw_finding_code code;
    int cause;
    gw_sign *when;
    int weight;
} rule;

static const rule rules[] = {
    {GW_FOUND_SIGNAL_LOST, LOST_OPEN, gw_sign_is_wire, 8},
    {GW_FOUND_SIGNAL_LOST, LOST_OPEN, gw_sign_is_pot, 6},
    {GW_FOUND_SIGNAL_LOST, LOST_COUPLING, gw_sign_is_coupling, 10},
    {GW_FOUND_SIGNAL_LOST, LOST_COUPLING, gw_sign_is_no_coupling, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_STUCK, gw_sign_is_stuck, 12},
    {GW_FOUND_SIGNAL_LOST, LOST_STUCK, gw_sign_is_not_stuck, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, gw_sign_rail_is_off, 20},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, gw_sign_rail_is_unprobed, 4},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, gw_sign_rails_are_ok, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, gw_sign_is_passive, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_DEAD, gw_sign_is_passive, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_SOURCE, gw_sign_is_source, 10},
    {GW_FOUND_SIGNAL_LOST, LOST_SOURCE, gw_sign_is_inside, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_DEAD, gw_sign_fed_wrong, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_COUPLING, gw_sign_fed_wrong, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_RAIL, gw_sign_fed_wrong, DROP},
    {GW_FOUND_SIGNAL_LOST, LOST_PROBE, gw_sign_mains_only, 3},
    {GW_FOUND_LEVEL_LOW, LOW_FEEDBACK, gw_sign_gain_is_one, 12},
    {GW_FOUND_LEVEL_LOW, LOW_FEEDBACK, gw_sign_gain_is_not_one, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_BALANCED, gw_sign_is_half, 9},
    {GW_FOUND_LEVEL_LOW, LOW_BALANCED, gw_sign_is_half_with_hum, 4},
    {GW_FOUND_LEVEL_LOW, LOW_BALANCED, gw_sign_is_not_half, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_COUPLING, gw_sign_is_coupling, 8},
    {GW_FOUND_LEVEL_LOW, LOW_COUPLING, gw_sign_is_no_coupling, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, gw_sign_is_discrete, 5},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, gw_sign_dc_is_ok, 1},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, gw_sign_is_passive, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_BYPASS, gw_sign_is_op_amp, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_CONTACT, gw_sign_is_contact, 7},
    {GW_FOUND_LEVEL_LOW, LOW_PART, gw_sign_is_wire, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_PART, gw_sign_is_coupling, DROP},
    {GW_FOUND_LEVEL_LOW, LOW_LOAD, gw_sign_is_loaded, 2},
    {GW_FOUND_LEVEL_LOW, LOW_PROBE, gw_sign_is_tenth, 11},
    {GW_FOUND_LEVEL_LOW, LOW_PROBE, gw_sign_is_not_tenth, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_TERMINATION, gw_sign_is_divider, 6},
    {GW_FOUND_LEVEL_HIGH, HIGH_TERMINATION, gw_sign_is_op_amp, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_PART, gw_sign_is_passive, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_LEG, gw_sign_is_passive, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_CONTROL, gw_sign_is_pot, 5},
    {GW_FOUND_LEVEL_HIGH, HIGH_CONTROL, gw_sign_is_op_amp, DROP},
    {GW_FOUND_LEVEL_HIGH, HIGH_PROBE, gw_sign_is_tenfold, 11},
    {GW_FOUND_LEVEL_HIGH, HIGH_PROBE, gw_sign_is_not_tenfold, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_STUCK, gw_sign_is_stuck, 10},
    {GW_FOUND_DC_SHIFT, SHIFT_STUCK, gw_sign_is_not_stuck, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_RAIL, gw_sign_rail_is_off, 12},
    {GW_FOUND_DC_SHIFT, SHIFT_RAIL, gw_sign_rails_are_ok, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_CLIP, gw_sign_clips_one, 6},
    {GW_FOUND_DC_SHIFT, SHIFT_CLIP, gw_sign_nothing_is_fed, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_HOLD, gw_sign_slides, 15},
    {GW_FOUND_DC_SHIFT, SHIFT_HOLD, gw_sign_slides_not, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_OFFSET, gw_sign_is_op_amp, 1},
    {GW_FOUND_DC_SHIFT, SHIFT_DEVICE, gw_sign_is_passive, DROP},
    {GW_FOUND_DC_SHIFT, SHIFT_LEAK, gw_sign_is_passive, 8},
    {GW_FOUND_CLIPPED, CLIP_RAIL, gw_sign_rail_is_off, 12},
    {GW_FOUND_CLIPPED, CLIP_RAIL, gw_sign_rail_is_unprobed, 3},
    {GW_FOUND_CLIPPED, CLIP_RAIL, gw_sign_rails_are_ok, DROP},
    {GW_FOUND_CLIPPED, CLIP_RAIL, gw_sign_is_passive, DROP},
    {GW_FOUND_CLIPPED, CLIP_BIAS, gw_sign_clips_one, 5},
    {GW_FOUND_CLIPPED, CLIP_DEVICE, gw_sign_clips_one, 4},
    {GW_FOUND_CLIPPED, CLIP_DRIVE, gw_sign_clips_both, 3},
    {GW_FOUND_CLIPPED, CLIP_DRIVE, gw_sign_level_is_high, 4},
    {GW_FOUND_CLIPPED, CLIP_LIMIT, gw_sign_clips_far_below, 8},
    {GW_FOUND_DISTORTION_ADDED, BENT_CROSSOVER, gw_sign_has_crossover, 10},
    {GW_FOUND_DISTORTION_ADDED, BENT_CROSSOVER, gw_sign_has_no_crossover, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_SLEW, gw_sign_is_slewing, 10},
    {GW_FOUND_DISTORTION_ADDED, BENT_SLEW, gw_sign_is_not_slewing, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_CONTACT, gw_sign_is_contact, 6},
    {GW_FOUND_DISTORTION_ADDED, BENT_BIAS, gw_sign_is_passive, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_DEVICE, gw_sign_is_passive, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_RAIL, gw_sign_is_passive, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_RAIL, gw_sign_rail_is_off, 12},
    {GW_FOUND_DISTORTION_ADDED, BENT_RAIL, gw_sign_rails_are_ok, DROP},
    {GW_FOUND_DISTORTION_ADDED, BENT_CAPACITOR, gw_sign_is_coupling, 5},
    {GW_FOUND_NOISE_ADDED, NOISE_DEVICE, gw_sign_is_passive, DROP},
    {GW_FOUND_NOISE_ADDED, NOISE_GROUND, gw_sign_is_wire, 5},
    {GW_FOUND_NOISE_ADDED, NOISE_RAIL, gw_sign_ripple_is_high, 8},
    {GW_FOUND_NOISE_ADDED, NOISE_RAIL, gw_sign_is_passive, DROP},
    {GW_FOUND_HUM_ADDED, HUM_SMOOTHING, gw_sign_hum_is_twice, 8},
    {GW_FOUND_HUM_ADDED, HUM_SMOOTHING, gw_sign_hum_is_not_twice, DROP},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, gw_sign_hum_is_twice, 5},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, gw_sign_twice_with_clean_rail, 6},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, gw_sign_hum_is_not_twice, DROP},
    {GW_FOUND_HUM_ADDED, HUM_VALVE, gw_sign_is_passive, DROP},
    {GW_FOUND_HUM_ADDED, HUM_DIODE, gw_sign_ripple_is_high, 6},
    {GW_FOUND_HUM_ADDED, HUM_INDUCTION, gw_sign_hum_is_pure, 6},
    {GW_FOUND_HUM_ADDED, HUM_LOOP, gw_sign_hum_is_comb, 6},
    {GW_FOUND_HUM_ADDED, HUM_LOOP, gw_sign_hum_is_twice, DROP},
    {GW_FOUND_HUM_ADDED, HUM_SCREEN, gw_sign_is_wire, 5},
    {GW_FOUND_HUM_ADDED, HUM_HEATER, gw_sign_is_op_amp, DROP},
    {GW_FOUND_HUM_ADDED, HUM_HEATER, gw_sign_is_passive, DROP},
    {GW_FOUND_TONE_ADDED, TONE_MOTORBOATING, gw_sign_is_slow, 10},
    {GW_FOUND_TONE_ADDED, TONE_MOTORBOATING, gw_sign_is_not_slow, DROP},
    {GW_FOUND_CRACKLE, CRACKLE_DC, gw_sign_is_pot, 2},
    {GW_FOUND_HIGHS_LOST, HIGHS_DEVICE, gw_sign_is_passive, DROP},
    {GW_FOUND_LOWS_LOST, LOWS_DRY, gw_sign_is_coupling, 3},
    {GW_FOUND_PITCH_OFF, PITCH_SOURCE, gw_sign_is_source, 5},
    {GW_FOUND_PITCH_OFF, PITCH_SOURCE, gw_sign_is_inside, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_MISSING, gw_sign_rail_is_gone, 5},
    {GW_FOUND_RAIL_OFF, RAIL_LOADED, gw_sign_rail_is_low, 5},
    {GW_FOUND_RAIL_OFF, RAIL_UNREGULATED, gw_sign_rail_is_low, 4},
    {GW_FOUND_RAIL_OFF, RAIL_REGULATOR, gw_sign_rail_is_high, 5},
    {GW_FOUND_RAIL_OFF, RAIL_MISSING, gw_sign_rail_is_low, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_MISSING, gw_sign_rail_is_high, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_LOADED, gw_sign_rail_is_high, DROP},
    {GW_FOUND_RAIL_OFF, RAIL_UNREGULATED, gw_sign_rail_is_high, DROP},
    {GW_FOUND_RIPPLE_HIGH, RIPPLE_SMOOTHING, gw_sign_hum_is_twice, 5},
    {GW_FOUND_RIPPLE_HIGH, RIPPLE_DIODE, gw_sign_hum_is_not_twice, 5},
    {GW_FOUND_PROBE_SUSPECT, PROBE_FLOATING, gw_sign_mains_only, 9},
    {GW_FOUND_PROBE_SUSPECT, PROBE_SWITCH, gw_sign_is_tenth, 5},
    {GW_FOUND_PROBE_SUSPECT, PROBE_SWITCH, gw_sign_is_tenfold, 5},
    {GW_FOUND_PROBE_SUSPECT, PROBE_LOADING, gw_sign_is_loaded, 4},
    {GW_FOUND_CAPTURE_POOR, POOR_OVERLOAD, gw_sign_is_overloaded, 9},
    {GW_FOUND_CAPTURE_POOR, POOR_COARSE, gw_sign_is_coarse, 7},
    {GW_FOUND_CAPTURE_POOR, POOR_SHORT, gw_sign_is_short, 8},
    {GW_FOUND_CAPTURE_POOR, POOR_GAPS, gw_sign_is_gappy, 6},
};

static void rank(gw_walker *walker, gw_finding *found) {
    const gw_finding_info *info = &gw_finding_infos[found->code];
    gw_scene s = gw_signs_look(walker, found);
    int score[GW_CAUSES_MAX] = {0};
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        if (rules[i].code == found->code && rules[i].when(&s))
            score[rules[i].cause] += rules[i].weight;
    const char *confirm = NULL;
    found->cause_count = 0;
    for (size_t taken = 0; taken < GW_CAUSES_MAX; taken++) {
        int best = -1;
        for (int i = 0; i < GW_CAUSES_MAX && info->causes[i].cause; i++)
            if (score[i] > DROP / 2 && (best < 0 || score[i] > score[best]))
                best = i;
        if (best < 0)
            break;
        confirm = confirm ? confirm : info->causes[best].confirm;
        found->causes[found->cause_count++] = info->causes[best].cause;
        score[best] = 2 * DROP;
    }
    found->confirm = confirm ? confirm : info->causes[0].confirm;
    found->lookalikes = info->lookalikes;
}

void gw_rank_causes(gw_walker *walker) {
    for (size_t i = 0; i < walker->finding_count; i++)
        rank(walker, &walker->findings[i]);
}
