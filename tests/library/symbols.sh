#!/bin/sh
# What libhyoid.so gives out is hyoid.map, is what hyoid.h declares, in its order; the archive has hyoid_ names only; and the
# shared library takes nothing from outside but memory functions: it can't allocate, lock or touch a file.
set -eu
# shellcheck source-path=SCRIPTDIR source=lib.sh
. "$(dirname "$0")/lib.sh"
need nm objdump readelf python3
cd "$work"
sed -n 's/^ *\(hyoid_[a-z0-9_]*\);$/\1/p' "$HYOID_SOURCE/core/hyoid.map" >map
python3 -B - "$HYOID_SOURCE/core/include/hyoid/hyoid.h" >header <<'END'
import re, sys
text = re.sub(r"/\*.*?\*/", "", open(sys.argv[1]).read(), flags=re.S)
text = "\n".join(line for line in text.split("\n") if not line.startswith("#"))
print("\n".join(n for n in re.findall(r"^(?!typedef)[a-z][\w \*]*?[ \*](hyoid_\w+)\(", text, flags=re.M)))
END
diff header map || fail "hyoid.h (<) and hyoid.map (>) differ"
sort map >wanted
nm -D --defined-only "$HYOID_SHARED" | awk '$2 != "A" {print $3}' | sed 's/@.*//' | sort >given
diff wanted given || fail "hyoid.map (<) and the library (>) differ"
foreign=$(nm -g --defined-only "$HYOID_STATIC" | awk 'NF == 3 {print $3}' | grep -v '^hyoid_' || true)
[ -z "$foreign" ] || fail "names without hyoid_ in the archive: $foreign"
taken=$(nm -D --undefined-only "$HYOID_SHARED" | awk '$1 == "U" {print $2}' | sed 's/@.*//' |
    grep -v -x -e memcpy -e memset -e memmove -e memcmp -e __stack_chk_fail -e __assert_fail || true)
[ -z "$taken" ] || fail "taken from outside: $taken"
version=$(sed -n 's/^#define HYOID_VERSION_[A-Z]* \([0-9]*\)$/\1/p' "$HYOID_SOURCE/core/include/hyoid/hyoid.h" | head -n 1)
readelf -d "$HYOID_SHARED" | grep -q "soname: \[libhyoid.so.$version\]" || fail "soname is not libhyoid.so.$version"
# constants that hold addresses are read-only once they are loaded; anything in .data or .bss would be a variable
writable=$(objdump -t "$HYOID_STATIC" | awk 'NF >= 5 && $(NF - 2) ~ /^\.(data|bss)$/ && $NF != $(NF - 2) {print $NF}')
[ -z "$writable" ] || fail "variables: $writable"
echo "$(wc -l <map) symbols"
