/* code: every trap of the hand-made programs is found on its line, and the sound ones are clean. */
#include "collection.h"
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

/* Every finding, and nothing else. */
static void judge(const char *machine, const char *text, gsize len, char **findings)
{
    g_autoptr(DtProfile) p = machine_by_name(machine);
    g_assert_nonnull(p);
    g_autoptr(GError) error = NULL;
    DtInspection i;
    dt_code_judge_text(p, text, len, NULL, &i, &error);
    g_assert_no_error(error);
    g_autofree char *have = found(&i), *want = expected(findings);
    for (size_t k = 0; k < i.n_findings && strcmp(have, want) != 0; k++)
        g_test_message("line %d, column %d: %s", i.findings[k].line, i.findings[k].column,
                       i.findings[k].text);
    if (strcmp(have, want) != 0)
        g_test_fail_printf("found '%s', expected '%s'", have, want);
    dt_inspection_clear(&i);
}

static void judge_file(gconstpointer line)
{
    g_auto(GStrv) fields = g_strsplit(line, " ", -1);
    g_autofree char *path = g_build_filename(folder, fields[0], NULL), *text = NULL;
    gsize len;
    g_assert_true(g_file_get_contents(path, &text, &len, NULL));
    judge(fields[1], text, len, fields + 2);
}

static void judge_program(gconstpointer data)
{
    const Program *p = data;
    g_auto(GStrv) findings = g_strsplit(p->findings, " ", -1);
    judge(p->machine, p->text, p->len, findings);
}

static void add_collection(const char *kind, GPtrArray *programs)
{
    for (guint i = 0; i < programs->len; i++) {
        const Program *p = programs->pdata[i];
        g_autofree char *name = g_strdup_printf("/code/more-%s/%s", kind, p->name);
        g_test_add_data_func(name, p, judge_program);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = argv[1];
    g_auto(GStrv) lines = collection_lines(folder, "expected.txt");
    for (char **l = lines; *l; l++) {
        g_autofree char *name = g_strdup_printf("/code/programs/%.*s", (int)strcspn(*l, "."), *l);
        g_test_add_data_func(name, *l, judge_file);
    }
    g_autoptr(GPtrArray) faulty = collection_read(folder, "more-faulty.txt");
    g_autoptr(GPtrArray) sound = collection_read(folder, "more-sound.txt");
    add_collection("faulty", faulty);
    add_collection("sound", sound);
    return g_test_run();
}
