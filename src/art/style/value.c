/* value: numbers, lengths and transform lists as written in attributes. */
#include "art/private.h"

#include <math.h>

const double dt_art_powers[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

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
    {"px", ART_UNIT_PX},      {"pt", ART_UNIT_PT},
    {"pc", ART_UNIT_PC},      {"mm", ART_UNIT_MM},
    {"cm", ART_UNIT_CM},      {"in", ART_UNIT_IN},
    {"em", ART_UNIT_EM},      {"ex", ART_UNIT_EX},
    {"ch", ART_UNIT_CH},      {"rem", ART_UNIT_REM},
    {"vw", ART_UNIT_VW},      {"vh", ART_UNIT_VH},
    {"q", ART_UNIT_Q},        {"vmin", ART_UNIT_VMIN},
    {"vmax", ART_UNIT_VMAX},  {"cap", ART_UNIT_CAP},
    {"ic", ART_UNIT_IC},      {"lh", ART_UNIT_LH},
    {"rlh", ART_UNIT_RLH},    {"vi", ART_UNIT_VW},
    {"vb", ART_UNIT_VH}, /* paper neither scrolls nor shrinks: all viewports are the same */
    {"svw", ART_UNIT_VW},     {"lvw", ART_UNIT_VW},
    {"dvw", ART_UNIT_VW},     {"svi", ART_UNIT_VW},
    {"lvi", ART_UNIT_VW},     {"dvi", ART_UNIT_VW},
    {"cqw", ART_UNIT_VW},     {"cqi", ART_UNIT_VW},
    {"svh", ART_UNIT_VH},     {"lvh", ART_UNIT_VH},
    {"dvh", ART_UNIT_VH},     {"svb", ART_UNIT_VH},
    {"lvb", ART_UNIT_VH},     {"dvb", ART_UNIT_VH},
    {"cqh", ART_UNIT_VH},     {"cqb", ART_UNIT_VH},
    {"svmin", ART_UNIT_VMIN}, {"lvmin", ART_UNIT_VMIN},
    {"dvmin", ART_UNIT_VMIN}, {"cqmin", ART_UNIT_VMIN},
    {"svmax", ART_UNIT_VMAX}, {"lvmax", ART_UNIT_VMAX},
    {"dvmax", ART_UNIT_VMAX}, {"cqmax", ART_UNIT_VMAX},
};

/* A math function as a length: evaluated at once if it does not depend on the place. */
static gboolean math_length(const char **s, ArtLength *out)
{
    ArtMath m;
    const char *from = *s;
    if (!dt_art_math_at(s, &m) || m.kind == ART_MATH_ANGLE)
        return FALSE;
    if (m.relative)
        *out = (ArtLength){.unit = ART_UNIT_MATH, .math = from};
    else
        *out = (ArtLength){.value = isnan(m.value) ? 0 : CLAMP(m.value, -1e9, 1e9),
                           .unit = m.kind == ART_MATH_LENGTH ? ART_UNIT_PX : ART_UNIT_NUMBER};
    return TRUE;
}

gboolean dt_art_number_at(const char **s, double *out)
{
    ArtMath m;
    if (!g_ascii_isalpha(**s))
        return art_number(s, out);
    const char *p = *s;
    if (!dt_art_math_at(&p, &m) || m.kind != ART_MATH_NUMBER || m.relative)
        return FALSE;
    *out = isnan(m.value) ? 0 : m.value;
    *s = p;
    return TRUE;
}

gboolean dt_art_angle_at(const char **s, double *degrees)
{
    static const struct {
        const char *name;
        double factor;
    } kinds[] = {{"deg", 1}, {"grad", 0.9}, {"rad", 180 / G_PI}, {"turn", 360}};
    const char *p = *s;
    if (g_ascii_isalpha(*p)) {
        ArtMath m;
        if (!dt_art_math_at(&p, &m) || m.kind == ART_MATH_LENGTH)
            return FALSE;
        *degrees = m.value;
        *s = p;
        return isfinite(m.value);
    }
    if (!art_number(&p, degrees))
        return FALSE;
    gsize n = 0;
    while (g_ascii_isalpha(p[n]))
        n++;
    gboolean known = n == 0;
    for (gsize i = 0; !known && i < G_N_ELEMENTS(kinds); i++)
        if (strlen(kinds[i].name) == n && g_ascii_strncasecmp(p, kinds[i].name, n) == 0) {
            *degrees *= kinds[i].factor;
            known = TRUE;
        }
    if (known)
        *s = p + n;
    return known;
}

gboolean dt_art_length_at(const char **s, ArtLength *out)
{
    ArtLength l = {.unit = ART_UNIT_NUMBER};
    const char *p = *s;
    if (g_ascii_isalpha(*p))
        return math_length(s, out);
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
