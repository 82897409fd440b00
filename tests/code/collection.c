/* collection: reads many small programs out of one file. */
#include "collection.h"

#include <string.h>

static void free_program(gpointer data)
{
    Program *p = data;
    g_free(p->name);
    g_free(p->machine);
    g_free(p->findings);
    g_free(p->ink);
    g_free(p->text);
    g_free(p);
}

static Program *read_head(const char *line)
{
    g_auto(GStrv) fields = g_strsplit(line, "|", -1);
    for (char **f = fields; *f; f++)
        g_strstrip(*f);
    if (g_strv_length(fields) < 3)
        g_error("'%s' is no head of a program", line);
    Program *p = g_new0(Program, 1);
    p->name = g_strdelimit(g_strdup(fields[0]), " ,:/", '-');
    p->machine = g_strdup(fields[1]);
    p->findings = g_strdup(fields[2]);
    p->ink = fields[3] ? g_strdup(fields[3]) : NULL;
    return p;
}

static void set_text(Program *p, GString *text)
{
    gboolean open = g_str_has_suffix(text->str, "\\c\n");
    if (open)
        g_string_truncate(text, text->len - 3);
    p->text = g_strcompress(text->str);
    p->len = strlen(p->text);
    g_string_truncate(text, 0);
}

GPtrArray *collection_read(const char *folder, const char *file)
{
    g_autofree char *path = g_build_filename(folder, file, NULL), *all = NULL;
    if (!g_file_get_contents(path, &all, NULL, NULL))
        g_error("%s cannot be read", path);
    GPtrArray *list = g_ptr_array_new_with_free_func(free_program);
    g_autoptr(GString) text = g_string_new(NULL);
    g_auto(GStrv) lines = g_strsplit(all, "\n", -1);
    Program *p = NULL;
    for (char **l = lines; *l; l++) {
        if (g_str_has_prefix(*l, "=== ")) {
            if (p)
                set_text(p, text);
            p = read_head(*l + 4);
            g_ptr_array_add(list, p);
        } else if (p && l[1]) {
            g_string_append_printf(text, "%s\n", *l);
        }
    }
    if (p)
        set_text(p, text);
    return list;
}

char **collection_lines(const char *folder, const char *file)
{
    g_autofree char *path = g_build_filename(folder, file, NULL), *text = NULL;
    if (!g_file_get_contents(path, &text, NULL, NULL))
        g_error("%s cannot be read", path);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    g_autoptr(GStrvBuilder) kept = g_strv_builder_new();
    for (char **l = lines; *l; l++)
        if (**l != '#' && **l != '\0')
            g_strv_builder_add(kept, g_strchomp(*l));
    return g_strv_builder_end(kept);
}
