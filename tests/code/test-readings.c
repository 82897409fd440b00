/* readings: each way of meaning a pen has one spelling that --pen-by takes, in every language, and words
 * for people; lines of a program are explained in words. */
#include "code/mend/reading.h"
#include "machines.h"

#include <math.h>
#include <string.h>

static void test_each_option_reads_back(void)
{
    static const struct {
        const char *option, *words;
    } cases[] = {
        {"machine", "this machine's own pen words"},
        {"machine+rapids", "this machine's own pen words, and rapids (G0) draw too"},
        {"moves", "moves at feed (G1, G2, G3) draw and rapids (G0) travel"},
        {"spindle:on", "the pen is down while the spindle turns (M3, M4)"},
        {"spindle:off", "the pen is down while the spindle stands (M5)"},
        {"spindle:m3", "the pen is down while the spindle turns by M3"},
        {"spindle:m4", "the pen is down while the spindle turns by M4"},
        {"spindle:m4+rapids",
         "the pen is down while the spindle turns by M4, and rapids (G0) draw too"},
        {"s-above:60", "the pen is down at S above 60"},
        {"s-below:0.5", "the pen is down at S below 0.5"},
        {"z-below:1.5", "the pen is down at Z below 1.5 mm"},
        {"z-above:-2", "the pen is down at Z above -2 mm"},
        {"a-above:30", "the pen is down at A above 30 degrees"},
        {"c-below:-12.25+rapids",
         "the pen is down at C below -12.25 degrees, and rapids (G0) draw too"},
        {"line:M8=down,M9=up", "M8 lowers the pen and M9 lifts it"},
        {"line:M71 P1=down,M71 P0=up", "M71 P1 lowers the pen and M71 P0 lifts it"},
        {"letter:E", "moves with a word E draw, and moves without it travel"},
        {"rising:E", "moves in which E rises draw, and all others travel"},
        {"positive:U+rapids",
         "moves with U above 0 draw, and all others travel, and rapids (G0) draw too"},
        {"letter:V+rapids",
         "moves with a word V draw, and moves without it travel, and rapids (G0) draw too"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        DtReading r;
        g_assert_true(dt_reading_parse(cases[i].option, &r, &error));
        g_assert_no_error(error);
        g_autofree char *option = dt_reading_option(&r), *words = dt_reading_words(&r);
        g_assert_cmpstr(option, ==, cases[i].option);
        g_assert_cmpstr(words, ==, cases[i].words);
    }
    DtReading r, same;
    g_assert_true(dt_reading_parse("spindle", &r, NULL)); /* short for spindle:on */
    g_assert_true(dt_reading_parse("spindle:on", &same, NULL));
    g_assert_cmpmem(&r, sizeof r, &same, sizeof same);
    g_assert_true(dt_reading_parse("Z-below:1", &r, NULL));
    g_assert_cmpint(r.axis, ==, 2);
    g_assert_true(dt_reading_parse("line:m08=down,M9.0=up", &r, NULL)); /* in the one spelling */
    g_assert_cmpstr(r.down, ==, "M8");
    g_assert_cmpstr(r.up, ==, "M9");
}

/* A line is known by all of its words or not at all: cut short, two lines could pass for one. */
static void test_a_line_too_long_for_a_pen_s(void)
{
    static const char before[] = "M71 P123456789 Q123456789 S123456789 D12345678 E";
    static const struct {
        const char *word;
        gboolean taken;
    } cases[] = {{"1", TRUE},
                 {"-12345678.5", TRUE},
                 {"123456789 U1", TRUE},
                 {"123456789 U1234", TRUE}, /* of 63 bytes */
                 {"123456789 U1 V1", TRUE},
                 {"123456789 U12345", FALSE},
                 {"123456789 U123456", FALSE},
                 {"123456789 U12 V1", FALSE},
                 {"123456789 U12345 V1", FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *line = g_strconcat(before, cases[i].word, NULL),
                        *option = g_strdup_printf("line:%s=down,M9=up", line);
        DtReading r;
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_reading_parse(option, &r, &error) == cases[i].taken);
        if (cases[i].taken)
            g_assert_cmpstr(r.down, ==, line);
    }
}

static void test_what_is_no_option(void)
{
    static const char *const wrong[] = {"",
                                        "moves+rapids",
                                        "spindle:",
                                        "spindle:m5",
                                        "s-above",
                                        "s-above:",
                                        "s-above:6x",
                                        "s-above:inf",
                                        "s-over:6",
                                        "x-above:1",
                                        "y-below:1",
                                        "q-below:1",
                                        "z",
                                        "z-below:nan",
                                        "line:",
                                        "line:M8",
                                        "line:M8=down",
                                        "line:M8=up",
                                        "line:M8=left,M9=up",
                                        "line:X1=down,M9=up",
                                        "line:M8=down,=up",
                                        "letter:",
                                        "letter:EE",
                                        "letter:1",
                                        "letter:x",
                                        "rising:",
                                        "rising:Z",
                                        "positive:EE",
                                        "machines",
                                        "s-\303\274ber:6"};
    for (size_t i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_autoptr(GError) error = NULL;
        DtReading r;
        if (dt_reading_parse(wrong[i], &r, &error))
            g_error("'%s' was taken", wrong[i]);
        g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
        g_autofree char *quoted =
            g_strdup_printf("'%s' is not a way to recognise the pen", wrong[i]);
        g_assert_nonnull(strstr(error->message, quoted));
    }
}

/* Explanations -------------------------------------------------------------------------------- */

static void on_words(size_t line, const char *source, gsize len, const char *words, void *user)
{
    (void)source, (void)len;
    g_string_append_printf(user, "%zu %s\n", line, words);
}

static void assert_explained(const char *machine, const char *text, const char *wanted)
{
    g_autoptr(DtProfile) p = machine_by_name(machine);
    g_autoptr(GString) s = g_string_new(NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_code_explain_text(p, text, strlen(text), on_words, s, &error));
    g_assert_no_error(error);
    g_assert_cmpstr(s->str, ==, wanted);
}

static void test_arcs_and_states_in_words(void)
{
    assert_explained(
        "builtin",
        "G0 X10 Y0\nM3 S40\nG2 X0 Y-10 I-10 J0 F600\nG3 X-10 Y0 R10\nG1 X-10 Y0\nM3 "
        "S40\nG0 X5\nM5\nM5\nG1 X6\nM0\n",
        "1 travel to X 10, Y 0 mm\n"
        "2 pen down (S40)\n"
        "3 feed 600 a minute; draw clockwise along an arc of 90 degrees, radius 10 mm, to "
        "X 0, Y -10 mm\n"
        "4 draw anticlockwise along an arc of 90 degrees, radius 10 mm, to X -10, Y 0 mm\n"
        "5 stay: it is there already\n"
        "6 pen stays down (S40)\n"
        "7 travel with the pen down to X 5, Y 0 mm\n"
        "8 pen up\n"
        "9 pen stays up\n"
        "10 move with the pen up to X 6, Y 0 mm at 10 mm/s\n"
        "11 wait until the operator goes on, as for a pen change\n");
}

static void test_pens_by_height_and_own_words(void)
{
    assert_explained("z", "G0 Z3\nG0 X5\nG1 Z-1 F300\nG1 X9\nG0 Z3\nG1 X1\n",
                     "1 travel to X 0, Y 0, Z 3 mm\n"
                     "2 travel to X 5, Y 0 mm\n"
                     "3 feed 300 a minute; move with the pen up to X 5, Y 0, Z -1 mm at 5 mm/s\n"
                     "4 draw a line to X 9, Y 0 mm at 5 mm/s\n"
                     "5 travel with the pen down to X 9, Y 0, Z 3 mm\n"
                     "6 move with the pen up to X 1, Y 0 mm at 5 mm/s\n");
    assert_explained("own", "M41\nG1 X5 F60\nM42\nG1 X6\nM3\nM5\n",
                     "1 pen down\n"
                     "2 feed 60 a minute; draw a line to X 5, Y 0 mm at 1 mm/s\n"
                     "3 pen up\n"
                     "4 move with the pen up to X 6, Y 0 mm at 1 mm/s\n"
                     "5 spindle on, which is not this machine's pen\n"
                     "6 spindle off, which is not this machine's pen\n");
}

static void test_milliseconds_and_comments(void)
{
    assert_explained("milliseconds", "G4 P200\n( a note )\n", "1 wait 0.2 s\n2 comment: a note\n");
    assert_explained("full", "#5=2.5\n%\nG53 G0 X1\n",
                     "1 parameter #5 becomes 2.5\n"
                     "2 beginning or end of the tape\n"
                     "3 in machine coordinates; travel to X 1, Y 0 mm\n");
}

static void test_refusals_in_words(void)
{
    assert_explained(
        "plain", "/G0 X1\nF600 G2 X5 I2.5\nG1\n",
        "1 left out, for the '/'\n"
        "2 feed 600 a minute; move clockwise along an arc of 180 degrees, radius 2.5 mm, to "
        "X 5, Y 0 mm; refused at column 6: this controller does not accept G2; refused at "
        "column 12: this controller does not accept the letter I\n"
        "3 column 1: G1 needs an axis word\n");
}

static void test_stops_tools_and_speeds_in_words(void)
{
    assert_explained("toolchanger", "M1\nT3\nM6\nS40\nM8\nG28\nM3\nS60\nM30\n",
                     "1 wait for the operator, if the optional stop is on\n"
                     "2 select tool 3\n"
                     "3 change to tool 3\n"
                     "4 spindle speed 40\n"
                     "5 flood on; refused at column 1: this controller does not accept M8\n"
                     "6 home both axes: X 0, Y 0\n"
                     "7 pen down (S40)\n"
                     "8 pen stays down (S60)\n"
                     "9 end of the program\n");
}

/* Words that the standard does not have are the controller's own where its profile lists them. */
static void test_own_words_of_either_letter(void)
{
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GString) s = g_string_new(NULL);
    static const char text[] = "G77.5\nM77\nG77\nM78\nG99999\nM99999\n";
    g_autofree char *words = g_strconcat(p->dialect.words, " G77.5 M77", NULL);
    g_free(p->dialect.words);
    p->dialect.words = g_steal_pointer(&words);
    g_assert_true(dt_code_explain_text(p, text, strlen(text), on_words, s, NULL));
    g_auto(GStrv) lines = g_strsplit(s->str, "\n", -1);
    g_assert_cmpstr(lines[0], ==, "1 a word of this controller's own");
    g_assert_cmpstr(lines[1], ==, "2 a word of this controller's own");
    for (int i = 2; i < 6; i++)
        g_assert_nonnull(strstr(lines[i], " column 1: "));
}

/* The column is that of the first byte too many. */
static void test_lines_that_are_too_long(void)
{
    g_autofree char *zeros = g_strnfill(40, '0');
    g_autofree char *fits = g_strdup_printf("G0 X1.%.*s\n", 34, zeros);
    g_autofree char *text = g_strdup_printf("G0 X1.%.*s\n", 35, zeros);
    assert_explained("laconic", fits, "1 travel to X 1, Y 0 mm\n");
    assert_explained(
        "laconic", text,
        "1 travel to X 1, Y 0 mm; refused at column 41: the line is 41 bytes long; this "
        "controller accepts 40\n");
    g_autofree char *checked = g_strdup_printf("G0 X1.%s%.*s\n", zeros, 21, zeros);
    assert_explained(
        "builtin", checked,
        "1 travel to X 1, Y 0 mm; refused at column 67: the line is 67 bytes long; this "
        "controller accepts 80, of which its number and check need 14\n");
}

/* Three squares between travels, drawn and lifted by two words of every kind: each reading is found. */
static void test_each_pair_of_words_is_recognised(void)
{
    static const struct {
        const char *down, *up, *machine, *option;
    } cases[] = {
        {"M3", "M5", "z", "spindle:on"},
        {"M4", "M5", "z", "spindle:on"},
        {"M5", "M3", "z", "spindle:off"},
        {"M5", "M4", "z", "spindle:off"},
        {"M3", "M4", "z", "spindle:m3"},
        {"M4", "M3", "z", "spindle:m4"},
        {"M3 S90", "M3 S30", "z", "s-above:60"},
        {"M3 S30", "M3 S90", "z", "s-below:60"},
        {"M3 S100", "M3 S0", "z", "s-above:50"},
        {"G1 Z-1 F300", "G0 Z3", "plain", "z-below:1"},
        {"G1 Z8 F300", "G0 Z2", "plain", "z-above:5"},
        {"G1 A40 F900", "G0 A10", "plain", "a-above:25"},
        {"M8", "M9", "plain", "line:M8=down,M9=up"},
        {"M9", "M8", "plain", "line:M9=down,M8=up"},
        {"M71 P1", "M71 P0", "plain", "line:M71 P1=down,M71 P0=up"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtProfile) p = machine_by_name(cases[i].machine);
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        g_autoptr(GString) text = g_string_new("G21 G90\nG28\n");
        g_string_append_printf(text, "%s\n", cases[i].up);
        for (int k = 10; k <= 60; k += 25)
            g_string_append_printf(text, "G0 X%d Y10\n%s\nG1 X%d F600\nY20\nX%d\nY10\n%s\n", k,
                                   cases[i].down, k + 10, k, cases[i].up);
        g_string_append(text, "G0 X0 Y0\nM2\n");
        g_autofree char *out =
            dt_code_mend_text(p, text->str, text->len, "a.nc", NULL, &len, &m, &error);
        g_assert_no_error(error);
        g_assert_nonnull(out);
        g_assert_cmpuint(m.n_readings, >=, 1);
        g_assert_cmpstr(m.readings[0].option, ==, cases[i].option);
        g_assert_cmpfloat_with_epsilon(m.readings[0].ink_mm, 120, 1e-6);
        g_assert_cmpuint(m.readings[0].strokes, ==, 3);
        dt_mending_clear(&m);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/readings/options", test_each_option_reads_back);
    g_test_add_func("/code/readings/long-line", test_a_line_too_long_for_a_pen_s);
    g_test_add_func("/code/readings/wrong", test_what_is_no_option);
    g_test_add_func("/code/explain/arcs", test_arcs_and_states_in_words);
    g_test_add_func("/code/explain/pens", test_pens_by_height_and_own_words);
    g_test_add_func("/code/explain/stops", test_stops_tools_and_speeds_in_words);
    g_test_add_func("/code/explain/comments", test_milliseconds_and_comments);
    g_test_add_func("/code/explain/refusals", test_refusals_in_words);
    g_test_add_func("/code/explain/own-words", test_own_words_of_either_letter);
    g_test_add_func("/code/explain/too-long", test_lines_that_are_too_long);
    g_test_add_func("/code/readings/words", test_each_pair_of_words_is_recognised);
    return g_test_run();
}
