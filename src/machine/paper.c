/* paper: sheet sizes by name and by dimensions. */
#include "drawtrue/machine.h"

#include <string.h>

/* Sheets ------------------------------------------------------------------------------------ */

/* ISO 216: each size is the one before it cut in half across its length, whole mm rounded down. */
static gboolean iso_size(const char *text, gsize len, double *w, double *h)
{
    char series = len ? g_ascii_toupper(text[0]) : '\0';
    int width = series == 'A' ? 841 : 1000, height = series == 'A' ? 1189 : 1414, number;
    if (series != 'A' && series != 'B')
        return FALSE;
    if (len == 2 && g_ascii_isdigit(text[1]))
        number = text[1] - '0';
    else if (len == 3 && memcmp(text + 1, "10", 2) == 0)
        number = 10;
    else
        return FALSE;
    for (int i = 0; i < number; i++) {
        int half = height / 2;
        height = width;
        width = half;
    }
    *w = width;
    *h = height;
    return TRUE;
}

/* North American sheets: ASME Y14.1 calls Letter and Tabloid A and B. */
static gboolean inch_size(const char *text, gsize len, double *w, double *h)
{
    static const struct {
        const char *name;
        double w_in, h_in;
    } sizes[] = {{"letter", 8.5, 11}, {"legal", 8.5, 14}, {"tabloid", 11, 17}};
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++)
        if (strlen(sizes[i].name) == len && g_ascii_strncasecmp(sizes[i].name, text, len) == 0) {
            *w = sizes[i].w_in * 25.4;
            *h = sizes[i].h_in * 25.4;
            return TRUE;
        }
    return FALSE;
}

/* "210x148", "210 x 148 mm", "8.5x11 in". */
static gboolean free_size(const char *text, double *w, double *h)
{
    static const struct {
        const char *name;
        double mm;
    } units[] = {{"", 1}, {"mm", 1}, {"cm", 10}, {"in", 25.4}};
    char *end;
    if (!g_ascii_isdigit(*text))
        return FALSE;
    double a = g_ascii_strtod(text, &end);
    end += strspn(end, " ");
    if ((*end != 'x' && *end != 'X') || end == text)
        return FALSE;
    text = end + 1 + strspn(end + 1, " ");
    if (!g_ascii_isdigit(*text))
        return FALSE;
    double b = g_ascii_strtod(text, &end);
    end += strspn(end, " ");
    for (gsize i = 0; i < G_N_ELEMENTS(units); i++)
        if (strcmp(end, units[i].name) == 0) {
            *w = a * units[i].mm;
            *h = b * units[i].mm;
            return TRUE;
        }
    return FALSE;
}

gboolean dt_machine_paper(const char *text, double *w, double *h, GError **error)
{
    g_autofree char *copy = g_strstrip(g_strdup(text));
    gsize word = strcspn(copy, " ");
    const char *turn = copy + word + strspn(copy + word, " ");
    double a = 0, b = 0;
    if (iso_size(copy, word, &a, &b) || inch_size(copy, word, &a, &b)) {
        if (g_ascii_strcasecmp(turn, "landscape") == 0) {
            double swap = a;
            a = b;
            b = swap;
        } else if (*turn && g_ascii_strcasecmp(turn, "portrait") != 0) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "'%s': a sheet is portrait or landscape, not '%s'", copy, turn);
            return FALSE;
        }
    } else if (!free_size(copy, &a, &b)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "'%s' is not a paper size: A0 to A10, B0 to B10, Letter, Legal or "
                    "Tabloid, each with landscape or without, "
                    "or WIDTHxHEIGHT in mm",
                    copy);
        return FALSE;
    }
    if (!(a >= 5 && b >= 5 && a <= 5000 && b <= 5000)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "'%s': a sheet's sides must be from 5 to 5000 mm", copy);
        return FALSE;
    }
    *w = a;
    *h = b;
    return TRUE;
}
