/* progress: while strokes are planned the share that is done is told again and again, and never falls. The
 * linker brings here what the room tells. */
#include "drawtrue/work.h"
#include "shapes-in-ink.h"

enum { SHAPES = 80 };

static double most;
static guint told;

void __real_dt_work_report(double done);
void __wrap_dt_work_report(double done);

void __wrap_dt_work_report(double done)
{
    g_assert_cmpfloat(done, >=, most);
    g_assert_cmpfloat(done, <=, 1);
    most = done;
    told++;
    __real_dt_work_report(done);
}

static void check(const DtInkOptions *o)
{
    DtPen pens[] = {
        {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1},
        {.name = (char *)"green", .colour = {0.1, 0.6, 0.1, 1}, .tip = 0.4, .dot_gain = 1}};
    const DtRack rack = {pens, G_N_ELEMENTS(pens)};
    g_autoptr(GString) shapes = g_string_new(PAGE_OF_100_MM);
    for (int i = 0; i < SHAPES; i++)
        g_string_append_printf(shapes, "<circle cx='%d' cy='%d' r='3' fill='#%02x8032'/>",
                               5 + i * 37 % 90, 5 + i * 53 % 90, i * 2);
    g_string_append(shapes, "</svg>");
    most = 0; /* reading has a stage of its own */
    g_autoptr(DtDrawing) d = dt_art_read_data(shapes->str, shapes->len, "shapes.svg", NULL, NULL);
    g_assert_nonnull(d);
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    most = 0;
    told = 0;
    g_assert_true(dt_ink_trace(d, &rack, o, &s, NULL, NULL));
    g_assert_cmpuint(told, >, SHAPES);
    g_assert_cmpfloat(most, >=, 0.7); /* the last part has one report for each pen */
}

static void test_shares_never_fall(void)
{
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    check(&o);
    o.solid = TRUE;
    check(&o);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/progress/never-falls", test_shares_never_fall);
    return g_test_run();
}
