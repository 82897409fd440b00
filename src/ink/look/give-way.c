/* give-way: keeps lines from being covered. A field is cut back along a line of another pen over
 * it if the line's ink is lighter than the field's or equal; a darker line hides the field by
 * itself. */
#include "ink/trace.h"

#include "ink/outline.h"

#include <math.h>

/* Inks whose lightness differs by less than this are equally light. */
#define AS_LIGHT 3.0

/* Whether a line is an area, and its pen otherwise. */
static gboolean judge_line(const DtTrace *t, DtColour paint, double width, int *pen)
{
    DtLab lab = dt_colour_lab(dt_colour_over(paint, t->o->paper));
    *pen = -1;
    if (paint.alpha < DT_PAINT_LAYER_SOLID ||
        dt_colour_difference(lab, dt_appear_lab(t->appear, DT_RECIPE_PAPER)) <=
            DT_APPEAR_NEARLY_WHITE)
        return TRUE;
    const DtRecipe thin = {{dt_appear_choose_thin(t->appear, lab, FALSE), -1}, {1, 0}};
    *pen = dt_appear_keep_grey(t->appear, lab, width, 1, thin).pen[0];
    return *pen < 0;
}

/* The place of a style among the last ones. */
static DtLineLook *look_of(DtTrace *t, DtColour paint, double width)
{
    const double mixed = 255 * (paint.r + 5 * paint.g + 17 * paint.b) + 1000 * width;
    return &t->line_looks[(guint)CLAMP(mixed, 0, 1e6) % DT_LINE_LOOKS];
}

gboolean dt_look_line_is_area(DtTrace *t, DtColour paint, double width, int asked, int *pen)
{
    *pen = asked;
    if (asked >= 0)
        return FALSE;
    DtLineLook *l = look_of(t, paint, width);
    if (!l->is_known || !dt_colour_equal(l->paint, paint) || l->width != width) {
        *l = (DtLineLook){.is_known = TRUE, .paint = paint, .width = width};
        l->is_area = judge_line(t, paint, width, &l->pen);
    }
    *pen = l->pen;
    return l->is_area;
}

static DtLab paint_of_line(const DtTrace *t, int owner)
{
    const DtShape *s = &t->d->shapes[owner / (int)t->rack->n];
    return dt_colour_lab(dt_colour_over(s->stroke.paint.colour, t->o->paper));
}

gboolean dt_look_is_one_paint(const DtTrace *t, int owner, const DtInkPlace *place)
{
    return dt_colour_difference(paint_of_line(t, owner), place->paint) < DT_LOOK_ONE_PAINT;
}

static double lightness_of(const DtTrace *t, int pen)
{
    return dt_colour_lab(t->rack->pens[pen].colour).l;
}

/* Whether a place's hatch with one of its pens gives way to a line. */
static gboolean pen_gives_way(const DtTrace *t, int owner, const DtInkPlace *p, int pen, int level)
{
    int line = owner % (int)t->rack->n;
    if (pen < 0)
        return FALSE;
    if (pen == line)
        return level >= DT_LOOK_SHOWS_OVER * DT_TRACE_LEVELS && !dt_look_is_one_paint(t, owner, p);
    return lightness_of(t, line) >= lightness_of(t, pen) - AS_LIGHT;
}

static gboolean gives_way(const DtTrace *t, int owner, const DtInkPlace *p)
{
    if (p->separation) {
        for (unsigned i = 0; i < dt_separation_n_pens(p->separation); i++)
            if (pen_gives_way(t, owner, p, dt_separation_pen(p->separation, i), DT_TRACE_LEVELS))
                return TRUE;
        return FALSE;
    }
    return pen_gives_way(t, owner, p, p->ink.pen, p->ink.level) ||
           pen_gives_way(t, owner, p, p->ink.across, p->ink.across_level);
}

static double widest_tip(const DtTrace *t, const DtInkPlace *p)
{
    double tip = t->rack->pens[p->ink.pen].tip;
    return p->ink.across < 0 ? tip : MAX(tip, t->rack->pens[p->ink.across].tip);
}

/* Bends of a region flatter than this (mm) are dropped when it is grown. */
#define FLAT 0.02

/* Keeps those parts of lines that are over a region, or closer to it than `reach`. */
static gboolean keep_near(const DtLines *region, double reach, DtLines *lines, GError **error)
{
    g_auto(DtLines) plain, grown;
    dt_lines_init(&plain);
    dt_lines_init(&grown);
    dt_region_simplify(region, FLAT, &plain);
    return dt_region_inset(&plain, -reach, &grown, error) &&
           dt_clips_mask_lines(&grown, lines, error);
}

/* A part of a line that crosses one drawn as a single line is at most this many times as long as where both
 * are as wide as tips. */
#define CROSSING 1.5

/* The node of a point. */
static gint64 node_of(DtPoint p)
{
    return (gint64)lround(p.x * DT_GRID_PER_MM) * 4294967296 + (gint64)lround(p.y * DT_GRID_PER_MM);
}

static void add_ends(const DtLines *l, GHashTable *ends)
{
    for (size_t i = 0; i < l->n; i++) {
        if (l->closed[i])
            continue;
        const DtPoint *p = dt_lines_at(l, i);
        const gint64 key[2] = {node_of(p[0]), node_of(p[dt_lines_count(l, i) - 1])};
        for (int k = 0; k < 2; k++)
            g_hash_table_add(ends, g_memdup2(&key[k], sizeof key[k]));
    }
}

static gboolean is_end(GHashTable *ends, DtPoint p)
{
    const gint64 key = node_of(p);
    return g_hash_table_contains(ends, &key);
}

/* A line that crosses a region is at least this far (mm) inside it somewhere; one along its edge is not. */
#define INSIDE 0.05

/* Marks those of some lines that go through the inside of a region. */
static gboolean find_through(const DtLines *lines, const DtLines *region, gboolean *through,
                             GError **error)
{
    g_auto(DtLines) inside, parts;
    dt_lines_init(&inside);
    dt_lines_init(&parts);
    g_autoptr(DtPlane) plane = dt_plane_new();
    if (!dt_region_inset(region, INSIDE, &inside, error))
        return FALSE;
    const int layer = dt_plane_add_layer(plane, DT_PLANE_OUTSIDE, 0);
    dt_plane_add_rings(plane, layer, &inside);
    for (size_t i = 0; i < lines->n; i++)
        dt_plane_add_line(plane, layer, dt_lines_at(lines, i), dt_lines_count(lines, i),
                          lines->closed[i] != 0);
    if (!dt_plane_build(plane, error))
        return FALSE;
    for (size_t i = 0; i < lines->n; i++) {
        dt_lines_clear(&parts);
        dt_plane_visible(plane, (int)i, &parts, NULL);
        through[i] = parts.n > 0;
    }
    return TRUE;
}

/* Drops short parts of lines that need no gap in a narrow region: those that end at it, since they go on beneath it
 * or meet it, where a gap would bend its middle; and, if it is drawn as single lines of their own ink, those that
 * merely cross it. `ends` are the lines' own. */
static gboolean drop_crossings(DtLines *near, const DtLines *region, GHashTable *ends, double most,
                               gboolean own_ink, GError **error)
{
    g_autofree gboolean *through = g_new0(gboolean, near->n + 1);
    DtLines kept;
    if (!find_through(near, region, through, error))
        return FALSE;
    dt_lines_init(&kept);
    for (size_t i = 0; i < near->n; i++) {
        const DtPoint *p = dt_lines_at(near, i);
        const size_t n = dt_lines_count(near, i);
        const int n_ends = is_end(ends, p[0]) + is_end(ends, p[n - 1]);
        const gboolean needless = through[i] ? own_ink && n_ends < 2 : !own_ink && n_ends == 1;
        if (near->closed[i] || dt_lines_length(near, i) > most || !needless)
            dt_lines_append(&kept, p, n, near->closed[i] != 0);
    }
    dt_lines_clear(near);
    *near = kept;
    return TRUE;
}

/* The lines of a pen near a box that a place gives way to, or all others. */
static void find_near(const DtTrace *t, const DtInkPlace *p, DtBox box, const DtPenLines *l,
                      gboolean giving, DtLines *out)
{
    for (size_t i = 0; i < l->lines.n; i++) {
        const DtPoint *q = dt_lines_at(&l->lines, i);
        const size_t n = dt_lines_count(&l->lines, i);
        DtBox own = DT_BOX_EMPTY;
        for (size_t k = 0; k < n; k++)
            own = dt_box_add_point(own, q[k]);
        if (!dt_box_is_empty(dt_box_intersect(own, box)) &&
            gives_way(t, g_array_index(l->owners, int, i), p) == giving)
            dt_lines_append(out, q, n, l->lines.closed[i] != 0);
    }
}

static gboolean add_band(const DtTrace *t, const DtLines *lines, double width, DtLines *out,
                         GError **error)
{
    return dt_outline_band(lines, width, DT_CAP_ROUND, t->o->tolerance * 2, out, error);
}

/* Cuts a place back along the lines of a pen that are over it, or so close beside it that there
 * would be no gap. */
static gboolean cut_back(DtTrace *t, DtInkPlace *p, const DtLines *region, int pen,
                         const DtPenLines *l, GError **error)
{
    /* If several places have tones, only the edge of all of them together keeps the pen half a
     * tip inside. */
    const double within = p->separation && t->tones.n > 0 ? widest_tip(t, p) : 0;
    const double width = t->rack->pens[pen].tip + widest_tip(t, p) + within;
    g_auto(DtLines) near;
    dt_lines_init(&near);
    find_near(t, p, dt_box_grow(dt_lines_box(region), width / 2), l, TRUE, &near);
    g_autoptr(GHashTable) ends = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    if (p->ink.narrow)
        add_ends(&near, ends);
    if (near.n == 0 || !keep_near(region, width / 2, &near, error))
        return near.n == 0;
    if (p->ink.narrow &&
        !drop_crossings(&near, region, ends, CROSSING * (t->rack->pens[pen].tip + width),
                        p->ink.pen == pen, error))
        return FALSE;
    return near.n == 0 || add_band(t, &near, width, &p->cut, error);
}

/* An open hatch needs no line along its edge where the artwork has one: both would become one wide line. */
static gboolean drop_edges(const DtTrace *t, DtInkPlace *p, int pen, const DtPenLines *l,
                           GError **error)
{
    const double reach = t->rack->pens[pen].tip / 2 + widest_tip(t, p);
    g_auto(DtLines) near, band;
    dt_lines_init(&near);
    dt_lines_init(&band);
    find_near(t, p, dt_box_grow(dt_lines_box(&p->along), reach), l, FALSE, &near);
    return near.n == 0 || (add_band(t, &near, 2 * reach, &band, error) &&
                           dt_clips_drop_lines(&band, &p->along, error));
}

gboolean dt_look_give_way(DtTrace *t, const DtPenLines *all, GError **error)
{
    for (guint i = 0; i < t->inks->len; i++) {
        DtInkPlace *p = dt_trace_place(t, i);
        const DtLines *region;
        if (!dt_trace_finish_place(p, &region, error))
            return FALSE;
        for (int pen = 0; region && pen < (int)t->rack->n; pen++)
            if (all[pen].lines.n > 0 &&
                (!cut_back(t, p, region, pen, &all[pen], error) ||
                 (p->along.n > 0 && !drop_edges(t, p, pen, &all[pen], error))))
                return FALSE;
    }
    return TRUE;
}
