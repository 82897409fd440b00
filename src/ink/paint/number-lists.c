/* number-lists: a hash table of the sequences by their content. */
#include "ink/paint/number-lists.h"

#include <string.h>

/* A sequence as the table sees it: its items are copied, since `items` moves as it grows. */
typedef struct {
    size_t n;
    int32_t items[];
} Key;

static guint key_hash(gconstpointer key)
{
    const Key *k = key;
    uint32_t h = 2166136261u; /* FNV-1a, a word at a time (Fowler, Noll and Vo) */
    for (size_t i = 0; i < k->n; i++)
        h = (h ^ (uint32_t)k->items[i]) * 16777619u;
    return h ^ h >> 15;
}

static gboolean key_equal(gconstpointer a, gconstpointer b)
{
    const Key *p = a, *q = b;
    return p->n == q->n && memcmp(p->items, q->items, p->n * sizeof *p->items) == 0;
}

void dt_number_lists_init(DtNumberLists *p)
{
    size_t zero = 0;
    p->items = g_array_new(FALSE, FALSE, sizeof(int32_t));
    p->first = g_array_new(FALSE, FALSE, sizeof(size_t));
    g_array_append_val(p->first, zero);
    p->places = g_hash_table_new_full(key_hash, key_equal, g_free, NULL);
}

void dt_number_lists_clear(DtNumberLists *p)
{
    if (!p->items)
        return;
    g_array_free(p->items, TRUE);
    g_array_free(p->first, TRUE);
    g_hash_table_unref(p->places);
    memset(p, 0, sizeof *p);
}

size_t dt_number_lists_count(const DtNumberLists *p)
{
    return p->first->len - 1;
}

uint32_t dt_number_lists_put(DtNumberLists *p, const int32_t *items, size_t n)
{
    Key *key = g_malloc(sizeof *key + n * sizeof *items);
    key->n = n;
    memcpy(key->items, items, n * sizeof *items);
    gpointer known = g_hash_table_lookup(p->places, key);
    if (known) {
        g_free(key);
        return GPOINTER_TO_UINT(known) - 1;
    }
    uint32_t i = (uint32_t)dt_number_lists_count(p);
    g_array_append_vals(p->items, items, (guint)n);
    size_t end = p->items->len;
    g_array_append_val(p->first, end);
    g_hash_table_insert(p->places, key, GUINT_TO_POINTER(i + 1));
    return i;
}

const int32_t *dt_number_lists_at(const DtNumberLists *p, uint32_t i, size_t *n)
{
    size_t first = g_array_index(p->first, size_t, i);
    *n = g_array_index(p->first, size_t, i + 1) - first;
    return (const int32_t *)(const void *)p->items->data + first;
}
