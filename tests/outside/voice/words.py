#!/usr/bin/python3
"""words.py: is the voice understood by an ear that nobody here wrote?

    HYOID_SOURCE=. RECOGNISE=build/tests/recognise tests/outside/voice/words.py [--least N] [--least-digits N] [--write]

Runs `recognise` (isolated words, closed grammars of 100 words, pocketsphinx with its en-us model) on the check words, which no tuning
has seen, on as many tuning words, on digits, and on the same check words and digits said by espeak-ng and flite. --least: of the
check words, out of 100; --least-digits: out of 50. Fails below them, and if the tables of docs/voice.md are not what was measured;
--write writes them. Exit status: 0, 1 for a failure, 77 if a tool is not installed (1 with CI set)."""
import argparse
import collections
import glob
import os
import re
import shutil
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
import page

HERE = os.path.dirname(os.path.abspath(__file__))
RECOGNISE = os.environ.get("RECOGNISE", "build/tests/recognise")
DICTIONARY = "/usr/share/pocketsphinx/model/en-us/cmudict-en-us.dict"
CHECK = sorted(glob.glob(os.path.join(HERE, "words_check_*.txt")))
ANCHORS = ("espeak-ng", "flite:kal16", "flite:rms")
LEVEL = 2                        # at which the rates hold; the others are told


def recognise(*more):
    """Runs `recognise`; (right, all, [(said, heard)...])."""
    run = subprocess.run([RECOGNISE, "--wrong", *more], capture_output=True, text=True, check=False)
    if run.returncode == 77 or "SKIP" in run.stderr:
        sys.stdout.write(run.stderr)
        sys.exit(run.returncode)
    if run.returncode != 0:
        sys.exit(f"{RECOGNISE}: {run.stderr}")
    counts, wrong = (0, 0), []
    for line in run.stdout.splitlines():
        if " heard as " in line:
            said, heard = line.split(" heard as ")
            wrong.append((said.strip(), heard.strip()))
        elif " together " in line:
            right, of = line.split()[-3::2]
            counts = int(right), int(of)
    return *counts, wrong


def tuning_lists(folder):
    """The first tuning words, as many as there are check words, dealt to lists as those are."""
    with open(os.path.join(HERE, "words_tuning.txt"), encoding="utf-8") as f:
        words = f.read().split()[:100 * len(CHECK)]
    paths = []
    for i in range(len(CHECK)):
        paths.append(os.path.join(folder, f"tuning_{i + 1}.txt"))
        with open(paths[-1], "w", encoding="utf-8") as out:
            out.write("\n".join(words[i::len(CHECK)]) + "\n")
    return paths


# ---- which sounds are taken for which ----

def pronunciations():
    phones = {}
    with open(DICTIONARY, encoding="utf-8") as f:
        for line in f:
            word, *said = line.split()
            phones.setdefault(word.split("(")[0], said)
    return phones


def differences(a, b):
    """The fewest changes that make phone string a into b: [(phone or '', phone or '')...]."""
    cost = [[(i + j, None) if not i or not j else None for j in range(len(b) + 1)] for i in range(len(a) + 1)]
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            cost[i][j] = min((cost[i - 1][j - 1][0] + (a[i - 1] != b[j - 1]), 0), (cost[i - 1][j][0] + 1, 1), (cost[i][j - 1][0] + 1, 2))
    changes, i, j = [], len(a), len(b)
    while i or j:
        way = cost[i][j][1] if i and j else 1 if i else 2
        i, j = i - (way != 2), j - (way != 1)
        said, heard = a[i] if way != 2 else "", b[j] if way != 1 else ""
        if said != heard:
            changes.append((said.lower(), heard.lower()))
    return changes


def confusions(wrong):
    """The commonest confusions of phones in words that were heard as words of at most two changes."""
    phones, count = pronunciations(), collections.Counter()
    near = 0
    for said, heard in wrong:
        changes = differences(phones.get(said, []), phones.get(heard, []))
        if heard in phones and len(changes) <= 2:
            near += 1
            count.update(changes)
    return near, sorted(count.items(), key=lambda c: (-c[1], c[0]))


# ---- the tables ----

def measure(folder):
    rows, digits = [], []
    right, of, wrong = recognise("--level", str(LEVEL), *CHECK)
    rows.append((f"hyoid, check words, level {LEVEL}", right, of))
    for level in (0, 1, 3):
        rows.append((f"hyoid, check words, level {level}", *recognise("--level", str(level), *CHECK)[:2]))
    rows.append((f"hyoid, tuning words, level {LEVEL}", *recognise("--level", str(LEVEL), *tuning_lists(folder))[:2]))
    digits.append(("hyoid", *recognise("--digits")[:2]))
    for voice in ANCHORS:
        rows.append((voice + ", check words", *recognise("--voice", voice, *CHECK)[:2]))
        digits.append((voice, *recognise("--voice", voice, "--digits")[:2]))
    return rows, digits, wrong


def versions():
    """Of the ear and of the voices beside ours: with others the figures are others."""
    said = []
    for name, command in (("pocketsphinx", ("pkg-config", "--modversion", "pocketsphinx")), ("espeak-ng", ("espeak-ng", "--version")),
                          ("flite", ("flite", "--version"))):
        try:
            text = subprocess.run(command, capture_output=True, text=True, check=False).stdout
        except FileNotFoundError:
            text = ""
        number = re.search(r"\b[0-9]+(\.[0-9]+|[a-z]+)", text)
        said.append(f"{name} {number.group() if number else 'unknown'}")
    return "Measured with " + ", ".join(said) + "."


def block(rows, digits, wrong):
    near, sounds = confusions(wrong)
    lines = [versions(), "", "| voice and words | understood | of 100 |", "|---|---|---|"]
    lines += [f"| {name} | {right} of {of} | {100 * right / of:.1f} |" for name, right, of in rows]
    lines += ["", "| digits | understood |", "|---|---|"]
    lines += [f"| {name} | {right} of {of} |" for name, right, of in digits]
    lines += ["", f"Check words misunderstood at level {LEVEL}, {len(wrong)} in all, each with what was heard: "]
    lines[-1] += ", ".join(f"*{said}* {heard}" for said, heard in sorted(wrong)) + "."
    common = [f"| {said or '-'} | {heard or '-'} | {times} |" for (said, heard), times in sounds if times >= 2]
    lines += ["", f"Sounds taken for others, in the {near} of them that differ from what was heard in at most two sounds (`-`: none)"]
    if common:
        lines[-1] += ":"
        lines += ["", "| said | heard | times |", "|---|---|---|", *common]
    else:
        lines[-1] += ": no confusion twice."
    return "\n".join(lines) + "\n"


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--least", type=float, default=0.0)
    options.add_argument("--least-digits", type=int, default=0)
    options.add_argument("--write", action="store_true")
    chosen = options.parse_args()
    folder = tempfile.mkdtemp(prefix="hyoid-words-")
    try:
        rows, digits, wrong = measure(folder)
    finally:
        shutil.rmtree(folder)
    text = block(rows, digits, wrong)
    print(text)
    if chosen.write:
        page.write("words", text)
    good = page.is_current_or_other("words", text)
    words, said_digits = 100 * rows[0][1] / rows[0][2], digits[0][1]
    if words < chosen.least or said_digits < chosen.least_digits:
        print(f"FAIL: {words:.1f} of 100 words and {said_digits} digits, at least {chosen.least:g} and {chosen.least_digits} are required")
        good = False
    return 0 if good else 1


sys.exit(main())
