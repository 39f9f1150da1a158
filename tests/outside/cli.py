#!/usr/bin/python3
"""cli.py [-v] [--hour]: what the program does with files, options, pipes, full disks and signals, seen from outside.

    HYOID=build/hyoid HYOID_SOURCE=. tests/outside/cli.py

--hour renders hours instead, and compares their memory with that of a second. Exit status 0 or 1. Only the standard
library is used. What the machine can't show (a small disk, another user: both take root) is said and left out."""
import ctypes
import ctypes.util
import errno
import glob
import math
import os
import resource
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time

sys.dont_write_bytecode = True
from timing import SOURCE, Checks, level_at, read_log, read_textgrid, read_vcd, read_wav

HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
ALL_OUTPUTS = ["-o", "x.wav", "--pins", "x.vcd", "--log", "x.csv", "--labels", "x.TextGrid", "--picture", "x.png"]
ENDINGS = (".wav", ".vcd", ".csv", ".TextGrid", ".png")
NOBODY = 65534
check = Checks("-v" in sys.argv[1:])


def run(*arguments, cwd, **options):
    return subprocess.run([HYOID, *arguments], cwd=cwd, capture_output=True, check=False, timeout=120, **options)


class Child(subprocess.Popen):
    """A program that runs beside the test, and not longer."""
    running = []

    def __init__(self, *arguments, **options):
        super().__init__(*arguments, **options)
        Child.running.append(self)

    def __exit__(self, *reason):
        Child.running.remove(self)
        return super().__exit__(*reason)


def too_slow(_number, _frame):
    for child in Child.running:
        child.kill()
    raise TimeoutError(f"{check.name}: no end is seen")


def listing(folder):
    """Everything in a folder and below, hidden files too, with what it holds."""
    found = {}
    for path, folders, files in os.walk(folder):
        for name in folders + files:
            whole = os.path.join(path, name)
            key = os.path.relpath(whole, folder)
            if os.path.islink(whole) or not os.path.isfile(whole):
                found[key] = None
            else:
                with open(whole, "rb") as file:
                    found[key] = file.read()
    return found


def write(folder, name, text):
    with open(os.path.join(folder, name), "wb" if isinstance(text, bytes) else "w") as file:
        file.write(text)


def read(folder, name):
    with open(os.path.join(folder, name), "rb") as file:
        return file.read()


class Folder(tempfile.TemporaryDirectory):
    """A scratch folder; what is in it when it is made ready must be all that is in it after a refusal."""

    def __enter__(self):
        self.path = super().__enter__()
        return self

    def put(self, name, text):
        write(self.path, name, text)
        return self

    def refused(self, arguments, message, what=None, status=2, **options):
        """Status 2, one line on standard error that holds `message`, nothing else anywhere."""
        before = listing(self.path)
        result = run(*arguments, cwd=self.path, **options)
        error = result.stderr.decode("utf-8", "replace")
        what = what or "hyoid " + " ".join(arguments)
        check.same(result.returncode, status, f"{what}: exit status ({error.strip()})")
        check.same(result.stdout, b"", f"{what}: standard output")
        check.that(error.startswith("hyoid: ") and error.endswith("\n") and error.count("\n") == 1,
                   f"{what}: one line on standard error: {error!r}")
        if isinstance(message, bytes):
            check.same(result.stderr, b"hyoid: " + message + b"\n", f"{what}: message")
        else:
            check.that(message in error, f"{what}: {error!r} does not say {message!r}")
        check.same(sorted(listing(self.path)), sorted(before), f"{what}: files left behind")
        check.that(listing(self.path) == before, f"{what}: files were changed")

    def accepted(self, *arguments, **options):
        result = run(*arguments, cwd=self.path, **options)
        check.same((result.returncode, result.stderr if "--quiet" in arguments else b""), (0, b""),
                   f"hyoid {' '.join(arguments)}: {result.stderr.decode('utf-8', 'replace').strip()}")
        return result


# ---- bad input, bad options ----

def bad_inputs():
    check.start("bad inputs")
    count = 0
    for kind, ending in (("scores", ".score"), ("logs", ".csv")):
        for path in sorted(glob.glob(os.path.join(SOURCE, "tests/bad", kind, "*" + ending))):
            count += 1
            name = os.path.basename(path)
            with open(path[:-len(ending)] + ".expect", "rb") as file:
                expected = file.read().split(b"\n")[0]
            with Folder() as f:
                shutil.copy(path, os.path.join(f.path, name))
                f.put("x.wav", "an older file")
                f.refused(["render", name, "-o", "x.wav"], expected)
                # all outputs, and none of them left; the path is told as it was given
                os.unlink(os.path.join(f.path, "x.wav"))
                f.refused(["render", "./" + name, *ALL_OUTPUTS], b"./" + expected)
    check.that(count >= 100, f"{count} bad inputs")


def bad_options():
    check.start("bad options")
    ok = ["render", "a.score", "-o", "x.wav"]
    cases = [
        ([], "a verb is missing"),
        (["rendre"], "did you mean render"),
        (["sing"], "unknown verb"),
        (["help", "rendre"], "did you mean render"),
        (["--rate", "8000"], "unknown verb"),
        (["render"], "needs an INPUT"),
        (["render", "a.score"], "needs an output"),
        (["render", "-o", "x.wav"], "needs an INPUT"),
        (["render", "a.score", "b.score", "-o", "x.wav"], "b.score"),
        (["render", "a.score", "-o"], "needs a value"),
        (["render", "a.score", "--output"], "needs a value"),
        (ok + ["-o", "y.wav"], "twice"),
        (ok + ["--output=y.wav"], "twice"),
        (ok + ["--rates", "8000"], "did you mean --rate"),
        (ok + ["--speed", "8000"], "unknown option --speed"),
        (ok + ["-x"], "unknown option -x"),
        (ok + ["--dither=1"], "takes no value"),
        (ok + ["--rate"], "needs a value"),
        (ok + ["--part", "missing"], "missing"),
        (ok + ["--part", "a.score"], "a.score"),
        (ok + ["--level", ""], "--level"),
        (["render", "a.score", "-o", ""], "name is empty"),
        (["render", "", "-o", "x.wav"], "name is empty"),
        (["render", "a.score", "-o", "x"], ".wav, .flac or .ogg"),
        (["render", "a.score", "-o", "x.mp4"], ".wav, .flac or .ogg"),
        (["render", "a.score", "-o", "x.flac", "--bits", "32"], "FLAC"),
        (["render", "a.score", "-o", "x.wav", "--bits", "32", "--dither"], "dither"),
        (["render", "a.vcd", "-o", "x.wav"], "hyoid: a.vcd:"),
        (ok + ["--chip-rate", "--clock", "35"], "--chip-rate needs a clock of 36 to 6912000 Hz"),
        (ok + ["--chip-rate", "--clock", "6.912001M"], "--chip-rate needs a clock of 36 to 6912000 Hz"),
        (ok + ["--clock", "0"], "clock stands still"),
        (["chart", "--csv", "--json"], "--json"),
        (["chart", "extra"], "extra"),
        (["chart", "--part", "missing"], "missing"),
        (["chart", "-o", "missing/x"], "missing"),
        (["chart", "--svg"], "unknown option --svg"),
        (["part"], "part"),
        (["part", "check"], "needs the folder"),
        (["part", "check", "missing"], "missing"),
        (["part", "chekc", "missing"], "check"),
        (["part", "export"], "export"),
        (["part", "show", "nosuchthing"], "nosuchthing"),
        (["part", "show", "0x40"], "0x40"),
        (["part", "show", "--part", "missing"], "missing"),
        (["part", "--depth"], "unknown option --depth"),
    ]
    for option, values in (("rate", ("7999", "192001", "44100.5", "-1", "x", "1e5", "8000Hz", "8 000", "")),
                           ("bits", ("8", "12", "64", "x", "16.0", "-16", "")),
                           ("clock", ("-1", "100000001", "101M", "x", "720kk", "720 k", "nan", "inf", "720m", "720mHz", "1,5M", "720kH")),
                           ("level", ("-1", "4", "1.5", "x", "00x")),
                           ("tail", ("-1", "60001", "x", "50ms", "nan"))):
        cases += [(ok + ["--" + option, value], "--" + option) for value in values]
    for arguments, message in cases:
        with Folder() as f:
            f.put("a.score", "hh aa\n").put("b.score", "hh aa\n").put("a.vcd", "$end\n").refused(arguments, message)


def units_and_help():
    check.start("help VERB; frequencies in letters of either case; a clock without its k")
    with Folder() as f:
        f.put("a.score", "hh aa\n").put("slow.score", "clock 720 hh\n")
        for verb in ("render", "part", "spell", "sweep", "firmware"):
            check.same(run("help", verb, cwd=f.path).stdout, run(verb, "--help", cwd=f.path).stdout, f"hyoid help {verb}")
        logs = set()
        for clock in ("650000", "650k", "650K", "650kHz", "650khz", "650KHZ", "0.65M", "0.65Mhz", "650000hz"):
            said = f.accepted("render", "a.score", "--log", "x.csv", "--clock", clock).stderr.decode()
            check.that("is a k missing" not in said, f"--clock {clock}: {said!r}")
            logs.add(read(f.path, "x.csv"))
        check.same(len(logs), 1, "all of them are one clock")
        for arguments in (["a.score", "--clock", "650"], ["slow.score"]):
            said = f.accepted("render", *arguments, "--log", "x.csv").stderr.decode()
            check.that("is a k missing" in said, f"{arguments}: {said!r}")


def bad_places():
    check.start("places that can't be read or written")
    with Folder() as f:
        f.put("a.score", "hh aa\n").put("a.csv", "time_s,signal,value\n0,phoneme,8\n").put("old.wav", "an older file")
        os.mkdir(os.path.join(f.path, "folder"))
        os.mkdir(os.path.join(f.path, "folder.wav"))
        os.symlink("old.wav", os.path.join(f.path, "link.wav"))
        for arguments, message in (
                (["missing.score", "-o", "x.wav"], "missing.score: No such file"),
                (["folder", "-o", "x.wav"], "it is a folder"),
                (["a.score/b", "-o", "x.wav"], "cannot read a.score/b"),
                (["a.score", "-o", "folder.wav"], "it is a folder"),
                (["a.score", "--log", "folder"], "it is a folder"),
                (["a.score", "--pins", "folder/"], "it is a folder"),
                (["a.score", "--labels", "new/"], "it is a folder"),
                (["a.score", "-o", "none/x.wav"], "the folder none does not exist"),
                (["a.score", "-o", "a.csv/x.wav"], "a.csv"),
                (["a.score", "-o", "x.wav", "--picture", "none/x.png"], "the folder none does not exist"),
                (["a.score", "-o", "x.wav", "--log", "a.csv/x"], "a.csv"),
                (["a.score", "-o", "x" * 300 + ".wav"], "the name is too long"),
                # one place for two outputs, or for the input, however it is spelled
                (["a.score", "-o", "x.wav", "--log", "x.wav"], "two outputs"),
                (["a.score", "-o", "x.wav", "--labels", "./x.wav"], "two outputs"),
                (["a.score", "-o", "x.wav", "--pins", "folder/../x.wav"], "two outputs"),
                (["a.score", "-o", "x.wav", "--picture", f.path + "/x.wav"], "two outputs"),
                (["a.score", "-o", "old.wav", "--picture", "link.wav"], "two outputs"),
                (["a.score", "-o", "-", "--log", "-"], "two outputs"),
                (["a.score", "--log", "a.score"], "is an input"),
                (["a.csv", "--log", "a.csv"], "is an input"),
                (["a.csv", "--log", "./a.csv"], "is an input"),
                (["a.csv", "--labels", "folder//../a.csv"], "is an input"),
                (["old.wav", "-o", "link.wav"], "is an input")):
            f.refused(["render", *arguments], message)
        f.refused(["render", "-", "-o", "x.wav"], "expected", input=b"hh aa sing\n")
        f.refused(["render", "-", "-o", "x.wav"], "standard input:1:1: ", input=b"")
        f.refused(["render", "a.score", "-o", "x.wav", "--log", "y.csv"], "the file would become larger than allowed",
                  preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096)))

        # a full device: standard output, and a device named as an output; no other output is left then
        with open("/dev/full", "wb") as full:
            before = listing(f.path)
            result = subprocess.run([HYOID, "render", "a.score", "-o", "-", "--log", "x.csv", "--labels", "x.TextGrid"],
                                    cwd=f.path, stdout=full, stderr=subprocess.PIPE, check=False, timeout=120)
        check.same((result.returncode, result.stderr), (2, b"hyoid: cannot write standard output: the disk is full\n"),
                   "standard output is full")
        check.that(listing(f.path) == before, "files are left although standard output was full")
        f.refused(["render", "a.score", "-o", "x.wav", "--log", "/dev/full", "--labels", "y"],
                  b"cannot write /dev/full: the disk is full")
        f.refused(["render", "a.score", "-o", "x.wav", "--pins", "/dev/full", "--picture", "old.png"],
                  b"cannot write /dev/full: the disk is full")
        check.that(os.path.islink(os.path.join(f.path, "link.wav")), "the link is a link")
        f.accepted("render", "a.score", "-o", "link.wav", "--quiet")
        check.that(os.path.islink(os.path.join(f.path, "link.wav")) and read(f.path, "old.wav")[:4] == b"RIFF",
                   "what a link points to is replaced, not the link")
        f.accepted("render", "a.score", "-o", "x.wav", "--pins", "/dev/null", "--quiet")


def forms_and_inputs():
    check.start("no verb writes over its input, or one form under the name of another")
    with Folder() as f:
        f.put("a.score", "hh aa\n").put("a.map", "p0=D0\n").put("dac.csv", "code,hz\n0,500000\n")
        f.accepted("render", "a.score", "-o", "a.wav", "--pins", "a.vcd", "--quiet")
        f.accepted("part", "export", "mine")
        f.accepted("compare", "--write-limits", "limits.csv")
        compare = ["compare", "a.wav", "--input", "a.score"]
        sweep = ["sweep", "a.score", "--clock", "1M..2M"]
        for arguments in (
                [*compare, "--json", "./a.wav"], [*compare, "--report", "mine/../a.score"], [*compare, "--picture", f.path + "/a.wav"],
                [*compare, "--limits", "limits.csv", "--write-limits", "./limits.csv"],
                [*compare, "--part", "mine", "--write-limits", "mine/phonemes.csv"],
                ["timing", "a.vcd", "--json", "./a.vcd"], ["timing", "a.vcd", "--map", "a.map", "--report", "./a.map"],
                ["timing", "--part", "mine", "--write-limits", "./mine/constants.csv"],
                ["render", "a.vcd", "--map", "a.map", "--log", "./a.map"],
                ["render", "a.score", "--part", "mine", "--log", "mine/phonemes.csv"],
                [*sweep, "--csv", "./a.score"], ["sweep", "a.score", "--dac", "dac.csv", "--csv", "./dac.csv"],
                ["chart", "--csv", "--part", "mine", "-o", "mine/phonemes.csv"],
                ["part", "show", "--part", "mine", "-o", "mine/constants.csv"],
                ["part", "export", "--c", "--part", "mine", "-o", "mine/constants.csv"],
                ["part", "diff", "default", "mine", "-o", "mine/constants.csv"]):
            f.refused(arguments, "is an input and would be overwritten")
        f.refused(["survey", "--part", "mine", "--log", "mine/phonemes.csv"], "is an input")
        for arguments, ending in (
                (["survey", "-o", "x.wav"], ".score"), (["survey", "--c", "x.score"], ".h"), (["survey", "--log", "x.json"], ".csv"),
                (["render", "a.score", "--pins", "x.wav"], ".vcd"),
                (["render", "a.score", "--labels", "x.csv"], ".TextGrid"), (["render", "a.score", "--picture", "x.FLAC"], ".png"),
                (["render", "a.score", "--log", "x.score"], ".csv"), (["chart", "-o", "x.png"], ".txt"),
                (["chart", "--json", "-o", "x.csv"], ".json"), (["chart", "--picture", "x.html"], ".png"),
                (["part", "show", "-o", "x.wav"], ".txt"), (["part", "export", "--c", "-o", "x.csv"], ".h"),
                ([*compare, "--json", "x.html"], ".json"), ([*compare, "--report", "x.json"], ".html"),
                (["timing", "a.vcd", "--report", "x.vcd"], ".html"), ([*sweep, "--picture", "x.wav"], ".png"),
                ([*sweep, "--csv", "x.wav"], ".csv")):
            f.refused(arguments, f"a name that ends in {ending} would be right")
        f.accepted("render", "a.score", "--pins", "X.VCD", "--labels", "x.textgrid", "--log", "no_ending", "--quiet")


def other_files():
    check.start("a file of another kind is called by its name")
    with Folder() as f:
        f.put("a.score", "hh aa\n").put("page", "<!DOCTYPE html>\n")
        f.accepted("render", "a.score", "-o", "a.wav", *ALL_OUTPUTS[2:], "--quiet")
        f.accepted("render", "a.score", "-o", "a.flac", "--quiet")
        f.accepted("render", "a.score", "-o", "a.ogg", "--quiet")
        recordings = "compare, diagnose and calibrate take recordings"
        input_right, capture_right, recording_right = ("a score, a write log or a capture would be right",
                                                       "a capture (.vcd, .sr or .csv) would be right",
                                                       "a recording (WAV or FLAC) would be right")
        timing, compare = ["timing"], ["compare", "--input", "a.score"]
        for arguments, name, kind, right, advice in (
                (["render", "-o", "y.wav"], "a.wav", "a sound file", input_right, recordings),
                (["render", "-o", "y.wav"], "a.flac", "a sound file", input_right, recordings),
                (["sweep", "--clock", "1M..2M"], "a.ogg", "a sound file", input_right, recordings),
                (["vectors", "-o", "new"], "x.png", "a picture", input_right, "no verb"),
                (["compare", "a.wav", "--input"], "a.wav", "a sound file", input_right, recordings),
                (["compare", "a.wav", "--input"], HYOID, "a program (ELF)", input_right, "hyoid firmware"),
                (["render", "-o", "y.wav"], "x.TextGrid", "a TextGrid", input_right, "no verb"),
                (timing, "x.csv", "a write log", capture_right, "--pins"), (timing, "a.score", "a score", capture_right, "--input"),
                (timing, "a.wav", "a sound file", capture_right, recordings), (timing, "page", "an HTML page", capture_right, "no verb"),
                (compare, "a.score", "a score", recording_right, "--input"), (compare, "x.csv", "a write log", recording_right, "render"),
                (compare, "x.vcd", "a capture", recording_right, "hyoid timing")):
            f.refused([*arguments, name], f"{name}: this seems to be {kind}; {right} (")
            f.refused([*arguments, name], advice)


def faulty_boards():
    check.start("a board with a fault, and what says that there is one")
    with Folder() as f:
        f.put("a.score", "hh/71 s ow/185 s\n")
        said = f.accepted("render", "a.score", "-o", "good.wav", "--pins", "good.vcd", "--log", "good.csv").stderr.decode()
        check.that("fault" not in said and "built-in (an estimate)" in said, f"a good chip: {said!r}")
        check.that(b"$comment The default part is an ESTIMATE" in read(f.path, "good.vcd"), "the dump says that the part is an estimate")
        said = f.accepted("render", "a.score", "-o", "bad.wav", "--pins", "bad.vcd", "--fault", "no-noise:0.9").stderr.decode()
        check.that("fault: no-noise at 0.9" in said, f"the fault is told: {said!r}")
        check.that(b"$comment A chip with the fault no-noise at 0.9. The default" in read(f.path, "bad.vcd"), "the dump tells the fault")
        check.that(read(f.path, "bad.wav") != read(f.path, "good.wav"), "the fault is heard")
        said = f.accepted("render", "good.csv", "--log", "x.csv", "--fault", "strobe-dead").stderr.decode()
        check.that("0 phonemes" in said, f"a log is played to a faulty chip: {said!r}")
        said = f.accepted("render", "a.score", "--log", "slow.csv", "--fault", "timer-slow").stderr.decode()
        check.that(read_log(os.path.join(f.path, "slow.csv"))[-1][0] > 1.9 * read_log(os.path.join(f.path, "good.csv"))[-1][0],
                   "the board waits for the faulty chip's request")
        f.accepted("render", "a.score", "--log", "never.csv", "--fault", "request-low")
        for fault, message in (("nonoise", "did you mean no-noise"), ("hum:0", "hum:0.5"), ("hum:1.1", "hum:0.5"), ("hum:", "hum:0.5"),
                               ("i0-low:0.5", "has no degrees"), ("", "one of these")):
            f.refused(["render", "a.score", "-o", "x.wav", "--fault", fault], message)
        names = run("render", "a.score", "--log", "x", "--fault", "?", cwd=f.path).stderr.decode().rpartition("right: ")[2].split()
        with open(os.path.join(SOURCE, "docs/man/hyoid.1")) as page:
            words = page.read().split()
        check.that(len(names) >= 41 and not [name for name in names if name not in words], "hyoid(1) lists every fault")


def options_without_effect():
    check.start("an option that the input overrules is told")
    with Folder() as f:
        f.put("sets.score", "clock 700k level 2 hh aa\n").put("open.score", "hh aa\n").put("late.score", "hh aa clock 700k level 2\n")
        clock, level = "sets its own clock at its start; --clock had no effect", "sets its own inflection at its start; --level had no effect"
        for verb, more, both in (("render", ["--log", "x.csv"], True), ("vectors", ["-o"], True),
                                 ("sweep", ["--clock", "1M..2M", "--steps", "2"], False)):
            for name in ("sets", "open", "late"):
                arguments = [verb, name + ".score", *more, *([name] if verb == "vectors" else [])]
                given = (["--clock", "1M"] if both else []) + ["--level", "1"]
                said = f.accepted(*arguments, *given).stderr.decode()
                check.same((clock in said, level in said), (both and name == "sets", name == "sets"), f"{verb} of {name}.score: {said!r}")


def other_user():
    if os.geteuid() != 0:
        print("left out: places that another user may not touch (takes root)")
        return
    check.start("permissions")
    with Folder() as f:
        program = os.path.join(f.path, "hyoid")
        shutil.copy(HYOID, program)
        os.chmod(program, 0o755)
        for name, mode in (("open", 0o777), ("closed", 0o755)):
            os.mkdir(os.path.join(f.path, name))
            os.chmod(os.path.join(f.path, name), mode)
        os.chmod(f.path, 0o755)
        f.put("a.score", "hh aa\n").put("secret.score", "hh aa\n").put("open/mine.wav", "an older file")
        os.chmod(os.path.join(f.path, "secret.score"), 0)
        os.chmod(os.path.join(f.path, "a.score"), 0o644)
        os.chmod(os.path.join(f.path, "open/mine.wav"), 0o444)
        before = listing(f.path)
        for arguments, message in ((["secret.score", "-o", "open/x.wav"], "cannot read secret.score: Permission denied"),
                                   (["a.score", "-o", "closed/x.wav"], "cannot write closed/x.wav: permission denied"),
                                   (["a.score", "-o", "open/x.wav", "--log", "closed/x"], "permission denied"),
                                   (["a.score", "-o", "open/mine.wav"], "open/mine.wav: permission denied")):
            result = subprocess.run([program, "render", *arguments], cwd=f.path, capture_output=True, check=False,
                                    user=NOBODY, group=NOBODY, extra_groups=[])
            check.same(result.returncode, 2, f"{arguments}: exit status")
            check.that(message in result.stderr.decode(), f"{arguments}: {result.stderr}")
            check.that(listing(f.path) == before, f"{arguments}: files were changed")


def full_disk():
    with tempfile.TemporaryDirectory() as folder, Folder() as f:
        mounted = os.geteuid() == 0 and subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", folder], capture_output=True, check=False).returncode == 0
        if not mounted:
            print("left out: a small disk that fills up (takes root and the right to mount)")
            return
        try:
            check.start("a disk that fills up")
            write(folder, "old.wav", "an older file")
            f.put("a.score", "repeat 20 { hh aa/250 }\n")
            for arguments in (["-o", folder + "/x.wav"], ["-o", folder + "/old.wav"], ["--pins", folder + "/x.vcd"],
                              ["-o", folder + "/x.flac", "--log", "here.csv"], ["-o", "here.wav", "--pins", folder + "/x"],
                              ["-o", folder + "/x.wav", "--pins", folder + "/x.vcd", "--labels", folder + "/x.TextGrid"]):
                f.refused(["render", "a.score", *arguments], ": the disk is full")
                check.same(listing(folder), {"old.wav": b"an older file"}, f"{arguments}: the full disk")
        finally:
            subprocess.run(["umount", folder], check=True)


# ---- pipes and signals ----

def pipes():
    check.start("standard input and output")
    with Folder() as f:
        score = "clock 650k hh eh l ow mark m pau\n"
        f.put("a.score", score)
        f.accepted("render", "a.score", *ALL_OUTPUTS, "--quiet")
        whole = {ending: read(f.path, "x" + ending) for ending in ENDINGS}
        for option, ending in (("-o", ".wav"), ("--pins", ".vcd"), ("--log", ".csv"), ("--labels", ".TextGrid")):
            result = f.accepted("render", "a.score", option, "-")
            check.that(result.stdout == whole[ending], f"{option} - gives the file's bytes")
            check.that(result.stderr.count(b"\n") == 1 and b"phonemes" in result.stderr, "the summary goes to standard error")
        for text in (score.encode(), b"\xef\xbb\xbf" + score.replace("\n", "\r\n").encode(), whole[".csv"],
                     b"\xef\xbb\xbf" + whole[".csv"]):
            check.that(f.accepted("render", "-", "-o", "-", "--quiet", input=text).stdout == whole[".wav"],
                       f"{text[:20]} from standard input")
        # a pipe that is named, both ways
        fifo = os.path.join(f.path, "fifo.wav")
        os.mkfifo(fifo)
        with Child([HYOID, "render", "a.score", "-o", "fifo.wav", "--quiet"], cwd=f.path) as process:
            with open(fifo, "rb") as file:
                check.that(file.read() == whole[".wav"], "a named pipe gets the file's bytes")
            process.wait()
        check.that(process.returncode == 0 and not os.path.isfile(fifo), "and stays a pipe")
        with Child([HYOID, "render", "fifo.wav", "--log", "-", "--quiet"], cwd=f.path,
                              stdout=subprocess.PIPE) as process:
            with open(fifo, "wb") as file:
                file.write(score.encode())
            check.that(process.stdout.read() == whole[".csv"], "a score from a named pipe")
        # a reader that goes away
        with Child([HYOID, "render", "a.score", "-o", "-", "--log", "gone.csv", "--quiet"], cwd=f.path,
                              stdout=subprocess.PIPE) as process:
            process.stdout.read(100)
            process.stdout.close()
            process.wait()
        check.same(process.returncode, -signal.SIGPIPE, "the reader goes away: exit status")
        check.same(sorted(listing(f.path)), sorted(["a.score", "fifo.wav"] + ["x" + e for e in ENDINGS]),
                   "the reader goes away: files")
        result = run("render", "a.score", "-o", "-", cwd=f.path, preexec_fn=lambda: os.close(1))
        check.that(result.returncode == 2 and b"it is closed" in result.stderr, f"closed standard output: {result.stderr}")
        for verb in (["chart"], ["render", "--help"], ["--version"], ["--help"], ["part", "show", "aa"]):
            with open("/dev/full", "wb") as full:
                result = subprocess.run([HYOID, *verb], stdout=full, stderr=subprocess.PIPE, check=False)
            check.that(result.returncode == 2, f"{verb} to a full device: exit status {result.returncode}")


def signals():
    check.start("signals")
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        with Folder() as f, tempfile.TemporaryDirectory() as scratch:
            f.put("hour.score", "repeat 7200 { hh aa/250 l ow/185 }\n").put("x.wav", "an older file")
            environment = dict(os.environ, TMPDIR=scratch)
            with Child([HYOID, "render", "hour.score", *ALL_OUTPUTS], cwd=f.path, env=environment,
                                  stderr=subprocess.PIPE) as process:
                deadline = time.monotonic() + 60
                while len(os.listdir(f.path)) < 2 + 5 and time.monotonic() < deadline:
                    time.sleep(0.01)
                check.same(len(os.listdir(f.path)), 2 + 5, "temporary files while it works")
                time.sleep(0.2)
                process.send_signal(number)
                process.wait()
            check.same(process.returncode, -number, f"signal {number}: exit status")
            check.same(sorted(os.listdir(f.path)), ["hour.score", "x.wav"], f"signal {number}: files")
            check.same(read(f.path, "x.wav"), b"an older file", f"signal {number}: the older file")
            check.same(os.listdir(scratch), [], f"signal {number}: temporary folder")


# ---- the write log says it all; every run gives the same bytes ----

SCORES = {
    "glides": """# glides that interrupt glides, at every kind of moment
clock 720k hh eh glide 300k over 1s l ow glide 1.1M over 700ms aa/250 glide 500k over 300ms exp hh aa
glide 900k over 1.3s exp eh l ow glide 450k over 2s exp pau rest 123.456789ms clock 640k aa glide 720001.5 over 77us
hold 90ms glide 0 over 900ms aa/250 aa/250 aa rest 2s glide 650k over 1s hold off aa ow glide 333.333333k over 0.000001us
clock 700k glide 701k over 3s ih glide 650k over 100us exp t
""",
    "exponential": "clock 100k glide 3M over 2s exp repeat 30 { aa t } glide 12345.678 over 900ms exp repeat 3 { s iy }\n",
    "holds": "hold 80ms repeat 5 { aa/250 s t ow/185 } hold 12.3ms repeat 40 { k aa/71 } hold off answer 40us repeat 9 { t aa }\n",
    "rests": "rest 33.3ms hh rest 1us eh rest 0.000001us l rest 500ms ow rest 1s level 3 rest 100ms clock 500k rest 1s pau\n",
    "babble": """mark start level 0
babble seed 7 phonemes 10..60 from all
repeat 3 { level 2 babble seed 99 phonemes 5 from aa iy t s
glide 500k over 120ms exp mark here babble seed 4294967295 phonemes 1..9 from all except pau end
glide 900k over 333ms hold 44.4ms }
mark end
""",
    "stand": "hold 50.0000003ms aa/250 clock 0 eh rest 200ms level 3 mark frozen clock 300k hold off l ow clock 0\n",
    "fast": "clock 100M repeat 200 { aa t s } clock 20k k clock 5M repeat 20 { iy }\n",
}


def round_trip():
    check.start("the write log gives the same performance, and every run the same bytes")
    scores = dict(SCORES)
    for path in sorted(glob.glob(os.path.join(SOURCE, "docs/scores/*.score"))):
        with open(path, encoding="utf-8") as file:
            scores[os.path.basename(path)] = file.read()
    check.that(len(scores) >= len(SCORES) + 3, "scores in docs")
    for name, text in scores.items():
        with Folder() as f:
            for folder in ("first", "second", "log"):
                os.mkdir(os.path.join(f.path, folder))
            f.put("s.score", text)
            f.accepted("render", "s.score", *(a if a.startswith("-") else "first/" + a for a in ALL_OUTPUTS), "--quiet")
            f.accepted("render", "s.score", *(a if a.startswith("-") else "second/" + a for a in ALL_OUTPUTS), "--quiet",
                       env={"LC_ALL": "de_DE.UTF-8", "TZ": "Asia/Tokyo", "HOME": "/"})
            f.accepted("render", "first/x.csv", *(a if a.startswith("-") else "log/" + a for a in ALL_OUTPUTS), "--quiet")
            files = listing(f.path)
            for ending in ENDINGS:
                first = files["first/x" + ending]
                check.that(first == files["second/x" + ending], f"{name}: two runs differ in {ending}")
                check.that(first == files["log/x" + ending], f"{name}: score and log differ in {ending}")
            check.that(len(files["first/x.wav"]) > 5000, f"{name}: sound")
            # without the other outputs, and in another format, the sound is the same
            f.accepted("render", "s.score", "-o", "alone.wav", "--quiet")
            check.that(read(f.path, "alone.wav") == files["first/x.wav"], f"{name}: the sound alone")
            ends = [row for row in read_log(os.path.join(f.path, "first/x.csv")) if row[1] == "end"]
            check.that(len(ends) == 1, f"{name}: the log ends")


# ---- help ----

def examples():
    check.start("the examples in --help")
    count = 0
    overview = run("--help", cwd=SOURCE).stdout.decode().partition("Usage: hyoid VERB ...\n\n")[2].split("\n\n")[0]
    verbs = [line.split()[0] for line in overview.splitlines()]
    check.that({"render", "chart", "part"} <= set(verbs), f"verbs in --help: {verbs}")
    for verb in verbs:
        with Folder() as f:
            text = f.accepted(verb, "--help").stdout.decode()
            check.that(text == f.accepted(verb, "-h").stdout.decode(), f"{verb}: -h and --help")
            lines = [line.strip() for line in text.partition("Examples:\n")[2].splitlines()]
            check.that(len(lines) >= 2, f"{verb}: {len(lines)} examples")
            # what a user sees at the repository's root; what is written stays here
            for name in os.listdir(SOURCE):
                if name != ".git" and not name.startswith("build"):
                    os.symlink(os.path.join(os.path.abspath(SOURCE), name), os.path.join(f.path, name))
            os.mkdir(os.path.join(f.path, ".bin"))
            os.symlink(HYOID, os.path.join(f.path, ".bin/hyoid"))
            for line in lines:
                if verb == "live" or line.startswith("hyoid calibrate"):
                    continue  # needs a sound card; takes a minute: tests/outside/live and tests/outside/calibrate try them
                if line.startswith("avr-gcc") and shutil.which("avr-gcc") is None and "CI" not in os.environ:
                    break
                count += 1
                result = subprocess.run(["sh", "-ec", line], cwd=f.path, capture_output=True, check=False,
                                        env=dict(os.environ, PATH=f.path + "/.bin:" + os.environ["PATH"]))
                check.same(result.returncode, 0, f"{line}: {result.stderr.decode()}")
                named = [word for word in line.split()
                         if word.endswith((".wav", ".flac", ".png", ".csv", ".score", ".h", ".html", ".json", ".vcd"))]
                for word in named:
                    check.that(os.path.getsize(os.path.join(f.path, word)) > 100, f"{line}: {word}")
                check.that(named or len(result.stdout) > 100, f"{line}: says something")
    check.that(count >= 6, f"{count} examples")


# ---- formats ----

def flac_head(data):
    """(rate, bits, frames) by the STREAMINFO block."""
    if data[:4] != b"fLaC" or data[4] & 127 != 0:
        raise ValueError("no FLAC")
    packed = int.from_bytes(data[18:26], "big")
    return packed >> 44, (packed >> 36 & 31) + 1, packed & (1 << 36) - 1


def ogg_frames(data):
    """(rate, frames) by the identification header and the last page, whose pages must follow one another."""
    at, last, number = 0, 0, 0
    while at < len(data):
        capture, granule, page, segments = data[at:at + 4], *struct.unpack("<q4xI4xB", data[at + 6:at + 27])
        if capture != b"OggS" or page != number:
            raise ValueError(f"page {number} of the Ogg file")
        last, number = max(last, granule), number + 1
        at += 27 + segments + sum(data[at + 27:at + 27 + segments])
    return struct.unpack("<I", data[40:44])[0], last


class Info(ctypes.Structure):
    _fields_ = [("frames", ctypes.c_int64)] + [(n, ctypes.c_int) for n in
                                               ("rate", "channels", "format", "sections", "seekable")]


def decoded(path):
    """(rate, samples) as the usual library reads the file, or None without it."""
    name = ctypes.util.find_library("sndfile") or "libsndfile.so.1"
    try:
        library = ctypes.CDLL(name)
    except OSError:
        return None
    info = Info()
    library.sf_open.restype = ctypes.c_void_p
    handle = library.sf_open(path.encode(), 0x10, ctypes.byref(info))
    if not handle:
        raise ValueError(f"{path} can't be opened")
    values = (ctypes.c_float * (info.frames + 10))()
    library.sf_readf_float.restype = ctypes.c_int64
    got = library.sf_readf_float(ctypes.c_void_p(handle), values, ctypes.c_int64(info.frames + 10))
    library.sf_close(ctypes.c_void_p(handle))
    if got != info.frames or info.channels != 1:
        raise ValueError(f"{path}: {got} of {info.frames} frames, {info.channels} channels")
    return info.rate, list(values[:got])


def formats():
    check.start("rates, widths and formats")
    with Folder() as f:
        f.put("a.score", "hh eh l ow rest 33.3ms pau\n")

        def at(name):
            return os.path.join(f.path, name)

        for rate in (8000, 11025, 22050, 44100, 48000, 96000, 192000):
            f.accepted("render", "a.score", "-o", "x.wav", "--labels", "x.TextGrid", "--rate", str(rate), "--quiet")
            _, end = read_textgrid(at("x.TextGrid"))
            got, bits, sound, _ = read_wav(at("x.wav"))
            check.same((got, bits), (rate, 16), "rate and width")
            check.same(len(sound), -(-end * rate // 10**12), f"samples at {rate} Hz: as many as begin before the end")
            check.that(max(sound) > 0.05, f"{rate} Hz: sound")
        f.accepted("render", "a.score", "-o", "x.wav", "--tail", "0", "--labels", "y.TextGrid", "--quiet")
        check.same(read_textgrid(at("y.TextGrid"))[1], end - 50 * 10**9, "--tail 0 is 50 ms shorter")

        sounds = {}
        for bits in (16, 24, 32):
            f.accepted("render", "a.score", "-o", f"{bits}.wav", "--bits", str(bits), "--quiet")
            rate, got, sound, _ = read_wav(at(f"{bits}.wav"))
            check.same((rate, got), (48000, bits), "rate and width")
            sounds[bits] = list(sound)
            check.same(len(sound), -(-end * 48000 // 10**12), f"samples of {bits} bits")
            step = {16: 2.0**-15, 24: 2.0**-23, 32: 0.0}[bits]
            f.accepted("render", "a.score", "-o", "d.wav", "--bits", str(bits), *(["--dither"] if bits < 32 else []), "--quiet")
            dithered = list(read_wav(at("d.wav"))[2])
            if bits < 32:
                worst = max(abs(a - b) for a, b in zip(dithered, sounds[bits]))
                check.that(step / 2 < worst <= 2 * step, f"dither of {bits} bits moves samples by up to {worst / step} steps")
        for bits, step in ((16, 2.0**-15), (24, 2.0**-23)):
            worst = max(abs(a - b) for a, b in zip(sounds[bits], sounds[32]))
            check.that(worst <= step, f"{bits} bits are {worst / step} steps from floating point")

        for bits in (16, 24):
            f.accepted("render", "a.score", "-o", "x.flac", "--bits", str(bits), "--quiet")
            check.same(flac_head(read(f.path, "x.flac")), (48000, bits, len(sounds[16])), "FLAC header")
            again = decoded(at("x.flac"))
            if again:
                check.same(again[0], 48000, "FLAC's rate")
                check.that(again[1] == sounds[bits], f"FLAC of {bits} bits holds the WAV's samples")
        f.accepted("render", "a.score", "-o", "X.OGG", "--rate", "44100", "--quiet")
        f.accepted("render", "a.score", "-o", "44.wav", "--rate", "44100", "--quiet")
        wanted = list(read_wav(at("44.wav"))[2])
        check.same(ogg_frames(read(f.path, "X.OGG")), (44100, len(wanted)), "Ogg header")
        again = decoded(at("X.OGG"))
        if again:
            check.same((again[0], len(again[1])), (44100, len(wanted)), "Ogg as read")
            error = math.sqrt(sum((a - b)**2 for a, b in zip(again[1], wanted)) / sum(b * b for b in wanted))
            check.that(error < 0.25, f"Ogg is {error} of the power away")
        else:
            print("left out: reading FLAC and Ogg back (takes libsndfile)")


def chip_rate():
    check.start("--chip-rate")
    for clock in (720000, 300000, 1300000, 90000, 543210, 6912000):
        with Folder() as f:
            f.put("a.score", f"clock {clock} hh aa mark m s t pau\n")
            f.accepted("render", "a.score", "-o", "x.wav", "--bits", "32", "--chip-rate", "--pins", "x.vcd", "--labels",
                       "x.TextGrid", "--quiet")
            rate, _, sound, chunks = read_wav(os.path.join(f.path, "x.wav"))
            _, end = read_textgrid(os.path.join(f.path, "x.TextGrid"))
            check.same(rate, round(clock / 36), f"{clock} Hz: rate of the file")
            # level j = 1, 2, ... reaches the pin in clock 36 j + 18, which must come before the end
            frames = -(-(end * clock - 18 * 10**12) // (36 * 10**12)) - 1
            check.same(len(sound), frames, f"{clock} Hz: one frame a filter cycle")
            changes = read_vcd(os.path.join(f.path, "x.vcd"))[0]["audio"]
            for j in range(1, frames, 7):
                ns = math.floor((36 * j + 18) * 1e9 / clock + 0.5)
                level = level_at(changes, ns + 1)
                if not check.near(sound[j - 1], level, 1e-7 * abs(level), f"{clock} Hz: frame {j} is the pin's level"):
                    break
            mark = [ps for ps, _ in read_textgrid(os.path.join(f.path, "x.TextGrid"))[0]["mark"]][0]
            cue = struct.unpack("<I", chunks[b"cue "][8:12])[0]
            check.near(cue, mark * 1e-12 * clock / 36, 1.6, f"{clock} Hz: cue point")
    with Folder() as f:
        f.put("a.score", "clock 720k glide 360k over 200ms hh aa\n")
        result = f.accepted("render", "a.score", "-o", "x.wav", "--chip-rate")
        check.that(b"note: the clock moved" in result.stderr, "a moving clock is mentioned")
        f.put("b.score", "clock 720k hh aa\n")
        result = f.accepted("render", "b.score", "-o", "x.wav", "--chip-rate", "--clock", "1M")
        check.that(b"note: the clock moved" not in result.stderr, "a clock that stays is not")
        check.that(b"--clock had no effect" in result.stderr, "an overruled --clock is mentioned")


def clipping():
    check.start("clipping is told")
    with Folder() as f:
        f.put("a.score", "aa/250 s ae iy\n")
        f.accepted("part", "export", "loud")
        constants = read(f.path, "loud/constants.csv").decode()
        check.that("\noutput_gain,0.1075," in constants, "output_gain in the exported part")
        f.put("loud/constants.csv", constants.replace("\noutput_gain,0.1075,", "\noutput_gain,1.25,"))
        f.accepted("part", "check", "loud")
        result = f.accepted("render", "a.score", "-o", "x.wav", "--part", "loud")
        f.accepted("render", "a.score", "-o", "f.wav", "--part", "loud", "--bits", "32", "--quiet")
        sound = read_wav(os.path.join(f.path, "f.wav"))[2]
        # the largest step upwards is 32767/32768; what rounds to a step beyond the last is what is told
        over = sum(not -32768 <= round(v * 32768) <= 32767 for v in sound)
        clipped = read_wav(os.path.join(f.path, "x.wav"))[2]
        check.that(over > 20, f"{over} samples are too loud")
        check.that(max(clipped) == 32767 / 32768 and min(clipped) >= -1.0, "they are clipped, not wrapped round")
        told = f"note: {over} of {len(sound)} samples exceeded full scale and were clipped"
        check.that(told in result.stderr.decode(), f"{result.stderr.decode()!r} does not say {told!r}")
        peak = f"peak {20 * math.log10(max(abs(v) for v in sound)):.1f} dBFS"
        check.that(peak in result.stderr.decode(), f"{result.stderr.decode()!r} does not say {peak!r}")
        result = f.accepted("render", "a.score", "-o", "f.wav", "--part", "loud", "--bits", "32")
        check.that(b"(kept, floating point)" in result.stderr, "floating point keeps them")
        result = f.accepted("render", "a.score", "-o", "x.wav")
        check.that(b"exceeded" not in result.stderr, "the default part does not clip")
        # the bounds of each number in a part are told
        f.refused(["part", "export", "loud"], "exists already")
        f.put("loud/constants.csv", constants.replace("\noutput_gain,0.1075,", "\noutput_gain,x,"))
        f.refused(["render", "a.score", "-o", "y.wav", "--part", "loud"], "output_gain")


# ---- memory ----

def measured(folder, arguments, seconds):
    """(largest resident set in KiB, wall seconds): read while the program waits to hand out its last bytes, when all work is done.
    The sound goes to a pipe that nobody reads until then; it must be longer than what a pipe holds."""
    start = time.monotonic()
    with Child([HYOID, "render", *arguments, "-o", "-", "--quiet"], cwd=folder, stdout=subprocess.PIPE,
                          env=dict(os.environ, TMPDIR=folder)) as process:
        first = process.stdout.read(1)
        with open(f"/proc/{process.pid}/status", encoding="ascii") as file:
            peak = int(next(line for line in file if line.startswith("VmHWM:")).split()[1])
        wall = time.monotonic() - start
        size = len(first)
        while block := process.stdout.read(1 << 20):
            size += len(block)
        process.wait()
    check.that(process.returncode == 0 and size > max(65536 * 1.2, seconds * 16000), f"{arguments}: {size} bytes")
    return peak, wall


def memory():
    check.start("memory")
    with Folder() as f:
        f.put("five.score", "repeat 8 { hh eh/121 l ow s t mark m }\n")
        outputs = [a for a in ALL_OUTPUTS if a not in ("-o", "x.wav")]
        for what, arguments in (("sound", []), ("all outputs", outputs)):
            peak, wall = measured(f.path, ["five.score", *arguments], 4)
            print(f"5 s, {what}: {peak} KiB, {wall:.2f} s")
            check.that(peak < 32 * 1024, f"{what}: {peak} KiB")


def hour():
    """At 72 kHz everything is ten times slower, and a VCD of an hour 270 MB instead of 2.7 GB."""
    check.start("an hour")
    with Folder() as f:
        second = "aa/250 s t ow/185 l ow/185 hh"
        f.put("second.score", second + " mark m\n").put("hour.score", f"repeat 3850 {{ {second} }} mark m\n")
        f.put("slow_second.score", "clock 72k s mark m\n")
        f.put("slow_hour.score", "clock 72k repeat 400 { aa/250 s t ow/185 l ow/185 hh } mark m\n")
        texts = ["--log", "x.csv", "--labels", "x.TextGrid"]
        for what, prefix, arguments in (
                ("sound, log, labels", "", texts),
                ("sound, log, labels, picture", "", texts + ["--picture", "x.png"]),
                ("sound, log, labels, pins, 72 kHz", "slow_", texts + ["--pins", "x.vcd"]),
                ("all outputs, 72 kHz", "slow_", texts + ["--pins", "x.vcd", "--picture", "x.png"])):
            short, _ = measured(f.path, [prefix + "second.score", *arguments], 0.9)
            long, wall = measured(f.path, [prefix + "hour.score", *arguments], 3600)
            end = read_log(os.path.join(f.path, "x.csv"))[-1][0] * 1e-12
            check.that(3600 < end < 4200, f"{what}: {end} s")
            print(f"{what}: a second {short} KiB, an hour {long} KiB, {wall:.1f} s for {end:.0f} s")
            check.that(long - short <= 2048, f"{what}: an hour takes {long - short} KiB more than a second")
            for name in ("x.csv", "x.TextGrid", "x.vcd", "x.png"):
                if os.path.exists(os.path.join(f.path, name)):
                    os.unlink(os.path.join(f.path, name))


def main():
    # the program is what is tested, not the shell's settings
    for name in ("LC_ALL", "LANG"):
        os.environ.pop(name, None)
    if not os.access("/dev/full", os.W_OK):
        raise OSError(errno.ENOENT, "this test needs /dev/full")
    signal.signal(signal.SIGALRM, too_slow)
    if "--hour" in sys.argv[1:]:
        signal.alarm(550)
        hour()
        return check.finish()
    for step in (bad_inputs, bad_options, units_and_help, bad_places, forms_and_inputs, other_files, faulty_boards, options_without_effect, other_user, full_disk, pipes, signals, round_trip, examples,
                 formats, chip_rate, clipping, memory):
        start = time.monotonic()
        signal.alarm(300)
        step()
        if check.verbose:
            print(f"   {time.monotonic() - start:.1f} s")
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
