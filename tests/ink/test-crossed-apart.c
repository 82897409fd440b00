/* ink: dark fields of crossed lines beside lines and fields of their own pen. */
#include "ink/look/assign.h"

#include <math.h>

#define TIP 0.4

static DtPen black = {
    .name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1};
static const DtRack rack = {&black, 1};
static const DtColour paper = {1, 1, 1, 1};

static DtLookArea grey(int v)
{
    return (DtLookArea){.lab = dt_colour_lab((DtColour){v / 255.0, v / 255.0, v / 255.0, 1}),
                        .asked = -1,
                        .area = 1000,
                        .outline = -1};
}

/* If the lines of one direction became fewer to show what lies beside the field, those of the other would still hide
 * it. */
static void test_both_directions_cover_the_same(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    unsigned crossed = 0;
    for (int v = 30; v <= 126; v += 2)
        for (int w = 0; w <= 126; w += 6)
            for (int narrow = 0; narrow <= 1; narrow++) {
                DtLookArea areas[2] = {grey(v), grey(w)};
                if (narrow) {
                    areas[1].narrow = TRUE;
                    areas[1].least = 1;
                    areas[1].area = 20;
                }
                const DtPartBorder border = {0, 1, 50};
                g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof border);
                g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof border);
                g_array_append_val(borders, border);
                dt_look_assign(appear, areas, 2, borders, TIP, gaps);
                for (int i = 0; i < 2; i++)
                    if (areas[i].recipe.pen[1] == 0) {
                        crossed++;
                        g_assert_cmpfloat(areas[i].recipe.share[0], ==, areas[i].recipe.share[1]);
                    }
            }
    g_test_message("%u fields are crossed", crossed);
    g_assert_cmpuint(crossed, >, 100);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/crossed-apart/shares", test_both_directions_cover_the_same);
    return g_test_run();
}
