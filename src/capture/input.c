#include "capture/input.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const char *kind_of_file(mode_t mode) {
    return S_ISDIR(mode)                    ? "a folder"
           : S_ISFIFO(mode)                 ? "a pipe"
           : S_ISSOCK(mode)                 ? "a socket"
           : S_ISCHR(mode) || S_ISBLK(mode) ? "a device"
                                            : "no regular file";
}

bool gw_input_open(gw_input *input, const char *path, gw_error *error) {
    *input = (gw_input){.path = path, .descriptor = -1};
    /* a pipe without a writer would keep a plain open waiting for ever */
    int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    if (descriptor < 0)
        return gw_error_set(error, path, 0, "cannot open capture: %s", strerror(errno));
    struct stat status;
    if (fstat(descriptor, &status) != 0) {
        gw_error_set(error, path, 0, "cannot look at capture: %s", strerror(errno));
    } else if (!S_ISREG(status.st_mode)) {
        gw_error_set(error, path, 0, "%s, not a capture file", kind_of_file(status.st_mode));
    } else {
        input->descriptor = descriptor;
        input->size = (uint64_t)status.st_size;
        return true;
    }
    close(descriptor);
    return false;
}

void gw_input_close(gw_input *input) {
    if (input->descriptor >= 0)
        close(input->descriptor);
    input->descriptor = -1;
}

bool gw_input_good(const gw_input *input, gw_error *error) {
    if (input->reason == 0)
        return true;
    gw_error_clear(error);
    return gw_error_set(error, input->path, 0, "cannot be read: %s", strerror(input->reason));
}

size_t gw_input_read(gw_input *input, uint64_t at, void *bytes, size_t length) {
    size_t done = 0;
    while (done < length && at + done < (uint64_t)INT64_MAX) {
        ssize_t got = pread(input->descriptor, (char *)bytes + done, length - done, (off_t)(at + done));
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0 && input->reason == 0)
            input->reason = errno;
        if (got <= 0)
            break;
        done += (size_t)got;
    }
    return done;
}
