/* return: a run that begins in the middle of its program, as a resume does, lays its strokes where the
 * whole program lays them, on a machine with slack in both axes: each axis comes to its place from the
 * side from which it came there before. The slack is played here by a model of its own. */
#include "stage.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double slack[2] = {0.4, 0.3};

/* Of rails that are not parallel: it grows by this much along the axis. */
static const double growth = 1.6, length[2] = {300, 220};

/* The drive of an axis pushes the carriage towards + at once, and towards - after the slack. */
typedef struct {
    double drive[2], carriage[2];
    gboolean down, relative, inches, grows;
    GArray *ink; /* DtPoint; each stroke ends in a NAN */
} Machine;

static void machine_init(Machine *m, gboolean grows)
{
    *m = (Machine){.grows = grows, .ink = g_array_new(FALSE, FALSE, sizeof(DtPoint))};
}

/* Where the carriage is at most: the slack there above the drive. */
static double highest(const Machine *m, int axis, double drive)
{
    const double slope = m->grows ? growth / length[axis] : 0;
    return drive + (slack[axis] + slope * drive) / (1 - slope);
}

static void lay(Machine *m)
{
    const DtPoint at = {m->carriage[0], m->carriage[1]};
    g_array_append_val(m->ink, at);
}

static void drive_to(Machine *m, const double to[2])
{
    for (int i = 0; i < 2; i++) {
        m->drive[i] = to[i];
        m->carriage[i] = CLAMP(m->carriage[i], m->drive[i], highest(m, i, m->drive[i]));
    }
    if (m->down)
        lay(m);
}

static void set_pen(Machine *m, gboolean down)
{
    const DtPoint end = {NAN, NAN};
    if (down && !m->down)
        lay(m);
    if (!down && m->down)
        g_array_append_val(m->ink, end);
    m->down = down;
}

static void execute(Machine *m, const char *line)
{
    double to[2] = {m->drive[0], m->drive[1]};
    gboolean moves = FALSE;
    if (*line == '(')
        return;
    for (const char *c = line; *c != '\0';) {
        const char letter = *c;
        const gsize n = strspn(c + 1, "0123456789.-"); /* G0X is no hexadecimal number */
        g_autofree char *number = g_strndup(c + 1, n);
        const double v = g_ascii_strtod(number, NULL);
        c += 1 + n + strspn(c + 1 + n, " ");
        if (letter == 'G' && v == 28) {
            memset(m->drive, 0, sizeof m->drive);
            memset(m->carriage, 0, sizeof m->carriage);
        } else if (letter == 'G' && (v == 90 || v == 91))
            m->relative = v == 91;
        else if (letter == 'G' && (v == 20 || v == 21))
            m->inches = v == 20;
        else if (letter == 'M' && (v == 3 || v == 5))
            set_pen(m, v == 3);
        else if (letter == 'X' || letter == 'Y') {
            const int i = letter == 'Y';
            to[i] = v * (m->inches ? 25.4 : 1) + (m->relative ? m->drive[i] : 0);
            moves = TRUE;
        }
    }
    if (moves)
        drive_to(m, to);
}

/* Each stroke begins where one axis of the last one stands, so that this axis lies as it came there:
 * from below, from above, or in the midst of the slack; at both ends of the travel too. */
static const double strokes[][3][2] = {
    {{0.3, 10}, {0.3, 20}, {0.3, 30}},
    {{0.3, 50}, {20, 50}, {70, 50}},
    {{70, 40}, {60, 30}, {65, 30}},
    {{65, 40}, {65, 20}, {50, 20}},
    {{50, 60}, {50, 65}, {40, 70}},
    {{30, 70}, {30, 75}, {20, 60}},
    {{40, 60}, {45, 60}, {44.8, 60}},
    {{44.8, 80}, {44.8, 90}, {44.8, 89.9}},
    {{60, 89.9}, {5, 89.9}, {0.3, 100}},
    {{0.3, 120}, {0.1, 120}, {0.2, 121}},
    {{0.2, 140}, {12, 0.2}, {12, 0.1}},
    {{30, 0.1}, {280, 100}, {299.8, 219.9}},
    {{299.8, 200}, {299.98, 219.8}, {299.9, 219.9}},
    {{280, 219.9}, {290, 219.8}, {299.9, 210}},
    {{299.9, 190}, {250, 190}, {250.1, 190.2}},
    {{250.1, 180}, {240, 180}, {240, 190}},
    {{240, 205}, {240, 200}, {235, 195}},
    {{225, 195}, {225, 190}, {215, 190}},
};
enum { STROKES = G_N_ELEMENTS(strokes) };

typedef enum { PLAIN, INCREMENTS, INCHES, GROWING, FORMS } Form;

static void add_place(GString *g, Form form, const double at[2], const double to[2])
{
    char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
    const double k = form == INCHES ? 1 / 25.4 : 1;
    const char *format = form == INCHES ? "%.5f" : "%.3f";
    g_ascii_formatd(x, sizeof x, format, k * (to[0] - (at ? at[0] : 0)));
    g_ascii_formatd(y, sizeof y, format, k * (to[1] - (at ? at[1] : 0)));
    g_string_append_printf(g, "X%sY%s", x, y);
}

static char *program_text(Form form)
{
    GString *g = g_string_new(form == INCHES ? "G20\n" : "G21\n");
    g_string_append(g, "G90\nM5\nG4P0.01\nG28\n");
    for (size_t i = 0; i < STROKES; i++) {
        g_string_append_printf(g, "(stroke %zu pen black)\nG90\nG0", i + 1);
        add_place(g, form, NULL, strokes[i][0]);
        g_string_append(g, "\nM3S40\nG4P0.01\n");
        if (form == INCREMENTS)
            g_string_append(g, "G91\n");
        for (int k = 1; k < 3; k++) {
            g_string_append(g, k == 1 ? "G1" : "");
            add_place(g, form, form == INCREMENTS ? strokes[i][k - 1] : NULL, strokes[i][k]);
            g_string_append(g, k == 1 ? (form == INCHES ? "F20\n" : "F600\n") : "\n");
        }
        g_string_append(g, "M5\nG4P0.01\n");
    }
    g_string_append(g, "G90\nG0X0Y0\nM2\n");
    return g_string_free(g, FALSE);
}

/* The points of the strokes after the first `skip`. */
static GArray *ink_after(const GArray *all, size_t skip)
{
    GArray *rest = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (guint i = 0; i < all->len; i++) {
        const DtPoint p = g_array_index(all, DtPoint, i);
        if (skip == 0)
            g_array_append_val(rest, p);
        else
            skip -= isnan(p.x) ? 1 : 0;
    }
    return rest;
}

static void check_ink(const GArray *have, const GArray *wanted, double rounding)
{
    g_assert_cmpuint(have->len, ==, wanted->len);
    for (guint i = 0; i < have->len; i++) {
        const DtPoint a = g_array_index(have, DtPoint, i), b = g_array_index(wanted, DtPoint, i);
        g_assert_cmpint(isnan(a.x), ==, isnan(b.x));
        if (!isnan(a.x)) {
            g_assert_cmpfloat_with_epsilon(a.x, b.x, rounding);
            g_assert_cmpfloat_with_epsilon(a.y, b.y, rounding);
        }
    }
}

static DtTable slack_of(const Machine *m, int axis)
{
    const double at[] = {0, length[axis]}, value[] = {slack[axis], slack[axis] + growth};
    return (DtTable){g_memdup2(at, sizeof at), g_memdup2(value, sizeof value), m->grows ? 2 : 1};
}

static void test_strokes_lie_where_the_whole_program_lays_them(gconstpointer data)
{
    const Form form = (Form)GPOINTER_TO_INT(data);
    g_autofree char *text = program_text(form);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    Machine whole;
    machine_init(&whole, form == GROWING);
    for (char **l = lines; *l != NULL; l++)
        execute(&whole, *l);
    for (size_t skip = form == GROWING ? STROKES - 4 : 0; skip < STROKES;
         skip += form == PLAIN || form == GROWING ? 1 : 5) {
        Stage s;
        Machine m;
        g_autoptr(GError) error = NULL;
        stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 1);
        machine_init(&m, form == GROWING);
        for (int i = 0; i < 2; i++)
            s.profile->backlash[i] = slack_of(&m, i);
        s.profile->drop_s = s.profile->lift_s = 0.01;
        g_assert_true(g_file_set_contents(s.program, text, -1, NULL));
        s.options.skip_strokes = skip;
        s.hear = NULL; /* which knows the stage's own program only */
        stage_draw(&s, &error);
        g_assert_no_error(error);
        GPtrArray *done = fake_executed(s.fake);
        for (guint i = 0; i < done->len; i++)
            execute(&m, done->pdata[i]);
        g_autoptr(GArray) wanted = ink_after(whole.ink, skip);
        /* lines of our own have three decimals, whatever the unit */
        check_ink(m.ink, wanted, (form == INCHES ? 25.4 : 1) * 0.00051);
        g_array_unref(m.ink);
        stage_clear(&s);
    }
    g_array_unref(whole.ink);
}

int main(int argc, char **argv)
{
    static const char *const names[FORMS] = {"plain", "increments", "inches", "growing"};
    g_test_init(&argc, &argv, NULL);
    for (int i = 0; i < FORMS; i++) {
        g_autofree char *name = g_strdup_printf("/link/return/%s", names[i]);
        g_test_add_data_func(name, GINT_TO_POINTER(i),
                             test_strokes_lie_where_the_whole_program_lays_them);
    }
    return g_test_run();
}
