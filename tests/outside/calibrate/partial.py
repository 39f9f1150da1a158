#!/usr/bin/env python3
"""Calibration with what people have: a recording that begins late, with its loudest phonemes clipped; and one of something else than
the input. HYOID names the program, HYOID_SOURCE the tree."""
import array
import csv
import json
import os
import re
import subprocess
import sys
import tempfile
import wave

HYOID, SOURCE = os.environ["HYOID"], os.environ["HYOID_SOURCE"]
HZ, LATE_S, CLIP = 701337, 8.0, 0.8
failed = 0


def check(good, what):
    global failed
    print(("ok    " if good else "FAIL  ") + what, flush=True)
    failed += not good


def run(*arguments, status=0):
    done = subprocess.run([HYOID, *arguments], capture_output=True, text=True, check=False, timeout=600)
    if done.returncode != status:
        sys.exit(f"{' '.join(arguments)}: exit {done.returncode}, not {status}: {done.stdout}{done.stderr}")
    return done


def durations(part):
    with open(part + "/phonemes.csv", newline="", encoding="utf-8") as rows:
        return {row["code"]: float(row["value"]) for row in csv.DictReader(rows) if row["quantity"] == "duration"}


def late_and_clipped(source, target):
    """The recording from LATE_S on, louder than its 16 bits hold."""
    with wave.open(source, "rb") as file:
        rate, frames = file.getframerate(), array.array("h", file.readframes(file.getnframes()))
    frames = frames[int(LATE_S * rate):]
    top = int(CLIP * max(max(frames), -min(frames)))
    frames = array.array("h", (max(-top, min(top, x)) for x in frames))
    with wave.open(target, "wb") as file:
        file.setparams((1, 2, rate, len(frames), "NONE", ""))
        file.writeframes(frames.tobytes())


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        run("survey", "--calibration", "--short", "-o", "survey.score", "-q")
        run("part", "export", "base")
        subprocess.run([sys.executable, "-B", os.path.join(SOURCE, "tests/outside/calibrate/random_part.py"), "7", "base", "truth"],
                       check=True)
        with open("survey.score", encoding="utf-8") as file:
            text = file.read()
        with open("odd.score", "w", encoding="utf-8") as file:
            file.write(text.replace("clock 720000", f"clock {HZ}"))
        run("render", "odd.score", "--part", "truth", "-o", "all.wav", "--rate", "44100", "-q")
        late_and_clipped("all.wav", "late.wav")

        done = run("calibrate", "late.wav", "--input", "survey.score", "-o", "part", "--json", "part.json")
        with open("part.json", encoding="utf-8") as file:
            found = json.load(file)
        take = found["takes"][0]
        told = re.search(r"PARTIAL: phonemes (\d+) to (\d+) of the input's (\d+)", done.stdout)
        check(told is not None and 60 < int(told[1]) < 90 and int(told[2]) == int(told[3]), f"which part it is: {take['note']}")
        check(0 < take["passed_over"] == take["clipped_phonemes"] < take["phonemes"] / 3 and "passed over" in done.stdout,
              f"{take['passed_over']} of {take['phonemes']} phonemes passed over as clipped")
        check(abs(take["clock_hz"] / HZ - 1) < 5e-4, f"clock {take['clock_hz']:.1f} Hz, {take['clock_from']}")
        ours, truth = durations("part"), durations("truth")
        wrong = sum(abs(ours[code] - truth[code]) > 0.5 for code in truth)
        check(wrong <= 3, f"{wrong} of {len(truth)} durations off by more than half a millisecond")
        check(found["held_out_db"] < 2, f"held out: {found['held_out_before_db']:.2f} dB before, {found['held_out_db']:.2f} dB now")

        # the recording of another text: no part of the survey is in it
        hour = os.path.join(SOURCE, "docs", "scores", "hour.score")
        run("render", hour, "-o", "hour.wav", "-q")
        before = sorted(os.listdir("."))
        done = run("calibrate", "hour.wav", "--input", "survey.score", "-o", "none", status=2)
        check("no part of that is found" in done.stderr and done.stderr.count("\n") == 1, f"another text: {done.stderr.strip()}")
        check(sorted(os.listdir(".")) == before, "nothing is left behind")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
