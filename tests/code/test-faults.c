/* faults: what a reader says of a line that is none, with the place in the line. What is a fault is NISTIR 6556,
 * 3.3 and 3.5, from memory; the words are our own. */
#include "code/read/rs274.h"

#include <math.h>
#include <string.h>

typedef struct {
    GString *first; /* "COLUMN TEXT" */
    double x;       /* where it ends */
} Said;

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    Said *said = user;
    (void)kind;
    if (said->first->len == 0)
        g_string_printf(said->first, "%d %s", column, text);
}

static void on_action(void *user, const DtAction *a)
{
    (void)user, (void)a;
}

static void read_text(const char *text, Said *said)
{
    static const DtListener listener = {on_fault, NULL, on_action, NULL};
    said->first = g_string_new(NULL);
    DtReader *r = dt_reader_new(&listener, NULL, said);
    dt_reader_read_text(r, text, strlen(text));
    said->x = r->at[0];
    dt_reader_free(r);
}

static void check_fault(const char *text, const char *wanted)
{
    Said said;
    read_text(text, &said);
    if (strcmp(said.first->str, wanted) != 0)
        g_test_fail_printf("'%s': '%s' instead of '%s'", text, said.first->str, wanted);
    g_string_free(said.first, TRUE);
}

static void test_values(void)
{
    check_fault("G0 X[[0-8]**[1/3]]", "11 a negative number has no fractional power");
    check_fault("G0 X[10**400]", "8 the result is too large");
    check_fault("G0 X[5 mod 0]", "8 division by zero");
    check_fault("G0 Xatan 1", "5 ATAN needs '['");
    check_fault("G0 Xatan[1]", "12 ATAN is written ATAN[..]/[..]");
    check_fault("G0 Xatan[1] / 2", "15 ATAN is written ATAN[..]/[..]");
    check_fault("G0 X#5400", "5 parameters are #1 to #5399");
    check_fault("#3 X4", "4 expected '=' after #3");
    check_fault("#1.5=4", "1 parameters are #1 to #5399");
}

static void test_remainders_are_not_negative(void)
{
    static const struct {
        const char *value;
        double x;
    } cases[] = {{"7 mod 3", 1}, {"[0-7] mod 3", 2}, {"7 mod [0-3]", 1}, {"[0-7] mod [0-3]", 2}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf("G21 G90 G0 X[%s]", cases[i].value);
        Said said;
        read_text(text, &said);
        g_assert_cmpstr(said.first->str, ==, "");
        g_assert_cmpfloat_with_epsilon(said.x, cases[i].x, 1e-12);
        g_string_free(said.first, TRUE);
    }
}

static void test_how_much_a_line_may_set(void)
{
    g_autoptr(GString) settings = g_string_new(NULL);
    for (int i = 0; i < MOST_SETTINGS; i++)
        g_string_append_printf(settings, "#%d=1 ", i + 1);
    Said said;
    read_text(settings->str, &said);
    g_assert_cmpstr(said.first->str, ==, "");
    g_string_free(said.first, TRUE);
    const gsize at = settings->len + 1;
    g_string_append(settings, "#99=1");
    g_autofree char *wanted = g_strdup_printf("%zu a line sets at most 50 parameters", at);
    check_fault(settings->str, wanted);
}

static void test_cycles(void)
{
    check_fault("G21 G90 G0 X1 Y1 Z5\nG81 X2 Z-1 F60", "1 a canned cycle needs its depth and R");
    check_fault("G21 G90 G0 X1 Y1 Z5\nG81 X2 R1 F60", "1 a canned cycle needs its depth and R");
    check_fault("G21 G90 G0 X1 Y1 Z5\nG83 X2 Z-1 R1 F60",
                "1 a peck drilling cycle needs Q above 0");
    check_fault("G21 G90 G0 X1 Y1 Z5\nG83 X2 Z-1 R1 Q0 F60",
                "1 a peck drilling cycle needs Q above 0");
    for (int i = 0; i < 3; i++) {
        static const char *const repeats[] = {"0", "1.5", "10001"};
        g_autofree char *text =
            g_strdup_printf("G21 G90 G0 X1 Y1 Z5\nG81 X2 Z-1 R1 F60 L%s", repeats[i]);
        check_fault(text, "1 the repeats of a cycle are a whole number from 1 to 10000");
    }
    check_fault("G21 G90 G0 X1 Y1 Z5\nG93 G81 X2 Z-1 R1 F60",
                "1 a canned cycle cannot be used with inverse time feed");
    check_fault("G21 G90 G0 X1 Y1 Z5\nG81 X2 Z-1 R1 F60 L2", "");
}

static void test_combinations(void)
{
    check_fault("G10 L2 P10 X1", "1 G10 is written G10 L2 P1 to P9 and axis words");
    check_fault("G10 L1 P1 X1", "1 G10 is written G10 L2 P1 to P9 and axis words");
    check_fault("G10 L2 P1.5 X1", "1 G10 is written G10 L2 P1 to P9 and axis words");
    check_fault("G10 L2 P1 X1", "");
    check_fault("G21 G90 G1 F60 X1\nG53 G2 X5 I2", "1 G53 can only be used with G0 or G1");
    check_fault("G21 G90 G2 F60 X2 I1\nG53 X5", "1 G53 can only be used with G0 or G1");
    check_fault("G21 G90 G0 X1\nG53 X5", "");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/faults/values", test_values);
    g_test_add_func("/code/faults/remainders", test_remainders_are_not_negative);
    g_test_add_func("/code/faults/settings", test_how_much_a_line_may_set);
    g_test_add_func("/code/faults/cycles", test_cycles);
    g_test_add_func("/code/faults/combinations", test_combinations);
    return g_test_run();
}
