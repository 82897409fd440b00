/* report: what is told to people and to programs, word for word, of figures chosen so that each can be
 * told from every other. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <gio/gio.h>
#include <math.h>
#include <string.h>

static void assert_holds(const char *text, const char *wanted)
{
    if (strstr(text, wanted) == NULL)
        g_error("'%s' is not in:\n%s", wanted, text);
}

static void assert_lacks(const char *text, const char *unwanted)
{
    if (strstr(text, unwanted) != NULL)
        g_error("'%s' is in:\n%s", unwanted, text);
}

/* Events ------------------------------------------------------------------------------------------ */

static DtEvent event_of(DtEventKind kind, DtState state)
{
    DtEvent e = {.kind = kind};
    e.at.state = state;
    e.at.pen = -1;
    return e;
}

static void assert_told(const DtEvent *e, const char *wanted)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *text = dt_report_event_text(e, p);
    g_assert_cmpstr(text, ==, wanted);
}

static void test_events_in_words(void)
{
    DtEvent e = event_of(DT_EVENT_STATE, DT_STATE_HOMING);
    assert_told(&e, "homing     keep clear of the axes");
    e = event_of(DT_EVENT_STATE, DT_STATE_ENDING);
    assert_told(&e, "ending     the pen is lifted and the motors let go");
    e = event_of(DT_EVENT_STATE, DT_STATE_DRAWING);
    assert_told(&e, NULL);
    e = event_of(DT_EVENT_PROGRESS, DT_STATE_DRAWING);
    assert_told(&e, NULL);
    e = event_of(DT_EVENT_WAITING, DT_STATE_UNPLUGGED);
    assert_told(&e, "board      the port is gone; plug the board in again");
    e = event_of(DT_EVENT_WAITING, DT_STATE_OPENING);
    e.text = (char *)"/dev/board";
    assert_told(&e, "board      waiting for the controller at /dev/board");
    e.at.state = DT_STATE_DRAWING;
    assert_told(&e, "board      /dev/board");
    e = event_of(DT_EVENT_PAUSED, DT_STATE_HELD);
    assert_told(&e, "paused     held where it is, the pen lifted");
    e.at.state = DT_STATE_PARKED;
    assert_told(&e, "paused     parked with the pen up; it will return to the same point");
    e.at.state = DT_STATE_PAUSED;
    assert_told(&e, "paused     with the pen up");
    e = event_of(DT_EVENT_RECOVERED, DT_STATE_DRAWING);
    e.at.stroke = 4;
    e.at.strokes = 9;
    assert_told(&e, "goes on    homed again at stroke 5 of 9");
    e = event_of(DT_EVENT_FOUND, DT_STATE_LEARNING);
    e.text = (char *)"speed";
    assert_told(&e, "  speed");
    e.at.state = DT_STATE_DRAWING;
    assert_told(&e, "settings   speed");
    e = event_of(DT_EVENT_ENDED, DT_STATE_DONE);
    e.at.stroke = 1;
    e.at.ink_mm = 2345;
    e.at.travel_mm = 678;
    assert_told(&e, "done       1 stroke, 2.35 m of ink, 0.68 m of travel");
    e.at.stroke = 2;
    assert_told(&e, "done       2 strokes, 2.35 m of ink, 0.68 m of travel");
    g_autoptr(GError) error = g_error_new(DT_ERROR, DT_ERROR_IO, "disk full");
    e.error = error;
    assert_told(&e, NULL); /* the front end says it */
}

static void test_pen_changes_in_words(void)
{
    DtEvent e = event_of(DT_EVENT_PEN_CHANGE, DT_STATE_PEN_CHANGE);
    assert_told(&e, "stop       the program waits for the operator");
    g_strlcpy(e.at.pen_name, "moss", sizeof e.at.pen_name);
    e.at.line = 7;
    assert_told(&e, "pen        moss; put it in");
    e.at.line = 0;
    assert_told(&e, "pen        moss; make sure that it is in");
    e.at.state = DT_STATE_DRAWING;
    assert_told(&e, "pen        moss");
    e.at.pen = 1; /* red of the built-in rack */
    g_strlcpy(e.at.pen_name, "red", sizeof e.at.pen_name);
    assert_told(&e, "pen        red: colour #c8202c, tip 0.4 mm");
    e.at.pen = 0;
    g_strlcpy(e.at.pen_name, "black", sizeof e.at.pen_name);
    assert_told(&e, "pen        black: colour #000000, tip 0.4 mm");
    e.at.pen = 1;
    g_strlcpy(e.at.pen_name, "red", sizeof e.at.pen_name);
    e.at.state = DT_STATE_PEN_CHANGE;
    g_autoptr(DtProfile) white = dt_profile_new();
    white->rack.pens[1].colour = (DtColour){1, 1, 1, 1};
    white->rack.pens[1].tip = 0.25;
    g_autofree char *text = dt_report_event_text(&e, white);
    g_assert_cmpstr(text, ==,
                    "pen        red: colour #ffffff, tip 0.25 mm; make sure that it is in");
    e.text = (char *)"turn it by a quarter";
    assert_told(&e, "paper      turn it by a quarter");
}

static void test_events_for_programs(void)
{
    DtEvent e = event_of(DT_EVENT_REPEATED, DT_STATE_DRAWING);
    e.line = 31;
    e.at.serial = 3;
    e.at.waits = DT_WAITS_FOR_PORT;
    e.at.done = 0.25;
    e.at.left_s = 61.5;
    e.at.ink_mm = 12.5;
    e.at.travel_mm = 7.5;
    e.at.line = 33;
    e.at.stroke = 4;
    e.at.strokes = 9;
    g_strlcpy(e.at.pen_name, "moss", sizeof e.at.pen_name);
    g_autofree char *bare = dt_report_event_json(&e);
    g_assert_cmpstr(
        bare, ==,
        "{\"event\":\"repeated\",\"state\":\"drawing\",\"serial\":3,\"waits_for\":\"port\","
        "\"done\":0.25,\"left_s\":61.5,\"ink_mm\":12.5,\"travel_mm\":7.5,\"pen\":\"moss\","
        "\"line\":33,\"stroke\":4,\"strokes\":9,\"from_line\":31}");
    e.kind = DT_EVENT_ENDED;
    e.at.state = DT_STATE_STOPPED;
    e.at.position_known = TRUE;
    e.at.tip = dt_point(1.5, 2.5);
    e.at.pen_down = TRUE;
    e.text = (char *)"by hand";
    g_autofree char *ended = dt_report_event_json(&e);
    g_assert_true(g_str_has_prefix(ended, "{\"event\":\"stopped\",\"state\":\"stopped\","));
    g_assert_true(g_str_has_suffix(
        ended, "\"strokes\":9,\"x\":1.5,\"y\":2.5,\"pen_down\":true,\"text\":\"by hand\"}"));
    g_autoptr(GError) error = g_error_new(DT_ERROR, DT_ERROR_IO, "disk full");
    e.error = error;
    g_autofree char *failed = dt_report_event_json(&e);
    assert_holds(failed, "\"text\":\"disk full\"");
    for (int s = 0; s <= DT_STATE_FAILED; s++)
        for (int t = 0; t < s; t++)
            g_assert_cmpstr(dt_report_state_name((DtState)s), !=, dt_report_state_name((DtState)t));
}

/* Concerns ---------------------------------------------------------------------------------------- */

static void assert_concern(const DtConcern *c, const char *wanted)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *text = dt_report_concern_text(c, p);
    if (wanted == NULL)
        g_assert_null(text);
    else
        g_assert_cmpstr(text, ==, wanted);
}

static void test_concerns_in_words(void)
{
    DtConcern c = {.kind = DT_CONCERN_SHEET,
                   .program = (char *)"some/folder/job.nc",
                   .sheet = (char *)"A5",
                   .sheet_w = 148,
                   .sheet_h = 210,
                   .sheet_at = {15, 12},
                   .pen = -1};
    assert_concern(&c,
                   "paper      A5, 148 x 210 mm, its lower left corner 15 mm right of and 12 mm "
                   "behind the origin");
    c.sheet_turn = 2.5 * G_PI / 180;
    assert_concern(
        &c, "paper      A5, 148 x 210 mm, its lower left corner 15.0 mm right of and 12.0 mm "
            "behind the origin, turned by 2.5 degrees");
    c.kind = DT_CONCERN_OFF_PAPER;
    c.off_paper_mm = 21.4;
    c.ink_mm = 400;
    assert_concern(&c, "21 of 400 mm of the ink lie beside the paper, A5 at 15, 12 mm");
    c.kind = DT_CONCERN_PEN;
    c.pen_name = (char *)"moss";
    assert_concern(&c, "pen        moss; it must be in the holder");
    c.kind = DT_CONCERN_RESUMES;
    c.run = 12;
    c.stroke = 4;
    c.strokes = 9;
    assert_concern(&c, "resumes    run 12, job.nc: homes, then stroke 4 of 9");
    c.kind = DT_CONCERN_HOMES;
    assert_concern(&c, NULL);
    c.kind = DT_CONCERN_WIRE;
    c.held_up_s = 30;
    c.total_s = 100;
    c.starved = 2;
    assert_concern(&c,
                   "the wire at 115200 bit/s, not the motors, sets the pace: 30.0 s of the time, "
                   "with 2 stops in mid-stroke");
    c.kind = DT_CONCERN_OTHER_MACHINE;
    c.made_for = (char *)"kitchen, profile k.ini";
    c.machine = (char *)"workshop";
    c.profile = (char *)"w.ini";
    assert_concern(&c, "made for the machine 'kitchen' with profile k.ini, and this is 'workshop', "
                       "profile w.ini; its corrections, travel and speeds may be others");
    c.profile = NULL;
    assert_concern(&c,
                   "made for the machine 'kitchen' with profile k.ini, and this is 'workshop', "
                   "profile built in; its corrections, travel and speeds may be others (--machine "
                   "FILE gives the right profile)");
    c.made_for = (char *)"kitchen";
    assert_concern(&c,
                   "made for the machine 'kitchen', and this is 'workshop', profile built in; its "
                   "corrections, travel and speeds may be others (--machine FILE gives the right "
                   "profile)");
    c.kind = DT_CONCERN_PROFILE_CHANGED;
    c.profile = (char *)"w.ini";
    c.program_time = 86400 + 3600; /* in the test's time zone */
    c.profile_time = 2 * 86400;
    assert_concern(&c, "made at 1970-01-02 01:00, and w.ini was changed at 1970-01-03 00:00; "
                       "corrections measured since are not in it");
}

static void test_when_the_wire_is_told(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_assert_null(dt_report_wire(p, 1, 0, 100));
    g_assert_null(dt_report_wire(p, 0.04, 0, 0.04)); /* would read 0.0 s */
    g_autofree char *more = dt_report_wire(p, 1.01, 0, 100);
    g_assert_cmpstr(more, ==,
                    "the wire at 115200 bit/s, not the motors, sets the pace: 1.0 s of the time");
    g_autofree char *stop = dt_report_wire(p, 0, 1, 100);
    assert_holds(stop, "0.0 s of the time, with 1 stop in mid-stroke");
}

/* Programs ---------------------------------------------------------------------------------------- */

static void test_findings_of_a_kind_are_cut_short(void)
{
    enum { N = 15 };
    static const char beyond[] = "beyond-travel", feed[] = "feed";
    DtFinding findings[N + 1];
    for (int i = 0; i < N; i++)
        findings[i] = (DtFinding){DT_FINDING_HARM, beyond, 10 + i, 3, (char *)"too far"};
    findings[N] = (DtFinding){DT_FINDING_WASTE, feed, 99, 1, (char *)"slow"};
    DtInspection i = {.findings = findings,
                      .n_findings = N + 1,
                      .omitted = 5,
                      .lines = 120,
                      .refused_lines = 3,
                      .lifts = 7,
                      .ink_mm = 1234.4,
                      .travel_mm = 567.6,
                      .time_s = 75,
                      .off_paper_mm = 21,
                      .ink_box = {1, 2, 30, 40}};
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *text = dt_report_inspection(p, &i, NULL, "job.nc", FALSE);
    assert_holds(text,
                 "job.nc: 120 lines, 3 refused \302\267 ink 1234 mm in 7 strokes \302\267 travel "
                 "568 mm \302\267 1 min 15 s\nink from X 1.00, Y 2.00 to X 30.00, Y 40.00 mm\n");
    assert_lacks(text, "the wire");
    assert_holds(text, "21 of 1234 mm of the ink lie beside the paper, A5 landscape at 0, 0 mm\n");
    assert_holds(text, "\nWill harm the machine, the pen or the paper:\n  job.nc:10:3: too far\n");
    assert_holds(text,
                 "  job.nc:21:3: too far\n  and 3 more like it (beyond-travel)\n\nTakes longer "
                 "than necessary:\n  job.nc:99:1: slow\n");
    assert_lacks(text, "job.nc:22:3");
    assert_holds(text, "\n5 further findings are counted and not kept\n");
    assert_lacks(text, "nothing is wrong");
    assert_lacks(text, "no ink lands");
    i.held_up_s = 30;
    i.starved = 2;
    g_autofree char *held_up = dt_report_inspection(p, &i, NULL, "job.nc", FALSE);
    assert_holds(held_up,
                 "the wire at 115200 bit/s, not the motors, sets the pace: 30.0 s of the time, "
                 "with 2 stops in mid-stroke\n");
    g_autofree char *json = dt_report_inspection(p, &i, NULL, "job.nc", TRUE);
    assert_holds(json, "\"findings_omitted\" : 5");
    assert_holds(json,
                 "\"line\" : 24,\n      \"column\" : 3,\n      \"kind\" : \"beyond-travel\",\n"
                 "      \"rank\" : \"will-harm\",\n      \"text\" : \"too far\"");
    assert_holds(json, "\"pen_in_doubt\" : false");
}

static void test_a_program_without_fault(void)
{
    const DtInspection i = {.lines = 1, .lifts = 1, .ink_box = DT_BOX_EMPTY, .time_s = 3};
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *text = dt_report_inspection(p, &i, NULL, "a\x1b.nc", FALSE);
    g_assert_cmpstr(
        text, ==,
        "a\\x1b.nc: 1 line, 0 refused \302\267 ink 0 mm in 1 stroke \302\267 travel 0 mm "
        "\302\267 3.0 s\nno ink lands\nnothing is wrong with it on this machine\n");
    g_autofree char *json = dt_report_inspection(p, &i, NULL, "a.nc", TRUE);
    assert_holds(json, "\"ink_box\" : null");
    assert_lacks(json, "unwaited");
    DtInspection beside = i;
    beside.off_paper_mm = beside.ink_mm = 3;
    beside.paper = (DtStatedPaper){.stated = TRUE, .at = {7, 8}, .name = "A6"};
    g_autofree char *off = dt_report_inspection(p, &beside, NULL, "a.nc", FALSE);
    assert_holds(off, "\n3 of 3 mm of the ink lie beside the paper, A6 at 7, 8 mm\n"
                      "nothing else is wrong with it on this machine\n");
    g_free(p->dialect.words);
    p->dialect.words = g_strdup("G0 G1 M3 M5 X Y F S");
    g_autofree char *unwaited = dt_report_inspection(p, &i, NULL, "a.nc", FALSE);
    assert_holds(unwaited, "the controller's words lack a dwell (G4)");
    g_autofree char *told = dt_report_inspection(p, &i, NULL, "a.nc", TRUE);
    assert_holds(told, "\"unwaited\" : \"the controller's words lack");
}

static void test_readings_of_the_pen(void)
{
    DtPenReading readings[] = {{(char *)"spindle:on", (char *)"by the spindle", 9.5, 120.4, 1},
                               {(char *)"moves", (char *)"by moves", 8.25, 240.6, 2}};
    DtMending m = {.readings = readings, .n_readings = 2, .in_doubt = 0};
    const DtInspection i = {.ink_box = DT_BOX_EMPTY};
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *clear = dt_report_inspection(p, &i, &m, "job.nc", FALSE);
    assert_holds(clear,
                 "\nhow mend reads its pen:\n"
                 "job.nc: by the spindle (--pen-by 'spindle:on'): 120.4 mm of ink in 1 stroke\n"
                 "  less likely by 1.2 points: by moves (--pen-by 'moves'), 240.6 mm\n");
    m.in_doubt = 1;
    g_autofree char *doubt = dt_report_inspection(p, &i, &m, "job.nc", FALSE);
    assert_holds(doubt, "\nit is not clear to mend how the program controls its pen;");
    g_autofree char *json = dt_report_inspection(p, &i, &m, "job.nc", TRUE);
    assert_holds(json, "\"pen_in_doubt\" : true");
    m.n_readings = 0;
    g_autofree char *none = dt_report_inspection(p, &i, &m, "job.nc", FALSE);
    assert_lacks(none, "mend reads");
}

static void test_what_mending_changed(void)
{
    enum { N = 42 };
    DtChange changes[N];
    for (int i = 0; i < N; i++)
        changes[i] = (DtChange){i + 1, (char *)"moved"};
    DtMending m = {.changes = changes, .n_changes = N, .omitted = 3};
    g_autofree char *text = dt_report_mending(&m, "in.nc", "out.nc", FALSE, FALSE);
    assert_holds(text,
                 "in.nc:40: moved\nand 5 more changes (--json lists them)\nin.nc: 45 changes; "
                 "written to out.nc\n");
    assert_lacks(text, "in.nc:41:");
    assert_lacks(text, "corrections");
    m.n_changes = 1;
    m.omitted = 0;
    g_autofree char *one = dt_report_mending(&m, "in.nc", "out.nc", TRUE, FALSE);
    g_assert_cmpstr(one, ==,
                    "in.nc:1: moved\nin.nc: 1 change; written to out.nc\nwith this machine's "
                    "corrections\n");
    DtPenReading readings[] = {{(char *)"machine", (char *)"its own words", 9, 120, 3},
                               {(char *)"moves", (char *)"feeds draw", 5.5, 80, 2}};
    m.readings = readings;
    m.n_readings = G_N_ELEMENTS(readings);
    g_autofree char *read = dt_report_mending(&m, "in.nc", "out.nc", FALSE, FALSE);
    assert_holds(read, "in.nc: its own words (--pen-by 'machine'): 120 mm of ink in 3 strokes\n");
    assert_holds(read, "3.5 points");
    assert_holds(read, "in.nc:1: moved\n");
    m.n_readings = 0;
    m.n_changes = N; /* what was left in doubt is no change, and always told, behind them */
    m.n_doubts = 1;
    changes[N - 1].text = (char *)"left in doubt";
    g_autofree char *doubt = dt_report_mending(&m, "in.nc", "out.nc", FALSE, FALSE);
    assert_holds(doubt, "in.nc:40: moved\nand 1 more change (--json lists it)\nin.nc:42: left in "
                        "doubt\nin.nc: 41 changes; written to out.nc\n");
    m.n_changes = m.n_doubts = 0;
    g_autofree char *fit = dt_report_mending(&m, "in.nc", "out.nc", FALSE, FALSE);
    g_assert_cmpstr(fit, ==, "in.nc already fits this machine; out.nc is a copy\n");
    g_autofree char *corrected = dt_report_mending(&m, "in.nc", "out.nc", TRUE, FALSE);
    g_assert_cmpstr(corrected, ==,
                    "in.nc already fits this machine; out.nc has its corrections too\n");
}

/* Machine and board ------------------------------------------------------------------------------- */

/* By hand: 28 bytes of ten bits at 115200 bit/s are 2.43 ms, in which the fastest move, 19.2 mm/s, gets
 * 0.047 mm. */
static void test_what_follows_from_a_profile(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->steps_per_mm[0] = 50;
    p->steps_per_mm[1] = 80;
    p->motor_a[0] = 0.25;
    p->motor_a[1] = 0.3;
    p->servo_a = 0.2;
    p->board_a = 0.05;
    p->supply_v = 5;
    p->supply_a = 0.9;
    g_autofree char *text = dt_report_machine(p, FALSE);
    assert_holds(text, "travel           x 300 mm, y 220 mm\n");
    assert_holds(text, "x 50.0000, so the finest step is 0.0200 mm\n");
    assert_holds(text, "y 80.0000, so the finest step is 0.0125 mm\n");
    assert_holds(text, "at 45 degrees 17.0 mm/s, at best 19.2 mm/s\n");
    assert_holds(text, "that is 960 half steps a second at most\n");
    assert_holds(text, "a move of 28 bytes takes 2.4 ms;");
    assert_holds(text, "0.05 mm follow one another");
    assert_holds(text, "motors 0.25 + 0.30 A, servo 0.20 A, board 0.05 A: 0.80 A at 5 V (4.0 W)\n");
    assert_holds(text, "the supply gives 0.9 A; with a quarter in reserve it should give 1.00 A\n");
    assert_holds(text, "caution        this supply has little in reserve\n");
    assert_lacks(text, "too small");
    assert_holds(text, "  note           the drive train would make 99.7968;");
    p->steps_per_mm[0] = dt_machine_drive_steps(p, 0) * 1.009;
    p->steps_per_mm[1] = dt_machine_drive_steps(p, 1);
    g_autofree char *alike = dt_report_machine(p, FALSE);
    assert_lacks(alike, "the drive train would make");
    p->supply_a = 1;
    g_autofree char *enough = dt_report_machine(p, FALSE);
    assert_lacks(enough, "little in reserve");
    p->supply_a = 0.79;
    g_autofree char *small = dt_report_machine(p, FALSE);
    assert_holds(small, "CAUTION        this supply is too small");
    assert_lacks(small, "little in reserve");
    p->dialect.window = 0; /* the reply, 12 bytes, and its delay of 1 ms come on top */
    p->dialect.line_check = FALSE;
    g_autofree char *waits = dt_report_machine(p, FALSE);
    assert_holds(waits, "a move of 15 bytes takes 3.3 ms;");
    g_autofree char *json = dt_report_machine(p, TRUE);
    assert_holds(json, "\"need_a\" : 0.8,\n  \"need_w\" : 4.0,\n  \"advised_a\" : 1.0,\n  "
                       "\"supply_suffices\" : false");
    assert_holds(json, "\"line_on_wire_s\" : 0.003");
}

static void test_settings_of_the_board(void)
{
    g_autoptr(GArray) all = g_array_new(FALSE, TRUE, sizeof(DtBoardSetting));
    const DtBoardSetting some[] = {
        {411, "steps_per_mm_x", "half steps/mm", 50.25, 50.25, FALSE, FALSE},
        {412, "speed_x", "mm/s", 15, 12, TRUE, TRUE}};
    g_array_append_vals(all, some, 2);
    g_autofree char *written = dt_report_settings(all, FALSE);
    g_assert_cmpstr(
        written, ==,
        "setting           parameter      profile        board  unit\n"
        "steps_per_mm_x          411      50.2500      50.2500  half steps/mm  the same\n"
        "speed_x                 412      15.0000      12.0000  mm/s           written\n");
    g_autofree char *same = dt_report_settings(all, TRUE);
    assert_holds(same, "\"same\" : true");
    g_array_index(all, DtBoardSetting, 1).written = FALSE;
    g_autofree char *differs = dt_report_settings(all, FALSE);
    assert_holds(differs, "mm/s           differs\n");
    g_autofree char *json = dt_report_settings(all, TRUE);
    assert_holds(json,
                 "\"name\" : \"speed_x\",\n      \"parameter\" : 412,\n      \"unit\" : \"mm/s\",\n"
                 "      \"profile\" : 15.0,\n      \"board\" : 12.0,\n      \"result\" : "
                 "\"differs\"");
    assert_holds(json, "\"same\" : false");
}

/* The log ----------------------------------------------------------------------------------------- */

static void test_the_log(void)
{
    DtLogPen first[] = {{(char *)"black", 3, 1500, 400}, {(char *)"", 1, 250, 100}};
    DtLogPen second[] = {{(char *)"black", 2, 500, 100}};
    DtLogRun runs[] = {{.id = 1,
                        .started = 86400,
                        .ended = 90000,
                        .machine = (char *)"workshop",
                        .program = (char *)"some/garden.nc",
                        .port = (char *)"/dev/board",
                        .status = (char *)"done",
                        .note = (char *)"",
                        .strokes = 4,
                        .drawn = 4,
                        .estimate_s = 95,
                        .predicted_s = 110,
                        .time_s = 100,
                        .ink_mm = 1750,
                        .travel_mm = 500,
                        .pens = first,
                        .n_pens = 2},
                       {.id = 12,
                        .started = 2 * 86400,
                        .machine = (char *)"workshop",
                        .program = (char *)"map.nc",
                        .port = (char *)"/dev/board",
                        .status = (char *)"broken off",
                        .note = (char *)"the port is gone",
                        .strokes = 40,
                        .drawn = 2,
                        .predicted_s = 3725,
                        .time_s = 62,
                        .ink_mm = 500,
                        .travel_mm = 100,
                        .pens = second,
                        .n_pens = 1}};
    DtLogNote notes[] = {{3 * 86400, (char *)"workshop", (char *)"truing", (char *)"slack 0.3 mm"}};
    DtLog log = {runs, 2, notes, 1};
    g_autofree char *text = dt_report_log(&log, FALSE);
    g_assert_cmpstr(
        text, ==,
        " run  started           state           strokes        ink  predicted       took "
        "    error  program\n"
        "   1  1970-01-02 00:00  done                4/4     1.75 m    0:01:50    0:01:40 "
        "  +10.0 %  garden.nc\n"
        "  12  1970-01-03 00:00  broken off         2/40     0.50 m    1:02:05    0:01:02 "
        "           map.nc\n"
        "      the port is gone\n"
        "\npen           strokes        ink     travel   (tips wear: compare a line's "
        "width now and then)\n"
        "black               5     2.00 m     0.50 m\n"
        "(not named)         1     0.25 m     0.10 m\n"
        "\nmachine          runs        ink     travel            time\n"
        "workshop            2     2.25 m     0.60 m      2 min 42 s\n"
        "\n1970-01-04 00:00  workshop      truing: slack 0.3 mm\n");
    runs[0].time_s = 36; /* less than a third: of a machine whose clock runs faster */
    g_autofree char *fast = dt_report_log(&log, FALSE);
    assert_lacks(fast, "%");
    runs[1].machine = (char *)"";
    g_autofree char *unnamed = dt_report_log(&log, FALSE);
    assert_holds(unnamed, "\nworkshop            1     1.75 m     0.50 m          36.0 s\n"
                          "(not named)         1     0.50 m     0.10 m      1 min 02 s\n");
    const DtLog none = {0};
    g_autofree char *empty = dt_report_log(&none, FALSE);
    g_assert_cmpstr(empty, ==, "no run yet\n");
}

int main(int argc, char **argv)
{
    g_setenv("TZ", "UTC", TRUE);
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/report/events", test_events_in_words);
    g_test_add_func("/report/pen-changes", test_pen_changes_in_words);
    g_test_add_func("/report/events-json", test_events_for_programs);
    g_test_add_func("/report/concerns", test_concerns_in_words);
    g_test_add_func("/report/wire", test_when_the_wire_is_told);
    g_test_add_func("/report/findings", test_findings_of_a_kind_are_cut_short);
    g_test_add_func("/report/no-findings", test_a_program_without_fault);
    g_test_add_func("/report/readings", test_readings_of_the_pen);
    g_test_add_func("/report/mending", test_what_mending_changed);
    g_test_add_func("/report/machine", test_what_follows_from_a_profile);
    g_test_add_func("/report/settings", test_settings_of_the_board);
    g_test_add_func("/report/log", test_the_log);
    return g_test_run();
}
