/* clips: unions of regions, each within its parent. */
#include "ink/plane/clips.h"

#include "ink/plane/trim.h"

enum { NOT_MADE, BEING_MADE, MADE };

/* A line whose centre runs along a clip's edge, outside it by up to these (mm), is drawn if that
 * is no more than a quarter of its width: part of it is visible inside, as with a frame along
 * the page's edge. */
static const double margins[] = {0.005, 0.01, 0.025, 0.05, 0.1};
enum { N_MARGINS = G_N_ELEMENTS(margins) };

typedef struct {
    DtLines region;
    gboolean made;
} Grown;

struct DtClips {
    const DtDrawing *d;
    DtLines *region;
    uint8_t *state;
    Grown *grown; /* N_MARGINS of each clip */
};

DtClips *dt_clips_new(const DtDrawing *d)
{
    DtClips *c = g_new(DtClips, 1);
    c->d = d;
    c->region = g_new0(DtLines, d->n_clips + 1);
    c->state = g_new0(uint8_t, d->n_clips + 1);
    c->grown = g_new0(Grown, d->n_clips * N_MARGINS + 1);
    return c;
}

void dt_clips_free(DtClips *c)
{
    if (!c)
        return;
    for (size_t i = 0; i < c->d->n_clips; i++)
        dt_lines_clear(&c->region[i]);
    for (size_t i = 0; i < c->d->n_clips * N_MARGINS; i++)
        dt_lines_clear(&c->grown[i].region);
    g_free(c->grown);
    g_free(c->region);
    g_free(c->state);
    g_free(c);
}

static void replace(DtLines *l, DtLines *by)
{
    dt_lines_clear(l);
    *l = *by;
}

static gboolean cut_area(DtClips *c, int clip, DtLines *l, DtPlaneRule rule, GError **error)
{
    const DtLines *mask = dt_clips_region(c, clip, error);
    DtLines cut;
    dt_lines_init(&cut);
    if (!mask || !dt_region_intersect(l, rule, mask, &cut, error)) {
        dt_lines_clear(&cut);
        return FALSE;
    }
    replace(l, &cut);
    return TRUE;
}

static gboolean make_clip(DtClips *c, int clip, DtLines *out, GError **error)
{
    const DtClip *from = &c->d->clips[clip];
    g_autoptr(DtPlane) p = dt_plane_new();
    for (size_t i = 0; i < from->n_regions; i++) {
        const DtClipRegion *r = &from->regions[i];
        DtPlaneRule rule = dt_plane_rule(r->rule);
        g_auto(DtLines) part;
        dt_lines_copy(&part, &r->outline);
        dt_trim_rings(&part);
        if (r->clip >= 0) {
            if (!cut_area(c, r->clip, &part, rule, error))
                return FALSE;
            rule = DT_PLANE_NONZERO;
        }
        dt_plane_add_rings(p, dt_plane_add_layer(p, rule, 1), &part);
    }
    if (!dt_plane_build(p, error))
        return FALSE;
    dt_plane_region(p, 1, out);
    return from->parent < 0 || cut_area(c, from->parent, out, DT_PLANE_NONZERO, error);
}

const DtLines *dt_clips_region(DtClips *c, int clip, GError **error)
{
    if ((size_t)clip >= c->d->n_clips || c->state[clip] == BEING_MADE) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: clip paths refer to one another",
                    c->d->path ? c->d->path : "drawing");
        return NULL;
    }
    if (c->state[clip] == NOT_MADE) {
        c->state[clip] = BEING_MADE;
        if (!make_clip(c, clip, &c->region[clip], error))
            return NULL;
        c->state[clip] = MADE;
    }
    return &c->region[clip];
}

/* Whether a clip is one upright rectangle that holds the whole box, so that it cuts nothing. */
static gboolean cuts_nothing(const DtLines *mask, DtBox b)
{
    if (mask->n != 1 || dt_lines_count(mask, 0) != 4)
        return FALSE;
    const DtPoint *p = dt_lines_at(mask, 0);
    for (int i = 0; i < 4; i++)
        if (p[i].x != p[(i + 1) % 4].x && p[i].y != p[(i + 1) % 4].y)
            return FALSE;
    DtBox m = dt_lines_box(mask);
    return b.x0 >= m.x0 && b.y0 >= m.y0 && b.x1 <= m.x1 && b.y1 <= m.y1;
}

gboolean dt_clips_cut_area(DtClips *c, int clip, DtLines *l, DtPlaneRule *rule, GError **error)
{
    const DtLines *mask = dt_clips_region(c, clip, error);
    if (!mask)
        return FALSE;
    if (cuts_nothing(mask, dt_lines_box(l)))
        return TRUE;
    if (!cut_area(c, clip, l, *rule, error))
        return FALSE;
    *rule = DT_PLANE_NONZERO;
    return TRUE;
}

/* The parts of lines that a region, or what is outside of it, does not hide; those of line i begin at number
 * first[i]. */
static gboolean parts_shown(const DtLines *region, DtPlaneRule hides, const DtLines *l,
                            DtLines *out, size_t *first, GError **error)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    int layer = dt_plane_add_layer(p, hides, 0);
    dt_plane_add_rings(p, layer, region);
    for (size_t i = 0; i < l->n; i++)
        dt_plane_add_line(p, layer, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0);
    if (!dt_plane_build(p, error))
        return FALSE;
    for (size_t i = 0; i < l->n; i++) {
        first[i] = out->n;
        dt_plane_visible(p, (int)i, out, NULL);
    }
    first[l->n] = out->n;
    return TRUE;
}

/* The parts of lines inside a region. */
static gboolean parts_inside(const DtLines *region, const DtLines *l, DtLines *out, size_t *first,
                             GError **error)
{
    return parts_shown(region, DT_PLANE_OUTSIDE, l, out, first, error);
}

static gboolean keep_shown(const DtLines *region, DtPlaneRule hides, DtLines *l, GError **error)
{
    g_autofree size_t *first = g_new(size_t, l->n + 1);
    DtLines cut;
    dt_lines_init(&cut);
    const gboolean good = parts_shown(region, hides, l, &cut, first, error);
    if (good)
        replace(l, &cut);
    else
        dt_lines_clear(&cut);
    return good;
}

gboolean dt_clips_mask_lines(const DtLines *region, DtLines *l, GError **error)
{
    return cuts_nothing(region, dt_lines_box(l)) || keep_shown(region, DT_PLANE_OUTSIDE, l, error);
}

gboolean dt_clips_drop_lines(const DtLines *region, DtLines *l, GError **error)
{
    return keep_shown(region, DT_PLANE_NONZERO, l, error);
}

/* How far the centre of a line of some width may be outside; 0 if it is too thin. */
static double margin_of(double width, int *number)
{
    int i = N_MARGINS - 1;
    while (i >= 0 && margins[i] > width / 4)
        i--;
    *number = i;
    return i < 0 ? 0 : margins[i];
}

static const DtLines *grown_region(DtClips *c, int clip, int number, GError **error)
{
    Grown *g = &c->grown[clip * N_MARGINS + number];
    if (!g->made && !dt_region_inset(&c->region[clip], -margins[number], &g->region, error))
        return NULL;
    g->made = TRUE;
    return &g->region;
}

static double length_of(const DtLines *l, size_t from, size_t to)
{
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += dt_lines_length(l, i);
    return sum;
}

/* A line that is longer by this many margins for each of its parts inside the grown clip does
 * not merely cross the clip's edge: it runs along it. */
#define ALONG 12

/* For each line the parts inside the clip, or inside the grown clip if it runs along the edge. */
static gboolean cut_or_keep(const DtLines *clip, const DtLines *grown, double margin, DtLines *l,
                            GError **error)
{
    g_auto(DtLines) in, near;
    g_autofree size_t *first_in = g_new(size_t, l->n + 1);
    g_autofree size_t *first_near = g_new(size_t, l->n + 1);
    dt_lines_init(&in);
    dt_lines_init(&near);
    if (!parts_inside(clip, l, &in, first_in, error) ||
        !parts_inside(grown, l, &near, first_near, error))
        return FALSE;
    DtLines cut;
    dt_lines_init(&cut);
    for (size_t i = 0; i < l->n; i++) {
        const size_t n = first_near[i + 1] - first_near[i];
        const gboolean along = length_of(&near, first_near[i], first_near[i + 1]) -
                                   length_of(&in, first_in[i], first_in[i + 1]) >
                               ALONG * margin * (double)n;
        const DtLines *from = along ? &near : &in;
        const size_t *first = along ? first_near : first_in;
        for (size_t k = first[i]; k < first[i + 1]; k++)
            dt_lines_append(&cut, dt_lines_at(from, k), dt_lines_count(from, k),
                            from->closed[k] != 0);
    }
    replace(l, &cut);
    return TRUE;
}

gboolean dt_clips_cut_lines(DtClips *c, int clip, double width, DtLines *l, GError **error)
{
    int number;
    const double margin = margin_of(width, &number);
    const DtLines *mask = dt_clips_region(c, clip, error);
    if (!mask)
        return FALSE;
    if (margin <= 0)
        return dt_clips_mask_lines(mask, l, error);
    if (cuts_nothing(mask, dt_lines_box(l)))
        return TRUE;
    const DtLines *grown = grown_region(c, clip, number, error);
    return grown && cut_or_keep(mask, grown, margin, l, error);
}
