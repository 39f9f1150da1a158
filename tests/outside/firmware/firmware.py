#!/usr/bin/python3
"""firmware.py [-v]: firmware in the loop, seen from outside. Compiles the example firmware with avr-gcc, runs it with
`hyoid firmware`, and holds what comes out against `hyoid render` of the scores that it says.

    HYOID=build/hyoid HYOID_SOURCE=. tests/outside/firmware/firmware.py

Exit status 0 or 1; 77 if hyoid was built without libsimavr (1 under CI)."""
import os
import random
import re
import signal
import struct
import subprocess
import sys
import tempfile
import time

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
from timing import SOURCE, Checks, read_vcd

HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
DOCS = os.path.join(SOURCE, "docs/firmware")
HERE = os.path.join(SOURCE, "tests/outside/firmware")
TIMER_CLOCK = os.path.join(DOCS, "timer-clock.wiring")
OWN_CLOCK = os.path.join(DOCS, "own-clock.wiring")
check = Checks("-v" in sys.argv[1:])
speeds = []


def hyoid(*arguments, **options):
    return subprocess.run([HYOID, *arguments], capture_output=True, check=False, timeout=120, **options)


def text(data):
    return data.decode("utf-8", "replace").strip()


def accepted(*arguments, **options):
    result = hyoid(*arguments, **options)
    check.same(result.returncode, 0, f"hyoid {' '.join(arguments)}: {text(result.stderr)}")
    found = re.search(rb"MHz, ([0-9.]+) s until .* at ([0-9.]+) times real time", result.stderr)
    if found and float(found.group(1)) > 1:  # shorter runs measure how a process starts
        speeds.append((float(found.group(2)), os.path.basename(arguments[1])))
    return result


def refused(arguments, *messages):
    """Status 2 and one line that says all of this; nothing is left behind."""
    before = sorted(os.listdir())
    result = hyoid(*arguments)
    error = result.stderr.decode("utf-8", "replace")
    what = "hyoid " + " ".join(arguments)
    check.same(result.returncode, 2, f"{what}: exit status ({error.strip()})")
    check.that(error.startswith("hyoid: ") and error.count("\n") == 1, f"{what}: one line: {error!r}")
    for message in messages:
        check.that(message in error, f"{what}: {error!r} does not say {message!r}")
    check.same(sorted(os.listdir()), before, f"{what}: files left behind")


def compile_avr(source, elf, *options):
    subprocess.run(["avr-gcc", "-mmcu=atmega328p", "-Os", "-Wall", "-Wextra", "-Werror", "-I.", *options, "-o", elf, source],
                   check=True)


def samples(path):
    """Rate and bytes of the samples of a WAV, whatever else stands in it."""
    with open(path, "rb") as file:
        whole = file.read()
    at, rate = 12, 0
    while at < len(whole):
        name, size = struct.unpack("<4sI", whole[at:at + 8])
        if name == b"fmt ":
            rate = struct.unpack("<I", whole[at + 12:at + 16])[0]
        if name == b"data":
            return rate, whole[at + 8:at + 8 + size]
        at += 8 + size + size % 2
    raise ValueError(path + ": no samples")


def read_log(path):
    with open(path, encoding="ascii") as file:
        next(file)
        rows = [line.rstrip("\n").split(",") for line in file]
    return [(float(at), signal_name, value) for at, signal_name, value in rows]


def strobes(log):
    return [at for at, name, value in log if name == "phoneme" or (name == "strobe" and value == "1")]


def same_sound(score, elf, wiring, name):
    """Chip rate is one sample a filter cycle: nothing is rounded to a host's rate, and no sample may differ."""
    accepted("render", score, "--chip-rate", "-o", "score.wav", "--bits", "32", "--log", "score.csv", "-q")
    result = accepted("firmware", elf, "--wiring", wiring, "--chip-rate", "-o", "firmware.wav", "--bits", "32", "--log",
                      "firmware.csv")
    wanted, found = samples("score.wav"), samples("firmware.wav")
    check.that(len(wanted[1]) > 40000 and any(wanted[1]), f"{name}: something was said")
    check.same((found[0], len(found[1])), (wanted[0], len(wanted[1])), f"{name}: rate and length")
    check.that(found == wanted, f"{name}: the firmware's sound is not the score's, bit for bit")
    return result


# ---- the examples and their scores ----

def examples():
    for example in ("speaker", "cutter", "sweeper"):
        check.start(example)
        compile_avr(os.path.join(DOCS, example + ".c"), example + ".elf")
        result = same_sound(os.path.join(DOCS, example + ".score"), example + ".elf", TIMER_CLOCK, example)
        check.that(result.stdout.startswith(example.encode()), f"{example}: its UART was heard: {result.stdout!r}")
        check.that(b"until it slept with interrupts off" in result.stderr, f"{example}: why it ended")
        check.that(b"high for at least 1.5" in result.stderr, f"{example}: the strobe's width: {text(result.stderr)}")


def survey():
    check.start("survey")
    accepted("survey", "--short", "--fixed-clock", "--c", "survey.h", "-o", "survey.score", "-q")
    compile_avr(os.path.join(DOCS, "survey.c"), "survey.elf")
    same_sound("survey.score", "survey.elf", TIMER_CLOCK, "survey")


def sweeper_clocks():
    """Each phoneme has the clock of the score, to the double, in the log of the firmware's pins."""
    check.start("the sweeper's clocks")
    accepted("firmware", "sweeper.elf", "--wiring", TIMER_CLOCK, "--log", "sweeper.csv", "-q")
    wanted = [14.4e6 / (2 * n) for n in [24] + (list(range(23, 9, -1)) + list(range(11, 25))) * 2]
    clocks = [float(value) for _, name, value in read_log("sweeper.csv") if name == "clock_hz"]
    steady = [hz for hz in clocks if any(abs(hz - w) < 1e-3 for w in wanted)]
    in_turn = [hz for i, hz in enumerate(steady) if i == 0 or hz != steady[i - 1]]
    check.same(in_turn[:len(wanted) - 1], wanted[:len(wanted) - 1], "clocks in turn")


def own_clock():
    """A clock that runs by itself: the firmware's strobes fall anywhere in the filter cycle. Told the start and the latency,
    the score is the same bit for bit if the phonemes wait for request; cut ones come within the firmware's own latency."""
    check.start("a clock of its own")
    accepted("firmware", "speaker.elf", "--wiring", OWN_CLOCK, "--chip-rate", "-o", "firmware.wav", "--log", "own.csv", "-q")
    start = f"{strobes(read_log('own.csv'))[0]:.12f}"
    with open(os.path.join(DOCS, "speaker.score"), encoding="utf-8") as file:
        score = file.read()
    with open("own.score", "w", encoding="utf-8") as file:
        file.write(f"clock 720k rest {start}s answer 5.3us\n{score}")
    accepted("render", "own.score", "--chip-rate", "-o", "score.wav", "-q")
    check.that(samples("score.wav") == samples("firmware.wav"), "the speaker's sound is not the score's, bit for bit")

    accepted("firmware", "cutter.elf", "--wiring", OWN_CLOCK, "--log", "own.csv", "-q")
    with open(os.path.join(DOCS, "cutter.score"), encoding="utf-8") as file:
        score = file.read()
    with open("own.score", "w", encoding="utf-8") as file:
        file.write(f"clock 720k rest 10ms answer 5.3us\n{score}")
    accepted("render", "own.score", "--log", "score.csv", "-q")
    ours, theirs = strobes(read_log("own.csv")), strobes(read_log("score.csv"))
    check.same(len(ours), len(theirs), "strobes of the cutter")
    worst = max(abs((a - ours[0]) - (b - theirs[0])) for a, b in zip(ours, theirs))
    # each phoneme that is cut, or ends, may be late or early by the interrupt routine and a count of the timer
    check.that(worst < 14 * 10e-6, f"the cutter's strobes are off by {worst * 1e6:.1f} us")
    print(f"cutter, own clock: strobes within {worst * 1e6:.1f} us of the score's over {len(ours)} phonemes")


def same_as_its_log():
    """What `firmware` writes is what `render` makes of the log that it wrote."""
    check.start("the log says it all")
    outputs = ["-o", "a.wav", "--pins", "a.vcd", "--labels", "a.TextGrid", "--log", "a.csv"]
    accepted("firmware", "speaker.elf", "--wiring", TIMER_CLOCK, *outputs, "-q")
    accepted("render", "a.csv", *[o.replace("a.", "b.") for o in outputs], "-q")
    for ending in ("wav", "vcd", "TextGrid", "csv"):
        with open("a." + ending, "rb") as a, open("b." + ending, "rb") as b:
            check.that(a.read() == b.read(), f"{ending}: firmware and render of its log differ")
    accepted("firmware", "speaker.elf", "--wiring", TIMER_CLOCK, "-o", "p.flac", "--picture", "p.png", "--rate", "44100", "-q")
    check.that(os.path.getsize("p.png") > 10000 and os.path.getsize("p.flac") > 10000, "FLAC and picture")
    piped = accepted("firmware", "speaker.elf", "--wiring", TIMER_CLOCK, "--log", "-", "-q")
    with open("a.csv", "rb") as file:
        check.that(piped.stdout == file.read(), "a log on standard output, without the UART's text")
    check.same(piped.stderr, b"speaker: high water at six\n", "which goes to standard error then")


def handshake():
    """Request, as the chip gives it in the rendering, and the firmware's answers: each strobe of the speaker comes within 10 us
    of a rise, and never before it."""
    check.start("the firmware answers request")
    changes, _, _ = read_vcd("a.vcd")
    rises = [at for at, value in changes["request"] if value == 1 and at > 0]
    answers = [at for at, value in changes["strobe"] if value == 1][1:]
    check.same(len(answers), 13, "strobes")
    for answer in answers:
        before = [at for at in rises if at <= answer]
        check.that(before and answer - before[-1] < 10000, f"strobe at {answer} ns: no rise of request in the 10 us before")


def bit_banged():
    """The clock from a loop, strobe and request through inverters: the same sound again, for the chip only counts clocks."""
    check.start("a clock from a loop")
    compile_avr(os.path.join(HERE, "poll.c"), "poll.elf")
    accepted("render", os.path.join(DOCS, "speaker.score"), "--chip-rate", "-o", "score.wav", "--bits", "32", "-q")
    accepted("firmware", "poll.elf", "--wiring", os.path.join(HERE, "poll.wiring"), "--chip-rate", "-o", "firmware.wav",
             "--bits", "32")
    wanted, found = samples("score.wav")[1], samples("firmware.wav")[1]
    spoken = 4 * 29000  # samples; behind them the score's clock goes on, the loop's has ended
    check.that(len(wanted) > spoken and len(found) > spoken, "lengths")
    check.that(found[:spoken] == wanted[:spoken], "the loop's sound is not the score's, bit for bit")


def pwm():
    """A PWM output's rising edges are its timer's ends: one row, of exactly 16 MHz / 23."""
    check.start("a clock from a PWM output")
    compile_avr(os.path.join(HERE, "pwm.c"), "pwm.elf")
    with open("pwm.wiring", "w", encoding="ascii") as file:
        file.write("mcu atmega328p\nfrequency 16M\np = PC0..PC5\ni = low\nstrobe = PD3 pull-down\nclock = PB1\n")
    accepted("firmware", "pwm.elf", "--wiring", "pwm.wiring", "--log", "pwm.csv")
    clocks = [float(value) for _, name, value in read_log("pwm.csv") if name == "clock_hz"]
    check.same(clocks, [0.0, 16e6 / 23], "clocks")


# ---- what can be wrong ----

def bad_wiring():
    check.start("wrong wiring")
    with open(TIMER_CLOCK, encoding="utf-8") as file:
        right = file.read()
    cases = [
        ("atmega328p", "atmega328q", ["bad.wiring:2:11", "did you mean"]),
        ("atmega328p", "board", ["bad.wiring:2:11", "libsimavr does not know", "atmega328p"]),
        ("= PB3", "= PE3", ["bad.wiring:9:13", "found PE3, which atmega328p does not have; its ports are B C D"]),
        ("= PD2", "= PA2", ["bad.wiring:8:13", "PA2"]),
        ("uart      0", "uart      1", ["bad.wiring:10:11", "UART 1"]),
        ("= PD2", "= PD3", ["bad.wiring:8:13", "two outputs would fight"]),
        ("strobe ", "stroke ", ["bad.wiring:7:1", "did you mean strobe?"]),
        ("clock ", "# clock ", ["no line for clock"]),
    ]
    for old, new, messages in cases:
        check.that(old in right, f"the shipped wiring has {old!r}")
        with open("bad.wiring", "w", encoding="utf-8") as file:
            file.write(right.replace(old, new))
        refused(["firmware", "speaker.elf", "--wiring", "bad.wiring", "-o", "x.wav", "--log", "x.csv"], *messages)
    refused(["firmware", "speaker.elf", "--wiring", "missing.wiring", "-o", "x.wav"], "missing.wiring")
    refused(["firmware", "speaker.elf", "-o", "x.wav"], "--wiring")
    refused(["firmware", "--wiring", TIMER_CLOCK, "-o", "x.wav"], "FILE.elf")
    refused(["firmware", "speaker.elf", "--wiring", TIMER_CLOCK], "needs an output")
    refused(["firmware", "speaker.elf", "--wiring", TIMER_CLOCK, "-o", "speaker.elf"], "overwritten")
    refused(["firmware", "speaker.elf", "--wiring", TIMER_CLOCK, "-o", "x.wav", "--for", "5"], "--for 5: a time")
    refused(["firmware", "speaker.elf", "--wiring", TIMER_CLOCK, "-o", "x.wav", "--for", "0s"], "--for 0s: a time")
    refused(["firmware", "speaker.elf", "--wiring", TIMER_CLOCK, "-o", "x.wav", "--idle", "on"], "--idle on: a time")
    with open("tiny.wiring", "w", encoding="utf-8") as file:
        file.write("mcu attiny13\nfrequency 8M\np = low\ni = low\nstrobe = PB0\nclock = 720k\nuart off\n")
    refused(["firmware", "survey.elf", "--wiring", "tiny.wiring", "-o", "x.wav"], "survey.elf: needs", "attiny13 has 1024")


def bad_elf():
    check.start("ELF files that are none")
    wiring = ["--wiring", TIMER_CLOCK, "--log", "x.csv", "--for", "10ms"]
    refused(["firmware", "missing.elf", *wiring], "missing.elf")
    refused(["firmware", ".", *wiring], "not a regular file")
    refused(["firmware", HYOID, *wiring], "AVR executable")
    subprocess.run(["avr-gcc", "-mmcu=atmega328p", "-Os", "-c", "-o", "speaker.o", os.path.join(DOCS, "speaker.c")], check=True)
    refused(["firmware", "speaker.o", *wiring], "not linked")
    with open("speaker.elf", "rb") as file:
        whole = file.read()
    for length in (0, 1, 4, 51, 52, 60, 84, 115, 116, 180, 300, 700):
        with open("bad.elf", "wb") as file:
            file.write(whole[:length])
        refused(["firmware", "bad.elf", *wiring], "bad.elf: ", "AVR executable")
    seed = 20261125
    rolls = random.Random(seed)
    for case in range(40):
        bad = bytearray(whole)
        # half of the cases in the headers, half in the code
        for _ in range(1 + rolls.randrange(8)):
            bad[rolls.randrange(200 if case % 2 else 1000)] = rolls.randrange(256)
        with open("bad.elf", "wb") as file:
            file.write(bad)
        result = hyoid("firmware", "bad.elf", *wiring)
        check.that(result.returncode in (0, 2), f"seed {seed}, case {case}: exit status {result.returncode}")
        if result.returncode == 2:
            check.same(result.stderr.count(b"\n"), 1, f"seed {seed}, case {case}: {result.stderr!r}")
        if os.path.exists("x.csv"):
            os.remove("x.csv")


def trouble():
    check.start("firmware in trouble")
    for number in range(1, 7):
        compile_avr(os.path.join(HERE, "trouble.c"), f"trouble{number}.elf", f"-DTROUBLE={number}")
    run = ["--wiring", TIMER_CLOCK, "--log", "x.csv"]
    refused(["firmware", "trouble1.elf", *run], "the firmware crashed after 0.0", "no memory", "--for")
    before = re.search(r"--for ([0-9]+us)", text(hyoid("firmware", "trouble1.elf", *run).stderr))
    accepted("firmware", "trouble1.elf", *run, "--for", before.group(1))
    refused(["firmware", "trouble2.elf", *run], "the firmware crashed", "ran out of the flash")
    refused(["firmware", "trouble6.elf", *run], "the firmware crashed", "read where there is no memory, at 0xf000")
    result = accepted("firmware", "trouble3.elf", *run)
    for message in (b"until nothing more happened", b"never clocked the chip", b"nothing was spoken", b"2.00"):
        check.that(message in result.stderr, f"idle: {text(result.stderr)}")
    result = accepted("firmware", "trouble3.elf", *run, "--for", "300ms", "--idle", "off")
    check.that(b"0.300 s until its time was over" in result.stderr, f"--for: {text(result.stderr)}")
    result = accepted("firmware", "trouble4.elf", "--wiring", OWN_CLOCK, "--log", "x.csv", "--for", "1s")
    check.that(re.search(rb"reset the firmware [78] times", result.stderr), f"watchdog: {text(result.stderr)}")
    check.that(len(strobes(read_log("x.csv"))) in (8, 9), "a strobe after each reset")
    result = accepted("firmware", "trouble5.elf", *run, "--for", "100ms")
    check.same(result.stdout, b"a\\x1b[2Jb\n\\xff\n", "what a UART may do to a terminal")
    check.that(b"PD2 an output, against the chip's request" in result.stderr, f"a fight: {text(result.stderr)}")


def processes():
    """Nobody is left behind when the program is stopped."""
    check.start("stopped from outside")
    with subprocess.Popen([HYOID, "firmware", "trouble3.elf", "--wiring", TIMER_CLOCK, "--log", "k.csv", "--for", "24000s",
                           "--idle", "off"], stderr=subprocess.DEVNULL, stdout=subprocess.PIPE) as child:
        time.sleep(0.3)
        check.that(child.poll() is None, "it runs")
        child.send_signal(signal.SIGTERM)
        # the pipe closes when the last process that holds it has ended
        started = time.monotonic()
        child.stdout.read()
        check.that(time.monotonic() - started < 30, "its child ended too")
    check.that(not os.path.exists("k.csv"), "no log")


def help_text():
    """(Its examples are run by cli.py.)"""
    check.start("help")
    result = accepted("firmware", "--help")
    for word in (b"--wiring", b"--for", b"--idle", b"--chip-rate", b"Examples"):
        check.that(word in result.stdout, f"help says {word!r}")


def main():
    if b"without libsimavr" in hyoid("firmware").stderr:
        print("SKIP: hyoid was built without libsimavr")
        return 1 if os.environ.get("CI") else 77
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        for part in (examples, survey, sweeper_clocks, own_clock, same_as_its_log, handshake, bit_banged, pwm, bad_wiring, bad_elf,
                     trouble, processes, help_text):
            part()
        os.chdir(SOURCE)
    slowest = min(speeds)
    print(f"at {slowest[0]} ({slowest[1]}) to {max(speeds)[0]} times real time on one core of this machine, rendering included")
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
