/* link: what speaks against a run, or should be known before it, is found before it begins. */
#include "stage.h"

#include "link/journal.h"

#include <gio/gio.h>
#include <string.h>

static const DtConcern *find_concern(const DtRun *r, DtConcernKind kind)
{
    size_t n;
    const DtConcern *c = dt_run_concerns(r, &n);
    for (size_t i = 0; i < n; i++)
        if (c[i].kind == kind)
            return &c[i];
    return NULL;
}

static void test_a_wire_that_sets_the_pace_is_said(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 2, 40);
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    g_assert_null(find_concern(s.run, DT_CONCERN_WIRE));
    g_clear_pointer(&s.run, dt_run_unref);
    s.profile->dialect.baud = 300;
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    const DtConcern *c = find_concern(s.run, DT_CONCERN_WIRE);
    g_assert_nonnull(c);
    g_assert_cmpint(c->rank, ==, DT_CONCERN_NOTE);
    g_assert_cmpfloat(c->held_up_s, >, 0.01 * c->total_s);
    g_assert_cmpfloat(c->held_up_s, <, c->total_s);
    stage_clear(&s);
}

/* Says so in the program's second line, as the writer does. */
static void state_paper(const Stage *s, const char *comment)
{
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(s->program, &text, NULL, NULL));
    char *rest = strchr(text, '\n') + 1;
    g_autofree char *head = g_strndup(text, (gsize)(rest - text));
    g_autofree char *whole = g_strconcat(head, comment, rest, NULL);
    g_assert_true(g_file_set_contents(s->program, whole, -1, NULL));
}

/* Ink where the profile's sheet is not is a doubt, unless the program was planned for another one. */
static void test_ink_beside_the_paper_is_a_doubt(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 20);
    s.profile->paper_at = dt_point(100, 100);
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    const DtConcern *c = find_concern(s.run, DT_CONCERN_OFF_PAPER);
    g_assert_nonnull(c);
    g_assert_cmpint(c->rank, ==, DT_CONCERN_DOUBT);
    g_assert_cmpfloat_with_epsilon(c->off_paper_mm, 2, 0.01);
    g_assert_cmpfloat_with_epsilon(c->ink_mm, 2, 0.01);
    g_clear_pointer(&s.run, dt_run_unref);
    state_paper(&s, "(paper 105 x 148 mm at 5,4 turned 0.5: A6)\n");
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    g_assert_null(find_concern(s.run, DT_CONCERN_OFF_PAPER));
    c = find_concern(s.run, DT_CONCERN_SHEET);
    g_assert_cmpstr(c->sheet, ==, "A6");
    g_assert_true(c->sheet_w == 105 && c->sheet_h == 148 && c->sheet_at.x == 5 &&
                  c->sheet_at.y == 4);
    g_assert_cmpfloat_with_epsilon(c->sheet_turn, 0.5 * G_PI / 180, 1e-9);
    stage_clear(&s);
}

static void test_a_controller_without_a_dwell_is_noted(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.options.doubts = TRUE;
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    g_assert_null(find_concern(s.run, DT_CONCERN_UNWAITED));
    g_clear_pointer(&s.run, dt_run_unref);
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(s.program, &text, NULL, NULL));
    g_autoptr(GString) bare = g_string_new(text);
    g_string_replace(bare, "G4P0.01\n", "", 0);
    g_assert_true(g_file_set_contents(s.program, bare->str, -1, NULL));
    g_autoptr(GString) words = g_string_new(s.profile->dialect.words);
    g_string_replace(words, "G4 ", "", 0);
    g_free(s.profile->dialect.words);
    s.profile->dialect.words = g_strdup(words->str);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    const DtConcern *c = find_concern(s.run, DT_CONCERN_UNWAITED);
    g_assert_nonnull(c);
    g_assert_cmpint(c->rank, ==, DT_CONCERN_NOTE);
    stage_clear(&s);
}

static void test_another_machine_s_program_is_an_objection(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    g_assert_null(find_concern(s.run, DT_CONCERN_OTHER_MACHINE));
    g_assert_cmpstr(find_concern(s.run, DT_CONCERN_PEN)->pen_name, ==, "black");
    const DtConcern *sheet = find_concern(s.run, DT_CONCERN_SHEET);
    g_assert_cmpstr(sheet->sheet, ==, s.profile->paper_name ? s.profile->paper_name : "sheet");
    g_assert_true(sheet->sheet_w == s.profile->paper_w && sheet->sheet_h == s.profile->paper_h);
    g_assert_true(dt_point_distance(sheet->sheet_at, s.profile->paper_at) == 0);
    g_assert_nonnull(find_concern(s.run, DT_CONCERN_FIRST_RUN));
    g_assert_nonnull(find_concern(s.run, DT_CONCERN_HOMES));
    g_clear_pointer(&s.run, dt_run_unref);
    g_free(s.profile->name);
    s.profile->name = g_strdup("plot"); /* the program says "plotter" */
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    const DtConcern *c = find_concern(s.run, DT_CONCERN_OTHER_MACHINE);
    g_assert_cmpint(c->rank, ==, DT_CONCERN_OBJECTION);
    g_assert_cmpstr(c->made_for, ==, "plotter, profile x");
    g_assert_false(dt_run_start(s.run, 0, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_true(drawing_run(s.run, s.hear, &s, &error)); /* which accepts it */
    stage_clear(&s);
}

/* The same machine by another profile may have other corrections. */
static void test_another_profile_s_program_is_a_doubt(void)
{
    static const struct {
        const char *path;
        gboolean other;
    } cases[] = {{"/nowhere/x", FALSE}, {"x", FALSE}, {"/nowhere/y", TRUE}, {"x/y", TRUE}};
    Stage s;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_free(s.profile->path);
        s.profile->path = g_strdup(cases[i].path);
        s.run = dt_run_new(s.session, s.program, &s.options, &error);
        g_assert_no_error(error);
        const DtConcern *c = find_concern(s.run, DT_CONCERN_OTHER_MACHINE);
        g_assert_cmpint(c != NULL, ==, cases[i].other);
        g_assert_cmpint(c != NULL ? c->rank : DT_CONCERN_DOUBT, ==, DT_CONCERN_DOUBT);
        g_clear_pointer(&s.run, dt_run_unref);
    }
    g_assert_null(s.run);
    stage_clear(&s);
}

/* Whichever machines have drawn before. */
static void test_the_first_run_of_a_machine_is_noted(void)
{
    static char *const before[] = {"left", "plotter", "right"};
    for (unsigned some = 0; some < 8; some++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
        g_autoptr(DtJournal) j = dt_journal_open(s.journal, &error);
        g_assert_no_error(error);
        for (int i = 0; i < 3; i++) {
            const DtJournalRun run = {.machine = before[i],
                                      .profile = "",
                                      .program = s.program,
                                      .sha256 = "",
                                      .port = "port"};
            if (some >> i & 1)
                g_assert_cmpint(dt_journal_begin(j, &run, &error), >, 0);
        }
        g_assert_no_error(error);
        g_free(s.profile->name);
        s.profile->name = g_strdup("plotter");
        s.session = dt_session_new(s.profile, s.port);
        s.run = dt_run_new(s.session, s.program, &s.options, &error);
        g_assert_no_error(error);
        g_assert_true((find_concern(s.run, DT_CONCERN_FIRST_RUN) == NULL) == (some >> 1 & 1));
        stage_clear(&s);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/run-concerns/slow-wire", test_a_wire_that_sets_the_pace_is_said);
    g_test_add_func("/link/run-concerns/beside-the-paper", test_ink_beside_the_paper_is_a_doubt);
    g_test_add_func("/link/run-concerns/no-dwell", test_a_controller_without_a_dwell_is_noted);
    g_test_add_func("/link/run-concerns/misfit", test_another_machine_s_program_is_an_objection);
    g_test_add_func("/link/run-concerns/other-profile", test_another_profile_s_program_is_a_doubt);
    g_test_add_func("/link/run-concerns/first", test_the_first_run_of_a_machine_is_noted);
    return g_test_run();
}
