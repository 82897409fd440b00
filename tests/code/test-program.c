/* program: one line at a time, and what the program has done up to it. */
#include "drawtrue/program.h"

#include "code/judge/pen.h"
#include "code/mend/foreign.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

typedef struct {
    DtProfile *profile;
    char *path;
} Stage;

static void set_stage(Stage *s, const char *text)
{
    s->profile = dt_profile_new();
    int fd = g_file_open_tmp("drawtrue-XXXXXX.nc", &s->path, NULL);
    g_assert_cmpint(fd, >=, 0);
    g_close(fd, NULL);
    g_assert_true(g_file_set_contents(s->path, text, -1, NULL));
}

static void clear_stage(Stage *s)
{
    dt_profile_free(s->profile);
    g_unlink(s->path);
    g_free(s->path);
}

static void refuse(const char *text, const char *words)
{
    Stage s;
    set_stage(&s, text);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
    DtProgramTotals totals;
    g_assert_nonnull(g);
    g_assert_false(dt_program_check(g, TRUE, &totals, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    if (strstr(error->message, words) == NULL)
        g_error("'%s' does not say '%s'", error->message, words);
    clear_stage(&s);
}

static void test_what_cannot_be_run_is_refused_with_its_line(void)
{
    refuse("G21\nG0Z5\n", ":2: this controller does not accept the letter Z");
    refuse("G21\nG0X10Y5000\n", ":2: ");
    refuse("G90\nG0X1\nM3S40\nG1Y5000F600\nM5\n", ":4: Y goes to 5000 mm, beyond the travel");
    refuse("G90\nM3S40\nG0 X-1\nM5\n", ":3: X goes to -1 mm");
    refuse("G90\nM3S40\nM5\nG28\nG0X9\nM3S40\nG1X5F600\nM5\nG0X0Y0\n",
           ":2: the pen comes down before the machine is homed");
    refuse("G0X1\n\nG1Y(5\n", ":3: ");
    refuse("G0X\n", ":1: expected a number here");
    refuse("G0X1\nhello!\n", ":2: ");
    refuse("G0X1\nG1Y(5\nG0Z1\nG0Z2\n", ":2: ");
    refuse("G90\nG0X1\nM3S40\nG1Y5000F600\nG1Y5000X5\nG1Y-3\nM5\n",
           " and 2 more findings; 'drawtrue inspect'");
    refuse("\n\n", "moves nothing");
    refuse("G0X1\nM3S40\nG1X2F600\n", "ends with the pen down");
}

/* SHA-256 (FIPS 180-4) of the whole file, by GLib. */
static void test_the_sum_is_that_of_the_whole_file(void)
{
    static const char text[] =
        "G21G90\nM5\nG28\nG0X1\nM3S40\nG4P0.2\nG1X2F600\nM5\nG4P0.1\nG0X0\nM2\n";
    Stage s;
    set_stage(&s, text);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
    DtProgramTotals totals;
    g_assert_true(dt_program_check(g, TRUE, &totals, &error));
    g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
    g_assert_cmpstr(totals.sha256, ==, sum);
    clear_stage(&s);
}

static void test_words_without_spaces_are_not_hexadecimal(void)
{
    Stage s;
    set_stage(&s, "n3g0x10 y 5.5 (to the start)\n(only a remark)\nN20 M3 S40\nG1X1e\n");
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
    DtProgramLine l;
    g_assert_true(dt_program_next(g, &l, &error));
    g_assert_cmpint(l.kind, ==, DT_LINE_MOVE);
    g_assert_cmpfloat(dt_program_state(g)->at.x, ==, 10);
    g_assert_cmpfloat(dt_program_state(g)->at.y, ==, 5.5);
    g_assert_true(dt_program_next(g, &l, &error));
    g_assert_cmpint(l.kind, ==, DT_LINE_BLANK);
    g_assert_true(dt_program_next(g, &l, &error));
    g_assert_cmpint(l.kind, ==, DT_LINE_PEN_DOWN);
    g_assert_cmpstr(l.text, ==, "M3S40");
    g_assert_false(dt_program_next(g, &l, &error)); /* E without a number */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    clear_stage(&s);
}

/* What stands after each line of a program in inches, relative and with an origin of its own, by hand. */
static void test_the_state_after_each_line(void)
{
    typedef struct {
        const char *line;
        DtLineKind kind;
        double x, y, feed, unit, speed, ink, travel;
        int motion;
        size_t begun, drawn;
        gboolean down, relative;
    } Row;
    static const Row rows[] = {
        {"G21 G90", DT_LINE_OTHER, 0, 0, 0, 1, -1, 0, 0, -1, 0, 0, FALSE, FALSE},
        {"G28", DT_LINE_HOME, 0, 0, 0, 1, -1, 0, 0, -1, 0, 0, FALSE, FALSE},
        {"G0 X30 Y40", DT_LINE_MOVE, 30, 40, 0, 1, -1, 0, 50, 0, 0, 0, FALSE, FALSE},
        {"(stroke 1 pen red)", DT_LINE_BLANK, 30, 40, 0, 1, -1, 0, 50, 0, 0, 0, FALSE, FALSE},
        {"M3 S40", DT_LINE_PEN_DOWN, 30, 40, 0, 1, 40, 0, 50, 0, 1, 0, TRUE, FALSE},
        {"G1 X33 Y44 F600", DT_LINE_MOVE, 33, 44, 600, 1, 40, 5, 50, 1, 1, 0, TRUE, FALSE},
        {"G91", DT_LINE_OTHER, 33, 44, 600, 1, 40, 5, 50, 1, 1, 0, TRUE, TRUE},
        {"X-8 Y6", DT_LINE_MOVE, 25, 50, 600, 1, 40, 15, 50, 1, 1, 0, TRUE, TRUE},
        {"M5", DT_LINE_PEN_UP, 25, 50, 600, 1, 40, 15, 50, 1, 1, 1, FALSE, TRUE},
        {"G20", DT_LINE_OTHER, 25, 50, 600 / 25.4, 25.4, 40, 15, 50, 1, 1, 1, FALSE, TRUE},
        {"G0 X1", DT_LINE_MOVE, 50.4, 50, 600 / 25.4, 25.4, 40, 15, 75.4, 0, 1, 1, FALSE, TRUE},
        {"G90", DT_LINE_OTHER, 50.4, 50, 600 / 25.4, 25.4, 40, 15, 75.4, 0, 1, 1, FALSE, FALSE},
        {"M3 S41", DT_LINE_PEN_DOWN, 50.4, 50, 600 / 25.4, 25.4, 41, 15, 75.4, 0, 2, 1, TRUE,
         FALSE},
        {"G1 X1 F20", DT_LINE_MOVE, 25.4, 50, 20, 25.4, 41, 40, 75.4, 1, 2, 1, TRUE, FALSE},
        {"M5", DT_LINE_PEN_UP, 25.4, 50, 20, 25.4, 41, 40, 75.4, 1, 2, 2, FALSE, FALSE},
        {"G0 X0 Y0", DT_LINE_MOVE, 0, 0, 20, 25.4, 41, 40, 75.4 + 56.081726, 0, 2, 2, FALSE, FALSE},
        {"M2", DT_LINE_OTHER, 0, 0, 20, 25.4, 41, 40, 75.4 + 56.081726, 1, 2, 2, FALSE,
         FALSE}, /* 3.6.1 of NISTIR 6556: its end sets G1 */
    };
    g_autoptr(GString) text = g_string_new(NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
        g_string_append_printf(text, "%s\n", rows[i].line);
    Stage s;
    set_stage(&s, text->str);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
    DtProgramLine l;
    double before = 0;
    int side[2] = {1, 1}; /* as after homing */
    for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
        const Row *w = &rows[i];
        const DtProgramState *t = dt_program_state(g);
        const DtPoint from = t->at;
        g_assert_true(dt_program_next(g, &l, &error));
        g_assert_cmpuint(l.number, ==, i + 1);
        g_assert_cmpint(l.kind, ==, w->kind);
        g_assert_cmpfloat_with_epsilon(t->at.x, w->x, 1e-9);
        g_assert_cmpfloat_with_epsilon(t->at.y, w->y, 1e-9);
        g_assert_cmpfloat_with_epsilon(t->feed, w->feed, 1e-9);
        g_assert_cmpfloat(t->unit, ==, w->unit);
        g_assert_cmpfloat(t->speed, ==, w->speed);
        g_assert_cmpint(t->motion, ==, w->motion);
        g_assert_cmpfloat_with_epsilon(t->ink_mm, w->ink, 1e-9);
        g_assert_cmpfloat_with_epsilon(t->travel_mm, w->travel, 1e-3);
        g_assert_cmpuint(t->begun, ==, w->begun);
        g_assert_cmpuint(t->drawn, ==, w->drawn);
        g_assert_cmpint(t->pen_down, ==, w->down);
        g_assert_cmpint(t->relative, ==, w->relative);
        g_assert_cmpfloat(t->seconds, >=, before);
        g_assert_cmpstr(t->pen, ==, i < 3 ? "" : "red");
        const double way[2] = {w->x - from.x, w->y - from.y};
        for (int axis = 0; axis < 2; axis++) { /* the side from which an axis came last */
            if (fabs(way[axis]) > 1e-9)
                side[axis] = way[axis] > 0 ? 1 : -1;
            g_assert_cmpint(t->side[axis], ==, side[axis]);
        }
        if (l.kind == DT_LINE_MOVE)
            g_assert_cmpfloat(l.from.x, ==, from.x);
        before = t->seconds;
    }
    g_assert_false(dt_program_next(g, &l, &error));
    g_assert_no_error(error);
    clear_stage(&s);
}

static char *strokes_with_turns(unsigned n)
{
    GRand *rand = g_rand_new_with_seed(5);
    GString *g = g_string_new("G21\nG90\nM5\nG28\n");
    for (unsigned i = 0; i < n; i++) {
        g_string_append_printf(g, "(stroke %u pen %s)\nG0X%dY%d\nM3S40\nG4P0.2\n", i + 1,
                               i % 3 ? "black" : "red", g_rand_int_range(rand, 20, 100),
                               g_rand_int_range(rand, 20, 100));
        for (int k = 0; k < 5; k++)
            g_string_append_printf(g, "G1X%.2fY%.2fF600\n", g_rand_double_range(rand, 50, 52),
                                   g_rand_double_range(rand, 50, 52));
        g_string_append(g, "M5\nG4P0.15\n");
    }
    g_string_append(g, "G0X0Y0\nM2\n");
    g_rand_free(rand);
    return g_string_free(g, FALSE);
}

/* Seeking to a stroke is the same as having read up to it: place, slack, pen, time. */
static void test_seeking_equals_reading(void)
{
    Stage s;
    g_autofree char *text = strokes_with_turns(12);
    set_stage(&s, text);
    dt_profile_free(s.profile);
    static const char ini[] = "[corrections]\nbacklash_x = 0:0.1 300:0.4\nbacklash_y = 0.45 mm\n";
    g_autoptr(GError) error = NULL;
    s.profile = dt_profile_read_data(ini, strlen(ini), "test", &error);
    g_assert_no_error(error);
    g_autoptr(DtProgram) read = dt_program_open(s.profile, s.path, &error);
    g_autoptr(DtProgram) sought = dt_program_open(s.profile, s.path, &error);
    DtProgramLine l, after;
    DtProgramState before = *dt_program_state(read);
    for (size_t drawn = 0; dt_program_next(read, &l, &error); before = *dt_program_state(read)) {
        if (l.kind == DT_LINE_DWELL || before.pen_down || before.drawn == drawn)
            continue;
        drawn = before.drawn;
        g_assert_true(dt_program_seek(sought, drawn, &error));
        const DtProgramState *t = dt_program_state(sought);
        g_assert_cmpfloat(t->at.x, ==, before.at.x);
        g_assert_cmpfloat(t->at.y, ==, before.at.y);
        g_assert_cmpfloat(t->carriage.x, ==, before.carriage.x);
        g_assert_cmpfloat(t->carriage.y, ==, before.carriage.y);
        g_assert_cmpfloat_with_epsilon(t->seconds, before.seconds, 1e-9);
        g_assert_cmpfloat_with_epsilon(t->ink_mm, before.ink_mm, 1e-9);
        g_assert_cmpstr(t->pen, ==, before.pen);
        g_assert_true(dt_program_next(sought, &after, &error));
        g_assert_cmpuint(after.number, ==, l.number);
    }
    g_assert_no_error(error);
    g_assert_false(dt_program_seek(sought, 13, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    clear_stage(&s);
}

static void test_a_stroke_takes_the_time_of_the_motion_model(void)
{
    /* 100 mm at 10 mm/s, up and down a ramp of 100 mm/s^2 from rest at 0: 10 + 10/100 s. */
    Stage s;
    set_stage(&s, "G28\nM3S40\nG1X50Y0F600\nX100\nM5\nM2\n");
    s.profile->acceleration[0] = 100;
    s.profile->pull_in[0] = 0;
    s.profile->park = dt_point(0, 0);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
    DtProgramTotals totals;
    g_assert_true(dt_program_check(g, TRUE, &totals, &error));
    g_assert_no_error(error);
    g_assert_cmpfloat_with_epsilon(totals.seconds, 10.1,
                                   0.01); /* the first lines come over the wire */
    g_assert_cmpfloat_with_epsilon(totals.ink_mm, 100, 1e-9);
    g_assert_cmpuint(totals.strokes, ==, 1);
    g_assert_true(totals.homes);
    DtProgramLine line; /* read once more, as a run does, it takes the same */
    while (dt_program_next(g, &line, &error))
        ;
    g_assert_no_error(error);
    g_assert_cmpfloat_with_epsilon(dt_program_state(g)->seconds, totals.seconds, 1e-6);
    clear_stage(&s);
}

/* A reply is waited for at least as long as the line takes: by its feed, by the slower axis, by its dwell. */
static void test_the_work_of_each_line(void)
{
    static const struct {
        const char *line;
        double seconds; /* 30 mm/s along X, 10 mm/s along Y; a quarter circle of 10 mm */
    } rows[] = {{"G21 G90 G17", 0},     {"G28", 0},
                {"G0 X60 Y0", 2},       {"G0 X60 Y40", 4},
                {"M3 S40", 0},          {"G4 P1.5", 1.5},
                {"G1 X90 F600", 3},     {"G1 Y50 F60", 10},
                {"G1 X60 F6000", 1},    {"G2 X70 Y60 I10 J0 F600", 5 * G_PI / 10},
                {"G1 X40 Y20 F600", 5}, {"M5", 0}};
    g_autoptr(GString) text = g_string_new(NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
        g_string_append_printf(text, "%s\n", rows[i].line);
    Stage s;
    set_stage(&s, text->str);
    s.profile->speed[0] = 30;
    s.profile->speed[1] = 10;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
    for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
        DtProgramLine l;
        g_assert_true(dt_program_next(g, &l, &error));
        const gboolean arc = g_str_has_prefix(rows[i].line, "G2 ");
        const double most = arc ? 2 * rows[i].seconds : rows[i].seconds + 1e-6;
        if (!(l.work_s >= rows[i].seconds - 1e-2 && l.work_s <= most))
            g_error("'%s' takes %g s, not %g s", rows[i].line, l.work_s, rows[i].seconds);
    }
    clear_stage(&s);
}

/* A half circle over the top that ends where it began in X: the slack is left on the side of the
 * way, not of the chord, and its length is that of the circle. */
static void test_arcs_are_followed_all_the_way(void)
{
    static const char *const arcs[] = {"G3X30Y50I-20J0", "G3X30Y50R20", "G2X70Y50I20J0",
                                       "G2X70Y50R-20"};
    for (gsize i = 0; i < G_N_ELEMENTS(arcs); i++) {
        const gboolean back = i < 2; /* from X 70 over the top to 30; the others from 30 to 70 */
        g_autofree char *text = g_strdup_printf("G28\nG0X%dY50\nM3S40\nG4P0.2\n%sF600\nM5\nM2\n",
                                                back ? 70 : 30, arcs[i]);
        Stage s;
        set_stage(&s, text);
        g_autoptr(GError) error = NULL;
        dt_profile_free(s.profile);
        static const char ini[] = "[corrections]\nbacklash_y = 0.4 mm\nbacklash_x = 0.2 mm\n";
        s.profile = dt_profile_read_data(ini, strlen(ini), "test", &error);
        g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
        DtProgramTotals totals;
        g_assert_true(dt_program_check(g, TRUE, &totals, &error));
        g_assert_no_error(error);
        g_assert_cmpfloat_with_epsilon(totals.ink_mm, G_PI * 20, 0.5);
        g_assert_true(dt_program_seek(g, 1, &error));
        const DtProgramState *t = dt_program_state(g);
        g_assert_cmpfloat_with_epsilon(t->carriage.y, 50.4, 1e-9); /* driven down at last */
        g_assert_cmpfloat_with_epsilon(t->carriage.x, back ? 30.2 : 70, 1e-9);
        clear_stage(&s);
    }
}

static void test_an_arc_beyond_the_travel_is_refused(void)
{
    refuse("G28\nG0X50Y5\nM3S40\nG2X30Y5I-10J0F600\nM5\nM2\n", ":4: Y goes to -");
}

/* Whether a program homes before its first motion, drawn or not, and how often it stops. */
static void test_what_a_program_does_first_is_told(void)
{
    static const struct {
        const char *text;
        gboolean homes;
        size_t changes;
    } cases[] = {
        {"G21 G90\nG28\nG0X10Y10\nM3S40\nG4P0.3\nG1X20F600\nM5\nG4P0.3\nG0X0Y0\nM2\n", TRUE, 0},
        {"G21 G90\nG0X10Y10\nG28\nG0X5\nM3S40\nG4P0.3\nG1X20F600\nM5\nG4P0.3\nG0X0Y0\nM2\n", FALSE,
         0},
        {"G21 G90\nG0X10Y10\nM3S40\nG4P0.3\nG1X20F600\nM5\nG4P0.3\nG0X0Y0\nM2\n", FALSE, 0},
        {"G21 G90\nG28\nG0X10Y10\nM0\nM3S40\nG4P0.3\nG1X20F600\nM5\nG4P0.3\nM0\nG28\nG0X0Y0\nM2\n",
         TRUE, 2}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        set_stage(&s, cases[i].text);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
        DtProgramTotals totals;
        dt_program_check(g, FALSE, &totals, &error);
        g_assert_no_error(error);
        g_assert_true(totals.homes == cases[i].homes);
        g_assert_cmpuint(totals.changes, ==, cases[i].changes);
        clear_stage(&s);
    }
}

/* Of several heads the one that says most of corrections counts, in any kind of comment and wherever it stands. */
static void test_the_head_tells_of_corrections(void)
{
    static const struct {
        const char *text;
        DtHead head;
    } cases[] = {{"(drawtrue 1 for plotter, profile x)\nG21\n", DT_HEAD_CORRECTED},
                 {"; drawtrue 1 for plotter\n", DT_HEAD_CORRECTED},
                 {"G21 (drawtrue 1 for plotter)\r\nG28\n", DT_HEAD_CORRECTED},
                 {"(drawtrue 1 for one mended for another)\n", DT_HEAD_CORRECTED},
                 {"(drawtrue 1 mended for plotter)\n(drawtrue 1 for plotter)\n", DT_HEAD_CORRECTED},
                 {"(drawtrue 1 for plotter)\n(drawtrue 1 mended for plotter)\n", DT_HEAD_CORRECTED},
                 {"(drawtrue 1 mended for plotter)\nG21\n", DT_HEAD_MENDED},
                 {"(drawtrue 1 uncorrected for plotter)\nG21\n", DT_HEAD_UNCORRECTED},
                 {"(drawtruer 1 for plotter)\n", DT_HEAD_NONE},
                 {"(drawtrue 1)\nG1 X1 (for plotter)\n", DT_HEAD_NONE},
                 {"(made as drawtrue 1 for plotter)\n", DT_HEAD_NONE},
                 {"drawtrue 1 for plotter\n", DT_HEAD_NONE},
                 {"", DT_HEAD_NONE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        g_assert_cmpint(dt_code_head(cases[i].text), ==, cases[i].head);
}

/* The first comment that names a machine and a profile, where it is one of ours. */
static void test_the_head_tells_what_it_is_made_for(void)
{
    static const char *const cases[][2] = {
        {"(drawtrue 1.0 for plywood, profile my.ini)\nG28\n", "plywood, profile my.ini"},
        {"(drawtrue 1.0 mended for plywood, profile built in )\nG28\n",
         "plywood, profile built in"},
        {"(a note)\n(drawtrue 1 for a, profile b)\n(drawtrue 1 for c, profile d)\nG28\n",
         "a, profile b"},
        {"(drawtrue 1 mended for a, profile b)\n(drawtrue 1 for c, profile d)\nG28\n",
         "c, profile d"},
        {"(something else 1.0 for plywood, profile my.ini)\nG28\n", ""},
        {"(drawtrue 1.0)\nG28\n", ""},
        {"G28\n", ""}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        set_stage(&s, cases[i][0]);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
        DtProgramLine l;
        while (dt_program_next(g, &l, &error))
            ;
        g_assert_no_error(error);
        const char *have = dt_program_made_for(g);
        g_assert_cmpstr(have ? have : "", ==, cases[i][1]);
        clear_stage(&s);
    }
}

/* The comments that name the pen from here on. */
static void test_comments_name_the_pen(void)
{
    static const char *const cases[][2] = {{"pen red", "red"},
                                           {"stroke 3 pen fine black", "fine black"},
                                           {"  pen blue ", "blue"},
                                           {"stroke 3", NULL},
                                           {"pens red", NULL},
                                           {"pen", NULL},
                                           {"stroke pen red", "red"},
                                           {"strokes 3 pen red", NULL},
                                           {"open red", NULL},
                                           {"a stroke 3 pen red", NULL},
                                           {NULL, NULL}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        char name[DT_PEN_NAME] = "before";
        const DtCodeBlock b = {.comment = cases[i][0],
                               .comment_len = cases[i][0] ? strlen(cases[i][0]) : 0};
        g_assert_true(dt_pen_comment(&b, name) == (cases[i][1] != NULL));
        g_assert_cmpstr(name, ==, cases[i][1] ? cases[i][1] : "before");
    }
}

/* A move after lines of the sender's own gets the motion and the feed in force, where it names none itself. */
static void test_moves_are_restated(void)
{
    static const struct {
        const char *before, *line, *motion, *feed, *both;
    } cases[] = {
        {"G0 X1\n", "X20 Y30", "G0X20Y30", "X20Y30", "G0X20Y30"},
        {"G1 X1 F600\n", "X20", "G1X20", "X20F600", "G1X20F600"},
        {"G1 X1 F600\nG0 X2\n", "X20", "G0X20", "X20", "G0X20"},
        {"G0 X1\n", "G1 X20 F60", "G1X20F60", "G1X20F60", "G1X20F60"},
        {"G1 X1 F600\n", "G0 X20", "G0X20", "G0X20", "G0X20"},
        {"G1 X1 F600\n", "X20 F60.25", "G1X20F60.25", "X20F60.25", "G1X20F60.25"},
        {"G1 X20 F61.5\nG3 X30 Y10 I0 J10\n", "X20 Y20 I-10 J0", "G3X20Y20I-10J0",
         "X20Y20I-10J0F61.5", "G3X20Y20I-10J0F61.5"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text =
            g_strdup_printf("G21 G90 G17\nG28\n%s%s\n", cases[i].before, cases[i].line);
        Stage s;
        set_stage(&s, text);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtProgram) g = dt_program_open(s.profile, s.path, &error);
        DtProgramLine l;
        while (dt_program_next(g, &l, &error))
            ;
        g_assert_no_error(error);
        for (int what = 0; what < 4; what++) {
            const char *const wanted[] = {l.text, cases[i].motion, cases[i].feed, cases[i].both};
            char to[2 * DT_PROGRAM_LONGEST];
            dt_program_restate(g, &l, what & 1, what & 2, to, sizeof to);
            g_assert_cmpstr(to, ==, wanted[what]);
        }
        clear_stage(&s);
    }
}

static void add_form(void *user, size_t line, const char *what)
{
    g_string_append_printf(user, "%zu %.5s;", line, what);
}

/* Carriage returns that end lines by themselves, at which line each form is first seen, and what is left. */
static void test_forms_are_seen_where_they_are(void)
{
    static const char *const cases[][3] = {
        {"G21\rM2\r", "1 lines;", "G21\nM2\n"},
        {"M2\r", "", "M2\r"},
        {"G21\r\nM2\r\n", "", "G21\r\nM2\r\n"},
        {"", "", ""},
        {"G21\nX1*57\nX2*58\n", "2 check;", "G21\nX1   \nX2   \n"},
        {"X1*5x\nX1*\nX1*57 X2\n", "", "X1*5x\nX1*\nX1*57 X2\n"},
        {"X1*57;a\nX2*123 (b)\n", "1 check;", "X1   ;a\nX2     (b)\n"},
        {"G90\nG70\nG71", "2 G70 a;", "G90\nG20\nG21"},
        {"G90 (G70)\n(a) (G70) G71\n(*5) (*6) X1*57\n", "2 G70 a;3 check;",
         "G90 (G70)\n(a) (G70) G21\n(*5) (*6) X1   \n"},
        {"G700\nG7\nG70.1\nG72\n", "", "G700\nG7\nG70.1\nG72\n"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GString) said = g_string_new(NULL);
        g_autofree char *left = dt_foreign_forms(cases[i][0], strlen(cases[i][0]), add_form, said);
        g_assert_cmpstr(said->str, ==, cases[i][1]);
        g_assert_cmpstr(left, ==, cases[i][2]);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/program/refused", test_what_cannot_be_run_is_refused_with_its_line);
    g_test_add_func("/code/program/words", test_words_without_spaces_are_not_hexadecimal);
    g_test_add_func("/code/program/states", test_the_state_after_each_line);
    g_test_add_func("/code/program/seek", test_seeking_equals_reading);
    g_test_add_func("/code/program/arcs", test_arcs_are_followed_all_the_way);
    g_test_add_func("/code/program/work", test_the_work_of_each_line);
    g_test_add_func("/code/program/arc-travel", test_an_arc_beyond_the_travel_is_refused);
    g_test_add_func("/code/program/time", test_a_stroke_takes_the_time_of_the_motion_model);
    g_test_add_func("/program/first", test_what_a_program_does_first_is_told);
    g_test_add_func("/program/corrections", test_the_head_tells_of_corrections);
    g_test_add_func("/program/made-for", test_the_head_tells_what_it_is_made_for);
    g_test_add_func("/program/pen-comments", test_comments_name_the_pen);
    g_test_add_func("/program/restated", test_moves_are_restated);
    g_test_add_func("/program/sum", test_the_sum_is_that_of_the_whole_file);
    g_test_add_func("/program/forms", test_forms_are_seen_where_they_are);
    return g_test_run();
}
