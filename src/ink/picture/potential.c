/* potential: lines around a picture's shapes, spaced by tone: the level sets of a potential that
 * rises by one over the distance tip / share (the eikonal equation), by fast sweeping. */
#include "ink/picture/flow.h"

#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

/* Sweeps, each in four orders. */
enum { SWEEPS = 3 };
/* Shares below this count as zero. */
#define LEAST_SHARE 0.015
#define FAR_AWAY 1e9
/* Lines shorter than this many tips are dropped. */
#define SHORTEST_TIPS 3

typedef struct {
    const DtShareGrid *g;
    double *rise; /* the potential of each place */
    double tip;
} Potential;

static double rise_at(const Potential *p, int x, int y)
{
    const DtShareGrid *g = p->g;
    return x < 0 || y < 0 || x >= g->w || y >= g->h ? 0
                                                    : p->rise[(size_t)y * (size_t)g->w + (size_t)x];
}

/* The value of a place from its neighbours' (Zhao 2005, "A fast sweeping method for eikonal
 * equations"). */
static void update(Potential *p, int x, int y)
{
    size_t i = (size_t)y * (size_t)p->g->w + (size_t)x;
    double f = MAX((double)p->g->share[i], LEAST_SHARE) / p->tip * p->g->step;
    double a = MIN(rise_at(p, x - 1, y), rise_at(p, x + 1, y));
    double b = MIN(rise_at(p, x, y - 1), rise_at(p, x, y + 1));
    double v = fabs(a - b) >= f ? MIN(a, b) + f : (a + b + sqrt(2 * f * f - (a - b) * (a - b))) / 2;
    p->rise[i] = MIN(p->rise[i], v);
}

static void sweep(Potential *p)
{
    int w = p->g->w, h = p->g->h;
    for (int way = 0; way < 4 && !dt_work_stopped(); way++)
        for (int k = 0; k < h; k++)
            for (int i = 0; i < w; i++)
                update(p, way & 1 ? w - 1 - i : i, way & 2 ? h - 1 - k : k);
}

/* Segments --------------------------------------------------------------------------------- */

/* Where a level crosses the edge between two neighbouring places: the lower place, the way to the other
 * and the level tell it. */
typedef struct {
    int32_t x, y, down, level;
} End;

typedef struct {
    End end[2];
    gboolean used;
} Segment;

static guint end_hash(gconstpointer key)
{
    const End *e = key;
    return (guint)e->x * 73856093u ^ (guint)e->y * 19349663u ^ (guint)e->level * 83492791u ^
           (guint)e->down;
}

static gboolean end_equal(gconstpointer a, gconstpointer b)
{
    return memcmp(a, b, sizeof(End)) == 0;
}

static DtPoint end_point(const Potential *p, const End *e)
{
    double a = rise_at(p, e->x, e->y), b = rise_at(p, e->x + !e->down, e->y + e->down);
    double t = CLAMP((e->level + 0.5 - a) / (b - a), 0, 1);
    return dt_share_grid_point(p->g, e->x + (e->down ? 0 : t), e->y + (e->down ? t : 0));
}

static int level_above(double rise)
{
    return (int)ceil(rise - 0.5);
}

/* The segments of one level in a cell: one, or two at a saddle. */
static void cut_cell(const Potential *p, int x, int y, int level, GArray *out)
{
    static const int dx[4] = {0, 1, 1, 0}, dy[4] = {0, 0, 1, 1};
    End ends[4];
    int n = 0;
    for (int i = 0; i < 4; i++) {
        int k = (i + 1) % 4;
        double a = rise_at(p, x + dx[i], y + dy[i]), b = rise_at(p, x + dx[k], y + dy[k]);
        if ((a > level + 0.5) != (b > level + 0.5))
            ends[n++] = (End){x + MIN(dx[i], dx[k]), y + MIN(dy[i], dy[k]), dy[i] != dy[k], level};
    }
    for (int i = 0; i + 1 < n; i += 2) {
        Segment s = {{ends[i], ends[i + 1]}, FALSE};
        g_array_append_val(out, s);
    }
}

static GArray *cut_all(const Potential *p)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof(Segment));
    for (int y = 0; y + 1 < p->g->h; y++)
        for (int x = 0; x + 1 < p->g->w; x++) {
            double v[4] = {rise_at(p, x, y), rise_at(p, x + 1, y), rise_at(p, x + 1, y + 1),
                           rise_at(p, x, y + 1)};
            double lo = MIN(MIN(v[0], v[1]), MIN(v[2], v[3]));
            double hi = MAX(MAX(v[0], v[1]), MAX(v[2], v[3]));
            for (int level = level_above(lo); level + 0.5 < hi; level++)
                cut_cell(p, x, y, level, out);
        }
    return out;
}

/* Up to two segments meet at an end: their numbers plus one. */
typedef struct {
    guint at[2];
} Meeting;

static GHashTable *find_meetings(const GArray *segments)
{
    GHashTable *t = g_hash_table_new_full(end_hash, end_equal, NULL, g_free);
    for (guint i = 0; i < segments->len; i++)
        for (int k = 0; k < 2; k++) {
            Segment *s = &g_array_index(segments, Segment, i);
            Meeting *m = g_hash_table_lookup(t, &s->end[k]);
            if (!m)
                g_hash_table_insert(t, &s->end[k], m = g_new0(Meeting, 1));
            m->at[m->at[0] ? 1 : 0] = i + 1;
        }
    return t;
}

/* Follows the line on from one end of a segment. */
static void run_on(const Potential *p, const GArray *segments, GHashTable *meetings, End from,
                   DtLines *out)
{
    for (;;) {
        const Meeting *m = g_hash_table_lookup(meetings, &from);
        Segment *next = NULL;
        for (int k = 0; k < 2 && !next; k++) {
            Segment *s = m->at[k] ? &g_array_index(segments, Segment, m->at[k] - 1) : NULL;
            next = s && !s->used ? s : NULL;
        }
        if (!next)
            return;
        next->used = TRUE;
        from = end_equal(&next->end[0], &from) ? next->end[1] : next->end[0];
        dt_lines_point(out, end_point(p, &from));
    }
}

static void join_lines(const Potential *p, const GArray *segments, DtLines *out)
{
    g_autoptr(GHashTable) meetings = find_meetings(segments);
    for (int pass = 0; pass < 2; pass++) /* open lines from their ends, then closed ones */
        for (guint i = 0; i < segments->len; i++) {
            Segment *s = &g_array_index(segments, Segment, i);
            for (int k = 0; k < 2 && !s->used; k++) {
                const Meeting *m = g_hash_table_lookup(meetings, &s->end[k]);
                if (pass == 0 && m->at[1])
                    continue;
                g_auto(DtLines) line;
                dt_lines_init(&line);
                dt_lines_begin(&line);
                dt_lines_point(&line, end_point(p, &s->end[k]));
                run_on(p, segments, meetings, s->end[k], &line);
                if (dt_lines_total_length(&line) >= SHORTEST_TIPS * p->tip)
                    dt_lines_append_lines(out, &line);
            }
        }
}

void dt_contour_lines(const DtShareGrid *g, double tip, DtLines *out)
{
    if (g->w < 2 || g->h < 2)
        return;
    size_t n = (size_t)g->w * (size_t)g->h;
    Potential p = {.g = g, .rise = g_new(double, n), .tip = tip};
    for (size_t i = 0; i < n; i++)
        p.rise[i] = FAR_AWAY;
    for (int i = 0; i < SWEEPS; i++)
        sweep(&p);
    g_autoptr(GArray) segments = cut_all(&p);
    join_lines(&p, segments, out);
    g_free(p.rise);
}
