/* marker: markers at the vertices of a path (SVG 1.1 11.6). */
#include "art/private.h"

#include <math.h>

typedef struct {
    DtPoint at, in, out; /* directions into and out of the vertex; 0,0 if there is none */
    gboolean begins;     /* no segment leads here */
    guint closes; /* the vertex at which the subpath began that ends here; NONE: it does not */
} Vertex;

#define NONE G_MAXUINT

static gboolean nothing(DtPoint v)
{
    return v.x == 0 && v.y == 0;
}

static DtPoint first_of(DtPoint a, DtPoint b, DtPoint c)
{
    return !nothing(a) ? a : !nothing(b) ? b : c;
}

static void add_vertex(GArray *v, DtPoint at, gboolean begins)
{
    Vertex one = {.at = at, .begins = begins, .closes = NONE};
    g_array_append_val(v, one);
}

static Vertex *last_vertex(GArray *v)
{
    return &g_array_index(v, Vertex, v->len - 1);
}

static void add_segment(GArray *v, DtPoint start_slope, DtPoint end_slope, DtPoint to)
{
    if (v->len == 0)
        return;
    last_vertex(v)->out = start_slope;
    add_vertex(v, to, FALSE);
    last_vertex(v)->in = end_slope;
}

/* A segment of no length has the direction in which the one before it ends, or else that in which the one after it
 * starts, within its subpath: F.5, direction of path segments. */
static void fill_directions(GArray *v)
{
    for (guint i = 1; i < v->len; i++) {
        Vertex *a = &g_array_index(v, Vertex, i - 1), *b = &g_array_index(v, Vertex, i);
        if (!b->begins && nothing(a->out) && nothing(b->in))
            a->out = b->in = a->in;
    }
    for (guint i = v->len; i-- > 1;) {
        Vertex *a = &g_array_index(v, Vertex, i - 1), *b = &g_array_index(v, Vertex, i);
        if (!b->begins && nothing(a->out) && nothing(b->in))
            a->out = b->in = b->out;
    }
}

/* Both ends of a closed subpath have the same direction. */
static void join_ends(GArray *v)
{
    for (guint i = 0; i < v->len; i++) {
        Vertex *tail = &g_array_index(v, Vertex, i);
        if (tail->closes == NONE)
            continue;
        Vertex *head = &g_array_index(v, Vertex, tail->closes);
        head->in = tail->in;
        if (nothing(tail->out))
            tail->out = head->out;
    }
}

static GArray *vertices_of(const DtPath *path)
{
    GArray *v = g_array_new(FALSE, FALSE, sizeof(Vertex));
    const DtPoint *p = path->pts;
    DtPoint at = {0, 0}, start = at;
    guint first = 0;
    for (gsize i = 0; i < path->n_verb; i++) {
        switch ((DtPathVerb)path->verb[i]) {
        case DT_PATH_MOVE:
            at = start = *p++;
            first = v->len;
            add_vertex(v, at, TRUE);
            break;
        case DT_PATH_LINE: {
            DtPoint d = dt_point_sub(p[0], at);
            add_segment(v, d, d, p[0]);
            at = *p++;
            break;
        }
        case DT_PATH_CUBIC: {
            DtPoint out =
                first_of(dt_point_sub(p[0], at), dt_point_sub(p[1], at), dt_point_sub(p[2], at));
            DtPoint in = first_of(dt_point_sub(p[2], p[1]), dt_point_sub(p[2], p[0]),
                                  dt_point_sub(p[2], at));
            add_segment(v, out, in, p[2]);
            at = p[2];
            p += 3;
            break;
        }
        case DT_PATH_CLOSE: {
            DtPoint d = dt_point_sub(start, at);
            add_segment(v, d, d, start);
            if (v->len > 0)
                last_vertex(v)->closes = first;
            at = start;
            break;
        }
        }
    }
    fill_directions(v);
    join_ends(v);
    return v;
}

static double direction(const Vertex *v)
{
    double in = atan2(v->in.y, v->in.x), out = atan2(v->out.y, v->out.x);
    if (nothing(v->in))
        return nothing(v->out) ? 0 : out;
    if (nothing(v->out))
        return in;
    double turn = out - in;
    while (turn > G_PI)
        turn -= 2 * G_PI;
    while (turn <= -G_PI)
        turn += 2 * G_PI;
    return in + turn / 2;
}

static double orientation(const ArtNode *m, const Vertex *v, gboolean is_start)
{
    const char *orient = dt_art_attr(m, ART_AT_ORIENT);
    if (!orient)
        return 0;
    orient = art_skip_space(orient);
    if (strncmp(orient, "auto", 4) == 0)
        return direction(v) + (is_start && strstr(orient, "start-reverse") ? G_PI : 0);
    double degrees;
    if (!art_number(&orient, &degrees))
        return 0;
    double factor = strncmp(orient, "rad", 3) == 0    ? 180 / G_PI
                    : strncmp(orient, "grad", 4) == 0 ? 0.9
                    : strncmp(orient, "turn", 4) == 0 ? 360
                                                      : 1;
    return degrees * factor * G_PI / 180;
}

static void draw_marker(ArtReader *r, ArtNode *m, const ArtScope *scope, const ArtStyle *shape,
                        const Vertex *v, gboolean is_start)
{
    static const ArtLength three = {.value = 3, .unit = ART_UNIT_NUMBER},
                           zero = {.value = 0, .unit = ART_UNIT_NUMBER};
    ArtStyle s;
    dt_art_style_in_place(r, m, &s);
    ArtScope in = *scope;
    if (!dt_art_go_deeper(r, m, &in))
        return;
    double w = dt_art_attr_px(r, m, ART_AT_MARKER_WIDTH, &s, scope, ART_ALONG_X, three);
    double h = dt_art_attr_px(r, m, ART_AT_MARKER_HEIGHT, &s, scope, ART_ALONG_Y, three);
    DtAffine map;
    DtBox box;
    gboolean slice;
    if (!(w > 0 && h > 0) || !dt_art_view_map(r, m, w, h, &map, &box, &slice))
        return;
    const char *units = dt_art_attr(m, ART_AT_MARKER_UNITS);
    double k = 1;
    if (!units || strcmp(units, "userSpaceOnUse") != 0)
        k = dt_art_px(shape->stroke_width, shape, scope, ART_ALONG_BOTH, &r->root);
    ArtScope own = in; /* for the reference point alone: a marker is no viewport (SVG 2, 8.2) */
    own.vw = dt_box_width(box);
    own.vh = dt_box_height(box);
    ArtLength ref;
    if ((dt_art_attr_length(m, ART_AT_REF_X, &s, &ref) && ref.unit == ART_UNIT_PERCENT) ||
        (dt_art_attr_length(m, ART_AT_REF_Y, &s, &ref) && ref.unit == ART_UNIT_PERCENT))
        dt_art_note(r, m,
                    "a percentage in refX or refY refers to the marker; in browsers, to the page");
    DtPoint reference = {dt_art_attr_px(r, m, ART_AT_REF_X, &s, &own, ART_ALONG_X, zero),
                         dt_art_attr_px(r, m, ART_AT_REF_Y, &s, &own, ART_ALONG_Y, zero)};
    reference = dt_affine_apply(map, reference);
    DtAffine at =
        dt_affine_then(dt_affine_scale(k, k), dt_affine_rotate(orientation(m, v, is_start)));
    at = dt_affine_then(dt_affine_translate(-reference.x, -reference.y), at);
    at = dt_affine_then(at, dt_affine_translate(v->at.x, v->at.y));
    at = dt_affine_then(at, scope->ctm);
    if (!s.overflow)
        in.clip = dt_art_add_rect_clip(r, (DtBox){0, 0, w, h}, at, scope->clip);
    in.ctm = dt_affine_then(map, at);
    in.style = &s;
    in.object_box = NULL;
    if (s.opacity < 1) {
        in.alpha *= s.opacity;
        in.group = dt_art_add_group(r, m, &in, s.opacity, NULL);
    }
    dt_art_walk_children(r, m, &in);
}

void dt_art_markers(ArtReader *r, const ArtNode *n, const ArtScope *outer, const ArtStyle *s,
                    const DtPath *path)
{
    ArtContext context = {.style = s, .scope = outer, .path = path};
    ArtScope in = *outer;
    const ArtScope *scope = &in;
    in.context = &context;
    g_auto(DtPath) skeleton;
    dt_path_init(&skeleton);
    const char *d = s->path_data ? s->path_data : dt_art_attr(n, ART_AT_D);
    if (n->tag == ART_TAG_PATH && d) {
        dt_art_path_vertices(d, &skeleton);
        path = &skeleton;
    }
    g_autoptr(GArray) v = vertices_of(path);
    ArtNode *start = dt_art_target(r->doc, s->marker_start),
            *mid = dt_art_target(r->doc, s->marker_mid);
    ArtNode *end = dt_art_target(r->doc, s->marker_end);
    for (guint i = 0; i < v->len; i++) {
        gboolean is_start = i == 0, is_end = i + 1 == v->len;
        ArtNode *at[2] = {is_start ? start : is_end ? NULL : mid, is_end ? end : NULL};
        for (int k = 0; k < 2; k++) {
            if (!at[k] || at[k]->tag != ART_TAG_MARKER)
                continue;
            if (at[k]->busy > 0) {
                dt_art_note(r, n, "a marker draws itself: left out");
                continue;
            }
            at[k]->busy++;
            draw_marker(r, at[k], scope, s, &g_array_index(v, Vertex, i), is_start && k == 0);
            at[k]->busy--;
        }
    }
}
