/* number-lists (private to ink): short sequences of numbers, each stored once. */
#pragma once

#include <glib.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
    GArray *items;      /* int32_t, of all sequences */
    GArray *first;      /* size_t: sequence i is items[first[i]] to items[first[i+1]-1] */
    GHashTable *places; /* sequence number + 1 by content; refers to `items` */
} DtNumberLists;

void dt_number_lists_init(DtNumberLists *p);
void dt_number_lists_clear(DtNumberLists *p);
/* The number of the sequence with these items. */
uint32_t dt_number_lists_put(DtNumberLists *p, const int32_t *items, size_t n);
size_t dt_number_lists_count(const DtNumberLists *p);
/* Its items, valid until the next dt_number_lists_put(). */
const int32_t *dt_number_lists_at(const DtNumberLists *p, uint32_t i, size_t *n);
