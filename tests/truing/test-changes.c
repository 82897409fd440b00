/* changes: what is proposed is written with its remark, taken back byte for byte, and compared. */
#include "drawtrue/sheet-log.h"
#include "drawtrue/truing.h"
#include "support/folder.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *folder;

static char *in_folder(const char *name)
{
    return g_build_filename(folder, name, NULL);
}

static DtFigure figure(DtErrorKind kind, int axis, double at, double value, double sd)
{
    return (DtFigure){.kind = kind,
                      .axis = axis,
                      .pen = -1,
                      .at = at,
                      .known = TRUE,
                      .value = value,
                      .sd = sd,
                      .proposed = TRUE};
}

static const char text[] =
    "# mine\n[machine]\nname = bench\n\n[corrections]\n# by a ruler\nscale_x = 1.01\n";

typedef struct {
    char *path, *journal;
    DtProfile *p;
    DtTestSheet *s;
    DtProfileChange *c;
    size_t n;
} Case;

static void set_up(Case *c, const char *name)
{
    static DtFigure list[5];
    list[0] = figure(DT_ERROR_OF_SCALE, 0, NAN, 1.008, 1e-4);
    list[1] = figure(DT_ERROR_OF_SQUARE, -1, NAN, 0.4 * G_PI / 180, 1e-4);
    list[2] = figure(DT_ERROR_OF_BACKLASH, 0, 20, 0.12, 0.01);
    list[3] = figure(DT_ERROR_OF_BACKLASH, 0, 180, 0.38, 0.01);
    list[4] = figure(DT_ERROR_OF_BACKLASH, 1, NAN, 0.45, 0.01);
    list[4].proposed = FALSE;
    DtFigures f = {list, G_N_ELEMENTS(list), 0, 0, 0, NULL};
    g_autofree char *journal = g_strconcat(name, ".db", NULL);
    c->path = in_folder(name);
    c->journal = in_folder(journal);
    g_assert_true(g_file_set_contents(c->path, text, -1, NULL));
    c->p = dt_profile_load(c->path, NULL);
    c->s = dt_sheet_new_blank(c->p, DT_SHEET_SLACK, "2026-03-14", 12);
    c->c = dt_truing_changes(c->p, c->s, &f, &c->n);
}

static void clear(Case *c)
{
    dt_truing_free_changes(c->c, c->n);
    dt_sheet_free(c->s);
    dt_profile_free(c->p);
    g_free(c->path);
    g_free(c->journal);
}

static char *read_file(const char *path)
{
    char *out = NULL;
    g_assert_true(g_file_get_contents(path, &out, NULL, NULL));
    return out;
}

static void test_only_what_is_proposed_is_written(void)
{
    Case c;
    set_up(&c, "a.ini");
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_truing_write(c.journal, "bench", c.path, 12, c.c, c.n, &error));
    g_assert_no_error(error);
    g_autofree char *after = read_file(c.path);
    g_assert_nonnull(strstr(after, "# truing: sheet 12, 2026-03-14\nscale_x = 1.00800\n"));
    g_assert_nonnull(strstr(after, "backlash_x = 20.0:0.120 180.0:0.380\n"));
    g_assert_nonnull(strstr(after, "square = 0.4000 deg\n"));
    g_assert_null(strstr(after, "backlash_y"));
    g_autoptr(DtProfile) p = dt_profile_load(c.path, &error);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[0], 100), 0.25, 1e-9);
    clear(&c);
}

/* "section key = value" of what figures would write into the profile of four pens, separated by " | ". */
static char *written_for(const DtFigure *list, size_t n)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-03-14", 12);
    g_autoptr(GString) all = g_string_new(NULL);
    const DtFigures f = {(DtFigure *)list, n, 0, 0, 0, NULL};
    size_t n_changes;
    DtProfileChange *c = dt_truing_changes(p, s, &f, &n_changes);
    for (size_t i = 0; i < n_changes; i++) {
        g_assert_cmpstr(c[i].remark, ==, "truing: sheet 12, 2026-03-14");
        g_string_append_printf(all, "%s%s %s = %s", i ? " | " : "", c[i].section, c[i].key,
                               c[i].value);
    }
    dt_truing_free_changes(c, n_changes);
    return g_strdup(all->str);
}

/* Each with the unit of its key; limits with the shares of docs/truing.md, times rounded up, so that the pen is
 * waited for. */
static void test_each_figure_has_its_key(void)
{
    static const struct {
        DtErrorKind kind;
        int axis;
        double value, value_2;
        const char *written;
    } cases[] = {
        {DT_ERROR_OF_SCALE, 1, 0.99251, 0, "corrections scale_y = 0.99251"},
        {DT_ERROR_OF_SQUARE, -1, -0.005, 0, "corrections square = -0.2865 deg"},
        {DT_ERROR_OF_PULLEY, 0, 0.0714, 1,
         "corrections pulley_error_x = 0.071 mm | corrections pulley_phase_x = 57.3 deg"},
        {DT_ERROR_OF_PULLEY, 1, 0.05, 4,
         "corrections pulley_error_y = 0.050 mm | corrections pulley_phase_y = -130.8 deg"},
        {DT_ERROR_OF_LIFT_TIME, -1, 0.1201, 0, "lift lift_time = 0.121 s"},
        {DT_ERROR_OF_DROP_TIME, -1, 0.2302, 0, "lift drop_time = 0.231 s"},
        {DT_ERROR_OF_DROP_WORD, -1, 47, 0, "controller pen_down = M3 S47"},
        {DT_ERROR_OF_SPEED, 0, 30, 0, "motion speed_x = 21.0 mm/s"},
        {DT_ERROR_OF_ACCELERATION, 1, 400, 0, "motion acceleration_y = 312 mm/s2"},
        {DT_ERROR_OF_PULL_IN, 0, 10, 0, "motion pull_in_x = 8.8 mm/s"},
        {DT_ERROR_OF_POSITION, 0, 0.04, 0, "corrections position_x = 0.040 mm"},
        {DT_ERROR_OF_STRAIGHT, 1, -0.1, 0, "corrections straight_y = -0.100 mm"},
        {DT_ERROR_OF_TWIST, 0, 0.2, 0, "corrections twist_x = 0.200 mm"},
        {DT_ERROR_OF_SCATTER, 0, 0.02, 0, ""},
        {DT_ERROR_OF_MEAN_REVERSAL, 0, 0.3, 0, ""},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtFigure f = figure(cases[i].kind, cases[i].axis, NAN, cases[i].value, 0.01);
        f.value_2 = cases[i].value_2;
        g_autofree char *written = written_for(&f, 1);
        g_assert_cmpstr(written, ==, cases[i].written);
        f.proposed = FALSE;
        g_autofree char *not_proposed = written_for(&f, 1);
        g_assert_cmpstr(not_proposed, ==, "");
        f.proposed = TRUE;
        f.known = FALSE;
        g_autofree char *unknown = written_for(&f, 1);
        g_assert_cmpstr(unknown, ==, "");
    }
}

/* Both offsets of a pen are one key: what was not measured stays. */
static void test_each_pen_has_its_own_section(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_assert_cmpuint(p->rack.n, >=, 3);
    DtFigure list[] = {figure(DT_ERROR_OF_PEN_X, -1, NAN, 0.25, 0.01),
                       figure(DT_ERROR_OF_PEN_Y, -1, NAN, -0.1, 0.01),
                       figure(DT_ERROR_OF_PEN_Y, -1, NAN, 0.5, 0.01),
                       figure(DT_ERROR_OF_TIP_WIDTH, -1, NAN, 0.62, 0.01),
                       figure(DT_ERROR_OF_DOT_GAIN, -1, NAN, 1.8, 0.1),
                       figure(DT_ERROR_OF_DOT_GAIN, -1, NAN, 0.4, 0.1)};
    list[0].pen = list[1].pen = list[4].pen = 1;
    list[2].pen = list[3].pen = list[5].pen = 2;
    g_autofree char *written = written_for(list, G_N_ELEMENTS(list));
    const char *one = p->rack.pens[1].name, *two = p->rack.pens[2].name;
    g_autofree char *wanted = g_strdup_printf(
        "pen %s dot_gain = 1.80 | pen %s offset = 0.250, -0.100 mm | pen %s tip = 0.62 mm | "
        "pen %s dot_gain = 1.00 | pen %s offset = %.3f, 0.500 mm",
        one, one, two, two, two, p->rack.pens[2].offset.x);
    g_assert_cmpstr(written, ==, wanted);
}

static void test_undo_is_byte_for_byte(void)
{
    Case c;
    gint64 sheet = 0;
    set_up(&c, "b.ini");
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_truing_write(c.journal, "bench", c.path, 12, c.c, c.n, &error));
    g_assert_true(dt_truing_undo(c.journal, c.path, &sheet, &error));
    g_assert_cmpint(sheet, ==, 12);
    g_autofree char *back = read_file(c.path);
    g_assert_cmpstr(back, ==, text);
    g_assert_false(dt_truing_undo(c.journal, c.path, &sheet, &error)); /* nothing is left */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    clear(&c);
}

static void test_undo_spares_what_was_changed_since(void)
{
    Case c;
    gint64 sheet = 0;
    set_up(&c, "c.ini");
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_truing_write(c.journal, "bench", c.path, 12, c.c, c.n, &error));
    g_autofree char *after = read_file(c.path), *more = g_strconcat(after, "# mine again\n", NULL);
    g_assert_true(g_file_set_contents(c.path, more, -1, NULL));
    g_assert_false(dt_truing_undo(c.journal, c.path, &sheet, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_autofree char *now = read_file(c.path);
    g_assert_cmpstr(now, ==, more);
    clear(&c);
}

static void test_an_unsound_profile_is_left_alone(void)
{
    Case c;
    set_up(&c, "d.ini");
    const DtProfileChange bad = {"corrections", "scale_x", "9", "truing: sheet 12, 2026-03-14"};
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_truing_write(c.journal, "bench", c.path, 12, &bad, 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_autofree char *now = read_file(c.path);
    g_assert_cmpstr(now, ==, text);
    clear(&c);
}

/* Two sheets ------------------------------------------------------------------------------------ */

static DtVerdict verdict_on(DtErrorKind kind, double a, double b, double sd)
{
    DtFigure one = figure(kind, 0, NAN, a, sd), two = figure(kind, 0, NAN, b, sd);
    const DtFigures fa = {&one, 1, 0, 0, 0, NULL}, fb = {&two, 1, 0, 0, 0, NULL};
    size_t n;
    g_autofree DtComparison *c = dt_truing_compare(&fa, &fb, &n);
    g_assert_cmpuint(n, ==, 1);
    g_assert_cmpfloat(c[0].a, ==, a);
    g_assert_cmpfloat(c[0].b, ==, b);
    return c[0].verdict;
}

static DtVerdict verdict(double a, double b, double sd)
{
    return verdict_on(DT_ERROR_OF_BACKLASH, a, b, sd);
}

/* A scale is right at 1, an error at 0 whatever its sign, and a limit is the better the higher it is. */
static void test_better_is_nearer_to_perfect(void)
{
    static const struct {
        DtErrorKind kind;
        double a, b;
    } cases[] = {
        {DT_ERROR_OF_SCALE, 1.01, 1.002},   {DT_ERROR_OF_SCALE, 0.99, 1.002},
        {DT_ERROR_OF_SCALE, 0.99, 0.997},   {DT_ERROR_OF_SQUARE, -0.01, 0.004},
        {DT_ERROR_OF_SQUARE, 0.01, -0.004}, {DT_ERROR_OF_BACKLASH, 0.4, 0.1},
        {DT_ERROR_OF_SPEED, 20, 30},        {DT_ERROR_OF_ACCELERATION, 300, 400},
        {DT_ERROR_OF_PULL_IN, 5, 7},        {DT_ERROR_OF_STRAIGHT, 0.2, 0.1},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_assert_cmpint(verdict_on(cases[i].kind, cases[i].a, cases[i].b, 1e-4), ==,
                        DT_VERDICT_BETTER);
        g_assert_cmpint(verdict_on(cases[i].kind, cases[i].b, cases[i].a, 1e-4), ==,
                        DT_VERDICT_WORSE);
    }
}

/* Slack at places is compared by its mean where both sheets have that, and else by itself; a figure that one of
 * them lacks has no verdict. */
static void test_slack_is_compared_by_its_mean(void)
{
    DtFigure a[] = {figure(DT_ERROR_OF_BACKLASH, 0, 20, 0.4, 0.01),
                    figure(DT_ERROR_OF_BACKLASH, 0, 180, 0.2, 0.03),
                    figure(DT_ERROR_OF_MEAN_REVERSAL, 0, NAN, 0.3, 0.01)},
             b[] = {figure(DT_ERROR_OF_BACKLASH, 0, NAN, 0.1, 0.01),
                    figure(DT_ERROR_OF_MEAN_REVERSAL, 0, NAN, 0.1, 0.01)};
    size_t n;
    const DtFigures fa = {a, 3, 0, 0, 0, NULL}, fb = {b, 2, 0, 0, 0, NULL},
                    places = {a, 2, 0, 0, 0, NULL};
    g_autofree DtComparison *c = dt_truing_compare(&fa, &fb, &n);
    g_assert_cmpuint(n, ==, 1);
    g_assert_cmpint(c[0].kind, ==, DT_ERROR_OF_MEAN_REVERSAL);
    g_assert_cmpint(c[0].verdict, ==, DT_VERDICT_BETTER);
    g_autofree DtComparison *d = dt_truing_compare(&places, &fb, &n);
    g_assert_cmpuint(n, ==, 2);
    g_assert_cmpint(d[0].kind, ==, DT_ERROR_OF_BACKLASH);
    g_assert_cmpfloat_with_epsilon(d[0].a, 0.3, 1e-12);
    g_assert_cmpfloat_with_epsilon(d[0].a_sd, 0.02, 1e-12);
    g_assert_cmpint(d[1].kind, ==, DT_ERROR_OF_MEAN_REVERSAL);
    g_assert_cmpint(d[1].verdict, ==, DT_VERDICT_UNKNOWN);
}

static void test_verdicts(void)
{
    g_assert_cmpint(verdict(0.30, 0.25, 0.01), ==,
                    DT_VERDICT_BETTER); /* 3.5 standard uncertainties */
    g_assert_cmpint(verdict(0.25, 0.30, 0.01), ==, DT_VERDICT_WORSE);
    g_assert_cmpint(verdict(0.30, 0.28, 0.01), ==, DT_VERDICT_SAME); /* 1.4 */
}

/* Chance alone calls 5 of 100 a change. */
static void test_false_verdicts_are_as_many_as_stated(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(4);
    unsigned wrong = 0;
    enum { N = 4000 };
    for (int i = 0; i < N; i++) {
        double noise[2] = {0, 0};
        for (int k = 0; k < 12; k++) /* near enough to normal */
            for (int side = 0; side < 2; side++)
                noise[side] += g_rand_double(r) - 0.5;
        wrong += verdict(0.3 + 0.01 * noise[0], 0.3 + 0.01 * noise[1], 0.01) != DT_VERDICT_SAME;
    }
    g_assert_cmpfloat_with_epsilon(wrong / (double)N, 0.05, 0.012);
}

static void test_figures_come_back(void)
{
    DtFigure list[] = {figure(DT_ERROR_OF_SCALE, 0, NAN, 1.0081234, 1e-4),
                       figure(DT_ERROR_OF_PULLEY, 1, NAN, 0.07, 0.004)};
    list[1].value_2 = 1.25;
    const DtFigures f = {list, 2, 0, 0.4, 0.05, NULL};
    g_autofree char *json = dt_figures_to_json(&f);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtFigures) back = dt_figures_from_json(json, &error);
    g_assert_no_error(error);
    g_autofree char *again = dt_figures_to_json(back);
    g_assert_cmpstr(again, ==, json);
    g_assert_null(dt_figures_from_json("{\"figures\":[{\"figure\":\"luck\"}]}", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("truing-XXXXXX", NULL);
    g_test_add_func("/changes/written", test_only_what_is_proposed_is_written);
    g_test_add_func("/changes/keys", test_each_figure_has_its_key);
    g_test_add_func("/changes/pens", test_each_pen_has_its_own_section);
    g_test_add_func("/changes/undo", test_undo_is_byte_for_byte);
    g_test_add_func("/changes/undo-changed", test_undo_spares_what_was_changed_since);
    g_test_add_func("/changes/unsound", test_an_unsound_profile_is_left_alone);
    g_test_add_func("/changes/verdicts", test_verdicts);
    g_test_add_func("/changes/better", test_better_is_nearer_to_perfect);
    g_test_add_func("/changes/means", test_slack_is_compared_by_its_mean);
    g_test_add_func("/changes/false-verdicts", test_false_verdicts_are_as_many_as_stated);
    g_test_add_func("/changes/figures", test_figures_come_back);
    const int status = g_test_run();
    folder_remove(folder);
    return status;
}
