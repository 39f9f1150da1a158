#!/usr/bin/env python3
"""A plausible part that nobody tuned: random_part.py SEED FROM TO [--keep-laws]

Moves the numbers of the part in folder FROM and writes folder TO: every formant code by up to two (F2: three) steps,
bandwidths, levels and delays by one or two, durations by up to 8 % (whole milliseconds), pitch periods by up to 5 %;
the sections' laws by a few per cent, bandwidths by a quarter, the glottal pulse's two times, the rates of the transitions."""
import csv
import math
import os
import random
import sys


def pulse_of(opening, closing):
    length, before, pulse = opening + closing // 2, 0.0, []
    for i in range(length):
        g = (1 - math.cos(math.pi * i / opening)) / 2 if i < opening else math.cos(math.pi * (i - opening) / closing)
        pulse.append(round(1024 * (g - before)))
        before = g
    return pulse


def main():
    seed, source, target = int(sys.argv[1]), sys.argv[2], sys.argv[3]
    rng = random.Random(seed)
    os.mkdir(target)
    rows = list(csv.reader(open(os.path.join(source, "phonemes.csv"), newline="", encoding="utf-8")))
    value = {(row[0], row[2]): row[3] for row in rows[1:]}
    reach = {"f1": (2, 15), "f2": (3, 31), "f3": (2, 15), "bw2": (2, 15), "va": (1, 15), "fa": (1, 15), "fc": (2, 15),
             "vd": (1, 15), "cld": (1, 12)}
    for row in rows[1:]:
        code, quantity = row[0], row[2]
        if value[code, "pause"] == "1":
            continue
        if quantity == "duration":
            row[3] = str(round(float(row[3]) * rng.uniform(0.92, 1.08)))
        elif quantity in reach:
            by, most = reach[quantity]
            old = int(row[3])
            if quantity in ("va", "fa") and old == 0 or quantity == "fc" and value[code, "fa"] == "0":
                continue
            low = 1 if quantity in ("va", "fa") else 0
            row[3] = str(min(most, max(low, old + rng.randint(-by, by))))
    with open(os.path.join(target, "phonemes.csv"), "w", newline="", encoding="utf-8") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)

    rows = list(csv.reader(open(os.path.join(source, "constants.csv"), newline="", encoding="utf-8")))
    factor = {}
    for section in ("f1", "f2", "f3"):
        both = rng.uniform(0.96, 1.04)
        factor[section + ".k0"] = both * rng.uniform(0.98, 1.02)
        factor[section + ".ks"] = both
        factor[section + ".k6"] = rng.uniform(0.8, 1.25)
    factor["f4_k"] = rng.uniform(0.95, 1.03)
    factor["f4_k6"] = rng.uniform(0.8, 1.25)
    count = {"pitch_period[%d]" % i: rng.uniform(0.95, 1.05) for i in range(4)}
    cycles = {name: str(rng.randint(48, 96)) for name in ("formant_cycles", "amplitude_cycles")}
    pulse = pulse_of(rng.randint(60, 90), 2 * rng.randint(10, 20))
    out_rows, done = [rows[0]], False
    for row in rows[1:]:
        name = row[0]
        if name.startswith("pulse["):
            if not done:
                out_rows += [["pulse[%d]" % i, str(v), row[2], "estimate", "random_part.py, seed %d" % seed]
                             for i, v in enumerate(pulse)]
                done = True
            continue
        if name in factor:
            row[1] = "%.9g" % (float(row[1]) * factor[name])
        elif name in count:
            row[1] = str(round(float(row[1]) * count[name]))
        elif name in cycles:
            row[1] = cycles[name]
        elif name == "pulse_length":
            row[1] = str(len(pulse))
        out_rows.append(row)
    with open(os.path.join(target, "constants.csv"), "w", newline="", encoding="utf-8") as out:
        csv.writer(out, lineterminator="\n").writerows(out_rows)


main()
