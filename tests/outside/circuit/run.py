#!/usr/bin/python3
"""Holds the sections of the vocal tract against a circuit simulator.

For each section and setting of its registers: `netlist` writes a switch-level circuit and what the core gives; ngspice runs
the circuit; its output late in phase 2 of every filter cycle must equal the core's within 1e-4 of the peak.

  run.py NETLIST [--quick] [--jobs N] [--keep DIR]
  run.py NETLIST --control      one capacitor after the other is made 0.1 % larger, and each time the check must miss

NETLIST is the program built from netlist.c. Exit status: 0 all well, 1 a miss or a simulation that did not run to its end,
2 usage."""

import argparse
import concurrent.futures
import math
import os
import subprocess
import sys
import tempfile
import time

LIMIT = 1e-4  # of the peak; the simulator itself is within 3e-5
GRID = 20  # output points in a period
LATE = 19  # the one that is compared
TIMEOUT = 300  # seconds for one simulation

CASES = [  # section, settings of the registers, filter cycles
    ("f1", ["0", "128", "255"], 300),
    ("f2", ["0,0", "128,0", "255,0"], 400),
    ("f2", ["0,2", "128,2", "255,2", "0,15", "128,15", "255,15"], 300),
    ("f3", ["0", "128", "255"], 300),
    ("f4", [""], 300),
    ("noise-f2", ["0,2,255", "128,2,255", "255,2,255", "128,15,192"], 300),
    ("noise-f3", ["0,127", "128,127", "255,127", "128,64"], 300),
    ("noise-f4", ["0", "64"], 300),
    ("output", ["255,0", "128,64", "16,30"], 200),
    ("lowpass", ["255,0"], 200),
    ("tract", ["7", "26"], 300),  # voiced fricatives: voice and noise in every entry between them
]
QUICK = [
    ("f1", ["128"], 200),
    ("f2", ["128,2", "255,0"], 200),
    ("f3", ["128"], 200),
    ("f4", [""], 200),
    ("noise-f2", ["128,2,255"], 200),
    ("noise-f3", ["128,127"], 200),
    ("noise-f4", ["64"], 200),
    ("output", ["128,0"], 200),
    ("lowpass", ["255,0"], 200),
]
CONTROL = [  # section, setting, capacitors to falsify
    ("f1", "128", ["in1", "loop1", "on1", "damp1"]),
    ("f2", "128,2", ["in2", "loop2", "on2", "damp2"]),
    ("f3", "128", ["in3", "loop3", "on3", "damp3"]),
    ("f4", "", ["in4", "loop4", "on4", "damp4", "feed4"]),
    ("noise-f2", "128,2,255", ["noise2"]),
    ("noise-f3", "128,127", ["noise3"]),
    ("noise-f4", "0", ["noise4"]),
    ("output", "255,0", ["sum", "change", "direct", "wipe_pin", "wipe_slope"]),
    ("lowpass", "255,0", ["low_in", "low_damp"]),
]
CONTROL_PERIODS = 150


class Failed(Exception):
    """A simulation that gave nothing to compare."""


def numbers(path, separator, column):
    """One column of a file below its header."""
    with open(path, encoding="ascii") as file:
        next(file, None)
        return [float(row.split(separator)[column]) for row in file if row.strip()]


def simulate(netlist, folder, case):
    """Worst difference and peak of one case."""
    name, periods, falsified = case
    prefix = "".join(c if c.isalnum() or c == "." else "_" for c in name + falsified)
    command = [netlist, name, str(periods), prefix] + ([falsified] if falsified else [])
    raw = os.path.join(folder, prefix + ".raw")
    if os.path.exists(raw):  # of an earlier run: it must not stand in for this one's
        os.remove(raw)
    made = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=TIMEOUT, check=False)
    if made.returncode != 0:
        raise Failed("netlist: " + made.stderr.strip())
    try:
        ran = subprocess.run(["ngspice", "-b", prefix + ".cir"], cwd=folder, stdin=subprocess.DEVNULL,
                             stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
                             timeout=TIMEOUT, check=False)
    except FileNotFoundError:
        raise Failed("ngspice is not installed") from None
    except subprocess.TimeoutExpired:
        raise Failed("ngspice did not end within %d s" % TIMEOUT) from None
    # An aborted run exits with 0 all the same.
    if ran.returncode != 0 or "run simulation(s) aborted" in ran.stdout:
        raise Failed("ngspice stopped: " + " | ".join(ran.stdout.strip().splitlines()[-3:]))
    wanted = numbers(os.path.join(folder, prefix + ".csv"), ",", 1)
    try:
        got = numbers(raw, None, 1)
    except (OSError, ValueError, IndexError):
        raise Failed("ngspice wrote no readable output") from None
    if len(wanted) != periods or len(got) < GRID * periods:
        raise Failed("rows are missing: %d of %d" % (len(got), GRID * periods))
    peak = max(abs(w) for w in wanted)
    errors = [abs(got[GRID * k + LATE] - wanted[k]) for k in range(periods)]
    worst = math.nan if any(math.isnan(e) for e in errors) else max(errors)
    return worst / peak, peak


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("netlist", help="the program built from netlist.c")
    parser.add_argument("--quick", action="store_true", help="one setting of each section, for every change")
    parser.add_argument("--control", action="store_true", help="falsified capacitors: the check must miss")
    parser.add_argument("--jobs", type=int, default=2, help="simulations at a time (2)")
    parser.add_argument("--keep", metavar="DIR", help="leave circuits and results there")
    options = parser.parse_args()
    if options.control:
        cases = [(s + ("@" + r if r else ""), CONTROL_PERIODS, capacitor + "=1.001")
                 for s, r, capacitors in CONTROL for capacitor in capacitors]
    else:
        cases = [(s + ("@" + r if r else ""), periods, "")
                 for s, settings, periods in (QUICK if options.quick else CASES) for r in settings]

    start = time.monotonic()
    bad = 0
    with tempfile.TemporaryDirectory() as scratch, \
            concurrent.futures.ThreadPoolExecutor(max(1, options.jobs)) as pool:
        folder = options.keep or scratch
        os.makedirs(folder, exist_ok=True)
        netlist = os.path.abspath(options.netlist)
        jobs = [pool.submit(simulate, netlist, folder, case) for case in cases]
        print("%-9s %-11s %-16s %7s %10s %11s %8s  verdict"
              % ("section", "registers", "falsified", "periods", "peak", "worst/peak", "limit"))
        for (name, periods, falsified), job in zip(cases, jobs):
            section, _, registers = name.partition("@")
            row = "%-9s %-11s %-16s %7d" % (section, registers or "-", falsified or "-", periods)
            try:
                worst, peak = job.result()
                within = worst <= LIMIT
                well = not within if options.control else within
                verdict = "ok" if within else "MISS"
                if options.control:
                    verdict = "not noticed: FAIL" if within else "noticed"
                print("%s %10.4g %11.1e %8.0e  %s" % (row, peak, worst, LIMIT, verdict), flush=True)
            except Failed as failure:
                well = False
                print("%s  FAIL: %s" % (row, failure), flush=True)
            bad += not well
    print("%d of %d %s, %.0f s" % (len(cases) - bad, len(cases),
                                   "falsified capacitors noticed" if options.control else "within the limit",
                                   time.monotonic() - start))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
