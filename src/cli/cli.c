/* cli: shared by the commands. */
#include "cli/cli.h"

#include "cli/print.h"
#include "drawtrue/code.h"
#include "drawtrue/log.h"

#include <inttypes.h>
#include <string.h>

gboolean dt_cli_parse(const DtCommand *c, const GOptionEntry *entries, int *argc, char ***argv,
                      GError **error)
{
    const GOptionEntry *all[] = {entries, c->shared, NULL};
    return dt_cli_parse_all(c, all, NULL, argc, argv, error);
}

/* Set while options are listed instead of parsed. */
static struct {
    DtOptionListener listener;
    void *user;
} listing;

void dt_cli_list_options(const DtCommand *c, DtOptionListener listener, void *user)
{
    g_autofree char *name = g_strdup(c->name);
    char *argv[] = {name, NULL};
    g_autoptr(GError) error = NULL;
    listing.listener = listener;
    listing.user = user;
    c->run(1, argv, &error);
    listing.listener = NULL;
}

static void tell_entries(const GOptionEntry *e)
{
    for (; e != NULL && e->long_name != NULL; e++)
        listing.listener(e, listing.user);
}

static const GOptionEntry *find_entry(const GOptionEntry *const *entries, const char *name,
                                      gsize len)
{
    for (; *entries != NULL; entries++)
        for (const GOptionEntry *e = *entries; e->long_name != NULL; e++)
            if (strlen(e->long_name) == len && strncmp(e->long_name, name, len) == 0)
                return e;
    return NULL;
}

/* GOption ignores the value in "--force=no", and would force. */
static gboolean has_values_where_taken(const GOptionEntry *const *entries, int argc, char **argv,
                                       GError **error)
{
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++) {
        const char *value = strchr(argv[i], '=');
        if (value == NULL || strncmp(argv[i], "--", 2) != 0)
            continue;
        const GOptionEntry *e = find_entry(entries, argv[i] + 2, (gsize)(value - argv[i] - 2));
        if (e == NULL || !(e->arg == G_OPTION_ARG_NONE || (e->flags & G_OPTION_FLAG_NO_ARG)))
            continue;
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "--%s takes no value; leave out '%s'",
                    e->long_name, value);
        return FALSE;
    }
    return TRUE;
}

/* GOption leaves "--" in place where a dash follows it. */
static void drop_separator(int *argc, char **argv)
{
    int at = 1;
    while (at + 1 < *argc && !(strcmp(argv[at], "--") == 0 && argv[at + 1][0] == '-'))
        at++;
    if (at + 1 >= *argc)
        return;
    memmove(argv + at, argv + at + 1, (size_t)(*argc - at) * sizeof *argv);
    --*argc;
}

gboolean dt_cli_parse_all(const DtCommand *c, const GOptionEntry *const *entries, gpointer user,
                          int *argc, char ***argv, GError **error)
{
    gboolean help = FALSE;
    const GOptionEntry own[] = {
        {"help", 'h', 0, G_OPTION_ARG_NONE, &help, N_("Show this help"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (listing.listener != NULL) {
        for (; *entries != NULL; entries++)
            tell_entries(*entries);
        tell_entries(own);
        return FALSE;
    }
    if (!has_values_where_taken(entries, *argc, *argv, error)) {
        g_prefix_error(error, "%s: ", c->name);
        return FALSE;
    }
    g_autoptr(GOptionContext) context = g_option_context_new(NULL);
    GOptionGroup *group = g_option_group_new(NULL, NULL, NULL, user, NULL);
    g_option_group_set_translation_domain(group, GETTEXT_PACKAGE);
    g_option_context_set_help_enabled(context, FALSE);
    g_option_context_set_summary(context, _(c->summary));
    g_option_context_set_main_group(context, group);
    for (; *entries != NULL; entries++)
        g_option_group_add_entries(group, *entries);
    g_option_group_add_entries(group, own);
    g_autofree char *name = g_strdup_printf("drawtrue %s", c->name);
    g_set_prgname(name);
    if (!g_option_context_parse(context, argc, argv, error)) {
        g_prefix_error(error, "%s: ", c->name);
        return FALSE;
    }
    drop_separator(argc, *argv);
    if (help) {
        g_autofree char *text = g_option_context_get_help(context, TRUE, NULL);
        char *options = strstr(text, "\n\n");
        dt_cli_printf(stdout, "usage: drawtrue %s %s%s", c->name, c->usage,
                      options ? options : "\n");
        dt_cli_printf(stdout, "See 'man drawtrue-%s' for details and examples.\n", c->name);
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
    DtProfile *p = dt_profile_load(path, error);
    if (p == NULL)
        return NULL;
    if (p->notes != NULL)
        dt_cli_print(stderr, p->notes);
    if (!dt_code_check_profile(p, error))
        g_clear_pointer(&p, dt_profile_free);
    return p;
}

gboolean dt_cli_keep_unfinished(const char *journal, const char *output, gboolean force,
                                GError **error)
{
    DtUnfinished run;
    if (force || !dt_log_unfinished(journal, output, &run))
        return TRUE;
    if (run.draws)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: run %" PRId64
                    " is drawing it, and needs it to go on if it is cut off; give "
                    "another name",
                    output, run.id);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %zu of its %zu strokes are drawn, and 'drawtrue resume --run %" PRId64
                    "' needs it to draw the rest; give another name, or --force",
                    output, run.drawn, run.strokes, run.id);
    return FALSE;
}

gboolean dt_cli_claim_output(const char *output, DtFileKind kind, const char *input,
                             const DtProfile *p, gboolean force, GError **error)
{
    const char *inputs[3] = {NULL};
    size_t n = 0;
    if (input != NULL)
        inputs[n++] = input;
    if (p != NULL && p->path != NULL)
        inputs[n++] = p->path;
    return dt_base_check_output(output, kind, inputs, force, error) &&
           (kind != DT_FILE_PROGRAM || dt_cli_keep_unfinished(NULL, output, force, error));
}

void dt_cli_note_origin(const DtProfile *p, const char *program)
{
    if (!dt_code_has_heads(p))
        dt_cli_printf(stderr,
                      "%s: taken for a program from elsewhere: this controller accepts no "
                      "comments, so one that drawtrue wrote with corrections is not recognised "
                      "and would be corrected twice\n",
                      program);
}
