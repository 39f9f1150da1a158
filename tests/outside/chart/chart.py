#!/usr/bin/python3
"""chart.py: `hyoid chart` as a user sees it, and its measurements against a phonetics tool that nobody here wrote.

    HYOID=build/hyoid HYOID_SOURCE=. tests/outside/chart/chart.py

Each code is rendered by `hyoid render`, held, and measured by praat: formants (Burg), level, centre of gravity. Where the chart
has a figure the tool must agree; where it has none, the reason is looked for. Exit status 0 or 1."""
import csv
import io
import json
import math
import os
import shutil
import struct
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.environ.get("HYOID_SOURCE", os.path.join(HERE, "..", "..", ".."))
HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
FORMANTS = ("measured_f1_hz", "measured_f2_hz", "measured_f3_hz")
FORMANT_SHARE, FORMANT_HZ = 0.02, 8     # by which two programs may differ
LEVEL_DB, GRAVITY_SHARE = 0.6, 0.06     # noise is never the same twice
failures = 0


def expect(well, text):
    global failures
    if not well:
        failures += 1
        print(f"FAIL: {text}")


def run(*arguments, status=0):
    result = subprocess.run([HYOID, *arguments], capture_output=True, text=True, check=False, timeout=120)
    expect(result.returncode == status, f"hyoid {' '.join(arguments)}: status {result.returncode}: {result.stderr}")
    return result


def chart(*arguments):
    return list(csv.DictReader(io.StringIO(run("chart", "--csv", *arguments).stdout)))


def forms_agree(rows):
    data = json.loads(run("chart", "--json").stdout)
    table = run("chart").stdout.splitlines()
    expect(len(rows) == len(data["phonemes"]) == 64, "64 codes")
    lines = {line[:4]: line for line in table if line.startswith("0x")}
    for row, other in zip(rows, data["phonemes"]):
        for key in FORMANTS + ("level_db", "gravity_hz", "f1_hz", "f2_hz", "f3_hz"):
            text = "" if other[key] is None else f"{other[key]:.1f}" if key == "level_db" else str(other[key])
            expect(row[key] == text, f"{row['code']} {key}: CSV {row[key]!r}, JSON {text!r}")
            expect(row[key] in lines[row["code"]].split() or row[key] == "", f"{row['code']} {key} in the table")
        expect("0" not in [row[key] for key in FORMANTS], f"{row['code']}: a formant of 0 Hz")
    return data


def by_praat(folder):
    for code in range(64):
        path = os.path.join(folder, "score")
        with open(path, "w", encoding="utf-8") as file:
            file.write(f"level 1\n0x{code:02x}\nrest 2s\n")
        run("render", path, "-o", os.path.join(folder, f"{code:02x}.wav"), "--rate", "22050", "--bits", "32", "-q")
    os.remove(path)
    text = subprocess.run(["praat", "--run", os.path.join(HERE, "measure.praat"), folder, "1.0", "2.0"],
                          capture_output=True, text=True, check=True, timeout=120).stdout
    found = {}
    for line in text.splitlines():
        name, *figures = line.split()
        found[int(name[:2], 16)] = [float(f) if f != "--undefined--" else math.nan for f in figures]
    return found


def against_praat(rows):
    folder = tempfile.mkdtemp(prefix="hyoid-chart-")
    found = by_praat(folder)
    shutil.rmtree(folder)
    formants = worst = 0
    for code, row in enumerate(rows):
        *hz, rms, gravity = found[code]
        name = f"{row['code']} {row['symbol']}"
        if row["level_db"] == "":
            expect(rms < 1e-5, f"{name} is silent in the chart, but sounds: rms {rms}")
            continue
        expect(abs(20 * math.log10(rms) - float(row["level_db"])) <= LEVEL_DB,
               f"{name}: level {row['level_db']}, praat {20 * math.log10(rms):.2f}")
        expect(abs(gravity - float(row["gravity_hz"])) <= GRAVITY_SHARE * gravity + 15,
               f"{name}: gravity {row['gravity_hz']}, praat {gravity:.0f}")
        for key, there in zip(FORMANTS, hz):
            if row[key] == "":
                continue
            formants += 1
            miss = abs(float(row[key]) - there)
            worst = max(worst, miss / there)
            expect(miss <= FORMANT_SHARE * there + FORMANT_HZ, f"{name}: {key} {row[key]}, praat {there:.0f}")
    expect(formants >= 90, f"only {formants} formants were compared")
    print(f"{formants} formants against praat: largest difference {100 * worst:.2f} %")


def png_size(path):
    with open(path, "rb") as file:
        head = file.read(24)
    expect(head[:8] == b"\x89PNG\r\n\x1a\n", f"{path} is no PNG")
    return struct.unpack(">II", head[16:24])


def part_in_use(rows):
    """--part is what is measured; the picture is the same twice and another for another part."""
    folder = tempfile.mkdtemp(prefix="hyoid-chart-")
    part = os.path.join(folder, "part")
    run("part", "export", part)
    same = chart("--part", part)
    expect([{**row, "note": ""} for row in same] == [{**row, "note": ""} for row in rows], "an export measures alike")
    path = os.path.join(part, "constants.csv")
    with open(path, encoding="utf-8", newline="") as file:
        table = list(csv.reader(file))
    for row in table:
        if row[0] == "output_gain":
            row[1] = str(float(row[1]) / 2)
    with open(path, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(table)
    softer = chart("--part", part)
    for row, other in zip(rows, softer):
        if row["level_db"] != "":
            expect(abs(float(row["level_db"]) - float(other["level_db"]) - 6.02) < 0.15, f"{row['code']}: half as loud")
    pictures = [os.path.join(folder, name) for name in ("a.png", "b.png", "c.png")]
    result = run("chart", "--picture", pictures[0])
    expect(result.stdout == "", "a picture alone prints no table")
    run("chart", "--picture", pictures[1], "--csv", "-o", os.path.join(folder, "x.csv"))
    run("chart", "--picture", pictures[2], "--part", part)
    expect(png_size(pictures[0]) == (1600, 2260), "size of the picture")
    data = [open(p, "rb").read() for p in pictures]
    expect(data[0] == data[1], "the picture is not the same twice")
    expect(data[0] != data[2], "another part gives the same picture")
    with open(os.path.join(folder, "x.csv"), encoding="utf-8", newline="") as file:
        expect(list(csv.DictReader(file)) == rows, "CSV beside a picture")
    for bad in (["--picture", os.path.join(folder, "no", "x.png")], ["--picture", "x", "-o", "x"]):
        result = run("chart", *bad, status=2)
        expect(result.stderr.count("\n") == 1 and not os.path.exists("x"), f"{bad}: {result.stderr}")
    shutil.rmtree(folder)


if __name__ == "__main__":
    ROWS = chart()
    forms_agree(ROWS)
    part_in_use(ROWS)
    against_praat(ROWS)
    print("chart: well" if failures == 0 else f"chart: {failures} failures")
    sys.exit(failures != 0)
