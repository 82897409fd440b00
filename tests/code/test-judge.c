/* code: judging whole files: chunks, line ends, endless lines, time, slack. */
#include "drawtrue/code.h"
#include "machines.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *spool(const char *text, gsize len)
{
    char *path = NULL;
    int fd = g_file_open_tmp("drawtrue-XXXXXX.nc", &path, NULL);
    g_assert_cmpint(fd, >=, 0);
    g_close(fd, NULL);
    g_assert_true(g_file_set_contents(path, text, (gssize)len, NULL));
    return path;
}

static void judge_file(const DtProfile *p, const char *text, gsize len, DtInspection *i)
{
    g_autofree char *path = spool(text, len);
    g_autoptr(GError) error = NULL;
    dt_code_inspect(p, path, i, &error);
    g_assert_no_error(error);
    g_unlink(path);
}

static gboolean has(const DtInspection *i, const char *kind, int line)
{
    for (size_t k = 0; k < i->n_findings; k++)
        if (strcmp(i->findings[k].kind, kind) == 0 && i->findings[k].line == line)
            return TRUE;
    return FALSE;
}

/* A long dwell is a slip beside a pen word or with the pen down; a lifted pen may rest longer. */
static void test_where_a_dwell_is_too_long(void)
{
    static const struct {
        const char *lines; /* the first, on line 4, is the dwell, or the last */
        int line;          /* of the finding; 0: none */
    } cases[] = {
        {"G4P20\nG0X5\n", 4},          /* behind the lift */
        {"G4P0.1\nG4P20\nG0X5\n", 5},  /* still nothing but dwells */
        {"G4P0.1\nG0X5\nG4P20\n", 0},  /* behind a motion */
        {"G4P0.1\nG0X5\nG4P150\n", 6}, /* beyond any rest */
        {"G4P0.1\nG0X5\nM3S40\nG4P0.2\nG1X9F300\nG4P20\nM5\nG4P0.1\n", 9}, /* the pen is down */
        {"G4P4.9\nG0X5\n", 0},
    };
    g_autoptr(DtProfile) p = dt_profile_new();
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text =
            g_strdup_printf("G21G90\nG28\nM5\n%sM3S40\nG4P0.2\nG1X12F300\nM5\nG4P0.1\nG0X0Y0\nM2\n",
                            cases[i].lines);
        g_autoptr(GError) error = NULL;
        DtInspection found;
        dt_code_inspect_text(p, text, strlen(text), &found, &error);
        g_assert_no_error(error);
        for (int line = 1; line < 20; line++)
            g_assert_true(has(&found, "dwell-long", line) == (line == cases[i].line));
        dt_inspection_clear(&found);
    }
}

static GString *long_program(GRand *r, int strokes)
{
    GString *s = g_string_new("G21G90\nM5\nG4P0.1\nG28\n");
    for (int k = 0; k < strokes; k++) {
        double x = g_rand_double_range(r, 20, 200), y = g_rand_double_range(r, 20, 200);
        g_string_append_printf(s, "G0X%.3fY%.3f\nM3 S40\nG4P0.15\n", x, y);
        for (int n = g_rand_int_range(r, 1, 40); n > 0; n--) {
            x += g_rand_double_range(r, -6, 6);
            y += g_rand_double_range(r, -6, 6);
            x = CLAMP(x, 0, 220);
            y = CLAMP(y, 0, 220);
            g_string_append_printf(s, "G1X%.3fY%.3fF%d\n", x, y, g_rand_int_range(r, 200, 720));
        }
        g_string_append(s, "M5\nG4P0.1\n");
    }
    g_string_append(s, "G0X0Y0\nM2\n");
    return s;
}

static void test_file_and_text_are_judged_alike(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(3);
    GString *s = long_program(r, 1500); /* several chunks of the file reader */
    g_autoptr(DtProfile) p = dt_profile_new();
    DtInspection a, b;
    judge_file(p, s->str, s->len, &a);
    dt_code_inspect_text(p, s->str, s->len, &b, NULL);
    g_assert_cmpuint(a.n_findings, ==, 0);
    g_assert_cmpuint(a.lines, ==, b.lines);
    g_assert_cmpuint(a.moves.n, ==, b.moves.n);
    g_assert_cmpfloat(a.ink_mm, ==, b.ink_mm);
    g_assert_cmpfloat(a.time_s, ==, b.time_s);
    dt_inspection_clear(&a);
    dt_inspection_clear(&b);
    g_string_free(s, TRUE);
}

/* The streamed clock against the planner's, which sees all moves at once. */
static void test_time_is_that_of_the_motion_model(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(4);
    for (int round = 0; round < 20; round++) {
        GString *s = long_program(r, 60);
        g_autoptr(DtProfile) p = dt_profile_new();
        DtInspection i;
        DtTimes t;
        g_assert_true(dt_code_inspect_text(p, s->str, s->len, &i, NULL));
        dt_machine_time(p, &i.moves, FALSE, &t);
        double motion = t.ink_s + t.travel_s, dwells = 60 * 0.25 + 0.1;
        g_assert_cmpfloat(fabs(i.time_s - i.home_s - dwells - motion), <, 1e-3 * motion);
        g_assert_cmpfloat(i.home_s, ==, dt_machine_home_s(p));
        g_assert_cmpfloat(i.held_up_s, <, 1e-3 * motion); /* moves of millimetres */
        dt_times_clear(&t);
        dt_inspection_clear(&i);
        g_string_free(s, TRUE);
    }
}

/* A stroke longer than any look-ahead, at places where it must slow down. */
static void test_time_of_an_endless_stroke(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(5);
    g_autoptr(DtProfile) p = dt_profile_new();
    GString *s = g_string_new("G21G90\nM5\nG4P0.1\nG28\nG0X100Y100\nM3 S40\nG4P0.15\nG1F720\n");
    for (int i = 0; i < 3000; i++)
        g_string_append_printf(s, "X%.3fY%.3f\n", 100 + 40 * sin(i * 0.01) * cos(i * 0.013),
                               100 + 40 * sin(i * 0.017) + g_rand_double_range(r, -0.05, 0.05));
    g_string_append(s, "M5\nG4P0.1\nG0X0Y0\nM2\n");
    DtInspection i;
    DtTimes t;
    g_assert_true(dt_code_inspect_text(p, s->str, s->len, &i, NULL));
    dt_machine_time(p, &i.moves, FALSE, &t);
    const double motion = t.ink_s + t.travel_s;
    g_assert_cmpfloat(fabs(i.time_s - i.home_s - 0.35 - motion), <, 1e-3 * motion);
    dt_times_clear(&t);
    dt_inspection_clear(&i);
    g_string_free(s, TRUE);
}

static void test_an_endless_line_is_named_and_the_rest_judged(void)
{
    enum { LENGTH = 3000000 };
    g_autoptr(DtProfile) p = dt_profile_new();
    GString *s = g_string_new("G21G90\n");
    for (int n = 0; n < LENGTH; n++)
        g_string_append_c(s, 'X');
    g_string_append(s, "\nG0X--1\n");
    DtInspection i, j;
    judge_file(p, s->str, s->len, &i);
    dt_code_inspect_text(p, s->str, s->len, &j, NULL);
    g_assert_true(has(&i, "line-long", 2) && has(&j, "line-long", 2));
    g_assert_true(has(&i, "bad-number", 3) && has(&j, "bad-number", 3));
    g_assert_cmpuint(i.lines, ==, 3);
    dt_inspection_clear(&i);
    dt_inspection_clear(&j);
    g_string_truncate(s, 1000000); /* and where the file ends in it */
    judge_file(p, s->str, s->len, &i);
    g_assert_true(has(&i, "line-long", 2));
    dt_inspection_clear(&i);
    g_string_free(s, TRUE);
}

static const char *text_of(const DtInspection *i, const char *kind)
{
    for (size_t k = 0; k < i->n_findings; k++)
        if (strcmp(i->findings[k].kind, kind) == 0)
            return i->findings[k].text;
    return NULL;
}

/* Wherever the pieces in which a file is read end: in an endless line, in front of its newline, or behind it. */
static void test_lines_about_the_ends_of_pieces(void)
{
    enum { PIECE = 1 << 18 };
    g_autoptr(DtProfile) p = dt_profile_new();
    for (int pieces = 1; pieces <= 2; pieces++)
        for (int off = -4; off <= 4; off++) {
            g_autoptr(GString) s = g_string_new(NULL);
            for (int n = pieces * PIECE + off; n > 0; n--)
                g_string_append_c(s, 'X');
            g_string_append(s, "\nG0X--1\nG0X1\n");
            DtInspection i;
            judge_file(p, s->str, s->len, &i);
            g_assert_true(has(&i, "line-long", 1));
            g_autofree char *length =
                g_strdup_printf("the line is %d bytes long", pieces * PIECE + off);
            g_assert_cmpstr(text_of(&i, "line-long"), ==, length);
            g_assert_true(has(&i, "bad-number", 2));
            g_assert_cmpuint(i.lines, ==, 3);
            dt_inspection_clear(&i);
        }
}

/* Strokes that end at the origin, where the next one begins: the lift between is idle, unless something is done
 * there that the pen must not draw. */
static void test_which_lifts_are_idle(void)
{
    static const struct {
        const char *between;
        gboolean idle;
    } cases[] = {{"", TRUE},
                 {"(as before)\n", TRUE},
                 {"G28\n", FALSE},
                 {"M0\n", FALSE},
                 {"G0X1Y1\nG0X0Y0\n", FALSE}};
    g_autoptr(DtProfile) p = dt_profile_new();
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GString) s = g_string_new("G21G90\nM5\nG28\n");
        for (int k = 0; k < 8; k++)
            g_string_append_printf(s,
                                   "M3S40\nG4P0.2\nG1X10F300\nM5\nG4P0.1\nG0Y5\n"
                                   "M3S40\nG4P0.2\nG1X0Y0F300\nM5\nG4P0.1\n%s",
                                   cases[i].between);
        g_string_append(s, "M2\n");
        DtInspection found;
        dt_code_inspect_text(p, s->str, s->len, &found, NULL);
        g_assert_true((text_of(&found, "idle-lift") != NULL) == cases[i].idle);
        dt_inspection_clear(&found);
    }
}

static void test_findings_are_bounded_and_counted(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    GString *s = g_string_new(NULL);
    for (int n = 0; n < 5000; n++)
        g_string_append(s, "T1 M6\n");
    DtInspection i;
    dt_code_inspect_text(p, s->str, s->len, &i, NULL);
    g_assert_cmpuint(i.refused_lines, ==, 5000);
    g_assert_cmpuint(i.n_findings, ==,
                     1001); /* of one kind, two on each line; and that it draws nothing */
    g_assert_cmpuint(i.omitted, ==, 9000);
    dt_inspection_clear(&i);
    g_string_free(s, TRUE);
}

/* The slack that the planner reckoned in is found again by the judge: the ink is where it was
 * meant. */
static void test_slack_is_followed(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    double at = 0, lost[2] = {0.3, 0.45};
    for (int axis = 0; axis < 2; axis++)
        p->backlash[axis] = (DtTable){&at, &lost[axis], 1};
    g_autoptr(GRand) r = g_rand_new_with_seed(5);
    DtSequence s;
    dt_sequence_init(&s);
    for (int k = 0; k < 50; k++) {
        dt_sequence_begin(&s, 0, (size_t)k);
        for (int n = 0; n < 12; n++)
            dt_sequence_point(
                &s, dt_point(g_rand_double_range(r, 20, 100), g_rand_double_range(r, 20, 100)));
    }
    DtMoves m;
    dt_moves_init(&m);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_machine_moves(p, &s, &m, &error));
    gsize len;
    g_autofree char *text = dt_code_write(p, &m, &len, &error);
    g_assert_no_error(error);
    DtInspection i;
    g_assert_true(dt_code_inspect_text(p, text, len, &i, &error));
    size_t k = 0, compared = 0;
    for (size_t j = 0; j < m.n; j++) {
        if (m.m[j].kind != DT_MOVE_DRAW)
            continue;
        while (k < i.moves.n && (i.moves.m[k].kind != DT_MOVE_DRAW ||
                                 dt_point_distance(i.moves.m[k].to, m.m[j].to) > 0.001))
            k++;
        g_assert_cmpuint(k, <, i.moves.n);
        g_assert_cmpfloat(dt_point_distance(i.moves.m[k].ink, m.m[j].ink), <, 0.01);
        compared++;
    }
    g_assert_cmpuint(compared, >=, 50 * 11);
    dt_inspection_clear(&i);
    dt_moves_clear(&m);
    dt_sequence_clear(&s);
    p->backlash[0] = p->backlash[1] = (DtTable){0};
}

static void on_words(size_t line, const char *source, gsize len, const char *words, void *user)
{
    (void)source, (void)len;
    g_string_append_printf(user, "%zu %s\n", line, words);
}

static void test_lines_are_explained_in_words(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    GString *s = g_string_new(NULL);
    const char *text =
        "G21 G90\nG28\nG0 X10 Y5\nM3 S40\nG4 P0.2\nG1 X20 F600 (edge)\nM5\nX--1\nM2\n";
    g_assert_true(dt_code_explain_text(p, text, strlen(text), on_words, s, NULL));
    g_assert_cmpstr(s->str, ==,
                    "1 absolute distances; millimetres\n"
                    "2 home both axes: X 0, Y 0\n"
                    "3 travel to X 10, Y 5 mm\n"
                    "4 pen down (S40)\n"
                    "5 wait 0.2 s\n"
                    "6 feed 600 a minute; draw a line to X 20, Y 5 mm at 10 mm/s; comment: edge\n"
                    "7 pen up\n"
                    "8 column 2: a sign needs a digit after it\n"
                    "9 end of the program\n");
    g_autofree char *path = spool(text, strlen(text));
    g_autoptr(GString) of_file = g_string_new(NULL);
    g_assert_true(dt_code_explain(p, path, on_words, of_file, NULL));
    g_assert_cmpstr(of_file->str, ==, s->str);
    g_unlink(path);
    g_string_free(s, TRUE);
}

/* Bytes on the wire of the last of `n` lines that move nothing, by what it adds to the time. */
static double bytes_of_line(DtProfile *p, const char *line, int n)
{
    double time_s[2];
    for (int k = 0; k < 2; k++) {
        g_autoptr(GString) s = g_string_new(NULL);
        DtInspection i;
        for (int lines = n - 1 + k; lines > 0; lines--)
            g_string_append(s, line);
        g_assert_true(dt_code_judge_text(p, s->str, s->len, NULL, &i, NULL));
        time_s[k] = i.time_s;
        dt_inspection_clear(&i);
    }
    return (time_s[1] - time_s[0]) * p->dialect.baud / 10; /* start, eight data bits, stop */
}

/* What is sent of a line: its words, a number of ours in front, which begins anew after 99999, a check of seven bytes
 * behind, and the line feed; neither its spaces nor its comments nor its own number. "N9M5(*1A2B)" and a line feed
 * are 12 bytes. */
static void test_lines_are_as_long_as_they_are_sent(void)
{
    static const struct {
        const char *line;
        int n;
        gboolean check, gap;
        int bytes;
    } cases[] = {
        {"M5\n", 9, FALSE, FALSE, 3},
        {"M5\n", 1, TRUE, FALSE, 12},
        {"M5\n", 9, TRUE, FALSE, 12},
        {"M5\n", 10, TRUE, FALSE, 13},
        {"M5\n", 99, TRUE, FALSE, 13},
        {"M5\n", 100, TRUE, FALSE, 14},
        {"M5\n", 99999, TRUE, FALSE, 16},
        {"M5\n", 100000, TRUE, FALSE, 12},       /* number 1 again */
        {"M5\n", 9, TRUE, TRUE, 13},             /* N9 M5(*1A2B) */
        {"M5\n", 9, FALSE, TRUE, 3},             /* M5 */
        {" n 7 M 5 ; up\n", 9, TRUE, FALSE, 12}, /* the same as M5 */
        {"N7 (lift) M5 (the pen)\n", 9, FALSE, FALSE, 3},
        {"(a note)\n", 9, TRUE, FALSE, 0},
        {"\n", 9, TRUE, FALSE, 0},
        {"M5 F100 S40\n", 9, FALSE, FALSE, 10},
        {"M5 F100 S40\n", 9, FALSE, TRUE, 12},
        {"M5F100S40\n", 9, FALSE, TRUE, 12},
        {"M5 F100 S40\n", 9, TRUE, TRUE, 22}, /* N9 M5 F100 S40(*1A2B) */
    };
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *words = g_strconcat(p->dialect.words, " gap:needed", NULL);
    p->dialect.window = 1 << 20; /* no line waits for an answer */
    for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
        g_autofree char *own = g_steal_pointer(&p->dialect.words);
        p->dialect.words = g_strdup(cases[k].gap ? words : own);
        p->dialect.line_check = cases[k].check;
        p->dialect.reply_delay_s = 0;
        const double have = bytes_of_line(p, cases[k].line, cases[k].n);
        if (fabs(have - cases[k].bytes) > 0.01)
            g_test_fail_printf("line %d of '%s': %g bytes", cases[k].n, cases[k].line, have);
        g_free(p->dialect.words);
        p->dialect.words = g_steal_pointer(&own);
    }
}

static void test_missing_files_are_errors(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    DtInspection i;
    g_assert_false(dt_code_inspect(p, "/no/such/program.nc", &i, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_false(dt_code_inspect(p, "/", &i, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static void note_kind(const DtMove *m, size_t line, void *user)
{
    static const char letters[] = {
        [DT_MOVE_HOME] = 'h',      [DT_MOVE_END] = 'e',    [DT_MOVE_TRAVEL] = 't',
        [DT_MOVE_DRAW] = 'd',      [DT_MOVE_PEN_UP] = 'u', [DT_MOVE_PEN_DOWN] = 'n',
        [DT_MOVE_PEN_CHANGE] = 'c'};
    g_assert_cmpuint(line, >=, 1);
    g_string_append_c(user,
                      (gsize)m->kind < sizeof letters && letters[m->kind] ? letters[m->kind] : '?');
}

/* What would be done, move by move: travels, drops, lines, lifts, and the stops for a pen. */
static void test_each_move_is_told(void)
{
    static const struct {
        const char *text, *kinds;
    } cases[] = {
        {"G0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X20 F600\nY20\nM5\nG4 P0.2\nG0 X0 Y0\n", "uhtnddute"},
        {"G0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X20 F600\nM5\nG4 P0.2\nM0\nG0 X30\nM3 S40\nG4 P0.2\nG1 "
         "X40\n"
         "M5\nG4 P0.2\nG0 X0 Y0\n",
         "uhtnductndute"},
        {"G0 X10 Y10\nM0\nM0\nG0 X0 Y0\n", "uhtccte"},
    };
    g_autoptr(DtProfile) p = dt_profile_new();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf("G21 G90\nM5\nG4 P0.2\nG28\n%sM2\n", cases[i].text);
        g_autoptr(GString) kinds = g_string_new(NULL);
        const DtJudgeOptions o = {.listener = note_kind, .user = kinds};
        DtInspection out;
        g_assert_true(dt_code_judge_text(p, text, strlen(text), &o, &out, NULL));
        g_assert_cmpstr(kinds->str, ==, cases[i].kinds);
        dt_inspection_clear(&out);
    }
}

static void note_pen(const DtMove *m, size_t line, void *user)
{
    (void)line;
    if (m->kind == DT_MOVE_DRAW)
        g_string_append_printf(user, "%u at %g %g;", m->pen, m->ink.x, m->ink.y);
}

/* The tip is that of the pen which a comment names. Where the program names none, or none of this rack, each stop
 * takes the next pen. */
static void test_ink_is_that_of_the_pen_in_the_holder(void)
{
    static const struct {
        const char *first, *second, *drawn;
    } cases[] = {
        {"", "", "0 at 20 10;1 at 43 11;"},
        {"(pen blue)\n", "(pen black)\n", "2 at 15 17;0 at 40 10;"},
        {"(stroke 1 pen red)\n", "(stroke 2 pen blue)\n", "1 at 23 11;2 at 35 17;"},
        {"(pen blue)\n", "", "2 at 15 17;2 at 35 17;"},
        {"(pen red)\n", "(pen green)\n", "1 at 23 11;1 at 43 11;"},
        {"(pen green)\n", "", "0 at 20 10;1 at 43 11;"},
    };
    static const DtPoint offsets[] = {{0, 0}, {3, 1}, {-5, 7}};
    g_autoptr(DtProfile) p = dt_profile_new();
    g_assert_cmpuint(p->rack.n, ==, G_N_ELEMENTS(offsets)); /* black, red, blue */
    for (gsize i = 0; i < G_N_ELEMENTS(offsets); i++)
        p->rack.pens[i].offset = offsets[i];
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf(
            "G21 G90\nM5\nG4 P0.2\nG28\n%sG0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X20 F600\nM5\nG4 P0.2\n"
            "M0\n%sG0 X30\nM3 S40\nG4 P0.2\nG1 X40\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n",
            cases[i].first, cases[i].second);
        g_autoptr(GString) drawn = g_string_new(NULL);
        const DtJudgeOptions o = {.listener = note_pen, .user = drawn};
        DtInspection out;
        g_assert_true(dt_code_judge_text(p, text, strlen(text), &o, &out, NULL));
        g_assert_cmpstr(drawn->str, ==, cases[i].drawn);
        dt_inspection_clear(&out);
    }
}

/* Heights are lifts where X and Y move at several of them; one that is gone to once, as at the start, or over a place,
 * is none. */
static void test_heights_that_are_lifts(void)
{
#define AT "G0 X10 Y10\n"
#define DRAWN "M3 S40\nG4P0.15\nG1 X20 F600\nM5\n"
    static const struct {
        const char *text;
        int line; /* at which lifts by Z are found; 0: nowhere */
    } cases[] = {
        {AT DRAWN, 0},
        {"G0 Z5\n" AT DRAWN, 0},
        {"G0 Z5\nG0 Z3\n" AT DRAWN, 0},
        {"G0 Z5\n" AT "G1 Z-1 F300\nG1 X20 F600\nG0 Z5\n", 5},
        {"G0 X10 Y10 Z5\nG1 X20 Z-1 F600\nG0 Z5\n", 5},
        {AT DRAWN "G0 Z5\n", 10},          /* and goes on to the origin there */
        {AT DRAWN "G0 X0 Y0\nG0 Z5\n", 0}, /* it stays */
        {"G0 Z5\n" AT DRAWN "G18 G2 X22 Z5 I1 K0 F600\nG17\n", 0},
        {"G0 Z5\n" AT DRAWN "G18 G2 X21 Z6 I1 K0 F600\nG17\n", 5},
    };
    g_autoptr(DtProfile) p = machine_by_name("full");
    for (gsize k = 0; k < G_N_ELEMENTS(cases); k++) {
        g_autofree char *text =
            g_strdup_printf("G21 G90\nM5\nG4P0.1\nG28\n%sG0 X0 Y0\nM2\n", cases[k].text);
        DtInspection i;
        g_assert_true(dt_code_judge_text(p, text, strlen(text), NULL, &i, NULL));
        int line = 0;
        for (size_t f = 0; f < i.n_findings; f++)
            line = strcmp(i.findings[f].kind, "z-lifts") == 0 ? i.findings[f].line : line;
        if (line != cases[k].line)
            g_test_message("line %d and not %d of\n%s", line, cases[k].line, text);
        g_assert_cmpint(line, ==, cases[k].line);
        dt_inspection_clear(&i);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/judge/file-and-text", test_file_and_text_are_judged_alike);
    g_test_add_func("/code/judge/time", test_time_is_that_of_the_motion_model);
    g_test_add_func("/code/judge/endless-stroke", test_time_of_an_endless_stroke);
    g_test_add_func("/code/judge/endless-line", test_an_endless_line_is_named_and_the_rest_judged);
    g_test_add_func("/code/judge/pieces", test_lines_about_the_ends_of_pieces);
    g_test_add_func("/code/judge/idle-lifts", test_which_lifts_are_idle);
    g_test_add_func("/code/judge/bounded", test_findings_are_bounded_and_counted);
    g_test_add_func("/code/judge/slack", test_slack_is_followed);
    g_test_add_func("/code/judge/explained", test_lines_are_explained_in_words);
    g_test_add_func("/code/judge/line-lengths", test_lines_are_as_long_as_they_are_sent);
    g_test_add_func("/code/judge/missing-file", test_missing_files_are_errors);
    g_test_add_func("/code/judge/moves", test_each_move_is_told);
    g_test_add_func("/code/judge/pens", test_ink_is_that_of_the_pen_in_the_holder);
    g_test_add_func("/code/judge/long-dwells", test_where_a_dwell_is_too_long);
    g_test_add_func("/code/judge/heights", test_heights_that_are_lifts);
    return g_test_run();
}
