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

# The controller core against MISRA C:2012, as far as cppcheck's addon tells. Held without exception, among
# others: no recursion (17.2), no dynamic memory and no library (21.x), no goto (15.1), no variable-length
# array (18.8), no uninitialised value (9.1), switches complete (16.x).
# Not held, each for its reason:
#   2.4 8.7 8.9   the header is shared with boards and tests; a table stands beside what explains it
#   4.1           texts are kept in one string, their marks written as \1 and \0
#   5.7 5.9       the same short name in two files is the same idea, and static
#   10.1 10.3 10.4 10.8 12.1 14.4   left to -Wconversion and -Wparentheses, which are errors here
#   11.5 18.4     the table of parameters reaches its fields by their offset
#   14.1          in arc.c alone: an angle is brought into one turn, which takes two rounds at most
#   12.3 14.2 15.7 13.3 13.4 17.7 17.8 20.7   style: several variables in a line, loops that say what they skip,
#                 no empty else, assignments in a loop's head, parameters that are counted down
#   15.5 15.6     early returns and bodies of one line are this project's style
#   19.2          one union compares floats by their bits; it is what makes the chip fast enough
check_controller() {
    command -v cppcheck >/dev/null 2>&1 || { echo "lint: cppcheck is missing"; return 1; }
    suppressed=
    for rule in 2.4 4.1 5.7 5.9 8.7 8.9 10.1 10.3 10.4 10.8 11.5 12.1 12.3 13.3 13.4 14.2 14.4 15.5 15.6 \
        15.7 17.7 17.8 18.4 19.2 20.7; do
        suppressed="$suppressed --suppress=misra-c2012-$rule"
    done
    # In words.c the shift is by the row of a table of 26. A row of a table is never written by name; where there is one controller, c is set to its address.
    # shellcheck disable=SC2086
    cppcheck --quiet --std=c11 --addon=misra --enable=warning,style,performance,portability \
        --suppress=missingIncludeSystem --suppress=unusedStructMember --suppress=selfAssignment \
        --suppress=constVariable --suppress=misra-c2012-12.2:controller/words.c --suppress=misra-c2012-14.1:controller/arc.c $suppressed -Icontroller --template='{file}:{line}: {message} [{id}]' \
        --error-exitcode=1 controller/*.c 2>build/lint/controller.txt && [ ! -s build/lint/controller.txt ] && return 0
    cat build/lint/controller.txt
    return 1
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
check_controller || found=1
check_code "$@" || found=1
if [ $found = 0 ]; then echo "lint: nothing found"; else echo "lint: see above"; fi
exit $found
