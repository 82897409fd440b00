/* viewport: viewBox and preserveAspectRatio (SVG 1.1 7.7 and 7.8), and the size of the page. */
#include "art/private.h"
#include "art/style/style.h"

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

/* SVG 2, 8.7. FALSE if it is in error: then it counts as if it were not there. */
static gboolean read_aspect(const char *s, Aspect *out)
{
    Aspect a = {FALSE, FALSE, 0.5, 0.5};
    *out = a;
    if (!s)
        return TRUE;
    s = art_skip_space(s);
    if (strncmp(s, "none", 4) == 0) {
        a.none = TRUE;
        s += 4;
    } else if (s[0] == 'x' && align_of(s + 1, &a.x) && s[4] == 'Y' && align_of(s + 5, &a.y)) {
        s += 8;
    } else {
        return FALSE;
    }
    s = art_skip_space(s);
    a.slice = strncmp(s, "slice", 5) == 0;
    if (a.slice || strncmp(s, "meet", 4) == 0)
        s = art_skip_space(s + (a.slice ? 5 : 4));
    if (*s)
        return FALSE;
    *out = a;
    return TRUE;
}

DtAffine dt_art_aspect_map(const char *aspect, DtBox b, double w, double h)
{
    Aspect a;
    read_aspect(aspect, &a);
    double bw = dt_box_width(b), bh = dt_box_height(b), kx = w / bw, ky = h / bh;
    if (!a.none)
        kx = ky = a.slice ? MAX(kx, ky) : MIN(kx, ky);
    double x = a.none ? 0 : (w - bw * kx) * a.x, y = a.none ? 0 : (h - bh * ky) * a.y;
    return dt_affine_then(dt_affine_translate(-b.x0, -b.y0),
                          dt_affine_then(dt_affine_scale(kx, ky), dt_affine_translate(x, y)));
}

gboolean dt_art_view_map(ArtReader *r, const ArtNode *n, double w, double h, DtAffine *map,
                         DtBox *box, gboolean *slice)
{
    Aspect a;
    const char *text = dt_art_attr(n, ART_AT_VIEW_BOX);
    DtBox b;
    *map = DT_AFFINE_IDENTITY;
    *slice = FALSE;
    *box = (DtBox){0, 0, w, h};
    if (!text)
        return TRUE;
    if (!dt_art_view_box(text, &b)) {
        dt_art_note_attr(r, n, ART_AT_VIEW_BOX);
        return TRUE;
    }
    double bw = dt_box_width(b), bh = dt_box_height(b);
    if (!(bw > 0 && bh > 0))
        return FALSE;
    const char *aspect = dt_art_attr(n, ART_AT_PRESERVE_ASPECT_RATIO);
    *map = dt_art_aspect_map(aspect, b, w, h);
    *box = b;
    if (!read_aspect(aspect, &a))
        dt_art_note_attr(r, n, ART_AT_PRESERVE_ASPECT_RATIO);
    *slice = a.slice;
    return TRUE;
}

/* The page ------------------------------------------------------------------------------------ */

static gboolean is_of_outside(ArtUnit unit)
{
    return unit == ART_UNIT_PERCENT || unit == ART_UNIT_VW || unit == ART_UNIT_VH ||
           unit == ART_UNIT_VMIN || unit == ART_UNIT_VMAX;
}

gboolean dt_art_page_size(ArtReader *r, const ArtNode *root, const ArtStyle *s, double *w,
                          double *h)
{
    ArtLength lw, lh;
    const char *tw = dt_art_attr(root, ART_AT_WIDTH), *th = dt_art_attr(root, ART_AT_HEIGHT);
    const char *view = dt_art_attr(root, ART_AT_VIEW_BOX);
    ArtScope nowhere = {0};
    gboolean has_w = tw && dt_art_length(tw, &lw) && !is_of_outside(lw.unit);
    gboolean has_h = th && dt_art_length(th, &lh) && !is_of_outside(lh.unit);
    dt_art_note_length(r, root, ART_AT_WIDTH);
    dt_art_note_length(r, root, ART_AT_HEIGHT);
    DtBox b;
    gboolean has_view = view && dt_art_view_box(view, &b);
    double aspect = has_view && dt_box_height(b) > 0 ? dt_box_width(b) / dt_box_height(b) : 0;
    *w = has_w ? dt_art_px(lw, s, &nowhere, ART_ALONG_X, &r->root) : 0;
    *h = has_h ? dt_art_px(lh, s, &nowhere, ART_ALONG_Y, &r->root) : 0;
    if (has_w && has_h)
        return TRUE;
    if (has_view && aspect > 0) {
        if (!has_w)
            *w = has_h ? *h * aspect : dt_box_width(b);
        if (!has_h)
            *h = has_w ? *w / aspect : dt_box_height(b);
        return TRUE;
    }
    if (!has_w)
        *w = r->o.default_width / ART_MM_PER_PX;
    if (!has_h)
        *h = r->o.default_height / ART_MM_PER_PX;
    r->sized_by_content = !has_w && !has_h && !has_view;
    if (has_w)
        dt_art_note(r, root, "the page has no height: taken as %g mm", r->o.default_height);
    if (has_h)
        dt_art_note(r, root, "the page has no width: taken as %g mm", r->o.default_width);
    return FALSE;
}
