/* ink: narrow parts that become narrower along their way, between darker fields. */
#include "shapes-in-ink.h"

static DtPen pens[3] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"terracotta", .colour = {0.71, 0.28, 0.18, 1}, .tip = 0.4, .dot_gain = 1}};
#define TIP 0.4

/* The stripe is 0.95 mm wide up to X 50 and ends in a point at X 80. */
static double width_at(double x)
{
    return x < 50 ? 0.95 : 0.95 * (80 - x) / 30;
}

static DtStrokes ink_of(const char *below, DtInkReport *report)
{
    const DtRack rack = {pens, 3};
    g_autofree char *svg =
        g_strdup_printf("<rect x='10' y='50' width='80' height='20' fill='#000'/>"
                        "<rect x='10' y='30' width='80' height='20' fill='%s'/>"
                        "<path d='M20 49.525V50.475H50L80 50 50 49.525Z' fill='#696969'/>",
                        below);
    return shapes_in_ink(svg, &rack, &DT_INK_OPTIONS_DEFAULT, report);
}

/* A dark grey stripe has a line along its middle, which shows by its bare edges. Where there would be none the stripe is
 * bare. */
static void test_points_between_dark_fields_are_bare(void)
{
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of("#000", &r);
    int wide = 0, thin = 0, n_wide = 0, n_thin = 0;
    for (double x = 22; x < 70; x += 0.2) {
        const gboolean inked = is_within_strokes(&s, dt_point(x, 50), TIP / 2);
        if (width_at(x) > 0.75) {
            wide += inked;
            n_wide++;
        } else if (width_at(x) < 0.6) {
            thin += inked;
            n_thin++;
        }
    }
    g_test_message("inked: %d of %d where it is wide, %d of %d where it is thin", wide, n_wide,
                   thin, n_thin);
    g_assert_cmpint(wide, >=, n_wide * 95 / 100);
    g_assert_cmpint(thin, <=, n_thin * 5 / 100);
    g_assert_cmpfloat(r.unseen_mm, <, 10);
    dt_ink_report_clear(&r);
}

/* Beside a lighter field it would not show bare: its line goes on. */
static void test_points_beside_a_light_field_are_drawn(void)
{
    g_auto(DtStrokes) s = ink_of("#fff", NULL);
    g_assert_cmpfloat(inked_between(&s, dt_point(22, 50), dt_point(70, 50), TIP), >=, 0.98);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/tapers/dark", test_points_between_dark_fields_are_bare);
    g_test_add_func("/ink/tapers/light", test_points_beside_a_light_field_are_drawn);
    return g_test_run();
}
