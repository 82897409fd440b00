/* radix (private to ink): sorting by 64-bit keys in linear time. */
#pragma once

#include <glib.h>
#include <stddef.h>
#include <stdint.h>

/* Packed to twelve bytes: there are millions of keys. */
typedef struct __attribute__((packed, aligned(4))) {
    uint64_t key;
    uint32_t id;
} DtKey;

/* Sorts by rising key; stable. If the work is cancelled the keys are all there, in any order. */
void dt_radix_sort(DtKey *a, size_t n);

/* Orders signed numbers as unsigned ones. */
static inline uint32_t dt_radix_signed(int32_t v)
{
    return (uint32_t)v ^ 0x80000000u;
}
