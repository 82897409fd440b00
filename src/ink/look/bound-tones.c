/* bound-tones: gradients and pictures that would differ more from the artwork, from 40 cm, than
 * dense ink. */
#include "ink/look/compose.h"

#include "drawtrue/work.h"

/* All together may exceed it by this much on average. */
#define FARTHER 0.3

static const DtColour *colours_of(const DtSeenPaint *p)
{
    return (const DtColour *)(const void *)p->colours->data;
}

static double near_of(const DtSeenPaint *p, const DtSeparation *s)
{
    return dt_separation_near(s, colours_of(p), p->colours->len);
}

/* Pens with a smaller difference from 40 cm, if there are any. */
static void separate_again(const DtCompose *c, DtSeenPaint *p)
{
    DtSeparation *other = dt_separation_new(c->t->appear, colours_of(p), p->colours->len,
                                            dt_compose_separation_rules(c->t, p, DT_JUDGE_NEAR));
    if (near_of(p, other) < near_of(p, p->separation)) {
        DtSeparation *old = p->separation;
        p->separation = other;
        other = old;
    }
    dt_separation_free(other);
}

void dt_compose_bound_tones(DtCompose *c)
{
    double farther = 0, area = 0;
    for (guint i = 0; i < c->parts->len && !dt_work_stopped(); i++) {
        const DtPart *part = dt_compose_part(c, i);
        const DtSeenPaint *p = dt_compose_paint(c, part->label);
        if (!p->separation)
            continue;
        farther += part->area * (near_of(p, p->separation) - p->dense);
        area += part->area;
    }
    if (farther <= FARTHER * area)
        return;
    for (guint i = 0; i < c->paints->len && !dt_work_stopped(); i++) {
        DtSeenPaint *p = dt_compose_paint(c, (int)i);
        if (p->separation && near_of(p, p->separation) > p->dense)
            separate_again(c, p);
    }
}
