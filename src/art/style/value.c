/* value: numbers, lengths and transform lists as attributes write them. */
#include "art/private.h"

#include <math.h>

const double dt_art_powers[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                             1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* Up to 19 digits are kept exactly; both steps below are exact operations on doubles for all
 * numbers of at most 15 digits and small exponents (Clinger 1990), and within an ulp or two beyond.
 */
gboolean dt_art_any_number(const char **s, double *out)
{
    const char *p = *s;
    gboolean minus = *p == '-';
    if (*p == '-' || *p == '+')
        p++;
    guint64 mantissa = 0;
    int exponent = 0, kept = 0;
    gboolean any = FALSE;
    for (; art_is_digit(*p); p++) {
        any = TRUE;
        if (kept < 19) {
            mantissa = mantissa * 10 + (guint64)(*p - '0');
            kept += mantissa > 0;
        } else if (exponent < 100000) {
            exponent++;
        }
    }
    if (*p == '.' && (any || art_is_digit(p[1]))) {
        for (p++; art_is_digit(*p); p++) {
            any = TRUE;
            if (kept < 19) {
                mantissa = mantissa * 10 + (guint64)(*p - '0');
                kept += mantissa > 0;
                if (exponent > -100000)
                    exponent--;
            }
        }
    }
    if (!any)
        return FALSE;
    if (*p == 'e' || *p == 'E') {
        const char *q = p + 1;
        gboolean down = *q == '-';
        if (*q == '-' || *q == '+')
            q++;
        if (art_is_digit(*q)) {
            int e = 0;
            for (; art_is_digit(*q); q++)
                if (e < 100000)
                    e = e * 10 + (*q - '0');
            exponent += down ? -e : e;
            p = q;
        }
    }
    double value = (double)mantissa;
    if (mantissa == 0)
        value = 0;
    else if (exponent < 0 && exponent >= -22)
        value /= dt_art_powers[-exponent];
    else if (exponent > 0 && exponent <= 22)
        value *= dt_art_powers[exponent];
    else if (exponent != 0)
        value *= pow(10, exponent);
    *out = minus ? -value : value;
    *s = p;
    return TRUE;
}

static const struct {
    const char *name;
    ArtUnit unit;
} units[] = {
    {"px", ART_UNIT_PX}, {"pt", ART_UNIT_PT},     {"pc", ART_UNIT_PC},     {"mm", ART_UNIT_MM},
    {"cm", ART_UNIT_CM}, {"in", ART_UNIT_IN},     {"em", ART_UNIT_EM},     {"ex", ART_UNIT_EX},
    {"ch", ART_UNIT_CH}, {"rem", ART_UNIT_REM},   {"vw", ART_UNIT_VW},     {"vh", ART_UNIT_VH},
    {"q", ART_UNIT_Q},   {"vmin", ART_UNIT_VMIN}, {"vmax", ART_UNIT_VMAX},
};

gboolean dt_art_length_at(const char **s, ArtLength *out)
{
    ArtLength l = {0, ART_UNIT_NUMBER};
    const char *p = *s;
    if (!art_number(&p, &l.value))
        return FALSE;
    if (*p == '%') {
        l.unit = ART_UNIT_PERCENT;
        p++;
    } else if (g_ascii_isalpha(*p)) {
        gsize n = 0;
        while (g_ascii_isalpha(p[n]))
            n++;
        gsize i = 0;
        while (i < G_N_ELEMENTS(units) &&
               (strlen(units[i].name) != n || g_ascii_strncasecmp(units[i].name, p, n) != 0))
            i++;
        if (i == G_N_ELEMENTS(units))
            return FALSE;
        l.unit = units[i].unit;
        p += n;
    }
    *out = l;
    *s = p;
    return TRUE;
}

gboolean dt_art_length(const char *s, ArtLength *out)
{
    ArtLength l;
    s = art_skip_space(s);
    if (!dt_art_length_at(&s, &l) || *art_skip_space(s) != '\0')
        return FALSE;
    *out = l;
    return TRUE;
}

ArtLength *dt_art_length_list(const char *s, gsize *n)
{
    GArray *list = g_array_new(FALSE, FALSE, sizeof(ArtLength));
    s = art_skip_space(s);
    while (*s) {
        ArtLength l;
        if (!dt_art_length_at(&s, &l)) {
            g_array_free(list, TRUE);
            return NULL;
        }
        g_array_append_val(list, l);
        s = art_skip_comma(s);
    }
    *n = list->len;
    if (list->len == 0) {
        g_array_free(list, TRUE);
        return NULL;
    }
    return (ArtLength *)(void *)g_array_free(list, FALSE);
}

/* Transforms ----------------------------------------------------------------------------------- */

#define MAX_ARGUMENTS 6

static gboolean make_transform(const char *name, gsize len, const double *a, int n, DtAffine *out)
{
    struct {
        const char *name;
        int least, most;
    } forms[] = {{"matrix", 6, 6}, {"translate", 1, 2}, {"scale", 1, 2},      {"rotate", 1, 3},
                 {"skewX", 1, 1},  {"skewY", 1, 1},     {"translateX", 1, 1}, {"translateY", 1, 1},
                 {"scaleX", 1, 1}, {"scaleY", 1, 1},    {"skew", 1, 2}};
    gsize f = 0;
    while (f < G_N_ELEMENTS(forms) &&
           (strlen(forms[f].name) != len || strncmp(forms[f].name, name, len) != 0))
        f++;
    if (f == G_N_ELEMENTS(forms) || n < forms[f].least || n > forms[f].most)
        return FALSE;
    switch (f) {
    case 0:
        *out = (DtAffine){a[0], a[1], a[2], a[3], a[4], a[5]};
        return TRUE;
    case 1:
        *out = dt_affine_translate(a[0], n > 1 ? a[1] : 0);
        return TRUE;
    case 2:
        *out = dt_affine_scale(a[0], n > 1 ? a[1] : a[0]);
        return TRUE;
    case 3:
        if (n == 2)
            return FALSE;
        *out = dt_affine_rotate(a[0] * G_PI / 180);
        if (n == 3)
            *out = dt_affine_then(dt_affine_translate(-a[1], -a[2]),
                                  dt_affine_then(*out, dt_affine_translate(a[1], a[2])));
        return TRUE;
    case 6:
        *out = dt_affine_translate(a[0], 0);
        return TRUE;
    case 7:
        *out = dt_affine_translate(0, a[0]);
        return TRUE;
    case 8:
        *out = dt_affine_scale(a[0], 1);
        return TRUE;
    case 9:
        *out = dt_affine_scale(1, a[0]);
        return TRUE;
    default: {
        double x = f == 5 ? 0 : a[0], y = f == 5 ? a[0] : n > 1 ? a[1] : 0;
        *out = DT_AFFINE_IDENTITY;
        out->xy = tan(x * G_PI / 180);
        out->yx = tan(y * G_PI / 180);
        return TRUE;
    }
    }
}

/* A number with the units that CSS allows in transforms: lengths in px, angles in degrees. */
static gboolean argument(const char **s, double *out)
{
    static const struct {
        const char *name;
        double factor;
    } factors[] = {{"deg", 1},        {"grad", 0.9},     {"rad", 180 / G_PI},
                   {"turn", 360},     {"px", 1},         {"pt", 96.0 / 72},
                   {"mm", 96 / 25.4}, {"cm", 96 / 2.54}, {"in", 96}};
    if (!art_number(s, out))
        return FALSE;
    gsize n = 0;
    while (g_ascii_isalpha((*s)[n]))
        n++;
    if (n == 0)
        return TRUE;
    for (gsize i = 0; i < G_N_ELEMENTS(factors); i++)
        if (strlen(factors[i].name) == n && strncmp(factors[i].name, *s, n) == 0) {
            *out *= factors[i].factor;
            *s += n;
            return TRUE;
        }
    return FALSE;
}

gboolean dt_art_transform(const char *s, DtAffine *out)
{
    DtAffine sum = DT_AFFINE_IDENTITY;
    s = art_skip_space(s);
    if (strncmp(s, "none", 4) == 0 && *art_skip_space(s + 4) == '\0')
        s += 4;
    s = art_skip_space(s);
    while (*s) {
        const char *name = s;
        while (g_ascii_isalpha(*s))
            s++;
        gsize len = (gsize)(s - name);
        s = art_skip_space(s);
        if (*s++ != '(')
            return FALSE;
        double a[MAX_ARGUMENTS];
        int n = 0;
        s = art_skip_space(s);
        while (*s != ')') {
            if (n == MAX_ARGUMENTS || !argument(&s, &a[n++]))
                return FALSE;
            s = art_skip_comma(s);
        }
        DtAffine one;
        if (!make_transform(name, len, a, n, &one))
            return FALSE;
        sum = dt_affine_then(one, sum);
        s = art_skip_comma(s + 1);
    }
    *out = sum;
    return TRUE;
}

static gboolean starts_name(const char *p)
{
    if (*p == '-')
        p++;
    return g_ascii_isalpha(*p) || *p == '_' || *p == '-' || (*p == '\\' && p[1]) ||
           (guchar)*p >= 128;
}

static const char *skip_name(const char *p)
{
    while (g_ascii_isalnum(*p) || *p == '_' || *p == '-' || (*p == '\\' && p[1]) ||
           (guchar)*p >= 128)
        p += *p == '\\' ? 2 : 1;
    return p;
}

gboolean dt_art_is_family_list(const char *p)
{
    for (;; p++) {
        p = art_skip_space(p);
        if (*p == '"' || *p == '\'') {
            const char *end = strchr(p + 1, *p);
            p = art_skip_space(end ? end + 1 : p + strlen(p));
        } else if (!starts_name(p)) {
            return FALSE;
        } else {
            while (starts_name(p))
                p = art_skip_space(skip_name(p));
        }
        if (*p != ',')
            return *p == '\0';
    }
}
