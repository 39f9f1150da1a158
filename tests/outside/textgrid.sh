#!/bin/sh
# Labels of a demo score in a phonetics program's eyes: as many intervals as phonemes, as many points as marks.
set -eu
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
"$HYOID" render "$HYOID_SOURCE/docs/scores/storm.score" --labels "$folder/storm.TextGrid" --log "$folder/storm.csv" --quiet
HOME=$folder praat --run "$HYOID_SOURCE/tests/outside/textgrid.praat" "$folder/storm.TextGrid" >"$folder/seen"
cat "$folder/seen"
phonemes=$(grep -c ',phoneme,' "$folder/storm.csv")
marks=$(grep -c ',mark,' "$folder/storm.csv")
# the first phoneme's latch is a clock after time 0: an empty interval stands before it
grep -q "^phoneme intervals $((phonemes + 1))\$" "$folder/seen" || { echo "FAIL: $phonemes phonemes were strobed"; exit 1; }
grep -q "^mark points $marks\$" "$folder/seen" || { echo "FAIL: $marks marks were set"; exit 1; }
