#!/usr/bin/python3
"""sweep.py LISTEN: `hyoid sweep` as a user sees it, and its figures against what is heard in the files that it writes.

    HYOID=build/hyoid tests/outside/sweep/sweep.py build/tests/listen

Pitch is measured by autocorrelation, images as spectral lines (listen.c, which knows nothing of the chip). Exit status 0 or 1."""
import csv
import io
import json
import math
import os
import struct
import subprocess
import sys
import tempfile

SOURCE = os.environ.get("HYOID_SOURCE", os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", ".."))
HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
LISTEN = os.path.abspath(sys.argv[1])
PITCH_SHARE = 0.001
IMAGE_DB = 0.3
HELD = "level 1\n{} \nrest 1900ms\n"
failures = 0


def expect(well, text):
    global failures
    if not well:
        failures += 1
        print(f"FAIL: {text}")


def run(*arguments, status=0, stdin=None, cwd=None):
    result = subprocess.run([HYOID, *arguments], capture_output=True, check=False, timeout=120, input=stdin, cwd=cwd)
    expect(result.returncode == status,
           f"hyoid {' '.join(arguments)}: status {result.returncode}: {result.stderr.decode().strip()}")
    return result


def rows(*arguments, **options):
    return list(csv.DictReader(io.StringIO(run("sweep", *arguments, "--csv", "-", **options).stdout.decode())))


def write(path, text):
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    return path


def read(path):
    with open(path, "rb") as file:
        return file.read()


def samples(path):
    """What a WAV's data chunk holds, bytes in a frame, and the rate."""
    data = read(path)
    at, rate, found, width = 12, 0, b"", 0
    while at + 8 <= len(data):
        name, length = data[at:at + 4], struct.unpack("<I", data[at + 4:at + 8])[0]
        if name == b"fmt ":
            rate, = struct.unpack("<I", data[at + 12:at + 16])
            width, = struct.unpack("<H", data[at + 20:at + 22])
        if name == b"data":
            found = data[at + 8:at + 8 + length]
        at += 8 + length + length % 2
    return found, width, rate


def frames(path):
    found, width, rate = samples(path)
    return len(found) // width, rate


def heard(folder):
    """Pitch and images of held vowels, at odd clocks and all levels."""
    worst_pitch = worst_image = 0
    for symbol, level, clocks in (("aa/250", 1, "333k..1.234M"), ("iy/185", 3, "250k..900k"), ("uw/185", 0, "600k..1M")):
        score = write(os.path.join(folder, "held.score"), HELD.format(symbol).replace("level 1", f"level {level}"))
        pattern = os.path.join(folder, "held-%n.wav")
        run("sweep", score, "--clock", clocks, "--steps", "4", "--rate", "192000", "--bits", "32", "-o", pattern, "--csv",
            os.path.join(folder, "held.csv"))
        with open(os.path.join(folder, "held.csv"), encoding="utf-8", newline="") as file:
            table = list(csv.DictReader(file))
        expect(len(table) == 4, "four rows")
        for row in table:
            f0, clock, fs = float(row["f0_hz"]), float(row["clock_hz"]), float(row["filter_hz"])
            image = float(row["image_hz"])
            command = [LISTEN, pattern.replace("%n", row["step"]), "1.2", "1.7", str(f0 * 0.7), str(f0 * 1.4),
                       str(fs - image), str(image)]
            text = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
            expect(text.returncode == 0, f"{command}: {text.stderr}")
            pitch, level_db = [float(word) for word in text.stdout.split()]
            worst_pitch = max(worst_pitch, abs(pitch / f0 - 1))
            worst_image = max(worst_image, abs(level_db - float(row["image_db"])))
            expect(abs(pitch / f0 - 1) < PITCH_SHARE, f"{symbol} at {clock}: f0 {f0}, heard {pitch}")
            expect(abs(level_db - float(row["image_db"])) < IMAGE_DB,
                   f"{symbol} at {clock}: image at {image} Hz {row['image_db']} dB, heard {level_db}")
            line = fs - image
            expect(abs(20 * math.log10(line / image) - float(row["image_db"])) < 0.01, "f / (fs - f)")
            expect(abs(float(row["f1_hz"]) - line) <= 0.51 * f0, f"the line next to F1: {row['f1_hz']}, {line}")
        top, bottom = table[-1], table[0]
        for key in ("f0_hz", "f1_hz", "f2_hz", "f3_hz", "image_hz"):
            expect(abs(float(top[key]) / float(bottom[key]) / (float(top["clock_hz"]) / float(bottom["clock_hz"])) - 1)
                   < 1e-4, f"{key} goes as the clock")
    print(f"12 voices heard: pitch within {100 * worst_pitch:.4f} %, images within {worst_image:.3f} dB")


def tempo(folder):
    score = write(os.path.join(folder, "t.score"), "hh eh/121 l ow s t ao r m w ao r n ih ng")
    table = rows(score, "--clock", "360k..720k", "--steps", "2")
    slow, usual = table
    expect(slow["phonemes"] == usual["phonemes"] == "15" and slow["syllables"] == "5", f"counts: {slow}")
    expect(abs(float(slow["seconds"]) / float(usual["seconds"]) - 2) < 1e-4, "half the clock takes twice as long")
    expect(float(slow["semitones"]) == -12 and float(slow["ratio"]) == 0.5, "an octave")
    expect(abs(float(usual["phonemes_per_s"]) - 15 / float(usual["seconds"])) < 0.01, "phonemes a second")
    expect(slow["cut"] == usual["cut"] == "0", "a score waits for request")
    log = os.path.join(folder, "t.csv")
    run("render", score, "-q", "--log", log)
    timed = rows(log, "--clock", "360k..720k", "--steps", "2")
    expect(timed[0]["cut"] == "14" and timed[1]["cut"] == "0", f"a log keeps its times: {timed[0]['cut']} are cut")


def scaled(folder):
    """An input's own clocks are scaled; at its own clock nothing changes."""
    score = write(os.path.join(folder, "bend.score"), "clock 600k\naa/250\nglide 300k over 500ms\naa/250\nclock 800k aa/250")
    plain = os.path.join(folder, "plain.wav")
    run("render", score, "-q", "-o", plain)
    same = os.path.join(folder, "same.wav")
    run("sweep", score, "--clock", "600k..600k", "--steps", "1", "-o", same)
    expect(samples(plain) == samples(same), "scale 1 is what render makes")
    double = os.path.join(folder, "double.wav")
    run("sweep", score, "--clock", "1.2M..1.2M", "--steps", "1", "-o", double)
    other = write(os.path.join(folder, "other.score"), "clock 1.2M\naa/250\nglide 600k over 500ms\naa/250\nclock 1.6M aa/250")
    run("render", other, "-q", "-o", plain)
    expect(samples(plain) == samples(double), "all clocks doubled")
    log = os.path.join(folder, "bend.csv")
    run("render", score, "-q", "--log", log)
    with open(log, encoding="utf-8") as file:
        lines = [line.strip().split(",") for line in file]
    doubled = [[t, what, str(2 * float(value))] if what.startswith("clock") else [t, what, value] for t, what, value in lines]
    write(os.path.join(folder, "doubled.csv"), "\n".join(",".join(line) for line in doubled) + "\n")
    run("render", os.path.join(folder, "doubled.csv"), "-q", "-o", plain)
    run("sweep", log, "--clock", "1.2M..1.2M", "--steps", "1", "-o", double)
    expect(samples(plain) == samples(double), "all clocks of a log doubled")
    result = run("sweep", score, "--clock", "90M..90M", "--steps", "1", status=2)
    expect(b"bend.score" in result.stderr and b"100 MHz" in result.stderr, result.stderr)
    piped = rows("-", "--clock", "600k..600k", "--steps", "1", stdin=read(score))
    expect(piped == rows(score, "--clock", "600k..600k", "--steps", "1"), "standard input is played as often as needed")


def one_file(folder):
    score = write(os.path.join(folder, "t.score"), "hh eh/121 l ow")
    path = os.path.join(folder, "all.wav")
    run("sweep", score, "--clock", "500k..1M", "--steps", "3", "-o", path, "--gap", "250")
    pattern = os.path.join(folder, "one-%c.wav")
    run("sweep", score, "--clock", "500k..1M", "--steps", "3", "-o", pattern)
    parts = [os.path.join(folder, f"one-{hz}.wav") for hz in (500000, 707107, 1000000)]
    total = sum(frames(part)[0] for part in parts)
    expect(frames(path) == (total + 2 * 12000, 48000), f"{frames(path)}: {total} and two gaps")
    data = read(path)
    expect(all(name in data for name in (b"1: 500000.0 Hz", b"2: 707106.8 Hz", b"3: 1000000.0 Hz")), "cue points")
    run("sweep", score, "--clock", "500k..1M", "--steps", "200", "-o", os.path.join(folder, "many-%n.wav"), "--csv", os.path.join(folder, "many.csv"))
    expect(sum(name.startswith("many-") for name in os.listdir(folder)) == 200, "200 files, as many as there may be")
    out = run("sweep", score, "--clock", "500k..1M", "--steps", "3", "-o", "-").stdout
    expect(out[:4] == b"RIFF", "-o - is a WAV and nothing else")


def circuits(folder):
    score = write(os.path.join(folder, "t.score"), "hh eh/121 l ow")
    data = json.loads(run("sweep", score, "--rc", "10k,150p,0", "--rc-constant", "1.08,0", "--json", "-").stdout)
    expect(all(abs(step["clock_hz"] - 720e3) < 1e-3 for step in data["steps"]), "k / (R C)")
    spread = json.loads(run("sweep", score, "--rc", "10k,150p,5%", "--json", "-", "--seed", "3").stdout)
    clocks = [step["clock_hz"] for step in spread["steps"]]
    expect(clocks == sorted(clocks) and clocks[0] < 0.95 * clocks[2] < clocks[2] < 0.96 * clocks[4], f"spread: {clocks}")
    rc = spread["rc"]
    worst = rc["constant"] / (rc["ohm"] * rc["farad"]) * (1 + rc["constant_spread"]) / 0.95 ** 2
    expect(clocks[4] <= worst and rc["seed"] == 3 and rc["constant_known"] == "recalled", f"{rc}")
    expect(rc["constant_spread_known"] == "estimate", "the spread of k is called an estimate")
    again = json.loads(run("sweep", score, "--rc", "10k,150p,5%", "--json", "-", "--seed", "3").stdout)
    expect(again == spread, "the same seed, the same spread")
    text = run("sweep", score, "--rc", "10k,150p,5%").stdout.decode()
    expect("recalled" in text and "estimate" in text and "seed 1" in text and "median" in text, text)
    dac = write(os.path.join(folder, "dac.csv"), "code,hz\n0,0\n64,400k\n128,560k\n255,900k\n")
    table = rows(score, "--dac", dac)
    expect([row["step"] for row in table] == ["0", "64", "128", "255"], "a row for each code")
    expect(table[0]["seconds"] == "" and table[0]["cut"] == "" and table[1]["seconds"] != "", "a clock of 0 is not played")
    text = run("sweep", score, "--dac", dac).stdout.decode()
    expect("listed but not played: 1" in text, text)
    picture = os.path.join(folder, "dac.png")
    run("sweep", score, "--dac", dac, "--picture", picture, "-o", os.path.join(folder, "dac.wav"))
    expect(read(picture)[:4] == b"\x89PNG", "a picture with a clock that is not played")


def pictures(folder):
    score = write(os.path.join(folder, "t.score"), "hh eh/121 l ow")
    paths = [os.path.join(folder, name) for name in ("a.png", "b.png")]
    for path in paths:
        run("sweep", score, "--clock", "500k..1M", "--steps", "5", "--picture", path)
    expect(read(paths[0]) == read(paths[1]), "the same picture twice")
    width, height = struct.unpack(">II", read(paths[0])[16:24])
    expect(width == 1600 and height > 5 * 120, f"{width} x {height}")
    reports = [os.path.join(folder, name) for name in ("a.html", "b.html")]
    for path in reports:
        run("sweep", score, "--rc", "11.5k,150p,5%", "--report", path, "--item", "<board> & 2", cwd=folder)
    pages = [read(path).decode() for path in reports]
    expect(pages[0].replace("a.html", "b.html") == pages[1], "the same report twice")
    for wanted in ("&lt;board&gt; &amp; 2", "median", "recalled", "estimate", "headphones", "data:image/png", "seed 1"):
        expect(wanted in pages[0], f"{wanted} is not in the report")
    text = run("sweep", os.path.join(SOURCE, "docs/scores/mutter.score"), "--clock", "600k..700k", "--steps", "2").stdout
    expect(b"ESTIMATE" in text, "the default part is called an estimate")


def refusals(folder):
    score = write(os.path.join(folder, "t.score"), "hh eh/121 l ow")
    hour = os.path.join(SOURCE, "docs/scores/hour.score")
    empty = os.path.join(folder, "empty")
    os.mkdir(empty)
    clock = ["--clock", "500k..1M"]
    for arguments, says in (
            ([score], "one of --clock"), ([score, *clock, "--rc", "1k,1n,5"], "not several"), ([*clock], "INPUT"),
            ([score, "--clock", "500k"], "two frequencies"), ([score, *clock, "--steps", "0"], "--steps"),
            ([score, *clock, "--steps", "5000"], "--steps"), ([score, *clock, "--seed", "4"], "go with --rc"),
            ([score, *clock, "--phoneme", "s"], "no clear voice"), ([score, *clock, "--phoneme", "xyz"], "symbol"),
            ([score, *clock, "-o", "x.mp3"], "x.mp3"), ([score, *clock, "-o", "no/x.wav"], "no/x.wav"),
            ([score, *clock, "-o", "%c.wav", "--csv", "no/x.csv"], "no/x.csv"),
            ([score, "--clock", "1M..1M", "--steps", "2", "-o", "%c.wav"], "%n"),
            ([score, *clock, "--steps", "33", "--picture", "x.png"], "at most 32"),
            ([score, *clock, "--steps", "201", "-o", "%n.wav"], "at most 200"),
            ([score, *clock, "--csv", "x", "--json", "x"], "two outputs"), ([score, *clock, "--item", "x"], "--report"),
            ([score, *clock, "--report", "no/x.html", "-o", "x.wav"], "no/x.html"), ([score, *clock, "--csv", score], "overwritten"),
            ([hour, "--clock", "1k..2k"], "600 s"), (["no.score", *clock], "no.score"),
            ([score, "--rc", "10k,150p,5", "--steps", "3"], "--steps"), ([score, "--rc", "1,1p,5"], "1k to 100M"),
            ([score, *clock, "--part", "no"], "no"), ([score, score, *clock], "second"),
            ([score, "--dac", "no.csv"], "no.csv")):
        result = run("sweep", *arguments, status=2, cwd=empty)
        message = result.stderr.decode()
        expect(says in message and message.startswith("hyoid: ") and message.count("\n") == 1, f"{arguments}: {message}")
        expect(result.stdout == b"" and os.listdir(empty) == [], f"{arguments}: something was written")
    silent = write(os.path.join(folder, "silent.score"), "pau s sh")
    table = rows(silent, *clock, "--steps", "2")
    expect(table[0]["f0_hz"] == "" and table[0]["f1_hz"] == "" and table[0]["phonemes"] == "3", "no voice, no pitch")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="hyoid-sweep-") as FOLDER:
        for test in (heard, tempo, scaled, one_file, circuits, pictures, refusals):
            test(FOLDER) if test is not refusals else test(tempfile.mkdtemp(dir=FOLDER))
    print("sweep: well" if failures == 0 else f"sweep: {failures} failures")
    sys.exit(failures != 0)
