#!/bin/sh
# One command from a fresh Debian 12 to sound: installs what is missing, builds, renders three scores of a talking
# tide clock in a small harbour museum, and says where the WAVs and the pictures are.
#
#   sh frontends/demo.sh [OUTPUT_FOLDER]        (default: out)
set -eu
cd "$(dirname "$0")/.."
# shellcheck source=/dev/null
. frontends/needs.sh
# shellcheck disable=SC2086 # words are wanted
sh frontends/packages.sh $needs_build

out=${1:-out}
case $out in
-*) echo "usage: sh frontends/demo.sh [OUTPUT_FOLDER]" >&2; exit 2 ;;
esac
log=build/demo-build.log
mkdir -p build "$out"
echo "Building..."
if ! { cmake -S . -B build -DBUILD_TESTING=OFF && cmake --build build --target hyoid_program --parallel "$(nproc)"; } >"$log" 2>&1; then
    tail -n 30 "$log" >&2
    echo "The build failed; the whole log is in $log" >&2
    exit 1
fi

say() {
    printf '%-7s ' "$1"
    build/hyoid render "docs/scores/$1.score" -o "$out/$1.wav" --picture "$out/$1.png" --pins "$out/$1.vcd" \
        --labels "$out/$1.TextGrid" --log "$out/$1.csv" 2>&1
}
say hour
say storm
say mutter
echo
echo "Listen:  $out/hour.wav  $out/storm.wav  $out/mutter.wav"
echo "Look:    $out/hour.png  $out/storm.png  $out/mutter.png"
echo "Pins, labels and write logs stand beside them (.vcd .TextGrid .csv). Your own: build/hyoid render --help"
echo "Caution: sweeps and odd clocks can be loud and shrill; start quietly, above all with headphones."
