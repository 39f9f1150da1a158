"""Deliberately wrong variants of the example design: each must be caught, with the message that its designer would need.

A variant is the example with one piece of text replaced. It is simulated in Icarus Verilog beside the model under random
stimulus of a fixed seed; the first line of the report must name the pin that shows the fault, and the lines behind it must
say why and by how much."""
import os
import re
import subprocess
import sys
import tempfile

SOURCE = os.environ["HYOID_SOURCE"]
BUILD = os.environ["HYOID_BUILD"]
HYOID = os.environ["HYOID"]
VERILOG = os.path.join(SOURCE, "frontends/hdl/verilog")
EXAMPLE = os.path.join(SOURCE, "frontends/hdl/example")
CLOCKS = 1500000
SEED = int(os.environ.get("SEED", "1"))

DELAY = "if (`HYOID_REQUEST_DELAY == 0) request <= 0;\n      else fall <= `HYOID_REQUEST_DELAY;"

# name, file, text, replacement, pins that are looked at, pattern that the report must match
VARIANTS = [
    ("timer ends one filter cycle early", "sequencer.v", "n + 16'd1 == duration", "n + 16'd2 == duration", "request",
     r"request: expected 0, got 1\n.*request rises in clock \d+\n.*\d+ clocks \(1 filter cycle\) too early"),
    ("timer ends one filter cycle late", "sequencer.v", "n + 16'd1 == duration", "n == duration", "request",
     r"request: expected 1, got 0\n.*has lasted its \d+ filter cycles.*\n"
     r".*(risen in clock \d+, \d+ clocks \(1 filter cycle\) too late|not risen when the next strobe acted)"),
    ("strobe taken by its level", "sequencer.v", "wire latch = caught != taken;",
     "wire latch = caught != taken || strobe;", "request",
     r"request: expected (1, got 0\n.*(only an edge starts a phoneme|has lasted its)|0, got 1)"),
    ("strobe's level, the code follows the pins", "sequencer.v", "phoneme <= caught_code;\n",
     "phoneme <= caught_code;\n    end else if (strobe) begin\n      phoneme <= p;\n", "request phoneme",
     r"(phoneme: expected 0x.., got 0x..\n.*the code that stood on the pins when strobe rose\n.*without an edge of strobe"
     r"|request: expected [01], got [01]\n(.*\n){1,2}.*strobe is high since clock \d+; only its rising edge acts)"),
    ("request upside down", "dut.v", ".request(request)", ".request(busy)", "request",
     r"MISMATCH in clock 0: request: expected 1, got 0\n.*high from power-up until the first latch"),
    ("latch one clock late", "sequencer.v", "wire latch = caught != taken;",
     "reg seen;\n  always @(posedge clk) seen <= caught;\n  wire latch = seen != taken;", "request phoneme",
     r"(phoneme: expected 0x.., got 0x..\n.*latched in|request: expected 0, got 1\n.*after the latch in) clock \d+.*\n"
     r".*(1 clock too late|when the next strobe acted)"),
    ("request falls one clock late", "sequencer.v", DELAY, "fall <= `HYOID_REQUEST_DELAY + 1;", "request",
     r"request: expected 0, got 1\n.*request falls \d+ clocks? after the latch.*\n.*fallen in clock \d+, 1 clock too late"),
    ("request falls with the latch", "sequencer.v", DELAY, "request <= 0;", "request",
     r"request: expected 1, got 0\n.*request falls \d+ clocks? after the latch.*\n.*fell 1 clock too early"),
    ("request never falls when cut", "sequencer.v", "else if (latch && request)", "else if (latch && request && slot == 16 && !strobe)",
     "request", r"request: expected 0, got 1\n.*request falls \d+ clocks? after the latch.*\n.*(had not fallen|too late)"),
    ("inflection latched by strobe", "sequencer.v", "else if (tick) level", "else if (latch) level", "request level",
     r"level: expected \d, got \d\n.*inflection is not latched.*filter cycle's start, clock \d+"),
    ("inflection taken every clock", "sequencer.v", "else if (tick) level", "else level", "request level",
     r"level: expected \d, got \d\n.*inflection is not latched"),
    ("a strobe before request is refused", "sequencer.v", "wire latch = caught != taken;",
     "wire latch = caught != taken && request;", "request phoneme",
     r"phoneme: expected 0x.., got 0x..\n.*latched in clock \d+|the latch wins"),
    ("code caught on the falling edge", "sequencer.v", "always @(posedge strobe", "always @(negedge strobe",
     "request phoneme", r"phoneme: expected 0x.., got 0x..\n.*the code that stood on the pins when strobe rose"
     r"|request: expected 0, got 1\n.*falls \d+ clocks? after the latch.*\n.*had not fallen"),
    ("code taken at the clock, not at strobe's edge", "sequencer.v", "phoneme <= caught_code;", "phoneme <= p;",
     "request phoneme", r"phoneme: expected 0x.., got 0x..\n.*the code that stood on the pins when strobe rose"),
    ("timer not reset by an early strobe", "sequencer.v", "timing <= 1;\n      n <= 0;",
     "timing <= 1;\n      if (!timing) n <= 0;", "request",
     r"request: expected (0, got 1\n.*of which \d+ are counted; request rises in clock \d+\n.*too early"
     r"|1, got 0\n.*has lasted its)"),
    ("divider reset by the latch", "sequencer.v", "tick ? 13'd0", "tick || latch ? 13'd0", "request",
     r"request: expected [01], got [01]\n.*filter cycles.*\n.*(\d+ clocks? too (late|early)|when the next strobe acted)"),
    ("filter cycle in the latch's clock counted", "sequencer.v", "timing <= 1;\n      n <= 0;",
     "timing <= 1;\n      n <= {15'b0, tick};", "request",
     r"request: expected 0, got 1\n.*\d+ clocks \(1 filter cycle\) too early|request: expected 0, got 1\n(.*\n)?.*clocks"),
    ("timer's end beats the latch", "sequencer.v", "wire over = counts &&", "wire over = tick && timing &&", "request",
     r"request: expected 0, got 1\n.*acts in the very clock in which the timer ends: the latch wins"),
    ("second strobe puts off the fall", "sequencer.v", "end else if (fall != 0) begin",
     "end else if (latch && (request || fall != 0)) begin\n      fall <= `HYOID_REQUEST_DELAY;\n    end else if (fall != 0) begin",
     "request", r"request: expected 0, got 1\n.*request falls \d+ clocks? after the latch.*does not put it off\n.*too late"),
    ("two edges within one clock cancel", "sequencer.v", "caught <= !taken;", "caught <= !caught;", "request phoneme",
     r"(phoneme: expected 0x.., got 0x..\n.*latched in clock \d+|request: expected 0, got 1\n.*(falls \d+ clocks? after|the latch wins))"),
    ("the first of two edges counts", "sequencer.v", "caught_code <= p;", "if (caught == taken) caught_code <= p;",
     "request phoneme", r"phoneme: expected 0x.., got 0x..\n.*the code that stood on the pins when strobe rose"),
    ("slot rounded down once too often", "sequencer.v", "sum >= {1'b0, duration}", "sum > {1'b0, duration}",
     "request slot", r"slot: expected \d+, got \d+\n.*slot = 16 n div D\n.*too late"),
    ("filter cycle one clock short", "sequencer.v", "`HYOID_FILTER_CLOCKS - 1", "`HYOID_FILTER_CLOCKS - 2", "request",
     r"request: expected 0, got 1\n.*filter cycles of which \d+ are counted.*\n.*too early"),
    ("neighbour's duration", "sequencer.v", "durations[phoneme];", "durations[phoneme ^ 6'd1];", "request",
     r"request: expected (0, got 1\n.*lasts \d+|1, got 0\n.*has lasted its \d+) filter cycles"),
    ("request unknown until the first strobe", "sequencer.v", "request <= 1;\n      fall <= 0;\n    end else if (over)",
     "fall <= 0;\n    end else if (over)", "request", r"MISMATCH in clock 0: request: expected 1, got x"),
]


def run(folder, name, file, old, new, pins):
    for source in ("sequencer.v", "dut.v"):
        with open(os.path.join(EXAMPLE, source)) as f:
            text = f.read()
        if source == file:
            if text.count(old) != 1:
                sys.exit(f"FAIL: {name}: {old!r} stands {text.count(old)} times in {source}")
            text = text.replace(old, new)
            if new == ".request(busy)":
                text = text.replace("assign audio", "wire busy;\n  assign request = !busy;\n  assign audio")
        with open(os.path.join(folder, source), "w") as f:
            f.write(text)
    checks = [f"-Phyoid_tb.CHECK_{pin.upper()}=1" for pin in pins.split() if pin != "request"]
    subprocess.run(["iverilog", "-g2012", "-I.", "-I" + VERILOG, "-o", "bench", "-s", "hyoid_tb", *checks,
                    VERILOG + "/hyoid_tb.v", VERILOG + "/hyoid_bench.sv", "dut.v", "sequencer.v"], cwd=folder, check=True)
    return subprocess.run(["vvp", "-n", "-M", BUILD + "/hdl", "-m", "hyoid", "bench", f"+clocks={CLOCKS}", f"+seed={SEED}"],
                          cwd=folder, stdout=subprocess.PIPE, text=True, timeout=120)


def main():
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([HYOID, "vectors", "--part-only", "-o", folder + "/part"], check=True)
        for name in ("part.vh", "durations.hex"):
            os.rename(f"{folder}/part/{name}", f"{folder}/{name}")
        for name, file, old, new, pins, pattern in VARIANTS:
            vcd = folder + "/hyoid_lockstep.vcd"
            if os.path.exists(vcd):
                os.remove(vcd)
            done = run(folder, name, file, old, new, pins)
            report = done.stdout
            lines = report.splitlines()
            first = next((i for i, line in enumerate(lines) if line.startswith("MISMATCH")), None)
            wrong = []
            if first is None:
                wrong.append("not caught")
            elif not re.search(pattern, report):
                wrong.append("another message")
            if first is not None and not os.path.exists(vcd):
                wrong.append("no VCD")
            if done.returncode != 1:
                wrong.append(f"exit status {done.returncode}")
            print(f"{name}: {'; '.join(wrong) if wrong else lines[first]}")
            if wrong or "-v" in sys.argv:
                print(report)
            failures += bool(wrong)
    print(f"seed {SEED}: {len(VARIANTS)} wrong designs, {failures} of them not caught as they should be")
    return failures > 0


if __name__ == "__main__":
    sys.exit(main())
