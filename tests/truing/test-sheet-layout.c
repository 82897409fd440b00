/* sheet-layout: on paper of any size letters touch neither what is measured nor each other, and nothing comes between
 * marks that rely on the one before them. */
#include "drawtrue/truing.h"
#include "truing/sheet/sheet-parts.h"

#include <math.h>
#include <string.h>

static const char *const papers[] = {
    "[paper]\nsize = A5 landscape\nat = 20, 20 mm\nmargin = 8 mm\n",
    "[paper]\nsize = A4 landscape\nat = 2, 4 mm\nmargin = 8 mm\n",
};
static const char machine[] = "[motion]\ntravel_x = 300 mm\ntravel_y = 220 mm\n"
                              "[corrections]\nscale_x = 1.008\nscale_y = 0.994\nsquare = 0.4 deg\n"
                              "backlash_x = 0.3 mm\nbacklash_y = 0.45 mm\n[controller]\nwords = G0 "
                              "G1 G4 G21 G28 G90 M3 M5 F P S X Y\n"
                              "[pen black]\ntip = 0.4 mm\n[pen green]\ntip = 0.6 mm\n";
static const char *const kinds[] = {"all",    "slack", "scale", "square",
                                    "settle", "speed", "pens",  "scan"};

static DtProfile *profile(const char *paper)
{
    g_autofree char *text = g_strconcat(paper, machine, NULL);
    GError *error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

static DtTestSheet *sheet(const DtProfile *p, const char *kind)
{
    GError *error = NULL;
    DtTestSheet *s = dt_sheet_new(p, dt_sheet_kinds(kind), "2026-03-14", 88, &error);
    g_assert_no_error(error);
    return s;
}

typedef struct {
    DtPoint a, b;
    double tip;
    gboolean letter;
} Stroke;

/* What is on the paper at last. */
static GArray *strokes_of(const DtTestSheet *s, const DtProfile *p)
{
    GArray *all = g_array_new(FALSE, FALSE, sizeof(Stroke));
    gboolean turned = FALSE;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        turned |= m->kind == DT_MARK_PAUSE;
        if (!dt_mark_is_stroke(m))
            continue;
        const Stroke k = {turned ? dt_sheet_unturned_place(s, p, m->from) : m->from,
                          turned ? dt_sheet_unturned_place(s, p, m->to) : m->to,
                          p->rack.pens[m->pen].tip, m->kind == DT_MARK_LETTER};
        g_array_append_val(all, k);
    }
    return all;
}

static double apart(const Stroke *a, const Stroke *b)
{
    enum { STEPS = 16 };
    double least = G_MAXDOUBLE;
    for (int i = 0; i <= STEPS; i++) {
        const double share = (double)i / STEPS;
        least = MIN(least, dt_point_segment_distance(dt_point_lerp(a->a, a->b, share), b->a, b->b));
        least = MIN(least, dt_point_segment_distance(dt_point_lerp(b->a, b->b, share), a->a, a->b));
    }
    return least - (a->tip + b->tip) / 2;
}

/* Cheaply: too far from each other to touch. */
static gboolean is_far(const Stroke *a, const Stroke *b)
{
    const double beyond_mm = 2;
    return dt_point_distance(a->a, b->a) >
           dt_point_distance(a->a, a->b) + dt_point_distance(b->a, b->b) + beyond_mm;
}

static void test_letters_touch_nothing_that_is_measured(void)
{
    const double clear_mm = 0.15;
    for (gsize i = 0; i < G_N_ELEMENTS(papers); i++)
        for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
            g_autoptr(DtProfile) p = profile(papers[i]);
            g_autoptr(DtTestSheet) s = sheet(p, kinds[k]);
            g_autoptr(GArray) all = strokes_of(s, p);
            const Stroke *v = (const Stroke *)(const void *)all->data;
            for (guint a = 0; a < all->len; a++)
                for (guint b = 0; b < all->len; b++)
                    if (v[a].letter && !v[b].letter && !is_far(&v[a], &v[b]) &&
                        apart(&v[a], &v[b]) < clear_mm)
                        g_error("%s on %s: a letter at %.1f, %.1f is %.2f mm from a mark", kinds[k],
                                papers[i], v[a].a.x, v[a].a.y, apart(&v[a], &v[b]));
        }
}

/* On beds hardly larger than the paper, upright or not, what is drawn after the paper was turned is within the travel
 * too, and touches nothing. */
static void test_the_turned_part_is_within_the_travel(void)
{
    static const struct {
        double w, h;
    } sizes[] = {{148, 210}, {210, 148}, {210, 297}, {297, 210}, {200, 150}, {170, 240}};
    static const double at[] = {2, 12};
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++)
        for (gsize k = 0; k < 2 * G_N_ELEMENTS(at); k++) {
            g_autoptr(DtProfile) p = profile("");
            p->paper_w = sizes[i].w;
            p->paper_h = sizes[i].h;
            p->paper_at = dt_point(at[k / 2], at[k / 2] / 2);
            p->travel[0] = p->paper_at.x + sizes[i].w + 3;
            p->travel[1] = p->paper_at.y + sizes[i].h + 1;
            g_autoptr(DtTestSheet) s = sheet(p, k % 2 == 0 ? "all" : "square");
            g_auto(DtMoves) moves = {0};
            g_autoptr(GError) error = NULL;
            dt_sheet_moves(s, p, &moves, &error);
            g_assert_no_error(error);
            g_autoptr(GArray) all = strokes_of(s, p);
            const Stroke *v = (const Stroke *)(const void *)all->data;
            for (guint a = 0; a < all->len; a++)
                for (guint b = 0; b < all->len; b++)
                    if (v[a].letter && !v[b].letter && !is_far(&v[a], &v[b]))
                        g_assert_cmpfloat(apart(&v[a], &v[b]), >, 0.15);
        }
}

/* The names and arrows of a comb. */
static void test_names_and_arrows_are_apart(void)
{
    g_autoptr(DtProfile) p = profile(papers[0]);
    const double tip = p->rack.pens[0].tip;
    for (int axis = 0; axis < 2; axis++) {
        const DtVernier v = {.part = DT_SHEET_SLACK,
                             .axis = axis,
                             .at = {50, 50},
                             .pitch = 1.4,
                             .least = 0.04,
                             .first = -2,
                             .last = 15,
                             .main_from = 1,
                             .vernier_from = -1,
                             .name = "X8"};
        g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-03-14", 1);
        g_assert_true(dt_vernier_add_name(s, &v, NULL));
        const size_t name = s->n;
        dt_vernier_add_arrows(s, &v);
        const size_t arrow = name + (s->n - name) / 2;
        for (size_t i = 0; i < s->n; i++)
            for (size_t k = MAX(i + 1, i < name ? name : arrow); k < s->n && i < arrow; k++) {
                const Stroke a = {s->marks[i].from, s->marks[i].to, tip, TRUE},
                             b = {s->marks[k].from, s->marks[k].to, tip, TRUE};
                g_assert_cmpfloat(apart(&a, &b), >, 0.2);
            }
    }
}

/* A mark without a reversal of its own comes right after one that left the axes as it needs them. */
static void test_letters_come_between_no_marks_that_belong_together(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(papers); i++)
        for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
            g_autoptr(DtProfile) p = profile(papers[i]);
            g_autoptr(DtTestSheet) s = sheet(p, kinds[k]);
            for (size_t m = 1; m < s->n; m++) {
                const DtMark *mark = &s->marks[m];
                const gboolean relies =
                    mark->kind != DT_MARK_LETTER && dt_mark_is_stroke(mark) &&
                    (mark->needs_no_reversal || (mark->approach[0] == 0 && mark->approach[1] == 0));
                g_assert_false(relies && mark[-1].kind == DT_MARK_LETTER);
            }
        }
}

/* Combs of both axes are read against each other: where the profile knows that a pulley stretches one of them, they
 * are of the same pitch on paper all the same, and the verniers' pitch is less by their least count. */
static void test_combs_of_both_axes_have_one_pitch(void)
{
    g_autoptr(DtProfile) p = profile(papers[1]);
    const double pitch_mm = 1, least_mm = 0.12;
    p->pulley_error[0] = 0.2;
    p->pulley_error[1] = 0.15;
    for (double phase = 0; phase < 2 * G_PI; phase += 0.5) {
        p->pulley_phase[0] = p->pulley_phase[1] = phase;
        g_autoptr(DtTestSheet) s = sheet(p, "square");
        guint steps = 0;
        for (size_t i = 0; i + 1 < s->n; i++) {
            const DtMark *a = &s->marks[i], *b = a + 1;
            const gboolean comb = a->kind == DT_MARK_COMB, vernier = a->kind == DT_MARK_VERNIER;
            if ((!comb && !vernier) || a->row != b->row || a->kind != b->kind || a->place != 0)
                continue;
            const DtPoint from = dt_machine_ink_at(p, dt_point_lerp(a->from, a->to, 0.5)),
                          to = dt_machine_ink_at(p, dt_point_lerp(b->from, b->to, 0.5));
            const double mm = a->axis == 0 ? to.x - from.x : to.y - from.y;
            g_assert_cmpfloat_with_epsilon(fabs(mm), pitch_mm - (vernier ? least_mm : 0), 0.02);
            steps++;
        }
        g_assert_cmpuint(steps, ==, 12);
    }
}

/* The least x of the verniers of X for slack. */
static double left_of_slack(const DtTestSheet *s)
{
    double left = G_MAXDOUBLE;
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].part == DT_SHEET_SLACK && s->marks[i].axis == 0 &&
            s->marks[i].kind == DT_MARK_COMB)
            left = MIN(left, s->marks[i].from.x);
    return left;
}

/* Verniers begin at the paper's margin, 10 mm from the bed's edge; only a long line of the scale part and its numbers
 * move them aside. */
static void test_verniers_begin_at_the_margin(void)
{
    g_autoptr(DtProfile) p = profile(papers[1]);
    g_autoptr(DtTestSheet) alone = sheet(p, "slack"), both = NULL;
    both = dt_sheet_new(p, DT_SHEET_SLACK | DT_SHEET_SCALE, "2026-03-14", 88, NULL);
    double line = 0;
    for (size_t i = 0; i < both->n; i++)
        if (both->marks[i].part == DT_SHEET_SCALE && both->marks[i].axis == 1)
            line = MAX(line, MAX(both->marks[i].from.x, both->marks[i].to.x));
    g_test_message("%g; beside a line at %g: %g", left_of_slack(alone), line, left_of_slack(both));
    g_assert_cmpfloat_with_epsilon(left_of_slack(alone), 10, 0.01);
    g_assert_cmpfloat(left_of_slack(both), >, line);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/sheet-layout/letters touch nothing that is measured",
                    test_letters_touch_nothing_that_is_measured);
    g_test_add_func("/sheet-layout/the turned part is within the travel",
                    test_the_turned_part_is_within_the_travel);
    g_test_add_func("/sheet-layout/combs of both axes have one pitch",
                    test_combs_of_both_axes_have_one_pitch);
    g_test_add_func("/sheet-layout/verniers begin at the margin",
                    test_verniers_begin_at_the_margin);
    g_test_add_func("/sheet-layout/names and arrows are apart", test_names_and_arrows_are_apart);
    g_test_add_func("/sheet-layout/letters come between no marks that belong together",
                    test_letters_come_between_no_marks_that_belong_together);
    return g_test_run();
}
