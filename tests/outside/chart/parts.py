#!/usr/bin/python3
"""parts.py: `hyoid part diff` as a user sees it, and --part wherever a verb has it.

    HYOID=build/hyoid tests/outside/chart/parts.py

Exit status 0 or 1."""
import csv
import json
import math
import os
import re
import subprocess
import sys
import tempfile

HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
failures = 0


def expect(well, text):
    global failures
    if not well:
        failures += 1
        print(f"FAIL: {text}")


def run(*arguments, status=0, cwd=None):
    result = subprocess.run([HYOID, *arguments], capture_output=True, text=True, check=False, timeout=60, cwd=cwd)
    expect(result.returncode == status, f"hyoid {' '.join(arguments)}: status {result.returncode}: {result.stderr}")
    if status == 2:
        expect(result.stderr.startswith("hyoid: ") and result.stderr.count("\n") == 1 and result.stdout == "",
               f"hyoid {' '.join(arguments)}: {result.stderr!r}")
    return result


def change(folder, table, column, changes):
    """changes: value of the key columns -> function of the old value."""
    path = os.path.join(folder, table)
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    for row in rows:
        key = row[0] if table == "constants.csv" else (row[0], row[2])
        if key in changes:
            row[column] = changes[key](row[column])
            row[column + 2] = "measured"
            row[column + 3] = "this test"
    with open(path, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def compare(folder):
    part = os.path.join(folder, "part")
    run("part", "export", part)
    for pair in (("default", "default"), ("default", part), (part, "default")):
        text = run("part", "diff", *pair).stdout
        expect("The parts are equal." in text, text)
    text = run("part", "show", "--part", part).stdout
    expect("Its numbers are those of the default part" in text, text[:200])
    expect("Its numbers are" not in run("part", "show").stdout, "the built-in part is not said to be like itself")

    change(part, "phonemes.csv", 3, {("0x2c", "f2"): lambda v: str(int(v) - 3), ("0x2c", "duration"): lambda v: str(float(v) + 20)})
    change(part, "constants.csv", 1, {"pitch_period[1]": lambda v: str(int(v) + 10), "output_gain": lambda v: str(float(v) / 2)})
    text = run("part", "diff", "default", part, status=1).stdout
    expect("4 numbers differ: 2 of the phonemes, 2 constants" in text, text)
    for wanted in ("0x2c iy f2", "0x2c iy duration", "pitch_period[1]", "output_gain", "-6.0 dB", "+20.0 ms", "measured"):
        expect(wanted in text, f"{wanted} is not in\n{text}")
    data = json.loads(run("part", "diff", "default", part, "--json", status=1).stdout)
    by_name = {entry["name"]: entry for entry in data["differences"]}
    expect(not data["equal"] and len(by_name) == 4, f"{by_name.keys()}")
    gain = by_name["output_gain"]
    expect(abs(gain["change"] + 20 * math.log10(2)) < 1e-6 and gain["sounds_unit"] == "dB", f"{gain}")
    f2 = by_name["0x2c iy f2"]
    expect(f2["code"] == 0x2c and f2["quantity"] == "f2" and f2["change"] < -50 and f2["b"]["confidence"] == "measured"
           and int(f2["b"]["value"]) == int(f2["a"]["value"]) - 3, f"{f2}")
    back = json.loads(run("part", "diff", part, "default", "--json", status=1).stdout)
    expect([e["change"] for e in back["differences"]] == [-e["change"] for e in data["differences"]], "the other way round")
    out = os.path.join(folder, "out.txt")
    expect(run("part", "diff", "default", part, "-o", out, status=1).stdout == "", "-o")
    with open(out, encoding="utf-8") as file:
        expect(file.read() == text, "-o FILE holds what is printed otherwise")

    change(part, "constants.csv", 1, {"nominal_hz": lambda v: str(float(v) * 0.9)})
    text = run("part", "diff", "default", part, status=1).stdout
    expect("nominal_hz" in text and text.count("duration") == 1, "another nominal clock does not make every duration differ")


def refused(folder):
    run("part", "diff", status=2)
    run("part", "diff", "default", status=2)
    run("part", "diff", "default", "default", "default", status=2)
    run("part", "diff", "default", os.path.join(folder, "none"), status=2)
    run("part", "diff", "default", "default", "--c", status=2)
    run("part", "diff", "default", "default", "--part", "x", status=2)
    run("part", "diff", "default", "default", "-o", os.path.join(folder, "no", "x"), status=2)
    run("part", "show", "--json", status=2)
    expect("diff" in run("part", "dif", status=2).stderr, "the nearest word")


def every_verb(folder):
    """A verb that has --part refuses a folder that is none, and says which."""
    verbs = re.findall(r"^  ([a-z]+) ", run("--help").stdout, re.M)
    with open(os.path.join(folder, "t.score"), "w", encoding="utf-8") as file:
        file.write("hh eh l ow")
    having = 0
    for verb, arguments in (("render", ["t.score", "-o", "x.wav"]), ("chart", []), ("part", ["show"]),
                            ("sweep", ["t.score", "--clock", "700k..800k"])):
        expect(verb in verbs and "--part" in run(verb, "--help").stdout, f"{verb} has no --part")
        result = run(verb, *arguments, "--part", "nowhere", status=2, cwd=folder)
        expect("nowhere" in result.stderr, f"{verb}: {result.stderr}")
        having += 1
    print(f"{having} verbs honour --part")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="hyoid-parts-") as FOLDER:
        for test in (compare, refused, every_verb):
            test(FOLDER)
    print("parts: well" if failures == 0 else f"parts: {failures} failures")
    sys.exit(failures != 0)
