/* base: the error domain, durations and word distance. */
#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

GQuark dt_error_quark(void)
{
    return g_quark_from_static_string("drawtrue-error");
}

unsigned dt_base_edit_distance(const char *a, const char *b)
{
    gsize na = strlen(a), nb = strlen(b);
    g_autofree unsigned *row = g_new(unsigned, nb + 1);
    for (gsize j = 0; j <= nb; j++)
        row[j] = (unsigned)j;
    for (gsize i = 1; i <= na; i++) {
        unsigned diagonal = row[0];
        row[0] = (unsigned)i;
        for (gsize j = 1; j <= nb; j++) {
            unsigned replace = diagonal + (a[i - 1] != b[j - 1]);
            diagonal = row[j];
            row[j] = MIN(MIN(row[j], row[j - 1]) + 1, replace);
        }
    }
    return row[nb];
}

char *dt_base_duration(double seconds)
{
    if (seconds < 59.95)
        return g_strdup_printf("%.1f s", seconds);
    long whole = lround(seconds);
    if (whole < 3600)
        return g_strdup_printf("%ld min %02ld s", whole / 60, whole % 60);
    return g_strdup_printf("%ld h %02ld min", whole / 3600, whole / 60 % 60);
}
