/* plans: what is told of a planned job, of a proof, of a test sheet and of what it showed; of figures chosen
 * so that each can be told from every other. */
#include "job.h"
#include "report/size.h"

#include "drawtrue/report.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *path; /* of the drawing */

static void assert_holds(const char *text, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void assert_holds(const char *text, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *wanted = g_strdup_vprintf(format, list);
    va_end(list);
    if (strstr(text, wanted) == NULL)
        g_error("'%s' is not in:\n%s", wanted, text);
}

static void assert_lacks(const char *text, const char *unwanted)
{
    if (strstr(text, unwanted) != NULL)
        g_error("'%s' is in:\n%s", unwanted, text);
}

static void test_a_plan_in_words(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    job_make(p, path, &job);
    g_autofree char *plain = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, FALSE);
    g_assert_true(g_str_has_prefix(plain,
                                   "seeds.svg on A5 landscape (plotter)\n  scale 1: the drawing "
                                   "is 60.3 by 25.3 mm on the paper\n"));
    assert_holds(plain,
                 "  time 12 min 34 s: ink 1 min 41 s, travel 3 min 23 s, lifts 1 min 03 s, slack "
                 "4.0 s, homing 37.0 s\n  plus 1 pen change\n  ink 1.51 m, travel 2.26 m, 9 "
                 "lifts\n");
    assert_holds(plain, "  pen black  0.11 m\n  pen red  0.04 m\n");
    /* Lines of 0.3 mm are drawn by pens of 0.4 mm: where both are grey they are compared as the eye sees them. */
    assert_holds(plain, "  colour #000000  pen black, difference 6.2\n  colour #c8202c  pen red, "
                        "difference 0.0\n");
    assert_lacks(plain, "written to");
    assert_lacks(plain, "drawn twice");
    assert_lacks(plain, "fills one way");
    assert_lacks(plain, "sets the pace");
    job.times.changes = 2;
    job.times.starved = 3;
    job.sequence.retraced = 1;
    job.sequence.retraced_mm = 340;
    job.colours.lost_mm = 12.4;
    job.one_way = (DtOneWay){{200, 250}, {0.2, 0.1}, 1, 0.45};
    g_autofree char *full = dt_report_plan(p, &job, NULL, "seeds.svg", "seeds.nc", FALSE);
    assert_holds(full, "  plus 2 pen changes\n");
    assert_holds(full, "sets the pace: 0.0 s of the time, with 3 stops in mid-stroke\n");
    assert_holds(full, "  0.34 m of the ink is drawn twice to save lifts");
    assert_holds(full, "  fills one way along Y: 4 min 10 s in place of 3 min 20 s (+25 %%)\n");
    assert_holds(full,
                 "up to 0.45 mm, were not corrected: ink off along Y by 0.100 mm in place of 0.200 "
                 "mm, on average\n");
    assert_holds(full, "  12 mm of lines are covered by the ink of other pens\n");
    g_assert_true(g_str_has_suffix(full, "  written to seeds.nc\n"));
    job.one_way = (DtOneWay){{200, 100}, {0, 0}, 0, 0};
    g_autofree char *unknown = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, FALSE);
    assert_holds(unknown,
                 "  fills one way along X: 1 min 40 s in place of 3 min 20 s (-50 %%)\n    no "
                 "lost motion of X is known:");
}

static void test_a_plan_for_programs(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    job_make(p, path, &job);
    job.one_way = (DtOneWay){{200, 250}, {0.2, 0.1}, 1, 0.45};
    g_autofree char *json = dt_report_plan(p, &job, NULL, "seeds.svg", "seeds.nc", TRUE);
    assert_holds(json, "\"art\" : \"seeds.svg\",\n  \"program\" : \"seeds.nc\",\n  \"machine\" : "
                       "\"plotter\",\n  \"paper\" : \"A5 landscape\",\n  \"scale\" : 1.0,\n  "
                       "\"width_mm\" : 60.3,\n  \"height_mm\" : 25.3,\n  \"time_s\" : 754.0,\n  "
                       "\"ink_s\" : 101.0,\n  \"slack_s\" : 4.0,\n  \"travel_s\" : 203.0,\n  "
                       "\"lift_s\" : 63.0,\n  \"home_s\" : 37.0,");
    assert_holds(json, "\"ink_mm\" : 1510.0,\n  \"travel_mm\" : 2260.0,\n  \"lifts\" : 9,\n  "
                       "\"pen_changes\" : 1,");
    assert_holds(json, "\"axis\" : \"Y\",\n    \"lost_mm\" : 0.45,\n    \"time_s\" : 250.0,\n    "
                       "\"both_ways_time_s\" : 200.0,\n    \"uncorrected_error_mm\" : 0.1,\n    "
                       "\"both_ways_uncorrected_error_mm\" : 0.2\n");
    assert_holds(json, "\"strokes\" : %zu,", job.strokes.n);
    assert_holds(json, "\"name\" : \"black\",\n      \"ink_mm\" : 110.0\n");
    assert_holds(json,
                 "\"colour\" : \"#c8202c\",\n      \"pen\" : \"red\",\n      \"coverage\" : 1.0,\n"
                 "      \"across\" : null,");
    assert_lacks(json, "\"budget\"");
}

/* Each note of the colours, in their order, to people and to programs; the first pen of the rack counts too. */
static void test_notes_of_colours(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    job_make(p, path, &job);
    DtInkMatch match = {
        .colour = {0, 0, 0, 1}, .pen = 0, .coverage = 0.5, .across = 0, .across_coverage = 0.25};
    const DtInkReport kept = job.colours;
    job.colours = (DtInkReport){
        .matches = &match, .n = 1, .dense_gradients = 2, .dense_pictures = 1, .faint = 3};
    static const char *const notes[] = {
        "2 gradients are drawn in dense ink, without their tones",
        "1 picture is drawn in dense ink, without its tones",
        "3 translucent paints or overlaps of such hide too little to be drawn"};
    g_autofree char *text = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, FALSE);
    g_autofree char *json = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, TRUE);
    const char *at = text, *at_json = json;
    for (gsize i = 0; i < G_N_ELEMENTS(notes); i++) {
        g_autofree char *line = g_strdup_printf("seeds.svg: %s\n", notes[i]);
        g_autofree char *member = g_strdup_printf("\"seeds.svg: %s\"", notes[i]);
        at = strstr(at, line);
        at_json = strstr(at_json, member);
        g_assert_nonnull(at);
        g_assert_nonnull(at_json);
    }
    assert_holds(json, "\"across\" : \"%s\",\n      \"across_coverage\" : 0.25",
                 p->rack.pens[0].name);
    job.colours = kept;
}

/* Six colours of a pen one by one, the largest first, the rest in a line; what is left out at the end. */
static void test_many_colours(void)
{
    enum { N = 9 };
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    job_make(p, path, &job);
    DtInkMatch matches[N];
    for (int i = 0; i < N; i++)
        matches[i] = (DtInkMatch){.colour = {i / 255.0, 0, 0, 1},
                                  .pen = i == 8 ? -1 : 2,
                                  .coverage = i == 7   ? 0.4
                                              : i == 6 ? 0.004
                                                       : 1,
                                  .across = i == 7 ? 1 : -1,
                                  .across_coverage = 0.25,
                                  .distance = i,
                                  .area_mm2 = i == 8 ? 99 : i + 1};
    const DtInkReport kept = job.colours;
    job.colours = (DtInkReport){.matches = matches, .n = N};
    g_autofree char *text = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, FALSE);
    assert_holds(text, "  colour #070000  pen blue at 40 %%, red at 25 %% across, difference 7.0");
    assert_holds(text, "  colour #060000  pen blue at less than 1 %%, difference 6.0");
    assert_holds(text,
                 "  colour #020000  pen blue, difference 2.0\n  and 2 colours more, difference up "
                 "to 1.0\n  colour #080000  left to the paper\n");
    assert_lacks(text, "#010000");
    job.colours = kept;
}

static void test_a_proof(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    job_make(p, path, &job);
    const DtTimes before = {.total_s = 900};
    const DtProofLook look = {4.25, 2.75, 1.5};
    const DtInspection inspection = {.n_findings = 1, .refused_lines = 2};
    DtProofInput in = {
        .profile = p, .moves = &job.moves, .times = &job.times, .before = &before, .look = &look};
    const DtReportProof r = {
        .source = "seeds.nc", .picture = "seeds.png", .proof = &in, .inspection = &inspection};
    g_autofree char *text = dt_report_proof(&r, FALSE);
    assert_holds(
        text, "seeds.nc on A5 landscape (plotter)\n  difference to the artwork 4.2 at 40 cm, 2.8 "
              "at 2 m (CIEDE2000); L* differs by 1.5\n  time 12 min 34 s, ink 1.51 m, lifts 9, "
              "travel 2.26 m\n");
    assert_holds(text, "  pen black           0.11 m      2 strokes  ");
    assert_holds(text, "  pen red             0.04 m      1 stroke   ");
    assert_lacks(text, "pen blue");
    assert_holds(text,
                 "  in the drawing's own order it would take 15 min 00 s\n  1 finding, 2 lines "
                 "refused: see 'drawtrue inspect seeds.nc'\n  picture in seeds.png\n");
    g_autofree char *json = dt_report_proof(&r, TRUE);
    assert_holds(json, "\"difference_40_cm\" : 4.25,\n    \"difference_2_m\" : 2.75,\n    "
                       "\"lightness_2_m\" : 1.5");
    assert_holds(json, "\"time_in_drawing_order_s\" : 900.0");
    assert_holds(json, "\"findings\" : 1,\n  \"refused_lines\" : 2,");
    assert_holds(json, "\"name\" : \"red\",\n      \"strokes\" : 1,\n      \"ink_mm\" : 40.0,");
}

/* Their parts ------------------------------------------------------------------------------------- */

static void assert_budget(DtBudget b, const char *wanted)
{
    g_autoptr(GString) s = g_string_new(NULL);
    dt_report_add_budget(s, NULL, &b);
    g_assert_cmpstr(s->str, ==, wanted);
}

static void test_what_a_time_limit_cost(void)
{
    DtBudget b = {.asked_s = 600, .full_s = 1200, .spread = 1};
    assert_budget(b, "  within 10 min 00 s as it is, pen changes included\n");
    b.spread = 1.5;
    assert_budget(
        b, "  to stay within 10 min 00 s (20 min 00 s in full, pen changes included): hatches "
           "1.50 times as open\n");
    b.picture_changed = TRUE;
    b.picture = DT_PICTURE_HATCH;
    assert_budget(b, "  to stay within 10 min 00 s (20 min 00 s in full, pen changes included): "
                     "photographs by '--picture hatch', hatches 1.50 times as open\n");
    b.spread = 1;
    assert_budget(b, "  to stay within 10 min 00 s (20 min 00 s in full, pen changes included): "
                     "photographs by '--picture hatch'\n");
}

static const char svg[] = "<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='20mm' "
                          "viewBox='0 0 50 20'><rect x='5' y='4' width='30' height='10'/></svg>";

static DtDrawing *drawing(void)
{
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "a.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    return d;
}

static void test_the_size_on_the_paper(void)
{
    g_autoptr(DtDrawing) d = drawing();
    const struct {
        DtAffine m;
        const char *text;
    } cases[] = {
        {{1, 0, 0, -1, 0, 0}, "  scale 1: the drawing is 30.0 by 10.0 mm on the paper\n"},
        {{0, 2.5, 2.5, 0, 0, 0},
         "  scale 2.5, turned by 90 degrees: the drawing is 30.0 by 10.0 mm on the paper\n"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GString) s = g_string_new(NULL);
        dt_report_add_size(s, NULL, d, &cases[i].m);
        g_assert_cmpstr(s->str, ==, cases[i].text);
    }
}

/* The colours that the ink misses, the largest areas first; a little of a colour is no matter. */
/* A colour that two recipes draw is named once, with all its area and the larger difference. */
static void test_a_colour_without_match_is_named_once(void)
{
    g_autoptr(DtDrawing) d = drawing();
    DtInkMatch matches[] = {{.colour = {1, 0, 0, 1}, .distance = 31, .area_mm2 = 10},
                            {.colour = {0, 1, 0, 1}, .distance = 40, .area_mm2 = 25},
                            {.colour = {1, 0, 0, 1}, .distance = 50, .area_mm2 = 20}};
    const DtInkReport r = {.matches = matches, .n = 3};
    g_autofree char *text = dt_report_caution(d, NULL, &r, 0);
    g_assert_cmpstr(text, ==,
                    "caution: 2 colours have no good match among the pens (55 mm\302\262): #ff0000 "
                    "off by 50, #00ff00 off by 40");
}

static void test_cautions(void)
{
    g_autoptr(DtDrawing) d = drawing();
    DtInkMatch matches[] = {
        {.colour = {1, 0, 0, 1}, .distance = DT_REPORT_FAR_COLOUR + 1, .area_mm2 = 10},
        {.colour = {0, 1, 0, 1}, .distance = DT_REPORT_FAR_COLOUR + 2, .area_mm2 = 30},
        {.colour = {0, 0, 1, 1}, .distance = DT_REPORT_FAR_COLOUR + 3, .area_mm2 = 0.99},
        {.colour = {1, 1, 0, 1}, .distance = DT_REPORT_FAR_COLOUR, .area_mm2 = 50},
        {.colour = {0, 1, 1, 1}, .distance = DT_REPORT_FAR_COLOUR + 4, .area_mm2 = 20},
        {.colour = {1, 0, 1, 1}, .distance = DT_REPORT_FAR_COLOUR + 5, .area_mm2 = 5},
        {.colour = {0, 0, 0, 1}, .distance = DT_REPORT_FAR_COLOUR + 6, .area_mm2 = 1}};
    const DtInkReport one = {.matches = matches, .n = 1}, all = {.matches = matches, .n = 7};
    const DtAffine large = {20.1, 0, 0, -20.1, 0, 0}, usual = {20, 0, 0, -20, 0, 0};
    g_assert_null(dt_report_caution(d, &usual, NULL, 0));
    g_autofree char *enlarged = dt_report_caution(d, &large, &one, 0);
    assert_holds(enlarged, "caution: enlarged 20 times, from a page of 50.0 by 20.0 mm;");
    g_autofree char *far = dt_report_caution(d, &large, &one, 1);
    g_autofree char *one_text = g_strdup_printf(
        "caution: 1 colour has no good match among the pens (10 mm\302\262): #ff0000 "
        "off by %.0f",
        DT_REPORT_FAR_COLOUR + 1.0);
    g_assert_cmpstr(far, ==, one_text);
    g_assert_null(dt_report_caution(d, &large, &one, 2));
    g_autofree char *several = dt_report_caution(d, NULL, &all, 0);
    g_assert_true(g_str_has_prefix(
        several,
        "caution: 5 colours have no good match among the pens (66 mm\302\262): #00ff00 off by "));
    const char *cyan = strstr(several, ", #00ffff off by "),
               *red = strstr(several, ", #ff0000 off by ");
    g_assert_true(cyan != NULL && red != NULL && cyan < red);
    assert_holds(several, ", #ff00ff off by ");
    g_assert_true(g_str_has_suffix(several, ", and others"));
    assert_lacks(several, "#0000ff");
    assert_lacks(several, "#ffff00");
    assert_lacks(several, "#000000");
    g_assert_null(dt_report_caution(d, NULL, &all, 1));
}

static void test_the_figures_of_a_sheet(void)
{
    DtTimes t = {.total_s = 75, .ink_mm = 1234, .lifts = 7, .changes = 1};
    g_autofree char *one = dt_report_sheet_figures(&t);
    g_assert_cmpstr(one, ==, "time 1 min 15 s, ink 1.23 m, 7 lifts, 1 pen change");
    t.changes = 2;
    g_autofree char *two = dt_report_sheet_figures(&t);
    g_assert_cmpstr(two, ==, "time 1 min 15 s, ink 1.23 m, 7 lifts, 2 pen changes");
}

/* Truing ------------------------------------------------------------------------------------------ */

static void add(DtFigure *f, size_t *n, DtErrorKind kind, int axis, double at, double value,
                double sd)
{
    f[(*n)++] = (DtFigure){.kind = kind,
                           .axis = axis,
                           .pen = -1,
                           .at = at,
                           .known = TRUE,
                           .value = value,
                           .sd = sd,
                           .gain_mm = 0.25,
                           .proposed = TRUE};
}

static void test_what_a_sheet_showed(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) sheet = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", 7);
    DtFigure f[16];
    size_t n = 0;
    add(f, &n, DT_ERROR_OF_SCALE, 0, NAN, 1.00125, 0.0001);
    add(f, &n, DT_ERROR_OF_SQUARE, -1, NAN, 0.01, 0.001);
    add(f, &n, DT_ERROR_OF_SPEED, 1, NAN, 10.04, 0.1);
    for (int i = 0; i < 3; i++)
        add(f, &n, DT_ERROR_OF_STRAIGHT, 0, 10 * i, 0.1 * i, 0.01);
    for (int i = 0; i < 4; i++)
        add(f, &n, DT_ERROR_OF_BACKLASH, 1, 10 * i, 0.5 - 0.01 * i, 0.01 * (i + 1));
    f[5].known = FALSE;
    f[4].proposed = FALSE;
    DtFigures figures = {
        .f = f, .n = n, .ink_before_mm = 0.42, .ink_after_mm = 0.08, .notes = (char *)"a note"};
    const DtProfileChange changes[] = {{"corrections", "scale_x", "1.00125", NULL},
                                       {"corrections", "square", "0.573 deg", NULL}};
    DtReportTruing r = {.sheet = sheet,
                        .scans = 2,
                        .figures = &figures,
                        .changes = changes,
                        .n_changes = 2,
                        .written = "my.ini"};
    g_autofree char *text = dt_report_truing(p, &r, FALSE);
    assert_holds(text, "expected ink error, 95 %%: 0.42 mm before, 0.08 mm with");
    f[1].known = FALSE;
    g_autofree char *open = dt_report_truing(p, &r, FALSE);
    f[1].known = TRUE;
    assert_holds(open,
                 "expected ink error without what is unknown, 95 %%: 0.42 mm before, 0.08 mm");
    assert_holds(text, "sheet 7 of plotter, 2026-05-02: 2 scans, 0 of 0 readings by eye\n\n");
    assert_holds(text, "scale                            X                1.00125 +-0.00020 \n");
    assert_holds(text,
                 "squareness                                          0.573 +-0.112 degrees\n");
    assert_holds(text, "speed without lost steps         Y                   10.0 +-0.2 mm/s\n");
    assert_holds(text, "straightness                     X  at 0 mm         0.000 +-0.020 mm\n");
    assert_holds(
        text,
        "X  at 10 mm        0.100 +-0.020 mm   as in the profile, or too close to it to tell\n");
    assert_holds(text, "X  at 20 mm    unknown\n");
    assert_holds(text, "reversal value                   Y  4 places 0.470 to 0.500 +-0.078 mm\n");
    assert_holds(text,
                 "expected ink error, 95 %%: 0.42 mm before, 0.08 mm with these corrections\n");
    assert_holds(text, "\na note\n");
    assert_holds(text, "\nwritten to my.ini\n  [corrections] scale_x = 1.00125\n  [corrections] "
                       "square = 0.573 deg\n'drawtrue true --undo -m "
                       "my.ini' takes it back\n");
    assert_holds(text, "\nlikely causes, those that cost most ink error first:\n 1. Y: ");
    assert_holds(text, "may cost the whole drawing; the profile can correct it\n      repair: ");
    assert_holds(text, "Before a repair: switch off and unplug the machine.\n");
    r.written = NULL;
    r.why_not = "not now";
    r.scans = 1;
    g_autofree char *not_written = dt_report_truing(p, &r, FALSE);
    assert_holds(not_written, ": 1 scan, 0 of 0");
    assert_holds(not_written, "\nwould be written\n  [corrections] scale_x = 1.00125\n  "
                              "[corrections] square = 0.573 deg\nnot now\n");
    assert_lacks(not_written, "--undo");
}

static void test_a_test_sheet(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) sheet =
        dt_sheet_new_blank(p, DT_SHEET_SLACK | DT_SHEET_SQUARE | DT_SHEET_SPEED, "2026-05-02", 7);
    const DtTimes t = {.total_s = 754, .ink_mm = 1510};
    g_autofree char *text = dt_report_test_sheet(p, sheet, &t, "sheet.nc", FALSE);
    assert_holds(text, "sheet 7 of plotter, 2026-05-02: sheet.nc\n  slack    ");
    assert_holds(text, "\n  square   ");
    assert_holds(text, "\n  speed    ");
    assert_lacks(text, "\n  scale    ");
    assert_holds(text,
                 "drawing          12 min 34 s, homing included; paper A5 landscape at 0, 0 mm\n");
    assert_holds(text, "\nturning          ");
    assert_holds(text, "\ncaution          this sheet makes the motors lose steps.");
    assert_holds(text, "\nthen             drawtrue run sheet.nc --port PORT");
    g_autoptr(DtTestSheet) slack = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", 7);
    g_autofree char *short_text = dt_report_test_sheet(p, slack, &t, "sheet.nc", FALSE);
    assert_lacks(short_text, "turning");
    assert_lacks(short_text, "caution");
}

/* A pen that takes time, and a controller without a dwell; nothing is said where either is not so. */
static void test_a_program_that_cannot_wait_is_told(void)
{
    static const char lacks[] =
        "the controller's words lack a dwell (G4), so the program does not wait for the pen, "
        "which takes up to 0.15 s: ink is missing where strokes begin";
    for (int k = 0; k < 3; k++) {
        g_autoptr(DtProfile) p = dt_profile_new();
        g_auto(DtJob) job;
        job_make(p, path, &job);
        if (k > 0) {
            g_free(p->dialect.words);
            p->dialect.words = g_strdup("G0 G1 G21 G28 G90 M0 M2 M3 M5 F S X Y");
        }
        if (k == 2)
            p->drop_s = p->lift_s = 0;
        g_autoptr(DtTestSheet) slack = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", 7);
        g_autofree char *plan = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, FALSE);
        g_autofree char *json = dt_report_plan(p, &job, NULL, "seeds.svg", NULL, TRUE);
        g_autofree char *sheet = dt_report_test_sheet(p, slack, &job.times, "sheet.nc", FALSE);
        const char *const texts[] = {plan, json, sheet};
        for (size_t i = 0; i < G_N_ELEMENTS(texts); i++)
            g_assert_cmpint(strstr(texts[i], lacks) != NULL, ==, k == 1);
    }
}

/* A part of a sheet that could not be laid out is named, and is not where it is on the sheet. */
static void test_what_a_sheet_lacks_is_said(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const DtTimes t = {0};
    const struct {
        DtSheetKind part;
        DtMark mark;
        gboolean lacks_heights, lacks_tones;
    } cases[] = {{DT_SHEET_SETTLE, {.kind = DT_MARK_DASH}, TRUE, FALSE},
                 {DT_SHEET_SETTLE, {.kind = DT_MARK_DASH, .drop_word = 40}, FALSE, FALSE},
                 {DT_SHEET_SETTLE, {.kind = DT_MARK_TONE, .drop_word = 40}, TRUE, FALSE},
                 {DT_SHEET_PENS, {.kind = DT_MARK_DASH}, FALSE, TRUE},
                 {DT_SHEET_PENS, {.kind = DT_MARK_TONE}, FALSE, FALSE},
                 {DT_SHEET_SLACK, {.kind = DT_MARK_DASH}, FALSE, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtTestSheet) sheet = dt_sheet_new_blank(p, cases[i].part, "2026-05-02", 7);
        g_assert_cmpuint(sheet->n, ==, 0);
        sheet->marks = g_memdup2(&cases[i].mark, sizeof(DtMark));
        sheet->n = 1;
        g_autofree char *text = dt_report_test_sheet(p, sheet, &t, "sheet.nc", FALSE);
        g_assert_cmpint(strstr(text, "\ndrop heights ") != NULL, ==, cases[i].lacks_heights);
        g_assert_cmpint(strstr(text, "\ntone steps ") != NULL, ==, cases[i].lacks_tones);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    const int fd = g_file_open_tmp("drawtrue-XXXXXX.svg", &path, NULL);
    g_close(fd, NULL);
    g_test_add_func("/report/plans/words", test_a_plan_in_words);
    g_test_add_func("/report/plans/unwaited", test_a_program_that_cannot_wait_is_told);
    g_test_add_func("/report/plans/json", test_a_plan_for_programs);
    g_test_add_func("/report/plans/colours", test_many_colours);
    g_test_add_func("/report/plans/notes", test_notes_of_colours);
    g_test_add_func("/report/plans/proof", test_a_proof);
    g_test_add_func("/report/budget", test_what_a_time_limit_cost);
    g_test_add_func("/report/size", test_the_size_on_the_paper);
    g_test_add_func("/report/cautions", test_cautions);
    g_test_add_func("/report/cautions/once", test_a_colour_without_match_is_named_once);
    g_test_add_func("/report/sheet", test_the_figures_of_a_sheet);
    g_test_add_func("/report/truing/showed", test_what_a_sheet_showed);
    g_test_add_func("/report/truing/sheet", test_a_test_sheet);
    g_test_add_func("/report/truing/lacks", test_what_a_sheet_lacks_is_said);
    const int result = g_test_run();
    g_unlink(path);
    g_free(path);
    return result;
}
