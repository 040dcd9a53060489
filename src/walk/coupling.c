/* What a stage that blocks DC does, in words: its corner, its loss, its settling, and what DC it leaves. */
#include "walk/walker.h"

#include <math.h>

static const char *filter_words(gw_walker *walker, const gw_stage *stage) {
    char corner[64], settling[64], loss[32];
    double low = 0, high = 0;
    gw_stage_corners(stage, &low, &high);
    if (!(low > 0) || !stage->kind->gain)
        return "";
    double middle = gw_stage_gain(stage, 1e4 * low).magnitude;
    double here = walker->frequency_hz > 0 ? gw_stage_gain(stage, walker->frequency_hz).magnitude / middle : 1;
    gw_number_print(low, low < 100 ? 2 : 3, corner, sizeof corner);
    gw_number_print(gw_stage_settling(stage), 2, settling, sizeof settling);
    return gw_walker_text(walker, "corner %s Hz, %s at the stimulus, settles to 1 %% in %s s", corner,
                          gw_words_db(here, loss, sizeof loss), settling);
}

/* Whether a stage blocks DC, as far as what came and what is left can show it. */
static const char *blocking_words(const gw_judgement *dc, const gw_reading *in, const gw_reading *out) {
    if (dc->status == GW_OFF)
        return "does not block DC";
    if (fabs(out->value) + out->u95 < fabs(in->value) / 2)
        return "blocks DC";
    bool little = dc->status == GW_OK && fabs(in->value) + in->u95 < dc->high && 3 * out->u95 < dc->high;
    return little ? "little DC to block" : "whether it blocks DC is not shown";
}

void gw_coupling_note(gw_walker *walker, int point, const gw_judgement *dc) {
    const gw_span *span = &walker->span_of[point];
    gw_reading in = {0}, out = {0};
    double step_v;
    bool has_in = gw_layout_dc(walker, span->from, &in, &step_v), has_out = gw_layout_dc(walker, point, &out, &step_v);
    if (!span->last_blocks || span->across != 1)
        return;
    const gw_readings *readings = walker->nodes[point].readings;
    const char *filter = filter_words(walker, &walker->nodes[point].point->stage), *note = "";
    if (!has_out && readings && gw_layout_dc_hidden(walker, readings))
        note = "the capture hides DC: whether it is blocked is not shown";
    if (has_in && has_out) {
        char before[64], left[96];
        gw_quantity_print(in.value, in.u95, "V", 4, before, sizeof before);
        gw_words_pm(out.value, out.u95, "V", left, sizeof left);
        note = gw_walker_text(walker, "%s: %s before, %s left", blocking_words(dc, &in, &out), before, left);
    }
    walker->stage_of[point].note = *note && *filter ? gw_walker_text(walker, "%s; %s", note, filter)
                                   : *note          ? note
                                   : *filter        ? filter
                                                    : NULL;
}
