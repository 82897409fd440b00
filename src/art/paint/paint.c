/* paint: the paints of fills and strokes. Gradients by SVG 1.1 13.2. */
#include "art/style/colour.h"

#include <math.h>
#include <stdlib.h>

DtTone *dt_art_tone_new(ArtReader *r, ArtToneKind kind, DtAffine tone_to_page)
{
    DtAffine back;
    if (!dt_affine_invert(tone_to_page, &back))
        return NULL;
    DtTone *t = dt_art_store_zero(r->store, sizeof *t);
    t->kind = kind;
    t->to_tone = back;
    t->alpha = 1;
    g_ptr_array_add(r->store->tones, t);
    return t;
}

/* Gradients ------------------------------------------------------------------------------------ */

#define MAX_CHAIN 32

/* A gradient and those it refers to, nearest first. */
typedef struct {
    const ArtNode *n[MAX_CHAIN];
    int len;
} Chain;

static Chain chain_of(ArtReader *r, const ArtNode *n)
{
    Chain c = {.len = 0};
    while (n && c.len < MAX_CHAIN &&
           (n->tag == ART_TAG_LINEAR_GRADIENT || n->tag == ART_TAG_RADIAL_GRADIENT)) {
        for (int i = 0; i < c.len; i++)
            if (c.n[i] == n) {
                dt_art_note(r, n, "a gradient refers to itself");
                return c;
            }
        c.n[c.len++] = n;
        n = dt_art_target(r->doc, dt_art_href(n));
    }
    return c;
}

static const char *chain_attr(const Chain *c, ArtName name, ArtTag tag)
{
    for (int i = 0; i < c->len; i++) {
        const char *v =
            tag == ART_TAG_OTHER || c->n[i]->tag == tag ? dt_art_attr(c->n[i], name) : NULL;
        if (v)
            return v;
    }
    return NULL;
}

static const ArtNode *first_stop(const ArtNode *n)
{
    for (const ArtNode *s = n->first; s; s = s->next)
        if (s->tag == ART_TAG_STOP)
            return s;
    return NULL;
}

/* *modern is set if its colour is of the newer kinds, for which browsers interpolate the whole
 * gradient in OKLab. */
static ArtStop stop_of(ArtReader *r, const ArtNode *n, const ArtStyle *parent, double least,
                       gboolean *modern)
{
    ArtStyle s;
    dt_art_style_compute(&s, parent, n, r->sheet, r->doc->tree, &r->root);
    ArtStop stop = {0, dt_art_colour_of(&s.stop_color, &s)};
    *modern |= s.stop_color.current && !s.stop_color.mix ? s.color.modern : s.stop_color.modern;
    stop.colour.alpha *= s.stop_opacity;
    const char *text = dt_art_attr(n, ART_AT_OFFSET);
    ArtLength l = {.value = 0, .unit = ART_UNIT_NUMBER};
    if (text && dt_art_length(text, &l) && l.unit != ART_UNIT_MATH)
        stop.offset = l.unit == ART_UNIT_PERCENT ? l.value / 100 : l.value;
    stop.offset = MAX(least, CLAMP(stop.offset, 0, 1));
    return stop;
}

/* The mean over offsets 0 to 1, for uses that need one colour for a whole gradient. */
static DtColour mean_colour(const DtTone *t)
{
    DtColour sum = {0, 0, 0, 0};
    enum { SAMPLES = 32 };
    for (int i = 0; i < SAMPLES; i++) {
        double at = (i + 0.5) / SAMPLES;
        gsize k = 0;
        while (k + 1 < t->n_stops && t->stops[k + 1].offset <= at)
            k++;
        DtColour c = t->stops[k].colour;
        if (k + 1 < t->n_stops && at > t->stops[k].offset) {
            DtColour d = t->stops[k + 1].colour;
            double f = (at - t->stops[k].offset) / (t->stops[k + 1].offset - t->stops[k].offset);
            c = (DtColour){c.r + (d.r - c.r) * f, c.g + (d.g - c.g) * f, c.b + (d.b - c.b) * f,
                           c.alpha + (d.alpha - c.alpha) * f};
        }
        sum.r += c.r * c.alpha;
        sum.g += c.g * c.alpha;
        sum.b += c.b * c.alpha;
        sum.alpha += c.alpha;
    }
    if (sum.alpha > 0)
        sum = (DtColour){sum.r / sum.alpha, sum.g / sum.alpha, sum.b / sum.alpha,
                         sum.alpha / SAMPLES};
    return sum;
}

#define STEPS 16 /* pieces into which a curve between two colours is divided */

/* The stops with others inserted, so that straight steps in sRGB follow another colour space. */
static void refine_stops(ArtReader *r, DtTone *t, ArtSpace space)
{
    gsize n = (t->n_stops - 1) * STEPS + 1, k = 0;
    ArtStop *fine = dt_art_store_alloc(r->store, n * sizeof *fine);
    for (gsize i = 0; i + 1 < t->n_stops; i++)
        for (int step = 0; step < STEPS; step++) {
            ArtStop a = t->stops[i], b = t->stops[i + 1];
            double f = (double)step / STEPS;
            ArtTint p = {.space = ART_SPACE_SRGB, .c = {a.colour.r, a.colour.g, a.colour.b}},
                    q = {.space = ART_SPACE_SRGB, .c = {b.colour.r, b.colour.g, b.colour.b}};
            gboolean mapped;
            p.alpha = q.alpha = 1;
            DtColour c =
                dt_art_tint_colour(dt_art_tint_mix(p, q, f, space, ART_HUE_SHORTER), &mapped);
            c.alpha = a.colour.alpha + (b.colour.alpha - a.colour.alpha) * f;
            fine[k++] = (ArtStop){a.offset + (b.offset - a.offset) * f, c};
        }
    fine[k] = t->stops[t->n_stops - 1];
    t->stops = fine;
    t->n_stops = n;
}

static void take_stops(ArtReader *r, const Chain *c, DtTone *t)
{
    const ArtNode *owner = NULL;
    for (int i = 0; i < c->len && !owner; i++)
        if (first_stop(c->n[i]))
            owner = c->n[i];
    if (!owner)
        return;
    const DtTone *known = g_hash_table_lookup(r->memo, owner);
    if (known) {
        t->stops = known->stops;
        t->n_stops = known->n_stops;
        t->mean = known->mean;
        return;
    }
    g_hash_table_insert(r->memo, (void *)owner, t);
    ArtStyle style;
    dt_art_style_in_place(r, owner, &style);
    gsize n = 0;
    gboolean modern = FALSE;
    for (const ArtNode *s = first_stop(owner); s; s = s->next)
        n += s->tag == ART_TAG_STOP;
    t->stops = dt_art_store_alloc(r->store, n * sizeof *t->stops);
    for (const ArtNode *s = first_stop(owner); s; s = s->next)
        if (s->tag == ART_TAG_STOP) {
            double least = t->n_stops ? t->stops[t->n_stops - 1].offset : 0;
            t->stops[t->n_stops++] = stop_of(r, s, &style, least, &modern);
        }
    if (t->n_stops > 1 && (modern || style.linear_colours))
        refine_stops(r, t, modern ? ART_SPACE_OKLAB : ART_SPACE_SRGB_LINEAR);
    t->mean = mean_colour(t);
}

static double chain_px(ArtReader *r, const Chain *c, ArtName name, ArtTag tag, ArtLength missing,
                       const ArtStyle *s, const ArtScope *scope, ArtAlong along)
{
    const char *text = chain_attr(c, name, tag);
    ArtLength l = missing;
    if (text && !dt_art_length(text, &l))
        l = missing;
    return dt_art_px(l, s, scope, along, &r->root);
}

static void linear_ends(ArtReader *r, const Chain *c, const ArtStyle *s, const ArtScope *scope,
                        DtTone *t)
{
    ArtLength none = {.value = 0, .unit = ART_UNIT_PERCENT},
              whole = {.value = 100, .unit = ART_UNIT_PERCENT};
    ArtTag tag = ART_TAG_LINEAR_GRADIENT;
    t->p0.x = chain_px(r, c, ART_AT_X1, tag, none, s, scope, ART_ALONG_X);
    t->p0.y = chain_px(r, c, ART_AT_Y1, tag, none, s, scope, ART_ALONG_Y);
    t->p1.x = chain_px(r, c, ART_AT_X2, tag, whole, s, scope, ART_ALONG_X);
    t->p1.y = chain_px(r, c, ART_AT_Y2, tag, none, s, scope, ART_ALONG_Y);
}

static void radial_circles(ArtReader *r, const Chain *c, const ArtStyle *s, const ArtScope *scope,
                           DtTone *t)
{
    ArtLength half = {.value = 50, .unit = ART_UNIT_PERCENT},
              none = {.value = 0, .unit = ART_UNIT_PERCENT};
    ArtTag tag = ART_TAG_RADIAL_GRADIENT;
    t->p1.x = chain_px(r, c, ART_AT_CX, tag, half, s, scope, ART_ALONG_X);
    t->p1.y = chain_px(r, c, ART_AT_CY, tag, half, s, scope, ART_ALONG_Y);
    t->r1 = chain_px(r, c, ART_AT_R, tag, half, s, scope, ART_ALONG_BOTH);
    if (t->r1 < 0) { /* an error: ignored */
        dt_art_note(r, c->n[0], "a radius below 0 is taken as if it were not there");
        t->r1 = dt_art_px(half, s, scope, ART_ALONG_BOTH, &r->root);
    }
    t->p0.x = chain_attr(c, ART_AT_FX, tag)
                  ? chain_px(r, c, ART_AT_FX, tag, half, s, scope, ART_ALONG_X)
                  : t->p1.x;
    t->p0.y = chain_attr(c, ART_AT_FY, tag)
                  ? chain_px(r, c, ART_AT_FY, tag, half, s, scope, ART_ALONG_Y)
                  : t->p1.y;
    t->r0 = chain_px(r, c, ART_AT_FR, tag, none, s, scope, ART_ALONG_BOTH);
}

static DtPaint flat(DtColour c, double opacity)
{
    c.alpha *= opacity;
    return (DtPaint){.kind = DT_PAINT_FLAT, .colour = c};
}

static DtPaint fallback(const ArtPaint *p, ArtPaintKind kind, double opacity, const ArtStyle *s)
{
    if (kind == ART_PAINT_COLOUR)
        return flat(p->colour, opacity);
    if (kind == ART_PAINT_CURRENT) {
        ArtColour c = {.current = TRUE, .mix = p->mix};
        return flat(dt_art_colour_of(&c, s), opacity);
    }
    return (DtPaint){.kind = DT_PAINT_NONE};
}

static ArtSpread spread_of(const Chain *c)
{
    const char *text = chain_attr(c, ART_AT_SPREAD_METHOD, ART_TAG_OTHER);
    if (text && strcmp(text, "reflect") == 0)
        return ART_SPREAD_REFLECT;
    if (text && strcmp(text, "repeat") == 0)
        return ART_SPREAD_REPEAT;
    return ART_SPREAD_PAD;
}

/* The transform of a gradient or a pattern: its attribute, which a style may override, with a
 * transform origin (CSS Transforms 1, 8). */
DtAffine dt_art_server_map(ArtReader *r, const ArtNode *const *chain, int n, ArtName attribute,
                           const ArtScope *scope)
{
    for (int i = 0; i < n; i++) {
        const char *text = dt_art_attr(chain[i], attribute);
        const char *style = dt_art_attr(chain[i], ART_AT_STYLE);
        gboolean styled = r->sheet || (style && strstr(style, "transform"));
        DtAffine own = DT_AFFINE_IDENTITY;
        if (!text && !styled && !dt_art_attr(chain[i], ART_P_TRANSFORM_ORIGIN))
            continue;
        if (text && !dt_art_transform(text, &own)) {
            dt_art_note(r, chain[i], "%s: %.60s is not understood: ignored",
                        attribute == ART_AT_GRADIENT_TRANSFORM ? "gradientTransform"
                                                               : "patternTransform",
                        text);
            own = DT_AFFINE_IDENTITY;
        }
        if (!styled && !dt_art_attr(chain[i], ART_P_TRANSFORM_ORIGIN))
            return own;
        ArtStyle s;
        dt_art_style_in_place(r, chain[i], &s);
        if (s.moving || !art_same_map(s.transform, DT_AFFINE_IDENTITY))
            own = s.transform;
        else if (!text)
            continue;
        s.transform = own;
        s.transform_box = ART_BOX_VIEW;
        return dt_art_own_map(r, (ArtNode *)(gpointer)chain[i], &s, scope);
    }
    return DT_AFFINE_IDENTITY;
}

/* A gradient over the box. DT_PAINT_NONE if it paints nothing. */
static DtPaint gradient(ArtReader *r, const ArtNode *n, const ArtPaint *paint, double opacity,
                        const ArtStyle *s, const ArtScope *scope, DtBox box)
{
    DtPaint none = {.kind = DT_PAINT_NONE};
    Chain c = chain_of(r, n);
    const char *display = dt_art_attr(n, ART_P_DISPLAY);
    if (display && strcmp(display, "none") == 0)
        dt_art_note(r, n, "a gradient that is not displayed is painted; browsers leave it out");
    const char *units = chain_attr(&c, ART_AT_GRADIENT_UNITS, ART_TAG_OTHER);
    gboolean by_box = !units || strcmp(units, "userSpaceOnUse") != 0;
    DtAffine m = scope->ctm;
    ArtScope in = *scope;
    if (by_box) {
        /* 7.11: a box without width or height paints nothing. */
        if (dt_box_is_empty(box) || !(dt_box_width(box) > 0 && dt_box_height(box) > 0))
            return fallback(paint, paint->fallback, opacity, s);
        DtAffine fit = {dt_box_width(box), 0, 0, dt_box_height(box), box.x0, box.y0};
        m = dt_affine_then(fit, m);
        in.vw = in.vh = 1;
    }
    m = dt_affine_then(dt_art_server_map(r, c.n, c.len, ART_AT_GRADIENT_TRANSFORM, &in), m);
    ArtToneKind kind = n->tag == ART_TAG_LINEAR_GRADIENT ? ART_TONE_LINEAR : ART_TONE_RADIAL;
    DtTone *t = dt_art_tone_new(r, kind, m);
    if (!t)
        return fallback(paint, paint->fallback, opacity, s);
    t->spread = spread_of(&c);
    t->alpha = opacity;
    take_stops(r, &c, t);
    if (t->n_stops == 0)
        return none;
    DtColour last = t->stops[t->n_stops - 1].colour;
    if (t->n_stops == 1)
        return flat(last, opacity);
    if (kind == ART_TONE_LINEAR) {
        linear_ends(r, &c, s, &in, t);
        if (t->p0.x == t->p1.x && t->p0.y == t->p1.y)
            return flat(last, opacity);
    } else {
        radial_circles(r, &c, s, &in, t);
        if (!(t->r1 > 0))
            return t->r1 < 0 ? none : flat(last, opacity);
    }
    DtPaint toned = {.kind = DT_PAINT_TONE, .colour = t->mean, .tone = t};
    toned.colour.alpha *= opacity;
    return toned;
}

/* Paints --------------------------------------------------------------------------------------- */

static ArtFill paint_of_context(ArtReader *r, const ArtNode *n, ArtPaintKind kind, double opacity,
                                ArtContext *c)
{
    if (!c)
        return (ArtFill){.paint = {.kind = DT_PAINT_NONE}};
    const ArtPaint *paint = kind == ART_PAINT_CONTEXT_FILL ? &c->style->fill : &c->style->stroke;
    if (paint->kind == ART_PAINT_SERVER && !c->has_box) {
        c->box = c->path ? dt_path_box(c->path, DT_AFFINE_IDENTITY)
                         : dt_art_node_box(r, c->use, c->scope);
        c->has_box = TRUE;
    }
    return dt_art_paint_of(r, n, paint, opacity, c->style, c->scope, c->box);
}

ArtFill dt_art_paint_of(ArtReader *r, const ArtNode *n, const ArtPaint *paint, double opacity,
                        const ArtStyle *s, const ArtScope *scope, DtBox box)
{
    ArtFill f = {.paint = {.kind = DT_PAINT_NONE}};
    if (paint->kind == ART_PAINT_CONTEXT_FILL || paint->kind == ART_PAINT_CONTEXT_STROKE)
        return paint_of_context(r, n, paint->kind, opacity, scope->context);
    if (paint->kind != ART_PAINT_SERVER) {
        f.paint = fallback(paint, paint->kind, opacity, s);
        return f;
    }
    ArtNode *server = dt_art_target(r->doc, paint->server);
    if (server &&
        (server->tag == ART_TAG_LINEAR_GRADIENT || server->tag == ART_TAG_RADIAL_GRADIENT)) {
        f.paint = gradient(r, server, paint, opacity, s, scope, box);
    } else if (server && server->tag == ART_TAG_PATTERN &&
               dt_art_pattern_paints(r, server, scope, s, box)) {
        f.pattern = server;
    } else {
        f.paint = fallback(paint, paint->fallback, opacity, s);
        if (!server && paint->fallback == ART_PAINT_NONE)
            dt_art_note(r, n, "the paint %.60s is not in this file: not painted", paint->server);
    }
    return f;
}

/* Tones ---------------------------------------------------------------------------------------- */

static double spread(double t, ArtSpread how)
{
    if (how == ART_SPREAD_PAD)
        return CLAMP(t, 0, 1);
    if (how == ART_SPREAD_REPEAT)
        return t - floor(t);
    double u = fabs(fmod(t, 2));
    return u > 1 ? 2 - u : u;
}

/* The largest parameter whose circle, of radius not below zero, passes through p: the two-point
 * conical gradient of SVG 2, 14.2.3. FALSE outside the cone. */
static gboolean radial_parameter(const DtTone *t, DtPoint p, double *out)
{
    DtPoint d = dt_point_sub(t->p1, t->p0), q = dt_point_sub(p, t->p0);
    double dr = t->r1 - t->r0;
    double a = dt_point_dot(d, d) - dr * dr, b = dt_point_dot(q, d) + t->r0 * dr;
    double c = dt_point_dot(q, q) - t->r0 * t->r0;
    double roots[2];
    if (fabs(a) < 1e-12 * (dt_point_dot(d, d) + dr * dr)) {
        if (b == 0)
            return FALSE;
        roots[0] = roots[1] = c / (2 * b);
    } else {
        double disc = b * b - a * c;
        if (disc < 0)
            return FALSE;
        double root = sqrt(disc);
        roots[0] = (b + root) / a;
        roots[1] = (b - root) / a;
        if (roots[0] < roots[1]) {
            double swap = roots[0];
            roots[0] = roots[1];
            roots[1] = swap;
        }
    }
    for (int i = 0; i < 2; i++)
        if (t->r0 + roots[i] * dr >= 0) {
            *out = roots[i];
            return TRUE;
        }
    return FALSE;
}

static DtColour stop_colour(const DtTone *t, double at)
{
    gsize k = 0; /* the first stop beyond it, by bisection */
    for (gsize end = t->n_stops; k < end;) {
        gsize middle = k + (end - k) / 2;
        if (t->stops[middle].offset <= at)
            k = middle + 1;
        else
            end = middle;
    }
    if (k == 0)
        return t->stops[0].colour;
    if (k == t->n_stops)
        return t->stops[k - 1].colour;
    const ArtStop *a = &t->stops[k - 1], *b = &t->stops[k];
    double f = (at - a->offset) / (b->offset - a->offset);
    return (DtColour){a->colour.r + (b->colour.r - a->colour.r) * f,
                      a->colour.g + (b->colour.g - a->colour.g) * f,
                      a->colour.b + (b->colour.b - a->colour.b) * f,
                      a->colour.alpha + (b->colour.alpha - a->colour.alpha) * f};
}

static DtColour pixel_colour(const DtTone *t, DtPoint p)
{
    if (!(p.x >= 0 && p.y >= 0 && p.x < t->w && p.y < t->h))
        return (DtColour){0, 0, 0, 0};
    guint32 v = t->pixels[(gsize)p.y * (gsize)t->w + (gsize)p.x];
    double alpha = (v >> 24) / 255.0;
    if (!(alpha > 0))
        return (DtColour){0, 0, 0, 0};
    return (DtColour){(v >> 16 & 255) / 255.0 / alpha, (v >> 8 & 255) / 255.0 / alpha,
                      (v & 255) / 255.0 / alpha, alpha};
}

void dt_art_soften(ArtReader *r, const ArtScope *scope, DtBox on_page, DtPaint *p)
{
    if (!scope->soft || p->kind == DT_PAINT_NONE)
        return;
    double level;
    gboolean even = dt_art_mask_alpha_even(scope->soft, on_page, &level);
    DtTone *t = dt_art_tone_new(r, ART_TONE_FLAT, DT_AFFINE_IDENTITY);
    if (p->kind == DT_PAINT_TONE) {
        *t = *p->tone;
    } else {
        t->stops = dt_art_store_alloc(r->store, sizeof *t->stops);
        t->stops[0] = (ArtStop){0, p->colour};
        t->n_stops = 1;
        t->mean = p->colour;
        p->kind = even ? DT_PAINT_FLAT : DT_PAINT_TONE;
    }
    t->soft = scope->soft;
    p->tone = t;
    p->colour.alpha *= level;
}

DtColour dt_art_tone_at(const DtTone *t, DtPoint p)
{
    DtColour c = {0, 0, 0, 0};
    double level = t->soft ? dt_art_mask_alpha_at(t->soft, p) : 1;
    p = dt_affine_apply(t->to_tone, p);
    double at = 0;
    switch (t->kind) {
    case ART_TONE_LINEAR: {
        DtPoint d = dt_point_sub(t->p1, t->p0);
        at = dt_point_dot(dt_point_sub(p, t->p0), d) / dt_point_dot(d, d);
        c = stop_colour(t, spread(at, t->spread));
        break;
    }
    case ART_TONE_RADIAL:
        if (radial_parameter(t, p, &at))
            c = stop_colour(t, spread(at, t->spread));
        break;
    case ART_TONE_IMAGE:
        c = pixel_colour(t, p);
        break;
    case ART_TONE_FLAT:
        c = t->stops[0].colour;
        break;
    }
    c.alpha *= t->alpha * level;
    return c;
}

gboolean dt_art_tone_is_picture(const DtTone *tone)
{
    return tone->raster;
}
