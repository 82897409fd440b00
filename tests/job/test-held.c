/* held: drawings of held.txt, each planned with its options and for its machine: ink by pen and kind, order, moves,
 * time, colours and notes. What needs no record is checked too. A table whose drawings are small holds lengths and
 * places to more digits: "digits: 2" adds two. */
#include "drawtrue/options.h"
#include "support/held.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *folder;

/* The machine of every case, and its pens unless a case has its own. */
static const char workbench[] = "[motion]\ntravel_x = 120 mm\ntravel_y = 100 mm\n"
                                "[paper]\nsize = 60x40\nat = 20, 15 mm\nmargin = 0 mm\n";
static const char pens[] = "[pen black]\ncolour = #1c1c1c\ntip = 0.4 mm\n"
                           "[pen red]\ncolour = #b5482f\ntip = 0.6 mm\n"
                           "[pen blue]\ncolour = #1f4e9c\ntip = 0.3 mm\n";

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

static void say_ink(GString *out, const Ink *ink, int digits)
{
    const double l = ink->length > 0 ? ink->length : 1, x = ink->x / l, y = ink->y / l;
    g_string_append_printf(out, "%.*f mm about %.*f %.*f within %.*f\n", 1 + digits, ink->length,
                           2 + digits, x, 2 + digits, y, 2 + digits,
                           sqrt(MAX(0, ink->square / l - x * x - y * y)));
}

static void say_strokes(GString *out, const DtStrokes *s, const DtRack *rack, int digits)
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
            say_ink(out, &ink, digits);
        }
}

static void say_sequence(GString *out, const DtSequence *q, int digits)
{
    Ink travel = {0};
    for (size_t i = 0; i + 1 < q->n; i++) {
        const DtPolyline *a = &q->polylines[i], *b = &q->polylines[i + 1];
        add_line(&travel, q->pts[a->first + a->n - 1], q->pts[b->first]);
    }
    g_string_append_printf(out, "  order: %zu runs%s of %.1f mm, %zu retraced of %.1f mm; travel ",
                           q->n, q->is_cut ? ", cut," : "", dt_sequence_ink_mm(q), q->retraced,
                           q->retraced_mm);
    say_ink(out, &travel, digits);
}

static void say_moves(GString *out, const DtMoves *m, int digits)
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
    say_ink(out, &way, digits);
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

/* The pen moves up and down by turns; it draws when it is down and travels when it is up. */
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

/* "NAME=VALUE NAME" */
static void read_options(const char *given, DtOptions *out)
{
    g_autoptr(GError) error = NULL;
    g_auto(GStrv) words = g_strsplit_set(given, " \n", -1);
    for (char **word = words; *word; word++) {
        g_auto(GStrv) pair = g_strsplit(*word, "=", 2);
        if (**word)
            dt_options_set(out, pair[0], pair[1], &error);
        g_assert_no_error(error);
    }
}

static void read_machine(const HeldCase *c, DtPlanInput *out)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtOptions) options = dt_options_new();
    g_autofree char *own = held_given(c, "machine"), *given = held_given(c, "options");
    g_autofree char *profile = g_strconcat(workbench, strstr(own, "[pen ") ? "" : pens, own, NULL);
    g_autoptr(DtProfile) machine =
        dt_profile_read_data(profile, strlen(profile), "machine", &error);
    g_assert_no_error(error);
    read_options("effort=300", options);
    read_options(given, options);
    dt_options_apply(options, machine, out, &error);
    g_assert_no_error(error);
}

static void plan(const HeldCase *c, const DtPlanInput *input, DtJob *out)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *path = g_build_filename(folder, "drawing.svg", NULL),
                    *drawing = held_given(c, "drawing");
    g_assert_true(g_file_set_contents(path, drawing, -1, NULL));
    dt_job_plan(input->profile, path, &input->job, out, NULL, &error);
    g_unlink(path);
    g_assert_no_error(error);
}

static char *figures_of(const HeldCase *c)
{
    g_auto(DtPlanInput) input = {0};
    g_auto(DtJob) job = {0};
    read_machine(c, &input);
    plan(c, &input, &job);
    const DtRack *rack = &input.profile->rack;
    const DtPoint at = input.profile->paper_at;
    check_strokes(
        &job.strokes, rack,
        (DtBox){at.x, at.y, at.x + input.profile->paper_w, at.y + input.profile->paper_h});
    check_moves(&job);
    GString *out = g_string_new(NULL);
    g_autofree char *more = held_given(c, "digits");
    const int digits = (int)g_ascii_strtoll(more, NULL, 10);
    say_strokes(out, &job.strokes, rack, digits);
    say_sequence(out, &job.sequence, digits);
    say_moves(out, &job.moves, digits);
    say_times(out, &job.times);
    say_colours(out, &job.colours, rack);
    return g_string_free(out, FALSE);
}

int main(int argc, char **argv)
{
    folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    const int result = held_main(argc, argv, "held.txt", "/job/held", figures_of);
    g_rmdir(folder);
    g_free(folder);
    return result;
}
