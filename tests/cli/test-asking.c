/* asking: the questions about a sheet as a person sees them, and what becomes of each answer. */
#include "cli/asking.h"

#include "drawtrue/sheet-log.h"
#include "support/folder.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static char *folder, *journal;

typedef struct {
    DtProfile *profile;
    DtTestSheet *sheet;
    DtEyeReadings readings;
    DtAsk asks[3];
    DtEyeAnswer answers[3];
} Bench;

static void bench_init(Bench *b)
{
    memset(b, 0, sizeof *b);
    b->profile = dt_profile_new();
    b->sheet = dt_sheet_new_blank(b->profile, DT_SHEET_SLACK, "2026-05-02", 7);
    b->asks[0] = (DtAsk){
        .kind = DT_ASK_LADDER, .name = "drop", .least = 0, .most = 20, .sd = 0.5, .times = 1};
    b->asks[1] = (DtAsk){
        .kind = DT_ASK_RULE, .name = "LX", .least = 150, .most = 170, .sd = 0.2, .times = 3};
    b->asks[2] = (DtAsk){
        .kind = DT_ASK_LADDER, .name = "lift", .least = 0, .most = 20, .sd = 0.5, .times = 1};
    b->readings = (DtEyeReadings){b->asks, b->answers, 3};
}

static void bench_clear(Bench *b)
{
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < DT_EYE_TIMES; k++)
            g_free(b->answers[i].text[k]);
    dt_sheet_free(b->sheet);
    dt_profile_free(b->profile);
}

/* What it says while these lines are typed; `error` where the input ends too early. */
static char *ask(Bench *b, const char *typed, gboolean all, GError **error)
{
    g_autofree char *path = g_build_filename(folder, "said.txt", NULL), *said = NULL;
    FILE *in =
        *typed ? fmemopen((char *)(uintptr_t)typed, strlen(typed), "r") : fopen("/dev/null", "r");
    FILE *stdin_before = stdin;
    const int stderr_before = dup(STDERR_FILENO);
    const DtAsking a = {.sheet = b->sheet,
                        .profile = b->profile,
                        .journal = journal,
                        .pictures = "/dev/null/pictures",
                        .all = all};
    fflush(stderr);
    g_assert_nonnull(freopen(path, "w", stderr));
    stdin = in;
    const gboolean good = dt_cli_ask_readings(&a, &b->readings, error);
    stdin = stdin_before;
    fflush(stderr);
    dup2(stderr_before, STDERR_FILENO);
    close(stderr_before);
    fclose(in);
    g_assert_cmpint(good, ==, *error == NULL);
    g_assert_true(g_file_get_contents(path, &said, NULL, NULL));
    return g_steal_pointer(&said);
}

/* The answers as they were given, "-" for none. */
static char *given(const Bench *b)
{
    GString *s = g_string_new(NULL);
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < b->asks[i].times; k++)
            g_string_append_printf(s, "%s%s", s->len ? " " : "",
                                   b->answers[i].text[k] ? b->answers[i].text[k] : "-");
    return g_string_free(s, FALSE);
}

#define WHOLE "160\n160.5\n161\n7\n"

static void test_each_answer_is_taken(void)
{
    static const struct {
        const char *typed, *given, *ends_at; /* NULL: it does not end too early */
    } cases[] = {
        {"6\n" WHOLE, "6 160 160.5 161 7", NULL},
        {"between 6 and 7\n" WHOLE, "between 6 and 7 160 160.5 161 7", NULL},
        {"  6  \n" WHOLE, "6 160 160.5 161 7", NULL},
        {"six\n21\n6\n" WHOLE, "6 160 160.5 161 7", NULL}, /* asked again where it is none */
        {"?\n" WHOLE, "- 160 160.5 161 7", NULL},
        {"\n" WHOLE, "- 160 160.5 161 7", NULL},
        /* Back by one answer, by one question, and no further than the first. */
        {"6\n160\nback\n159\n160.5\n161\n7\n", "6 159 160.5 161 7", NULL},
        {"6\nback\n8\n" WHOLE, "8 160 160.5 161 7", NULL},
        {"6\n160\n160.5\n161\nBack\n162\n7\n", "6 160 160.5 162 7", NULL},
        {"back\nback\n6\n" WHOLE, "6 160 160.5 161 7", NULL},
        {"6\n160\nback\nback\n9\n\n160.5\n161\n7\n", "9 160 160.5 161 7", NULL}, /* "": it stays */
        {"", "- - - - -", "drop"},
        {"6\n160\n", "6 160 - - -", "LX"},
        {"6\n160\n160.5\n161\n", "6 160 160.5 161 -", "lift"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b;
        g_autoptr(GError) error = NULL;
        bench_init(&b);
        g_autofree char *said = ask(&b, cases[i].typed, FALSE, &error), *have = given(&b);
        g_assert_cmpstr(have, ==, cases[i].given);
        if (cases[i].ends_at) {
            g_autofree char *why = g_strdup_printf(
                "the answers end at %s; what was answered is kept, and 'drawtrue true' goes on "
                "with it",
                cases[i].ends_at);
            g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
            g_assert_cmpstr(error->message, ==, why);
        } else
            g_assert_no_error(error);
        bench_clear(&b);
    }
}

#define LADDER(last)                                                                               \
    "which is the first number whose three ticks no longer make one straight line? Say " last      \
    " where all of them do.\n"
#define NO_PICTURE "  (no picture: Not a directory)\n"

/* With the earlier answer in brackets; a picture that cannot be made stops nothing. */
static void test_what_a_person_sees(void)
{
    Bench b;
    g_autoptr(GError) error = NULL;
    bench_init(&b);
    b.asks[1].kind = DT_ASK_LADDER;
    b.asks[1].times = 2;
    g_autofree char *said = ask(&b, "6\n160\nback\n\nfar\n161\n7\n", FALSE, &error);
    g_assert_no_error(error);
    g_assert_cmpstr(
        said, ==,
        "Read the sheet in good light, with a magnifying glass if you have one. Answer with a "
        "number, 'between 6 and 7', ? where you cannot tell, or 'back'.\n"
        "\n[1 of 3] drop: " LADDER("20") NO_PICTURE "  > "
                                                    "\n[2 of 3] LX: " LADDER("170") NO_PICTURE
        "  reading 1 of 2  >   reading 2 of 2  > "
        "\n[2 of 3] LX: " LADDER("170") NO_PICTURE
        "  reading 1 of 2  [160] >   reading 2 of 2  > "
        "  LX: 'far' is not a reading; give a number, or 'between 6 and 7', or ? where you cannot "
        "tell\n  reading 2 of 2  > "
        "\n[3 of 3] lift: " LADDER("20") NO_PICTURE "  > ");
    bench_clear(&b);
}

/* Each answer is in the journal before the next question, and the next time they are taken up there. */
static void test_answers_are_kept_and_taken_up(void)
{
    Bench b;
    g_autoptr(GError) error = NULL;
    bench_init(&b);
    const DtSheetRecord record = {.number = 7,
                                  .machine = b.sheet->machine,
                                  .profile = (char *)"",
                                  .profile_sum = (char *)"",
                                  .program_sum = (char *)"",
                                  .sheet = (char *)"{}"};
    g_assert_true(dt_sheet_log_add(journal, &record, &error));
    g_autofree char *said = ask(&b, "6\n160\n160.5\n161\n", FALSE, &error);
    g_autofree char *json = dt_eye_readings_to_json(&b.readings);
    g_auto(DtSheetRecord) kept = {0};
    g_assert_true(dt_sheet_log_read(journal, b.sheet->machine, 7, &kept, NULL));
    g_assert_cmpstr(kept.readings, ==, json);
    g_clear_error(&error);
    g_autofree char *later = ask(&b, "7\n", FALSE, &error); /* what is open */
    g_assert_no_error(error);
    g_assert_null(strstr(later, "[1 of 3]"));
    g_assert_nonnull(strstr(later, "[3 of 3] lift"));
    g_autofree char *all = ask(&b, "5\n\n\n\n\n", TRUE, &error); /* or all of them */
    g_assert_no_error(error);
    g_assert_nonnull(strstr(all, "[1 of 3] drop"));
    g_assert_nonnull(strstr(all, "  [6] > "));
    g_autofree char *have = given(&b);
    g_assert_cmpstr(have, ==, "5 160 160.5 161 7");
    bench_clear(&b);
}

/* What could not be told is asked again the next time, and what was answered after it is not. */
static void test_only_what_is_open_is_asked_again(void)
{
    Bench b;
    g_autoptr(GError) error = NULL;
    bench_init(&b);
    g_autofree char *first = ask(&b, "?\n160\n160.5\n161\n?\n", FALSE, &error);
    g_assert_no_error(error);
    g_autofree char *later = ask(&b, "6\n7\n", FALSE, &error);
    g_assert_no_error(error);
    g_assert_nonnull(strstr(later, "[1 of 3] drop"));
    g_assert_null(strstr(later, "[2 of 3]"));
    g_assert_nonnull(strstr(later, "[3 of 3] lift"));
    g_autofree char *have = given(&b);
    g_assert_cmpstr(have, ==, "6 160 160.5 161 7");
    bench_clear(&b);
}

/* It is said, and the next question is asked all the same. */
static void test_a_journal_that_fails_is_told(void)
{
    Bench b;
    g_autoptr(GError) error = NULL;
    char *before = journal;
    bench_init(&b);
    journal = folder;
    g_autofree char *said = ask(&b, "6\n" WHOLE, FALSE, &error), *have = given(&b);
    g_autofree char *wanted =
        g_strdup_printf("  > %s\n", "  this answer is not kept: FOLDER: not a regular file");
    g_autoptr(GString) shown = g_string_new(said);
    g_string_replace(shown, folder, "FOLDER", 0);
    journal = before;
    g_assert_no_error(error);
    g_assert_nonnull(strstr(shown->str, wanted));
    g_assert_cmpstr(have, ==, "6 160 160.5 161 7");
    bench_clear(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-asking-XXXXXX", NULL);
    journal = g_build_filename(folder, "journal.db", NULL);
    g_test_add_func("/cli/asking/taken", test_each_answer_is_taken);
    g_test_add_func("/cli/asking/seen", test_what_a_person_sees);
    g_test_add_func("/cli/asking/kept", test_answers_are_kept_and_taken_up);
    g_test_add_func("/cli/asking/open", test_only_what_is_open_is_asked_again);
    g_test_add_func("/cli/asking/not-kept", test_a_journal_that_fails_is_told);
    const int status = g_test_run();
    g_assert_true(folder_remove(folder));
    g_free(journal);
    g_free(folder);
    return status;
}
