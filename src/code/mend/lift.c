/* lift: heights at which a program draws, and heights at which it travels. */
#include "code/mend/lift.h"

#include <math.h>

static int level_of(DtLiftScan *s, double z)
{
    int nearest = 0;
    for (int i = 0; i < s->levels; i++) {
        if (fabs(s->z[i] - z) < 1e-6)
            return i;
        if (fabs(s->z[i] - z) < fabs(s->z[nearest] - z))
            nearest = i;
    }
    if (s->levels == Z_LEVELS)
        return nearest;
    s->z[s->levels] = z;
    return s->levels++;
}

void dt_lift_scan_action(DtLiftScan *s, const DtPenRule *rule, const DtAction *a)
{
    if (a->kind == ACT_SPINDLE) {
        DtPenState before = s->spindle_pen;
        DtPenState now = rule->kind == LIFT_BY_SPINDLE && a->speed_said
                             ? dt_pen_after_spindle(rule, a->turn, a->speed)
                         : a->turn ? PEN_DOWN
                                   : PEN_UP;
        s->spindle_downs += now == PEN_DOWN && before != PEN_DOWN;
        s->spindle_pen = now;
        return;
    }
    gboolean drawing = a->kind == ACT_FEED || a->kind == ACT_ARC;
    if (!drawing && a->kind != ACT_TRAVERSE)
        return;
    double length = a->kind == ACT_ARC ? fabs(a->sweep) * a->radius
                                       : hypot(a->to[0] - a->from[0], a->to[1] - a->from[1]);
    int level = level_of(s, a->to[2]);
    *(drawing ? &s->drawn[level] : &s->travelled[level]) += length;
    if (drawing && s->spindle_pen == PEN_DOWN)
        s->spindle_drawn += length;
    if (drawing && s->own_pen == PEN_DOWN)
        s->own_drawn += length;
}

void dt_lift_scan_block(DtLiftScan *s, const DtPenRule *rule, const DtCodeBlock *b)
{
    if (rule->kind != LIFT_BY_OWN_WORD)
        return;
    if (dt_block_matches(b, &rule->down)) {
        s->own_downs += s->own_pen != PEN_DOWN;
        s->own_pen = PEN_DOWN;
    } else if (dt_block_matches(b, &rule->up)) {
        s->own_pen = PEN_UP;
    }
}

/* What a threshold gets wrong: mm drawn above it and travelled below it. */
static double misfit(const DtLiftScan *s, double threshold, gboolean down_is_high)
{
    double wrong = 0;
    for (int i = 0; i < s->levels; i++) {
        gboolean down = (s->z[i] < threshold) != down_is_high;
        wrong += down ? s->travelled[i] : s->drawn[i];
    }
    return wrong;
}

/* The height halfway between two levels that fits best; the middle of all where all fit alike. */
static gboolean decide_z(const DtLiftScan *s, DtLiftStyle *style)
{
    double low = G_MAXDOUBLE, high = -G_MAXDOUBLE;
    for (int i = 0; i < s->levels; i++) {
        low = MIN(low, s->z[i]);
        high = MAX(high, s->z[i]);
    }
    if (!(high - low > 1e-6))
        return FALSE;
    *style = (DtLiftStyle){LIFT_BY_Z, (low + high) / 2, FALSE, TRUE};
    double best = misfit(s, style->threshold_z, FALSE);
    for (int i = 0; i < s->levels; i++) {
        double above = G_MAXDOUBLE;
        for (int k = 0; k < s->levels; k++)
            if (s->z[k] > s->z[i] + 1e-6)
                above = MIN(above, s->z[k]);
        double between = (s->z[i] + above) / 2;
        if (above < G_MAXDOUBLE && misfit(s, between, FALSE) < best - 1e-9) {
            best = misfit(s, between, FALSE);
            style->threshold_z = between;
        }
    }
    return TRUE;
}

DtLiftStyle dt_lift_decide(const DtLiftScan *s, const DtPenRule *rule)
{
    DtLiftStyle by_z = {0};
    gboolean z = decide_z(s, &by_z);
    if (rule->kind == LIFT_BY_Z && z) {
        by_z.threshold_z = (rule->down_z + rule->up_z) / 2;
        by_z.down_is_high = rule->down_z > rule->up_z;
        return by_z;
    }
    if (s->own_downs > 0)
        return (DtLiftStyle){LIFT_BY_OWN_WORD, 0, FALSE, TRUE};
    /* A spindle that turns all along under moving heights is a tool's, not a pen's. */
    if (z && (s->spindle_downs == 0 || s->spindle_downs == 1))
        return by_z;
    return (DtLiftStyle){LIFT_BY_SPINDLE, 0, FALSE, s->spindle_downs > 0};
}
