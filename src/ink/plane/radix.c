/* radix: least significant digit first, from one bit in which keys differ to the next; a digit of few
 * keys has fewer bits, whose places are counted sooner. */
#include "ink/plane/radix.h"

#include "drawtrue/work.h"

#include <string.h>

enum { BITS = 11, FEW_BITS = 8, FEW = 4096, SMALL = 48, BLOCK = 1 << 18 };

static void insertion_sort(DtKey *a, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        DtKey t = a[i];
        size_t j = i;
        for (; j > 0 && a[j - 1].key > t.key; j--)
            a[j] = a[j - 1];
        a[j] = t;
    }
}

/* The bits in which keys differ; 0 if they are in order, too. FALSE: cancelled. */
static gboolean find_bits(const DtKey *a, size_t n, uint64_t *bits)
{
    uint64_t differ = 0, before = a[0].key;
    gboolean rise = TRUE;
    for (size_t start = 0; start < n; start += BLOCK) {
        if (dt_work_stopped())
            return FALSE;
        for (size_t i = start; i < MIN(start + BLOCK, n); i++) {
            differ |= a[i].key ^ a[0].key;
            rise &= before <= a[i].key;
            before = a[i].key;
        }
    }
    *bits = rise ? 0 : differ;
    return TRUE;
}

/* Moves all keys to where their digit belongs. FALSE: cancelled, `to` is incomplete. */
static gboolean distribute(const DtKey *from, DtKey *to, size_t n, int shift, int width)
{
    const uint64_t mask = ((uint64_t)1 << width) - 1;
    size_t first[(1 << BITS) + 1] = {0};
    for (size_t i = 0; i < n; i++)
        first[(from[i].key >> shift & mask) + 1]++;
    for (uint64_t d = 1; d <= mask; d++)
        first[d] += first[d - 1];
    for (size_t start = 0; start < n; start += BLOCK) {
        if (dt_work_stopped())
            return FALSE;
        for (size_t i = start; i < MIN(start + BLOCK, n); i++)
            to[first[from[i].key >> shift & mask]++] = from[i];
    }
    return TRUE;
}

void dt_radix_sort(DtKey *a, size_t n)
{
    uint64_t bits;
    if (n < SMALL) {
        insertion_sort(a, n);
        return;
    }
    if (!find_bits(a, n, &bits) || bits == 0)
        return;
    g_autofree DtKey *spare = g_new(DtKey, n);
    DtKey *from = a, *to = spare;
    const int width = n < FEW ? FEW_BITS : BITS;
    while (bits != 0) {
        const int shift = __builtin_ctzll(bits);
        if (!distribute(from, to, n, shift, width))
            break;
        bits &= shift + width < 64 ? ~(uint64_t)0 << (shift + width) : 0;
        DtKey *t = from;
        from = to;
        to = t;
    }
    if (from != a)
        memcpy(a, from, n * sizeof *a);
}
