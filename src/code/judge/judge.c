/* judge: carries out the actions of a program on one machine. */
#include "code/judge/judge.h"

#include <math.h>
#include <string.h>

void dt_judge_find(DtJudge *j, DtFindingKind kind, size_t line, int column, const char *format, ...)
{
    if (dt_finding_list_is_full(&j->findings, kind))
        return;
    va_list args;
    va_start(args, format);
    dt_finding_list_add(&j->findings, kind, line, column, g_strdup_vprintf(_(format), args));
    va_end(args);
}

/* Settling ------------------------------------------------------------------------------------- */

static void begin_settling(DtJudge *j, DtPenState state)
{
    j->settle_need_s = state == PEN_DOWN ? j->profile->drop_s : j->profile->lift_s;
    j->settle_had_s = 0;
    j->settle_line = j->line;
    j->settle_column = j->first_column;
}

void dt_judge_end_settling(DtJudge *j)
{
    double need = j->settle_need_s, had = j->settle_had_s;
    j->settle_need_s = 0;
    if (need <= 0)
        return;
    if (had < need - 0.0005 && !j->tries_limits && dt_vocabulary_takes_g(&j->words, 40))
        dt_judge_find(
            j, F_DWELL_SHORT, j->settle_line, j->settle_column,
            had > 0 ? j->pen == PEN_DOWN ? N_("the pen needs %g s to drop, and the dwell is %g s")
                                         : N_("the pen needs %g s to lift, and the dwell is %g s")
            : j->pen == PEN_DOWN ? N_("the pen needs %g s to drop, and there is no dwell")
                                 : N_("the pen needs %g s to lift, and there is no dwell"),
            need, had);
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
             seconds >= 50 ? _(": this controller counts a dwell's P in seconds") : "");
    j->out->time_s += seconds;
    j->out->dwell_s += seconds;
}

/* The wire ------------------------------------------------------------------------------------- */

/* Waits for all motion to end, and then for the dwell. */
static void come_to_rest(DtJudge *j, double dwell_s)
{
    dt_clock_stop(&j->clock);
    dt_pace_wait(&j->pace, dwell_s);
}

static guint digits_of(guint64 n)
{
    guint digits = 1;
    for (; n >= 10; n /= 10)
        digits++;
    return digits;
}

/* What the sender makes of a block: no comments and spaces, a number and a check of its own; 0
 * if nothing is left to send. */
static guint wire_bytes(const DtJudge *j, const DtCodeBlock *b)
{
    enum { CHECK = 7, LAST_NUMBER = 99999 }; /* (*1A2B) */
    const char *end = b->text + (b->deleted || b->percent ? 0 : b->len);
    guint n = 0;
    for (const char *c = b->text; c < end && *c != ';'; c++) {
        if (*c == '(') {
            const char *close = memchr(c, ')', (size_t)(end - c));
            c = close ? close : end - 1;
        } else if (*c == 'N' || *c == 'n') {
            while (c + 1 < end && (g_ascii_isdigit(c[1]) || g_ascii_isspace(c[1])))
                c++;
        } else {
            n += !g_ascii_isspace(*c);
        }
    }
    if (n == 0)
        return 0;
    const gboolean gap = j->words.gap_needed;
    const guint gaps = gap && b->n_words > 1 ? (guint)b->n_words - 1 : 0;
    if (j->profile->dialect.line_check)
        n += 1 + digits_of(j->pace.sent_lines % LAST_NUMBER + 1) + (gap ? 1 : 0) + CHECK;
    return n + gaps + 1;
}

static void send_line(DtJudge *j, const DtCodeBlock *b)
{
    const guint bytes = wire_bytes(j, b);
    if (bytes > 0)
        dt_pace_line(&j->pace, bytes);
}

/* The pen -------------------------------------------------------------------------------------- */

void dt_judge_tell_move(DtJudge *j, DtMoveKind kind, double feed)
{
    if (j->listener == NULL && j->collect == NULL)
        return;
    const DtMove m = {.kind = kind,
                      .to = j->at,
                      .ink = j->ink_at,
                      .feed_mm_s = feed,
                      .pen = j->pen_number,
                      .polyline = j->polyline};
    if (j->listener)
        j->listener(&m, j->line, j->listener_user);
    if (j->collect)
        dt_moves_append(j->collect, &m);
}

void dt_judge_set_pen(DtJudge *j, DtPenState state)
{
    j->pen_commanded = TRUE;
    if (state == j->pen)
        return;
    come_to_rest(j, 0);
    j->pace.down = state == PEN_DOWN;
    if (state == PEN_DOWN && !j->homed) {
        FIND(j, F_DOWN_UNHOMED,
             "the pen comes down before the machine is homed, wherever the carriage stands");
        j->homed = TRUE; /* reported once */
    }
    gboolean was_up = j->pen == PEN_UP, was_unknown = j->pen == PEN_UNKNOWN;
    dt_judge_end_settling(j);
    j->pen = state;
    if (j->rule.kind != LIFT_BY_Z && !(state == PEN_UP && was_unknown))
        begin_settling(j, state); /* a program starts with the pen up: the first lift moves
                                   * nothing */
    if (state == PEN_DOWN) {
        j->lowered = TRUE;
        j->down_ink_mm = j->out->ink_mm;
        j->down_dwell_s = j->out->dwell_s;
        j->polyline += j->out->lifts > 0;
        j->out->lifts++;
        if (was_up && j->lifted_here && dt_point_distance(j->at, j->lifted_at) < 1e-6) {
            j->idle_lifts++;
            j->idle_line = j->idle_line ? j->idle_line : j->line;
        }
    } else {
        /* A pen that was down for a while without moving leaves a dot. */
        if (!was_up && !was_unknown && j->out->ink_mm <= j->down_ink_mm &&
            j->out->dwell_s > j->down_dwell_s)
            dt_judge_add_dot(j);
        j->lifted_at = j->at;
        j->lifted_here = j->drew;
    }
    dt_judge_tell_move(j, state == PEN_DOWN ? DT_MOVE_PEN_DOWN : DT_MOVE_PEN_UP, 0);
}

static void take_spindle(DtJudge *j, const DtAction *a)
{
    if (j->rule.kind != LIFT_BY_SPINDLE)
        return;
    j->after_pen_word = TRUE;
    if (a->turn != 0 && j->rule.down_speed >= 0 && !a->speed_said) {
        FIND(j, F_MODE_ASSUMED, "the pen's S is not given: it would be that of an earlier job");
        dt_judge_set_pen(j, j->rule.down_turn ? PEN_DOWN : PEN_UP);
        return;
    }
    DtPenState state = dt_pen_after_spindle(&j->rule, a->turn, a->speed);
    double want = state == PEN_DOWN ? j->rule.down_speed : j->rule.up_speed;
    if (state == PEN_DOWN && want > 0 && fabs(a->speed - want) > 0.01 * want && !j->tries_limits)
        FIND(j, F_PEN_DEPTH, "the pen goes to S%g, and this machine's pen draws at S%g", a->speed,
             want);
    dt_judge_set_pen(j, state);
}

/* Home, pause, end -------------------------------------------------------------------------- */

static void take_home(DtJudge *j)
{
    come_to_rest(j, 0);
    if (j->refused)
        return;
    const double home_s =
        j->homed ? dt_machine_home_from_s(j->profile, j->at) : dt_machine_home_s(j->profile);
    j->homed = TRUE;
    if (j->pen == PEN_DOWN)
        FIND(j, F_DOWN_AT_HOME, "homing with the pen down draws all the way");
    dt_judge_end_settling(j);
    j->out->time_s += home_s;
    j->out->home_s += home_s;
    dt_carriage_init(&j->carriage, j->profile);
    dt_judge_drive(j, dt_point(0, 0));
    j->last_motion_line = j->line;
    j->lifted_here = FALSE;
    dt_judge_tell_move(j, DT_MOVE_HOME, 0);
}

static void take_pen(DtJudge *j, uint16_t number)
{
    j->pen_number = number;
    j->ink_at = dt_point_sub(j->ink_at, j->tip);
    j->tip = j->profile->rack.pens[number].offset;
    j->ink_at = dt_point_add(j->ink_at, j->tip);
}

static void take_pause(DtJudge *j, gboolean passed_over)
{
    come_to_rest(j, 0);
    if (j->pen == PEN_DOWN)
        FIND(j, F_DOWN_AT_PAUSE, "the pen stays down while the program waits");
    j->lifted_here = FALSE;
    if (!passed_over)
        j->settle_need_s = 0; /* a person takes longer than that */
    if (!j->pen_named && j->pen_number + 1u < j->profile->rack.n)
        take_pen(j, (uint16_t)(j->pen_number + 1));
    dt_judge_tell_move(j, DT_MOVE_PEN_CHANGE, 0);
}

void dt_judge_end(DtJudge *j, size_t line, int column)
{
    if (j->end_reported)
        return;
    j->end_reported = TRUE;
    come_to_rest(j, 0);
    if (j->pen == PEN_DOWN)
        dt_judge_find(j, F_DOWN_AT_END, line, column, "the program ends with the pen down");
    DtPoint park = j->profile->park;
    if (j->moved && dt_point_distance(j->at, dt_point(0, 0)) > 0.01 &&
        dt_point_distance(j->at, park) > 0.01)
        dt_judge_find(j, F_NOT_AT_ORIGIN, line, column,
                      "the program ends at X %.6g mm, Y %.6g mm and not at the origin", j->at.x,
                      j->at.y);
    dt_judge_tell_move(j, DT_MOVE_END, 0);
}

static void on_action(void *user, const DtAction *a)
{
    DtJudge *j = user;
    switch (a->kind) {
    case ACT_TRAVERSE:
    case ACT_FEED:
    case ACT_ARC:
        dt_judge_motion(j, a);
        break;
    case ACT_DWELL:
        come_to_rest(j, j->refused ? 0 : a->seconds * j->words.dwell_unit_s);
        if (!j->refused)
            take_dwell(j, a->seconds * j->words.dwell_unit_s);
        break;
    case ACT_SPINDLE:
        come_to_rest(j, 0);
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
            take_pause(j, a->kind == ACT_MAY_PAUSE);
        break;
    case ACT_END:
        dt_judge_end(j, j->line, j->first_column);
        break;
    case ACT_PEN: /* of mend alone */
        break;
    }
}

/* Blocks ------------------------------------------------------------------------------------ */

/* The text is copied only if it is kept. */
static void keep_finding(DtJudge *j, DtFindingKind kind, size_t line, int column, const char *text)
{
    if (!dt_finding_list_is_full(&j->findings, kind))
        dt_finding_list_add(&j->findings, kind, line, column, g_strdup(text));
}

static void on_refusal(void *user, DtFindingKind kind, int column, const char *text)
{
    DtJudge *j = user;
    keep_finding(j, kind, j->line, column, text);
}

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    DtJudge *j = user;
    keep_finding(j, dt_fault_findings[kind], j->reader->line, column, text);
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

static void note_pen(DtJudge *j, const DtCodeBlock *b)
{
    char name[DT_PEN_NAME];
    if (!dt_pen_comment(b, name))
        return;
    const int pen = dt_rack_find_spelled(&j->profile->rack, name);
    if (pen < 0)
        return;
    take_pen(j, (uint16_t)pen);
    j->pen_named = TRUE;
}

/* Takes effect before the dwell and the motion of its line, like a spindle word. */
static void take_own_pen_line(DtJudge *j, const DtCodeBlock *b)
{
    if (j->rule.kind != LIFT_BY_OWN_WORD)
        return;
    gboolean down = dt_block_matches(b, &j->rule.down);
    if (!down && !dt_block_matches(b, &j->rule.up))
        return;
    dt_judge_set_pen(j, down ? PEN_DOWN : PEN_UP);
    j->after_pen_word = TRUE;
}

static void on_block(void *user, const DtCodeBlock *b)
{
    DtJudge *j = user;
    j->line = b->line;
    j->first_column = b->n_words ? b->words[0].column : 1;
    j->refused = b->faults > 0;
    j->pen_commanded = FALSE;
    if (b->n_words == 0 && b->comment == NULL && !b->deleted && !b->computed)
        return;
    if (b->comment) {
        note_pen(j, b);
        dt_judge_note_machine(j, b);
        dt_judge_note_paper(j, b);
        j->tries_limits |= dt_block_tries_limits(b);
    }
    if (b->comment && j->inches.comment_line == 0)
        dt_judge_note_inch_words(j, b);
    if (b->n_words > 0)
        j->last_words_line = b->line;
    send_line(j, b);
    if (dt_accept_block(&j->words, b, on_refusal, j) > 0)
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

/* The profile's own lines, which need not consist of words of the standard. */
static void take_own_lines(DtJudge *j, const DtCodeBlock *b)
{
    if (!b->own_code || j->refused)
        return;
    if (dt_block_matches(b, &j->home_line))
        take_home(j);
    else if (dt_block_matches(b, &j->end_line))
        dt_judge_end(j, j->line, j->first_column);
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
         N_("whether lengths are mm or inches (G21, G20)")},
        {G_DISTANCE, dt_vocabulary_takes_g(v, 900) || dt_vocabulary_takes_g(v, 910),
         N_("whether distances are absolute or incremental (G90, G91)")},
        {G_MOTION, TRUE, N_("whether this is a travel or a line (G0, G1)")},
        {G_FEED_MODE, dt_vocabulary_takes_g(v, 930), N_("the feed mode (G94)")},
        {G_PLANE, dt_vocabulary_takes_g(v, 180) || dt_vocabulary_takes_g(v, 190),
         N_("the plane of arcs (G17)")},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(modes); i++)
        if (modes[i].matters && (j->reader->relied & (1u << modes[i].group)))
            dt_judge_find(j, F_MODE_ASSUMED, b->line, j->first_column,
                          "the program does not say %s: it would be as an earlier job left it",
                          _(modes[i].what));
    j->reader->said |= j->reader->relied; /* reported once */
    j->reader->relied = 0;
}

static void on_end_of_block(void *user, const DtCodeBlock *b)
{
    DtJudge *j = user;
    if (b->own_code)
        take_own_lines(j, b);
    if (j->reader->relied)
        judge_relied(j, b);
    if (j->reader->origin_relied && !j->origin_reported) {
        j->origin_reported = TRUE; /* the first system is where the machine was homed */
        FIND(j, F_MODE_ASSUMED,
             "the program does not give the origin of its coordinate system "
             "(G10): it would be where an earlier job put it");
    }
    j->out->deleted_lines += b->deleted != 0;
    j->out->refused_lines += j->refused != 0;
    if (j->out->refused_lines == 1 && j->refused)
        j->out->first_refused = b->line;
}

const DtListener dt_judge_listener = {on_fault, on_block, on_action, on_end_of_block};
