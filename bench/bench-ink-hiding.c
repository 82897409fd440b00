/* bench-ink: hiding, its time and its truth. */
#include "bench-ink.h"

#include "drawtrue/base.h"
#include "support/files.h"
#include "support/geos-region.h"
#include "ink/paint/stack.h"
#include "ink/plane/region.h"

#include <glib/gstdio.h>
#include <stdio.h>

#define LARGEST 50
#define LEAST_AREA 0.01 /* mm^2: smaller visible parts are not compared */
#define SAMPLES 12      /* layers of each drawing that are held against GEOS */

static goffset size_of(const char *path)
{
    GStatBuf st;
    return g_stat(path, &st) == 0 ? st.st_size : 0;
}

static int by_size(const void *a, const void *b)
{
    goffset p = size_of(*(char *const *)a), q = size_of(*(char *const *)b);
    return (p < q) - (p > q);
}

static DtPlaneRule rule_of(const DtShape *s)
{
    return s->rule == DT_FILL_EVENODD ? DT_PLANE_EVENODD : DT_PLANE_NONZERO;
}

/* Hiding alone: every fill a layer, its visible outline the result. */
static double time_hiding(const DtDrawing *d, DtStack *stack, size_t *layers, GError **error)
{
    double begin = bench_cpu_s();
    for (size_t i = 0; i < d->n_shapes; i++)
        if (d->shapes[i].fill.kind != DT_PAINT_NONE) {
            if (!dt_stack_add_area(stack, DT_STACK_FIRST + (int)(*layers)++, &d->shapes[i].outline,
                                   rule_of(&d->shapes[i]), error))
                return -1;
        }
    if (!dt_stack_finish(stack, error))
        return -1;
    return bench_cpu_s() - begin;
}

/* By pen: the visible edges alone, or all ink, with the contours of gradients and translucent paints. */
static double time_tracing(const DtDrawing *d, gboolean fill, GError **error)
{
    DtPen pens[3] = {
        {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1},
        {.name = (char *)"red", .colour = {0.8, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
        {.name = (char *)"blue", .colour = {0.1, 0.2, 0.7, 1}, .tip = 0.4, .dot_gain = 1}};
    DtRack rack = {pens, 3};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.solid = TRUE;
    o.fill = fill;
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    double begin = bench_cpu_s();
    if (!dt_ink_trace(d, &rack, &o, &s, NULL, error))
        return -1;
    return bench_cpu_s() - begin;
}

typedef struct {
    GEOSContextHandle_t g;
    const DtDrawing *d;
    const DtStack *stack;
    size_t compared, apart;
} Check;

static GEOSGeometry *cleaned(Check *c, const DtShape *s)
{
    g_auto(DtLines) clean;
    dt_lines_init(&clean);
    if (!dt_region_clean(&s->outline, rule_of(s), &clean, NULL))
        return NULL;
    return geos_from_rings(c->g, &clean);
}

/* Layer `layer` (shape i) less all fills above that touch it, by GEOS, against ours. */
static void compare_layer(Check *c, size_t i, int layer)
{
    GEOSGeometry *seen = cleaned(c, &c->d->shapes[i]);
    DtBox b = dt_lines_box(&c->d->shapes[i].outline);
    for (size_t k = i + 1; seen && k < c->d->n_shapes; k++) {
        const DtShape *s = &c->d->shapes[k];
        if (s->fill.kind == DT_PAINT_NONE ||
            dt_box_is_empty(dt_box_intersect(b, dt_lines_box(&s->outline))))
            continue;
        GEOSGeometry *top = cleaned(c, s);
        GEOSGeometry *less = top ? GEOSDifference_r(c->g, seen, top) : NULL;
        GEOSGeom_destroy_r(c->g, seen);
        if (top)
            GEOSGeom_destroy_r(c->g, top);
        seen = less;
    }
    if (!seen)
        return;
    const DtLines *rings = dt_stack_region(c->stack, DT_STACK_FIRST + layer);
    GEOSGeometry *ours = rings ? geos_from_rings(c->g, rings) : GEOSGeom_createEmptyPolygon_r(c->g);
    if (MAX(geos_area(c->g, seen), geos_area(c->g, ours)) > LEAST_AREA) {
        c->compared++;
        c->apart += !geos_same_within(c->g, ours, seen, 0.01);
    }
    GEOSGeom_destroy_r(c->g, ours);
    GEOSGeom_destroy_r(c->g, seen);
}

static void compare_some(Check *c, size_t layers)
{
    size_t layer = 0, step = MAX(layers / SAMPLES, 1);
    for (size_t i = 0; i < c->d->n_shapes; i++) {
        if (c->d->shapes[i].fill.kind == DT_PAINT_NONE)
            continue;
        if (layer % step == step / 2 && c->d->shapes[i].outline.n_pts < 3000)
            compare_layer(c, i, (int)layer);
        layer++;
    }
}

static void place(DtDrawing *d)
{
    double k = MIN(190 / d->width, 277 / d->height);
    dt_art_place(d, (DtAffine){k, 0, 0, -k, 10, 287});
}

int bench_hiding(void)
{
    g_autoptr(GError) error = NULL;
    char *argv[] = {(char *)"bench-ink", (char *)"1000000"};
    g_autoptr(GPtrArray) files = files_for_corpus(2, argv, 1, &error);
    if (!files) {
        fprintf(stderr, "bench-ink: %s\n", error->message);
        return error->code;
    }
    g_ptr_array_sort(files, by_size);
    Check c = {.g = GEOS_init_r()};
    double most = 0, most_traced = 0, most_inked = 0;
    printf("%8s %8s %9s %9s %9s  %s\n", "kB", "layers", "hidden s", "by pen s", "inked s",
           "drawing");
    for (guint i = 0; i < MIN(files->len, LARGEST); i++) {
        g_autoptr(GError) why = NULL;
        g_autoptr(DtDrawing) d = dt_art_read(files->pdata[i], &DT_ART_OPTIONS_DEFAULT, &why);
        g_autoptr(DtStack) stack = dt_stack_new(NULL);
        size_t layers = 0;
        double traced = -1, inked = -1, took = -1;
        if (d) {
            place(d);
            traced = time_tracing(d, FALSE, &why);
            inked = traced < 0 ? -1 : time_tracing(d, TRUE, &why);
            took = inked < 0 ? -1 : time_hiding(d, stack, &layers, &why);
        }
        if (took < 0) {
            printf("refused: %s\n", why ? why->message : "?");
            continue;
        }
        most = MAX(most, took);
        most_traced = MAX(most_traced, traced);
        most_inked = MAX(most_inked, inked);
        c.d = d;
        c.stack = stack;
        compare_some(&c, layers);
        g_autofree char *name = g_path_get_basename(files->pdata[i]);
        printf("%8.0f %8zu %9.3f %9.3f %9.3f  %s\n", (double)size_of(files->pdata[i]) / 1000,
               layers, took, traced, inked, name);
        fflush(stdout);
    }
    printf("slowest: every layer apart %.3f s, by pen %.3f s, with all ink %.3f s (bar 5 s)\n",
           most, most_traced, most_inked);
    printf("layers held against GEOS's difference: %zu, farther than 0.01 mm apart: %zu\n",
           c.compared, c.apart);
    GEOS_finish_r(c.g);
    return 0;
}
