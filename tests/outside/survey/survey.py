#!/usr/bin/python3
"""survey.py SURVEY_BOARD: the survey as a user gets it. HYOID names the program. Exit status 0 or 1."""
import csv
import os
import struct
import subprocess
import sys
import tempfile
import wave

HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
failed = 0


def expect(condition, text):
    global failed
    if not condition:
        failed += 1
        print("FAIL: " + text)


def run(folder, *arguments, status=0):
    done = subprocess.run([HYOID, *arguments], cwd=folder, capture_output=True, text=True, check=False, timeout=120)
    expect(done.returncode == status, f"{' '.join(arguments)}: exit {done.returncode}, not {status}: {done.stderr}")
    return done


def read(folder, name, mode="r"):
    with open(os.path.join(folder, name), mode) as file:
        return file.read()


def writes(text):
    """Strobes as (s, code, inflection, clock), and marks by name as the index of the strobe that follows."""
    strobes, marks, level, clock = [], {}, None, None
    for row in csv.DictReader(text.splitlines()):
        if row["signal"] == "phoneme":
            strobes.append((float(row["time_s"]), int(row["value"]), level, clock))
        elif row["signal"] == "inflection":
            level = int(row["value"])
        elif row["signal"] == "clock_hz":
            clock = float(row["value"])
        elif row["signal"] == "mark":
            marks[row["value"]] = len(strobes)
    return strobes, marks


def gaps(samples, rate, start, end):
    """Distances between the onsets of the clicks, s: envelope by millisecond, threshold at a fifth."""
    step = rate // 1000
    envelope = [max(abs(x) for x in samples[i:i + step]) for i in range(int(start * rate), int(end * rate), step)]
    top = max(envelope) / 5
    loud = [i for i, x in enumerate(envelope) if x > top]
    begins = [b for a, b in zip([loud[0] - 1000] + loud, loud) if b - a > 80]
    return [(b - a) / 1000 for a, b in zip(begins, begins[1:])]


def check_sound(folder, strobes, marks):
    with wave.open(os.path.join(folder, "a.wav")) as file:
        rate = file.getframerate()
        samples = struct.unpack(f"<{file.getnframes()}h", file.readframes(file.getnframes()))
    quiet = samples[:int(strobes[marks["sync"]][0] * rate)]
    expect(max(map(abs, quiet)) < 33, f"the silence before has a peak of {max(map(abs, quiet))}")
    first = gaps(samples, rate, strobes[marks["sync"]][0], strobes[marks["codes"]][0])
    last = gaps(samples, rate, strobes[marks["sync-end"]][0], strobes[marks["silence-end"]][0])
    expect(len(first) == 2 and len(last) == 2, f"clicks are not told apart: {first} {last}")
    if len(first) == 2 and len(last) == 2:
        expect(abs(first[1] - first[0] - 0.08) < 0.004, f"gaps at the start: {first}")
        expect(abs(last[0] - last[1] - 0.16) < 0.004, f"gaps at the end: {last}")
    print(f"clicks {first} s at the start, {last} s at the end")


def check(folder, options, seconds, classes):
    run(folder, "survey", "-o", "a.score", "--log", "a.csv", "--c", "a.h", "--sound", "a.wav", *options)
    run(folder, "survey", "-o", "b.score", "--log", "b.csv", "--c", "b.h", "--sound", "b.wav", *options)
    for ending in ("score", "csv", "h", "wav"):
        expect(read(folder, "a." + ending, "rb") == read(folder, "b." + ending, "rb"), f"two runs, two .{ending}")
    run(folder, "render", "a.score", "--log", "c.csv", "-q")
    expect(read(folder, "c.csv") == read(folder, "a.csv"), "the score, played, makes other writes than --log")
    strobes, marks = writes(read(folder, "a.csv"))
    print(f"{options}: {strobes[-1][0]:.1f} s, {len(strobes)} strobes")
    expect(seconds[0] < strobes[-1][0] < seconds[1], f"it takes {strobes[-1][0]} s, not {seconds}")
    alone = [strobe[1] for strobe in strobes[marks["codes"]:marks["levels"]]]
    expect(set(alone) == set(range(64)), "not all codes are said")
    expect({s[2] for s in strobes} == {0, 1, 2, 3}, "not all levels are used")
    names = {8: 0, 0x29: 0, 0x37: 0, 0x11: 1, 0x1f: 1, 0x1d: 1, 0x2a: 2, 0x19: 2, 0x25: 2, 0xd: 3, 0xc: 3, 0x14: 3, 3: 4,
             0x18: 5, 0x2b: 5, 0x2d: 5, 0x12: 6, 0xf: 6, 7: 6, 0x1e: 7, 0x1c: 7, 0xe: 7}
    after = "again" if "again" in marks else "cuts"
    walk = [names[strobe[1]] for strobe in strobes[marks["transitions"]:marks[after]]]
    expect(walk.pop() == 4, "the transitions end in a pause")
    pairs = list(zip(walk, walk[1:]))
    expect(len(pairs) == len(set(pairs)) == classes * classes, f"{len(set(pairs))} of {classes * classes} pairs of classes")
    check_sound(folder, strobes, marks)
    return strobes, marks


def check_board(board, strobes):
    """The board polls: each strobe comes up to two polls later than that of a host that answers at once."""
    lines = [line.split() for line in subprocess.run([board], capture_output=True, text=True, check=True).stdout.splitlines()]
    said = [(float(ms) / 1000, int(code), int(level), float(hz)) for ms, code, level, hz in lines if code != "-1"]
    expect([s[1:] for s in said] == [s[1:] for s in strobes], "the board's codes, inflections or clocks differ from the log's")
    worst = max(abs((b[0] - a[0]) - (d[0] - c[0])) for a, b, c, d in zip(said, said[1:], strobes, strobes[1:]))
    expect(worst < 3e-5, f"the board's gaps differ by up to {worst * 1e6:.0f} us")
    print(f"board: {len(said)} strobes, gaps within {worst * 1e6:.0f} us of the log's")


def main():
    board = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        strobes, _ = check(folder, [], (60, 100), 8)
        check_board(board, strobes)
        check(folder, ["--short"], (15, 25), 5)
        strobes, marks = check(folder, ["--short", "--fixed-clock", "--clock", "360k"], (25, 45), 5)
        expect("clock" not in marks and {s[3] for s in strobes} == {360000.0}, "--fixed-clock moves the clock")
        expect("hyoid_survey_clock[HYOID_SURVEY_CLOCKS]" in read(folder, "a.h"), "the board's own clock is not in the C file")
        run(folder, "survey", "--calibration", "--short", "--fixed-clock", "--c", "k.h")
        expect(read(folder, "k.h").startswith("/* hyoid survey --calibration --short --fixed-clock --clock "), "the C file says how it was made")
        text = run(folder, "survey", "-q").stdout
        expect(text.startswith("# Survey, full version") and "mark sync-end" in text, "no score on standard output")
        before = sorted(os.listdir(folder))
        for arguments, word in ((["--clock", "1k"], "50k to 5M"), (["x"], "no operand"), (["-o", ""], "empty"),
                                (["-o", "x", "--log", "x"], "two names"), (["--part", "nowhere"], "nowhere"),
                                (["-o", "no/x", "--log", "y.csv"], "no/x")):
            done = run(folder, "survey", *arguments, status=2)
            expect(word in done.stderr and done.stderr.count("\n") == 1, f"{arguments}: {done.stderr}")
        expect(sorted(os.listdir(folder)) == before, "a refused survey leaves files behind")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
