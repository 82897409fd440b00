/* describe: see describe.h. */
#include "describe.h"

#include <string.h>

static void free_option(gpointer data)
{
    DtDescribedOption *o = data;
    g_free(o->name);
    g_free(o->argument);
    g_free(o->help);
    g_ptr_array_unref(o->words);
    g_free(o);
}

static const DtOption *find_planning(const GOptionEntry *e)
{
    size_t n;
    const DtOption *table = dt_options_table(&n);
    for (size_t i = 0; e->arg == G_OPTION_ARG_CALLBACK && i < n; i++)
        if (strcmp(table[i].name, e->long_name) == 0)
            return &table[i];
    return NULL;
}

static gboolean is_lower_word(const char *text)
{
    for (const char *c = text; *c != '\0'; c++)
        if (!g_ascii_islower(*c))
            return FALSE;
    return *text != '\0';
}

/* What a placeholder such as "FILE", "JOB.nc", "FILE.png|FILE.jpg" or "mm|in" stands for. */
static void read_placeholder(DtDescribedOption *o, const char *text)
{
    static const char *const any_file[] = {"FILE", "PATH", "PICTURE", "PROGRAM", "READINGS", NULL};
    static const char *const drawings[] = {"svg", "svgz", "pdf",  "png",
                                           "jpg", "jpeg", "webp", NULL};
    g_auto(GStrv) parts = g_strsplit(text, "|", -1);
    for (char **p = parts; *p != NULL; p++) {
        const char *ending = strrchr(*p, '.');
        if (is_lower_word(*p)) {
            o->kind = DT_VALUE_CHOICE;
            g_ptr_array_add(o->words, g_strdup(*p));
        } else if (strcmp(*p, "PORT") == 0) {
            o->kind = DT_VALUE_PORT;
        } else if (strcmp(*p, "FOLDER") == 0) {
            o->kind = DT_VALUE_FOLDER;
        } else if (strcmp(*p, "DRAWING") == 0) {
            o->kind = DT_VALUE_FILE;
            for (const char *const *d = drawings; *d != NULL; d++)
                g_ptr_array_add(o->words, g_strdup(*d));
        } else if (ending != NULL && is_lower_word(ending + 1)) {
            o->kind = DT_VALUE_FILE;
            g_ptr_array_add(o->words, g_strdup(ending + 1));
        } else if (g_strv_contains(any_file, *p)) {
            o->kind = DT_VALUE_FILE; /* of any ending, also where another part names some */
            g_ptr_array_set_size(o->words, 0);
            return;
        }
    }
}

static void add_option(const GOptionEntry *e, void *user)
{
    DtDescribedOption *o = g_new0(DtDescribedOption, 1);
    g_ptr_array_add(user, o);
    o->name = g_strdup(e->long_name);
    o->letter = e->short_name;
    o->argument = g_strdup(e->arg_description);
    o->help = g_strdup(e->description);
    o->planning = find_planning(e);
    o->words = g_ptr_array_new_with_free_func(g_free);
    if (e->arg_description == NULL)
        return; /* a flag */
    o->kind = e->arg == G_OPTION_ARG_FILENAME ? DT_VALUE_FILE : DT_VALUE_OTHER;
    if (o->planning != NULL && o->planning->type == DT_OPTION_CHOICE) {
        o->kind = DT_VALUE_CHOICE;
        for (const char *const *c = o->planning->choices; *c != NULL; c++)
            g_ptr_array_add(o->words, g_strdup(*c));
    } else if (strcmp(e->long_name, "machine") == 0) {
        o->kind = DT_VALUE_FILE;
        g_ptr_array_add(o->words, g_strdup("ini"));
    } else {
        read_placeholder(o, e->arg_description);
    }
}

/* The plain arguments: what stands in the usage outside of options, "[RIG.ini]" or
 * "[home | by X,Y | ...]...". */
static DtDescribedOption *read_argument(const char *usage)
{
    DtDescribedOption *o = g_new0(DtDescribedOption, 1);
    o->words = g_ptr_array_new_with_free_func(g_free);
    o->kind = DT_VALUE_OTHER;
    gboolean of_option = FALSE;
    g_auto(GStrv) words = g_strsplit_set(usage, " []", -1);
    for (char **w = words; *w != NULL; w++) {
        if (**w == '-') {
            of_option = TRUE;
        } else if (of_option && **w != '\0' && strcmp(*w, "|") != 0) {
            of_option = FALSE;
        } else if (strcmp(*w, "OPTION...") != 0) {
            of_option = FALSE;
            read_placeholder(o, *w);
        }
    }
    return o;
}

DtDescription *dt_describe(const DtCommand *c)
{
    DtDescription *d = g_new0(DtDescription, 1);
    d->command = c;
    d->options = g_ptr_array_new_with_free_func(free_option);
    dt_cli_list_options(c, add_option, d->options);
    d->argument = read_argument(c->usage);
    return d;
}

void dt_description_free(DtDescription *d)
{
    g_ptr_array_unref(d->options);
    free_option(d->argument);
    g_free(d);
}
