/* Sound files: what does not begin like one is given the beginning of one, so that no run is spent on text. */
#include "fuzz.h"

static bool has_heading(const uint8_t *bytes, size_t length) {
    static const char *const headings[] = {"RIFF", "RIFX", "RF64", "BW64", "riff"};
    for (size_t i = 0; length >= 4 && i < sizeof headings / sizeof *headings; i++)
        if (memcmp(bytes, headings[i], 4) == 0)
            return true;
    return false;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    static const char heading[] = "RIFF\x24\x10\0\0WAVE";
    enum { HEADING = sizeof heading - 1 };
    size_t extra = has_heading(bytes, length) ? 0 : HEADING;
    uint8_t *whole = malloc(length + extra + 1);
    MUST(whole != NULL);
    memcpy(whole, heading, extra);
    memcpy(whole + extra, bytes, length);
    gw_capture *capture = read_bytes(whole, length + extra);
    if (capture != NULL) {
        fetch_all(capture);
        peek_at(capture);
    }
    gw_capture_free(capture);
    free(whole);
    return 0;
}
