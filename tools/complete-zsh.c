/* complete-zsh: the completion for zsh, as specifications of its _arguments. */
#include "describe.h"

/* Inside single quotes and a specification: quotes, brackets and colons are escaped. */
static void add_text(GString *s, const char *text)
{
    for (const char *c = text; *c != '\0'; c++) {
        if (*c == '\'') {
            g_string_append(s, "'\\''");
            continue;
        }
        if (*c == ':' || *c == '[' || *c == ']' || *c == '\\')
            g_string_append_c(s, '\\');
        g_string_append_c(s, *c);
    }
}

static void add_action(GString *s, const DtDescribedOption *o)
{
    switch (o->kind) {
    case DT_VALUE_FILE:
        g_string_append(s, "_files");
        if (o->words->len > 0) {
            g_string_append(s, " -g \"*.(");
            for (guint i = 0; i < o->words->len; i++)
                g_string_append_printf(s, "%s%s", i ? "|" : "", (const char *)o->words->pdata[i]);
            g_string_append(s, ")(-.)\"");
        }
        break;
    case DT_VALUE_FOLDER:
        g_string_append(s, "_files -/");
        break;
    case DT_VALUE_PORT:
        g_string_append(s, "_drawtrue_ports");
        break;
    case DT_VALUE_CHOICE:
        g_string_append(s, "(");
        for (guint i = 0; i < o->words->len; i++)
            g_string_append_printf(s, "%s%s", i ? " " : "", (const char *)o->words->pdata[i]);
        g_string_append(s, ")");
        break;
    case DT_VALUE_NONE:
    case DT_VALUE_OTHER:
        g_string_append(s, " ");
        break;
    }
}

static void add_option(GString *s, const DtDescribedOption *o)
{
    const gboolean has_value = o->kind != DT_VALUE_NONE;
    g_string_append(s, "        ");
    if (o->letter != '\0')
        g_string_append_printf(s, "'(-%c --%s)'{-%c%s,--%s%s}'[", o->letter, o->name, o->letter,
                               has_value ? "+" : "", o->name, has_value ? "=" : "");
    else
        g_string_append_printf(s, "'--%s%s[", o->name, has_value ? "=" : "");
    add_text(s, o->help);
    g_string_append_c(s, ']');
    if (has_value) {
        g_string_append_c(s, ':');
        add_text(s, o->argument);
        g_string_append_c(s, ':');
        add_action(s, o);
    }
    g_string_append(s, "' \\\n");
}

static void add_command(GString *s, const DtDescription *d)
{
    g_string_append_printf(s, "    %s)\n        _arguments -s \\\n", d->command->name);
    for (guint i = 0; i < d->options->len; i++)
        add_option(s, d->options->pdata[i]);
    g_string_append(s, "        '*:argument:");
    add_action(s, d->argument);
    g_string_append(s, "'\n        ;;\n");
}

char *dt_complete_zsh(DtDescription *const *all, gsize n)
{
    GString *s =
        g_string_new("#compdef drawtrue\n"
                     "# zsh completion of drawtrue; made from the tables of the program.\n\n"
                     "_drawtrue_ports() {\n"
                     "    local -a ports=(");
    g_auto(GStrv) patterns = g_strsplit(DT_PORT_PATTERN, " ", -1);
    for (char **p = patterns; *p != NULL; p++)
        g_string_append_printf(s, "%s%s(N)", p == patterns ? "" : " ", *p);
    g_string_append(s, ")\n    compadd -f -a ports\n}\n\n"
                       "local -a commands=(\n");
    for (gsize i = 0; i < n; i++) {
        g_string_append_printf(s, "    '%s:", all[i]->command->name);
        add_text(s, all[i]->command->summary);
        g_string_append(s, "'\n");
    }
    g_string_append(s, "    'help:more about a command'\n)\n\n"
                       "if (( CURRENT == 2 )); then\n"
                       "    _describe command commands\n"
                       "    compadd -- --help --version\n"
                       "    return\n"
                       "fi\n"
                       "shift words\n(( CURRENT-- ))\n"
                       "case $words[1] in\n    help) _describe command commands ;;\n");
    for (gsize i = 0; i < n; i++)
        add_command(s, all[i]);
    g_string_append(s, "esac\n");
    return g_string_free(s, FALSE);
}
