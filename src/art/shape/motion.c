/* motion: the transform of an element by its own properties: CSS Transforms 1 and 2, Motion Path
 * 1. */
#include "art/text/text.h"
#include "art/style/property.h"

#include <math.h>

DtBox dt_art_reference_box(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           ArtBoxKind kind)
{
    if (kind == ART_BOX_VIEW)
        return (DtBox){0, 0, scope->vw, scope->vh};
    ArtScope in = *scope;
    in.style = s;
    gboolean strokes = r->box_of_strokes, estimate = r->box_is_estimate;
    r->box_of_strokes = kind == ART_BOX_STROKE;
    r->box_is_estimate = FALSE;
    /* A <clipPath> has no stroke of its own: browsers take the box of what it clips. */
    gboolean given = scope->object_box && (kind != ART_BOX_STROKE || n->tag == ART_TAG_CLIP_PATH);
    DtBox box = given ? *scope->object_box : dt_art_node_box(r, n, &in);
    if (r->box_is_estimate)
        dt_art_note(r, n, "the box of a stroke is taken as half its width around the shape");
    r->box_of_strokes = strokes;
    r->box_is_estimate = estimate;
    return box;
}

/* The point and direction at this distance along a path, in user units; a closed path wraps
 * around. */
static gboolean along(ArtReader *r, const ArtNode *n, const ArtScope *scope, const DtPath *path,
                      ArtLength distance, const ArtStyle *s, DtPoint *at, double *angle)
{
    ArtTrack t = {.length = 0};
    double stretch = dt_affine_max_stretch(scope->ctm);
    dt_art_flatten(r, n, path, DT_AFFINE_IDENTITY, r->tolerance / MAX(stretch, 1e-12) / 8,
                   &t.lines);
    t.length = dt_lines_total_length(&t.lines);
    double where = dt_art_px_of(distance, s, t.length, &r->root);
    gboolean closed = t.lines.n > 0 && t.lines.closed[t.lines.n - 1];
    gboolean found = t.length > 0 && isfinite(t.length);
    if (found) {
        where = closed ? where - floor(where / t.length) * t.length : CLAMP(where, 0, t.length);
        found = dt_art_text_path_at(&t, where, at, angle);
    }
    dt_art_text_path_clear(&t);
    return found;
}

/* ray(angle [size] [contain]) from a point: Motion Path 1, 2.1.1. */
static gboolean ray(ArtReader *r, const char *arguments, const ArtStyle *s, DtBox box, DtPoint from,
                    DtPoint *at, double *angle)
{
    g_autofree char *text = g_strndup(arguments, strlen(arguments) - 1);
    g_auto(GStrv) words = dt_art_value_words(text);
    double degrees = 0, left = from.x - box.x0, right = box.x1 - from.x, top = from.y - box.y0,
           bottom = box.y1 - from.y;
    double length = MIN(MIN(left, right), MIN(top, bottom));
    for (char **w = words; *w; w++) {
        const char *p = *w;
        if (dt_art_angle_at(&p, &degrees))
            continue;
        if (dt_art_word_is(*w, "farthest-side"))
            length = MAX(MAX(left, right), MAX(top, bottom));
        else if (dt_art_word_is(*w, "closest-corner"))
            length = hypot(MIN(left, right), MIN(top, bottom));
        else if (dt_art_word_is(*w, "farthest-corner"))
            length = hypot(MAX(left, right), MAX(top, bottom));
        else if (!dt_art_word_is(*w, "closest-side"))
            return FALSE;
    }
    double distance = dt_art_px_of(s->offset_distance, s, MAX(length, 0), &r->root);
    *angle = (degrees - 90) * G_PI / 180; /* 0 is up, clockwise */
    *at = (DtPoint){from.x + cos(*angle) * distance, from.y + sin(*angle) * distance};
    return TRUE;
}

static DtPoint place(ArtReader *r, const char *text, const ArtStyle *s, DtBox box, DtPoint missing)
{
    ArtOrigin o;
    if (!text || !dt_art_position(text, &o))
        return missing;
    return (DtPoint){box.x0 + dt_art_px_of(o.x, s, dt_box_width(box), &r->root),
                     box.y0 + dt_art_px_of(o.y, s, dt_box_height(box), &r->root)};
}

/* The turn by offset-rotate, radians. */
static double turn_of(const char *text, double direction)
{
    g_auto(GStrv) words = dt_art_value_words(text ? text : "auto");
    double turn = 0;
    for (char **w = words; *w; w++) {
        const char *p = *w;
        double degrees;
        if (dt_art_word_is(p, "auto"))
            turn += direction;
        else if (dt_art_word_is(p, "reverse"))
            turn += direction + G_PI;
        else if (dt_art_angle_at(&p, &degrees))
            turn += degrees * G_PI / 180;
    }
    return turn;
}

/* Moves the anchor (the origin of transforms by default) to the path and rotates about it. */
static DtAffine offset_map(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           DtBox box, DtPoint origin)
{
    DtBox view = {0, 0, scope->vw, scope->vh};
    DtPoint at = origin, middle = {scope->vw / 2, scope->vh / 2};
    double angle = 0;
    DtFillRule rule;
    g_auto(DtPath) path = {0};
    gboolean found;
    if (g_ascii_strncasecmp(s->offset_path, "ray(", 4) == 0) {
        found = ray(r, s->offset_path + 4, s, view, place(r, s->offset_position, s, view, middle),
                    &at, &angle);
    } else {
        g_autofree char *shape = strstr(s->offset_path, "-box")
                                     ? g_strdup(s->offset_path)
                                     : g_strconcat(s->offset_path, " view-box", NULL);
        found = dt_art_basic_shape(r, n, shape, s, scope, &path, &rule) &&
                along(r, n, scope, &path, s->offset_distance, s, &at, &angle);
    }
    if (!found) {
        dt_art_note(r, n, "offset-path: %.60s is not followed", s->offset_path);
        return DT_AFFINE_IDENTITY;
    }
    dt_art_note(r, n, "an offset-path is followed as its specification says; browsers differ");
    DtPoint anchor = place(r, s->offset_anchor, s, box, origin);
    DtAffine m = dt_affine_translate(-anchor.x, -anchor.y);
    m = dt_affine_then(m, dt_affine_rotate(turn_of(s->offset_rotate, angle)));
    return dt_affine_then(m, dt_affine_translate(at.x, at.y));
}

static gboolean is_plain(const ArtStyle *s)
{
    return !s->moving && !s->translate && !s->rotate && !s->scale && !s->offset_path;
}

static DtAffine move_by(ArtReader *r, ArtMove kind, const char *text, const ArtStyle *s, DtBox box)
{
    DtAffine m;
    ArtTransformRead read;
    if (!text ||
        !dt_art_css_move(kind, text, s, dt_box_width(box), dt_box_height(box), &r->root, &m, &read))
        return DT_AFFINE_IDENTITY;
    return m;
}

static DtAffine own_map_in(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           DtBox box)
{
    double w = dt_box_width(box), h = dt_box_height(box);
    DtPoint o = {box.x0, box.y0};
    if (s->origin.given) {
        o.x += dt_art_px_of(s->origin.x, s, w, &r->root);
        o.y += dt_art_px_of(s->origin.y, s, h, &r->root);
    } else if (s->transform_box == ART_BOX_VIEW) {
        o = (DtPoint){0, 0}; /* of user space, regardless of the viewBox */
    }
    DtAffine m = s->transform;
    ArtTransformRead read;
    if (s->moving)
        dt_art_css_transform(s->moving, s, w, h, &r->root, &m, &read);
    m = dt_affine_then(dt_affine_translate(-o.x, -o.y), m);
    if (!is_plain(s)) {
        m = dt_affine_then(m, dt_affine_translate(o.x, o.y));
        if (s->offset_path)
            m = dt_affine_then(m, offset_map(r, n, s, scope, box, o));
        m = dt_affine_then(m, dt_affine_translate(-o.x, -o.y));
        m = dt_affine_then(m, move_by(r, ART_MOVE_SCALE, s->scale, s, box));
        m = dt_affine_then(m, move_by(r, ART_MOVE_ROTATE, s->rotate, s, box));
        m = dt_affine_then(m, move_by(r, ART_MOVE_TRANSLATE, s->translate, s, box));
    }
    return dt_affine_then(m, dt_affine_translate(o.x, o.y));
}

DtAffine dt_art_own_map(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope)
{
    if (!s->origin.given && s->transform_box == ART_BOX_VIEW && is_plain(s))
        return s->transform;
    DtBox box = dt_art_reference_box(r, n, s, scope, (ArtBoxKind)s->transform_box);
    if (dt_box_is_empty(box))
        return s->transform;
    return own_map_in(r, n, s, scope, box);
}
