#!/bin/sh
# The main job from end to end: a drawing, planned for the workshop's machine, streamed to the virtual
# machine, once with the machine's measured corrections and once without, and the ink that landed held
# against the drawing. Usage: demo.sh BUILD OUT
set -eu
build=$1
out=$2
drawtrue=$build/src/cli/drawtrue
art=examples/garden-bed.svg
machine=examples/workshop.ini
detail=142,36.5,48,34.6 # mm on the page: what the picture magnifies
rig=

cleanup() { [ -z "$rig" ] || kill "$rig" 2>/dev/null || true; }
trap cleanup EXIT
trap 'exit 3' HUP INT TERM

fail() {
    echo "demo: $1" >&2
    exit "${2:-1}"
}

# draw NAME OPTION...: plan, rig and run into $out/NAME.
draw() {
    folder=$out/$1
    shift
    rm -rf "$folder"
    mkdir -p "$folder"
    "$drawtrue" plan "$art" -o "$folder/job.nc" --machine "$machine" --true-size --solid --json "$@" \
        >"$folder/plan.json"
    # Whoever stands at the machine puts in the pens that the program asks for, in its order.
    pens=$(sed -n 's/^(stroke [0-9]* pen \(.*\))$/\1/p' "$folder/job.nc" | uniq | tr '\n' ' ')
    sed "s/^order = .*/order = $pens/" examples/rig.ini >"$folder/rig.ini"
    "$drawtrue" rig "$folder/rig.ini" --link "$folder/port" --out "$folder" --once --json \
        >"$folder/rig.txt" &
    rig=$!
    waited=0
    while [ ! -e "$folder/port" ]; do
        kill -0 "$rig" 2>/dev/null || fail "the virtual machine did not start"
        waited=$((waited + 1))
        [ $waited -lt 100 ] || fail "the virtual machine opened no port"
        sleep 0.1
    done
    set -- run "$folder/job.nc" --port "$folder/port" --machine "$machine" --pens-ready \
        --journal "$folder/journal.db"
    # Cautions for people at a real machine go to the log with everything else that is not progress.
    if [ -t 1 ]; then "$drawtrue" "$@" 2>"$folder/run.log"
    else "$drawtrue" "$@" >"$folder/run.txt" 2>"$folder/run.log"; fi || {
        cat "$folder/run.log" >&2
        fail "the run broke off"
    }
    wait "$rig" || fail "the virtual machine ended badly"
    rig=
}

echo "1  planning and drawing $art with the machine's corrections"
draw trued
echo "2  the same without corrections"
draw plain --no-corrections
echo "3  holding the ink against the drawing"
status=0
"$build/bench/demo-report" "$art" "$machine" "$out" "$detail" || status=$?
[ $status -le 1 ] || exit $status
echo
echo "picture: $out/demo.png   (drawing, ink without corrections, ink with them)"
echo "ink:     $out/trued/ink.png, $out/plain/ink.png"
echo "program: $out/trued/job.nc"
echo "figures: $out/report.json"
echo "try it:  $drawtrue desk --rig --machine $machine --rig-file examples/rig.ini $art"
[ $status -eq 0 ] || fail "a figure missed its bar"
