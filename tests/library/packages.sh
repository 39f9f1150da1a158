#!/bin/sh
# The Debian packages, in an empty root: what they hold, what they depend on, that a program builds and runs with them, and
# that removing them leaves nothing.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need cpack dpkg dpkg-deb dpkg-shlibdeps pkg-config cc
cd "$work"
cpack --config "$HYOID_BUILD/CPackConfig.cmake" -B "$work/out" >log 2>&1 || { cat log; exit 1; }
version=$("$HYOID" --version | sed 's/hyoid \([0-9.]*\).*/\1/')
for name in libhyoid0 libhyoid-dev hyoid; do
    deb=$(echo out/"${name}_${version}"_*.deb)
    [ -f "$deb" ] || fail "no package $name: $(ls out)"
    cp "$deb" "$name.deb"
done
field() {
    dpkg-deb -f "$1.deb" "$2"
}
field libhyoid-dev Depends | grep -q -F "libhyoid0 (= $version)" || fail "libhyoid-dev does not depend on its library"
field libhyoid0 Depends | grep -q 'libc6' || fail "libhyoid0 depends on no libc6: $(field libhyoid0 Depends)"
field hyoid Depends | grep -q 'libsndfile1' || fail "hyoid depends on no libsndfile1: $(field hyoid Depends)"
dpkg-deb --ctrl-tarfile libhyoid0.deb | tar -xO ./shlibs | grep -q '^libhyoid 0 libhyoid0' || fail "no shlibs"

root=$work/root
mkdir "$root"
if [ "$(id -u)" = 0 ]; then # dpkg itself, with a database of its own
    mkdir -p "$root/var/lib/dpkg/info" "$root/var/lib/dpkg/updates"
    : >"$root/var/lib/dpkg/status"
    dpkg --root="$root" --force-depends --log=/dev/null -i libhyoid0.deb libhyoid-dev.deb hyoid.deb >log 2>&1 ||
        { cat log; fail "dpkg could not install"; }
else
    for name in libhyoid0 libhyoid-dev hyoid; do
        dpkg-deb -x $name.deb "$root"
    done
fi
lib=$(dirname "$(find "$root/usr" -name 'libhyoid.so.0')")
cp "$HYOID_SOURCE"/docs/library/examples/hello.c "$HYOID_SOURCE"/docs/library/examples/wav.h .
export PKG_CONFIG_PATH="$lib/pkgconfig"
# shellcheck disable=SC2046
cc hello.c $(pkg-config --cflags --libs hyoid) -o hello
LD_LIBRARY_PATH=$lib ./hello a.wav
echo 'hh aa' | "$root/usr/bin/hyoid" render - -q -o b.wav
for name in libhyoid0 libhyoid-dev hyoid; do
    [ -s "$root/usr/share/doc/$name/copyright" ] || fail "$name has no copyright file"
done
if [ "$(id -u)" = 0 ]; then
    dpkg --root="$root" --log=/dev/null --purge hyoid libhyoid-dev libhyoid0 >log 2>&1 || { cat log; fail "dpkg could not purge"; }
    left=$(find "$root/usr" ! -type d 2>/dev/null || true)
    [ -z "$left" ] || fail "left behind: $left"
fi
echo "three packages, installed in an empty root, used and removed"
