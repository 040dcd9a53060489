/* What the shape shows beside the readings, and what a technician should be told. */
#include "measure/work.h"

#include <math.h>

bool gw_work_clues(gw_work *work) {
    gw_clues *clues = &work->out->clues;
    clues->cycles = work->model->cycles;
    double swing = work->out->values[GW_PEAK_TO_PEAK].value;
    clues->codes = work->block->step > 0 ? swing / work->block->step + 1 : 0;
    gw_work_none(work, GW_CLIP_HIGH, "not looked for");
    gw_work_none(work, GW_CLIP_LOW, "not looked for");
    gw_work_none(work, GW_DROPOUTS, "not looked for");
    gw_work_none(work, GW_DRIFT, "not looked for");
    return true;
}
