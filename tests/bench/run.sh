#!/bin/sh
# Measures speed, side by side; installs what is missing.
#
#   sh tests/bench/run.sh [JSON FILE]        the file by default: build/bench/bench.json
#
# HYOID_BENCH_BUILD names the build folder (build/bench).
set -eu
cd "$(dirname "$0")/../.."
build=${HYOID_BENCH_BUILD:-build/bench}
# shellcheck source=/dev/null
. frontends/needs.sh
# shellcheck disable=SC2086,SC2154 # words are wanted; needs.sh has them
sh frontends/packages.sh $needs_build g++ libcriterion-dev libsidplayfp-dev espeak-ng flite
mkdir -p "$build"
cmake -S . -B "$build" -DHYOID_BENCH=ON >"$build/build.log" 2>&1 || { cat "$build/build.log"; exit 2; }
cmake --build "$build" --parallel 2 --target bench >>"$build/build.log" 2>&1 || { tail -n 40 "$build/build.log"; exit 2; }
"$build/bench" "${1:-$build/bench.json}"
