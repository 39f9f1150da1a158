#!/bin/sh
# The ABI against the last one that was recorded, and a control: with one member more in a struct, the difference is seen.
#
#   abi.sh            compares; any difference fails, additions too
#   abi.sh --record   records, when a difference is meant (docs/library/main.md says what it costs)
#
# HYOID_SHARED names the library, built by gcc with -g; without it one is built.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need abidw abidiff gcc

build() { # core library
    mkdir "$work/objects"
    for file in "$1"/*.c; do
        gcc -std=c11 -O1 -g -fPIC -ffp-contract=off -I"$1/include" -c "$file" -o "$work/objects/$(basename "$file" .c).o"
    done
    gcc -shared "$work"/objects/*.o -Wl,-soname,libhyoid.so.0 -Wl,--version-script="$1/hyoid.map" -o "$2"
    rm -r "$work/objects"
}

if [ -z "${HYOID_SHARED:-}" ]; then
    HYOID_SHARED=$work/libhyoid.so
    build "$HYOID_SOURCE/core" "$HYOID_SHARED"
fi
recorded=$library/abi/hyoid.abi
if [ "${1:-}" = --record ]; then
    abidw --no-show-locs --no-corpus-path --no-comp-dir-path --out-file "$work/abi" "$HYOID_SHARED"
    sed "s,$HYOID_SOURCE/,,g" "$work/abi" >"$recorded"
    echo "recorded $recorded"
    exit 0
fi
[ -f "$recorded" ] || fail "no ABI is recorded: sh tests/library/abi.sh --record"
if ! abidiff --harmless "$recorded" "$HYOID_SHARED"; then
    fail "the ABI changed; if that is meant: sh tests/library/abi.sh --record"
fi

cp -r "$HYOID_SOURCE/core" "$work/core"
sed -i 's/^    int64_t last_ps; /    int64_t last_ps, control; /' "$work/core/include/hyoid/hyoid.h"
build "$work/core" "$work/control.so"
if abidiff --harmless "$recorded" "$work/control.so" >/dev/null; then
    fail "the control went unseen"
fi
echo "the ABI is the recorded one"
