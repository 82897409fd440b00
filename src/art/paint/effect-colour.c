/* effect-colour: what filter steps make of colours: composites, blends, matrices and transfer functions
 * (Filter Effects 1, 9). */
#include "art/paint/effect.h"

#include <math.h>

const char *dt_art_step_attr(const ArtNode *n, const char *key)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (strcmp(n->attrs[i].key, key) == 0)
            return n->attrs[i].value;
    return NULL;
}

double dt_art_step_number(const ArtNode *n, const char *key, double missing)
{
    const char *text = dt_art_step_attr(n, key);
    double v;
    if (!text)
        return missing;
    text = art_skip_space(text);
    return art_number(&text, &v) ? v : missing;
}

static gsize n_pixels(const ArtImage *a)
{
    return (gsize)a->w * (gsize)a->h;
}

/* Porter and Duff's factors of both pictures, by the other's alpha. */
gboolean dt_art_image_composite(const ArtNode *n, ArtImage *a, const ArtImage *b)
{
    static const struct {
        const char *name;
        float fa0, fa1, fb0, fb1; /* factor 0, and times the other's alpha */
    } operators[] = {{"over", 1, 0, 1, -1}, {"in", 0, 1, 0, 0},    {"out", 1, -1, 0, 0},
                     {"atop", 0, 1, 1, -1}, {"xor", 1, -1, 1, -1}, {"lighter", 1, 0, 1, 0}};
    const char *name = dt_art_step_attr(n, "operator");
    const gsize count = n_pixels(a);
    if (name && strcmp(name, "arithmetic") == 0) {
        float k1 = (float)dt_art_step_number(n, "k1", 0),
              k2 = (float)dt_art_step_number(n, "k2", 0);
        float k3 = (float)dt_art_step_number(n, "k3", 0),
              k4 = (float)dt_art_step_number(n, "k4", 0);
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

gboolean dt_art_image_mix(const ArtNode *n, ArtImage *a, const ArtImage *b)
{
    static const char *const modes[] = {"normal", "multiply", "screen", "darken", "lighten"};
    const char *mode = dt_art_step_attr(n, "mode");
    gsize which = 0;
    while (which < G_N_ELEMENTS(modes) && strcmp(mode ? mode : "normal", modes[which]) != 0)
        which++;
    if (which == G_N_ELEMENTS(modes))
        return FALSE;
    for (gsize i = 0; i < n_pixels(a); i++) {
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

/* Applies a matrix of 20 numbers to colours that are not premultiplied. */
static void recolour(ArtImage *a, const double m[20])
{
    for (gsize i = 0; i < n_pixels(a); i++) {
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

gboolean dt_art_image_color_matrix(const ArtNode *n, ArtImage *a)
{
    const char *type = dt_art_step_attr(n, "type"), *values = dt_art_step_attr(n, "values");
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

/* A transfer function as it stands in feFuncR to feFuncA. */
typedef struct {
    enum { KEEPS, LINEAR, GAMMA, TABLE, DISCRETE } kind;
    double a, b, c; /* slope and intercept; amplitude, exponent and offset */
    GArray *table;  /* double; NULL for kinds without one */
} Transfer;

static void read_table(Transfer *f, const ArtNode *n)
{
    const char *list = dt_art_step_attr(n, "tableValues");
    double v;
    f->table = g_array_new(FALSE, FALSE, sizeof v);
    for (list = art_skip_space(list ? list : ""); art_number(&list, &v);
         list = art_skip_comma(list))
        g_array_append_val(f->table, v);
    if (f->table->len == 0)
        f->kind = KEEPS;
}

/* FALSE if its type is unknown. */
static gboolean read_transfer(Transfer *f, const ArtNode *n)
{
    static const char *const kinds[] = {"identity", "linear", "gamma", "table", "discrete"};
    const char *type = dt_art_step_attr(n, "type");
    gsize kind = 0;
    while (kind < G_N_ELEMENTS(kinds) && strcmp(type ? type : "identity", kinds[kind]) != 0)
        kind++;
    if (kind == G_N_ELEMENTS(kinds))
        return FALSE;
    f->kind = (int)kind;
    if (kind == LINEAR) {
        f->a = dt_art_step_number(n, "slope", 1);
        f->b = dt_art_step_number(n, "intercept", 0);
    } else if (kind == GAMMA) {
        f->a = dt_art_step_number(n, "amplitude", 1);
        f->b = dt_art_step_number(n, "exponent", 1);
        f->c = dt_art_step_number(n, "offset", 0);
    } else if (kind != KEEPS) {
        read_table(f, n);
    }
    return TRUE;
}

static double transferred(const Transfer *f, double v)
{
    const double *t = f->table ? &g_array_index(f->table, double, 0) : NULL;
    const int n = f->table ? (int)f->table->len : 0;
    int k;
    switch (f->kind) {
    case LINEAR:
        return f->a * v + f->b;
    case GAMMA:
        return f->a * pow(v, f->b) + f->c;
    case DISCRETE:
        return t[MIN((int)(v * n), n - 1)];
    case TABLE:
        k = MIN((int)(v * (n - 1)), n - 1);
        return k + 1 < n ? t[k] + (v * (n - 1) - k) * (t[k + 1] - t[k]) : t[k];
    case KEEPS:
        break;
    }
    return v;
}

static void transfer_all(ArtImage *a, const Transfer f[4])
{
    for (gsize i = 0; i < n_pixels(a); i++) {
        float *p = a->px + 4 * i;
        double c[4];
        for (int k = 0; k < 4; k++) {
            c[k] = k == 3 ? (double)p[3] : p[3] > 0 ? (double)(p[k] / p[3]) : 0;
            c[k] = art_share(transferred(&f[k], art_share(c[k])));
        }
        for (int k = 0; k < 3; k++)
            p[k] = (float)(c[k] * c[3]);
        p[3] = (float)c[3];
    }
}

gboolean dt_art_image_transfer(const ArtNode *n, ArtImage *a)
{
    static const char *const names[] = {"feFuncR", "feFuncG", "feFuncB", "feFuncA"};
    Transfer f[4] = {{.kind = KEEPS}};
    gboolean good = TRUE;
    for (const ArtNode *c = n->first; c && good; c = c->next)
        for (int k = 0; k < 4 && good; k++)
            if (strcmp(c->local, names[k]) == 0) { /* the last of its name */
                g_clear_pointer(&f[k].table, g_array_unref);
                good = read_transfer(&f[k], c);
            }
    if (good)
        transfer_all(a, f);
    for (int k = 0; k < 4; k++)
        g_clear_pointer(&f[k].table, g_array_unref);
    return good;
}
