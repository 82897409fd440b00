/* pointing: which stroke is meant by a point on the bed, as when somebody points at it in the
 * proof. */
#include "drawtrue/link.h"
#include "drawtrue/program.h"

static const double same_distance = 0.2; /* mm: nearer than a finger or a ruler can tell */

typedef struct {
    DtPoint place;
    DtPoint ink; /* position of the tip */
    DtStrokeAt best;
} Search;

/* Of strokes that are equally near the first one counts: what lies over it is drawn again too. */
static void look(const DtProgramState *t, void *user)
{
    Search *s = user;
    const DtPoint from = s->ink;
    s->ink = t->tip;
    const double away = dt_point_segment_distance(s->place, from, s->ink);
    const double than = s->best.away_mm - (t->begun == s->best.stroke ? 0 : same_distance);
    if (t->pen_down && away < than)
        s->best = (DtStrokeAt){t->begun, away};
}

gboolean dt_link_stroke_at(const DtProfile *p, const char *program_path, DtPoint place,
                           DtStrokeAt *out, GError **error)
{
    g_autoptr(DtProgram) g = dt_program_open(p, program_path, error);
    if (g == NULL)
        return FALSE;
    Search s = {.place = place, .best = {0, G_MAXDOUBLE}};
    dt_program_watch(g, look, &s);
    DtProgramLine line;
    g_autoptr(GError) problem = NULL;
    while (dt_program_next(g, &line, &problem))
        if (line.kind == DT_LINE_PEN_DOWN) {
            s.ink = dt_program_state(g)->tip;
            look(dt_program_state(g), &s);
        }
    *out = s.best;
    if (problem == NULL && s.best.stroke == 0)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the program draws nothing", program_path);
    else if (problem != NULL)
        g_propagate_error(error, g_steal_pointer(&problem));
    else
        return TRUE;
    return FALSE;
}
