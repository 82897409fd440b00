/* text-path: text along a path (SVG 1.1 10.13). */
#include "art/text/text.h"

#include <math.h>

gboolean dt_art_text_path_of(ArtReader *r, const ArtNode *text_path, const ArtScope *scope,
                             ArtTrack *out)
{
    *out = (ArtTrack){.length = 0};
    const ArtNode *target = dt_art_target(r->doc, dt_art_href(text_path));
    ArtStyle s;
    if (!target)
        return FALSE;
    dt_art_style_in_place(r, target, &s);
    g_auto(DtPath) path = {0};
    if (!dt_art_shape_path(r, target, &s, scope, &path))
        return FALSE;
    double stretch = dt_affine_max_stretch(scope->ctm);
    dt_art_flatten(r, target, &path, s.transform, r->tolerance / MAX(stretch, 1e-12), &out->lines);
    out->length = dt_lines_total_length(&out->lines);
    out->unit = dt_art_unit_along(target, out->length);
    return out->length > 0 && isfinite(out->length);
}

gboolean dt_art_text_path_at(const ArtTrack *t, double s, DtPoint *at, double *angle)
{
    if (!(s >= 0 && s <= t->length))
        return FALSE;
    for (gsize i = 0; i < t->lines.n; i++) {
        const DtPoint *p = dt_lines_at(&t->lines, i);
        gsize n = dt_lines_count(&t->lines, i), last = t->lines.closed[i] ? n : n - 1;
        for (gsize j = 0; j < last; j++) {
            DtPoint a = p[j], b = p[j + 1 < n ? j + 1 : 0];
            double length = dt_point_distance(a, b);
            if (s <= length && length > 0) {
                *at = dt_point_lerp(a, b, s / length);
                *angle = atan2(b.y - a.y, b.x - a.x);
                return TRUE;
            }
            s -= length;
        }
    }
    return FALSE;
}

void dt_art_text_path_clear(ArtTrack *t)
{
    dt_lines_clear(&t->lines);
}
