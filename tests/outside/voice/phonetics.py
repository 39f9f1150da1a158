#!/usr/bin/python3
"""phonetics.py: the default part's voice against published speech, measured by a phonetics tool that nobody here wrote.

    HYOID=build/hyoid HYOID_SOURCE=. tests/outside/voice/phonetics.py [--part DIR] [--write] [--brief]

Renders sounds with `hyoid render`, lets praat measure them (formants by Burg's method, pitch by autocorrelation, centres of
gravity, levels), and prints one table: target, measured, error, tolerance, source, verdict. Verdicts: pass, FAIL, or `report`
for a row that is only told. The table of docs/voice.md must be the same (not with --part); --write writes it. --brief prints only
failures and the summary.
Exit status: 0, 1 for a failure, 77 if praat is not installed (1 with CI set)."""
import csv
import math
import os
import shutil
import subprocess
import sys
import tempfile
import wave

import numpy

sys.dont_write_bytecode = True
import page

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.environ.get("HYOID_SOURCE", os.path.join(HERE, "..", "..", ".."))
HYOID = os.environ.get("HYOID", "build/hyoid")
TABLES = os.path.join(SOURCE, "reference", "tables")
NOMINAL = 720e3
FILTER = 36
RATE = 22050                     # that of Jongman et al. 2000; everything else is far below it
STEP = (650 / 15, 1900 / 31, 1700 / 15)   # Hz of one code of F1, F2, F3
VOWELS = {"iy": "iy/185", "ih": "ih/185", "eh": "eh/185", "ae": "ae/185", "aa": "aa/250", "ao": "ao/250", "uh": "uh/185",
          "uw": "uw/185", "ah": "ah/185", "er": "er"}
LEVELS = range(4)


def arguments():
    part, write, brief = None, False, False
    rest = sys.argv[1:]
    while rest:
        word = rest.pop(0)
        if word == "--part" and rest:
            part = rest.pop(0)
        elif word == "--write":
            write = True
        elif word == "--brief":
            brief = True
        else:
            sys.exit(f"{word}: no such option\n{__doc__}")
    return part, write, brief


PART, WRITE, BRIEF = arguments()
FOLDER = tempfile.mkdtemp(prefix="hyoid-voice-")


# ---- rendering and measuring; measurements are collected and made in one run of the tool ----

made = {}


def sound(score, clock=NOMINAL, level=1, labels=False):
    """Renders a score once and returns the name of its WAV file."""
    key = (score, clock, level)
    if key not in made:
        made[key] = os.path.join(FOLDER, f"{len(made)}.wav")
        command = [HYOID, "render", "-", "-q", "-o", made[key], "--rate", str(RATE), "--clock", f"{clock:g}", "--level", str(level)]
        command += ["--part", PART] if PART else []
        command += ["--labels", made[key] + ".TextGrid"] if labels else []
        subprocess.run(command, input=score.encode(), check=True)
    return made[key]


def held(phoneme, ms=900, **more):
    return sound(f"{phoneme} rest {ms}ms", **more)


class Later:
    """A measurement that the tool will make."""
    jobs = []

    def __init__(self, what, file, start, end, low=0, high=RATE / 2):
        self.row = (what, file, start, end, low, high)
        self.values = None
        Later.jobs.append(self)

    @staticmethod
    def run():
        todo = [job for job in Later.jobs if job.values is None]
        table = os.path.join(FOLDER, "jobs.txt")
        with open(table, "w") as out:
            out.write("what\tfile\tfrom\tto\tlow\thigh\n")
            out.writelines("\t".join(map(str, job.row)) + "\n" for job in todo)
        lines = subprocess.run(["praat", "--run", os.path.join(HERE, "measure.praat"), table], check=True, capture_output=True,
                               text=True).stdout.splitlines()
        if len(lines) != len(todo):
            sys.exit(f"praat answered {len(lines)} of {len(todo)} questions")
        for job, line in zip(todo, lines):
            job.values = [float("nan") if v == "--undefined--" else float(v) for v in line.split()]

    @property
    def value(self):
        return self.values[0]


def samples(file):
    with wave.open(file) as w:
        return numpy.frombuffer(w.readframes(w.getnframes()), "<i2") / 32768


def table(name):
    with open(os.path.join(TABLES, name), encoding="utf-8") as f:
        return list(csv.DictReader(f))


# ---- the table of results ----

rows = []


def number(x):
    if isinstance(x, str):
        return x
    return f"{x:.0f}" if abs(x) >= 1000 else f"{x:.4g}"


def row(section, item, target, measured, tolerance, unit, source, good=None):
    """good: None compares |measured - target| with the tolerance; True or False decides; 'report' only tells."""
    error = measured - target if not isinstance(target, str) else ""
    if good is None:
        good = abs(error) <= tolerance
    verdict = good if good == "report" else "pass" if good else "FAIL"
    rows.append((section, item, f"{number(target)} {unit}".strip(), f"{number(measured)} {unit}".strip(),
                 f"{error:+.4g}" if error != "" else "", number(tolerance) if tolerance != "" else "", source, verdict))


# ---- the checks ----

def check_vowels():
    published = {r["arpabet"].lower(): r for r in table("peterson_barney_1952.csv") if r["group"] == "men"}
    later = {r["arpabet"].lower(): r for r in table("hillenbrand_1995.csv") if r["group"] == "men"}
    jobs = {(v, l): Later("formants", held(p, level=l), 0.3, 0.85) for v, p in VOWELS.items() for l in LEVELS}
    yield
    for v in VOWELS:
        for k in range(3):
            target = float(published[v][f"f{k + 1}_mean"])
            got = [jobs[v, l].values[k] for l in LEVELS]
            worst = max(got, key=lambda hz: abs(hz - target))
            row("Vowels", f"{v} F{k + 1}, worst of 4 levels", target, worst, STEP[k] + 0.05 * target, "Hz",
                "Peterson & Barney 1952, men; tolerance: a step and 5 %")
    for v in VOWELS:
        for k in range(3):
            target = float(later[v][f"f{k + 1}_mean"])
            got = sum(jobs[v, l].values[k] for l in LEVELS) / 4
            row("Vowels, a second study", f"{v} F{k + 1}, mean of 4 levels", target, got, STEP[k] + 0.05 * target, "Hz",
                "Hillenbrand et al. 1995, men; not a target: the studies differ", "report")


def check_pitch():
    names = {"iy": "iy/185", "uw": "uw/185", "ae": "ae/185", "aa": "aa/250"}
    jobs = {(v, l): Later("pitch", held(p, level=l), 0.3, 0.85) for v, p in names.items() for l in LEVELS}
    clocks = {c: Later("pitch", held("aa/250", ms=1500, clock=c, level=1), 0.4, 1.4) for c in (600e3, 650e3, NOMINAL, 800e3, 850e3)}
    yield
    means = [sum(jobs[v, l].value for v in names) / 4 for l in LEVELS]
    for l in LEVELS:
        low = means[l - 1] if l else 70.0
        row("Pitch", f"level {l}", f"above {number(low)}", means[l], "", "Hz", "four levels: practice; a man's range, 70 to 180 Hz",
            low < means[l] < 180)
    for l in LEVELS:
        st = [12 * math.log2(jobs[v, l].value) for v in names]
        row("Pitch", f"high over low vowels, level {l}", 1.8, 0.5 * (st[0] + st[1] - st[2] - st[3]), 0.9, "semitones",
            "Peterson & Barney 1952 (1.77), Hillenbrand et al. 1995 (1.93), men; half to one and a half times")
    for c, job in clocks.items():
        if c != NOMINAL:
            row("Pitch", f"aa at {c / 1e3:.0f} kHz against 720 kHz", c / NOMINAL, job.value / clocks[NOMINAL].value, 0.001 * c / NOMINAL,
                "", "exactly as the clock: patent, practice; 0.1 %")


def check_nasals():
    jobs = {n: Later("formants", held(n), 0.3, 0.85) for n in ("m", "n", "ng")}
    loud = {n: Later("level", held(n), 0.3, 0.85) for n in ("m", "n", "ng")}
    vowels = [Later("level", held(p), 0.3, 0.85) for p in VOWELS.values()]
    yield
    reference = sum(v.value for v in vowels) / len(vowels)
    for n in jobs:
        row("Nasal murmur", f"{n} first resonance", 275, jobs[n].value, 25 + STEP[0] + 0.05 * 275, "Hz",
            "Stevens 1998, Klatt 1980: 250 to 300 Hz; tolerance: that range, a step and 5 %")
        row("Nasal murmur", f"{n} level against the vowels", "-14..-2", loud[n].value - reference, "", "dB", "trade knowledge",
            -14 <= loud[n].value - reference <= -2)


def check_fricatives():
    pairs = {"s": "z", "sh": "zh", "f": "v", "th": "dh"}
    published = {r["arpabet"].split()[0].lower(): r for r in table("fricative_spectra.csv")}
    name = lambda p: "sh" if p == "sh" else p
    where = {p: held(name(p), ms=1200) for p in list(pairs) + list(pairs.values()) + ["hh"]}
    gravity = {p: Later("gravity", w, 0.3, 1.1) for p, w in where.items()}
    upper = {p: Later("gravity", where[p], 0.3, 1.1, 2000) for p in list(pairs.values())}
    level = {p: Later("level", w, 0.3, 1.1) for p, w in where.items()}
    vowels = [Later("level", held(p), 0.3, 0.85) for p in VOWELS.values()]
    yield
    reference = sum(v.value for v in vowels) / len(vowels)
    source = "Jongman et al. 2000"
    for p in pairs:
        target = float(published[p]["centre_of_gravity_hz"])
        row("Fricatives", f"{p} centre of gravity", target, gravity[p].value, 0.15 * target, "Hz", source + "; 15 %")
    g = {p: gravity[p].value for p in gravity}
    row("Fricatives", "order of centres of gravity", "s > f, th > sh > hh", " ".join(sorted(("s", "f", "th", "sh", "hh"), key=lambda p: -g[p])),
        "", "", source + "; hh: below sh, by its place", g["s"] > max(g["f"], g["th"]) and min(g["f"], g["th"]) > g["sh"] > g["hh"])
    for p in pairs:
        target = float(published[p]["level_re_vowel_db"])
        row("Fricatives", f"{p} level against the vowels", target, level[p].value - reference, 5 if p in ("s", "sh") else 8, "dB",
            source + "; 5 dB, weak ones 8 dB")
    row("Fricatives", "s and sh above f and th", 4, min(level["s"].value, level["sh"].value) - max(level["f"].value, level["th"].value), "at least",
        "dB", source + " (7 to 9 dB)", min(level["s"].value, level["sh"].value) - max(level["f"].value, level["th"].value) >= 4)
    row("Fricatives", "hh level against the vowels", "-28..-8", level["hh"].value - reference, "", "dB", "trade knowledge",
        -28 <= level["hh"].value - reference <= -8)
    for p, v in pairs.items():
        target = float(published[p]["centre_of_gravity_hz"])
        row("Fricatives", f"{v} centre of gravity above 2 kHz", target, upper[v].value, 0.15 * target, "Hz",
            source + " pooled with " + p + "; without the voice's own harmonics", "report")
        row("Fricatives", f"{v} level against the vowels", "-22..0", level[v].value - reference, "", "dB", "trade knowledge; not into silence",
            -22 <= level[v].value - reference <= 0)
    u = {p: upper[p].value for p in upper}
    row("Fricatives", "order above 2 kHz, voiced", "z > zh", " ".join(sorted(u, key=lambda p: -u[p])), "", "", source, u["z"] > u["zh"])


def band(x, low, high):
    """The analytic signal of a band, its edges half-cosines an octave wide: no delay, and they ring for no longer than a few ms."""
    spectrum = numpy.fft.fft(x)
    hz = numpy.maximum(numpy.fft.fftfreq(len(x), 1 / RATE), 1e-3)
    octaves = lambda edge: numpy.clip(numpy.log2(hz / edge) + 0.5, 0, 1)
    rise = lambda edge: 0.5 - 0.5 * numpy.cos(numpy.pi * octaves(edge))
    return 2 * numpy.fft.ifft(spectrum * rise(low) * (1 - rise(high)))


def voice_onset(stop):
    """ms from the release to where the voice (60 to 400 Hz) has a tenth of the vowel's later amplitude, on aSTOPa."""
    x = samples(sound(f"aa/146 {stop} aa/250", level=1))
    chart = {r["symbol"]: float(r["nominal_ms"]) for r in csv.DictReader(open(os.path.join(SOURCE, "reference", "chart.csv"), encoding="utf-8"))}
    start = 0.146 + chart[stop] * 1e-3 * 0.7          # inside the closure
    high = numpy.abs(band(x, 1500, 2 * RATE))
    at = int(start * RATE)
    quiet = high[at - 40:at].max()
    vowel = high[at:at + int(0.25 * RATE)].max()
    release = at + int(numpy.argmax(high[at:] > max(4 * quiet, 0.03 * vowel)))
    envelope = numpy.abs(band(x, 60, 400))
    peak = envelope[release:release + int(0.2 * RATE)].max()
    onset = release + int(numpy.argmax(envelope[release:] > 0.1 * peak))
    return (onset - release) / RATE * 1e3


def check_stops():
    yield
    zue = {r["arpabet"].lower(): float(r["vot_ms"]) for r in table("voice_onset_time.csv") if r["source"].startswith("Zue")}
    vot = {s: voice_onset(s) for s in ("p", "t", "k", "b", "d", "g")}
    for s in vot:
        row("Voice onset time", s, zue[s], vot[s], "", "ms", "Zue 1976; no phoneme is aspiration: it lasts until the next one's voice has risen", "report")
    row("Voice onset time", "order", "p t k > b d g", " > ".join(sorted(vot, key=lambda s: -vot[s])), "", "", "Zue 1976, Lisker & Abramson 1964",
        min(vot[s] for s in "ptk") > max(vot[s] for s in "bdg") + 5)


def check_diphthongs():
    published = {r["arpabet"].lower(): r for r in table("peterson_barney_1952.csv") if r["group"] == "men"}
    paths = {"ay": ("aa/146 iy/103", "aa", "iy", 249), "aw": ("ae/103 aa/71 uw/90", "ae", "uw", 264), "oy": ("ao/146 eh/71 iy/103", "ao", "iy", 320)}
    jobs = {}
    for d, (score, first, last, ms) in paths.items():
        file = sound(score + " rest 100ms", level=1)
        jobs[d] = Later("formants", file, 0.06, 0.13), Later("formants", file, ms / 1e3 - 0.035, ms / 1e3)
    yield
    for d, (score, first, last, ms) in paths.items():
        for k in (0, 1):
            a, z = (float(published[v][f"f{k + 1}_mean"]) for v in (first, last))
            begin, end = jobs[d][0].values[k], jobs[d][1].values[k]
            good = (end - begin) / (z - a) >= 0.6
            row("Diphthongs", f"{d} F{k + 1}", f"{a:.0f} to {z:.0f}", f"{begin:.0f} to {end:.0f}", "60 % of the way",
                "Hz", f"from {first} to {last}, Peterson & Barney 1952", good)


def check_durations():
    chart = list(csv.DictReader(open(os.path.join(SOURCE, "reference", "chart.csv"), encoding="utf-8")))
    score = " ".join(r["code"] for r in chart) + " 0x3e"
    clocks = (650e3, NOMINAL, 800e3)
    files = {c: sound(score, clock=c, labels=True) for c in clocks}
    yield
    for c in clocks:
        tier = open(files[c] + ".TextGrid", encoding="utf-8").read().split("item [2]")[0]
        times = [(float(b.split("xmin =")[1].split()[0]), float(b.split("xmax =")[1].split()[0])) for b in tier.split("intervals [")[1:]]
        spoken = [e - s for s, e in times][1:len(chart) + 1]  # before the first latch nothing is spoken
        worst = max((abs(got - float(r["nominal_ms"]) * 1e-3 * NOMINAL / c) * 1e3, r["symbol"]) for got, r in zip(spoken, chart))
        row("Durations", f"all 64 at {c / 1e3:.0f} kHz, largest error ({worst[1]})", 0, worst[0], FILTER / c * 1e3 + 0.002, "ms",
            "the chart, recalled, as 1 / clock; one filter cycle")


CHECKS = (check_vowels, check_pitch, check_nasals, check_fricatives, check_stops, check_diphthongs, check_durations)


def print_table():
    shown = [r for r in rows if not BRIEF or r[-1] == "FAIL"]
    head = ("section", "what", "target", "measured", "error", "tolerance", "source", "verdict")
    widths = [max(len(r[i]) for r in shown + [head]) for i in range(len(head))]
    for r in [head] + shown:
        print("  ".join(c.ljust(w) for c, w in zip(r, widths)).rstrip())


def block():
    version = subprocess.run(["praat", "--version"], check=True, capture_output=True, text=True).stdout.split()[1]
    lines = [f"Measured by praat {version}.", "", f"{summary()}. `report`: told, not required."]
    section = None
    for r in rows:
        if r[0] != section:
            section = r[0]
            lines += ["", f"### {section}", "", "| what | target | measured | error | tolerance | verdict | source |", "|---|---|---|---|---|---|---|"]
        lines.append(f"| {r[1]} | {r[2]} | {r[3]} | {r[4]} | {r[5]} | {r[7]} | {r[6]} |")
    return "\n".join(lines) + "\n"


def summary():
    count = lambda verdict: sum(r[-1] == verdict for r in rows)
    return f"{len(rows)} rows: {count('pass')} pass, {count('FAIL')} fail, {count('report')} only reported"


def main():
    if shutil.which("praat") is None:
        print("SKIP: praat is not installed")
        return 1 if os.environ.get("CI") else 77
    try:
        running = [check() for check in CHECKS]
        for check in running:
            next(check)
        Later.run()
        for check in running:
            next(check, None)
    finally:
        shutil.rmtree(FOLDER)
    print_table()
    print(summary())
    good = all(r[-1] != "FAIL" for r in rows)
    if PART is None:
        if WRITE:
            page.write("phonetics", block())
        good = page.is_current_or_other("phonetics", block()) and good
    return 0 if good else 1


sys.exit(main())
