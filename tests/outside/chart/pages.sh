#!/bin/sh
# The man pages of chart, sweep and part are clean, name every option that the program has and every column that it
# writes. (That the examples of --help work is tried by cli.py.)
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
    echo "FAIL: $*"
    exit 1
}
for verb in chart sweep part; do
    page=$HYOID_SOURCE/docs/man/hyoid-$verb.1
    mandoc -Tlint -Wwarning "$page" || fail "$page is not clean"
    mandoc -Tascii "$page" | col -b >"$work/page"
    for option in $("$HYOID" "$verb" --help | grep -o -e '--[a-z][a-z-]*' | sort -u); do
        grep -q -e "$option" "$work/page" || [ "$option" = --help ] || fail "hyoid-$verb(1) lacks $option"
    done
done
# the columns that the pages name are those that are written
for column in $("$HYOID" chart --csv | head -1 | tr ',' ' '); do
    mandoc -Tascii "$HYOID_SOURCE/docs/man/hyoid-chart.1" | col -b | grep -q -w "$column" || fail "hyoid-chart(1) lacks $column"
done
echo 'hh eh l ow' >"$work/a.score"
for column in $("$HYOID" sweep "$work/a.score" --clock 700k..800k --steps 1 --csv - | head -1 | tr ',' ' '); do
    mandoc -Tascii "$HYOID_SOURCE/docs/man/hyoid-sweep.1" | col -b | grep -q -w "$column" || fail "hyoid-sweep(1) lacks $column"
done
echo "the pages are well"
