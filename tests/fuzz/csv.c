/* Captures by their content, text ones first of all: refused with a reason, or every sample has a sound value. */
#include "fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    gw_capture *capture = read_bytes(bytes, length);
    if (capture != NULL) {
        fetch_all(capture);
        peek_at(capture);
    }
    gw_capture_free(capture);
    return 0;
}
