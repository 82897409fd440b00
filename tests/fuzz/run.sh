#!/bin/sh
# Builds every tests/fuzz/fuzz-NAME.c with libFuzzer, AddressSanitizer and UBSan against the rooms, and
# runs each over its seeds (tests/fuzz/seeds/NAME) and over what earlier runs found.
# Usage: run.sh [--seconds N] [NAME ...]     60 seconds each, all of them, by default.
# A crash, hang or leak is kept in build/fuzz/found/NAME; exit code 1 where there is one.
set -eu
cd "$(dirname "$0")/../.."
seconds=60
names=
while [ $# -gt 0 ]; do
    case $1 in
    --seconds) [ $# -gt 1 ] || { echo "fuzz: --seconds needs a number" >&2; exit 2; }
        seconds=$2; shift 2 ;;
    -*) echo "usage: ./dev fuzz [--seconds N] [NAME ...]" >&2; exit 2 ;;
    *) names="$names $1"; shift ;;
    esac
done
case $seconds in '' | *[!0-9]*) echo "fuzz: --seconds needs a whole number" >&2; exit 2 ;; esac
[ -n "$names" ] || names=$(find tests/fuzz -name 'fuzz-*.c' | sed 's|.*/fuzz-||; s|\.c$||' | sort)
[ -n "$names" ] || { echo "fuzz: no targets"; exit 0; }

# The rooms, instrumented; the targets alone bring libFuzzer's main().
build=build/fuzz
flags='-g -O1 -fsanitize=address,undefined -fno-sanitize-recover=undefined'
if [ ! -f $build/build.ninja ]; then
    CC=clang meson setup $build -Db_lundef=false -Dwerror=false -Db_sanitize=address,undefined \
        -Dc_args='-fsanitize=fuzzer-no-link -fno-sanitize-recover=undefined' >/dev/null ||
        { cat $build/meson-logs/meson-log.txt; exit 3; }
fi
rooms=$(ninja -C $build -t targets all | sed -n 's/^\([^:]*\.a\): .*/\1/p')
# shellcheck disable=SC2086
ninja -C $build --quiet $rooms
libraries=$(for a in $rooms; do printf '%s/%s ' "$build" "$a"; done)
packages='gio-unix-2.0 json-glib-1.0 libxml-2.0 cairo pangocairo libserialport sqlite3 zlib libjpeg gdk-pixbuf-2.0 lcms2 lapacke libsoup-3.0'

bad=0
for name in $names; do
    source=tests/fuzz/fuzz-$name.c
    [ -f "$source" ] || { echo "fuzz: there is no target '$name'" >&2; exit 2; }
    # shellcheck disable=SC2046,SC2086
    clang -std=gnu17 $flags -fsanitize=fuzzer -Iinclude -Isrc -I. "$source" -o $build/fuzz-$name \
        $(pkg-config --cflags $packages) \
        -Wl,--start-group $libraries -Wl,--end-group $(pkg-config --libs $packages) -lgeos_c -lm
    corpus=$build/corpus/$name
    found=$build/found/$name
    mkdir -p "$corpus" "$found"
    seeds=tests/fuzz/seeds/$name
    [ -d "$seeds" ] || seeds=
    echo "fuzz: $name for $seconds s"
    # shellcheck disable=SC2086
    if ASAN_OPTIONS=detect_leaks=1 LSAN_OPTIONS=suppressions=tests/fuzz/leaks.txt:print_suppressions=0 \
        $build/fuzz-$name -max_total_time="$seconds" -timeout=10 \
        -rss_limit_mb=1024 -max_len=65536 -print_final_stats=1 -artifact_prefix="$found/" \
        "$corpus" $seeds 2>$build/$name.txt; then
        sed -n 's/^stat::number_of_executed_units: */  runs: /p' $build/$name.txt
    else
        bad=1
        echo "  $name failed; input kept in $found:"
        grep -E 'SUMMARY|runtime error|ERROR: libFuzzer|Assertion|ERROR:' $build/$name.txt | head -5 || true
    fi
done
exit $bad
