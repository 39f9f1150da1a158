#!/bin/sh
# The listening page can be drawn anew, into any folder: whole, small enough for a repository, the same twice.
set -eu
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
    echo "FAIL: $*"
    exit 1
}
if ! "$HYOID" spell hello >/dev/null 2>"$work/why"; then
    cat "$work/why"
    [ -z "${CI:-}" ] || fail "hyoid spell does not work"
    echo "SKIP: flite"
    exit 77
fi
script=$HYOID_SOURCE/docs/listening.sh
export HYOID
sh "$script" "$work/a" "$work/sounds" || fail "listening.sh"
sh "$script" "$work/b" >/dev/null || fail "listening.sh, again"
diff -r "$work/a" "$work/b" || fail "not the same twice"
for name in hour storm mutter words; do
    [ "$(head -c 4 "$work/a/pictures/$name.png" | tail -c 3)" = PNG ] || fail "$name.png is no PNG"
    [ -s "$work/sounds/$name.wav" ] || fail "$name.wav is missing"
done
# what the page shows is there, here and in the repository
for page in "$work/a/listening.md" "$HYOID_SOURCE/docs/listening.md"; do
    links=$(grep -o '](pictures/[a-z]*\.png)' "$page" | tr -d ']()')
    [ "$(echo "$links" | wc -l)" -eq 4 ] || fail "$page shows not four pictures"
    for link in $links; do
        [ -s "$(dirname "$page")/$link" ] || fail "$page: $link is missing"
    done
done
for link in $(grep -o '](scores/[a-z]*\.score)' "$HYOID_SOURCE/docs/listening.md" | tr -d ']()'); do
    [ -s "$HYOID_SOURCE/docs/$link" ] || fail "docs/listening.md: $link is missing"
done
# each word of the list stands in the table
while read -r word; do
    grep -q "^    $word  *[a-z]" "$work/a/listening.md" || fail "$word is not in the table"
done <"$HYOID_SOURCE/docs/words.txt"
for folder in "$work/a/pictures" "$HYOID_SOURCE/docs/pictures"; do
    size=$(cat "$folder/hour.png" "$folder/storm.png" "$folder/mutter.png" "$folder/words.png" | wc -c)
    [ "$size" -lt 1500000 ] || fail "$folder: $size bytes"
done
# without a program nothing is written
if HYOID=$work/none sh "$script" "$work/c" 2>"$work/why"; then
    fail "no program, but a page"
fi
grep -q "build it first" "$work/why" || fail "what to do is not said"
[ ! -e "$work/c" ] || fail "something was written"
# a part folder is honoured
"$HYOID" part export "$work/part" >/dev/null
sed -i 's/^nominal_hz,[0-9]*,/nominal_hz,360000,/' "$work/part/constants.csv"
PART=$work/part sh "$script" "$work/d" >/dev/null || fail "listening.sh with a part"
if cmp -s "$work/a/pictures/words.png" "$work/d/pictures/words.png"; then
    fail "PART changes nothing"
fi
echo "the listening page is well"
