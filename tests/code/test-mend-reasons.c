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
    for (size_t i = 0; i < m.n_changes; i++) {
        g_string_append_printf(s, "%d %s\n", m.changes[i].line, m.changes[i].text);
        g_assert_true(g_str_has_prefix(m.changes[i].text, "left in doubt") ==
                      (i >= m.n_changes - m.n_doubts));
    }
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

/* A mode is given where the controller has another one beside it, and lengths and distances always. What
 * the program leaves open is told. */
static void test_modes_are_given_where_they_are_missing(void)
{
#define NO_UNITS "5 no G20 or G21 before the first move: lengths are taken as mm\n"
#define NO_DISTANCE "5 no G90 or G91 before the first move: positions are taken as absolute\n"
#define GIVEN "5 the modes that the moves rely on are given\n"
    static const struct {
        const char *machine, *modes, *told;
    } cases[] = {
        {"builtin", "G21 G90", ""},      {"builtin", "G21", NO_DISTANCE},
        {"builtin", "G90", NO_UNITS},    {"builtin", "(neither)", NO_UNITS NO_DISTANCE},
        {"plain", "G21 G90", ""},        {"full", "G21 G90", GIVEN},
        {"full", "G17 G21 G90", GIVEN},  {"full", "G21 G90 G94", GIVEN},
        {"full", "G17 G21 G90 G94", ""},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strconcat(
            cases[i].modes,
            "\nM5\nG4 P0.2\nG28\nG0 X100 Y100\n" NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0\nM2\n", NULL);
        g_autofree char *wanted = g_strconcat(cases[i].told, "7 " SETTLES, NULL);
        assert_changes(cases[i].machine, text, wanted);
    }
#undef NO_UNITS
#undef NO_DISTANCE
#undef GIVEN
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

/* Lines that mean the same in another way, each in a program that has something else to mend too: what is said of the
 * line, what is written for it, and what is not left of it. */
static void test_lines_are_written_anew_for_a_reason(void)
{
#define BACK "M5\nG4 P0.2\nG0 X0 Y0\n" NO_DWELL "M5\nG4 P0.2\nG0 X0 Y0\nM2\n"
    static const struct {
        const char *machine, *text, *change, *written, *gone;
    } cases[] = {
        {"full", "G20 G90\nM5\nG4 P0.2\nG28\nG0 X1 Y1\nM3 S40\nG4 P0.2\nG1 X2 F20\nG21\n" BACK,
         "5 rewritten: inches become mm\n", "\nG0X25.4Y25.4\n", "G20"},
        {"full", "G20 G90\nM5\nG4 P0.2\nG28\nG0 X1 Y1\nM3 S40\nG4 P0.2\nG1 X2 F20\nG21\n" BACK,
         "8 rewritten: inches become mm\n", "\nG1X50.8F508\n", "X2 F"},
        {"full", "G20 G90\nM5\nG4 P0.2\nG28\nG0 X1 Y1\nM3 S40\nG4 P0.2\nG1 X2 F20\nG21\n" BACK,
         "1 left out: lengths are written in mm\n", "G21", "F20\n"},
        {"full", DOWN "G91\nG1 X20 F600\nG90\n" BACK,
         "8 left out: distances are written from the origin\n", "\nG1X30F600\n", "G91"},
        {"full", DOWN "G91\nG1 X20 F600\nG90\n" BACK, "9 rewritten: incremental becomes absolute\n",
         "\nG1X30F600\n", "X20"},
        {"full", DOWN "G93\nG1 X20 F60\nG94 F600\n" BACK,
         "9 rewritten: inverse time feed becomes mm a minute\n", "\nG1X20F600\n", "G93"},
        {"full", DOWN "G93\nG1 X20 F60\nG94 F600\n" BACK,
         "8 left out: feeds are written in mm a minute\n", "\nG1X20F600\n", "F60\n"},
        {"full", DOWN "G55 G1 X20 F600\nG54\n" BACK,
         "8 rewritten: lengths are written in machine coordinates\n", "\nG1X20F600\n", "G55"},
        {"full", DOWN "G92 X0 Y0\nG1 X20 F600\nG92.1\n" BACK, "9 rewritten: an offset is added\n",
         "\nG1X30F600\n", "G92"},
        {"full", DOWN "G53 G1 X20 Y10 F600\n" BACK,
         "8 rewritten: lengths are written in machine coordinates\n", "\nG1X20F600\n", "G53"},
        {"full", DOWN "G10 L2 P1 X5 Y0\nG1 X20 F600\nG10 L2 P1 X0 Y0\n" BACK,
         "8 left out: lengths are written in machine coordinates\n", "\nG1X25F600\n", "G10"},
        {"full", DOWN "G81 X20 Y10 Z-1 R2 F600\nG80\n" BACK,
         "8 rewritten: a canned cycle is written as its moves\n", "X20", "G81"},
        {"zfull", /* a line that repeats the cycle has no word for it */
         "G21 G90\nG0 Z3\nG28\nM7\nG17 G94 G98\nG81 X20 Y10 Z-1 R3 F300\nX30\nX40\nG80\n"
         "G1 Z-1\nG1 X50 F600\nG0 Z3\nG0 X0 Y0\nM2\n",
         "8 rewritten: a canned cycle is written as its moves\n", "\nX40\nG1 Z-1 F300\nG0 Z3\n",
         "X40\nG8"},
        {"builtin", DRAWN "M3 S20\nG1 X30\n" BACK,
         "9 left out: the pen's words are those of this machine\n", "\nG1 X30\n", "S20"},
        {"builtin", UP "G0 X10 Y10\nM3 S60\nG4 P0.2\nG1 X30 F600\n" BACK,
         "6 rewritten: the pen's words are those of this machine\n", "\nM3 S40\n", "S60"},
        {"builtin", UP "M3 S40\nG4 P0.2\nG0 X10 Y10\nG1 X30 F600\n" BACK,
         "5 left out: the pen does not come down before the first move\n",
         "\nG0 X10 Y10\nM3 S40\nG4P0.2\n", "G28\nM3"},
        {"builtin", DOWN "G1 X20 F6000\n" BACK,
         "8 rewritten: the feed is one that the axes reach\n", "\nG1X20F", "F6000"},
        {"builtin", DOWN "M3 S40 G1 X20 F6000\n" BACK, /* its second word's reason */
         "8 rewritten: the feed is one that the axes reach\n", "\nG1X20F", "F6000"},
        {"builtin", DOWN "  O1000 (seeds)\nG1 X20 F6000\n" BACK, "9 rewritten: the feed",
         "(seeds)\n", "O1000"},
        {"builtin", DOWN "G0 X20\nG1 X30 F600\n" BACK, "8 the pen drops after the travel\n",
         "\nG0 X20\nM3 S40\nG4P0.2\nG1 X30 F600\n", "M3 S40\nG0"},
        {"builtin", DRAWN "N100000 G1 X30\n" BACK,
         "9 rewritten: its number is beyond 99999, which the standard does not have\n", "\nX30\n",
         "N100000"},
        {"builtin", RAISED "M3 S40\nG4 P200\nG1 X30 F600\n" BACK,
         "12 rewritten: a dwell of 200 s after a pen word is taken as 200 ms\n", "\nG4P0.2\n",
         "P200"},
        {"builtin", DRAWN "M6\nG1 X30\n" BACK, "9 the pen is lifted while the program waits\n",
         "\nM0\n", "M6"},
        {"z", "G21 G90\nG0 Z5\nG28\nG0 X10 Y10\nG1 Z-2 F300\nG1 X20 F600\nG0 Z5\nG0 X0 Y0\nM2\n",
         "5 rewritten: the pen draws at the height of this machine\n", "\nG1 Z-1 F300\n", "Z-2"},
        {"builtin", DOWN "G2 I10 J0 F600\n" BACK, "8 rewritten: a full circle gives its end\n",
         "\nG2X10Y10I10J0F600\n", "\nG2 I10"},
        {"builtin", DOWN "; seeds (two)\tand more\nG1 X20 F600\n" BACK,
         "8 this controller does not accept comments after ';': the comment is rewritten\n",
         "\n(seeds [two] and more)\n", ";"},
        {"laconic", UP "G0 X10 Y10\nM3 S40\nG4 P0.2\n(seeds)\nG1 X20 F600\n" BACK,
         "8 this controller does not accept comments in brackets: the comment is left out\n",
         "\nG4 P0.2\nG1 X20 F600\n", "seeds"},
        {"builtin", DOWN "#1=20\nG1 X#1 F600\n" BACK,
         "8 left out: this controller does not accept parameters or expressions\n"
         "9 rewritten: this controller does not accept parameters or expressions\n",
         "\nG1X20F600\n", "#"},
        {"builtin", DOWN "O1000 (seeds)\nG1 X20 F600\n" BACK,
         "8 left out: RS-274 has no letter O\n", "\n(seeds)\nG1 X20 F600\n", "O1000"},
        {"builtin", RAISED "M4 S50\nG4 P0.2\nM5\nG4 P0.2\n" NO_DWELL BACK,
         "11 rewritten: this controller does not accept M4\n", "M5", "M4"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *out = NULL,
                        *have = changes_of(cases[i].machine, cases[i].text, NULL, &out);
        if (strstr(have, cases[i].change) == NULL || strstr(out, cases[i].written) == NULL ||
            strstr(out, cases[i].gone) != NULL)
            g_test_fail_printf("%zu: '%s' and '%s' without '%s' are expected of\n%s\nbut:\n%s\n%s",
                               i, cases[i].change, cases[i].written, cases[i].gone, cases[i].text,
                               have, out);
    }
#undef BACK
}

/* A comment that is longer than a line may be is cut, and what it was is still a comment. */
static void test_a_long_comment_is_cut(void)
{
    enum { LONGEST = 30, CHECK = 14 /* bytes of a line's number and check */ };
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    p->dialect.longest_line = LONGEST + CHECK;
    p->dialect.line_check = TRUE;
    const char *text = DOWN "; seeds of the community library, sown in March\nG1 X20 F600\n"
                            "M5\nG4 P0.2\nG0 X0 Y0\nM2\n";
    g_autofree char *out = dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error);
    g_assert_no_error(error);
    dt_mending_clear(&m);
    if (strstr(out, "\n(seeds of the community libra)\n") == NULL)
        g_error("%s", out);
}

/* Whether strokes of this length are mended for a machine that takes one digit after the point; why not is said with
 * both lengths. It has no incremental distances, so that each line is written anew. */
static gboolean is_mended_to_tenths(int strokes, double length)
{
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GString) text = g_string_new("G21 G91\nM5\nG28\nG0 X10 Y10\n");
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    p->dialect.decimals = 1;
    for (int i = 0; i < strokes; i++)
        g_string_append_printf(text, "M3 S40\nG4 P0.2\nG1 X%g F600\nM5\nG4 P0.2\nG0 X%g Y1\n",
                               length, -length);
    g_string_append(text, "G90 G0 X0 Y0\nM2\n");
    g_autofree char *out =
        dt_code_mend_text(p, text->str, text->len, "a.nc", NULL, &len, &m, &error);
    dt_mending_clear(&m);
    if (out == NULL) {
        g_autofree char *meant = g_strdup_printf("of the %.4g mm that are meant", strokes * length);
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        if (strstr(error->message, meant) == NULL)
            g_error("%s", error->message);
    }
    return out != NULL;
}

/* Rounding may take a hundredth of what is drawn, plus 0.002 mm for each piece, plus 0.02 mm; where it
 * takes or adds more, the result would be another drawing. */
static void test_what_rounding_takes_is_not_silent(void)
{
    static const struct {
        int strokes;
        double length; /* mm */
        gboolean mended;
    } cases[] = {{1, 10.04, TRUE},    {1, 9.96, TRUE},   {1, 0.14, FALSE},  {60, 0.103, TRUE},
                 {60, 0.1035, FALSE}, {60, 0.097, TRUE}, {60, 0.096, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        if (is_mended_to_tenths(cases[i].strokes, cases[i].length) != cases[i].mended)
            g_test_fail_printf("%d strokes of %g mm", cases[i].strokes, cases[i].length);
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

/* Of the same shapes drawn at other heights, those that zero parts from the travel are the likelier. */
static void test_heights_about_zero_are_likelier(void)
{
#define HEIGHTS(high, low, lower)                                                                  \
    "G21 G90\nG0 Z" high "\nG0 X10 Y10\nG1 Z" low " F300\nG1 X40 Y10\nG1 X40 Y30\nG0 Z" high       \
    "\nG0 X60 Y10\nG1 Z" lower "\nG1 X90 Y10\nG1 X90 Y30\nG0 Z" high "\nG0 X0 Y0\nM2\n"
    static const struct {
        const char *about, *about_option, *above, *above_option;
    } cases[] = {
        {HEIGHTS("5", "0", "0"), "z-below:2.5", HEIGHTS("8", "3", "3"), "z-below:5.5"},
        {HEIGHTS("5", "0", "-1"), "z-below:2.5", HEIGHTS("8", "3", "2"), "z-below:5.5"},
        {HEIGHTS("5", "-1", "-2"), "z-below:2", HEIGHTS("8", "2", "1"), "z-below:5"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        g_assert_cmpfloat(score(cases[i].about, cases[i].about_option), >,
                          score(cases[i].above, cases[i].above_option) + 0.4);
#undef HEIGHTS
}

/* Each form of other controls is told once, with the line where it is first. */
static void test_forms_of_other_controls_are_told_with_their_lines(void)
{
    assert_changes("builtin",
                   "(a label)\nG71 G90\nM5\nG4 P0.2\nG28\nG0 X10 Y10 *57\nM3 S40 *3\nG4 P0.2\n"
                   "G1 X20 F600\nG71\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n",
                   "2 G70 and G71, which the standard does not have, are taken for inches and mm\n"
                   "6 checksums at line ends, which the standard does not have, are left out\n");
}

/* Comments, and lines of their own, before the first word. */
static void test_inches_hold_from_the_first_word_on(void)
{
    static const struct {
        const char *before, *first;
    } cases[] = {{"", "G0"}, {"N 10 ", "G0"}, {"(a label)\n; and more\n\n", "  g0"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strconcat(cases[i].before, cases[i].first,
                                            " X1 Y1\nM3 S40\nG1 X2 F30\nM5\nG0 X0 Y0\nM2\n", NULL);
        g_autofree char *out = NULL,
                        *have = changes_of("builtin", text, &(DtMendOptions){.units = "in"}, &out);
        if (strstr(out, "X25.4") == NULL || strstr(out, "X50.8") == NULL)
            g_test_fail_printf("%s\nbecomes:\n%s", text, out);
    }
}

/* The first ten problems are told, and how many more there are; a thousand changes likewise. */
static void test_what_is_too_much_to_tell_is_counted(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    for (int n = 10; n <= 13; n += 3) {
        g_autoptr(GString) text = g_string_new(UP "G0 X10 Y10\n");
        for (int i = 0; i < n; i++)
            g_string_append(text, "G187 P1\n");
        g_string_append(text, "M3 S40\nG1 X20 F600\nM5\nM2\n");
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        g_assert_null(dt_code_mend_text(p, text->str, text->len, "a.nc", NULL, &len, &m, &error));
        dt_mending_clear(&m);
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_auto(GStrv) lines = g_strsplit(error->message, "\n", -1);
        g_assert_cmpuint(g_strv_length(lines), ==, n > 10 ? 11 : 10);
        g_assert_true(g_str_has_prefix(lines[9], "a.nc:15:1: "));
        if (n > 10)
            g_assert_cmpstr(lines[10], ==, "and 3 more");
    }
    for (int n = 1000; n <= 1004; n += 4) {
        g_autoptr(GString) text = g_string_new(DRAWN);
        for (int i = 0; i < n; i++)
            g_string_append(text, "M9\n");
        g_string_append(text, "M5\nG4 P0.2\nG0 X0 Y0\nM2\n");
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        p->drop_s = p->lift_s = 0.2;
        g_autofree char *out =
            dt_code_mend_text(p, text->str, text->len, "a.nc", NULL, &len, &m, &error);
        g_assert_no_error(error);
        g_assert_cmpuint(m.n_changes, ==, 1000);
        g_assert_cmpuint(m.omitted, ==, (gsize)n - 1000);
        dt_mending_clear(&m);
    }
}

/* The problems of a text that cannot be mended as it is. */
static void assert_problems(const char *text, const char *wanted)
{
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_assert_null(dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpstr(error->message, ==, wanted);
    dt_mending_clear(&m);
}

#define BEYOND(line, x, y)                                                                         \
    "a.nc:" line ":1: X " x " mm, Y " y                                                            \
    " mm lies beyond the travel of 300 x 220 mm; --clip leaves such parts out"
#define CLIPPED "what lies beyond the travel is left out\n"
#define BECAUSE_BEYOND "rewritten: it goes beyond the travel\n"
#define LEFT_OUT "left out: it goes beyond the travel\n"
#define GIVEN "rewritten: both of its coordinates are given\n"
#define LIFTED "M5\nG4P0.2\n"
#define DROPPED "M3 S40\nG4P0.2\n"
#define ENDS "M5\nG4 P0.2\nG0 X0 Y0\nM2\n"

/* Each stretch beyond the travel, 300 by 220 mm, is told once; with leave it is cut off where it crosses
 * the edge, as Liang and Barsky (1984) have it, and the pen comes up there. */
static void test_what_lies_beyond_the_travel(void)
{
    static const struct {
        const char *text, *problems, *changes, *becomes;
    } cases[] = {
        /* Out by one edge, about in the open, and in by another: one stretch. */
        {DOWN "G1 X290 Y200 F600\nX310 Y200\nX330 Y210\nX310 Y230\nX290 Y240\nX280 Y200\n" ENDS,
         BEYOND("9", "310", "200"),
         "9 " CLIPPED "9 " BECAUSE_BEYOND "10 " LEFT_OUT "11 " LEFT_OUT "12 " LEFT_OUT "13 " GIVEN,
         DOWN "G1 X290 Y200 F600\nX300\n" LIFTED "G0X285Y220\n" DROPPED "G1X280Y200\n" ENDS},
        /* Two stretches. */
        {DOWN "G1 X290 Y100 F600\nX310 Y100\nX310 Y110\nX290 Y110\nX290 Y120\nX320 Y120\n"
              "X290 Y120\n" ENDS,
         BEYOND("9", "310", "100") "\n" BEYOND("13", "320", "120"),
         "9 " CLIPPED "9 " BECAUSE_BEYOND "10 " LEFT_OUT "11 " GIVEN "13 " CLIPPED
         "13 " BECAUSE_BEYOND "14 " GIVEN,
         DOWN "G1 X290 Y100 F600\nX300\n" LIFTED "G0Y110\n" DROPPED
              "G1X290\nX290 Y120\nX300\nX290\n" ENDS},
        /* Past a corner, which one side of it touches. */
        {DOWN "G1 X290 Y10 F600\nX290 Y230\nX310 Y210\nX310 Y230\n" ENDS, BEYOND("9", "290", "230"),
         "9 " CLIPPED "9 " BECAUSE_BEYOND "10 " LEFT_OUT "11 " LEFT_OUT "14 " GIVEN,
         DOWN "G1 X290 Y10 F600\nY220\nM5\nG4 P0.2\nG0X0Y0\nM2\n"},
        /* Below and left of the origin. */
        {DOWN "G1 X10 Y-5 F600\nX-5 Y-5\nX-5 Y10\nX10 Y10\n" ENDS, BEYOND("8", "10", "-5"),
         "8 " CLIPPED "8 " BECAUSE_BEYOND "9 " LEFT_OUT "10 " LEFT_OUT "11 " GIVEN,
         DOWN "G1Y0F600\n" LIFTED "G0X0Y10\n" DROPPED "G1X10\n" ENDS},
        /* A stroke that begins there begins where it enters. */
        {RAISED "G0 X320 Y10\nM3 S40\nG4 P0.2\nG1 X280 F600\n" ENDS, BEYOND("14", "320", "10"),
         "11 a travel beyond the machine's is left out\n11 " LEFT_OUT
         "12 left out: the pen does not come down beyond the travel\n"
         "14 the pen is dropped again\n14 " SETTLES "14 " CLIPPED "14 " GIVEN,
         RAISED "G4 P0.2\nG0X300\n" DROPPED "G1X280\n" ENDS},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        const DtMendOptions clip = {.clip = TRUE};
        g_autofree char *out = NULL;
        g_autofree char *have = changes_of("builtin", cases[i].text, &clip, &out);
        assert_problems(cases[i].text, cases[i].problems);
        g_assert_cmpstr(have, ==, cases[i].changes);
        g_assert_cmpstr(out, ==, cases[i].becomes);
    }
}

#define NOT_TAKEN "rewritten: this controller does not accept "
#define NO_FEED "rewritten: a move at feed, and no F was given before it\n"
#define DOUBTED                                                                                    \
    "left in doubt, in the result's line: a dwell of 60 s: this controller counts a dwell's P in " \
    "seconds\n"

/* What would be minutes right behind a pen word is meant in ms; behind a move it is a pause, whether the
 * lines before it stay or not. */
static void test_long_dwells(void)
{
    static const struct {
        const char *machine, *text, *changes;
    } cases[] = {
        {"z", "G21 G90\nM5\nG28\nG0 X10 Y10\nM3\nG4 P200\nG1 X20 F600\nM5\nG0 X0 Y0\nM2\n",
         "2 " NOT_TAKEN "M5\n5 " NOT_TAKEN
         "M3\n6 rewritten: a dwell of 200 s after a pen word is taken as 200 ms\n8 " NOT_TAKEN
         "M5\n"},
        {"z", "G21 G90\nM5\nG28\nG0 X10 Y10\nM3\nG1 X20\nG4 P60\nX30\nM5\nG0 X0 Y0\nM2\n",
         "2 " NOT_TAKEN "M5\n5 " NOT_TAKEN "M3\n6 " NO_FEED "8 " NO_FEED "9 " NOT_TAKEN
         "M5\n7 " DOUBTED},
        {"builtin", UP "G0 X10 Y10\nM3 S40\nG4 P200\nG1 X20 F600\nG4 P60\nX30\n" ENDS,
         "7 rewritten: a dwell of 200 s after a pen word is taken as 200 ms\n9 " DOUBTED},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        assert_changes(cases[i].machine, cases[i].text, cases[i].changes);
}

/* A height of our own is in mm and absolute, whatever an earlier job left. */
static void test_a_pen_on_an_axis_has_its_modes_first(void)
{
    static const struct {
        const char *text, *becomes;
    } cases[] = {
        {"M5\nG28\nG0 X10 Y10\nM3\nG1 X20 F600\nM5\nG0 X0 Y0\nM2\n",
         "G21G90\nG0 Z3\nG28\nG0 X10 Y10\nG1 Z-1 F300\nG1 X20 F600\nG0 Z3\nG0 X0 Y0\nM2\n"},
        {"G91\nM5\nG28\nG0 X10 Y10\nM3\nG1 X10 F600\nM5\nG0 X-20 Y-10\nM2\n",
         "G21G90\nG0 Z3\nG28\nX10Y10\nG1 Z-1 F300\nX20F600\nG0 Z3\nX0Y0\nM2\n"},
        {"G20\nM5\nG28\nG0 X1 Y1\nM3\nG1 X2 F30\nM5\nG0 X0 Y0\nM2\n",
         "G21G90\nG0 Z3\nG28\nX25.4Y25.4\nG1 Z-1 F300\nX50.8F762\nG0 Z3\nX0Y0\nM2\n"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *out = NULL, *have = changes_of("z", cases[i].text, NULL, &out);
        g_assert_cmpstr(out, ==, cases[i].becomes);
    }
}

/* A controller may measure in inches, and have no word for mm. */
static void test_a_controller_that_lacks_a_mode_is_told(void)
{
    static const char text[] =
        "G21 G90\nM5\nG28\nG0 X10 Y10\nM3 S40\nG1 X20 F600\nM5\nG0 X0 Y0\nM2\n";
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_free(p->dialect.words);
    p->dialect.words = g_strdup("G0 G1 G4 G20 G28 G90 M2 M3 M5 F N P S X Y");
    g_assert_null(dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpstr(error->message, ==,
                    "profile: the controller's words lack G21, which this job needs");
    dt_mending_clear(&m);
}

/* Where what was mended calls for another mending, its changes are told too, marked so, with the lines of
 * what was mended first; a doubt which that removes is not told. */
static void test_what_is_mended_again(void)
{
    static const char text[] =
        "G21 G90\nM5\nG28\nG0 X10 Y10\nS40\nM3\nG4 P0.2\nG1 X20 F600\nM5\nG0 X30\nM3\nG4 P0.2\n"
        "G1 X40\nM5\nG0 X0 Y0\nM2\n";
    g_autofree char *out = NULL, *have = changes_of("full", text, NULL, &out);
#define OWN_PEN " mended again: rewritten: the pen's words are those of this machine\n"
    g_assert_cmpstr(have, ==,
                    "4 the modes that the moves rely on are given\n"
                    "5 left out: the spindle is not what lifts this file's pen\n"
                    "10 " SETTLES "15 " SETTLES "6" OWN_PEN "12" OWN_PEN);
    g_assert_cmpstr(out, ==,
                    "G21 G90\nM5\nG28\nG17G94\nG0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X20 F600\n"
                    "M5\nG4P0.2\nG0 X30\nM3 S40\nG4 P0.2\nG1 X40\nM5\nG4P0.2\nG0 X0 Y0\nM2\n");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/mend-reasons/end", test_what_an_end_s_line_may_hold);
    g_test_add_func("/code/mend-reasons/one-line", test_what_may_stand_in_one_line);
    g_test_add_func("/code/mend-reasons/modes", test_modes_are_given_where_they_are_missing);
    g_test_add_func("/code/mend-reasons/arcs", test_arcs_that_fit_stay);
    g_test_add_func("/code/mend-reasons/helix", test_a_helix_becomes_an_arc);
    g_test_add_func("/code/mend-reasons/anew", test_lines_are_written_anew_for_a_reason);
    g_test_add_func("/code/mend-reasons/long-comment", test_a_long_comment_is_cut);
    g_test_add_func("/code/mend-reasons/rounding", test_what_rounding_takes_is_not_silent);
    g_test_add_func("/code/mend-reasons/first-and-last-way",
                    test_a_reading_that_draws_the_first_or_last_way_is_less_likely);
    g_test_add_func("/code/mend-reasons/about-zero", test_heights_about_zero_are_likelier);
    g_test_add_func("/code/mend-reasons/forms",
                    test_forms_of_other_controls_are_told_with_their_lines);
    g_test_add_func("/code/mend-reasons/inches", test_inches_hold_from_the_first_word_on);
    g_test_add_func("/code/mend-reasons/beyond", test_what_lies_beyond_the_travel);
    g_test_add_func("/code/mend-reasons/pen-on-an-axis", test_a_pen_on_an_axis_has_its_modes_first);
    g_test_add_func("/code/mend-reasons/lacking", test_a_controller_that_lacks_a_mode_is_told);
    g_test_add_func("/code/mend-reasons/long-dwells", test_long_dwells);
    g_test_add_func("/code/mend-reasons/again", test_what_is_mended_again);
    g_test_add_func("/code/mend-reasons/too-much", test_what_is_too_much_to_tell_is_counted);
    return g_test_run();
}
