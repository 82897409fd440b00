/* fastest: chooses kind and direction of the hatch, field by field. */
#include "ink/fill/fastest.h"

#include "drawtrue/work.h"
#include "ink/look/parts.h"

#include <limits.h>
#include <math.h>
#include <string.h>

/* Pieces of more points than this are hatched in the usual direction: a better one would save
 * little of their time. */
enum { MOST_POINTS = 20000 };
/* Points of lines that are tried in one field, in all: in a field of more pieces the rest takes the way
 * that won most often. It is twice what an elaborate drawing needs, and takes about a second. */
#define MOST_TRIED 200000
/* Pieces smaller than this many squares of the tip that are not long take a few short lines in
 * any direction: they are hatched in the usual one. */
#define SMALL_TIPS 9.0
#define COMPACT 20.0
/* Another way must save at least this share of the time. */
#define WORTH 0.01
/* Rings up to this many pitches apart are joined. */
#define BESIDE 1.25
/* A piece whose extents differ by less than this has no long side. */
#define ROUND 1.15

/* Rings into one another --------------------------------------------------------------------- */

typedef struct {
    DtBox box;
    gboolean used;
} Ring;

/* A place on a ring: between point i and the next. */
typedef struct {
    size_t i;
    DtPoint at;
    double distance;
} Place;

static Place nearest_on(const DtLines *l, size_t ring, DtPoint p)
{
    const DtPoint *q = dt_lines_at(l, ring);
    const size_t n = dt_lines_count(l, ring);
    Place best = {0, q[0], G_MAXDOUBLE};
    for (size_t i = 0; i < n; i++) {
        const DtPoint a = q[i], d = dt_point_sub(q[(i + 1) % n], a);
        const double length2 = dt_point_dot(d, d);
        const double f =
            length2 > 0 ? CLAMP(dt_point_dot(dt_point_sub(p, a), d) / length2, 0, 1) : 0;
        const DtPoint at = dt_point_add(a, dt_point_scale(d, f));
        const double away = dt_point_distance(at, p);
        if (away < best.distance)
            best = (Place){i, at, away};
    }
    return best;
}

/* Once round a ring from a place on it. */
static void go_round(const DtLines *l, size_t ring, Place from, DtLines *out)
{
    const DtPoint *q = dt_lines_at(l, ring);
    const size_t n = dt_lines_count(l, ring);
    dt_lines_point(out, from.at);
    for (size_t k = 1; k <= n; k++) {
        const DtPoint next = q[(from.i + k) % n];
        if (dt_point_distance(next, out->pts[out->n_pts - 1]) > 0)
            dt_lines_point(out, next);
    }
    if (dt_point_distance(from.at, out->pts[out->n_pts - 1]) > 0)
        dt_lines_point(out, from.at);
}

/* The nearest unused ring beside a place. */
static gboolean find_beside(const DtLines *l, const Ring *rings, DtPoint at, double reach,
                            size_t *ring, Place *place)
{
    double least = reach;
    gboolean found = FALSE;
    for (size_t i = 0; i < l->n; i++) {
        if (rings[i].used || !dt_box_contains(dt_box_grow(rings[i].box, least), at))
            continue;
        const Place p = nearest_on(l, i, at);
        if (p.distance <= least) {
            least = p.distance;
            *ring = i;
            *place = p;
            found = TRUE;
        }
    }
    return found;
}

/* Goes round rings outwards from a place, as an outer ring is beside all of an inner one, but not
 * the other way round. */
static void go_outwards(const DtLines *l, Ring *rings, DtPoint at, double pitch, DtLines *out)
{
    size_t next;
    Place to;
    while (find_beside(l, rings, at, BESIDE * pitch, &next, &to)) {
        rings[next].used = TRUE;
        go_round(l, next, to, out);
        at = to.at;
    }
}

/* A line, from its other end on if only its beginning is beside a ring, and the rings around it. */
static void go_from_line(const DtLines *inside, size_t i, const DtLines *l, Ring *rings,
                         double pitch, DtLines *out)
{
    const DtPoint *p = dt_lines_at(inside, i);
    const size_t n = dt_lines_count(inside, i);
    size_t ring;
    Place place;
    const gboolean back = !find_beside(l, rings, p[n - 1], BESIDE * pitch, &ring, &place) &&
                          find_beside(l, rings, p[0], BESIDE * pitch, &ring, &place);
    dt_lines_begin(out);
    for (size_t k = 0; k < n; k++)
        dt_lines_point(out, p[back ? n - 1 - k : k]);
    go_outwards(l, rings, out->pts[out->n_pts - 1], pitch, out);
}

/* The innermost rings come last. */
void dt_fill_chain_rings(const DtLines *inside, const DtLines *l, double pitch, DtLines *out)
{
    g_autofree Ring *rings = g_new0(Ring, l->n + 1);
    for (size_t i = 0; i < l->n; i++) {
        rings[i].box = DT_BOX_EMPTY;
        rings[i].used = !l->closed[i] || dt_lines_count(l, i) < 3;
        for (size_t k = 0; k < dt_lines_count(l, i); k++)
            rings[i].box = dt_box_add_point(rings[i].box, dt_lines_at(l, i)[k]);
        if (rings[i].used)
            dt_lines_append(out, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0);
    }
    for (size_t i = 0; i < inside->n; i++)
        go_from_line(inside, i, l, rings, pitch, out);
    for (size_t i = l->n; i-- > 0 && !dt_work_stopped();) {
        size_t next;
        Place to;
        if (rings[i].used)
            continue;
        const Place from = {0, dt_lines_at(l, i)[0], 0};
        rings[i].used = TRUE;
        if (!find_beside(l, rings, from.at, BESIDE * pitch, &next, &to)) {
            dt_lines_append(out, dt_lines_at(l, i), dt_lines_count(l, i), TRUE);
            continue;
        }
        dt_lines_begin(out);
        go_round(l, i, from, out);
        go_outwards(l, rings, from.at, pitch, out);
    }
}

/* Choosing ----------------------------------------------------------------------------------- */

/* The direction of a piece's longest extent, by the second moments of its outline; FALSE if it
 * has none. */
static gboolean long_side(const DtLines *piece, double *angle)
{
    double length = 0, x = 0, y = 0, xx = 0, yy = 0, xy = 0;
    for (size_t r = 0; r < piece->n; r++) {
        const DtPoint *p = dt_lines_at(piece, r);
        const size_t n = dt_lines_count(piece, r);
        for (size_t i = 0; i < n; i++) {
            const DtPoint m = dt_point_lerp(p[i], p[(i + 1) % n], 0.5);
            const double w = dt_point_distance(p[i], p[(i + 1) % n]);
            length += w;
            x += w * m.x, y += w * m.y;
            xx += w * m.x * m.x, yy += w * m.y * m.y, xy += w * m.x * m.y;
        }
    }
    if (!(length > 0))
        return FALSE;
    xx = xx / length - x * x / length / length;
    yy = yy / length - y * y / length / length;
    xy = xy / length - x * y / length / length;
    const double mean = (xx + yy) / 2, half = hypot((xx - yy) / 2, xy);
    *angle = atan2(2 * xy, xx - yy) / 2;
    return mean + half > ROUND * ROUND * MAX(mean - half, 0);
}

/* Directions of the hatch lines: the machine's fastest one, its mirror image, which is equally fast,
 * along either axis, which reverses one axis less often, and along the piece. */
typedef enum { USUAL, MIRRORED, ALONG_X, ALONG_Y, ALONG_PIECE, N_DIRECTIONS } Direction;

/* The ways that are tried: hatch lines in one of the directions inside one ring, the line along the
 * edge, or inside more, which spare parts a few pens wide many short lines; and rings alone. */
enum { RINGS = DT_FILL_MOST_RINGS * N_DIRECTIONS, N_WAYS };
typedef unsigned Way;

typedef struct {
    const DtFillStyle *f;
    DtFillWay draw;
    gboolean no_rings;
    size_t tried; /* points of lines */
} Ways;

void dt_fill_rings_clear(DtFillRings *r)
{
    dt_lines_clear(&r->rings);
    dt_lines_clear(&r->last);
    dt_lines_clear(&r->bare);
}

static void clear_shared(DtFillShared *shared)
{
    for (int i = 0; i < DT_FILL_MOST_RINGS; i++)
        dt_fill_rings_clear(&shared->rings[i]);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtFillShared, clear_shared)

static gboolean draw_way(const Ways *w, Way way, const DtLines *piece, DtFillShared *shared,
                         DtLines *out, GError **error)
{
    DtFillStyle turned = *w->f;
    double along = turned.angle;
    if (way == RINGS)
        return w->draw(piece, w->f, UINT_MAX, shared, out, error);
    switch ((Direction)(way % N_DIRECTIONS)) {
    case MIRRORED:
        turned.angle = -turned.angle;
        break;
    case ALONG_X:
        turned.angle = 0;
        break;
    case ALONG_Y:
        turned.angle = G_PI / 2;
        break;
    case ALONG_PIECE:
        long_side(piece, &along);
        turned.angle = along;
        break;
    case USUAL:
    case N_DIRECTIONS:
        break;
    }
    return w->draw(piece, &turned, 1 + way / N_DIRECTIONS, shared, out, error);
}

/* Whether a piece has the usual way alone: its edge is enough, or it is so large that another way
 * would save little. */
static gboolean is_settled(const DtLines *piece, const DtLines *usual)
{
    return usual->n_pts == piece->n_pts || MAX(usual->n_pts, piece->n_pts) > MOST_POINTS;
}

/* Whether a way need not be tried: inside more than one ring the direction is the one that is the fastest
 * inside one. */
static gboolean is_left_out(const Ways *w, Way way, Way fastest, const DtLines *piece)
{
    double angle;
    if (way == RINGS)
        return w->no_rings;
    if (way >= N_DIRECTIONS)
        return way % N_DIRECTIONS != fastest % N_DIRECTIONS;
    return way == ALONG_PIECE && !long_side(piece, &angle);
}

/* The fastest of all ways; *out gets its lines. */
static gboolean try_all(Ways *w, const DtLines *piece, DtLines *out, Way *fastest, GError **error)
{
    g_auto(DtFillShared) shared = {.asked = FALSE};
    double least = G_MAXDOUBLE;
    *fastest = USUAL;
    for (Way way = 0; way < N_WAYS; way++) {
        g_auto(DtLines) lines;
        dt_lines_init(&lines);
        if (is_left_out(w, way, *fastest, piece))
            continue;
        if (!draw_way(w, way, piece, &shared, &lines, error) || !dt_work_check(error))
            return FALSE;
        const gboolean settled = way == USUAL && is_settled(piece, &lines);
        w->tried += lines.n_pts;
        const double seconds = settled ? 0 : w->f->seconds(&lines, w->f->pen, w->f->seconds_user);
        if (way > USUAL && !(seconds < (1 - WORTH) * least))
            continue;
        const DtLines other = *out;
        *out = lines;
        lines = other;
        least = seconds;
        *fastest = way;
        if (settled)
            break;
    }
    return TRUE;
}

/* Results for pieces that are similar in size and edge length. */
typedef struct {
    unsigned n, won[N_WAYS];
} Alike;

/* Rings take longest to compute. If they were tried on this many pieces of similar compactness
 * and never won, they are no longer tried. */
enum { RINGS_IN_VAIN = 16, N_SHAPES = 32 };

struct DtFillTries {
    GHashTable *known;                                                      /* Alike */
    size_t tried;                                                           /* points of lines */
    unsigned pieces[N_SHAPES], with_rings[N_SHAPES], won[N_SHAPES][N_WAYS]; /* by compactness */
};

DtFillTries *dt_fill_tries_new(void)
{
    DtFillTries *t = g_new0(DtFillTries, 1);
    t->known = g_hash_table_new_full(NULL, NULL, NULL, g_free);
    return t;
}

void dt_fill_tries_free(DtFillTries *t)
{
    if (!t)
        return;
    g_hash_table_unref(t->known);
    g_free(t);
}

static double compactness(const DtPart *part)
{
    const double length = dt_lines_total_length(&part->rings);
    return MAX(length * length / MAX(part->area, 1e-6), 1);
}

static Alike *find_alike(GHashTable *known, const DtPart *part)
{
    const guint key = (guint)(100 + lround(2 * log2(MAX(part->area, 1e-6)))) << 16 |
                      (guint)lround(4 * log2(compactness(part)));
    Alike *a = g_hash_table_lookup(known, GUINT_TO_POINTER(key));
    if (!a) {
        a = g_new0(Alike, 1);
        g_hash_table_insert(known, GUINT_TO_POINTER(key), a);
    }
    return a;
}

/* The way that nearly all similar pieces took, if enough were tried; N_WAYS if they differ. */
static Way usual_of(const Alike *a)
{
    enum { ENOUGH = 12 };
    for (Way way = 0; way < N_WAYS && a->n >= ENOUGH; way++)
        if (5 * a->won[way] >= 4 * a->n)
            return way;
    return N_WAYS;
}

/* The way that won most often, the first of several. */
static Way commonest(const unsigned *won)
{
    Way best = USUAL;
    for (Way way = 0; way < N_WAYS; way++)
        if (won[way] > won[best])
            best = way;
    return best;
}

static int shape_of(const DtPart *part)
{
    return MIN((int)log2(compactness(part)), N_SHAPES - 1);
}

/* The same among pieces of the nearest compactness of which some were tried. */
static Way commonest_near(const DtFillTries *t, int shape)
{
    for (int away = 0; away < N_SHAPES; away++)
        for (int near = shape - away; near <= shape + away; near += MAX(2 * away, 1))
            if (near >= 0 && near < N_SHAPES && t->pieces[near] > 0)
                return commonest(t->won[near]);
    return USUAL;
}

static gboolean is_dot(const DtPart *part, double tip)
{
    return part->area < SMALL_TIPS * tip * tip && compactness(part) < COMPACT;
}

/* Tries the ways on a piece, and records the result. */
static gboolean try_piece(Ways *w, DtFillTries *t, const DtPart *part, Alike *alike, DtLines *out,
                          GError **error)
{
    const int shape = shape_of(part);
    Way way;
    w->tried = 0;
    w->no_rings = t->with_rings[shape] >= RINGS_IN_VAIN && t->won[shape][RINGS] == 0;
    if (!try_all(w, &part->rings, out, &way, error))
        return FALSE;
    alike->n++;
    alike->won[way]++;
    t->with_rings[shape] += !w->no_rings;
    t->pieces[shape]++;
    t->won[shape][way]++;
    t->tried += w->tried;
    return TRUE;
}

/* The way taken by a piece that is not tried; N_WAYS if it is to be tried. */
static Way known_way(const DtFillTries *t, const DtPart *part, const Alike *alike, double tip)
{
    if (is_dot(part, tip))
        return USUAL;
    const Way way = usual_of(alike);
    if (way < N_WAYS || t->tried <= MOST_TRIED)
        return way;
    return alike->n > 0 ? commonest(alike->won) : commonest_near(t, shape_of(part));
}

gboolean dt_fill_fastest(const DtLines *inset, const DtFillStyle *f, DtFillWay way_to_draw,
                         DtLines *out, GError **error)
{
    Ways w = {f, way_to_draw, FALSE, 0};
    g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
    g_array_set_clear_func(parts, dt_part_clear);
    dt_parts_add(parts, 0, inset);
    const gboolean large =
        inset->n_pts > MOST_POINTS; /* the largest pieces first, while tries last */
    for (guint i = 0; i < parts->len; i++) {
        const DtPart *part = &g_array_index(parts, DtPart, large ? parts->len - 1 - i : i);
        Alike *alike = find_alike(f->tries->known, part);
        const Way way = known_way(f->tries, part, alike, f->tip);
        g_auto(DtFillShared) shared = {.asked = FALSE};
        g_auto(DtLines) lines;
        dt_lines_init(&lines);
        if (way < N_WAYS ? !draw_way(&w, way, &part->rings, &shared, &lines, error)
                         : !try_piece(&w, f->tries, part, alike, &lines, error))
            return FALSE;
        dt_lines_append_lines(out, &lines);
    }
    return dt_work_check(error);
}
