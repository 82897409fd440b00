/* outliers: marks, lines and rows that are not where the others have them are left out and told, or the evidence is
 * refused. */
#include "seen.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* All ink beyond the middle of X lies 0.5 mm farther, in both scans. */
static void test_a_jump_is_refused(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    for (size_t k = 0; k < 2; k++)
        for (size_t i = 0; i < f.scans[k]->n; i++) {
            DtSeen *s = &f.scans[k]->seen[i];
            const DtPoint plus = {cos(seen_quarters[k]), sin(seen_quarters[k])};
            DtAffine back;
            g_assert_true(dt_affine_invert(f.scans[k]->rough, &back));
            if (dt_affine_apply(back, s->at).x > 62)
                s->at = dt_point_add(s->at, dt_point_scale(plus, 0.5));
        }
    seen_check_refused(&f, "at X 6");
    seen_check_refused(&f, "mm the marks jump by 0.");
    seen_model_clear(&f);
}

typedef struct {
    double share, mm;    /* so many lie anywhere within so much of their places */
    gboolean lines_only; /* pieces of long lines */
    gboolean alike;      /* the same in both scans: it is on the paper */
    gboolean corner;     /* all of those in the lower left corner instead */
    guint32 seed;
} Displaced;

/* Which ones of the first scan; g_free. */
static gboolean *displace(SeenModel *f, const Displaced *d)
{
    const double corner_mm = 34;
    g_autoptr(GRand) r = NULL;
    gboolean *moved = g_new0(gboolean, f->scans[0]->n);
    for (size_t k = 0; k < f->n_scans; k++) {
        if (r == NULL || d->alike) {
            g_clear_pointer(&r, g_rand_free);
            r = g_rand_new_with_seed(d->seed);
        }
        for (size_t i = 0; i < f->scans[k]->n; i++) {
            DtSeen *s = &f->scans[k]->seen[i];
            const double by = g_rand_double_range(r, -d->mm, d->mm);
            DtAffine back;
            g_assert_true(dt_affine_invert(f->scans[k]->rough, &back));
            const DtPoint at = dt_affine_apply(back, s->at);
            const gboolean is_line = f->s->marks[s->mark].kind == DT_MARK_GAUGE;
            const gboolean chosen = g_rand_double(r) < d->share;
            if (d->corner ? at.x > corner_mm || at.y > corner_mm
                          : !chosen || (d->lines_only && !is_line))
                continue;
            s->at = dt_point_add(s->at, dt_point_scale(s->normal, by));
            moved[i] |= k == 0;
        }
    }
    return moved;
}

/* What a refusal has to say: all of the marks and of the pieces of long lines. */
static void check_totals(const SeenModel *f)
{
    size_t n[2] = {0, 0};
    for (size_t i = 0; i < f->scans[0]->n; i++)
        n[f->s->marks[f->scans[0]->seen[i].mark].kind == DT_MARK_GAUGE]++;
    g_autofree char *marks = g_strdup_printf(" of %zu marks and ", n[0]);
    g_autofree char *pieces = g_strdup_printf(" of %zu pieces of long lines ", n[1]);
    seen_check_refused(f, marks);
    seen_check_refused(f, pieces);
}

/* Marks may scatter by 0.12 mm, and what lies anywhere within a limit scatters by that over the root of three. Of long
 * lines, which bend on the paper as rails do, only what differs from scan to scan counts. */
static void test_marks_that_contradict_each_other_are_refused(void)
{
    static const struct {
        Displaced d;
        const char *why; /* NULL: it is not */
    } cases[] = {
        {{0.25, 2, FALSE, FALSE, FALSE, 5},
         " pieces of long lines are not where the others have them"},
        {{0.35, 2, FALSE, TRUE, FALSE, 5}, "the marks contradict each other: "},
        {{1, 0.2, FALSE, FALSE, FALSE, 5}, "the marks contradict each other: they scatter by 0.1"},
        {{1, 0.15, FALSE, FALSE, FALSE, 5}, NULL},
        {{1, 0.4, TRUE, FALSE, FALSE, 5}, "the marks contradict each other: they scatter by 0."},
        {{1, 0.4, TRUE, TRUE, FALSE, 5}, NULL}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        SeenModel f;
        seen_model_init(&f, &seen_usual, seen_quarters, 2);
        g_autofree gboolean *moved = displace(&f, &cases[i].d);
        g_test_message("case %zu", i);
        if (cases[i].why) {
            seen_check_refused(&f, cases[i].why);
            if (i == 0)
                check_totals(&f);
        } else {
            g_autoptr(DtFigures) out = seen_solve(&f);
        }
        seen_model_clear(&f);
    }
}

/* Outliers -------------------------------------------------------------------------------------- */

/* Figures that were off by more than `by` of their deviations, and how many there are. */
static void count_off(const DtFigures *f, double by, size_t *off, size_t *all)
{
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        double truth = NAN;
        if (g->kind == DT_ERROR_OF_SQUARE)
            truth = seen_usual.square;
        else if (g->kind == DT_ERROR_OF_SCALE)
            truth = 1 + seen_usual.scale[g->axis];
        else if (g->kind == DT_ERROR_OF_BACKLASH)
            truth = seen_usual.slack[g->axis];
        else if (g->kind == DT_ERROR_OF_TWIST)
            truth = seen_usual.twist[g->axis];
        else if (g->kind == DT_ERROR_OF_PULLEY)
            truth = hypot(seen_usual.pulley[g->axis][0], seen_usual.pulley[g->axis][1]);
        if (isnan(truth))
            continue;
        g_assert_true(g->known);
        ++*all;
        *off += fabs(g->value - truth) > by * g->sd;
    }
}

/* Smudges, hairs and stains are on the paper, and so in both scans. All but those that are hardly displaced are left out,
 * it is said how many, and what the others tell is as certain as it says. */
static void test_displaced_marks_are_left_out(void)
{
    static const Displaced cases[] = {
        {0.01, 2, FALSE, TRUE, FALSE, 1},
        {0.05, 2, FALSE, TRUE, FALSE, 2},
        {0.1, 2, FALSE, TRUE, FALSE, 4},
        {0, 2, FALSE, TRUE, TRUE, 6},
    };
    size_t off = 0, far = 0, all = 0, usual = 0;
    SeenModel clean;
    seen_model_init(&clean, &seen_usual, seen_quarters, 2);
    seen_model_lay_rule(&clean, &seen_usual);
    g_autoptr(DtFigures) without = seen_solve(&clean);
    count_off(without, 1.96, &usual, &all);
    g_assert_null(without->notes);
    seen_model_clear(&clean);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        SeenModel f;
        size_t n = 0, told = 0, of = 0;
        seen_model_init(&f, &seen_usual, seen_quarters, 2);
        seen_model_lay_rule(&f, &seen_usual);
        g_autofree gboolean *moved = displace(&f, &cases[i]);
        for (size_t k = 0; k < f.scans[0]->n; k++)
            n += moved[k] ? 1 : 0;
        g_autoptr(DtFigures) out = seen_solve(&f);
        g_test_message("case %zu: %zu displaced; %s", i, n, out->notes);
        g_assert_cmpint(sscanf(out->notes, "%zu of %zu marks", &told, &of), ==, 2);
        g_assert_cmpuint(of, ==, f.m.n_items);
        g_assert_cmpuint(told, >=, n - n / 5 - 1);
        g_assert_cmpuint(told, <=, n + (cases[i].corner ? 4 : 0));
        g_assert_nonnull(strstr(out->notes, "at (X, Y) = ("));
        count_off(out, 1.96, &off, &all);
        count_off(out, 3.5, &far, &all);
        seen_model_clear(&f);
    }
    /* the pen's and the scans' noise is the same in all cases */
    g_test_message("beyond 95 %%: %zu in all, %zu without displaced marks", off, usual);
    g_assert_cmpuint(far, ==, 0);
    g_assert_cmpuint(off, <=, (usual + 1) * G_N_ELEMENTS(cases));
}

/* Lines that a scan has left out itself count too, once if both scans show them. */
static void test_lines_that_scans_left_out_are_told(void)
{
    static const DtPoint strays[2][2] = {{{30, 40}, {70, 80}}, {{30.4, 40}, {0, 0}}};
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    seen_model_lay_rule(&f, &seen_usual);
    for (size_t k = 0; k < 2; k++) {
        f.scans[k]->n_strays = 2 - k;
        f.scans[k]->strays = g_memdup2(strays[k], sizeof strays[k]);
    }
    g_autoptr(DtFigures) out = seen_solve(&f);
    g_autofree char *of = g_strdup_printf("2 of %zu marks were left out", f.m.n_items + 2);
    g_assert_true(g_str_has_prefix(out->notes, of));
    g_assert_true(g_str_has_suffix(out->notes, "= (30, 40), (70, 80) mm"));
    seen_model_clear(&f);
}

/* Nothing shows whether a mark in the middle of a stain is where it was drawn, even if it seems to be. */
static void test_a_mark_in_a_stain_is_left_out(void)
{
    const Displaced stain = {0, 2, FALSE, TRUE, TRUE, 6};
    const DtPoint middle = {21, 15};
    size_t spared = 0;
    DtModelFit fit;
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    for (size_t i = 0; i < f.m.n_items; i++)
        if (dt_point_distance(f.m.items[i].middle, middle) <
            dt_point_distance(f.m.items[spared].middle, middle))
            spared = i;
    DtSeen *s = &f.scans[0]->seen[f.m.items[spared].seen[0] - f.scans[0]->seen];
    const DtPoint kept = s->at;
    g_autofree gboolean *moved = displace(&f, &stain);
    s->at = kept;
    g_assert_true(dt_fit_model(&f.m, &fit, NULL));
    g_assert_true(f.m.items[spared].surrounded);
    g_assert_cmpfloat(f.m.items[spared].weight, ==, 0);
    dt_fit_clear(&fit);
    seen_model_clear(&f);
}

/* A row of marks along an axis, the lowest, middle or highest, drawn `by` off. */
static void displace_row(SeenModel *f, int axis, int row, double by)
{
    for (size_t k = 0; k < f->n_scans; k++) {
        const double turn = seen_quarters[k] + (axis == 0 ? 0 : -G_PI / 2);
        const DtPoint plus = {cos(turn), sin(turn)};
        for (size_t i = 0; i < f->scans[k]->n; i++) {
            DtSeen *s = &f->scans[k]->seen[i];
            const DtMark *m = &f->s->marks[s->mark];
            if (m->kind == DT_MARK_POSITION && m->axis == axis && m->row == row)
                s->at = dt_point_add(s->at, dt_point_scale(plus, by));
        }
    }
}

/* A sheet that slips, or a motor that loses steps, displaces whole rows. */
static void test_a_displaced_row_is_no_outlier(void)
{
    static const double by[] = {0.15, 1.2};
    for (int row = 0; row < 3; row++)
        for (gsize i = 0; i < G_N_ELEMENTS(by); i++) {
            SeenModel f;
            g_autoptr(GError) error = NULL;
            seen_model_init(&f, &seen_usual, seen_quarters, 2);
            seen_model_lay_rule(&f, &seen_usual);
            displace_row(&f, 0, row, by[i]);
            g_autoptr(DtFigures) out = dt_truing_solve(f.p, &f.e, NULL, &error);
            g_test_message("row %d by %.2f mm: %s", row, by[i], out ? out->notes : error->message);
            if (out)
                g_assert_true(by[i] < 0.2 &&
                              (strstr(out->notes, "are all displaced by about 0.1") ||
                               strstr(out->notes, "seems to step aside by 0.")));
            else
                g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
            seen_model_clear(&f);
        }
}

static gboolean proposes_straightness(const DtFigures *f, int axis)
{
    gboolean proposed = FALSE;
    for (size_t i = 0; i < f->n; i++)
        proposed |=
            f->f[i].kind == DT_ERROR_OF_STRAIGHT && f->f[i].axis == axis && f->f[i].proposed;
    return proposed;
}

/* By so little that its rail could bend like that, if no long line crossed it: that row is named and no other one, and
 * the straightness of the rail that it bends is not corrected; none where all are where they belong. */
static void test_a_row_that_is_off_by_little_is_named(void)
{
    static const char named[] = "the marks of the row along ";
    for (int i = -1; i < 6; i++) {
        SeenModel f;
        g_autoptr(GError) error = NULL;
        seen_model_init(&f, &seen_usual, seen_quarters, 2);
        seen_model_lay_rule(&f, &seen_usual);
        if (i >= 0)
            displace_row(&f, i / 3, i % 3, i % 2 ? 0.1 : -0.1);
        g_autoptr(DtFigures) out = dt_truing_solve(f.p, &f.e, NULL, &error);
        g_assert_no_error(error);
        const char *notes = out->notes ? out->notes : "", *at = strstr(notes, named);
        g_test_message("row %d: %s", i, notes);
        g_assert_true((i >= 0) == (at != NULL));
        g_assert_true(proposes_straightness(out, 0) == (i < 3));
        g_assert_true(proposes_straightness(out, 1) == (i < 0 || i >= 3));
        if (i >= 0) {
            char along, across;
            double place, off;
            g_assert_cmpint(sscanf(at + strlen(named),
                                   "%c at %c %lf mm are all displaced by about %lf", &along,
                                   &across, &place, &off),
                            ==, 4);
            const double middle = place - 59; /* the sheet's */
            g_assert_cmpint(along, ==, "XY"[i / 3]);
            g_assert_cmpint(across, ==, "YX"[i / 3]);
            g_assert_cmpint((middle > 20) - (middle < -20), ==, i % 3 - 1);
            g_assert_cmpfloat_with_epsilon(off, 0.1, 0.035);
        }
        seen_model_clear(&f);
    }
}

/* What the carriage of a scanner does over the width of a row looks the same. */
static void test_one_scan_names_no_row(void)
{
    SeenModel f;
    g_autoptr(GError) error = NULL;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    displace_row(&f, 0, 1, 0.1);
    g_autoptr(DtFigures) out = dt_truing_solve(f.p, &f.e, NULL, &error);
    g_assert_no_error(error);
    g_assert_nonnull(strstr(out->notes, "seems to step aside"));
    g_assert_null(strstr(out->notes, "the marks of the row along "));
    seen_model_clear(&f);
}

/* A fold, or a motor that loses steps now and then: half of a row is displaced, each mark by another way. */
static void test_a_scattered_row_is_refused(void)
{
    static const double share[] = {0.4, 0.7};
    for (gsize i = 0; i < G_N_ELEMENTS(share); i++) {
        SeenModel f;
        g_autoptr(GRand) r = g_rand_new_with_seed(12);
        seen_model_init(&f, &seen_usual, seen_quarters, 1);
        for (size_t k = 0; k < f.scans[0]->n; k++) {
            DtSeen *s = &f.scans[0]->seen[k];
            const DtMark *m = &f.s->marks[s->mark];
            const double by = g_rand_double_range(r, 0.5, 2) * (g_rand_boolean(r) ? 1 : -1);
            const gboolean chosen = g_rand_double(r) < share[i];
            if (m->kind == DT_MARK_POSITION && m->axis == 1 && m->row == 2 && chosen)
                s->at = dt_point_add(s->at, dt_point_scale(s->normal, by));
        }
        if (share[i] > 0.5) {
            seen_check_refused(&f, "of the row of marks along Y at X 10");
        } else {
            g_autoptr(DtFigures) out = seen_solve(&f);
            g_assert_nonnull(strstr(out->notes, "marks were left out"));
        }
        seen_model_clear(&f);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outliers/jump", test_a_jump_is_refused);
    g_test_add_func("/outliers/contradiction", test_marks_that_contradict_each_other_are_refused);
    g_test_add_func("/outliers/outliers", test_displaced_marks_are_left_out);
    g_test_add_func("/outliers/strays", test_lines_that_scans_left_out_are_told);
    g_test_add_func("/outliers/stain", test_a_mark_in_a_stain_is_left_out);
    g_test_add_func("/outliers/scattered-row", test_a_scattered_row_is_refused);
    g_test_add_func("/outliers/row", test_a_displaced_row_is_no_outlier);
    g_test_add_func("/outliers/row-by-little", test_a_row_that_is_off_by_little_is_named);
    g_test_add_func("/outliers/row-one-scan", test_one_scan_names_no_row);
    return g_test_run();
}
