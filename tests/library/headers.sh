#!/bin/sh
# The headers compile as C11, C++17 and freestanding; the core compiles when its folder is copied, with a bare command.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need gcc g++ clang clang++
warnings='-Wall -Wextra -Wpedantic -Wconversion -Wshadow -Werror'
include=$HYOID_SOURCE/core/include

printf '#include <hyoid/hyoid.h>\nint use(hyoid_chip *c);\nint use(hyoid_chip *c) { return hyoid_chip_request(c); }\n' >"$work/h.c"
printf '#include <hyoid/hyoid.hpp>\nbool use(hyoid::chip &c);\nbool use(hyoid::chip &c) { return c.request(); }\n' >"$work/hpp.cpp"
for c in gcc clang; do
    # shellcheck disable=SC2086 # several flags
    {
        $c -std=c11 $warnings -I"$include" -c "$work/h.c" -o "$work/h.o" || fail "hyoid.h is not C11 for $c"
        $c -std=c11 -ffreestanding -nostdlib $warnings -I"$include" -c "$work/h.c" -o "$work/h.o" ||
            fail "hyoid.h is not freestanding for $c"
    }
done
for c in g++ clang++; do
    # shellcheck disable=SC2086
    {
        $c -std=c++17 $warnings -Wold-style-cast -I"$include" -c "$work/hpp.cpp" -o "$work/hpp.o" ||
            fail "hyoid.hpp is not C++17 for $c"
        $c -std=c++17 $warnings -I"$include" -x c++ -c "$work/h.c" -o "$work/h.o" || fail "hyoid.h is not C++17 for $c"
    }
done

# the folder, in another tree, by the line that the documentation gives
cp -r "$HYOID_SOURCE/core" "$work/core"
cd "$work"
mkdir objects
for file in core/*.c; do
    cc -std=c11 -ffp-contract=off -Icore/include -c "$file" -o "objects/$(basename "$file" .c).o" || fail "$file"
done
cc "$HYOID_SOURCE/docs/library/examples/hello.c" -Icore/include objects/*.o -o hello
./hello hello.wav

# freestanding: nothing but memory functions is wanted from outside
rm objects/*.o
for file in core/*.c; do
    cc -std=c11 -ffp-contract=off -ffreestanding -nostdlib -O2 -DNDEBUG -Icore/include -c "$file" \
        -o "objects/$(basename "$file" .c).o" || fail "$file is not freestanding"
done
ld -r objects/*.o -o whole.o
wanted=$(nm --undefined-only whole.o | awk '{print $2}' | grep -v -x -e memcpy -e memset -e memmove -e memcmp \
    -e __stack_chk_fail -e _GLOBAL_OFFSET_TABLE_ || true)
[ -z "$wanted" ] || fail "the core wants from outside: $wanted"

# one version: header, run time, CMake
# shellcheck disable=SC2016
version=$(sed -n 's/^#define HYOID_VERSION_[A-Z]* \([0-9]*\)$/\1/p' core/include/hyoid/hyoid.h | paste -s -d.)
"$HYOID" --version | grep -q -F "hyoid $version" || fail "the program is not version $version"
echo "headers and copied core are fine, version $version"
