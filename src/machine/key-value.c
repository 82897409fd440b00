/* key-value: converts one value of a profile from text with a unit to numbers. */
#include "machine/key-value.h"

#include <math.h>
#include <string.h>

/* Every unit that a profile may use. The first of a kind is how it is written in messages. */
static const struct {
    DtUnit kind;
    const char *name;
    double size;
} units[] = {
    {DT_UNIT_LENGTH, "mm", 1},
    {DT_UNIT_LENGTH, "cm", 10},
    {DT_UNIT_LENGTH, "m", 1000},
    {DT_UNIT_LENGTH, "um", 0.001},
    {DT_UNIT_LENGTH, "in", 25.4},
    {DT_UNIT_SPEED, "mm/s", 1},
    {DT_UNIT_SPEED, "mm/min", 1.0 / 60},
    {DT_UNIT_SPEED, "cm/s", 10},
    {DT_UNIT_SPEED, "m/min", 1000.0 / 60},
    {DT_UNIT_SPEED, "in/s", 25.4},
    {DT_UNIT_SPEED, "in/min", 25.4 / 60},
    {DT_UNIT_ACCELERATION, "mm/s2", 1},
    {DT_UNIT_ACCELERATION, "mm/s^2", 1},
    {DT_UNIT_ACCELERATION, "mm/s\302\262", 1},
    {DT_UNIT_ACCELERATION, "cm/s2", 10},
    {DT_UNIT_ACCELERATION, "m/s2", 1000},
    {DT_UNIT_ACCELERATION, "in/s2", 25.4},
    {DT_UNIT_TIME, "s", 1},
    {DT_UNIT_TIME, "ms", 0.001},
    {DT_UNIT_TIME, "min", 60},
    {DT_UNIT_ANGLE, "deg", G_PI / 180},
    {DT_UNIT_ANGLE, "\302\260", G_PI / 180},
    {DT_UNIT_ANGLE, "rad", 1},
    {DT_UNIT_ANGLE, "mrad", 0.001},
    {DT_UNIT_VOLTAGE, "V", 1},
    {DT_UNIT_VOLTAGE, "mV", 0.001},
    {DT_UNIT_CURRENT, "A", 1},
    {DT_UNIT_CURRENT, "mA", 0.001},
    {DT_UNIT_PER_LENGTH, "/mm", 1},
    {DT_UNIT_PER_LENGTH, "steps/mm", 1},
    {DT_UNIT_PER_LENGTH, "/cm", 0.1},
    {DT_UNIT_PER_LENGTH, "/in", 1 / 25.4},
    {DT_UNIT_BYTES, "bytes", 1},
    {DT_UNIT_BIT_RATE, "bit/s", 1},
    {DT_UNIT_BIT_RATE, "baud", 1},
};

const char *dt_value_unit_name(DtUnit unit)
{
    for (gsize i = 0; i < G_N_ELEMENTS(units); i++)
        if (units[i].kind == unit)
            return units[i].name;
    return "";
}

double dt_value_unit_size(DtUnit unit)
{
    return unit == DT_UNIT_ANGLE ? G_PI / 180 : 1;
}

static const char *skip_space(const char *s)
{
    while (*s == ' ' || *s == '\t')
        s++;
    return s;
}

/* A decimal number as people write it: not hexadecimal, infinite or NaN. */
static const char *scan_number(const char *s, double *out)
{
    const char *p = s + (*s == '-' || *s == '+');
    if (!g_ascii_isdigit(*p) && !(*p == '.' && g_ascii_isdigit(p[1])))
        return NULL;
    if (p[0] == '0' && (p[1] == 'x' || p[1] == 'X'))
        return NULL;
    char *end;
    double v = g_ascii_strtod(s, &end);
    if (!isfinite(v))
        return NULL;
    *out = v;
    return end;
}

static char *unit_list(DtUnit kind)
{
    GString *s = g_string_new(NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(units); i++)
        if (units[i].kind == kind)
            g_string_append_printf(s, "%s%s", s->len ? ", " : "", units[i].name);
    return g_string_free(s, FALSE);
}

/* The unit in the `len` bytes at s: its factor, or FALSE with the reason. */
static gboolean unit_size(const char *s, gsize len, DtUnit kind, double *size, char **why)
{
    const char *also = NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(units); i++) {
        if (strlen(units[i].name) != len || memcmp(units[i].name, s, len) != 0)
            continue;
        if (units[i].kind == kind) {
            *size = units[i].size;
            return TRUE;
        }
        also = dt_value_unit_name(units[i].kind);
    }
    if (kind == DT_UNIT_NONE) {
        *why = g_strdup_printf(_("'%.*s' follows the number, which has no unit here"), (int)len, s);
        return FALSE;
    }
    g_autofree char *list = unit_list(kind);
    if (memchr(s, '#', len) || memchr(s, ';', len))
        *why = g_strdup_printf(_("'%.*s' is not a unit; comments stand on lines of their own"),
                               (int)len, s);
    else if (also)
        *why = g_strdup_printf(_("'%.*s' is a unit of another kind; this one takes %s"), (int)len,
                               s, list);
    else
        *why = g_strdup_printf(_("'%.*s' is not a unit of it; it takes %s"), (int)len, s, list);
    return FALSE;
}

/* A decimal comma, as used in many countries, would be read as separating two numbers. */
static gboolean has_decimal_comma(const char *text, char **why)
{
    const char *at = text + strspn(text, "+-0123456789");
    const gsize digits = *at == ',' ? strspn(at + 1, "0123456789") : 0;
    if (digits == 0 || at == text || (at[1 + digits] != '\0' && at[1 + digits] != ' '))
        return FALSE;
    *why = g_strdup_printf(_("'%.*s' has a comma; use a point: '%.*s.%.*s'"),
                           (int)(at - text + 1) + (int)digits, text, (int)(at - text), text,
                           (int)digits, at + 1);
    return TRUE;
}

gboolean dt_value_number(const char *text, DtUnit unit, double *out, char **why)
{
    double v, size = 1;
    if (has_decimal_comma(text, why))
        return FALSE;
    const char *rest = scan_number(text, &v);
    if (rest == NULL) {
        *why = g_strdup_printf(_("'%s' is not a number"), text);
        return FALSE;
    }
    rest = skip_space(rest);
    if (*rest && !unit_size(rest, strlen(rest), unit, &size, why))
        return FALSE;
    if (*rest == '\0' && unit != DT_UNIT_NONE && v != 0) {
        *why = g_strdup_printf(_("'%s' lacks its unit; write '%s %s'"), text, text,
                               dt_value_unit_name(unit));
        return FALSE;
    }
    *out = v * size;
    return TRUE;
}

gboolean dt_value_ratio(const char *text, double *out, char **why)
{
    double above, below = 1;
    if (has_decimal_comma(text, why))
        return FALSE;
    const char *rest = scan_number(text, &above);
    if (rest && *(rest = skip_space(rest)) == '/') {
        rest = scan_number(skip_space(rest + 1), &below);
        rest = rest ? skip_space(rest) : NULL;
    }
    if (rest == NULL || *rest || below == 0) {
        *why = g_strdup_printf(_("'%s' is not a ratio like 63.68 or 25792/405"), text);
        return FALSE;
    }
    *out = above / below;
    return TRUE;
}

gboolean dt_value_whole(const char *text, DtUnit unit, int *out, char **why)
{
    double v;
    if (!dt_value_number(text, unit, &v, why))
        return FALSE;
    if (v != floor(v) || fabs(v) > 1e9) {
        *why = g_strdup_printf(_("'%s' is not a whole number"), text);
        return FALSE;
    }
    *out = (int)v;
    return TRUE;
}

gboolean dt_value_flag(const char *text, gboolean *out, char **why)
{
    if (g_ascii_strcasecmp(text, "yes") == 0)
        *out = TRUE;
    else if (g_ascii_strcasecmp(text, "no") == 0)
        *out = FALSE;
    else {
        *why = g_strdup_printf(_("'%s' is neither yes nor no"), text);
        return FALSE;
    }
    return TRUE;
}

/* The end of a word made of the characters that units consist of. */
static gsize word_length(const char *s)
{
    return strcspn(s, " \t,:");
}

/* A length with an optional unit; *bare is set if it had none. */
static const char *scan_length(const char *s, double *out, gboolean *bare, char **why)
{
    double v, size = 1;
    const char *rest = scan_number(s, &v);
    if (rest == NULL) {
        *why = g_strdup_printf(_("'%.*s' is not a number"), (int)MAX(word_length(s), 1), s);
        return NULL;
    }
    /* "0.38 mm" but not "0.12 150:0.2": a unit begins with a letter */
    const char *unit = skip_space(rest);
    *bare = !g_ascii_isalpha(*unit);
    if (!*bare) {
        gsize n = word_length(unit);
        if (!unit_size(unit, n, DT_UNIT_LENGTH, &size, why))
            return NULL;
        rest = unit + n;
    }
    *out = v * size;
    return rest;
}

gboolean dt_value_point(const char *text, DtPoint *out, char **why)
{
    double x, y;
    gboolean bare_x, bare_y;
    const char *s = scan_length(text, &x, &bare_x, why);
    if (s == NULL)
        return FALSE;
    s = skip_space(s);
    s = *s == ',' ? scan_length(skip_space(s + 1), &y, &bare_y, why) : NULL;
    if (s == NULL || *skip_space(s)) {
        g_free(*why);
        *why = g_strdup_printf(_("'%s' is not a place like '10, 20 mm'"), text);
        return FALSE;
    }
    if (bare_x && !bare_y) { /* the unit at the end applies to both */
        double one = 1;
        const char *unit = skip_space(strchr(text, ',') + 1);
        double ignored;
        unit = skip_space(scan_number(unit, &ignored));
        if (!unit_size(unit, word_length(unit), DT_UNIT_LENGTH, &one, why))
            return FALSE;
        x *= one;
    }
    *out = dt_point(x, y);
    return TRUE;
}

gboolean dt_value_colour(const char *text, DtColour *out, char **why)
{
    int digit[6];
    gboolean good = strlen(text) == 7 && text[0] == '#';
    for (int i = 0; good && i < 6; i++) {
        digit[i] = g_ascii_xdigit_value(text[1 + i]);
        good = digit[i] >= 0;
    }
    if (!good) {
        *why = g_strdup_printf(_("'%s' is not a colour like #1f4e9c"), text);
        return FALSE;
    }
    *out = (DtColour){(digit[0] * 16 + digit[1]) / 255.0, (digit[2] * 16 + digit[3]) / 255.0,
                      (digit[4] * 16 + digit[5]) / 255.0, 1};
    return TRUE;
}

static const char *skip_separators(const char *s)
{
    while (*s == ' ' || *s == '\t' || *s == ',')
        s++;
    return s;
}

gboolean dt_value_table(const char *text, DtTable *out, char **why)
{
    g_autoptr(GArray) at = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) value = g_array_new(FALSE, FALSE, sizeof(double));
    gboolean constant = FALSE, bare;
    for (const char *s = skip_separators(text); *s; s = skip_separators(s)) {
        double a, v;
        s = scan_length(s, &a, &bare, why);
        if (s == NULL)
            return FALSE;
        const char *colon = skip_space(s);
        if (*colon == ':') {
            s = scan_length(skip_space(colon + 1), &v, &bare, why);
            if (s == NULL)
                return FALSE;
        } else {
            constant = TRUE;
            v = a;
            a = 0;
        }
        if (constant && at->len) {
            *why =
                g_strdup_printf(_("'%s' is neither one length nor a list of position:value"), text);
            return FALSE;
        }
        if (at->len && a <= g_array_index(at, double, at->len - 1)) {
            *why =
                g_strdup_printf(_("the positions must rise, but %g mm does not lie beyond %g mm"),
                                a, g_array_index(at, double, at->len - 1));
            return FALSE;
        }
        g_array_append_val(at, a);
        g_array_append_val(value, v);
    }
    if (constant && bare && g_array_index(value, double, 0) != 0) {
        *why = g_strdup_printf(_("'%s' lacks its unit; write '%s mm'"), text, text);
        return FALSE;
    }
    gsize n = at->len;
    if (n == 1 && g_array_index(value, double, 0) == 0)
        n = 0; /* empty */
    *out = (DtTable){NULL, NULL, n};
    if (n) {
        out->at = g_memdup2(at->data, n * sizeof(double));
        out->value = g_memdup2(value->data, n * sizeof(double));
    }
    return TRUE;
}

gboolean dt_value_bytes(const char *text, char **out, char **why)
{
    GString *s = g_string_new(NULL);
    for (const char *p = text; *p; p++) {
        static const char from[] = "nrts\\", to[] = "\n\r\t \\";
        const char *simple;
        if (*p != '\\') {
            g_string_append_c(s, *p);
        } else if (p[1] == 'x' && g_ascii_isxdigit(p[2]) && g_ascii_isxdigit(p[3]) &&
                   (p[2] != '0' || p[3] != '0')) {
            int byte = g_ascii_xdigit_value(p[2]) * 16 + g_ascii_xdigit_value(p[3]);
            g_string_append_c(s, (char)byte);
            p += 3;
        } else if (p[1] && (simple = strchr(from, p[1]))) {
            g_string_append_c(s, to[simple - from]);
            p++;
        } else {
            *why = g_strdup_printf(_("'%s' holds a backslash that begins none of "
                                     "\\x01 to \\xff, \\n, \\r, \\t, \\s and \\\\"),
                                   text);
            g_string_free(s, TRUE);
            return FALSE;
        }
    }
    *out = g_string_free(s, FALSE);
    return TRUE;
}
