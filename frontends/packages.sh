#!/bin/sh
# Installs the Debian packages named as arguments that are missing, and says which. Root, or sudo.
set -eu
missing=
for package in "$@"; do
    if [ "$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null)" != installed ]; then
        missing="$missing $package"
    fi
done
if [ -z "$missing" ]; then
    exit 0
fi
echo "Installing from Debian:$missing"
as_root=
if [ "$(id -u)" != 0 ]; then
    if ! command -v sudo >/dev/null; then
        echo "These packages are needed and you are not root; as root: apt-get install$missing" >&2
        exit 2
    fi
    as_root=sudo
fi
log=$(mktemp)
trap 'rm -f "$log"' EXIT
# a list of packages that is too old, or none at all, is the usual reason for a failure
install="env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends"
# shellcheck disable=SC2086 # words are wanted
if ! $as_root $install $missing >"$log" 2>&1 </dev/null; then
    $as_root apt-get update -qq >>"$log" 2>&1 </dev/null || true
    # shellcheck disable=SC2086
    if ! $as_root $install $missing >"$log" 2>&1 </dev/null; then
        cat "$log" >&2
        echo "apt-get could not install:$missing" >&2
        exit 2
    fi
fi
