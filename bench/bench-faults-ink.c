/* bench-faults-ink: the ink that landed, and whether it is what was to land. */
#include "bench-faults.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double tolerance = 0.02, sample = 0.1; /* mm */

void faults_take_ink(const DtRig *r, Ink *ink)
{
    *ink = (Ink){.pens = g_ptr_array_new()};
    dt_lines_init(&ink->lines);
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++) {
        DtRigStroke s = dt_rig_stroke(r, i);
        dt_lines_append(&ink->lines, (const DtPoint *)s.xy, s.n, FALSE);
        g_ptr_array_add(ink->pens, (gpointer)g_intern_string(s.pen));
    }
    ink->total = dt_lines_total_length(&ink->lines);
    for (size_t i = 0; i < ink->lines.n; i++)
        ink->longest = MAX(ink->longest, dt_lines_length(&ink->lines, i));
}

void faults_clear_ink(Ink *ink)
{
    dt_lines_clear(&ink->lines);
    g_ptr_array_unref(ink->pens);
}

/* From ink of this pen. */
static double distance_to(const Ink *ink, gpointer pen, DtPoint p)
{
    double least = G_MAXDOUBLE;
    const DtLines *l = &ink->lines;
    for (size_t i = 0; i < l->n; i++) {
        if (ink->pens->pdata[i] != pen)
            continue;
        const DtPoint *at = dt_lines_at(l, i);
        const size_t n = dt_lines_count(l, i);
        if (n == 1)
            least = MIN(least, dt_point_distance(p, at[0]));
        for (size_t k = 1; k < n; k++) {
            if (MIN(fabs(at[k].x - p.x), fabs(at[k - 1].x - p.x)) > 5 + least)
                continue;
            least = MIN(least, dt_point_segment_distance(p, at[k - 1], at[k]));
        }
    }
    return least;
}

/* Whether each point of polyline i of `a` lies on the same pen's ink of `b`. */
static gboolean stroke_lies_on(const Ink *a, size_t i, const Ink *b)
{
    const DtPoint *at = dt_lines_at(&a->lines, i);
    const size_t n = dt_lines_count(&a->lines, i);
    const gpointer pen = a->pens->pdata[i];
    for (size_t k = 0; k < n; k++) {
        if (distance_to(b, pen, at[k]) > tolerance)
            return FALSE;
        const double length = k + 1 < n ? dt_point_distance(at[k], at[k + 1]) : 0;
        for (double d = sample; d < length; d += sample)
            if (distance_to(b, pen, dt_point_lerp(at[k], at[k + 1], d / length)) > tolerance)
                return FALSE;
    }
    return TRUE;
}

static size_t strokes_on(const Ink *a, const Ink *b)
{
    size_t n = 0;
    for (size_t i = 0; i < a->lines.n; i++)
        n += stroke_lies_on(a, i, b) ? 1 : 0;
    return n;
}

const char *faults_judge_whole(const Ink *want, const Ink *got)
{
    if (strokes_on(want, got) < want->lines.n)
        return "ink is missing";
    if (strokes_on(got, want) < got->lines.n)
        return "ink where none was planned";
    if (got->total > want->total + want->longest + 0.5)
        return "more than one stroke drawn twice";
    return NULL;
}

const char *faults_judge_stop(const Ink *want, const Ink *got, const DtRigFigures *f,
                              const char *message, gboolean answers)
{
    const char *of = strstr(message, " strokes are drawn");
    size_t drawn = 0, all = 0;
    while (of != NULL && of > message && of[-1] != ':')
        of--;
    const gboolean counts = of != NULL && sscanf(of, " %zu of %zu", &drawn, &all) == 2;
    if (!counts && got->lines.n > 0) /* a run that could not begin has nothing to count */
        return "the report does not count";
    if (!f->pen_up_at_end)
        return "the pen is down";
    if ((strstr(message, "no longer answers") != NULL) == answers)
        return "it tells wrongly whether the board answers";
    if (strokes_on(got, want) < got->lines.n)
        return "ink where none was planned";
    for (size_t i = 0; i < MIN(drawn, want->lines.n); i++)
        if (!stroke_lies_on(want, i, got))
            return "a stroke reported as drawn is missing";
    return NULL;
}
