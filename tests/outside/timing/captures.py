"""Captures as instruments make them, out of what hyoid render --pins wrote. Only the standard library."""
import random
import zipfile

PINS = ["p0", "p1", "p2", "p3", "p4", "p5", "i0", "i1", "strobe", "request"]


def read_pins(path):
    """[(seconds, pin, level), ...] in the order of the file, levels at 0 first, and the time of the last stamp."""
    codes, edges, now, scale = {}, [], 0, 1e-9
    with open(path, encoding="utf-8") as file:
        for line in file:
            if line.startswith("$var"):
                words = line.split()
                if words[2] == "1":
                    codes[words[3]] = words[4].lower()
            elif line[0] == "#":
                now = int(line[1:])
            elif line[0] in "01" and line[1:].strip() in codes:
                edges.append((now * scale, codes[line[1:].strip()], int(line[0])))
    return edges, now * scale


def with_clock(edges, end, hz, phase=0.3):
    """The same with a clock pin; its frequency may be a function of the time."""
    rate = hz if callable(hz) else lambda t: hz
    t, level, out = phase / rate(0), 1, [(0.0, "clock", 0)]
    while t < end:
        out.append((t, "clock", level))
        t += 0.5 / rate(t)
        level ^= 1
    return sorted(edges + out, key=lambda e: e[0])


def jittered(edges, sigma, seed):
    """Every edge but those at 0 moved a little, Gauss."""
    chance = random.Random(seed)
    moved = [(t + (chance.gauss(0, sigma) if t > 0 else 0), pin, level) for t, pin, level in edges]
    return sorted(((max(t, 0.0), pin, level) for t, pin, level in moved), key=lambda e: e[0])


def with_glitches(edges, end, pin, width, count, seed):
    """Short pulses on a pin."""
    chance = random.Random(seed)
    out = list(edges)
    for _ in range(count):
        t = chance.uniform(0.01, end - 0.01)
        level = [v for s, p, v in edges if p == pin and s <= t][-1]
        if any(p == pin and abs(s - t) < 10 * width for s, p, v in edges):
            continue
        out += [(t, pin, 1 - level), (t + width, pin, level)]
    return sorted(out, key=lambda e: e[0])


def sampled(edges, end, rate, pins, phase=0.5):
    """[(first sample, word), ...]: what an analyser sees, and how many samples there are."""
    place = {pin: i for i, pin in enumerate(pins)}
    word, runs, last = 0, [], 0
    for t, pin, level in edges:
        if pin not in place:
            continue
        n = max(0, int(t * rate + phase) + 1) if t > 0 else 0
        if n != last:
            runs.append((last, word))
            last = n
        bit = 1 << place[pin]
        word = word | bit if level else word & ~bit
    runs.append((last, word))
    merged = []
    for n, w in runs:
        if not merged or merged[-1][1] != w:
            merged.append((n, w))
    return merged, int(end * rate) + 1


def write_session(path, runs, count, rate, pins, piece=100000, names=None):
    """A session, its pieces of odd sizes and out of order in the archive."""
    unit = (len(pins) + 7) // 8
    data = bytearray()
    for (n, w), (after, _) in zip(runs, runs[1:] + [(count, 0)]):
        data += w.to_bytes(unit, "little") * max(0, min(after, count) - n)
    pieces = [bytes(data[i:i + piece * unit]) for i in range(0, len(data), piece * unit)]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("version", "2")
        archive.writestr("metadata", "[global]\nsigrok version=0.5.2\n\n[device 1]\ncapturefile=logic-1\n"
                         f"total probes={len(pins)}\nsamplerate={rate_text(rate)}\ntotal analog=0\n"
                         + "".join(f"probe{i + 1}={name}\n" for i, name in enumerate(names or pins))
                         + f"unitsize={unit}\n")
        for i in sorted(range(len(pieces)), key=lambda i: str(i + 1)):  # 1, 10, 11, 2: not by number
            archive.writestr(f"logic-1-{i + 1}", pieces[i])


def rate_text(rate):
    for unit, name in ((1e6, "MHz"), (1e3, "kHz")):
        if rate >= unit:
            return f"{rate / unit:.9g} {name}"
    return f"{rate:.9g} Hz"


def write_changes(path, runs, count, rate, pins, start=0.0, names=None, decimals=12):
    """A table with a row a change."""
    with open(path, "w", encoding="utf-8") as file:
        print("Time [s]," + ",".join(names or pins), file=file)
        for n, w in runs + [(count - 1, runs[-1][1])]:
            print(f"{start + n / rate:.{decimals}f}," + ",".join(str(w >> i & 1) for i in range(len(pins))), file=file)


def write_samples(path, runs, count, rate, pins):
    """A table with a row a sample."""
    with open(path, "w", encoding="utf-8") as file:
        print(f"; Samplerate: {rate_text(rate)}", file=file)
        print(",".join(pins), file=file)
        for (n, w), (after, _) in zip(runs, runs[1:] + [(count, 0)]):
            row = ",".join(str(w >> i & 1) for i in range(len(pins))) + "\n"
            file.write(row * (after - n))


def write_dump(path, edges, end, pins, scale=1e-9, unit="1 ns"):
    """A dump of scalars, as a simulator or an analyser's program would write it."""
    code = {pin: chr(33 + i) for i, pin in enumerate(pins)}
    with open(path, "w", encoding="utf-8") as file:
        file.write(f"$timescale {unit} $end\n$scope module board $end\n")
        for pin in pins:
            file.write(f"$var wire 1 {code[pin]} {pin} $end\n")
        file.write("$upscope $end\n$enddefinitions $end\n")
        last = None
        for t, pin, level in edges:
            if pin not in code:
                continue
            stamp = round(t / scale)
            if stamp != last:
                file.write(f"#{stamp}\n")
                last = stamp
            file.write(f"{level}{code[pin]}\n")
        file.write(f"#{round(end / scale)}\n")
