#!/bin/sh
# Eight chips in four threads over one part, watched by the thread sanitizer; every thread must hear what one thread alone does.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need gcc
cd "$work"
gcc -std=c11 -O1 -g -fsanitize=thread -ffp-contract=off -I"$HYOID_SOURCE/core/include" "$library/threads.c" \
    "$HYOID_SOURCE"/core/*.c -o threads -pthread
# the sanitizer's memory layout does not bear strong address randomisation
run=
if setarch -R true 2>/dev/null; then
    run="setarch -R"
fi
TSAN_OPTIONS=halt_on_error=1 $run ./threads || fail "threads disturb each other"
