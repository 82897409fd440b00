/* effect: filters that move, flood, merge, composite, blend, tile or blur, computed as pictures
 * (Filter Effects 1, 9). */
#include "art/paint/effect.h"

#include <math.h>

#define MAX_STEPS 24
#define LONGEST_BLUR 500.0 /* pixels */

typedef struct {
    ArtReader *r;
    ArtNode *n;
    const ArtStyle *style;
    const ArtScope *scope;
    ArtPictureSheet sheet;
    DtBox object, region; /* of the element; of the filter; user units */
    gboolean by_box;      /* primitiveUnits */
    ArtImage results[MAX_STEPS];
    DtBox regions[MAX_STEPS]; /* of the results; user units */
    const char *names[MAX_STEPS];
    int n_results;
    ArtImage source;
} Effect;

/* "a" or "a b". */
static void pair(const ArtNode *n, const char *key, double *x, double *y)
{
    const char *text = dt_art_step_attr(n, key);
    *x = *y = 0;
    if (!text)
        return;
    text = art_skip_space(text);
    if (!art_number(&text, x))
        return;
    text = art_skip_comma(text);
    if (!art_number(&text, y))
        *y = *x;
}

static gsize n_pixels(const Effect *e)
{
    return (gsize)e->sheet.w * (gsize)e->sheet.h;
}

static ArtImage copy(const ArtImage *a)
{
    ArtImage out = dt_art_image_new(a->w, a->h);
    memcpy(out.px, a->px, (gsize)a->w * (gsize)a->h * 4 * sizeof *a->px);
    return out;
}

/* Inputs --------------------------------------------------------------------------------------- */

/* Whether an input names a picture that the standard defines, which is not the result of a step. */
static gboolean is_standard(const char *in)
{
    static const char *const names[] = {"SourceGraphic",   "SourceAlpha", "BackgroundImage",
                                        "BackgroundAlpha", "FillPaint",   "StrokePaint"};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++)
        if (strcmp(in, names[i]) == 0)
            return TRUE;
    return FALSE;
}

/* The number of the result that an input names, or of the last one if it names none that there is
 * (Filter Effects 1, 9.2: as if no input were given); -1: no result. */
static int result_named(const Effect *e, const char *in)
{
    if (!in || !*in)
        return e->n_results - 1;
    for (int i = e->n_results - 1; i >= 0; i--)
        if (e->names[i] && strcmp(e->names[i], in) == 0)
            return i;
    return is_standard(in) ? -1 : e->n_results - 1;
}

static gboolean input(Effect *e, const ArtNode *n, const char *key, ArtImage *out)
{
    const char *in = dt_art_step_attr(n, key);
    const int result = result_named(e, in);
    if (result >= 0) {
        *out = copy(&e->results[result]);
        return TRUE;
    }
    const gboolean alpha = in && strcmp(in, "SourceAlpha") == 0;
    if (in && is_standard(in) && !alpha && strcmp(in, "SourceGraphic") != 0)
        return FALSE;
    *out = copy(&e->source);
    for (gsize i = 0; alpha && i < n_pixels(e); i++)
        out->px[4 * i] = out->px[4 * i + 1] = out->px[4 * i + 2] = 0;
    return TRUE;
}

/* Distances ------------------------------------------------------------------------------------ */

/* A distance in user units converted to pixels of the sheet. */
static DtPoint on_sheet(const Effect *e, double x, double y)
{
    if (e->by_box) {
        x *= dt_box_width(e->object);
        y *= dt_box_height(e->object);
    }
    DtAffine m = e->scope->ctm;
    return (DtPoint){(m.xx * x + m.xy * y) * e->sheet.scale,
                     (m.yx * x + m.yy * y) * e->sheet.scale};
}

static void move(ArtImage *a, DtPoint by)
{
    ArtImage out = dt_art_image_new(a->w, a->h);
    const double most = 2.0 * MAX(a->w, a->h); /* beyond the picture */
    by = (DtPoint){fmin(fmax(by.x, -most), most), fmin(fmax(by.y, -most), most)};
    int dx = (int)floor(by.x), dy = (int)floor(by.y);
    float fx = (float)(by.x - dx), fy = (float)(by.y - dy);
    for (int y = 0; y < a->h; y++)
        for (int x = 0; x < a->w; x++)
            for (int k = 0; k < 4; k++) {
                int u = x - dx - (k & 1), v = y - dy - (k >> 1);
                float w = (k & 1 ? fx : 1 - fx) * (k >> 1 ? fy : 1 - fy);
                if (u < 0 || v < 0 || u >= a->w || v >= a->h || !(w > 0))
                    continue;
                const float *p = a->px + ((gsize)v * (gsize)a->w + (gsize)u) * 4;
                float *q = out.px + ((gsize)y * (gsize)a->w + (gsize)x) * 4;
                for (int c = 0; c < 4; c++)
                    q[c] += w * p[c];
            }
    g_free(a->px);
    *a = out;
}

static gboolean blur(Effect *e, ArtImage *a, double x, double y)
{
    DtAffine m = e->scope->ctm;
    if (x < 0 || y < 0)
        return TRUE;
    if (e->by_box) {
        x *= dt_box_width(e->object);
        y *= dt_box_height(e->object);
    }
    gboolean straight = m.xy == 0 && m.yx == 0;
    if (!straight && x != y)
        return FALSE; /* along axes that are not those of the sheet */
    double kx = straight ? fabs(m.xx) : sqrt(fabs(dt_affine_determinant(m)));
    double ky = straight ? fabs(m.yy) : kx;
    x *= kx * e->sheet.scale;
    y *= ky * e->sheet.scale;
    if (!(x <= LONGEST_BLUR && y <= LONGEST_BLUR))
        return FALSE;
    dt_art_image_blur(a, x, y);
    return TRUE;
}

/* Colours -------------------------------------------------------------------------------------- */

static void flood(ArtImage *a, DtColour c)
{
    float p[4] = {(float)(c.r * c.alpha), (float)(c.g * c.alpha), (float)(c.b * c.alpha),
                  (float)c.alpha};
    for (gsize i = 0; i < (gsize)a->w * (gsize)a->h; i++)
        memcpy(a->px + 4 * i, p, sizeof p);
}

static DtColour flood_colour(Effect *e, const ArtNode *n, ArtStyle *s)
{
    dt_art_style_in_place(e->r, n, s);
    DtColour c = dt_art_colour_of(&s->flood_color, s);
    c.alpha *= s->flood_opacity;
    return c;
}

static void over(ArtImage *below, const ArtImage *a)
{
    for (gsize i = 0; i < (gsize)a->w * (gsize)a->h; i++)
        for (gsize k = 0; k < 4; k++)
            below->px[4 * i + k] = a->px[4 * i + k] + below->px[4 * i + k] * (1 - a->px[4 * i + 3]);
}

/* Regions --------------------------------------------------------------------------------------- */

/* The region of a step: its own attributes, or the filter's if it has none; user units. */
static DtBox region_of(Effect *e, const ArtNode *n)
{
    static const char *const keys[] = {"x", "y", "width", "height"};
    double v[4] = {e->region.x0, e->region.y0, dt_box_width(e->region), dt_box_height(e->region)};
    for (int i = 0; i < 4; i++) {
        const char *text = dt_art_step_attr(n, keys[i]);
        ArtLength l;
        ArtScope in = *e->scope;
        if (!text || !dt_art_length(text, &l))
            continue;
        if (e->by_box) {
            in.vw = in.vh = 1;
            double whole = i % 2 ? dt_box_height(e->object) : dt_box_width(e->object);
            v[i] =
                dt_art_px(l, e->style, &in, i % 2 ? ART_ALONG_Y : ART_ALONG_X, &e->r->root) * whole;
            v[i] += i == 0 ? e->object.x0 : i == 1 ? e->object.y0 : 0;
        } else {
            v[i] = dt_art_px(l, e->style, &in, i % 2 ? ART_ALONG_Y : ART_ALONG_X, &e->r->root);
        }
    }
    return (DtBox){v[0], v[1], v[0] + v[2], v[1] + v[3]};
}

/* From user units to pixels, and back; FALSE if the map has no inverse. */
static gboolean pixel_map(const Effect *e, DtAffine *to_px, DtAffine *back)
{
    *to_px = dt_affine_then(e->scope->ctm, dt_art_sheet_map(&e->sheet));
    return dt_affine_invert(*to_px, back);
}

static gboolean pixel_in(DtAffine back, DtBox region, int x, int y)
{
    return dt_box_contains(region, dt_affine_apply(back, (DtPoint){x + 0.5, y + 0.5}));
}

static void clear_outside(const Effect *e, DtBox region, ArtImage *a)
{
    DtAffine to_px, back;
    if (!pixel_map(e, &to_px, &back))
        return;
    for (int y = 0; y < a->h; y++) {
        float *row = a->px + (gsize)y * (gsize)a->w * 4;
        int first = 0, last = a->w - 1; /* the part of a row within the region is contiguous */
        while (first < a->w && !pixel_in(back, region, first, y))
            first++;
        while (last > first && !pixel_in(back, region, last, y))
            last--;
        memset(row, 0, (gsize)first * 4 * sizeof *row);
        if (last >= first)
            memset(row + 4 * (last + 1), 0, (gsize)(a->w - 1 - last) * 4 * sizeof *row);
    }
}

/* feTile (9.22): repeats the region of its input. */
static gboolean tile(const Effect *e, const ArtNode *n, ArtImage *a)
{
    const int result = result_named(e, dt_art_step_attr(n, "in"));
    const DtBox one = result >= 0 ? e->regions[result] : e->region;
    DtAffine to_px, back;
    if (!(dt_box_width(one) > 0 && dt_box_height(one) > 0) || !pixel_map(e, &to_px, &back))
        return FALSE;
    ArtImage out = dt_art_image_new(a->w, a->h);
    for (int y = 0; y < a->h; y++)
        for (int x = 0; x < a->w; x++) {
            DtPoint p = dt_affine_apply(back, (DtPoint){x + 0.5, y + 0.5});
            p.x -= floor((p.x - one.x0) / dt_box_width(one)) * dt_box_width(one);
            p.y -= floor((p.y - one.y0) / dt_box_height(one)) * dt_box_height(one);
            p = dt_affine_apply(to_px, p);
            if (p.x >= 0 && p.y >= 0 && p.x < a->w && p.y < a->h)
                memcpy(out.px + ((gsize)y * (gsize)a->w + (gsize)x) * 4,
                       a->px + ((gsize)p.y * (gsize)a->w + (gsize)p.x) * 4, 4 * sizeof *a->px);
        }
    g_free(a->px);
    *a = out;
    return TRUE;
}

/* Steps ---------------------------------------------------------------------------------------- */

static gboolean merge(Effect *e, const ArtNode *n, gboolean linear, ArtImage *out)
{
    *out = dt_art_image_new(e->sheet.w, e->sheet.h);
    for (const ArtNode *c = n->first; c; c = c->next) {
        ArtImage one;
        if (strcmp(c->local, "feMergeNode") != 0)
            continue;
        if (!input(e, c, "in", &one))
            return FALSE;
        if (linear)
            dt_art_image_linear(&one, FALSE);
        over(out, &one);
        g_free(one.px);
    }
    if (linear)
        dt_art_image_linear(out, TRUE);
    return TRUE;
}

/* `a` is in linear light if `linear` says so. */
static gboolean drop_shadow(Effect *e, const ArtNode *n, gboolean linear, ArtImage *a)
{
    double x, y;
    ArtStyle s;
    DtColour c = flood_colour(e, n, &s);
    ArtImage shadow = copy(a), colour = dt_art_image_new(a->w, a->h);
    pair(n, "stdDeviation", &x, &y);
    if (!dt_art_step_attr(n, "stdDeviation"))
        x = y = 2;
    gboolean good = blur(e, &shadow, x, y);
    move(&shadow, on_sheet(e, dt_art_step_number(n, "dx", 2), dt_art_step_number(n, "dy", 2)));
    flood(&colour, c);
    if (linear)
        dt_art_image_linear(&colour, FALSE);
    for (gsize i = 0; i < n_pixels(e) * 4; i++)
        shadow.px[i] = colour.px[i] * shadow.px[i / 4 * 4 + 3];
    over(&shadow, a);
    g_free(colour.px);
    g_free(a->px);
    *a = shadow;
    return good;
}

/* Steps with two input pictures. */
static gboolean combine(Effect *e, const ArtNode *n, gboolean linear, ArtImage *a)
{
    ArtImage b;
    if (!input(e, n, "in2", &b))
        return FALSE;
    if (linear)
        dt_art_image_linear(&b, FALSE);
    gboolean good = strcmp(n->local, "feBlend") == 0 ? dt_art_image_mix(n, a, &b)
                                                     : dt_art_image_composite(n, a, &b);
    g_free(b.px);
    return good;
}

static gboolean step(Effect *e, const ArtNode *n, ArtImage *a)
{
    const char *name = n->local;
    ArtStyle s;
    dt_art_style_in_place(e->r, n, &s);
    const gboolean linear = !s.filter_in_srgb;
    if (strcmp(name, "feMerge") == 0)
        return merge(e, n, linear, a);
    if (strcmp(name, "feFlood") == 0) {
        *a = dt_art_image_new(e->sheet.w, e->sheet.h);
        flood(a, flood_colour(e, n, &s));
        return TRUE;
    }
    if (!input(e, n, "in", a))
        return FALSE;
    if (strcmp(name, "feOffset") == 0) {
        move(a, on_sheet(e, dt_art_step_number(n, "dx", 0), dt_art_step_number(n, "dy", 0)));
        return TRUE;
    }
    if (strcmp(name, "feTile") == 0)
        return tile(e, n, a);
    gboolean good = FALSE;
    double x, y;
    if (linear)
        dt_art_image_linear(a, FALSE);
    if (strcmp(name, "feDropShadow") == 0) {
        good = drop_shadow(e, n, linear, a);
    } else if (strcmp(name, "feGaussianBlur") == 0) {
        pair(n, "stdDeviation", &x, &y);
        good = blur(e, a, x, y);
    } else if (strcmp(name, "feColorMatrix") == 0) {
        good = dt_art_image_color_matrix(n, a);
    } else if (strcmp(name, "feComponentTransfer") == 0) {
        good = dt_art_image_transfer(n, a);
    } else if (strcmp(name, "feComposite") == 0 || strcmp(name, "feBlend") == 0) {
        good = combine(e, n, linear, a);
    }
    if (linear)
        dt_art_image_linear(a, TRUE);
    return good;
}

static gboolean is_step(const ArtNode *n)
{
    return strncmp(n->local, "fe", 2) == 0;
}

/* Whether all steps can be drawn; checked before any of them costs time. */
static gboolean are_drawn(const ArtNode *filter)
{
    static const char *const drawn[] = {"feMerge",    "feFlood",       "feOffset",
                                        "feTile",     "feDropShadow",  "feGaussianBlur",
                                        "feBlend",    "feColorMatrix", "feComponentTransfer",
                                        "feComposite"};
    int steps = 0;
    for (const ArtNode *n = filter->first; n; n = n->next) {
        gboolean known = !is_step(n);
        for (gsize i = 0; i < G_N_ELEMENTS(drawn) && !known; i++)
            known = strcmp(n->local, drawn[i]) == 0;
        steps += is_step(n);
        if (!known || steps > MAX_STEPS)
            return FALSE;
    }
    return TRUE;
}

static gboolean run_steps(Effect *e, const ArtNode *filter)
{
    for (const ArtNode *n = filter->first; n; n = n->next) {
        if (!is_step(n))
            continue;
        ArtImage out = {0, 0, NULL};
        if (!step(e, n, &out)) {
            g_free(out.px);
            return FALSE;
        }
        e->regions[e->n_results] = region_of(e, n);
        clear_outside(e, e->regions[e->n_results], &out);
        e->names[e->n_results] = dt_art_step_attr(n, "result");
        e->results[e->n_results++] = out;
    }
    return e->n_results > 0;
}

/* The region of the filter in user units: 8.1. */
static gboolean find_region(Effect *e, const ArtNode *filter)
{
    static const ArtLength low = {.value = -10, .unit = ART_UNIT_PERCENT};
    static const ArtLength size = {.value = 120, .unit = ART_UNIT_PERCENT};
    const char *units = dt_art_step_attr(filter, "filterUnits"),
               *inner = dt_art_step_attr(filter, "primitiveUnits");
    gboolean by_box = !units || strcmp(units, "userSpaceOnUse") != 0;
    e->by_box = inner && strcmp(inner, "objectBoundingBox") == 0;
    e->object =
        e->scope->object_box ? *e->scope->object_box : dt_art_node_box(e->r, e->n, e->scope);
    ArtScope in = *e->scope;
    if ((by_box || e->by_box) && dt_box_is_empty(e->object))
        return FALSE;
    if (by_box)
        in.vw = in.vh = 1;
    double x = dt_art_attr_px(e->r, filter, ART_AT_X, e->style, &in, ART_ALONG_X, low);
    double y = dt_art_attr_px(e->r, filter, ART_AT_Y, e->style, &in, ART_ALONG_Y, low);
    double w = dt_art_attr_px(e->r, filter, ART_AT_WIDTH, e->style, &in, ART_ALONG_X, size);
    double h = dt_art_attr_px(e->r, filter, ART_AT_HEIGHT, e->style, &in, ART_ALONG_Y, size);
    if (by_box) {
        double bw = dt_box_width(e->object), bh = dt_box_height(e->object);
        x = e->object.x0 + x * bw;
        y = e->object.y0 + y * bh;
        w *= bw;
        h *= bh;
    }
    e->region = (DtBox){x, y, x + w, y + h};
    return w > 0 && h > 0;
}

gboolean dt_art_effect_filter(ArtReader *r, ArtNode *n, const ArtNode *filter, const ArtStyle *s,
                              const ArtScope *scope, guint from)
{
    Effect e = {.r = r, .n = n, .style = s, .scope = scope};
    if (!are_drawn(filter) || !find_region(&e, filter))
        return FALSE;
    DtBox box = dt_affine_apply_box(scope->ctm, e.region);
    box = dt_box_intersect(box, dt_box_grow(r->d->view, 1));
    if (!dt_art_sheet_open(r, n->line, box, ART_EFFECT_SIDE, &e.sheet))
        return r->error != NULL;
    cairo_destroy(e.sheet.cr);
    cairo_surface_destroy(e.sheet.surface);
    e.source = dt_art_image_of_shapes(r, &e.sheet, from, r->shapes->len, scope->clip);
    clear_outside(&e, e.region, &e.source);
    gboolean good = run_steps(&e, filter);
    if (good) {
        dt_art_image_emit(r, n, scope, &e.sheet, &e.results[e.n_results - 1], from);
        dt_art_note(r, n, "a filter is drawn as a picture of what it makes");
    }
    for (int i = 0; i < e.n_results; i++)
        g_free(e.results[i].px);
    g_free(e.source.px);
    return good;
}
