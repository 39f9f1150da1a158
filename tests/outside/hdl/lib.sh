# Shared by the tests of vectors and lockstep.
# shellcheck shell=sh disable=SC2034
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
verilog=$HYOID_SOURCE/frontends/hdl/verilog
example=$HYOID_SOURCE/frontends/hdl/example
fail() {
    echo "FAIL: $*"
    exit 1
}
# must_fail STATUS COMMAND...: the command ends with this status; what it said goes to $work/said
must_fail() {
    want=$1
    shift
    status=0
    "$@" >"$work/said" 2>&1 || status=$?
    [ "$status" = "$want" ] || { cat "$work/said"; fail "status $status, not $want: $*"; }
}
said() {
    grep -q -e "$1" "$work/said" || { cat "$work/said"; fail "it did not say: $1"; }
}
