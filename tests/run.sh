#!/bin/sh
# Everything that is tested, in one command: installs what is missing, builds with gcc and clang, runs every test.
#
#   sh tests/run.sh [--no-install]
#
# With CI set in the environment nothing may be skipped: a missing tool is a failure.
set -eu
cd "$(dirname "$0")/.."
# shellcheck source=/dev/null
. frontends/needs.sh
if [ "${1:-}" != --no-install ]; then
    # shellcheck disable=SC2086 # words are wanted
    sh frontends/packages.sh $needs_build $needs_test
fi
jobs=$(nproc)
mkdir -p build/test build/sanitize

step() {
    printf '\n== %s\n' "$1"
}

step "gcc, warnings are errors"
cmake -S . -B build/test -DCMAKE_C_COMPILER=gcc -DHYOID_WERROR=ON >build/test/configure.log 2>&1 ||
    { cat build/test/configure.log; exit 1; }
cmake --build build/test --parallel "$jobs" >build/test/build.log 2>&1 || { tail -n 40 build/test/build.log; exit 1; }
echo "clean"

step "clang with address and undefined-behaviour sanitizers, warnings are errors"
cmake -S . -B build/sanitize -DCMAKE_C_COMPILER=clang -DHYOID_WERROR=ON -DHYOID_SANITIZE=address,undefined \
    >build/sanitize/configure.log 2>&1 || { cat build/sanitize/configure.log; exit 1; }
cmake --build build/sanitize --parallel "$jobs" >build/sanitize/build.log 2>&1 ||
    { tail -n 40 build/sanitize/build.log; exit 1; }
echo "clean"

step "all tests (gcc)"
ctest --test-dir build/test --parallel "$jobs" --output-on-failure --timeout 900

step "all tests but the outside tools (clang, sanitizers)"
ctest --test-dir build/sanitize --parallel "$jobs" --output-on-failure --timeout 900 --label-exclude outside
