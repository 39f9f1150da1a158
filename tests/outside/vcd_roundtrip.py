#!/usr/bin/python3
"""vcd_roundtrip.py [--control] FILE.vcd: does another program read the same pins as were written?

The file goes through vcd2fst and fst2vcd (gtkwave), which rename, reorder and reformat everything; then both
files are read with a small strict reader and the change lists of every signal are compared. Exit status 0 or 1, and a line."""
import os
import subprocess
import sys
import tempfile


class Bad(Exception):
    pass


def read(path):
    """{name: (kind, width, [(time, value), ...])}, times in femtoseconds, repeated values left out; and the last time."""
    units = {"s": 10**15, "ms": 10**12, "us": 10**9, "ns": 10**6, "ps": 10**3, "fs": 1}
    with open(path, encoding="utf-8") as file:
        words = iter(file.read().split())
    scope, names, kinds, lists = [], {}, {}, {}
    unit, now, last = None, None, 0
    body = False

    def until_end():
        found = []
        for w in words:
            if w == "$end":
                return found
            found.append(w)
        raise Bad("a section has no $end")

    def change(code, value):
        if code not in names:
            raise Bad(f"undeclared code {code}")
        kind, width = kinds[code]
        if kind == "real":
            value = float(value)
        else:
            if not value or set(value.lower()) - set("01xz") or len(value) > width:
                raise Bad(f"bad value {value} for {names[code]}")
            value = value.lower()
            value = (value[0] if value[0] in "xz" else "0") * (width - len(value)) + value
        changes = lists[code]
        if changes and changes[-1][0] == now:
            changes.pop()  # the last value within an instant stands
        if not changes or changes[-1][1] != value:
            changes.append((now, value))

    for word in words:
        if word == "$scope":
            scope.append(until_end()[1])
        elif word == "$upscope":
            until_end()
            scope.pop()
        elif word == "$timescale":
            text = "".join(until_end())
            number = text.rstrip("munpfs")
            unit = int(number) * units[text[len(number):]]
        elif word == "$var":
            kind, width, code, *name = until_end()
            if code in names:
                raise Bad(f"code {code} is declared twice")
            names[code] = ".".join(scope + ["".join(name)])
            kinds[code] = ("real" if kind == "real" else "bits", int(width))
            lists[code] = []
        elif word == "$enddefinitions":
            until_end()
            body = True
            if unit is None or scope:
                raise Bad("no timescale, or an open scope")
        elif word in ("$dumpvars", "$dumpall", "$dumpon", "$dumpoff", "$end") and body:
            pass
        elif word.startswith("$"):
            until_end()
        elif not body:
            raise Bad(f"unexpected {word} in the header")
        elif word[0] == "#":
            time = int(word[1:]) * unit
            if now is not None and time < now:
                raise Bad(f"time runs backwards at {word}")
            now = last = time
        elif word[0] in "bBrR":
            change(next(words), word[1:])
        else:
            change(word[1:], word[0])
    if not body:
        raise Bad("no $enddefinitions")
    for code, changes in lists.items():
        if not changes or changes[0][0] != 0:
            raise Bad(f"{names[code]} has no value at time 0")
    return {names[c]: (kinds[c][0], kinds[c][1], lists[c]) for c in names}, last


def compare(ours, theirs):
    if set(ours) != set(theirs):
        raise Bad(f"signals differ: {sorted(set(ours) ^ set(theirs))}")
    total = 0
    for name, (kind, width, changes) in sorted(ours.items()):
        # fst2vcd prints reals with 16 digits, one short of exact
        def near(a, b):
            return a[0] == b[0] and (a[1] == b[1] or (kind == "real" and abs(a[1] - b[1]) <= 1e-14 * abs(a[1])))

        other = theirs[name][2]
        if (kind, width) != theirs[name][:2]:
            raise Bad(f"{name}: kind or width differs")
        for a, b in zip(changes, other):
            if not near(a, b):
                raise Bad(f"{name}: {a} was read as {b} (time in fs)")
        if len(changes) != len(other):
            raise Bad(f"{name}: {len(changes)} changes were read as {len(other)}")
        total += len(changes)
    return total


def main():
    control = sys.argv[1:2] == ["--control"]
    if len(sys.argv) != 2 + control:
        print("usage: vcd_roundtrip.py [--control] FILE.vcd", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder:
        fst, back = os.path.join(folder, "a.fst"), os.path.join(folder, "a.vcd")
        try:
            ours, last = read(sys.argv[-1])
            # their exit status says little: what counts is what comes out
            first = subprocess.run(["vcd2fst", sys.argv[-1], fst], capture_output=True, text=True)
            if "Unknown" in first.stderr:
                raise Bad(first.stderr.strip())
            with open(back, "w", encoding="utf-8") as out:
                subprocess.run(["fst2vcd", fst], stdout=out, check=True)
            theirs, their_last = read(back)
            if control:  # one edge of strobe a nanosecond late: must be noticed
                changes = ours[next(name for name in ours if name.endswith("strobe"))][2]
                changes[-1] = (changes[-1][0] + 10**6, changes[-1][1])
            total = compare(ours, theirs)
            if last != their_last:
                raise Bad(f"the last time stamp {last} fs was read as {their_last} fs")
        except (Bad, ValueError, OSError, StopIteration, subprocess.CalledProcessError) as error:
            print(f"{sys.argv[-1]}: FAIL: {error}")
            return 1
    print(f"{sys.argv[-1]}: {len(ours)} signals, {total} changes, the same after vcd2fst and fst2vcd")
    return 0


sys.exit(main())
