/* sweep: one line for each part of each strip of a region. The region is cut into strips as wide as
 * the pen, and each strip into its connected parts; the pen passes along the middle of the strip as
 * far as the part extends, and from part to adjacent part along the edge between them, as in the
 * boustrophedon decomposition (Choset and Pignon 1997). A line that ended at the edge of the pen's
 * own path along the edge would be longer by half a tip at both ends, and ink this twice.
 *
 * Why no point is farther than half a pitch from the region: a part is connected, so that across
 * from each point of its line, within the strip, there is a point of it. */
#include "ink/fill/sweep.h"

#include "drawtrue/work.h"
#include "ink/fill/hatch.h"

#include <math.h>
#include <string.h>

/* Beyond the region's extent, so that no border of a strip touches it, mm. */
#define BEYOND 1e-6
/* Joins keep this share of half a pitch from the region: the rest is for rounding. */
#define JOIN_FLAT 0.95
/* A join costs the pen this many times its length more if it does not lead on in the direction of
 * the sweep: parts that are left behind need a start of their own. */
#define BACKWARD 1.5

/* A crossing counts as nearer to the line than it is by this factor. */
#define RATHER 0.9

enum { LEFT, RIGHT };

/* The edge from a crossing to the next one on its ring: points 1 to n lie between them. */
typedef struct {
    uint32_t from, to; /* crossings */
    size_t n;
    size_t far[2]; /* the points at the least and at the greatest u: 0 is `from`, n + 1 is `to` */
    double u[2];   /* there */
} Stretch;

/* A connected part of a strip. */
typedef struct {
    int32_t strip;
    double u[2]; /* its extent */
    gboolean used;
    guint first, n; /* of its borders */
} Part;

typedef struct {
    const DtLines *region; /* rotated, strips along x */
    DtHatching h;          /* the borders of strips */
    double reach;
    Stretch *stretch;             /* by order of the rings */
    uint32_t *leaving, *arriving; /* by crossing: the stretches that begin and end there */
    uint32_t *node;      /* by side of an interval, 2 i below and 2 i + 1 above: its part */
    double *u[2];        /* by the same while parts are made */
    GArray *parts;       /* Part */
    GArray *borders;     /* uint32_t: interval of each part's border */
    GArray *join, *best; /* DtPoint: scratch */
} Sweep;

static Part *part_at(const Sweep *s, uint32_t i)
{
    return &g_array_index(s->parts, Part, i);
}

static double line_of(const Sweep *s, int32_t strip)
{
    return s->h.grid.shift + (strip + 0.5) * s->h.grid.pitch;
}

/* Parts -------------------------------------------------------------------------------------- */

static uint32_t root_of(uint32_t *parent, uint32_t i)
{
    while (parent[i] != i)
        i = parent[i] = parent[parent[i]];
    return i;
}

/* The side of a crossing's interval on which the ring lies before or after it. */
static uint32_t side_before(const Sweep *s, uint32_t crossing)
{
    return 2 * (crossing / 2) + (s->h.c[crossing].way < 0);
}

static uint32_t side_after(const Sweep *s, uint32_t crossing)
{
    return 2 * (crossing / 2) + (s->h.c[crossing].way > 0);
}

static int32_t strip_of(const Sweep *s, uint32_t side)
{
    return s->h.c[side & ~1u].line - ((side & 1) == 0);
}

static DtPoint stretch_point(const Sweep *s, const Stretch *t, size_t k)
{
    if (k == 0 || k > t->n)
        return dt_hatch_point(&s->h, &s->h.c[k == 0 ? t->from : t->to]);
    const DtCrossing *c = &s->h.c[t->from];
    return dt_lines_at(s->region, c->ring)[(c->edge + k) % dt_lines_count(s->region, c->ring)];
}

static size_t points_between(const Sweep *s, const DtCrossing *a, const DtCrossing *b)
{
    const size_t n = dt_lines_count(s->region, a->ring), k = (b->edge + n - a->edge) % n;
    const gboolean around = k == 0 && a->way * a->line >= b->way * b->line;
    return around ? n : k;
}

/* Takes point k, at p, if it is farther on one side than those before it; of several that are
 * equally far the one nearest the strip's line, and rather a crossing. */
static void take_farthest(Stretch *t, int end, size_t k, DtPoint p, double line, double *from_line)
{
    const double farther = end == LEFT ? t->u[end] - p.x : p.x - t->u[end];
    const double away = fabs(p.y - line) * (k > t->n ? RATHER : 1);
    if (farther > BEYOND || (farther > -BEYOND && away < *from_line)) {
        t->u[end] = farther > 0 ? p.x : t->u[end];
        t->far[end] = k;
        *from_line = away;
    }
}

/* FALSE if the ring is not in one strip from one crossing to the next: somewhere in between two
 * crossings fell on one point. */
static gboolean add_stretch(Sweep *s, size_t i, uint32_t from, uint32_t to)
{
    const int32_t strip = strip_of(s, side_after(s, from));
    if (strip_of(s, side_before(s, to)) != strip)
        return FALSE;
    const double line = line_of(s, strip), half = s->h.grid.pitch / 2;
    double from_line[2] = {RATHER * half, RATHER * half};
    Stretch *t = &s->stretch[i];
    *t = (Stretch){.from = from, .to = to, .n = points_between(s, &s->h.c[from], &s->h.c[to])};
    t->u[LEFT] = t->u[RIGHT] = s->h.c[from].u;
    for (size_t k = 1; k <= t->n + 1; k++) {
        const DtPoint p = stretch_point(s, t, k);
        if (fabs(p.y - line) > half + BEYOND)
            return FALSE;
        take_farthest(t, LEFT, k, p, line, &from_line[LEFT]);
        take_farthest(t, RIGHT, k, p, line, &from_line[RIGHT]);
    }
    s->leaving[from] = s->arriving[to] = (uint32_t)i;
    return TRUE;
}

static gboolean make_stretches(Sweep *s)
{
    const size_t n = 2 * s->h.n;
    g_autofree uint32_t *order = g_new(uint32_t, n + 1);
    dt_hatch_order_along(&s->h, order);
    for (size_t i = 0, first = 0; i < n; i++) {
        const uint32_t ring = s->h.c[order[i]].ring;
        if (i > 0 && s->h.c[order[i - 1]].ring != ring)
            first = i;
        const gboolean last = i + 1 == n || s->h.c[order[i + 1]].ring != ring;
        if (!add_stretch(s, i, order[i], order[last ? first : i + 1]))
            return FALSE;
    }
    return TRUE;
}

static void widen(Sweep *s, uint32_t node, double low, double high)
{
    s->u[LEFT][node] = MIN(s->u[LEFT][node], low);
    s->u[RIGHT][node] = MAX(s->u[RIGHT][node], high);
}

/* Rings between two borders are parts of their own, or holes that no part's extent depends on. */
static void add_islands(Sweep *s)
{
    g_autofree uint8_t *crossed = g_new0(uint8_t, s->region->n + 1);
    for (size_t i = 0; i < 2 * s->h.n; i++)
        crossed[s->h.c[i].ring] = 1;
    for (size_t r = 0; r < s->region->n; r++) {
        if (crossed[r] || dt_lines_area(s->region, r) <= 0)
            continue;
        const DtPoint *p = dt_lines_at(s->region, r);
        Part part = {.u = {p[0].x, p[0].x}};
        part.strip = (int32_t)floor((p[0].y - s->h.grid.shift) / s->h.grid.pitch);
        for (size_t k = 1; k < dt_lines_count(s->region, r); k++) {
            part.u[LEFT] = MIN(part.u[LEFT], p[k].x);
            part.u[RIGHT] = MAX(part.u[RIGHT], p[k].x);
        }
        g_array_append_val(s->parts, part);
    }
}

/* Lists the borders of each part. */
static void add_borders(Sweep *s)
{
    const size_t n = 2 * s->h.n;
    guint sum = 0;
    for (size_t i = 0; i < n; i++)
        part_at(s, s->node[i])->n++;
    for (guint i = 0; i < s->parts->len; i++) {
        part_at(s, i)->first = sum;
        sum += part_at(s, i)->n;
        part_at(s, i)->n = 0;
    }
    g_array_set_size(s->borders, sum);
    for (size_t i = 0; i < n; i++) {
        Part *p = part_at(s, s->node[i]);
        g_array_index(s->borders, uint32_t, p->first + p->n++) = (uint32_t)i / 2;
    }
}

static void make_parts(Sweep *s)
{
    const uint32_t n = (uint32_t)(2 * s->h.n);
    g_autofree uint32_t *parent = g_new(uint32_t, n + 1);
    g_autofree uint32_t *part = g_new(uint32_t, n + 1);
    s->u[LEFT] = g_new(double, n + 1);
    s->u[RIGHT] = g_new(double, n + 1);
    for (uint32_t i = 0; i < n; i++) {
        parent[i] = i;
        part[i] = UINT32_MAX;
        s->u[LEFT][i] = G_MAXDOUBLE;
        s->u[RIGHT][i] = -G_MAXDOUBLE;
    }
    for (uint32_t i = 0; i < n; i++) {
        const Stretch *t = &s->stretch[i];
        const uint32_t a = root_of(parent, side_after(s, t->from)),
                       b = root_of(parent, side_before(s, t->to));
        parent[MAX(a, b)] = MIN(a, b);
    }
    for (uint32_t i = 0; i < n; i++)
        widen(s, root_of(parent, side_after(s, s->stretch[i].from)), s->stretch[i].u[LEFT],
              s->stretch[i].u[RIGHT]);
    for (uint32_t i = 0; i < n; i++) {
        const uint32_t root = root_of(parent, i);
        if (part[root] == UINT32_MAX) {
            const Part p = {.strip = strip_of(s, i), .u = {s->u[LEFT][root], s->u[RIGHT][root]}};
            part[root] = s->parts->len;
            g_array_append_val(s->parts, p);
        }
        s->node[i] = part[root];
    }
    add_borders(s);
    add_islands(s);
}

/* Joins -------------------------------------------------------------------------------------- */

static void add_to_join(Sweep *s, DtPoint p)
{
    g_array_append_val(s->join, p);
}

static double join_length(const GArray *join)
{
    double sum = 0;
    for (guint i = 1; i < join->len; i++)
        sum +=
            dt_point_distance(g_array_index(join, DtPoint, i - 1), g_array_index(join, DtPoint, i));
    return sum;
}

/* The edge on one side of a border, seen from a crossing at its end: stretch, and whether it is
 * passed from its beginning. */
static const Stretch *edge_from(const Sweep *s, uint32_t crossing, gboolean above,
                                gboolean *forward)
{
    *forward = (s->h.c[crossing].way > 0) == above;
    return &s->stretch[*forward ? s->leaving[crossing] : s->arriving[crossing]];
}

/* Adds the points of an edge that lie between two of them. */
static void add_edge(Sweep *s, const Stretch *t, size_t from, size_t to)
{
    while (from != to) {
        if (from > 0 && from <= t->n)
            add_to_join(s, stretch_point(s, t, from));
        from = from < to ? from + 1 : from - 1;
    }
    if (to > 0 && to <= t->n)
        add_to_join(s, stretch_point(s, t, to));
}

/* The join from the line of one part to that of the adjacent part across a border, at the left or
 * the right: to the edge's farthest point in one strip, along the edge to that in the other one. */
static void make_join(Sweep *s, uint32_t interval, gboolean upwards, int end)
{
    const uint32_t crossing = 2 * interval + (end == RIGHT);
    const int32_t line = s->h.c[crossing].line;
    gboolean forward;
    const Stretch *t = edge_from(s, crossing, !upwards, &forward);
    g_array_set_size(s->join, 0);
    add_to_join(s, dt_point(t->u[end], line_of(s, upwards ? line - 1 : line)));
    add_edge(s, t, t->far[end], forward ? 0 : t->n + 1);
    add_to_join(s, stretch_point(s, t, forward ? 0 : t->n + 1));
    t = edge_from(s, crossing, upwards, &forward);
    add_edge(s, t, forward ? 0 : t->n + 1, t->far[end]);
    add_to_join(s, dt_point(t->u[end], line_of(s, upwards ? line : line - 1)));
}

/* The best part to go on with from the end of one; UINT32_MAX if there is none. */
static uint32_t best_join(Sweep *s, uint32_t from, int end)
{
    const Part *a = part_at(s, from);
    uint32_t best = UINT32_MAX;
    double least = G_MAXDOUBLE;
    for (guint i = 0; i < a->n; i++) {
        const uint32_t interval = g_array_index(s->borders, uint32_t, a->first + i);
        const gboolean upwards = s->node[2 * interval] == from;
        const uint32_t other = s->node[2 * interval + (upwards ? 1 : 0)];
        if (part_at(s, other)->used)
            continue;
        make_join(s, interval, upwards, end);
        const DtPoint *p = (const DtPoint *)(const void *)s->join->data;
        const double length = join_length(s->join) + fabs(a->u[end] - p[0].x) +
                              fabs(part_at(s, other)->u[end] - p[s->join->len - 1].x);
        const double cost = length * (upwards ? 1 : BACKWARD);
        if (length > s->reach || cost >= least)
            continue;
        least = cost;
        best = other;
        GArray *t = s->best;
        s->best = s->join;
        s->join = t;
    }
    return best;
}

static void add_point(DtLines *out, DtPoint p)
{
    if (out->first[out->n] == out->first[out->n - 1] ||
        dt_point_distance(p, out->pts[out->n_pts - 1]) > BEYOND)
        dt_lines_point(out, p);
}

static void draw_join(const Sweep *s, DtLines *out)
{
    const DtPoint *p = (const DtPoint *)(const void *)s->best->data;
    const guint n = s->best->len;
    add_point(out, p[0]);
    dt_hatch_add_bends(p + 1, n - 2, p[0], p[n - 1], JOIN_FLAT * s->h.grid.pitch / 2, out);
    add_point(out, p[n - 1]);
}

static void follow(Sweep *s, uint32_t i, DtLines *out)
{
    dt_lines_begin(out);
    for (int from = LEFT; i != UINT32_MAX; from = 1 - from) {
        Part *part = part_at(s, i);
        const double v = line_of(s, part->strip);
        part->used = TRUE;
        add_point(out, dt_point(part->u[from], v));
        add_point(out, dt_point(part->u[1 - from], v));
        i = best_join(s, i, 1 - from);
        if (i != UINT32_MAX)
            draw_join(s, out);
    }
}

/* Strips ------------------------------------------------------------------------------------- */

static void clear_sweep(Sweep *s)
{
    dt_hatching_clear(&s->h);
    g_free(s->stretch);
    g_free(s->leaving);
    g_free(s->arriving);
    g_free(s->node);
    g_free(s->u[LEFT]);
    g_free(s->u[RIGHT]);
    g_array_free(s->parts, TRUE);
    g_array_free(s->borders, TRUE);
    g_array_free(s->join, TRUE);
    g_array_free(s->best, TRUE);
}

/* Strips of the same height, not above the pitch, over the region's extent. */
static DtHatchGrid strips_over(const DtLines *rotated, double pitch)
{
    const DtBox b = dt_lines_box(rotated);
    const double height = dt_box_height(b) + 2 * BEYOND;
    return (DtHatchGrid){0, height / ceil(height / pitch), b.y0 - BEYOND};
}

gboolean dt_fill_sweep(const DtLines *bare, double angle, double pitch, double reach, DtLines *out,
                       gboolean *done, GError **error)
{
    *done = TRUE;
    if (bare->n_pts == 0)
        return TRUE;
    g_auto(DtLines) region, lines;
    dt_lines_init(&lines);
    dt_lines_copy(&region, bare);
    dt_lines_transform(&region, dt_affine_rotate(-angle));
    Sweep s = {.region = &region, .reach = reach};
    if (!dt_hatch_lines(&region, DT_FILL_NONZERO, strips_over(&region, pitch), &s.h, error))
        return FALSE;
    const size_t n = 2 * s.h.n + 1;
    s.stretch = g_new(Stretch, n);
    s.leaving = g_new(uint32_t, n);
    s.arriving = g_new(uint32_t, n);
    s.node = g_new(uint32_t, n);
    s.parts = g_array_new(FALSE, FALSE, sizeof(Part));
    s.borders = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    s.join = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    s.best = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    *done = make_stretches(&s);
    if (*done) {
        make_parts(&s);
        for (uint32_t i = 0; i < s.parts->len && !dt_work_stopped(); i++)
            if (!part_at(&s, i)->used)
                follow(&s, i, &lines);
        dt_lines_transform(&lines, dt_affine_rotate(angle));
        dt_lines_append_lines(out, &lines);
    }
    clear_sweep(&s);
    return dt_work_check(error);
}
