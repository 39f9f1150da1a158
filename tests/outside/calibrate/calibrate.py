#!/usr/bin/env python3
"""Calibration, blind, of parts that nobody tuned: calibrate.py quick | proof [FIRST-LAST] [CONDITION...]

Random plausible parts speak the calibration survey at odd clocks; their recordings are degraded by known amounts (noise,
hum, DC, slow gain, a telephone's band, other file formats) and calibrated from the default part. What was found is held
against the truth.

quick: one part, the short survey, the checks that CI makes. proof: the whole table (docs/calibrate.md); takes hours."""
import csv
import json
import math
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time

HYOID, SOURCE = os.environ["HYOID"], os.environ["HYOID_SOURCE"]
HERE = os.path.dirname(os.path.abspath(__file__))
DEGRADE = os.environ.get("HYOID_DEGRADE", "")
CONDITIONS = {
    "clean": [],
    "noise40": ["seed=%d", "snr=40"],
    "noise25": ["seed=%d", "snr=25"],
    "hum": ["hum=50,0.004,0.001,0.002", "dc=0.01"],
    "telephone": ["band=300,3400"],
    "wow": ["swell=0.01,0.5"],
    "flac": [],
}
failures = []


def check(what, good):
    print(("ok    " if good else "FAIL  ") + what, flush=True)
    if not good:
        failures.append(what)


def run(*command, status=0):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != status:
        sys.exit("%s: exit status %d, %d was expected\n%s%s" % (" ".join(command), done.returncode, status, done.stdout, done.stderr))
    return done


def read_part(folder):
    phonemes, constants = {}, {}
    with open(os.path.join(folder, "phonemes.csv"), newline="", encoding="utf-8") as rows:
        for row in csv.DictReader(rows):
            phonemes[int(row["code"], 16), row["quantity"]] = float(row["value"])
    with open(os.path.join(folder, "constants.csv"), newline="", encoding="utf-8") as rows:
        for row in csv.DictReader(rows):
            constants[row["name"]] = float(row["value"])
    return phonemes, constants


def hz(part, code, formant, value):
    """Where a formant stands with a code, by the law of the switched-capacitor section (docs/chip.md)."""
    phonemes, c = part
    register = 8 * value + value // 4 if formant == "f2" else 17 * value
    k = c[formant + ".k0"] + c[formant + ".ks"] * register
    k6 = c[formant + ".k6"] + (c["f2_k6_step"] * phonemes[code, "bw2"] if formant == "f2" else 0)
    x = (2 + k6 - k * k) / (2 * math.sqrt(1 + k6))
    return c["nominal_hz"] / c["filter_clocks"] * math.acos(max(-1, min(1, x))) / (2 * math.pi)


def compare(truth, found):
    """Formants of voiced codes within one step of the truth's own code; durations; pitch."""
    good = total = 0
    for code in range(64):
        if truth[0][code, "va"] == 0 or truth[0][code, "pause"] == 1:
            continue
        for formant in ("f1", "f2", "f3"):
            v = truth[0][code, formant]
            there = hz(truth, code, formant, v)
            step = abs(hz(truth, code, formant, v + (1 if v < 8 else -1)) - there)
            total += 1
            good += abs(hz(found, code, formant, found[0][code, formant]) - there) <= step
    durations = sum(truth[0][c, "duration"] == found[0][c, "duration"] for c in range(64))
    pitch = sum(truth[1]["pitch_period[%d]" % i] == found[1]["pitch_period[%d]" % i] for i in range(4))
    return good, total, durations, pitch


def compare_levels(truth, found):
    """The share of voice and noise amplitudes within a step, and the step that they have in common (a recording's gain hides it)."""
    off = sorted(found[0][key] - truth[0][key] for key in truth[0] if key[1] in ("va", "fa") and truth[0][key] > 0)
    return sum(abs(o) <= 1 for o in off) / len(off), off[len(off) // 2]


def compare_rest(truth, found):
    """What the recordings tell less of: second bandwidths of voiced codes within a step and within two, exact rates of the
    transitions (of formants and amplitudes), the pulse's length."""
    off = [abs(found[0][c, "bw2"] - truth[0][c, "bw2"]) for c in range(64) if truth[0][c, "va"] > 0 and truth[0][c, "pause"] == 0]
    rates = sum(truth[1][name] == found[1][name] for name in ("formant_cycles", "amplitude_cycles"))
    return "bandwidths within a step %.0f %%, within two %.0f %%; %d of 2 rates exact; pulse %+.1f %% long" % (
        100 * sum(o <= 1 for o in off) / len(off), 100 * sum(o <= 2 for o in off) / len(off), rates,
        100 * (found[1]["pulse_length"] / truth[1]["pulse_length"] - 1))


def one(folder, seed, condition, short):
    name = os.path.join(folder, "%d-%s" % (seed, condition))
    part = os.path.join(folder, "part-%d" % seed)
    clock = 650000 + (seed * 37373) % 150000
    if not os.path.exists(part):
        run(sys.executable, os.path.join(HERE, "random_part.py"), str(seed),
            os.path.join(SOURCE, "reference/parts/default"), part)
    told = name + ".score"
    run(HYOID, "survey", "--calibration", *(["--short"] if short else []), "-q", "-o", told)
    with open(told, encoding="utf-8") as text:
        score = text.read()
    sung = name + "-board.score"
    with open(sung, "w", encoding="utf-8") as text:  # the board's oscillator is off; the input says the nominal clock
        text.write(score.replace("clock 720000", "clock %d" % clock))
    sound = name + ".wav"
    run(HYOID, "render", sung, "--part", part, "--rate", "44100", "--bits", "32", "-q", "-o", sound)
    bad = name + "-bad" + (".flac" if condition in ("noise40", "flac") else ".wav")
    run(DEGRADE, sound, bad, "gain=-10", *[o % seed if "%d" in o else o for o in CONDITIONS[condition]])
    sound = bad
    out = name + "-found"
    report = run(HYOID, "calibrate", sound, "--input", told, "-o", out, "--json", name + ".json", "--report", name + ".html",
                 *(["--coloured"] if condition == "telephone" else []), *os.environ.get("HYOID_CALIBRATE_OPTIONS", "").split())
    with open(name + ".json", encoding="utf-8") as text:
        result = json.load(text)
    good, total, durations, pitch = compare(read_part(part), read_part(out))
    level, level_step = compare_levels(read_part(part), read_part(out))
    print("seed %d %s: formants %d of %d (%.1f %%), durations exact %d of 64, pitch periods exact %d of 4, clock off by %.4f %%, "
          "held-out distance %.2f -> %.2f dB, levels within a step %.1f %%, %+d in common" %
          (seed, condition, good, total, 100 * good / total, durations, pitch,
           100 * (result["takes"][0]["clock_hz"] / clock - 1), result["held_out_before_db"], result["held_out_db"],
           100 * level, level_step), flush=True)
    print("    " + compare_rest(read_part(part), read_part(out)), flush=True)
    return {"level_step": level_step, "note": result["takes"][0]["note"], "formants": good / total, "durations": durations, "pitch": pitch, "out": out, "html": name + ".html",
            "clock": abs(result["takes"][0]["clock_hz"] / clock - 1), "held": result["held_out_db"],
            "before": result["held_out_before_db"], "sound": sound, "told": told, "text": report.stdout}


def refusals(folder, done):
    """What can't be calibrated is refused in one line, and nothing is written."""
    wav, score = done["sound"], done["told"]
    out = os.path.join(folder, "nothing")
    silence = os.path.join(folder, "silence.score")
    with open(silence, "w", encoding="utf-8") as text:
        text.write("clock 720k\npau/47 rest 3s\npau/47\n")
    quiet = os.path.join(folder, "silence.wav")
    run(HYOID, "render", silence, "-q", "-o", quiet)
    pins = os.path.join(folder, "pins.csv")
    with open(pins, "w", encoding="utf-8") as text:
        text.write("time_s,signal,value\n0,clock_hz,720000\n0.1,p0,1\n0.2,strobe,1\n")
    for what, command, words in (
            ("no recording", ["--input", score, "-o", out], "needs a recording"),
            ("no input", [wav, "-o", out], "--input"),
            ("no output", [wav, "--input", score], "needs -o"),
            ("a part that exists", [wav, "--input", score, "-o", done["out"]], "exists already"),
            ("no such recording", [wav + "x", "--input", score, "-o", out], "No such file"),
            ("a recording that is text", [score, "--input", score, "-o", out], "score"),
            ("silence", [quiet, "--input", score, "-o", out], "silen"),
            ("single pins", [wav, "--input", pins, "-o", out], "single pins"),
            ("no clock", [wav, "--input", score, "-o", out, "--measured-clock", "fast"], "no clock frequency"),
            ("a clock far too slow", [wav, "--input", score, "-o", out, "--measured-clock", "999"], "from 1 kHz"),
            ("nothing to go on from", [wav, "--input", score, "-o", out, "--resume"], "to go on from"),
            ("an input as output", [wav, "--input", score, "-o", out, "--json", score], "would be overwritten"),
            ("a recording as output", [wav, "--input", score, "-o", out, "--report", wav], "would be overwritten"),
            ("one file for two outputs", [wav, "--input", score, "-o", out, "--json", out + ".x", "--report", out + ".x"],
             "named for two outputs"),
            ("no level", [wav, "--input", score, "-o", out, "--level", "7"], "from 0 to 3")):
        answer = run(HYOID, "calibrate", *command, status=2)
        check("%s is refused in one line: %s" % (what, answer.stderr.strip()),
              answer.stderr.count("\n") == 1 and words in answer.stderr and not os.path.exists(out)
              and not os.path.exists(out + ".unfinished"))


def bytes_of(folder):
    found = {}
    for name in ("phonemes.csv", "constants.csv"):
        with open(os.path.join(folder, name), "rb") as file:
            found[name] = file.read()
    return found


def ordinary_speech(folder):
    """A few words with their score or write log, on other numbers of threads, interrupted and resumed."""
    score, wav, log = (os.path.join(folder, "words." + e) for e in ("score", "wav", "csv"))
    with open(score, "w", encoding="utf-8") as text:
        text.write("clock 720k\nlevel 1 t aa iy d ih z hh aa iy pau/47 t ax n aa iy t pau/47\n")
    run(HYOID, "render", score, "--part", os.path.join(folder, "part-3"), "-q", "-o", wav, "--log", log)
    once, more, logged, cut = (os.path.join(folder, "words-" + n) for n in ("once", "more", "logged", "cut"))
    said = run(HYOID, "calibrate", wav, "-i", score, "-o", once, "--threads", "1").stdout
    run(HYOID, "calibrate", wav, "-i", score, "-o", more, "--threads", "3")
    check("the number of threads changes nothing", bytes_of(once) == bytes_of(more))
    check("what a few words don't tell is kept and counted", " kept" in said and "of 64 were said" in said)
    said = run(HYOID, "calibrate", wav, "-i", log, "-o", logged).stdout
    check("a write log tells no durations", " 0 durations measured" in said)
    piped = os.path.join(folder, "words-piped")
    said = run(HYOID, "calibrate", wav, "-i", score, "-o", piped, "--json", "-").stdout
    check("JSON on standard output stands alone", json.loads(said)["part"] == piped and os.path.exists(piped))
    full = os.path.join(folder, "words-full")
    with open("/dev/full", "w", encoding="utf-8") as nowhere:
        done = subprocess.run([HYOID, "calibrate", wav, "-i", score, "-o", full, "--json", "-"], stdout=nowhere,
                              stderr=subprocess.PIPE, text=True, check=False)
    check("what can't be written leaves no part: %s" % done.stderr.strip(),
          done.returncode == 2 and done.stderr.count("\n") <= 2 and not os.path.exists(full))
    command = [HYOID, "calibrate", wav, "-i", score, "-o", cut]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as going:
        while going.poll() is None and not os.path.exists(cut + ".unfinished/constants.csv"):
            time.sleep(0.01)
        going.send_signal(signal.SIGINT)
        going.wait()
        check("an interrupt ends it", going.returncode == -signal.SIGINT)
    run(HYOID, "part", "check", cut + ".unfinished")
    check("an interrupt leaves the part so far and nothing else",
          sorted(os.listdir(cut + ".unfinished")) == ["constants.csv", "phonemes.csv"] and not os.path.exists(cut))
    check("that is not gone over by chance", "--resume" in run(*command, status=2).stderr)
    run(*command, "--resume")
    check("it is gone on from", os.path.exists(cut) and not os.path.exists(cut + ".unfinished"))


def perfect_recording(folder):
    """A recording of the very part that the search begins from: what chance offers must not be taken."""
    score, wav, out = (os.path.join(folder, "itself" + e) for e in (".score", ".wav", ""))
    with open(score, "w", encoding="utf-8") as text:
        text.write("clock 720k\n" + "level 1 t aa iy d ih z hh aa iy pau/47 t ax n aa iy t pau/47\n" * 6)
    run(HYOID, "render", score, "-q", "-o", wav)
    run(HYOID, "calibrate", wav, "-i", score, "-o", out, "--json", out + ".json", "--measured-clock", "720k")
    with open(out + ".json", encoding="utf-8") as text:
        result = json.load(text)
    was, now = read_part(os.path.join(SOURCE, "reference/parts/default")), read_part(out)
    moved = [k for k in was[0] if was[0][k] != now[0][k] and k[1] != "duration"]  # few words tell these to a millisecond
    vouched = [(c["code"], q) for c in result["codes"] for q, n in c["numbers"].items()
               if n["determined"] and n["value"] == n["prior"] and n["gain_db2"] > 0]
    check("nothing vouches for what was given back: %s" % vouched, not vouched)
    check("no phoneme is moved by a recording of the part itself: %s" % moved, not moved)
    check("nor is it called a part of one: %r" % result["takes"][0]["note"], result["takes"][0]["note"] == "")
    check("held-out phonemes come no farther: %.3f -> %.3f dB" % (result["held_out_before_db"], result["held_out_db"]),
          result["held_out_phonemes"] > 0 and result["held_out_db"] <= result["held_out_before_db"])


def quick(folder):
    perfect_recording(folder)
    done = one(folder, 3, "noise40", True)
    check("formants of at least 85 %% of the voiced codes within a step: %.1f %%" % (100 * done["formants"]),
          done["formants"] >= 0.85)
    check("all durations exact", done["durations"] == 64)
    check("no step that all levels have in common: %d" % done["level_step"], done["level_step"] == 0)
    check("a whole recording is not called a part of one: %r" % done["note"], done["note"] == "")
    check("all pitch periods exact", done["pitch"] == 4)
    check("clock within 0.05 %", done["clock"] < 0.0005)
    check("held-out distance at least halved: %.2f -> %.2f dB" % (done["before"], done["held"]), done["held"] < 0.55 * done["before"])
    run(HYOID, "part", "check", done["out"])
    with open(os.path.join(done["out"], "phonemes.csv"), encoding="utf-8") as rows:
        text = rows.read()
    check("what was measured says so", "measured: 3-noise40-bad.flac, undated, with hyoid calibrate" in text)
    check("what was not keeps its provenance", "phonetic class" in text)
    with open(done["html"], encoding="utf-8") as page:
        text = page.read()
    check("the report stands alone", "<script" not in text and "http://" not in text.replace("http://www.w3.org", "")
          and "data:image/png" in text and "estimate" in text)
    check("the report lists what changed, as it stands and as it sounds", "What changed" in text and "pitch_period[0]" in text and " Hz<" in text)
    check("no unfinished part is left", not os.path.exists(done["out"] + ".unfinished"))
    refusals(folder, done)
    ordinary_speech(folder)


def proof(folder, arguments):
    first, _, last = (arguments[0] if arguments else "1-10").partition("-")
    seeds = range(int(first), int(last or first) + 1)
    for condition in arguments[1:] or CONDITIONS:
        results = [one(folder, seed, condition, False) for seed in seeds]
        n = len(results)
        print("| %s | %.1f %% | %d of %d | %d of %d | %.4f %% | %.2f dB | %.2f dB |" %
              (condition, 100 * sum(r["formants"] for r in results) / n, sum(r["durations"] for r in results), 64 * n,
               sum(r["pitch"] for r in results), 4 * n, 100 * max(r["clock"] for r in results),
               sum(r["before"] for r in results) / n, sum(r["held"] for r in results) / n), flush=True)


def main():
    folder = tempfile.mkdtemp(prefix="hyoid-calibrate-")
    try:
        if sys.argv[1] == "quick":
            quick(folder)
        else:
            proof(folder, sys.argv[2:])
    finally:
        shutil.rmtree(folder)
    sys.exit(1 if failures else 0)


main()
