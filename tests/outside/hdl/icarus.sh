#!/bin/sh
# Lockstep in Icarus Verilog: the example passes, in several random lives; a bench of one's own with the model beside it;
# what is written about a difference.
# shellcheck disable=SC2086 # words are wanted
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
cd "$work"
"$HYOID" vectors --part-only -o part
cp part/durations.hex .
vvp_model="vvp -n -M $HYOID_BUILD/hdl -m hyoid"
iverilog -g2012 -Ipart "-I$verilog" -s hyoid_tb -Phyoid_tb.CHECK_PHONEME=1 -Phyoid_tb.CHECK_SLOT=1 -Phyoid_tb.CHECK_LEVEL=1 \
    -o bench.vvp "$verilog/hyoid_tb.v" "$verilog/hyoid_bench.sv" "$example/dut.v" "$example/sequencer.v"
for seed in 1 2 3; do
    $vvp_model bench.vvp +clocks=1000000 "+seed=$seed" | tee log
    grep -q '^PASS: 1000000 clocks' log || fail "seed $seed"
done
$vvp_model bench.vvp +clocks=200000 +seed=9 >one
$vvp_model bench.vvp +clocks=200000 +seed=9 >two
cmp one two || fail "one seed, two lives"

# another part: no number of the silicon stands in the design
"$HYOID" part export other >/dev/null
sed -i 's/^request_delay,[0-9]*/request_delay,7/; s/^filter_clocks,[0-9]*/filter_clocks,20/' other/constants.csv
mkdir moved
"$HYOID" vectors --part-only --part other -o moved/part
cp moved/part/durations.hex moved
(
    cd moved
    iverilog -g2012 -Ipart "-I$verilog" -s hyoid_tb -Phyoid_tb.CHECK_PHONEME=1 -Phyoid_tb.CHECK_SLOT=1 '-Phyoid_tb.PART="../other"' \
        -o bench.vvp "$verilog/hyoid_tb.v" "$verilog/hyoid_bench.sv" "$example/dut.v" "$example/sequencer.v"
    $vvp_model bench.vvp +clocks=500000 | tee log
    grep -q '^PASS: 500000 clocks' log || fail "another part"
)

# beside a design that the vectors' bench drives, audio included
echo 'clock 720k hh/71 aa/146 t' >a.score
"$HYOID" vectors a.score -o v --clocks 100000 -q
cp v/levels.hex .
cat "$HYOID_SOURCE/tests/outside/hdl/player.v" "$example/sequencer.v" >player.v
beside() {
    iverilog -g2012 -Iv "-I$verilog" -DHYOID_DUT=player -DHYOID_AUDIO -s hyoid_testbench -o beside.vvp "$@" v/testbench.v player.v \
        "$verilog/hyoid_lockstep.sv"
    $vvp_model beside.vvp +vectors=v +tolerance=100
}
beside -DBESIDE=0 | tee log
grep -q 'PASS: 100000 clocks as expected' log || fail "the vectors' bench"
grep -q 'design and model did the same' log || fail "the model beside it"
beside -DBESIDE=7 -DWRONG_LEVEL=2000 -DWRONG_BY=7 >log
must_fail 1 beside -DBESIDE=6 -DWRONG_LEVEL=2000 -DWRONG_BY=7
said '^MISMATCH in clock [0-9]*: audio: expected -*[0-9]*, got -*[0-9]*$'
said 'this is level number 1999, since clock'
said '+7 steps of 2^-20 away; the tolerance is 6'

# two flip-flops ahead of everything: late for the vectors, right for a model that stands behind them
"$HYOID" vectors a.score -o late --clocks 100000 -q
iverilog -g2012 -Ilate "-I$verilog" -DHYOID_DUT=synced -s hyoid_testbench -o synced.vvp late/testbench.v \
    "$HYOID_SOURCE/tests/outside/hdl/synced.v" "$example/sequencer.v" "$verilog/hyoid_lockstep.sv"
must_fail 1 $vvp_model synced.vvp +vectors=late
said '^MISMATCH in clock [0-9]*: request'
"$HYOID" vectors a.score -o masked --clocks 100000 -q --ignore 0..100000
$vvp_model synced.vvp +vectors=masked >log
grep -q 'design and model did the same' log || { cat log; fail "the model behind two flip-flops"; }

# the dump shows both sides
[ -s hyoid_lockstep.vcd ] || fail "no dump"
vcd2fst hyoid_lockstep.vcd dump.fst || fail "the dump is not readable"
for side in pins design model; do
    grep -q "scope module $side" hyoid_lockstep.vcd || fail "the dump lacks $side"
done

# bad parameters, and a part that is not there
iverilog -g2012 -Ipart "-I$verilog" -s hyoid_tb '-Phyoid_tb.PART="none"' -o none.vvp "$verilog/hyoid_tb.v" "$verilog/hyoid_bench.sv" \
    "$example/dut.v" "$example/sequencer.v"
must_fail 1 $vvp_model none.vvp
said 'hyoid lockstep: none/phonemes.csv'
echo "lockstep in Icarus Verilog"
