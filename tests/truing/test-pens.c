/* truing: pens by a scan and by the virtual machine, whose pens sit differently in the holder and have tips of
 * other widths than the profile says; and sheets pooled. */
#include "with-pens.h"
#include "drawtrue/truing.h"
#include "support/eye-reader.h"
#include "support/truing-machine.h"

#include <math.h>
#include <string.h>

static const char pens[] = "[pen black]\ncolour = #1c1c1c\ntip = 0.4 mm\n"
                           "[pen green]\ncolour = #2e7d32\ntip = 0.4 mm\noffset = 0.30, 0 mm\n"
                           "[pen red]\ncolour = #b5482f\ntip = 0.6 mm\n";
static const char truth_pens[] = "[pens]\nblack = #1c1c1c 0.4\ngreen = #2e7d32 0.6 0.35 -0.20\n"
                                 "red = #b5482f 0.6 -0.62 0.41\n";

static const DtFigure *find(const DtFigures *f, DtErrorKind kind, int pen)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].pen == pen)
            return &f->f[i];
    return NULL;
}

static void check(const DtFigures *f, DtErrorKind kind, int pen, double truth, double within)
{
    const DtFigure *g = find(f, kind, pen);
    g_assert_true(g != NULL && g->known);
    g_assert_cmpfloat_with_epsilon(g->value, truth, within);
    g_assert_cmpfloat(fabs(g->value - truth), <, 4 * g->sd);
}

static const char *value_of(const DtProfileChange *c, size_t n, const char *section,
                            const char *key)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(c[i].section, section) == 0 && strcmp(c[i].key, key) == 0)
            return c[i].value;
    return NULL;
}

/* What two scans of a sheet tell, the places of the pens among it as they are. */
static DtFigures *figures_of_two_scans(TruthMachine *m, DtRig *rig, const DtTestSheet *s,
                                       const DtProfile *p)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtScan) one = scan_of(m, rig, s, 0, 0.6, "");
    g_assert_false(dt_scan_measure_card(one, s, NULL)); /* there is none on it */
    g_autoptr(DtScan) two = scan_of(m, rig, s, 1, 0.6, "");
    const DtScan *scans[] = {one, two};
    const DtEvidence e = {.sheet = s, .scans = scans, .n_scans = 2};
    DtFigures *f = dt_truing_solve(p, &e, NULL, &error);
    g_assert_no_error(error);
    check(f, DT_ERROR_OF_PEN_X, 1, 0.35, 0.03);
    check(f, DT_ERROR_OF_PEN_Y, 1, -0.20, 0.03);
    check(f, DT_ERROR_OF_PEN_X, 2, -0.62, 0.03);
    check(f, DT_ERROR_OF_PEN_Y, 2, 0.41, 0.03);
    return f;
}

static void test_pens_are_told_by_a_scan(void)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, 77, 210, 148);
    m.play = 0.005;
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s =
        dt_sheet_new(p, DT_SHEET_SCAN | DT_SHEET_PENS, "2026-03-14", 9, &error);
    g_assert_no_error(error);
    g_autoptr(DtRig) rig = draw_with_pens(&m, truth_pens, s, p);
    g_autoptr(DtFigures) f = figures_of_two_scans(&m, rig, s, p);
    check(f, DT_ERROR_OF_TIP_WIDTH, 0, 0.4, 0.06);
    check(f, DT_ERROR_OF_TIP_WIDTH, 1, 0.6, 0.06);
    check(f, DT_ERROR_OF_TIP_WIDTH, 2, 0.6, 0.06);
    g_assert_null(find(f, DT_ERROR_OF_PEN_X, 0));
    size_t n;
    DtProfileChange *c = dt_truing_changes(p, s, f, &n);
    g_assert_nonnull(value_of(c, n, "pen green", "tip"));
    g_assert_null(value_of(c, n, "pen black", "tip"));
    g_assert_null(value_of(c, n, "pen red", "tip"));
    g_assert_true(g_str_has_prefix(value_of(c, n, "pen red", "offset"), "-0.6"));
    dt_truing_free_changes(c, n);
    /* a first pen's machine is told as without them */
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == DT_ERROR_OF_BACKLASH)
            g_assert_cmpfloat_with_epsilon(
                f->f[i].value, truth_table_at(&m.slack[f->f[i].axis], f->f[i].at), 0.045);
}

/* By eye a vernier of 0.05 mm tells each offset; the first pair of lines of a ladder with paper between them tells the
 * tip, to 0.1 mm. */
static void test_pens_are_told_by_eye(void)
{
    static const char machine[] =
        "[machine]\nname = bench\n[paper]\nsize = A5 landscape\nat = 5, 5 mm\n"
        "margin = 8 mm\n",
                      truth[] = "[truth]\nwave = 0\n[pen]\nmerge = 0.0005\n"
                                "[pens]\nblack = #1c1c1c 0.4\ngreen = #2e7d32 0.6 0.35 -0.20\nred "
                                "= #b5482f 0.6 -0.52 0.41\n";
    g_autoptr(GError) error = NULL;
    g_autofree char *profile = g_strconcat(machine, pens, NULL);
    g_autoptr(DtProfile) p = dt_profile_read_data(profile, strlen(profile), "test", &error);
    g_assert_no_error(error);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_PENS, "2026-03-14", 9, &error);
    g_assert_no_error(error);
    gsize len = 0;
    g_autofree char *program = dt_sheet_write(s, p, &len, &error);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    EyeReader eye;
    eye_reader_init(&eye, s, rig, 5);
    eye.vernier_error = 0;
    DtEyeReadings *r = dt_eye_readings_new(s);
    eye_reader_read(&eye, r);
    g_assert_true(dt_eye_readings_take(r, "W1=4", &error));
    g_assert_true(dt_eye_readings_take(r, "W2=6", &error));
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    check(f, DT_ERROR_OF_PEN_X, 1, 0.35, 0.03);
    check(f, DT_ERROR_OF_PEN_Y, 1, -0.20, 0.03);
    check(f, DT_ERROR_OF_PEN_X, 2, -0.52, 0.03);
    check(f, DT_ERROR_OF_PEN_Y, 2, 0.41, 0.03);
    check(f, DT_ERROR_OF_TIP_WIDTH, 0, 0.4, 0.051);
    check(f, DT_ERROR_OF_TIP_WIDTH, 1, 0.6, 0.051);
    g_assert_true(find(f, DT_ERROR_OF_TIP_WIDTH, 1)->proposed);
    g_assert_false(find(f, DT_ERROR_OF_TIP_WIDTH, 0)->proposed);
    g_assert_null(find(f, DT_ERROR_OF_TIP_WIDTH, 2)); /* nobody said */
    g_assert_null(find(f, DT_ERROR_OF_PEN_X, 0));
    dt_eye_readings_free(r);
    eye_reader_clear(&eye);
}

static guint marks_of(const DtTestSheet *s, DtMarkKind kind, uint16_t pen)
{
    guint n = 0;
    for (size_t i = 0; i < s->n; i++)
        n += s->marks[i].kind == kind && s->marks[i].pen == pen;
    return n;
}

/* On narrow paper the strokes of a pen stand in rows below each other. */
static void test_upright_a5_has_room_for_three_pens(void)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, 78, 148, 210);
    m.play = 0.005;
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s =
        dt_sheet_new(p, DT_SHEET_SCAN | DT_SHEET_PENS, "2026-03-14", 9, &error);
    g_assert_no_error(error);
    for (uint16_t pen = 0; pen < 3; pen++)
        g_assert_cmpuint(marks_of(s, DT_MARK_TONE, pen), >, 20);
    g_autoptr(DtRig) rig = draw_with_pens(&m, truth_pens, s, p);
    g_autoptr(DtFigures) f = figures_of_two_scans(&m, rig, s, p);
    check(f, DT_ERROR_OF_TIP_WIDTH, 1, 0.6, 0.06);
}

/* Tone steps are left out before a pen is; then the message says how many fit. */
static void test_too_many_pens_for_the_paper_are_counted(void)
{
    TruthMachine m;
    truth_draw(&m, 78, 148, 210);
    GString *many = g_string_new(NULL);
    for (int i = 0; i < 16; i++) {
        g_string_append_printf(many, "[pen p%d]\ncolour = #1c1c%02x\ntip = 0.4 mm\n", i, 28 + i);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtProfile) p = profile_with_pens(&m, many->str);
        g_autoptr(DtTestSheet) s =
            dt_sheet_new(p, DT_SHEET_SCAN | DT_SHEET_PENS, "2026-03-14", 9, &error);
        g_assert_true((s != NULL) == (i < 5));
        if (s == NULL)
            g_assert_nonnull(strstr(error->message, "room for 5 of the"));
    }
    g_string_free(many, TRUE);
}

/* A scan asks nothing by eye of the pens. */
static void test_a_sheet_for_scans_asks_for_the_rule_alone(void)
{
    TruthMachine m;
    truth_draw(&m, 77, 210, 148);
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s =
        dt_sheet_new(p, DT_SHEET_SCAN | DT_SHEET_PENS, "2026-03-14", 9, NULL);
    size_t n;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    for (size_t i = 0; i < n; i++)
        g_assert_cmpint(asks[i].kind, ==, DT_ASK_RULE);
}

/* Pooling ---------------------------------------------------------------------------------------- */

static void add(DtFigures *f, DtErrorKind kind, double at, double value, double sd)
{
    f->f = g_renew(DtFigure, f->f, f->n + 1);
    f->f[f->n++] = (DtFigure){
        .kind = kind, .axis = 0, .pen = -1, .at = at, .known = TRUE, .value = value, .sd = sd};
}

/* By hand: weights 1/0.01^2 and 1/0.02^2, that is 4 to 1: 0.2 and 0.21 make 0.202 +- 0.00894. */
static void test_two_sheets_that_agree_are_pooled(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1), older = g_new0(DtFigures, 1);
    add(f, DT_ERROR_OF_BACKLASH, 10, 0.20, 0.01);
    add(f, DT_ERROR_OF_BACKLASH, 100, 0.30, 0.01);
    add(older, DT_ERROR_OF_BACKLASH, 10, 0.21, 0.02);
    add(older, DT_ERROR_OF_BACKLASH, 100, 0.29, 0.02);
    g_assert_cmpuint(dt_figures_pool(f, older), ==, 1);
    g_assert_cmpfloat_with_epsilon(f->f[0].value, 0.202, 1e-12);
    g_assert_cmpfloat_with_epsilon(f->f[0].sd, 0.01 * sqrt(0.8), 1e-12);
    g_assert_cmpfloat_with_epsilon(f->f[1].value, 0.298, 1e-12);
}

/* What both sheets may share does not become less. By hand: 0.2 +- 0.01 and 0.21 +- 0.01, of which 0.008 is shared and
 * 0.006 is not, make 0.205 +- sqrt(0.006^2 / 2 + 0.008^2). */
static void test_what_sheets_share_remains(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1), older = g_new0(DtFigures, 1);
    add(f, DT_ERROR_OF_POSITION, 10, 0.20, 0.01);
    add(f, DT_ERROR_OF_PULLEY, NAN, 0.20, 0.01);
    add(older, DT_ERROR_OF_POSITION, 10, 0.21, 0.01);
    add(older, DT_ERROR_OF_PULLEY, NAN, 0.21, 0.01);
    for (int i = 0; i < 2; i++)
        f->f[i].sd_shared = older->f[i].sd_shared = 0.008;
    g_assert_cmpuint(dt_figures_pool(f, older), ==, 2);
    for (int i = 0; i < 2; i++) {
        g_assert_cmpfloat_with_epsilon(f->f[i].value, 0.205, 1e-12);
        g_assert_cmpfloat_with_epsilon(f->f[i].sd, sqrt(82e-6), 1e-12);
        g_assert_cmpfloat_with_epsilon(f->f[i].sd_shared, 0.008, 1e-12);
    }
    /* a third one: the shared part is still the same, so the weights are 2 to 1 */
    f->n = older->n = 1;
    older->f[0].value = 0.211;
    g_assert_cmpuint(dt_figures_pool(f, older), ==, 1);
    g_assert_cmpfloat_with_epsilon(f->f[0].value, 0.207, 1e-12);
    g_assert_cmpfloat_with_epsilon(f->f[0].sd, sqrt(76e-6), 1e-12);
}

/* By hand: the variances 1 and 16 with the covariance 0.8 * 3.2 would give the worse sheet a negative weight. */
static void test_a_worse_sheet_does_not_spoil_a_better_one(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1), older = g_new0(DtFigures, 1);
    add(f, DT_ERROR_OF_POSITION, 10, 0.20, 0.01);
    add(older, DT_ERROR_OF_POSITION, 10, 0.23, 0.04);
    f->f[0].sd_shared = 0.008;
    older->f[0].sd_shared = 0.032;
    g_assert_cmpuint(dt_figures_pool(f, older), ==, 1);
    g_assert_cmpfloat(f->f[0].value, ==, 0.20);
    g_assert_cmpfloat_with_epsilon(f->f[0].sd, 0.01, 1e-12);
}

static void test_what_was_repaired_is_not_pooled(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1), older = g_new0(DtFigures, 1);
    add(f, DT_ERROR_OF_BACKLASH, 10, 0.20, 0.01);
    add(f, DT_ERROR_OF_SCALE, NAN, 1.001, 0.0002);
    add(older, DT_ERROR_OF_BACKLASH, 10, 0.31, 0.01); /* before the gear was set */
    add(older, DT_ERROR_OF_SCALE, NAN, 1.0012, 0.0002);
    g_assert_cmpuint(dt_figures_pool(f, older), ==, 1);
    g_assert_cmpfloat(f->f[0].value, ==, 0.20);
    g_assert_cmpfloat(f->f[0].sd, ==, 0.01);
    g_assert_cmpfloat_with_epsilon(f->f[1].value, 1.0011, 1e-12);
}

/* Half a turn and back: a pulley's error is pooled as a vector. */
static void test_a_sine_is_pooled_by_its_parts(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1), older = g_new0(DtFigures, 1);
    add(f, DT_ERROR_OF_PULLEY, NAN, 0.1, 0.01);
    add(older, DT_ERROR_OF_PULLEY, NAN, 0.1, 0.01);
    f->f[0].value_2 = G_PI - 0.1;
    older->f[0].value_2 = -G_PI + 0.1;
    g_assert_cmpuint(dt_figures_pool(f, older), ==, 1);
    g_assert_cmpfloat_with_epsilon(f->f[0].value, 0.1 * cos(0.1), 1e-12);
    g_assert_cmpfloat_with_epsilon(fabs(f->f[0].value_2), G_PI, 1e-9);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/pens/eye", test_pens_are_told_by_eye);
    g_test_add_func("/pens/upright", test_upright_a5_has_room_for_three_pens);
    g_test_add_func("/pens/too-many", test_too_many_pens_for_the_paper_are_counted);
    g_test_add_func("/pens/scan", test_pens_are_told_by_a_scan);
    g_test_add_func("/pens/asks", test_a_sheet_for_scans_asks_for_the_rule_alone);
    g_test_add_func("/pool/agree", test_two_sheets_that_agree_are_pooled);
    g_test_add_func("/pool/shared", test_what_sheets_share_remains);
    g_test_add_func("/pool/worse", test_a_worse_sheet_does_not_spoil_a_better_one);
    g_test_add_func("/pool/repaired", test_what_was_repaired_is_not_pooled);
    g_test_add_func("/pool/sine", test_a_sine_is_pooled_by_its_parts);
    return g_test_run();
}
