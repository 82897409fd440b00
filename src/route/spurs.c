/* spurs: short strokes that the pen draws out and back, from a stroke that it is drawing anyway.
 *
 * At a place where two ends meet the pen goes on from one to the other. What is left over there by
 * parity, or ends on the middle of another stroke, costs a lift and a move otherwise. Stroke by stroke,
 * the shortest first, one becomes a spur where one of its ends is free and something goes on past the
 * other; its neighbours are then looked at without it, so that a twig's twigs do not count as an end
 * that leads on. */
#include "route/splice.h"

#include "drawtrue/work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ROUNDS = 6, MOST_EDGES = 4000000, MOST_MET = 64 };

/* Of all ink: so much may be gone over twice. */
static const double most_share = 0.05;

typedef struct {
    uint64_t cell;
    uint32_t piece, edge;
} Entry;

typedef struct {
    const DtPieces *set;
    double join, cell;
    Entry *entry;
    size_t n;
    uint8_t *is_spur;
} Spurs;

/* What an end of a piece meets. */
typedef struct {
    uint32_t self;
    DtPoint at;
    guint ends;             /* ends of other open pieces */
    gboolean through;       /* another piece goes on past it */
    uint64_t met[MOST_MET]; /* edges near it, each once though it lies in several cells */
    guint n_met;
} Meeting;

static size_t edges_of(const DtPiece *p)
{
    return p->closed ? p->n : p->n - 1;
}

static DtPoint vertex(const DtPiece *p, size_t i)
{
    return p->pts[i < p->n ? i : i - p->n];
}

static uint64_t cell_key(const Spurs *s, double x, double y)
{
    const int64_t i = (int64_t)floor(x / s->cell), k = (int64_t)floor(y / s->cell);
    return (uint64_t)(uint32_t)(int32_t)i << 32 | (uint32_t)(int32_t)k;
}

static int by_cell(const void *x, const void *y)
{
    const Entry *a = x, *b = y;
    if (a->cell != b->cell)
        return a->cell < b->cell ? -1 : 1;
    if (a->piece != b->piece)
        return a->piece < b->piece ? -1 : 1;
    return (a->edge > b->edge) - (a->edge < b->edge);
}

static void enter_edge(const Spurs *s, GArray *entries, uint32_t piece, uint32_t edge)
{
    const DtPiece *p = &s->set->p[piece];
    const DtPoint a = vertex(p, edge), b = vertex(p, edge + 1);
    const int n = 1 + (int)(2 * dt_point_distance(a, b) / s->cell);
    uint64_t last = G_MAXUINT64;
    for (int i = 0; i <= n; i++) {
        const DtPoint at = dt_point_lerp(a, b, (double)i / n);
        const Entry e = {cell_key(s, at.x, at.y), piece, edge};
        if (e.cell != last)
            g_array_append_val(entries, e);
        last = e.cell;
    }
}

static gboolean fill_grid(Spurs *s)
{
    size_t edges = 0;
    for (size_t i = 0; i < s->set->n; i++)
        edges += edges_of(&s->set->p[i]);
    if (edges > MOST_EDGES)
        return FALSE;
    GArray *entries = g_array_new(FALSE, FALSE, sizeof(Entry));
    for (size_t i = 0; i < s->set->n; i++)
        for (size_t e = 0; e < edges_of(&s->set->p[i]); e++)
            enter_edge(s, entries, (uint32_t)i, (uint32_t)e);
    s->n = entries->len;
    s->entry = (Entry *)(void *)g_array_free(entries, FALSE);
    qsort(s->entry, s->n, sizeof *s->entry, by_cell);
    return TRUE;
}

static size_t first_of(const Spurs *s, uint64_t cell)
{
    size_t low = 0, high = s->n;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if (s->entry[middle].cell < cell)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static void meet(const Spurs *s, const Entry *e, Meeting *m)
{
    const DtPiece *p = &s->set->p[e->piece];
    const double join2 = s->join * s->join;
    const uint64_t id = (uint64_t)e->piece << 32 | e->edge;
    if (e->piece == m->self || s->is_spur[e->piece])
        return;
    for (guint i = 0; i < m->n_met; i++)
        if (m->met[i] == id)
            return;
    const DtPoint a = vertex(p, e->edge), b = vertex(p, e->edge + 1);
    if (dt_point_segment_distance(m->at, a, b) > s->join)
        return;
    if (m->n_met < MOST_MET)
        m->met[m->n_met++] = id;
    gboolean at_end = FALSE;
    for (int k = 0; k < 2 && !p->closed; k++) {
        const DtPoint end = p->pts[k ? p->n - 1 : 0], d = dt_point_sub(end, m->at);
        const gboolean ends_here = dt_point_dot(d, d) <= join2;
        /* each end is counted by the edge that it belongs to */
        m->ends += ends_here && e->edge == (k ? p->n - 2 : 0);
        at_end |= ends_here;
    }
    m->through |= !at_end;
}

/* Looks around in the cells within the join. */
static Meeting meeting_at(const Spurs *s, uint32_t piece, DtPoint at)
{
    Meeting m;
    m.self = piece;
    m.at = at;
    m.ends = m.n_met = 0;
    m.through = FALSE;
    uint64_t seen[9];
    int n = 0;
    for (int k = 0; k < 9; k++) {
        const uint64_t cell =
            cell_key(s, at.x + (k % 3 - 1) * s->join, at.y + (k / 3 - 1) * s->join);
        gboolean known = FALSE;
        for (int j = 0; j < n; j++)
            known |= seen[j] == cell;
        if (known)
            continue;
        seen[n++] = cell;
        for (size_t i = first_of(s, cell); i < s->n && s->entry[i].cell == cell; i++)
            meet(s, &s->entry[i], &m);
    }
    return m;
}

static gboolean is_free(const Meeting *m)
{
    return m->ends == 0 && !m->through;
}

static gboolean may_be_spur(const Spurs *s, uint32_t i)
{
    const DtPiece *p = &s->set->p[i];
    const Meeting a = meeting_at(s, i, p->pts[0]), b = meeting_at(s, i, p->pts[p->n - 1]);
    if (is_free(&a) == is_free(&b))
        return FALSE;
    const Meeting *base = is_free(&a) ? &b : &a;
    return base->ends % 2 == 0 && (base->through || base->ends > 0); /* others go on in pairs */
}

typedef struct {
    double length;
    uint32_t piece;
} Short;

static int shortest_first(const void *x, const void *y)
{
    const Short *a = x, *b = y;
    if (a->length != b->length)
        return a->length < b->length ? -1 : 1;
    return (a->piece > b->piece) - (a->piece < b->piece);
}

static double length_of(const DtPiece *p)
{
    double sum = 0;
    for (size_t e = 0; e < edges_of(p); e++)
        sum += dt_point_distance(vertex(p, e), vertex(p, e + 1));
    return sum;
}

static GArray *find_short(const DtPieces *set, double longest, double *ink)
{
    GArray *found = g_array_new(FALSE, FALSE, sizeof(Short));
    for (size_t i = 0; i < set->n; i++) {
        const Short k = {length_of(&set->p[i]), (uint32_t)i};
        *ink += k.length;
        if (!set->p[i].closed && set->p[i].n > 1 && k.length <= longest)
            g_array_append_val(found, k);
    }
    g_array_sort(found, shortest_first);
    return found;
}

size_t dt_spurs_find(const DtPieces *set, double join, double longest, uint8_t *is_spur)
{
    Spurs s = {.set = set, .join = join, .cell = MAX(1, 4 * join), .is_spur = is_spur};
    double ink = 0, twice = 0;
    size_t n = 0;
    memset(is_spur, 0, set->n);
    g_autoptr(GArray) shorts = find_short(set, longest, &ink);
    if (shorts->len == 0 || longest <= 0 || !fill_grid(&s))
        return 0;
    gboolean changed = TRUE;
    for (int round = 0; round < ROUNDS && changed; round++) {
        changed = FALSE;
        for (guint k = 0; k < shorts->len && !dt_work_stopped(); k++) {
            const Short *c = &g_array_index(shorts, Short, k);
            if (is_spur[c->piece] || twice + c->length > most_share * ink ||
                !may_be_spur(&s, c->piece))
                continue;
            is_spur[c->piece] = 1;
            twice += c->length;
            changed = TRUE;
            n++;
        }
    }
    g_free(s.entry);
    return n;
}
