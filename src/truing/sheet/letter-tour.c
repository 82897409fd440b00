/* letter-tour: the lettering of a sheet in the order that takes the least time. It is never measured, so it may
 * be drawn in any order and direction, but only before a mark that comes to its place by a reversal of its own: others
 * rely on the mark before them. */
#include "truing/sheet/sheet-parts.h"

static gboolean is_letter(const DtMark *m)
{
    return m->kind == DT_MARK_LETTER;
}

/* Whether what comes before a mark does not matter to it. */
static gboolean stands_alone(const DtMark *m)
{
    return !dt_mark_is_stroke(m) ||
           (!is_letter(m) && !m->needs_no_reversal && (m->approach[0] != 0 || m->approach[1] != 0));
}

/* Whether the second belongs to the group of marks of the first one, after which its letters are drawn. */
static gboolean stay_together(const DtMark *a, const DtMark *b, gboolean has_letters)
{
    return dt_mark_is_stroke(a) && dt_mark_is_stroke(b) && a->pen == b->pen &&
           !(has_letters && stands_alone(b));
}

/* The letters of some marks, in one piece each. */
static void gather(const DtMark *m, size_t n, DtStrokes *out)
{
    g_autofree DtPoint *pts = g_new(DtPoint, n + 1);
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_letter(&m[i]))
            continue;
        if (count == 0)
            pts[count++] = m[i].from;
        if (m[i].to.x != m[i].from.x || m[i].to.y != m[i].from.y) /* else a dot */
            pts[count++] = m[i].to;
        if (i + 1 < n && is_letter(&m[i + 1]) && m[i].to.x == m[i + 1].from.x &&
            m[i].to.y == m[i + 1].from.y)
            continue;
        dt_strokes_append(out, pts, count, FALSE, DT_INK_OUTLINE, m[i].pen, -1);
        count = 0;
    }
}

static void add_runs(DtTestSheet *s, const DtSequence *q, const DtMark *like)
{
    for (size_t i = 0; i < q->n; i++) {
        const DtPolyline *r = &q->polylines[i];
        for (size_t k = 0; k + 1 < MAX(r->n, 2); k++) {
            DtMark m = dt_sheet_mark(DT_MARK_LETTER, like->part, -1, q->pts[r->first + k],
                                     q->pts[r->first + MIN(k + 1, r->n - 1)]);
            m.pen = like->pen;
            dt_sheet_add(s, &m);
        }
    }
}

/* Of the order search, for each stroke: a sheet has many groups of few letters, and more gain nothing. */
enum { ITERATIONS = 40 };

/* `next`: where the machine goes afterwards. */
static gboolean add_group(DtTestSheet *s, const DtProfile *p, const DtMark *m, size_t n,
                          DtPoint next, GError **error)
{
    const DtMark *letter = NULL;
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.start = m[0].from;
    o.end = next;
    for (size_t i = 0; i < n; i++)
        if (is_letter(&m[i])) {
            letter = &m[i];
        } else {
            dt_sheet_add(s, &m[i]);
            o.start = m[i].to;
        }
    if (letter == NULL)
        return TRUE;
    g_auto(DtStrokes) strokes;
    g_auto(DtSequence) q;
    const DtCost cost = dt_profile_cost(p);
    dt_strokes_init(&strokes);
    dt_sequence_init(&q);
    gather(m, n, &strokes);
    o.iterations = MIN(o.iterations, ITERATIONS * strokes.n);
    if (!dt_route_order(&strokes, &cost, &p->rack, &o, &q, error))
        return FALSE;
    add_runs(s, &q, letter);
    return TRUE;
}

gboolean dt_sheet_tour_letters(DtTestSheet *s, const DtProfile *p, GError **error)
{
    g_autofree DtMark *m = s->marks;
    const size_t n = s->n;
    s->marks = NULL;
    s->n = s->cap = 0;
    for (size_t from = 0, to; from < n; from = to) {
        gboolean has_letters = is_letter(&m[from]);
        for (to = from + 1; to < n && stay_together(&m[to - 1], &m[to], has_letters); to++)
            has_letters |= is_letter(&m[to]);
        const DtPoint next = to == n                     ? p->park
                             : dt_mark_is_stroke(&m[to]) ? m[to].from
                                                         : p->change_at;
        if (!add_group(s, p, m + from, to - from, next, error))
            return FALSE;
    }
    return TRUE;
}
