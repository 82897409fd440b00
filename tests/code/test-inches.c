/* inches: a program whose lengths are not in the unit that the machine takes them in is found out. */
#include "machines.h"

#include "drawtrue/code.h"

#include <string.h>

#define HEAD "G90\nM5\nG4P0.1\nG28\n"
#define DOWN "M3 S40\nG4P0.15\n"
#define TAIL "M5\nG4P0.1\nG0X0Y0\nM2\n"

/* The text of the finding about inches, and its line; NULL for none. */
static char *inches(const char *machine, const char *text, int *line)
{
    g_autoptr(DtProfile) p = machine_by_name(machine);
    DtInspection i;
    char *found = NULL;
    dt_code_inspect_text(p, text, strlen(text), &i, NULL);
    for (size_t k = 0; k < i.n_findings; k++)
        if (strcmp(i.findings[k].kind, "inches") == 0) {
            g_assert_null(found);
            found = g_strdup(i.findings[k].text);
            *line = (int)i.findings[k].line;
        }
    dt_inspection_clear(&i);
    return found;
}

static void assert_found(const char *machine, const char *text, int line, const char *says)
{
    int at = 0;
    g_autofree char *found = inches(machine, text, &at);
    if (says == NULL && found != NULL)
        g_error("'%s' was found in:\n%s", found, text);
    if (says == NULL)
        return;
    if (found == NULL || strstr(found, says) == NULL)
        g_error("'%s' and not '%s' was found in:\n%s", found, says, text);
    g_assert_cmpint(at, ==, line);
}

/* The built-in machine travels 300 by 220 mm. */
static void test_inches_that_fit_only_as_mm(void)
{
    assert_found("builtin", "G20\n" HEAD "G0X2Y2\n" DOWN "G1X3F20\n" TAIL, 0, NULL);
    assert_found("builtin", "G20\n" HEAD "G0X20Y2\n" DOWN "G1X30F20\n" TAIL, 1,
                 "says inches, but its lengths fit this machine only as mm");
    assert_found("builtin", "G20\n" HEAD "G0X2Y220\n" DOWN "G1X3F20\n" TAIL, 1, "only as mm");
    /* as mm it would not fit either */
    assert_found("builtin", "G20\n" HEAD "G0X2Y221\n" DOWN "G1X3F20\n" TAIL, 0, NULL);
    assert_found("builtin", "G20\n" HEAD "G0X301Y2\n" DOWN "G1X3Y2F20\n" TAIL, 0, NULL);
    assert_found("plain", "G20\n" HEAD "G0X2Y2\n" DOWN "G1X3F20\n" TAIL, 1,
                 "reads them as mm: all would be 25.4 times too small");
    assert_found("builtin", "G21\n" HEAD "G0X20Y2\n" DOWN "G1X30F600\n" TAIL, 0, NULL);
}

static void test_a_comment_that_speaks_of_inches(void)
{
    static const struct {
        const char *comment;
        gboolean found;
    } cases[] = {
        {"(lengths in inches)", TRUE}, {"(INCH)", TRUE},         {"(unit: inch, by hand)", TRUE},
        {"(it pinches)", FALSE},       {"(inched)", FALSE},      {"(an inch is 25.4 mm)", FALSE},
        {"(millimetres)", FALSE},      {"(1 inches, mms)", TRUE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text =
            g_strconcat(cases[i].comment, "\n" HEAD "G0X1Y1\n" DOWN "G1X2.5F600\n" TAIL, NULL);
        assert_found("builtin", text, cases[i].found ? 1 : 0,
                     cases[i].found ? "the comment speaks of inches, and lengths up to 2.5 are"
                                    : NULL);
    }
    /* a drawing that would not fit as inches is in mm, whatever the comment says: 220 / 25.4 = 8.66 */
    assert_found("builtin", "(inches)\n" HEAD "G0X1Y1\n" DOWN "G1X8.66F600\n" TAIL, 1,
                 "up to 8.66 are");
    assert_found("builtin", "(inches)\n" HEAD "G0X1Y1\n" DOWN "G1X8.67F600\n" TAIL, 0, NULL);
    /* nor is one that draws nothing in doubt */
    assert_found("builtin", "(inches)\n" HEAD "G0X1Y1\nG0X0Y0\nM2\n", 0, NULL);
}

/* 10, 20, 30 and 45 mm, to four places of an inch. */
static void test_figures_that_are_whole_mm_as_inches(void)
{
    assert_found("builtin", HEAD "G0X0.3937Y0.7874\n" DOWN "G1X1.1811F600\nY1.7717\n" TAIL, 5,
                 "lengths such as 0.3937 look like inches taken for mm: 10 mm");
    /* three of them are no proof */
    assert_found("builtin", HEAD "G0X0.3937Y0.7874\n" DOWN "G1X1.1811F600\nY0.3937\n" TAIL, 0,
                 NULL);
    /* nor are four among others */
    assert_found("builtin",
                 HEAD "G0X0.3937Y0.7874\n" DOWN "G1X1.1811F600\nY1.7717\nX1.112\nX1.173\n" TAIL, 0,
                 NULL);
    assert_found("builtin", HEAD "G0X0.4137Y0.7174\n" DOWN "G1X1.1211F600\nY1.7017\n" TAIL, 0,
                 NULL);
    /* whole and half mm say nothing of either unit */
    assert_found("builtin",
                 HEAD "G0X0.3937Y0.7874\n" DOWN "G1X1.1811F600\nY1.7717\nX1\nX2.5\nY3\nY1.5\n" TAIL,
                 5, "look like inches");
}

static void test_slow_feeds_of_small_drawings(void)
{
    assert_found("builtin", HEAD "G0X1Y1\n" DOWN "G1X2.5F60\n" TAIL, 8,
                 "lengths up to 2.5 and feeds up to 60 look like inches");
    assert_found("builtin", HEAD "G0X1Y1\n" DOWN "G1X2.5F61\n" TAIL, 0, NULL);
    assert_found("builtin", HEAD "G0X1Y1\n" DOWN "G1X2.5F30\nX1F61\n" TAIL, 0, NULL);
    assert_found("builtin", HEAD "G0X1Y1\n" DOWN "G1X9F60\n" TAIL, 0, NULL);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/inches/said", test_inches_that_fit_only_as_mm);
    g_test_add_func("/code/inches/comment", test_a_comment_that_speaks_of_inches);
    g_test_add_func("/code/inches/figures", test_figures_that_are_whole_mm_as_inches);
    g_test_add_func("/code/inches/feeds", test_slow_feeds_of_small_drawings);
    return g_test_run();
}
