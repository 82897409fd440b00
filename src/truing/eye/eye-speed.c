/* eye-speed: the ladders of the speed sheet to limits of the motors. What is proposed must hold together,
 * also before the next sheet has tried it. */
#include "truing/eye/eye.h"
#include "truing/solve/solve.h"

#include <math.h>

enum { SPEED, ACCELERATION, PULL_IN, LADDERS };

/* What one ladder showed. */
typedef struct {
    gboolean read, good; /* good: steps were kept at its lowest rung at least */
    double value;        /* of the last rung that kept them, in its own unit */
    double gap;          /* to the first one that did not */
    double ramp;         /* acceleration of the runs of that rung, mm/s^2 */
} Ladder;

typedef struct {
    DtFigures *out;
    int axis;
    Ladder ladder[LADDERS];
    double has[LADDERS]; /* in the profile */
    double to[LADDERS];  /* what is proposed for it */
} Axis;

/* The last of the runs of a rung; all but the gentle first one are alike. NULL where there is no such rung. */
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
    return ladder == SPEED          ? run->feed_mm_s
           : ladder == ACCELERATION ? run->acceleration_mm_s2
                                    : run->start_mm_s;
}

static Ladder read_ladder(const DtTestSheet *s, const DtEyeReadings *r, int axis, int ladder)
{
    const int row = axis * LADDERS + ladder;
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
    }
    return l;
}

/* The acceleration that may be counted on at speed `v`. Torque falls with speed: between the speed at which
 * accelerations were tried, and the highest speed, to which gentle ramps still led, by a straight line.
 * Motors whose torque falls fast at first and slowly then have less there; the share of it that the profile
 * gets is for that too, and the next sheet tries it. */
static double acceleration_at(const Axis *a, double v)
{
    const Ladder *top = &a->ladder[SPEED], *sharp = &a->ladder[ACCELERATION];
    const double tried = a->has[SPEED];
    if (v <= tried || !top->good || top->value <= tried)
        return sharp->value;
    const double least = MIN(top->ramp, sharp->value);
    return least + (sharp->value - least) * (top->value - v) / (top->value - tried);
}

/* The most that one sheet raises either of them by. */
static const double most_rise = 1.7;

/* Acceleration and the jump of a start depend on each other: a rotor swings where a way of a few steps takes
 * as long as half a swing, T, and s = v0 T + a T^2 / 4 is a straight line of both. Each ladder shows where it meets that
 * line, the other one being as in the profile. With the line's ends A and P, the shares k A and k P leave the same
 * part r to each of them, the other one being so, where k = r (1 - k). Where one held more than the profile has and the
 * other less, they make no such line: both are about on it, by chance of single steps, and 2 k is what is left then. */
static void share_out(Axis *a, double sharpest, double r)
{
    const double sharp = a->has[ACCELERATION], start = a->has[PULL_IN],
                 most_start = a->ladder[PULL_IN].value;
    const double k = r / (1 + r);
    if ((sharpest - sharp) * (most_start - start) <= 0) {
        a->to[ACCELERATION] = MIN(2 * k * sharpest, sharp);
        a->to[PULL_IN] = MIN(2 * k * most_start, start);
        return;
    }
    const double slope = (most_start - start) / (sharpest - sharp);
    const double end = most_start + slope * sharp, end_sharp = end / slope;
    /* no farther than each has been tried, and what one of them does not take is left to the other */
    a->to[PULL_IN] = MIN(k * end, MIN(most_start, most_rise * start));
    a->to[ACCELERATION] =
        MIN(r * end_sharp * (1 - a->to[PULL_IN] / end), MIN(sharpest, most_rise * sharp));
    a->to[PULL_IN] = MIN(r * end * (1 - a->to[ACCELERATION] / end_sharp),
                         MIN(most_start, most_rise * start));
}

/* A limit that is too high is always lowered; one that is too low is left where little is gained. */
static gboolean differs(double has, double to)
{
    return to < 0.97 * has || to > 1.06 * has;
}

static void propose(Axis *a)
{
    static const double raised = 1.1, lost_at_once = 0.65, lost_alone = 0.85;
    const Ladder *l = a->ladder;
    const double share[LADDERS] = {dt_truing_limit_share(DT_ERROR_OF_SPEED),
                                   dt_truing_limit_share(DT_ERROR_OF_ACCELERATION),
                                   dt_truing_limit_share(DT_ERROR_OF_PULL_IN)};
    for (int i = 0; i < LADDERS; i++)
        a->to[i] = l[i].good ? share[i] * l[i].value : a->has[i];
    const double sharpest = acceleration_at(a, a->to[SPEED]);
    if (l[ACCELERATION].good)
        a->to[ACCELERATION] =
            MIN(share[ACCELERATION] * sharpest, most_rise * a->has[ACCELERATION]);
    if (l[ACCELERATION].good && l[PULL_IN].good)
        share_out(a, sharpest, share[PULL_IN]);
    /* a start without a ramp was tried with the old speed only */
    if (a->to[SPEED] > raised * a->has[SPEED])
        a->to[PULL_IN] = MIN(a->to[PULL_IN], a->has[PULL_IN]);
    /* where the lowest rung fails, by any of them, each is lowered */
    const gboolean sharp_lost = l[ACCELERATION].read && !l[ACCELERATION].good,
                   start_lost = l[PULL_IN].read && !l[PULL_IN].good;
    if (l[SPEED].read && !l[SPEED].good)
        a->to[SPEED] = lost_at_once * a->has[SPEED];
    if (sharp_lost && start_lost) {
        a->to[ACCELERATION] = lost_at_once * a->has[ACCELERATION];
        a->to[PULL_IN] = lost_at_once * a->has[PULL_IN];
    } else if (sharp_lost || start_lost) {
        /* what held on the one ladder with the profile's other value held with that alone */
        a->to[ACCELERATION] = MIN(a->to[ACCELERATION], a->has[ACCELERATION]);
        a->to[PULL_IN] = MIN(a->to[PULL_IN], a->has[PULL_IN]);
        a->to[sharp_lost ? ACCELERATION : PULL_IN] *= lost_alone;
    }
    a->to[PULL_IN] = MIN(a->to[PULL_IN], a->to[SPEED]);
}

static void tell(const Axis *a, int i)
{
    static const DtErrorKind kinds[LADDERS] = {DT_ERROR_OF_SPEED, DT_ERROR_OF_ACCELERATION,
                                               DT_ERROR_OF_PULL_IN};
    const Ladder *l = &a->ladder[i];
    const double share = dt_truing_limit_share(kinds[i]);
    const gboolean changes = differs(a->has[i], a->to[i]);
    if (!l->read)
        return;
    DtFigure f = {.kind = kinds[i], .axis = a->axis, .pen = -1, .at = NAN};
    f.known = l->good || changes;
    f.proposed = changes;
    f.value = changes ? a->to[i] / share : l->value;
    f.sd = l->gap / sqrt(12); /* anywhere up to the next rung */
    dt_figures_add(a->out, &f);
}

void dt_eye_solve_speed(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out)
{
    gboolean tried = FALSE, changed = FALSE, lost = FALSE;
    for (int axis = 0; axis < 2; axis++) {
        Axis a = {.out = out,
                  .axis = axis,
                  .has = {p->speed[axis], p->acceleration[axis], p->pull_in[axis]}};
        for (int i = 0; i < LADDERS; i++)
            a.ladder[i] = read_ladder(s, r, axis, i);
        propose(&a);
        for (int i = 0; i < LADDERS; i++) {
            tell(&a, i);
            tried |= a.ladder[i].read;
            changed |= a.ladder[i].read && differs(a.has[i], a.to[i]);
        }
        for (int i = 0; i < LADDERS; i++)
            lost |= a.ladder[i].read && !a.ladder[i].good;
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
