/* places: the inks of a drawing and where each of them goes. */
#include "ink/trace.h"

/* Areas that are kept bare of one of the pens of a place. */
typedef struct {
    int pen;
    DtLines area;
} PenCut;

static void clear_pen_cut(gpointer cut)
{
    dt_lines_clear(&((PenCut *)cut)->area);
}

void dt_trace_clear_place(gpointer place)
{
    DtInkPlace *p = place;
    dt_lines_clear(&p->only);
    dt_lines_clear(&p->cut);
    g_array_free(p->pen_cuts, TRUE);
    dt_lines_clear(&p->along);
    dt_lines_clear(&p->lighter);
    dt_stack_free(p->stack);
    dt_separation_free(p->separation);
}

static gboolean is_same_ink(const DtInk *a, const DtInk *b)
{
    return a->pen == b->pen && a->level == b->level && a->label == b->label &&
           a->across == b->across && a->across_level == b->across_level && a->turn == b->turn &&
           a->narrow == b->narrow;
}

/* With more places than this, paints that share an ink also share its first place. */
enum { MOST_APART = 64 };

int dt_trace_ink_number(DtTrace *t, DtInk ink, const DtLab *paint)
{
    const gboolean any = !paint || t->inks->len >= MOST_APART;
    if (ink.pen < 0)
        return -1;
    for (guint i = 0; i < t->inks->len; i++) {
        const DtInkPlace *p = dt_trace_place(t, i);
        if (!is_same_ink(&p->ink, &ink))
            continue;
        if (any || dt_colour_difference(p->paint, *paint) < DT_LOOK_ONE_PAINT)
            return (int)i;
    }
    DtInkPlace fresh = {.ink = ink, .paint = paint ? *paint : (DtLab){0, 0, 0}};
    dt_lines_init(&fresh.only);
    dt_lines_init(&fresh.cut);
    dt_lines_init(&fresh.along);
    dt_lines_init(&fresh.lighter);
    fresh.pen_cuts = g_array_new(FALSE, FALSE, sizeof(PenCut));
    g_array_set_clear_func(fresh.pen_cuts, clear_pen_cut);
    g_array_append_val(t->inks, fresh);
    return (int)t->inks->len - 1;
}

gboolean dt_trace_lay_beside(DtTrace *t, int i, const DtLines *area, DtPlaneRule rule,
                             GError **error)
{
    DtInkPlace *p = dt_trace_place(t, (guint)i);
    if (!p->stack) {
        p->stack = dt_stack_new(NULL);
        if (p->only.n > 0 &&
            !dt_stack_add_area(p->stack, DT_STACK_FIRST, &p->only, DT_PLANE_NONZERO, error))
            return FALSE;
    }
    return dt_stack_add_area(p->stack, DT_STACK_FIRST, area, rule, error);
}

/* The same for a clean region, which needs no stack while it is alone. */
gboolean dt_trace_lay_region(DtTrace *t, int i, const DtLines *region, GError **error)
{
    DtInkPlace *p = dt_trace_place(t, (guint)i);
    if (p->stack || p->only.n > 0)
        return dt_trace_lay_beside(t, i, region, DT_PLANE_NONZERO, error);
    dt_lines_append_lines(&p->only, region);
    return TRUE;
}

static PenCut *find_pen_cut(const DtInkPlace *p, int pen)
{
    for (guint i = 0; i < p->pen_cuts->len; i++)
        if (g_array_index(p->pen_cuts, PenCut, i).pen == pen)
            return &g_array_index(p->pen_cuts, PenCut, i);
    return NULL;
}

DtLines *dt_trace_pen_cut(DtInkPlace *p, int pen)
{
    if (!find_pen_cut(p, pen)) {
        PenCut fresh = {.pen = pen};
        dt_lines_init(&fresh.area);
        g_array_append_val(p->pen_cuts, fresh);
    }
    return &find_pen_cut(p, pen)->area;
}

gboolean dt_trace_subtract_cut(const DtLines *cut, const DtLines **region, DtLines *left,
                               GError **error)
{
    g_auto(DtLines) clean;
    dt_lines_init(&clean);
    if (cut->n == 0)
        return TRUE;
    if (!dt_region_clean(cut, DT_PLANE_NONZERO, &clean, error) ||
        !dt_region_subtract(*region, DT_PLANE_NONZERO, &clean, left, error))
        return FALSE;
    *region = left;
    return TRUE;
}

gboolean dt_trace_subtract_pen_cut(const DtInkPlace *p, int pen, const DtLines **region,
                                   DtLines *left, GError **error)
{
    const PenCut *cut = find_pen_cut(p, pen);
    return !cut || dt_trace_subtract_cut(&cut->area, region, left, error);
}
