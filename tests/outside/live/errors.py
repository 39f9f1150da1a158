"""`hyoid live` where something is wrong: no device, a device that goes, bad options, bad lines. One line, status 2, and
nothing of what the sound libraries chatter."""
import os
import signal
import subprocess
import sys
import tempfile
import time

from server import Server

HYOID = os.environ["HYOID"]
SOURCE = os.environ["HYOID_SOURCE"]
failed = []


def check(condition, text, more=""):
    print(("ok    " if condition else "FAIL  ") + text)
    if not condition:
        failed.append(text)
        print(more)


def run(environment, arguments, lines="", seconds=30):
    return subprocess.run([HYOID, "live", *arguments], input=lines, text=True, env=environment, capture_output=True,
                          timeout=seconds, check=False)


def refuses(environment, arguments, says, lines=""):
    result = run(environment, arguments, lines)
    check(result.returncode == 2 and says in result.stderr and result.stderr.count("\n") == 1 and result.stdout == "",
          "refused: live %s: %s" % (" ".join(arguments), result.stderr.strip()), result)


def has_card():
    try:
        with open("/proc/asound/cards") as file:
            return "no soundcards" not in file.read()
    except OSError:
        return False


def no_device(folder):
    if has_card():
        print("      (this machine has a sound card: what is said without one is not looked at)")
        return
    environment = dict(os.environ, ALSA_CONFIG_PATH="/usr/share/alsa/alsa.conf", JACK_NO_START_SERVER="1", HOME=folder,
                       XDG_RUNTIME_DIR=folder)
    refuses(environment, [], "there is no sound device to play on")
    refuses(environment, ["--list-devices"], "there is no sound device to play on")
    loud = run(environment, ["--verbose"])
    check(loud.returncode == 2 and loud.stderr.count("\n") > 1, "the sound libraries have more to say with --verbose: %d lines"
          % loud.stderr.count("\n"))


def bad_usage(environment):
    refuses(environment, ["--device", "harbour"], "no output device is called so")
    refuses(environment, ["--latency", "0"], "a whole number from 1 to 1000 would be right")
    refuses(environment, ["--rate", "4000"], "a whole number from 8000 to 192000 would be right")
    refuses(environment, ["--bits", "20"], "16, 24 or 32 would be right")
    refuses(environment, ["--clock", "fast"], "would be right, such as 650k")
    refuses(environment, ["--level", "4"], "a whole number from 0 to 3 would be right")
    refuses(environment, ["-"], "not INPUT; a file would be right")
    refuses(environment, ["nothing.score"], "cannot read nothing.score")
    refuses(environment, ["--plain"], "standard input:2: found \"levl\"; expected a command; nearest: level", "level 2\nlevl 2\n")
    refuses(environment, ["--plain"], "the line is longer than", "say " + "aa " * 3000 + "\n")
    refuses(environment, ["--plain"], "must end in .wav", "record tide.mp3\n")
    refuses(environment, ["--plain"], "cannot write", "record nowhere/tide.wav\n")
    refuses(environment, ["--plain"], "no score was loaded", "play\n")
    with open("bad.score", "w") as out:
        out.write("aa\nxx yy\n")
    refuses(environment, ["bad.score"], "bad.score:2:1: found \"xx\"")


def works(environment):
    result = run(environment, ["--list-devices"])
    check(result.returncode == 0 and "pulse" in result.stdout and result.stderr == "", "devices are listed", result)
    result = run(environment, ["--plain"], "help\nsay hh eh l ow\nwait\nstatus\n")
    check(result.returncode == 0 and "clock 650k" in result.stdout and "clock 720000 Hz" in result.stdout and
          result.stderr == "", "lines are obeyed, and nothing else is said", result)
    for name in ("hour.score", "storm.csv", "hour.vcd"):
        if not name.endswith(".score"):
            stem, _, kind = name.partition(".")
            subprocess.run([HYOID, "render", "%s/docs/scores/%s.score" % (SOURCE, stem), "-q",
                            "--log" if kind == "csv" else "--pins", name], check=True)
        else:
            with open("%s/docs/scores/%s" % (SOURCE, name)) as text, open(name, "w") as out:
                out.write(text.read())
        result = run(environment, [name, "--plain", "--paused"], "play\nwait 0.2s\nstatus\nquit\n")
        check(result.returncode == 0 and "phoneme" in result.stdout and "phoneme pau" not in result.stdout,
              "%s plays" % name, result)
    result = run(environment, ["hour.score", "--plain"], "record x.wav\nwait 0.3s\nquit\n")
    check(result.returncode == 0 and os.path.exists("x.wav") and os.path.exists("x.csv") and os.path.exists("x.score"),
          "what was being recorded when one quits is kept", result)


def the_page(environment):
    with open(SOURCE + "/docs/live.md") as page:
        script = page.read().split("```live\n")[1].split("```")[0]
    result = run(environment, ["--plain"], script)
    check(result.returncode == 0 and os.path.exists("tide.wav"), "the script in docs/live.md works", result)
    with open("tide.csv") as log:
        rows = log.read().split("\n")
    wanted = ["0.100000000000,phoneme,42", "0.171000000000,phoneme,21", "0.500000000000,phoneme,62"]
    check(all(row in rows for row in wanted) and "0.500000000000,clock_to,360000" in rows, "and keeps its times", rows)
    refuses(environment, ["--plain"], "tide.wav is there already", "record tide.wav\n")


def record(process, lines):
    """Half a second of it, at least."""
    process.stdin.write(lines + "status\n")
    process.stdin.flush()
    process.stdout.readline()  # it records
    time.sleep(0.5)


def start(environment):
    return subprocess.Popen([HYOID, "live", "--plain"], env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True)


def ended_by_signal(environment):
    with start(environment) as process:
        record(process, "record y.wav\nsay aa iy uw\n")
        process.send_signal(signal.SIGTERM)
        process.wait(10)
        check(process.returncode == -signal.SIGTERM and os.path.exists("y.wav"), "a signal ends it, and the take is kept",
              process.returncode)


def unplugged(server):
    with start(server.environment) as process:
        record(process, "record z.wav\nbabble on 3\n")
        server.stop()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
        text = process.stderr.read()
        check(process.returncode == 2 and "has gone" in text, "the device goes: " + text.strip().split("\n")[-1], text)
        check(os.path.exists("z.wav"), "and what was recorded is kept", text)


with tempfile.TemporaryDirectory() as place:
    os.chdir(place)
    no_device(place)
    with Server() as own:
        bad_usage(own.environment)
        works(own.environment)
        the_page(own.environment)
        ended_by_signal(own.environment)
        unplugged(own)
sys.exit(1 if failed else 0)
