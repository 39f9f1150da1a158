#!/bin/sh
# The Python example gives the samples of the C one.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need python3
# shellcheck disable=SC2154 # CMake names the program
"$EXAMPLE_hello" "$work/c.wav"
HYOID_LIBRARY=$HYOID_SHARED python3 -B "$HYOID_SOURCE/docs/library/examples/hello.py" "$work/python.wav"
python3 -B "$library/same_sound.py" "$work/c.wav" "$work/python.wav" || fail "Python plays something else"
