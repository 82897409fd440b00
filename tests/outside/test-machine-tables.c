/* machine against the published: sheet sizes, a drive train, and corrections worked by hand. */
#include "drawtrue/machine.h"
#include "drawtrue/pace.h"

#include <math.h>
#include <string.h>

/* ISO 216:2007, trimmed sizes of the A and B series, mm. */
static void test_sheets_equal_the_table_of_iso_216(void)
{
    static const struct {
        const char *name;
        double w, h;
    } table[] = {
        {"A0", 841, 1189}, {"A1", 594, 841}, {"A2", 420, 594}, {"A3", 297, 420},
        {"A4", 210, 297},  {"A5", 148, 210}, {"A6", 105, 148}, {"A7", 74, 105},
        {"A8", 52, 74},    {"A9", 37, 52},   {"A10", 26, 37},  {"B0", 1000, 1414},
        {"B1", 707, 1000}, {"B2", 500, 707}, {"B3", 353, 500}, {"B4", 250, 353},
        {"B5", 176, 250},  {"B6", 125, 176}, {"B7", 88, 125},  {"B8", 62, 88},
        {"B9", 44, 62},    {"B10", 31, 44},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(table); i++) {
        double w, h;
        g_assert_true(dt_machine_paper(table[i].name, &w, &h, NULL));
        g_assert_cmpfloat(w, ==, table[i].w);
        g_assert_cmpfloat(h, ==, table[i].h);
    }
}

/* The small geared unipolar stepper: 64 half steps a turn and the train 32/9 x 22/11 x 26/9 x
 * 31/10, multiplied out 25792/405 to 1 (common practice, no source). By hand: 64 x 25792/405 =
 * 4075.7728 half steps a pulley turn; a cord of 0.6 mm on a pulley of 12.4 mm takes up pi x 13.0
 * = 40.8407 mm a turn along its middle; 4075.7728 / 40.8407 = 99.7968 half steps per mm. */
static void test_gear_train_to_steps_per_mm(void)
{
    static const char text[] = "[drive]\nmotor_steps_x = 64\ngear_x = 25792/405\n"
                               "pulley_x = 12.4 mm\ncord_x = 0.6 mm\n";
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "t", NULL);
    g_assert_cmpfloat_with_epsilon(32.0 / 9 * 22 / 11 * 26 / 9 * 31 / 10, p->gear[0], 1e-12);
    g_assert_cmpfloat_with_epsilon(p->motor_steps[0] * p->gear[0], 4075.7728, 1e-4);
    g_assert_cmpfloat_with_epsilon(p->steps_per_mm[0], 99.7968, 1e-4);
}

static DtProfile *measured(void)
{
    static const char text[] = "[corrections]\nscale_x = 1.004\nscale_y = 0.995\n"
                               "square = 0.4 deg\n"
                               "backlash_x = 0:0.12 150:0.20 300:0.38\nbacklash_y = 0.45 mm\n";
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "t", &error);
    g_assert_no_error(error);
    return p;
}

/* By hand, sin 0.4 deg = 0.00698126 and cos 0.4 deg = 0.99997563: sent to 100, 80 the ink is at
 * x = 1.004 x 100 + 0.995 x 80 x 0.00698126 = 100.955708, y = 0.995 x 80 x 0.99997563 = 79.598060.
 */
static void test_scale_and_square_worked_by_hand(void)
{
    g_autoptr(DtProfile) p = measured();
    DtPoint ink = dt_machine_ink_at(p, dt_point(100, 80));
    g_assert_cmpfloat_with_epsilon(ink.x, 100.955708, 1e-6);
    g_assert_cmpfloat_with_epsilon(ink.y, 79.598060, 1e-6);
    DtPoint sent = dt_machine_command(p, dt_point(100.955708, 79.598060));
    g_assert_cmpfloat_with_epsilon(sent.x, 100, 1e-6);
    g_assert_cmpfloat_with_epsilon(sent.y, 80, 1e-6);
}

/* Reversal value as ISO 230-2 defines it: the difference between the positions reached from the
 * two directions when sent to the same place. A stroke from x = 150 to 75 and back, worked by hand:
 * towards - the drive runs ahead by the lost motion there, 0.20 and 0.16 mm, so it is sent from
 * 149.80 to 74.84; the way back begins with 0.16 mm in which the carriage stands still. */
static void test_reversal_worked_by_hand(void)
{
    g_autoptr(DtProfile) p = measured();
    p->scale[0] = p->scale[1] = 1;
    p->square = 0;
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(150, 50));
    dt_sequence_point(&s, dt_point(75, 50));
    dt_sequence_point(&s, dt_point(150, 50));
    g_auto(DtMoves) m;
    dt_moves_init(&m);
    g_assert_true(dt_machine_moves(p, &s, &m, NULL));
    static const struct {
        DtMoveKind kind;
        double x, ink_x;
    } expected[] = {
        {DT_MOVE_PEN_UP, 0, 0},
        {DT_MOVE_HOME, 0, 0},
        {DT_MOVE_TRAVEL, 150, 150},
        {DT_MOVE_TRAVEL, 150, 150},    /* Y goes on alone, */
        {DT_MOVE_TRAVEL, 149.80, 150}, /* and arrives while X comes back */
        {DT_MOVE_PEN_DOWN, 149.80, 150},
        {DT_MOVE_DRAW, 74.84, 75},
        {DT_MOVE_SLACK, 75, 75},
        {DT_MOVE_DRAW, 150, 150},
        {DT_MOVE_PEN_UP, 150, 150},
        {DT_MOVE_TRAVEL, 0, 0.12}, /* pulled to 0, it stays behind by what is lost there */
        {DT_MOVE_END, 0, 0.12},
    };
    g_assert_cmpuint(m.n, ==, G_N_ELEMENTS(expected));
    for (gsize i = 0; i < m.n; i++) {
        g_assert_cmpint(m.m[i].kind, ==, expected[i].kind);
        g_assert_cmpfloat_with_epsilon(m.m[i].to.x, expected[i].x, 1e-9);
        /* near 0 the table has risen a little: c = 0.12 + c * 0.08 / 150 */
        g_assert_cmpfloat_with_epsilon(m.m[i].ink.x, expected[i].ink_x, 1e-4);
    }
}

/* A UART frame of 8N1 has a start bit, eight data bits and a stop bit: 960 bytes a second at 9600 bit/s.
 * Where each line waits for the reply to the last, n lines of b bytes take n times what b bytes, the
 * reply's and the delay take. */
static void test_a_program_takes_the_time_of_its_frames(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->dialect.baud = 9600;
    p->dialect.window = 0;
    p->dialect.reply_delay_s = 0.004;
    for (int i = 0; i < 2; i++)
        p->speed[i] = p->pull_in[i] = 1000; /* the motors take no time worth the name */
    DtPace *c = g_new(DtPace, 1);
    dt_pace_init(c, p);
    for (int i = 0; i < 9; i++) { /* "taken 1" to "taken 9" and their ends have 8 bytes */
        dt_pace_line(c, 24);
        dt_pace_move(c, 0.001, 0, 0.001, G_MAXDOUBLE);
    }
    g_assert_cmpfloat_with_epsilon(dt_pace_finish(c), 9 * (24 + 8) / 960.0 + 8 * 0.004 - 8 / 960.0,
                                   1e-5);
    dt_pace_clear(c);

    p->dialect.window = 4096; /* the wire is never idle */
    dt_pace_init(c, p);
    for (int i = 0; i < 100; i++) {
        dt_pace_line(c, 24);
        dt_pace_move(c, 0.001, 0, 0.001, G_MAXDOUBLE);
    }
    g_assert_cmpfloat_with_epsilon(dt_pace_finish(c), 100 * 24 / 960.0, 1e-5);
    dt_pace_clear(c);
    g_free(c);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/machine/iso-216", test_sheets_equal_the_table_of_iso_216);
    g_test_add_func("/outside/machine/gear-train", test_gear_train_to_steps_per_mm);
    g_test_add_func("/outside/machine/scale-square", test_scale_and_square_worked_by_hand);
    g_test_add_func("/outside/machine/reversal", test_reversal_worked_by_hand);
    g_test_add_func("/outside/machine/frames", test_a_program_takes_the_time_of_its_frames);
    return g_test_run();
}
