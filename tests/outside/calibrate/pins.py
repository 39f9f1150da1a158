#!/usr/bin/env python3
"""Calibration by the pins: durations and request's delay of a part that nobody tuned come back exactly from captures of its pins.
HYOID names the program, HYOID_SOURCE the tree."""
import csv
import json
import os
import random
import subprocess
import sys
import tempfile

HYOID, SOURCE = os.environ["HYOID"], os.environ["HYOID_SOURCE"]
sys.path.insert(0, os.path.join(SOURCE, "tests", "outside", "timing"))
import captures as c  # noqa: E402  (the path is set first)

HZ, DELAY, CYCLES_PER_MS = 693217.0, 2, 20
PINS = c.PINS + ["clock"]
failed = 0


def check(good, what):
    global failed
    if not good:
        failed += 1
        print("FAIL: " + what)


def run(*arguments, status=0):
    done = subprocess.run([HYOID, *arguments], capture_output=True, text=True, check=False, timeout=600)
    check(done.returncode == status, f"{' '.join(arguments)}: exit {done.returncode}, not {status}: {done.stderr}")
    return done


def rows(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def durations(part):
    return {row["code"]: row for row in rows(part + "/phonemes.csv") if row["quantity"] == "duration"}


def constant(part, name):
    return next(row for row in rows(part + "/constants.csv") if row["name"] == name)


def cycles(row):
    return round(float(row["value"]) * CYCLES_PER_MS)


def make_part(seed):
    """Durations by up to 10 % off and no whole milliseconds, another delay; sounds stay."""
    rng = random.Random(seed)
    run("part", "export", "truth")
    for table, change in (("phonemes", "duration"), ("constants", "request_delay")):
        all_rows = rows(f"truth/{table}.csv")
        for row in all_rows:
            if row.get("quantity", row.get("name")) == change:
                row["value"] = (str(round(float(row["value"]) * rng.uniform(0.9, 1.1) * CYCLES_PER_MS) / CYCLES_PER_MS)
                                if change == "duration" else str(DELAY))
        with open(f"truth/{table}.csv", "w", newline="", encoding="utf-8") as file:
            out = csv.DictWriter(file, all_rows[0].keys(), lineterminator="\n")
            out.writeheader()
            out.writerows(all_rows)
    run("part", "check", "truth")


def compare(part, truth, exact):
    """How many of the 64 durations are right; those that are called exact must all be."""
    found, meant = durations(part), durations(truth)
    right = sum(cycles(found[code]) == cycles(meant[code]) for code in meant)
    for code in meant:
        if found[code]["source"].endswith("; exact"):
            check(cycles(found[code]) == cycles(meant[code]), f"{part}, {code}: {cycles(found[code])} called exact, not {cycles(meant[code])}")
    called = sum(row["source"].endswith("; exact") for row in found.values())
    print(f"{part}: {right} of 64 durations right, {called} called exact")
    check(called >= exact, f"{part}: only {called} are called exact")
    return right


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        make_part(5)
        with open("odd.score", "w", encoding="utf-8") as file:
            file.write(f"clock {HZ:.0f} answer 0us " + " ".join(f"0x{code:02x}" for code in range(64)) +
                       " answer 37us " + " ".join(f"0x{code:02x}" for code in range(63, -1, -1)))
        run("render", "odd.score", "--part", "truth", "-o", "chip.wav", "--pins", "pins.vcd", "-q")
        edges, end = c.read_pins("pins.vcd")
        clocked = c.with_clock(edges, end, HZ)

        # a capture alone: a dump that states its clock, samples with the clock's pin, samples whose clock a counter showed
        done = run("calibrate", "--capture", "pins.vcd", "-o", "by-dump", "--date", "today")
        check(compare("by-dump", "truth", 60) >= 62, "the dump's durations")
        check(cycles(durations("by-dump")["0x15"]) > 0 and constant("by-dump", "request_delay")["value"] == str(DELAY), done.stdout)
        check("pins.vcd, today, the pins" in constant("by-dump", "request_delay")["source"], "no provenance")
        check(constant("by-dump", "output_gain") == constant("truth", "output_gain"), "sounds were not kept")
        runs, count = c.sampled(clocked, end, 12e6, PINS)
        c.write_session("pins.sr", runs, count, 12e6, PINS, piece=777777)
        run("calibrate", "--capture", "pins.sr", "-o", "by-session")
        check(compare("by-session", "truth", 60) >= 62, "the session's durations")
        check(constant("by-session", "request_delay")["value"] == str(DELAY), "the session's delay")
        runs, count = c.sampled(edges, end, 1e6, c.PINS)
        c.write_session("slow.sr", runs, count, 1e6, c.PINS)
        run("calibrate", "--capture", "slow.sr", "-o", "by-counter", "--measured-clock", f"{HZ:.0f}")
        check(compare("by-counter", "truth", 20) >= 30, "durations at 1 MHz")
        kept = constant("by-counter", "request_delay")
        check("measured" not in kept["source"] and kept["value"] == "1", f"a delay that 1 MHz can't tell: {kept}")

        # refusals: no clock, none of a capture, what is of no use without a recording; nothing is left behind
        before = sorted(os.listdir("."))
        for arguments, word in ((["--capture", "slow.sr"], "--measured-clock"), (["--capture", "chip.wav"], "chip.wav"),
                                (["--capture", "none.vcd"], "none.vcd"), (["--map", "p0=D0"], "calibrate needs a recording"),
                                (["chip.wav", "--input", "odd.score", "--map", "p0=D0"], "--capture"),
                                (["--capture", "pins.vcd", "--json", "x.json"], "--json")):
            done = run("calibrate", *arguments, "-o", "none", status=2)
            check(word in done.stderr and done.stderr.count("\n") == 1, f"{arguments}: {done.stderr!r}")
        check(sorted(os.listdir(".")) == before, "a refusal leaves files behind")

        # with its recording: the clock comes from the pin, durations are the capture's; of another chip it is refused
        with open("words.score", "w", encoding="utf-8") as file:
            file.write("clock 720000 rest 300ms repeat 3 { hh ax l ow pau w er l d pau s ih k s pau f aa v pau t ae k pau sh iy } rest 300ms\n")
        with open("words.score", encoding="utf-8") as file:
            text = file.read()
        with open("odd.score", "w", encoding="utf-8") as file:
            file.write(text.replace("720000", f"{HZ:.0f}"))
        run("render", "odd.score", "--part", "truth", "-o", "chip.wav", "--pins", "pins.vcd", "-q")
        run("render", "odd.score", "-o", "other.wav", "--pins", "other.vcd", "-q")
        run("calibrate", "chip.wav", "--input", "words.score", "--capture", "pins.vcd", "-o", "both", "--json", "both.json")
        compare("both", "truth", 15)
        with open("both.json", encoding="utf-8") as file:
            found = json.load(file)
        print(f"with its recording: {found['capture']}, clock {found['takes'][0]['clock_hz']:.1f}")
        check(found["capture"]["durations_differing"] == 0 and found["capture"]["request_delay_clocks"] == DELAY, "the JSON")
        check(abs(found["takes"][0]["clock_hz"] / HZ - 1) < 1e-5 and "capture" in found["takes"][0]["clock_from"], "the clock")
        done = run("calibrate", "chip.wav", "--input", "words.score", "--capture", "other.vcd", "-o", "none", status=2)
        check("same chip" in done.stderr and not os.path.exists("none"), f"another chip's pins: {done.stderr}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
