/* viewport: viewBox and preserveAspectRatio (SVG 1.1 7.7 and 7.8). */
#include "art/private.h"

gboolean dt_art_view_box(const char *text, DtBox *out)
{
    double v[4];
    const char *s = art_skip_space(text);
    for (int i = 0; i < 4; i++) {
        if (!art_number(&s, &v[i]))
            return FALSE;
        s = art_skip_comma(s);
    }
    if (*s || v[2] < 0 || v[3] < 0)
        return FALSE;
    *out = (DtBox){v[0], v[1], v[0] + v[2], v[1] + v[3]};
    return TRUE;
}

typedef struct {
    gboolean none, slice;
    double x, y; /* 0 min, 0.5 mid, 1 max */
} Aspect;

static gboolean align_of(const char *p, double *out)
{
    if (strncmp(p, "Min", 3) == 0)
        *out = 0;
    else if (strncmp(p, "Mid", 3) == 0)
        *out = 0.5;
    else if (strncmp(p, "Max", 3) == 0)
        *out = 1;
    else
        return FALSE;
    return TRUE;
}

/* SVG 2, 8.7; anything else counts as if it were not there. */
static Aspect aspect_of(const char *s)
{
    Aspect a = {FALSE, FALSE, 0.5, 0.5}, usual = a;
    if (!s)
        return a;
    s = art_skip_space(s);
    if (strncmp(s, "none", 4) == 0) {
        a.none = TRUE;
        s += 4;
    } else if (s[0] == 'x' && align_of(s + 1, &a.x) && s[4] == 'Y' && align_of(s + 5, &a.y)) {
        s += 8;
    } else {
        return usual;
    }
    s = art_skip_space(s);
    a.slice = strncmp(s, "slice", 5) == 0;
    if (a.slice || strncmp(s, "meet", 4) == 0)
        s = art_skip_space(s + (a.slice ? 5 : 4));
    return *s ? usual : a;
}

DtAffine dt_art_aspect_map(const char *aspect, DtBox b, double w, double h)
{
    Aspect a = aspect_of(aspect);
    double bw = dt_box_width(b), bh = dt_box_height(b), kx = w / bw, ky = h / bh;
    if (!a.none)
        kx = ky = a.slice ? MAX(kx, ky) : MIN(kx, ky);
    double x = a.none ? 0 : (w - bw * kx) * a.x, y = a.none ? 0 : (h - bh * ky) * a.y;
    return dt_affine_then(dt_affine_translate(-b.x0, -b.y0),
                          dt_affine_then(dt_affine_scale(kx, ky), dt_affine_translate(x, y)));
}

gboolean dt_art_view_map(const ArtNode *n, double w, double h, DtAffine *map, DtBox *box,
                         gboolean *slice)
{
    const char *text = dt_art_attr(n, ART_AT_VIEW_BOX);
    DtBox b;
    *map = DT_AFFINE_IDENTITY;
    *slice = FALSE;
    *box = (DtBox){0, 0, w, h};
    if (!text || !dt_art_view_box(text, &b))
        return TRUE;
    double bw = dt_box_width(b), bh = dt_box_height(b);
    if (!(bw > 0 && bh > 0))
        return FALSE;
    const char *aspect = dt_art_attr(n, ART_AT_PRESERVE_ASPECT_RATIO);
    *map = dt_art_aspect_map(aspect, b, w, h);
    *box = b;
    *slice = aspect_of(aspect).slice;
    return TRUE;
}
