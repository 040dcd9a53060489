#include "capture/store.h"
bool gw_capture_read_text(gw_capture *capture, const gw_input *input, const gw_capture_options *options, gw_error *error) { (void)capture,(void)input,(void)options; return gw_error_set(error, input->path, 0, "text"); }
