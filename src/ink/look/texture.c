/* texture: finds areas of many parts that are narrower than the pen, each of which would get at least one stroke of its
 * width.
 *
 * What has room for a disc as wide as the tip, in one paint or on bare paper, is plain if it is long enough to be seen as
 * a shape of its own. The rest is fine. Where that is wide, and where half of the edges, as strokes, would cover far
 * more than what is painted, it is a texture. */
#include "ink/look/texture.h"

#include "drawtrue/work.h"
#include "ink/look/distances.h"
#include "ink/look/edge-rows.h"

#include <math.h>
#include <string.h>

/* Edges between paints that differ by less than this (CIEDE2000) do not count: steps of a blend. */
#define ALIKE 8.0
/* Bare paper between parts that are drawn as strokes is plain only if it has room for a disc of so many tips: the strokes
 * take half a tip on either side. */
#define BARE_TIPS 1.5
#define HALF_INKED 128
/* Plain shapes are at least this long, from the middle of their first disc to that of their last, tips. */
#define PLAIN_TIPS 5.0
/* A texture has room for a disc of this radius, and reaches so far from the middle of one, tips. */
#define CORE_TIPS 5.0
#define REACH_TIPS 11.0
/* No part of one is narrower than twice this, tips. */
#define LEAST_TIPS 1.5
/* The strokes would cover at least this share there, and by this factor more than what is painted; and the other share
 * around it. */
#define CROWD_FROM 0.75
#define CROWD_TO 0.55
#define MUCH_MORE 1.3
/* At least this share of a place where strokes crowd is texture. */
#define MOST_OF 0.75
/* Steps of the raster, tips, and its places at most. */
#define STEP_TIPS 0.125
#define MOST_PLACES 6e6
/* The first look: cells of so many tips, and the share that the strokes cover within AROUND cells each way. */
#define LOOK_TIPS 2.0
#define LOOK_FROM 0.5
/* Shares are of cells of CELL places a side, and twice the mean of those up to AROUND away. */
enum { CELL = 4, AROUND = 4, LOOK_AROUND = 2, MOST_LOOK_CELLS = 1000000 };

/* The first look ----------------------------------------------------------------------------- */

typedef struct {
    int w, h;
    float *v;
} Plane;

static void plane_init(Plane *p, int w, int h)
{
    *p = (Plane){w, h, g_new0(float, (size_t)w *(size_t)h)};
}

/* Replaces each value by the sum of those up to `around` away along one direction. */
static void sum_along(Plane *p, int around, gboolean upright)
{
    const int n = upright ? p->h : p->w, lines = upright ? p->w : p->h;
    const size_t stride = upright ? (size_t)p->w : 1;
    g_autofree double *sum = g_new(double, n + 1);
    for (int l = 0; l < lines; l++) {
        float *v = p->v + (upright ? (size_t)l : (size_t)l * (size_t)p->w);
        sum[0] = 0;
        for (int i = 0; i < n; i++)
            sum[i + 1] = sum[i] + (double)v[(size_t)i * stride];
        for (int i = 0; i < n; i++)
            v[(size_t)i * stride] = (float)(sum[MIN(i + around + 1, n)] - sum[MAX(i - around, 0)]);
    }
}

static void sum_around(Plane *p, int around)
{
    sum_along(p, around, FALSE);
    sum_along(p, around, TRUE);
}

/* Half of the lengths of all edges, by cells. */
static void add_edges(const DtLines *l, double tip, DtBox box, double cell, Plane *p)
{
    for (size_t r = 0; r < l->n; r++) {
        const DtPoint *at = dt_lines_at(l, r);
        const size_t n = dt_lines_count(l, r);
        const double weight = dt_scan_ring_weight(l, r, tip) / 2;
        for (size_t i = 0; i < n; i++) {
            const DtPoint a = at[i], b = at[(i + 1) % n];
            const double mm = dt_point_distance(a, b);
            const int steps = (int)ceil(MIN(mm / cell, 1e6)) + 1;
            for (int s = 0; s < steps; s++) {
                const DtPoint m = dt_point_lerp(a, b, (s + 0.5) / steps);
                const int x = CLAMP((int)((m.x - box.x0) / cell), 0, p->w - 1),
                          y = CLAMP((int)((m.y - box.y0) / cell), 0, p->h - 1);
                p->v[(size_t)y * (size_t)p->w + (size_t)x] += (float)(weight * mm / steps);
            }
        }
    }
}

/* A box around everything that may be a texture; empty if nothing may. */
static DtBox first_look(const DtCompose *c, double tip)
{
    DtBox box = DT_BOX_EMPTY, found = DT_BOX_EMPTY;
    for (guint i = 0; i < c->regions->len; i++)
        box = dt_box_union(box, dt_lines_box(&g_array_index(c->regions, DtLines, i)));
    if (dt_box_is_empty(box))
        return found;
    const double w = dt_box_width(box), h = dt_box_height(box);
    const double cell =
        MAX(MAX(LOOK_TIPS * tip, sqrt(w * h / MOST_LOOK_CELLS)), MAX(w, h) / MOST_LOOK_CELLS);
    Plane p;
    plane_init(&p, (int)(w / cell) + 1, (int)(h / cell) + 1);
    for (guint i = 0; i < c->regions->len && !dt_work_stopped(); i++)
        add_edges(&g_array_index(c->regions, DtLines, i), tip, box, cell, &p);
    sum_around(&p, LOOK_AROUND);
    const double wide = (2 * LOOK_AROUND + 1) * cell, least = LOOK_FROM * wide * wide / tip;
    for (int y = 0; y < p.h; y++)
        for (int x = 0; x < p.w; x++)
            if ((double)p.v[(size_t)y * (size_t)p.w + (size_t)x] >= least)
                found = dt_box_add_point(
                    found, (DtPoint){box.x0 + (x + 0.5) * cell, box.y0 + (y + 0.5) * cell});
    g_free(p.v);
    return dt_box_is_empty(found) ? found
                                  : dt_box_intersect(dt_box_grow(found, wide + REACH_TIPS * tip),
                                                     dt_box_grow(box, 2 * tip));
}

/* Edges -------------------------------------------------------------------------------------- */

enum { N_PAIRS = 256 };

typedef struct {
    int a, b;
    gboolean known, apart;
} Pair;

typedef struct {
    DtTexture *t;
    gboolean upright;
    Pair pairs[N_PAIRS];
    uint8_t *edge; /* of each place */
    float *lines;  /* of each place: mm of strokes */
    uint8_t *ink;  /* of each place: 255 times the share that is painted */
} Sight;

static const DtSeenPaint *paint_of(const DtTexture *t, int paint)
{
    return dt_compose_paint(t->c, paint);
}

/* What the user gave a pen is drawn as it is: it has no edges here. */
static gboolean differ(const DtTexture *t, int a, int b)
{
    if ((a >= 0 && paint_of(t, a)->asked >= 0) || (b >= 0 && paint_of(t, b)->asked >= 0))
        return FALSE;
    return dt_colour_difference(a < 0 ? t->paper : t->lab[a], b < 0 ? t->paper : t->lab[b]) >=
           ALIKE;
}

/* Pairs that were compared last. */
static gboolean are_apart(Sight *s, int a, int b)
{
    Pair *p = &s->pairs[(unsigned)(a * 31 + b) % N_PAIRS];
    if (!p->known || p->a != a || p->b != b)
        *p = (Pair){a, b, TRUE, differ(s->t, a, b)};
    return p->apart;
}

/* What is painted along a row. */
static void add_span(const Sight *s, int row, double from, double to)
{
    const DtTexture *t = s->t;
    const double a = MAX((from - t->box.x0) / t->step, 0),
                 b = MIN((to - t->box.x0) / t->step, t->w);
    uint8_t *ink = s->ink + (size_t)row * (size_t)t->w;
    for (int x = (int)a; x < b; x++)
        ink[x] = (uint8_t)MIN(255, ink[x] + (int)lround(255 * (MIN(b, x + 1) - MAX(a, x))));
}

static void see_row(int row, const DtScanChange *changes, size_t n, void *user)
{
    Sight *s = user;
    const DtTexture *t = s->t;
    for (size_t i = 0; i < n; i++) {
        const DtScanChange *c = &changes[i];
        int at;
        if (!s->upright && i + 1 < n && c->beyond >= 0 && t->drawn[c->beyond])
            add_span(s, row, c->at, changes[i + 1].at);
        if (!dt_texture_places(t, c->at, s->upright, &at) || !are_apart(s, c->before, c->beyond))
            continue;
        const size_t place = s->upright ? (size_t)at * (size_t)t->w + (size_t)row
                                        : (size_t)row * (size_t)t->w + (size_t)at;
        const int strokes =
            (c->before >= 0 && t->drawn[c->before]) + (c->beyond >= 0 && t->drawn[c->beyond]);
        s->edge[place] = 1;
        s->lines[place] += (float)(strokes * c->edge / 2);
    }
}

static void see_edges(DtTexture *t, uint8_t *edge, float *lines, uint8_t *ink)
{
    for (int upright = 0; upright < 2; upright++) {
        Sight s = {.t = t, .upright = upright, .edge = edge, .lines = lines, .ink = ink};
        const DtScan scan = {t->c->regions, t->box, t->step, t->tip, upright};
        dt_scan_rows(&scan, see_row, &s);
    }
}

/* Plain and fine ------------------------------------------------------------------------------ */

static uint16_t steps_of(const DtTexture *t, double mm)
{
    return (uint16_t)MIN(lround(mm / t->step * DT_DISTANCE_ONE), G_MAXUINT16 / 2 - 1);
}

/* Whether a piece is long or reaches the raster's edge. */
static gboolean is_plain_piece(const DtTexture *t, const GArray *piece)
{
    int x0 = t->w, x1 = 0, y0 = t->h, y1 = 0;
    for (guint i = 0; i < piece->len; i++) {
        const size_t at = g_array_index(piece, size_t, i);
        const int x = (int)(at % (size_t)t->w), y = (int)(at / (size_t)t->w);
        x0 = MIN(x0, x);
        x1 = MAX(x1, x);
        y0 = MIN(y0, y);
        y1 = MAX(y1, y);
    }
    return x0 == 0 || y0 == 0 || x1 == t->w - 1 || y1 == t->h - 1 ||
           hypot(x1 - x0, y1 - y0) * t->step >= PLAIN_TIPS * t->tip;
}

/* The distance of each place from plain shapes, for `paper` from plain paper, if it is less than in `out`; `mask` is
 * scratch. */
static void find_plain(const DtTexture *t, const uint16_t *edge, const uint8_t *ink, gboolean paper,
                       uint8_t *mask, uint16_t *out)
{
    const size_t n = (size_t)t->w * (size_t)t->h;
    const uint16_t half = steps_of(t, (paper ? BARE_TIPS : 1) * t->tip / 2);
    g_autoptr(GArray) piece = g_array_new(FALSE, FALSE, sizeof(size_t));
    g_autofree uint8_t *left = g_new(uint8_t, n);
    g_autofree uint16_t *distance = g_new(uint16_t, n);
    for (size_t i = 0; i < n; i++)
        left[i] = edge[i] >= half && (ink[i] < HALF_INKED) == paper;
    memset(mask, 0, n);
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        if (!left[i])
            continue;
        dt_raster_take_piece(left, t->w, t->h, i, piece);
        if (is_plain_piece(t, piece))
            for (guint k = 0; k < piece->len; k++)
                mask[g_array_index(piece, size_t, k)] = 1;
    }
    dt_distance_from(mask, t->w, t->h, distance);
    for (size_t i = 0; i < n; i++) {
        const int beyond = distance[i] < half ? 0 : distance[i] - half + 1;
        if (beyond < out[i])
            out[i] = (uint16_t)beyond;
    }
}

/* The distance of each place from what is plain; `mask` holds the edges, and is used up. */
static void find_fine(const DtTexture *t, uint8_t *mask, const uint8_t *ink, uint16_t *out)
{
    const size_t n = (size_t)t->w * (size_t)t->h;
    g_autofree uint16_t *edge = g_new(uint16_t, n);
    dt_distance_from(mask, t->w, t->h, edge);
    for (size_t i = 0; i < n; i++)
        out[i] = G_MAXUINT16;
    for (int paper = 0; paper < 2; paper++)
        find_plain(t, edge, ink, paper, mask, out);
}

/* Textures ------------------------------------------------------------------------------------ */

typedef struct {
    Plane lines, ink, fine; /* sums around each cell, where it is fine: mm^2 */
    Plane all_lines, all;   /* sums around each cell */
} Shares;

static size_t cell_of(const DtTexture *t, size_t place)
{
    const size_t w = (size_t)t->w, cw = (size_t)(t->w / CELL + 1);
    return place / w / CELL * cw + place % w / CELL;
}

static void find_shares(const DtTexture *t, const uint16_t *fine, const float *lines,
                        const uint8_t *ink, Shares *out)
{
    const int w = t->w / CELL + 1, h = t->h / CELL + 1;
    Plane *all[5] = {&out->lines, &out->ink, &out->fine, &out->all_lines, &out->all};
    for (int i = 0; i < 5; i++)
        plane_init(all[i], w, h);
    const double mm2 = t->step * t->step;
    for (size_t i = 0; i < (size_t)t->w * (size_t)t->h; i++) {
        const size_t cell = cell_of(t, i);
        out->all_lines.v[cell] += lines[i] * (float)t->tip;
        out->all.v[cell] += (float)mm2;
        if (fine[i] == 0)
            continue;
        out->lines.v[cell] += lines[i] * (float)t->tip;
        out->ink.v[cell] += (float)(mm2 * ink[i] / 255);
        out->fine.v[cell] += (float)mm2;
    }
    for (int i = 0; i < 10; i++)
        sum_around(all[i % 5], AROUND);
}

static void shares_clear(Shares *s)
{
    g_free(s->lines.v);
    g_free(s->ink.v);
    g_free(s->fine.v);
    g_free(s->all_lines.v);
    g_free(s->all.v);
}

static gboolean covers(const Shares *s, size_t cell, double share)
{
    return s->fine.v[cell] > 0 && (double)s->lines.v[cell] >= share * (double)s->fine.v[cell];
}

/* The cells of textures that have room for a disc: first those where strokes crowd, then on from there. */
static gboolean find_cores(const Shares *s, const uint8_t *room, uint8_t *core)
{
    const size_t w = (size_t)s->fine.w, n = w * (size_t)s->fine.h;
    g_autoptr(GArray) front = g_array_new(FALSE, FALSE, sizeof(size_t));
    for (size_t i = 0; i < n; i++)
        if (room[i] && covers(s, i, CROWD_FROM) &&
            (double)s->lines.v[i] > MUCH_MORE * (double)s->ink.v[i]) {
            core[i] = 1;
            g_array_append_val(front, i);
        }
    const gboolean any = front->len > 0;
    while (front->len > 0) {
        const size_t i = g_array_index(front, size_t, front->len - 1);
        const size_t beside[4] = {i % w > 0 ? i - 1 : i, i % w + 1 < w ? i + 1 : i,
                                  i >= w ? i - w : i, i + w < n ? i + w : i};
        g_array_set_size(front, front->len - 1);
        for (int k = 0; k < 4; k++)
            if (!core[beside[k]] && room[beside[k]] && covers(s, beside[k], CROWD_TO)) {
                core[beside[k]] = 1;
                g_array_append_val(front, beside[k]);
            }
    }
    return any;
}

/* Leaves only what is near a place with room for a small disc: no strips along what is plain. */
static void drop_thin(DtTexture *t, uint16_t *distance)
{
    const size_t n = (size_t)t->w * (size_t)t->h;
    const uint16_t least = steps_of(t, LEAST_TIPS * t->tip),
                   reach = steps_of(t, G_SQRT2 * LEAST_TIPS * t->tip);
    g_autofree uint8_t *mask = g_new(uint8_t, n);
    for (size_t i = 0; i < n; i++)
        mask[i] = !t->in[i];
    dt_distance_from(mask, t->w, t->h, distance);
    for (size_t i = 0; i < n; i++)
        mask[i] = distance[i] >= least;
    dt_distance_from(mask, t->w, t->h, distance);
    for (size_t i = 0; i < n; i++)
        t->in[i] &= distance[i] <= reach;
}

/* Fine places near the cores. */
static void reach_out(DtTexture *t, const Shares *s, const uint8_t *core, const uint16_t *fine,
                      uint16_t *distance)
{
    const size_t n = (size_t)t->w * (size_t)t->h;
    const uint16_t reach = steps_of(t, REACH_TIPS * t->tip);
    for (size_t i = 0; i < n; i++)
        t->in[i] = core[cell_of(t, i)];
    dt_distance_from(t->in, t->w, t->h, distance);
    for (size_t i = 0; i < n; i++)
        t->in[i] = fine[i] > 0 && distance[i] <= reach && covers(s, cell_of(t, i), CROWD_TO);
    drop_thin(t, distance);
    dt_distance_from(t->in, t->w, t->h, distance); /* edges may be a place off */
    for (size_t i = 0; i < n; i++)
        t->in[i] = distance[i] <= DT_DISTANCE_ONE;
}

/* A place where strokes crowd is no texture unless most of it is: it would be mottled. */
static void drop_mottled(DtTexture *t, const Shares *s)
{
    const size_t n = (size_t)s->all.w * (size_t)s->all.h;
    g_autofree uint8_t *left = g_new0(uint8_t, n);
    g_autofree uint8_t *in = g_new0(uint8_t, n);
    g_autoptr(GArray) piece = g_array_new(FALSE, FALSE, sizeof(size_t));
    for (size_t i = 0; i < (size_t)t->w * (size_t)t->h; i++)
        in[cell_of(t, i)] |= t->in[i];
    for (size_t i = 0; i < n; i++)
        left[i] = in[i] || (double)s->all_lines.v[i] >= CROWD_TO * (double)s->all.v[i];
    for (size_t i = 0; i < n; i++) {
        size_t textured = 0;
        if (!left[i])
            continue;
        dt_raster_take_piece(left, s->all.w, s->all.h, i, piece);
        for (guint k = 0; k < piece->len; k++)
            textured += in[g_array_index(piece, size_t, k)];
        if ((double)textured < MOST_OF * piece->len)
            for (guint k = 0; k < piece->len; k++)
                in[g_array_index(piece, size_t, k)] = 0;
    }
    for (size_t i = 0; i < (size_t)t->w * (size_t)t->h; i++)
        t->in[i] &= in[cell_of(t, i)];
}

static gboolean find_places(DtTexture *t, uint8_t *mask, const float *lines, const uint8_t *ink)
{
    const size_t n = (size_t)t->w * (size_t)t->h;
    const uint16_t wide = steps_of(t, CORE_TIPS * t->tip);
    g_autofree uint16_t *fine = g_new(uint16_t, n);
    find_fine(t, mask, ink, fine);
    Shares s;
    find_shares(t, fine, lines, ink, &s);
    const size_t cells = (size_t)s.fine.w * (size_t)s.fine.h;
    g_autofree uint8_t *room = g_new0(uint8_t, cells);
    g_autofree uint8_t *core = g_new0(uint8_t, cells);
    for (size_t i = 0; i < n; i++)
        room[cell_of(t, i)] |= fine[i] >= wide;
    const gboolean any = find_cores(&s, room, core);
    if (any) {
        g_autofree uint16_t *distance = g_new(uint16_t, n);
        reach_out(t, &s, core, fine, distance);
        drop_mottled(t, &s);
    }
    shares_clear(&s);
    return any;
}

static void look_at_paints(DtTexture *t)
{
    const guint n = t->c->paints->len;
    t->paper = dt_appear_lab(t->c->t->appear, DT_RECIPE_PAPER);
    t->lab = g_new(DtLab, n + 1);
    t->drawn = g_new(gboolean, n + 1);
    for (guint i = 0; i < n; i++) {
        t->lab[i] = paint_of(t, (int)i)->lab;
        t->drawn[i] = dt_colour_difference(t->lab[i], t->paper) > DT_APPEAR_NEARLY_WHITE;
    }
}

gboolean dt_texture_find(const DtCompose *c, DtTexture *t)
{
    *t = (DtTexture){.c = c, .tip = dt_compose_tip(c->t)};
    t->box = first_look(c, t->tip);
    if (dt_box_is_empty(t->box))
        return FALSE;
    const double w = dt_box_width(t->box), h = dt_box_height(t->box);
    t->step = MAX(MAX(STEP_TIPS * t->tip, sqrt(w * h / MOST_PLACES)), MAX(w, h) / 30000);
    t->w = (int)ceil(w / t->step);
    t->h = (int)ceil(h / t->step);
    const size_t n = (size_t)t->w * (size_t)t->h;
    look_at_paints(t);
    t->in = g_new0(uint8_t, n);
    g_autofree uint8_t *edge = g_new0(uint8_t, n);
    g_autofree uint8_t *ink = g_new0(uint8_t, n);
    g_autofree float *lines = g_new0(float, n);
    see_edges(t, edge, lines, ink);
    return find_places(t, edge, lines, ink);
}

void dt_texture_clear(DtTexture *t)
{
    g_free(t->lab);
    g_free(t->drawn);
    g_free(t->in);
}
