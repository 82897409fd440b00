/* route: from strokes to runs: checks, pens, pieces, joins. */
#include "route/links.h"

#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

/* Checks ------------------------------------------------------------------------------------- */

static gboolean positive(double v)
{
    return isfinite(v) && v > 0;
}

static gboolean not_negative(double v)
{
    return isfinite(v) && v >= 0;
}

static gboolean check_cost(const DtCost *c, GError **error)
{
    for (int a = 0; a < 2; a++) {
        const char *name = a ? "Y" : "X";
        if (!positive(c->speed[a]) || !positive(c->acceleration[a])) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "the %s axis' limits must be above 0: speed %g mm/s, acceleration %g mm/s2",
                        name, c->speed[a], c->acceleration[a]);
            return FALSE;
        }
        if (!not_negative(c->pull_in[a])) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "the %s axis' pull-in must be 0 or more: %g mm/s", name, c->pull_in[a]);
            return FALSE;
        }
    }
    if (!not_negative(c->lift_s) || !not_negative(c->drop_s) || !not_negative(c->change_s)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "pen times must be 0 or more: lift %g s, drop %g s, change %g s", c->lift_s,
                    c->drop_s, c->change_s);
        return FALSE;
    }
    return TRUE;
}

static gboolean finite_point(DtPoint p)
{
    return isfinite(p.x) && isfinite(p.y);
}

static gboolean check_options(const DtRouteOptions *o, GError **error)
{
    const char *wrong = NULL;
    if (!not_negative(o->budget_s))
        wrong = _("the time budget must be 0 s or more");
    else if (!not_negative(o->join))
        wrong = _("the longest gap drawn across must be 0 mm or more");
    else if (o->one_way && o->one_way_axis != 0 && o->one_way_axis != 1)
        wrong = _("the one-way axis must be X or Y");
    else if (o->one_way && !not_negative(o->run_in))
        wrong = _("the run-in must be 0 mm or more");
    else if (!finite_point(o->start) || !finite_point(o->end) || !finite_point(o->change_at))
        wrong = _("the places where the pen comes from, goes to and is changed must be numbers");
    if (wrong)
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, wrong);
    return wrong == NULL;
}

static gboolean check_strokes(const DtStrokes *s, const DtRack *rack, GError **error)
{
    if (s->n >= G_MAXINT32 / 4) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%zu strokes are too many to order", s->n);
        return FALSE;
    }
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        if (rack && k->pen >= rack->n) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "stroke %zu wants pen %u, but the rack holds %zu", i, k->pen + 1u, rack->n);
            return FALSE;
        }
        for (size_t j = 0; j < k->n; j++)
            if (!finite_point(s->pts[k->first + j])) {
                g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                            "point %zu of stroke %zu is not a place on the bed", j, i);
                return FALSE;
            }
    }
    return TRUE;
}

/* Pens --------------------------------------------------------------------------------------- */

typedef struct {
    unsigned pen;
    double light;
} PenTurn;

static gint lighter(gconstpointer x, gconstpointer y)
{
    const PenTurn *a = x, *b = y;
    if (a->light != b->light)
        return a->light > b->light ? -1 : 1;
    return (a->pen > b->pen) - (a->pen < b->pen);
}

/* The pens that have strokes, in the order in which they draw. */
static GArray *pens_in_turn(const DtStrokes *s, const DtRack *rack, gboolean light_first)
{
    g_autofree uint8_t *used = g_new0(uint8_t, G_MAXUINT16 + 1);
    for (size_t i = 0; i < s->n; i++)
        if (s->strokes[i].n > 0)
            used[s->strokes[i].pen] = 1;
    GArray *turns = g_array_new(FALSE, FALSE, sizeof(PenTurn));
    for (unsigned pen = 0; pen <= G_MAXUINT16; pen++)
        if (used[pen]) {
            PenTurn turn = {pen,
                            rack && light_first ? dt_colour_luminance(rack->pens[pen].colour) : 0};
            g_array_append_val(turns, turn);
        }
    g_array_sort(turns, lighter);
    return turns;
}

/* Pieces ------------------------------------------------------------------------------------- */

static void add_piece(DtPieces *to, const DtPoint *pts, size_t n, gboolean closed, size_t stroke)
{
    dt_pieces_add(to, (DtPiece){.pts = pts, .n = n, .stroke = stroke, .closed = closed && n > 1});
}

static gboolean same(DtPoint a, DtPoint b)
{
    return a.x == b.x && a.y == b.y;
}

/* A line that ends where it began is a loop, whoever drew it. */
static void add_whole(DtPieces *to, const DtStrokes *s, size_t i)
{
    const DtStroke *k = &s->strokes[i];
    const DtPoint *pts = s->pts + k->first;
    size_t n = k->n;
    gboolean returns = n > 3 && same(pts[0], pts[n - 1]);
    add_piece(to, pts, returns ? n - 1 : n, k->closed || returns, i);
}

static double along_axis(DtPoint p, int axis)
{
    return axis ? p.y : p.x;
}

/* Cuts a line where it reverses along the axis, so that each part can be drawn towards +. */
static void add_one_way(DtPieces *to, const DtPoint *pts, size_t n, int axis, size_t stroke)
{
    size_t from = 0;
    double sense = 0;
    for (size_t i = 1; i <= n; i++) {
        double step = i < n ? along_axis(pts[i], axis) - along_axis(pts[i - 1], axis) : 0;
        if (i < n && (step == 0 || sense == 0 || (step > 0) == (sense > 0))) {
            sense = sense == 0 ? step : sense;
            continue;
        }
        add_piece(to, pts + from, i - from, FALSE, stroke);
        to->p[to->n - 1].backwards = sense < 0;
        from = i - 1;
        sense = step;
    }
}

/* A closed fill line, opened at its lowest vertex along the axis; the copy is added to `opened`. */
static void add_one_way_loop(DtPieces *to, const DtPoint *pts, size_t n, int axis, size_t stroke,
                             GPtrArray *opened)
{
    size_t low = 0;
    for (size_t i = 1; i < n; i++)
        if (along_axis(pts[i], axis) < along_axis(pts[low], axis))
            low = i;
    DtPoint *copy = g_new(DtPoint, n + 1);
    for (size_t i = 0; i <= n; i++)
        copy[i] = pts[(low + i) % n];
    g_ptr_array_add(opened, copy);
    add_one_way(to, copy, n + 1, axis, stroke);
}

/* The strokes of one pen: those drawn in one direction only, and those that may be reversed. */
static void gather(const DtStrokes *s, unsigned pen, const DtRouteOptions *o, DtPieces *one_way,
                   DtPieces *turning, GPtrArray *opened)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        if (k->pen != pen || k->n == 0)
            continue;
        if (!o->one_way || k->kind != DT_INK_FILL)
            add_whole(turning, s, i);
        else if (k->closed && k->n > 1)
            add_one_way_loop(one_way, s->pts + k->first, k->n, o->one_way_axis, i, opened);
        else
            add_one_way(one_way, s->pts + k->first, k->n, o->one_way_axis, i);
    }
}

/* Runs --------------------------------------------------------------------------------------- */

typedef struct {
    const DtStrokes *strokes;
    const DtCost *cost;
    const DtRouteOptions *o;
    DtSequence *out;
    double done; /* of all strokes, 0 to 1 */
    DtPoint at;  /* position of the pen */
} Routing;

/* A point before the piece, below its start along the axis by the length of the run-in, and at
 * least as far on the side from which the other axis first moves, so that its slack is taken up,
 * too: in the direction of the piece's first rise, but at most this many times as far to the
 * side. Never below home, where the switch is. */
#define RUN_IN_SIDE 4

static DtPoint run_in_before(const DtPiece *p, const DtRouteOptions *o)
{
    DtPoint start = dt_piece_start(p);
    double side = 0;
    for (size_t k = 1; k < dt_piece_count(p) && side == 0; k++) {
        DtPoint to = dt_point_sub(dt_piece_at(p, k), start);
        double rise = along_axis(to, o->one_way_axis), aside = along_axis(to, !o->one_way_axis);
        if (aside != 0)
            side = copysign(CLAMP(fabs(aside) / MAX(rise, 1e-9), 1, RUN_IN_SIDE), aside);
    }
    DtPoint d = o->one_way_axis ? dt_point(side, 1) : dt_point(1, side);
    DtPoint from = dt_point_sub(start, dt_point_scale(d, o->run_in));
    return dt_point(MAX(from.x, MIN(0, start.x)), MAX(from.y, MIN(0, start.y)));
}

static void draw_piece(Routing *r, const DtPiece *p, unsigned pen, gboolean joined,
                       gboolean one_way)
{
    DtSequence *out = r->out;
    if (!joined) {
        dt_sequence_begin(out, pen, p->stroke);
        if (one_way) {
            out->polylines[out->n - 1].has_run_in = TRUE;
            out->polylines[out->n - 1].run_in = run_in_before(p, r->o);
        }
    }
    for (size_t k = 0; k < dt_piece_count(p); k++) {
        DtPoint at = dt_piece_at(p, k);
        if (k > 0 || !joined || !same(out->pts[out->n_pts - 1], at))
            dt_sequence_point(out, at);
    }
    r->at = dt_piece_end(p);
}

/* Orders one set, with its share of the budget. */
static void share_budget(Routing *r, size_t n, DtPiecesTask *task)
{
    double share = (double)n / (double)MAX(r->strokes->n, n);
    task->start = r->at;
    task->seed = r->o->seed;
    task->budget_s = r->o->budget_s * share;
    task->kicks = r->o->iterations; /* their sum may exceed the range of a double */
    if (share < 1)
        task->kicks = (uint64_t)((double)task->kicks * share + 0.5);
    task->from = r->done;
    r->done += share;
    task->to = r->done;
}

/* Orders one set of pieces and draws it. */
static void draw_pieces(Routing *r, DtPieces *set, unsigned pen, DtPiecesTask task)
{
    if (set->n == 0)
        return;
    /* A join would lose the slack again. */
    DtMetric m = dt_metric_of_cost(r->cost, task.directed ? -1 : r->o->join);
    share_budget(r, set->n, &task);
    if (!r->o->keep_order)
        dt_pieces_order(&m, set->p, set->n, &task);
    for (size_t i = 0; i < set->n && !dt_work_stopped(); i++) {
        gboolean joined = FALSE;
        if (i > 0) {
            DtPoint a = r->at, b = dt_piece_start(&set->p[i]);
            double dx = a.x - b.x, dy = a.y - b.y;
            joined = dx * dx + dy * dy <= m.join2;
        }
        draw_piece(r, &set->p[i], pen, joined, task.directed);
    }
}

/* Draws sections in their order, with their links. */
static void draw_sections(Routing *r, const DtLinks *l, const DtPiece *pieces, size_t n,
                          unsigned pen)
{
    g_autoptr(GArray) way = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        DtPassage link = {.kind = DT_LINK_LIFT};
        if (i > 0)
            link = dt_links_between(l, dt_piece_last_end(&pieces[i - 1]),
                                    dt_piece_first_end(&pieces[i]));
        if (link.kind == DT_LINK_RETRACE) {
            g_array_set_size(way, 0);
            dt_links_points(l, &link, way);
            for (guint k = 0; k < way->len; k++)
                if (!same(r->out->pts[r->out->n_pts - 1], g_array_index(way, DtPoint, k)))
                    dt_sequence_point(r->out, g_array_index(way, DtPoint, k));
            r->out->retraced++;
            r->out->retraced_mm += dt_links_path(l, link.path)->mm;
        }
        draw_piece(r, &pieces[i], pen, link.kind != DT_LINK_LIFT, FALSE);
    }
}

/* Share of all ink of a pen that may be retraced. */
static const double most_retraced = 0.05;

static double ink_mm(const DtPieces *set)
{
    double sum = 0;
    for (size_t i = 0; i < set->n; i++)
        for (size_t k = 1; k < dt_piece_count(&set->p[i]); k++)
            sum += dt_point_distance(dt_piece_at(&set->p[i], k - 1), dt_piece_at(&set->p[i], k));
    return sum;
}

/* Cut where they meet, and ordered section by section. FALSE if nothing meets, or there is too
 * much. */
static gboolean draw_cut(Routing *r, const DtPieces *set, unsigned pen, DtPiecesTask task)
{
    DtSections s;
    if (!dt_sections_cut(set, r->o->join, &s))
        return FALSE;
    if (s.n_contacts == 0) {
        dt_sections_clear(&s);
        return FALSE;
    }
    g_autoptr(DtLinks) l = dt_links_new(&s, r->cost, r->o->join, r->o->retrace);
    g_autofree DtPiece *pieces = g_memdup2(s.set.p, s.set.n * sizeof *pieces);
    for (size_t i = 0; i < s.set.n; i++)
        pieces[i].section = (uint32_t)i;
    share_budget(r, set->n, &task);
    dt_links_order(l, pieces, s.set.n, &task, most_retraced * ink_mm(set));
    draw_sections(r, l, pieces, s.set.n, pen);
    r->out->is_cut = TRUE;
    dt_sections_clear(&s);
    return TRUE;
}

static void draw_pen(Routing *r, unsigned pen, DtPoint end)
{
    DtPieces one_way = {0}, turning = {0};
    const DtPiecesTask last = {.end = end};
    g_autoptr(GPtrArray) opened = g_ptr_array_new_with_free_func(g_free);
    gather(r->strokes, pen, r->o, &one_way, &turning, opened);
    draw_pieces(r, &one_way, pen,
                (DtPiecesTask){.end = end, .end_anywhere = turning.n > 0, .directed = TRUE});
    if (!r->o->cut || r->o->keep_order || turning.n == 0 || !draw_cut(r, &turning, pen, last)) {
        if (!r->o->keep_order)
            dt_pieces_splice(&turning, r->o->join, opened);
        draw_pieces(r, &turning, pen, last);
    }
    g_free(one_way.p);
    g_free(turning.p);
}

gboolean dt_route_order(const DtStrokes *strokes, const DtCost *cost, const DtRack *rack,
                        const DtRouteOptions *o, DtSequence *out, GError **error)
{
    if (!check_cost(cost, error) || !check_options(o, error) ||
        !check_strokes(strokes, rack, error))
        return FALSE;
    Routing r = {.strokes = strokes, .cost = cost, .o = o, .out = out, .at = o->start};
    g_autoptr(GArray) turns = pens_in_turn(strokes, rack, o->light_first);
    for (guint i = 0; i < turns->len && !dt_work_stopped(); i++) {
        gboolean last = i + 1 == turns->len;
        draw_pen(&r, g_array_index(turns, PenTurn, i).pen, last ? o->end : o->change_at);
        r.at = o->change_at;
    }
    dt_work_report(1);
    return dt_work_check(error);
}
