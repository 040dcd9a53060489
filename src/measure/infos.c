/* The table of readings, and how each is shown. */
#include "gainwalk/measure.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

const gw_reading_info gw_reading_infos[GW_READING_COUNT] = {
    [GW_DC] = {"dc", "DC", "V", GW_SHOW_VOLTS, "constant part of the waveform, free of what a partial cycle would add",
               "constant term of the least-squares fit (IEEE Std 1057)"},
    [GW_AC_RMS] = {"ac_rms", "AC RMS", "V", GW_SHOW_VOLTS,
                   "root mean square of everything but DC: signal, hum and noise", "root mean square, DC removed"},
    [GW_TOTAL_RMS] = {"total_rms", "total RMS", "V", GW_SHOW_VOLTS, "root mean square of everything, DC included",
                      "root mean square"},
    [GW_PEAK_HIGH] = {"peak_high", "highest peak", "V", GW_SHOW_VOLTS, "highest sample", "largest of the samples"},
    [GW_PEAK_LOW] = {"peak_low", "lowest peak", "V", GW_SHOW_VOLTS, "lowest sample", "smallest of the samples"},
    [GW_PEAK_TO_PEAK] = {"peak_to_peak", "peak to peak", "V", GW_SHOW_VOLTS, "highest less lowest sample",
                         "difference of the extreme samples"},
    [GW_CREST] = {"crest", "crest factor", "", GW_SHOW_PLAIN, "peak of the AC part over its RMS",
                  "peak over root mean square"},
    [GW_FREQUENCY] = {"frequency", "frequency", "Hz", GW_SHOW_PLAIN,
                      "fundamental frequency; of two tones the lower one", "least-squares fit (IEEE Std 1057)"},
    [GW_PITCH] = {"pitch", "pitch", "cents", GW_SHOW_PLAIN,
                  "distance from the nearest equal-tempered note, A4 = 440 Hz", "ISO 16:1975; 1200 log2(f/f0)"},
    [GW_LEVEL] =
        {"level", "level", "V", GW_SHOW_VOLTS,
         "RMS of the signal: of a sine its fundamental, of a periodic signal the whole comb, of two tones both, "
         "of noise what lies in the band",
         "least-squares fit (IEEE Std 1057)"},
    [GW_LEVEL_DBV] = {"level_dbv", "level", "dBV", GW_SHOW_DBV, "level re 1 V RMS", "dB re 1 V"},
    [GW_LEVEL_DBU] = {"level_dbu", "level", "dBu", GW_SHOW_DBU, "level re 0.7746 V RMS (1 mW in 600 ohm)",
                      "dB re sqrt(0.6) V"},
    [GW_THD] = {"thd", "THD", "%", GW_SHOW_PERCENT,
                "harmonics 2 to 10 (below half the sample rate and the band's top) re the fundamental",
                "THD_F: IEC 61000-4-7; IEEE Std 1057"},
    [GW_THD_N] = {"thd_n", "THD+N", "%", GW_SHOW_PERCENT,
                  "everything in the band but fundamental and DC, re everything in the band but DC", "AES17"},
    [GW_SINAD] = {"sinad", "SINAD", "dB", GW_SHOW_DB,
                  "fundamental over all the rest but DC, in the whole bandwidth of the record", "IEEE Std 1057"},
    [GW_NOISE] = {"noise", "noise", "V", GW_SHOW_VOLTS, "RMS in the band without signal, harmonics, mains and tones",
                  "least-squares residual; Welch 1967"},
    [GW_NOISE_A] = {"noise_a", "noise, A-weighted", "V", GW_SHOW_VOLTS, "noise weighted by frequency weighting A",
                    "IEC 61672-1:2013, annex E, in the frequency domain"},
    [GW_NOISE_DENSITY] = {"noise_density", "noise density", "V/√Hz", GW_SHOW_DENSITY, "median of the noise spectrum",
                          "Welch 1967"},
    [GW_HUM] = {"hum", "hum", "V", GW_SHOW_VOLTS, "RMS of the mains frequency and its multiples",
                "joint least-squares fit"},
    [GW_SNR] = {"snr", "signal to noise", "dB", GW_SHOW_DB, "level over noise", "ratio of RMS values"},
    [GW_CLIP_HIGH] = {"clip_high", "clipped at the top", "%", GW_SHOW_PERCENT,
                      "share of the record spent flat at the top", "shape of the waveform"},
    [GW_CLIP_LOW] = {"clip_low", "clipped at the bottom", "%", GW_SHOW_PERCENT,
                     "share of the record spent flat at the bottom", "shape of the waveform"},
    [GW_DROPOUTS] = {"dropouts", "dropouts", "", GW_SHOW_PLAIN,
                     "stretches where a steady signal's envelope falls by half or more", "envelope over one period"},
    [GW_DRIFT] = {"drift", "drift", "V/s", GW_SHOW_SLOPE, "slope of DC", "least-squares slope"},
};

static bool is_volts(const char *capture_unit) {
    return !capture_unit || strcmp(capture_unit, "V") == 0;
}

/* RMS of a sine whose peak is digital full scale (AES17): 0 dBFS. */
static const double full_scale_rms = 0.70710678118654752440;

static double level_reference(gw_show show, const char *capture_unit) {
    if (capture_unit && strcmp(capture_unit, "FS") == 0)
        return full_scale_rms;
    return show == GW_SHOW_DBU ? gw_dbu_reference_v : 1.0;
}

static void shown_decibels(const gw_reading *reading, double reference, double *value, double *u95) {
    *value = gw_db_from_ratio(reading->value / reference);
    *u95 = reading->value > 0 ? gw_db_from_ratio(1 + reading->u95 / reading->value) : 0;
}

bool gw_reading_shown(gw_reading_key key, const gw_reading *reading, const char *capture_unit, double *value,
                      double *u95) {
    *value = 0;
    *u95 = 0;
    if (reading->state == GW_READING_NONE)
        return false;
    gw_show show = gw_reading_infos[key].show;
    double factor = show == GW_SHOW_PERCENT ? 100 : 1;
    *value = factor * reading->value;
    *u95 = factor * reading->u95;
    if (show == GW_SHOW_DB)
        shown_decibels(reading, 1, value, u95);
    else if (show == GW_SHOW_DBV || show == GW_SHOW_DBU)
        shown_decibels(reading, level_reference(show, capture_unit), value, u95);
    return true;
}

typedef struct unit_words {
    const char *capture; /* what the capture is in */
    const char *plain, *density, *slope, *level;
} unit_words;

static const unit_words units[] = {
    {"FS", "FS", "FS/√Hz", "FS/s", "dBFS"},
    {"A", "A", "A/√Hz", "A/s", "dB re 1 A"},
    {"div", "div", "div/√Hz", "div/s", "dB re 1 div"},
    {"codes", "codes", "codes/√Hz", "codes/s", "dB re 1 code"},
};

const char *gw_reading_unit(gw_reading_key key, const char *capture_unit) {
    const gw_reading_info *info = &gw_reading_infos[key];
    if (is_volts(capture_unit))
        return info->unit;
    for (size_t k = 0; k < sizeof units / sizeof *units; k++) {
        if (strcmp(units[k].capture, capture_unit) != 0)
            continue;
        switch (info->show) {
        case GW_SHOW_VOLTS:
            return units[k].plain;
        case GW_SHOW_DENSITY:
            return units[k].density;
        case GW_SHOW_SLOPE:
            return units[k].slope;
        case GW_SHOW_DBV:
        case GW_SHOW_DBU:
            return units[k].level;
        default:
            return info->unit;
        }
    }
    return info->unit;
}

const char *gw_signal_name(gw_signal signal) {
    static const char *const names[] = {
        [GW_SIGNAL_NONE] = "none",         [GW_SIGNAL_DC] = "dc",
        [GW_SIGNAL_SINE] = "sine",         [GW_SIGNAL_PERIODIC] = "periodic",
        [GW_SIGNAL_TWO_TONE] = "two-tone", [GW_SIGNAL_NOISE] = "noise",
        [GW_SIGNAL_SWEEP] = "sweep",
    };
    return names[signal];
}

const char *gw_tone_kind_name(gw_tone_kind kind) {
    static const char *const names[] = {
        [GW_TONE_MAINS] = "mains",
        [GW_TONE_STIMULUS] = "stimulus",
        [GW_TONE_PRODUCT] = "product",
        [GW_TONE_OTHER] = "tone",
    };
    return names[kind];
}

const char *gw_event_kind_name(gw_event_kind kind) {
    static const char *const names[] = {
        [GW_EVENT_DROPOUT] = "dropout",
        [GW_EVENT_CRACKLE] = "crackle",
        [GW_EVENT_STEP] = "step",
    };
    return names[kind];
}
