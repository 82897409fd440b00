/* complete-fish: the completion for fish. */
#include "describe.h"

/* Inside single quotes. */
static void add_text(GString *s, const char *text)
{
    for (const char *c = text; *c != '\0'; c++) {
        if (*c == '\'' || *c == '\\')
            g_string_append_c(s, '\\');
        g_string_append_c(s, *c);
    }
}

static void add_action(GString *s, const DtDescribedOption *o)
{
    switch (o->kind) {
    case DT_VALUE_FILE:
        if (o->words->len == 0) {
            g_string_append(s, " -F");
            break;
        }
        g_string_append(s, " -k -a '(__drawtrue_files");
        for (guint i = 0; i < o->words->len; i++)
            g_string_append_printf(s, " %s", (const char *)o->words->pdata[i]);
        g_string_append(s, ")'");
        break;
    case DT_VALUE_FOLDER:
        g_string_append(s, " -a '(__fish_complete_directories (commandline -ct))'");
        break;
    case DT_VALUE_PORT:
        g_string_append(s, " -a '(__drawtrue_ports)'");
        break;
    case DT_VALUE_CHOICE:
        g_string_append(s, " -a '");
        for (guint i = 0; i < o->words->len; i++)
            g_string_append_printf(s, "%s%s", i ? " " : "", (const char *)o->words->pdata[i]);
        g_string_append(s, "'");
        break;
    case DT_VALUE_NONE:
    case DT_VALUE_OTHER:
        break;
    }
}

static void add_option(GString *s, const char *command, const DtDescribedOption *o)
{
    g_string_append_printf(s, "complete -c drawtrue -n '__fish_seen_subcommand_from %s' -l %s",
                           command, o->name);
    if (o->letter != '\0')
        g_string_append_printf(s, " -s %c", o->letter);
    if (o->kind != DT_VALUE_NONE)
        g_string_append(s, o->kind == DT_VALUE_FILE && o->words->len == 0 ? " -r" : " -x");
    add_action(s, o);
    g_string_append(s, " -d '");
    add_text(s, o->help);
    g_string_append(s, "'\n");
}

char *dt_complete_fish(DtDescription *const *all, gsize n)
{
    GString *s = g_string_new(
        "# fish completion of drawtrue; made from the tables of the program.\n\n"
        "function __drawtrue_ports\n"
        "    for port in " DT_PORT_PATTERN "\n"
        "        echo $port\n"
        "    end\n"
        "end\n\n"
        "# Files of the endings given, and the folders on the way to them.\n"
        "function __drawtrue_files\n"
        "    __fish_complete_directories (commandline -ct)\n"
        "    for ending in $argv\n"
        "        __fish_complete_suffix .$ending | string match -r \".*\\\\.$ending\\$\"\n"
        "    end\n"
        "end\n\n"
        "complete -c drawtrue -f\n"
        "complete -c drawtrue -n __fish_use_subcommand -l help -d 'Show this help'\n"
        "complete -c drawtrue -n __fish_use_subcommand -l version -d 'Show the version'\n"
        "complete -c drawtrue -n __fish_use_subcommand -a help -d 'more about a command'\n");
    for (gsize i = 0; i < n; i++) {
        const DtDescription *d = all[i];
        g_string_append_printf(s,
                               "\ncomplete -c drawtrue -n '__fish_use_subcommand; or "
                               "__fish_seen_subcommand_from help' -a %s -d '",
                               d->command->name);
        add_text(s, d->command->summary);
        g_string_append(s, "'\n");
        for (guint k = 0; k < d->options->len; k++)
            add_option(s, d->command->name, d->options->pdata[k]);
        if (d->argument->kind != DT_VALUE_OTHER) {
            g_string_append_printf(s, "complete -c drawtrue -n '__fish_seen_subcommand_from %s'",
                                   d->command->name);
            add_action(s, d->argument);
            g_string_append_c(s, '\n');
        }
    }
    return g_string_free(s, FALSE);
}
