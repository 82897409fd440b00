/* kin: narrow areas of one paint, such as the pieces of a line that crosses fields. */
#include "ink/look/assign.h"

static int by_lab(const void *pa, const void *pb, void *areas)
{
    const int i = *(const int *)pa, k = *(const int *)pb;
    const DtLab a = ((const DtLookArea *)areas)[i].lab, b = ((const DtLookArea *)areas)[k].lab;
    const double d = a.l != b.l ? a.l - b.l : a.a != b.a ? a.a - b.a : a.b - b.b;
    return d != 0 ? (d > 0) - (d < 0) : (i > k) - (i < k);
}

static gboolean is_one_paint(DtLab a, DtLab b)
{
    return a.l == b.l && a.a == b.a && a.b == b.b;
}

int *dt_look_find_kin(DtLookArea *areas, size_t n)
{
    int *kin = g_new(int, n + 1);
    g_autofree int *narrow = g_new(int, n + 1);
    size_t found = 0;
    for (size_t i = 0; i < n; i++) {
        kin[i] = (int)i;
        if (areas[i].narrow)
            narrow[found++] = (int)i;
    }
    g_qsort_with_data(narrow, (gint)found, sizeof *narrow, by_lab, areas);
    for (size_t i = 0, first = 0; i < found; i++) {
        if (!is_one_paint(areas[narrow[first]].lab, areas[narrow[i]].lab))
            first = i;
        kin[narrow[i]] = narrow[first];
        if (i > first)
            kin[narrow[i - 1]] = narrow[i];
    }
    return kin;
}
