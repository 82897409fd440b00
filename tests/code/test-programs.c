/* code: every trap of the hand-made programs is found on its line, and the sound ones are clean. */
#include "machines.h"

#include <stdlib.h>
#include <string.h>

static const char *folder;

static gint by_text(gconstpointer a, gconstpointer b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The findings as "kind:line", sorted. */
static char *found(const DtInspection *i)
{
    g_autoptr(GPtrArray) list = g_ptr_array_new_with_free_func(g_free);
    for (size_t k = 0; k < i->n_findings; k++) {
        g_assert_cmpint(i->findings[k].column, >=, 1);
        g_ptr_array_add(list, g_strdup_printf("%s:%d", i->findings[k].kind, i->findings[k].line));
    }
    g_ptr_array_sort(list, by_text);
    g_ptr_array_add(list, NULL);
    return g_strjoinv(" ", (char **)list->pdata);
}

static char *expected(char **fields)
{
    qsort(fields, g_strv_length(fields), sizeof *fields, by_text);
    return g_strjoinv(" ", fields);
}

static void judge_one(gconstpointer line)
{
    g_auto(GStrv) fields = g_strsplit(line, " ", -1);
    g_autofree char *path = g_build_filename(folder, fields[0], NULL);
    g_autoptr(DtProfile) p = machine_by_name(fields[1]);
    g_assert_nonnull(p);
    g_autoptr(GError) error = NULL;
    DtInspection i;
    dt_code_judge(p, path, NULL, &i, &error);
    g_assert_no_error(error);
    g_autofree char *have = found(&i), *want = expected(fields + 2);
    for (size_t k = 0; k < i.n_findings && strcmp(have, want) != 0; k++)
        g_test_message("line %d, column %d: %s", i.findings[k].line, i.findings[k].column,
                       i.findings[k].text);
    if (strcmp(have, want) != 0)
        g_test_fail_printf("found '%s', expected '%s'", have, want);
    dt_inspection_clear(&i);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = argv[1];
    g_autofree char *list = g_build_filename(folder, "expected.txt", NULL), *text = NULL;
    if (!g_file_get_contents(list, &text, NULL, NULL))
        g_error("%s cannot be read", list);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **l = lines; *l; l++) {
        if (**l == '#' || **l == '\0')
            continue;
        g_strchomp(*l);
        g_autofree char *name = g_strdup_printf("/code/programs/%.*s", (int)strcspn(*l, "."), *l);
        g_test_add_data_func(name, *l, judge_one);
    }
    return g_test_run();
}
