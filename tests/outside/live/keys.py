"""Keys at random on a real terminal's other end, for a while: no crash, no hang, no growth; and how long a key takes to be
heard.

    keys.py [--seconds N] [--seed S] [--latency MS]

The seed is printed and replays the same keys. Times are measured and printed, not judged: the machine decides them."""
import argparse
import array
import fcntl
import os
import pty
import random
import re
import select
import signal
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
import wave

from server import Server

HYOID = os.environ["HYOID"]
SOURCE = os.environ["HYOID_SOURCE"]
RATE = 48000


class Player:
    """`hyoid live` on a pseudo-terminal of 80x24."""

    def __init__(self, server, *arguments, ignoring=()):
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            for number in ignoring:
                signal.signal(number, signal.SIG_IGN)
            os.chdir(server.folder)
            environment = dict(server.environment, TERM="xterm", LC_ALL="C.UTF-8")
            os.execve(HYOID, [HYOID, "live", *arguments], environment)
        self.size(24, 80)
        self.drawn = 0
        self.text = b""

    def size(self, rows, columns):
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def drain(self, seconds):
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self.fd], [], [], left)[0]:
                try:
                    block = os.read(self.fd, 65536)
                except OSError:
                    return False
                self.drawn += len(block)
                self.text = (self.text + block)[-200000:]
        return True

    def press(self, keys):
        os.write(self.fd, keys)

    def memory_kib(self):
        with open("/proc/%d/statm" % self.pid) as file:
            return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") // 1024

    def wait(self):
        self.drain(0.3)
        for _ in range(100):
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid != 0:
                return os.waitstatus_to_exitcode(status)
            if not self.drain(0.1):
                time.sleep(0.1)
        os.kill(self.pid, 9)
        os.waitpid(self.pid, 0)
        return "no end within 10 s"


def listen(recorder, heard):
    """Arrival time and samples of each block."""
    while block := os.read(recorder.stdout.fileno(), 65536):
        heard.append((time.monotonic(), block))


LOUD = 0.002  # a sample that is heard, at the volume that live starts with
VOLUME = 10 ** (-12 / 20)


def rise_ms():
    """How long the chip itself takes to become so loud: a voice swells from silence."""
    subprocess.run([HYOID, "render", "-", "-q", "-o", "rise.wav"], input=b"iy pau/47 rest 400ms iy",
                   check=True)
    with wave.open("rise.wav") as file:
        values = array.array("h", file.readframes(file.getnframes()))
    second = (185 + 47 + 400) * RATE // 1000
    return next(i for i, value in enumerate(values[second:]) if abs(value) > LOUD / VOLUME * 32768) / RATE * 1000.0


def latency(server):
    """Key to sound: from writing the key to the terminal until its sound has come through the sink's monitor."""
    player = Player(server)
    recorder = server.recorder(5)
    heard = []
    threading.Thread(target=listen, args=(recorder, heard), daemon=True).start()
    player.drain(1.0)
    took = []
    for _ in range(6):
        player.drain(0.6)
        del heard[:]
        start = time.monotonic()
        player.press(b"\ta3\t")  # the page, two keys for iy, and back
        player.drain(0.4)
        for when, block in list(heard):
            values = array.array("f", block[:len(block) // 4 * 4])
            loud = [i for i, value in enumerate(values) if abs(value) > LOUD]
            if loud:
                took.append((when - (len(values) - loud[0]) / RATE - start) * 1000.0)
                break
    recorder.terminate()
    recorder.wait()
    player.press(b"q")
    status = player.wait()
    if not took:
        print("FAIL  no key was heard")
        return 1
    rise = rise_ms()
    print("key to sound, through the null sink and its monitor: %.1f ms at the median of %d (%.1f to %.1f); %.1f ms of it "
          "is the chip's own rise, %.1f ms the way" %
          (statistics.median(took), len(took), min(took), max(took), rise, statistics.median(took) - rise))
    return 0 if status == 0 else 1


KEYS = ([b" ", b"a", b"n", b"b", b"z", b"[", b"]", b"\\", b"o", b"\t", b"m", b"h", b"-", b"+", b"l", b"v", b"?", b"\x1b"] +
        [b"\x1bOA", b"\x1bOB", b"\x1bOC", b"\x1bOD", b"\x1b[A", b"\x1b[B"] * 2 + [b"0", b"1", b"2", b"3"] +
        [bytes([g, d]) for g in b"abcdefghi" for d in b"123456789"] +
        [b"s300k over 200ms exp\r", b"s1.2M over 0.5s\r", b"s0 over 1s\r", b"wwater\r", b"w12 boats\r", b"phh eh l ow\r",
         b"p hold 20ms s t r\r", b":level 9\r", b":clock 2M\r", b":wait\r", b"s\x7f\x7f\x1b", b"r", b"\xc3\xa9", b"\x00",
         b"\x1b[200~", b"\xff"])


def press_at_random(server, seconds, seed, latency_ms):
    print("seed %d, %.0f s, latency %s ms" % (seed, seconds, latency_ms))
    dice = random.Random(seed)
    player = Player(server, SOURCE + "/docs/scores/storm.score", "--latency", latency_ms)
    player.drain(1.0)
    end = time.monotonic() + seconds
    early = None
    pressed = 0
    alive = True
    while alive and time.monotonic() < end:
        keys = dice.choice(KEYS)
        player.press(keys)
        pressed += 1
        if dice.random() < 0.02:
            player.size(dice.randint(1, 60), dice.randint(1, 200))
        alive = player.drain(dice.choice((0.0, 0.005, 0.03, 0.1)))
        if early is None and time.monotonic() > end - seconds * 0.6:
            early = player.memory_kib()
    if not alive:
        print("FAIL  it ended by itself: %s" % player.wait())
        print(player.text[-3000:].decode(errors="replace"))
        return 1
    late = player.memory_kib()
    player.size(24, 80)
    player.press(b"\x1b")
    player.drain(0.2)
    player.press(b"\x1b")
    player.drain(0.3)
    player.press(b":quit\r")
    status = player.wait()
    xruns = re.findall(rb"(\d+) xrun", player.text)
    print("%d keys; memory %d KiB after two fifths, %d KiB at the end; the screen says %s xruns" %
          (pressed, early, late, xruns[-1].decode() if xruns else "no number of"))
    if status != 0:
        print("FAIL  it ended with %s" % status)
        print(player.text[-3000:].decode(errors="replace"))
        return 1
    if late > early + 4096:
        print("FAIL  memory grows")
        return 1
    return 0


def terminal_closed(server):
    """The other end goes, and nobody sends a signal: it ends by itself and does not spin."""
    player = Player(server, SOURCE + "/docs/scores/storm.score", ignoring=(signal.SIGHUP,))
    player.drain(1.0)
    os.close(player.fd)
    before = time.monotonic()
    while time.monotonic() < before + 10:
        pid, status = os.waitpid(player.pid, os.WNOHANG)
        if pid != 0:
            code = os.waitstatus_to_exitcode(status)
            print("%s  its terminal closed: it ended with %s" % ("ok  " if code == 0 else "FAIL", code))
            return code != 0
        time.sleep(0.05)
    os.kill(player.pid, 9)
    os.waitpid(player.pid, 0)
    print("FAIL  its terminal closed: no end within 10 s")
    return 1


parser = argparse.ArgumentParser()
parser.add_argument("--seconds", type=float, default=20.0)
parser.add_argument("--seed", type=int, default=0)
parser.add_argument("--latency", default="15")
options = parser.parse_args()
with Server() as own, tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    result = latency(own)
    result |= terminal_closed(own)
    result |= press_at_random(own, options.seconds, options.seed or int(time.time()) % 1000000, options.latency)
sys.exit(result)
