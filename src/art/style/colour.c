/* colour: colours as CSS Color 4 writes them, sRGB alone. */
#include "art/private.h"
#include "art/style/colour-names.h"

#include <math.h>
#include <stdlib.h>

static int compare_name(const void *key, const void *entry)
{
    return strcmp(key, *(const char *const *)entry);
}

static gboolean hex_colour(const char **s, DtColour *out)
{
    const char *p = *s + 1;
    unsigned d[8];
    int n = 0;
    while (n < 8 && g_ascii_isxdigit(p[n])) {
        d[n] = (unsigned)g_ascii_xdigit_value(p[n]);
        n++;
    }
    if (g_ascii_isxdigit(p[n]))
        return FALSE;
    double v[4] = {0, 0, 0, 1};
    if (n == 3 || n == 4) {
        for (int i = 0; i < n; i++)
            v[i] = d[i] / 15.0;
    } else if (n == 6 || n == 8) {
        for (int i = 0; i < n / 2; i++)
            v[i] = (d[2 * i] * 16 + d[2 * i + 1]) / 255.0;
    } else {
        return FALSE;
    }
    *out = (DtColour){v[0], v[1], v[2], v[3]};
    *s = p + n;
    return TRUE;
}

/* CSS Color 4, 7.1: hue in degrees, the rest 0 to 1. */
static double hsl_channel(double hue, double s, double l, double offset)
{
    double k = fmod(offset + hue / 30, 12);
    if (k < 0)
        k += 12;
    double a = s * MIN(l, 1 - l);
    return l - a * MAX(-1, MIN(MIN(k - 3, 9 - k), 1));
}

static gboolean angle_unit(const char **s, double *degrees)
{
    static const struct {
        const char *name;
        double factor;
    } kinds[] = {{"deg", 1}, {"grad", 0.9}, {"rad", 180 / G_PI}, {"turn", 360}};
    if (!g_ascii_isalpha(**s))
        return TRUE;
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++)
        if (g_ascii_strncasecmp(*s, kinds[i].name, strlen(kinds[i].name)) == 0) {
            *degrees *= kinds[i].factor;
            *s += strlen(kinds[i].name);
            return TRUE;
        }
    return FALSE;
}

/* The arguments of rgb() and hsl(), old and new syntax: commas or spaces, a slash before alpha. */
static gboolean function_colour(const char **s, gboolean hsl, DtColour *out)
{
    double v[4] = {0, 0, 0, 1};
    gboolean percent[4] = {FALSE, FALSE, FALSE, FALSE};
    const char *p = art_skip_space(*s);
    int n = 0;
    while (*p != ')') {
        if (n == 4 || !art_number(&p, &v[n]))
            return FALSE;
        if (*p == '%') {
            percent[n] = TRUE;
            p++;
        } else if (hsl && n == 0 && !angle_unit(&p, &v[0])) {
            return FALSE;
        }
        n++;
        p = art_skip_space(p);
        if (*p == ',' || *p == '/')
            p = art_skip_space(p + 1);
    }
    if (n < 3)
        return FALSE;
    if (!hsl && (percent[0] != percent[1] || percent[0] != percent[2]))
        return FALSE; /* CSS Color 3, 4.2.1: never both kinds */
    double alpha = CLAMP(percent[3] ? v[3] / 100 : v[3], 0, 1);
    if (hsl) {
        double sat = CLAMP(v[1] / 100, 0, 1), light = CLAMP(v[2] / 100, 0, 1);
        *out = (DtColour){hsl_channel(v[0], sat, light, 0), hsl_channel(v[0], sat, light, 8),
                          hsl_channel(v[0], sat, light, 4), alpha};
    } else {
        for (int i = 0; i < 3; i++)
            v[i] = CLAMP(percent[i] ? v[i] / 100 : v[i] / 255, 0, 1);
        *out = (DtColour){v[0], v[1], v[2], alpha};
    }
    *s = p + 1;
    return TRUE;
}

gboolean dt_art_colour_at(const char **s, DtColour *out, gboolean *current)
{
    const char *p = art_skip_space(*s);
    *current = FALSE;
    if (*p == '#') {
        if (!hex_colour(&p, out))
            return FALSE;
        *s = p;
        return TRUE;
    }
    char word[24];
    gsize n = 0;
    while (n < sizeof word - 1 && g_ascii_isalpha(p[n])) {
        word[n] = g_ascii_tolower(p[n]);
        n++;
    }
    word[n] = '\0';
    if (n == 0 || g_ascii_isalnum(p[n]))
        return FALSE;
    p += n;
    if (*p == '(') {
        gboolean hsl = strcmp(word, "hsl") == 0 || strcmp(word, "hsla") == 0;
        if (!hsl && strcmp(word, "rgb") != 0 && strcmp(word, "rgba") != 0)
            return FALSE;
        p++;
        if (!function_colour(&p, hsl, out))
            return FALSE;
    } else if (strcmp(word, "currentcolor") == 0) {
        *current = TRUE;
    } else if (strcmp(word, "transparent") == 0) {
        *out = (DtColour){0, 0, 0, 0};
    } else {
        const void *found = bsearch(word, colour_names, G_N_ELEMENTS(colour_names),
                                    sizeof colour_names[0], compare_name);
        if (!found)
            return FALSE;
        guint32 rgb = colour_names[((const char *)found - (const char *)colour_names) /
                                   (gssize)sizeof colour_names[0]]
                          .rgb;
        *out = (DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1};
    }
    *s = p;
    return TRUE;
}

double dt_art_linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}
