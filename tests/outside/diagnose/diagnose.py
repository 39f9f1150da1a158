#!/usr/bin/python3
"""diagnose.py DIAGNOSE_BENCH COMPARE_DEGRADE: `hyoid diagnose` as a user runs it: text, JSON, report, exit status. HYOID names the program."""
import json
import math
import os
import struct
import subprocess
import sys
import tempfile
import wave

HYOID = os.path.abspath(os.environ.get("HYOID", "build/hyoid"))
CHECK_REPORT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "report", "check_report.py")
failed = 0


def expect(condition, text):
    global failed
    if not condition:
        failed += 1
        print("FAIL: " + text)


def run(folder, *arguments, status=0):
    done = subprocess.run([HYOID, *arguments], cwd=folder, capture_output=True, text=True, check=False, timeout=600)
    expect(done.returncode == status, f"{' '.join(arguments)}: exit {done.returncode}, not {status}: {done.stderr}")
    return done


def record(folder, bench, name, fault, condition):
    subprocess.run([bench, "survey.score", "--write", name, "--fault", fault, "--condition", str(condition)], cwd=folder,
                   check=True, capture_output=True, timeout=120)


def check_cases(folder, bench):
    """(fault, condition, options, words that the evidence must hold)"""
    for fault, condition, options, words in (
            ("no-noise", 0, ["--gain", "0"], "noise source or its amplitude path"),
            ("p3-low", 2, [], "sound like the code with P3 = 0"),
            ("healthy", 1, [], "as they should be")):
        record(folder, bench, "x.wav", fault, condition)
        status = 0 if fault == "healthy" else 1
        done = run(folder, "diagnose", "x.wav", "--input", "survey.score", "--json", "x.json", "--report", "x.html", *options,
                   status=status)
        with open(os.path.join(folder, "x.json"), encoding="utf-8") as file:
            found = json.load(file)
        first = found["candidates"][0]
        print(f"{fault}: {found['verdict']}, {first['fault']} {first['strength']} {100 * first['probability']:.0f} %, "
              f"clock {found['fit']['clock_ratio']:.4f}")
        expect(first["fault"] == fault, f"{first['fault']} is first, not {fault}")
        expect(found["verdict"] == ("healthy" if fault == "healthy" else "faulty"), found["verdict"])
        expect(done.stdout.startswith(found["verdict"] + ": ") and fault in done.stdout, done.stdout)
        expect(words in done.stdout and any(words in line for line in first["evidence"]), f"no '{words}' in {done.stdout}")
        expect("ESTIMATE" in done.stdout and found["part"]["estimate"] is True, "the estimate is not called one")
        expect(len(found["candidates"]) == 42, "not all faults are ranked")
        expect(abs(sum(c["probability"] for c in found["candidates"]) - 1) < 1e-6, "shares do not add up")
        expect(done.stderr == "", f"progress in a pipe: {done.stderr!r}")
    subprocess.run([sys.executable, "-B", CHECK_REPORT, os.path.join(folder, "x.html")], check=True)


def render_at(folder, hz, name, score="fixed.score"):
    """A healthy chip at a clock that the score does not state."""
    with open(os.path.join(folder, score), encoding="utf-8") as file:
        text = file.read()
    expect(text.count("clock 720000\n") == 1, "the survey states its clock once")
    with open(os.path.join(folder, "other.score"), "w", encoding="utf-8") as file:
        file.write(text.replace("clock 720000\n", f"clock {hz}\n"))
    run(folder, "render", "other.score", "-o", name, "--quiet")


def verdict(folder, *arguments, status):
    run(folder, "diagnose", *arguments, "--json", "x.json", "--quiet", status=status)
    with open(os.path.join(folder, "x.json"), encoding="utf-8") as file:
        return json.load(file)


def check_clocks(folder):
    """A good chip on a board with another oscillator is a good chip, and its clock is found: by tempo and pitch where the host waits
    for requests, by pitch alone where it writes at times of its own."""
    for hz in (440000, 757000):
        render_at(folder, hz, "far.wav")
        found = verdict(folder, "far.wav", "--input", "fixed.score", status=0)
        print(f"{hz} Hz: {found['verdict']}, {found['fit']['clock_hz']:.0f} Hz")
        expect(found["verdict"] == "healthy", f"at {hz} Hz: {found['summary']}")
        expect(abs(found["fit"]["clock_hz"] / hz - 1) < 1e-3, f"{hz} Hz is taken for {found['fit']['clock_hz']}")
        expect(f"{100 * abs(hz / 720e3 - 1):.3g} %" in found["summary"], f"how far off: {found['summary']}")
    run(folder, "render", "fixed.csv", "-o", "log.wav", "--quiet")
    with open(os.path.join(folder, "fixed.csv"), encoding="utf-8") as file:
        log = file.read()
    with open(os.path.join(folder, "slow.csv"), "w", encoding="utf-8") as file:
        file.write(log.replace("clock_hz,720000", "clock_hz,650000"))
    done = run(folder, "diagnose", "log.wav", "--input", "slow.csv", "--clock", "700k", "--json", "-", status=0)
    found = json.loads(done.stdout)
    expect(abs(found["fit"]["clock_ratio"] / (720 / 650) - 1) < 5e-3, f"a log's clock: {found['fit']}")
    expect("--clock had no effect" in done.stderr, done.stderr)


def check_hum_at_mains(folder):
    """At 720 kHz the hum fault is 100 Hz, as a rectifier's is: it is taken out with the mains', and that it can't be shown is said."""
    run(folder, "render", "fixed.score", "-o", "hum.wav", "--fault", "hum:0.8", "--quiet")
    found = verdict(folder, "hum.wav", "--input", "fixed.score", status=0)
    expect("hum (at 100.0 Hz" in found["cannot_show"], f"the hidden hum: {found['cannot_show']}")
    run(folder, "render", "fixed.score", "-o", "well.wav", "--quiet")
    found = verdict(folder, "well.wav", "--input", "fixed.score", status=0)
    expect("hum" not in found["cannot_show"], f"no hum: {found['cannot_show']}")


def check_another_text(folder):
    """What says something else is no fault of the chip."""
    run(folder, "survey", "--calibration", "--short", "--quiet", "-o", "text.score")
    run(folder, "render", "text.score", "-o", "text.wav", "--quiet")
    done = run(folder, "diagnose", "text.wav", "--input", "fixed.score", "--json", "x.json", "--report", "x.html", status=1)
    expect("does not follow the input" in done.stdout and " %" not in done.stdout, done.stdout)
    with open(os.path.join(folder, "x.json"), encoding="utf-8") as file:
        found = json.load(file)
    expect(found["verdict"] == "not explained" and found["fit"]["clock_hz"] is None, found["verdict"])
    nearest = [c["level_difference_db"] for c in found["candidates"]]
    expect(nearest == sorted(nearest) and not any(c["probability"] for c in found["candidates"]), "shares of what is not explained")
    with open(os.path.join(folder, "x.html"), encoding="utf-8") as file:
        expect("not known" in file.read(), "the report knows a clock")


def check_bands(folder, degrade):
    """What a recorder or line carries is judged, and no more, however steep its edges and wherever they lie."""
    for fault, spoilt, low, high in (("healthy", ["band=500,2500"], 500, 2500),
                                     ("healthy", ["band=300,3400", "snr=20", "rate=8000"], 300, 3400),
                                     ("f2-dead", ["band=300,3400", "band=300,3400"], 300, 3400)):
        run(folder, "render", "fixed.score", "-o", "wide.wav", "--quiet", *([] if fault == "healthy" else ["--fault", fault]))
        subprocess.run([degrade, "wide.wav", "narrow.wav", *spoilt], cwd=folder, check=True, timeout=120)
        found = verdict(folder, "narrow.wav", "--input", "fixed.score", status=0 if fault == "healthy" else 1)
        judged = found["recording"]["low_hz"], found["recording"]["high_hz"]
        print(f"{fault}, {' '.join(spoilt)}: {found['summary']}; {judged[0]:.0f} to {judged[1]:.0f} Hz judged")
        expect(found["candidates"][0]["fault"] == fault, f"{spoilt}: {found['summary']}")
        expect(low / 2.1 < judged[0] < low * 1.35 and high * 0.8 < judged[1] < high * 1.35, f"{spoilt}: judged is {judged}")


def write_wave(path, samples, rate=16000):
    with wave.open(path, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(struct.pack(f"<{len(samples)}h", *samples))


def check_silence(folder):
    """A chip that says nothing: digital silence, hum alone. All silent faults are named, and what to measure."""
    hum = [round(1500 * math.sin(2 * math.pi * 50 * i / 16000)) for i in range(16000 * 8)]
    for name, samples in (("still", [0] * 16000 * 8), ("hum", hum)):
        write_wave(os.path.join(folder, "silent.wav"), samples)
        done = run(folder, "diagnose", "silent.wav", "--input", "fixed.score", "--json", "x.json", "--report", "x.html", status=1)
        with open(os.path.join(folder, "x.json"), encoding="utf-8") as file:
            found = json.load(file)
        alike = ("strobe-dead", "amplitudes-frozen", "gate-closed", "weak", "recorder that is not connected")
        expect(all(word in found["summary"] for word in alike), f"{name}: {found['summary']}")
        expect("request" in found["measure_next"] and found["measure_next"] in done.stdout, f"{name}: what to measure next")
        expect(found["fit"]["clock_hz"] is None and "-0 dB" not in done.stdout, f"{name}: {done.stdout}")
        with open(os.path.join(folder, "x.html"), encoding="utf-8") as file:
            expect("Measure next" in file.read(), f"{name}: the report")
    write_wave(os.path.join(folder, "still.wav"), [0] * 32000)
    for verb in ("compare", "calibrate"):
        done = run(folder, verb, "still.wav", "--input", "fixed.score",
                   *(["-o", "none"] if verb == "calibrate" else []), status=2)
        expect("hyoid diagnose" in done.stderr, f"{verb}: {done.stderr}")


def check_refusals(folder):
    with open(os.path.join(folder, "cut.wav"), "wb") as out, open(os.path.join(folder, "x.wav"), "rb") as whole:
        out.write(whole.read(30))
    before = sorted(os.listdir(folder))
    for arguments, word in (([], "RECORDING"), (["x.wav"], "--input"), (["x.wav", "--input", "no.score"], "no.score"),
                            (["no.wav", "--input", "survey.score"], "no.wav"), (["cut.wav", "--input", "survey.score"], "cut.wav"),
                            (["-", "--input", "-"], "both"),
                            (["x.wav", "--input", "survey.score", "--gain", "x"], "--gain"),
                            (["x.wav", "--input", "survey.score", "--json", "x.wav"], "overwritten"),
                            (["x.wav", "--input", "survey.score", "--json", "y", "--report", "y"], "two names"),
                            (["x.wav", "x.wav"], "second"), (["survey.score", "--input", "survey.score"], "survey.score")):
        done = run(folder, "diagnose", *arguments, status=2)
        expect(word in done.stderr and done.stderr.count("\n") == 1, f"{arguments}: {done.stderr!r}")
    expect(sorted(os.listdir(folder)) == before, "a refused diagnosis leaves files behind")


def main():
    bench = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        run(folder, "survey", "--short", "--quiet", "-o", "survey.score")
        run(folder, "survey", "--short", "--fixed-clock", "--quiet", "-o", "fixed.score", "--log", "fixed.csv")
        check_clocks(folder)
        check_hum_at_mains(folder)
        check_another_text(folder)
        check_bands(folder, os.path.abspath(sys.argv[2]))
        check_silence(folder)
        check_cases(folder, bench)
        check_refusals(folder)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
