/* narrow-tones: narrow parts whose paint changes from place to place are divided by the inks that are nearest to it:
 * no pattern would show the change, and one ink for its average would be too dark in one place, too light in another. */
#include "ink/look/compose.h"
#include "ink/paint/threshold.h"

/* Where another ink is taken it must be nearer by this much on average (CIEDE2000), as what lies side by side is told
 * apart, over this much area (mm^2), which can be seen however thin it is. */
#define NEARER DT_LOOK_APART_IN_ART
#define SEEN_ANYWAY 1.0

/* Ink for a narrow part: a pen, -1: the paper, and the share of the width that it covers. */
typedef struct {
    int pen;
    double share;
} Ink;

typedef struct {
    const DtCompose *c;
    int label;
    Ink one, other;
} Sight;

/* A line along the middle for odd numbers, or dense; number -1: the paper. */
static Ink ink_number(const DtCompose *c, int i, double width)
{
    if (i < 0)
        return (Ink){-1, 0};
    const double tip = c->t->rack->pens[i / 2].tip;
    return (Ink){i / 2, i % 2 && width > tip ? tip / width : 1};
}

static double difference(const DtCompose *c, DtLab colour, Ink ink)
{
    return dt_appear_thin_difference(c->t->appear, colour, ink.pen, ink.share);
}

static Ink best_for_all(const DtCompose *c, const DtLab *colours, size_t n, double width)
{
    Ink best = {-1, 0};
    double least = G_MAXDOUBLE;
    for (int i = -1; i < 2 * dt_appear_n_pens(c->t->appear); i++) {
        const Ink ink = ink_number(c, i, width);
        double sum = 0;
        for (size_t k = 0; k < n; k++)
            sum += difference(c, colours[k], ink);
        if (sum < least) {
            least = sum;
            best = ink;
        }
    }
    return best;
}

/* The ink that is nearer than another one by most in all; FALSE if none is worth it. `area` is that of all colours. */
static gboolean find_other(const DtCompose *c, const DtLab *colours, size_t n, double width,
                           double area, Ink one, Ink *other)
{
    double most = 0;
    for (int i = -1; i < 2 * dt_appear_n_pens(c->t->appear); i++) {
        const Ink ink = ink_number(c, i, width);
        double saved = 0;
        size_t nearer = 0;
        for (size_t k = 0; k < n; k++) {
            const double d = difference(c, colours[k], one) - difference(c, colours[k], ink);
            saved += MAX(d, 0);
            nearer += d > 0;
        }
        if (saved <= most || saved < NEARER * (double)nearer ||
            area * (double)nearer < SEEN_ANYWAY * (double)n)
            continue;
        most = saved;
        *other = ink;
    }
    return most > 0;
}

/* Black where the other ink is nearer, nothing elsewhere. */
static DtSeen other_at(DtPoint at, void *user)
{
    const Sight *s = user;
    const DtColour seen = dt_paint_layers_seen_at(s->c->t->layers, s->label, at).colour;
    const DtLab colour = dt_colour_lab(dt_colour_over(seen, s->c->t->o->paper));
    const gboolean nearer = difference(s->c, colour, s->other) < difference(s->c, colour, s->one);
    return (DtSeen){{0, 0, 0, nearer ? 1 : 0}, nearer ? 0 : -1};
}

gboolean dt_compose_divide_narrow(const DtCompose *c, int label, const GArray *samples,
                                  const DtLines *region, DtLines *one, DtLines *other)
{
    const double area = dt_region_area(region),
                 width = 2 * area / MAX(dt_lines_total_length(region), 1e-6);
    if (area < SEEN_ANYWAY)
        return FALSE;
    const size_t step = dt_separation_step(samples->len);
    g_autofree DtLab *colours = g_new(DtLab, samples->len + 1);
    size_t n = 0;
    for (guint i = 0; i < samples->len; i += (guint)step)
        colours[n++] = dt_colour_lab(g_array_index(samples, DtColour, i));
    Sight s = {c, label, best_for_all(c, colours, n, width), {-1, 0}};
    if (!find_other(c, colours, n, width, area, s.one, &s.other))
        return FALSE;
    g_auto(DtThreshold) nearer = {.all = FALSE};
    return dt_threshold_find((DtView){other_at, &s}, dt_box_grow(dt_lines_box(region), 0.01),
                             dt_compose_tip(c->t) / 2, c->t->pens, &nearer, NULL) &&
           dt_region_intersect(region, DT_PLANE_NONZERO, &nearer.ink, other, NULL) &&
           dt_region_subtract(region, DT_PLANE_NONZERO, &nearer.ink, one, NULL) && one->n > 0 &&
           other->n > 0;
}
