#!/bin/sh
# Every demo score's pins, read by programs that we did not write: the same changes must come back.
set -eu
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
for score in "$HYOID_SOURCE"/docs/scores/*.score; do
    "$HYOID" render "$score" --pins "$folder/pins.vcd" --quiet
    python3 -B "$HYOID_SOURCE/tests/outside/vcd_roundtrip.py" "$folder/pins.vcd"
done
# and the check can fail: one edge of strobe moved by a nanosecond, in the file that is compared
if python3 -B "$HYOID_SOURCE/tests/outside/vcd_roundtrip.py" --control "$folder/pins.vcd" >/dev/null; then
    echo "FAIL: the control was not noticed"
    exit 1
fi
