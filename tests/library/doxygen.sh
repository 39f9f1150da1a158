#!/bin/sh
# The API reference; a warning is an error, and an undocumented name is a warning. With a folder it stays there.
#
#   doxygen.sh [FOLDER]
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need doxygen
cd "$HYOID_SOURCE/docs/library"
HYOID_API=${1:-$work} HYOID_API_VERSION=$("$HYOID" --version | sed 's/hyoid \([0-9.]*\).*/\1/') \
    doxygen Doxyfile >"$work/log" 2>&1 || { cat "$work/log"; fail "the reference has gaps"; }
# shellcheck disable=SC2013 # words are wanted
for name in $(sed -n 's/^ *\(hyoid_[a-z0-9_]*\);$/\1/p' "$HYOID_SOURCE/core/hyoid.map"); do
    grep -q -r "$name" "${1:-$work}/html" || fail "$name is not in the reference"
done
echo "the reference is complete"
