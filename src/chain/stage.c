/* What a stage does: gain, spread, corners, settling, DC. */
#include "gainwalk/chain.h"

#include <math.h>

enum { ELEMENTS = 2 * GW_STAGE_PARTS };

/* Time constants until a step has settled to 1 %: ln 100. */
static const double settled_time_constants = 4.605170185988091;

gw_gain gw_stage_gain(const gw_stage *stage, double frequency_hz) {
    return stage->kind->gain(stage, frequency_hz);
}

int gw_stage_polarity(const gw_stage *stage) {
    if (stage->kind->polarity != 0 || stage->mix_count == 0)
        return stage->kind->polarity;
    return cos(gw_stage_gain(stage, 0).phase_rad) < 0 ? -1 : 1;
}

gw_dc_path gw_stage_dc(const gw_stage *stage) {
    return stage->blocks_dc ? GW_DC_BLOCKED : stage->kind->dc;
}

double gw_stage_noise_gain(const gw_stage *stage) {
    if (gw_stage_dc(stage) == GW_DC_BLOCKED)
        return 0;
    if (stage->kind->noise_gain != NULL)
        return stage->kind->noise_gain(stage);
    return stage->kind->gain != NULL ? stage->kind->gain(stage, 0).magnitude : 1;
}

/* ---- spread --------------------------------------------------------------------------------------- */

/* A toleranced part of a stage; `mixed` says that `index` counts the resistors of a mix. */
typedef struct element {
    size_t index;
    bool mixed;
    double tolerance;
} element;

static bool counts(const gw_stage *stage, size_t part) {
    return stage->kind->parts[part].toleranced && stage->stated[part] && stage->tolerance[part] > 0 &&
           stage->parts[part] > 0;
}

/* For a mix, part 0 stands for all its resistors, with one tolerance. */
static size_t list_elements(const gw_stage *stage, element elements[ELEMENTS]) {
    size_t count = 0;
    for (size_t i = 0; i < GW_STAGE_PARTS && stage->kind->parts[i].name != NULL; i++) {
        bool mixed = i == 0 && stage->mix_count > 0;
        if (!counts(stage, i))
            continue;
        for (size_t k = 0; k < (mixed ? stage->mix_count : 1); k++)
            elements[count++] = (element){.index = mixed ? k : i, .mixed = mixed, .tolerance = stage->tolerance[i]};
    }
    return count;
}

static void perturb(gw_stage *stage, const element *part, int direction) {
    double *value = part->mixed ? &stage->mix_r[part->index] : &stage->parts[part->index];
    *value *= 1 + direction * part->tolerance;
}

/* All corners of the box that the tolerances span. */
static void spread_worst_case(const gw_stage *stage, double frequency_hz, const element *parts, size_t count,
                              double *low, double *high) {
    for (unsigned corner = 0; corner < 1U << count; corner++) {
        gw_stage bent = *stage;
        for (size_t i = 0; i < count; i++)
            perturb(&bent, &parts[i], (corner >> i & 1U) != 0 ? 1 : -1);
        double gain = gw_stage_gain(&bent, frequency_hz).magnitude;
        *low = fmin(*low, gain);
        *high = fmax(*high, gain);
    }
}

/* Root sum of squares of what each part does alone, up and down apart. */
static void spread_rss(const gw_stage *stage, double frequency_hz, const element *parts, size_t count, double *low,
                       double *high) {
    double nominal = *low, up = 0, down = 0;
    for (size_t i = 0; i < count; i++) {
        double least = nominal, most = nominal;
        spread_worst_case(stage, frequency_hz, &parts[i], 1, &least, &most);
        up += (most - nominal) * (most - nominal);
        down += (nominal - least) * (nominal - least);
    }
    *low = fmax(0, nominal - sqrt(down));
    *high = nominal + sqrt(up);
}

void gw_stage_spread(const gw_stage *stage, double frequency_hz, double *low, double *high, bool *worst_case) {
    element parts[ELEMENTS];
    size_t count = list_elements(stage, parts);
    *low = *high = gw_stage_gain(stage, frequency_hz).magnitude;
    *worst_case = count <= 2;
    if (*worst_case)
        spread_worst_case(stage, frequency_hz, parts, count, low, high);
    else
        spread_rss(stage, frequency_hz, parts, count, low, high);
}

void gw_stage_worst(const gw_stage *stage, double frequency_hz, double *low, double *high) {
    element parts[ELEMENTS];
    size_t count = list_elements(stage, parts);
    gw_stage least = *stage, most = *stage;
    *low = *high = gw_stage_gain(stage, frequency_hz).magnitude;
    for (size_t i = 0; i < count; i++) {
        gw_stage bent = *stage;
        perturb(&bent, &parts[i], 1);
        /* in each part by itself the gain only rises or only falls */
        int up = gw_stage_gain(&bent, frequency_hz).magnitude >= *low ? 1 : -1;
        perturb(&most, &parts[i], up);
        perturb(&least, &parts[i], -up);
    }
    *low = fmin(*low, gw_stage_gain(&least, frequency_hz).magnitude);
    *high = fmax(*high, gw_stage_gain(&most, frequency_hz).magnitude);
}

/* ---- corners -------------------------------------------------------------------------------------- */

void gw_stage_corners(const gw_stage *stage, double *low_hz, double *high_hz) {
    *low_hz = *high_hz = 0;
    if (stage->kind->corners != NULL)
        stage->kind->corners(stage, low_hz, high_hz);
}

double gw_stage_settling(const gw_stage *stage) {
    double low_hz = 0, high_hz = 0;
    gw_stage_corners(stage, &low_hz, &high_hz);
    double corner_hz = low_hz > 0 ? low_hz : high_hz;
    return corner_hz > 0 ? settled_time_constants / (2 * 3.14159265358979323846 * corner_hz) : 0;
}
