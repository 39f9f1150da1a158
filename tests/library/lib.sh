# What the scripts of this folder share. Sourced after `set -eu`.
# shellcheck shell=sh disable=SC2034
: "${HYOID_SOURCE:=$(cd "$(dirname "$0")/../.." && pwd)}"
library=$HYOID_SOURCE/tests/library
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
trap 'exit 2' HUP INT TERM

fail() {
    echo "FAIL: $*" >&2
    exit 1
}

# Each tool that is named, or the test is skipped; under CI it fails.
need() {
    for tool; do
        if ! command -v "$tool" >/dev/null; then
            [ -z "${CI:-}" ] || fail "$tool is not installed"
            echo "SKIP: $tool is not installed"
            exit 77
        fi
    done
}
