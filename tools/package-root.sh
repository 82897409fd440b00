#!/bin/sh
# Tries the package of build/package in a bare Debian 12: installs it with what it depends on, runs
# debian/tests/garden-map there, removes it and looks for what is left. Needs root, and a mirror.
# Usage: tools/package-root.sh [ROOT]; a ROOT that debootstrap has made is used as it is and kept.
set -eu
cd "$(dirname "$0")/.."
[ "$(id -u)" = 0 ] || { echo "package: a root of its own needs root" >&2; exit 3; }
deb=$(ls build/package/*.deb) || { echo "package: run ./dev package first" >&2; exit 1; }
root=${1-}
made=

end() {
    for at in dev/pts proc; do umount "$root/$at" 2>/dev/null || true; done
    [ -z "$made" ] || rm -rf --one-file-system "$made"
}
trap end EXIT
trap 'exit 3' HUP INT TERM

# inside COMMAND...: in the root, with a clean environment.
inside() {
    chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 \
        DEBIAN_FRONTEND=noninteractive "$@"
}

# What the package manager itself writes down, and may keep.
list_files() {
    inside find / -xdev \( -path /proc -o -path /dev -o -path /tmp -o -path /var/cache -o -path /var/log \
        -o -path /var/lib/apt -o -path /var/lib/dpkg \) -prune -o -print | sort
}

if [ -z "$root" ]; then
    made=$(mktemp -d)
    root=$made
    debootstrap --variant=minbase bookworm "$root" >/dev/null
fi
cp -r /etc/apt/. "$root/etc/apt/"
cp /etc/resolv.conf "$root/etc/resolv.conf" 2>/dev/null || true
mount -t proc proc "$root/proc" 2>/dev/null || true
mount -t devpts -o newinstance,ptmxmode=0666 devpts "$root/dev/pts"
ln -sf pts/ptmx "$root/dev/ptmx"
cp "$deb" "$root/tmp/drawtrue.deb"
cp debian/tests/garden-map "$root/tmp/garden-map"

inside apt-get -qq update
list_files >build/package/before.txt
inside apt-get -qq install -y --no-install-recommends /tmp/drawtrue.deb >/dev/null
inside sh -c 'ldd -u -r /usr/bin/drawtrue' | tee build/package/unused.txt
[ ! -s build/package/unused.txt ] || { echo "package: libraries that nothing uses" >&2; exit 1; }
inside sh /tmp/garden-map
inside apt-get -qq purge -y drawtrue >/dev/null
left=$(inside find / -xdev -path /proc -prune -o -path /tmp -prune -o -iname '*drawtrue*' -print)
[ -z "$left" ] || { echo "package: left behind: $left" >&2; exit 1; }
inside apt-get -qq autoremove --purge -y >/dev/null
list_files >build/package/after.txt
echo "installed, drew the garden map and removed itself; changed in the root by it and what it depends on:"
diff build/package/before.txt build/package/after.txt || true
