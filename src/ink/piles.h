/* piles (private to ink): short sequences of numbers, each kept once. */
#pragma once

#include <glib.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
    GArray *items;      /* int32_t, of all piles */
    GArray *first;      /* size_t: pile i is items[first[i]] to items[first[i+1]-1] */
    GHashTable *places; /* pile number + 1 by content; looks into `items` */
} DtPiles;

void dt_piles_init(DtPiles *p);
void dt_piles_clear(DtPiles *p);
/* The number of the pile with these items. */
uint32_t dt_piles_put(DtPiles *p, const int32_t *items, size_t n);
size_t dt_piles_count(const DtPiles *p);
/* Its items, valid until the next dt_piles_put(). */
const int32_t *dt_piles_at(const DtPiles *p, uint32_t i, size_t *n);
