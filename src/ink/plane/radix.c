/* radix: least significant digit first, eleven bits at a time; digits that all keys share are left
 * out. */
#include "ink/plane/radix.h"

#include "drawtrue/work.h"

#include <string.h>

enum { BITS = 11, DIGITS = 1 << BITS, PASSES = 6, SMALL = 48, BLOCK = 1 << 18 };

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

/* Counts each digit of each pass. FALSE: cancelled. */
static gboolean count_digits(const DtKey *a, size_t n, size_t *count)
{
    for (size_t start = 0; start < n; start += BLOCK) {
        if (dt_work_stopped())
            return FALSE;
        for (size_t i = start; i < MIN(start + BLOCK, n); i++)
            for (int p = 0; p < PASSES; p++)
                count[p * DIGITS + (int)(a[i].key >> (p * BITS) & (DIGITS - 1))]++;
    }
    return TRUE;
}

/* Moves all keys to where their digit of pass p belongs. FALSE: cancelled, `to` is incomplete. */
static gboolean distribute(const DtKey *from, DtKey *to, size_t n, int p, size_t *c)
{
    for (size_t start = 0; start < n; start += BLOCK) {
        if (dt_work_stopped())
            return FALSE;
        for (size_t i = start; i < MIN(start + BLOCK, n); i++)
            to[c[from[i].key >> (p * BITS) & (DIGITS - 1)]++] = from[i];
    }
    return TRUE;
}

void dt_radix_sort(DtKey *a, size_t n)
{
    if (n < SMALL) {
        insertion_sort(a, n);
        return;
    }
    g_autofree size_t *count = g_new0(size_t, PASSES * DIGITS);
    if (!count_digits(a, n, count))
        return;
    g_autofree DtKey *spare = g_new(DtKey, n);
    DtKey *from = a, *to = spare;
    for (int p = 0; p < PASSES; p++) {
        size_t *c = count + p * DIGITS, at = 0;
        if (c[a[0].key >> (p * BITS) & (DIGITS - 1)] == n)
            continue;
        for (int d = 0; d < DIGITS; d++) {
            size_t here = c[d];
            c[d] = at;
            at += here;
        }
        if (!distribute(from, to, n, p, c))
            break;
        DtKey *t = from;
        from = to;
        to = t;
    }
    if (from != a)
        memcpy(a, from, n * sizeof *a);
}
