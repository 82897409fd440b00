/* measured: what the journal's sheets say of a machine, beside what its profile says. */
#include "drawtrue/sheet-log.h"
#include "drawtrue/truing.h"
#include "support/folder.h"

#include <math.h>
#include <string.h>

static char *folder;

/* Every correction with a value of its own, so that none can stand in for another. */
static const char corrected[] =
    "[machine]\nname = bench\n[corrections]\nscale_x = 1.01\nscale_y = 0.98\nsquare = 0.5 deg\n"
    "backlash_x = 0:0.1 100:0.3\nbacklash_y = 0.25 mm\nposition_x = 0:0 100:0.2\n"
    "position_y = 0:0.1 100:-0.1\nstraight_x = 0:0 100:0.16\nstraight_y = 0:-0.2 100:0\n"
    "pulley_error_x = 0.2 mm\npulley_phase_x = 40 deg\npulley_error_y = 0.3 mm\n"
    "pulley_phase_y = -70 deg\ntwist_x = 0.08 mm\ntwist_y = 0:0 100:0.12\n";

static DtProfile *profile_of(const char *text)
{
    g_autofree char *path = g_build_filename(folder, "m.ini", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(g_file_set_contents(path, text, -1, &error));
    DtProfile *p = dt_profile_load(path, &error);
    g_assert_no_error(error);
    return p;
}

static char *fresh_journal(void)
{
    static unsigned n;
    g_autofree char *name = g_strdup_printf("journal-%u.db", ++n);
    return g_build_filename(folder, name, NULL);
}

static void add_sheet(const char *journal, const DtProfile *p, gint64 number, const char *sum,
                      DtFigure *f, size_t n)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *date = g_strdup_printf("2026-03-%02d", (int)number);
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SLACK, date, number);
    g_autofree char *sheet = dt_sheet_to_json(s);
    g_autofree char *figures = f ? dt_figures_to_json(&(DtFigures){.f = f, .n = n}) : g_strdup("");
    const DtSheetRecord r = {.number = number,
                             .machine = p->name,
                             .profile = (char *)"m.ini",
                             .profile_sum = (char *)sum,
                             .program_sum = (char *)"",
                             .sheet = sheet};
    g_assert_true(dt_sheet_log_add(journal, &r, &error));
    g_assert_true(dt_sheet_log_keep(journal, p->name, number, "", figures, &error));
    g_assert_no_error(error);
}

static DtMeasured *measured(const char *journal, const DtProfile *p)
{
    g_autoptr(GError) error = NULL;
    DtMeasured *m = dt_truing_measured(journal, p, &error);
    g_assert_no_error(error);
    return m;
}

static char *joined(const GPtrArray *names)
{
    GString *all = g_string_new(NULL);
    for (guint i = 0; i < names->len; i++)
        g_string_append_printf(all, "%s%s", i > 0 ? ", " : "", (char *)names->pdata[i]);
    return g_string_free(all, FALSE);
}

static DtFigure figure(DtErrorKind kind, int axis, double at, double value, double sd)
{
    return (DtFigure){
        .kind = kind, .axis = axis, .pen = -1, .at = at, .known = TRUE, .value = value, .sd = sd};
}

/* A value that differs from the profile by more than two standard deviations and 0.01 of its unit is
 * told, and the difference counts as an error of the ink; what is as the profile has it does not. */
static void test_each_value_is_held_against_the_profile(void)
{
    const double turn = G_PI / 180;
    const struct {
        DtErrorKind kind;
        int axis;
        double at, value, phase, off;
        const char *told;
    } cases[] = {
        {DT_ERROR_OF_SCALE, 0, NAN, 1.01, 0, 0, ""},
        {DT_ERROR_OF_SCALE, 1, NAN, 0.98, 0, 0, ""},
        {DT_ERROR_OF_SCALE, 0, NAN, 0.98, 0, 0.03, "scale of X"},
        {DT_ERROR_OF_SCALE, 1, NAN, 1.01, 0, 0.03, "scale of Y"},
        {DT_ERROR_OF_SQUARE, -1, NAN, 0.5 * turn, 0, 0, ""},
        {DT_ERROR_OF_SQUARE, -1, NAN, 1.5 * turn, 0, turn, "squareness"},
        {DT_ERROR_OF_BACKLASH, 0, 50, 0.2, 0, 0, ""},
        {DT_ERROR_OF_BACKLASH, 1, NAN, 0.25, 0, 0, ""},
        {DT_ERROR_OF_BACKLASH, 0, 100, 0.2, 0, 0.1, "reversal value of X"},
        {DT_ERROR_OF_BACKLASH, 1, 50, 0.2, 0, 0.05, "reversal value of Y"},
        /* the same everywhere, against a table: where it is farthest off */
        {DT_ERROR_OF_BACKLASH, 0, NAN, 0.1, 0, 0.2, "reversal value of X"},
        {DT_ERROR_OF_BACKLASH, 0, NAN, 0.25, 0, 0.15, "reversal value of X"},
        {DT_ERROR_OF_POSITION, 0, 25, 0.05, 0, 0, ""},
        {DT_ERROR_OF_POSITION, 1, 100, -0.1, 0, 0, ""},
        {DT_ERROR_OF_POSITION, 1, 100, 0.1, 0, 0.2, "mean bidirectional deviation of Y"},
        {DT_ERROR_OF_STRAIGHT, 0, 50, 0.08, 0, 0, ""},
        {DT_ERROR_OF_STRAIGHT, 1, 50, -0.1, 0, 0, ""},
        {DT_ERROR_OF_STRAIGHT, 0, 50, -0.1, 0, 0.18, "straightness of X"},
        {DT_ERROR_OF_TWIST, 0, NAN, 0.08, 0, 0, ""},
        {DT_ERROR_OF_TWIST, 1, 50, 0.06, 0, 0, ""},
        {DT_ERROR_OF_TWIST, 1, 0, 0.06, 0, 0.06, "shift across at a reversal of Y"},
        {DT_ERROR_OF_PULLEY, 0, NAN, 0.2, 40 * turn, 0, ""},
        {DT_ERROR_OF_PULLEY, 1, NAN, 0.3, -70 * turn, 0, ""},
        /* two phasors: a chord of 60 degrees is the radius, one of 180 twice that */
        {DT_ERROR_OF_PULLEY, 0, NAN, 0.2, 100 * turn, 0.2, "pulley off centre of X"},
        {DT_ERROR_OF_PULLEY, 0, NAN, 0.2, -20 * turn, 0.2, "pulley off centre of X"},
        {DT_ERROR_OF_PULLEY, 1, NAN, 0.3, 110 * turn, 0.6, "pulley off centre of Y"},
        /* and a right angle between 0.3 and 0.4 */
        {DT_ERROR_OF_PULLEY, 1, NAN, 0.4, 20 * turn, 0.5, "pulley off centre of Y"},
    };
    g_autoptr(DtProfile) p = profile_of(corrected);
    g_autofree char *sum = dt_truing_drive_sum(p);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        const double sd = 0.004;
        DtFigure f = figure(cases[i].kind, cases[i].axis, cases[i].at, cases[i].value, sd);
        f.value_2 = cases[i].phase;
        g_autofree char *journal = fresh_journal();
        add_sheet(journal, p, 1, sum, &f, 1);
        g_autoptr(DtMeasured) m = measured(journal, p);
        g_autofree char *told = joined(m->different);
        g_assert_cmpstr(told, ==, cases[i].told);
        g_assert_cmpuint(m->figures->n, ==, 1);
        g_assert_cmpfloat_with_epsilon(m->figures->f[0].sd, hypot(sd, cases[i].off), 1e-4);
        g_assert_cmpint(m->sheet, ==, 1);
        g_assert_cmpstr(m->date, ==, "2026-03-01");
    }
}

/* A difference below two standard deviations is noise; one below 0.01 is told only where the sheet
 * itself proposes the value. */
static void test_noise_is_not_told(void)
{
    static const struct {
        double off, sd;
        gboolean proposed, counts, told;
    } cases[] = {
        {0.05, 0.026, TRUE, FALSE, FALSE},  {0.05, 0.024, FALSE, TRUE, TRUE},
        {0.009, 0.001, FALSE, TRUE, FALSE}, {0.009, 0.001, TRUE, TRUE, TRUE},
        {0.011, 0.001, FALSE, TRUE, TRUE},
    };
    g_autoptr(DtProfile) p = profile_of(corrected);
    g_autofree char *sum = dt_truing_drive_sum(p);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtFigure f = figure(DT_ERROR_OF_BACKLASH, 1, NAN, 0.25 + cases[i].off, cases[i].sd);
        f.proposed = cases[i].proposed;
        g_autofree char *journal = fresh_journal();
        add_sheet(journal, p, 1, sum, &f, 1);
        g_autoptr(DtMeasured) m = measured(journal, p);
        g_autofree char *told = joined(m->different);
        g_assert_cmpstr(told, ==, cases[i].told ? "reversal value of Y" : "");
        g_assert_cmpfloat_with_epsilon(
            m->figures->f[0].sd, hypot(cases[i].sd, cases[i].counts ? cases[i].off : 0), 1e-5);
    }
}

/* Older sheets fill in what newer ones have not shown; the newest that shows where ink lies gives the
 * number. A sheet of another drive train, of pens alone or without figures counts for nothing. */
static void test_the_newest_sheet_comes_first(void)
{
    g_autoptr(DtProfile) p = profile_of(corrected);
    g_autofree char *sum = dt_truing_drive_sum(p), *journal = fresh_journal();
    DtFigure one[] = {figure(DT_ERROR_OF_SCALE, 0, NAN, 1.5, 1e-4),
                      figure(DT_ERROR_OF_SCALE, 1, NAN, 0.98, 1e-4),
                      figure(DT_ERROR_OF_PEN_X, -1, NAN, 0.3, 0.01)},
             two[] = {figure(DT_ERROR_OF_SCALE, 0, NAN, 1.01, 1e-4)},
             other[] = {figure(DT_ERROR_OF_SQUARE, -1, NAN, 0.1, 1e-4)},
             pens[] = {figure(DT_ERROR_OF_PEN_X, -1, NAN, 0.3, 0.01)};
    one[2].pen = pens[0].pen = 1;
    g_autoptr(DtMeasured) nothing = measured(journal, p);
    g_assert_cmpint(nothing->sheet, ==, 0);
    g_autofree char *all = joined(nothing->unknown);
    g_assert_cmpstr(all, ==,
                    "scale, squareness, reversal value, scatter of the lost motion, mean "
                    "bidirectional deviation, straightness, pulley off centre, shift across at a "
                    "reversal");
    add_sheet(journal, p, 1, sum, one, 3);
    add_sheet(journal, p, 2, sum, two, 1);
    add_sheet(journal, p, 3, "another", other, 1);
    add_sheet(journal, p, 4, sum, pens, 1);
    add_sheet(journal, p, 5, sum, NULL, 0);
    g_autoptr(DtMeasured) m = measured(journal, p);
    g_assert_cmpint(m->sheet, ==, 2);
    g_assert_cmpstr(m->date, ==, "2026-03-02");
    g_assert_cmpuint(m->figures->n, ==, 2);
    g_assert_cmpint(m->figures->f[0].axis, ==, 0);
    g_assert_cmpfloat(m->figures->f[0].value, ==, 1.01);
    g_assert_cmpint(m->figures->f[1].axis, ==, 1);
    g_autofree char *unknown = joined(m->unknown), *different = joined(m->different);
    g_assert_true(g_str_has_prefix(unknown, "squareness, reversal value, scatter"));
    g_assert_cmpstr(different, ==, "");
    /* where one axis alone is missing, it is named */
    g_autofree char *half = fresh_journal();
    add_sheet(half, p, 1, sum, two, 1);
    g_autoptr(DtMeasured) h = measured(half, p);
    g_assert_cmpstr(h->unknown->pdata[0], ==, "scale of Y");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-measured-XXXXXX", NULL);
    g_test_add_func("/truing/measured/against-profile",
                    test_each_value_is_held_against_the_profile);
    g_test_add_func("/truing/measured/noise", test_noise_is_not_told);
    g_test_add_func("/truing/measured/newest", test_the_newest_sheet_comes_first);
    const int result = g_test_run();
    g_assert_true(folder_remove(folder));
    g_free(folder);
    return result;
}
