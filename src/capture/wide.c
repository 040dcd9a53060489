#include "capture/wide.h"

#include <errno.h>
#include <iconv.h>
#include <string.h>
#include <unistd.h>

#include "capture/room.h"

enum { PART = 1 << 16, LONGEST = 8 };

typedef struct conversion {
    iconv_t by;
    size_t unit;
    char in[PART], out[2 * PART]; /* a character of two bytes takes three as UTF-8 at most, one of four bytes four */
    size_t held;                  /* bytes of `in`, those of a half character of the part before among them */
    gw_input *to;
} conversion;

static bool write_all(gw_input *to, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t done = write(to->descriptor, bytes, length);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        length -= (size_t)done;
        to->size += (uint64_t)done;
    }
    return true;
}

/* Converts what is held; half a character at the end is left for the next part, unless this is the last one. */
static bool convert_part(conversion *c, bool last) {
    char *in = c->in, *out = c->out;
    size_t left = c->held, room = sizeof c->out;
    while (left >= c->unit && room > LONGEST) {
        if (iconv(c->by, &in, &left, &out, &room) != (size_t)-1 || (errno == EINVAL && !last))
            break;
        *out++ = '?';
        room--;
        in += c->unit;
        left -= c->unit;
    }
    memmove(c->in, in, left);
    c->held = left;
    return write_all(c->to, c->out, sizeof c->out - room);
}

static bool convert_all(conversion *c, gw_input *from, size_t mark, gw_error *error) {
    uint64_t end = mark + (from->size - mark) / c->unit * c->unit;
    for (uint64_t at = mark; at < end;) {
        uint64_t left = end - at;
        size_t room = sizeof c->in - c->held, some = left < room ? (size_t)left : room;
        if (gw_input_read(from, at, c->in + c->held, some) < some)
            return gw_error_set(error, from->path, 0, "the file became shorter while it was read");
        at += some;
        c->held += some;
        if (!convert_part(c, at == end))
            return gw_error_set(error, from->path, 0, "no room for its text in the folder for temporary files: %s",
                                strerror(errno));
    }
    return true;
}

bool gw_wide_keep(gw_input *from, const char *name, size_t mark, size_t unit, gw_input *out, gw_error *error) {
    *out = (gw_input){.path = from->path, .descriptor = gw_room_nameless_file()};
    if (out->descriptor < 0)
        return true;
    conversion c = {.by = iconv_open("UTF-8", name), .unit = unit, .to = out};
    bool done = c.by != (iconv_t)-1 ? convert_all(&c, from, mark, error)
                                    : gw_error_set(error, from->path, 0, "the system cannot read %s text", name);
    if (c.by != (iconv_t)-1)
        iconv_close(c.by);
    return done;
}
