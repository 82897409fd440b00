/* A profile's list of words: what it may say, what follows for a line, and the profile's own lines against it. */
#include "drawtrue/code.h"
#include "support/folder.h"

#include <string.h>

#define WORDS "G0 G1 G4+P G21 G28 G90 M2 M3+S M5 F P S0..255 X Y R+I"

static DtProfile *with_words(const char *words)
{
    DtProfile *p = dt_profile_new();
    g_free(p->dialect.words);
    p->dialect.words = g_strdup(words);
    return p;
}

/* The message of the list itself, or NULL. Freed by the caller. */
static char *problem_of(const DtProfile *p)
{
    g_autoptr(GError) error = NULL;
    if (dt_code_check_profile(p, &error))
        return NULL;
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    return g_strdup(error->message);
}

static void test_tokens(void)
{
    static const char *const good[] = {
        "g1",           "G2.1",        "m03",           "x",
        "x,y\tz",       "G4+P",        "G4+P+x",        "R+I",
        "S0..255",      "S-1.5..2",    "S0..255+P",     "S5..5",
        "comment:none", "gap:free",    "delete:taken",  "expressions:refused",
        "dwell:s",      "untried:G28", "untried:S0..9", "untried:R"};
    static const char *const bad[] = {"1",         "G",         "M+S",      "?",
                                      "G-1",       "G1000",     "G1.25",    "Gx",
                                      "M3S",       "G4+",       "G4+1",     "G4P",
                                      "G4+PX",     "R-I",       "XY",       "S0..",
                                      "S..9",      "S9..0",     "S0.9",     "Sx..9",
                                      "S0..9x",    "S0x..9",    "comment:", "comment:square",
                                      "gap:none",  "dwell:min", "untried:", "untried:gap:free",
                                      "untried:G", "untried:?"};
    for (gsize i = 0; i < G_N_ELEMENTS(good); i++) {
        g_autofree char *words = g_strdup_printf(WORDS " S X Y %s", good[i]);
        g_autoptr(DtProfile) p = with_words(words);
        g_autofree char *problem = problem_of(p);
        if (problem != NULL && strstr(problem, "is not a word of a controller") != NULL)
            g_test_fail_printf("%s", problem);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
        g_autofree char *words = g_strdup_printf(WORDS " %s", bad[i]);
        g_autofree char *wanted = g_strdup_printf(
            "'%s' is not a word of a controller; words look like G1, X, S0..255, G4+P or "
            "comment:none",
            bad[i]);
        g_autoptr(DtProfile) p = with_words(words);
        g_autofree char *problem = problem_of(p);
        if (problem == NULL || strstr(problem, wanted) == NULL)
            g_test_fail_printf("'%s': %s", bad[i], problem ? problem : "taken");
    }
}

static void test_what_is_taken(void)
{
    static const struct {
        const char *word;
        gboolean taken;
    } cases[] = {{"G0", TRUE},     {"G1", TRUE}, {"G2", FALSE}, {"G21", TRUE},  {"G2.1", TRUE},
                 {"G28.1", FALSE}, {"M3", TRUE}, {"M4", FALSE}, {"M30", FALSE}, {"X", TRUE},
                 {"Z", FALSE},     {"(", TRUE},  {"K1", FALSE}, {"G28", FALSE}};
    g_autoptr(DtProfile) p = with_words("G0 g1 G21 G2.1 M3 X untried:G28 S dwell:ms");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        if (dt_code_takes(p, cases[i].word) != cases[i].taken)
            g_test_fail_printf("%s", cases[i].word);
    g_autoptr(DtProfile) none = with_words("G0 comment:none");
    g_assert_false(dt_code_takes(none, "("));
    g_assert_cmpfloat(dt_code_dwell_unit_s(p), ==, 0.001);
    g_assert_cmpfloat(dt_code_dwell_unit_s(none), ==, 1);
    g_autoptr(DtProfile) wrong = with_words("G0 ?");
    g_assert_false(dt_code_takes(wrong, "G0"));
    g_assert_cmpfloat(dt_code_dwell_unit_s(wrong), ==, 1);
}

/* What is refused of one line of a program for these words: "column text", one a line. */
static char *refusals(const char *words, const char *line)
{
    g_autoptr(DtProfile) p = with_words(words);
    g_autofree char *text = g_strdup_printf("G21 G90 F600\n%s\n", line);
    g_autoptr(GString) out = g_string_new(NULL);
    DtInspection i;
    g_assert_true(dt_code_judge_text(p, text, strlen(text), NULL, &i, NULL));
    for (size_t k = 0; k < i.n_findings; k++)
        if (i.findings[k].line == 2 && g_str_has_suffix(i.findings[k].kind, "-refused"))
            g_string_append_printf(out, "%d %s\n", i.findings[k].column, i.findings[k].text);
    dt_inspection_clear(&i);
    return g_strdup(out->str);
}

static void test_what_a_line_lacks(void)
{
    static const struct {
        const char *words, *line, *refused;
    } cases[] = {
        {WORDS, "M3 S255", ""},
        {WORDS, "M3", "1 this controller accepts M3 only with S in the same line\n"},
        {WORDS, "X1 M3", "4 this controller accepts M3 only with S in the same line\n"},
        {WORDS, "M3 S256", "4 this controller accepts S from 0 to 255, not 256\n"},
        {WORDS, "M3 S-1", "4 this controller accepts S from 0 to 255, not -1\n"},
        {WORDS " M3+S+P", "M3",
         "1 this controller accepts M3 only with P in the same line\n"
         "1 this controller accepts M3 only with S in the same line\n"},
        {WORDS " G1+F", "G1 X5", "1 this controller accepts G1 only with F in the same line\n"},
        {WORDS " X+Y", "G0 X5", "4 this controller accepts X only with Y in the same line\n"},
        {WORDS " X+Y", "G0 X5 Y5", ""},
        {WORDS, "G0 Z5", "4 this controller does not accept the letter Z\n"},
        {WORDS, "M4 S9", "1 this controller does not accept M4\n"},
        {WORDS, "/G0 X5", ""},
        {WORDS " delete:refused", "/G0 X5", "1 this controller does not accept '/'\n"},
        {WORDS, "G0 X[2+3]", "1 this controller does not accept parameters or expressions\n"},
        {WORDS " expressions:taken", "G0 X[2+3]", ""},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *refused = refusals(cases[i].words, cases[i].line);
        if (strcmp(refused, cases[i].refused) != 0)
            g_test_fail_printf("'%s' by '%s':\n%s", cases[i].line, cases[i].words, refused);
    }
}

/* The profile's own lines ------------------------------------------------------------------------ */

#define ADVICE                                                                                     \
    "; 'learn' has not tried it: run 'drawtrue learn --may-move', or remove the mark 'untried:' "  \
    "if you know that the "                                                                        \
    "controller has it"

/* Each of them is checked against the list, and both places are named. */
static void test_own_lines_are_made_of_own_words(void)
{
    static const struct {
        const char *lines;   /* of the section, from its second line on */
        const char *problem; /* behind the file's name, %s for it; NULL: none */
    } cases[] = {
        {"words = " WORDS "\npen_down = M3 S40\n", NULL},
        {"words = " WORDS "\npen_down = G1 X5\n", NULL}, /* an earlier line gives the feed */
        {"words = " WORDS "\npen_down = M3\n", ":3: pen_down = M3 contradicts the words at %s:2: "
                                               "this controller accepts M3 only with S in the same "
                                               "line"},
        {"words = " WORDS "\npen_up = M4 S1\n",
         ":3: pen_up = M4 S1 contradicts the words at %s:2: this controller does not accept M4"},
        {"words = " WORDS "\nhome = G28 Z0\n", ":3: home = G28 Z0 contradicts the words at %s:2: "
                                               "this controller does not accept the letter Z"},
        {"words = " WORDS "\nprogram_end = M30\n", ":3: program_end = M30 contradicts the words at "
                                                   "%s:2: this controller does not accept M30"},
        {"words = " WORDS "\nprogram_end = M5 X--1\n",
         ":3: program_end = M5 X--1 contradicts the words at %s:2: a sign needs a digit after it"},
        {"program_end = M30\nwords = G0 G1 G4 G21 G28 G90 M2 M3 M5 F S X Y\n",
         ":2: program_end = M30 contradicts the words at %s:3: this controller does not accept "
         "M30"},
        {"words = G0 G1 G4 G21 G90 M2 M3 M5 F S X Y\n",
         ", default: home = G28 contradicts the words at %s:2: this controller does not accept "
         "G28"},
        {"words = G0 G1 G4 G21 G90 M2 M3 M5 F S X Y untried:G28\n",
         ", default: home = G28 contradicts the words at %s:2: this controller does not accept "
         "G28" ADVICE},
        {"words = G0 G1 G4 G21 G90 M2 M3 M5 F S X Y untried:G2\n",
         ", default: home = G28 contradicts the words at %s:2: this controller does not accept "
         "G28"},
        {"words = G0 G1 G4 G21 G28 G90 M2 M3 M5 F X Y untried:P untried:S\n",
         ", default: pen_down = M3 S40 contradicts the words at %s:2: this controller does not "
         "accept the letter "
         "S" ADVICE},
        {"words = " WORDS " M41 M42 Z\npen_down = M41\npen_up = M42\n", NULL},
        {"words = " WORDS " Z\npen_down = G1 Z-2 F300\npen_up = G0 Z3\n", NULL},
        {"words = " WORDS " Z\npen_down = M3 S40 Z0\npen_up = M5\n", NULL},
        {"words = " WORDS " M41 Z\npen_down = M41\npen_up = G0 Z5\n",
         ":3: pen_down = M41 and pen_up = G0 Z5 (%s:4) do not belong together: both must be "
         "heights (Z), or neither"},
        {"words = " WORDS " Z\npen_down = G1 Z-2 F300\n",
         ":3: pen_down = G1 Z-2 F300 and pen_up = M5 (%s, default) do not belong together: both "
         "must be heights (Z), or neither"},
    };
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *path = g_build_filename(folder, "my.ini", NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text = g_strconcat("[controller]\n", cases[i].lines, NULL);
        g_assert_true(g_file_set_contents(path, text, -1, NULL));
        g_autoptr(DtProfile) p = dt_profile_load(path, &error);
        g_assert_no_error(error);
        g_autofree char *problem = problem_of(p);
        g_auto(GStrv) parts = g_strsplit(cases[i].problem ? cases[i].problem : "", "%s", 2);
        g_autofree char *rest = g_strjoinv(path, parts);
        g_autofree char *wanted = cases[i].problem ? g_strconcat(path, rest, NULL) : NULL;
        g_assert_cmpstr(problem, ==, wanted);
    }
    g_assert_true(folder_remove(folder));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/words/tokens", test_tokens);
    g_test_add_func("/code/words/taken", test_what_is_taken);
    g_test_add_func("/code/words/lacking", test_what_a_line_lacks);
    g_test_add_func("/code/words/own-lines", test_own_lines_are_made_of_own_words);
    return g_test_run();
}
