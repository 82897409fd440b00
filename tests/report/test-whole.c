/* whole: reports with everything that they can have, word for word and field for field, of figures chosen so that
 * each can be told from every other. */
#include "job.h"
#include "report/expected.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *path; /* of the drawing */

static const DtInkMatch matches[] = {
    {.colour = {0.2, 0.4, 0.6, 1},
     .pen = 2,
     .coverage = 0.4,
     .across = 1,
     .across_coverage = 0.25,
     .distance = 7.5,
     .before = 9.5,
     .area_mm2 = 12},
    {.colour = {0, 1, 0, 1},
     .pen = 1,
     .coverage = 1,
     .across = -1,
     .across_coverage = 0.75,
     .distance = 45.5,
     .before = 46.5,
     .area_mm2 = 34},
    {.colour = {1, 1, 1, 1}, .pen = -1, .across = -1, .area_mm2 = 56},
    {.colour = {0, 0, 0, 1}, .pen = 0, .coverage = 1, .across = -1, .area_mm2 = 7}};

static const DtBudget budget = {.asked_s = 0.5, .full_s = 1200, .spread = 1.25};
static const DtOneWay one_way = {{200, 250}, {0.2, 0.1}, 1, 0.45};
static const DtExpectation expectation = {0.123, 0.456, {78, 90}};

typedef struct {
    DtMeasured measured;
    DtReportTrueness trueness;
} Trueness;

static void trueness_make(Trueness *t)
{
    t->measured = (DtMeasured){.sheet = 7,
                               .date = (char *)"2026-05-02",
                               .unknown = g_ptr_array_new(),
                               .different = g_ptr_array_new()};
    g_ptr_array_add(t->measured.unknown, (char *)"straightness of X");
    g_ptr_array_add(t->measured.unknown, (char *)"gear of Y");
    g_ptr_array_add(t->measured.different, (char *)"scale of Y");
    t->trueness = (DtReportTrueness){&t->measured, NULL, &expectation};
}

static void trueness_clear(Trueness *t)
{
    g_ptr_array_unref(t->measured.unknown);
    g_ptr_array_unref(t->measured.different);
}

static void add_note(DtDrawing *d, int line, const char *text)
{
    d->notes = g_renew(DtArtNote, d->notes, d->n_notes + 1);
    d->notes[d->n_notes++] = (DtArtNote){.line = line, .text = g_strdup(text)};
}

/* Of the second pen all is drawn as centre lines. */
static void make_full(const DtProfile *p, DtJob *job)
{
    job_make(p, path, job);
    add_note(job->drawing, 3, "a filter is left out");
    add_note(job->drawing, 5, "so is a mask");
    job->placed = (DtAffine){0, 21, -21, 0, 0, 0};
    job->times.change_s = 90;
    job->times.held_up_s = 2.5;
    job->times.starved = 3;
    job->sequence.retraced = 1;
    job->sequence.retraced_mm = 340;
    for (size_t i = 0; i < job->moves.n; i++)
        job->times.at_s[i] = 2 * (double)i;
    job->budget = budget;
    job->one_way = one_way;
    for (size_t i = 0; i < job->strokes.n; i++)
        if (job->strokes.strokes[i].pen == 1)
            job->strokes.strokes[i].kind = DT_INK_CENTRE;
}

/* The fields of a JSON text one behind the other, without line ends and indentation; `json` is freed. */
static char *squeezed(char *json)
{
    g_autoptr(GRegex) gaps = g_regex_new("\\n *", 0, 0, NULL);
    g_autofree char *whole = json;
    return g_regex_replace_literal(gaps, whole, -1, 0, " ", 0, NULL);
}

static void test_a_plan(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    Trueness t;
    make_full(p, &job);
    trueness_make(&t);
    const DtInkReport kept = job.colours;
    job.colours =
        (DtInkReport){.matches = (DtInkMatch *)matches, .n = G_N_ELEMENTS(matches), .lost_mm = 1};
    g_autofree char *text = dt_report_plan(p, &job, &t.trueness, "seeds.svg", "seeds.nc", FALSE);
    g_assert_cmpstr(
        text, ==,
        "seeds.svg on A5 landscape (plotter)\n"
        "  scale 21, turned by 90 degrees: the drawing is 60.3 by 25.3 mm on the paper\n"
        "  time 12 min 34 s: ink 1 min 41 s, travel 3 min 23 s, lifts 1 min 03 s, slack 4.0 s, "
        "homing 37.0 s\n"
        "  the wire at 115200 bit/s, not the motors, sets the pace: 2.5 s of the time, with 3 "
        "stops in mid-stroke\n"
        "  plus 1 pen change\n"
        "  to stay within 0.5 s (20 min 00 s in full, pen changes included): hatches 1.25 times as "
        "open\n"
        "  fills one way along Y: 4 min 10 s in place of 3 min 20 s (+25 %)\n"
        "    if the lost motion, up to 0.45 mm, were not corrected: ink off along Y by 0.100 mm in "
        "place of 0.200 mm, on average\n"
        "  ink 1.51 m, travel 2.26 m, 9 lifts\n"
        "  0.34 m of the ink is drawn twice to save lifts (--no-retrace: never)\n"
        "  pen black  0.11 m\n"
        "  pen red  0.04 m: its tip is wider than all that it draws\n"
        "  expected ink error at least 0.123 mm (95 % of the ink), largest 0.456 mm; least certain "
        "at X 78, Y 90 mm of the bed (sheet 7, 2026-05-02)\n"
        "    not measured, and not counted: straightness of X, gear of Y; 'drawtrue sheet scan' "
        "and two scans show it\n"
        "    the profile differs from what the sheets show, which is counted: scale of Y; "
        "'drawtrue true' corrects it\n"
        "  colour #000000  pen black, difference 0.0\n"
        "  colour #00ff00  pen red, difference 45.5: no pen of the rack is near this colour\n"
        "  colour #336699  pen blue at 40 %, red at 25 % across, difference 7.5\n"
        "  colour #ffffff  left to the paper\n"
        "  1 mm of lines are covered by the ink of other pens\n"
        "seeds.svg: caution: enlarged 21 times, from a page of 80.0 by 60.0 mm; corners and steps "
        "of its outlines may show\n"
        "seeds.svg: caution: 1 colour has no good match among the pens (34 mm\302\262): #00ff00 "
        "off by 46\n"
        "seeds.svg:3: a filter is left out\n"
        "seeds.svg:5: so is a mask\n"
        "  written to seeds.nc\n");
    job.budget.spread = 2;
    g_autofree char *json =
        squeezed(dt_report_plan(p, &job, &t.trueness, "seeds.svg", "seeds.nc", TRUE));
    g_assert_cmpstr(
        json, ==,
        "{ \"art\" : \"seeds.svg\", \"program\" : \"seeds.nc\", \"machine\" : \"plotter\", "
        "\"paper\" : \"A5 landscape\", \"scale\" : 21.0, \"width_mm\" : 60.3, \"height_mm\" : "
        "25.3, \"time_s\" : 754.0, \"ink_s\" : 101.0, \"slack_s\" : 4.0, \"travel_s\" : 203.0, "
        "\"lift_s\" : 63.0, \"home_s\" : 37.0, \"change_s\" : 90.0, \"held_up_s\" : 2.5, "
        "\"starved\" : 3, \"ink_mm\" : 1510.0, \"travel_mm\" : 2260.0, \"lifts\" : 9, "
        "\"pen_changes\" : 1, \"retraced_mm\" : 340.0, \"budget\" : { \"asked_s\" : 0.5, "
        "\"full_s\" : 1200.0, \"spread\" : 2.0, \"picture\" : null }, \"one_way\" : { \"axis\" : "
        "\"Y\", \"lost_mm\" : 0.45, \"time_s\" : 250.0, \"both_ways_time_s\" : 200.0, "
        "\"uncorrected_error_mm\" : 0.1, \"both_ways_uncorrected_error_mm\" : 0.2 }, "
        "\"expected_ink_error\" : { \"measured\" : true, \"p95_mm\" : 0.123, \"largest_mm\" : "
        "0.456, \"least_certain_at_mm\" : [ 78.0, 90.0 ], \"of_the_program_alone\" : false, "
        "\"sheet\" : 7, \"date\" : \"2026-05-02\", \"not_measured\" : [ \"straightness of X\", "
        "\"gear of Y\" ], \"not_corrected\" : [ \"scale of Y\" ] }, \"strokes\" : 3, \"pens\" : [ "
        "{ \"name\" : \"black\", \"ink_mm\" : 110.0 }, { \"name\" : \"red\", \"ink_mm\" : 40.0 } "
        "], \"colours\" : [ { \"colour\" : \"#336699\", \"pen\" : \"blue\", \"coverage\" : 0.4, "
        "\"across\" : \"red\", \"across_coverage\" : 0.25, \"difference\" : 7.5, "
        "\"difference_dense\" : 9.5, \"area_mm2\" : 12.0 }, { \"colour\" : \"#00ff00\", \"pen\" : "
        "\"red\", \"coverage\" : 1.0, \"across\" : null, \"across_coverage\" : 0.0, \"difference\" "
        ": 45.5, \"difference_dense\" : 46.5, \"area_mm2\" : 34.0 }, { \"colour\" : \"#ffffff\", "
        "\"pen\" : null, \"coverage\" : 0.0, \"across\" : null, \"across_coverage\" : 0.0, "
        "\"difference\" : 0.0, \"difference_dense\" : 0.0, \"area_mm2\" : 56.0 }, { \"colour\" : "
        "\"#000000\", \"pen\" : \"black\", \"coverage\" : 1.0, \"across\" : null, "
        "\"across_coverage\" : 0.0, \"difference\" : 0.0, \"difference_dense\" : 0.0, \"area_mm2\" "
        ": 7.0 } ], \"covered_mm\" : 1.0, \"unseen_mm\" : 0.0, \"notes\" : [ \"seeds.svg: caution: "
        "enlarged 21 times, from a page of 80.0 by "
        "60.0 mm; corners and steps of its outlines may show\", \"seeds.svg: caution: 1 colour has "
        "no good match among the pens (34 mm\302\262): #00ff00 off by 46\", \"seeds.svg:3: a "
        "filter is left out\", \"seeds.svg:5: so is a mask\" ] } ");
    job.colours = kept;
    trueness_clear(&t);
}

/* A proof of a drawing, and of a program. */
static void test_a_proof(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    Trueness t;
    make_full(p, &job);
    trueness_make(&t);
    const DtTimes before = {.total_s = 900};
    const DtProofLook look = {4.25, 2.75, 1.5};
    const DtInspection inspection = {.n_findings = 3, .refused_lines = 1};
    const DtInkReport colours = {.matches = (DtInkMatch *)matches, .n = G_N_ELEMENTS(matches)};
    DtProofInput in = {.profile = p,
                       .drawing = job.drawing,
                       .moves = &job.moves,
                       .times = &job.times,
                       .before = &before,
                       .one_way = &one_way,
                       .look = &look};
    DtReportProof r = {.source = "seeds.svg",
                       .picture = "seeds.png",
                       .proof = &in,
                       .colours = &colours,
                       .placed = &job.placed,
                       .budget = &budget,
                       .inspection = &inspection,
                       .trueness = &t.trueness};
    g_autofree char *text = dt_report_proof(&r, FALSE);
    g_assert_cmpstr(
        text, ==,
        "seeds.svg on A5 landscape (plotter)\n"
        "  scale 21, turned by 90 degrees: the drawing is 60.3 by 25.3 mm on the paper\n"
        "  difference to the artwork 4.2 at 40 cm, 2.8 at 2 m (CIEDE2000); L* differs by 1.5\n"
        "  to stay within 0.5 s (20 min 00 s in full, pen changes included): hatches 1.25 times as "
        "open\n"
        "  time 12 min 34 s, ink 1.51 m, lifts 9, travel 2.26 m\n"
        "  the wire at 115200 bit/s, not the motors, sets the pace: 2.5 s of the time, with 3 "
        "stops in mid-stroke\n"
        "  pen black           0.11 m      2 strokes  18.0 s\n"
        "  pen red             0.04 m      1 stroke   10.0 s\n"
        "  expected ink error at least 0.123 mm (95 % of the ink), largest 0.456 mm; least certain "
        "at X 78, Y 90 mm of the bed (sheet 7, 2026-05-02)\n"
        "    not measured, and not counted: straightness of X, gear of Y; 'drawtrue sheet scan' "
        "and two scans show it\n"
        "    the profile differs from what the sheets show, which is counted: scale of Y; "
        "'drawtrue true' corrects it\n"
        "  colour #000000  pen black, difference 0.0\n"
        "  colour #00ff00  pen red, difference 45.5: no pen of the rack is near this colour\n"
        "  colour #336699  pen blue at 40 %, red at 25 % across, difference 7.5\n"
        "  colour #ffffff  left to the paper\n"
        "  in the drawing's own order it would take 15 min 00 s\n"
        "  fills one way along Y: 4 min 10 s in place of 3 min 20 s (+25 %)\n"
        "    if the lost motion, up to 0.45 mm, were not corrected: ink off along Y by 0.100 mm in "
        "place of 0.200 mm, on average\n"
        "  3 findings, 1 line refused: see 'drawtrue inspect seeds.svg'\n"
        "  picture in seeds.png\n"
        "seeds.svg: caution: enlarged 21 times, from a page of 80.0 by 60.0 mm; corners and steps "
        "of its outlines may show\n"
        "seeds.svg: caution: 1 colour has no good match among the pens (34 mm\302\262): #00ff00 "
        "off by 46\n"
        "seeds.svg:3: a filter is left out\n"
        "seeds.svg:5: so is a mask\n");
    g_autofree char *json = squeezed(dt_report_proof(&r, TRUE));
    g_assert_cmpstr(
        json, ==,
        "{ \"source\" : \"seeds.svg\", \"picture\" : \"seeds.png\", \"machine\" : \"plotter\", "
        "\"paper\" : \"A5 landscape\", \"scale\" : 21.0, \"width_mm\" : 60.3, \"height_mm\" : "
        "25.3, \"look\" : { \"difference_40_cm\" : 4.25, \"difference_2_m\" : 2.75, "
        "\"lightness_2_m\" : 1.5 }, \"budget\" : { \"asked_s\" : 0.5, \"full_s\" : 1200.0, "
        "\"spread\" : 1.25, \"picture\" : null }, \"time_s\" : 754.0, \"ink_s\" : 101.0, "
        "\"slack_s\" : 4.0, \"travel_s\" : 203.0, \"lift_s\" : 63.0, \"home_s\" : 37.0, "
        "\"change_s\" : 90.0, \"held_up_s\" : 2.5, \"starved\" : 3, \"ink_mm\" : 1510.0, "
        "\"travel_mm\" : 2260.0, \"lifts\" : 9, \"pen_changes\" : 1, \"time_in_drawing_order_s\" : "
        "900.0, \"expected_ink_error\" : { \"measured\" : true, \"p95_mm\" : 0.123, \"largest_mm\" "
        ": 0.456, \"least_certain_at_mm\" : [ 78.0, 90.0 ], \"of_the_program_alone\" : false, "
        "\"sheet\" : 7, \"date\" : \"2026-05-02\", \"not_measured\" : [ \"straightness of X\", "
        "\"gear of Y\" ], \"not_corrected\" : [ \"scale of Y\" ] }, \"one_way\" : { \"axis\" : "
        "\"Y\", \"lost_mm\" : 0.45, \"time_s\" : 250.0, \"both_ways_time_s\" : 200.0, "
        "\"uncorrected_error_mm\" : 0.1, \"both_ways_uncorrected_error_mm\" : 0.2 }, \"findings\" "
        ": 3, \"refused_lines\" : 1, \"pens\" : [ { \"name\" : \"black\", \"strokes\" : 2, "
        "\"ink_mm\" : 110.0, \"ink_s\" : 4.0, \"slack_s\" : 0.0, \"travel_s\" : 6.0, \"lift_s\" : "
        "8.0 }, { \"name\" : \"red\", \"strokes\" : 1, \"ink_mm\" : 40.0, \"ink_s\" : 2.0, "
        "\"slack_s\" : 0.0, \"travel_s\" : 4.0, \"lift_s\" : 4.0 } ], \"colours\" : [ { \"colour\" "
        ": \"#336699\", \"pen\" : \"blue\", \"coverage\" : 0.4, \"across\" : \"red\", "
        "\"across_coverage\" : 0.25, \"difference\" : 7.5, \"difference_dense\" : 9.5, "
        "\"area_mm2\" : 12.0 }, { \"colour\" : \"#00ff00\", \"pen\" : \"red\", \"coverage\" : 1.0, "
        "\"across\" : null, \"across_coverage\" : 0.0, \"difference\" : 45.5, \"difference_dense\" "
        ": 46.5, \"area_mm2\" : 34.0 }, { \"colour\" : \"#ffffff\", \"pen\" : null, \"coverage\" : "
        "0.0, \"across\" : null, \"across_coverage\" : 0.0, \"difference\" : 0.0, "
        "\"difference_dense\" : 0.0, \"area_mm2\" : 56.0 }, { \"colour\" : \"#000000\", \"pen\" : "
        "\"black\", \"coverage\" : 1.0, \"across\" : null, \"across_coverage\" : 0.0, "
        "\"difference\" : 0.0, \"difference_dense\" : 0.0, \"area_mm2\" : 7.0 } ], \"covered_mm\" "
        ": 0.0, \"unseen_mm\" : 0.0, \"notes\" : [ "
        "\"seeds.svg: caution: enlarged 21 times, from a page of 80.0 by 60.0 mm; corners and "
        "steps of its outlines may show\", \"seeds.svg: caution: 1 colour has no good match among "
        "the pens (34 mm\302\262): #00ff00 off by 46\", \"seeds.svg:3: a filter is left out\", "
        "\"seeds.svg:5: so is a mask\" ] } ");
    trueness_clear(&t);
}

/* Where a drawing was not placed its size is not known; of a program there is no drawing. */
static void test_a_proof_without_a_place(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    make_full(p, &job);
    for (int drawing = 0; drawing < 2; drawing++) {
        DtProofInput in = {.profile = p,
                           .drawing = drawing ? job.drawing : NULL,
                           .moves = &job.moves,
                           .times = &job.times};
        const DtReportProof r = {.source = "seeds.nc",
                                 .picture = "seeds.png",
                                 .proof = &in,
                                 .placed = drawing ? NULL : &job.placed};
        for (int json = 0; json < 2; json++) {
            g_autofree char *said = dt_report_proof(&r, json);
            g_assert_null(strstr(said, "scale"));
            g_assert_true((strstr(said, "so is a mask") != NULL) == drawing);
        }
    }
}

static DtJobSheet sheet_of(unsigned column, unsigned row, double seconds)
{
    return (DtJobSheet){.job = {.times = {.total_s = seconds,
                                          .ink_mm = 1000 * seconds,
                                          .lifts = (size_t)seconds,
                                          .changes = column}},
                        .column = column,
                        .row = row};
}

static void test_several_sheets(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job;
    make_full(p, &job);
    DtJobSheet sheets[] = {sheet_of(2, 1, 12), sheet_of(1, 2, 34)};
    const DtJobSheets all = {.drawing = job.drawing,
                             .colours = {.matches = (DtInkMatch *)matches, .n = 1},
                             .sheets = sheets,
                             .n = 2,
                             .columns = 2,
                             .rows = 3};
    const char *const files[] = {"one.nc", "two.nc"};
    Trueness t;
    trueness_make(&t);
    g_autofree char *text = dt_report_sheets(p, &all, &t.trueness, "seeds.svg", TRUE, files, FALSE);
    g_assert_cmpstr(
        text, ==,
        "seeds.svg on 2 by 3 sheets of A5 landscape (plotter)\n"
        "  sheet 1 (column 2, row 1 from above): time 12.0 s, ink 12.00 m, 12 lifts, 2 pen "
        "changes\n"
        "  expected ink error at least 0.123 mm (95 % of the ink), largest 0.456 mm; least certain "
        "at X 78, Y 90 mm of the bed (sheet 7, 2026-05-02)\n"
        "    not measured, and not counted: straightness of X, gear of Y; 'drawtrue sheet scan' "
        "and two scans show it\n"
        "    the profile differs from what the sheets show, which is counted: scale of Y; "
        "'drawtrue true' corrects it\n"
        "  sheet 2 (column 1, row 2 from above): time 34.0 s, ink 34.00 m, 34 lifts, 1 pen change\n"
        "  expected ink error at least 0.123 mm (95 % of the ink), largest 0.456 mm; least certain "
        "at X 78, Y 90 mm of the bed (sheet 7, 2026-05-02)\n"
        "    not measured, and not counted: straightness of X, gear of Y; 'drawtrue sheet scan' "
        "and two scans show it\n"
        "    the profile differs from what the sheets show, which is counted: scale of Y; "
        "'drawtrue true' corrects it\n"
        "  colour #336699  pen blue at 40 %, red at 25 % across, difference 7.5\n"
        "seeds.svg:3: a filter is left out\n"
        "seeds.svg:5: so is a mask\n"
        "  written to one.nc\n"
        "  written to two.nc\n"
        "  align the sheets by their crosses\n");
    g_autofree char *json =
        squeezed(dt_report_sheets(p, &all, NULL, "seeds.svg", TRUE, files, TRUE));
    g_assert_cmpstr(
        json, ==,
        "{ \"art\" : \"seeds.svg\", \"machine\" : \"plotter\", \"paper\" : \"A5 landscape\", "
        "\"columns\" : 2, \"rows\" : 3, \"sheets\" : [ { \"program\" : \"one.nc\", \"column\" : 2, "
        "\"row\" : 1, \"time_s\" : 12.0, \"ink_s\" : 0.0, \"slack_s\" : 0.0, \"travel_s\" : 0.0, "
        "\"lift_s\" : 0.0, \"home_s\" : 0.0, \"change_s\" : 0.0, \"held_up_s\" : 0.0, \"starved\" "
        ": 0, \"ink_mm\" : 12000.0, \"travel_mm\" : 0.0, \"lifts\" : 12, \"pen_changes\" : 2 }, { "
        "\"program\" : \"two.nc\", \"column\" : 1, \"row\" : 2, \"time_s\" : 34.0, \"ink_s\" : "
        "0.0, \"slack_s\" : 0.0, \"travel_s\" : 0.0, \"lift_s\" : 0.0, \"home_s\" : 0.0, "
        "\"change_s\" : 0.0, \"held_up_s\" : 0.0, \"starved\" : 0, \"ink_mm\" : 34000.0, "
        "\"travel_mm\" : 0.0, \"lifts\" : 34, \"pen_changes\" : 1 } ], \"colours\" : [ { "
        "\"colour\" : \"#336699\", \"pen\" : \"blue\", \"coverage\" : 0.4, \"across\" : \"red\", "
        "\"across_coverage\" : 0.25, \"difference\" : 7.5, \"difference_dense\" : 9.5, "
        "\"area_mm2\" : 12.0 } ], \"covered_mm\" : 0.0, \"unseen_mm\" : 0.0, \"notes\" : [ "
        "\"seeds.svg:3: a filter is left out\", "
        "\"seeds.svg:5: so is a mask\" ] } ");
    const DtReportTrueness none = {0}; /* nothing is known: said once, of the first sheet */
    g_autofree char *unknown = dt_report_sheets(p, &all, &none, "seeds.svg", TRUE, files, FALSE);
    g_assert_true(g_str_has_prefix(
        unknown, "seeds.svg on 2 by 3 sheets of A5 landscape (plotter)\n"
                 "  sheet 1 (column 2, row 1 from above): time 12.0 s, ink 12.00 m, 12 "
                 "lifts, 2 pen changes\n"
                 "  expected ink error unknown: this machine has not been measured; "
                 "'drawtrue sheet' makes a test sheet\n"
                 "  sheet 2 (column 1, row 2 from above): time 34.0 s, ink 34.00 m, 34 "
                 "lifts, 1 pen change\n"
                 "  colour #336699"));
    const char *const picture[] = {"all.png", NULL}; /* of all sheets, instead of programs */
    g_autofree char *proof = dt_report_sheets(p, &all, NULL, "seeds.svg", FALSE, picture, FALSE);
    g_assert_true(g_str_has_suffix(
        proof, "so is a mask\n  written to all.png\n  align the sheets by their crosses\n"));
    g_autofree char *proof_json =
        squeezed(dt_report_sheets(p, &all, NULL, "seeds.svg", FALSE, picture, TRUE));
    g_assert_nonnull(strstr(proof_json, "\"rows\" : 3, \"picture\" : \"all.png\", \"sheets\" : [ { "
                                        "\"column\" : 2, "));
    trueness_clear(&t);
}

static void test_a_machine(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->speed[0] = 16;
    p->speed[1] = 12;
    p->steps_per_mm[0] = 50;
    p->steps_per_mm[1] = 80;
    p->motor_a[0] = p->motor_a[1] = 0.25;
    p->servo_a = 0.375;
    p->board_a = 0.125;
    p->supply_v = 5;
    p->supply_a = 1; /* exactly what is needed */
    g_autofree char *text = dt_report_machine(p, FALSE);
    g_assert_cmpstr(
        text, ==,
        "machine          plotter (built-in profile)\n"
        "travel           x 300 mm, y 220 mm\n"
        "steps per mm     x 50.0000, so the finest step is 0.0200 mm\n"
        "  note           the drive train would make 99.7968; the profile's own number is used\n"
        "steps per mm     y 80.0000, so the finest step is 0.0125 mm\n"
        "  note           the drive train would make 99.7968; the profile's own number is used\n"
        "fastest          x 16 mm/s, y 12 mm/s, at 45 degrees 17.0 mm/s, at best 20.0 mm/s\n"
        "                 that is 960 half steps a second at most\n"
        "corner to corner 13.2 s with the pen up over A5 landscape (210 by 148 mm)\n"
        "reach            x 0.00 to 300.00 mm, y 0.00 to 220.00 mm for every pen, corrections "
        "applied\n"
        "wire             115200 bit/s: a move of 28 bytes takes 2.4 ms; where moves shorter than\n"
        "                 0.05 mm follow one another, the wire and not the motors sets the pace\n"
        "homing           20 s on average; 3 s from home, 68 s from the far corner\n"
        "pen              lift 0.1 s, drop 0.15 s\n"
        "pens             black, 0.4 mm\n"
        "                 red, 0.4 mm\n"
        "                 blue, 0.4 mm\n"
        "supply           motors 0.25 + 0.25 A, servo 0.38 A, board 0.12 A: 1.00 A at 5 V (5.0 W)\n"
        "                 the supply gives 1 A; with a quarter in reserve it should give 1.25 A\n"
        "  caution        this supply has little in reserve\n"
        "  caution        a computer's port is not a supply: a USB 2.0 port is meant for 0.5 A at "
        "most.\n"
        "                 Feed the motors from a supply of their own with a fuse, and leave work\n"
        "                 on mains voltage to a qualified person, by your local rules.\n"
        "  caution        keep fingers, hair and sleeves away from cords and pulleys while it is "
        "on\n");
    g_autofree char *json = squeezed(dt_report_machine(p, TRUE));
    g_assert_cmpstr(
        json, ==,
        "{ \"name\" : \"plotter\", \"travel_mm\" : [ 300.0, 220.0 ], \"steps_per_mm\" : [ 50.0, "
        "80.0 ], \"drive_steps_per_mm\" : [ 99.7968, 99.7968 ], \"finest_step_mm\" : [ 0.02, 0.013 "
        "], \"speed_mm_s\" : [ 16.0, 12.0 ], \"fastest_diagonal_mm_s\" : 16.971, "
        "\"fastest_any_mm_s\" : 20.0, \"highest_step_rate_per_s\" : 960.0, \"line_on_wire_s\" : "
        "0.002, \"shortest_fast_move_mm\" : 0.049, \"home_least_s\" : 3.25, \"home_most_s\" : "
        "68.25, \"paper\" : \"A5 landscape\", \"paper_w_mm\" : 210.0, \"paper_h_mm\" : 148.0, "
        "\"sheet_diagonal_s\" : 13.188, \"reach_low_mm\" : [ 0.0, 0.0 ], \"reach_high_mm\" : [ "
        "300.0, 220.0 ], \"supply_v\" : 5.0, \"supply_a\" : 1.0, \"need_a\" : 1.0, \"need_w\" : "
        "5.0, \"advised_a\" : 1.25, \"supply_suffices\" : true, \"pens\" : [ { \"name\" : "
        "\"black\", \"tip_mm\" : 0.4 }, { \"name\" : \"red\", \"tip_mm\" : 0.4 }, { \"name\" : "
        "\"blue\", \"tip_mm\" : 0.4 } ] } ");
}

static void assert_expected(const DtReportTrueness *t, const char *text, const char *json)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GString) s = g_string_new(NULL);
    JsonBuilder *b = dt_json_begin();
    dt_report_add_expected(s, NULL, t, p, NULL, NULL);
    dt_report_add_expected(NULL, b, t, p, NULL, NULL);
    g_autofree char *said = squeezed(dt_json_end(b));
    g_assert_cmpstr(s->str, ==, text);
    g_assert_cmpstr(said, ==, json);
}

/* What is known of a machine, and what is not. */
static void test_the_expected_error(void)
{
    Trueness t;
    trueness_make(&t);
    g_ptr_array_set_size(t.measured.unknown, 0);
    g_ptr_array_set_size(t.measured.different, 0);
    assert_expected(&t.trueness,
                    "  expected ink error 0.123 mm (95 % of the ink), largest 0.456 mm; least "
                    "certain at X 78, Y 90 mm of the bed (sheet 7, 2026-05-02)\n",
                    "{ \"expected_ink_error\" : { \"measured\" : true, \"p95_mm\" : 0.123, "
                    "\"largest_mm\" : 0.456, \"least_certain_at_mm\" : [ 78.0, 90.0 ], "
                    "\"of_the_program_alone\" : false, \"sheet\" : 7, \"date\" : "
                    "\"2026-05-02\", \"not_measured\" : [], \"not_corrected\" : [] } } ");
    const DtReportTrueness why = {NULL, "the journal is locked", NULL}, none = {NULL, NULL, NULL};
    assert_expected(&why, "  expected ink error unknown: the journal is locked\n",
                    "{ \"expected_ink_error\" : { \"measured\" : false, \"why_not\" : \"the "
                    "journal is locked\" } } ");
    assert_expected(&none,
                    "  expected ink error unknown: this machine has not been measured; 'drawtrue "
                    "sheet' makes a test sheet\n",
                    "{ \"expected_ink_error\" : { \"measured\" : false } } ");
    assert_expected(NULL, "", "{} ");
    trueness_clear(&t);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    const int fd = g_file_open_tmp("drawtrue-XXXXXX.svg", &path, NULL);
    g_close(fd, NULL);
    g_test_add_func("/report/whole/plan", test_a_plan);
    g_test_add_func("/report/whole/proof", test_a_proof);
    g_test_add_func("/report/whole/no-place", test_a_proof_without_a_place);
    g_test_add_func("/report/whole/sheets", test_several_sheets);
    g_test_add_func("/report/whole/machine", test_a_machine);
    g_test_add_func("/report/whole/expected", test_the_expected_error);
    const int result = g_test_run();
    g_unlink(path);
    g_free(path);
    return result;
}
