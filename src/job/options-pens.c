/* options-pens: which pens draw what, chosen by the user. */
#include "job/private.h"

#include <string.h>

static int find_pen(const DtRack *rack, const char *name, const char *option, GError **error)
{
    int pen = dt_rack_find(rack, name);
    if (pen < 0)
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "--%s: the rack has no pen '%.60s'", option,
                    name);
    return pen;
}

/* Removes the pens that are not named from the copy's rack. */
static gboolean keep_pens(DtProfile *p, const char *names, GError **error)
{
    g_auto(GStrv) list = g_strsplit(names, ",", 0);
    g_autofree gboolean *keep = g_new0(gboolean, p->rack.n + 1);
    for (char **name = list; *name != NULL; name++) {
        int pen = find_pen(&p->rack, g_strstrip(*name), "pens", error);
        if (pen < 0)
            return FALSE;
        keep[pen] = TRUE;
    }
    dt_profile_keep_pens(p, keep);
    return TRUE;
}

/* "a=b", split; FALSE with an error if it does not have that form. */
static gboolean split_pair(char *text, const char *option, char **left, char **right,
                           GError **error)
{
    char *equals = strchr(text, '=');
    if (equals == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    "--%s takes pairs with '='; '%.60s' is not one", option, text);
        return FALSE;
    }
    *equals = '\0';
    *left = g_strstrip(text);
    *right = g_strstrip(equals + 1);
    return TRUE;
}

static gboolean read_swaps(const DtRack *rack, const char *text, DtInkOptions *ink, GError **error)
{
    g_auto(GStrv) list = g_strsplit(text, ",", DT_INK_MOST_RULES);
    for (char **pair = list; *pair != NULL; pair++) {
        char *from, *to;
        if (!split_pair(*pair, "swap", &from, &to, error))
            return FALSE;
        DtInkSwap *swap = &ink->swaps[ink->n_swaps++];
        swap->from = find_pen(rack, from, "swap", error);
        swap->to = swap->from < 0 ? -1 : find_pen(rack, to, "swap", error);
        if (swap->to < 0)
            return FALSE;
        for (const DtInkSwap *s = ink->swaps; s < swap; s++)
            if (s->from == swap->from && s->to != swap->to) {
                g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                            "--swap has two pens in place of '%.60s'", from);
                return FALSE;
            }
    }
    return TRUE;
}

static gboolean read_colour(const char *text, DtColour *out)
{
    static const char digits[] = "0123456789abcdefABCDEF";
    if (*text != '#' || strlen(text) != 7 || strspn(text + 1, digits) != 6)
        return FALSE;
    const guint64 rgb = g_ascii_strtoull(text + 1, NULL, 16);
    *out = (DtColour){(double)(rgb >> 16 & 255) / 255, (double)(rgb >> 8 & 255) / 255,
                      (double)(rgb & 255) / 255, 1};
    return TRUE;
}

static gboolean read_rules(const DtRack *rack, const char *text, DtInkOptions *ink, GError **error)
{
    g_auto(GStrv) list = g_strsplit(text, ",", DT_INK_MOST_RULES);
    for (char **pair = list; *pair != NULL; pair++) {
        char *colour, *pen;
        if (!split_pair(*pair, "colour", &colour, &pen, error))
            return FALSE;
        DtInkColourRule *rule = &ink->rules[ink->n_rules++];
        if (!read_colour(colour, &rule->colour)) {
            g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                        "--colour takes colours such as #3a8a40; '%.60s' is not one", colour);
            return FALSE;
        }
        rule->pen = find_pen(rack, pen, "colour", error);
        if (rule->pen < 0)
            return FALSE;
        for (const DtInkColourRule *r = ink->rules; r < rule; r++)
            if (memcmp(&r->colour, &rule->colour, sizeof r->colour) == 0 && r->pen != rule->pen) {
                g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "--colour has two pens for %s",
                            colour);
                return FALSE;
            }
    }
    return TRUE;
}

gboolean dt_job_apply_pens(const char *pens, const char *swap, const char *colour, DtProfile *p,
                           DtInkOptions *ink, GError **error)
{
    return (pens == NULL || keep_pens(p, pens, error)) &&
           (swap == NULL || read_swaps(&p->rack, swap, ink, error)) &&
           (colour == NULL || read_rules(&p->rack, colour, ink, error));
}
