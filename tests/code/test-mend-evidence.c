/* code: programs whose heights or speeds have many values, and which of them the evidence takes for the lift. */
#include "machines.h"
#include "pen-ways/trial.h"

#include <string.h>

enum { SHAPES = 10 };

/* Each line of a template with "$N" for the shape's number and "$H" for a value of the list, the next each time. */
typedef struct {
    const char *name, *head, *travel, *down, *draw, *up;
    const char *values[6];
    const char *option; /* the reading that is meant */
} Way;

static char *program_of(const Way *w)
{
    GString *s = g_string_new(w->head);
    for (int k = 0; k < SHAPES; k++) {
        g_autofree char *number = g_strdup_printf("%d", k);
        const char *const parts[] = {w->travel, w->down, w->draw, w->up};
        for (size_t i = 0; i < G_N_ELEMENTS(parts); i++) {
            g_autoptr(GString) part = g_string_new(parts[i]);
            g_string_replace(part, "$N", number, 0);
            g_string_append(s, part->str);
        }
    }
    g_string_append(s, "M5\nG0 X0 Y0\nM2\n");
    for (int k = 0; strstr(s->str, "$H") != NULL; k++)
        g_string_replace(s, "$H", w->values[k % 6], 1);
    return g_string_free(s, FALSE);
}

static void test_the_lift_is_found(void)
{
#define GO "G0 X1$N Y2$N\n"
#define GO_AT_FEED "G1 X1$N Y2$N F3000\n"
#define LINES "G1 X2$N Y2$N F900\nX2$N Y4$N\nX1$N Y3$N\n"
    static const Way ways[] = {
        {"a surface is followed",
         "G21 G90\nG0 Z5\n",
         GO,
         "G1 Z$H F200\n",
         "G1 X2$N Y2$N Z$H F900\nX2$N Y4$N Z$H\nX1$N Y3$N Z$H\n",
         "G0 Z5\n",
         {"-0.12", "0.06", "-0.17", "0.02", "-0.09", "0.04"},
         "z-below:2.53"},
        {"power varies along the line",
         "G21 G90\nM4 S0\n",
         GO,
         "",
         "G1 X2$N Y2$N S$H F900\nX2$N Y4$N S$H\nX1$N Y3$N S$H\n",
         "",
         {"220", "255", "190", "240", "205", "250"},
         "s-above:95"},
        {"lowered once before the first move",
         "G21 G90\nM3 S0\nM3 S50\n",
         GO,
         "M3 S30\nG4 P0.2\n",
         LINES,
         "M3 S50\nG4 P0.2\n",
         {NULL},
         "s-below:40"},
        {"travels at a lower height, at feed",
         "G21 G90\nG1 Z20 F600\n",
         GO_AT_FEED,
         "G1 Z-1 F200\n",
         LINES,
         "G1 Z2 F600\n",
         {NULL},
         "z-below:0.5"},
        {"on sheets of two heights, one of them below zero", /* the widest gap, about zero, is no lift */
         "G21 G90\nG0 Z2\n",
         GO,
         "G1 Z$H F200\n",
         LINES,
         "G0 Z2\n",
         {"-4", "0.5", "-4", "0.5", "-4", "0.5"},
         "z-below:1.25"},
    };
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    for (size_t i = 0; i < G_N_ELEMENTS(ways); i++) {
        DtMending m;
        gsize len;
        g_autoptr(GError) error = NULL;
        g_autofree char *text = program_of(&ways[i]);
        g_autofree char *out =
            dt_code_mend_text(p, text, strlen(text), ways[i].name, NULL, &len, &m, &error);
        if (out == NULL || strcmp(m.readings[0].option, ways[i].option) != 0)
            g_test_fail_printf("%s: %s", ways[i].name, out ? m.readings[0].option : error->message);
        dt_mending_clear(&m);
    }
}

/* Among the speeds in which a servo goes down is by chance that of this machine's own word. */
static void test_a_speed_of_this_machine_s_by_chance(void)
{
    static const char down[] = "M3 S40\nM3 S60\nM3 S90\nG4 P0.1\n",
                      up[] = "M3 S60\nM3 S40\nM3 S30\n";
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    g_autoptr(GString) text = g_string_new("G21 G90\nM3 S30\n"), ink = g_string_new(NULL);
    for (int k = 0; k < SHAPES; k++) {
        const int x = 20 + 10 * k, end = k % 2 ? 60 : 30;
        g_string_append_printf(text, "G0 X%d Y30\n%s%s%s", x, down, k % 2 ? "G1 Y60 F900\n" : "",
                               up);
        g_string_append_printf(ink, "%s%d,30 %d,%d", k ? " | " : "", x, x, end);
    }
    g_string_append(text, "M5\nG0 X0 Y0\nM2\n");
    const WayProgram program = {(char *)"by chance", text->str, text->len, ink->str, FALSE};
    g_autofree char *why = NULL;
    if (trial_run(p, &program, TRUE, &why) != TRIAL_RIGHT)
        g_test_fail_printf("%s", why);
}

/* Few moves with a letter tell as much as many: those that bear it draw, and its values are no lines that lower and lift
 * the pen. */
static void test_few_moves_with_a_letter(void)
{
    static const int values[] = {300, 900, 1400, 2500, 2600};
    static const char *const travels[] = {"G0", "G1"};
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    for (size_t way = 0; way < G_N_ELEMENTS(travels); way++)
        for (size_t n = 2; n <= G_N_ELEMENTS(values); n++) {
            g_autoptr(GString) text = g_string_new("G21 G90\n"), ink = g_string_new(NULL);
            for (size_t k = 0; k < n; k++) {
                const int x = 20 + 20 * (int)k, y = 25 + 7 * (int)k;
                g_string_append_printf(text, "%s X%d Y20 F900\nG1 X%d Y%d V%d F900\n", travels[way],
                                       x, x + 8, y, values[k]);
                g_string_append_printf(ink, "%s%d,20 %d,%d", k ? " | " : "", x, x + 8, y);
            }
            g_string_append_printf(text, "%s X0 Y0\nM2\n", travels[way]);
            const WayProgram program = {(char *)"few", text->str, text->len, ink->str, FALSE};
            g_autofree char *why = NULL;
            if (trial_run(p, &program, TRUE, &why) != TRIAL_RIGHT)
                g_error("%zu moves by %s: %s", n, travels[way], why);
        }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/mend/evidence", test_the_lift_is_found);
    g_test_add_func("/code/mend/speed-by-chance", test_a_speed_of_this_machine_s_by_chance);
    g_test_add_func("/code/mend/few-letters", test_few_moves_with_a_letter);
    return g_test_run();
}
