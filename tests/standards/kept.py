"""Answers of the program, kept as they were when they were last looked at, in lines that a person can read: a change of
numbers shows there, as a difference that a reviewer sees, however small it is.

Words are the same or not. A value may move by a thousandth of its uncertainty, an uncertainty by a thousandth of itself: far
more than compilers and processors make of the same sum, far less than any change of method.
GAINWALK_UPDATE=1 writes the lines anew; look at the difference before you keep it."""

import os

SHARE = 1e-3  # of an uncertainty; of numbers without one
ROUNDED = 2e-6  # of a value: seven digits are kept
DERIVED = ("level_dbv", "level_dbu", "pitch")  # said once: they follow from others


def told(reading):
    """A reading in words: value, uncertainty; or a bound; or nothing."""
    if "value" in reading:
        return f"{reading['value']:.7g} ±{reading['u95']:.4g}" if "u95" in reading else f"{reading['value']:.7g}"
    return f"below {reading['below']:.4g}" if "below" in reading else "withheld"


def lines_of_capture(capture):
    lines = [" ".join(["signal", capture["signal"]])] + ["remark " + text for text in capture["remarks"]]
    for key, reading in capture["readings"].items():
        if key not in DERIVED and reading.get("value", 1) != 0:
            lines.append(f"{key} {told(reading)}")
    for line in capture["harmonics"]:
        phase = f" at {line['phase_deg']:.5g} degrees" if line.get("phase_deg") is not None else ""
        lines.append(f"harmonic {line['order']} {line['rms']:.6g} ±{line['u95']:.4g}{phase}")
    for part in ("tones", "events"):
        for one in capture[part]:
            lines.append(part[:-1] + "".join(f" {key} {worded(value)}" for key, value in one.items()))
    return lines


def worded(value):
    return f"{value:.5g}" if isinstance(value, float) else str(value)


def number(text):
    try:
        return float(text)
    except ValueError:
        return None


def angle_apart(one, other):
    return abs((one - other + 180) % 360 - 180)


def same_line(now, kept):
    """Whether a line says the same."""
    now, kept = now.split(), kept.split()
    if len(now) != len(kept):
        return False
    for k, (one, other) in enumerate(zip(now, kept)):
        if one == other:
            continue
        values = number(one.lstrip("±")), number(other.lstrip("±"))
        if None in values or one.startswith("±") != other.startswith("±"):
            return False
        apart, size = abs(values[0] - values[1]), abs(values[1])
        follows = kept[k + 1] if k + 1 < len(kept) else ""
        if follows.startswith("±"):
            allowed = SHARE * number(follows[1:]) + ROUNDED * size
        elif follows == "degrees":
            apart, allowed = angle_apart(*values), 0.05
        else:
            allowed = SHARE * size
        if not apart <= allowed:
            return False
    return True


def differences(now, kept, whole):
    """{name: lines} against those kept: one line for each that is not the same."""
    found = [f"{name}: is new" for name in now if name not in kept]
    found += [f"{name}: is no more" for name in kept if whole and name not in now]
    for name in now:
        if name in kept:
            if len(now[name]) != len(kept[name]):
                found.append(f"{name}: {len(now[name])} lines, {len(kept[name])} were kept")
            found += [f"{name}: '{one}', kept is '{other}'" for one, other in zip(now[name], kept[name])
                      if not same_line(one, other)]
    return found


def read(path):
    out, name = {}, None
    with open(path, encoding="utf-8") as file:
        for line in file.read().splitlines():
            if line.startswith("["):
                name = line[1:-1]
                out[name] = []
            elif line:
                out[name].append(line)
    return out


def write(path, now):
    with open(path, "w", encoding="utf-8") as file:
        for name, lines in now.items():
            file.write("\n".join([f"[{name}]", *lines, "", ""]))


def compare(path, now, whole=True):
    """What differs from the file, of all that is in it where `now` is the `whole`; where it is to be written anew, nothing does.
    A part is never written: it would lose the rest."""
    if whole and os.environ.get("GAINWALK_UPDATE"):
        write(path, now)
        return []
    return differences(now, read(path), whole)
