/* cli: what the commands share. */
#include "cli/cli.h"

#include <string.h>

gboolean dt_cli_parse(const DtCommand *c, const GOptionEntry *entries, int *argc, char ***argv,
                      GError **error)
{
    g_autoptr(GOptionContext) context = g_option_context_new(NULL);
    g_option_context_set_help_enabled(context, FALSE);
    g_option_context_set_summary(context, c->summary);
    g_option_context_add_main_entries(context, entries, NULL);
    if (c->shared != NULL)
        g_option_context_add_main_entries(context, c->shared, NULL);
    gboolean help = FALSE;
    const GOptionEntry own[] = {
        {"help", 'h', 0, G_OPTION_ARG_NONE, &help, "Show this help", NULL},
        G_OPTION_ENTRY_NULL,
    };
    g_option_context_add_main_entries(context, own, NULL);
    g_autofree char *name = g_strdup_printf("drawtrue %s", c->name);
    g_set_prgname(name);
    if (!g_option_context_parse(context, argc, argv, error)) {
        g_prefix_error(error, "%s: ", c->name);
        return FALSE;
    }
    if (help) {
        g_autofree char *text = g_option_context_get_help(context, TRUE, NULL);
        char *options = strstr(text, "\n\n");
        printf("usage: drawtrue %s %s%s", c->name, c->usage, options ? options : "\n");
        return FALSE;
    }
    return TRUE;
}

DtProfile *dt_cli_profile(const char *path, GError **error)
{
    if (path == NULL)
        path = g_getenv("DRAWTRUE_MACHINE");
    if (path == NULL || *path == '\0')
        return dt_profile_new();
    return dt_profile_load(path, error);
}
