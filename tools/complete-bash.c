/* complete-bash: the completion for bash. */
#include "describe.h"

#include <string.h>

static char *join(GPtrArray *words)
{
    GString *s = g_string_new(NULL);
    for (guint i = 0; i < words->len; i++)
        g_string_append_printf(s, "%s%s", i ? " " : "", (const char *)words->pdata[i]);
    return g_string_free(s, FALSE);
}

/* The shell command that offers the values. */
static void add_action(GString *s, const DtDescribedOption *o)
{
    g_autofree char *words = join(o->words);
    switch (o->kind) {
    case DT_VALUE_FILE:
        g_string_append_printf(s, "_drawtrue_files%s%s", *words ? " " : "", words);
        break;
    case DT_VALUE_FOLDER:
        g_string_append(s, "_drawtrue_folders");
        break;
    case DT_VALUE_PORT:
        g_string_append(s, "_drawtrue_ports");
        break;
    case DT_VALUE_CHOICE:
        g_string_append_printf(s, "_drawtrue_words '%s'", words);
        break;
    case DT_VALUE_NONE:
    case DT_VALUE_OTHER:
        g_string_append(s, ":");
        break;
    }
}

static void add_command(GString *s, const DtDescription *d)
{
    g_autoptr(GString) names = g_string_new(NULL);
    g_string_append_printf(s, "    %s)\n        case $before in\n", d->command->name);
    for (guint i = 0; i < d->options->len; i++) {
        const DtDescribedOption *o = d->options->pdata[i];
        g_string_append_printf(names, "%s--%s", i ? " " : "", o->name);
        if (o->letter != '\0')
            g_string_append_printf(names, " -%c", o->letter);
        if (o->kind == DT_VALUE_NONE)
            continue;
        g_string_append(s, "        ");
        if (o->letter != '\0')
            g_string_append_printf(s, "-%c|", o->letter);
        g_string_append_printf(s, "--%s) ", o->name);
        add_action(s, o);
        g_string_append(s, "; return ;;\n");
    }
    g_string_append_printf(s, "        esac\n        options='%s'\n        argument='", names->str);
    if (d->argument->kind == DT_VALUE_CHOICE) {
        g_autofree char *words = join(d->argument->words);
        g_string_append_printf(s, "_drawtrue_words \"%s\"", words);
    } else {
        add_action(s, d->argument);
    }
    g_string_append(s, "'\n        ;;\n");
}

char *dt_complete_bash(DtDescription *const *all, gsize n)
{
    GString *s = g_string_new(
        "# bash completion of drawtrue; made from the tables of the program.\n\n"
        "_drawtrue_words() {\n"
        "    mapfile -t COMPREPLY < <(compgen -W \"$1\" -- \"$word\")\n"
        "}\n\n"
        "_drawtrue_folders() {\n"
        "    compopt -o filenames 2>/dev/null\n"
        "    mapfile -t COMPREPLY < <(compgen -d -- \"$word\")\n"
        "}\n\n"
        "# Files of the endings given, or any, and the folders on the way to them.\n"
        "_drawtrue_files() {\n"
        "    local ending\n"
        "    compopt -o filenames 2>/dev/null\n"
        "    if [[ $# -eq 0 ]]; then\n"
        "        mapfile -t COMPREPLY < <(compgen -f -- \"$word\")\n"
        "        return\n"
        "    fi\n"
        "    mapfile -t COMPREPLY < <(\n"
        "        compgen -d -- \"$word\"\n"
        "        for ending in \"$@\"; do compgen -f -X \"!*.$ending\" -- \"$word\"; done\n"
        "    )\n"
        "}\n\n"
        "_drawtrue_ports() {\n"
        "    local port ports=\n"
        "    for port in " DT_PORT_PATTERN "; do\n"
        "        [[ -e $port ]] && ports+=\" $port\"\n"
        "    done\n"
        "    compopt -o filenames 2>/dev/null\n"
        "    _drawtrue_words \"$ports\"\n"
        "}\n\n"
        "_drawtrue() {\n"
        "    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} options "
        "argument\n"
        "    COMPREPLY=()\n"
        "    # --option=value comes as three words\n"
        "    if [[ $word == = ]]; then word=; elif [[ $before == = ]]; then "
        "before=${COMP_WORDS[COMP_CWORD-2]}; fi\n"
        "    if [[ $COMP_CWORD -eq 1 || ( $COMP_CWORD -eq 2 && ${COMP_WORDS[1]} == help ) ]]; "
        "then\n"
        "        _drawtrue_words '");
    for (gsize i = 0; i < n; i++)
        g_string_append_printf(s, "%s ", all[i]->command->name);
    g_string_append(
        s, "help --help --version'\n        return\n    fi\n    case ${COMP_WORDS[1]} in\n");
    for (gsize i = 0; i < n; i++)
        add_command(s, all[i]);
    g_string_append(
        s,
        "    *) return ;;\n    esac\n"
        "    if [[ $word == -* ]]; then _drawtrue_words \"$options\"; else eval \"$argument\"; fi\n"
        "}\n\ncomplete -F _drawtrue drawtrue\n");
    return g_string_free(s, FALSE);
}
