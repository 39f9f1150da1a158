#!/usr/bin/python3
"""timing_verb.py [--tools | --large]: hyoid timing, and captures of logic analysers, from outside.

    HYOID=build/hyoid HYOID_SOURCE=. tests/outside/timing/timing_verb.py

--tools: the same edges through other programs (sigrok-cli, vcd2fst, fst2vcd). --large: ten million edges, 200 MB of samples: time
(printed) and memory. Exit status 0 or 1. Only the standard library is used."""
import glob
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
import zipfile

sys.dont_write_bytecode = True
import captures as c

HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
SOURCE = os.path.abspath(os.environ.get("HYOID_SOURCE", os.path.dirname(os.path.abspath(__file__)) + "/../../.."))
SCORE = "level 1 hh eh l ow level 2 answer 40us w er l d hold 40ms aa iy level 3 uw hold off s z\n"
BAD = ["bad_value", "no_enddef", "no_timescale", "no_upscope", "nospace_vector", "not_vcd", "space_scalar", "time_back",
       "timescale3", "too_wide", "undef_id"]
done = failed = 0


def check(condition, what):
    global done, failed
    done += 1
    if not condition:
        failed += 1
        print(f"FAIL: {what}", flush=True)
    return bool(condition)


def run(*arguments, **options):
    return subprocess.run([HYOID, *arguments], capture_output=True, check=False, timeout=300, text=True, errors="replace", **options)


def timing(*arguments, status=0):
    """The result as a dictionary."""
    result = run("timing", *arguments, "--json", "-")
    what = "hyoid timing " + " ".join(arguments)
    if not check(result.returncode == status, f"{what}: exit status {result.returncode}: {result.stderr.strip()}"):
        print(result.stdout[-600:])
    try:
        return json.loads(result.stdout)
    except ValueError:
        check(False, f"{what}: no JSON: {result.stderr.strip()}")
        return {"rows": [], "verdict": "", "clock": {"by": "", "hz": 0}, "strobes": 0}


def failing(result):
    return [row["row"] for row in result["rows"] if row["verdict"] == "fail"]


def refused(arguments, message):
    before = sorted(os.listdir("."))
    result = run(*arguments)
    what = "hyoid " + " ".join(arguments)
    check(result.returncode == 2, f"{what}: exit status {result.returncode}")
    check(result.stdout == "", f"{what}: standard output")
    check(result.stderr.startswith("hyoid: ") and result.stderr.count("\n") == 1, f"{what}: one line: {result.stderr!r}")
    check(message in result.stderr, f"{what}: {result.stderr!r} does not say {message!r}")
    check(sorted(os.listdir(".")) == before, f"{what}: files left behind")


def board(score=SCORE, *options):
    with open("board.score", "w", encoding="utf-8") as file:
        file.write(score)
    check(run("render", "board.score", "--pins", "board.vcd", "-q", *options).returncode == 0, "render")
    return c.read_pins("board.vcd")


# ---- good captures in every form ----

def forms():
    edges, end = board()
    result = timing("board.vcd")
    check(result["verdict"] == "pass" and result["clock"]["by"] == "stated", f"our own pins: {failing(result)}")
    strobes = result["strobes"]
    check(strobes == 13, f"{strobes} strobes")
    clocked = c.with_clock(edges, end, 720e3)
    pins = c.PINS + ["clock"]
    runs, count = c.sampled(clocked, end, 12e6, pins)
    c.write_session("clocked.sr", runs, count, 12e6, pins, piece=777777)
    result = timing("clocked.sr")
    check(result["verdict"] == "pass" and result["clock"]["by"] == "counted", f"clocked.sr: {failing(result)}")
    check(abs(result["clock"]["hz"] - 720e3) < 10, f"clocked.sr: {result['clock']}")
    # a host that answers late, while the clock's pin runs on; its period is no whole number of samples, or moves
    slow, slow_end = board("clock 651.3k answer 15ms hh eh l ow w er l d\n")
    runs, count = c.sampled(c.with_clock(slow, slow_end, 651.3e3), slow_end, 4e6, pins)
    c.write_session("slow.sr", runs, count, 4e6, pins)
    result = timing("slow.sr")
    check(not failing(result) and result["clock"]["by"] == "counted", f"slow.sr: {failing(result)}")
    bent, bent_end = board("clock 600k answer 15ms glide 900k over 500ms hh eh l ow w er l d\n")
    moving = c.with_clock(bent, bent_end, lambda t: 600e3 + 300e3 * min(t / 0.5, 1.0))
    runs, count = c.sampled(moving, bent_end, 24e6, pins)
    c.write_session("bent.sr", runs, count, 24e6, pins)
    result = timing("bent.sr")
    check(result["verdict"] == "pass" and result["clock"]["by"] == "counted", f"bent.sr: {failing(result)}")
    edges, end = board()
    runs, count = c.sampled(edges, end, 1e6, c.PINS)
    c.write_session("s.sr", runs, count, 1e6, c.PINS, piece=1000)
    c.write_changes("changes.csv", runs, count, 1e6, c.PINS, start=-7.25)
    c.write_samples("samples.csv", runs, count, 1e6, c.PINS)
    logs = []
    for name in ("s.sr", "changes.csv", "samples.csv"):
        result = timing(name)
        check(not failing(result) and result["strobes"] == strobes, f"{name}: {failing(result)}")
        check(result["verdict"] == "inconclusive", f"{name}: latency can't be told at 1 MHz: {result['verdict']}")
        check(abs(result["clock"]["hz"] / 720e3 - 1) < 2e-4, f"{name}: {result['clock']}")
        check(abs(result["sample_rate_hz"] / 1e6 - 1) < 1e-6, f"{name}: {result['sample_rate_hz']}")
        check(run("render", name, "--log", name + ".log", "-o", name + ".wav", "-q").returncode == 0, f"render {name}")
        with open(name + ".log", encoding="utf-8") as file:
            logs.append(file.read())
    check(logs[0] == logs[1] == logs[2] and logs[0].count("strobe,1") == strobes, "all forms tell the same")
    # a table that doesn't tell its rate: the grid of its edges does
    runs, count = c.sampled(c.jittered(edges, 6e-9, 5), end, 12e6, c.PINS)
    c.write_changes("untold.csv", runs, count, 12e6, c.PINS, start=100.0, decimals=9)
    result = timing("untold.csv")
    check(abs(result["sample_rate_hz"] / 12e6 - 1) < 1e-4 and not failing(result), f"untold.csv: {failing(result)}")
    strict = run("timing", "s.sr", "--strict", "-q")
    check(strict.returncode == 1 and strict.stdout.startswith("INCONCLUSIVE"), "--strict")
    # standard input, a pipe
    with open("s.sr", "rb") as file:
        piped = subprocess.run([HYOID, "timing", "-", "-q"], input=file.read(), capture_output=True, check=False)
    check(piped.returncode == 0, f"a session on standard input: {piped.stderr.decode()}")


# ---- which channel is which pin ----

def maps():
    edges, end = board()
    names = ["D%d" % i for i in range(len(c.PINS))]
    runs, count = c.sampled(edges, end, 4e6, c.PINS)
    c.write_session("d.sr", runs, count, 4e6, c.PINS, names=names)
    text = ",".join(f"{pin}={name}" for pin, name in zip(c.PINS, names))
    on_line = timing("d.sr", "--map", text)
    check(not failing(on_line) and on_line["strobes"] == 13, "a map on the command line")
    with open("board.map", "w", encoding="utf-8") as file:
        file.write("# how the probes were clipped on\n" + text.replace(",", "\n") + "  # the last\n")
    from_file = timing("d.sr", "--map", "board.map")
    check(from_file["rows"] == on_line["rows"], "a map in a file")
    inverted = [(t, pin, 1 - level if pin in ("request", "p2") else level) for t, pin, level in edges]
    runs, count = c.sampled(inverted, end, 4e6, c.PINS)
    c.write_session("i.sr", runs, count, 4e6, c.PINS, names=names)
    back = timing("i.sr", "--map", text.replace("=D9", "=!D9").replace("=D2", "=!D2"))
    check(back["rows"] == on_line["rows"], "an inverter on the board")
    check("request = !D9" in back["notes"][0], f"which is shown: {back['notes'][0]}")
    with open("marked.map", "w", encoding="utf-8-sig") as file:
        file.write(text.replace(",", "\n"))
    check(timing("d.sr", "--map", "marked.map")["rows"] == on_line["rows"], "a map with a byte order mark")
    refused(["timing", "d.sr"], "no signal is called p0; --map p0=NAME says which one it is (")
    refused(["timing", "d.sr", "--map", "none.map"], "--map none.map: no such file")
    refused(["timing", "d.sr", "--map", text.replace("request=D9,", "").replace(",request=D9", "")],
            "no signal is called request; --map request=NAME")
    refused(["timing", "d.sr", "--map", text.replace("D9", "D10")], "has no such signal")
    with open("bad.map", "w", encoding="utf-8") as file:
        file.write("strobe=D8\nwhat\n")
    refused(["timing", "d.sr", "--map", "bad.map"], 'bad.map:2:1: found "what"; expected KEY=NAME')
    with open("board.vcd", encoding="utf-8") as file:
        dump = file.read().replace("$upscope", "$var wire 1 ~~ clk $end\n$upscope", 1)
    with open("two.vcd", "w", encoding="utf-8") as file:
        file.write(dump)
    check(timing("two.vcd")["clock"]["by"] == "stated", "a stated clock goes before a pin called clk")
    check(timing("two.vcd", "--map", "clock=clk")["clock"]["by"] == "fitted", "but not before one that was mapped")
    note = run("timing", "board.vcd").stderr
    check("guessed by name" in note and "strobe = board.strobe" in note, f"the guess is shown: {note}")


# ---- faults ----

def shifted(edges, pin, level, which, by):
    hits = [i for i, (t, p, v) in enumerate(edges) if p == pin and v == level and t > 0]
    out = list(edges)
    t, p, v = out[hits[which]]
    out[hits[which]] = (t + by, p, v)
    return sorted(out, key=lambda e: e[0])


def glitched(edges, pin, at, width):
    level = [v for t, p, v in edges if p == pin and t <= at][-1]
    return sorted(edges + [(at, pin, 1 - level), (at + width, pin, level)], key=lambda e: e[0])


def faults():
    edges, end = board("level 1 answer 2ms repeat 3 { aa iy uw s z m }\n")
    cases = {
        "duration:0x24": shifted(edges, "request", 1, 0, 0.4e-3),
        "latency": shifted(edges, "request", 0, 3, 4e-6),
        "unasked": sorted(edges + [(t + d, "request", v) for t, p, w in edges if p == "request" and w == 1 and t > 0.5
                                   for d, v in ((1e-4, 0), (2e-4, 1))], key=lambda e: e[0]),
        "code_moves": glitched(edges, "p0", [t + 4e-6 for t, p, w in edges if p == "strobe" and w == 1 and t > 1.0][0], 3e-6),
    }
    codes = [row["row"] for row in timing("board.vcd")["rows"] if row["row"].startswith("duration")]
    check(codes, "durations")
    for row, faulty in cases.items():
        for rate in (24e6, 8e6):
            runs, count = c.sampled(faulty, end, rate, c.PINS)
            c.write_session("f.sr", runs, count, rate, c.PINS)
            found = failing(timing("f.sr", status=1))
            wanted = {row} if not row.startswith("duration") else set(codes)
            check(found and set(found) <= wanted and len(found) == 1, f"{row} at {rate:g} Hz: {found}")


def noise():
    """Jitter, and spikes on strobe."""
    edges, end = board("rest 5ms level 1 answer 100us " + SCORE.replace("answer 40us", ""))
    for seed, rate in ((1, 24e6), (2, 4e6), (3, 1e6)):
        runs, count = c.sampled(c.jittered(edges, 0.08 / rate, seed), end, rate, c.PINS)
        c.write_session("j.sr", runs, count, rate, c.PINS)
        result = timing("j.sr")
        check(not failing(result) and result["strobes"] == 13, f"jitter, seed {seed}: {failing(result)}")
        runs, count = c.sampled(c.with_glitches(edges, end, "strobe", 3 / rate, 8, seed), end, rate, c.PINS)
        c.write_changes("g.csv", runs, count, rate, c.PINS)
        options = ["g.csv", "--sample-rate", f"{rate:.0f}", "--glitch", f"{5e6 / rate:.3f}us"]
        result = timing(*options)
        glitches = [row["mean"] for row in result["rows"] if row["row"] == "glitches"]
        check(not failing(result) and result["strobes"] == 13, f"glitches, seed {seed}: {failing(result)}")
        check(glitches and 4 <= glitches[0] <= 8, f"glitches, seed {seed}: {glitches}")
        if rate > 2e6:
            check(failing(timing(*options[:3], status=1)), f"glitches, seed {seed}: bad without --glitch")


def limits():
    edges, _ = board()
    check(run("timing", "--write-limits", "limits.csv").returncode == 0, "--write-limits")
    with open("limits.csv", encoding="utf-8") as file:
        rows = file.read()
    check(rows.startswith("row,min,typ,max,unit,source\n") and "latency,1,1.5,2,clocks," in rows, "limits as a file")
    result = timing("board.vcd", "--limits", "limits.csv")
    check(result["verdict"] == "pass", "the part's own limits from a file")
    with open("tight.csv", "w", encoding="utf-8") as file:
        file.write("row,min,typ,max,unit,source\nlatency,,,1.5,clocks,a data sheet\nclock,700000,,710000,Hz,\n")
    result = timing("board.vcd", "--limits", "tight.csv", status=1)
    check(failing(result) == ["clock", "latency"], f"tight limits: {failing(result)}")
    check([r["source"] for r in result["rows"] if r["row"] == "latency"] == ["a data sheet"], "the limit's source")
    text = run("timing", "board.vcd", "--limits", "tight.csv").stdout
    check(re.search(r"^latency .* 1\.5  clocks ", text, re.M) is not None, "a limit as it was written")
    check("clock frequency: beyond the limit (host)\n" in text, "a clock out of its limits is no instant's and no part's doing")
    check("FAIL: 2 of " in text and "(1 of them the host's doing)" in text, "whose doing it is")
    with open("host.csv", "w", encoding="utf-8") as file:
        file.write("row,min,typ,max,unit,source\nstrobe,1,,3,clocks,\n")
    text = run("timing", "board.vcd", "--limits", "host.csv").stdout
    check("(the host's doing, not the part's)" in text and "(part)" not in text, "strobe's width is the host's doing")
    with open("long.csv", "w", encoding="utf-8") as file:
        file.write('row,min,typ,max,unit,source\nlatency,,,4,clocks,"' + 150 * "\u00b5" + '"\n')
    source = [r["source"] for r in timing("board.vcd", "--limits", "long.csv")["rows"] if r["row"] == "latency"]
    check(source == [118 * "\u00b5" + "..."], f"a long source is cut between two characters: {source}")
    text = run("timing", "board.vcd", "--write-limits", "-").stdout
    check(text.startswith("row,min,") and "PASS" not in text, "limits on standard output, in place of the table")
    broken = run("timing", "board.vcd", "--write-limits", "new.csv", "--json", "none/x.json")
    check(broken.returncode == 2 and not os.path.exists("new.csv"), "limits are left out with the rest")
    for line, message in (("latncy,1,,2,clocks,", 'there is no row "latncy"; nearest: latency'),
                          ("latency,1,,2,us,", "the unit of latency is clocks"),
                          ("latency,3,,2,clocks,", "min <= typ <= max"),
                          ("latency,a,,2,clocks,", "expected a number")):
        with open("bad.csv", "w", encoding="utf-8") as file:
            file.write("row,min,typ,max,unit,source\n" + line + "\n")
        refused(["timing", "board.vcd", "--limits", "bad.csv"], message)
    check(len(edges) > 0, "edges")


def silent():
    """A host that never strobes: nothing is judged, whichever way the result is told."""
    edges, end = board()
    edges = [(t, pin, level) for t, pin, level in edges if pin != "strobe" and (pin != "request" or t == 0)]
    runs, count = c.sampled(edges, end, 8e6, c.PINS)
    c.write_session("silent.sr", runs, count, 8e6, c.PINS)
    check(timing("silent.sr", status=2)["verdict"] == "inconclusive", "no strobe: JSON")
    result = run("timing", "silent.sr", "--report", "silent.html")
    check(result.returncode == 2 and "INCONCLUSIVE: nothing could be judged" in result.stdout, "no strobe: text")
    with open("silent.html", encoding="utf-8") as file:
        check('class="verdict open"><b>inconclusive</b>' in file.read(), "no strobe: page")


def coarse():
    """Where a row can't be told, the rate that is named would do; rows go by symbol, too."""
    edges, end = board()
    for rate in (0.5e6, 1e6, 4e6):
        runs, count = c.sampled(edges, end, rate, c.PINS)
        c.write_session("coarse.sr", runs, count, rate, c.PINS)
        result = run("timing", "coarse.sr")
        found = re.search(r"can't be told at ([0-9.]+) MHz; samples at ([0-9.]+) MHz or more would do", result.stderr)
        check(found is not None and float(found[1]) * 1e6 == rate and "INCONCLUSIVE" in result.stdout, f"too coarse: {result.stderr}")
        if found:
            runs, count = c.sampled(edges, end, float(found[2]) * 1e6, c.PINS)
            c.write_session("fine.sr", runs, count, float(found[2]) * 1e6, c.PINS)
            result = run("timing", "fine.sr")
            check(result.returncode == 0 and "PASS" in result.stdout and "would do" not in result.stderr, f"{found[2]} MHz do")
    check(re.search(r"^duration:0x1b hh +[0-9]", result.stdout, re.M) is not None, "a phoneme's row has its symbol")


# ---- bad captures ----

def rewritten(name, source, **changes):
    """A session with some of its files replaced (None: left out), or with more of them."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(name, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.namelist():
            data = changes.get(item.replace("-", "_"), old.read(item))
            if data is not None:
                new.writestr(item, data)
        for item in changes:
            if "-" in item:
                new.writestr(item, changes[item])


def bad_sessions():
    edges, end = board()
    runs, count = c.sampled(edges, end, 1e6, c.PINS)
    c.write_session("good.sr", runs, count, 1e6, c.PINS, piece=300000)
    with zipfile.ZipFile("good.sr") as archive:
        meta = archive.read("metadata").decode()
        pieces = len(archive.namelist()) - 2
    check(pieces >= 3, f"{pieces} pieces")
    cases = [
        ("no samplerate, so its samples have no times", {"metadata": meta.replace("samplerate", "rate")}),
        ('found "0 Hz"; expected a sample rate', {"metadata": meta.replace("1 MHz", "0 Hz")}),
        ("no unitsize", {"metadata": meta.replace("unitsize", "size")}),
        ('metadata, line 19: found "0"; expected the bytes of a sample, 1 to 64',
         {"metadata": meta.replace("unitsize=2", "unitsize=0")}),
        ("name probe 9, but a sample has 8 bits", {"metadata": meta.replace("unitsize=2", "unitsize=1")}),
        ("name no capturefile", {"metadata": meta.replace("capturefile", "file")}),
        ("one name for each probe", {"metadata": meta.replace("probe2=", "probe1=")}),
        ("of a version that is not known", {"version": "3"}),
        ("there is no version in the archive", {"version": None}),
        ("there is no metadata in the archive", {"metadata": None}),
        ("the samples logic-1-2 are missing", {"logic_1_2": None}),
        ("there is a piece logic-1-0, but", {"logic-1-0": b"\0\0"}),
        ("there is a piece logic-1-99999999999, but", {"logic-1-99999999999": b"\0\0"}),
        ("there are two pieces logic-1-2", {"logic-1-02": b"\0\0"}),
        ("logic-1-1 ends at byte 3 within a sample of 2 bytes", {"logic_1_1": b"\0\0\0"}),
    ]
    first = meta[meta.index("[device 1]"):].replace("[device 1]", "[device 2]")
    rewritten("second.sr", "good.sr", metadata="[device 1]\nsamplerate=2 MHz\nprobe1=A0\n" + first)
    check(timing("second.sr", status=0)["rows"] == timing("good.sr", status=0)["rows"], "the first device that has samples")
    for message, changes in cases:
        rewritten("bad.sr", "good.sr", **changes)
        refused(["timing", "bad.sr"], message)
        refused(["render", "bad.sr", "--log", "x.csv"], message)
    with open("good.sr", "rb") as file:
        whole = file.read()
    for cut in (0, 1, 100, len(whole) // 2, len(whole) - 10):
        with open("bad.sr", "wb") as file:
            file.write(whole[:cut])
        refused(["timing", "bad.sr"], f"bad.sr: no whole ZIP archive, as a session is")
    at = whole.index(b"logic-1-1") + 100
    with open("bad.sr", "wb") as file:
        file.write(whole[:at] + bytes([whole[at] ^ 0x55, whole[at + 1] ^ 0xff]) + whole[at + 2:])
    refused(["timing", "bad.sr"], "logic-1-1 is damaged at byte ")


def bad_texts():
    for folder, names in (("vcd", BAD), ("tables", None)):
        paths = sorted(glob.glob(os.path.join(SOURCE, "tests/bad", folder, "*.vcd" if folder == "vcd" else "*.csv")))
        paths = [path for path in paths if names is None or os.path.basename(path)[:-4] in names]
        check(len(paths) >= 11, f"{len(paths)} bad captures in {folder}")
        for path in paths:
            with open(path[:-4] + ".expect", encoding="utf-8") as file:
                expected = file.read().split("\n")[0]
            with open(path, encoding="utf-8", errors="replace") as file:
                found = re.findall(r"\$var \w+ (\d+) \S+ (\S+)", file.read())
            signals = [name if width == "1" else name + "[0]" for width, name in found] if folder == "vcd" else ["strobe"]
            name = os.path.basename(path)
            pin = "D0" if name.startswith("only_time") else signals[0] if signals else "none"
            os.symlink(path, name)
            refused(["timing", name, "--map", f"p0={pin},strobe={pin},request={pin}"], expected)
            os.unlink(name)


def bad_options():
    board()
    for arguments, message in (
            ([], "timing needs a CAPTURE"),
            (["a.sr", "b.sr"], "timing takes one CAPTURE"),
            (["none.sr"], "cannot read none.sr"),
            (["."], "it is a folder"),
            (["board.vcd", "--clock", "0"], "a frequency of 1 to 100000000"),
            (["board.vcd", "--glitch", "5"], "a time of 0 to 1 ms with its unit"),
            (["board.vcd", "--skew", "2s"], "a time of 0 to 1 ms"),
            (["board.vcd", "--ppm", "x"], "a number from 0 to 100000"),
            (["board.vcd", "--json", "x", "--report", "x"], "named for two outputs"),
            (["board.vcd", "--json", "board.vcd"], "would be overwritten"),
            (["board.vcd", "--report", "./board.vcd"], "would be overwritten"),
            (["board.vcd", "--limits", "none.csv"], "none.csv"),
            (["board.vcd", "--map", ""], "needs a value"),
            (["board.score"], "seems to be a score")):
        refused(["timing", *arguments], message)
    other = os.fsdecode(b"\xff.vcd")
    os.rename("board.vcd", other)
    refused(["timing", other, "-q", "--json", "x.json"], "not UTF-8")
    help_text = run("timing", "--help")
    check(help_text.returncode == 0 and "licensed technician" in help_text.stdout, "--help with the cautions")
    examples = re.findall(r"^  (hyoid .*)$", help_text.stdout.split("Examples:")[1], re.M)
    check(len(examples) == 2, f"two examples: {examples}")
    for line in examples:
        done_line = subprocess.run(line.replace("hyoid ", HYOID + " ").replace("docs/", SOURCE + "/docs/"), shell=True,
                                   capture_output=True, check=False)
        check(done_line.returncode == 0, f"{line}: {done_line.stderr.decode()}")


# ---- what is written about it ----

def documents():
    options = set(re.findall(r"--[a-z][a-z-]*", run("timing", "--help").stdout.split("Examples:")[0])) - {"--help"}
    with open(os.path.join(SOURCE, "docs/man/hyoid-timing.1"), encoding="utf-8") as file:
        manual = file.read()
    for option in options:
        check(f"Fl -{option[2:]}" in manual or f", -{option[2:]}" in manual, f"hyoid-timing(1) lacks {option}")
    with open(os.path.join(SOURCE, "docs/captures.md"), encoding="utf-8") as file:
        text = file.read()
    board()
    result = timing("board.vcd")
    for key in list(result) + list(result["clock"]) + list(result["rows"][0]):
        check(f"`{key}`" in text, f"docs/captures.md lacks the key {key}")
    for row in result["rows"]:
        check(f"`{row['row'].split(':')[0]}" in text, f"docs/captures.md lacks the row {row['row']}")
    check("licensed technician" in text and "licensed technician" in manual, "cautions")


# ---- the page ----

def page():
    edges, end = board()
    runs, count = c.sampled(shifted(edges, "request", 1, 2, 1e-3), end, 8e6, c.PINS)
    c.write_session("f.sr", runs, count, 8e6, c.PINS)
    result = run("timing", "f.sr", "--report", "f.html", "--json", "f.json", "--item", "tide clock <1>", "--date", "today")
    check(result.returncode == 1, f"a faulty capture: {result.stderr}")
    with open("f.html", encoding="utf-8") as file:
        html = file.read()
    check("<script" not in html and "http://" not in html.replace("http://www.w3.org/2000/svg", ""), "needs nothing else")
    check(html.count("<svg") >= 4, "pictures of durations and pins")
    check("tide clock &lt;1&gt;" in html, "the item, escaped")
    check("estimate" in html and "licensed technician" in html.lower().replace("a licensed", "licensed"), "cautions")
    check("Decision rule" in html and "8e6" not in html and "8 MHz" in html, "how it was measured")
    check(">FAIL<" in html.upper(), "the verdict")
    again = run("timing", "f.sr", "--report", "g.html", "--json", "g.json", "--item", "tide clock <1>", "--date", "today")
    check(again.returncode == 1, "once more")
    with open("f.json", "rb") as first, open("g.json", "rb") as second:
        check(first.read() == second.read(), "the same JSON each time")
    # a report that can't be written leaves nothing
    broken = run("timing", "f.sr", "--report", "none/f.html", "--json", "h.json")
    check(broken.returncode == 2 and not os.path.exists("h.json") and broken.stdout == "", "all or nothing")


# ---- other programs ----

def change_list(path, mapped=None):
    log = path + ".log"
    check(run("render", path, "--log", log, "-q", *(["--map", mapped] if mapped else [])).returncode == 0, f"render {path}")
    with open(log, encoding="utf-8") as file:
        return [line for line in file if ",end," not in line]


def tools():
    edges, end = board()
    runs, count = c.sampled(edges, end, 4e6, c.PINS)
    c.write_session("s.sr", runs, count, 4e6, c.PINS, piece=12345)
    ours = change_list("s.sr")
    check(len(ours) > 60, f"{len(ours)} changes")
    for name, form in (("s.vcd", "vcd"), ("s.csv", "csv"), ("t.csv", "csv:time=true:dedup=true:label=channel"),
                       ("back.sr", "srzip")):
        subprocess.run(["sigrok-cli", "-i", "s.sr", "-O", form, "-o", name], check=True, capture_output=True)
        check(change_list(name) == ours, f"through sigrok-cli as {form}")
    runs, count = c.sampled(edges, end, 3e6, c.PINS)  # sigrok-cli's times count 333 ns
    c.write_session("three.sr", runs, count, 3e6, c.PINS)
    ours = change_list("three.sr")
    by_place = "rate=3M," + ",".join(f"{key}=D{i}" for i, key in enumerate(c.PINS))
    for form, mapped in (("time=true", None), ("label=channel", None), ("label=off", None), ("label=off:time=true", None),
                         ("time=true:dedup=true", None), ("trigger=true:time=true", None),
                         ("label=off:trigger=true:time=true", None), ("comment=#:time=true", None), ("comment=//", None),
                         ("value=;:time=true", None), ("header=false:label=channel", "rate=3M"),
                         ("header=false:time=true", by_place)):
        subprocess.run(["sigrok-cli", "-i", "three.sr", "-O", "csv:" + form, "-o", "o.csv"], check=True, capture_output=True)
        check(change_list("o.csv", mapped) == ours, f"through sigrok-cli as csv:{form}")
    c.write_dump("d.vcd", edges, end, c.PINS, scale=1e-6, unit="1 us")
    theirs = change_list("d.vcd")
    subprocess.run(["sigrok-cli", "-I", "vcd", "-i", "d.vcd", "-O", "srzip", "-o", "d.sr"], check=True, capture_output=True)
    check(change_list("d.sr") == theirs, "our dump through sigrok-cli to a session")
    # our dump as it is written: sampled every 50 ns
    check(run("render", "-", "--pins", "l.vcd", "--logic", "-q", input="rest 1ms " + SCORE).returncode == 0, "render --logic")
    subprocess.run(["sigrok-cli", "-I", "vcd:downsample=50", "-i", "l.vcd", "-O", "srzip", "-o", "l.sr"], check=True,
                   capture_output=True)
    exact, sampled = ([line.split(",") for line in change_list(name)[1:] if ",clock," not in line]
                      for name in ("l.vcd", "l.sr"))
    check(len(exact) > 60 and [e[1:] for e in exact] == [s[1:] for s in sampled], "our pins through sigrok-cli: the changes")
    check(all(abs(float(e[0]) - float(s[0])) < 51e-9 for e, s in zip(exact, sampled)), "our pins through sigrok-cli: when")
    subprocess.run(["vcd2fst", "board.vcd", "board.fst"], check=True, capture_output=True)
    subprocess.run(["fst2vcd", "-f", "board.fst", "-o", "again.vcd"], check=True, capture_output=True)
    check(change_list("again.vcd") == change_list("board.vcd"), "our pins through vcd2fst and fst2vcd")
    first, second = timing("board.vcd"), timing("again.vcd")
    check(first["rows"] == second["rows"] and first["verdict"] == "pass", "timing of them")


# ---- large ----

def large():
    """24 MHz samples with a clock of 750 kHz: 32 samples a period, so that pieces are quickly made."""
    edges, end = board("clock 750k answer 300us repeat 26 { hh eh l ow }\n")
    runs, count = c.sampled(edges, end, 24e6, c.PINS)
    period = 32
    with zipfile.ZipFile("large.sr", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("version", "2")
        names = c.PINS[:6] + c.PINS[8:]  # without inflection: eight bits, and the clock in p5's, which is low throughout
        names[5] = "clock"
        archive.writestr("metadata", "[device 1]\ncapturefile=logic-1\nsamplerate=24 MHz\nunitsize=1\n"
                         + "".join(f"probe{i + 1}={name}\n" for i, name in enumerate(names)))
        number, clock_edges = 0, 0
        for (n, word), (after, _) in zip(runs, runs[1:] + [(count, 0)]):
            low = (word & 0x1f) | (word >> 8 << 6 & 0xc0)
            length = min(after, count) - n
            if length <= 0:
                continue
            number += 1
            whole = (bytes([low]) * (period // 2) + bytes([low | 32]) * (period // 2)) * (length // period + 2)
            archive.writestr(f"logic-1-{number}", whole[n % period:n % period + length])
            clock_edges += 2 * length // period
    codes = {word & 0x3f for _, word in runs}
    total = clock_edges + len(runs)
    check(total > 9.9e6, f"{total} edges")
    start = time.monotonic()
    result = run("timing", "large.sr", "--map", "p0=p0,p1=p1,p2=p2,p3=p3,p4=p4,strobe=strobe,request=request,clock=clock",
                 "--json", "large.json", "-q")
    seconds = time.monotonic() - start
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{total / 1e6:.1f} million edges, {count / 1e6:.0f} MB of samples: {seconds:.2f} s, {peak:.1f} MiB")
    check(result.returncode in (0, 1), f"large.sr: {result.stderr}")
    check(peak < 64, f"{peak:.1f} MiB of memory")
    check(max(codes) < 32 or result.returncode == 1, "p5 is low")
    if max(codes) < 32:
        check(result.returncode == 0, f"large.sr passes: {result.stdout}")


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        if "--tools" in sys.argv:
            tools()
        elif "--large" in sys.argv:
            large()
        else:
            for part in (forms, maps, faults, noise, limits, silent, coarse, bad_sessions, bad_texts, bad_options, documents, page):
                start = time.monotonic()
                part()
                print(f"{part.__name__}: {time.monotonic() - start:.1f} s", flush=True)
        os.chdir("/")
    print(f"{done} checks, {failed} failed")
    return 1 if failed or not done else 0


if __name__ == "__main__":
    sys.exit(main())
