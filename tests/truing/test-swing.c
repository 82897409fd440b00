/* truing: a soft cord shows in the strokes in steps of a scan, a stiff one does not. The virtual machine swings as a
 * mass on a spring and a damper does; after a sudden stop from v its amplitude is v / (2 pi f). */
#include "drawtrue/truing.h"
#include "support/truing-machine.h"
#include "with-pens.h"

#include <math.h>

/* Strokes in steps are measured once per pixel of their length; a few points are too near to others. */
static void check_every_pixel_counts(const DtScan *scan, const DtTestSheet *s)
{
    double length = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_SWING)
            length += dt_point_distance(s->marks[i].from, s->marks[i].to);
    const double pixels = length * scan->dpi / 25.4;
    g_test_message("%zu points of %.0f pixels", scan->n_swings, pixels);
    g_assert_cmpfloat((double)scan->n_swings, <, 1.05 * pixels);
    g_assert_cmpfloat((double)scan->n_swings, >, 0.8 * pixels);
}

/* Of a machine with everything wrong, by one scan of A5. */
static DtFigures *measure(guint32 seed, double hz_x, double hz_y, DtProfile **p)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, seed, 210, 148);
    m.ring_hz[0] = hz_x;
    m.ring_hz[1] = hz_y;
    *p = truth_profile(&m);
    g_autoptr(DtTestSheet) s = dt_sheet_new(*p, DT_SHEET_SCAN, "2026-03-14", 9, &error);
    g_assert_no_error(error);
    g_autoptr(DtRig) rig = draw_with_pens(&m, "", s, *p);
    g_autoptr(DtScan) one = scan_of(&m, rig, s, 0, 0.6, "");
    check_every_pixel_counts(one, s);
    const DtScan *scans[] = {one};
    const DtEvidence e = {.sheet = s, .scans = scans, .n_scans = 1};
    DtFigures *f = dt_truing_solve(*p, &e, NULL, &error);
    g_assert_no_error(error);
    return f;
}

static const DtFigure *swing_of(const DtFigures *f, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == DT_ERROR_OF_RINGING && f->f[i].axis == axis && f->f[i].known)
            return &f->f[i];
    g_assert_not_reached();
}

static void test_a_soft_cord_shows_by_its_frequency(void)
{
    const double hz[2] = {30, 38}, pull_in_share = 0.95;
    g_autoptr(DtProfile) p = NULL;
    g_autoptr(DtFigures) f = measure(31, hz[0], hz[1], &p);
    for (int axis = 0; axis < 2; axis++) {
        const DtFigure *g = swing_of(f, axis);
        g_test_message("%c: %.4f +- %.4f mm at %.1f Hz", "XY"[axis], g -> value, g -> sd,
                       g -> value_2);
        g_assert_cmpfloat_with_epsilon(g->value_2, hz[axis], 0.15 * hz[axis]);
        g_assert_cmpfloat_with_epsilon(
            g->value, pull_in_share * p->pull_in[axis] / (2 * G_PI * hz[axis]), 0.004);
    }
}

static void test_a_stiff_cord_shows_nothing(void)
{
    for (guint32 seed = 41; seed < 44; seed++) {
        g_autoptr(DtProfile) p = NULL;
        g_autoptr(DtFigures) f = measure(seed, 0, 0, &p);
        for (int axis = 0; axis < 2; axis++) {
            g_assert_cmpfloat(swing_of(f, axis)->value, ==, 0);
            g_assert_cmpfloat(swing_of(f, axis)->sd, <, 0.004);
        }
    }
}

/* One axis is told from the other. */
static void test_the_axis_is_named(void)
{
    g_autoptr(DtProfile) p = NULL;
    g_autoptr(DtFigures) f = measure(51, 0, 28, &p);
    g_assert_cmpfloat(swing_of(f, 0)->value, ==, 0);
    g_assert_cmpfloat(swing_of(f, 1)->value, >, 0.01);
}

/* The support's random machines, which stand for all: slack from 0.03 to 0.6 mm at each place, whatever the seed, and
 * never one that the virtual machine refuses. */
static void test_random_machines_keep_to_their_ranges(void)
{
    enum { SEEDS = 4000, ONCE_REFUSED = 142001 };
    for (guint32 i = 0; i <= SEEDS; i++) {
        TruthMachine m;
        truth_draw(&m, i < SEEDS ? i : ONCE_REFUSED, 297, 210);
        for (int axis = 0; axis < 2; axis++)
            for (int k = 0; k < m.slack[axis].n; k++) {
                g_assert_cmpfloat(m.slack[axis].value[k], >=, 0.03);
                g_assert_cmpfloat(m.slack[axis].value[k], <=, 0.6);
            }
        g_autoptr(GError) error = NULL;
        g_autofree char *truth = truth_rig_text(&m);
        g_autoptr(DtRig) rig =
            i % 100 == 0 || i == SEEDS ? dt_rig_new_from_text(truth, "truth", &error) : NULL;
        g_assert_no_error(error);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/swing/machines", test_random_machines_keep_to_their_ranges);
    g_test_add_func("/swing/soft", test_a_soft_cord_shows_by_its_frequency);
    g_test_add_func("/swing/stiff", test_a_stiff_cord_shows_nothing);
    g_test_add_func("/swing/axis", test_the_axis_is_named);
    return g_test_run();
}
