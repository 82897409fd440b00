/* shape: the basic shapes of SVG 1.1 chapter 9 as paths. */
#include "art/private.h"

#include <math.h>

void dt_art_ellipse_path(DtPath *out, double cx, double cy, double rx, double ry)
{
    /* 9.3 and 9.4: clockwise from the right end, so that dashes and markers start there. */
    dt_path_move(out, (DtPoint){cx + rx, cy});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){cx, cy + ry});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){cx - rx, cy});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){cx, cy - ry});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){cx + rx, cy});
    dt_path_close(out);
}

void dt_art_rect_path(DtPath *out, double x, double y, double w, double h, double rx, double ry)
{
    if (!(rx > 0 && ry > 0)) {
        dt_path_move(out, (DtPoint){x, y});
        dt_path_line(out, (DtPoint){x + w, y});
        dt_path_line(out, (DtPoint){x + w, y + h});
        dt_path_line(out, (DtPoint){x, y + h});
        dt_path_close(out);
        return;
    }
    rx = MIN(rx, w / 2);
    ry = MIN(ry, h / 2);
    dt_path_move(out, (DtPoint){x + rx, y});
    dt_path_line(out, (DtPoint){x + w - rx, y});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){x + w, y + ry});
    dt_path_line(out, (DtPoint){x + w, y + h - ry});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){x + w - rx, y + h});
    dt_path_line(out, (DtPoint){x + rx, y + h});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){x, y + h - ry});
    dt_path_line(out, (DtPoint){x, y + ry});
    dt_path_arc(out, rx, ry, 0, FALSE, TRUE, (DtPoint){x + rx, y});
    dt_path_close(out);
}

static gboolean points(ArtReader *r, const ArtNode *n, gboolean closed, DtPath *out)
{
    const char *s = dt_art_attr(n, ART_AT_POINTS);
    if (!s)
        return FALSE;
    gboolean first = TRUE;
    s = art_skip_space(s);
    while (*s) {
        DtPoint p;
        gboolean whole = art_number(&s, &p.x);
        s = art_skip_comma(s);
        if (!whole || !art_number(&s, &p.y)) {
            dt_art_note(r, n, "<%s>: its points are malformed; drawn up to there", n->local);
            break;
        }
        if (first)
            dt_path_move(out, p);
        else
            dt_path_line(out, p);
        first = FALSE;
        s = art_skip_comma(s);
    }
    if (closed && !first)
        dt_path_close(out);
    return out->n_verb > 1;
}

typedef struct {
    ArtReader *r;
    const ArtNode *n;
    const ArtStyle *s;
    const ArtScope *scope;
} Source;

static double px(const Source *f, ArtName name, ArtAlong along)
{
    ArtLength zero = {.value = 0, .unit = ART_UNIT_NUMBER};
    return dt_art_attr_px(f->r, f->n, name, f->s, f->scope, along, zero);
}

/* A radius of a rect or ellipse: FALSE where it is `auto`, absent or in error. */
static gboolean radius(const Source *f, ArtName name, ArtAlong along, double *out)
{
    ArtLength l;
    const char *text = dt_art_attr(f->n, name);
    if (text && strcmp(text, "auto") == 0)
        dt_art_note(f->r, f->n, "a radius of auto as an attribute: browsers take it as 0");
    else
        dt_art_note_length(f->r, f->n, name);
    if (!dt_art_attr_length(f->n, name, f->s, &l) || (l.unit != ART_UNIT_MATH && l.value < 0))
        return FALSE;
    *out = dt_art_px(l, f->s, f->scope, along, &f->r->root);
    return TRUE;
}

static void radii(const Source *f, double *rx, double *ry)
{
    gboolean x = radius(f, ART_AT_RX, ART_ALONG_X, rx);
    gboolean y = radius(f, ART_AT_RY, ART_ALONG_Y, ry);
    if (!x)
        *rx = y ? *ry : 0;
    if (!y)
        *ry = x ? *rx : 0;
}

double dt_art_unit_along(const ArtNode *n, double length)
{
    const char *text = dt_art_attr(n, ART_AT_PATH_LENGTH);
    double own;
    if (!text)
        return 1;
    text = art_skip_space(text);
    return art_number(&text, &own) && own >= 0 ? length / own : 1;
}

gboolean dt_art_shape_path(ArtReader *r, const ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           DtPath *out)
{
    Source f = {r, n, s, scope};
    switch (n->tag) {
    case ART_TAG_PATH: {
        const char *d = s->path_data ? s->path_data : dt_art_attr(n, ART_AT_D);
        gsize at = 0;
        if (d && !dt_art_path_data(d, out, &at))
            dt_art_note(r, n, "path data in error after %zu bytes; drawn up to there", at);
        return out->n_verb > 0;
    }
    case ART_TAG_RECT: {
        double w = px(&f, ART_AT_WIDTH, ART_ALONG_X), h = px(&f, ART_AT_HEIGHT, ART_ALONG_Y);
        if (!(w > 0 && h > 0))
            return FALSE;
        double rx, ry;
        radii(&f, &rx, &ry);
        dt_art_rect_path(out, px(&f, ART_AT_X, ART_ALONG_X), px(&f, ART_AT_Y, ART_ALONG_Y), w, h,
                         rx, ry);
        return TRUE;
    }
    case ART_TAG_CIRCLE: {
        double radius_px = px(&f, ART_AT_R, ART_ALONG_BOTH);
        if (!(radius_px > 0))
            return FALSE;
        dt_art_ellipse_path(out, px(&f, ART_AT_CX, ART_ALONG_X), px(&f, ART_AT_CY, ART_ALONG_Y),
                            radius_px, radius_px);
        return TRUE;
    }
    case ART_TAG_ELLIPSE: {
        double rx, ry;
        radii(&f, &rx, &ry);
        if (!(rx > 0 && ry > 0))
            return FALSE;
        dt_art_ellipse_path(out, px(&f, ART_AT_CX, ART_ALONG_X), px(&f, ART_AT_CY, ART_ALONG_Y), rx,
                            ry);
        return TRUE;
    }
    case ART_TAG_LINE:
        dt_path_move(out,
                     (DtPoint){px(&f, ART_AT_X1, ART_ALONG_X), px(&f, ART_AT_Y1, ART_ALONG_Y)});
        dt_path_line(out,
                     (DtPoint){px(&f, ART_AT_X2, ART_ALONG_X), px(&f, ART_AT_Y2, ART_ALONG_Y)});
        return TRUE;
    case ART_TAG_POLYLINE:
        return points(r, n, FALSE, out);
    case ART_TAG_POLYGON:
        return points(r, n, TRUE, out);
    default:
        return FALSE;
    }
}
