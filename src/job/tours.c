/* tours: one line through the points of a picture (Kaplan and Bosch 2005, "TSP art"), in the order that
 * this machine draws fastest. */
#include "job/private.h"

/* The points of one pen, as strokes of their own. */
static void collect(const DtStrokes *all, unsigned pen, DtStrokes *out)
{
    for (size_t i = 0; i < all->n; i++) {
        const DtStroke *s = &all->strokes[i];
        if (s->kind == DT_INK_TOUR && s->pen == pen)
            dt_strokes_append(out, all->pts + s->first, s->n, FALSE, DT_INK_TOUR, pen, s->shape);
    }
}

/* One stroke through all of them, in the order found by the search for the least time. */
static gboolean join(const DtProfile *p, const DtJobOptions *o, const DtStrokes *points,
                     unsigned pen, DtStrokes *out, GError **error)
{
    DtRouteOptions route = o->route;
    route.one_way = route.keep_order = FALSE;
    route.join = 0;
    route.cut = FALSE;
    g_auto(DtSequence) order;
    dt_sequence_init(&order);
    DtCost cost = dt_profile_cost(p);
    if (!dt_route_order(points, &cost, &p->rack, &route, &order, error))
        return FALSE;
    g_autofree DtPoint *line = g_new(DtPoint, order.n + 1);
    for (size_t i = 0; i < order.n; i++)
        line[i] = order.pts[order.polylines[i].first];
    if (order.n > 0)
        dt_strokes_append(out, line, order.n, FALSE, DT_INK_FILL, pen, -1);
    return TRUE;
}

gboolean dt_job_join_tours(const DtProfile *p, const DtJobOptions *o, DtStrokes *s, GError **error)
{
    DtStrokes out;
    dt_strokes_init(&out);
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        if (k->kind != DT_INK_TOUR)
            dt_strokes_append(&out, s->pts + k->first, k->n, k->closed != 0, k->kind, k->pen,
                              k->shape);
    }
    gboolean good = TRUE;
    for (unsigned pen = 0; pen < p->rack.n && good; pen++) {
        g_auto(DtStrokes) points;
        dt_strokes_init(&points);
        collect(s, pen, &points);
        good = points.n == 0 || join(p, o, &points, pen, &out, error);
    }
    dt_strokes_clear(s);
    *s = out;
    return good;
}
