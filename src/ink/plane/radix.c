/* radix: least significant digit first, eleven bits at a time; digits that all keys share are left
 * out. */
#include "ink/plane/radix.h"

#include "drawtrue/work.h"

#include <string.h>

enum { BITS = 11, DIGITS = 1 << BITS, PASSES = 6, SMALL = 48 };

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

void dt_radix_sort(DtKey *a, size_t n)
{
    if (n < SMALL) {
        insertion_sort(a, n);
        return;
    }
    g_autofree size_t *count = g_new0(size_t, PASSES * DIGITS);
    for (size_t i = 0; i < n; i++)
        for (int p = 0; p < PASSES; p++)
            count[p * DIGITS + (int)(a[i].key >> (p * BITS) & (DIGITS - 1))]++;
    g_autofree DtKey *spare = g_new(DtKey, n);
    DtKey *from = a, *to = spare;
    for (int p = 0; p < PASSES && !dt_work_stopped(); p++) {
        size_t *c = count + p * DIGITS, at = 0;
        if (c[a[0].key >> (p * BITS) & (DIGITS - 1)] == n)
            continue;
        for (int d = 0; d < DIGITS; d++) {
            size_t here = c[d];
            c[d] = at;
            at += here;
        }
        for (size_t i = 0; i < n; i++)
            to[c[from[i].key >> (p * BITS) & (DIGITS - 1)]++] = from[i];
        DtKey *t = from;
        from = to;
        to = t;
    }
    if (from != a)
        memcpy(a, from, n * sizeof *a);
}
