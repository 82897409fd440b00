/* dedupe: shared borders and doubled paths. Kept segments are stored in a grid of cells, by
 * direction within each cell; each new segment searches its cells for kept ones that run along
 * it. */
#include "ink/dedupe.h"

#include "drawtrue/work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CELL 1.0
/* Parallel enough: the sine between the directions. */
#define PARALLEL 0.1
/* Sectors of the half turn, each wider than that: what is parallel lies in the same one or the next. */
#define SECTORS 16
/* What a stroke drew just before, in the same direction, does not count: only what lies at least
 * this far back (mm). */
#define FAR_BACK 1.0

typedef struct {
    DtPoint a, b;
    double length;
    double from; /* length of its stroke up to a */
    uint32_t stroke;
    uint16_t pen;
} Segment;

/* A segment that was kept, as there may be millions of them. */
typedef struct {
    double from;
    uint32_t point, stroke; /* a is this point of the stroke */
} Kept;

/* From a to b, of length 1. */
static DtPoint way_of(const Segment *k)
{
    return dt_point_scale(dt_point_sub(k->b, k->a), 1 / k->length);
}

typedef struct {
    int32_t x, y, sector;
} Cell;

/* The kept segments in a cell: entries from `first` to `last`. */
typedef struct {
    uint32_t first, last;
} List;

typedef struct {
    uint32_t id, next; /* index into kept; entry, NONE after the last */
} Entry;

#define NONE G_MAXUINT32

typedef struct {
    double from, to;
} Part;

typedef struct {
    const DtStrokes *strokes;
    double tolerance;
    GArray *kept;      /* Kept */
    GHashTable *cells; /* Cell, as one number -> 1 + its list */
    GArray *lists;     /* List, of each cell */
    GArray *entries;   /* Entry */
    GArray *seen;      /* uint32_t: the query that last examined each kept one */
    uint32_t query;
    GArray *parts; /* Part: of the current stroke, already drawn, as lengths along it */
} Dedupe;

static Segment kept_segment(const Dedupe *d, uint32_t id)
{
    const Kept *k = &g_array_index(d->kept, Kept, id);
    const DtStroke *s = &d->strokes->strokes[k->stroke];
    const DtPoint *p = d->strokes->pts + s->first;
    const DtPoint a = p[k->point], b = p[k->point + 1 < s->n ? k->point + 1 : 0];
    return (Segment){a, b, dt_point_distance(a, b), k->from, k->stroke, s->pen};
}

static guint cell_hash(gconstpointer key)
{
    const uint64_t mixed = (uint64_t)(uintptr_t)key * 0x9e3779b97f4a7c15u; /* Knuth 1973, 6.4 */
    return (guint)(mixed >> 32);
}

static gpointer cell_key(Cell c)
{
    enum { BITS = 30, SECTOR_BITS = 4 };
    const uint64_t mask = ((uint64_t)1 << BITS) - 1;
    const uint64_t place =
        ((uint64_t)(uint32_t)c.x & mask) << BITS | ((uint64_t)(uint32_t)c.y & mask);
    return (gpointer)(uintptr_t)(place << SECTOR_BITS | (uint64_t)(uint32_t)c.sector);
}

/* Of the direction, either way along it. */
static int32_t sector_of(DtPoint way)
{
    const double turn = atan2(way.y, way.x) / G_PI * SECTORS; /* -SECTORS to SECTORS */
    return ((int32_t)floor(turn) + 2 * SECTORS) % SECTORS;
}

static gboolean cell_equal(const Cell *a, const Cell *b)
{
    return a->x == b->x && a->y == b->y;
}

/* Cells --------------------------------------------------------------------------------------- */

typedef void (*CellFunc)(Dedupe *d, Cell c, gpointer user);

/* Every cell within `by` of the segment: those of the box of each piece about a cell long. */
static void each_cell(Dedupe *d, DtPoint a, DtPoint b, double by, CellFunc f, gpointer user)
{
    int n = MAX(1, (int)ceil(dt_point_distance(a, b) / CELL));
    Cell last = {INT32_MIN, INT32_MIN, 0};
    for (int i = 0; i < n; i++) {
        DtPoint p = dt_point_lerp(a, b, (double)i / n), q = dt_point_lerp(a, b, (i + 1.0) / n);
        Cell lo = {(int32_t)floor((MIN(p.x, q.x) - by) / CELL),
                   (int32_t)floor((MIN(p.y, q.y) - by) / CELL), 0};
        Cell hi = {(int32_t)floor((MAX(p.x, q.x) + by) / CELL),
                   (int32_t)floor((MAX(p.y, q.y) + by) / CELL), 0};
        for (int32_t y = lo.y; y <= hi.y; y++)
            for (int32_t x = lo.x; x <= hi.x; x++) {
                Cell c = {x, y, 0};
                if (!cell_equal(&c, &last))
                    f(d, c, user);
                last = c;
            }
    }
}

static void put_in_cell(Dedupe *d, Cell c, gpointer user)
{
    const Entry entry = {d->kept->len - 1, NONE};
    c.sector = sector_of(way_of(user));
    const uint32_t number = d->entries->len;
    const guint known = GPOINTER_TO_UINT(g_hash_table_lookup(d->cells, cell_key(c)));
    if (known == 0) {
        const List fresh = {number, number};
        g_array_append_val(d->lists, fresh);
        g_hash_table_insert(d->cells, cell_key(c), GUINT_TO_POINTER(d->lists->len));
    } else {
        List *list = &g_array_index(d->lists, List, known - 1);
        Entry *last = &g_array_index(d->entries, Entry, list->last);
        if (last->id == entry.id)
            return;
        last->next = list->last = number;
    }
    g_array_append_val(d->entries, entry);
}

static void keep(Dedupe *d, Segment *q, size_t point)
{
    const Kept k = {q->from, (uint32_t)point, q->stroke};
    const uint32_t none = 0;
    g_array_append_val(d->kept, k);
    g_array_append_val(d->seen, none);
    each_cell(d, q->a, q->b, 0, put_in_cell, q);
}

/* Overlaps ---------------------------------------------------------------------------------- */

/* Narrows [lo, hi] to where v0 + t * (v1 - v0) is within the limits. */
static void narrow(double v0, double v1, double least, double most, double *lo, double *hi)
{
    double d = v1 - v0;
    if (d == 0) {
        if (v0 < least || v0 > most)
            *hi = -1;
        return;
    }
    double t0 = (least - v0) / d, t1 = (most - v0) / d;
    *lo = MAX(*lo, MIN(t0, t1));
    *hi = MIN(*hi, MAX(t0, t1));
}

static void overlap(Dedupe *d, const Segment *q, const Segment *k)
{
    const DtPoint way = way_of(k);
    if (fabs(dt_point_cross(way, way_of(q))) > PARALLEL)
        return;
    DtPoint a = dt_point_sub(q->a, k->a), b = dt_point_sub(q->b, k->a);
    double lo = 0, hi = 1;
    narrow(dt_point_cross(way, a), dt_point_cross(way, b), -d->tolerance, d->tolerance, &lo, &hi);
    if (lo >= hi)
        return;
    narrow(dt_point_dot(way, a), dt_point_dot(way, b), -d->tolerance, k->length + d->tolerance, &lo,
           &hi);
    if (lo >= hi)
        return;
    Part p = {q->from + lo * q->length, q->from + hi * q->length};
    g_array_append_val(d->parts, p);
}

/* Whether q merely continues k on the same stroke. */
static gboolean follows(const Segment *q, const Segment *k)
{
    return k->stroke == q->stroke && q->from - k->from - k->length < FAR_BACK &&
           dt_point_dot(dt_point_sub(k->b, k->a), dt_point_sub(q->b, q->a)) > 0;
}

static void ask_sector(Dedupe *d, Cell c, const Segment *q)
{
    const guint known = GPOINTER_TO_UINT(g_hash_table_lookup(d->cells, cell_key(c)));
    uint32_t at = known > 0 ? g_array_index(d->lists, List, known - 1).first : NONE;
    for (; at != NONE; at = g_array_index(d->entries, Entry, at).next) {
        uint32_t id = g_array_index(d->entries, Entry, at).id;
        uint32_t *seen = &g_array_index(d->seen, uint32_t, id);
        if (*seen == d->query)
            continue;
        const Segment k = kept_segment(d, id);
        if (k.pen != q->pen || follows(q, &k))
            continue;
        *seen = d->query;
        overlap(d, q, &k);
    }
}

static void ask_cell(Dedupe *d, Cell c, gpointer user)
{
    const Segment *q = user;
    const int32_t sector = sector_of(way_of(q));
    for (int32_t side = SECTORS - 1; side <= SECTORS + 1; side++) {
        c.sector = (sector + side) % SECTORS;
        ask_sector(d, c, q);
    }
}

static int by_from(const void *a, const void *b)
{
    double p = ((const Part *)a)->from, q = ((const Part *)b)->from;
    return (p > q) - (p < q);
}

/* Merges parts that meet, and drops those shorter than `least`. */
static void unite(GArray *parts, double gap, double least)
{
    g_array_sort(parts, by_from);
    Part *p = (Part *)(void *)parts->data;
    guint n = 0, kept = 0;
    for (guint i = 0; i < parts->len; i++)
        if (n > 0 && p[i].from <= p[n - 1].to + gap)
            p[n - 1].to = MAX(p[n - 1].to, p[i].to);
        else
            p[n++] = p[i];
    for (guint i = 0; i < n; i++)
        if (p[i].to - p[i].from >= least)
            p[kept++] = p[i];
    g_array_set_size(parts, kept);
}

/* Strokes ----------------------------------------------------------------------------------- */

typedef struct {
    const DtPoint *pts;
    size_t n, segments;
    gboolean closed;
} Walk;

static DtPoint walk_point(const Walk *w, size_t i)
{
    return w->pts[i % w->n];
}

/* A position on a walk along a stroke: the first segment that may extend beyond it. */
typedef struct {
    size_t segment;
    double at; /* length up to it */
} Reached;

/* Appends the walk from one length along it to another, which is no farther back than what was
 * reached. */
static void append_stretch(const Walk *w, double from, double to, const DtStroke *like, Reached *r,
                           DtStrokes *out)
{
    g_autoptr(GArray) pts = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (; r->segment < w->segments && r->at < to; r->segment++) {
        DtPoint a = walk_point(w, r->segment), b = walk_point(w, r->segment + 1);
        const double length = dt_point_distance(a, b), at = r->at, end = at + length;
        if (end > from && length > 0) {
            DtPoint p = dt_point_lerp(a, b, MAX(0, (from - at) / length));
            DtPoint q = dt_point_lerp(a, b, MIN(1, (to - at) / length));
            if (pts->len == 0)
                g_array_append_val(pts, p);
            g_array_append_val(pts, q);
        }
        if (end > to) /* the next stretch may begin on this segment */
            break;
        r->at = end;
    }
    if (pts->len > 1)
        dt_strokes_append(out, (const DtPoint *)(const void *)pts->data, pts->len, FALSE,
                          (DtInkKind)like->kind, like->pen, like->shape);
}

/* Appends what remains between the parts as strokes; slivers shorter than `least` are dropped. */
static void append_rest(Dedupe *d, const Walk *w, double length, double least, const DtStroke *like,
                        DtStrokes *out)
{
    double at = 0;
    Reached reached = {0, 0};
    for (guint i = 0; i <= d->parts->len; i++) {
        gboolean last = i == d->parts->len;
        double end = last ? length : g_array_index(d->parts, Part, i).from;
        if (end - at > least)
            append_stretch(w, at, end, like, &reached, out);
        if (!last)
            at = g_array_index(d->parts, Part, i).to;
    }
}

/* Whether one of the parts from `first` on contains the whole segment. */
static gboolean is_covered(const Dedupe *d, guint first, double from, double to)
{
    for (guint i = first; i < d->parts->len; i++) {
        const Part *p = &g_array_index(d->parts, Part, i);
        if (p->from <= from + 1e-9 && p->to >= to - 1e-9)
            return TRUE;
    }
    return FALSE;
}

/* Finds the parts of the stroke that are drawn already. The rest is kept as it is passed, so
 * that a stroke that retraces itself is found too. */
static double find_parts(Dedupe *d, const Walk *w, uint16_t pen, size_t id)
{
    double from = 0;
    g_array_set_size(d->parts, 0);
    for (size_t i = 0; i < w->segments && !dt_work_stopped(); i++) {
        DtPoint a = walk_point(w, i), b = walk_point(w, i + 1);
        double length = dt_point_distance(a, b);
        guint before = d->parts->len;
        if (length == 0)
            continue;
        Segment q = {a, b, length, from, (uint32_t)id, pen};
        d->query++;
        each_cell(d, a, b, d->tolerance, ask_cell, &q);
        if (!is_covered(d, before, from, from + length))
            keep(d, &q, i);
        from += length;
    }
    return from;
}

static void take_stroke(Dedupe *d, const DtStrokes *s, size_t i, double tip, DtStrokes *out)
{
    const DtStroke *st = &s->strokes[i];
    const DtPoint *p = s->pts + st->first;
    Walk w = {p, st->n, st->closed ? st->n : st->n - 1, st->closed != 0};
    double length = find_parts(d, &w, st->pen, i);
    unite(d->parts, 2 * d->tolerance, MIN(tip, length / 2));
    if (d->parts->len == 0)
        dt_strokes_append(out, p, st->n, st->closed != 0, (DtInkKind)st->kind, st->pen, st->shape);
    else
        append_rest(d, &w, length, 2 * d->tolerance, st, out);
}

void dt_dedupe_strokes(DtStrokes *s, size_t first, const DtRack *rack, double tolerance)
{
    Dedupe d = {.strokes = s, .tolerance = tolerance};
    d.kept = g_array_new(FALSE, FALSE, sizeof(Kept));
    d.cells = g_hash_table_new(cell_hash, NULL);
    d.lists = g_array_new(FALSE, FALSE, sizeof(List));
    d.entries = g_array_new(FALSE, FALSE, sizeof(Entry));
    d.seen = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    d.parts = g_array_new(FALSE, FALSE, sizeof(Part));
    DtStrokes out;
    dt_strokes_init(&out);
    for (size_t i = 0; i < s->n && !dt_work_stopped(); i++) {
        const DtStroke *st = &s->strokes[i];
        if (i < first || st->kind == DT_INK_FILL || st->n < 2)
            dt_strokes_append(&out, s->pts + st->first, st->n, st->closed != 0, (DtInkKind)st->kind,
                              st->pen, st->shape);
        else
            take_stroke(&d, s, i, rack->pens[st->pen].tip, &out);
    }
    dt_strokes_clear(s);
    *s = out;
    g_array_free(d.kept, TRUE);
    g_hash_table_unref(d.cells);
    g_array_free(d.lists, TRUE);
    g_array_free(d.entries, TRUE);
    g_array_free(d.seen, TRUE);
    g_array_free(d.parts, TRUE);
}
