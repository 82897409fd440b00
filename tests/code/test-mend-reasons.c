/* mend: which lines stay, why the others do not, and what the evidence for a reading of the pen is. */
#include "drawtrue/code.h"
#include "machines.h"

#include <string.h>

/* "LINE TEXT" for every change, one a line, and what is written. */
static char *changes_of(const char *machine, const char *text, const DtMendOptions *o, char **out)
{
    g_autoptr(DtProfile) p = machine_by_name(machine);
    g_autoptr(GError) error = NULL;
    g_autoptr(GString) s = g_string_new(NULL);
    DtMending m;
    gsize len;
    p->drop_s = p->lift_s = 0.2;
    *out = dt_code_mend_text(p, text, strlen(text), "a.nc", o, &len, &m, &error);
    g_assert_no_error(error);
    for (size_t i = 0; i < m.n_changes; i++)
        g_string_append_printf(s, "%d %s\n", m.changes[i].line, m.changes[i].text);
    dt_mending_clear(&m);
    return g_strdup(s->str);
}

static void assert_changes(const char *machine, const char *text, const char *wanted)
{
    g_autofree char *out = NULL, *have = changes_of(machine, text, NULL, &out);
    if (strcmp(have, wanted) != 0)
        g_test_fail_printf("%s\nis changed so:\n%sinstead of:\n%sand becomes:\n%s", text, have,
                           wanted, out);
}

#define UP "G21 G90\nM5\nG4 P0.2\nG28\n"        /* lines 1 to 4 */
#define DOWN UP "G0 X10 Y10\nM3 S40\nG4 P0.2\n" /* lines 5 to 7 */
#define DRAWN DOWN "G1 X20 F600\n"              /* line 8 */
#define RAISED DRAWN "M5\nG4 P0.2\n"            /* lines 9 and 10 */
#define NO_DWELL "M3 S40\nG1 X40 F600\n"        /* one thing to mend, in two lines */
#define AWAY "the carriage goes back to the origin\n"
#define SETTLES "a dwell lets the pen settle\n"

/* An end lifts and returns by itself; where moves or pen words share its line, that comes too late. */
static void test_what_an_end_s_line_may_hold(void)
{
    static const struct {
        const char *text, *changes;
    } cases[] = {
        {RAISED "M2\n", "11 " AWAY},
        {RAISED "G0 X0.008 Y0.006\nM2\n", ""}, /* 0.01 mm from the origin */
        {DRAWN "M2\n", "9 the pen is lifted before the end\n9 " AWAY},
        {DRAWN "M5 M2\n",
         "9 " AWAY "9 rewritten: the pen goes up and to the origin before the end\n"},
        {RAISED NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0 M2\n", "12 " SETTLES},
        {RAISED "M3 S40\nG1 X0 Y0 F600\nM5 M2\n", "12 " SETTLES},
        {RAISED NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0.02 M2\n",
         "12 " SETTLES "15 " AWAY
         "15 rewritten: the pen goes up and to the origin before the end\n"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        assert_changes("builtin", cases[i].text, cases[i].changes);
}

/* Words that are done in one line, in the order of RS-274 (NISTIR 6556, table 8): spindle, dwell,
 * motion, stop. */
static void test_what_may_stand_in_one_line(void)
{
    static const struct {
        const char *text, *changes;
    } cases[] = {
        {UP "G0 X10 Y10\nM3 S40 G4 P0.2\nG1 X20 F600\nM5 G4 P0.2\n" NO_DWELL "M5\nG4 P0.2\n"
            "G0 X0 Y0\nM2\n",
         "10 " SETTLES},
        {UP "G0 X10 Y10\nM3 S40 G1 X20 F600\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n",
         "6 " SETTLES "6 rewritten: the pen needs a dwell between its word and the move\n"},
        {DRAWN "G1 X30 M0\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n",
         "9 the pen is lifted while the program waits\n"
         "9 rewritten: the pen goes up after the move and before the pause\n"},
        {DRAWN "M0\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n", "9 the pen is lifted while the program waits\n"},
        {RAISED "G0 X30 M0\n" NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0\nM2\n", "13 " SETTLES},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        assert_changes("builtin", cases[i].text, cases[i].changes);
}

/* A mode is given where the controller has another one beside it, and lengths and distances always. */
static void test_modes_are_given_where_they_are_missing(void)
{
    static const struct {
        const char *machine, *modes;
        gboolean given;
    } cases[] = {
        {"builtin", "G21 G90", FALSE}, {"builtin", "G21", TRUE},
        {"builtin", "G90", TRUE},      {"plain", "G21 G90", FALSE},
        {"full", "G21 G90", TRUE},     {"full", "G17 G21 G90", TRUE},
        {"full", "G21 G90 G94", TRUE}, {"full", "G17 G21 G90 G94", FALSE},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strconcat(
            cases[i].modes,
            "\nM5\nG4 P0.2\nG28\nG0 X100 Y100\n" NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0\nM2\n", NULL);
        g_autofree char *wanted =
            g_strconcat(cases[i].given ? "5 the modes that the moves rely on are given\n" : "",
                        "7 " SETTLES, NULL);
        assert_changes(cases[i].machine, text, wanted);
    }
}

/* An arc stays as it is where its ends lie on one circle to 0.002 mm, and becomes chords where they do not. */
static void test_arcs_that_fit_stay(void)
{
#define WAS                                                                                        \
    "the arc's ends do not meet its radius: it begins 10 mm and ends 10.004 mm from its centre\n"
    static const struct {
        const char *arc, *why;
    } cases[] = {
        {"G2 X30 Y10 I10 J0 F600", ""},     {"G3 X30 Y10 I10 J0 F600", ""},
        {"G2 X20 Y20 R10 F600", ""},        {"G3 X10 Y10 I10 J0 F600", ""},
        {"G2 X30.001 Y10 I10 J0 F600", ""}, {"G2 X30.004 Y10 I10 J0 F600", "8 rewritten: " WAS}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strconcat(
            DOWN, cases[i].arc, "\nM5\nG4 P0.2\n" NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0\nM2\n", NULL);
        g_autofree char *wanted = g_strconcat(cases[i].why, "12 " SETTLES, NULL);
        assert_changes("builtin", text, wanted);
    }
#undef WAS
}

/* A helix is, on the paper, its arc. */
static void test_a_helix_becomes_an_arc(void)
{
    static const char text[] = DOWN "G2 X30 Z-1 I10 J0 F600\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n";
    g_autofree char *out = NULL,
                    *have = changes_of("takesz", text, &(DtMendOptions){.pen_by = "machine"}, &out);
    g_assert_cmpstr(have, ==, "8 rewritten: this machine has no Z axis\n");
    if (strstr(out, "G2X30Y10I10J0F600\n") == NULL)
        g_error("%s", out);
}

/* The score of a reading, by its option. */
static double score(const char *text, const char *option)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    DtMending m;
    gsize len;
    double found = -G_MAXDOUBLE;
    g_autofree char *out = dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, NULL);
    for (size_t i = 0; i < m.n_readings; i++)
        if (strcmp(m.readings[i].option, option) == 0)
            found = m.readings[i].score;
    dt_mending_clear(&m);
    g_assert_cmpfloat(found, >, -G_MAXDOUBLE);
    return found;
}

/* The way from home to the first shape is a travel, and so is the way back; the pen is left up. Each
 * program lacks one of the three. */
static void test_a_reading_that_draws_the_first_or_last_way_is_less_likely(void)
{
#define SHAPE "M3 S40\nG1 X90 Y20 F600\nG1 X90 Y70\n"
    static const char all[] = "G21 G90\nG0 X50 Y20\n" SHAPE "M5\nG0 X0 Y0\n";
    static const char *const lacking[] = {
        "G21 G90\n" SHAPE "M5\nG0 X0 Y0\n",
        "G21 G90\nG0 X50 Y20\n" SHAPE "M5\n",
        "G21 G90\nG0 X50 Y20\n" SHAPE "M5\nG0 X0 Y0\nM3 S40\n",
    };
    for (size_t i = 0; i < G_N_ELEMENTS(lacking); i++)
        g_assert_cmpfloat(score(all, "machine"), >, score(lacking[i], "machine") + 0.5);
#undef SHAPE
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/mend-reasons/end", test_what_an_end_s_line_may_hold);
    g_test_add_func("/code/mend-reasons/one-line", test_what_may_stand_in_one_line);
    g_test_add_func("/code/mend-reasons/modes", test_modes_are_given_where_they_are_missing);
    g_test_add_func("/code/mend-reasons/arcs", test_arcs_that_fit_stay);
    g_test_add_func("/code/mend-reasons/helix", test_a_helix_becomes_an_arc);
    g_test_add_func("/code/mend-reasons/first-and-last-way",
                    test_a_reading_that_draws_the_first_or_last_way_is_less_likely);
    return g_test_run();
}
