/* eye: answers as people give them, and sheets that the virtual machine draws and a person reads. */
#include "drawtrue/code.h"
#include "support/eye-reader.h"
#include "truing/eye/eye.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

/* Answers --------------------------------------------------------------------------------------- */

static const DtAsk vernier = {
    .kind = DT_ASK_VERNIER, .name = "X1", .least = -2, .most = 18, .sd = 0.3, .times = 1};
static const DtAsk ladder = {
    .kind = DT_ASK_LADDER, .name = "drop", .least = 0, .most = 20, .sd = 0.5, .times = 1};

static void test_answers(void)
{
    static const struct {
        const char *text;
        double value, sd;
        int shift;
    } good[] = {
        {"6", 6, 0.3, 0},
        {" 6.5 ", 6.5, 0.3, 0},
        {"between 6 and 7", 6.5, 0.3, 0},
        {"Between 4 and 8", 6, 2 / sqrt(3), 0}, /* half its width over the square root of 3 */
        {"6 to 8", 7, 1 / sqrt(3), 0},
        {"6 at 7", 6, 0.3, 1},
        {"between 6 and 7 at 5.5", 6.5, 0.3, -1},
        {"-2", -2, 0.3, 0},
        {"6 mm", 6, 0.3, 0},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(good); i++) {
        DtEyeReading r;
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_eye_answer(&vernier, good[i].text, &r, &error));
        g_assert_cmpfloat_with_epsilon(r.value, good[i].value, 1e-12);
        g_assert_cmpfloat_with_epsilon(r.sd, good[i].sd, 1e-12);
        g_assert_cmpint(r.shift, ==, good[i].shift);
    }
}

static void test_answers_that_are_none(void)
{
    static const char *const bad[] = {
        "",    "six",  "between 6", "between 6 and", "19",  "-3",  "6 7", "nan",
        "inf", "6 at", "6 at 12",   "1e9",           "1e1", "0x3", "6-7", "6,5"};
    for (size_t i = 0; i < G_N_ELEMENTS(bad); i++) {
        DtEyeReading r;
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_eye_answer(&vernier, bad[i], &r, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, "X1"));
    }
    DtEyeReading r;
    g_assert_false(dt_eye_answer(&ladder, "6 at 7", &r, NULL)); /* only verniers meet something */
}

/* A machine and its sheet ------------------------------------------------------------------------ */

/* `motion`: what is not as by default. */
static DtProfile *on_paper(const char *paper, const char *motion, const char *corrections)
{
    g_autofree char *text =
        g_strdup_printf("[machine]\nname = bench\n[motion]\n%s[paper]\nsize = %s\nat = 5, 5 mm\n"
                        "margin = 8 mm\n[corrections]\n%s",
                        motion, paper, corrections);
    GError *error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

static DtProfile *profile(const char *corrections)
{
    return on_paper("A5 landscape", "", corrections);
}

typedef struct {
    DtProfile *p;
    DtTestSheet *s;
    DtRig *rig;
    EyeReader eye;
    DtEyeReadings *r;
} Bench;

static void draw(Bench *b, const char *corrections, const char *truth, guint kinds)
{
    GError *error = NULL;
    gsize len = 0;
    b->p = profile(corrections);
    b->s = dt_sheet_new(b->p, kinds, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    g_autofree char *program = dt_sheet_write(b->s, b->p, &len, &error);
    g_assert_no_error(error);
    b->rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(b->rig, program, len);
    DtRigFigures f;
    dt_rig_figures(b->rig, &f);
    g_assert_cmpuint(f.lines_refused, ==, 0);
    g_assert_cmpuint(f.endstop_hits, ==, 0);
    eye_reader_init(&b->eye, b->s, b->rig, 5);
    b->eye.vernier_error = b->eye.rule_error_mm = 0;
    b->r = dt_eye_readings_new(b->s);
}

static void bench_clear(Bench *b)
{
    dt_eye_readings_free(b->r);
    eye_reader_clear(&b->eye);
    dt_rig_free(b->rig);
    dt_sheet_free(b->s);
    dt_profile_free(b->p);
}

static const DtFigure *find(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis)
            return &f->f[i];
    return NULL;
}

static void set(DtEyeReadings *r, const char *argument)
{
    g_autoptr(GError) error = NULL;
    dt_eye_readings_take(r, argument, &error);
    g_assert_no_error(error);
}

static const char workshop[] =
    "[truth]\nscale_x = 1.008\nscale_y = 0.994\nsquare = 0.4\nbacklash_x = 0.30\n"
    "backlash_y = 0.45\nwave = 0\n[pen]\nmerge = 0.0005\n";

/* Read without any error: what is left is the half numbers of the answers and the machine's steps. */
static void test_slack_and_scale_are_found(void)
{
    Bench b;
    draw(&b, "", workshop, DT_SHEET_SLACK | DT_SHEET_SCALE);
    eye_reader_read(&b.eye, b.r);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, &error);
    g_assert_no_error(error);
    g_assert_cmpfloat_with_epsilon(find(f, DT_ERROR_OF_SCALE, 0)->value, 1.008, 1e-4);
    g_assert_cmpfloat_with_epsilon(find(f, DT_ERROR_OF_SCALE, 1)->value, 0.994, 1e-4);
    for (int axis = 0; axis < 2; axis++) {
        const DtFigure *slack = find(f, DT_ERROR_OF_BACKLASH, axis);
        g_assert_true(isnan(slack->at)); /* the same everywhere */
        g_assert_cmpfloat_with_epsilon(slack->value, axis == 0 ? 0.30 : 0.45, 0.012);
        g_assert_true(slack->proposed);
    }
    bench_clear(&b);
}

static void test_slack_that_grows_is_found(void)
{
    Bench b;
    draw(&b, "",
         "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0:0.10 220:0.40\nbacklash_y "
         "= 0.2\n"
         "wave = 0\n[pen]\nmerge = 0.0005\n",
         DT_SHEET_SLACK);
    eye_reader_read(&b.eye, b.r);
    g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, NULL);
    const DtFigure *low = find(f, DT_ERROR_OF_BACKLASH, 0), *high = low + 1;
    g_assert_cmpfloat_with_epsilon(low->value, 0.10 + 0.30 * low->at / 220, 0.03);
    g_assert_cmpfloat_with_epsilon(high->value, 0.10 + 0.30 * high->at / 220, 0.03);
    g_assert_true(isnan(find(f, DT_ERROR_OF_BACKLASH, 1)->at));
    bench_clear(&b);
}

/* Slack that is read the same everywhere differs from a table that has as much in the middle alone. A number is 0.04
 * mm, and four readings of one slack determine it to about 0.02 mm (95 %). */
static void test_the_same_slack_is_compared_with_a_whole_table(void)
{
    static const struct {
        const char *has;
        double gain; /* 0: it is proposed if it is not */
    } cases[] = {
        {"0.2 mm", 0},           {"0:0.195 220:0.205", 0}, {"0.3 mm", 0.095},
        {"0:0.1 220:0.3", 0.04}, {"0:0.3 220:0.1", 0.04},  {"0:0.6 60:0.2 220:0.2", 0.01},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *corrections = g_strdup_printf("backlash_x = %s\n", cases[i].has);
        g_autoptr(DtProfile) p = profile(corrections);
        g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 1, &error);
        g_assert_no_error(error);
        g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
        static const char *const readings[] = {"X1=5", "X2=5", "X3=5", "X4=5"};
        for (size_t k = 0; k < G_N_ELEMENTS(readings); k++)
            set(r, readings[k]);
        g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
        g_assert_no_error(error);
        const DtFigure *slack = find(f, DT_ERROR_OF_BACKLASH, 0);
        g_test_message("%s: gain %.3f", cases[i].has, slack->gain_mm);
        g_assert_true(isnan(slack->at));
        g_assert_cmpfloat_with_epsilon(slack->value, 0.2, 0.003);
        g_assert_cmpint(slack->proposed, ==, cases[i].gain > 0);
        g_assert_cmpfloat(slack->gain_mm, >=, cases[i].gain - 0.001);
        g_assert_cmpfloat(slack->gain_mm, <, cases[i].gain> 0 ? 0.2 : 0.005);
    }
}

/* Four verniers of one half of the axis tell nothing of the other half: readings that agree neither with one slack
 * nor with a line are averaged, and how far they are apart is told. */
static void test_readings_of_half_an_axis_are_averaged(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = on_paper("A3 landscape", "travel_x = 420 mm\ntravel_y = 300 mm\n", "");
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    static const char *const readings[] = {"X1=5", "X2=7", "X3=7", "X4=5"};
    for (size_t i = 0; i < G_N_ELEMENTS(readings); i++)
        set(r, readings[i]);
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    g_assert_nonnull(f);
    size_t slacks = 0;
    for (size_t i = 0; i < f->n; i++)
        slacks += f->f[i].kind == DT_ERROR_OF_BACKLASH;
    g_assert_cmpuint(slacks, ==, 1);
    const DtFigure *slack = find(f, DT_ERROR_OF_BACKLASH, 0),
                   *scatter = find(f, DT_ERROR_OF_SCATTER, 0);
    g_assert_true(isnan(slack->at));
    g_assert_cmpfloat_with_epsilon(slack->value, 6 * 0.04, 0.001); /* a number is 0.04 mm */
    /* a number of the vernier from the mean each, with three degrees of freedom */
    g_assert_cmpfloat_with_epsilon(scatter->value, 0.04 * sqrt(4 / 3.0), 0.001);
}

/* However the paper is laid down again. */
static void test_square_is_found(void)
{
    for (guint32 seed = 1; seed <= 3; seed++) {
        Bench b;
        draw(&b, "scale_x = 1.008\nscale_y = 0.994\nbacklash_x = 0.3 mm\nbacklash_y = 0.45 mm\n",
             workshop, DT_SHEET_SQUARE);
        const double error_deg = 0.006; /* half a number over the side of the square */
        eye_reader_clear(&b.eye);
        eye_reader_init(&b.eye, b.s, b.rig, seed);
        b.eye.vernier_error = 0;
        b.eye.corner = dt_point(5 * 1.008 + 5 * 0.994 * sin(0.4 * G_PI / 180), 5 * 0.994);
        eye_reader_read(&b.eye, b.r);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, &error);
        g_assert_no_error(error);
        const DtFigure *square = find(f, DT_ERROR_OF_SQUARE, -1);
        g_assert_cmpfloat_with_epsilon(square->value * 180 / G_PI, 0.4, error_deg);
        g_assert_cmpfloat(square->sd_2 * 180 / G_PI, <, 0.02); /* of the reading */
        g_assert_cmpfloat(square->sd * 180 / G_PI, <, 0.1);    /* and of rails that may bow */
        bench_clear(&b);
    }
}

/* Three verniers of one axis and one of the other show how the paper was laid, and no squareness. */
static void test_too_few_verniers_tell_no_squareness(void)
{
    Bench b;
    draw(&b, "scale_x = 1.008\nscale_y = 0.994\nbacklash_x = 0.3 mm\nbacklash_y = 0.45 mm\n",
         workshop, DT_SHEET_SQUARE);
    eye_reader_read(&b.eye, b.r);
    set(b.r, "S1=?");
    set(b.r, "S2=?");
    g_autoptr(GError) error = NULL;
    g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, &error);
    g_assert_no_error(error);
    g_assert_null(find(f, DT_ERROR_OF_SQUARE, -1));
    g_assert_nonnull(strstr(f->notes, "squareness is unknown"));
    bench_clear(&b);
}

/* No ink is lost with the times found, and no more than 30 ms of a lift is wasted. */
static void test_waits_are_found(void)
{
    for (int drop_ms = 60; drop_ms <= 240; drop_ms += 90) {
        Bench b;
        const double lift_s = drop_ms * 0.7e-3;
        g_autofree char *truth =
            g_strdup_printf("[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0.2\n"
                            "backlash_y = 0.3\nwave = 0\n[pen]\ndrop_s = %.3f\nlift_s = %.4f\n",
                            drop_ms * 1e-3, lift_s);
        draw(&b, "", truth, DT_SHEET_SETTLE);
        eye_reader_read(&b.eye, b.r);
        g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, NULL);
        const double drop = find(f, DT_ERROR_OF_DROP_TIME, -1)->value - drop_ms * 1e-3;
        const double lift = find(f, DT_ERROR_OF_LIFT_TIME, -1)->value - lift_s;
        g_assert_cmpfloat(drop, >=, 0);
        g_assert_cmpfloat(drop, <=, 0.030);
        g_assert_cmpfloat(lift, >=, 0);
        g_assert_cmpfloat(lift, <=, 0.030);
        bench_clear(&b);
    }
}

/* The rig's servo has the pen on the paper from 1000 + 10 * 25 us on; the ladder goes by twentieths of S40. */
static void test_the_height_is_found(void)
{
    Bench b;
    g_autoptr(GError) error = NULL;
    draw(&b, "",
         "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0.2\nbacklash_y = 0.3\n"
         "wave = 0\n[pen]\ndown_us = 1250\n",
         DT_SHEET_SETTLE);
    eye_reader_read(&b.eye, b.r);
    g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, &error);
    g_assert_no_error(error);
    const DtFigure *g = find(f, DT_ERROR_OF_DROP_WORD, -1);
    g_assert_cmpfloat(g->value, ==, 28); /* the first dash is that of S26, and a step more */
    g_assert_true(g->proposed);
    size_t n;
    gboolean found = FALSE;
    DtProfileChange *c = dt_truing_changes(b.p, b.s, f, &n);
    for (size_t i = 0; i < n; i++)
        if (strcmp(c[i].key, "pen_down") == 0) {
            g_assert_cmpstr(c[i].section, ==, "controller");
            g_assert_cmpstr(c[i].value, ==, "M3 S28");
            found = TRUE;
        }
    g_assert_true(found);
    dt_truing_free_changes(c, n);
    bench_clear(&b);
}

/* Where the profile's S is hardly more than is needed it is left. */
static void test_a_height_that_is_right_is_left(void)
{
    Bench b;
    draw(&b, "", "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nwave = 0\n[pen]\ndown_us = 1330\n",
         DT_SHEET_SETTLE);
    b.eye.writes_from = 33;
    eye_reader_read(&b.eye, b.r);
    g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, NULL);
    const DtFigure *g = find(f, DT_ERROR_OF_DROP_WORD, -1);
    g_assert_cmpfloat(g->value, ==, 36);
    g_assert_false(g->proposed);
    bench_clear(&b);
}

/* A pen that is lifted by Z has no S to vary: the sheet does without, and asks nothing. */
static void test_a_pen_without_s_has_no_heights(void)
{
    static const char *const lines[][2] = {{"G0 Z-1", "G0 Z2"}, {"M3", "M5"}, {"M3 S40", "M3 S0"}};
    for (gsize k = 0; k < G_N_ELEMENTS(lines); k++) {
        g_autoptr(DtProfile) p = dt_profile_new();
        g_free(p->dialect.pen_down);
        g_free(p->dialect.pen_up);
        p->dialect.pen_down = g_strdup(lines[k][0]);
        p->dialect.pen_up = g_strdup(lines[k][1]);
        double s, least, most;
        g_assert_false(dt_code_drop_word(p, &s, &least, &most));
        g_autoptr(DtTestSheet) sheet = dt_sheet_new(p, DT_SHEET_SETTLE, "2026-03-14", 1, NULL);
        size_t n;
        g_autofree DtAsk *asks = dt_eye_asks(sheet, &n);
        g_assert_cmpuint(n, ==, 2); /* drop, lift */
    }
}

static void assert_contradiction(const Bench *b, const char *name)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_eye_solve(b->p, b->s, b->r, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, name));
}

static void test_contradictions_are_refused(void)
{
    Bench b;
    draw(&b, "", workshop, DT_SHEET_SLACK | DT_SHEET_SCALE);
    set(b.r, "X1=7");
    set(b.r, "X2=8");
    set(b.r, "X3=15");
    set(b.r, "X4=7");
    assert_contradiction(&b, "X3");
    set(b.r, "X3=-2");
    assert_contradiction(&b, "X3");
    set(b.r, "X3=8");
    set(b.r, "LX=160,175,160");
    assert_contradiction(&b, "LX");
    eye_reader_read(&b.eye, b.r);
    set(b.r, "X3=?");
    set(b.r, "LX80=81.6"); /* a whole millimetre too much */
    assert_contradiction(&b, "LX80");
    bench_clear(&b);
}

static void test_nothing_is_guessed(void)
{
    Bench b;
    draw(&b, "", workshop, DT_SHEET_SLACK | DT_SHEET_SCALE);
    set(b.r, "X1=7");
    g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, NULL);
    g_assert_null(find(f, DT_ERROR_OF_SCALE, 0));
    g_assert_null(find(f, DT_ERROR_OF_BACKLASH, 1));
    g_assert_nonnull(strstr(f->notes, "scale is unknown"));
    g_assert_nonnull(strstr(f->notes, "bow"));
    bench_clear(&b);
}

/* Among ticks that look alike the one that is asked about has a red ring, in pictures of such questions alone. */
static void test_the_tick_that_is_asked_about_is_ringed(void)
{
    g_autoptr(DtProfile) p = profile("");
    g_autoptr(DtTestSheet) s =
        dt_sheet_new(p, DT_SHEET_SCALE | DT_SHEET_SLACK, "2026-03-14", 1, NULL);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-ring-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "ask.svg", NULL);
    size_t n, rings = 0;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    for (size_t i = 0; i < n; i += MAX(n / 12, 1)) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text = NULL;
        g_assert_true(dt_eye_picture(s, p, &asks[i], path, 600, &error));
        g_assert_no_error(error);
        g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
        const gboolean ringed =
            strstr(text, "rgb(82%,12%,12%)") != NULL || strstr(text, "rgb(82%, 12%, 12%)") != NULL;
        g_assert_cmpint(ringed, ==, asks[i].part == DT_SHEET_SCALE && asks[i].row >= 100);
        rings += ringed;
    }
    g_assert_cmpuint(rings, >, 0);
    g_unlink(path);
    g_rmdir(folder);
}

/* The picture of a tick along the rule has it in the middle, and shows a tick that has its number. */
static void test_a_tick_is_shown_with_the_next_number(void)
{
    g_autoptr(DtProfile) p = profile("");
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SCALE, "2026-03-14", 1, NULL);
    size_t n, places = 0;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    for (size_t i = 0; i < n; i++) {
        int numbered = 0;
        if (asks[i].row < 100)
            continue;
        places++;
        for (size_t k = 0; k < s->n; k++) {
            const DtMark *m = &s->marks[k];
            const gboolean here = dt_box_contains(asks[i].view, m->from);
            numbered +=
                here && m->axis == asks[i].axis && m->place % 5 == 0 && m->kind == DT_MARK_POSITION;
            numbered += here && m->axis == asks[i].axis && m->kind == DT_MARK_GAUGE;
            if (m->kind == DT_MARK_POSITION && m->axis == asks[i].axis &&
                m->place == asks[i].row % 100) {
                const DtBox v = asks[i].view;
                const double middle = m->axis == 0 ? (v.x0 + v.x1) / 2 : (v.y0 + v.y1) / 2;
                g_assert_cmpfloat_with_epsilon(middle, m->axis == 0 ? m->from.x : m->from.y, 0.01);
            }
        }
        g_assert_cmpint(numbered, >, 0);
    }
    g_assert_cmpuint(places, >, 20);
}

/* Of the numbers of the combs that are read on the turned sheet none is beyond the edge of the picture: the nearest other
 * letters are farther off. */
static void test_the_numbers_of_turned_combs_are_shown(void)
{
    const double near_mm = 2;
    g_autoptr(DtProfile) p = profile("");
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SQUARE, "2026-03-14", 1, NULL);
    size_t n;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    g_assert_cmpuint(n, >=, 4);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < s->n; k++) {
            const DtMark *m = &s->marks[k];
            const DtPoint at = dt_sheet_turned_back(s, m->to);
            if (m->kind == DT_MARK_LETTER &&
                dt_box_contains(dt_box_grow(asks[i].view, near_mm), at))
                g_assert_true(dt_box_contains(asks[i].view, at));
        }
}

/* A reading may be off by some tenths, at the last ticks of the other comb too: it says hardly less there. */
static void test_a_reading_beyond_the_last_tick_counts(void)
{
    Bench b;
    draw(&b, "scale_x = 1.008\nscale_y = 0.994\nbacklash_x = 0.3 mm\nbacklash_y = 0.45 mm\n",
         workshop, DT_SHEET_SQUARE);
    static const char *const beyond[] = {"S4=-4 at -5", "S4=-4.3 at -5.3"};
    double square[2];
    eye_reader_read(&b.eye, b.r);
    for (gsize i = 0; i < G_N_ELEMENTS(beyond); i++) {
        set(b.r, beyond[i]);
        g_autoptr(DtFigures) f = dt_eye_solve(b.p, b.s, b.r, NULL);
        g_assert_nonnull(find(f, DT_ERROR_OF_SQUARE, -1));
        square[i] = find(f, DT_ERROR_OF_SQUARE, -1)->value;
    }
    g_assert_cmpfloat_with_epsilon(square[0], square[1], 1e-3);
    bench_clear(&b);
}

static void test_readings_come_back(void)
{
    g_autoptr(DtProfile) p = profile("");
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, dt_sheet_kinds("all"), "2026-03-14", 1, NULL);
    g_autoptr(DtEyeReadings) a = dt_eye_readings_new(s), b = dt_eye_readings_new(s);
    set(a, "X1=between 6 and 7");
    set(a, "LX=160.1,160.3");
    set(a, "S2=-3 at -2");
    g_autofree char *text = dt_eye_readings_to_json(a);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_eye_readings_from_json(b, text, &error));
    g_autofree char *again = dt_eye_readings_to_json(b);
    g_assert_cmpstr(again, ==, text);
    g_assert_cmpuint(dt_eye_readings_count(b), ==, 3);
    g_assert_false(dt_eye_readings_from_json(b, "[", &error));
    g_clear_error(&error);
    g_assert_false(dt_eye_readings_take(a, "Q9=3", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    g_clear_error(&error);
    g_assert_false(dt_eye_readings_take(a, "LX=160.1,160.2,160.3,160.4", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
}

/* A comma stands between two readings, so a decimal comma is told, and so is the unit of a rule. None of these changes
 * what was entered before. */
static void test_slips_of_arguments_are_told(void)
{
    static const char *const slips[][2] = {
        {"X1=3,5", "decimals take a point, as in 3.5"},
        {"X1=", "'' is not a reading"},
        {"X1=0x3", "'0x3' is not a reading"},
        {"X1=19", "readings go from"},
        {"LX10=10,1", "decimals take a point"},
        {"LX=160,1", "LX: 1 is out of range; readings are in mm, from"},
        {"LX=160,1", "a comma stands between two readings, and decimals take a point"},
        {"LX=160,1,160,2", "3 times at most; a comma stands between two readings"},
        {"LX=16.01", "readings are in mm, from"},
        {"LX=6.3in", "'6.3in' is not a reading"},
    };
    g_autoptr(DtProfile) p = profile("");
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, dt_sheet_kinds("all"), "2026-03-14", 1, NULL);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    set(r, "X1=6.5");
    set(r, "LX10=10.1");
    g_autofree char *before = dt_eye_readings_to_json(r);
    for (size_t i = 0; i < G_N_ELEMENTS(slips); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_eye_readings_take(r, slips[i][0], &error));
        if (strstr(error->message, slips[i][1]) == NULL)
            g_error("%s: '%s' is not in: %s", slips[i][0], slips[i][1], error->message);
    }
    g_autofree char *after = dt_eye_readings_to_json(r);
    g_assert_cmpstr(after, ==, before);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/eye/height", test_the_height_is_found);
    g_test_add_func("/eye/height-right", test_a_height_that_is_right_is_left);
    g_test_add_func("/eye/height-none", test_a_pen_without_s_has_no_heights);
    g_test_add_func("/eye/answers", test_answers);
    g_test_add_func("/eye/no-answers", test_answers_that_are_none);
    g_test_add_func("/eye/slack-scale", test_slack_and_scale_are_found);
    g_test_add_func("/eye/slack-grows", test_slack_that_grows_is_found);
    g_test_add_func("/eye/slack-table", test_the_same_slack_is_compared_with_a_whole_table);
    g_test_add_func("/eye/slack-half", test_readings_of_half_an_axis_are_averaged);
    g_test_add_func("/eye/square", test_square_is_found);
    g_test_add_func("/eye/square-unknown", test_too_few_verniers_tell_no_squareness);
    g_test_add_func("/eye/waits", test_waits_are_found);
    g_test_add_func("/eye/contradictions", test_contradictions_are_refused);
    g_test_add_func("/eye/unknown", test_nothing_is_guessed);
    g_test_add_func("/eye/readings", test_readings_come_back);
    g_test_add_func("/eye/slips", test_slips_of_arguments_are_told);
    g_test_add_func("/eye/tick-view", test_a_tick_is_shown_with_the_next_number);
    g_test_add_func("/eye/ring", test_the_tick_that_is_asked_about_is_ringed);
    g_test_add_func("/eye/turned-view", test_the_numbers_of_turned_combs_are_shown);
    g_test_add_func("/eye/beyond", test_a_reading_beyond_the_last_tick_counts);
    return g_test_run();
}
