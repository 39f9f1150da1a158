#!/bin/sh
# The man pages are clean, and name every verb, option, status and symbol class that they should.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need mandoc
cd "$HYOID_SOURCE/docs/man"
for page in *.[0-9]; do
    mandoc -Tlint -Wwarning "$page" || fail "$page is not clean"
done
for verb in $("$HYOID" --help | sed -n 's/^  \([a-z]*\) .*/\1/p'); do
    grep -q -w "$verb" hyoid.1 || fail "hyoid(1) lacks $verb"
done
plain() {
    mandoc -Tascii "$1" | col -b
}
plain hyoid.1 >"$work/hyoid.1"
for option in $("$HYOID" render --help | grep -o -e '--[a-z-]*' | sort -u); do
    grep -q -e "$option" "$work/hyoid.1" || fail "hyoid(1) lacks render $option"
done
plain hyoid.3 >"$work/hyoid.3"
# shellcheck disable=SC2013 # words are wanted
for status in $(grep -o -w 'HYOID_E_[A-Z]*' "$HYOID_SOURCE/core/include/hyoid/hyoid.h" | sort -u); do
    grep -q "$status" "$work/hyoid.3" || fail "hyoid(3) lacks $status"
done
plain hyoid-score.5 >"$work/score"
for word in clock glide level hold answer rest repeat babble mark; do
    grep -q -w "$word" "$work/score" || fail "hyoid-score(5) lacks $word"
done
plain hyoid-part.5 >"$work/part"
for quantity in $(cut -d, -f3 "$HYOID_SOURCE/reference/parts/default/phonemes.csv" | tail -n +2 | sort -u); do
    grep -q -w "$quantity" "$work/part" || fail "hyoid-part(5) lacks $quantity"
done
# the score that the page shows is one
sed -n '/^\.Bd -literal/,/^\.Ed/p' hyoid-score.5 | grep -v '^\.' | "$HYOID" render - -q -o "$work/a.wav"
printf '%s\n' "$(sed -n '/^\.Bd -literal/,/^\.Ed/p' hyoid-log.5 | grep -v '^\.')" >"$work/a.csv"
"$HYOID" render "$work/a.csv" -q -o "$work/b.wav"
echo "man pages are clean"
