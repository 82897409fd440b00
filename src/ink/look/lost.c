/* lost: how much of the drawing's lines is covered by the ink of darker pens. */
#include "ink/trace.h"

#include <math.h>

/* Cells of the search, and steps along the lines, mm. */
#define CELL 1.0
#define STEP 0.2
/* A pen darker than the line's by this much hides it. */
#define DARKER 3.0

typedef struct {
    DtPoint a, b;
    uint16_t pen;
} Stretch;

typedef struct {
    GHashTable *cells; /* cell -> GArray of Stretch */
    double widest;
} Ink;

static gint64 *cell_key(int x, int y)
{
    gint64 key = (gint64)x * 4294967296 + y;
    return g_memdup2(&key, sizeof key);
}

static void add_to_cell(Ink *ink, int x, int y, Stretch s)
{
    gint64 *key = cell_key(x, y);
    GArray *cell = g_hash_table_lookup(ink->cells, key);
    if (!cell) {
        cell = g_array_new(FALSE, FALSE, sizeof(Stretch));
        g_hash_table_insert(ink->cells, key, cell);
    } else {
        g_free(key);
    }
    g_array_append_val(cell, s);
}

/* Into every cell that a stretch, which is at most a cell long, comes near to. */
static void add_stretch(Ink *ink, Stretch s)
{
    double by = ink->widest / 2;
    for (int y = (int)floor((MIN(s.a.y, s.b.y) - by) / CELL);
         y <= (int)floor((MAX(s.a.y, s.b.y) + by) / CELL); y++)
        for (int x = (int)floor((MIN(s.a.x, s.b.x) - by) / CELL);
             x <= (int)floor((MAX(s.a.x, s.b.x) + by) / CELL); x++)
            add_to_cell(ink, x, y, s);
}

static size_t n_segments(const DtStroke *s)
{
    return s->n - (s->closed ? 0 : 1);
}

static void each_stretch(const DtStrokes *all, size_t i, double most,
                         void (*f)(DtPoint a, DtPoint b, const DtStroke *s, void *user), void *user)
{
    const DtStroke *s = &all->strokes[i];
    const DtPoint *p = all->pts + s->first;
    for (size_t k = 0; k < n_segments(s); k++) {
        DtPoint a = p[k], b = p[(k + 1) % s->n];
        int n = MAX(1, (int)MIN(ceil(dt_point_distance(a, b) / most), 1e6));
        for (int j = 0; j < n; j++)
            f(dt_point_lerp(a, b, (double)j / n), dt_point_lerp(a, b, (j + 1.0) / n), s, user);
    }
}

static void take_ink(DtPoint a, DtPoint b, const DtStroke *s, void *user)
{
    add_stretch(user, (Stretch){a, b, s->pen});
}

typedef struct {
    const DtTrace *t;
    const Ink *ink;
    const double *lightness;
    double lost;
} Count;

/* A step of a line is lost where its middle lies under a darker pen's ink. */
static void count_step(DtPoint a, DtPoint b, const DtStroke *s, void *user)
{
    Count *c = user;
    DtPoint at = dt_point_lerp(a, b, 0.5);
    g_autofree gint64 *key = cell_key((int)floor(at.x / CELL), (int)floor(at.y / CELL));
    const GArray *cell = g_hash_table_lookup(c->ink->cells, key);
    for (guint i = 0; cell && i < cell->len; i++) {
        const Stretch *o = &g_array_index(cell, Stretch, i);
        if (c->lightness[o->pen] < c->lightness[s->pen] - DARKER &&
            dt_point_segment_distance(at, o->a, o->b) < c->t->rack->pens[o->pen].tip / 2) {
            c->lost += dt_point_distance(a, b);
            return;
        }
    }
}

static void free_array(gpointer a)
{
    g_array_free(a, TRUE);
}

/* The ink of fields: what other lines cover where they cross is what crossing lines are. */
static gboolean is_field(const DtStroke *s)
{
    return s->kind == DT_INK_FILL;
}

double dt_look_lost_mm(const DtTrace *t)
{
    gboolean lines = FALSE, fields = FALSE;
    for (size_t i = t->first; i < t->out->n; i++) {
        fields |= is_field(&t->out->strokes[i]);
        lines |= t->out->strokes[i].kind == DT_INK_OUTLINE;
    }
    if (!lines || !fields || t->rack->n < 2)
        return 0;
    Ink ink = {g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, free_array), 0};
    g_autofree double *lightness = g_new(double, t->rack->n);
    for (size_t i = 0; i < t->rack->n; i++) {
        lightness[i] = dt_colour_lab(t->rack->pens[i].colour).l;
        ink.widest = MAX(ink.widest, t->rack->pens[i].tip);
    }
    for (size_t i = t->first; i < t->out->n; i++)
        if (is_field(&t->out->strokes[i]))
            each_stretch(t->out, i, CELL, take_ink, &ink);
    Count c = {t, &ink, lightness, 0};
    for (size_t i = t->first; i < t->out->n; i++)
        if (t->out->strokes[i].kind == DT_INK_OUTLINE)
            each_stretch(t->out, i, STEP, count_step, &c);
    g_hash_table_unref(ink.cells);
    return c.lost;
}
