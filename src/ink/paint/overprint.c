/* overprint: the measured colours of inks laid over one another, as a pen's section has them. */
#include "drawtrue/rack.h"

#include <stdio.h>

/* "green #5a3a20" split at its last space; FALSE if it does not have that form. */
static gboolean read_pair(char *pair, char **name, DtColour *colour)
{
    unsigned rgb;
    int end = 0;
    g_strstrip(pair);
    char *space = strrchr(pair, ' ');
    if (!space || space[1] != '#' || strlen(space + 2) != 6 ||
        sscanf(space + 2, "%6x%n", &rgb, &end) != 1 || end != 6)
        return FALSE;
    *space = '\0';
    *name = g_strstrip(pair);
    *colour = (DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1};
    return TRUE;
}

gboolean dt_rack_overprint(const DtRack *rack, size_t pen, size_t other, DtColour *out)
{
    for (int way = 0; way < 2; way++) {
        const DtPen *over = &rack->pens[way ? other : pen], *under = &rack->pens[way ? pen : other];
        g_auto(GStrv) list = g_strsplit(over->over ? over->over : "", ",", -1);
        char *name;
        for (char **pair = list; *pair; pair++)
            if (read_pair(*pair, &name, out) && g_strcmp0(name, under->name) == 0)
                return TRUE;
    }
    return FALSE;
}

char *dt_rack_overprint_problem(const DtRack *rack, size_t pen)
{
    const char *text = rack->pens[pen].over;
    g_auto(GStrv) list = g_strsplit(text ? text : "", ",", -1);
    for (char **pair = list; text && *text && *pair; pair++) {
        g_autofree char *whole = g_strdup(*pair);
        char *name;
        DtColour colour;
        if (!read_pair(*pair, &name, &colour))
            return g_strdup_printf(
                _("over takes a pen and the colour on it, such as green #5a3a20; "
                  "'%.60s' is not one"),
                g_strstrip(whole));
        if (dt_rack_find(rack, name) < 0)
            return g_strdup_printf(_("over: there is no pen '%.60s'"), name);
    }
    return NULL;
}
