#!/bin/sh
# The example programs run, and what they play is what `hyoid render` plays, sample for sample.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need python3 c++
# shellcheck disable=SC2154 # CMake names the programs
: "$EXAMPLE_hello" "$EXAMPLE_pins" "$EXAMPLE_events" "$EXAMPLE_board"
cd "$work"

same() {
    python3 -B "$library/same_sound.py" "$1" "$2" || fail "$1 and $2 differ"
}

"$EXAMPLE_pins" pins.wav
echo 'level 1  0x1b 0x02 0x18 0x35 0x3c' | "$HYOID" render - -q --chip-rate --bits 32 -o pins_render.wav
same pins.wav pins_render.wav

"$EXAMPLE_board" board.wav
"$EXAMPLE_board" --score >board.score
"$HYOID" render board.score -q --bits 32 -o board_render.wav
same board.wav board_render.wav

"$EXAMPLE_events" events.wav | tee events.txt
grep -q '^rewound by 30 frames: the same samples$' events.txt || fail "events did not rewind"

"$EXAMPLE_hello" hello.wav
# shellcheck disable=SC2086 # several flags
c++ -std=c++17 -Wall -Wextra -Wconversion -Wshadow -Werror -I"$HYOID_SOURCE/core/include" -c \
    "$HYOID_SOURCE/docs/library/examples/raii.cpp" -o raii.o
for c in "$HYOID_SOURCE"/core/*.c; do
    cc -std=c11 -O2 -ffp-contract=off -I"$HYOID_SOURCE/core/include" -c "$c" -o "core_$(basename "$c" .c).o"
done
c++ raii.o core_*.o -o raii
./raii raii.wav | tee raii.txt
grep -q '^refused: ' raii.txt || fail "the C++ header threw nothing for a write in the past"
same hello.wav raii.wav
