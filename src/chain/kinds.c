/* The table of stage kinds: what each is made of, its gain, its corners, what it does to DC and polarity.
 *
 * Gains are those of ideal op-amps with open-loop gain to spare (Horowitz & Hill, The Art of Electronics, ch. 4, from
 * memory; a closed-loop gain of 11 with an open-loop gain of 10 000 errs by 0.11 %), and of networks driven from 0 ohm
 * into an open circuit unless a source or load is named. To add a kind: a row here, its functions above it, and a row
 * in tests/chain/test_stages.c. */
#include "gainwalk/chain.h"

#include <math.h>
#include <string.h>

static const double pi = 3.14159265358979323846;

/* Half the travel of an audio-taper control gives a tenth of its resistance (common practice); the usual smooth curve
 * through 0, that and 1 is (b^p - 1)/(b - 1) with b = 81, for (81^0.5 - 1)/80 is 0.1. */
static const double audio_taper_base = 81;

/* Usual spread of controls, of the track's resistance and of where a knob stands (common practice: 1.5 to 3 dB). */
static const double linear_pot_db = 1.5;
static const double audio_pot_db = 3;

static gw_gain real_gain(double gain) {
    return (gw_gain){.magnitude = fabs(gain), .phase_rad = gain < 0 ? pi : 0};
}

static double parallel(double one, double other) {
    return one * other / (one + other);
}

/* First-order high-pass at f/fc = `ratio`, times `mid`: |H| = r/sqrt(1 + r^2), phase atan(1/r). */
static gw_gain high_pass(double ratio, double mid) {
    return (gw_gain){.magnitude = mid * ratio / hypot(1, ratio), .phase_rad = atan2(1, ratio)};
}

static double corner(double resistance, double capacitance) {
    return 1 / (2 * pi * resistance * capacitance);
}

/* ---- op-amps ------------------------------------------------------------------------------------ */

static gw_gain noninverting_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    return real_gain(1 + stage->parts[0] / stage->parts[1]);
}

static gw_gain inverting_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    return real_gain(-stage->parts[0] / stage->parts[1]);
}

static double inverting_noise_gain(const gw_stage *stage) {
    return 1 + stage->parts[0] / stage->parts[1];
}

static gw_gain unity_gain(const gw_stage *stage, double frequency_hz) {
    (void)stage;
    (void)frequency_hz;
    return real_gain(1);
}

/* ---- passive networks --------------------------------------------------------------------------- */

static double passive_noise_gain(const gw_stage *stage) {
    (void)stage;
    return 1;
}

static gw_gain divider_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    double bottom = stage->parts[1];
    if (stage->stated[2])
        bottom = parallel(bottom, stage->parts[2]);
    return real_gain(bottom / (stage->parts[0] + bottom));
}

static bool audio_taper(const gw_stage *stage) {
    return stage->parts[1] > 0.5;
}

static gw_gain pot_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    double position = stage->parts[0], value = stage->parts[2], load = stage->parts[3];
    double share = position;
    if (audio_taper(stage))
        share = (pow(audio_taper_base, position) - 1) / (audio_taper_base - 1);
    if (!stage->stated[2] || !stage->stated[3])
        return real_gain(share);
    double bottom = parallel(share * value, load);
    return real_gain(bottom / ((1 - share) * value + bottom));
}

static double pot_usual_db(const gw_stage *stage) {
    return audio_taper(stage) ? audio_pot_db : linear_pot_db;
}

static gw_gain coupling_gain(const gw_stage *stage, double frequency_hz) {
    double c = stage->parts[0], load = stage->parts[1], source = stage->parts[2];
    return high_pass(frequency_hz / corner(source + load, c), load / (source + load));
}

static void coupling_corners(const gw_stage *stage, double *low_hz, double *high_hz) {
    (void)high_hz;
    *low_hz = corner(stage->parts[1] + stage->parts[2], stage->parts[0]);
}

static gw_gain lowpass_gain(const gw_stage *stage, double frequency_hz) {
    double ratio = frequency_hz / corner(stage->parts[0], stage->parts[1]);
    return (gw_gain){.magnitude = 1 / hypot(1, ratio), .phase_rad = -atan(ratio)};
}

static void lowpass_corners(const gw_stage *stage, double *low_hz, double *high_hz) {
    (void)low_hz;
    *high_hz = corner(stage->parts[0], stage->parts[1]);
}

static gw_gain highpass_gain(const gw_stage *stage, double frequency_hz) {
    return high_pass(frequency_hz / corner(stage->parts[0], stage->parts[1]), 1);
}

static void highpass_corners(const gw_stage *stage, double *low_hz, double *high_hz) {
    (void)high_hz;
    *low_hz = corner(stage->parts[0], stage->parts[1]);
}

static gw_gain transformer_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    return real_gain(stage->parts[0]);
}

/* ---- others ------------------------------------------------------------------------------------- */

static gw_gain emitter_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    return real_gain(-stage->parts[0] / stage->parts[1]);
}

static bool virtual_earth(const gw_stage *stage) {
    return stage->stated[1];
}

/* Millman's theorem with only the first source at work; or a virtual earth with rf. */
static gw_gain mix_gain(const gw_stage *stage, double frequency_hz) {
    (void)frequency_hz;
    if (virtual_earth(stage))
        return real_gain(-stage->parts[1] / stage->mix_r[0]);
    double conductance = 0;
    for (size_t i = 0; i < stage->mix_count; i++)
        conductance += 1 / stage->mix_r[i];
    return real_gain(1 / (stage->mix_r[0] * conductance));
}

static double mix_noise_gain(const gw_stage *stage) {
    double gain = 1;
    for (size_t i = 0; virtual_earth(stage) && i < stage->mix_count; i++)
        gain += stage->parts[1] / stage->mix_r[i];
    return gain;
}

/* ---- the table ---------------------------------------------------------------------------------- */

static const char *const tapers[] = {"linear", "audio", NULL};

#define RESISTOR(name_, meaning_)                                                                                      \
    { .name = (name_), .dimension = GW_DIM_OHM, .required = true, .toleranced = true, .meaning = (meaning_) }
#define OPTIONAL_RESISTOR(name_, meaning_)                                                                             \
    { .name = (name_), .dimension = GW_DIM_OHM, .toleranced = true, .meaning = (meaning_) }
#define CAPACITOR(meaning_)                                                                                            \
    { .name = "c", .dimension = GW_DIM_FARAD, .required = true, .toleranced = true, .meaning = (meaning_) }

const gw_stage_kind gw_stage_kinds[] = {
    {.name = "noninverting",
     .meaning = "op-amp, signal at its + input",
     .formula = "1 + rf/rg",
     .source = "ideal op-amp",
     .parts = {RESISTOR("rf", "feedback resistor"), RESISTOR("rg", "from the - input to ground")},
     .dc = GW_DC_PASSES,
     .polarity = 1,
     .suspect = 1,
     .gain = noninverting_gain},
    {.name = "inverting",
     .meaning = "op-amp, signal through a resistor to its - input",
     .formula = "-rf/rin",
     .source = "ideal op-amp",
     .parts = {RESISTOR("rf", "feedback resistor"), RESISTOR("rin", "input resistor")},
     .dc = GW_DC_PASSES,
     .polarity = -1,
     .suspect = 1,
     .gain = inverting_gain,
     .noise_gain = inverting_noise_gain},
    {.name = "follower",
     .meaning = "buffer, gain 1",
     .formula = "1",
     .source = "ideal op-amp",
     .dc = GW_DC_PASSES,
     .polarity = 1,
     .suspect = 1,
     .gain = unity_gain},
    {.name = "divider",
     .meaning = "two resistors, or a pad",
     .formula = "bottom/(top + bottom), the bottom in parallel with the load",
     .source = "voltage divider",
     .parts = {RESISTOR("top", "in the signal's way"), RESISTOR("bottom", "from the output to ground"),
               OPTIONAL_RESISTOR("load", "what the output feeds; none where not stated")},
     .dc = GW_DC_PASSES,
     .polarity = 1,
     .suspect = 0.5,
     .gain = divider_gain,
     .noise_gain = passive_noise_gain},
    {.name = "pot",
     .meaning = "volume or level control",
     .formula = "share of the track at its position",
     .source = "position (linear), or (81^position - 1)/80 (audio: a tenth at half travel, common practice); a "
               "loaded divider where value and load are stated",
     .parts = {{.name = "position",
                .dimension = GW_DIM_PERCENT,
                .required = true,
                .meaning = "share of the travel, above 0 % to 100 %",
                .most = 1},
               {.name = "taper", .meaning = "linear (when not stated) or audio", .words = tapers},
               OPTIONAL_RESISTOR("value", "resistance of the whole track"),
               OPTIONAL_RESISTOR("load", "what the wiper feeds")},
     .dc = GW_DC_PASSES,
     .polarity = 1,
     .suspect = 2,
     .gain = pot_gain,
     .noise_gain = passive_noise_gain,
     .usual_db = pot_usual_db},
    {.name = "coupling",
     .meaning = "coupling capacitor into its load",
     .formula = "RC high-pass, load/(source + load) above its corner",
     .source = "corner 1/(2 pi (source + load) c)",
     .parts = {CAPACITOR("the capacitor"),
               RESISTOR("load", "resistance it works into"),
               {.name = "source",
                .dimension = GW_DIM_OHM,
                .toleranced = true,
                .meaning = "resistance before it; 0 where not stated",
                .least_allowed = true}},
     .dc = GW_DC_BLOCKED,
     .polarity = 1,
     .suspect = 1.5,
     .gain = coupling_gain,
     .corners = coupling_corners},
    {.name = "lowpass",
     .meaning = "RC low-pass, unloaded",
     .formula = "RC low-pass, 1/(1 + j f/fc)",
     .source = "corner fc = 1/(2 pi r c)",
     .parts = {RESISTOR("r", "in the signal's way"), CAPACITOR("from the output to ground")},
     .dc = GW_DC_PASSES,
     .polarity = 1,
     .suspect = 0.5,
     .gain = lowpass_gain,
     .noise_gain = passive_noise_gain,
     .corners = lowpass_corners},
    {.name = "highpass",
     .meaning = "RC high-pass, unloaded",
     .formula = "RC high-pass, (j f/fc)/(1 + j f/fc)",
     .source = "corner fc = 1/(2 pi r c)",
     .parts = {RESISTOR("r", "from the output to ground"), CAPACITOR("in the signal's way")},
     .dc = GW_DC_BLOCKED,
     .polarity = 1,
     .suspect = 1,
     .gain = highpass_gain,
     .corners = highpass_corners},
    {.name = "transformer",
     .meaning = "audio transformer; which way round it is wound isn't told",
     .formula = "ratio",
     .source = "turns ratio, output over input",
     .parts = {{.name = "ratio", .required = true, .meaning = "output over input"}},
     .dc = GW_DC_BLOCKED,
     .polarity = 0,
     .suspect = 0.7,
     .gain = transformer_gain},
    {.name = "wire",
     .meaning = "connector, switch, relay contact, cable or track",
     .formula = "1",
     .source = "a connection",
     .dc = GW_DC_PASSES,
     .polarity = 1,
     .suspect = 3,
     .gain = unity_gain,
     .noise_gain = passive_noise_gain},
    {.name = "amp",
     .meaning = "any other amplifier; state its gain with the key 'gain'; passes DC unless blocks-dc",
     .formula = "as stated",
     .source = "the chain file",
     .dc = GW_DC_UNKNOWN,
     .polarity = 0,
     .suspect = 1},
    {.name = "emitter",
     .meaning = "transistor in common emitter (or valve, cathode resistor unbypassed), seen at the collector",
     .formula = "-rc/re",
     .source = "common-emitter stage with emitter degeneration",
     .parts = {RESISTOR("rc", "collector resistor in parallel with all that it feeds"),
               RESISTOR("re", "all unbypassed resistance in the emitter, the transistor's own 26 mV/Ic included")},
     .dc = GW_DC_UNKNOWN,
     .polarity = -1,
     .suspect = 1.2,
     .gain = emitter_gain},
    {.name = "mix",
     .meaning = "summing resistors; the first r is this chain's input, the others' sources are at rest",
     .formula = "share of the first of the summing resistors",
     .source = "(1/r1)/(1/r1 + 1/r2 + …), Millman's theorem; -rf/r1 into a virtual earth where rf is stated",
     .parts = {RESISTOR("r", "the inputs' resistors: r=10k r=10k …, this chain's first"),
               OPTIONAL_RESISTOR("rf", "feedback resistor of a virtual-earth mixer")},
     .dc = GW_DC_PASSES,
     .polarity = 0,
     .suspect = 1,
     .gain = mix_gain,
     .noise_gain = mix_noise_gain},
    {.name = NULL},
};

const gw_stage_kind *gw_stage_kind_find(const char *name) {
    for (const gw_stage_kind *kind = gw_stage_kinds; kind->name != NULL; kind++)
        if (strcmp(kind->name, name) == 0)
            return kind;
    return NULL;
}
