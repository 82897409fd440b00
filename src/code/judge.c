/* judge: the actions of a program on one machine. */
#include "judge.h"

#include <math.h>
#include <string.h>

void judge_find(DtJudge *j, DtFindingKind kind, size_t line, int column, const char *format, ...)
    G_GNUC_PRINTF(5, 6);

void judge_find(DtJudge *j, DtFindingKind kind, size_t line, int column, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    dt_finding_list_add(&j->findings, kind, line, column, g_strdup_vprintf(format, args));
    va_end(args);
}

#define FIND(j, kind, ...) judge_find(j, kind, (j)->line, (j)->first_column, __VA_ARGS__)

/* Settling ------------------------------------------------------------------------------------- */

static void begin_settling(DtJudge *j, DtPenState state)
{
    j->settle_need_s = state == PEN_DOWN ? j->profile->drop_s : j->profile->lift_s;
    j->settle_had_s = 0;
    j->settle_line = j->line;
    j->settle_column = j->first_column;
}

static void end_settling(DtJudge *j)
{
    double need = j->settle_need_s, had = j->settle_had_s;
    j->settle_need_s = 0;
    if (need <= 0)
        return;
    const char *way = j->pen == PEN_DOWN ? "drop" : "lift";
    if (had < need - 0.0005 && dt_vocabulary_takes_g(&j->words, 40))
        judge_find(j, F_DWELL_SHORT, j->settle_line, j->settle_column,
                   had > 0 ? "the pen needs %g s to %s, and the dwell is %g s"
                           : "the pen needs %g s to %s, and there is no dwell",
                   need, way, had);
}

static void take_dwell(DtJudge *j, double seconds)
{
    gboolean for_pen = j->after_pen_word;
    if (j->settle_need_s > 0) {
        j->settle_had_s += seconds;
        j->settle_line = j->line;
        j->settle_column = j->first_column;
    }
    double usual = MAX(j->profile->drop_s, j->profile->lift_s);
    if (seconds >= 5 && seconds > 10 * usual && (for_pen || j->pen == PEN_DOWN || seconds >= 100))
        FIND(j, F_DWELL_LONG, "a dwell of %g s%s", seconds,
             seconds >= 50 ? ": this controller counts a dwell's P in seconds" : "");
    j->out->time_s += seconds;
}

/* The pen -------------------------------------------------------------------------------------- */

static void tell_move(DtJudge *j, DtMoveKind kind, double feed)
{
    if (j->listener == NULL && j->collect == NULL)
        return;
    DtMove m = {kind, j->at, j->ink_at, feed, j->pen_number, j->run};
    if (j->listener)
        j->listener(&m, j->line, j->listener_user);
    DtMoves *to = j->collect;
    if (to == NULL)
        return;
    if (to->n == to->cap) {
        to->cap = to->cap ? to->cap * 2 : 256;
        to->m = g_renew(DtMove, to->m, to->cap);
    }
    to->m[to->n++] = m;
}

static void set_pen(DtJudge *j, DtPenState state)
{
    if (state == j->pen)
        return;
    dt_clock_stop(&j->clock);
    gboolean was_up = j->pen == PEN_UP, was_unknown = j->pen == PEN_UNKNOWN;
    end_settling(j);
    j->pen = state;
    if (j->rule.kind != LIFT_BY_Z && !(state == PEN_UP && was_unknown))
        begin_settling(j, state); /* a run begins with the pen up: the first lift moves nothing */
    if (state == PEN_DOWN) {
        j->lowered = TRUE;
        j->run += j->out->lifts > 0;
        j->out->lifts++;
        if (was_up && j->lifted_here && dt_point_distance(j->at, j->lifted_at) < 1e-6) {
            j->idle_lifts++;
            j->idle_line = j->idle_line ? j->idle_line : j->line;
        }
    } else {
        j->lifted_at = j->at;
        j->lifted_here = j->drew;
    }
    tell_move(j, state == PEN_DOWN ? DT_MOVE_PEN_DOWN : DT_MOVE_PEN_UP, 0);
}

static void take_spindle(DtJudge *j, const DtAction *a)
{
    if (j->rule.kind != LIFT_BY_SPINDLE)
        return;
    j->after_pen_word = TRUE;
    if (a->turn != 0 && j->rule.down_speed >= 0 && !a->speed_said) {
        FIND(j, F_MODE_ASSUMED, "the pen's S is not said: it would be that of an earlier job");
        set_pen(j, j->rule.down_turn ? PEN_DOWN : PEN_UP);
        return;
    }
    DtPenState state = dt_pen_after_spindle(&j->rule, a->turn, a->speed);
    double want = state == PEN_DOWN ? j->rule.down_speed : j->rule.up_speed;
    if (state == PEN_DOWN && want > 0 && fabs(a->speed - want) > 0.01 * want)
        FIND(j, F_PEN_DEPTH, "the pen goes to S%g, and this machine's pen draws at S%g", a->speed,
             want);
    set_pen(j, state);
}

static void check_depth(DtJudge *j, double z)
{
    double way = fabs(j->rule.up_z - j->rule.down_z);
    if (j->pen == PEN_DOWN && fabs(z - j->rule.down_z) > 0.05 * way)
        FIND(j, F_PEN_DEPTH, "the pen goes to Z%.4g, and this machine's pen draws at Z%g", z,
             j->rule.down_z);
}

static void take_z(DtJudge *j, double z)
{
    if (z == j->z && j->z_known)
        return;
    DtHeights *h = &j->heights;
    if (h->changes++ == 0) {
        h->line = j->line;
        h->column = j->first_column;
    }
    j->z = z;
    j->z_known = TRUE;
    if (j->rule.kind == LIFT_BY_Z && !j->refused) {
        set_pen(j, dt_pen_at_z(&j->rule, z));
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

/* Motion --------------------------------------------------------------------------------------- */

static void check_travel(DtJudge *j, DtPoint to)
{
    const double *travel = j->profile->travel;
    const double slip = 1e-6;
    if (to.x >= -slip && to.y >= -slip && to.x <= travel[0] + slip && to.y <= travel[1] + slip)
        return;
    gboolean x = to.x < -slip || to.x > travel[0] + slip;
    if (j->inches.said_line && to.x / 25.4 <= travel[0] && to.y / 25.4 <= travel[1])
        j->beyond_inch++;
    FIND(j, j->pen == PEN_DOWN ? F_BEYOND_PAPER : F_BEYOND_AIR,
         "%c goes to %.6g mm, beyond the travel of 0 to %g mm, %s", x ? 'X' : 'Y', x ? to.x : to.y,
         travel[x ? 0 : 1], j->pen == PEN_DOWN ? "with the pen on the paper" : "in the air");
}

/* The direction of a short move is known only as far as its coordinates have digits. */
static gboolean is_reached(const DtJudge *j, double dx, double dy, double length, double feed)
{
    const double *speed = j->profile->speed;
    double slip = j->rounding, room = 1.001 * length;
    return feed * (fabs(dx) - slip) <= speed[0] * room &&
           feed * (fabs(dy) - slip) <= speed[1] * room;
}

static void check_speed(DtJudge *j, double dx, double dy, double length, double feed)
{
    const double *speed = j->profile->speed;
    double f = j->reader->feed_word;
    if (is_reached(j, dx, dy, length, feed) || f == j->faulted_feed)
        return;
    j->faulted_feed = f;
    double most = MIN(fabs(dx) > 0 ? speed[0] * length / fabs(dx) : G_MAXDOUBLE,
                      fabs(dy) > 0 ? speed[1] * length / fabs(dy) : G_MAXDOUBLE);
    judge_find(j, F_FEED_HIGH, j->f_line, j->f_column,
               "a feed of %g mm/min; the axes reach %g mm/min in this direction", feed * 60,
               floor(most * 60));
}

static void note_draw(DtJudge *j)
{
    if (j->draw_line == 0) {
        j->draw_line = j->line;
        j->draw_column = j->first_column;
    }
}

/* A straight piece that the controller takes. */
static void run_straight(DtJudge *j, DtPoint to, double feed)
{
    double dx = to.x - j->at.x, dy = to.y - j->at.y;
    double length = sqrt(dx * dx + dy * dy);
    if (length == 0)
        return;
    dt_clock_move(&j->clock, dx, dy, length, feed);
    DtPoint from = j->ink_at;
    j->at = to;
    j->ink_at = dt_slack_drive(&j->slack, to);
    if (j->pen == PEN_DOWN) {
        DtPoint way = dt_point_sub(j->ink_at, from);
        j->out->ink_mm += sqrt(way.x * way.x + way.y * way.y);
        j->out->ink_box = dt_box_add_point(dt_box_add_point(j->out->ink_box, from), j->ink_at);
        j->drew = TRUE;
        tell_move(j, DT_MOVE_DRAW, feed);
    } else {
        j->out->travel_mm += length;
        j->lifted_here = FALSE;
        tell_move(j, DT_MOVE_TRAVEL, feed);
    }
}

static void take_straight(DtJudge *j, const DtAction *a, gboolean drawing)
{
    DtPoint to = {a->to[0], a->to[1]};
    double dx = to.x - a->from[0], dy = to.y - a->from[1];
    if (dx == 0 && dy == 0)
        return;
    double feed = drawing && a->feed > 0 ? a->feed : G_MAXDOUBLE;
    if (drawing)
        note_draw(j);
    if (j->refused) {
        dt_clock_stop(&j->clock);
        j->at = to;
        j->ink_at = dt_slack_drive(&j->slack, to);
        return;
    }
    end_settling(j);
    j->moved = TRUE;
    j->after_pen_word = FALSE;
    j->last_motion_line = j->line;
    j->largest = MAX(j->largest, MAX(fabs(to.x), fabs(to.y)));
    check_travel(j, to);
    if (!drawing && j->pen == PEN_DOWN)
        FIND(j, F_DOWN_ON_TRAVEL, "a travel with the pen down draws a line of %.4g mm",
             hypot(dx, dy));
    if (drawing) {
        double length = sqrt(dx * dx + dy * dy);
        check_speed(j, dx, dy, length, a->feed);
        if (j->pen != PEN_DOWN) {
            double fast = MIN(dx != 0 ? j->profile->speed[0] * length / fabs(dx) : G_MAXDOUBLE,
                              dy != 0 ? j->profile->speed[1] * length / fabs(dy) : G_MAXDOUBLE);
            if (a->feed > 0 && a->feed < 0.9 * fast) {
                j->slow_s += length / a->feed - length / fast;
                j->slow_line = j->slow_line ? j->slow_line : j->line;
            }
        }
    }
    run_straight(j, to, feed);
}

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

static void take_arc(DtJudge *j, const DtAction *a)
{
    int n = dt_arc_chords(a);
    DtAction chord = *a;
    size_t before = j->findings.count[F_BEYOND_AIR] + j->findings.count[F_BEYOND_PAPER];
    for (int i = 1; i <= n; i++) {
        if (i < n)
            dt_arc_point(a, (double)i / n, chord.to);
        else
            memcpy(chord.to, a->to, sizeof chord.to);
        take_straight(j, &chord, TRUE);
        memcpy(chord.from, chord.to, sizeof chord.from);
        size_t now = j->findings.count[F_BEYOND_AIR] + j->findings.count[F_BEYOND_PAPER];
        if (now > before) { /* once for an arc */
            j->at = dt_point(a->to[0], a->to[1]);
            return;
        }
    }
}

/* Home, pause, end ------------------------------------------------------------------------------
 */

static void take_home(DtJudge *j)
{
    dt_clock_stop(&j->clock);
    if (j->refused)
        return;
    if (j->pen == PEN_DOWN)
        FIND(j, F_DOWN_AT_HOME, "homing with the pen down draws all the way");
    end_settling(j);
    j->at = dt_point(0, 0);
    dt_slack_home(&j->slack);
    j->ink_at = dt_slack_drive(&j->slack, j->at);
    j->last_motion_line = j->line;
    j->lifted_here = FALSE;
    tell_move(j, DT_MOVE_HOME, 0);
}

static void take_pause(DtJudge *j)
{
    dt_clock_stop(&j->clock);
    if (j->pen == PEN_DOWN)
        FIND(j, F_DOWN_AT_PAUSE, "the pen stays down while the program waits");
    j->lifted_here = FALSE;
    if (!j->pen_named && j->pen_number + 1u < j->profile->rack.n)
        j->pen_number++;
    tell_move(j, DT_MOVE_PEN_CHANGE, 0);
}

void judge_end(DtJudge *j, size_t line, int column)
{
    if (j->end_told)
        return;
    j->end_told = TRUE;
    dt_clock_stop(&j->clock);
    if (j->pen == PEN_DOWN)
        judge_find(j, F_DOWN_AT_END, line, column, "the program ends with the pen down");
    DtPoint park = j->profile->park;
    if (j->moved && dt_point_distance(j->at, dt_point(0, 0)) > 0.01 &&
        dt_point_distance(j->at, park) > 0.01)
        judge_find(j, F_NOT_AT_ORIGIN, line, column,
                   "the program ends at X %.6g mm, Y %.6g mm and not at the origin", j->at.x,
                   j->at.y);
    tell_move(j, DT_MOVE_END, 0);
}

static void take_motion(DtJudge *j, const DtAction *a)
{
    note_height(j, a);
    if (j->largest <= j->inch_reach && j->inches.said_line == 0) {
        if (a->to[0] != a->from[0])
            judge_note_figure(j, a->to[0]);
        if (a->to[1] != a->from[1])
            judge_note_figure(j, a->to[1]);
    }
    if (a->kind == ACT_ARC)
        take_arc(j, a);
    else
        take_straight(j, a, a->kind == ACT_FEED);
}

static void on_action(void *user, const DtAction *a)
{
    DtJudge *j = user;
    switch (a->kind) {
    case ACT_TRAVERSE:
    case ACT_FEED:
    case ACT_ARC:
        take_motion(j, a);
        break;
    case ACT_DWELL:
        dt_clock_stop(&j->clock);
        if (!j->refused)
            take_dwell(j, a->seconds * j->words.dwell_unit_s);
        break;
    case ACT_SPINDLE:
        dt_clock_stop(&j->clock);
        if (a->turn != 0 && j->spindle_line == 0) {
            j->spindle_line = j->line;
            j->spindle_column = j->first_column;
        }
        if (!j->refused)
            take_spindle(j, a);
        break;
    case ACT_HOME:
        take_home(j);
        break;
    case ACT_PAUSE:
    case ACT_MAY_PAUSE:
    case ACT_TOOL:
        if (!j->refused)
            take_pause(j);
        break;
    case ACT_END:
        judge_end(j, j->line, j->first_column);
        break;
    }
}

/* Blocks ----------------------------------------------------------------------------------------
 */

static void on_refusal(void *user, DtFindingKind kind, int column, char *text)
{
    DtJudge *j = user;
    dt_finding_list_add(&j->findings, kind, j->line, column, text);
}

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    DtJudge *j = user;
    dt_finding_list_add(&j->findings, dt_fault_findings[kind], j->reader->line, column,
                        g_strdup(text));
    j->refused = TRUE;
}

static void note_units(DtJudge *j, const DtCodeBlock *b)
{
    if ((b->g_groups & (1u << G_UNITS)) && b->g[G_UNITS] == 200 && j->inches.said_line == 0)
        j->inches.said_line = b->line;
    if ((b->has & LETTER('F')) && block_value(b, 'F') > 0) {
        j->f_line = b->line;
        j->f_column = block_column(b, 'F');
        j->most_feed = MAX(j->most_feed, block_value(b, 'F'));
        j->feed_line = j->feed_line ? j->feed_line : b->line;
    }
}

/* "(pen red)" and "(stroke 7 pen red)" name the pen in the holder. */
static void note_pen(DtJudge *j, const DtCodeBlock *b)
{
    g_autofree char *text = g_strndup(b->comment, MIN(b->comment_len, 200));
    char *name = g_strstrip(text);
    if (g_str_has_prefix(name, "stroke ") && strstr(name, " pen "))
        name = strstr(name, " pen ") + 1;
    if (!g_str_has_prefix(name, "pen "))
        return;
    for (size_t i = 0; i < j->profile->rack.n; i++)
        if (g_strcmp0(j->profile->rack.pens[i].name, name + 4) == 0) {
            j->pen_number = (uint16_t)i;
            j->pen_named = TRUE;
        }
}

/* Before the dwell and the motion of its line, as a spindle word. */
static void take_own_pen_line(DtJudge *j, const DtCodeBlock *b)
{
    if (j->rule.kind != LIFT_BY_OWN_WORD)
        return;
    gboolean down = dt_block_matches(b, &j->rule.down);
    if (!down && !dt_block_matches(b, &j->rule.up))
        return;
    set_pen(j, down ? PEN_DOWN : PEN_UP);
    j->after_pen_word = TRUE;
}

static void on_block(void *user, const DtCodeBlock *b)
{
    DtJudge *j = user;
    j->line = b->line;
    j->first_column = b->n_words ? b->words[0].column : 1;
    j->refused = b->faults > 0;
    if (b->n_words == 0 && b->comment == NULL && !b->deleted && !b->computed)
        return;
    if (b->comment && (j->listener || j->collect))
        note_pen(j, b);
    if (b->comment && j->inches.told_line == 0)
        judge_note_inch_words(j, b);
    if (b->n_words > 0)
        j->last_words_line = b->line;
    if (dt_accept_block(&j->words, b, j->overhead, on_refusal, j) > 0)
        j->refused = TRUE;
    if (b->n_words == 0)
        return;
    gboolean number_alone = b->n_words == 1 && (b->has & LETTER('N'));
    if (j->reader->ended && !number_alone && j->findings.count[F_AFTER_END] == 0)
        FIND(j, F_AFTER_END, "the program goes on after its end");
    note_units(j, b);
    if (b->own_code && !j->refused)
        take_own_pen_line(j, b);
}

/* The profile's own lines, which need not be words of the standard. */
static void take_own_lines(DtJudge *j, const DtCodeBlock *b)
{
    if (!b->own_code || j->refused)
        return;
    if (dt_block_matches(b, &j->home_line))
        take_home(j);
    else if (dt_block_matches(b, &j->end_line))
        judge_end(j, j->line, j->first_column);
}

static void judge_relied(DtJudge *j, const DtCodeBlock *b)
{
    const DtVocabulary *v = &j->words;
    const struct {
        int group;
        gboolean matters;
        const char *what;
    } modes[] = {
        {G_UNITS, dt_vocabulary_takes_g(v, 200) || dt_vocabulary_takes_g(v, 210),
         "whether lengths are mm or inches (G21, G20)"},
        {G_DISTANCE, dt_vocabulary_takes_g(v, 900) || dt_vocabulary_takes_g(v, 910),
         "whether distances are absolute or incremental (G90, G91)"},
        {G_MOTION, TRUE, "whether this is a travel or a line (G0, G1)"},
        {G_FEED_MODE, dt_vocabulary_takes_g(v, 930), "the feed mode (G94)"},
        {G_PLANE, dt_vocabulary_takes_g(v, 180) || dt_vocabulary_takes_g(v, 190),
         "the plane of arcs (G17)"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(modes); i++)
        if (modes[i].matters && (j->reader->relied & (1u << modes[i].group)))
            judge_find(j, F_MODE_ASSUMED, b->line, j->first_column,
                       "the program does not say %s: it would be as an earlier job left it",
                       modes[i].what);
    j->reader->said |= j->reader->relied; /* told once */
    j->reader->relied = 0;
}

static void on_end_of_block(void *user, const DtCodeBlock *b)
{
    DtJudge *j = user;
    if (b->own_code)
        take_own_lines(j, b);
    if (j->reader->relied)
        judge_relied(j, b);
    j->out->refused_lines += j->refused != 0;
    if (j->out->refused_lines == 1 && j->refused)
        j->out->first_refused = b->line;
}

const DtListener dt_judge_listener = {on_fault, on_block, on_action, on_end_of_block};
