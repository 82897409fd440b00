/* draw: strokes for an ink's areas: one hatch, one across the other, or a hatch that changes with the
 * paint from place to place. */
#include "ink/trace.h"

#include "ink/fill/centre.h"
#include "ink/fill/fill.h"

/* Pens of a picture hatch in directions this far apart. */
#define PICTURE_ANGLE (G_PI / 3)

typedef struct {
    const DtTrace *t;
    DtSeparation *separation;
    int label;
    unsigned pen; /* of the separation */
} Tone;

static double share_at(DtPoint at, void *user)
{
    const Tone *tone = user;
    DtColour c = dt_paint_layers_seen_at(tone->t->layers, tone->label, at).colour;
    return dt_separation_share(tone->separation, tone->pen, dt_colour_over(c, tone->t->o->paper));
}

static DtFillStyle style_for(const DtTrace *t, int pen, double angle, double coverage)
{
    double tip = t->rack->pens[pen].tip;
    return (DtFillStyle){.hatch = t->o->hatch,
                         .angle = angle,
                         .pitch = t->o->pitch > 0 ? t->o->pitch : tip,
                         .tip = tip,
                         .pen = (unsigned)pen,
                         .shape = -1,
                         .edge = t->o->edge,
                         .coverage = coverage,
                         .thin_bare = coverage < 1};
}

static gboolean draw_tone(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    for (unsigned i = 0; i < dt_separation_n_pens(p->separation); i++) {
        Tone tone = {t, p->separation, p->ink.label, i};
        DtFillStyle f = style_for(t, dt_separation_pen(p->separation, i),
                                  t->o->angle + i * PICTURE_ANGLE, 0);
        f.tone = share_at;
        f.tone_user = &tone;
        if (!dt_fill_area(region, &f, t->out, error))
            return FALSE;
    }
    return TRUE;
}

/* One line along the middle of parts that are narrow. */
static gboolean draw_middle(DtTrace *t, int pen, const DtLines *region, GError **error)
{
    g_auto(DtLines) none, middle;
    dt_lines_init(&none);
    dt_lines_init(&middle);
    double widest = DT_LOOK_NARROW_TIPS * t->rack->pens[pen].tip;
    if (!dt_centre_lines(region, &none, widest / 2, &middle, error))
        return FALSE;
    for (size_t i = 0; i < middle.n; i++)
        dt_strokes_append(t->out, dt_lines_at(&middle, i), dt_lines_count(&middle, i),
                          middle.closed[i] != 0, DT_INK_CENTRE, (unsigned)pen, -1);
    return TRUE;
}

gboolean dt_look_draw(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    const DtInk *ink = &p->ink;
    if (p->separation)
        return draw_tone(t, p, region, error);
    if (ink->narrow && ink->level < DT_TRACE_LEVELS && ink->level > 0)
        return draw_middle(t, ink->pen, region, error);
    double angle = t->o->angle + ink->turn * DT_LOOK_TURN_ANGLE;
    DtFillStyle f = style_for(t, ink->pen, angle, (double)ink->level / DT_TRACE_LEVELS);
    f.along = ink->level < DT_TRACE_LEVELS ? &p->along : NULL;
    if (!dt_fill_area(region, &f, t->out, error))
        return FALSE;
    if (ink->across < 0)
        return TRUE;
    f = style_for(t, ink->across, angle + G_PI / 2, (double)ink->across_level / DT_TRACE_LEVELS);
    f.along = ink->across_level < DT_TRACE_LEVELS && ink->level == DT_TRACE_LEVELS ? &p->along : NULL;
    return dt_fill_area(region, &f, t->out, error);
}
