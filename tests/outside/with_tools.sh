#!/bin/sh
# with_tools.sh TOOL... -- COMMAND...: runs COMMAND if every TOOL is installed.
# Otherwise the test is skipped (exit status 77), or, under CI, where nothing may be skipped, it fails.
set -eu
while [ "$1" != -- ]; do
    if ! command -v "$1" >/dev/null; then
        if [ -n "${CI:-}" ]; then
            echo "FAIL: $1 is not installed"
            exit 1
        fi
        echo "SKIP: $1 is not installed"
        exit 77
    fi
    shift
done
shift
exec "$@"
