/* code: the writer, number text and the line check. */
#include "drawtrue/code.h"

#include "code/dialect.h"

#include <math.h>
#include <string.h>

static void fill_profile(DtProfile *p, DtPen *pens)
{
    memset(p, 0, sizeof *p);
    p->name = (char *)"plywood";
    for (int axis = 0; axis < 2; axis++) {
        p->steps_per_mm[axis] = 64;
        p->travel[axis] = 300;
    }
    p->lift_s = 0.08;
    p->drop_s = 0.12;
    p->dialect = (DtDialect){.words = (char *)"G0 G1 G4 G21 G28 G90 M0 M2 M3 M5 X Y F S P",
                             .pen_down = (char *)"M3 S40",
                             .pen_up = (char *)"M5",
                             .home = (char *)"G28",
                             .program_end = (char *)"M2",
                             .longest_line = 80,
                             .decimals = 3};
    pens[0] = (DtPen){.name = (char *)"black", .tip = 0.5};
    pens[1] = (DtPen){.name = (char *)"red (fine)", .tip = 0.3};
    p->rack = (DtRack){pens, 2};
}

static const DtMove job[] = {
    {.kind = DT_MOVE_HOME, .polyline = G_MAXSIZE},
    {.kind = DT_MOVE_PEN_UP, .polyline = G_MAXSIZE},
    {.kind = DT_MOVE_TRAVEL, .to = {10, 20}},
    {.kind = DT_MOVE_PEN_DOWN, .to = {10, 20}},
    {.kind = DT_MOVE_DRAW, .to = {12.5, 20}, .feed_mm_s = 10},
    {.kind = DT_MOVE_DRAW, .to = {12.5, 20.0001}, .feed_mm_s = 10},
    {.kind = DT_MOVE_DRAW, .to = {12.5, 25.123}, .feed_mm_s = 10},
    {.kind = DT_MOVE_DRAW, .to = {0.5, 25.123}, .feed_mm_s = 1},
    {.kind = DT_MOVE_PEN_UP, .to = {0.5, 25.123}},
    {.kind = DT_MOVE_TRAVEL, .to = {0, 0}, .polyline = G_MAXSIZE},
    {.kind = DT_MOVE_PEN_CHANGE, .to = {0, 0}, .pen = 1, .polyline = G_MAXSIZE},
    {.kind = DT_MOVE_TRAVEL, .to = {5, 5}, .pen = 1, .polyline = 1},
    {.kind = DT_MOVE_PEN_DOWN, .to = {5, 5}, .pen = 1, .polyline = 1},
    {.kind = DT_MOVE_DRAW, .to = {6, 5}, .pen = 1, .feed_mm_s = 10, .polyline = 1},
    {.kind = DT_MOVE_PEN_UP, .to = {6, 5}, .pen = 1, .polyline = 1},
    {.kind = DT_MOVE_END, .polyline = G_MAXSIZE},
};

static char *write_job(const DtProfile *p, GError **error)
{
    DtMoves m = {.m = (DtMove *)job, .n = G_N_ELEMENTS(job)};
    return dt_code_write(p, &m, NULL, error);
}

static void test_job_is_written_in_the_shortest_words(void)
{
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    g_autoptr(GError) error = NULL;
    g_autofree char *text = write_job(&p, &error);
    g_assert_no_error(error);
    g_assert_cmpstr(text, ==,
                    "(drawtrue " DT_VERSION " for plywood, profile built in)\nG21G90\n"
                    "M5\nG4P0.08\nG28\n"
                    "(stroke 1 pen black)\nG0X10Y20\nM3 S40\nG4P0.12\nG1X12.5F600\nY25.123\n"
                    "X0.5F60\nM5\nG4P0.08\nG0X0Y0\n(pen red [fine])\nM0\n"
                    "(stroke 2 pen red [fine])\nG0X5Y5\nM3 S40\nG4P0.12\nG1X6F600\nM5\nG4P0.08\n"
                    "G0X0Y0\nM2\n");
}

/* The first line names the machine and the file of its profile without its folders; so does that of a mended one. */
static void test_the_head_names_machine_and_profile(void)
{
    static const struct {
        const char *name, *path, *head;
    } cases[] = {{"plywood", NULL, " for plywood, profile built in)\n"},
                 {"plywood", "/home/seeds/my.ini", " for plywood, profile my.ini)\n"},
                 {NULL, "my.ini", " for a plotter, profile my.ini)\n"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtProfile p;
        DtPen pens[2];
        fill_profile(&p, pens);
        p.name = (char *)cases[i].name;
        p.path = (char *)cases[i].path;
        g_autofree char *text = write_job(&p, NULL), *mended = dt_code_mended_head(&p, NULL);
        g_autofree char *head = g_strconcat("(drawtrue " DT_VERSION, cases[i].head, NULL);
        g_autofree char *other =
            g_strconcat("(drawtrue " DT_VERSION " mended", cases[i].head, NULL);
        g_assert_true(g_str_has_prefix(text, head));
        g_assert_cmpstr(mended, ==, other);
    }
}

static void test_words_stand_apart_and_comments_go_where_the_dialect_says(void)
{
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    p.dialect.words = (char *)"G0 G1 G28 M3 M5 X Y F S comment:none gap:needed";
    g_autofree char *text = write_job(&p, NULL);
    g_assert_cmpstr(text, ==,
                    "M5\nG28\nG0 X10 Y20\nM3 S40\nG1 X12.5 F600\nY25.123\nX0.5 F60\nM5\nG0 X0 Y0\n"
                    "M0\nG0 X5 Y5\nM3 S40\nG1 X6 F600\nM5\nG0 X0 Y0\nM2\n");
    p.dialect.words = (char *)"G0 G1 G28 M3 M5 X Y F S comment:semicolon";
    g_autofree char *other = write_job(&p, NULL);
    g_assert_nonnull(strstr(other, "\n;stroke 1 pen black\n"));
}

static void test_no_line_is_longer_than_the_controller_takes(void)
{
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    for (p.dialect.longest_line = 24; p.dialect.longest_line < 60; p.dialect.longest_line++) {
        g_autofree char *text = write_job(&p, NULL);
        g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
        for (char **l = lines; *l; l++)
            g_assert_cmpuint(strlen(*l), <=, p.dialect.longest_line);
    }
    g_autoptr(GError) error = NULL;
    p.dialect.longest_line = 12;
    g_assert_null(write_job(&p, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* "G2X123.456Y123.456I-23.4560J-23.4560" and the like want more than a line of chords. */
static void test_lines_are_never_too_long_by_arcs(void)
{
    enum { CHORDS = 120 };
    DtMove m[CHORDS + 5];
    size_t n = 0, refused = 0, written = 0;
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    p.dialect.words = (char *)"G0 G1 G2 G3 G4 G21 G28 G90 M2 M3 M5 X Y I J F S P";
    m[n++] = (DtMove){.kind = DT_MOVE_HOME};
    m[n++] = (DtMove){.kind = DT_MOVE_TRAVEL, .to = {123.457, 103.457}};
    m[n++] = (DtMove){.kind = DT_MOVE_PEN_DOWN};
    for (int i = 1; i <= CHORDS; i++) {
        const double a = 2 * G_PI * i / CHORDS;
        m[n++] = (DtMove){.kind = DT_MOVE_DRAW,
                          .to = {103.457 + 20 * cos(a), 103.457 + 20 * sin(a)},
                          .feed_mm_s = 10};
    }
    m[n++] = (DtMove){.kind = DT_MOVE_END, .polyline = G_MAXSIZE};
    const DtMoves moves = {.m = m, .n = n};
    for (p.dialect.longest_line = 24; p.dialect.longest_line < 70; p.dialect.longest_line++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text =
            dt_code_write_as(&p, &moves, &(DtWriteOptions){.arc_tolerance = 0.01}, NULL, &error);
        if (text == NULL) {
            g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
            g_autofree char *says =
                g_strdup_printf("a move does not fit into the %d bytes", p.dialect.longest_line);
            g_assert_nonnull(strstr(error->message, says));
            g_assert_cmpuint(written, ==, 0); /* a longer line fits what a shorter one does */
            refused++;
            continue;
        }
        written++;
        g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
        for (char **l = lines; *l; l++)
            g_assert_cmpuint(strlen(*l), <=, p.dialect.longest_line);
    }
    g_assert_cmpuint(refused, >, 0);
    g_assert_cmpuint(written, >, 0);
}

static void test_a_missing_word_is_named(void)
{
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    static const struct {
        const char *words, *lacking;
    } cases[] = {{"G0 G28 M3 M5 X Y F S", "lack G1"},
                 {"G0 G1 X Y", "lack F"},
                 {"G0 G1 X F", "lack Y"},
                 {"G0 G1 G20 X Y F", "lack G21"},
                 {"G0 G1 X Y F nonsense:1", "'nonsense:1' is not a word"},
                 {"G0 G1 X5..1", "'X5..1' is not a word"},
                 {"G1.23", "'G1.23'"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        p.dialect.words = (char *)cases[i].words;
        g_assert_null(write_job(&p, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, cases[i].lacking));
    }
    p.dialect.words = (char *)"G0 G1 X Y F";
    p.dialect.pen_down = (char *)"";
    g_autoptr(GError) error = NULL;
    g_assert_null(write_job(&p, &error));
    g_assert_nonnull(strstr(error->message, "drops the pen"));
}

static void test_numbers_are_shortest_and_exact(void)
{
    static const struct {
        double value;
        int decimals;
        const char *text;
    } cases[] = {{0, 3, "0"},           {-0.0004, 3, "0"},
                 {0.5, 3, "0.5"},       {-12.3400, 4, "-12.34"},
                 {100, 3, "100"},       {0.0005, 3, "0.001"},
                 {999.9996, 3, "1000"}, {7, 0, "7"},
                 {-0.05, 2, "-0.05"},   {1234567.891, 2, "1234567.89"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        char text[40];
        int n = dt_number_write(cases[i].value, cases[i].decimals, text);
        g_assert_cmpstr(text, ==, cases[i].text);
        g_assert_cmpint(n, ==, strlen(text));
    }
    g_autoptr(GRand) r = g_rand_new_with_seed(6);
    for (int i = 0; i < 20000; i++) {
        char text[40];
        int decimals = g_rand_int_range(r, 0, 7);
        double v = g_rand_double_range(r, -400, 400);
        dt_number_write(v, decimals, text);
        g_assert_cmpfloat(fabs(g_ascii_strtod(text, NULL) - v), <=, 0.5000001 * pow(10, -decimals));
    }
}

static void test_decimals_follow_the_step(void)
{
    g_assert_cmpint(dt_number_decimals(64, 5), ==, 3); /* step 0.0156: quarter 0.0039 */
    g_assert_cmpint(dt_number_decimals(5, 5), ==, 1);  /* step 0.2: quarter 0.05 */
    g_assert_cmpint(dt_number_decimals(64, 2), ==, 2); /* the controller reads no more */
}

/* A circle of chords becomes a few arcs that stay on it. */
static void test_curves_become_arcs(void)
{
    enum { CHORDS = 200 };
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    p.travel[0] = p.travel[1] = 200;
    p.dialect.words = (char *)"G0 G1 G2 G3 G4 G21 G28 G90 M2 M3 M5 X Y I J F S P";
    DtMove m[CHORDS + 5];
    size_t n = 0;
    m[n++] = (DtMove){.kind = DT_MOVE_HOME};
    m[n++] = (DtMove){.kind = DT_MOVE_TRAVEL, .to = {120, 100}};
    m[n++] = (DtMove){.kind = DT_MOVE_PEN_DOWN};
    for (int i = 1; i <= CHORDS; i++) {
        double a = 2 * G_PI * i / CHORDS;
        m[n++] = (DtMove){
            .kind = DT_MOVE_DRAW, .to = {100 + 20 * cos(a), 100 + 20 * sin(a)}, .feed_mm_s = 10};
    }
    m[n++] = (DtMove){.kind = DT_MOVE_END, .polyline = G_MAXSIZE};
    g_autoptr(GError) error = NULL;
    DtMoves moves = {.m = m, .n = n};
    g_autofree char *text =
        dt_code_write_as(&p, &moves, &(DtWriteOptions){.arc_tolerance = 0.01}, NULL, &error);
    g_assert_no_error(error);
    for (int axis = 0; axis < 2; axis++)
        p.speed[axis] = p.acceleration[axis] = p.pull_in[axis] = p.scale[axis] = 100;
    p.scale[0] = p.scale[1] = 1;
    DtInspection i;
    g_assert_true(dt_code_inspect_text(&p, text, strlen(text), &i, &error));
    for (size_t k = 0; k < i.n_findings; k++)
        g_assert_cmpstr(i.findings[k].text, ==, "");
    size_t lines = 0;
    for (size_t k = 0; k < i.moves.n; k++)
        if (i.moves.m[k].kind == DT_MOVE_DRAW)
            g_assert_cmpfloat(fabs(dt_point_distance(i.moves.m[k].to, dt_point(100, 100)) - 20), <=,
                              0.011);
    for (const char *c = text; *c; c++)
        lines += *c == '\n';
    g_assert_cmpuint(lines, <, 20);
    g_assert_cmpfloat(fabs(i.ink_mm - 2 * G_PI * 20), <, 0.1);
    dt_inspection_clear(&i);
}

/* Strokes around a corner of the travel, in points within it: an arc through them would leave it in between by a
 * tenth of a millimetre, at each side of the sheet, at whichever of its points. */
static void test_no_arc_bulges_beyond_the_travel(void)
{
    enum { CHORDS = 24, SIDES = 4, STARTS = 6 };
    const double r = 20, sagitta = r * (1 - cos(G_PI / CHORDS));
    DtProfile p;
    DtPen pens[2];
    fill_profile(&p, pens);
    p.dialect.words = (char *)"G0 G1 G2 G3 G4 G21 G28 G90 M2 M3 M5 X Y I J F S P";
    for (int axis = 0; axis < 2; axis++)
        p.speed[axis] = p.acceleration[axis] = p.pull_in[axis] = 100;
    p.scale[0] = p.scale[1] = 1;
    size_t arcs = 0;
    for (int run = 0; run < SIDES * STARTS; run++) {
        /* The middle of one chord touches the side, so that its ends lie within and the circle does not. */
        const double outwards = (run % SIDES) * G_PI / 2, reach = r - sagitta;
        const DtPoint c = {150 + (150 - reach) * round(cos(outwards)),
                           150 + (150 - reach) * round(sin(outwards))};
        DtMove m[CHORDS + 4];
        size_t n = 0;
        m[n++] = (DtMove){.kind = DT_MOVE_HOME, .polyline = G_MAXSIZE};
        for (int i = 0; i <= CHORDS; i++) {
            const double a = outwards + G_PI / CHORDS + 2 * G_PI * (i + run / SIDES * 3) / CHORDS;
            const DtPoint to = {CLAMP(c.x + r * cos(a), 0, 300), CLAMP(c.y + r * sin(a), 0, 300)};
            m[n++] = (DtMove){
                .kind = i > 0 ? DT_MOVE_DRAW : DT_MOVE_TRAVEL, .to = to, .feed_mm_s = i ? 10 : 0};
            if (i == 0)
                m[n++] = (DtMove){.kind = DT_MOVE_PEN_DOWN, .to = to};
        }
        m[n++] = (DtMove){.kind = DT_MOVE_END, .polyline = G_MAXSIZE};
        const DtMoves moves = {.m = m, .n = n};
        g_autoptr(GError) error = NULL;
        g_autofree char *text =
            dt_code_write_as(&p, &moves, &(DtWriteOptions){.arc_tolerance = 0.2}, NULL, &error);
        g_assert_no_error(error);
        arcs += strstr(text, "\nG3") != NULL;
        DtInspection i;
        g_assert_true(dt_code_inspect_text(&p, text, strlen(text), &i, &error));
        g_assert_cmpfloat(i.ink_box.x0, >=, -1e-3);
        g_assert_cmpfloat(i.ink_box.y0, >=, -1e-3);
        g_assert_cmpfloat(i.ink_box.x1, <=, 300 + 1e-3);
        g_assert_cmpfloat(i.ink_box.y1, <=, 300 + 1e-3);
        dt_inspection_clear(&i);
    }
    g_assert_cmpuint(arcs, >, SIDES * STARTS / 2); /* where it stays within, it is an arc */
}

static void test_check_comment_closes_the_line(void)
{
    g_autofree char *line = dt_code_add_check("123456789", 9);
    g_assert_cmpstr(line, ==, "123456789(*31C3)");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/write/shortest-words", test_job_is_written_in_the_shortest_words);
    g_test_add_func("/code/write/head", test_the_head_names_machine_and_profile);
    g_test_add_func("/code/write/gaps-and-comments",
                    test_words_stand_apart_and_comments_go_where_the_dialect_says);
    g_test_add_func("/code/write/longest-line", test_no_line_is_longer_than_the_controller_takes);
    g_test_add_func("/code/write/too-long", test_lines_are_never_too_long_by_arcs);
    g_test_add_func("/code/write/missing-word", test_a_missing_word_is_named);
    g_test_add_func("/code/write/numbers", test_numbers_are_shortest_and_exact);
    g_test_add_func("/code/write/decimals", test_decimals_follow_the_step);
    g_test_add_func("/code/write/arcs", test_curves_become_arcs);
    g_test_add_func("/code/write/arcs-within-the-travel", test_no_arc_bulges_beyond_the_travel);
    g_test_add_func("/code/write/check", test_check_comment_closes_the_line);
    return g_test_run();
}
