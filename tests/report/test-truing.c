/* truing: two test sheets side by side and all sheets of a machine, word for word, of figures chosen so that each
 * can be told from every other. */
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

#include <math.h>
#include <string.h>

static void assert_holds(const char *text, const char *wanted)
{
    if (strstr(text, wanted) == NULL)
        g_error("'%s' is not in:\n%s", wanted, text);
}

static DtFigure figure(DtErrorKind kind, int axis, double at, double value, double sd)
{
    return (DtFigure){
        .kind = kind, .axis = axis, .pen = -1, .at = at, .known = TRUE, .value = value, .sd = sd};
}

enum { FIGURES = 8 };

/* Lost motion 0.5 mm and 0.3 mm and positions 0 and -0.3 mm at the ends of X, with a scatter of 0.01 mm to each side;
 * the second sheet has half of these and no scatter. The lost motion of Y is known for the first alone. */
static void make_figures(DtFigure *f, double share)
{
    f[0] = figure(DT_ERROR_OF_BACKLASH, 0, 0, 0.5 * share, 0.01);
    f[1] = figure(DT_ERROR_OF_BACKLASH, 0, 100, 0.3 * share, 0.02);
    f[2] = figure(DT_ERROR_OF_POSITION, 0, 0, 0, 0.1);
    f[3] = figure(DT_ERROR_OF_POSITION, 0, 100, -0.3 * share, 0.1);
    f[4] = figure(DT_ERROR_OF_SCATTER, 0, NAN, 0.01 * G_SQRT2, 0.001);
    f[5] = figure(DT_ERROR_OF_SPEED, 1, NAN, 10.04 * share, 0.1);
    f[6] = figure(DT_ERROR_OF_SQUARE, -1, NAN, 0.01, 0.001);
    f[7] = figure(DT_ERROR_OF_BACKLASH, 1, NAN, 0.7, 0.01);
    f[4].known = f[7].known = share == 1;
}

static char *compare(DtComparison **c, size_t *n, gboolean json)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) before = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", 7);
    g_autoptr(DtTestSheet) after = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-06-03", 12);
    DtFigure fa[FIGURES], fb[FIGURES];
    make_figures(fa, 1);
    make_figures(fb, 0.5);
    const DtFigures a = {.f = fa, .n = FIGURES}, b = {.f = fb, .n = FIGURES};
    *c = dt_truing_compare(&a, &b, n);
    return dt_report_comparison(before, after, *c, *n, &a, &b, json);
}

/* The axis' figures by hand, from the formulas of ISO 230-2: up 0 and -0.3, down 0.5 and 0, means 0.25 and -0.15;
 * then half of that. */
static void test_two_sheets_side_by_side(void)
{
    size_t n;
    g_autofree DtComparison *c = NULL;
    g_autofree char *text = compare(&c, &n, FALSE);
    g_assert_cmpstr(text, ==,
                    "plotter: sheet 7 of 2026-05-02 and sheet 12 of 2026-06-03\n"
                    "\n"
                    "                                             7                    12\n"
                    "reversal value                   X       0.400 +-0.029         0.200 +-0.029  "
                    "  mm       better\n"
                    "mean bidirectional deviation     X       0.150 +-0.196         0.075 +-0.196  "
                    "  mm       no difference that this measurement can detect\n"
                    "scatter of the lost motion       X       0.014 +-0.002             -          "
                    "  mm       measured on one of them only\n"
                    "speed without lost steps         Y        10.0 +-0.2             5.0 +-0.2    "
                    "  mm/s     worse\n"
                    "squareness                               0.573 +-0.112         0.573 +-0.112  "
                    "  degrees  no difference that this measurement can detect\n"
                    "reversal value                   Y       0.700 +-0.020             -          "
                    "  mm       measured on one of them only\n"
                    "\n"
                    "+- is the 95 % interval; a verdict is given where the two differ by more than "
                    "chance explains in 5 of 100 cases\n"
                    "\n"
                    "by the formulas of ISO 230-2:\n"
                    "reversal value B                 X      0.500                  0.250 mm\n"
                    "mean bidirectional deviation M   X      0.400                  0.200 mm\n"
                    "bidirectional repeatability R    X      0.540                  0.250 mm\n"
                    "bidirectional accuracy A         X      0.840                  0.400 mm\n");
}

/* Two pens apart, and no axis to work anything out for. */
static void test_pens_are_told_apart(void)
{
    size_t n;
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_PENS, "2026-05-02", 7);
    DtFigure f[] = {figure(DT_ERROR_OF_PEN_X, 0, NAN, 0.4, 0.01),
                    figure(DT_ERROR_OF_PEN_X, 0, NAN, -0.2, 0.01),
                    figure(DT_ERROR_OF_TIP_WIDTH, -1, NAN, 0.35, 0.03)};
    const DtFigures all = {.f = f, .n = G_N_ELEMENTS(f)};
    f[0].pen = 1;
    f[1].pen = 2;
    f[2].pen = 0;
    g_autofree DtComparison *c = dt_truing_compare(&all, &all, &n);
    g_autofree char *text = dt_report_comparison(s, s, c, n, &all, &all, FALSE);
    static const char *const same = "  mm       no difference that this measurement can detect\n";
    g_autofree char *wanted = g_strdup_printf(
        "\n"
        "pen 2: pen's place along X               0.400 +-0.020         0.400 +-0.020  %s"
        "pen 3: pen's place along X              -0.200 +-0.020        -0.200 +-0.020  %s"
        "pen 1: width of the line                 0.350 +-0.059         0.350 +-0.059  %s"
        "\n",
        same, same, same);
    assert_holds(text, wanted);
    g_assert_true(g_str_has_suffix(text, "explains in 5 of 100 cases\n"));
    g_autofree char *json = dt_report_comparison(s, s, c, n, &all, &all, TRUE);
    assert_holds(json, "\"axis\" : \"x\",\n      \"pen\" : 2,\n      \"before\" : -0.2,");
}

static DtSheetRecord record_of(gint64 number, gboolean begun, gboolean drawn, const DtFigures *f)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", number);
    return (DtSheetRecord){.number = number,
                           .at = 86400.0 * (double)number,
                           .machine = (char *)"workshop",
                           .sheet = dt_sheet_to_json(s),
                           .readings = (char *)(f ? "{\"spot\": 3}" : ""),
                           .figures = f ? dt_figures_to_json(f) : g_strdup(""),
                           .begun = begun,
                           .drawn = drawn};
}

/* Of a sheet that was read, the mean of each figure over its places. */
static void test_all_sheets(void)
{
    DtFigure f[FIGURES];
    make_figures(f, 1);
    const DtFigures figures = {.f = f, .n = FIGURES};
    g_autoptr(GArray) records = g_array_new(FALSE, FALSE, sizeof(DtSheetRecord));
    g_autofree char *none = dt_report_sheets_log(records, FALSE);
    g_assert_cmpstr(none, ==, "no test sheet yet\n");
    DtSheetRecord all[] = {record_of(1, FALSE, FALSE, NULL), record_of(2, TRUE, FALSE, NULL),
                           record_of(3, TRUE, TRUE, NULL), record_of(4, TRUE, TRUE, &figures),
                           record_of(5, TRUE, FALSE, NULL)};
    g_free(all[4].sheet);
    all[4].sheet = g_strdup("no sheet");
    g_array_append_vals(records, all, G_N_ELEMENTS(all));
    g_autofree char *text = dt_report_sheets_log(records, FALSE);
    g_assert_cmpstr(text, ==,
                    "workshop, sheet 1 of 2026-05-02: not drawn by 'drawtrue run'\n"
                    "workshop, sheet 2 of 2026-05-02: broken off\n"
                    "workshop, sheet 3 of 2026-05-02: drawn, not read yet\n"
                    "workshop, sheet 4 of 2026-05-02: drawn and read\n"
                    "      reversal value                   X      0.400 +-0.029 mm\n"
                    "      mean bidirectional deviation     X      0.150 +-0.196 mm\n"
                    "      scatter of the lost motion       X      0.014 +-0.002 mm\n"
                    "      speed without lost steps         Y       10.0 +-0.2 mm/s\n"
                    "      squareness                              0.573 +-0.112 degrees\n"
                    "      reversal value                   Y      0.700 +-0.020 mm\n"
                    "workshop, sheet 5 of ?: broken off\n");
    g_autofree char *json = dt_report_sheets_log(records, TRUE);
    assert_holds(json,
                 "\"sheets\" : [\n    {\n      \"machine\" : \"workshop\",\n      \"sheet\" : 1,\n"
                 "      \"made\" : 86400.0,\n      \"drawn\" : false,\n"
                 "      \"readings\" : null,\n      \"result\" : null\n    },");
    assert_holds(json, "\"sheet\" : 4,\n      \"made\" : 345600.0,\n      \"drawn\" : true,\n"
                       "      \"readings\" : {\n        \"spot\" : 3\n      },\n"
                       "      \"result\" : {\n");
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++) {
        g_free(all[i].sheet);
        g_free(all[i].figures);
    }
}

static void test_two_sheets_for_programs(void)
{
    size_t n;
    g_autofree DtComparison *c = NULL;
    g_autofree char *json = compare(&c, &n, TRUE);
    g_assert_cmpstr(json, ==,
                    "{\n"
                    "  \"machine\" : \"plotter\",\n"
                    "  \"before\" : 7,\n"
                    "  \"after\" : 12,\n"
                    "  \"figures\" : [\n"
                    "    {\n"
                    "      \"figure\" : \"backlash\",\n"
                    "      \"axis\" : \"x\",\n"
                    "      \"before\" : 0.4,\n"
                    "      \"before_standard_uncertainty\" : 0.015,\n"
                    "      \"after\" : 0.2,\n"
                    "      \"after_standard_uncertainty\" : 0.015,\n"
                    "      \"verdict\" : \"better\"\n"
                    "    },\n"
                    "    {\n"
                    "      \"figure\" : \"position\",\n"
                    "      \"axis\" : \"x\",\n"
                    "      \"before\" : 0.15,\n"
                    "      \"before_standard_uncertainty\" : 0.1,\n"
                    "      \"after\" : 0.075,\n"
                    "      \"after_standard_uncertainty\" : 0.1,\n"
                    "      \"verdict\" : \"same\"\n"
                    "    },\n"
                    "    {\n"
                    "      \"figure\" : \"scatter\",\n"
                    "      \"axis\" : \"x\",\n"
                    "      \"before\" : 0.0141,\n"
                    "      \"before_standard_uncertainty\" : 0.001,\n"
                    "      \"after\" : null,\n"
                    "      \"after_standard_uncertainty\" : null,\n"
                    "      \"verdict\" : \"unknown\"\n"
                    "    },\n"
                    "    {\n"
                    "      \"figure\" : \"speed\",\n"
                    "      \"axis\" : \"y\",\n"
                    "      \"before\" : 10.04,\n"
                    "      \"before_standard_uncertainty\" : 0.1,\n"
                    "      \"after\" : 5.02,\n"
                    "      \"after_standard_uncertainty\" : 0.1,\n"
                    "      \"verdict\" : \"worse\"\n"
                    "    },\n"
                    "    {\n"
                    "      \"figure\" : \"square\",\n"
                    "      \"axis\" : null,\n"
                    "      \"before\" : 0.01,\n"
                    "      \"before_standard_uncertainty\" : 0.001,\n"
                    "      \"after\" : 0.01,\n"
                    "      \"after_standard_uncertainty\" : 0.001,\n"
                    "      \"verdict\" : \"same\"\n"
                    "    },\n"
                    "    {\n"
                    "      \"figure\" : \"backlash\",\n"
                    "      \"axis\" : \"y\",\n"
                    "      \"before\" : 0.7,\n"
                    "      \"before_standard_uncertainty\" : 0.01,\n"
                    "      \"after\" : null,\n"
                    "      \"after_standard_uncertainty\" : null,\n"
                    "      \"verdict\" : \"unknown\"\n"
                    "    }\n"
                    "  ]\n"
                    "}\n");
}

/* The lines of figures in what a sheet showed. */
static char *told_of(DtFigure *f, size_t n)
{
    static const char head[] = "sheet 7 of plotter, 2026-05-02: 0 of 0 readings by eye\n\n";
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) sheet = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", 7);
    const DtFigures figures = {.f = f, .n = n};
    const DtReportTruing r = {.sheet = sheet, .figures = &figures};
    g_autofree char *text = dt_report_truing(p, &r, FALSE);
    char *end = strstr(text, "\n+- is the 95 % interval");
    g_assert_true(g_str_has_prefix(text, head) && end != NULL);
    return g_strndup(text + strlen(head), (gsize)(end - text) - strlen(head));
}

/* One of each kind that is told in its own way: with as many decimals as its unit needs, with a pen in place of an
 * axis, and with a remark. Curves of more than three places are one line; what is unknown of them does not count. */
static void test_figures_in_words(void)
{
    static const struct {
        DtErrorKind kind;
        int axis, pen;
        gboolean known, proposed;
        double value, sd;
        const char *wanted;
    } cases[] = {
        {DT_ERROR_OF_ACCELERATION, 0, -1, TRUE, TRUE, 150.4, 5,
         "acceleration without lost steps  X                    150 +-10 mm/s2\n"},
        {DT_ERROR_OF_PULL_IN, 1, -1, TRUE, TRUE, 3.04, 0.05,
         "pull-in without lost steps       Y                    3.0 +-0.1 mm/s\n"},
        {DT_ERROR_OF_DROP_WORD, -1, 0, TRUE, TRUE, 40.04, 0.5,
         "S that drops the pen                black            40.0 +-1.0 \n"},
        {DT_ERROR_OF_DOT_GAIN, -1, 0, TRUE, FALSE, 1.504, 0.05,
         "dot gain (n of Yule and Nielsen)    black            1.50 +-0.10    as in the profile, "
         "or too close to it to tell\n"},
        {DT_ERROR_OF_RINGING, 0, -1, TRUE, TRUE, 0.2, 0.01,
         "ringing                          X                  0.200 +-0.020 mm   behind each "
         "sudden stop, at 8 Hz\n"},
        {DT_ERROR_OF_RINGING, 1, -1, TRUE, TRUE, 0, 0.01,
         "ringing                          Y                  0.000 +-0.020 mm   no oscillation "
         "stands out of the noise\n"},
        {DT_ERROR_OF_MEAN_REVERSAL, 1, -1, TRUE, FALSE, 0.3, 0.01,
         "mean reversal value              Y                  0.300 +-0.020 mm\n"},
        {DT_ERROR_OF_SCALE, 1, -1, FALSE, TRUE, 7, 7,
         "scale                            Y              unknown\n"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtFigure f = figure(cases[i].kind, cases[i].axis, NAN, cases[i].value, cases[i].sd);
        f.pen = cases[i].pen;
        f.known = cases[i].known;
        f.proposed = cases[i].proposed;
        f.value_2 = 8.4;
        g_autofree char *text = told_of(&f, 1);
        g_assert_cmpstr(text, ==, cases[i].wanted);
    }
    DtFigure curve[5];
    for (int i = 0; i < 5; i++) {
        curve[i] = figure(DT_ERROR_OF_BACKLASH, 0, 10 * i, 0.5 - 0.01 * i, 0.01 * (i + 1));
        curve[i].proposed = i == 2;
    }
    g_autofree char *whole = told_of(curve, 5);
    g_assert_cmpstr(whole, ==,
                    "reversal value                   X  5 places 0.460 to 0.500 +-0.098 mm\n");
    curve[0].known = curve[4].known = FALSE;
    g_autofree char *part = told_of(curve, 5);
    g_assert_cmpstr(
        part, ==, "reversal value                   X  3 of 5 places 0.470 to 0.490 +-0.078 mm\n");
    curve[2].proposed = FALSE;
    g_autofree char *alike = told_of(curve, 5);
    g_assert_cmpstr(alike, ==,
                    "reversal value                   X  3 of 5 places 0.470 to 0.490 +-0.078 mm   "
                    "as in the profile, or too close to it to tell\n");
    for (int i = 0; i < 5; i++)
        curve[i].known = FALSE;
    g_autofree char *unknown = told_of(curve, 5);
    g_assert_cmpstr(unknown, ==, "reversal value                   X  5 places  unknown\n");
}

/* The shares of a figure that become ink error are those of src/truing/diagnose.c: 1.15 of a scatter, half of a play, what
 * a curve gains by its correction, nothing told where steps are lost. */
static void test_causes_in_words(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) sheet = dt_sheet_new_blank(p, DT_SHEET_SCAN, "2026-05-02", 7);
    DtFigure f[] = {figure(DT_ERROR_OF_SCATTER, 0, NAN, 0.1, 0.01),
                    figure(DT_ERROR_OF_TIP_PLAY, -1, NAN, 0.6, 0.1),
                    figure(DT_ERROR_OF_SPEED, 1, NAN, p->speed[1] / 2, 0.1),
                    figure(DT_ERROR_OF_SQUARE, -1, NAN, 0.01, 0.001)};
    f[1].pen = 0;
    f[3].proposed = TRUE;
    f[3].gain_mm = 0.2;
    const DtFigures figures = {.f = f, .n = G_N_ELEMENTS(f)};
    const DtReportTruing r = {.sheet = sheet, .figures = &figures};
    g_autofree char *text = dt_report_truing(p, &r, FALSE);
    const char *causes = strstr(text, "\nlikely causes");
    g_assert_nonnull(causes);
    g_assert_cmpstr(
        causes, ==,
        "\n"
        "likely causes, those that cost most ink error first:\n"
        " 1. Y: steps are lost above a speed: the motor has too little torque\n"
        "      may cost the whole drawing; the profile can correct it\n"
        "      repair: check the supply's voltage under load; until then drive slower\n"
        " 2. the tip has play in its holder\n"
        "      ink error up to 0.300 +-0.196 mm (95 %); only a repair helps\n"
        "      repair: clamp the pen, or line the holder\n"
        " 3. the axes are not square to each other\n"
        "      ink error up to 0.200 mm (95 %); the profile can correct it\n"
        "      repair: square the frame by its diagonals\n"
        " 4. X: the slack differs from one reversal to the next: something binds or rubs\n"
        "      ink error up to 0.115 +-0.020 mm (95 %); only a repair helps\n"
        "      repair: clean and grease the rails, and look for a cord that rubs or a knot that "
        "catches\n"
        "Before a repair: switch off and unplug the machine.\n");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/report/truing/compared", test_two_sheets_side_by_side);
    g_test_add_func("/report/truing/pens", test_pens_are_told_apart);
    g_test_add_func("/report/truing/compared-json", test_two_sheets_for_programs);
    g_test_add_func("/report/truing/log", test_all_sheets);
    g_test_add_func("/report/truing/figures", test_figures_in_words);
    g_test_add_func("/report/truing/causes", test_causes_in_words);
    return g_test_run();
}
