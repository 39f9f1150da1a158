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
(
    cd mine
    verilator --lint-only -Wall -Ipart "-I$hdl" --top-module hyoid_bench "$hdl/hyoid_bench.sv" dut.v sequencer.v
) || fail "the kit is not clean for those who lint everything"
run verilated/Vhyoid_bench CLOCKS=1 >log 2>&1 || { cat log; fail "it does not build"; }
cd mine
# processor time, so that other work on the machine does not count
(
    ./verilated/Vhyoid_bench +clocks=10000000 +seed=1
    times >spent
) | tee log
grep -q '^PASS: 10000000 clocks' log || fail "ten million clocks"
awk 'NR == 2 { split($1, t, /[ms]/); s = t[1] * 60 + t[2]; if (s > 0)
    printf "measured: %.1f million clocks a second, %.1f times real time at 720 kHz\n", 10 / s, 10 / s / 0.72 }' spent
cd ..
sed -i "s/n + 16'd1 == duration/n == duration/" mine/sequencer.v
must_fail 2 run verilator CLOCKS=3000000
said 'MISMATCH in clock [0-9]*: request: expected 1, got 0'
said '(1 filter cycle) too late'
[ -s mine/hyoid_lockstep.vcd ] || fail "no dump"
echo "lockstep in Verilator"
