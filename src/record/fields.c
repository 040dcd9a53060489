#include "record/fields.h"

#define FIELD(type, member, kind)                                                                                      \
    { #member, kind, offsetof(type, member), 0, NULL, NULL, 1 }
#define REAL(type, member)    FIELD(type, member, GW_FIELD_REAL)
#define INDEX(type, member)   FIELD(type, member, GW_FIELD_INDEX)
#define FLAG(type, member)    FIELD(type, member, GW_FIELD_BOOL)
#define NAME(type, member)    FIELD(type, member, GW_FIELD_NAME)
#define TEXT(type, member)    FIELD(type, member, GW_FIELD_TEXT)
#define STRINGS(type, member) FIELD(type, member, GW_FIELD_STRINGS)
#define WORD(type, member, word)                                                                                       \
    { #member, GW_FIELD_WORD, offsetof(type, member), 0, NULL, word, 1 }
#define OBJECT(type, member, structure)                                                                                \
    { #member, GW_FIELD_OBJECT, offsetof(type, member), 0, &(structure), NULL, 1 }
#define POINTER(type, member, structure)                                                                               \
    { #member, GW_FIELD_POINTER, offsetof(type, member), 0, &(structure), NULL, 1 }
#define LIST(type, member, count, structure)                                                                           \
    { #member, GW_FIELD_LIST, offsetof(type, member), offsetof(type, count), &(structure), NULL, 1 }
#define SINCE(version, type, member, kind, structure)                                                                  \
    { #member, kind, offsetof(type, member), 0, structure, NULL, version }
#define END                                                                                                            \
    { NULL, GW_FIELD_REAL, 0, 0, NULL, NULL, 0 }
#define STRUCTURE(name, type, fields) static const gw_structure name = {sizeof(type), fields}

/* ---- words of enums -------------------------------------------------------------------------------- */

static const char *word_of(int code, const char *const *words, int count) {
    return code >= 0 && code < count ? words[code] : NULL;
}

static const char *state_word(int code) {
    static const char *const words[] = {"none", "value", "below"};
    return word_of(code, words, 3);
}

static const char *event_word(int code) {
    return code >= 0 && code <= GW_EVENT_STEP ? gw_event_kind_name((gw_event_kind)code) : NULL;
}

static const char *judged_word(int code) {
    static const char *const words[] = {"gain", "volts", "percent", "hertz"};
    return word_of(code, words, 4);
}

static const char *polarity_word(int code) {
    static const char *const words[] = {"unknown", "kept", "flipped"};
    return word_of(code, words, 3);
}

static const char *signal_word(int code) {
    return code >= 0 && code <= GW_SIGNAL_SWEEP ? gw_signal_name((gw_signal)code) : NULL;
}

static const char *tone_word(int code) {
    return code >= 0 && code <= GW_TONE_OTHER ? gw_tone_kind_name((gw_tone_kind)code) : NULL;
}

static const char *status_word(int code) {
    return code >= 0 && code <= GW_UNREADABLE ? gw_status_name((gw_status)code) : NULL;
}

static const char *verdict_word(int code) {
    return code >= 0 && code <= GW_VERDICT_INCOMPLETE ? gw_verdict_name((gw_verdict_status)code) : NULL;
}

static const char *finding_word(int code) {
    return code >= 0 && code < GW_FINDING_COUNT ? gw_finding_infos[code].code : NULL;
}

/* ---- readings -------------------------------------------------------------------------------------- */

static const gw_field reading_fields[] = {
    WORD(gw_reading, state, state_word),
    REAL(gw_reading, value),
    REAL(gw_reading, u95),
    REAL(gw_reading, u_random),
    REAL(gw_reading, u_scale),
    TEXT(gw_reading, why),
    END,
};
const gw_structure gw_structure_reading = {sizeof(gw_reading), reading_fields};

static const gw_field source_fields[] = {
    TEXT(gw_source, file), INDEX(gw_source, channel), TEXT(gw_source, channel_name),
    TEXT(gw_source, unit), REAL(gw_source, rate_hz),  REAL(gw_source, duration_s),
    REAL(gw_source, step), REAL(gw_source, start_s),  FIELD(gw_source, samples, GW_FIELD_BIG),
    FLAG(gw_source, wav),  TEXT(gw_source, sha256),   END,
};
STRUCTURE(source_structure, gw_source, source_fields);

static const gw_field harmonic_fields[] = {
    INDEX(gw_harmonic, order),   REAL(gw_harmonic, frequency_hz), REAL(gw_harmonic, rms),      REAL(gw_harmonic, u95),
    REAL(gw_harmonic, u_random), REAL(gw_harmonic, phase_rad),    FLAG(gw_harmonic, resolved), END,
};
STRUCTURE(harmonic_structure, gw_harmonic, harmonic_fields);

static const gw_field tone_fields[] = {
    REAL(gw_tone, frequency_hz),    REAL(gw_tone, rms),    REAL(gw_tone, u95),
    WORD(gw_tone, kind, tone_word), INDEX(gw_tone, order), END,
};
STRUCTURE(tone_structure, gw_tone, tone_fields);

static const gw_field event_fields[] = {
    WORD(gw_event, kind, event_word), REAL(gw_event, start_s), REAL(gw_event, length_s), REAL(gw_event, size_v), END,
};
STRUCTURE(event_structure, gw_event, event_fields);

static const gw_field level_fields[] = {
    REAL(gw_level_point, time_s),
    REAL(gw_level_point, rms_v),
    REAL(gw_level_point, dc_v),
    END,
};
STRUCTURE(level_structure, gw_level_point, level_fields);

static const gw_field flat_fields[] = {
    REAL(gw_flat, share), REAL(gw_flat, level_v), FLAG(gw_flat, clipped), FLAG(gw_flat, recorder), END,
};
STRUCTURE(flat_structure, gw_flat, flat_fields);

static const gw_field clue_fields[] = {
    OBJECT(gw_clues, high, flat_structure),
    OBJECT(gw_clues, low, flat_structure),
    FLAG(gw_clues, crossover),
    FLAG(gw_clues, slew_limited),
    REAL(gw_clues, hum_mains_v),
    REAL(gw_clues, hum_twice_v),
    REAL(gw_clues, hum_rest_v),
    REAL(gw_clues, mains_hz),
    REAL(gw_clues, crackle_count),
    REAL(gw_clues, step_count),
    REAL(gw_clues, wobble_hz),
    REAL(gw_clues, wobble_depth),
    REAL(gw_clues, cycles),
    REAL(gw_clues, codes),
    FLAG(gw_clues, too_short),
    FLAG(gw_clues, too_coarse),
    FLAG(gw_clues, overloaded),
    FLAG(gw_clues, gappy),
    FLAG(gw_clues, dc_exactly_zero),
    END,
};
STRUCTURE(clue_structure, gw_clues, clue_fields);

static const gw_field trace_fields[] = {
    FIELD(gw_trace, count, GW_FIELD_COUNT),
    REAL(gw_trace, start),
    REAL(gw_trace, end),
    FLAG(gw_trace, log_x),
    {"low", GW_FIELD_REALS, offsetof(gw_trace, low), offsetof(gw_trace, count), NULL, NULL, 1},
    {"high", GW_FIELD_REALS, offsetof(gw_trace, high), offsetof(gw_trace, count), NULL, NULL, 1},
    END,
};
STRUCTURE(trace_structure, gw_trace, trace_fields);

static const gw_field readings_fields[] = {
    OBJECT(gw_readings, source, source_structure),
    WORD(gw_readings, signal, signal_word),
    FIELD(gw_readings, values, GW_FIELD_VALUES),
    LIST(gw_readings, harmonics, harmonic_count, harmonic_structure),
    LIST(gw_readings, tones, tone_count, tone_structure),
    LIST(gw_readings, events, event_count, event_structure),
    LIST(gw_readings, levels, level_count, level_structure),
    OBJECT(gw_readings, clues, clue_structure),
    OBJECT(gw_readings, waveform, trace_structure),
    OBJECT(gw_readings, spectrum, trace_structure),
    REAL(gw_readings, band_low_hz),
    REAL(gw_readings, band_high_hz),
    REAL(gw_readings, noise_floor_v),
    FLAG(gw_readings, dc_hidden),
    STRINGS(gw_readings, remarks),
    END,
};
STRUCTURE(readings_structure, gw_readings, readings_fields);

/* ---- walks ----------------------------------------------------------------------------------------- */

static const gw_field judgement_fields[] = {
    WORD(gw_judgement, kind, judged_word),
    FLAG(gw_judgement, has_value),
    FLAG(gw_judgement, below),
    REAL(gw_judgement, value),
    REAL(gw_judgement, u95),
    FLAG(gw_judgement, has_expected),
    REAL(gw_judgement, expected),
    REAL(gw_judgement, low),
    REAL(gw_judgement, high),
    WORD(gw_judgement, status, status_word),
    TEXT(gw_judgement, why),
    TEXT(gw_judgement, how),
    END,
};
STRUCTURE(judgement_structure, gw_judgement, judgement_fields);

static const gw_field line_fields[] = {
    REAL(gw_walk_line, frequency_hz),
    REAL(gw_walk_line, value),
    REAL(gw_walk_line, u95),
    REAL(gw_walk_line, expected),
    END,
};
STRUCTURE(line_structure, gw_walk_line, line_fields);

static const gw_field curve_fields[] = {
    LIST(gw_walk_curve, lines, count, line_structure),
    END,
};
STRUCTURE(curve_structure, gw_walk_curve, curve_fields);

static const gw_field point_fields[] = {
    NAME(gw_walk_point, name),
    TEXT(gw_walk_point, what),
    INDEX(gw_walk_point, after),
    WORD(gw_walk_point, status, status_word),
    TEXT(gw_walk_point, why),
    FLAG(gw_walk_point, metered),
    REAL(gw_walk_point, meter_v),
    REAL(gw_walk_point, meter_u95_v),
    OBJECT(gw_walk_point, dc, judgement_structure),
    OBJECT(gw_walk_point, level, judgement_structure),
    OBJECT(gw_walk_point, frequency, judgement_structure),
    OBJECT(gw_walk_point, thd, judgement_structure),
    OBJECT(gw_walk_point, noise, judgement_structure),
    OBJECT(gw_walk_point, hum, judgement_structure),
    OBJECT(gw_walk_point, ripple, judgement_structure),
    REAL(gw_walk_point, expected_level_v),
    REAL(gw_walk_point, expected_low_v),
    REAL(gw_walk_point, expected_high_v),
    SINCE(2, gw_walk_point, levels, GW_FIELD_OBJECT, &curve_structure),
    POINTER(gw_walk_point, readings, readings_structure),
    POINTER(gw_walk_point, reference, readings_structure),
    END,
};
STRUCTURE(point_structure, gw_walk_point, point_fields);

static const gw_field stage_fields[] = {
    INDEX(gw_walk_stage, from),
    INDEX(gw_walk_stage, to),
    INDEX(gw_walk_stage, across),
    TEXT(gw_walk_stage, kind),
    WORD(gw_walk_stage, status, status_word),
    OBJECT(gw_walk_stage, gain, judgement_structure),
    OBJECT(gw_walk_stage, dc, judgement_structure),
    OBJECT(gw_walk_stage, thd_added, judgement_structure),
    OBJECT(gw_walk_stage, noise_added, judgement_structure),
    OBJECT(gw_walk_stage, hum_added, judgement_structure),
    WORD(gw_walk_stage, polarity, polarity_word),
    WORD(gw_walk_stage, polarity_status, status_word),
    TEXT(gw_walk_stage, note),
    SINCE(2, gw_walk_stage, response, GW_FIELD_OBJECT, &curve_structure),
    SINCE(2, gw_walk_stage, middle_hz, GW_FIELD_REAL, NULL),
    SINCE(2, gw_walk_stage, low_corner, GW_FIELD_OBJECT, &judgement_structure),
    SINCE(2, gw_walk_stage, high_corner, GW_FIELD_OBJECT, &judgement_structure),
    END,
};
STRUCTURE(stage_structure, gw_walk_stage, stage_fields);

static const gw_field finding_fields[] = {
    WORD(gw_finding, code, finding_word),
    INDEX(gw_finding, from),
    INDEX(gw_finding, to),
    INDEX(gw_finding, point),
    INDEX(gw_finding, rail),
    WORD(gw_finding, status, status_word),
    TEXT(gw_finding, evidence),
    {"causes", GW_FIELD_CAUSES, offsetof(gw_finding, causes), offsetof(gw_finding, cause_count), NULL, NULL, 1},
    TEXT(gw_finding, confirm),
    TEXT(gw_finding, lookalikes),
    TEXT(gw_finding, settle),
    INDEX(gw_finding, follows),
    END,
};
STRUCTURE(finding_structure, gw_finding, finding_fields);

static const gw_field verdict_fields[] = {
    WORD(gw_verdict, status, verdict_word),
    INDEX(gw_verdict, finding),
    INDEX(gw_verdict, from),
    INDEX(gw_verdict, to),
    INDEX(gw_verdict, point),
    INDEX(gw_verdict, rail),
    FLAG(gw_verdict, exact),
    TEXT(gw_verdict, summary),
    END,
};
STRUCTURE(verdict_structure, gw_verdict, verdict_fields);

static const gw_field next_fields[] = {
    INDEX(gw_next, point),
    INDEX(gw_next, rail),
    TEXT(gw_next, why),
    END,
};
STRUCTURE(next_structure, gw_next, next_fields);

static const gw_field walk_fields[] = {
    TEXT(gw_walk, file),
    TEXT(gw_walk, title),
    TEXT(gw_walk, unit),
    TEXT(gw_walk, note),
    TEXT(gw_walk, stimulus),
    LIST(gw_walk, points, point_count, point_structure),
    LIST(gw_walk, rails, rail_count, point_structure),
    LIST(gw_walk, stages, stage_count, stage_structure),
    LIST(gw_walk, findings, finding_count, finding_structure),
    OBJECT(gw_walk, verdict, verdict_structure),
    LIST(gw_walk, next, next_count, next_structure),
    REAL(gw_walk, probes_expected),
    STRINGS(gw_walk, remarks),
    STRINGS(gw_walk, conditions),
    END,
};
const gw_structure gw_structure_walk = {sizeof(gw_walk), walk_fields};

static const gw_field chain_fields[] = {
    TEXT(gw_record_chain, file),
    TEXT(gw_record_chain, sha256),
    TEXT(gw_record_chain, text),
    END,
};
const gw_structure gw_structure_chain = {sizeof(gw_record_chain), chain_fields};
