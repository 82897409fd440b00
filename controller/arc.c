/* arc: circular arcs in the XY plane by centre or radius (NISTIR 6556, 3.5.3), as chords. */
#include "core.h"

#include <math.h>

#define PI 3.14159265f
/* How far the two radii of a centre arc may differ (NISTIR 6556, 3.5.3): in inches, 0.0002 inch. */
#define ENDS_MM 0.002f
#define ENDS_INCH_MM (0.0002f * 25.4f)

static bool offset(const DtcWords *w, uint8_t slot, bool inches, float *mm)
{
    int64_t nm = 0;
    if ((w->given >> slot & 1) && !dtc_number_nm(&w->value[slot], inches, &nm))
        return false;
    *mm = dtc_mm(nm);
    return true;
}

/* The centre of an arc by radius; a negative radius means the longer of the two arcs. */
static DtcReason centre_from_radius(DtArc *a, const float d[2], float radius, bool clockwise,
                                    float ends)
{
    float chord = dtc_length(d[0], d[1]);
    if (chord <= 0)
        return DTC_ARC_RADIUS;
    float half = chord / 2;
    if (half > fabsf(radius) + ends)
        return DTC_ARC_RADIUS;
    float height2 = (fabsf(radius) - half) * (fabsf(radius) + half);
    float height = height2 > 0 ? sqrtf(height2) : 0;
    if (clockwise == (radius > 0))
        height = -height;
    a->centre[0] = d[0] / 2 - height * d[1] / chord;
    a->centre[1] = d[1] / 2 + height * d[0] / chord;
    return DTC_FINE;
}

static void measure(DtArc *a, const float d[2], bool clockwise, bool full)
{
    float i = a->centre[0], j = a->centre[1];
    /* From the chord, so that a short arc does not vanish in rounding. */
    a->sweep = atan2f(j * d[0] - i * d[1], i * i + j * j - i * d[0] - j * d[1]);
    if (full)
        a->sweep = 0;
    if (clockwise && a->sweep >= 0)
        a->sweep -= 2 * PI;
    else if (!clockwise && a->sweep <= 0)
        a->sweep += 2 * PI;
    a->angle = atan2f(-j, -i);
}

/* Whether the arc passes the direction `quarter` quarter turns from +X. */
static bool passes(const DtArc *a, uint8_t quarter)
{
    float turn = (float)quarter * (PI / 2) - a->angle;
    if (a->sweep < 0)
        turn = -turn;
    while (turn < 0)
        turn += 2 * PI;
    while (turn >= 2 * PI)
        turn -= 2 * PI;
    return turn < fabsf(a->sweep);
}

static DtcReason check_travel(DtController *c)
{
    DtArc *a = &c->arc;
    for (uint8_t quarter = 0; quarter < 4; quarter++) {
        uint8_t axis = quarter & 1;
        float reach = quarter < 2 ? a->radius : -a->radius;
        float at = dtc_mm(a->start[axis]) + a->centre[axis] + reach;
        if (passes(a, quarter) && (at < -ENDS_MM || at > c->set->travel[axis] + ENDS_MM)) {
            c->detail = axis ? 'Y' : 'X';
            return DTC_TRAVEL;
        }
    }
    return DTC_FINE;
}

static void cut_into_chords(DtArc *a, float chord_mm)
{
    /* The sagitta r(1-cos(t/2)) is at most r*t*t/8. */
    float turn = sqrtf(8 * chord_mm / a->radius);
    if (turn > PI / 4)
        turn = PI / 4;
    a->chords = (uint16_t)(fabsf(a->sweep) / turn) + 1;
    a->chord = 1;
}

DtcReason dtc_arc_begin(DtController *c, const DtcWords *w, bool clockwise, bool inches)
{
    DtArc *a = &c->arc;
    float d[2], radius, ends = inches ? ENDS_INCH_MM : ENDS_MM;
    for (uint8_t axis = 0; axis < 2; axis++) {
        a->start[axis] = c->plan.nm[axis];
        d[axis] = dtc_mm(c->line.target[axis] - a->start[axis]);
    }
    bool full = c->line.target[0] == a->start[0] && c->line.target[1] == a->start[1];
    bool by_radius = (w->given >> DTC_R & 1) != 0;
    bool by_centre = (w->given & (1u << DTC_I | 1u << DTC_J)) != 0;
    if (by_radius == by_centre)
        return DTC_ARC_WORDS;
    if (!offset(w, DTC_I, inches, &a->centre[0]) || !offset(w, DTC_J, inches, &a->centre[1]) ||
        !offset(w, DTC_R, inches, &radius))
        return DTC_ARC_RADIUS;
    if (by_radius) {
        DtcReason reason = centre_from_radius(a, d, radius, clockwise, ends);
        if (reason != DTC_FINE)
            return reason;
    }
    float i = a->centre[0], j = a->centre[1];
    a->radius = dtc_length(i, j);
    a->radius_change = dtc_length(d[0] - i, d[1] - j) - a->radius;
    if (a->radius < 0.0005f)
        return DTC_ARC_RADIUS;
    if (fabsf(a->radius_change) > ends)
        return DTC_ARC_ENDS;
    measure(a, d, clockwise, full);
    cut_into_chords(a, c->set->chord);
    return check_travel(c);
}

void dtc_arc_point(const DtController *c, int64_t nm[DT_CONTROLLER_AXES])
{
    const DtArc *a = &c->arc;
    if (a->chord >= a->chords) {
        nm[0] = c->line.target[0];
        nm[1] = c->line.target[1];
        return;
    }
    float part = (float)a->chord / (float)a->chords;
    float radius = a->radius + part * a->radius_change;
    float angle = a->angle + part * a->sweep;
    nm[0] = a->start[0] + dtc_nm(a->centre[0] + radius * cosf(angle));
    nm[1] = a->start[1] + dtc_nm(a->centre[1] + radius * sinf(angle));
}
