/* fill-seconds: how long this machine takes to draw a field, for choosing between ways to fill
 * it. */
#include "job/private.h"

/* With more lines than this the order is not optimised. */
enum { MOST_ORDERED = 200 };

/* Puts the field on the bed: where exactly, on a large sheet that is cut into several, matters
 * little. */
static DtPoint onto_bed(const DtProfile *p, const DtLines *lines)
{
    const DtBox b = dt_lines_box(lines);
    const DtBox bed = dt_machine_reach(p);
    if (dt_box_is_empty(b) || dt_box_is_empty(bed) ||
        (b.x0 >= bed.x0 && b.y0 >= bed.y0 && b.x1 <= bed.x1 && b.y1 <= bed.y1))
        return dt_point(0, 0);
    return dt_point((bed.x0 + bed.x1 - b.x0 - b.x1) / 2, (bed.y0 + bed.y1 - b.y0 - b.y1) / 2);
}

static void take_strokes(const DtProfile *p, const DtLines *lines, unsigned pen, DtStrokes *out)
{
    const DtPoint shift = onto_bed(p, lines);
    for (size_t i = 0; i < lines->n; i++) {
        dt_strokes_append(out, dt_lines_at(lines, i), dt_lines_count(lines, i),
                          lines->closed[i] != 0, DT_INK_FILL, pen, -1);
        const DtStroke *s = &out->strokes[out->n - 1];
        for (size_t k = 0; k < s->n; k++)
            out->pts[s->first + k] = dt_point_add(out->pts[s->first + k], shift);
    }
}

/* From the first time the pen is lowered to the last time it is lifted. */
static double drawing_s(const DtMoves *m, const DtTimes *t)
{
    double from = -1, to = 0;
    for (size_t i = 0; i < m->n; i++) {
        if (m->m[i].kind == DT_MOVE_PEN_DOWN && from < 0)
            from = i > 0 ? t->at_s[i - 1] : 0;
        else if (m->m[i].kind == DT_MOVE_PEN_UP && from >= 0)
            to = t->at_s[i];
    }
    return from < 0 ? G_MAXDOUBLE : to - from;
}

double dt_job_fill_seconds(const DtLines *lines, unsigned pen, void *user)
{
    const DtProfile *p = user;
    const DtCost cost = dt_profile_cost(p);
    g_auto(DtStrokes) strokes;
    g_auto(DtSequence) q;
    g_auto(DtMoves) moves = {0};
    DtTimes times = {0};
    DtRouteOptions route = DT_ROUTE_OPTIONS_DEFAULT;
    g_autoptr(DtWork) quiet = dt_work_new(NULL, NULL); /* progress is that of the whole drawing */
    DtWork *before = dt_work_enter(quiet);
    double seconds = G_MAXDOUBLE;
    dt_strokes_init(&strokes);
    dt_sequence_init(&q);
    take_strokes(p, lines, pen, &strokes);
    route.iterations = 0;
    route.cut = FALSE;
    route.keep_order = strokes.n > MOST_ORDERED;
    if (strokes.n > 0)
        route.start = route.end = strokes.pts[strokes.strokes[0].first];
    if (dt_route_order(&strokes, &cost, &p->rack, &route, &q, NULL) &&
        dt_machine_moves(p, &q, &moves, NULL)) {
        dt_machine_time(p, &moves, TRUE, &times);
        seconds = drawing_s(&moves, &times);
    }
    dt_times_clear(&times);
    dt_work_leave(before);
    return seconds;
}
