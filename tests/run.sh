#!/bin/sh
# Everything that is tested, in one command: installs what is missing, builds with gcc and clang, runs every test.
#
#   sh tests/run.sh [--no-install] [--no-fuzz]
#
# On a user's machine a test whose tool is missing says SKIP with the tool's name; with CI set it fails.
set -eu
cd "$(dirname "$0")/.."
# shellcheck source=/dev/null
. frontends/needs.sh
install=yes
fuzz=30
for option in "$@"; do
    case $option in
    --no-install) install= ;;
    --no-fuzz) fuzz= ;;
    *) echo "usage: sh tests/run.sh [--no-install] [--no-fuzz]" >&2; exit 2 ;;
    esac
done
if [ -n "$install" ]; then
    # shellcheck disable=SC2086 # words are wanted
    sh frontends/packages.sh $needs_build $needs_test
fi
jobs=$(nproc)
start=$(date +%s)

step() {
    printf '\n== %s (%d s)\n' "$1" $(($(date +%s) - start))
}

# build FOLDER OPTION...: quiet unless it fails
build() {
    folder=build/$1
    shift
    mkdir -p "$folder"
    if ! { cmake -S . -B "$folder" -DBUILD_TESTING=ON -DHYOID_WERROR=ON "$@" &&
        cmake --build "$folder" --parallel "$jobs"; } >"$folder.log" 2>&1; then
        tail -n 60 "$folder.log"
        echo "The build failed; the whole log is in $folder.log"
        exit 1
    fi
    echo "clean"
}

step "gcc, warnings are errors"
build test -DCMAKE_C_COMPILER=gcc

step "clang with address and undefined-behaviour sanitizers, warnings are errors"
build sanitize -DCMAKE_C_COMPILER=clang -DCMAKE_CXX_COMPILER=clang++ -DHYOID_SANITIZE=address,undefined

step "format and static analysis"
sources=$(find core frontends reference tests docs -name '*.c' -o -name '*.h')
# shellcheck disable=SC2086
clang-format --dry-run -Werror $sources
find core frontends -name '*.c' | xargs -P "$jobs" -n 8 clang-tidy -p build/sanitize --quiet 2>build/tidy.log
echo "clean"

step "all tests (gcc)"
ctest --test-dir build/test --parallel "$jobs" --output-on-failure --timeout 900

step "all tests but the outside tools (clang, sanitizers)"
ctest --test-dir build/sanitize --parallel "$jobs" --output-on-failure --timeout 900 --label-exclude outside

step "the same bits from every compiler and CPU"
sh tests/matrix.sh --quick

if [ -n "$fuzz" ]; then
    step "fuzzers, $fuzz s each"
    sh tests/fuzz/run.sh "$fuzz"
fi
step "done: nothing failed"
