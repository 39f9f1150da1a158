#!/bin/sh
# bench.sh BENCH [OPTION...]: the bench set of `hyoid diagnose` on the short survey. Without options the whole set (some 40
# minutes of processor time, as each clock is rendered anew); HYOID names the program.
set -eu
bench=$1
shift
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
"${HYOID:-build/hyoid}" survey --short --quiet -o "$folder/survey.score"
"$bench" "$folder/survey.score" "$@"
