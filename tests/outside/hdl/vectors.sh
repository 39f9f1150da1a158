#!/bin/sh
# `hyoid vectors`: what it writes is whole, the same each time, and in Icarus Verilog tells good designs from bad ones.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
cd "$work"
cat >tide.score <<'END'
clock 720k
level 2
hh/71 aa/146 level 0 iy/103 hold 20ms k t answer 3us hold off dx level 3 ih/80
glide 500k over 30ms
t pau/47
END
"$HYOID" vectors tide.score -o a --clocks 400000 -q
"$HYOID" vectors tide.score -o b --clocks 400000 -q
diff -r a b || fail "twice the same, and not the same"
[ -z "$(find . -name '.hyoid*')" ] || fail "something half written is left"
python3 - a <<'END'
import json, sys
folder = sys.argv[1]
m = json.load(open(folder + "/manifest.json"))
v = m["vectors"]
for f in m["files"]:
    rows = open(f"{folder}/{f['name']}").read().split("\n")[:-1]
    if "rows" in f:
        assert len(rows) == f["rows"] and all(len(r) == f["hex_digits"] for r in rows), f
assert v["clocks"] == 400000 and v["mask"]["request_compared"] == 400001, v
first = m["part"]["filter_clocks"] + m["part"]["output_clocks"]
assert v["levels"]["first_in_clock"] == first
assert v["levels"]["count"] == (400000 - first) // m["part"]["filter_clocks"] + 1, v
edges = sum(int(r, 16) >> 15 for r in open(folder + "/stimulus.hex"))
assert edges == v["strobes"] > 5, (edges, v)
END
vcd2fst a/pins.vcd pins.fst || fail "pins.vcd is not readable"

# the whole of an input, without --clocks, and a moving clock; played back by the verb that reads captures
"$HYOID" render a/pins.vcd -q -o pins.wav

# bench DESIGN ARGUMENTS...: the vectors' own bench in folder $vectors
bench() {
    design=$1
    shift
    iverilog -g2005 "-I$vectors" "$@" -o bench.vvp "$vectors/testbench.v" "$design"
    vvp -n bench.vvp "+vectors=$vectors"
}
vectors=a
cp a/durations.hex a/levels.hex .
bench "$example/sequencer.v" -DHYOID_DUT=sequencer
sed "s/n + 16'd1 == duration/n + 16'd2 == duration/" "$example/sequencer.v" >early.v
must_fail 1 bench early.v -DHYOID_DUT=sequencer
said '^MISMATCH in clock [0-9]*: request: expected 0, got 1$'
clock=$(sed -n 's/^MISMATCH in clock \([0-9]*\):.*/\1/p' said)

# don't care: the clocks in which the early timer differs first, and then all that an allowance of a filter cycle covers
"$HYOID" vectors tide.score -o c --clocks "$((clock + 50))" -q --ignore "$clock..$((clock + 100))"
vectors=c
bench early.v -DHYOID_DUT=sequencer
"$HYOID" vectors tide.score -o d --clocks 400000 -q --slack 36
vectors=d
bench early.v -DHYOID_DUT=sequencer
sed "s/n + 16'd1 == duration/n + 16'd3 == duration/" "$example/sequencer.v" >earlier.v
must_fail 1 bench earlier.v -DHYOID_DUT=sequencer
said '^MISMATCH in clock [0-9]*: request: expected 0, got 1$'

# audio, exact and with a tolerance
vectors=a
cat "$HYOID_SOURCE/tests/outside/hdl/player.v" "$example/sequencer.v" >player.v
bench player.v -DHYOID_DUT=player -DHYOID_AUDIO
must_fail 1 bench player.v -DHYOID_DUT=player -DHYOID_AUDIO -DWRONG_LEVEL=3000 -DWRONG_BY=5
said '^MISMATCH in clock [0-9]*: audio: expected -*[0-9]*, got -*[0-9]*$'
vvp -n bench.vvp +vectors=a +tolerance=5
must_fail 1 vvp -n bench.vvp +vectors=a +tolerance=4

# a bench that can't find its vectors says so
must_fail 1 vvp -n bench.vvp +vectors=nowhere
said 'the vectors are not in nowhere'

# the page names every option
if command -v mandoc >/dev/null; then
    page=$HYOID_SOURCE/docs/man/hyoid-vectors.1
    mandoc -Tlint -Wwarning "$page" || fail "the page is not clean"
    mandoc -Tascii "$page" | col -b >plain
    for option in $("$HYOID" vectors --help | grep -o -e '--[a-z-]*' | sort -u); do
        [ "$option" = --help ] || grep -q -e "$option" plain || fail "hyoid-vectors(1) lacks $option"
    done
fi

# refused in one line, nothing written
refused() {
    must_fail 2 "$HYOID" vectors "$@"
    [ "$(wc -l <said)" = 1 ] || { cat said; fail "not one line: $*"; }
}
refused tide.score -o a
said 'a exists already'
refused tide.score
refused tide.score -o none/x
refused tide.score -o x --ignore 5..3
refused tide.score -o x --ignore 1,
refused tide.score -o x --clocks 0
refused tide.score -o x --clocks 40000000
refused tide.score -o x --bits 8 --fraction 8
refused tide.score -o x --slack -1
refused tide.score -o x --part none
refused --part-only tide.score -o x
refused none.score -o x
echo 'rest 60s aa' | { must_fail 2 "$HYOID" vectors - -o x; }
said 'takes the first N'
[ ! -e x ] || fail "x was written"
if [ -e /dev/full ] && [ "$(id -u)" = 0 ] && mkdir small && mount -t tmpfs -o size=64k none small 2>/dev/null; then
    must_fail 2 "$HYOID" vectors tide.score -o small/x -q
    left=$(ls -A small)
    umount small
    [ -z "$left" ] || fail "left on a full disk: $left"
fi
echo "vectors: good designs pass, bad ones are named"
