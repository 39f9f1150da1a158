#!/bin/sh
# Lockstep in Verilator, from an installed tree, as the tutorial does it: lint, ten million clocks, and a design that fails.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
cd "$work"
DESTDIR=$work/stage cmake --install "$HYOID_BUILD" --prefix /opt/hyoid --component hyoid >log 2>&1 || { cat log; exit 1; }
hdl=$work/stage/opt/hyoid/share/hyoid/hdl
cp -r "$hdl/example" mine
chmod -R u+w mine
# CCACHE and the like may be set by the user; one job
run() {
    make -C mine --no-print-directory "HDL=$hdl" "HYOID=$work/stage/opt/hyoid/bin/hyoid" "$@"
}
run lint || fail "lint"
run verilated/Vhyoid_bench CLOCKS=1 >log 2>&1 || { cat log; fail "it does not build"; }
cd mine
start=$(date +%s%N)
./verilated/Vhyoid_bench +clocks=10000000 +seed=1 | tee log
end=$(date +%s%N)
grep -q '^PASS: 10000000 clocks' log || fail "ten million clocks"
echo "measured: $((10000000 * 1000 / ((end - start) / 1000 + 1))) thousand clocks a second, real time is 720 thousand"
cd ..
sed -i "s/n + 16'd1 == duration/n == duration/" mine/sequencer.v
must_fail 2 run verilator CLOCKS=3000000
said 'MISMATCH in clock [0-9]*: request: expected 1, got 0'
said '(1 filter cycle) too late'
[ -s mine/hyoid_lockstep.vcd ] || fail "no dump"
echo "lockstep in Verilator"
