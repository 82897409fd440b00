/* judge-motion: moves on one machine: travel, speed, time and the place of the ink. */
#include "code/judge/judge.h"

#include <math.h>
#include <string.h>

/* Heights -------------------------------------------------------------------------------------- */

static void check_depth(DtJudge *j, double z)
{
    double way = fabs(j->rule.up_z - j->rule.down_z);
    if (j->pen == PEN_DOWN && fabs(z - j->rule.down_z) > 0.05 * way)
        FIND(j, F_PEN_DEPTH, "the pen goes to Z%.4g, and this machine's pen draws at Z%g", z,
             j->rule.down_z);
}

static void take_z(DtJudge *j, double z)
{
    DtHeights *h = &j->heights;
    if (h->changes++ == 0) {
        h->line = j->line;
        h->column = j->first_column;
    }
    if (j->rule.kind == LIFT_BY_Z && !j->refused) {
        dt_judge_set_pen(j, dt_pen_at_z(&j->rule, z));
        check_depth(j, z);
    }
}

/* The height at which a move along X and Y ends. */
static void note_height(DtJudge *j, const DtAction *a)
{
    DtHeights *h = &j->heights;
    if (a->to[2] != a->from[2])
        take_z(j, a->to[2]);
    if (a->kind != ACT_ARC && a->to[0] == a->from[0] && a->to[1] == a->from[1])
        return;
    h->several |= h->any && a->to[2] != h->first;
    if (!h->any)
        h->first = a->to[2];
    h->any = TRUE;
}

/* What may be wrong with a move ---------------------------------------------------------------- */

static gboolean is_within(const DtJudge *j, DtPoint p, double slip)
{
    const double *travel = j->profile->travel;
    return p.x >= -slip && p.y >= -slip && p.x <= travel[0] + slip && p.y <= travel[1] + slip;
}

static void check_travel(DtJudge *j, DtPoint to, double slip)
{
    if (G_LIKELY(is_within(j, to, slip)))
        return;
    const double *travel = j->profile->travel;
    gboolean x = to.x < -slip || to.x > travel[0] + slip;
    if (j->inches.said_line && to.x / 25.4 <= travel[0] && to.y / 25.4 <= travel[1])
        j->beyond_inch++;
    FIND(j, j->pen == PEN_DOWN ? F_BEYOND_PAPER : F_BEYOND_AIR,
         "%c goes to %.6g mm, beyond the travel of 0 to %g mm, %s", x ? 'X' : 'Y', x ? to.x : to.y,
         travel[x ? 0 : 1], j->pen == PEN_DOWN ? _("with the pen on the paper") : _("in the air"));
}

/* The direction of a short move is only as accurate as the digits of its coordinates. */
static gboolean is_reached(const DtJudge *j, double dx, double dy, double length, double feed)
{
    const double *speed = j->profile->speed;
    double slip = j->rounding, room = 1.001 * length;
    return feed * (fabs(dx) - slip) <= speed[0] * room &&
           feed * (fabs(dy) - slip) <= speed[1] * room;
}

/* Highest speed in a direction. */
static double fastest(const DtJudge *j, double dx, double dy, double length)
{
    const double *speed = j->profile->speed;
    return MIN(fabs(dx) > 0 ? speed[0] * length / fabs(dx) : G_MAXDOUBLE,
               fabs(dy) > 0 ? speed[1] * length / fabs(dy) : G_MAXDOUBLE);
}

static void check_speed(DtJudge *j, double dx, double dy, double length, double feed)
{
    double f = j->reader->feed_word;
    if (is_reached(j, dx, dy, length, feed) || f == j->faulted_feed || j->tries_limits)
        return;
    j->faulted_feed = f;
    dt_judge_find(j, F_FEED_HIGH, j->f_line, j->f_column,
                  "a feed of %g mm/min; the axes reach %g mm/min in this direction", feed * 60,
                  floor(fastest(j, dx, dy, length) * 60));
}

/* Time lost by moving at a feed where nothing is drawn. */
static void note_slow(DtJudge *j, double length, double feed, double fast)
{
    if (!(feed > 0 && feed < 0.9 * fast))
        return;
    j->slow_s += length / feed - length / fast;
    j->slow_line = j->slow_line ? j->slow_line : j->line;
}

/* Ink ------------------------------------------------------------------------------------------ */

/* How much of a segment lies outside a box (Liang and Barsky 1984). */
static double length_outside(DtBox box, DtPoint a, DtPoint b, double length)
{
    const double low[2] = {box.x0, box.y0}, high[2] = {box.x1, box.y1};
    const double from[2] = {a.x, a.y}, way[2] = {b.x - a.x, b.y - a.y};
    double t0 = 0, t1 = 1;
    for (int i = 0; i < 2; i++) {
        if (way[i] == 0 && (from[i] < low[i] || from[i] > high[i]))
            return length;
        if (way[i] == 0)
            continue;
        double enter = (low[i] - from[i]) / way[i], leave = (high[i] - from[i]) / way[i];
        t0 = MAX(t0, MIN(enter, leave));
        t1 = MIN(t1, MAX(enter, leave));
    }
    return t0 < t1 ? length * (1 - (t1 - t0)) : length;
}

static gboolean is_on(DtBox box, DtPoint p)
{
    return p.x >= box.x0 && p.x <= box.x1 && p.y >= box.y0 && p.y <= box.y1;
}

static inline void add_to_box(DtBox *b, DtPoint p)
{
    b->x0 = MIN(b->x0, p.x);
    b->y0 = MIN(b->y0, p.y);
    b->x1 = MAX(b->x1, p.x);
    b->y1 = MAX(b->y1, p.y);
}

/* As if the paper were not turned on the bed. */
static DtPoint turned_back(const DtJudge *j, DtPoint p)
{
    const DtPoint corner = {j->paper.x0, j->paper.y0}, d = dt_point_sub(p, corner);
    const double c = cos(j->paper_turn), s = sin(j->paper_turn);
    return dt_point(corner.x + c * d.x + s * d.y, corner.y + c * d.y - s * d.x);
}

static void add_off_paper(DtJudge *j, DtPoint from, DtPoint to, double length)
{
    if (j->paper_turn != 0) {
        from = turned_back(j, from);
        to = turned_back(j, to);
    }
    if (!is_on(j->paper, from) || !is_on(j->paper, to))
        j->out->off_paper_mm += length_outside(j->paper, from, to, length);
}

static void add_ink(DtJudge *j, DtPoint from, DtPoint to, double length)
{
    DtInspection *out = j->out;
    out->ink_mm += length;
    add_to_box(&out->ink_box, from);
    add_to_box(&out->ink_box, to);
    add_off_paper(j, from, to, length);
    j->drew = TRUE;
}

void dt_judge_add_dot(DtJudge *j)
{
    const gboolean drew = j->drew;
    add_ink(j, j->ink_at, j->ink_at, 0);
    j->drew = drew;
    j->dots++;
}

/* The lengths of a machine do not overflow, so hypot() is not needed. */
static double distance(DtPoint a, DtPoint b)
{
    double dx = b.x - a.x, dy = b.y - a.y;
    return sqrt(dx * dx + dy * dy);
}

/* Straight moves ------------------------------------------------------------------------------- */

/* Common start of every move; FALSE if the controller refuses it, so that nothing moves. */
static gboolean begin_move(DtJudge *j, const DtAction *a)
{
    if (a->kind != ACT_TRAVERSE && j->draw_line == 0) {
        j->draw_line = j->line;
        j->draw_column = j->first_column;
    }
    DtPoint to = {a->to[0], a->to[1]};
    if (j->refused) {
        dt_clock_stop(&j->clock);
        dt_judge_drive(j, to);
        return FALSE;
    }
    dt_judge_end_settling(j);
    j->moved = TRUE;
    j->after_pen_word = FALSE;
    j->last_motion_line = j->line;
    j->largest = MAX(j->largest, MAX(fabs(to.x), fabs(to.y)));
    return TRUE;
}

static void take_straight(DtJudge *j, const DtAction *a)
{
    DtPoint to = {a->to[0], a->to[1]};
    double dx = to.x - a->from[0], dy = to.y - a->from[1];
    if ((dx == 0 && dy == 0) || !begin_move(j, a))
        return;
    gboolean drawing = a->kind == ACT_FEED, down = j->pen == PEN_DOWN;
    double length = sqrt(dx * dx + dy * dy);
    check_travel(j, to, 1e-6);
    if (!drawing && down)
        FIND(j, F_DOWN_ON_TRAVEL, "a travel with the pen down draws a line of %.4g mm", length);
    if (drawing)
        check_speed(j, dx, dy, length, a->feed);
    if (drawing && !down)
        note_slow(j, length, a->feed, fastest(j, dx, dy, length));
    double feed = drawing && a->feed > 0 ? a->feed : G_MAXDOUBLE;
    dt_clock_move(&j->clock, dx, dy, length, feed);
    dt_pace_move(&j->pace, dx, dy, length, feed);
    DtPoint from = j->ink_at;
    dt_judge_drive(j, to);
    if (down) {
        add_ink(j, from, j->ink_at, distance(from, j->ink_at));
    } else {
        j->out->travel_mm += length;
        j->lifted_here = FALSE;
    }
    dt_judge_tell_move(j, down ? DT_MOVE_DRAW : DT_MOVE_TRAVEL, feed);
}

/* Arcs ----------------------------------------------------------------------------------------- */

int dt_arc_chords(const DtAction *a)
{
    double radius = MAX(a->radius, a->end_radius);
    if (radius <= CHORD_MM)
        return 1;
    double step = 2 * acos(1 - CHORD_MM / radius);
    return (int)CLAMP(ceil(fabs(a->sweep) / step), 1, 20000);
}

void dt_arc_point(const DtAction *a, double t, double to[AXES])
{
    double radius = a->radius + t * (a->end_radius - a->radius);
    double angle = a->start_angle + t * a->sweep;
    for (int i = 0; i < AXES; i++)
        to[i] = a->from[i] + t * (a->to[i] - a->from[i]);
    to[a->first] = a->centre[0] + radius * cos(angle);
    to[a->second] = a->centre[1] + radius * sin(angle);
}

/* Seen from above, an arc in another plane is a straight line back and forth: judged as its
 * chords. */
static void take_upright_arc(DtJudge *j, const DtAction *a)
{
    int n = dt_arc_chords(a);
    DtAction chord = *a;
    chord.kind = ACT_FEED;
    for (int i = 1; i <= n; i++) {
        if (i < n)
            dt_arc_point(a, (double)i / n, chord.to);
        else
            memcpy(chord.to, a->to, sizeof chord.to);
        take_straight(j, &chord);
        memcpy(chord.from, chord.to, sizeof chord.from);
    }
}

/* Pieces of an arc, so short that the limits of the axes hardly change along one: */
typedef struct {
    int n;
    double length;       /* of one, mm */
    double cosine, sine; /* of the angle that one turns by */
    double side;         /* 1 anticlockwise */
    double x, y;         /* from the centre to where the next one begins, mm */
} Pieces;

static Pieces begin_pieces(const DtAction *a, double longest_turn)
{
    Pieces p;
    p.n = (int)ceil(fabs(a->sweep) / longest_turn);
    p.n = MAX(p.n, 1);
    p.length = fabs(a->sweep) * (a->radius + a->end_radius) / 2 / p.n;
    p.cosine = cos(a->sweep / p.n);
    p.sine = sin(a->sweep / p.n);
    p.side = a->sweep < 0 ? -1 : 1;
    p.x = a->from[0] - a->centre[0];
    p.y = a->from[1] - a->centre[1];
    return p;
}

/* To the end of the next piece; returns its directions at both ends. */
static void next_piece(Pieces *p, double radius, double leave[2], double arrive[2])
{
    double x = p->x * p->cosine - p->y * p->sine, y = p->x * p->sine + p->y * p->cosine;
    double per_radius = p->side / radius;
    leave[0] = -p->y * per_radius;
    leave[1] = p->x * per_radius;
    arrive[0] = -y * per_radius;
    arrive[1] = x * per_radius;
    p->x = x;
    p->y = y;
}

static const double ways[4][2] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}}; /* from a circle's centre */

/* Whether the arc passes the point of its circle in this direction from its centre. */
static gboolean passes(const DtAction *a, double x, double y)
{
    double fx = a->from[0] - a->centre[0], fy = a->from[1] - a->centre[1];
    double turn = atan2(fx * y - fy * x, fx * x + fy * y); /* from the start to it */
    if (a->sweep < 0)
        turn = -turn;
    return (turn < 0 ? turn + 2 * G_PI : turn) < fabs(a->sweep);
}

/* The ends may be inside while the arc bulges out. */
static void check_arc_travel(DtJudge *j, const DtAction *a)
{
    size_t before = j->findings.count[F_BEYOND_AIR] + j->findings.count[F_BEYOND_PAPER];
    double radius = MAX(a->radius, a->end_radius), half_step = 0.002;
    for (int i = 0; i < 4; i++) {
        DtPoint reach = {a->centre[0] + radius * ways[i][0], a->centre[1] + radius * ways[i][1]};
        gboolean reported =
            j->findings.count[F_BEYOND_AIR] + j->findings.count[F_BEYOND_PAPER] > before;
        if (!reported && !is_within(j, reach, half_step) && passes(a, ways[i][0], ways[i][1]))
            check_travel(j, reach, half_step);
    }
    if (j->findings.count[F_BEYOND_AIR] + j->findings.count[F_BEYOND_PAPER] == before)
        check_travel(j, dt_point(a->to[0], a->to[1]), 1e-6);
}

static void check_arc_speed(DtJudge *j, const DtAction *a)
{
    const double *speed = j->profile->speed;
    if (a->feed <= MIN(speed[0], speed[1]))
        return;
    double leave[2], arrive[2];
    Pieces p = begin_pieces(a, G_PI / 36);
    for (int i = 0; i < p.n; i++) {
        next_piece(&p, a->radius, leave, arrive);
        check_speed(j, p.length * (leave[0] + arrive[0]) / 2, p.length * (leave[1] + arrive[1]) / 2,
                    p.length, a->feed);
    }
}

/* As chords, if someone listens or the slack must be followed. */
static void ink_by_chords(DtJudge *j, const DtAction *a, double feed)
{
    gboolean down = j->pen == PEN_DOWN;
    int n = dt_arc_chords(a);
    for (int i = 1; i <= n; i++) {
        double to[AXES];
        dt_arc_point(a, (double)i / n, to);
        DtPoint from = j->ink_at;
        dt_judge_drive(j, i < n ? dt_point(to[0], to[1]) : dt_point(a->to[0], a->to[1]));
        if (down)
            add_ink(j, from, j->ink_at, distance(from, j->ink_at));
        dt_judge_tell_move(j, down ? DT_MOVE_DRAW : DT_MOVE_TRAVEL, feed);
    }
}

/* Without slack. */
static DtPoint tip_at(const DtJudge *j, DtPoint command)
{
    return dt_point_add(dt_carriage_ink(&j->carriage, command), j->tip);
}

/* The points of the arc farthest along the axes. */
static void add_arc_to_box(DtJudge *j, const DtAction *a)
{
    for (int i = 0; i < 4; i++) {
        DtPoint p = tip_at(j, dt_point(a->centre[0] + a->radius * ways[i][0],
                                       a->centre[1] + a->radius * ways[i][1]));
        if (!is_on(j->out->ink_box, p) && passes(a, ways[i][0], ways[i][1]))
            add_to_box(&j->out->ink_box, p);
    }
}

/* Corrections without slack stretch an arc as they stretch its tangents. */
static void ink_by_pieces(DtJudge *j, const DtAction *a, Pieces p)
{
    const DtCarriage *s = &j->carriage;
    DtPoint from = j->ink_at;
    for (int i = 0; i < p.n; i++) {
        double leave[2], arrive[2];
        next_piece(&p, a->radius, leave, arrive);
        double mx = leave[0] + arrive[0], my = leave[1] + arrive[1];
        DtPoint way = {s->x_way.x * mx + s->y_way.x * my, s->x_way.y * mx + s->y_way.y * my};
        double stretch = sqrt((way.x * way.x + way.y * way.y) / (mx * mx + my * my));
        DtPoint to = tip_at(j, dt_point(a->centre[0] + p.x, a->centre[1] + p.y));
        add_ink(j, from, to, p.length * stretch);
        from = to;
    }
}

static void take_arc(DtJudge *j, const DtAction *a)
{
    enum { PIECE = 30 }; /* degrees */
    if (!begin_move(j, a))
        return;
    gboolean down = j->pen == PEN_DOWN;
    double feed = a->feed > 0 ? a->feed : G_MAXDOUBLE;
    check_arc_travel(j, a);
    check_arc_speed(j, a);
    Pieces pieces = begin_pieces(a, PIECE * G_PI / 180), p = pieces;
    double turn = MIN(sqrt(8 * CHORD_MM / a->radius), G_PI / 4); /* of a chord: its sagitta is
                                                                  * r (1 - cos(turn / 2)) */
    for (int i = 0; i < p.n; i++) {
        double leave[2], arrive[2];
        next_piece(&p, a->radius, leave, arrive);
        dt_clock_arc(&j->clock, leave, arrive, p.length, feed, turn);
        dt_pace_arc(&j->pace, leave, arrive, p.length, feed, turn);
    }
    if (!down) {
        j->out->travel_mm += pieces.n * pieces.length;
        j->lifted_here = FALSE;
        note_slow(j, pieces.n * pieces.length, a->feed,
                  MIN(j->profile->speed[0], j->profile->speed[1]));
    }
    if (j->carriage.slack || j->carriage.curved || j->carriage.twists || j->listener ||
        j->collect) {
        ink_by_chords(j, a, feed);
        return;
    }
    if (down) {
        ink_by_pieces(j, a, pieces);
        add_arc_to_box(j, a);
    }
    dt_judge_drive(j, dt_point(a->to[0], a->to[1]));
}

void dt_judge_motion(DtJudge *j, const DtAction *a)
{
    note_height(j, a);
    if (j->largest <= j->inch_reach && j->inches.said_line == 0) {
        if (a->to[0] != a->from[0])
            dt_judge_note_figure(j, a->to[0]);
        if (a->to[1] != a->from[1])
            dt_judge_note_figure(j, a->to[1]);
    }
    if (a->kind != ACT_ARC)
        take_straight(j, a);
    else if (a->first == 0 && a->second == 1 && a->radius > 0)
        take_arc(j, a);
    else
        take_upright_arc(j, a);
}
