#!/bin/sh
# Makes the Debian package in build/package/ and has lintian check it. The sources are copied first, so
# that nothing of the working folder gets into the package. Usage: tools/package.sh [--check]
# --check builds a second time in a folder of another name and compares, byte for byte. (dpkg maps the
# folder out of the debug information only where its name has no blank.)
set -eu
cd "$(dirname "$0")/.."
out=build/package

# copy_sources FOLDER: what version control knows, or all but the build where there is none.
copy_sources() {
    mkdir -p "$1"
    if git rev-parse --git-dir >/dev/null 2>&1; then
        git ls-files -z | tar -c --null --files-from=- | tar -x -C "$1"
    else
        tar -c --exclude=./build . | tar -x -C "$1"
    fi
}

# make_package FOLDER NAME: builds in FOLDER/NAME; the package lies in FOLDER then.
make_package() {
    rm -rf "$1"
    copy_sources "$1/$2"
    log=$PWD/$out/$2.log
    (cd "$1/$2" && DEB_BUILD_OPTIONS="noautodbgsym parallel=$(nproc)" \
        dpkg-buildpackage --build=binary --no-sign >"$log" 2>&1) ||
        { tail -n 40 "$log" >&2; echo "package: the build failed, see $log" >&2; exit 3; }
}

mkdir -p "$out"
rm -f "$out"/*.deb
make_package "$out/one" drawtrue
lintian --display-info --pedantic --fail-on error,warning,info,pedantic "$out"/one/*.changes
cp "$out"/one/*.deb "$out"
if [ "${1-}" = --check ]; then
    make_package "$out/two" source
    for deb in "$out"/*.deb; do
        cmp "$deb" "$out/two/${deb##*/}" ||
            { echo "package: two builds differ" >&2; exit 1; }
        echo "two builds of ${deb##*/} are identical"
    done
fi
for deb in "$out"/*.deb; do
    echo "$deb, $(($(wc -c <"$deb") / 1024)) KiB"
done
