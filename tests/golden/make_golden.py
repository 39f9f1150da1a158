#!/usr/bin/python3
"""make_golden.py [--check]: writes the golden vectors beside itself, or says whether they are what it would write.

It knows docs/chip.md, the chart and the default part's tables, and nothing of the program: every file is worked out from
a rule, a published recurrence or a textbook form in the plainest way there is. Standard library only; Python's floats
are IEEE binary64, and nothing but + - * / is done to them."""
import csv
import os
import sys
from decimal import Decimal, getcontext

HERE = os.path.dirname(os.path.abspath(__file__))
REFERENCE = os.path.join(HERE, "../../reference")
getcontext().prec = 60


def table(name):
    with open(os.path.join(REFERENCE, name), encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CHART_MS = [int(row["nominal_ms"]) for row in table("chart.csv")]
WORD = [{} for _ in range(64)]
for row in table("parts/default/phonemes.csv"):
    WORD[int(row["code"], 16)][row["quantity"]] = int(row["value"])
CONSTANT = {row["name"]: row["value"] for row in table("parts/default/constants.csv")}


def number(name):
    return int(CONSTANT[name])


# ---- a: request ----

def request_clocks():
    """For each code, the clocks in which request falls and rises if the strobe comes before the first clock.
    Right because: docs/chip.md. The strobe is latched in clock 1 and request falls request_delay = 1 clock later. Filter
    cycles start in every 36th clock; the D-th after the latch is clock 36 D, with D = round(ms * 20), since a filter
    cycle is 1 / 20 ms at 720 kHz, and ms from reference/chart.csv."""
    yield "code,fall,rise"
    for code, ms in enumerate(CHART_MS):
        yield f"0x{code:02x},{1 + 1},{36 * (ms * 20)}"


# ---- b: noise ----

def noise_bits():
    """The first 200 noise bits: what sets the sign of the noise in filter cycles 1, 2, 3, ... after power-up.
    Right because: x^15 + x^14 + 1 is a published primitive polynomial (reference/tables/lfsr15_maximal.csv); its sequence
    obeys s[n] = s[n-15] xor s[n-14]. A register of 15 ones holds s[0] .. s[14] = 1, and shows s[n] in cycle n."""
    s = [1] * 15
    while len(s) <= 200:
        s.append(s[-15] ^ s[-14])
    yield "cycle,bit"
    for n in range(1, 201):
        yield f"{n},{s[n]}"


# ---- c: sections ----

def two_pole(k, q, count):
    """y[n] = -A x[n] + B y[n-1] + C y[n-2] for a unit impulse x; the loop inverts."""
    a, b, c = k * k * q, q + 1 - k * k * q, -q
    assert abs(a + b + c - 1) < Decimal(10) ** -50  # unity gain at 0 Hz
    y1 = y2 = Decimal(0)
    for n in range(count):
        y = b * y1 + c * y2 - (a if n == 0 else 0)
        yield y
        y1, y2 = y, y1


def fixed_section(k, q, feed, count):
    """The same two poles; the switched input arrives a cycle late and not inverted, and the unswitched one, which is charge
    into the second integrator, acts as the second difference of x."""
    b, c = q + 1 - k * k * q, -q
    x = [Decimal(0), Decimal(0), Decimal(1)] + [Decimal(0)] * count
    y1 = y2 = Decimal(0)
    for n in range(2, count + 2):
        y = b * y1 + c * y2 + q * (k * k * x[n - 1] - feed * (x[n] - 2 * x[n - 1] + x[n - 2]))
        yield y
        y1, y2 = y, y1


def impulse_responses():
    """Impulse responses of F1, F2, F3 and the fixed section (4), 120 filter cycles each, by register and F2 bandwidth code.
    Right because: the textbook two-pole resonator y[n] = A x[n] + B y[n-1] + C y[n-2] with A = k^2 q, B = (1 + 1/q - k^2) q,
    C = -q, A = 1 - B - C (docs/chip.md, up to sign), k = k0 + ks r and q = 1 / (1 + k6) from the part's tables; worked
    out in decimal with 60 digits, so the last digit printed is right. Binary64 must agree within 1e-12 of the peak."""
    yield "section,register,bw,n,value"

    def constant(name):
        return Decimal(CONSTANT[name])

    for section in (1, 2, 3):
        k0, ks, k6 = (constant(f"f{section}.{name}") for name in ("k0", "ks", "k6"))
        for register in (0, 85, 170, 255):
            for bw in (0, 7, 15) if section == 2 else (0,):
                damping = k6 + (constant("f2_k6_step") * bw if section == 2 else 0)
                for n, y in enumerate(two_pole(k0 + ks * register, 1 / (1 + damping), 120)):
                    yield f"{section},{register},{bw},{n},{y:.20e}"
    k, k6 = constant("f4_k"), constant("f4_k6")
    for n, y in enumerate(fixed_section(k, 1 / (1 + k6), constant("f4_feed") * k * k, 120)):
        yield f"4,0,0,{n},{y:.20e}"


# ---- d: registers ----

def walk(start, target, share):
    """Each move covers the distance's `share`-th part, whole steps, at least one, until the target is reached."""
    value, values = start, []
    while value != target:
        distance = abs(target - value)
        step = max(1, distance // share)
        value += step if target > value else -step
        values.append(value)
    return values


def register_walks():
    """Every move of a register from 0 to each target, and back to 0.
    Right because: docs/chip.md, Transitions: by one eighth of the distance (one half for the noise spectrum of a stop), in
    whole steps toward zero, but at least 1. A 4-bit code c aims at 17 c, a 5-bit one (F2) at 8 c + c div 4. `bits` 4 is
    F1, F3, noise spectrum, voice, noise; 5 is F2; 0 is the noise spectrum of a stop (4 bits)."""
    yield "bits,code,direction,values"
    for bits, share in ((4, 8), (5, 8), (0, 2)):
        for code in range(32 if bits == 5 else 16):
            target = 8 * code + code // 4 if bits == 5 else 17 * code
            yield f"{bits},{code},up,{' '.join(map(str, walk(0, target, share)))}"
            yield f"{bits},{code},down,{' '.join(map(str, walk(target, 0, share)))}"


# ---- e: pitch ----

def pitch_periods():
    """Filter cycles in a pitch period of each code at each inflection level, once F1 has arrived.
    Right because: docs/chip.md, Sources: 190 - 20 level, and an eighth (whole) of the F1 register, which is 17 times
    the F1 code of reference/parts/default/phonemes.csv."""
    yield "code,level,period"
    for code in range(64):
        for level in range(4):
            yield f"0x{code:02x},{level},{190 - 20 * level + 17 * WORD[code]['f1'] // 8}"


# ---- f: slots ----

def slots():
    """For some durations D: the first count n of filter cycles at which the phoneme's time is in each sixteenth, or beyond.
    Right because: docs/chip.md, Sequencer: slot = min(16, 16 n div D), tried for n = 0, 1, 2, ..., D. The durations are
    odd ones and those of the shortest, the most usual and the longest code. A sixteenth that no count falls into
    has the n of the next."""
    yield "duration,slot,first_n"
    for duration in (1, 2, 15, 16, 17, 31, 100, 940, 1420, 1600, 5000, 65535):
        for slot in range(17):
            n = 0
            while min(16, 16 * n // duration) < slot:
                n += 1
            yield f"{duration},{slot},{n}"


# ---- g: gate ----

def gate():
    """The gate's values while it closes, one a move, from open (255).
    Right because: docs/chip.md, Transitions: it loses its 2^shift-th part, rounded up; with the default shift of 1 it halves,
    down to 0."""
    yield "shift,values"
    for shift in range(8):
        value, values = 255, []
        while value > 0:
            whole, rest = divmod(value, 2 ** shift)
            value -= whole + (1 if rest else 0)
            values.append(value)
        yield f"{shift},{' '.join(map(str, values))}"


# ---- h: audio levels ----

class Chip:
    """docs/chip.md, read from top to bottom; a clock at a time, with a variable for each of its names."""

    def __init__(self):
        c = {name: float(value) for name, value in CONSTANT.items()}
        i = {name: int(value) for name, value in CONSTANT.items() if value.lstrip("-").isdigit()}
        self.c, self.i = c, i
        self.pulse = [i[f"pulse[{n}]"] for n in range(i["pulse_length"])]
        self.period = [i[f"pitch_period[{n}]"] for n in range(4)]
        self.D = [int(w["duration"] * c["nominal_hz"] / i["filter_clocks"] / 1000 + 0.5) for w in WORD]
        self.clock = self.tick = 0
        self.caught = None
        self.code = next(code for code in range(64) if WORD[code]["pause"])
        self.W = WORD[self.code]
        self.n, self.timing, self.request, self.fall = self.D[self.code], False, 1, None
        self.F1 = self.F2 = self.F3 = self.FC = self.VA = self.FA = 0
        self.tVA = self.tFA = 0
        self.load()
        self.gate, self.closing = 255, False
        self.level, self.count, self.noise = 0, 0, i["noise_seed"]
        self.n1 = self.slope1 = 0.0
        self.u1 = self.y1 = self.u2 = self.y2 = self.u3 = self.y3 = self.u4 = self.y4 = self.lp = 0.0
        self.next = self.pin = 0.0

    def load(self):
        w = self.W
        self.tF1, self.tF2, self.tF3, self.tFC = 17 * w["f1"], 8 * w["f2"] + w["f2"] // 4, 17 * w["f3"], 17 * w["fc"]
        self.bw2 = w["bw2"]

    def strobe(self, code):
        self.caught = code

    def step(self):
        """One clock; the audio pin's new level, or None."""
        self.clock += 1
        latched = self.caught is not None
        if latched:
            self.code, self.caught = self.caught, None
            self.W = WORD[self.code]
            self.n, self.timing = 0, True
            self.load()
            if self.W["pause"]:
                self.tVA = self.tFA = 0
            if self.request and self.fall is None:
                self.fall = self.clock + self.i["request_delay"]
        if self.fall == self.clock:
            self.request, self.fall = 0, None
        if self.clock % self.i["filter_clocks"] == 0:
            self.tick += 1
            if self.timing and not latched:
                self.sequence()
            self.transitions()
            self.next = self.sound()
        if self.clock >= self.i["filter_clocks"] and \
                self.clock % self.i["filter_clocks"] == self.i["output_clocks"]:
            self.pin = self.next
            return self.pin
        return None

    def sequence(self):
        w, D = self.W, self.D[self.code]
        self.n += 1
        if self.n == D:
            self.request, self.timing = 1, False
        slot = min(16, 16 * self.n // D)
        if slot >= w["vd"]:
            self.tVA = 0 if w["pause"] else 17 * w["va"]
        if not w["closure"]:
            if slot >= w["cld"]:
                self.tFA = 0 if w["pause"] else 17 * w["fa"]
            self.closing = False
        else:
            burst = self.i["burst_slot"]
            if slot < burst:
                self.tFA = 0
            else:
                self.tFA = self.FA = 0 if w["pause"] else 17 * w["fa"]
            self.closing = w["cld"] <= slot < burst
        if not self.closing:
            self.gate = 255

    def transitions(self):
        def move(r, target, s):
            d = target - r
            if d == 0:
                return r
            step = abs(d) // 2 ** s
            if step == 0:
                step = 1
            return r + step if d > 0 else r - step

        i, s = self.i, self.i["transition_shift"]
        if self.tick % i["formant_cycles"] == 0:
            self.F1, self.F2, self.F3 = move(self.F1, self.tF1, s), move(self.F2, self.tF2, s), move(self.F3, self.tF3, s)
            self.FC = move(self.FC, self.tFC, i["stop_spectrum_shift"] if self.W["closure"] else s)
        if self.tick % i["amplitude_cycles"] == 0:
            self.VA, self.FA = move(self.VA, self.tVA, s), move(self.FA, self.tFA, s)
            for name in ("u1", "y1", "u2", "y2", "u3", "y3", "u4", "y4", "lp"):
                if abs(getattr(self, name)) < 2.0 ** -100:
                    setattr(self, name, 0.0)
        if self.tick % i["gate_cycles"] == 0 and self.closing:
            s = i["gate_shift"]
            self.gate = self.gate - (self.gate + 2 ** s - 1) // 2 ** s

    def sound(self):
        c, i = self.c, self.i
        # derived values
        k1 = c["f1.k0"] + c["f1.ks"] * self.F1
        k2 = c["f2.k0"] + c["f2.ks"] * self.F2
        k3 = c["f3.k0"] + c["f3.ks"] * self.F3
        k4 = c["f4_k"]
        q1 = 1 / (1 + c["f1.k6"])
        q3 = 1 / (1 + c["f3.k6"])
        q4 = 1 / (1 + c["f4_k6"])
        q2 = 1 / (1 + (c["f2.k6"] + c["f2_k6_step"] * self.bw2))

        def gain(r):
            result = r / 255
            for _ in range(i["amplitude_power"] - 1):
                result = result * (r / 255)
            return result

        voice_gain = gain(self.VA) * c["pulse_unit"]
        noise_gain = gain(self.FA)
        between = noise_gain * c["noise_between_pulses"] if self.VA > 0 else noise_gain
        place = self.FC / 127.5
        if place < 1:
            front, middle, back = 1 - place, place, 0.0
        else:
            front, middle, back = 0.0, 2 - place, place - 1
        n2 = c["noise_f2"] * back * k2
        n3 = c["noise_f3"] * middle * k3
        n4 = c["noise_f4"] * (4 + 2 * c["f4_k6"] - c["f4_k"] * c["f4_k"]) * front
        direct = c["noise_direct"] * front
        feed = c["f4_feed"] * c["f4_k"] * c["f4_k"]
        out = self.gate / 255 * c["output_gain"]
        # sources
        P = self.period[self.level] + self.F1 // 2 ** i["pitch_f1_shift"]
        self.count = 0 if self.count >= P - 1 else self.count + 1
        inside = self.count < i["pulse_length"]
        v = self.pulse[self.count] * voice_gain if inside else 0.0
        fb = bin(self.noise & i["noise_taps"]).count("1") % 2
        self.noise = (self.noise >> 1) + fb * 2 ** (i["noise_bits"] - 1)
        a = noise_gain if inside else between
        n = a if self.noise & 1 else -a
        # sections
        slope = n - self.n1
        bend = slope - self.slope1
        self.n1, self.slope1 = n, slope
        self.u1 = self.u1 - k1 * (v + self.y1)
        self.u2 = self.u2 - k2 * (self.y1 + self.y2) + n2 * slope
        self.u3 = self.u3 - k3 * (self.y2 + self.y3) + n3 * slope
        self.u4 = self.u4 + k4 * (self.y3 - self.y4)
        self.y1 = (self.y1 + k1 * self.u1) * q1
        self.y2 = (self.y2 + k2 * self.u2) * q2
        x = self.y3
        self.y3 = (self.y3 + k3 * self.u3) * q3
        self.y4 = (self.y4 + k4 * self.u4 + (n4 * slope - feed * (self.y3 - x))) * q4
        level = (self.y4 + direct * bend) * out
        if c["lowpass_k"] > 0:
            self.lp = (self.lp + c["lowpass_k"] * level) * (1 / (1 + c["lowpass_k"]))
            level = self.lp
        return level


# Clock after which a pin changes, and how: a code that is strobed, or an inflection level. Hurried speech with voice, noise,
# a voiced stop and an unvoiced one that are spoken in full, stops that are cut, pauses, and strobes at every kind of
# moment: 2879 puts the latch into the very clock of a filter cycle, and so on.
EVENTS = [(0, "level", 1), (0, "strobe", 0x12), (2879, "strobe", 0x2e), (5003, "level", 3), (9000, "strobe", 0x1f),
          (15000, "strobe", 0x2a), (15001, "strobe", 0x2a), (70000, "strobe", 0x0e), (70001, "level", 0),
          (125000, "strobe", 0x07), (140000, "strobe", 0x03), (150000, "strobe", 0x19), (235000, "strobe", 0x15),
          (240000, "level", 2), (300000, "strobe", 0x3f)]
LEVELS = 10000


def audio_levels():
    """Levels of the audio pin, in the order in which it takes them: the first 300, then every 50th, as exact hexadecimal
    floats; and a hash of all levels so far (FNV-1a, 64 bits, over the eight bytes of each, lowest first).
    Right because: worked out by the class Chip of make_golden.py, which is docs/chip.md written down in the plainest
    way, clock by clock, with the default part's tables; the same operations in the same order must give the same bits. Rows of the kinds
    `strobe` and `level` say what happens at the pins: index = the clock after which, value = the code or inflection level."""
    yield "kind,index,value,hash"
    for clock, kind, value in EVENTS:
        yield f"{kind},{clock},{value},"
    chip, events, hashed, index = Chip(), list(EVENTS), 0xcbf29ce484222325, 0
    while index < LEVELS:
        while events and events[0][0] == chip.clock:
            _, kind, value = events.pop(0)
            if kind == "strobe":
                chip.strobe(value)
            else:
                chip.level = value
        level = chip.step()
        if level is None:
            continue
        # the eight bytes by arithmetic on the exact value, without asking how the machine stores a float
        for byte in bytes_of(level):
            hashed = (hashed ^ byte) * 0x100000001b3 % 2 ** 64
        index += 1
        if index <= 300 or index % 50 == 0:
            yield f"audio,{index},{level.hex()},{hashed:016x}"


def bytes_of(value):
    """IEEE binary64, lowest byte first."""
    text = value.hex()
    sign = 1 if text.startswith("-") else 0
    mantissa, exponent = text.lstrip("-").removeprefix("0x").split("p")
    whole, _, part = mantissa.partition(".")
    bits = int(part.ljust(13, "0") or "0", 16)
    biased = int(exponent) + 1023 if whole == "1" else 0
    packed = sign << 63 | biased << 52 | bits
    return [packed >> 8 * i & 255 for i in range(8)]


FILES = (request_clocks, noise_bits, impulse_responses, register_walks, pitch_periods, slots, gate, audio_levels)


def text_of(make):
    lines = [f"# {line.strip()}" for line in make.__doc__.splitlines()]
    lines.append(f"# Written by: tests/golden/make_golden.py, {make.__name__}()")
    return "\n".join(lines + list(make())) + "\n"


def main():
    differ = []
    for make in FILES:
        path = os.path.join(HERE, make.__name__ + ".csv")
        text = text_of(make)
        if "--check" in sys.argv[1:]:
            try:
                with open(path, encoding="utf-8", newline="") as file:
                    same = file.read() == text
            except OSError:
                same = False
            if not same:
                differ.append(path)
        else:
            with open(path, "w", encoding="utf-8", newline="") as file:
                file.write(text)
    for path in differ:
        print(f"{path} is not what make_golden.py writes")
    if not differ:
        print(f"{len(FILES)} golden files")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
