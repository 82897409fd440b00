/* centre: centre lines of narrow parts. */
#include "centre.h"

gboolean dt_centre_lines(const DtLines *region, const DtLines *inset, double by, DtLines *out,
                         GError **error)
{
    (void)region, (void)inset, (void)by, (void)out, (void)error;
    return TRUE;
}
