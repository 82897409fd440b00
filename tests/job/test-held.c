/* held: drawings of held.txt, each planned with the options and for the machine named there, give the
 * figures that stand below them: ink by pen and kind, order, moves, time, colours and notes. The figures
 * are a record, not a standard: after a change that is meant to move them, see by a proof that the new
 * ones are right, and let "test-job-held record" write them into the table. Decimals may differ by three
 * of the last place, since another processor rounds otherwise. What needs no record is checked too. */
#include "drawtrue/options.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LAST_PLACES 3.01
#define LONGEST_FIGURE 64

static char *folder;

/* The machine of every case, and its pens unless a case has its own. */
static const char workbench[] = "[motion]\ntravel_x = 120 mm\ntravel_y = 100 mm\n"
                                "[paper]\nsize = 60x40\nat = 20, 15 mm\nmargin = 0 mm\n";
static const char pens[] = "[pen black]\ncolour = #1c1c1c\ntip = 0.4 mm\n"
                           "[pen red]\ncolour = #b5482f\ntip = 0.6 mm\n"
                           "[pen blue]\ncolour = #1f4e9c\ntip = 0.3 mm\n";

typedef struct {
    char *name;
    GString *drawing, *machine, *given, *figures; /* `given`: options as "name=value name" */
} Case;

static void case_free(gpointer data)
{
    Case *c = data;
    g_free(c->name);
    g_string_free(c->drawing, TRUE);
    g_string_free(c->machine, TRUE);
    g_string_free(c->given, TRUE);
    g_string_free(c->figures, TRUE);
    g_free(c);
}

static char *table_path(void)
{
    return g_test_build_filename(G_TEST_DIST, "held.txt", NULL);
}

/* "= NAME" begins a case; "- " stands before its options, "[" or "KEY =" in its machine's profile, "<" in
 * its drawing, "  " before a figure. */
static GString *part_of(Case *c, const char *line)
{
    return g_str_has_prefix(line, "  ")   ? c->figures
           : g_str_has_prefix(line, "<")  ? c->drawing
           : g_str_has_prefix(line, "- ") ? c->given
                                          : c->machine;
}

/* Of Case; *head, freed by the caller, is what stands before the first. */
static GPtrArray *read_cases(char **head)
{
    GPtrArray *cases = g_ptr_array_new_with_free_func(case_free);
    g_autofree char *path = table_path(), *text = NULL;
    g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    GString *before = g_string_new(NULL);
    for (char **line = lines; *line; line++) {
        if (g_str_has_prefix(*line, "= ")) {
            Case *c = g_new0(Case, 1);
            *c = (Case){g_strdup(*line + 2), g_string_new(NULL), g_string_new(NULL),
                        g_string_new(NULL), g_string_new(NULL)};
            g_ptr_array_add(cases, c);
        } else if (cases->len == 0) {
            g_string_append_printf(before, "%s\n", *line);
        } else if (**line) {
            g_string_append_printf(part_of(cases->pdata[cases->len - 1], *line), "%s\n", *line);
        }
    }
    *head = g_string_free(before, FALSE);
    return cases;
}

/* The figures -------------------------------------------------------------------------------- */

typedef struct {
    size_t n, closed;
    double length, x, y, square; /* moments of the length */
} Ink;

static void add_line(Ink *ink, DtPoint a, DtPoint b)
{
    const double length = dt_point_distance(a, b);
    const DtPoint middle = dt_point((a.x + b.x) / 2, (a.y + b.y) / 2);
    ink->length += length;
    ink->x += length * middle.x;
    ink->y += length * middle.y;
    ink->square += length * (middle.x * middle.x + middle.y * middle.y + length * length / 12);
}

static void say_ink(GString *out, const Ink *ink)
{
    const double l = ink->length > 0 ? ink->length : 1, x = ink->x / l, y = ink->y / l;
    g_string_append_printf(out, "%.1f mm about %.2f %.2f within %.2f\n", ink->length, x, y,
                           sqrt(MAX(0, ink->square / l - x * x - y * y)));
}

static void say_strokes(GString *out, const DtStrokes *s, const DtRack *rack)
{
    static const char *const kinds[] = {"outline", "fill", "centre", "dot", "tour"};
    for (size_t pen = 0; pen < rack->n; pen++)
        for (unsigned kind = 0; kind < G_N_ELEMENTS(kinds); kind++) {
            Ink ink = {0};
            for (size_t i = 0; i < s->n; i++) {
                const DtStroke *k = &s->strokes[i];
                if (k->pen != pen || k->kind != kind)
                    continue;
                ink.n++;
                ink.closed += k->closed;
                for (size_t m = 0; m + 1 < k->n + k->closed; m++)
                    add_line(&ink, s->pts[k->first + m], s->pts[k->first + (m + 1) % k->n]);
            }
            if (ink.n == 0)
                continue;
            g_string_append_printf(out, "  %s %s: %zu strokes, %zu closed, ", rack->pens[pen].name,
                                   kinds[kind], ink.n, ink.closed);
            say_ink(out, &ink);
        }
}

static void say_sequence(GString *out, const DtSequence *q)
{
    Ink travel = {0};
    for (size_t i = 0; i + 1 < q->n; i++) {
        const DtPolyline *a = &q->polylines[i], *b = &q->polylines[i + 1];
        add_line(&travel, q->pts[a->first + a->n - 1], q->pts[b->first]);
    }
    g_string_append_printf(out, "  order: %zu runs%s of %.1f mm, %zu retraced of %.1f mm; travel ",
                           q->n, q->is_cut ? ", cut," : "", dt_sequence_ink_mm(q), q->retraced,
                           q->retraced_mm);
    say_ink(out, &travel);
}

static void say_moves(GString *out, const DtMoves *m)
{
    static const char *const kinds[] = {"home", "travel", "draw",   "slack", "up",
                                        "down", "change", "turned", "end"};
    size_t n[G_N_ELEMENTS(kinds)] = {0};
    double feeds = 0;
    Ink way = {0};
    for (size_t i = 0; i < m->n; i++) {
        n[m->m[i].kind]++;
        feeds += m->m[i].kind == DT_MOVE_DRAW ? m->m[i].feed_mm_s : 0;
        if (i > 0)
            add_line(&way, m->m[i - 1].to, m->m[i].to);
    }
    g_string_append(out, "  moves:");
    for (size_t kind = 0; kind < G_N_ELEMENTS(kinds); kind++)
        if (n[kind] > 0)
            g_string_append_printf(out, " %zu %s,", n[kind], kinds[kind]);
    g_string_append_printf(out, " feed %.2f mm/s, ", feeds / MAX(1, n[DT_MOVE_DRAW]));
    say_ink(out, &way);
}

static void say_times(GString *out, const DtTimes *t)
{
    g_string_append_printf(out,
                           "  time: %.1f s; ink %.1f, travel %.1f, lifts %.1f, slack %.1f, "
                           "slack up %.1f\n",
                           t->total_s, t->ink_s, t->travel_s, t->lift_s, t->slack_s, t->slack_up_s);
}

static void say_colours(GString *out, const DtInkReport *r, const DtRack *rack)
{
    for (size_t i = 0; i < r->n; i++) {
        const DtInkMatch *m = &r->matches[i];
        g_string_append_printf(out, "  colour %.2f %.2f %.2f: %s", m->colour.r, m->colour.g,
                               m->colour.b, m->pen >= 0 ? rack->pens[m->pen].name : "paper");
        if (m->across >= 0)
            g_string_append_printf(out, " and %s", rack->pens[m->across].name);
        g_string_append_printf(out, ", %.1f and %.1f %%, %.1f off, was %.1f, %.1f mm2\n",
                               100 * m->coverage, 100 * m->across_coverage, m->distance, m->before,
                               m->area_mm2);
    }
    char *note;
    for (size_t i = 0; (note = dt_ink_report_note(r, i)) != NULL; i++) {
        g_string_append_printf(out, "  note: %s\n", note);
        g_free(note);
    }
}

/* What holds for every drawing ----------------------------------------------------------------- */

static void check_strokes(const DtStrokes *s, const DtRack *rack, DtBox paper)
{
    size_t at = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        g_assert_cmpuint(k->first, ==, at); /* one after the other, nothing between */
        g_assert_cmpuint(k->n, >, 0);
        g_assert_cmpuint(k->pen, <, rack->n);
        at += k->n;
        for (size_t m = 0; m < k->n; m++)
            g_assert_true(dt_box_contains(dt_box_grow(paper, 1e-6), s->pts[k->first + m]));
    }
    g_assert_cmpuint(at, ==, s->n_pts);
}

/* The pen moves up and down by turns, draws when it is down and travels when it is up; where the moves
 * say that ink lands, it lies within the step and a half of `include/drawtrue/machine.h`. */
static void check_moves(const DtJob *job)
{
    gboolean down = FALSE;
    for (size_t i = 0; i < job->moves.n; i++) {
        const DtMove *m = &job->moves.m[i];
        if (m->kind == DT_MOVE_PEN_DOWN || m->kind == DT_MOVE_PEN_UP) {
            g_assert_true(i == 0 || down == (m->kind == DT_MOVE_PEN_UP));
            down = m->kind == DT_MOVE_PEN_DOWN;
        }
        g_assert_true(m->kind != DT_MOVE_DRAW || down);
        g_assert_true(m->kind == DT_MOVE_DRAW || m->kind == DT_MOVE_SLACK ||
                      m->kind == DT_MOVE_PEN_DOWN || !down);
    }
    g_assert_false(down);
}

static void read_options(const char *given, DtOptions *out)
{
    g_autoptr(GError) error = NULL;
    g_auto(GStrv) words = g_strsplit_set(given, " \n", -1);
    for (char **word = words; *word; word++) {
        g_auto(GStrv) pair = g_strsplit(*word, "=", 2);
        if (**word && strcmp(*word, "-") != 0)
            dt_options_set(out, pair[0], pair[1], &error);
        g_assert_no_error(error);
    }
}

/* The figures of a case; freed by the caller. */
static char *figures_of(const Case *c)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtOptions) given = dt_options_new();
    g_autofree char *profile =
        g_strconcat(workbench, strstr(c->machine->str, "[pen ") ? "" : pens, c->machine->str, NULL);
    g_autoptr(DtProfile) machine =
        dt_profile_read_data(profile, strlen(profile), "machine", &error);
    g_assert_no_error(error);
    read_options("effort=300", given);
    read_options(c->given->str, given);
    g_auto(DtPlanInput) input = {0};
    dt_options_apply(given, machine, &input, &error);
    g_assert_no_error(error);
    g_autofree char *path = g_build_filename(folder, "drawing.svg", NULL);
    g_assert_true(g_file_set_contents(path, c->drawing->str, -1, NULL));
    g_auto(DtJob) job = {0};
    dt_job_plan(input.profile, path, &input.job, &job, NULL, &error);
    g_unlink(path);
    g_assert_no_error(error);
    const DtRack *rack = &input.profile->rack;
    const DtPoint at = input.profile->paper_at;
    check_strokes(
        &job.strokes, rack,
        (DtBox){at.x, at.y, at.x + input.profile->paper_w, at.y + input.profile->paper_h});
    check_moves(&job);
    GString *out = g_string_new(NULL);
    say_strokes(out, &job.strokes, rack);
    say_sequence(out, &job.sequence);
    say_moves(out, &job.moves);
    say_times(out, &job.times);
    say_colours(out, &job.colours, rack);
    return g_string_free(out, FALSE);
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

static void assert_agree(const char *is, const char *was)
{
    g_auto(GStrv) a = g_strsplit_set(is, " \n", -1);
    g_auto(GStrv) b = g_strsplit_set(was, " \n", -1);
    size_t i = 0;
    while (a[i] && b[i] && agrees(a[i], b[i]))
        i++;
    if (a[i] || b[i])
        g_error("'%s' instead of '%s' in:\n%s", a[i] ? a[i] : "", b[i] ? b[i] : "", is);
}

static void test_case(gconstpointer data)
{
    const Case *c = data;
    g_autofree char *is = figures_of(c);
    assert_agree(is, c->figures->str);
}

/* Writes the table anew, with the figures as they are now. */
static int record(const GPtrArray *cases, const char *head)
{
    g_autoptr(GString) out = g_string_new(head);
    for (guint i = 0; i < cases->len; i++) {
        const Case *c = cases->pdata[i];
        g_autofree char *figures = figures_of(c);
        g_string_append_printf(out, "= %s\n%s%s%s%s\n", c->name, c->machine->str, c->given->str,
                               c->drawing->str, figures);
    }
    g_autofree char *path = table_path();
    return g_file_set_contents(path, out->str, -1, NULL) ? 0 : 1;
}

int main(int argc, char **argv)
{
    const gboolean records = argc > 1 && strcmp(argv[1], "record") == 0;
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *head = NULL;
    g_autoptr(GPtrArray) cases = read_cases(&head);
    for (guint i = 0; i < cases->len; i++) {
        const Case *c = cases->pdata[i];
        g_autofree char *path = g_strconcat("/job/held/", c->name, NULL);
        g_test_add_data_func(path, c, test_case);
    }
    const int result = records ? record(cases, head) : g_test_run();
    g_rmdir(folder);
    g_free(folder);
    return result;
}
