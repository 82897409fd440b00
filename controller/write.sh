#!/bin/sh
# write: puts an image on a chip through a general chip programmer, and reads it back.
# Usage: controller/write.sh PORT [--chip atmega328p|atmega2560] [--programmer KIND] [--yes | --dry-run]
set -eu
cd "$(dirname "$0")/.."

port=${1-}; [ $# -gt 0 ] && shift
chip=atmega328p kind='' answer=''
while [ $# -gt 0 ]; do
    case "$1" in
    --chip) chip=${2-}; shift 2 ;;
    --programmer) kind=${2-}; shift 2 ;;
    --yes) answer=yes; shift ;;
    --dry-run) answer=dry; shift ;;
    *) echo "board: '$1' is not understood" >&2; exit 2 ;;
    esac
done
case "$port" in '' | -*) echo "usage: ./dev board --write PORT [--chip CHIP] [--programmer KIND] [--yes | --dry-run]" >&2; exit 2 ;; esac

# The serial loader of a chip that has one speaks the protocol of these (Atmel application notes AVR061 and
# AVR068); its rate is the loader's own.
case "$chip" in
atmega328p) part=m328p most=32256; kind=${kind:-stk500v1} ;;
atmega2560) part=m2560 most=253952; kind=${kind:-stk500v2} ;;
*) echo "board: there is no image for '$chip'" >&2; exit 2 ;;
esac
image=build/board/drawtrue-$chip.hex
programmer=${DT_PROGRAMMER:-avrdude}

sh controller/build.sh "drawtrue-$chip"
# shellcheck disable=SC2046
set -- $(avr-size "build/board/drawtrue-$chip.elf" | tail -1)
[ $(($1 + $2)) -le $most ] || { echo "board: the image does not fit beside a loader of 512 bytes" >&2; exit 1; }

cat <<TEXT

CAUTION  What the chip on $port runs now is overwritten. Before you go on:
  - take the motors' supply away: while the chip is written its outputs do what they like;
  - make sure that $port is this board and nothing else, and that the chip is an $chip at 16 MHz;
  - where the board does not reset itself, press its reset as the programmer starts.
What is run:
  $programmer -p $part -c $kind -P $port -b 115200 -D -U flash:w:$image:i
  $programmer -p $part -c $kind -P $port -b 115200 -U flash:v:$image:i
TEXT
[ "$answer" = dry ] && exit 0
if [ "$answer" != yes ]; then
    printf 'Type yes to write: '
    read -r answer || answer=
    [ "$answer" = yes ] || { echo "board: nothing was written"; exit 1; }
fi
[ -e "$port" ] || { echo "board: $port: no such port" >&2; exit 1; }
command -v "$programmer" >/dev/null || { echo "board: $programmer is missing" >&2; exit 3; }
"$programmer" -p $part -c "$kind" -P "$port" -b 115200 -D -U "flash:w:$image:i" ||
    { echo "board: writing failed; the chip may hold half an image: write again before it gets power" >&2; exit 1; }
"$programmer" -p $part -c "$kind" -P "$port" -b 115200 -U "flash:v:$image:i" ||
    { echo "board: what was read back differs; write again before the motors get power" >&2; exit 1; }
echo "board: written and read back. First power-on: docs/board.md"
