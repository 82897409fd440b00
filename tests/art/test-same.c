/* test-same: the spellings of a line of same.txt, in the place of the % of its template, are the same
 * drawing, and no other line of that template is. Which spellings mean the same is from the standards
 * named there. A line that begins with "! " has what must be told as well; about all others nothing may
 * be. */
#include "art-test.h"

#define NEAR                                                                                       \
    1e-3 /* mm, more than lengths that were rounded in the table; less than any difference there */
#define SAMPLES 9   /* of a tone, along each side of its shape's box */
#define SHADE 0.004 /* about a step of 255 */

static gboolean is_near(double a, double b)
{
    return fabs(a - b) < NEAR || a == b;
}

static gboolean same_box(DtBox a, DtBox b)
{
    return is_near(a.x0, b.x0) && is_near(a.y0, b.y0) && is_near(a.x1, b.x1) && is_near(a.y1, b.y1);
}

static gboolean same_lines(const DtLines *a, const DtLines *b)
{
    if (a->n != b->n)
        return FALSE;
    for (size_t i = 0; i < a->n; i++) {
        const size_t n = dt_lines_count(a, i);
        if (a->closed[i] != b->closed[i] || n != dt_lines_count(b, i))
            return FALSE;
        for (size_t k = 0; k < n; k++)
            if (dt_point_distance(dt_lines_at(a, i)[k], dt_lines_at(b, i)[k]) > NEAR)
                return FALSE;
    }
    return TRUE;
}

static gboolean same_colour(DtColour a, DtColour b)
{
    return fabs(a.alpha - b.alpha) < SHADE &&
           (a.alpha < SHADE ||
            (fabs(a.r - b.r) < SHADE && fabs(a.g - b.g) < SHADE && fabs(a.b - b.b) < SHADE));
}

static gboolean same_paint(const DtPaint *a, const DtPaint *b, DtBox box)
{
    if (a->kind != b->kind || a->kind == DT_PAINT_NONE)
        return a->kind == b->kind;
    if (a->kind == DT_PAINT_FLAT)
        return same_colour(a->colour, b->colour);
    for (int k = 0; k < SAMPLES * SAMPLES; k++) {
        const DtPoint p = {box.x0 + dt_box_width(box) * (k % SAMPLES + 0.5) / SAMPLES,
                           box.y0 + dt_box_height(box) * (k / SAMPLES + 0.5) / SAMPLES};
        if (!same_colour(dt_art_tone_at(a->tone, p), dt_art_tone_at(b->tone, p)))
            return FALSE;
    }
    return TRUE;
}

static gboolean same_nib(const DtStrokeStyle *a, const DtStrokeStyle *b)
{
    const DtPoint x = {1, 0}, y = {0, 1};
    return dt_point_distance(dt_affine_apply_vector(a->user_to_mm, dt_point_scale(x, a->width)),
                             dt_affine_apply_vector(b->user_to_mm, dt_point_scale(x, b->width))) <
               NEAR &&
           dt_point_distance(dt_affine_apply_vector(a->user_to_mm, dt_point_scale(y, a->width)),
                             dt_affine_apply_vector(b->user_to_mm, dt_point_scale(y, b->width))) <
               NEAR;
}

static gboolean same_stroke(const DtStrokeStyle *a, const DtStrokeStyle *b, DtBox box)
{
    if (!same_paint(&a->paint, &b->paint, box))
        return FALSE;
    if (a->paint.kind == DT_PAINT_NONE)
        return TRUE;
    if (a->cap != b->cap || a->join != b->join || !is_near(a->miter_limit, b->miter_limit) ||
        a->n_dash != b->n_dash || !is_near(a->dash_offset, b->dash_offset))
        return FALSE;
    for (size_t i = 0; i < a->n_dash; i++)
        if (!is_near(a->dash[i], b->dash[i]))
            return FALSE;
    return same_nib(a, b);
}

static gboolean same_clip(const DtDrawing *a, int i, const DtDrawing *b, int k)
{
    for (; i >= 0 && k >= 0; i = a->clips[i].parent, k = b->clips[k].parent) {
        const DtClip *p = &a->clips[i], *q = &b->clips[k];
        if (p->n_regions != q->n_regions)
            return FALSE;
        for (size_t r = 0; r < p->n_regions; r++)
            if (p->regions[r].rule != q->regions[r].rule ||
                !same_lines(&p->regions[r].outline, &q->regions[r].outline) ||
                !same_clip(a, p->regions[r].clip, b, q->regions[r].clip))
                return FALSE;
    }
    return i < 0 && k < 0;
}

static double opacity_of(const DtDrawing *d, int group)
{
    double opacity = 1;
    for (; group >= 0; group = d->groups[group].parent)
        opacity *= d->groups[group].opacity;
    return opacity;
}

static gboolean same_drawing(const DtDrawing *a, const DtDrawing *b)
{
    if (a->n_shapes != b->n_shapes || !same_box(a->view, b->view))
        return FALSE;
    for (size_t i = 0; i < a->n_shapes; i++) {
        const DtShape *p = &a->shapes[i], *q = &b->shapes[i];
        const DtBox box = dt_lines_box(&p->outline);
        if (!same_lines(&p->outline, &q->outline) || !same_paint(&p->fill, &q->fill, box) ||
            (p->fill.kind != DT_PAINT_NONE && p->rule != q->rule) ||
            !same_stroke(&p->stroke, &q->stroke, box) || p->stroke_first != q->stroke_first ||
            !same_clip(a, p->clip, b, q->clip) ||
            !is_near(opacity_of(a, p->group), opacity_of(b, q->group)))
            return FALSE;
    }
    return TRUE;
}

static DtDrawing *drawing_of(const char *pattern, const char *spelling, gboolean told)
{
    const char *mark = strchr(pattern, '%');
    g_autofree char *content =
        g_strdup_printf("%.*s%s%s", (int)(mark - pattern), pattern, spelling, mark + 1);
    DtDrawing *d = read_page(content);
    if ((d->n_notes > 0) != told)
        g_error("%s: %s", content, told ? "nothing is told" : d->notes[0].text);
    return d;
}

/* The drawing of a line; every spelling there is it. */
static DtDrawing *drawing_of_line(const char *pattern, const char *line)
{
    const gboolean told = g_str_has_prefix(line, "! ");
    g_auto(GStrv) spellings = g_strsplit(line + (told ? 2 : 0), " | ", -1);
    DtDrawing *first = drawing_of(pattern, spellings[0], told);
    for (char **s = spellings + 1; *s; s++) {
        g_autoptr(DtDrawing) d = drawing_of(pattern, *s, told);
        if (!same_drawing(first, d))
            g_error("%s: '%s' is not '%s'", pattern, *s, spellings[0]);
    }
    return first;
}

static void drawing_free(gpointer d)
{
    dt_drawing_free(d);
}

static void test_every_line(void)
{
    g_autofree char *name = g_test_build_filename(G_TEST_DIST, "same.txt", NULL);
    g_autofree char *text = dt_base_read_file(name, 1 << 20, NULL, NULL);
    g_assert_nonnull(text);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    g_autoptr(GPtrArray) others = g_ptr_array_new_with_free_func(drawing_free);
    const char *pattern = NULL;
    for (char **line = lines; *line; line++) {
        if (g_str_has_prefix(*line, "= ")) {
            pattern = *line + 2;
            g_ptr_array_set_size(others, 0);
        } else if (**line && **line != '#') {
            DtDrawing *d = drawing_of_line(pattern, *line);
            const gboolean told = g_str_has_prefix(*line, "! "); /* ignored: as nothing was said */
            for (guint i = 0; i < others->len && !told; i++)
                if (same_drawing(d, others->pdata[i]))
                    g_error("%s: '%s' is not another drawing than line %u", pattern, *line, i + 1);
            if (told)
                dt_drawing_free(d);
            else
                g_ptr_array_add(others, d);
        }
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/same/every-line", test_every_line);
    return g_test_run();
}
