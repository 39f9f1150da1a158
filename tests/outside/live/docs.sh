#!/bin/sh
# What is written about `hyoid live` is complete: each option and command in the manual, each key in docs/live.md.
set -eu
cd "$HYOID_SOURCE"
mandoc -Tlint -Wwarning docs/man/hyoid-live.1
page=$(mandoc -Tascii docs/man/hyoid-live.1 | col -b)
lacks() {
    echo "FAIL: $1 lacks $2"
    exit 1
}
for option in $("$HYOID" live --help | grep -o -e '--[a-z-]*' | sort -u); do
    case $option in --help) continue ;; esac
    printf '%s\n' "$page" | grep -q -e "$option" || lacks "hyoid-live(1)" "$option"
done
commands=$(grep -o '{"[a-z]*", HY_CMD_' frontends/live/command.c | sed 's/{"//; s/".*//' | sort -u)
[ "$(printf '%s\n' "$commands" | wc -l)" -ge 20 ] || lacks "this test" "the table of commands"
for command in $commands; do
    case $command in toggle) continue ;; esac # what the space bar stands for
    printf '%s\n' "$page" | grep -q -w -e "$command" || lacks "hyoid-live(1)" "$command"
    grep -q "\`$command\|, $command" docs/live.md || lacks docs/live.md "$command"
done
echo "the manual and docs/live.md are complete"
