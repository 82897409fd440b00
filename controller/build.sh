#!/bin/sh
# build: the controller's images, into build/board, with what each takes of its chip's flash and RAM.
# Usage: controller/build.sh [IMAGE ...]   drawtrue-atmega328p, drawtrue-atmega2560, drawtrue-cortex-m3; all without arguments.
set -eu
cd "$(dirname "$0")/.."
out=build/board
mkdir -p $out

for tool in avr-gcc avr-size avr-objcopy; do
    command -v $tool >/dev/null || { echo "board: $tool is missing (gcc-avr, avr-libc)" >&2; exit 3; }
done

row() {
    awk -v what="$1" -v n="$2" -v most="$3" 'BEGIN {
        printf "  %-28s %6d of %6d bytes  %5.1f %%\n", what, n, most, 100 * n / most }'
}

# The interrupt's files are built for speed, all others for size.
fast='board.c'

# avr CHIP FLASH RAM
avr() {
    elf=$out/drawtrue-$1.elf objects=
    for source in controller/avr/*.c controller/*.c; do
        case "$source" in controller/step.c | controller/receive.c) continue ;; esac # part of board.c
        case " $fast " in
        *" ${source##*/} "*) optimise="-O2" ;;
        *) optimise="-Os -mcall-prologues -mstrict-X -maccumulate-args -fshort-enums -fno-inline-small-functions -fno-move-loop-invariants -fno-tree-dominator-opts" ;;
        esac
        case "$source" in controller/cut.c | controller/plan.c) optimise="$optimise -fno-tree-forwprop" ;; esac
        object=$out/$1-$$-$(basename "$source" .c).o # others may build at the same time
        # shellcheck disable=SC2086
        avr-gcc -std=gnu11 -mmcu="$1" -DF_CPU=16000000UL $optimise -mrelax -Wall -Wextra -Werror \
            -ffunction-sections -fdata-sections -Icontroller -Icontroller/avr -include inline.h -c -o "$object" "$source"
        objects="$objects $object"
    done
    # shellcheck disable=SC2086
    avr-gcc -mmcu="$1" -mrelax -Wl,--gc-sections -o "$elf" $objects -lm
    rm -f $objects
    avr-objcopy -O ihex -R .eeprom "$elf" "${elf%.elf}.hex"
    echo "$elf"
    # shellcheck disable=SC2046
    set -- $(avr-size "$elf" | tail -1) "$2" "$3"
    row "flash" $(($1 + $2)) "$7"
    row "RAM without the stack" $(($2 + $3)) "$8"
}

# For the emulator's board: that the border is narrow enough for another kind of chip.
arm() {
    elf=$out/drawtrue-cortex-m3.elf
    command -v arm-none-eabi-gcc >/dev/null ||
        { echo "board: arm-none-eabi-gcc is missing (gcc-arm-none-eabi, libnewlib-arm-none-eabi)" >&2; exit 3; }
    arm-none-eabi-gcc -std=gnu17 -mcpu=cortex-m3 -mthumb -Os -Wall -Wextra -Wconversion -Wshadow -Werror \
        -ffunction-sections -fdata-sections -fno-builtin -nostartfiles -Wl,--gc-sections \
        -T controller/arm/board.ld -Icontroller -o "$elf" controller/arm/board.c controller/*.c -lm
    echo "$elf"
    # shellcheck disable=SC2046
    set -- $(arm-none-eabi-size "$elf" | tail -1)
    row "flash" $(($1 + $2)) 262144
    row "RAM without the stack" $(($2 + $3)) 65536
}

[ $# -gt 0 ] || set -- drawtrue-atmega328p drawtrue-atmega2560 drawtrue-cortex-m3
for image in "$@"; do
    case "$image" in
    drawtrue-atmega328p) avr atmega328p 32768 2048 ;;
    drawtrue-atmega2560) avr atmega2560 262144 8192 ;;
    drawtrue-cortex-m3) arm ;;
    *) echo "board: there is no image '$image'" >&2; exit 2 ;;
    esac
done
