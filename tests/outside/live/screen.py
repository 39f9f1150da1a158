"""The screen of `hyoid live` in a real terminal (tmux), at 80x24 and 132x40: played by keys, captured, checked."""
import os
import re
import subprocess
import sys
import tempfile
import time

from server import Server

HYOID = os.environ["HYOID"]
SOURCE = os.environ["HYOID_SOURCE"]
failed = []


def check(condition, text, screen=None):
    print(("ok    " if condition else "FAIL  ") + text)
    if not condition:
        failed.append(text)
        print(screen or "")


class Terminal:
    """`hyoid live` in a tmux of its own."""
    count = 0

    def __init__(self, server, columns, rows, arguments, locale="C.UTF-8", term="xterm-256color"):
        Terminal.count += 1
        self.socket = os.path.join(server.folder, "tmux%d" % Terminal.count)
        self.environment = dict(server.environment, LC_ALL=locale, TERM=term)
        self.environment.pop("TMUX", None)
        self.status = os.path.join(server.folder, "status")
        line = "%s live %s; echo $? >%s; sleep 2" % (HYOID, arguments, self.status)
        self.run("-f", "/dev/null", "new-session", "-d", "-x", str(columns), "-y", str(rows), line)
        self.run("set-option", "-g", "window-size", "manual")

    def run(self, *arguments):
        return subprocess.run(["tmux", "-S", self.socket, "-u", *arguments], env=self.environment, capture_output=True,
                              text=True, check=False).stdout

    def keys(self, *keys):
        for key in keys:
            self.run("send-keys", key)

    def type(self, text):
        self.run("send-keys", "-l", text)

    def screen(self):
        return self.run("capture-pane", "-p")

    def wait(self, pattern, seconds=8.0):
        """The screen once it shows the pattern, or the last one."""
        end = time.time() + seconds
        while True:
            screen = self.screen()
            if re.search(pattern, screen) or time.time() > end:
                return screen
            time.sleep(0.1)

    def expect(self, pattern, what):
        screen = self.wait(pattern)
        check(re.search(pattern, screen) is not None, what, screen)
        return screen

    def resize(self, columns, rows):
        self.run("resize-window", "-x", str(columns), "-y", str(rows))

    def quit(self, key="q"):
        self.keys(key)
        for _ in range(50):
            if os.path.exists(self.status) and os.path.getsize(self.status) > 0:
                with open(self.status) as file:
                    check(file.read().strip() == "0", "quits with status 0")
                break
            time.sleep(0.1)
        else:
            check(False, "quits", self.screen())
        self.run("kill-server")
        if os.path.exists(self.status):
            os.remove(self.status)


def check_lines(screen, columns, rows, what):
    lines = screen.split("\n")
    while lines and lines[-1] == "":
        lines.pop()
    check(len(lines) <= rows and all(len(line) <= columns for line in lines), "%s: nothing runs over" % what, screen)
    check(any(line == "\u2500" * columns for line in lines), "%s: the rules are as wide as the screen" % what, screen)


def play(server, columns, rows):
    size = "%dx%d" % (columns, rows)
    print(size)
    t = Terminal(server, columns, rows, "long.score")
    screen = t.expect(r"hyoid live  long.score  \u25b6 playing", "the score plays")
    check_lines(screen, columns, rows, size)
    check("xrun" in screen and re.search(r"(latency|key to sound) \d+ ms", screen) is not None, "latency and xruns stand there",
          screen)
    t.expect(r"said     .*ow k", "phonemes go by")
    t.keys("Space")
    t.expect(r"paused", "paused")
    t.keys("Space")
    t.expect(r"\u25b6 playing", "and on")
    t.expect(r"[\u2591\u2592\u2593\u2588]{3}.*\n.*\n.*\u2500{20}", "a spectrogram moves")
    t.keys("Up", "Up", "Right")
    t.expect(r"816\.25\d kHz  \u00d7 1\.1337  \+2\.17 st  tempo \u00d7 1\.13", "two semitones and a percent up")
    t.keys("n", "3", "]")
    t.expect(r"720\.000 kHz  \u00d7 1\.0000", "nominal")
    t.expect(r"0  1  2 \[3\]", "level 3")
    t.expect(r"hold 132 ms", "a hold")
    t.keys("\\")
    t.expect(r"hold off", "no hold")
    t.keys("s")
    t.type("300k over 300ms exp")
    t.expect(r":sweep 300k over 300ms exp", "a sweep is typed")
    t.keys("Enter")
    t.expect(r"300\.000 kHz", "the sweep arrives")
    t.keys("b")
    t.expect(r"720\.000 kHz", "and goes back")
    t.keys("z")
    t.expect(r"0\.000 kHz  \u00d7 0\.0000  stands", "the clock stands")
    t.keys("z")
    t.expect(r"720\.000 kHz", "and runs again")
    t.keys("Tab", "g")
    t.expect(r">g fricatives +f ", "the phoneme page")
    t.keys("8")
    t.expect(r"said .*\bzh\b", "two keys say zh")
    t.keys("Tab", "w")
    t.type("storm")
    t.keys("Enter")
    t.expect(r"said .*s t ao r m", "a word is said")
    t.keys("m")
    t.expect(r"babbling", "babble")
    t.keys("m", "l")
    t.expect(r"BYPASSED", "the limiter is bypassed")
    t.keys("l", "+")
    t.expect(r"volume   -9 dB", "volume")
    t.keys("r")
    t.expect(r"\u25cf rec \d", "recording")
    t.keys("r")
    t.expect(r"recorded take-\d+\.wav", "recorded")
    t.keys("v")
    t.expect(r"waveform", "a waveform")
    t.keys(":")
    t.type("clok 3")
    t.keys("Enter")
    t.expect(r"found \"clok\"; expected a command; nearest: clock", "a slip is told")
    t.keys("?")
    screen = t.expect(r"headphones above all", "help")
    check("play or pause the score" in screen and "quit" in screen, "help has all keys", screen)
    t.keys("Escape")
    time.sleep(0.3)
    t.resize(212 - columns, 64 - rows)
    screen = t.expect("\n%s\n" % ("\u2500" * (212 - columns)), "resized to %dx%d" % (212 - columns, 64 - rows))
    check_lines(screen, 212 - columns, 64 - rows, "resized")
    t.resize(30, 8)
    time.sleep(0.5)
    t.resize(columns, rows)
    t.expect("\n%s\n" % ("\u2500" * columns), "and back, by way of a tiny one")
    t.quit()


def monochrome(server):
    print("no Unicode, no colours")
    t = Terminal(server, 80, 24, "", "C", "vt100")
    screen = t.expect(r"clock    720\.000 kHz  x 1\.0000", "the screen in ASCII")
    check(all(ord(c) < 127 for c in screen), "nothing but ASCII", screen)
    check("\n" + "-" * 80 + "\n" in screen, "rules in ASCII", screen)
    t.quit("C-c")


with Server() as own, tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    with open(SOURCE + "/docs/scores/hour.score") as hour, open("long.score", "w") as out:
        out.write("repeat 100 {\n" + hour.read() + "\n}\n")  # it goes on, however slow the machine is
    play(own, 80, 24)
    play(own, 132, 40)
    monochrome(own)
    os.remove("long.score")
    check(sorted(os.listdir(folder)) == ["take-%03d.%s" % (n, e) for n in (1, 2) for e in ("csv", "score", "wav")],
          "takes are there, and nothing else: " + " ".join(sorted(os.listdir(folder))))
sys.exit(1 if failed else 0)
