#!/bin/sh
# Lint: layout by clang-format, clang-tidy's bugprone and analyzer sets, shell syntax, file lengths.
# Usage: bench/lint.sh [FILE.c ...]   (all of ours without arguments; needs a compile database, which
# it makes in build/lint). Ends with exit code 1 where anything was found.
set -u
cd "$(dirname "$0")/.." || exit 3
found=0

# Points, lengths and pens are passed side by side everywhere, so swappable parameters say nothing
# here; the buffer check asks for the optional Annex K of C11, which glibc does not have. GLib's
# g_clear_pointer trips sizeof-expression, and the analyzer does not follow g_autofree, so that leaks
# are left to LeakSanitizer, which every test runs under.
checks='-*,bugprone-*,clang-analyzer-*,-bugprone-easily-swappable-parameters'
checks="$checks,-bugprone-sizeof-expression,-clang-analyzer-unix.Malloc"
checks="$checks,-clang-analyzer-security.insecureAPI.DeprecatedOrUnsafeBufferHandling"

sources() { git ls-files '*.c' '*.h'; }

check_layout() {
    files=$(sources)
    # shellcheck disable=SC2086
    clang-format --dry-run --Werror $files 2>build/lint/format.txt && return 0
    sed -n 's/^\([^:]*:[0-9]*\):.*/\1: not laid out as .clang-format says/p' build/lint/format.txt |
        sort -u -t: -k1,1
    return 1
}

# One clang-tidy at a time for each core; its own chatter about suppressed system headers is dropped.
check_code() {
    if [ $# -gt 0 ]; then printf '%s\n' "$@"; else git ls-files '*.c'; fi |
        while read -r file; do
            grep -q "$file\"" build/lint/compile_commands.json && echo "$file"
        done |
        xargs -P "$(nproc)" -n 1 clang-tidy -p build/lint --quiet --checks="$checks" \
            --header-filter="^$PWD/" 2>/dev/null >build/lint/tidy.txt
    grep -E 'warning:|error:' build/lint/tidy.txt | grep -v '^/usr/' |
        sed "s|^$PWD/||; s|^\(build/lint/\)*\.\./\.\./||" | sort -u >build/lint/tidy-short.txt
    cat build/lint/tidy-short.txt
    [ ! -s build/lint/tidy-short.txt ]
}

check_shell() {
    ok=0
    for file in dev $(git ls-files '*.sh'); do
        sh -n "$file" || ok=1
        if command -v shellcheck >/dev/null 2>&1; then shellcheck -S warning "$file" || ok=1; fi
    done
    return $ok
}

# A file much longer than 600 lines does more than one thing.
check_lengths() {
    sources | xargs wc -l | awk '$2 != "total" && $1 > 660 { print $2 ": " $1 " lines"; bad = 1 }
        END { exit bad }'
}

mkdir -p build
[ -f build/lint/build.ninja ] || meson setup build/lint >/dev/null || exit 3
check_layout || found=1
check_shell || found=1
check_lengths || found=1
check_code "$@" || found=1
if [ $found = 0 ]; then echo "lint: nothing found"; else echo "lint: see above"; fi
exit $found
