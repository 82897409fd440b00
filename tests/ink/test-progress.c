/* progress: while strokes are planned the share that is done grows from 0 to 1. */
#include "drawtrue/work.h"
#include "shapes-in-ink.h"

#include <string.h>

#define SHAPES 80

typedef struct {
    DtWork *work;
    double most;
    guint fallen;
} Watch;

static gpointer look_on(gpointer data)
{
    Watch *w = data;
    while (!dt_work_is_cancelled(w->work)) {
        const double done = dt_work_state(w->work).done;
        w->fallen += done < w->most || done > 1;
        w->most = MAX(w->most, done);
    }
    return NULL;
}

static void check(const DtInkOptions *o)
{
    DtPen pens[] = {
        {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1},
        {.name = (char *)"green", .colour = {0.1, 0.6, 0.1, 1}, .tip = 0.4, .dot_gain = 1}};
    const DtRack rack = {pens, G_N_ELEMENTS(pens)};
    g_autoptr(GString) shapes = g_string_new(NULL);
    for (int i = 0; i < SHAPES; i++)
        g_string_append_printf(shapes, "<circle cx='%d' cy='%d' r='3' fill='#%02x8032'/>",
                               5 + i * 37 % 90, 5 + i * 53 % 90, i * 2);
    g_autoptr(DtWork) work = dt_work_new(NULL, NULL);
    Watch w = {.work = work};
    DtWork *before = dt_work_enter(work);
    dt_work_begin(DT_STAGE_INK);
    GThread *thread = g_thread_new("looks-on", look_on, &w);
    DtStrokes s = shapes_in_ink(shapes->str, &rack, o, NULL);
    dt_work_leave(before);
    dt_work_cancel(work);
    g_thread_join(thread);
    dt_strokes_clear(&s);
    g_assert_cmpuint(w.fallen, ==, 0);
    g_assert_cmpfloat(w.most, <=, 1);
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
