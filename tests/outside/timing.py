#!/usr/bin/python3
"""timing.py: does what comes out of `hyoid render` keep time?

Everything is measured in host time, on the files that a user gets: the VCD (strobe, request, audio), the TextGrid, the
write log and the WAV. What is expected comes from the chart's milliseconds (reference/chart.csv), the score, and the
few rules in docs/chip.md that are written down in `handshake` below; nothing is asked of the program's code.

    HYOID=build/hyoid HYOID_SOURCE=. tests/outside/timing.py [-v]

Exit status 0 or 1. Only the standard library is used."""
import array
import csv
import math
import os
import struct
import subprocess
import sys
import tempfile

HYOID = os.environ.get("HYOID", "build/hyoid")
SOURCE = os.environ.get("HYOID_SOURCE", os.path.dirname(os.path.abspath(__file__)) + "/../..")
NOMINAL = 720000
FILTER = 36        # clocks in a filter cycle
OUTPUT = 18        # clocks from its start until the audio pin moves
BURST_SLOT = 13    # sixteenth at which a stop bursts
NS = 1e-9
PS = 1e-12


# ---- checks that count ----

class Checks:
    def __init__(self, verbose=False):
        self.done = self.failed = 0
        self.verbose = verbose
        self.name = ""

    def start(self, name):
        self.name = name
        if self.verbose:
            print(f"-- {name}", flush=True)

    def that(self, condition, what):
        self.done += 1
        if not condition:
            self.failed += 1
            print(f"FAIL: {self.name}: {what}", flush=True)
        return bool(condition)

    def near(self, value, wanted, tolerance, what):
        return self.that(abs(value - wanted) <= tolerance,
                         f"{what}: {value!r}, expected {wanted!r} within {tolerance!r}")

    def same(self, value, wanted, what):
        return self.that(value == wanted, f"{what}: {value!r}, expected {wanted!r}")

    def finish(self):
        print(f"{self.done} checks, {self.failed} failed")
        return 1 if self.failed or not self.done else 0


# ---- readers of the output files ----

def read_vcd(path):
    """{name: [(ns, value), ...]} with the value at 0 first, [(ns, mark), ...], and the last time stamp."""
    names, changes, marks, now = {}, {}, [], 0
    with open(path, encoding="utf-8") as file:
        for line in file:
            head = line[0]
            if head == "#":
                now = int(line[1:])
            elif head == "r":
                value, code = line[1:].split()
                changes[names[code]].append((now, float(value)))
            elif head in "01":
                changes[names[line[1:].strip()]].append((now, int(head)))
            elif head == "b":
                value, code = line[1:].split()
                changes[names[code]].append((now, int(value, 2)))
            elif line.startswith("$var"):
                words = line.split()
                names[words[3]] = words[4]
                changes[words[4]] = []
            elif line.startswith("$comment mark "):
                marks.append((now, line[len("$comment mark "):].rsplit(" $end", 1)[0]))
            elif line.startswith("$timescale") and line.split()[1:3] != ["1", "ns"]:
                raise ValueError(f"{path}: {line.strip()}")
    return changes, marks, now


def level_at(changes, ns):
    low, high = 0, len(changes)
    while high - low > 1:
        middle = (low + high) // 2
        if changes[middle][0] <= ns:
            low = middle
        else:
            high = middle
    return changes[low][1]


def read_textgrid(path):
    """{tier: [(from_ps, to_ps, text), ...]} and {tier: [(ps, text), ...]} for points; times are decimal, so exact."""
    def ps(text):
        whole, point, part = text.partition(".")
        if point and len(part) != 12:
            raise ValueError(f"{path}: a time of {text}")
        return int(whole) * 10**12 + int(part or 0)

    tiers, tier, item, top = {}, None, {}, {}
    with open(path, encoding="utf-8") as file:
        for line in file:
            key, equals, value = (word.strip() for word in line.partition("="))
            if not equals:
                continue
            if key == "name":
                tier = tiers.setdefault(value.strip('"'), [])
                item = {}
            elif key in ("xmin", "xmax", "number"):
                item[key] = ps(value)
                if tier is None:
                    top[key] = ps(value)
            elif key == "text":
                tier.append((item["xmin"], item["xmax"], value[1:-1].replace('""', '"')))
            elif key == "mark":
                tier.append((item["number"], value[1:-1].replace('""', '"')))
    return tiers, top["xmax"]


def read_log(path):
    """[(ps, signal, value), ...]"""
    rows = []
    with open(path, encoding="utf-8", newline="") as file:
        for number, row in enumerate(csv.reader(file)):
            if number == 0:
                if row != ["time_s", "signal", "value"]:
                    raise ValueError(f"{path}: header {row}")
                continue
            whole, part = row[0].split(".")
            rows.append((int(whole) * 10**12 + int(part), row[1], row[2]))
    return rows


def read_wav(path):
    """(rate, bits, samples as floats, {chunk: bytes of all but the sound})"""
    with open(path, "rb") as file:
        data = file.read()
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE" or struct.unpack("<I", data[4:8])[0] + 8 != len(data):
        raise ValueError(f"{path}: not a whole WAV")
    at, chunks = 12, {}
    while at < len(data):
        name, size = data[at:at + 4], struct.unpack("<I", data[at + 4:at + 8])[0]
        chunks[name] = data[at + 8:at + 8 + size]
        at += 8 + size + size % 2
    kind, channels, rate, _, _, bits = struct.unpack("<HHIIHH", chunks[b"fmt "][:16])
    if kind == 0xfffe:
        kind = struct.unpack("<H", chunks[b"fmt "][24:26])[0]
    sound = chunks.pop(b"data")
    if channels != 1:
        raise ValueError(f"{path}: {channels} channels")
    if kind == 3 and bits == 32:
        values = array.array("f", sound)
    elif kind == 1 and bits == 16:
        values = array.array("d", (v / 32768 for v in array.array("h", sound)))
    elif kind == 1 and bits == 24:
        values = array.array("d", (int.from_bytes(sound[i:i + 3], "little", signed=True) / 8388608
                                   for i in range(0, len(sound), 3)))
    else:
        raise ValueError(f"{path}: kind {kind}, {bits} bits")
    return rate, bits, values, chunks


def chart():
    """[nominal ms by code], [symbol by code]"""
    with open(os.path.join(SOURCE, "reference/chart.csv"), encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    if [int(row["code"], 16) for row in rows] != list(range(64)):
        raise ValueError("chart.csv does not hold the 64 codes")
    return [int(row["nominal_ms"]) for row in rows], [row["symbol"] for row in rows]


MS, SYMBOL = chart()
TICKS = [ms * 20 for ms in MS]  # a filter cycle is 50 us at 720 kHz


# ---- clocks: cycles since 0, as a function of the time in seconds ----

def constant(hz):
    return lambda t: hz * t


def linear(start, end, length):
    def cycles(t):
        inside = min(t, length)
        return start * inside + (end - start) * inside * inside / (2 * length) + end * max(0.0, t - length)
    return cycles


def exponential(start, end, length):
    rate = math.log(end / start) / length

    def cycles(t):
        inside = min(t, length)
        return start * math.expm1(rate * inside) / rate + end * max(0.0, t - length)
    return cycles


def logged(rows):
    """(cycles, hz) by the clock rows of a write log: trapezoids."""
    corners = []  # seconds, hz there, hz at the next corner or None: stays, cycles so far
    for ps, signal, value in rows:
        if signal not in ("clock_hz", "clock_to"):
            continue
        t, hz = ps * PS, float(value)
        so_far = 0.0
        if corners:
            before = corners[-1]
            if signal == "clock_to":
                before[2] = hz
            so_far = before[3] + (t - before[0]) * (before[1] + (before[1] if before[2] is None else before[2])) / 2
        corners.append([t, hz, None, so_far])

    def find(t):
        low, high = 0, len(corners)
        while high - low > 1:
            middle = (low + high) // 2
            if corners[middle][0] <= t:
                low = middle
            else:
                high = middle
        return low

    def hz_at(t):
        i = find(t)
        start, hz, to, _ = corners[i]
        return hz if to is None else hz + (to - hz) * (t - start) / (corners[i + 1][0] - start)

    def cycles(t):
        start, hz, _, so_far = corners[find(t)]
        return so_far + (t - start) * (hz + hz_at(t)) / 2
    return cycles, hz_at


# ---- a run of the program, and the rules of the handshake ----

class Run:
    count = 0

    def __init__(self, folder, text, *options, wav=False, log_input=False):
        Run.count += 1
        base = os.path.join(folder, f"run{Run.count}")
        source = base + (".in.csv" if log_input else ".score")
        with open(source, "w", encoding="utf-8") as file:
            file.write(text)
        command = [HYOID, "render", source, "--pins", base + ".vcd", "--labels", base + ".TextGrid", "--log",
                   base + ".csv", "--quiet", *options]
        if wav:
            command += ["-o", base + ".wav", "--bits", "32"]
        subprocess.run(command, check=True, timeout=120)
        self.vcd, self.marks, self.end_ns = read_vcd(base + ".vcd")
        self.grid, self.grid_end = read_textgrid(base + ".TextGrid")
        self.rows = read_log(base + ".csv")
        self.cycles, self.hz = logged(self.rows)
        self.strobes = [(ps, int(value)) for ps, signal, value in self.rows if signal == "phoneme"]
        self.rises = [ns for ns, level in self.vcd["request"][1:] if level]
        self.falls = [ns for ns, level in self.vcd["request"] if not level]
        self.strobe_ns = [ns for ns, level in self.vcd["strobe"] if level]
        if wav:
            self.rate, _, self.sound, _ = read_wav(base + ".wav")
        for ending in (".vcd", ".TextGrid", ".csv", ".wav"):
            if os.path.exists(base + ending):
                os.unlink(base + ending)


def handshake(strobes, cycles):
    """What docs/chip.md makes of strobes [(ps, code)]: [(latch clock, code)], fall clocks, rise clocks."""
    latches = []
    for ps, code in strobes:
        # the first clock at or after the strobe; 1e-7 of a clock is far below a picosecond at any clock used here
        clock = max(1, math.ceil(cycles(ps * PS) - 1e-7))
        if latches and latches[-1][0] == clock:
            latches.pop()  # one latch, the last code counts
        latches.append((clock, code))
    falls, rises, high = [], [], True
    for i, (clock, code) in enumerate(latches):
        if high:
            falls.append(clock + 1)
        rise = (clock // FILTER + 1) * FILTER + FILTER * (TICKS[code] - 1)
        high = i + 1 == len(latches) or rise < latches[i + 1][0]
        if high:
            rises.append(rise)
    return latches, falls, rises


def check_run(check, run):
    """The files against each other and against the handshake's rules."""
    check.same(len(run.strobe_ns), len(run.strobes), "strobes in the VCD")
    for ns, (ps, code) in zip(run.strobe_ns, run.strobes):
        check.near(ns * 1000, ps, 1000, "strobe in the VCD, ps")
        check.same(level_at(run.vcd["p"], ns), code, f"code in the VCD at {ns} ns")
        bits = sum(level_at(run.vcd[f"p{i}"], ns) << i for i in range(6))
        check.same(bits, code, f"single code pins in the VCD at {ns} ns")

    latches, falls, rises = handshake(run.strobes, run.cycles)
    for what, seen, wanted in (("falls", run.falls, falls), ("rises", run.rises, rises)):
        check.same(len(seen), len(wanted), f"number of request's {what}")
        for ns, clock in zip(seen, wanted):
            # nearest ns of a time rounded down to ps
            check.near(run.cycles(ns * NS), clock, 0.502 * NS * run.hz(ns * NS) + 1e-6, f"clock of request's {what}")

    # TextGrid: request as in the VCD, phonemes from latch to latch, both to the picosecond
    times = [(start, text) for start, _, text in run.grid["request"]]
    check.same(times[0], (0, "high"), "request in the TextGrid at 0")
    merged = sorted([(ns, "high") for ns in run.rises] + [(ns, "low") for ns in run.falls])
    check.same([text for _, text in times[1:]], [text for _, text in merged], "request's story in the TextGrid")
    for (ps, _), (ns, _) in zip(times[1:], merged):
        check.near(ps, ns * 1000, 501, "request in the TextGrid, ps")
    codes = [(start, text) for start, _, text in run.grid["code"]]
    check.same([text for _, text in codes], [""] + [f"0x{code:02x}" for _, code in latches], "codes in the TextGrid")
    check.same([text for _, _, text in run.grid["phoneme"]], [""] + [SYMBOL[code] for _, code in latches],
               "symbols in the TextGrid")
    check.same([start for start, _, _ in run.grid["phoneme"]], [start for start, _ in codes],
               "phonemes and codes stand at the same times")
    for (ps, text), (clock, _) in zip(codes[1:], latches):
        check.near(run.cycles(ps * PS), clock, 1.2 * PS * run.hz(ps * PS) + 1e-7, f"clock of the latch of {text}")
    check.near(run.end_ns * 1000, run.grid_end, 501, "end of the VCD and of the TextGrid, ps")
    return latches, falls, rises


ALL = " ".join(f"0x{code:02x}" for code in range(64))
CLOCKS = (720000, 300000, 1300000)


def all_codes(check, folder, hz):
    check.start(f"all codes at {hz} Hz")
    run = Run(folder, f"clock {hz}\n{ALL}\n")
    check_run(check, run)
    check.same(len(run.rises), 64, "every code ends in a rise")
    for code in range(64):
        start, rise, fall = run.strobe_ns[code], run.rises[code], run.falls[code]
        scale = NOMINAL / hz
        check.near((rise - start) * NS, MS[code] * 1e-3 * scale, FILTER / hz, f"0x{code:02x}: strobe to request")
        clocks = (rise - start) * NS * hz
        slack = 1.5 * NS * hz  # two nearest nanoseconds, and the first strobe is shown at 1 ns
        check.that(FILTER * (TICKS[code] - 1) - slack < clocks <= FILTER * TICKS[code] + slack,
                   f"0x{code:02x}: {clocks} clocks from strobe to request")
        check.that(0 < (fall - start) * NS <= 2 / hz + 2 * NS, f"0x{code:02x}: strobe to fall {fall - start} ns")
        if code < 63:
            check.near(run.strobe_ns[code + 1] - start, FILTER * TICKS[code] / hz / NS, 2, f"0x{code:02x}: onset to onset, ns")
            check.near(run.strobes[code + 1][0] - run.strobes[code][0], FILTER * TICKS[code] / hz / PS, 3,
                       f"0x{code:02x}: onset to onset in the log, ps")
            # the second whole picosecond after the edge; one more or less where doubles meet a whole one
            edge = sum(TICKS[:code + 1]) * FILTER * 10**12 // hz
            check.near(run.strobes[code + 1][0], edge + 2, 1, f"0x{code:02x}: the answer after request, ps")


def answers(check, folder, hz, answer_us):
    check.start(f"answer {answer_us}us at {hz} Hz")
    run = Run(folder, f"clock {hz} answer {answer_us}us\n{ALL}\n")
    check_run(check, run)
    phases = set()
    for code in range(64):
        clocks = (run.rises[code] - run.strobe_ns[code]) * NS * hz
        slack = 1.5 * NS * hz
        check.that(FILTER * (TICKS[code] - 1) - slack < clocks <= FILTER * TICKS[code] + 1 + slack,
                   f"0x{code:02x}: {clocks} clocks from strobe to request")
        check.near((run.rises[code] - run.strobe_ns[code]) * NS, MS[code] * 1e-3 * NOMINAL / hz, (FILTER + 1) / hz,
                   f"0x{code:02x}: strobe to request")
        phases.add(round(clocks) % FILTER)
        if code < 63:
            check.near(run.strobe_ns[code + 1] - run.rises[code], answer_us * 1000, 1.01, f"0x{code:02x}: answer, ns")
    return phases


def holds(check, folder, hz):
    check.start(f"hold 80ms at {hz} Hz")
    run = Run(folder, f"clock {hz} hold 80ms\n{ALL}\n")
    check_run(check, run)
    cut = 0
    for code in range(63):
        ps, following = run.strobes[code][0], run.strobes[code + 1][0]
        longest = FILTER * TICKS[code] * 10**12 / hz
        high = [ns for ns in run.rises if ps + 500 < ns * 1000 <= following + 500]
        if FILTER * (TICKS[code] - 1) * 10**12 / hz > 80e9:
            cut += 1
            check.same(following - ps, 80 * 10**9, f"0x{code:02x}: onset to onset, ps")
            check.same(high, [], f"0x{code:02x} is longer than 80 ms and request rises")
            check.near(run.strobe_ns[code + 1] - run.strobe_ns[code], 80 * 10**6, 1, f"0x{code:02x}: onset to onset, ns")
        elif longest < 80e9:
            # the phase of an earlier cut may cost part of a filter cycle
            check.that(longest - FILTER * 10**12 / hz < following - ps <= longest + 10**12 / hz + 3,
                       f"0x{code:02x}: onset to onset {following - ps} ps")
            check.same(len(high), 1, f"0x{code:02x} is shorter than 80 ms: rises of request")
    check.that(cut >= 10, f"only {cut} codes are cut")


def glide(check, folder, text, cycles, relative, hold=False):
    """The same under a glide; `cycles` is the exact integral of the glide that the score asks for."""
    check.start(text.splitlines()[0])
    run = Run(folder, text)
    _, _, rises = check_run(check, run)
    worst = 0.0
    for t in [ns * NS for ns in run.rises + run.strobe_ns]:
        off = abs(run.cycles(t) - cycles(t))
        worst = max(worst, off)
        check.that(off <= relative * cycles(t) + 1e-4, f"the log's clock is {off} cycles from the asked-for at {t} s")
    for i, (ns, (ps, code)) in enumerate(zip(run.strobe_ns, run.strobes)):
        if hold:
            break
        spoken = cycles(run.rises[i] * NS) - cycles(ps * PS)
        slack = 2 * NS * run.hz(ns * NS) + relative * FILTER * TICKS[code] + 1e-4
        check.that(FILTER * (TICKS[code] - 1) - slack < spoken <= FILTER * TICKS[code] + slack,
                   f"0x{code:02x}: {spoken} clocks from strobe to request")
        if i + 1 < len(run.strobes):
            onset = cycles(run.strobes[i + 1][0] * PS) - cycles(ps * PS)
            check.near(onset, FILTER * TICKS[code], slack, f"0x{code:02x}: clocks from onset to onset")
            tick = cycles(run.rises[i] * NS) / FILTER
            check.near(tick, rises[i] / FILTER, relative * tick + 1e-4, "request rises at the start of a filter cycle")
    if hold:
        gaps = [b[0] - a[0] for a, b in zip(run.strobes, run.strobes[1:])]
        check.that(max(gaps) == 80 * 10**9 and gaps.count(80 * 10**9) >= 10, "hold cuts under the glide")
    # the clock as the VCD tells it
    for ns, hz in run.vcd["clock_hz"]:
        check.near(hz, run.hz(ns * NS), 1e-6 * hz + 1.1 * NS * 2e6, f"clock_hz in the VCD at {ns} ns")
    check.that(len(run.vcd["clock_hz"]) > 1000, "the VCD restates the clock during the glide")
    return worst


# ---- onsets heard in the WAV ----

def bursts(run, first_ps):
    """Sub-sample times (s) of the first sound after silence, for each strobe of a stop given by its time."""
    sound, rate = run.sound, run.rate
    times = []
    for ps, jump in first_ps:
        at = int(ps * PS * rate)
        while abs(sound[at]) < jump / 2:
            at += 1
        before, after = abs(sound[at - 1]), abs(sound[at])
        times.append((at - 1 + (jump / 2 - before) / (after - before)) / rate)
    return times


def heard(check, folder, text, stop, rate):
    """A stop and a pause, again and again: the first sound of every burst against strobes and the clock's integral."""
    check.start(f"{text.splitlines()[0]}, {rate} samples a second")
    run = Run(folder, text, "--rate", str(rate), wav=True)
    latches, _, _ = check_run(check, run)
    code = SYMBOL.index(stop)
    strobes = [(ps, clock) for (ps, c), (clock, _) in zip(run.strobes, latches) if c == code]
    # what the VCD says of the first level of each burst, and a place in the closure where it is silent
    closed = -(-10 * TICKS[code] // 16) * FILTER
    places, expected = [], []
    for ps, clock in strobes:
        burst = (clock // FILTER + -(-BURST_SLOT * TICKS[code] // 16)) * FILTER + OUTPUT
        low, high = ps, ps + 10**12
        while high - low > 1:  # when the clock reaches the middle of the closure
            middle = (low + high) // 2
            low, high = (middle, high) if run.cycles(middle * PS) < clock + closed else (low, middle)
        silent = low
        high = silent + 10**12
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if run.cycles(middle * PS) < burst else (low, middle)
        ns = round(high / 1000)
        jump = level_at(run.vcd["audio"], ns + 1) - level_at(run.vcd["audio"], ns - 2)
        check.same(level_at(run.vcd["audio"], ns - 2), 0.0, "the audio pin in the closure")
        check.that(abs(jump) > 1e-3, f"the burst's first level {jump} at {ns} ns")
        places.append((silent, abs(jump)))
        expected.append(high * PS)
    times = bursts(run, places)
    worst = 0.0
    for i, (t, wanted) in enumerate(zip(times, expected)):
        cycle = FILTER / run.hz(wanted)
        check.near(t, wanted, cycle, f"burst {i} in the WAV")
        worst = max(worst, abs(t - wanted) / cycle)
        # since the strobe: the same number of clocks whatever the clock does
        clocks = run.cycles(t) - strobes[i][1]
        check.near(clocks, FILTER * (-(-BURST_SLOT * TICKS[code] // 16)) + OUTPUT, FILTER + 1, f"clocks to burst {i}")
        if i > 0:
            heard_clocks = run.cycles(t) - run.cycles(times[i - 1])
            shown_clocks = run.cycles(strobes[i][0] * PS) - run.cycles(strobes[i - 1][0] * PS)
            check.near(heard_clocks, shown_clocks, FILTER, f"clocks between bursts {i - 1} and {i}")
            if run.hz(0) == run.hz(t):
                check.near(t - times[i - 1], (strobes[i][0] - strobes[i - 1][0]) * PS, cycle,
                           f"time between bursts {i - 1} and {i}")
    check.that(len(times) >= 8, f"{len(times)} bursts")
    return worst


def correlated(check, folder, hz, rate):
    """The repetition of a burst by cross-correlation. Its noise differs each time, so what is correlated is where there is
    sound and where there is none."""
    check.start(f"repetition by cross-correlation at {hz} Hz")
    run = Run(folder, f"clock {hz}\npau/185 repeat 6 {{ t pau/185 }}\n", "--rate", str(rate), wav=True)
    code = SYMBOL.index("t")
    onsets = [ps for ps, c in run.strobes if c == code]
    period = (onsets[1] - onsets[0]) * PS
    block = max(1, round(rate * FILTER / hz / 4))
    envelope = []
    for i in range(0, len(run.sound) - block, block):
        envelope.append(math.sqrt(sum(v * v for v in run.sound[i:i + block]) / block))
    peak = max(envelope)
    envelope = [1.0 if v > 0.02 * peak else 0.0 for v in envelope]
    # the edge of the first burst, found again later
    guess = round(period * rate / block)
    first = envelope.index(1.0)
    width = 12
    for i in range(1, 6):
        best = max(range(guess * i - 40, guess * i + 41), key=lambda lag: sum(
            (2 * envelope[first - width + j] - 1) * (2 * envelope[first - width + j + lag] - 1)
            for j in range(2 * width)) - 1e-3 * abs(lag - guess * i))
        check.near(best * block / rate, (onsets[i] - onsets[0]) * PS, FILTER / hz, f"repetition {i}, s")


# ---- single cases ----

def energy(run, start, end):
    part = run.sound[int(start * run.rate):int(end * run.rate)]
    return sum(v * v for v in part) / max(1, len(part))


def cut_stop(check, folder):
    check.start("a stop that is cut before its burst")
    whole = Run(folder, "pau/185 t pau/185\n", wav=True)
    cut = Run(folder, "pau/185 hold 40ms t hold off pau/185\n", wav=True)
    check_run(check, whole)
    check_run(check, cut)
    start = whole.strobes[1][0] * PS
    burst = energy(whole, start + 0.0575, start + 0.12)
    none = max(energy(cut, start + at / 1000, start + (at + 5) / 1000) for at in range(10, 180, 5))
    check.that(burst > 1e-6, f"the uncut stop's burst has a power of {burst}")
    check.that(none < burst * 1e-6, f"the cut stop has a power of {none}, the uncut one's burst {burst}")
    check.same(len(cut.rises), 2, "rises of request: pause, (not the stop,) pause")


def rest(check, folder):
    check.start("a phoneme sounds on while the host rests")
    run = Run(folder, "aa/71 rest 1s pau\n", wav=True)
    check_run(check, run)
    check.that(len(run.strobes) == 2 and abs(run.strobes[1][0] - 1071 * 10**9) <= 5, "the rest follows request")
    early, late = energy(run, 0.2, 0.4), energy(run, 0.8, 1.0)
    check.that(late > 1e-4 and 0.8 < late / early < 1.25, f"power {early} after 0.3 s, {late} after 0.9 s")
    silent = energy(run, run.end_ns * NS - 0.03, run.end_ns * NS)
    check.that(silent < late * 1e-2, f"the pause ends it: {silent}")
    check.same(level_at(run.vcd["request"], 900 * 10**6), 1, "request meanwhile")


def restrobe(check, folder):
    check.start("the same phoneme strobed again")
    run = Run(folder, "hold 30ms aa/250 aa/250 aa/250 hold off aa/250\n")
    check_run(check, run)
    check.same([ps for ps, _ in run.strobes], [0, 30 * 10**9, 60 * 10**9, 90 * 10**9], "strobes")
    check.same(len(run.rises), 1, "rises of request")
    check.near(run.rises[0] * NS, 0.090 + 0.250, FILTER / 720e3, "request counts from the last strobe")
    check.same(len(run.falls), 1, "falls of request")

    check.start("strobes by a log: within one clock, and one clock after request")
    hz = 500000  # 2 us a clock
    rise = FILTER * TICKS[0x03] * 2000000
    lines = ["time_s,signal,value", f"0,clock_hz,{hz}"]
    for ps, code in ((0, 3), (rise + 1, 8), (rise + 300 * 10**6 + 100, 1), (rise + 300 * 10**6 + 1900000, 2),
                     (rise + 600 * 10**6 + 2000000, 5), (rise + 900 * 10**6 + 10, 0x2a)):
        lines.append(f"{ps // 10**12}.{ps % 10**12:012d},phoneme,{code}")
    run = Run(folder, "\n".join(lines) + "\n", log_input=True)
    latches, _, _ = check_run(check, run)
    check.same(len(latches), 5, "latches; two strobes share a clock")
    check.same([code for _, code in latches], [3, 8, 2, 5, 0x2a], "the last strobe within a clock counts")
    # an edge at the very time of a clock edge is in time for it
    check.same(latches[3][0], (rise + 600 * 10**6 + 2000000) // 2000000, "latch of the strobe on an edge")
    check.near(run.falls[1] - run.rises[0], 2 * 2000, 1, "request stays high for two clocks")


def standstill(check, folder):
    check.start("the clock stands still")
    stop = Run(folder, "hold 100.0003ms aa/250 clock 0 rest 300ms clock 720k rest 500ms\n", wav=True)
    plain = Run(folder, "hold 100.0003ms aa/250 rest 500ms\n", wav=True)
    check_run(check, stop)
    check_run(check, plain)
    frozen, going = 100000300, 400000300  # ns
    levels = stop.vcd["audio"]
    check.same([ns for ns, _ in levels if frozen < ns < going], [], "levels of the audio pin meanwhile")
    held = level_at(levels, frozen)
    check.that(abs(held) > 1e-4, f"the pin holds {held}")
    # 0.3 s are 14400 samples; the kernel reaches 32 samples to either side
    first, last = math.ceil(frozen * NS * 48000) + 33, math.floor(going * NS * 48000) - 33
    worst = max(abs(v - held) for v in stop.sound[first:last])
    check.that(worst < 1e-6, f"the WAV holds to {worst}")
    moved = [(ns if ns <= frozen else ns - 300 * 10**6, value) for ns, value in levels]
    # the second ends 300 ms earlier in clocks, not in levels
    count = min(len(moved), len(plain.vcd["audio"]))
    check.that(count > 10000, f"{count} levels")
    check.same([v for _, v in moved[:count]], [v for _, v in plain.vcd["audio"][:count]], "the same levels, later")
    check.that(all(abs(a[0] - b[0]) <= 1 for a, b in zip(moved[:count], plain.vcd["audio"])), "at the same clocks")
    tail = range(last + 67, min(len(stop.sound), len(plain.sound) + 14400) - 40)
    worst = max(abs(stop.sound[i] - plain.sound[i - 14400]) for i in tail)
    check.that(len(tail) > 10000 and worst < 1e-6, f"the WAV goes on: {worst} over {len(tail)} samples")

    check.start("a strobe while the clock stands still")
    run = Run(folder, "hold 100.0003ms aa/250 clock 0 eh/71 clock 720k rest 300ms hold off pau\n")
    latches, _, _ = check_run(check, run)
    check.near(run.strobe_ns[1], 100000300, 1, "its strobe, ns")
    start = run.grid["code"][2][0] * PS
    check.that(0.2000006 <= start <= 0.2000006 + 1.5e-6, f"it is latched with the first clock: {start}")
    check.near(run.rises[0] * NS - start, 0.071, FILTER / 720e3, "and lasts its time from there")


def main():
    check = Checks("-v" in sys.argv[1:])
    with tempfile.TemporaryDirectory() as folder:
        phases = set()
        for hz in CLOCKS:
            all_codes(check, folder, hz)
            phases |= answers(check, folder, hz, 40)
            phases |= answers(check, folder, hz, 7.3)
            holds(check, folder, hz)
        check.that(len(phases) >= 6, f"answers met {len(phases)} phases of the filter cycle")

        glide(check, folder, f"clock 1.3M glide 300k over 9s\n{ALL}\n", linear(1.3e6, 3e5, 9.0), 0.0)
        glide(check, folder, f"clock 300k glide 1.3M over 4s\n{ALL}\n", linear(3e5, 1.3e6, 4.0), 0.0)
        glide(check, folder, f"clock 1.3M hold 80ms glide 300k over 3s\n{ALL}\n", linear(1.3e6, 3e5, 3.0), 0.0, hold=True)
        for start, end, text in ((1.3e6, 3e5, "clock 1.3M glide 300k over 9s exp"),
                                 (3e5, 1.3e6, "clock 300k glide 1.3M over 9s exp")):
            worst = glide(check, folder, f"{text}\n{ALL}\n", exponential(start, end, 9.0), 1.5e-5)
            print(f"{text}: the log's pieces are at most {worst:.2f} clocks from the exponential")

        worst = {}
        repeated = "pau/47 repeat 10 { t pau/47 }\n"
        for rate in (48000, 192000):
            for hz in CLOCKS:
                worst[f"{hz} Hz, {rate}/s"] = heard(check, folder, f"clock {hz}\n{repeated}", "t", rate)
            worst[f"linear glide, {rate}/s"] = heard(check, folder, f"clock 1.3M glide 300k over 1.5s\n{repeated}", "t", rate)
            worst[f"exp glide, {rate}/s"] = heard(check, folder, f"clock 300k glide 1.3M over 1.5s exp\n{repeated}", "t", rate)
        for what, share in worst.items():
            print(f"bursts in the WAV, {what}: at most {share:.3f} filter cycles off")
        for hz in CLOCKS:
            correlated(check, folder, hz, 192000)

        cut_stop(check, folder)
        rest(check, folder)
        restrobe(check, folder)
        standstill(check, folder)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
