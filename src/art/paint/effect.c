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

static const char *attr(const ArtNode *n, const char *key)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (strcmp(n->attrs[i].key, key) == 0)
            return n->attrs[i].value;
    return NULL;
}

static double number(const ArtNode *n, const char *key, double missing)
{
    const char *text = attr(n, key);
    double v;
    if (!text)
        return missing;
    text = art_skip_space(text);
    return art_number(&text, &v) ? v : missing;
}

/* "a" or "a b". */
static void pair(const ArtNode *n, const char *key, double *x, double *y)
{
    const char *text = attr(n, key);
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

/* A picture owned by the effect; FALSE if it is not available. */
/* The number of the result that an input names, or of the last one if it names none; -1: no
 * result. */
static int result_named(const Effect *e, const char *in)
{
    if (!in || !*in)
        return e->n_results - 1;
    for (int i = e->n_results - 1; i >= 0; i--)
        if (e->names[i] && strcmp(e->names[i], in) == 0)
            return i;
    return -1;
}

static gboolean input(Effect *e, const ArtNode *n, const char *key, ArtImage *out)
{
    const char *in = attr(n, key);
    const int result = result_named(e, in);
    if (result >= 0) {
        *out = copy(&e->results[result]);
        return TRUE;
    }
    if (!in || !*in || strcmp(in, "SourceGraphic") == 0 || strcmp(in, "SourceAlpha") == 0) {
        *out = copy(&e->source);
        for (gsize i = 0; in && strcmp(in, "SourceAlpha") == 0 && i < n_pixels(e); i++)
            out->px[4 * i] = out->px[4 * i + 1] = out->px[4 * i + 2] = 0;
        return TRUE;
    }
    return FALSE;
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

/* Porter and Duff's factors of both pictures, by the other's alpha: 9.7. */
static gboolean composite(Effect *e, const ArtNode *n, ArtImage *a, const ArtImage *b)
{
    static const struct {
        const char *name;
        float fa0, fa1, fb0, fb1; /* factor 0, and times the other's alpha */
    } operators[] = {{"over", 1, 0, 1, -1}, {"in", 0, 1, 0, 0},    {"out", 1, -1, 0, 0},
                     {"atop", 0, 1, 1, -1}, {"xor", 1, -1, 1, -1}, {"lighter", 1, 0, 1, 0}};
    const char *name = attr(n, "operator");
    gsize count = n_pixels(e);
    if (name && strcmp(name, "arithmetic") == 0) {
        float k1 = (float)number(n, "k1", 0), k2 = (float)number(n, "k2", 0);
        float k3 = (float)number(n, "k3", 0), k4 = (float)number(n, "k4", 0);
        for (gsize i = 0; i < count; i++) {
            float *p = a->px + 4 * i;
            const float *q = b->px + 4 * i;
            for (int k = 3; k >= 0; k--) {
                float v = k1 * p[k] * q[k] + k2 * p[k] + k3 * q[k] + k4;
                p[k] = v > 0 ? MIN(v, k == 3 ? 1 : p[3]) : 0;
            }
        }
        return TRUE;
    }
    for (gsize o = 0; o < G_N_ELEMENTS(operators); o++) {
        if (strcmp(name ? name : "over", operators[o].name) != 0)
            continue;
        for (gsize i = 0; i < count; i++) {
            float *p = a->px + 4 * i;
            const float *q = b->px + 4 * i;
            float fa = operators[o].fa0 + operators[o].fa1 * q[3];
            float fb = operators[o].fb0 + operators[o].fb1 * p[3];
            for (int k = 0; k < 4; k++)
                p[k] = MIN(fa * p[k] + fb * q[k], 1);
        }
        return TRUE;
    }
    return FALSE;
}

static gboolean blend(Effect *e, const ArtNode *n, ArtImage *a, const ArtImage *b)
{
    static const char *const modes[] = {"normal", "multiply", "screen", "darken", "lighten"};
    const char *mode = attr(n, "mode");
    gsize which = 0;
    while (which < G_N_ELEMENTS(modes) && strcmp(mode ? mode : "normal", modes[which]) != 0)
        which++;
    if (which == G_N_ELEMENTS(modes))
        return FALSE;
    for (gsize i = 0; i < n_pixels(e); i++) {
        float *p = a->px + 4 * i;
        const float *q = b->px + 4 * i;
        float pa = p[3], qa = q[3];
        for (int k = 0; k < 3; k++) {
            float s = p[k], d = q[k];
            p[k] = which == 0   ? s + d * (1 - pa)
                   : which == 1 ? s * (1 - qa) + d * (1 - pa) + s * d
                   : which == 2 ? s + d - s * d
                   : which == 3 ? MIN(s * (1 - qa) + d, d * (1 - pa) + s)
                                : MAX(s * (1 - qa) + d, d * (1 - pa) + s);
        }
        p[3] = pa + qa - pa * qa;
    }
    return TRUE;
}

/* Applies a matrix of 20 numbers to colours that are not premultiplied: 9.6. */
static void recolour(ArtImage *a, const double m[20])
{
    for (gsize i = 0; i < (gsize)a->w * (gsize)a->h; i++) {
        float *p = a->px + 4 * i;
        double c[4], out[4];
        for (int k = 0; k < 3; k++)
            c[k] = p[3] > 0 ? (double)(p[k] / p[3]) : 0;
        c[3] = (double)p[3];
        for (int k = 0; k < 4; k++) {
            out[k] = m[5 * k + 4];
            for (int j = 0; j < 4; j++)
                out[k] += m[5 * k + j] * c[j];
            out[k] = art_share(out[k]);
        }
        for (int k = 0; k < 3; k++)
            p[k] = (float)(out[k] * out[3]);
        p[3] = (float)out[3];
    }
}

static gboolean color_matrix(const ArtNode *n, ArtImage *a)
{
    const char *type = attr(n, "type"), *values = attr(n, "values");
    double m[20] = {0};
    m[0] = m[6] = m[12] = m[18] = 1;
    if (type && strcmp(type, "luminanceToAlpha") == 0) {
        m[0] = m[6] = m[12] = m[18] = 0;
        m[15] = 0.2125;
        m[16] = 0.7154;
        m[17] = 0.0721;
    } else if (type && strcmp(type, "matrix") != 0) {
        double value = type[0] == 's' ? 1 : 0;
        const char *p = art_skip_space(values ? values : "");
        (void)art_number(&p, &value);
        if (!dt_art_colour_map(type, value, m))
            return FALSE;
    } else if (values) {
        const char *p = art_skip_space(values);
        for (int i = 0; i < 20; i++, p = art_skip_comma(p))
            if (!art_number(&p, &m[i]))
                return FALSE;
    }
    recolour(a, m);
    return TRUE;
}

/* Applies one of feFuncR to feFuncA to a value: 9.8. FALSE if its type is unknown. */
static gboolean transfer(const ArtNode *f, double v, double *out)
{
    const char *type = attr(f, "type"), *list = attr(f, "tableValues");
    double t[64];
    int n = 0;
    *out = v;
    if (!type || strcmp(type, "identity") == 0)
        return TRUE;
    if (strcmp(type, "linear") == 0) {
        *out = number(f, "slope", 1) * v + number(f, "intercept", 0);
        return TRUE;
    }
    if (strcmp(type, "gamma") == 0) {
        *out =
            number(f, "amplitude", 1) * pow(v, number(f, "exponent", 1)) + number(f, "offset", 0);
        return TRUE;
    }
    for (list = art_skip_space(list ? list : ""); n < 64 && art_number(&list, &t[n]); n++)
        list = art_skip_comma(list);
    if (n == 0)
        return TRUE;
    if (strcmp(type, "discrete") == 0) {
        *out = t[MIN((int)(v * n), n - 1)];
        return TRUE;
    }
    int k = MIN((int)(v * (n - 1)), n - 1);
    *out = k + 1 < n ? t[k] + (v * (n - 1) - k) * (t[k + 1] - t[k]) : t[k];
    return strcmp(type, "table") == 0;
}

static gboolean component_transfer(const ArtNode *n, ArtImage *a)
{
    static const char *const names[] = {"feFuncR", "feFuncG", "feFuncB", "feFuncA"};
    const ArtNode *f[4] = {NULL, NULL, NULL, NULL};
    for (const ArtNode *c = n->first; c; c = c->next)
        for (int k = 0; k < 4; k++)
            if (strcmp(c->local, names[k]) == 0)
                f[k] = c;
    for (gsize i = 0; i < (gsize)a->w * (gsize)a->h; i++) {
        float *p = a->px + 4 * i;
        double c[4];
        for (int k = 0; k < 4; k++) {
            c[k] = k == 3 ? (double)p[3] : p[3] > 0 ? (double)(p[k] / p[3]) : 0;
            if (f[k] && !transfer(f[k], art_share(c[k]), &c[k]))
                return FALSE;
            c[k] = art_share(c[k]);
        }
        for (int k = 0; k < 3; k++)
            p[k] = (float)(c[k] * c[3]);
        p[3] = (float)c[3];
    }
    return TRUE;
}

/* Regions --------------------------------------------------------------------------------------- */

/* The region of a step: its own attributes, or the filter's if it has none; user units. */
static DtBox region_of(Effect *e, const ArtNode *n)
{
    static const char *const keys[] = {"x", "y", "width", "height"};
    double v[4] = {e->region.x0, e->region.y0, dt_box_width(e->region), dt_box_height(e->region)};
    for (int i = 0; i < 4; i++) {
        const char *text = attr(n, keys[i]);
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
    const int result = result_named(e, attr(n, "in"));
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

static gboolean merge(Effect *e, const ArtNode *n, ArtImage *out)
{
    *out = dt_art_image_new(e->sheet.w, e->sheet.h);
    for (const ArtNode *c = n->first; c; c = c->next) {
        ArtImage one;
        if (strcmp(c->local, "feMergeNode") != 0)
            continue;
        if (!input(e, c, "in", &one))
            return FALSE;
        over(out, &one);
        g_free(one.px);
    }
    return TRUE;
}

static gboolean drop_shadow(Effect *e, const ArtNode *n, ArtImage *a)
{
    double x, y;
    ArtStyle s;
    DtColour c = flood_colour(e, n, &s);
    ArtImage shadow = copy(a), colour = dt_art_image_new(a->w, a->h);
    pair(n, "stdDeviation", &x, &y);
    if (!attr(n, "stdDeviation"))
        x = y = 2;
    gboolean good = blur(e, &shadow, x, y);
    move(&shadow, on_sheet(e, number(n, "dx", 2), number(n, "dy", 2)));
    flood(&colour, c);
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
    gboolean good = strcmp(n->local, "feBlend") == 0 ? blend(e, n, a, &b) : composite(e, n, a, &b);
    g_free(b.px);
    return good;
}

static gboolean step(Effect *e, const ArtNode *n, ArtImage *a)
{
    const char *name = n->local;
    ArtStyle s;
    if (strcmp(name, "feMerge") == 0)
        return merge(e, n, a);
    if (strcmp(name, "feFlood") == 0) {
        *a = dt_art_image_new(e->sheet.w, e->sheet.h);
        flood(a, flood_colour(e, n, &s));
        return TRUE;
    }
    if (!input(e, n, "in", a))
        return FALSE;
    if (strcmp(name, "feOffset") == 0) {
        move(a, on_sheet(e, number(n, "dx", 0), number(n, "dy", 0)));
        return TRUE;
    }
    if (strcmp(name, "feDropShadow") == 0)
        return drop_shadow(e, n, a);
    if (strcmp(name, "feTile") == 0)
        return tile(e, n, a);
    dt_art_style_in_place(e->r, n, &s);
    gboolean linear = !s.filter_in_srgb, good = FALSE;
    double x, y;
    if (linear)
        dt_art_image_linear(a, FALSE);
    if (strcmp(name, "feGaussianBlur") == 0) {
        pair(n, "stdDeviation", &x, &y);
        good = blur(e, a, x, y);
    } else if (strcmp(name, "feColorMatrix") == 0) {
        good = color_matrix(n, a);
    } else if (strcmp(name, "feComponentTransfer") == 0) {
        good = component_transfer(n, a);
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
        e->names[e->n_results] = attr(n, "result");
        e->results[e->n_results++] = out;
    }
    return e->n_results > 0;
}

/* The region of the filter in user units: 8.1. */
static gboolean find_region(Effect *e, const ArtNode *filter)
{
    static const ArtLength low = {.value = -10, .unit = ART_UNIT_PERCENT};
    static const ArtLength size = {.value = 120, .unit = ART_UNIT_PERCENT};
    const char *units = attr(filter, "filterUnits"), *inner = attr(filter, "primitiveUnits");
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
