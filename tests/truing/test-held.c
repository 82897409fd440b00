/* held: test sheets of held.txt for its machines: marks by part and kind, moves, questions; and where a machine's
 * truth is given, what a person who reads the sheet by eye finds, the corrections, and the parts suspected. */
#include "held-figures.h"

#include "drawtrue/code.h"
#include "support/eye-reader.h"
#include "support/held.h"

#include <math.h>
#include <string.h>

static const char bench[] = "[machine]\nname = bench\n";

/* Marks ----------------------------------------------------------------------------------------- */

typedef struct {
    size_t n;
    double x, y, length, approach[2], reversals, row, place, pen, feed, waits, words, order;
} Marks;

static void add_mark(Marks *sum, const DtMark *m, size_t i)
{
    sum->n++;
    sum->x += m->from.x + m->to.x;
    sum->y += m->from.y + m->to.y;
    sum->length += dt_point_distance(m->from, m->to);
    for (int axis = 0; axis < 2; axis++)
        sum->approach[axis] += m->approach[axis] * (1 + 0.01 * m->place);
    sum->reversals += !m->needs_no_reversal;
    sum->row += m->row;
    sum->place += m->place * (2 + m->axis);
    sum->pen += m->pen;
    sum->feed += m->feed_mm_s + 0.1 * m->acceleration_mm_s2 + 0.01 * m->start_mm_s;
    sum->waits += m->lift_s + 2 * m->drop_s;
    sum->words += m->drop_word;
    sum->order += (double)i;
}

static void say_marks(GString *out, const DtTestSheet *s)
{
    for (guint part = 1; part <= DT_SHEET_PENS * 2; part *= 2)
        for (int kind = 0; kind < DT_MARK_KINDS; kind++) {
            Marks sum = {0};
            for (size_t i = 0; i < s->n; i++)
                if (s->marks[i].part == part && s->marks[i].kind == (DtMarkKind)kind)
                    add_mark(&sum, &s->marks[i], i);
            const double n = (double)sum.n;
            if (sum.n > 0)
                g_string_append_printf(
                    out,
                    "  %s %d: %zu marks about %.2f %.2f of %.2f mm, approached %.2f %.2f, %g "
                    "reversals, row %.2f, place %.2f, pen %.2f, pace %.2f, waits %.3f, S %.2f, "
                    "order %.1f\n",
                    dt_sheet_kind_name((DtSheetKind)part), kind, sum.n, sum.x / n / 2,
                    sum.y / n / 2, sum.length / n, sum.approach[0] / n, sum.approach[1] / n,
                    sum.reversals, sum.row / n, sum.place / n, sum.pen / n, sum.feed / n,
                    sum.waits / n, sum.words / n, sum.order / n);
        }
}

static void say_moves(GString *out, const DtTestSheet *s, const DtProfile *p)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtMoves) m = {0};
    DtTimes t;
    double feeds = 0, waits = 0, way = 0, x = 0, y = 0;
    dt_sheet_moves(s, p, &m, &error);
    g_assert_no_error(error);
    for (size_t i = 0; i < m.n; i++) {
        feeds += m.m[i].kind == DT_MOVE_DRAW ? m.m[i].feed_mm_s : 0;
        waits += (double)m.m[i].wait_s;
        x += m.m[i].to.x;
        y += m.m[i].to.y;
        way += i > 0 ? dt_point_distance(m.m[i - 1].to, m.m[i].to) : 0;
    }
    dt_machine_time(p, &m, FALSE, &t);
    g_string_append_printf(out,
                           "  %zu moves of %.1f mm about %.2f %.2f; feeds %.1f, waits %.2f, %zu "
                           "lifts, %zu changes, %.1f s\n",
                           m.n, way, x / (double)m.n, y / (double)m.n, feeds, waits, t.lifts,
                           t.changes, t.total_s);
    dt_times_clear(&t);
}

static void say_asks(GString *out, const DtTestSheet *s)
{
    size_t n, n_choices;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    for (size_t i = 0; i < n; i++) {
        const DtAsk *a = &asks[i];
        g_autofree char *question = dt_eye_question(a);
        g_autofree DtEyeChoice *choices = dt_eye_choices(s, a, &n_choices);
        g_string_append_printf(out,
                               "  %s (%d, axis %d, row %d): %.2f to %.2f, %.3f apart, %zu times, "
                               "%zu choices, in %.1f %.1f %.1f %.1f\n",
                               a->name, a->kind, a->axis, a->row, a->least, a->most, a->sd,
                               a->times, n_choices, a->view.x0, a->view.y0, a->view.x1, a->view.y1);
        if (i == 0 || a->kind != a[-1].kind || a->part != a[-1].part || a->axis != a[-1].axis)
            g_string_append_printf(out, "  %s\n", question);
    }
}

/* What is found --------------------------------------------------------------------------------- */

/* The sheet as the machine of this truth draws it, read with the errors of a person. */
static void say_found(GString *out, const DtTestSheet *s, const DtProfile *p, const char *truth)
{
    g_autoptr(GError) error = NULL;
    gsize len;
    EyeReader eye;
    g_autofree char *program = dt_sheet_write(s, p, &len, &error);
    g_assert_no_error(error);
    DtRig *rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    eye_reader_init(&eye, s, rig, 5);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    eye_reader_read(&eye, r);
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    held_say_figures(out, f);
    held_say_changes(out, p, s, f);
    eye_reader_clear(&eye);
    dt_rig_free(rig);
}

static char *figures_of(const HeldCase *c)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *own = held_given(c, "machine"), *names = held_given(c, "sheet"),
                    *truth = held_given(c, "truth"), *profile = g_strconcat(bench, own, NULL);
    g_autoptr(DtProfile) p = dt_profile_read_data(profile, strlen(profile), "machine", &error);
    g_assert_no_error(error);
    guint kinds = 0;
    g_auto(GStrv) words = g_strsplit(g_strstrip(names), " ", -1);
    for (char **word = words; *word; word++)
        kinds |= dt_sheet_kinds(*word);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kinds, "2026-03-14", 12, &error);
    g_assert_no_error(error);
    GString *out = g_string_new(NULL);
    say_marks(out, s);
    say_moves(out, s, p);
    say_asks(out, s);
    if (*truth)
        say_found(out, s, p, truth);
    return g_string_free(out, FALSE);
}

int main(int argc, char **argv)
{
    return held_main(argc, argv, "held.txt", "/truing/held", figures_of);
}
