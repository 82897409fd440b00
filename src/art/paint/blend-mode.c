/* blend-mode: mix-blend-mode, as a picture of the element over its backdrop (Compositing 1, 10). */
#include "art/paint/effect.h"

#include <math.h>

/* The region where the shapes from `from` on are visible: the page. */
static DtBox box_of(const ArtReader *r, guint from)
{
    DtBox box = DT_BOX_EMPTY;
    for (guint i = from; i < r->shapes->len; i++) {
        const DtShape *s = &g_array_index(r->shapes, DtShape, i);
        double reach = 0;
        if (s->stroke.paint.kind != DT_PAINT_NONE)
            reach = s->stroke.width * MAX(1, s->stroke.miter_limit) *
                    dt_affine_max_stretch(s->stroke.user_to_mm);
        box = dt_box_union(box, dt_box_grow(dt_lines_box(&s->outline), reach));
    }
    return dt_box_intersect(box, dt_box_grow(r->d->view, 1));
}

static cairo_operator_t operator_of(ArtBlend b)
{
    static const cairo_operator_t all[] = {[ART_BLEND_NORMAL] = CAIRO_OPERATOR_OVER,
                                           [ART_BLEND_MULTIPLY] = CAIRO_OPERATOR_MULTIPLY,
                                           [ART_BLEND_SCREEN] = CAIRO_OPERATOR_SCREEN,
                                           [ART_BLEND_OVERLAY] = CAIRO_OPERATOR_OVERLAY,
                                           [ART_BLEND_DARKEN] = CAIRO_OPERATOR_DARKEN,
                                           [ART_BLEND_LIGHTEN] = CAIRO_OPERATOR_LIGHTEN,
                                           [ART_BLEND_DODGE] = CAIRO_OPERATOR_COLOR_DODGE,
                                           [ART_BLEND_BURN] = CAIRO_OPERATOR_COLOR_BURN,
                                           [ART_BLEND_HARD_LIGHT] = CAIRO_OPERATOR_HARD_LIGHT,
                                           [ART_BLEND_SOFT_LIGHT] = CAIRO_OPERATOR_SOFT_LIGHT,
                                           [ART_BLEND_DIFFERENCE] = CAIRO_OPERATOR_DIFFERENCE,
                                           [ART_BLEND_EXCLUSION] = CAIRO_OPERATOR_EXCLUSION,
                                           [ART_BLEND_HUE] = CAIRO_OPERATOR_HSL_HUE,
                                           [ART_BLEND_SATURATION] = CAIRO_OPERATOR_HSL_SATURATION,
                                           [ART_BLEND_COLOR] = CAIRO_OPERATOR_HSL_COLOR,
                                           [ART_BLEND_LUMINOSITY] = CAIRO_OPERATOR_HSL_LUMINOSITY,
                                           [ART_BLEND_PLUS_LIGHTER] = CAIRO_OPERATOR_ADD};
    return all[b];
}

/* The blended result minus what shows through of the backdrop, so that painting it over the
 * backdrop gives the blend. */
static void take_backdrop_out(ArtImage *blended, const ArtImage *element, const ArtImage *backdrop)
{
    for (gsize i = 0; i < (gsize)element->w * (gsize)element->h; i++) {
        float alpha = element->px[4 * i + 3];
        for (gsize k = 0; k < 4; k++) {
            float v = blended->px[4 * i + k] - (1 - alpha) * backdrop->px[4 * i + k];
            blended->px[4 * i + k] = k == 3 ? alpha : CLAMP(v, 0, alpha);
        }
    }
}

void dt_art_blend(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, guint beneath,
                  guint from)
{
    ArtPictureSheet sheet;
    ArtBlend mode = (ArtBlend)s->blend;
    if (from == beneath) /* over an empty backdrop nothing is blended */
        return;
    if (!dt_art_sheet_open(r, n->line, box_of(r, from), ART_EFFECT_SIDE, &sheet))
        return;
    ArtImage backdrop = dt_art_image_of_shapes(r, &sheet, beneath, from, -2);
    ArtImage element = dt_art_image_of_shapes(r, &sheet, from, r->shapes->len, -2);
    dt_art_image_draw(&backdrop, sheet.surface, CAIRO_OPERATOR_SOURCE);
    dt_art_image_draw(&element, sheet.surface, operator_of(mode));
    ArtImage blended = dt_art_image_from(sheet.surface);
    take_backdrop_out(&blended, &element, &backdrop);
    dt_art_image_emit(r, n, scope, &sheet, &blended, from);
    dt_art_note(r, n, "a blend (mix-blend-mode) is drawn as a picture of what it makes");
    g_free(backdrop.px);
    g_free(element.px);
    g_free(blended.px);
    cairo_destroy(sheet.cr);
    cairo_surface_destroy(sheet.surface);
}
