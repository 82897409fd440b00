/* dedupe: shared borders and doubled paths. All segments are listed by direction, and for each
 * range of directions in a grid of long and narrow cells that lie along them; each segment then
 * searches its cells for earlier ones that run along it. */
#include "ink/dedupe.h"

#include "drawtrue/work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A cell along and across its sector's direction, mm. */
#define CELL_LENGTH 1.0
#define CELL_WIDTH 0.1
/* Parallel enough: the sine between the directions. */
#define PARALLEL 0.1
/* Sectors of the half turn, and a little more than PARALLEL in sectors. */
#define SECTORS 16
#define SECTORS_APART 0.52
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

/* A segment in short, as there may be millions of them. */
typedef struct {
    double from;
    uint32_t point, stroke; /* a is this point of the stroke */
} Brief;

/* The cell from x to x + 1 cell lengths along the middle direction of a sector, and from y to y + 1
 * cell widths across it. */
typedef struct {
    int32_t x, y, sector;
} Cell;

/* A segment in a cell: the line that it lies on, across its sector. */
typedef struct {
    uint32_t segment;
    float at, rise; /* mm in the middle of the cell's length; mm per mm */
} Entry;

typedef struct {
    double from, to;
} Part;

typedef struct {
    const DtStrokes *strokes;
    double tolerance;
    DtPoint along[SECTORS];     /* the middle direction of each sector: along x, along y, ... */
    size_t n_segments[SECTORS]; /* in each sector */
    GArray *segments;           /* Brief */
    /* Cells share a list by chance, which costs time alone. List i, by rising segments, is
     * entries[first[i]] to entries[first[i+1]-1]. */
    int list_bits;
    uint32_t *first;
    Entry *entries;
    uint32_t *seen; /* of each segment: 0: not kept, or the query that last examined it */
    uint32_t query;
    GArray *parts; /* Part: of the current stroke, already drawn, as lengths along it */
} Dedupe;

static Segment segment_of(const Dedupe *d, uint32_t i)
{
    const Brief *k = &g_array_index(d->segments, Brief, i);
    const DtStroke *s = &d->strokes->strokes[k->stroke];
    const DtPoint *p = d->strokes->pts + s->first;
    const DtPoint a = p[k->point], b = p[k->point + 1 < s->n ? k->point + 1 : 0];
    return (Segment){a, b, dt_point_distance(a, b), k->from, k->stroke, s->pen};
}

/* From a to b, of length 1. */
static DtPoint way_of(const Segment *k)
{
    return dt_point_scale(dt_point_sub(k->b, k->a), 1 / k->length);
}

/* The direction in sectors, those about the middle of sector 0 being -0.5 to 0.5, or that and
 * SECTORS more or less. */
static double turn_of(const Segment *k)
{
    return atan2(k->b.y - k->a.y, k->b.x - k->a.x) / G_PI * SECTORS;
}

static int sector_of(double turn)
{
    return ((int)lround(turn) + 2 * SECTORS) % SECTORS;
}

/* Cells --------------------------------------------------------------------------------------- */

/* A segment as seen along a sector's direction. */
typedef struct {
    int sector;
    DtPoint from, to; /* x along, y across; from.x <= to.x */
    double rise;      /* mm across per mm along */
} Slanted;

static Slanted slant(const Dedupe *d, const Segment *q, int sector)
{
    const DtPoint along = d->along[sector];
    const DtPoint a = {dt_point_dot(along, q->a), dt_point_cross(along, q->a)};
    const DtPoint b = {dt_point_dot(along, q->b), dt_point_cross(along, q->b)};
    const double rise = (b.y - a.y) / (b.x - a.x);
    return a.x < b.x ? (Slanted){sector, a, b, rise} : (Slanted){sector, b, a, rise};
}

static double across(const Slanted *s, double x)
{
    return s->from.y + (x - s->from.x) * s->rise;
}

/* What is called for a cell; `at`: where the segment's line is in the middle of its length.
 * FALSE: no more cells. */
typedef gboolean (*CellFunc)(Dedupe *d, Cell c, double at, const Slanted *s, gpointer user);

/* Every cell within `by` of the segment, column by column. */
static void each_cell(Dedupe *d, const Slanted *s, double by, CellFunc f, gpointer user)
{
    const int32_t first = (int32_t)floor((s->from.x - by) / CELL_LENGTH);
    const int32_t last = (int32_t)floor((s->to.x + by) / CELL_LENGTH);
    for (int32_t x = first; x <= last; x++) {
        const double left = MAX(s->from.x, x * CELL_LENGTH - by);
        const double right = MIN(s->to.x, (x + 1) * CELL_LENGTH + by);
        const double y0 = across(s, left), y1 = across(s, right);
        const int32_t low = (int32_t)floor((MIN(y0, y1) - by) / CELL_WIDTH);
        const int32_t high = (int32_t)floor((MAX(y0, y1) + by) / CELL_WIDTH);
        for (int32_t y = low; y <= high; y++)
            if (!f(d, (Cell){x, y, s->sector}, across(s, (x + 0.5) * CELL_LENGTH), s, user))
                return;
    }
}

/* Cells that lie together have lists that lie together, as a segment asks several of them. */
static size_t list_of(const Dedupe *d, Cell c)
{
    enum { BITS = 30, SECTOR_BITS = 4, COLUMN_BITS = 2, ROW_BITS = 3 };
    const uint64_t mask = ((uint64_t)1 << BITS) - 1, x = (uint32_t)c.x & mask,
                   y = (uint32_t)c.y & mask;
    const uint64_t block =
        (x >> COLUMN_BITS << BITS | y >> ROW_BITS) << SECTOR_BITS | (uint64_t)(uint32_t)c.sector;
    const uint64_t within =
        (x & ((1 << COLUMN_BITS) - 1)) << ROW_BITS | (y & ((1 << ROW_BITS) - 1));
    const int block_bits = d->list_bits - COLUMN_BITS - ROW_BITS;
    /* Knuth 1973, 6.4 */
    return (size_t)(block * 0x9e3779b97f4a7c15u >> (64 - block_bits) << (COLUMN_BITS + ROW_BITS) |
                    within);
}

static gboolean count_entry(Dedupe *d, Cell c, double at, const Slanted *s, gpointer user)
{
    (void)at, (void)s, (void)user;
    d->first[list_of(d, c) + 2]++;
    return TRUE;
}

static gboolean put_entry(Dedupe *d, Cell c, double at, const Slanted *s, gpointer user)
{
    const uint32_t segment = *(const uint32_t *)user;
    d->entries[d->first[list_of(d, c) + 1]++] = (Entry){segment, (float)at, (float)s->rise};
    return TRUE;
}

static void each_entry(Dedupe *d, CellFunc f)
{
    for (uint32_t i = 0; i < d->segments->len && !dt_work_stopped(); i++) {
        const Segment q = segment_of(d, i);
        const Slanted s = slant(d, &q, sector_of(turn_of(&q)));
        each_cell(d, &s, 0, f, &i);
    }
}

static void make_lists(Dedupe *d)
{
    d->list_bits = 8;
    while ((guint)1 << d->list_bits < d->segments->len)
        d->list_bits++;
    const size_t n = (size_t)1 << d->list_bits;
    d->first = g_new0(uint32_t, n + 2);
    each_entry(d, count_entry);
    for (size_t i = 1; i < n + 2; i++)
        d->first[i] += d->first[i - 1];
    d->entries = g_new(Entry, d->first[n + 1] + 1);
    each_entry(d, put_entry);
    d->seen = g_new0(uint32_t, d->segments->len + 1);
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

/* Adds the part of q along k; TRUE if that is the whole of q. */
static gboolean overlap(Dedupe *d, const Segment *q, const Segment *k)
{
    const DtPoint way = way_of(k);
    if (fabs(dt_point_cross(way, way_of(q))) > PARALLEL)
        return FALSE;
    DtPoint a = dt_point_sub(q->a, k->a), b = dt_point_sub(q->b, k->a);
    double lo = 0, hi = 1;
    narrow(dt_point_cross(way, a), dt_point_cross(way, b), -d->tolerance, d->tolerance, &lo, &hi);
    if (lo >= hi)
        return FALSE;
    narrow(dt_point_dot(way, a), dt_point_dot(way, b), -d->tolerance, k->length + d->tolerance, &lo,
           &hi);
    if (lo >= hi)
        return FALSE;
    Part p = {q->from + lo * q->length, q->from + hi * q->length};
    g_array_append_val(d->parts, p);
    return lo == 0 && hi == 1;
}

/* Whether q merely continues k on the same stroke. */
static gboolean follows(const Segment *q, const Segment *k)
{
    return k->stroke == q->stroke && q->from - k->from - k->length < FAR_BACK &&
           dt_point_dot(dt_point_sub(k->b, k->a), dt_point_sub(q->b, q->a)) > 0;
}

typedef struct {
    const Segment *segment;
    uint32_t number;
    double by;      /* farther apart than this (mm), lines do not overlap */
    gboolean drawn; /* the whole segment is */
} Query;

/* Whether two lines may be within `by` of one another in a cell. */
static gboolean may_meet(const Entry *e, double at, const Slanted *s, double by)
{
    return fabs(e->at - at) <= by + fabs(e->rise - s->rise) * (CELL_LENGTH / 2 + by);
}

static gboolean ask_cell(Dedupe *d, Cell c, double at, const Slanted *s, gpointer user)
{
    Query *q = user;
    const size_t list = list_of(d, c);
    for (uint32_t i = d->first[list]; i < d->first[list + 1] && !q->drawn; i++) {
        const Entry *e = &d->entries[i];
        if (e->segment >= q->number)
            break;
        if (!may_meet(e, at, s, q->by) || d->seen[e->segment] == 0 ||
            d->seen[e->segment] == d->query)
            continue;
        const Segment k = segment_of(d, e->segment);
        if (k.pen != q->segment->pen || follows(q->segment, &k))
            continue;
        d->seen[e->segment] = d->query;
        q->drawn = overlap(d, q->segment, &k);
    }
    return !q->drawn;
}

/* Finds the parts of a segment that run along earlier ones: those are within the tolerance
 * across, and beyond their ends. */
static void ask(Dedupe *d, uint32_t number, const Segment *segment)
{
    const double turn = turn_of(segment);
    /* A little more, for the rounding of an entry's numbers. */
    Query q = {segment, number, G_SQRT2 * d->tolerance + 0.001, FALSE};
    d->query++;
    for (long i = lround(turn - SECTORS_APART); i <= lround(turn + SECTORS_APART) && !q.drawn;
         i++) {
        const int sector = sector_of((double)i);
        const Slanted s = slant(d, segment, sector);
        if (d->n_segments[sector] > 0)
            each_cell(d, &s, q.by, ask_cell, &q);
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

/* Finds the parts of a stroke, whose segments are number `first` to `end` - 1, that are drawn
 * already. The rest is kept as it is passed, so that a stroke that retraces itself is found too.
 * Returns its length. */
static double find_parts(Dedupe *d, uint32_t first, uint32_t end)
{
    double length = 0;
    g_array_set_size(d->parts, 0);
    for (uint32_t i = first; i < end && !dt_work_stopped(); i++) {
        const Segment q = segment_of(d, i);
        const guint before = d->parts->len;
        length = q.from + q.length;
        ask(d, i, &q);
        d->seen[i] = is_covered(d, before, q.from, length) ? 0 : d->query;
    }
    return length;
}

static Walk walk_along(const DtStrokes *s, size_t i)
{
    const DtStroke *st = &s->strokes[i];
    return (Walk){s->pts + st->first, st->n, st->closed ? st->n : st->n - 1, st->closed != 0};
}

/* Lists the segments of a stroke. */
static void add_segments(Dedupe *d, size_t stroke)
{
    const Walk w = walk_along(d->strokes, stroke);
    double from = 0;
    for (size_t i = 0; i < w.segments; i++) {
        const double length = dt_point_distance(walk_point(&w, i), walk_point(&w, i + 1));
        const Brief b = {from, (uint32_t)i, (uint32_t)stroke};
        if (length > 0) {
            g_array_append_val(d->segments, b);
            const Segment q = segment_of(d, d->segments->len - 1);
            d->n_segments[sector_of(turn_of(&q))]++;
        }
        from += length;
    }
}

/* A stroke whose segments begin with number *next, which is then that of the next stroke. */
static void take_stroke(Dedupe *d, size_t i, double tip, uint32_t *next, DtStrokes *out)
{
    const DtStroke *st = &d->strokes->strokes[i];
    const Walk w = walk_along(d->strokes, i);
    const uint32_t first = *next;
    while (*next < d->segments->len && g_array_index(d->segments, Brief, *next).stroke == i)
        ++*next;
    const double length = find_parts(d, first, *next);
    unite(d->parts, 2 * d->tolerance, MIN(tip, length / 2));
    if (d->parts->len == 0)
        dt_strokes_append(out, w.pts, st->n, st->closed != 0, (DtInkKind)st->kind, st->pen,
                          st->shape);
    else
        append_rest(d, &w, length, 2 * d->tolerance, st, out);
}

/* Whether parts of a stroke may be left out. */
static gboolean may_thin(const DtStrokes *s, size_t i, size_t first)
{
    return i >= first && s->strokes[i].kind != DT_INK_FILL && s->strokes[i].n > 1;
}

void dt_dedupe_strokes(DtStrokes *s, size_t first, const DtRack *rack, double tolerance)
{
    Dedupe d = {.strokes = s, .tolerance = tolerance};
    for (int i = 0; i < SECTORS; i++)
        d.along[i] = dt_point(cos(i * G_PI / SECTORS), sin(i * G_PI / SECTORS));
    d.segments = g_array_new(FALSE, FALSE, sizeof(Brief));
    d.parts = g_array_new(FALSE, FALSE, sizeof(Part));
    for (size_t i = first; i < s->n && !dt_work_stopped(); i++)
        if (may_thin(s, i, first))
            add_segments(&d, i);
    make_lists(&d);
    DtStrokes out;
    dt_strokes_init(&out);
    uint32_t next = 0;
    for (size_t i = 0; i < s->n && !dt_work_stopped(); i++) {
        const DtStroke *st = &s->strokes[i];
        if (may_thin(s, i, first))
            take_stroke(&d, i, rack->pens[st->pen].tip, &next, &out);
        else
            dt_strokes_append(&out, s->pts + st->first, st->n, st->closed != 0, (DtInkKind)st->kind,
                              st->pen, st->shape);
    }
    dt_strokes_clear(s);
    *s = out;
    g_array_free(d.segments, TRUE);
    g_array_free(d.parts, TRUE);
    g_free(d.first);
    g_free(d.entries);
    g_free(d.seen);
}
