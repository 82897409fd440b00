/* reader-arc: arcs by centre and by radius (NISTIR 6556, 3.5.3). */
#include "code/read/rs274.h"

#include <math.h>
#include <string.h>

/* The plane's two axes, in such order that an anticlockwise arc turns from the first to the
 * second. */
static void plane_axes(short plane, int *first, int *second)
{
    *first = plane == 190 ? 1 : plane == 180 ? 2 : 0;
    *second = plane == 190 ? 2 : plane == 180 ? 0 : 1;
}

static double arc_tolerance(const DtReader *r)
{
    return r->unit > 1 ? 0.0002 * 25.4 : 0.002;
}

/* The centre from R: the shorter arc if R is positive, the longer one if it is negative. */
static gboolean centre_from_radius(DtReader *r, const double from[2], const double to[2],
                                   gboolean clockwise, double centre[2])
{
    double radius = block_value(&r->block, 'R') * r->unit;
    int column = block_column(&r->block, 'R');
    double dx = to[0] - from[0], dy = to[1] - from[1];
    double half = hypot(dx, dy) / 2;
    if (half == 0) {
        dt_reader_fault(r, FAULT_ARC, column, "an arc by radius cannot end where it begins");
        return FALSE;
    }
    if (half > fabs(radius) + arc_tolerance(r)) {
        dt_reader_fault(r, FAULT_ARC_ENDS, column,
                        "a radius of %g mm does not reach from end to end: they are %g mm apart",
                        fabs(radius), 2 * half);
        return FALSE;
    }
    double rise = sqrt(MAX(0, radius * radius - half * half));
    if (clockwise == (radius > 0))
        rise = -rise;
    centre[0] = from[0] + dx / 2 - rise * dy / (2 * half);
    centre[1] = from[1] + dy / 2 + rise * dx / (2 * half);
    return TRUE;
}

static gboolean centre_from_offsets(DtReader *r, const double from[2], const int axes[2],
                                    double centre[2])
{
    const DtCodeBlock *b = &r->block;
    gboolean any = FALSE;
    for (int i = 0; i < 2; i++) {
        char letter = (char)('I' + axes[i]);
        gboolean here = (b->has & LETTER(letter)) != 0;
        centre[i] = from[i] + (here ? block_value(b, letter) * r->unit : 0);
        any |= here;
    }
    if (!any)
        dt_reader_fault(r, FAULT_ARC, b->n_words ? b->words[0].column : 1,
                        "an arc needs R, or %c or %c", 'I' + axes[0], 'I' + axes[1]);
    return any;
}

static double sweep_between(double start, double end, gboolean clockwise, gboolean full)
{
    double sweep = end - start;
    if (full)
        return clockwise ? -2 * G_PI : 2 * G_PI;
    if (clockwise)
        return sweep >= 0 ? sweep - 2 * G_PI : sweep;
    return sweep <= 0 ? sweep + 2 * G_PI : sweep;
}

static void check_arc_ends(DtReader *r, const DtAction *a)
{
    const DtCodeBlock *b = &r->block;
    double off = fabs(a->radius - a->end_radius);
    if (off <= arc_tolerance(r))
        return;
    char letter = b->has & LETTER('I') ? 'I' : b->has & LETTER('J') ? 'J' : 'K';
    dt_reader_fault(
        r, FAULT_ARC_ENDS, block_column(b, letter),
        "the arc's ends do not meet its radius: it begins %.6g mm and ends %.6g mm from "
        "its centre",
        a->radius, a->end_radius);
}

/* By radius or by centre, not both, and only with the centre letters of the plane. */
static gboolean is_arc_form(DtReader *r, const int axes[2], gboolean by_radius)
{
    const DtCodeBlock *b = &r->block;
    for (int axis = 0; axis < 3; axis++) {
        char letter = (char)('I' + axis);
        if (!(b->has & LETTER(letter)))
            continue;
        if (by_radius || (axis != axes[0] && axis != axes[1])) {
            dt_reader_fault(r, FAULT_ARC, block_column(b, letter),
                            by_radius ? N_("an arc takes R or %c, not both")
                                      : N_("%c is not in the plane of this arc"),
                            letter);
            return FALSE;
        }
    }
    return TRUE;
}

static double length_of(double x, double y)
{
    return sqrt(x * x + y * y); /* the lengths of a machine do not overflow */
}

void dt_reader_arc(DtReader *r, const double to[AXES])
{
    const DtCodeBlock *b = &r->block;
    DtAction a = {.kind = ACT_ARC};
    int axes[2];
    plane_axes(reader_use(r, G_PLANE), &axes[0], &axes[1]);
    a.first = axes[0];
    a.second = axes[1];
    double start[2] = {r->at[axes[0]], r->at[axes[1]]}, end[2] = {to[axes[0]], to[axes[1]]};
    gboolean clockwise = r->modal[G_MOTION] == 20;
    if (!(b->has & (LETTER(dt_axis_letters[axes[0]]) | LETTER(dt_axis_letters[axes[1]]))) &&
        !(r->own && r->own->open)) {
        dt_reader_fault(r, FAULT_ARC, b->n_words ? b->words[0].column : 1, "an arc needs %c or %c",
                        dt_axis_letters[axes[0]], dt_axis_letters[axes[1]]);
        return;
    }
    gboolean by_radius = (b->has & LETTER('R')) != 0;
    if (!is_arc_form(r, axes, by_radius))
        return;
    if (!(by_radius ? centre_from_radius(r, start, end, clockwise, a.centre)
                    : centre_from_offsets(r, start, axes, a.centre)))
        return;
    a.radius = length_of(start[0] - a.centre[0], start[1] - a.centre[1]);
    a.end_radius = length_of(end[0] - a.centre[0], end[1] - a.centre[1]);
    if (!by_radius)
        check_arc_ends(r, &a);
    a.start_angle = atan2(start[1] - a.centre[1], start[0] - a.centre[0]);
    double end_angle = atan2(end[1] - a.centre[1], end[0] - a.centre[0]);
    gboolean full = !by_radius && start[0] == end[0] && start[1] == end[1];
    a.sweep = sweep_between(a.start_angle, end_angle, clockwise, full);
    int third = 3 - axes[0] - axes[1];
    double length = length_of(fabs(a.sweep) * a.radius, to[third] - r->at[third]);
    a.feed = dt_reader_feed(r, length);
    memcpy(a.from, r->at, sizeof a.from);
    memcpy(a.to, to, sizeof a.to);
    memcpy(r->at, to, sizeof r->at);
    if (r->listener.action)
        r->listener.action(r->user, &a);
}
