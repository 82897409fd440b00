/* apart: whether several scans of a sheet show it against other errors of the scanner, or only the same once more. */
#include "truing/solve/solve.h"

#include <math.h>

/* How the sheet is turned in a scan, counter-clockwise. */
static double angle_of(const DtScan *s)
{
    return atan2(-s->rough.yx, s->rough.xx);
}

gboolean dt_scans_are_turned(const DtEvidence *e)
{
    const double least =
        0.5; /* sine of the angle between them: a scanner's errors weigh twice then */
    for (size_t i = 0; i < e->n_scans; i++)
        for (size_t k = 0; k < i; k++)
            if (!e->scans[i]->photograph && !e->scans[k]->photograph &&
                fabs(sin(angle_of(e->scans[i]) - angle_of(e->scans[k]))) > least)
                return TRUE;
    return FALSE;
}

/* A vector turned by quarters, counter-clockwise in a picture whose y goes down. */
static DtPoint turned(DtPoint v, int quarters)
{
    for (int i = 0; i < quarters; i++)
        v = dt_point(v.y, -v.x);
    return v;
}

/* Sums for the shift that takes the lines of one scan to those of another, by least squares. */
typedef struct {
    double xx, xy, yy, xd, yd, dd, n;
} Sums;

static void add_line(Sums *s, const DtSeen *a, const DtSeen *b, int quarters)
{
    const DtPoint normal = turned(a->normal, quarters);
    const double d = dt_point_dot(normal, dt_point_sub(b->at, turned(a->at, quarters)));
    s->xx += normal.x * normal.x;
    s->xy += normal.x * normal.y;
    s->yy += normal.y * normal.y;
    s->xd += normal.x * d;
    s->yd += normal.y * d;
    s->dd += d * d;
    s->n++;
}

/* What the best shift leaves, as a root mean square; infinite if too few lines determine it. */
static double left_of(const Sums *s)
{
    enum { FEW = 20 };
    const double determinant = s->xx * s->yy - s->xy * s->xy;
    if (s->n < FEW || determinant <= 0)
        return INFINITY;
    const double x = (s->yy * s->xd - s->xy * s->yd) / determinant,
                 y = (s->xx * s->yd - s->xy * s->xd) / determinant;
    return sqrt(MAX(s->dd - x * s->xd - y * s->yd, 0) / s->n);
}

/* How far apart two scans show the lines of the sheet, mm, once the first is shifted and turned by quarters onto the
 * second. */
static double apart(const DtScan *a, const DtScan *b)
{
    const int quarters = ((int)lround((angle_of(b) - angle_of(a)) / (G_PI / 2)) + 4) % 4;
    Sums sums = {0};
    for (size_t i = 0, k = 0; i < a->n && k < b->n;) { /* both in the order of the marks */
        if (a->seen[i].mark == b->seen[k].mark)
            add_line(&sums, &a->seen[i++], &b->seen[k++], quarters);
        else if (a->seen[i].mark < b->seen[k].mark)
            i++;
        else
            k++;
    }
    return left_of(&sums);
}

gboolean dt_check_scans_differ(const DtEvidence *e, GError **error)
{
    const double least_mm = 0.003; /* nobody lays a sheet down again as straight as that */
    for (size_t k = 1; k < e->n_scans; k++)
        for (size_t i = 0; i < k; i++)
            if (apart(e->scans[i], e->scans[k]) < least_mm) {
                g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                            "%s and %s are the same scan, turned by a program or not at all: lay "
                            "the sheet on the "
                            "glass anew for each scan, turned by 90 degrees for the second",
                            e->scans[i]->path, e->scans[k]->path);
                return FALSE;
            }
    return TRUE;
}
