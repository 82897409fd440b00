/* code: what is said of each program of the collection, and made of it, word by word: the figures, what
 * mending makes of the faulty ones, and the explanations of the sound ones. programs/held.txt names them
 * all; for its form and a new record of it see tests/support/held.h. */
#include "collection.h"
#include "machines.h"
#include "support/held.h"

#include <string.h>

static char *folder;

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

static void explain_line(size_t line, const char *source, gsize len, const char *words, void *user)
{
    (void)line;
    g_string_append_printf(user, "%.*s => %s\n", (int)len, source, words);
}

static void append_explained(GString *out, const DtProfile *p, const char *text, gsize len)
{
    g_autoptr(GError) error = NULL;
    dt_code_explain_text(p, text, len, explain_line, out, &error);
    g_assert_no_error(error);
}

/* "NAME on MACHINE" of all programs of one kind: files and those of a collection. */
static void append_names(GString *out, const char *kind, const char *collection)
{
    g_auto(GStrv) lines = collection_lines(folder, "expected.txt");
    for (char **l = lines; *l; l++) {
        g_auto(GStrv) fields = g_strsplit(*l, " ", 3);
        if (g_str_has_prefix(*l, kind))
            g_string_append_printf(out, "%s on %s\n", fields[0], fields[1]);
    }
    g_autoptr(GPtrArray) all = collection_read(folder, collection);
    for (guint i = 0; i < all->len; i++) {
        const Program *p = all->pdata[i];
        g_string_append_printf(out, "%s on %s\n", p->name, p->machine);
    }
}

static gboolean find_in_collection(const char *name, const char *collection, char **text,
                                   gsize *len)
{
    g_autoptr(GPtrArray) all = collection_read(folder, collection);
    for (guint i = 0; i < all->len; i++) {
        const Program *p = all->pdata[i];
        if (strcmp(p->name, name) != 0)
            continue;
        *text = g_memdup2(p->text, p->len + 1);
        *len = p->len;
        return TRUE;
    }
    return FALSE;
}

static char *text_of(const char *name, gsize *len)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);
    char *text = NULL;
    if (!g_file_get_contents(path, &text, len, NULL) &&
        !find_in_collection(name, "more-faulty.txt", &text, len) &&
        !find_in_collection(name, "more-sound.txt", &text, len))
        g_error("there is no program '%s'", name);
    return text;
}

/* Each line two columns in. */
static char *indented(const GString *lines)
{
    GString *out = g_string_new(NULL);
    g_auto(GStrv) each = g_strsplit(lines->str, "\n", -1);
    for (char **l = each; *l; l++)
        if (l[1] != NULL || **l != '\0')
            g_string_append_printf(out, "  %s\n", *l);
    return g_string_free(out, FALSE);
}

static char *figures_of(const HeldCase *c)
{
    g_autofree char *given = held_given(c, "program"), *all = held_given(c, "all");
    g_autoptr(GString) out = g_string_new(NULL);
    if (strcmp(all, "faulty\n") == 0) {
        append_names(out, "faulty", "more-faulty.txt");
    } else if (strcmp(all, "sound\n") == 0) {
        append_names(out, "sound", "more-sound.txt");
    } else {
        g_auto(GStrv) words = g_strsplit(g_strchomp(given), " ", 3); /* KIND MACHINE NAME */
        g_assert_cmpuint(g_strv_length(words), ==, 3);
        g_autoptr(DtProfile) p = machine_by_name(words[1]);
        g_assert_nonnull(p);
        gsize len;
        g_autofree char *text = text_of(words[2], &len);
        append_figures(out, p, text, len);
        if (strcmp(words[0], "faulty") == 0)
            append_mended(out, p, text, len);
        else
            append_explained(out, p, text, len);
    }
    return indented(out);
}

int main(int argc, char **argv)
{
    folder = g_build_filename(g_getenv("G_TEST_SRCDIR"), "programs", NULL);
    const int status = held_main(argc, argv, "programs/held.txt", "/code/held", figures_of);
    g_free(folder);
    return status;
}
