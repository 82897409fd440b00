/* run: what a run leaves in the journal, row by row: its strokes, its events and its end. */
#include "stage.h"

#include <math.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int append_row(void *to, int n, char **values, char **columns)
{
    (void)columns;
    for (int i = 0; i < n; i++)
        g_string_append_printf(to, i == 0 ? "%s" : " %s", values[i]);
    g_string_append_c(to, '\n');
    return 0;
}

/* The rows of a query, a line each. */
static char *rows(const Stage *s, const char *sql)
{
    sqlite3 *db = NULL;
    GString *all = g_string_new(NULL);
    g_assert_cmpint(sqlite3_open(s->journal, &db), ==, SQLITE_OK);
    g_assert_cmpint(sqlite3_exec(db, sql, append_row, all, NULL), ==, SQLITE_OK);
    sqlite3_close(db);
    return g_string_free(all, FALSE);
}

static void check_rows(const Stage *s, const char *sql, const char *wanted)
{
    g_autofree char *have = rows(s, sql);
    g_assert_cmpstr(have, ==, wanted);
}

static double number(const Stage *s, const char *sql)
{
    g_autofree char *text = rows(s, sql);
    return g_ascii_strtod(text, NULL);
}

/* Strokes of the stage's program at 20 segments, by hand: 2 mm of ink each, the first from the origin,
 * the third by way of the pen's change at 0, 50. */
static const char whole[] = "1 black 2.00 11.18\n2 black 2.00 2.24\n3 red 2.00 90.96\n"
                            "4 red 2.00 2.24\n";

#define STROKES                                                                                    \
    "SELECT stroke, pen, printf('%.2f', ink_mm), printf('%.2f', travel_mm) FROM strokes "          \
    "ORDER BY stroke"
#define END "SELECT status, drawn, strokes, printf('%.2f', total_ink_mm), note FROM runs"
#define EVENTS "SELECT kind, CASE kind WHEN 'homed' THEN '' ELSE text END FROM events ORDER BY at"

static void set(Stage *s, const FakeFaults *faults)
{
    stage_set(s, faults, 4, 20);
    s->profile->dialect.reply_timeout_s = 3; /* on a busy computer too */
}

static void test_a_whole_run(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .home_ms = 300});
    g_assert_true(stage_draw(&s, &error));
    g_assert_no_error(error);
    check_rows(&s, STROKES, whole);
    check_rows(&s, END, "done 4 4 8.00 \n");
    check_rows(&s, EVENTS, "homed \npen change red\n");
    const double homed_s = number(&s, "SELECT text FROM events WHERE kind='homed'");
    g_assert_cmpfloat(homed_s, >=, 0.29); /* as long as the board took */
    g_assert_cmpfloat(homed_s, <=, number(&s, "SELECT time_s FROM runs"));
    g_autofree char *text = NULL, *about = NULL;
    gsize len;
    g_assert_true(g_file_get_contents(s.program, &text, &len, NULL));
    g_autofree char *sum =
        g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)text, len);
    about =
        g_strdup_printf("%s %s %s %d %s\n", s.profile->name, s.program, sum, (int)getpid(), s.port);
    check_rows(&s, "SELECT machine, program, sha256, pid, port FROM runs", about);
    g_assert_cmpfloat(number(&s, "SELECT estimate_s FROM runs"), >, 0);
    g_assert_cmpfloat(number(&s, "SELECT told_s FROM runs"), >,
                      number(&s, "SELECT estimate_s FROM runs")); /* homing comes on top */
    g_assert_cmpfloat(number(&s, "SELECT ended - started FROM runs"), >=,
                      number(&s, "SELECT time_s FROM runs") - 0.01);
    check_rows(&s, "SELECT count(*) FROM runs", "1\n");
    stage_clear(&s);
}

/* The stroke that was being drawn is drawn again, and each is there once. */
static void test_a_run_that_had_to_recover(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .reset_at = 45});
    g_assert_true(stage_draw(&s, &error));
    g_assert_no_error(error);
    check_rows(&s, STROKES, whole);
    check_rows(&s, END, "done 4 4 8.00 \n");
    check_rows(&s, EVENTS,
               "homed \nrecovering the board restarted (" GREETING ")\npen change red\n");
    stage_clear(&s);
}

/* Only what was drawn to its end is there, with the reason; a resume completes it. */
static void test_a_run_that_is_broken_off_and_resumed(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set(&s, &(FakeFaults){.greeting = GREETING, .refuse_at = 75});
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpfloat(number(&s, "SELECT drawn FROM runs"), ==,
                      number(&s, "SELECT count(*) FROM strokes"));
    const double drawn = number(&s, "SELECT drawn FROM runs");
    g_assert_cmpfloat(drawn, >=, 1);
    g_assert_cmpfloat(drawn, <, 4);
    g_autofree char *end = rows(&s, END), *strokes = rows(&s, STROKES);
    g_assert_true(g_str_has_prefix(end, "broken off "));
    g_assert_nonnull(strstr(end, "the controller refuses 'X"));
    g_assert_true(g_str_has_prefix(whole, strokes));
    stage_restart(&s);
    s.profile->dialect.line_check = TRUE;
    g_clear_error(&error);
    g_assert_true(stage_resume(&s, &(DtResume){0}, &error));
    g_assert_no_error(error);
    check_rows(&s, "SELECT stroke, pen, printf('%.2f', ink_mm) FROM strokes ORDER BY stroke",
               "1 black 2.00\n2 black 2.00\n3 red 2.00\n4 red 2.00\n");
    check_rows(&s, END, "done 4 4 8.00 \n");
    g_autofree char *resumed = g_strdup_printf("%s\n", s.port);
    check_rows(&s, "SELECT text FROM events WHERE kind='resumed'", resumed);
    check_rows(&s, "SELECT port FROM runs", resumed);
    stage_clear(&s);
}

/* A pause at a lift and one in mid-stroke, as they were asked for, and a stop by hand. */
static void ask_in_turn(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->at.waits == DT_WAITS_FOR_PERSON && e->kind != DT_EVENT_PROGRESS) {
        dt_run_request(s->run, s->changes == 2 ? DT_REQUEST_STOP : DT_REQUEST_GO_ON, e->at.serial);
        s->changes++;
    } else if (e->at.state == DT_STATE_DRAWING && e->at.waits == DT_WAITS_FOR_NOTHING &&
               s->pause_after == s->changes) {
        static const DtRequest asked[] = {DT_REQUEST_PAUSE_AT_LIFT, DT_REQUEST_PAUSE_NOW,
                                          DT_REQUEST_PAUSE_AT_LIFT};
        if (s->changes < G_N_ELEMENTS(asked) && dt_run_request(s->run, asked[s->changes], 0))
            s->pause_after++;
    }
}

static void test_a_run_that_people_interrupt(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 2});
    s.hear = ask_in_turn;
    g_assert_false(stage_draw(&s, &error));
    g_autofree char *events = rows(&s, EVENTS), *end = rows(&s, END);
    const char *paused = strstr(events, "paused \n"), *held = strstr(events, "held \n");
    g_assert_nonnull(paused);
    g_assert_nonnull(held);
    g_assert_true(paused < held);
    g_assert_true(g_str_has_prefix(end, "stopped "));
    g_assert_cmpfloat(number(&s, "SELECT drawn FROM runs"), ==,
                      number(&s, "SELECT count(*) FROM strokes"));
    stage_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/run-journal/whole", test_a_whole_run);
    g_test_add_func("/link/run-journal/recovered", test_a_run_that_had_to_recover);
    g_test_add_func("/link/run-journal/resumed", test_a_run_that_is_broken_off_and_resumed);
    g_test_add_func("/link/run-journal/interrupted", test_a_run_that_people_interrupt);
    return g_test_run();
}
