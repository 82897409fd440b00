/* held: see held.h. */
#include "support/held.h"

#include <math.h>
#include <string.h>

#define LAST_PLACES 3.01

static HeldFigures figures_of; /* GTest's functions take a case alone */

static void case_free(gpointer data)
{
    HeldCase *c = data;
    g_free(c->name);
    g_string_free(c->given, TRUE);
    g_string_free(c->figures, TRUE);
    g_free(c);
}

static HeldCase *case_new(const char *name)
{
    HeldCase *c = g_new(HeldCase, 1);
    *c = (HeldCase){g_strdup(name), g_string_new(NULL), g_string_new(NULL)};
    return c;
}

char *held_given(const HeldCase *c, const char *word)
{
    GString *out = g_string_new(NULL);
    g_autofree char *start = g_strconcat(word, ": ", NULL);
    g_auto(GStrv) lines = g_strsplit(c->given->str, "\n", -1);
    for (char **line = lines; *line; line++)
        if (g_str_has_prefix(*line, start))
            g_string_append_printf(out, "%s\n", *line + strlen(start));
    return g_string_free(out, FALSE);
}

/* Of HeldCase; *head, freed by the caller, is what stands before the first. */
static GPtrArray *read_cases(const char *path, char **head)
{
    GPtrArray *cases = g_ptr_array_new_with_free_func(case_free);
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    GString *before = g_string_new(NULL);
    for (char **line = lines; *line; line++) {
        HeldCase *c = cases->len > 0 ? cases->pdata[cases->len - 1] : NULL;
        if (g_str_has_prefix(*line, "= "))
            g_ptr_array_add(cases, case_new(*line + 2));
        else if (c == NULL)
            g_string_append_printf(before, "%s\n", *line);
        else if (**line)
            g_string_append_printf(g_str_has_prefix(*line, "  ") ? c->figures : c->given, "%s\n",
                                   *line);
    }
    *head = g_string_free(before, FALSE);
    return cases;
}

/* The same word, or numbers that differ in their last places at most. */
static gboolean agrees(const char *a, const char *b)
{
    char *a_end = NULL, *b_end = NULL;
    const char *point = strchr(b, '.');
    const double x = g_ascii_strtod(a, &a_end), y = g_ascii_strtod(b, &b_end);
    if (strcmp(a, b) == 0)
        return TRUE;
    if (point == NULL || a_end == a || b_end < point || strcmp(a_end, b_end) != 0)
        return FALSE;
    return fabs(x - y) <= LAST_PLACES * pow(10, -(double)(b_end - point - 1));
}

static gboolean same_line(const char *is, const char *was)
{
    g_auto(GStrv) a = g_strsplit(is, " ", -1);
    g_auto(GStrv) b = g_strsplit(was, " ", -1);
    size_t i = 0;
    while (a[i] && b[i] && agrees(a[i], b[i]))
        i++;
    return !a[i] && !b[i];
}

static void test_case(gconstpointer data)
{
    const HeldCase *c = data;
    g_autofree char *figures = figures_of(c);
    g_auto(GStrv) is = g_strsplit(figures, "\n", -1);
    g_auto(GStrv) was = g_strsplit(c->figures->str, "\n", -1);
    for (size_t i = 0; is[i] || was[i]; i++) {
        if (is[i] && was[i] && same_line(is[i], was[i]))
            continue;
        g_error("%s: held:\n%s\nand now:\n%s", c->name, was[i] ? was[i] : "", is[i] ? is[i] : "");
    }
}

/* Writes the table anew, with the figures as they are now. */
static int record(const char *path, const GPtrArray *cases, const char *head)
{
    g_autoptr(GString) out = g_string_new(head);
    for (guint i = 0; i < cases->len; i++) {
        const HeldCase *c = cases->pdata[i];
        g_autofree char *figures = figures_of(c);
        g_string_append_printf(out, "= %s\n%s%s%s", c->name, c->given->str, figures,
                               i + 1 < cases->len ? "\n" : "");
    }
    return g_file_set_contents(path, out->str, -1, NULL) ? 0 : 1;
}

int held_main(int argc, char **argv, const char *table, const char *path, HeldFigures figures)
{
    const gboolean records = argc > 1 && strcmp(argv[1], "record") == 0;
    g_autofree char *head = NULL;
    figures_of = figures;
    g_test_init(&argc, &argv, NULL);
    g_autofree char *file = g_test_build_filename(G_TEST_DIST, table, NULL);
    g_autoptr(GPtrArray) cases = read_cases(file, &head);
    for (guint i = 0; i < cases->len; i++) {
        const HeldCase *c = cases->pdata[i];
        g_autofree char *name = g_strconcat(path, "/", c->name, NULL);
        g_test_add_data_func(name, c, test_case);
    }
    return records ? record(file, cases, head) : g_test_run();
}
