/* program-track: what each line of a program does to the axes, the pen, the modes and the time. */
#include "link/program-inside.h"

#include <math.h>
#include <string.h>

void dt_program_start_stretch(DtProgram *g)
{
    g->stretch.n = 0;
    g->stopped_at = g->track.at;
    g->stopped_s = g->track.seconds;
}

static const Word *find_word(const Words *w, char letter)
{
    for (size_t i = 0; i < w->n; i++)
        if (w->word[i].letter == letter)
            return &w->word[i];
    return NULL;
}

static gboolean has_code(const Words *w, char letter, double value)
{
    for (size_t i = 0; i < w->n; i++)
        if (w->word[i].letter == letter && fabs(w->word[i].value - value) < 1e-6)
            return TRUE;
    return FALSE;
}

static gboolean is_pen_line(const DtProgram *g, const char *text, const char *pen_line)
{
    if (*pen_line == '\0')
        return FALSE;
    return g->by_word ? dt_program_same_first_word(text, pen_line) : strcmp(text, pen_line) == 0;
}

static DtLineKind classify(const DtProgram *g, const Words *w, const DtProgramLine *line)
{
    if (w->n == 0)
        return DT_LINE_BLANK;
    if (is_pen_line(g, line->text, g->down))
        return DT_LINE_PEN_DOWN;
    if (is_pen_line(g, line->text, g->up))
        return DT_LINE_PEN_UP;
    if (has_code(w, 'M', 0))
        return DT_LINE_STOP;
    if (has_code(w, 'G', 4))
        return DT_LINE_DWELL;
    if (has_code(w, 'G', 28))
        return DT_LINE_HOME;
    if (find_word(w, 'X') || find_word(w, 'Y'))
        return DT_LINE_MOVE;
    return DT_LINE_OTHER;
}

static void take_modes(DtProgram *g, const Words *w, DtProgramLine *line)
{
    DtTrack *t = &g->track;
    for (size_t i = 0; i < w->n; i++) {
        if (w->word[i].letter != 'G')
            continue;
        long code = lround(w->word[i].value * 10);
        if (code >= 0 && code <= 30 && code % 10 == 0) {
            t->motion = (int)(code / 10);
            line->names_motion = TRUE;
        } else if (code == 200) {
            t->unit = 25.4;
        } else if (code == 210) {
            t->unit = 1;
        } else if (code == 900 || code == 910) {
            t->relative = code == 910;
        }
    }
    const Word *f = find_word(w, 'F');
    if (f != NULL) {
        t->feed = f->value;
        line->names_feed = TRUE;
    }
}

enum { LONGEST_STRETCH = 2000 }; /* motions: bounds the memory of an endless stroke */

/* A full stop: the machine's own model of time, with its look-ahead, replaces the rough count of
 * the stretch's lines. */
void dt_program_end_stretch(DtProgram *g)
{
    if (g->stretch.n > 0) {
        DtTimes times;
        dt_machine_time(g->profile, &g->stretch, FALSE, &times);
        g->stopped_s += times.total_s;
        g->stretch.n = 0;
    } else {
        g->stopped_s = g->track.seconds;
    }
    g->track.seconds = g->stopped_s;
    g->stopped_at = g->track.at;
}

static void add_to_stretch(DtProgram *g, DtPoint to, double feed_mm_s)
{
    DtMoves *s = &g->stretch;
    if (s->n == LONGEST_STRETCH)
        dt_program_end_stretch(g);
    if (s->n == s->cap) {
        s->cap = MAX(64, 2 * s->cap);
        s->m = g_renew(DtMove, s->m, s->cap);
    }
    s->m[s->n++] = (DtMove){.kind = feed_mm_s > 0 ? DT_MOVE_DRAW : DT_MOVE_TRAVEL,
                            .to = dt_point_sub(to, g->stopped_at),
                            .feed_mm_s = feed_mm_s};
}

static double speed_along(const DtProfile *p, DtPoint d, double feed_mm_s)
{
    double length = hypot(d.x, d.y), speed = feed_mm_s;
    if (fabs(d.x) > 1e-9 * length)
        speed = MIN(speed, p->speed[0] * length / fabs(d.x));
    if (fabs(d.y) > 1e-9 * length)
        speed = MIN(speed, p->speed[1] * length / fabs(d.y));
    return speed;
}

/* An arc in steps small enough that what is lost between them is lost among the motor's steps. */
enum { LEAST_CHORDS = 8, MOST_CHORDS = 400 };
static const double chord_turn = 0.02; /* rad */

typedef struct {
    DtPoint centre;
    double radius, from, turn; /* rad, counterclockwise */
    int chords;
} Arc;

/* Centre by I and J, or by R, whose sign tells the longer from the shorter arc (NISTIR 6556 section
 * 3.5.3). FALSE where neither makes an arc. */
static gboolean find_centre(const DtTrack *t, const Words *w, DtPoint to, DtPoint *centre)
{
    const Word *i = find_word(w, 'I'), *j = find_word(w, 'J'), *r = find_word(w, 'R');
    if (r == NULL) {
        *centre =
            dt_point_add(t->at, dt_point(i ? i->value * t->unit : 0, j ? j->value * t->unit : 0));
        return i != NULL || j != NULL;
    }
    const DtPoint half = dt_point_scale(dt_point_sub(to, t->at), 0.5);
    const double radius = r->value * t->unit, d = hypot(half.x, half.y);
    if (!(d > 0))
        return FALSE;
    const double off = sqrt(MAX(0, radius * radius - d * d)) / d;
    const double side = (t->motion == 2) == (radius > 0) ? off : -off;
    *centre = dt_point_add(dt_point_add(t->at, half), dt_point(half.y * side, -half.x * side));
    return TRUE;
}

static gboolean find_arc(const DtTrack *t, const Words *w, DtPoint to, Arc *a)
{
    if ((t->motion != 2 && t->motion != 3) || !find_centre(t, w, to, &a->centre))
        return FALSE;
    const DtPoint from = dt_point_sub(t->at, a->centre), end = dt_point_sub(to, a->centre);
    a->radius = hypot(from.x, from.y);
    a->from = atan2(from.y, from.x);
    a->turn = atan2(end.y, end.x) - a->from;
    if (t->motion == 3 && a->turn <= 1e-12)
        a->turn += 2 * G_PI;
    if (t->motion == 2 && a->turn >= -1e-12)
        a->turn -= 2 * G_PI;
    a->chords = (int)CLAMP(ceil(fabs(a->turn) / chord_turn), LEAST_CHORDS, MOST_CHORDS);
    return a->radius > 0;
}

/* The axes are driven straight to a place: the carriage follows through the slack. */
static void drive(DtProgram *g, DtPoint to)
{
    DtTrack *t = &g->track;
    const DtPoint was = dt_machine_ink_at(g->profile, dt_point(t->carriage[0], t->carriage[1]));
    if (to.x != t->at.x)
        t->side[0] = to.x > t->at.x ? 1 : -1;
    if (to.y != t->at.y)
        t->side[1] = to.y > t->at.y ? 1 : -1;
    t->at = to;
    t->carriage[0] = dt_machine_follow(g->profile, 0, t->carriage[0], to.x);
    t->carriage[1] = dt_machine_follow(g->profile, 1, t->carriage[1], to.y);
    const DtPoint is = dt_machine_ink_at(g->profile, dt_point(t->carriage[0], t->carriage[1]));
    *(t->pen_down ? &t->ink_mm : &t->travel_mm) += dt_point_distance(was, is);
    g->reach = dt_box_add_point(g->reach, to);
    if (g->watch != NULL)
        g->watch(t, g->watch_user);
}

static double work_of(const DtProgram *g, DtPoint d, double feed)
{
    const double length = hypot(d.x, d.y);
    return length > 0 ? length / speed_along(g->profile, d, feed > 0 ? feed : G_MAXDOUBLE) : 0;
}

static void take_straight(DtProgram *g, DtPoint to, double feed, DtProgramLine *line)
{
    const double work_s = work_of(g, dt_point_sub(to, g->track.at), feed);
    if (work_s > 0)
        add_to_stretch(g, to, feed);
    line->work_s += work_s;
    g->track.seconds += work_s;
    drive(g, to);
}

static void take_move(DtProgram *g, const Words *w, DtProgramLine *line)
{
    DtTrack *t = &g->track;
    DtPoint to = t->at;
    const Word *x = find_word(w, 'X'), *y = find_word(w, 'Y');
    if (x != NULL)
        to.x = x->value * t->unit + (t->relative ? t->at.x : 0);
    if (y != NULL)
        to.y = y->value * t->unit + (t->relative ? t->at.y : 0);
    const double feed = t->motion == 0 ? 0 : t->feed * t->unit / 60;
    Arc a;
    if (find_arc(t, w, to, &a))
        for (int i = 1; i < a.chords; i++) {
            const double angle = a.from + a.turn * i / a.chords;
            take_straight(
                g, dt_point(a.centre.x + a.radius * cos(angle), a.centre.y + a.radius * sin(angle)),
                feed, line);
        }
    take_straight(g, to, feed, line);
}

static void take_home(DtProgram *g)
{
    DtTrack *t = &g->track;
    t->seconds += dt_route_move_s(&g->cost, t->homed ? t->at : g->profile->park, dt_point(0, 0));
    for (int i = 0; i < 2; i++) {
        t->side[i] = 1;
        t->carriage[i] = 0;
    }
    t->at = dt_point(0, 0);
    t->homed = TRUE;
}

void dt_program_take_line(DtProgram *g, const Words *w, DtProgramLine *line)
{
    DtTrack *t = &g->track;
    g->reach = DT_BOX_EMPTY;
    line->kind = classify(g, w, line);
    take_modes(g, w, line);
    if (line->kind != DT_LINE_MOVE && line->kind != DT_LINE_BLANK)
        dt_program_end_stretch(g);
    switch (line->kind) {
    case DT_LINE_PEN_DOWN:
        t->begun += t->pen_down ? 0 : 1;
        t->pen_down = TRUE;
        break;
    case DT_LINE_PEN_UP:
        t->drawn += t->pen_down ? 1 : 0;
        t->pen_down = FALSE;
        break;
    case DT_LINE_DWELL: {
        const Word *p = find_word(w, 'P');
        line->dwell_s = p ? MAX(0, p->value) * g->dwell_unit_s : 0;
        line->work_s = line->dwell_s;
        t->seconds += line->dwell_s;
        break;
    }
    case DT_LINE_HOME:
        take_home(g);
        break;
    case DT_LINE_MOVE:
        take_move(g, w, line);
        break;
    default:
        break;
    }
}
