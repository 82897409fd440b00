/* code: what mending makes of dots, and of words that the standard has no use for. */
#include "machines.h"
#include "pen-ways/trial.h"

#include <math.h>
#include <string.h>

#define HEAD "G21 G90\nM5\nG4 P0.1\nG28\n"
#define LIFT "M5\nG4 P0.1\n"
#define DOT "M3 S40\nG4 P0.2\n" LIFT
#define TAIL "G0 X0 Y0\nM2\n"

static TrialResult run(const char *text, const char *ink, gboolean clip, char **why)
{
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    if (!clip) {
        const WayProgram program = {(char *)"dots", (char *)text, strlen(text), (char *)ink, FALSE};
        return trial_run(p, &program, TRUE, why);
    }
    DtMending m;
    gsize len;
    g_autoptr(GError) error = NULL;
    g_autofree char *out = dt_code_mend_text(p, text, strlen(text), "dots.nc",
                                             &(DtMendOptions){.clip = TRUE}, &len, &m, &error);
    g_assert_no_error(error);
    dt_mending_clear(&m);
    return run(out, ink, FALSE, why);
}

/* A pen that the program lowers and lifts again in one place makes a dot there; one that is not lifted over the
 * travel that follows is lowered too early; and before the first move nobody knows where that would be. */
static void test_dots(void)
{
    static const struct {
        const char *text, *ink;
        gboolean clip;
    } cases[] = {
        {HEAD "G0 X20 Y30\n" DOT "G0 X40 Y30\n" DOT TAIL, "20,30 20,30 | 40,30 40,30", FALSE},
        {HEAD "G0 X20 Y30\nM3 S40\nM5\nG0 X40 Y30\nM3 S40\nG1 X50 F600\nM5\n" TAIL,
         "20,30 20,30 | 40,30 50,30", FALSE},
        {HEAD "G0 X20 Y30\n" DOT "G0 X40 Y30\nM3 S40\nG0 X60\nG1 X70 F600\n" LIFT TAIL,
         "20,30 20,30 | 60,30 70,30", FALSE},
        {"G21 G90\nM3 S40\nG4 P0.2\nM5\nG28\n" DOT "G0 X20 Y30\n" DOT TAIL, "20,30 20,30", FALSE},
        {HEAD "G0 X20 Y30\n" DOT "G0 X900 Y30\n" DOT "G0 X30 Y30\n" DOT TAIL,
         "20,30 20,30 | 30,30 30,30", TRUE},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *why = NULL;
        if (run(cases[i].text, cases[i].ink, cases[i].clip, &why) != TRIAL_RIGHT)
            g_test_fail_printf("%s: %s", cases[i].text, why);
    }
}

/* One dot among moves at feed may be a spindle that is started and stopped: it is no drawing. */
static void test_a_spindle_that_turns_once_draws_nothing(void)
{
    static const char text[] = HEAD "G0 X20 Y30\n" DOT "G1 X40 F600\nY60\nX20\n" TAIL;
    g_autofree char *why = NULL;
    g_assert_cmpint(run(text, "", FALSE, &why), !=, TRIAL_RIGHT);
}

/* In other controls these round a corner off, say how often an arc is gone round, or move by themselves: the path
 * would differ. */
static void test_words_that_may_change_the_path(void)
{
    static const struct {
        const char *line;
        gboolean refused;
    } cases[] = {
        {"G1 X60 Y50 R3 F600", TRUE},
        {"G1 X60 Y50 I2 F600", TRUE},
        {"G1 X60 Y50 K1 F600", TRUE},
        {"G1 X60 Y50 I0 J0 K0 F600", FALSE},
        {"G1 X60 Y50 L4 F600", TRUE},
        {"G1 X60 Y50 L1 F600", FALSE},
        {"G2 X60 Y50 I5 J0 P3 F600", TRUE},
        {"G2 X60 Y50 I5 J0 P1 F600", FALSE},
        {"G1 X60 Y50 D1 H2 F600", FALSE},
        {"G1 U10 F600", TRUE},
        {"U10", TRUE},
        {"G1 X60 V2 F600", TRUE},
    };
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf(
            HEAD "G0 X50 Y50\nM3 S40\nG4 P0.2\n%s\nG1 X70 Y70\n" LIFT TAIL, cases[i].line);
        DtMending m;
        gsize len;
        g_autoptr(GError) error = NULL;
        g_autofree char *out =
            dt_code_mend_text(p, text, strlen(text), "way.nc", NULL, &len, &m, &error);
        dt_mending_clear(&m);
        if (cases[i].refused ? out || !g_str_has_prefix(error->message, "way.nc:8:") : !out)
            g_test_fail_printf("'%s': %s", cases[i].line, out ? out : error->message);
    }
}

/* A comment within a comment hides no words, neither from the search for the pen's words nor from the result. */
static void test_broken_comments_hide_nothing(void)
{
    static const char text[] =
        "G21 G90\nM5 (up (safe) now)\nG0 X20 Y30\nM3 S900 (down (draw)\nG1 X40 F600 (a "
        "(b) c) Y50\nM5 (up\nG0 X60 Y60\nM3 S900\nG1 X80 F600\nM5\nG0 X0 Y0\nM2\n";
    g_autofree char *why = NULL;
    if (run(text, "20,30 40,50 | 60,60 80,60", FALSE, &why) != TRIAL_RIGHT)
        g_test_fail_printf("%s", why);
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    DtMending m;
    gsize len;
    g_autofree char *out = dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, NULL);
    g_assert_cmpuint(m.n_readings, >, 0);
    g_assert_cmpfloat_with_epsilon(m.readings[0].ink_mm, hypot(20, 20) + 20, 0.01);
    dt_mending_clear(&m);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/mend/dots", test_dots);
    g_test_add_func("/code/mend/spindle-once", test_a_spindle_that_turns_once_draws_nothing);
    g_test_add_func("/code/mend/words-that-may-change-the-path",
                    test_words_that_may_change_the_path);
    g_test_add_func("/code/mend/broken-comments", test_broken_comments_hide_nothing);
    return g_test_run();
}
