/* tones: a scale of the coverages that a pen can give, as it will be drawn. */
#include "proof/private.h"

enum { STEPS = 10 };

static void draw_patch(cairo_t *cr, const DtPen *pen, const DtInkOptions *o, DtBox box,
                       double coverage)
{
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    dt_ink_tone_patch(box, coverage, pen, 0, o, &s, NULL); /* if it fails there is no ink */
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_width(cr, pen->tip);
    dt_proof_colour(cr, pen->colour);
    for (size_t i = 0; i < s.n; i++) {
        const DtPoint *p = s.pts + s.strokes[i].first;
        for (size_t k = 0; k < s.strokes[i].n; k++)
            cairo_line_to(cr, p[k].x, p[k].y);
        if (s.strokes[i].closed)
            cairo_close_path(cr);
        cairo_stroke(cr);
    }
}

void dt_proof_tones(cairo_t *cr, const DtPen *pen, const DtInkOptions *o, DtBox where, double scale)
{
    cairo_save(cr);
    cairo_translate(cr, where.x0, where.y1);
    cairo_scale(cr, scale, -scale); /* y grows upwards, as on the bed */
    double w = dt_box_width(where) / scale, h = dt_box_height(where) / scale;
    cairo_rectangle(cr, 0, 0, w, h);
    dt_proof_colour(cr, dt_proof_paper);
    cairo_fill_preserve(cr);
    cairo_clip(cr);
    double step = w / (STEPS + 1);
    for (int i = 0; i <= STEPS; i++)
        draw_patch(cr, pen, o, (DtBox){i * step, 0, (i + 1) * step, h}, (double)i / STEPS);
    cairo_restore(cr);
}
