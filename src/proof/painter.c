/* painter: lines on a cairo context in bed mm. */
#include "proof/private.h"

void dt_proof_path(cairo_t *cr, const DtLines *l, size_t i)
{
    const DtPoint *at = dt_lines_at(l, i);
    size_t n = dt_lines_count(l, i);
    if (n == 0)
        return;
    cairo_move_to(cr, at[0].x, at[0].y);
    for (size_t k = 1; k < n; k++)
        cairo_line_to(cr, at[k].x, at[k].y);
    if (l->closed[i])
        cairo_close_path(cr);
    else if (n == 1)
        cairo_line_to(cr, at[0].x, at[0].y); /* a dot */
}

void dt_proof_stroke(cairo_t *cr, const DtLines *l, DtColour colour, double width)
{
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_width(cr, width);
    dt_proof_colour(cr, colour);
    for (size_t i = 0; i < l->n; i++) {
        dt_proof_path(cr, l, i);
        cairo_stroke(cr);
    }
}
