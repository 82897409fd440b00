/* code: what is said of each program of the collection, and made of it, word by word: the figures and
 * what mending makes of it in programs/held.txt, the explanations of the sound ones in
 * programs/explained.txt. A change there is meant, or it is a fault. */
#include "collection.h"
#include "machines.h"

#include <string.h>

static const char *folder;

static void append_figure(GString *out, const char *name, double value)
{
    if (value > 0)
        g_string_append_printf(out, " %s %.5g", name, value);
}

/* What is not 0, and the findings. */
static void append_figures(GString *out, const DtProfile *p, const char *text, gsize len)
{
    g_autoptr(GError) error = NULL;
    DtInspection i;
    dt_code_inspect_text(p, text, len, &i, &error);
    g_assert_no_error(error);
    const struct {
        const char *name;
        double value;
    } figures[] = {{"lines", (double)i.lines},
                   {"refused", (double)i.refused_lines},
                   {"first", (double)i.first_refused},
                   {"lifts", (double)i.lifts},
                   {"starved", (double)i.starved},
                   {"ink", i.ink_mm},
                   {"travel", i.travel_mm},
                   {"time", i.time_s},
                   {"home", i.home_s},
                   {"dwells", i.dwell_s},
                   {"held-up", i.held_up_s},
                   {"off-paper", i.off_paper_mm}};
    for (size_t k = 0; k < G_N_ELEMENTS(figures); k++)
        append_figure(out, figures[k].name, figures[k].value);
    if (i.ink_mm > 0)
        g_string_append_printf(out, " from %.5g %.5g to %.5g %.5g", i.ink_box.x0, i.ink_box.y0,
                               i.ink_box.x1, i.ink_box.y1);
    g_string_append_c(out, '\n');
    for (size_t k = 0; k < i.n_findings; k++)
        g_string_append_printf(out, "%d:%d: %s\n", i.findings[k].line, i.findings[k].column,
                               i.findings[k].text);
    dt_inspection_clear(&i);
}

/* The lines that are new; the others are counted. */
static void append_new_lines(GString *out, const char *mended, const char *text)
{
    g_auto(GStrv) lines = g_strsplit(mended, "\n", -1), old = g_strsplit(text, "\n", -1);
    guint same = 0;
    for (char **l = lines; *l != NULL; l++) {
        const gboolean kept = g_strv_contains((const char *const *)old, *l);
        if (!kept && same > 0)
            g_string_append_printf(out, "(%u)\n", same);
        if (!kept)
            g_string_append_printf(out, "%s\n", *l);
        same = kept ? same + 1 : 0;
    }
    g_string_append_printf(out, "(%u)\n", same);
}

/* Returns what it fails with, or NULL. */
static GError *append_mended_so(GString *out, const DtProfile *p, const char *text, gsize len,
                                const DtMendOptions *o)
{
    GError *error = NULL;
    DtMending m;
    gsize n;
    g_autofree char *mended = dt_code_mend_text(p, text, len, "job.nc", o, &n, &m, &error);
    for (size_t i = 0; i < m.n_readings; i++) {
        const DtPenReading *r = &m.readings[i];
        g_string_append_printf(out, "reading %s: %.2f, %.2f mm, %zu strokes\n", r->option, r->score,
                               r->ink_mm, r->strokes);
    }
    for (size_t i = 0; i < m.n_changes; i++)
        g_string_append_printf(out, "change %d: %s\n", m.changes[i].line, m.changes[i].text);
    if (error != NULL)
        g_string_append_printf(out, "error: %s\n", error->message);
    else if (n == len && memcmp(mended, text, n) == 0)
        g_string_append(out, "fit\n");
    else
        append_new_lines(out, mended, text);
    dt_mending_clear(&m);
    return error;
}

/* As it is, and where that fails with the option that the message names. */
static void append_mended(GString *out, const DtProfile *p, const char *text, gsize len)
{
    static const struct {
        const char *name;
        DtMendOptions options;
    } more[] = {{"--clip", {.clip = TRUE}},
                {"--units mm", {.units = "mm"}},
                {"--units in", {.units = "in", .clip = TRUE}},
                {"--pen-by", {.pen_by = "moves"}}};
    g_autoptr(GError) error = append_mended_so(out, p, text, len, NULL);
    for (size_t i = 0; error != NULL && i < G_N_ELEMENTS(more); i++) {
        if (strstr(error->message, more[i].name) == NULL)
            continue;
        g_string_append_printf(out, "--- with %s\n", more[i].name);
        g_autoptr(GError) again = append_mended_so(out, p, text, len, &more[i].options);
    }
}

static GHashTable *explained; /* lines that were */

static void explain_line(size_t line, const char *source, gsize len, const char *words, void *user)
{
    char *text = g_strdup_printf("%.*s => %s", (int)len, source, words);
    (void)line;
    if (!g_hash_table_contains(explained, text))
        g_string_append_printf(user, "%s\n", text);
    g_hash_table_add(explained, text);
}

/* Each line once. */
static void append_explained(GString *out, const DtProfile *p, const char *text, gsize len)
{
    g_autoptr(GError) error = NULL;
    dt_code_explain_text(p, text, len, explain_line, out, &error);
    g_assert_no_error(error);
}

typedef void (*Append)(GString *out, const DtProfile *p, const char *text, gsize len);

static void append_one(GString *out, const char *name, const char *machine, const char *text,
                       gsize len, const Append *parts)
{
    g_autoptr(DtProfile) p = machine_by_name(machine);
    g_assert_nonnull(p);
    g_string_append_printf(out, "=== %s on %s\n", name, machine);
    for (; *parts != NULL; parts++)
        (*parts)(out, p, text, len);
}

static void append_files(GString *out, const char *kind, const Append *parts)
{
    g_auto(GStrv) lines = collection_lines(folder, "expected.txt");
    for (char **l = lines; *l; l++) {
        g_auto(GStrv) fields = g_strsplit(*l, " ", 3);
        g_autofree char *path = g_build_filename(folder, fields[0], NULL), *text = NULL;
        gsize len;
        if (!g_str_has_prefix(*l, kind))
            continue;
        g_assert_true(g_file_get_contents(path, &text, &len, NULL));
        append_one(out, fields[0], fields[1], text, len, parts);
    }
}

static void append_collection(GString *out, const char *file, const Append *parts)
{
    g_autoptr(GPtrArray) all = collection_read(folder, file);
    for (guint i = 0; i < all->len; i++) {
        const Program *p = all->pdata[i];
        append_one(out, p->name, p->machine, p->text, p->len, parts);
    }
}

/* Where it differs the whole is left for a look, in the folder of temporary files. */
static void compare(const GString *have, const char *file)
{
    g_autofree char *path = g_build_filename(folder, file, NULL), *wanted = NULL;
    g_autofree char *made = g_build_filename(g_get_tmp_dir(), file, NULL);
    if (g_file_get_contents(path, &wanted, NULL, NULL) && strcmp(wanted, have->str) == 0)
        return;
    g_file_set_contents(made, have->str, -1, NULL);
    g_test_fail_printf("compare %s with %s", path, made);
}

static void test_each_program_is_judged_and_mended_as_before(void)
{
    static const Append parts[] = {append_figures, append_mended, NULL};
    g_autoptr(GString) all = g_string_new(NULL);
    append_files(all, "faulty", parts);
    append_collection(all, "more-faulty.txt", parts);
    compare(all, "held.txt");
}

static void test_each_line_is_explained_as_before(void)
{
    static const Append parts[] = {append_figures, append_explained, NULL};
    g_autoptr(GString) all = g_string_new(NULL);
    explained = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    append_files(all, "sound", parts);
    append_collection(all, "more-sound.txt", parts);
    g_hash_table_unref(explained);
    compare(all, "explained.txt");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = argv[1];
    g_test_add_func("/code/held/mended", test_each_program_is_judged_and_mended_as_before);
    g_test_add_func("/code/held/explained", test_each_line_is_explained_as_before);
    return g_test_run();
}
