#!/bin/sh
# Installs to a prefix, through DESTDIR, moves the tree, and builds a program against it by pkg-config and by CMake.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need cmake pkg-config cc
cd "$work"
# The build folder as it is; the prefix is one that it was not configured for.
for component in libhyoid0 libhyoid-dev hyoid; do
    DESTDIR=$work/stage cmake --install "$HYOID_BUILD" --prefix /opt/hyoid --component $component >>log || { cat log; exit 1; }
done
mv stage/opt/hyoid moved
[ ! -e /opt/hyoid ] || fail "DESTDIR was not heeded"
moved=$work/moved
lib=$(dirname "$(find "$moved" -name hyoid.pc)")
lib=$(dirname "$lib")
cp "$HYOID_SOURCE"/docs/library/examples/hello.c "$HYOID_SOURCE"/docs/library/examples/wav.h .

export PKG_CONFIG_PATH="$lib/pkgconfig"
# shellcheck disable=SC2046 # words are wanted
cc hello.c $(pkg-config --cflags --libs hyoid) -o by_pkgconfig
LD_LIBRARY_PATH=$lib ./by_pkgconfig a.wav
readelf -d by_pkgconfig | grep -q 'libhyoid.so.0' || fail "pkg-config did not lead to the shared library"
[ "$(pkg-config --modversion hyoid)" = "$("$HYOID" --version | sed 's/hyoid \([0-9.]*\).*/\1/')" ] || fail "version in hyoid.pc"

cat >CMakeLists.txt <<'END'
cmake_minimum_required(VERSION 3.25)
project(consumer C)
find_package(hyoid 0.1 REQUIRED)
add_executable(shared hello.c)
target_link_libraries(shared hyoid::hyoid)
add_executable(static hello.c)
target_link_libraries(static hyoid::static)
END
cmake -S . -B build -Dhyoid_DIR="$lib/cmake/hyoid" >log 2>&1 || { cat log; exit 1; }
cmake --build build >log 2>&1 || { cat log; exit 1; }
build/shared b.wav
build/static c.wav
cmp a.wav b.wav
cmp a.wav c.wav
sed -i 's/hyoid 0.1 /hyoid 99.0 /' CMakeLists.txt
if cmake -S . -B other -Dhyoid_DIR="$lib/cmake/hyoid" >log 2>&1; then
    fail "version 99 was found"
fi

"$moved/bin/hyoid" --version
for page in man1/hyoid.1 man3/hyoid.3 man5/hyoid-score.5 man5/hyoid-part.5 man5/hyoid-log.5; do
    [ -f "$moved/share/man/$page" ] || fail "$page is not installed"
done
if grep -r -l -e "$HYOID_SOURCE" -e /opt/hyoid "$lib/pkgconfig" "$lib/cmake"; then
    fail "a path is baked in"
fi
echo "installed, moved, found both ways"
