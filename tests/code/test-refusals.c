/* code: the first line of a program that inspection calls refused is the first that the controller
 * core refuses, for programs put together at random. Percent signs are left out: no sender passes
 * them on. */
#include "drawtrue/rig.h"
#include "machines.h"

#include <string.h>

static const char *const heads[] = {"G21 G90\nM5\nG28\nG0 X20 Y20\n",
                                    "G20 G91\nM5\nG28\nG0 X1 Y1\n", "M5\nG28\n",
                                    "G21 G90 G17 F600\nM5\nG28\nG0X20Y20\nM3S40\n"};

static const char *const words[] = {
    "G0",   "G1",    "G2",           "G3",         "G4",     "G17",    "G20",     "G21",   "G28",
    "G90",  "G91",   "G94",          "M0",         "M3",     "M5",     "F600",    "F0",    "F-1",
    "F",    "S40",   "S0",           "S-4",        "P0.1",   "P-1",    "P0",      "X10",   "Y10",
    "X20",  "Y20",   "X30.5",        "Y-1",        "X500",   "I5",     "J5",      "I-5",   "J0",
    "R10",  "R-10",  "R0.1",         "N7",         "N1.5",   "G1.5",   "G5",      "M7",    "Z1",
    "X",    "X--3",  "Y.",           "X1e1",       "X1.2.3", "(a)",    "(a(b)",   "(a",    "*",
    "/",    "; a",   "#1=3",         "x12",        "g1",     "y 1 5",  "G01",     "G 1",   "M03",
    "X+3",  "X-0",   "X1000",        "X99999",     "Y3000",  "I0",     "K1",      "G28.1", "G0.0",
    "M5.0", "X0010", "N99999",       "N100000",    "N-1",    "S99999", "P99999",  "F9e9",  "\t",
    "\r",   "",      "X1.123456789", "Y0.0000001", "G00001", "N0",     "F999999", "J-2.5",
};

static char *make_program(GRand *r)
{
    GString *text = g_string_new(heads[g_rand_int_range(r, 0, G_N_ELEMENTS(heads))]);
    int lines = g_rand_int_range(r, 1, 4);
    for (int i = 0; i < lines; i++) {
        int n = g_rand_int_range(r, 1, 6);
        for (int k = 0; k < n; k++)
            g_string_append_printf(text, "%s%s", k && g_rand_boolean(r) ? " " : "",
                                   words[g_rand_int_range(r, 0, G_N_ELEMENTS(words))]);
        g_string_append_c(text, '\n');
    }
    return g_string_free(text, FALSE);
}

typedef struct {
    size_t line, first; /* 0: none was refused */
    char *answer;
} Talk;

static void on_talk(const char *line, const char *answer, void *user)
{
    Talk *t = user;
    (void)line;
    t->line++;
    if (t->first || !g_str_has_prefix(answer, "refused"))
        return;
    t->first = t->line;
    t->answer = g_strdup(answer);
}

static size_t first_by_core(const char *text, char **answer)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) rig = dt_rig_new_from_text(
        "[controller]\nsteps_per_mm_x = 2\nsteps_per_mm_y = 2\nspeed_x = 900\nspeed_y = 900\n"
        "acceleration_x = 90000\nacceleration_y = 90000\npull_in_x = 90\npull_in_y = 90\n"
        "[truth]\nover_low = 50\nstart_x = 1\nstart_y = 1\n",
        "rig", &error);
    g_assert_no_error(error);
    Talk t = {0, 0, NULL};
    dt_rig_listen(rig, on_talk, &t);
    dt_rig_run_text(rig, text, strlen(text));
    *answer = t.answer;
    return t.first;
}

/* Beyond the travel a line is harm to a program and a refusal to this core. */
static gboolean is_refusal(const DtFinding *f)
{
    static const char *const others[] = {"z-lifts", "spindle-lifts", "never-down", "empty"};
    if (g_str_has_prefix(f->kind, "beyond-travel"))
        return TRUE;
    for (size_t i = 0; i < G_N_ELEMENTS(others); i++)
        if (strcmp(f->kind, others[i]) == 0)
            return FALSE;
    return f->rank == DT_FINDING_NO_INK;
}

static size_t first_by_judge(const DtProfile *p, const char *text, char **why)
{
    DtInspection i;
    size_t first = 0;
    g_assert_true(dt_code_judge_text(p, text, strlen(text), NULL, &i, NULL));
    for (size_t k = 0; k < i.n_findings; k++)
        if (is_refusal(&i.findings[k]) && (first == 0 || (size_t)i.findings[k].line < first)) {
            first = (size_t)i.findings[k].line;
            g_free(*why);
            *why = g_strdup(i.findings[k].text);
        }
    dt_inspection_clear(&i);
    return first;
}

/* What an earlier job may have left is unknown to a core that has just been switched on. */
static gboolean has_assumed(const DtProfile *p, const char *text, size_t line)
{
    DtInspection i;
    gboolean any = FALSE;
    g_assert_true(dt_code_judge_text(p, text, strlen(text), NULL, &i, NULL));
    for (size_t k = 0; k < i.n_findings; k++)
        any |= (size_t)i.findings[k].line == line && !strcmp(i.findings[k].kind, "mode-assumed");
    dt_inspection_clear(&i);
    return any;
}

static void test_first_refusal(void)
{
    enum { PROGRAMS = 3000 };
    GRand *r = g_rand_new_with_seed(6556);
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    p->dialect.line_check = FALSE;
    for (int i = 0; i < PROGRAMS; i++) {
        g_autofree char *text = make_program(r), *answer = NULL, *why = NULL;
        size_t core = first_by_core(text, &answer), judge = first_by_judge(p, text, &why);
        if (core != judge && !(core && has_assumed(p, text, core)))
            g_test_message("core %zu (%s), inspect %zu (%s) of\n%s", core, answer ? answer : "-",
                           judge, why ? why : "-", text),
                g_test_fail();
    }
    g_rand_free(r);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/refusals/first-is-the-cores", test_first_refusal);
    return g_test_run();
}
