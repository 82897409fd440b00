/* transform: transform lists, of attributes (SVG 2, 8.5) and of CSS (CSS Transforms 1 and 2). */
#include "art/private.h"

#include <math.h>

#define MAX_ARGUMENTS 16

/* Attributes ----------------------------------------------------------------------------------- */

static const struct {
    const char *name;
    int counts[3]; /* most numbers that it may have; 0: this form is not allowed */
} attribute_forms[] = {{"matrix", {6}},    {"translate", {1, 2}}, {"scale", {1, 2}},
                       {"rotate", {1, 3}}, {"skewX", {1}},        {"skewY", {1}}};

static DtAffine attribute_map(gsize form, const double *a, int n)
{
    switch (form) {
    case 0:
        return (DtAffine){a[0], a[1], a[2], a[3], a[4], a[5]};
    case 1:
        return dt_affine_translate(a[0], n > 1 ? a[1] : 0);
    case 2:
        return dt_affine_scale(a[0], n > 1 ? a[1] : a[0]);
    case 3: {
        DtAffine m = dt_affine_rotate(a[0] * G_PI / 180);
        if (n == 3)
            m = dt_affine_then(dt_affine_translate(-a[1], -a[2]),
                               dt_affine_then(m, dt_affine_translate(a[1], a[2])));
        return m;
    }
    default: {
        DtAffine m = DT_AFFINE_IDENTITY;
        *(form == 4 ? &m.xy : &m.yx) = tan(a[0] * G_PI / 180);
        return m;
    }
    }
}

/* The numbers in brackets at *s; -1 if malformed. */
static int attribute_numbers(const char **s, double *a)
{
    const char *p = art_skip_space(*s);
    int n = 0;
    if (*p++ != '(')
        return -1;
    for (p = art_skip_space(p); *p != ')';) {
        if (n == 6 || !art_number(&p, &a[n++]))
            return -1;
        p = art_skip_space(p);
        if (*p == ',') {
            p = art_skip_space(p + 1);
            if (*p == ')')
                return -1;
        }
    }
    *s = p + 1;
    return n;
}

gboolean dt_art_transform(const char *s, DtAffine *out)
{
    DtAffine sum = DT_AFFINE_IDENTITY;
    s = art_skip_space(s);
    if (strncmp(s, "none", 4) == 0 && *art_skip_space(s + 4) == '\0')
        s += 4;
    for (s = art_skip_space(s); *s; s = art_skip_comma(s)) {
        gsize form = 0, len = strspn(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ");
        while (form < G_N_ELEMENTS(attribute_forms) &&
               (strlen(attribute_forms[form].name) != len ||
                strncmp(attribute_forms[form].name, s, len) != 0))
            form++;
        if (form == G_N_ELEMENTS(attribute_forms))
            return FALSE;
        double a[6];
        s += len;
        int n = attribute_numbers(&s, a);
        if (n < 1 || (n != attribute_forms[form].counts[0] && n != attribute_forms[form].counts[1]))
            return FALSE;
        sum = dt_affine_then(attribute_map(form, a, n), sum);
    }
    *out = sum;
    return TRUE;
}

/* CSS ------------------------------------------------------------------------------------------ */

/* Rows and columns as CSS Transforms 2 writes matrices; points are columns. */
typedef struct {
    double m[4][4];
} Matrix;

static const Matrix identity = {{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}};

static Matrix times(const Matrix *a, const Matrix *b)
{
    Matrix out;
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++) {
            out.m[i][j] = 0;
            for (int k = 0; k < 4; k++)
                out.m[i][j] += a->m[i][k] * b->m[k][j];
        }
    return out;
}

static Matrix moved(double x, double y, double z)
{
    Matrix m = identity;
    m.m[0][3] = x;
    m.m[1][3] = y;
    m.m[2][3] = z;
    return m;
}

static Matrix scaled(double x, double y, double z)
{
    Matrix m = identity;
    m.m[0][0] = x;
    m.m[1][1] = y;
    m.m[2][2] = z;
    return m;
}

/* About an axis: CSS Transforms 2, 13. */
static Matrix turned(double x, double y, double z, double degrees)
{
    double length = sqrt(x * x + y * y + z * z), a = degrees * G_PI / 180;
    if (!(length > 0))
        return identity;
    double v[3] = {x / length, y / length, z / length}, c = cos(a), s = sin(a);
    Matrix m = identity;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            m.m[i][j] = v[i] * v[j] * (1 - c) + (i == j ? c : 0);
    m.m[0][1] -= v[2] * s;
    m.m[1][0] += v[2] * s;
    m.m[0][2] += v[1] * s;
    m.m[2][0] -= v[1] * s;
    m.m[1][2] -= v[0] * s;
    m.m[2][1] += v[0] * s;
    return m;
}

static Matrix skewed(double x, double y)
{
    Matrix m = identity;
    m.m[0][1] = tan(x * G_PI / 180);
    m.m[1][0] = tan(y * G_PI / 180);
    return m;
}

typedef struct {
    const ArtStyle *style; /* NULL: only parsing */
    double w, h;           /* of the box */
    const ArtRoot *root;
    ArtTransformRead *read;
} Scene;

/* A length along x or y at *s, px. */
static gboolean length(const Scene *x, const char **s, gboolean along_y, double *out)
{
    ArtLength l;
    const char *p = *s;
    if (!dt_art_length_at(&p, &l) || (l.unit == ART_UNIT_NUMBER && l.value != 0))
        return FALSE;
    gboolean absolute = l.unit == ART_UNIT_NUMBER || l.unit == ART_UNIT_PX ||
                        (l.unit >= ART_UNIT_PT && l.unit <= ART_UNIT_IN);
    x->read->needs_box |= !absolute;
    if (x->style)
        *out = dt_art_px_of(l, x->style, along_y ? x->h : x->w, x->root);
    else
        *out = absolute ? dt_art_px_of(l, NULL, 0, NULL) : 0;
    *s = p;
    return TRUE;
}

static gboolean factor(const char **s, double *out)
{
    if (!dt_art_number_at(s, out))
        return FALSE;
    if (**s == '%') {
        *out /= 100;
        (*s)++;
    }
    return TRUE;
}

/* An angle with its unit; 0 may stand alone. */
static gboolean angle(const char **s, double *out)
{
    const char *p = *s;
    if (!dt_art_angle_at(&p, out) || (g_ascii_isdigit(p[-1]) && *out != 0))
        return FALSE;
    *s = p;
    return TRUE;
}

/* Kinds of arguments: l and L lengths along x and y, n a number, f a factor, a an angle, p the
 * distance of a perspective; at least `least` of them are required. */
typedef struct {
    const char *name, *arguments;
    int least;
} Form;

static const Form forms[] = {
    {"matrix", "nnnnnn", 6},   {"matrix3d", "nnnnnnnnnnnnnnnn", 16},
    {"translate", "lL", 1},    {"translatex", "l", 1},
    {"translatey", "L", 1},    {"translatez", "l", 1},
    {"translate3d", "lLl", 3}, {"scale", "ff", 1},
    {"scalex", "f", 1},        {"scaley", "f", 1},
    {"scalez", "f", 1},        {"scale3d", "fff", 3},
    {"rotate", "a", 1},        {"rotatex", "a", 1},
    {"rotatey", "a", 1},       {"rotatez", "a", 1},
    {"rotate3d", "nnna", 4},   {"skew", "aa", 1},
    {"skewx", "a", 1},         {"skewy", "a", 1},
    {"perspective", "p", 1},
};

static Matrix matrix_of(const char *name, const double *a, int n)
{
    double second = n > 1 ? a[1] : 0;
    if (strcmp(name, "matrix") == 0) {
        Matrix m = identity;
        m.m[0][0] = a[0], m.m[1][0] = a[1], m.m[0][1] = a[2], m.m[1][1] = a[3];
        m.m[0][3] = a[4], m.m[1][3] = a[5];
        return m;
    }
    if (strcmp(name, "matrix3d") == 0) {
        Matrix m;
        for (int i = 0; i < 16; i++)
            m.m[i % 4][i / 4] = a[i];
        return m;
    }
    if (g_str_has_prefix(name, "translate")) {
        char axis = name[9];
        return axis == 'x'   ? moved(a[0], 0, 0)
               : axis == 'y' ? moved(0, a[0], 0)
               : axis == 'z' ? moved(0, 0, a[0])
                             : moved(a[0], second, n > 2 ? a[2] : 0);
    }
    if (g_str_has_prefix(name, "scale")) {
        char axis = name[5];
        return axis == 'x'   ? scaled(a[0], 1, 1)
               : axis == 'y' ? scaled(1, a[0], 1)
               : axis == 'z' ? scaled(1, 1, a[0])
                             : scaled(a[0], n > 1 ? a[1] : a[0], n > 2 ? a[2] : 1);
    }
    if (strcmp(name, "rotate3d") == 0)
        return turned(a[0], a[1], a[2], a[3]);
    if (g_str_has_prefix(name, "rotate"))
        return turned(name[6] == 'x', name[6] == 'y', name[6] != 'x' && name[6] != 'y', a[0]);
    if (strcmp(name, "skewy") == 0)
        return skewed(0, a[0]);
    if (g_str_has_prefix(name, "skew"))
        return skewed(a[0], second);
    Matrix m = identity;
    if (a[0] > 0)
        m.m[3][2] = -1 / MAX(a[0], 1);
    return m;
}

static gboolean argument(const Scene *x, char kind, const char **s, double *out)
{
    switch (kind) {
    case 'l':
    case 'L':
        return length(x, s, kind == 'L', out);
    case 'f':
        return factor(s, out);
    case 'a':
        return angle(s, out);
    case 'p':
        x->read->in_depth = TRUE;
        if (g_ascii_strncasecmp(*s, "none", 4) == 0) {
            *s += 4;
            *out = 0;
            return TRUE;
        }
        return length(x, s, FALSE, out) && *out >= 0;
    default:
        return dt_art_number_at(s, out);
    }
}

static gboolean function(const Scene *x, const char **s, Matrix *out)
{
    char name[16];
    gsize n = 0;
    const char *p = *s;
    while (n + 1 < sizeof name && g_ascii_isalnum(p[n])) {
        name[n] = g_ascii_tolower(p[n]);
        n++;
    }
    name[n] = '\0';
    p += n;
    if (*p++ != '(')
        return FALSE;
    for (gsize i = 0; i < G_N_ELEMENTS(forms); i++) {
        if (strcmp(forms[i].name, name) != 0)
            continue;
        double a[MAX_ARGUMENTS];
        int count = 0;
        for (p = art_skip_space(p); *p != ')';) {
            if (!forms[i].arguments[count] ||
                !argument(x, forms[i].arguments[count], &p, &a[count]))
                return FALSE;
            count++;
            p = art_skip_space(p);
            if (*p == ',')
                p = art_skip_space(p + 1);
            else if (*p != ')')
                return FALSE;
        }
        if (count < forms[i].least)
            return FALSE;
        *out = matrix_of(name, a, count);
        *s = p + 1;
        return TRUE;
    }
    return FALSE;
}

/* Projected onto the page. */
static DtAffine flattened(const Matrix *m)
{
    return (DtAffine){m->m[0][0], m->m[1][0], m->m[0][1], m->m[1][1], m->m[0][3], m->m[1][3]};
}

gboolean dt_art_css_transform(const char *text, const ArtStyle *s, double w, double h,
                              const ArtRoot *root, DtAffine *out, ArtTransformRead *read)
{
    Scene x = {s, w, h, root, read};
    Matrix sum = identity;
    *read = (ArtTransformRead){FALSE, FALSE};
    const char *p = art_skip_space(text);
    if (g_ascii_strncasecmp(p, "none", 4) == 0 && *art_skip_space(p + 4) == '\0')
        p += 4;
    else if (!*p)
        return FALSE;
    for (p = art_skip_space(p); *p; p = art_skip_space(p)) {
        Matrix one;
        if (!function(&x, &p, &one))
            return FALSE;
        sum = times(&sum, &one);
    }
    read->in_depth |= sum.m[3][0] != 0 || sum.m[3][1] != 0 || sum.m[3][2] != 0;
    *out = flattened(&sum);
    return TRUE;
}

static gboolean move_numbers(const Scene *x, ArtMove kind, const char *p, double a[3], int *n)
{
    for (*n = 0; *p && *n < 3; (*n)++) {
        gboolean good =
            kind == ART_MOVE_TRANSLATE ? length(x, &p, *n == 1, &a[*n]) : factor(&p, &a[*n]);
        if (!good || (*p && !art_is_space(*p)))
            return FALSE;
        p = art_skip_space(p);
    }
    return *n > 0 && !*p;
}

/* "20deg", "x 20deg", "0 0 1 20deg", the angle first or last. */
static gboolean rotation(const char *p, Matrix *out)
{
    double axis[3] = {0, 0, 1}, degrees = 0;
    gboolean has_angle = FALSE;
    int n = 0;
    while (*p) {
        const char *after = p;
        if ((*p | 0x20) >= 'x' && (*p | 0x20) <= 'z' && !g_ascii_isalnum(p[1])) {
            for (int i = 0; i < 3; i++)
                axis[i] = (*p | 0x20) == 'x' + i;
            n = 3;
            p++;
        } else if (!has_angle && angle(&after, &degrees) && !g_ascii_isdigit(after[-1])) {
            has_angle = TRUE;
            p = after;
        } else if (n == 3 || !dt_art_number_at(&p, &axis[n++])) {
            return FALSE;
        }
        if (*p && !art_is_space(*p))
            return FALSE;
        p = art_skip_space(p);
    }
    *out = turned(axis[0], axis[1], axis[2], degrees);
    return has_angle && (n == 0 || n == 3);
}

gboolean dt_art_css_move(ArtMove kind, const char *text, const ArtStyle *s, double w, double h,
                         const ArtRoot *root, DtAffine *out, ArtTransformRead *read)
{
    Scene x = {s, w, h, root, read};
    *read = (ArtTransformRead){FALSE, FALSE};
    const char *p = art_skip_space(text);
    Matrix m = identity;
    double a[3] = {0, 0, 0};
    int n = 0;
    if (g_ascii_strncasecmp(p, "none", 4) == 0 && *art_skip_space(p + 4) == '\0') {
        *out = DT_AFFINE_IDENTITY;
        return TRUE;
    }
    if (kind == ART_MOVE_ROTATE) {
        if (!rotation(p, &m))
            return FALSE;
    } else if (!move_numbers(&x, kind, p, a, &n)) {
        return FALSE;
    } else if (kind == ART_MOVE_TRANSLATE) {
        m = moved(a[0], a[1], a[2]);
    } else {
        m = scaled(a[0], n > 1 ? a[1] : a[0], n > 2 ? a[2] : 1);
    }
    *out = flattened(&m);
    return TRUE;
}
