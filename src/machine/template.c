/* template: writes the profile as a commented file, from the table of keys. */
#include "machine/keys.h"

#include <string.h>

enum { COMMENT_WIDTH = 78 };

/* Stands for a space at which no line is broken. */
#define FIRM '\1'

/* Appends the text as comment lines, broken between words. */
static void append_comment(GString *s, const char *text)
{
    gsize column = 0;
    g_auto(GStrv) words = g_strsplit(text, " ", -1);
    for (char **w = words; *w; w++) {
        gsize n = (gsize)g_utf8_strlen(*w, -1);
        if (column && column + 1 + n > COMMENT_WIDTH) {
            g_string_append_c(s, '\n');
            column = 0;
        }
        g_string_append_printf(s, column ? " %s" : "# %s", *w);
        column += (column ? 1 : 2) + n;
    }
    g_string_append_c(s, '\n');
    for (char *c = s->str; *c; c++)
        if (*c == FIRM)
            *c = ' ';
}

static void append_help(GString *s, const DtKey *k)
{
    if (k->help == NULL) /* the second axis of a pair */
        return;
    g_autofree char *range = dt_key_range(k);
    g_autoptr(GString) text = g_string_new(_(k->help));
    if (k->type == DT_KEY_FLAG)
        g_string_append(text, _(" yes or no."));
    if (range)
        g_string_append_printf(text, " (%s)", g_strdelimit(range, " ", FIRM));
    append_comment(s, text->str);
}

static void append_key(GString *s, const DtKey *k)
{
    append_help(s, k);
    if (k->preset)
        g_string_append_printf(s, "%s =%s%s\n", k->name, *k->preset ? " " : "", k->preset);
    else
        g_string_append_printf(s, "#%s = 100 %s\n", k->name, dt_value_unit_name(k->unit));
}

static void append_section(GString *s, const DtKeySection *section)
{
    g_string_append_c(s, '\n');
    append_comment(s, _(section->help));
    g_string_append_printf(s, "[%s]\n", section->name);
    for (gsize i = 0; i < dt_n_keys; i++)
        if (strcmp(dt_keys[i].section, section->name) == 0)
            append_key(s, &dt_keys[i]);
}

/* The default rack, with explanations at the first pen. */
static void append_pens(GString *s, const DtKeySection *section)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_string_append_c(s, '\n');
    append_comment(s, _(section->help));
    for (gsize j = 0; j < p->rack.n; j++) {
        const DtPen *pen = &p->rack.pens[j];
        g_string_append_printf(s, "%s[pen %s]\n", j ? "\n" : "", pen->name);
        for (gsize i = 0; i < dt_n_keys; i++) {
            const DtKey *k = &dt_keys[i];
            if (strcmp(k->section, "pen") != 0)
                continue;
            if (j == 0)
                append_help(s, k);
            if (k->type == DT_KEY_COLOUR)
                g_string_append_printf(
                    s, "%s = #%02x%02x%02x\n", k->name, (unsigned)(pen->colour.r * 255 + 0.5),
                    (unsigned)(pen->colour.g * 255 + 0.5), (unsigned)(pen->colour.b * 255 + 0.5));
            else if (j == 0 || *k->preset)
                g_string_append_printf(s, "%s =%s%s\n", k->name, *k->preset ? " " : "", k->preset);
        }
    }
}

char *dt_profile_template(void)
{
    GString *s = g_string_new(NULL);
    append_comment(
        s, _("A machine's profile for drawtrue. Comments stand on lines of their own. Values "
             "carry their unit, and any unit of the kind will do: mm, cm, in; mm/s, "
             "mm/min; s, ms; deg; V; A, mA. Every value below is the default, so a "
             "line that you leave out keeps it."));
    for (gsize i = 0; i < dt_n_key_sections; i++) {
        if (strcmp(dt_key_sections[i].name, "pen") == 0)
            append_pens(s, &dt_key_sections[i]);
        else
            append_section(s, &dt_key_sections[i]);
    }
    return g_string_free(s, FALSE);
}
