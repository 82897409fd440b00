/* stack: flattening in groups. */
#include "ink/paint/stack.h"

#include "drawtrue/work.h"

#include <string.h>

/* A group is flattened when it has between these many points: fewer if the areas often cross one
 * another, more if they are side by side. This many flat groups are flattened together. */
#define LEAST_POINTS 500
#define MOST_POINTS 64000
#define GROUPS 6
/* Lines above all areas are fully visible. If they have more points than this they are not
 * processed together, which would split each where it crosses another. */
#define MANY_POINTS 20000

/* A flat group: disjoint regions by label, and the visible lines on top of them. */
typedef struct {
    GArray *regions; /* DtLines, by label */
    DtLines lines;
    GArray *owners;   /* int */
    GArray *overlays; /* int: the label of what covers each line, 0 for none */
    int level;        /* how often it was flattened */
} Flat;

struct DtStack {
    DtPlane *plane;          /* the group that grows */
    size_t n_points, enough; /* its number of points: present, and wanted */
    int n_layers;
    GArray *owners;   /* int: of the plane's lines */
    GArray *overlays; /* int: the same */
    DtStackOverlap overlaps;
    GArray *flats;        /* Flat, from the bottom up */
    DtLines above;        /* lines since the last area, which are in no group yet */
    GArray *above_owners; /* int */
    GArray *above_ends;   /* guint: of the lines that were added together */
};

static void flat_init(Flat *f, int level)
{
    f->regions = g_array_new(FALSE, TRUE, sizeof(DtLines));
    dt_lines_init(&f->lines);
    f->owners = g_array_new(FALSE, FALSE, sizeof(int));
    f->overlays = g_array_new(FALSE, FALSE, sizeof(int));
    f->level = level;
}

static void flat_clear(Flat *f)
{
    for (guint i = 0; i < f->regions->len; i++)
        dt_lines_clear(&g_array_index(f->regions, DtLines, i));
    g_array_free(f->regions, TRUE);
    dt_lines_clear(&f->lines);
    g_array_free(f->owners, TRUE);
    g_array_free(f->overlays, TRUE);
}

static Flat *flat_at(const DtStack *s, guint i)
{
    return &g_array_index(s->flats, Flat, i);
}

static void new_plane(DtStack *s)
{
    s->plane = dt_plane_new();
    if (s->overlaps.overlap)
        dt_plane_label_overlaps(s->plane, s->overlaps.overlap, s->overlaps.user);
}

DtStack *dt_stack_new(const DtStackOverlap *overlaps)
{
    DtStack *s = g_new0(DtStack, 1);
    if (overlaps)
        s->overlaps = *overlaps;
    new_plane(s);
    s->enough = 4 * LEAST_POINTS;
    s->owners = g_array_new(FALSE, FALSE, sizeof(int));
    s->overlays = g_array_new(FALSE, FALSE, sizeof(int));
    s->flats = g_array_new(FALSE, FALSE, sizeof(Flat));
    dt_lines_init(&s->above);
    s->above_owners = g_array_new(FALSE, FALSE, sizeof(int));
    s->above_ends = g_array_new(FALSE, FALSE, sizeof(guint));
    return s;
}

void dt_stack_free(DtStack *s)
{
    if (!s)
        return;
    dt_plane_free(s->plane);
    g_array_free(s->owners, TRUE);
    g_array_free(s->overlays, TRUE);
    for (guint i = 0; i < s->flats->len; i++)
        flat_clear(flat_at(s, i));
    g_array_free(s->flats, TRUE);
    dt_lines_clear(&s->above);
    g_array_free(s->above_owners, TRUE);
    g_array_free(s->above_ends, TRUE);
    g_free(s);
}

static void begin_group(DtStack *s)
{
    dt_plane_free(s->plane);
    new_plane(s);
    s->n_points = 0;
    s->n_layers = 0;
    g_array_set_size(s->owners, 0);
    g_array_set_size(s->overlays, 0);
}

static void lay_area(DtStack *s, int label, const DtLines *rings, DtPlaneRule rule)
{
    gboolean translucent =
        s->overlaps.is_translucent && s->overlaps.is_translucent(label, s->overlaps.user);
    int layer = translucent ? dt_plane_add_translucent_layer(s->plane, rule, label)
                            : dt_plane_add_layer(s->plane, rule, label);
    dt_plane_add_rings(s->plane, layer, rings);
    s->n_layers++;
    s->n_points += rings->n_pts;
}

static void lay_line(DtStack *s, int owner, int overlay, const DtLines *lines, size_t i)
{
    dt_plane_add_line(s->plane, s->n_layers, dt_lines_at(lines, i), dt_lines_count(lines, i),
                      lines->closed[i] != 0);
    g_array_append_val(s->owners, owner);
    g_array_append_val(s->overlays, overlay);
    s->n_points += dt_lines_count(lines, i);
}

/* The size of the next group, from how much the edges were cut up. */
static void learn_size(DtStack *s)
{
    size_t edges = dt_plane_n_edges(s->plane);
    if (edges > 4 * s->n_points)
        s->enough = MAX(s->enough / 2, (size_t)LEAST_POINTS);
    else if (edges < 2 * s->n_points)
        s->enough = MIN(s->enough * 2, (size_t)MOST_POINTS);
}

/* An overlay over another one. */
static int overlay_above(const DtStack *s, int upper, int lower)
{
    int pair[2] = {upper, lower};
    return upper == 0 ? lower : lower == 0 ? upper : s->overlaps.overlap(pair, 2, s->overlaps.user);
}

/* Flattens the plane's group into `out`. */
static gboolean flatten(DtStack *s, Flat *out, GError **error)
{
    if (!dt_plane_build(s->plane, error))
        return FALSE;
    if (out->level == 0)
        learn_size(s);
    dt_plane_regions(s->plane, out->regions);
    for (guint i = 0; i < s->owners->len && !dt_work_stopped(); i++) {
        guint before = out->overlays->len;
        dt_plane_visible(s->plane, (int)i, &out->lines, out->overlays);
        for (guint k = before; k < out->overlays->len; k++) {
            int *overlay = &g_array_index(out->overlays, int, k);
            *overlay = overlay_above(s, *overlay, g_array_index(s->overlays, int, i));
            g_array_append_val(out->owners, g_array_index(s->owners, int, i));
        }
    }
    return dt_work_check(error);
}

static gboolean end_group(DtStack *s, int level, GError **error)
{
    Flat f;
    flat_init(&f, level);
    gboolean good = flatten(s, &f, error);
    if (good)
        g_array_append_val(s->flats, f);
    else
        flat_clear(&f);
    begin_group(s);
    return good;
}

/* Flattens the flat groups from `first` on together. Lines of the uppermost are visible anyway,
 * but processing them with the others costs little and keeps a single code path. */
static gboolean merge(DtStack *s, guint first, GError **error)
{
    int level = 0;
    for (guint i = first; i < s->flats->len; i++) {
        const Flat *f = flat_at(s, i);
        level = MAX(level, f->level + 1);
        for (guint k = 1; k < f->regions->len; k++)
            if (g_array_index(f->regions, DtLines, k).n > 0)
                lay_area(s, (int)k, &g_array_index(f->regions, DtLines, k), DT_PLANE_NONZERO);
        for (size_t k = 0; k < f->lines.n; k++)
            lay_line(s, g_array_index(f->owners, int, k), g_array_index(f->overlays, int, k),
                     &f->lines, k);
    }
    for (guint i = first; i < s->flats->len; i++)
        flat_clear(flat_at(s, i));
    g_array_set_size(s->flats, first);
    return end_group(s, level, error);
}

static gboolean tidy(DtStack *s, GError **error)
{
    if (s->n_points < s->enough)
        return TRUE;
    if (!end_group(s, 0, error))
        return FALSE;
    for (;;) {
        guint n = s->flats->len, same = 0;
        while (same < n && flat_at(s, n - 1 - same)->level == flat_at(s, n - 1)->level)
            same++;
        if (same < GROUPS)
            return TRUE;
        if (!merge(s, n - same, error))
            return FALSE;
    }
}

/* Adds the lines since the last area to the group. */
static gboolean lay_above(DtStack *s, GError **error)
{
    size_t i = 0;
    for (guint k = 0; k < s->above_ends->len; k++) {
        for (; i < g_array_index(s->above_ends, guint, k); i++)
            lay_line(s, g_array_index(s->above_owners, int, i), 0, &s->above, i);
        if (!tidy(s, error))
            return FALSE;
    }
    dt_lines_clear(&s->above);
    g_array_set_size(s->above_owners, 0);
    g_array_set_size(s->above_ends, 0);
    return TRUE;
}

gboolean dt_stack_add_area(DtStack *s, int label, const DtLines *rings, DtPlaneRule rule,
                           GError **error)
{
    if (!lay_above(s, error))
        return FALSE;
    lay_area(s, label, rings, rule);
    return tidy(s, error);
}

gboolean dt_stack_add_lines(DtStack *s, int owner, const DtLines *lines, GError **error)
{
    dt_lines_append_lines(&s->above, lines);
    for (size_t i = 0; i < lines->n; i++)
        g_array_append_val(s->above_owners, owner);
    const guint end = s->above_owners->len;
    g_array_append_val(s->above_ends, end);
    return dt_work_check(error);
}

static void pass_above(DtStack *s)
{
    Flat *f = flat_at(s, 0);
    const int none = 0;
    dt_lines_append_lines(&f->lines, &s->above);
    g_array_append_vals(f->owners, s->above_owners->data, s->above_owners->len);
    for (guint i = 0; i < s->above_owners->len; i++)
        g_array_append_val(f->overlays, none);
    dt_lines_clear(&s->above);
}

gboolean dt_stack_finish(DtStack *s, GError **error)
{
    const gboolean pass = s->above.n_pts > MANY_POINTS;
    if (!pass && !lay_above(s, error))
        return FALSE;
    if ((s->n_points > 0 || s->flats->len == 0) && !end_group(s, 0, error))
        return FALSE;
    if (s->flats->len > 1 && !merge(s, 0, error))
        return FALSE;
    if (pass)
        pass_above(s);
    return TRUE;
}

const DtLines *dt_stack_region(const DtStack *s, int label)
{
    const Flat *f = flat_at(s, 0);
    if ((guint)label >= f->regions->len)
        return NULL;
    const DtLines *l = &g_array_index(f->regions, DtLines, label);
    return l->n > 0 ? l : NULL;
}

size_t dt_stack_n_labels(const DtStack *s)
{
    return flat_at(s, 0)->regions->len;
}

const DtLines *dt_stack_lines(const DtStack *s, const int **owners, const int **overlays)
{
    const Flat *f = flat_at(s, 0);
    if (owners)
        *owners = (const int *)(const void *)f->owners->data;
    if (overlays)
        *overlays = (const int *)(const void *)f->overlays->data;
    return &f->lines;
}
