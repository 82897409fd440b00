/* json: reports for programs, each compared whole, of figures chosen so that each can be told from every other. */
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

#include <json-glib/json-glib.h>
#include <math.h>

static JsonNode *parsed(const char *json)
{
    g_autoptr(GError) error = NULL;
    JsonNode *node = json_from_string(json, &error);
    g_assert_no_error(error);
    return node;
}

/* `wanted` has ' in place of ". A member's order does not matter. */
static void assert_is(char *json, const char *wanted)
{
    g_autofree char *quoted = g_strdelimit(g_strdup(wanted), "'", '"');
    g_autoptr(JsonNode) a = parsed(json), b = parsed(quoted);
    if (!json_node_equal(a, b))
        g_error("not %s but:\n%s", wanted, json);
    g_free(json);
}

static void test_a_program(void)
{
    DtFinding findings[] = {{DT_FINDING_HARM, "beyond-travel", 10, 3, (char *)"too far"},
                            {DT_FINDING_WASTE, "feed", 99, 1, (char *)"slow"}};
    DtPenReading readings[] = {{(char *)"spindle:on", (char *)"by the spindle", 9.5, 120.4, 1},
                               {(char *)"moves", (char *)"by moves", 8.25, 240.6, 2}};
    const DtMending m = {.readings = readings, .n_readings = 2, .in_doubt = 1};
    DtInspection i = {.findings = findings,
                      .n_findings = 2,
                      .omitted = 5,
                      .lines = 120,
                      .refused_lines = 3,
                      .deleted_lines = 2,
                      .lifts = 7,
                      .ink_mm = 1234.5,
                      .travel_mm = 567.5,
                      .time_s = 75.5,
                      .held_up_s = 1.5,
                      .starved = 4,
                      .off_paper_mm = 21.5,
                      .ink_box = {1.5, 2.5, 30.5, 40.5}};
    g_autoptr(DtProfile) p = dt_profile_new();
    assert_is(
        dt_report_inspection(p, &i, &m, "job.nc", TRUE),
        "{'program': 'job.nc', 'lines': 120, 'refused_lines': 3, 'deleted_lines': 2, "
        "'strokes': 7, 'ink_mm': 1234.5, 'off_paper_mm': 21.5, 'travel_mm': 567.5, 'time_s': 75.5, "
        "'held_up_s': 1.5, 'starved': 4, 'ink_box': [1.5, 2.5, 30.5, 40.5], "
        "'findings_omitted': 5, 'findings': [{'line': 10, 'column': 3, 'kind': "
        "'beyond-travel', 'rank': 'will-harm', 'text': 'too far'}, {'line': 99, 'column': 1, "
        "'kind': 'feed', 'rank': 'wasteful', 'text': 'slow'}], 'readings': [{'pen_by': "
        "'spindle:on', 'text': 'by the spindle', 'points_behind': 0.0, 'ink_mm': 120.4, "
        "'strokes': 1}, {'pen_by': 'moves', 'text': 'by moves', 'points_behind': 1.25, "
        "'ink_mm': 240.6, 'strokes': 2}], 'pen_in_doubt': true}");
}

static void test_mending(void)
{
    DtChange changes[] = {{12, (char *)"moved"}, {13, (char *)"left out"}};
    DtPenReading reading = {(char *)"moves", (char *)"by moves", 8.25, 240.6, 2};
    const DtMending m = {.readings = &reading,
                         .n_readings = 1,
                         .changes = changes,
                         .n_changes = 2,
                         .omitted = 4,
                         .n_doubts = 1};
    assert_is(dt_report_mending(&m, "in.nc", "out.nc", TRUE, TRUE),
              "{'program': 'in.nc', 'output': 'out.nc', 'corrected': true, 'readings': [{'pen_by': "
              "'moves', 'text': 'by moves', 'points_behind': 0.0, 'ink_mm': 240.6, 'strokes': 2}], "
              "'changes_omitted': 4, 'doubts': 1, 'changes': [{'line': 12, 'text': 'moved'}, "
              "{'line': 13, "
              "'text': 'left out'}]}");
}

static void test_the_log(void)
{
    DtLogPen pens[] = {{(char *)"black", 3, 1500.5, 400.5}, {(char *)"", 1, 250.5, 100.5}};
    DtLogRun run = {.id = 12,
                    .started = 86400.5,
                    .ended = 90000.5,
                    .machine = (char *)"workshop",
                    .program = (char *)"garden.nc",
                    .port = (char *)"/dev/board",
                    .status = (char *)"done",
                    .note = (char *)"all well",
                    .strokes = 40,
                    .drawn = 4,
                    .estimate_s = 95.5,
                    .predicted_s = 110.5,
                    .time_s = 100.5,
                    .ink_mm = 1750.5,
                    .travel_mm = 500.5,
                    .pens = pens,
                    .n_pens = 2};
    DtLogNote note = {259200.5, (char *)"table", (char *)"truing", (char *)"slack 0.3 mm"};
    const DtLog log = {&run, 1, &note, 1};
    assert_is(
        dt_report_log(&log, TRUE),
        "{'runs': [{'run': 12, 'started': 86400.5, 'ended': 90000.5, 'machine': 'workshop', "
        "'program': 'garden.nc', 'port': '/dev/board', 'state': 'done', 'note': 'all well', "
        "'strokes': 40, 'drawn': 4, 'estimate_s': 95.5, 'predicted_s': 110.5, 'time_s': "
        "100.5, 'ink_mm': 1750.5, 'travel_mm': 500.5, 'pens': [{'pen': 'black', 'strokes': 3, "
        "'ink_mm': 1500.5, 'travel_mm': 400.5}, {'pen': '', 'strokes': 1, 'ink_mm': 250.5, "
        "'travel_mm': 100.5}]}], 'notes': [{'at': 259200.5, 'machine': 'table', 'kind': "
        "'truing', 'text': 'slack 0.3 mm'}]}");
}

static void test_settings_of_the_board(void)
{
    g_autoptr(GArray) all = g_array_new(FALSE, TRUE, sizeof(DtBoardSetting));
    const DtBoardSetting some[] = {
        {411, "steps_per_mm_x", "half steps/mm", 50.25, 50.25, FALSE, FALSE},
        {412, "speed_x", "mm/s", 15.5, 12.5, TRUE, FALSE}};
    g_array_append_vals(all, some, 2);
    assert_is(dt_report_settings(all, TRUE),
              "{'settings': [{'name': 'steps_per_mm_x', 'parameter': 411, 'unit': 'half steps/mm', "
              "'profile': 50.25, 'board': 50.25, 'result': 'the same'}, {'name': 'speed_x', "
              "'parameter': 412, 'unit': 'mm/s', 'profile': 15.5, 'board': 12.5, 'result': "
              "'differs'}], 'same': false}");
}

static void test_a_test_sheet(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) sheet =
        dt_sheet_new_blank(p, DT_SHEET_SLACK | DT_SHEET_SPEED, "2026-05-02", 7);
    const DtTimes t = {.total_s = 754.5, .ink_mm = 1510.5};
    static const DtMarkKind kinds[] = {DT_MARK_DASH, DT_MARK_PAUSE, DT_MARK_PAUSE};
    sheet->n = G_N_ELEMENTS(kinds);
    sheet->marks = g_new0(DtMark, sheet->n);
    for (size_t i = 0; i < sheet->n; i++)
        sheet->marks[i].kind = kinds[i];
    assert_is(dt_report_test_sheet(p, sheet, &t, "sheet.nc", TRUE),
              "{'sheet': 7, 'machine': 'plotter', 'date': '2026-05-02', 'program': 'sheet.nc', "
              "'parts': ['slack', 'speed'], 'marks': 3, 'pauses': 2, 'time_s': 754.5, 'ink_mm': "
              "1510.5}");
}

/* A figure whose cause costs ink, and one whose cause may cost the drawing. */
static void test_what_a_sheet_showed(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) sheet = dt_sheet_new_blank(p, DT_SHEET_SLACK, "2026-05-02", 7);
    DtFigure f[] = {{.kind = DT_ERROR_OF_BACKLASH,
                     .axis = 0,
                     .pen = -1,
                     .at = NAN,
                     .known = TRUE,
                     .value = 0.5,
                     .sd = 0.01,
                     .gain_mm = 0.25,
                     .proposed = TRUE},
                    {.kind = DT_ERROR_OF_SPEED,
                     .axis = 1,
                     .pen = -1,
                     .at = NAN,
                     .known = TRUE,
                     .value = 10,
                     .sd = 0.1,
                     .gain_mm = 0.25,
                     .proposed = TRUE}};
    const DtFigures figures = {.f = f, .n = 2, .ink_before_mm = 0.5, .ink_after_mm = 0.125};
    const DtProfileChange change = {"corrections", "backlash_x", "0.5", NULL};
    const DtReportTruing r = {.sheet = sheet,
                              .scans = 2,
                              .figures = &figures,
                              .changes = &change,
                              .n_changes = 1,
                              .written = "my.ini"};
    size_t n;
    g_autofree DtSuspect *s = dt_truing_diagnose(p, &figures, &n);
    g_assert_cmpuint(n, >, 1);
    JsonArray *causes = json_array_new();
    gboolean costs_ink = FALSE;
    for (size_t i = 0; i < n; i++) {
        JsonObject *o = json_object_new();
        json_object_set_string_member(o, "part", dt_part_word(s[i].part));
        json_object_set_string_member(o, "axis", s[i].axis == 0 ? "x" : "y");
        if (s[i].part != DT_PART_TORQUE) {
            json_object_set_double_member(o, "ink_mm", s[i].ink_mm);
            json_object_set_double_member(o, "standard_uncertainty", s[i].sd_mm);
            costs_ink = TRUE;
        }
        json_object_set_boolean_member(o, "corrected_by_profile", s[i].corrected);
        json_object_set_string_member(o, "shows", dt_part_title(s[i].part));
        json_object_set_string_member(o, "repair", dt_part_repair(s[i].part));
        json_array_add_object_element(causes, o);
    }
    g_assert_true(costs_ink);
    g_autofree char *result = dt_figures_to_json(&figures), *told = dt_report_truing(p, &r, TRUE);
    g_autoptr(JsonNode) have = parsed(told), wanted_result = parsed(result),
                        wanted_causes = json_node_new(JSON_NODE_ARRAY);
    json_node_take_array(wanted_causes, causes);
    JsonObject *all = json_node_get_object(have);
    g_assert_true(json_node_equal(json_object_get_member(all, "result"), wanted_result));
    g_assert_true(json_node_equal(json_object_get_member(all, "causes"), wanted_causes));
    json_object_remove_member(all, "result");
    json_object_remove_member(all, "causes");
    assert_is(json_to_string(have, FALSE),
              "{'sheet': 7, 'machine': 'plotter', 'scans': 2, 'readings': null, 'changes': "
              "[{'section': 'corrections', 'key': 'backlash_x', 'value': '0.5'}], 'written': "
              "'my.ini'}");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/report/json/program", test_a_program);
    g_test_add_func("/report/json/mending", test_mending);
    g_test_add_func("/report/json/log", test_the_log);
    g_test_add_func("/report/json/settings", test_settings_of_the_board);
    g_test_add_func("/report/json/sheet", test_a_test_sheet);
    g_test_add_func("/report/json/showed", test_what_a_sheet_showed);
    return g_test_run();
}
