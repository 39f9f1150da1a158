#!/bin/sh
# The same bits from every compiler, at every optimisation, on every CPU: builds the core and tests/lockstep/torture.c
# in many ways, runs each (foreign ones under qemu), and holds the hashes against tests/golden/torture.txt.
#
#   sh tests/matrix.sh [--quick] [--write]
#
# --quick: this machine with gcc and clang, and 64-bit ARM. --write: when all agree, write the golden file.
# A compiler or emulator that is not installed is skipped and named; with CI set in the environment it is a failure.
# Debian packages: clang qemu-user gcc-{aarch64,riscv64,s390x}-linux-gnu gcc-arm-linux-gnueabihf
#                  libc6-dev-{arm64,riscv64,s390x,armhf}-cross
set -u
cd "$(dirname "$0")/.." || exit 2
golden=tests/golden/torture.txt

quick=
write=
for argument; do
    case $argument in
    --quick) quick=yes ;;
    --write) write=yes ;;
    *)
        echo "usage: sh tests/matrix.sh [--quick] [--write]" >&2
        exit 2
        ;;
    esac
done

work=$(mktemp -d) || exit 2
trap 'rm -rf "$work"' EXIT
trap 'exit 2' HUP INT TERM

control=
bad=0
ran=0
skipped=0
common="-std=c11 -ffp-contract=off -Icore/include"

row() {
    printf '%-8s  %-23s  %-27s  %-16s  %-16s  %s\n' "$@"
}

skip() { # cpu compiler flags reason
    skipped=$((skipped + 1))
    if [ -n "${CI:-}" ]; then
        bad=1
        row "$1" "$2" "$3" - - "MISSING: $4"
    else
        row "$1" "$2" "$3" - - "SKIP: $4"
    fi
}

here() { # can this machine run it without an emulator?
    [ "$(uname -m)" = "$1" ]
}

# try CPU COMPILER FLAGS [TRIPLE]; with a triple, for another machine, under its emulator
try() {
    cpu=$1
    compiler=$2
    flags=$3
    triple=${4:-}
    need=$compiler
    build="$compiler $common $flags"
    run=
    if [ -n "$triple" ]; then
        # clang finds the foreign C library where the foreign gcc has put it
        need="$compiler $triple-gcc qemu-$cpu"
        build="$build -static"
        run=qemu-$cpu
        [ "$compiler" = "$triple-gcc" ] || build="$build --target=$triple"
    fi
    for tool in $need; do
        if ! command -v "$tool" >"$work/null"; then
            skip "$cpu" "$compiler" "$flags" "no $tool"
            return
        fi
    done
    # shellcheck disable=SC2086 # words are wanted
    if ! $build core/*.c tests/lockstep/torture.c -o "$work/torture" 2>"$work/errors"; then
        bad=1
        row "$cpu" "$compiler" "$flags" - - "DOES NOT BUILD"
        head -n 5 "$work/errors"
        return
    fi
    if ! $run "$work/torture" >"$work/hashes" 2>"$work/errors"; then
        bad=1
        row "$cpu" "$compiler" "$flags" - - "DOES NOT RUN"
        head -n 5 "$work/errors"
        return
    fi
    if [ -n "$control" ]; then
        verdict="differs, as it must"
        if cmp -s "$work/hashes" "$work/first"; then
            verdict="SAME, THOUGH FUSED"
            bad=1
        fi
        row "$cpu" "$compiler" "$flags" "$(hash levels)" "$(hash frames)" "$verdict"
        return
    fi
    ran=$((ran + 1))
    [ -f "$work/first" ] || cp "$work/hashes" "$work/first"
    verdict=same
    if ! cmp -s "$work/hashes" "$work/wanted"; then
        if [ -z "$write" ]; then
            verdict="NOT THE GOLDEN HASHES"
            bad=1
        else
            verdict="to be written"
        fi
    fi
    if ! cmp -s "$work/hashes" "$work/first"; then
        verdict="DIFFERS FROM THE FIRST"
        bad=1
    fi
    row "$cpu" "$compiler" "$flags" "$(hash levels)" "$(hash frames)" "$verdict"
}

hash() { # the default part's
    sed -n "s/^default $1 \([0-9a-f]*\) .*/\1/p" "$work/hashes"
}

: >"$work/wanted"
if [ -f "$golden" ]; then
    sed '/^#/d' "$golden" >"$work/wanted"
fi

row CPU compiler flags "levels (default)" "frames (default)" "all six hashes"
machine=$(uname -m)
for level in -O0 -O2 -O3; do
    try "$machine" gcc $level
    try "$machine" clang $level
done
if [ -n "$quick" ]; then
    if ! here aarch64; then
        try aarch64 aarch64-linux-gnu-gcc -O2 aarch64-linux-gnu
        try aarch64 clang -O2 aarch64-linux-gnu
    fi
else
    # a CPU that could fuse multiply and add, and is not to
    case $machine in
    x86_64)
        if grep -qw fma /proc/cpuinfo && grep -qw avx2 /proc/cpuinfo; then
            try "$machine" gcc "-O3 -march=haswell"
            try "$machine" clang "-O3 -march=haswell"
        else
            skip "$machine" "gcc, clang" "-O3 -march=haswell" "this CPU has no FMA"
        fi
        ;;
    esac
    for foreign in aarch64-linux-gnu riscv64-linux-gnu s390x-linux-gnu arm-linux-gnueabihf; do
        cpu=${foreign%%-*}
        if here "$cpu"; then
            continue
        fi
        # gcc on s390x would else reckon float as double
        exact=
        [ "$cpu" != s390x ] || exact=" -fexcess-precision=fast"
        for level in -O0 -O2 -O3; do
            try "$cpu" "$foreign-gcc" "$level$exact" "$foreign"
        done
        try "$cpu" clang -O2 "$foreign"
    done
fi

# Could the test fail? Fused multiply and add must show.
control=yes
case $machine in
aarch64) try "$machine" gcc "-O2 -ffp-contract=fast" ;;
*) try aarch64 aarch64-linux-gnu-gcc "-O2 -ffp-contract=fast" aarch64-linux-gnu ;;
esac

echo
if [ "$ran" = 0 ]; then
    echo "matrix: nothing could be built"
    exit 1
fi
if [ $bad = 0 ] && [ -n "$write" ]; then
    {
        echo "# What tests/lockstep/torture.c prints: hashes of ten seconds of two parts, the same from every compiler and on"
        echo "# every CPU. Not right by being here: it shows that nothing changed unawares, and that all machines agree."
        echo "# Written by: sh tests/matrix.sh --write"
        cat "$work/first"
    } >"$golden"
    echo "matrix: wrote $golden"
fi
if [ $bad = 0 ]; then
    echo "matrix: $ran builds agree, $skipped skipped"
else
    echo "matrix: FAILED ($ran builds ran, $skipped missing)"
fi
exit $bad
