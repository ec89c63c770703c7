#!/bin/sh
# Holds everything that two builds of the command write against each other, byte for byte:
# band files, pictures, sheets, reports and figures of every built-in rule, in the usual way
# and with other habits, and the reference of the rule language. Says what differs, and ends
# with 0 where nothing does, with 1 where something does, with 2 where it was used wrongly.
#
#   tests/same_outputs.sh OLD NEW [RULE...]
#
# It is for changes that shall not be seen from outside: build before and after, and compare.
set -u

if [ $# -lt 2 ]; then
    echo "usage: $0 OLD NEW [RULE...]" >&2
    exit 2
fi
old=$(realpath -- "$1") || exit 2
new=$(realpath -- "$2") || exit 2
shift 2
rules=${*:-$("$old" rules list --json | sed -n 's/^    "name": "\(.*\)",$/\1/p')}
if [ -z "$rules" ]; then
    echo "no rules to compare: \"rules list --json\" names none" >&2
    exit 2
fi
place=$(mktemp -d) || exit 2
trap 'rm -rf "$place"' EXIT
trap 'exit 2' INT TERM

# `keep NAME COMMAND...`: what it says, and how it ended, into files of that name.
keep() {
    name=$1
    shift
    status=0
    "$@" >"$name.out" 2>"$name.err" || status=$?
    echo "$status" >"$name.status"
}

# Everything that one build writes, into the folder where this is called.
write_all() {
    command=$1
    keep reference "$command" rules reference
    for rule in $rules; do
        mkdir -p "$rule"
        keep "$rule/make" "$command" make "$rule" --out "$rule/made" \
            --with fabric,strands,order,thread,gradient,html,pdf,text
        keep "$rule/tile" "$command" draw "$rule" --picture tile --out "$rule/tile.svg"
        keep "$rule/thread" "$command" draw "$rule" --picture thread --out "$rule/thread.svg"
        keep "$rule/symmetry" "$command" draw "$rule" --symmetry colours --repeats 6 \
            --out "$rule/symmetry.svg"
        keep "$rule/check" "$command" check "$rule" --json
        keep "$rule/mirrored" "$command" check "$rule" --json --mirrored --pace quick
        keep "$rule/sheet" "$command" sheet "$rule"
        keep "$rule/class" "$command" make "$rule" --out "$rule/class" --json --with html \
            --pace practised --people 12 --skein 20
        keep "$rule/text" "$command" rules show "$rule" --json
    done
    keep compare "$command" compare drift --over threads=6..12 --at-most minutes=300 --json
    keep compare-csv "$command" compare chevron --over pairs=4..8 --csv
    keep measures "$command" explore --measures
    keep explore "$command" explore drizzle --count 6 --seeds 1..60 --best-by contrast \
        --out explored --json
}

for build in old new; do
    mkdir "$place/$build"
done
(cd "$place/old" && write_all "$old") &
(cd "$place/new" && write_all "$new")
wait

written=$(find "$place/old" -type f | wc -l)
failed=$(find "$place/old" -name '*.status' ! -name 'tile.status' -exec grep -Lx '[01]' {} +)
if [ -n "$failed" ]; then
    echo "some commands were used wrongly, so that nothing was compared:" >&2
    for status in $failed; do
        echo "$status: $(cat "${status%.status}.err")" >&2
    done
    exit 2
fi
if (cd "$place" && diff -r -q old new); then
    echo "$written files of $(echo "$rules" | wc -w) rules are the same"
else
    exit 1
fi
