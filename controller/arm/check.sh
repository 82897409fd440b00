#!/bin/sh
# check: runs the image for the emulated 32-bit board and draws an arc with it. Ends with exit code 1 where
# anything it says is not as it must be.
set -eu
cd "$(dirname "$0")/../.."
command -v qemu-system-arm >/dev/null || { echo "board: qemu-system-arm is missing" >&2; exit 3; }
sh controller/build.sh drawtrue-cortex-m3 >/dev/null
said=$({
    printf 'G28\nG0X10Y5\nG2X20Y5I5J0F900\n#412=#412\nG0X999\nM2\n'
    for _ in 1 2 3 4 5 6 7 8; do sleep 4; printf '\005'; done
} | timeout 60 qemu-system-arm -M mps2-an385 -nographic -monitor none -serial stdio \
    -kernel build/board/drawtrue-cortex-m3.elf 2>/dev/null || true)
bad=0
for line in 'drawtrue controller 1 ready' 'taken 1' 'taken 3' 'parameter 412 15.0000' \
    'refused 5 X beyond travel' 'taken 6' 'state still x 20.000 y 5.000 pen up line 6 switch --'; do
    printf '%s\n' "$said" | tr -d '\r' | grep -qx "$line" || { echo "  MISSING  $line"; bad=1; }
done
[ $bad = 0 ] && echo "  the 32-bit board homes, draws an arc, tells and refuses as it must"
exit $bad
