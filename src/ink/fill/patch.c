/* patch: one step of a tone scale. */
#include "ink/fill/fill.h"

gboolean dt_ink_tone_patch(DtBox box, double coverage, const DtPen *pen, unsigned index,
                           const DtInkOptions *o, DtStrokes *out, GError **error)
{
    if (!(coverage > 0))
        return TRUE;
    DtPoint corners[4] = {{box.x0, box.y0}, {box.x1, box.y0}, {box.x1, box.y1}, {box.x0, box.y1}};
    g_auto(DtLines) outline, region;
    dt_lines_init(&outline);
    dt_lines_init(&region);
    dt_lines_append(&outline, corners, 4, TRUE);
    DtFillStyle f = {.hatch = o->hatch,
                     .angle = o->angle,
                     .pitch = o->pitch > 0 ? o->pitch : pen->tip,
                     .tip = pen->tip,
                     .pen = index,
                     .shape = -1,
                     .edge = o->edge,
                     .coverage = MIN(coverage, 1)};
    return dt_region_clean(&outline, DT_PLANE_NONZERO, &region, error) &&
           dt_fill_area(&region, &f, out, error);
}
