/* held: what is read of each drawing of one feature (features/), in figures: shapes, outlines, paints, strokes, and a
 * small picture. The pictures of test-features, which are judged by a browser's, let small changes pass. */
#include "art-test.h"
#include "support/feature-table.h"
#include "support/held.h"

#include <math.h>

#define SAMPLES 4 /* of a tone, along each side of its shape's box */
#define SIDE 80   /* px of a picture */

/* So that red, green, blue and alpha cannot stand for each other. */
static double mixed(DtColour c)
{
    return 7 * c.r + 5 * c.g + 3 * c.b + 11 * c.alpha;
}

static double paint_figure(const DtPaint *p, DtBox box)
{
    double sum = 0;
    if (p->kind == DT_PAINT_NONE)
        return 0;
    if (p->kind == DT_PAINT_FLAT)
        return mixed(p->colour);
    for (int k = 0; k < SAMPLES * SAMPLES; k++) {
        const DtPoint at = {box.x0 + dt_box_width(box) * (k % SAMPLES + 0.5) / SAMPLES,
                            box.y0 + dt_box_height(box) * (k / SAMPLES + 0.5) / SAMPLES};
        sum += (1 + 0.1 * k) * mixed(dt_art_tone_at(p->tone, at));
    }
    return 40 + sum / (SAMPLES * SAMPLES);
}

static double stroke_figure(const DtStrokeStyle *s, DtBox box)
{
    if (s->paint.kind == DT_PAINT_NONE)
        return 0;
    double sum = paint_figure(&s->paint, box) + 3 * dt_art_stroke_width_mm(s) + s->cap +
                 0.3 * s->join + 0.1 * s->miter_limit + 0.01 * s->dash_offset;
    for (size_t i = 0; i < s->n_dash; i++)
        sum += 0.02 * (double)(i + 1) * s->dash[i];
    return sum;
}

typedef struct {
    size_t points, closed;
    double length, x, y, paint, stroke;
} Sum;

static void add_outline(Sum *sum, const DtLines *l)
{
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *p = dt_lines_at(l, i);
        const size_t n = dt_lines_count(l, i);
        sum->points += n;
        sum->closed += l->closed[i];
        for (size_t k = 0; k + (l->closed[i] ? 0 : 1) < n; k++) {
            const DtPoint q = p[(k + 1) % n];
            const double length = dt_point_distance(p[k], q);
            sum->length += length;
            sum->x += length * (p[k].x + q.x) / 2;
            sum->y += length * (p[k].y + q.y) / 2;
        }
    }
}

static void say_drawing(GString *out, const DtDrawing *d)
{
    Sum sum = {0};
    for (size_t i = 0; i < d->n_shapes; i++) {
        const DtShape *s = &d->shapes[i];
        const double weight = 1 + 0.1 * (double)i;
        const DtBox box = dt_lines_box(&s->outline);
        add_outline(&sum, &s->outline);
        sum.paint += weight * (paint_figure(&s->fill, box) + 0.1 * s->rule);
        sum.stroke += weight * (stroke_figure(&s->stroke, box) + 0.1 * s->stroke_first);
    }
    for (size_t i = 0; i < d->n_clips; i++)
        for (size_t k = 0; k < d->clips[i].n_regions; k++)
            add_outline(&sum, &d->clips[i].regions[k].outline);
    const double l = sum.length > 0 ? sum.length : 1;
    g_string_append_printf(
        out, "%.1f by %.1f, %zu+%zu+%zu, %zu points, %zu closed, %.2f at %.2f %.2f, %.2f %.2f",
        d->width, d->height, d->n_shapes, d->n_clips, d->n_groups, sum.points, sum.closed,
        sum.length, sum.x / l, sum.y / l, sum.paint, sum.stroke);
}

/* Mean colour over the picture, and where its cover is. */
static void say_picture(GString *out, const DtDrawing *d)
{
    cairo_surface_t *s = features_paint(d, SIDE, CAIRO_ANTIALIAS_DEFAULT);
    const int w = cairo_image_surface_get_width(s), h = cairo_image_surface_get_height(s);
    double sum[4] = {0}, x = 0, y = 0;
    for (int row = 0; row < h; row++)
        for (int column = 0; column < w; column++) {
            const unsigned char *at = cairo_image_surface_get_data(s) +
                                      row * cairo_image_surface_get_stride(s) + 4 * column;
            for (int k = 0; k < 4; k++)
                sum[k] += at[k];
            x += at[3] * column;
            y += at[3] * row;
        }
    const double n = (double)w * h, cover = sum[3] > 0 ? sum[3] : 1;
    g_string_append_printf(out, "; %.2f %.2f %.2f %.2f about %.2f %.2f", sum[0] / n, sum[1] / n,
                           sum[2] / n, sum[3] / n, x / cover, y / cover);
    cairo_surface_destroy(s);
}

static char *figures_of(const HeldCase *c)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_test_build_filename(G_TEST_DIST, "features", NULL);
    g_autoptr(GPtrArray) features = features_read(folder, &error);
    g_assert_no_error(error);
    (void)c;
    GString *out = g_string_new(NULL);
    for (guint i = 0; i < features->len; i++) {
        const Feature *f = features->pdata[i];
        g_autoptr(DtDrawing) d = dt_art_read_data(f->svg, f->len, f->name, NULL, NULL);
        g_string_append_printf(out, "  %s: ", f->name);
        if (d != NULL) {
            say_drawing(out, d);
            say_picture(out, d);
        }
        g_string_append_c(out, '\n');
    }
    return g_string_free(out, FALSE);
}

int main(int argc, char **argv)
{
    return held_main(argc, argv, "held.txt", "/art/held", figures_of);
}
