/* eye-speed: from the ladders of the speed sheet to limits of the motors. The proposed limits
 * must be safe together, even before the next sheet has tried them. */
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"
#include "truing/solve/solve.h"

#include <math.h>

enum { SPEED, ACCELERATION, LADDERS };

/* The result of one ladder. */
typedef struct {
    gboolean read, good; /* good: steps were kept at least at its lowest rung */
    double value;        /* of the last rung that kept them, in its own unit */
    double gap;          /* to the first one that did not */
    double ramp, jump;   /* acceleration and jump of the runs of that rung, mm/s^2, mm/s */
} Ladder;

typedef struct {
    DtFigures *out;
    int axis;
    Ladder ladder[LADDERS];
    double has[LADDERS], has_jump; /* in the profile */
    double to[LADDERS], to_jump;   /* what is proposed for it */
} Axis;

/* The last of the runs of a rung; all but the gentle first one are alike. NULL if there is no
 * such rung. */
static const DtMark *run_of(const DtTestSheet *s, int row, int place)
{
    const DtMark *last = NULL;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind == DT_MARK_RUN && m->row == row && m->place == place)
            last = m;
    }
    return last;
}

static double value_of(const DtMark *run, int ladder)
{
    return ladder == SPEED ? run->feed_mm_s : run->acceleration_mm_s2;
}

static Ladder read_ladder(const DtTestSheet *s, const DtEyeReadings *r, int axis, int ladder)
{
    const int row = axis * DT_SPEED_ROWS + ladder;
    double place, sd;
    Ladder l = {0};
    if (!dt_eye_value(r, DT_SHEET_SPEED, row, &place, &sd))
        return l;
    const int lost = (int)floor(place);
    const DtMark *kept = run_of(s, row, lost - 1), *next = run_of(s, row, lost);
    l.read = run_of(s, row, 1) != NULL;
    l.good = kept != NULL;
    if (l.good) {
        l.value = value_of(kept, ladder);
        l.gap = next ? value_of(next, ladder) - l.value : l.value;
        l.ramp = kept->acceleration_mm_s2;
        l.jump = kept->start_mm_s;
    }
    return l;
}

/* The acceleration that is safe at speed `v`. Torque falls with speed: linearly between the
 * speed at which accelerations were tried and the highest speed, which gentle ramps still
 * reached. Motors whose torque falls fast at first and slowly later have less in between; the
 * profile's share of the limit allows for that too, and the next sheet tries it. */
static double acceleration_at(const Axis *a, double v)
{
    const Ladder *top = &a->ladder[SPEED], *sharp = &a->ladder[ACCELERATION];
    const double tried = a->has[SPEED];
    if (v <= tried || !top->good || top->value <= tried)
        return sharp->value;
    const double least = MIN(top->ramp, sharp->value);
    return least + (sharp->value - least) * (top->value - v) / (top->value - tried);
}

/* A limit that is too high is always lowered; one that is too low is kept if little would be
 * gained. */
static gboolean differs(double has, double to)
{
    return to < 0.97 * has || to > 1.06 * has;
}

static double lowered_or(const Ladder *l, double has, double to)
{
    static const double lost_at_once = 0.65;
    const double goal = l->good ? to : l->read ? lost_at_once * has : has;
    return differs(has, goal) ? goal : has;
}

/* What one sheet raises a limit to. Far above what the profile has its rungs are coarse, and a
 * rotor may have lost steps between two of them: the next sheet will tell. */
static double raised(double has, double to)
{
    static const double far = 1.3, share = 0.85;
    return to > far * has ? MAX(share * to, far * has) : to;
}

static void propose(Axis *a, const DtProfile *p)
{
    const Ladder *fast = &a->ladder[SPEED], *sharp = &a->ladder[ACCELERATION];
    const double *has = a->has;
    a->to[SPEED] =
        lowered_or(fast, has[SPEED], dt_truing_limit_share(DT_ERROR_OF_SPEED) * fast->value);
    const double sharpest =
        dt_truing_limit_share(DT_ERROR_OF_ACCELERATION) * acceleration_at(a, a->to[SPEED]);
    a->to[ACCELERATION] = lowered_or(sharp, has[ACCELERATION], raised(has[ACCELERATION], sharpest));
    /* no more than was tried */
    const double jump = dt_sheet_jump(p, a->axis, a->to[ACCELERATION]);
    a->to_jump = sharp->good   ? MIN(jump, sharp->jump)
                 : sharp->read ? MIN(jump, a->has_jump)
                               : a->has_jump;
    a->to_jump = MIN(a->to_jump, a->to[SPEED]);
}

static void tell(const Axis *a, DtErrorKind kind, const Ladder *l, double has, double to,
                 double value)
{
    const gboolean changes = differs(has, to);
    if (!l->read)
        return;
    DtFigure f = {.kind = kind, .axis = a->axis, .pen = -1, .at = NAN};
    f.known = l->good || changes;
    f.proposed = changes;
    f.value = changes ? to / dt_truing_limit_share(kind) : value;
    f.sd = l->good ? value * l->gap / l->value / sqrt(12) : 0; /* anywhere up to the next rung */
    dt_figures_add(a->out, &f);
}

static void tell_all(const Axis *a)
{
    const Ladder *fast = &a->ladder[SPEED], *sharp = &a->ladder[ACCELERATION];
    tell(a, DT_ERROR_OF_SPEED, fast, a->has[SPEED], a->to[SPEED], fast->value);
    tell(a, DT_ERROR_OF_ACCELERATION, sharp, a->has[ACCELERATION], a->to[ACCELERATION],
         sharp->value);
    tell(a, DT_ERROR_OF_PULL_IN, sharp, a->has_jump, a->to_jump, sharp->jump);
}

void dt_eye_solve_speed(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out)
{
    gboolean tried = FALSE, changed = FALSE, lost = FALSE;
    for (int axis = 0; axis < 2; axis++) {
        Axis a = {.out = out,
                  .axis = axis,
                  .has = {p->speed[axis], p->acceleration[axis]},
                  .has_jump = p->pull_in[axis]};
        for (int i = 0; i < LADDERS; i++)
            a.ladder[i] = read_ladder(s, r, axis, i);
        propose(&a, p);
        tell_all(&a);
        for (int i = 0; i < LADDERS; i++) {
            tried |= a.ladder[i].read;
            changed |= a.ladder[i].read && differs(a.has[i], a.to[i]);
            lost |= a.ladder[i].read && !a.ladder[i].good;
        }
    }
    if (lost)
        dt_figures_note(out,
                        "steps were lost at the lowest rung of a ladder already: what is proposed "
                        "there is a guess; draw the sheet again with it before you trust it");
    else if (changed)
        dt_figures_note(out, "limits depend on each other: draw the sheet again with the new ones, "
                             "until nothing changes any more");
    if (tried)
        dt_figures_note(out,
                        "a motor may still lose steps close to these limits, in a rhythm that the "
                        "sheet does not try: stay with the first drawings, and lower the limits "
                        "where one is shifted");
}
