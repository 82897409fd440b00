/* mask-alpha: how much a mask lets through, from place to place, where it is at least half. It
 * becomes part of the tones of the shapes behind the mask, and of the group that is painted
 * through it. */
#include "art/paint/levels.h"

#include <cairo.h>
#include <math.h>

#define BLOCK 32 /* px: levels are compared in squares of this side */
#define EVEN 10  /* of 255: levels that differ by no more than this count as equal */
#define REACH 2  /* px: width of the smooth edge of a shape in a mask */

struct DtSoft {
    const DtSoft *outer;
    DtAffine to_px;
    int w, h, stride;
    guint8 *level;
    int across, down;   /* blocks */
    guint8 *low, *high; /* of each block, of the part that is not cut away; high 0 if nothing is
                         * left */
};

/* Levels --------------------------------------------------------------------------------------- */

/* Replaces each level by the largest, or the smallest, of those within REACH. */
static void spread_rows(const ArtLevels *l, gboolean largest, guint8 *out)
{
    for (int y = 0; y < l->h; y++) {
        const guint8 *in = l->level + (gsize)y * (gsize)l->w;
        guint8 *to = out + (gsize)y * (gsize)l->w;
        memcpy(to, in, (gsize)l->w);
        for (int d = 1; d <= REACH && d < l->w; d++)
            for (int x = 0; x + d < l->w; x++) {
                guint8 a = in[x + d], b = in[x];
                to[x] = largest ? MAX(to[x], a) : MIN(to[x], a);
                to[x + d] = largest ? MAX(to[x + d], b) : MIN(to[x + d], b);
            }
    }
}

static void spread_columns(const ArtLevels *l, gboolean largest, guint8 *out)
{
    memcpy(out, l->level, (gsize)l->w * (gsize)l->h);
    for (int y = 0; y < l->h; y++)
        for (int d = -REACH; d <= REACH; d++) {
            if (d == 0 || y + d < 0 || y + d >= l->h)
                continue;
            const guint8 *in = l->level + (gsize)(y + d) * (gsize)l->w;
            guint8 *to = out + (gsize)y * (gsize)l->w;
            for (int x = 0; x < l->w; x++)
                to[x] = largest ? MAX(to[x], in[x]) : MIN(to[x], in[x]);
        }
}

/* Freed with g_free(). */
static guint8 *spread(const ArtLevels *l, gboolean largest)
{
    gsize n = (gsize)l->w * (gsize)l->h;
    ArtLevels rows = {l->w, l->h, g_malloc(n)};
    guint8 *out = g_malloc(n);
    spread_rows(l, largest, rows.level);
    spread_columns(&rows, largest, out);
    g_free(rows.level);
    return out;
}

/* Near the cut the level is that of a point a little farther inside: the cut itself is the edge
 * there, and a smooth edge must not take effect twice. */
static void take_levels(const ArtLevels *l, DtSoft *s)
{
    g_autofree guint8 *largest = spread(l, TRUE), *smallest = spread(l, FALSE);
    for (int y = 0; y < l->h; y++)
        for (int x = 0; x < l->w; x++) {
            gsize i = (gsize)y * (gsize)l->w + (gsize)x;
            s->level[(gsize)y * (gsize)s->stride + (gsize)x] =
                smallest[i] < ART_HALF_LEVEL ? largest[i] : l->level[i];
        }
}

/* Whether any level is a half tone over more than the smooth edge of the fully visible part. */
static gboolean has_half_tones(const ArtLevels *l)
{
    gsize w = (gsize)l->w;
    for (int y = REACH; y < l->h - REACH; y++) {
        const guint8 *row = l->level + (gsize)y * w;
        for (int x = REACH; x < l->w - REACH; x++)
            if (row[x] >= ART_HALF_LEVEL && row[x] < 255 - EVEN / 2 &&
                MIN(row[x - REACH], row[x + REACH]) >= ART_HALF_LEVEL &&
                MIN(row[x - REACH * l->w], row[x + REACH * l->w]) >= ART_HALF_LEVEL)
                return TRUE;
    }
    return FALSE;
}

static void take_blocks(const ArtLevels *l, DtSoft *s)
{
    memset(s->low, 255, (gsize)s->across * (gsize)s->down);
    memset(s->high, 0, (gsize)s->across * (gsize)s->down);
    for (int y = 0; y < l->h; y++)
        for (int x = 0; x < l->w; x++) {
            if (l->level[(gsize)y * (gsize)l->w + (gsize)x] < ART_HALF_LEVEL)
                continue;
            gsize block = (gsize)(y / BLOCK) * (gsize)s->across + (gsize)(x / BLOCK);
            guint8 v = s->level[(gsize)y * (gsize)s->stride + (gsize)x];
            s->low[block] = MIN(s->low[block], v);
            s->high[block] = MAX(s->high[block], v);
        }
}

/* Compares the blocks from x0,y0 to x1,y1: FALSE if their levels differ. *level is their middle
 * level, 255 if everything is cut away. */
static gboolean blocks_even(const DtSoft *s, int x0, int y0, int x1, int y1, double *level)
{
    int low = 255, high = 0;
    double sum = 0;
    int n = 0;
    for (int y = y0; y <= y1; y++)
        for (int x = x0; x <= x1; x++) {
            gsize i = (gsize)y * (gsize)s->across + (gsize)x;
            if (s->high[i] == 0)
                continue;
            low = MIN(low, s->low[i]);
            high = MAX(high, s->high[i]);
            sum += (s->low[i] + s->high[i]) / 2.0;
            n++;
        }
    *level = n ? sum / n : 255;
    if (high - low <= EVEN && high >= 255 - EVEN / 2)
        *level = 255;
    return high - low <= EVEN;
}

const DtSoft *dt_art_mask_alpha_new(ArtReader *r, const ArtLevels *l, DtAffine to_px,
                                    const DtSoft *outer, double *even)
{
    *even = 1;
    if (!has_half_tones(l))
        return NULL;
    DtSoft s = {.outer = outer, .to_px = to_px, .w = l->w, .h = l->h};
    s.stride = cairo_format_stride_for_width(CAIRO_FORMAT_A8, l->w);
    s.across = (l->w + BLOCK - 1) / BLOCK;
    s.down = (l->h + BLOCK - 1) / BLOCK;
    gsize size = (gsize)s.stride * (gsize)s.h, blocks = (gsize)s.across * (gsize)s.down;
    guint8 *room = g_malloc0(size + 2 * blocks);
    s.level = room;
    s.low = room + size;
    s.high = s.low + blocks;
    take_levels(l, &s);
    take_blocks(l, &s);
    double level;
    gboolean flat = blocks_even(&s, 0, 0, s.across - 1, s.down - 1, &level);
    *even = level / 255;
    if (flat || r->levels + size > ART_MAX_LEVELS) {
        g_free(room);
        return NULL;
    }
    r->levels += size;
    g_ptr_array_add(r->store->blocks, room);
    DtSoft *kept = dt_art_store_alloc(r->store, sizeof *kept);
    *kept = s;
    g_ptr_array_add(r->store->softs, kept);
    return kept;
}

/* Questions ------------------------------------------------------------------------------------ */

void dt_art_mask_alpha_place(DtSoft *s, DtAffine back)
{
    s->to_px = dt_affine_then(back, s->to_px);
}

/* Interpolated between the four samples around the point; beyond the picture as at its border. */
static double level_at(const DtSoft *s, DtPoint p)
{
    double x = CLAMP(p.x - 0.5, 0, s->w - 1), y = CLAMP(p.y - 0.5, 0, s->h - 1);
    int i = MIN((int)x, s->w - 2), j = MIN((int)y, s->h - 2);
    const guint8 *a = s->level + (gsize)j * (gsize)s->stride + (gsize)i, *b = a + s->stride;
    double fx = x - i, fy = y - j;
    return ((a[0] * (1 - fx) + a[1] * fx) * (1 - fy) + (b[0] * (1 - fx) + b[1] * fx) * fy) / 255;
}

double dt_art_mask_alpha_at(const DtSoft *s, DtPoint p)
{
    double level = 1;
    for (; s; s = s->outer)
        level *= level_at(s, dt_affine_apply(s->to_px, p));
    return level;
}

gboolean dt_art_mask_alpha_even(const DtSoft *s, DtBox box, double *level)
{
    gboolean even = TRUE;
    *level = 1;
    for (; s; s = s->outer) {
        DtBox b = dt_affine_apply_box(s->to_px, box);
        int x0 = (int)CLAMP(b.x0 / BLOCK, 0, s->across - 1),
            y0 = (int)CLAMP(b.y0 / BLOCK, 0, s->down - 1);
        int x1 = (int)CLAMP(b.x1 / BLOCK, 0, s->across - 1),
            y1 = (int)CLAMP(b.y1 / BLOCK, 0, s->down - 1);
        double own;
        even &= blocks_even(s, x0, y0, x1, y1, &own);
        *level *= own / 255;
    }
    return even;
}

cairo_pattern_t *dt_art_mask_alpha_pattern(const DtSoft *s)
{
    cairo_surface_t *image =
        cairo_image_surface_create_for_data(s->level, CAIRO_FORMAT_A8, s->w, s->h, s->stride);
    cairo_pattern_t *p = cairo_pattern_create_for_surface(image);
    cairo_surface_destroy(image);
    cairo_pattern_set_filter(p, CAIRO_FILTER_BILINEAR);
    cairo_pattern_set_extend(p, CAIRO_EXTEND_PAD);
    cairo_matrix_t m;
    cairo_matrix_init(&m, s->to_px.xx, s->to_px.yx, s->to_px.xy, s->to_px.yy, s->to_px.x0,
                      s->to_px.y0);
    cairo_pattern_set_matrix(p, &m);
    return p;
}
