/* flatness: a scan that a camera took is told by what no machine and no scanner bends; a sheet that was folded, or that
 * moved, by its step. */
#include "seen.h"
#include "truing/solve/flatness.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <string.h>

static const double half_diagonal_mm = 110 / 1.4142135623730951; /* of the sheet */

/* Moves what a scan shows by `by`(place from the sheet's middle on the glass, in half diagonals), mm. */
static void bend(const SeenModel *f, size_t k, DtPoint (*by)(DtPoint at, double mm), double mm)
{
    const DtPoint middle = dt_affine_apply(f->scans[k]->rough, f->m.middle);
    for (size_t i = 0; i < f->scans[k]->n; i++) {
        DtPoint *at = &f->scans[k]->seen[i].at;
        const DtPoint from = dt_point_scale(dt_point_sub(*at, middle), 1 / half_diagonal_mm);
        *at = dt_point_add(*at, by(from, mm));
    }
}

/* The first radial term of Brown 1966, "Decentering distortion of lenses". */
static DtPoint by_lens(DtPoint at, double mm)
{
    return dt_point_scale(at, mm * dt_point_dot(at, at));
}

/* The first term of a perspective whose horizon is far off. */
static DtPoint by_tilt(DtPoint at, double mm)
{
    return dt_point_scale(at, mm * (0.6 * at.x - 0.8 * at.y));
}

/* One rail turns as the carriage travels along the other. */
static DtPoint by_rails(DtPoint at, double mm)
{
    return dt_point(0, mm * at.x * at.x * at.y);
}

static gboolean find_bent(SeenModel *f, DtBentEvidence *out)
{
    g_autoptr(GError) error = NULL;
    DtModelFit fit;
    dt_fit_model(&f->m, &fit, &error);
    g_assert_no_error(error);
    const gboolean found = dt_find_bent(&f->m, &fit, out);
    dt_fit_clear(&fit);
    return found;
}

static void check_known(const DtFigures *f, DtErrorKind kind, gboolean known)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind) {
            g_assert_cmpint(f->f[i].known, ==, known);
            g_assert_true(known || !f->f[i].proposed);
        }
}

/* 0.13 % of the way from the middle to the corners, outwards or inwards, in the first of one or two scans. */
static void test_a_lens_is_found_and_measured(void)
{
    const double lens_mm = 0.1;
    for (int i = 0; i < 4; i++) {
        SeenModel f;
        DtBentEvidence bent;
        seen_model_init(&f, &seen_usual, seen_quarters, 1 + (size_t)i / 2);
        bend(&f, 0, by_lens, i % 2 ? lens_mm : -lens_mm);
        g_assert_true(find_bent(&f, &bent));
        g_assert_cmpfloat(fabs(bent.lens_mm[0] - lens_mm), <, 0.03);
        g_assert_true(bent.scans[0].photograph);
        g_assert_false(i >= 2 && bent.scans[1].photograph);
        g_assert_cmpfloat(bent.tilt_mm[0], ==, 0);
        seen_model_clear(&f);
    }
}

/* Else a lens of this kind shows as 0.1 mm of position. */
static void test_a_lens_leaves_what_is_near(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    bend(&f, 0, by_lens, 0.7);
    g_autoptr(DtFigures) out = seen_solve(&f);
    g_assert_true(g_str_has_prefix(out->notes, "scan-1.png bends the sheet by 0."));
    g_assert_nonnull(strstr(out->notes, "as a lens does and a scanner never"));
    check_known(out, DT_ERROR_OF_POSITION, FALSE);
    check_known(out, DT_ERROR_OF_STRAIGHT, FALSE);
    check_known(out, DT_ERROR_OF_SCALE, FALSE);
    check_known(out, DT_ERROR_OF_SQUARE, FALSE);
    check_known(out, DT_ERROR_OF_BACKLASH, TRUE);
    const DtFigure *slack = dt_figures_find(out, DT_ERROR_OF_BACKLASH, 0);
    g_assert_cmpfloat(fabs(slack->value - seen_usual.slack[0]), <, 3 * slack->sd);
    seen_model_clear(&f);
}

static void test_a_tilted_camera_is_found(void)
{
    SeenModel f;
    DtBentEvidence bent;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    bend(&f, 0, by_tilt, 0.5);
    g_assert_true(find_bent(&f, &bent));
    g_assert_cmpfloat(fabs(bent.tilt_mm[0] - 0.5), <, 0.05);
    g_autoptr(DtFigures) out = seen_solve(&f);
    g_assert_nonnull(strstr(out->notes, "as a tilted camera does and a scanner never"));
    check_known(out, DT_ERROR_OF_SQUARE, FALSE);
    check_known(out, DT_ERROR_OF_TWIST, TRUE);
    seen_model_clear(&f);
}

static void test_machines_and_scanners_are_no_cameras(void)
{
    SeenTruth t = seen_usual;
    t.wave[0] = t.wave[1] = 0.05;
    t.position[0] = t.straight[1] = 0.2;
    for (int i = 0; i < 4; i++) {
        SeenModel f;
        DtBentEvidence bent;
        seen_model_init(&f, &t, seen_quarters, 1 + (size_t)i / 2);
        if (i % 2)
            bend(&f, 0, by_rails, 0.3);
        g_assert_false(find_bent(&f, &bent));
        seen_model_clear(&f);
    }
}

/* Steps ------------------------------------------------------------------------------------------ */

/* Moves all that lies beyond a line towards it by so much. */
static void fold(const SeenModel *f, size_t k, double degrees, double at, double mm)
{
    DtAffine back;
    const DtAffine there = f->scans[k]->rough;
    const DtPoint normal = dt_point(cos(degrees * G_PI / 180), sin(degrees * G_PI / 180));
    g_assert_true(dt_affine_invert(there, &back));
    for (size_t i = 0; i < f->scans[k]->n; i++) {
        DtPoint *p = &f->scans[k]->seen[i].at;
        const DtPoint c = dt_point_sub(dt_affine_apply(back, *p), f->m.middle);
        if (dt_point_dot(c, normal) > at)
            *p = dt_point_add(*p, dt_affine_apply_vector(there, dt_point_scale(normal, -mm)));
    }
}

static void test_a_fold_in_one_of_two_scans_is_refused(void)
{
    static const double folds[][2] = {{0, 10}, {90, -15}, {35, 5}, {120, 20}};
    for (size_t i = 0; i < G_N_ELEMENTS(folds); i++) {
        SeenModel f;
        seen_model_init(&f, &seen_usual, seen_quarters, 2);
        fold(&f, i % 2, folds[i][0], folds[i][1], 0.1);
        seen_check_refused(&f, "in one of them the sheet did not lie flat, or it moved");
        seen_model_clear(&f);
    }
}

static void test_an_oblique_fold_is_seen_in_one_scan(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    fold(&f, 0, 35, 5, 0.15);
    seen_check_refused(&f, "scan-1.png: beyond a line through about (X, Y) = ");
    seen_model_clear(&f);
}

/* What costs less than the rule's reading does. */
static void test_a_small_step_is_let_pass(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    fold(&f, 1, 35, 5, 0.02);
    g_autoptr(DtFigures) out = seen_solve(&f);
    check_known(out, DT_ERROR_OF_SQUARE, TRUE);
    seen_model_clear(&f);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/flatness/lens", test_a_lens_is_found_and_measured);
    g_test_add_func("/flatness/near", test_a_lens_leaves_what_is_near);
    g_test_add_func("/flatness/tilt", test_a_tilted_camera_is_found);
    g_test_add_func("/flatness/machines", test_machines_and_scanners_are_no_cameras);
    g_test_add_func("/flatness/fold", test_a_fold_in_one_of_two_scans_is_refused);
    g_test_add_func("/flatness/oblique", test_an_oblique_fold_is_seen_in_one_scan);
    g_test_add_func("/flatness/small", test_a_small_step_is_let_pass);
    return g_test_run();
}
