/* scan-swings: strokes in steps on a sheet for scanning. Along them one axis goes on at its full speed while the
 * other starts and stops again and again, as suddenly as its pull-in rate allows: behind each corner the line swings
 * where the cord is soft. They stand in the lower right quarter, which the rows of marks leave free. */
#include "truing/sheet/scan-part.h"

#include <math.h>

enum { STROKES = 2, MOST_STEPS = 24, LEAST_STEPS = 12 };
static const double beside_mm = 2.5;
static const double step_s = 0.08,
                    least_step_mm = 1; /* of one step; most swings have died down by then */
static const double pull_in_share = 0.95;

/* Strokes of one axis, drawn along the other. */
typedef struct {
    int axis;
    double speed, jump; /* of the other axis, and of this one, mm/s */
    double run_up, step,
        drift; /* mm: up to full speed; a step along; what the axis goes in a slanted one */
    int steps; /* even: slanted and straight in turns */
    double length, width; /* of all strokes together */
} Swings;

static Swings swings_in(const DtProfile *p, int axis, double room)
{
    const int other = 1 - axis;
    const double v = p->speed[other], settle_mm = 0.5;
    Swings w = {
        .axis = axis, .speed = v, .jump = pull_in_share * MIN(p->pull_in[axis], p->speed[axis])};
    w.run_up = v * v / (2 * p->acceleration[other]) + settle_mm;
    w.step = MAX(least_step_mm, step_s * v);
    w.drift = w.step * w.jump / v;
    w.steps = (int)CLAMP((room - 2 * w.run_up) / (2 * w.step), 0, MOST_STEPS / 2) * 2;
    w.length = 2 * w.run_up + w.steps * w.step;
    w.width = w.steps / 2 * w.drift + (STROKES - 1) * beside_mm;
    return w;
}

static DtPoint along_by(const Swings *w, DtPoint at, double along, double drift)
{
    return w->axis == 0 ? dt_point(at.x + drift, at.y + along)
                        : dt_point(at.x + along, at.y + drift);
}

static void add_stroke(DtTestSheet *s, const Swings *w, DtPoint at, int row)
{
    for (int i = 0; i < w->steps + 2; i++) {
        const gboolean slanted = i % 2 == 1 && i <= w->steps, end = i == 0 || i == w->steps + 1;
        const DtPoint to = along_by(w, at, end ? w->run_up : w->step, slanted ? w->drift : 0);
        DtMark m = dt_sheet_mark(DT_MARK_SWING, DT_SHEET_SCAN, w->axis, at, to);
        m.approach[0] = m.approach[1] = i == 0;
        m.row = row;
        m.place = i;
        m.feed_mm_s = slanted ? hypot(w->speed, w->jump) : w->speed;
        dt_sheet_add(s, &m);
        at = to;
    }
}

static gboolean is_worth_it(const Swings *w)
{
    return w->steps >= LEAST_STEPS && w->jump > 0;
}

void dt_sheet_add_swings(DtTestSheet *s, const DtProfile *p, DtBox area)
{
    const double clear_mm = 3;
    const Swings x = swings_in(p, 0, dt_box_height(area));
    const double right = area.x0 + x.width + clear_mm;
    const Swings y = swings_in(p, 1, area.x1 - right);
    if (!is_worth_it(&x) || !is_worth_it(&y) || x.width > dt_box_width(area) ||
        y.width + clear_mm > dt_box_height(area) / 2)
        return;
    for (int i = 0; i < STROKES; i++)
        add_stroke(s, &x, dt_point(area.x0 + i * beside_mm, area.y1 - x.length), i);
    for (int i = 0; i < STROKES; i++)
        add_stroke(s, &y, dt_point(right, area.y1 - y.width + i * beside_mm), i);
}
