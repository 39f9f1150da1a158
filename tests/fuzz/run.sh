#!/bin/sh
# Fuzzes every target from its committed corpus, two at a time, and says what came of it. Exit status 1: something was found.
#
#   sh tests/fuzz/run.sh [SECONDS] [TARGET...]        60 seconds each; score log part snapshot api wiring, and what else there is
#
# HYOID_FUZZ_BUILD names the build folder (build/fuzz), HYOID_FUZZ_OUT where logs, reproducers and the grown corpora go.
set -eu
cd "$(dirname "$0")/../.."
build=${HYOID_FUZZ_BUILD:-build/fuzz}

# One target; called by xargs below.
if [ "${1:-}" = --one ]; then
    seconds=$2 out=$3 target=$4
    mkdir -p "$out/corpus/$target"
    log=$out/$target.log
    status=0
    "$build/fuzz/fuzz_$target" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=1024 -print_final_stats=1 \
        -artifact_prefix="$out/$target-" "$out/corpus/$target" "tests/fuzz/corpus/$target" >"$log" 2>&1 || status=$?
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
    edges=$(sed -n 's/.* cov: \([0-9]*\) .*/\1/p' "$log" | tail -n 1)
    found=$(sed -n 's/.*Test unit written to //p' "$log")
    if [ "$status" = 0 ] && [ -n "$runs" ] && [ -z "$found" ]; then
        echo "$target: $runs runs, $edges edges covered, nothing found"
        exit 0
    fi
    echo "$target: ${runs:-?} runs, ${edges:-?} edges covered, FOUND: ${found:-no reproducer}, see $log"
    exit 1
fi

# shellcheck source=/dev/null
. frontends/needs.sh
# shellcheck disable=SC2086,SC2154 # words are wanted; needs.sh has them
sh frontends/packages.sh $needs_build clang libclang-rt-14-dev libcriterion-dev
seconds=${1:-60}
[ $# = 0 ] || shift
if [ $# = 0 ]; then
    set -- score log part snapshot api wiring
    for more in vcd session table; do
        [ ! -f "tests/fuzz/fuzz_$more.c" ] || set -- "$@" "$more"
    done
fi
out=${HYOID_FUZZ_OUT:-$(mktemp -d "${TMPDIR:-/tmp}/hyoid-fuzz.XXXXXX")}
mkdir -p "$build" "$out"
# float-cast-overflow: clang 14 has it no longer in `undefined`
cmake -S . -B "$build" -DCMAKE_C_COMPILER=clang -DHYOID_FUZZ=ON -DHYOID_WERROR=ON \
    -DHYOID_SANITIZE=fuzzer-no-link,address,undefined,float-cast-overflow >"$out/build.log" 2>&1 ||
    { cat "$out/build.log"; exit 2; }
cmake --build "$build" --parallel 2 --target fuzz >>"$out/build.log" 2>&1 || { tail -n 40 "$out/build.log"; exit 2; }
printf '%s\n' "$@" | xargs -P 2 -I TARGET sh tests/fuzz/run.sh --one "$seconds" "$out" TARGET || exit 1
