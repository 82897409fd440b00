/* fuzz-svg: any bytes as a drawing file. Whatever comes out must be sound: finite outlines, indices
 * that exist, clips and groups without cycles. */
#include "drawtrue/art.h"
#include "support/font-leaks.h"

#include <math.h>

static void check_lines(const DtLines *l)
{
    for (size_t i = 0; i < l->n_pts; i++)
        if (!isfinite(l->pts[i].x) || !isfinite(l->pts[i].y))
            g_error("a point is not finite");
    if (l->n > 0 && l->first[l->n] != l->n_pts)
        g_error("polylines and points do not agree");
}

static void check(const DtDrawing *d)
{
    for (size_t i = 0; i < d->n_shapes; i++) {
        const DtShape *s = &d->shapes[i];
        check_lines(&s->outline);
        if (s->clip >= (int)d->n_clips || s->group < 0 || s->group >= (int)d->n_groups)
            g_error("an index is out of range");
        if (!(s->fill.colour.alpha >= 0 && s->fill.colour.alpha <= 1))
            g_error("an alpha is out of range");
        if (s->fill.kind == DT_PAINT_TONE && s->outline.n_pts > 0) {
            DtColour c = dt_art_tone_at(s->fill.tone, s->outline.pts[0]);
            if (!(c.alpha >= 0 && c.alpha <= 1))
                g_error("a tone's alpha is out of range");
        }
    }
    for (size_t i = 0; i < d->n_clips; i++) {
        if (d->clips[i].parent >= (int)i)
            g_error("a clip lies within itself");
        for (size_t k = 0; k < d->clips[i].n_regions; k++)
            check_lines(&d->clips[i].regions[k].outline);
    }
    for (size_t i = 0; i < d->n_groups; i++)
        if (d->groups[i].parent >= (int)i)
            g_error("a group lies within itself");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.single_line_text = size % 2 == 1;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d = dt_art_read_data((const char *)data, size, "fuzz.svg", &o, &error);
    if (!d == !error)
        g_error("either a drawing or an error");
    if (d) {
        check(d);
        dt_art_place(d, (DtAffine){0.5, 0.1, 0.1, -0.5, 3, 200});
        check(d);
        (void)dt_art_box(d);
    }
    return 0;
}
