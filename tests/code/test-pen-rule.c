/* pen: how the profile's pen lines are understood, and what a spindle word or a height means to them. */
#include "code/judge/pen.h"
#include "code/dialect.h"
#include "drawtrue/code.h"

#include <string.h>

typedef struct {
    DtProfile *p;
    DtVocabulary words;
    DtPenRule rule;
} Pen;

static void pen_init(Pen *pen, const char *down, const char *up)
{
    g_autoptr(GError) error = NULL;
    pen->p = dt_profile_new();
    g_free(pen->p->dialect.pen_down);
    g_free(pen->p->dialect.pen_up);
    g_free(pen->p->dialect.words);
    pen->p->dialect.words = g_strdup("G0 G1 M3 M4 M5 M41 M42 F S X Y Z");
    pen->p->dialect.pen_down = g_strdup(down);
    pen->p->dialect.pen_up = g_strdup(up);
    dt_vocabulary_compile(&pen->p->dialect, "test", &pen->words, &error);
    g_assert_no_error(error);
    dt_pen_rule_init(&pen->rule, &pen->p->dialect, &pen->words);
}

static void pen_clear(Pen *pen)
{
    dt_pen_rule_clear(&pen->rule);
    dt_profile_free(pen->p);
}

/* Each line with what it is taken for. -1: no speed is said. */
static void test_lines_of_a_pen(void)
{
    static const struct {
        const char *down, *up;
        int kind, down_turn, up_turn;
        double down_speed, up_speed;
    } cases[] = {{"M3 S40", "M5", LIFT_BY_SPINDLE, 1, 0, 40, -1},
                 {"M4 S40", "M5", LIFT_BY_SPINDLE, -1, 0, 40, -1},
                 {"M3", "M5", LIFT_BY_SPINDLE, 1, 0, -1, -1},
                 {"M3 S60", "M3 S10", LIFT_BY_SPINDLE, 1, 1, 60, 10},
                 {"M5", "M3 S40", LIFT_BY_SPINDLE, 0, 1, -1, 40},
                 {"S40", "M5", LIFT_BY_SPINDLE, 1, 0, 40, -1},
                 {"M3 S40", "S0", LIFT_BY_SPINDLE, 1, 0, 40, 0},
                 {"M3 S40\nM5", "M5\nM3", LIFT_BY_SPINDLE, 1, 0, 40, -1}, /* a line ends */
                 {"M41", "M42", LIFT_BY_OWN_WORD, 0, 0, -1, -1},
                 {"G1 Z-1 F300", "M42", LIFT_BY_OWN_WORD, 0, 0, -1, -1},
                 {"M41", "G0 Z3", LIFT_BY_OWN_WORD, 0, 0, -1, -1}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Pen pen;
        pen_init(&pen, cases[i].down, cases[i].up);
        g_assert_cmpint(pen.rule.kind, ==, cases[i].kind);
        g_assert_cmpint(pen.rule.down_turn, ==, cases[i].down_turn);
        g_assert_cmpint(pen.rule.up_turn, ==, cases[i].up_turn);
        g_assert_cmpfloat(pen.rule.down_speed, ==, cases[i].down_speed);
        g_assert_cmpfloat(pen.rule.up_speed, ==, cases[i].up_speed);
        pen_clear(&pen);
    }
    Pen pen;
    pen_init(&pen, "G1 Z-1.5 F300", "G0 Z3");
    g_assert_cmpint(pen.rule.kind, ==, LIFT_BY_Z);
    g_assert_cmpfloat(pen.rule.down_z, ==, -1.5);
    g_assert_cmpfloat(pen.rule.up_z, ==, 3);
    pen_clear(&pen);
}

/* Which way it turns, and how fast, told by the pen that the profile has. */
static void test_a_spindle_word_moves_the_pen(void)
{
    static const struct {
        const char *down, *up;
        int turn;
        double speed;
        gboolean is_down;
    } cases[] = {/* on is down, but for less than half of its S */
                 {"M3 S40", "M5", 1, 40, TRUE},
                 {"M3 S40", "M5", 1, 1000, TRUE},
                 {"M3 S40", "M5", 1, 20, TRUE},
                 {"M3 S40", "M5", 1, 19.9, FALSE},
                 {"M3 S40", "M5", 1, 0, FALSE},
                 {"M3 S40", "M5", -1, 40, TRUE},
                 {"M3 S40", "M5", 0, 40, FALSE},
                 {"M3", "M5", 1, 0, TRUE},
                 {"M3 S0", "M5", 1, 0, TRUE},
                 /* off is down */
                 {"M5", "M3 S40", 0, 0, TRUE},
                 {"M5", "M3 S40", 1, 40, FALSE},
                 {"M5", "M3 S40", 1, 0, FALSE},
                 /* on is both: the S that is nearer */
                 {"M3 S60", "M3 S10", 1, 60, TRUE},
                 {"M3 S60", "M3 S10", 1, 36, TRUE},
                 {"M3 S60", "M3 S10", 1, 35, FALSE},
                 {"M3 S60", "M3 S10", 1, 10, FALSE},
                 {"M3 S60", "M3 S10", 0, 60, FALSE},
                 {"M3 S10", "M3 S60", 1, 34, TRUE},
                 {"M3 S10", "M3 S60", 1, 35, FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Pen pen;
        pen_init(&pen, cases[i].down, cases[i].up);
        const DtPenState want = cases[i].is_down ? PEN_DOWN : PEN_UP;
        if (dt_pen_after_spindle(&pen.rule, cases[i].turn, cases[i].speed) != want)
            g_error("case %zu", i);
        pen_clear(&pen);
    }
}

/* The nearer one of both heights; up in the middle. */
static void test_a_height_moves_the_pen(void)
{
    static const struct {
        const char *down, *up;
        double z;
        gboolean is_down;
    } cases[] = {{"G1 Z-1", "G0 Z3", -1, TRUE},   {"G1 Z-1", "G0 Z3", -50, TRUE},
                 {"G1 Z-1", "G0 Z3", 0.99, TRUE}, {"G1 Z-1", "G0 Z3", 1, FALSE},
                 {"G1 Z-1", "G0 Z3", 3, FALSE},   {"G1 Z-1", "G0 Z3", 50, FALSE},
                 {"G1 Z5", "G0 Z0", 4, TRUE},     {"G1 Z5", "G0 Z0", 2.5, FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Pen pen;
        pen_init(&pen, cases[i].down, cases[i].up);
        g_assert_cmpint(dt_pen_at_z(&pen.rule, cases[i].z), ==,
                        cases[i].is_down ? PEN_DOWN : PEN_UP);
        pen_clear(&pen);
    }
}

/* The pen that a comment of ours names, alone or with its stroke. */
static void test_comments_that_name_a_pen(void)
{
    static const struct {
        const char *line, *name; /* NULL: none */
    } cases[] = {{"(pen red)", "red"},
                 {"( pen dark green )", "dark green"},
                 {"(stroke 12 pen black)", "black"},
                 {"(stroke 12 pen pen pal)", "pen pal"},
                 {"(stroke 12)", NULL},
                 {"(pencil)", NULL},
                 {"(a pen red)", NULL},
                 {"(Pen red)", NULL},
                 {"G0 X1", NULL}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Pen pen;
        DtCodeBlock b;
        char name[DT_PEN_NAME] = "";
        char *copy;
        pen_init(&pen, "M3", "M5");
        dt_pen_read_line(&b, cases[i].line, &pen.words, &copy);
        const gboolean found = dt_pen_comment(&b, name);
        if (found != (cases[i].name != NULL) || (found && strcmp(name, cases[i].name) != 0))
            g_error("%s: '%s'", cases[i].line, found ? name : "none");
        g_free(copy);
        pen_clear(&pen);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/pen-rule/lines", test_lines_of_a_pen);
    g_test_add_func("/pen-rule/spindle", test_a_spindle_word_moves_the_pen);
    g_test_add_func("/pen-rule/height", test_a_height_moves_the_pen);
    g_test_add_func("/pen-rule/comment", test_comments_that_name_a_pen);
    return g_test_run();
}
