"""What a sound server plays is what the recorded write log renders: on a null sink whose monitor is recorded.

At the sink's own rate the two must be equal sample for sample; at another one, within the server's resampling, which is
measured and printed. A gap, a click or a lost block would show as a residual or as a delay that moves."""
import os
import subprocess
import sys
import tempfile
import threading
import wave

from server import Server

try:
    import numpy
except ImportError:
    print(("FAIL" if os.environ.get("CI") else "SKIP") + ": python3-numpy is not installed")
    sys.exit(1 if os.environ.get("CI") else 77)

HYOID = os.environ["HYOID"]
SCRIPT = """volume 0
limiter off
sustain on
wait 1.2s
record take.wav
say hh eh l ow aa/146 r pau/47
wait 0.9s
sweep 1.1M over 0.6s exp
babble on 11
hold 80ms
wait 1s
clock -3st
hold off
sweep 360k over 0.5s
wait 1s
nominal
wait 0.8s
babble off
wait
record off
"""


def samples(path):
    with wave.open(path) as file:
        return numpy.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float) / 32768.0


def play(rate):
    """Plays the script on a sink of this rate: what its monitor gave. A machine that is held up gets two more tries."""
    for _ in range(3):
        for name in ("take.wav", "take.csv", "take.score"):
            if os.path.exists(name):
                os.remove(name)
        heard = play_once(rate)
        if heard is not None:
            return heard
        print("the machine was held up, and the device ran dry; again")
    sys.exit("FAIL: the device ran dry three times")


def play_once(rate):
    """None if the device ran dry."""
    with Server(rate) as server:
        recorder = server.recorder()
        heard = []

        def listen():
            while block := recorder.stdout.read(4096):
                heard.append(block)

        listener = threading.Thread(target=listen)
        listener.start()
        result = subprocess.run([HYOID, "live", "--plain", "--latency", "200"], input=SCRIPT + "wait 0.3s\nstatus\n", text=True,
                                env=server.environment, capture_output=True, timeout=60, check=False)
        recorder.terminate()
        listener.join()
        recorder.wait()
        if result.returncode != 0:
            sys.exit("FAIL: hyoid live ended with %d: %s" % (result.returncode, result.stderr))
        print(result.stdout.strip())
        dry = "xruns 0 " not in result.stdout
    return None if dry else numpy.frombuffer(b"".join(heard)[:len(b"".join(heard)) // 4 * 4], "<f4").astype(float)


def render(rate):
    subprocess.run([HYOID, "render", "take.csv", "-q", "--rate", str(rate), "--bits", "16", "-o", "again.wav"], check=True)
    subprocess.run([HYOID, "render", "take.csv", "-q", "--rate", str(rate), "--bits", "24", "-o", "fine.wav"], check=True)
    with wave.open("fine.wav") as file:
        raw = numpy.frombuffer(file.readframes(file.getnframes()), "u1").reshape(-1, 3).astype(int)
    return ((raw[:, 0] | raw[:, 1] << 8 | raw[:, 2] << 16) ^ 0x800000) / 8388608.0 - 1.0


def place(needle, hay):
    """Where the needle fits best."""
    n = 1 << (len(hay) + len(needle)).bit_length()
    product = numpy.fft.irfft(numpy.fft.rfft(hay, n) * numpy.conj(numpy.fft.rfft(needle, n)), n)
    return int(numpy.argmax(product[:len(hay)]))


def low_passed(x, rate, hz):
    spectrum = numpy.fft.rfft(x)
    spectrum[int(hz * len(x) / rate):] = 0.0
    return numpy.fft.irfft(spectrum, len(x))


def fine_delay(x, y, rate, hz):
    """Seconds by which y is later than x, from the slope of the cross spectrum's phase below hz."""
    cross = numpy.fft.rfft(y) * numpy.conj(numpy.fft.rfft(x))
    omega = 2.0 * numpy.pi * numpy.fft.rfftfreq(len(x), 1.0 / rate)
    use = slice(1, int(hz * len(x) / rate))
    phase = numpy.unwrap(numpy.angle(cross[use]))
    weight = numpy.abs(cross[use])
    return -numpy.sum(weight * omega[use] * phase) / numpy.sum(weight * omega[use] ** 2)


def shifted(x, rate, seconds):
    spectrum = numpy.fft.rfft(x) * numpy.exp(-2j * numpy.pi * numpy.fft.rfftfreq(len(x), 1.0 / rate) * seconds)
    return numpy.fft.irfft(spectrum, len(x))


def decibels(x):
    return 20.0 * numpy.log10(max(numpy.sqrt(numpy.mean(x * x)), 1e-12))


def check(condition, text):
    print(("ok    " if condition else "FAIL  ") + text)
    if not condition:
        check.failed = True


check.failed = False


def check_take():
    taken, again = samples("take.wav"), samples("again.wav")
    check(len(taken) <= len(again) and numpy.array_equal(taken, again[:len(taken)]),
          "the take's %d samples are the first of what its log renders" % len(taken))


def same_rate():
    heard = play(48000)
    expected = render(48000)
    check_take()
    start, end = 4800, len(samples("take.wav")) - 480  # after the take's rise
    at = place(expected[start:end], heard)
    part = heard[at:at + end - start]
    wrong = part - expected[start:end]
    # the rendering was rounded to 24 bits, and clips where floats don't
    wrong[numpy.abs(part) > 0.999] = 0.0
    first = int(numpy.argmax(numpy.abs(wrong) > 2.0 ** -22))
    worst = numpy.max(numpy.abs(wrong))
    print("%.2f s compared at %.1f dB, largest difference %.1f dB" %
          (len(wrong) / 48000.0, decibels(part), 20.0 * numpy.log10(worst + 1e-12)))
    check(decibels(part) > -30.0, "there is a sound")
    check(worst <= 2.0 ** -22, "the sink got every sample as rendered (first difference at %.4f s)" % (first / 48000.0))


def other_rate():
    rate = 44100
    heard = play(rate)
    expected = render(rate)
    start, end = 4410, int(len(samples("take.wav")) / 48000.0 * rate) - 4410
    at = place(expected[start:end], heard)
    x, y = expected[start:end], heard[at:at + end - start]
    window = numpy.hanning(4096)
    hz = 8000
    delay = fine_delay(x, y, rate, hz)
    x = shifted(x, rate, delay)
    residuals, delays = [], []
    x, y = low_passed(x, rate, hz), low_passed(y, rate, hz)
    for i in range(8192, len(x) - 12288, 4096):
        a, b = x[i:i + 4096] * window, y[i:i + 4096] * window
        if decibels(a) > -45.0:
            residuals.append(decibels(b - a) - decibels(a))
            delays.append(fine_delay(a, b, rate, 4000))
    print("below %d Hz, over %d stretches of 93 ms: residual %.1f dB at the median, %.1f dB at worst; delay moves by %.2f us"
          % (hz, len(residuals), numpy.median(residuals), max(residuals), 1e6 * (max(delays) - min(delays))))
    check(len(residuals) > 20, "there is a sound")
    check(max(residuals) < -55.0, "no gap and no click: the residual stays below -55 dB")
    check(max(delays) - min(delays) < 5e-6, "nothing was lost or repeated: the delay stays")


with tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    same_rate()
    other_rate()
sys.exit(1 if check.failed else 0)
