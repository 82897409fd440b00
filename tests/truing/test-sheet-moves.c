/* sheet-moves: marks are drawn where they say, each after a reversal of its own, whatever the profile
 * believes; on the virtual machine two marks at one place, approached from both sides, lie apart by
 * the slack. */
#include "drawtrue/rig.h"
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

static const char corrected[] = "[motion]\ntravel_x = 300 mm\ntravel_y = 220 mm\n"
                                "[corrections]\nscale_x = 1.01\nsquare = 0.5 deg\n"
                                "backlash_x = 0.3 mm\nbacklash_y = 0.2 mm\n";

static DtProfile *read_profile(const char *text)
{
    GError *error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

/* Two marks at one place along X, approached from both sides. */
static DtTestSheet *pair_sheet(const DtProfile *p)
{
    DtTestSheet *s = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-03-14", 7);
    for (int side = 1; side >= -1; side -= 2) {
        DtMark m = dt_sheet_mark(DT_MARK_COMB, DT_SHEET_SLACK, 0, dt_point(100, side > 0 ? 80 : 84),
                                 dt_point(100, side > 0 ? 83 : 87));
        m.approach[0] = side;
        dt_sheet_add(s, &m);
    }
    return s;
}

static void test_each_mark_has_its_own_reversal(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = pair_sheet(p);
    g_auto(DtMoves) m = {0};
    g_assert_true(dt_sheet_moves(s, p, &m, NULL));
    static const struct {
        DtMoveKind kind;
        double x, y;
    } want[] = {
        {DT_MOVE_PEN_UP, 0, 0},     {DT_MOVE_HOME, 0, 0},        {DT_MOVE_TRAVEL, 100, 80},
        {DT_MOVE_TRAVEL, 98.5, 80}, {DT_MOVE_TRAVEL, 100, 80},   {DT_MOVE_PEN_DOWN, 100, 80},
        {DT_MOVE_DRAW, 100, 83},    {DT_MOVE_PEN_UP, 100, 83},   {DT_MOVE_TRAVEL, 101.5, 84},
        {DT_MOVE_TRAVEL, 100, 84},  {DT_MOVE_PEN_DOWN, 100, 84}, {DT_MOVE_DRAW, 100, 87},
        {DT_MOVE_PEN_UP, 100, 87},  {DT_MOVE_TRAVEL, 0, 0},      {DT_MOVE_END, 0, 0},
    };
    g_assert_cmpuint(m.n, ==, G_N_ELEMENTS(want));
    for (size_t i = 0; i < m.n; i++) {
        g_assert_cmpint(m.m[i].kind, ==, want[i].kind);
        g_assert_cmpfloat(m.m[i].to.x, ==, want[i].x);
        g_assert_cmpfloat(m.m[i].to.y, ==, want[i].y);
    }
}

static void test_corrections_change_no_command(void)
{
    g_autoptr(DtProfile) plain = dt_profile_new(), known = read_profile(corrected);
    g_autoptr(DtTestSheet) s = pair_sheet(plain);
    g_auto(DtMoves) a = {0}, b = {0};
    g_assert_true(dt_sheet_moves(s, plain, &a, NULL) && dt_sheet_moves(s, known, &b, NULL));
    g_assert_cmpuint(a.n, ==, b.n);
    for (size_t i = 0; i < a.n; i++) {
        g_assert_cmpfloat(a.m[i].to.x, ==, b.m[i].to.x);
        g_assert_cmpfloat(a.m[i].to.y, ==, b.m[i].to.y);
    }
    /* only where the profile takes the ink to be */
    g_assert_cmpfloat(a.m[6].ink.x, ==, 100);
    g_assert_cmpfloat_with_epsilon(b.m[6].ink.x, 101 + 83 * sin(0.5 * G_PI / 180), 1e-9);
}

static void test_an_overrun_is_more_than_the_slack(void)
{
    g_autoptr(DtProfile) plain = dt_profile_new();
    g_autoptr(DtProfile) loose = read_profile("[corrections]\nbacklash_x = 2 mm\n");
    g_autoptr(DtTestSheet) a = dt_sheet_new_blank(plain, 0, "2026-03-14", 1);
    g_autoptr(DtTestSheet) b = dt_sheet_new_blank(loose, 0, "2026-03-14", 1);
    g_assert_cmpfloat(a->overrun, ==, 1.5);
    g_assert_cmpfloat(b->overrun, ==, 3);
}

static void test_a_mark_beyond_the_travel_is_refused(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, 0, "2026-03-14", 1);
    DtMark m = dt_sheet_mark(DT_MARK_COMB, DT_SHEET_SLACK, 0, dt_point(1, 10), dt_point(1, 13));
    m.approach[0] = 1; /* its overrun would begin at -0.5 */
    dt_sheet_add(s, &m);
    g_auto(DtMoves) moves = {0};
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_sheet_moves(s, p, &moves, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "x -0.50"));
    g_assert_cmpuint(moves.n, ==, 0);
}

/* By the number that a person counts, of mark and pen. */
static void test_a_mark_of_a_pen_that_is_not_there_is_refused(void)
{
    g_autoptr(DtProfile) p = read_profile("[pen black]\ntip = 0.4 mm\n[pen red]\ntip = 0.6 mm\n");
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, 0, "2026-03-14", 1);
    for (int pen = 1; pen <= 2; pen++) {
        DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_PENS, -1, dt_point(20, 20 + 5 * pen),
                                 dt_point(25, 20 + 5 * pen));
        m.pen = (uint16_t)pen;
        dt_sheet_add(s, &m);
    }
    g_autoptr(GError) error = NULL;
    g_auto(DtMoves) moves = {0};
    g_assert_false(dt_sheet_moves(s, p, &moves, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpstr(error->message, ==, "mark 2 of the sheet wants pen 3 of a rack of 2");
    g_assert_cmpuint(moves.n, ==, 0);
}

static void test_the_virtual_machine_shows_the_slack(void)
{
    GError *error = NULL;
    g_autoptr(DtProfile) p = read_profile(corrected);
    g_autoptr(DtTestSheet) s = pair_sheet(p);
    gsize len = 0;
    g_autofree char *program = dt_sheet_write(s, p, &len, &error);
    g_assert_no_error(error);
    g_autoptr(DtRig) rig =
        dt_rig_new_from_text("[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = "
                             "0.34\nbacklash_y = 0.2\nwave = 0\n",
                             "test", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    g_assert_cmpuint(dt_rig_stroke_count(rig), ==, 2);
    const DtRigStroke up = dt_rig_stroke(rig, 0), down = dt_rig_stroke(rig, 1);
    g_assert_cmpfloat_with_epsilon(up.xy[0], 100, 0.01);
    g_assert_cmpfloat_with_epsilon(down.xy[0], 100.34, 0.01);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    g_assert_cmpuint(f.lines_refused, ==, 0);
}

/* Waits of a mark's own stand in the program in place of the profile's. */
static void test_a_mark_has_its_own_waits(void)
{
    g_autoptr(DtProfile) p = read_profile("[lift]\nlift_time = 0.2 s\ndrop_time = 0.3 s\n");
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, 0, "2026-03-14", 1);
    DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_SETTLE, -1, dt_point(20, 20), dt_point(25, 20));
    m.drop_s = 0.05;
    m.lift_s = -1;
    dt_sheet_add(s, &m);
    g_autoptr(GError) error = NULL;
    g_autofree char *program = dt_sheet_write(s, p, NULL, &error);
    g_assert_no_error(error);
    g_assert_nonnull(strstr(program, "P0.05\n"));
    g_assert_null(strstr(program, "P0.3"));
    const char *drawn = strstr(program, "P0.05\n");
    g_assert_null(strstr(drawn + 1, "G4")); /* neither after the mark nor later */
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/sheet-moves/reversals", test_each_mark_has_its_own_reversal);
    g_test_add_func("/sheet-moves/raw", test_corrections_change_no_command);
    g_test_add_func("/sheet-moves/overrun", test_an_overrun_is_more_than_the_slack);
    g_test_add_func("/sheet-moves/pen", test_a_mark_of_a_pen_that_is_not_there_is_refused);
    g_test_add_func("/sheet-moves/travel", test_a_mark_beyond_the_travel_is_refused);
    g_test_add_func("/sheet-moves/rig", test_the_virtual_machine_shows_the_slack);
    g_test_add_func("/sheet-moves/waits", test_a_mark_has_its_own_waits);
    return g_test_run();
}
