/* emit: writes lines in the words of one controller. */
#include "code/write/emit.h"

#include <math.h>
#include <string.h>

void dt_emit_init(DtEmit *e, const DtProfile *p, const DtVocabulary *v, const DtPenRule *rule)
{
    *e = (DtEmit){.profile = p, .words = v, .rule = rule, .motion = -1, .feed = -1};
    e->out = g_string_new(NULL);
    e->line = g_string_new(NULL);
    e->longest = v->longest_line - v->overhead;
    for (int axis = 0; axis < 2; axis++)
        dt_emit_set_decimals(e, axis, CLAMP(v->decimals, 0, 6));
    e->place_said = TRUE; /* the origin */
}

void dt_emit_set_decimals(DtEmit *e, int axis, int decimals)
{
    e->decimals[axis] = decimals;
    e->per_mm[axis] = pow(10, decimals);
}

void dt_emit_clear(DtEmit *e)
{
    if (e->out)
        g_string_free(e->out, TRUE);
    g_string_free(e->line, TRUE);
}

gboolean dt_emit_check(const DtEmit *e, const char *name, GError **error)
{
    if (*e->lacking != '\0')
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: the controller's words lack %s, which this job needs", name, e->lacking);
    else if (e->too_long)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: a move does not fit into the %d bytes that a line may have", name,
                    e->words->longest_line);
    return *e->lacking == '\0' && !e->too_long;
}

void dt_emit_forget(DtEmit *e)
{
    e->motion = -1;
    e->feed = -1;
    e->place_said = FALSE;
}

void dt_emit_text(DtEmit *e, const char *text, size_t len)
{
    g_string_append_len(e->out, text, (gssize)len);
    g_string_append_c(e->out, '\n');
    e->drop.fresh = FALSE;
}

DtDrop dt_emit_before_drop(const DtEmit *e)
{
    return (DtDrop){FALSE, e->out->len, e->motion, e->feed, e->settle_s, e->pen};
}

void dt_emit_note_still(DtEmit *e, DtDrop before, DtDrop drop)
{
    e->drop = drop;
    if (e->pen != PEN_DOWN || before.pen == PEN_DOWN)
        return;
    e->drop = before;
    e->drop.fresh = TRUE;
}

gboolean dt_emit_undo_drop(DtEmit *e)
{
    if (!e->drop.fresh || e->drop.pen != PEN_UP)
        return FALSE;
    g_string_truncate(e->out, e->drop.length);
    e->motion = e->drop.motion;
    e->feed = e->drop.feed;
    e->settle_s = e->drop.settle_s;
    e->pen = e->drop.pen;
    e->drop.fresh = FALSE;
    return TRUE;
}

static void end_line(DtEmit *e)
{
    if (e->longest > 0 && e->line->len > (gsize)e->longest)
        e->too_long = TRUE;
    dt_emit_text(e, e->line->str, e->line->len);
    g_string_truncate(e->line, 0);
}

static void need(DtEmit *e, gboolean taken, char letter, double value)
{
    if (!taken && *e->lacking == '\0')
        g_snprintf(e->lacking, sizeof e->lacking, letter == 'G' ? "%c%g" : "%c", letter, value);
}

static void word(DtEmit *e, char letter, double value, int decimals)
{
    char number[40];
    need(e,
         letter == 'G' ? dt_vocabulary_takes_g(e->words, (int)lround(value * 10))
                       : dt_vocabulary_takes_letter(e->words, letter),
         letter, value);
    dt_number_write(value, decimals, number);
    if (e->line->len > 0 && e->words->gap_needed)
        g_string_append_c(e->line, ' ');
    g_string_append_c(e->line, letter);
    g_string_append(e->line, number);
}

void dt_emit_comment(DtEmit *e, const char *text, size_t len)
{
    gboolean round = e->words->round_comments;
    if (!round && !e->words->semicolon_comments)
        return;
    g_autofree char *copy = g_strndup(text, len);
    g_strstrip(copy);
    if (*copy == '\0')
        return;
    for (char *c = copy; *c; c++)
        *c = *c == '(' ? '[' : *c == ')' ? ']' : (unsigned char)*c < ' ' ? ' ' : *c;
    int room = e->longest > 0 ? e->longest - (round ? 2 : 1) : G_MAXINT;
    g_string_append_printf(e->line, round ? "(%.*s)" : ";%.*s", MAX(room, 0), copy);
    end_line(e);
}

/* A line of the profile; its modal effects are tracked. */
static void own_line(DtEmit *e, const char *text, const DtCodeBlock *block)
{
    dt_emit_text(e, text, strcspn(text, "\r\n"));
    if (block->g_groups & (1u << G_MOTION))
        e->motion = block->g[G_MOTION] / 10;
    if (block->has & LETTER('F'))
        e->feed = block_value(block, 'F');
}

/* A pen that is moved by an axis goes as far as units and distances say. */
static void give_modes_to(DtEmit *e, const DtCodeBlock *own)
{
    if (e->rule->kind == LIFT_BY_Z || (own->g_groups & (1u << G_MOTION)))
        dt_emit_modes(e);
}

void dt_emit_lift(DtEmit *e)
{
    if (e->pen == PEN_UP)
        return;
    give_modes_to(e, &e->rule->up);
    if (e->pen == PEN_DOWN)
        dt_emit_settle(e);
    own_line(e, e->profile->dialect.pen_up, &e->rule->up);
    e->settle_s = e->rule->kind == LIFT_BY_Z ? 0 : e->profile->lift_s;
    e->pen = PEN_UP;
}

void dt_emit_drop(DtEmit *e)
{
    dt_emit_drop_by(e, 0);
}

void dt_emit_drop_by(DtEmit *e, double s)
{
    if (e->pen == PEN_DOWN)
        return;
    give_modes_to(e, &e->rule->down);
    dt_emit_settle(e);
    DtDrop before = dt_emit_before_drop(e);
    const char *line = e->profile->dialect.pen_down;
    g_autofree char *other = s > 0 ? dt_code_drop_line(line, s) : NULL;
    own_line(e, other ? other : line, &e->rule->down);
    e->settle_s = e->rule->kind == LIFT_BY_Z ? 0 : e->profile->drop_s;
    e->pen = PEN_DOWN;
    dt_emit_note_still(e, before, before);
}

void dt_emit_dwell(DtEmit *e, double seconds)
{
    if (!dt_vocabulary_takes_g(e->words, 40))
        return;
    DtDrop drop = e->drop;
    word(e, 'G', 4, 0);
    word(e, 'P', ceil(seconds / e->words->dwell_unit_s * 1000 - 1e-6) / 1000, 3);
    end_line(e);
    e->drop = drop;
    e->settle_s -= seconds;
}

gboolean dt_emit_settle(DtEmit *e)
{
    gboolean owed = e->settle_s > 0.0005 && dt_vocabulary_takes_g(e->words, 40);
    if (owed)
        dt_emit_dwell(e, e->settle_s);
    e->settle_s = 0;
    return owed;
}

/* Our modes, each stated if this controller has both it and an alternative. */
static const struct {
    int group;
    short ours, others[2];
    gboolean alone; /* stated even if the controller has no alternative */
} modes[] = {
    {G_UNITS, 210, {200, 200}, TRUE},
    {G_DISTANCE, 900, {910, 910}, TRUE},
    {G_PLANE, 170, {180, 190}, FALSE},
    {G_FEED_MODE, 940, {930, 930}, FALSE},
};

void dt_emit_modes(DtEmit *e)
{
    for (size_t i = 0; i < G_N_ELEMENTS(modes); i++) {
        gboolean choice = modes[i].alone || dt_vocabulary_takes_g(e->words, modes[i].others[0]) ||
                          dt_vocabulary_takes_g(e->words, modes[i].others[1]);
        gboolean other = dt_vocabulary_takes_g(e->words, modes[i].others[0]);
        need(e, !other || dt_vocabulary_takes_g(e->words, modes[i].ours), 'G',
             modes[i].ours / 10.0);
        if (!(e->said & (1u << modes[i].group)) && choice &&
            dt_vocabulary_takes_g(e->words, modes[i].ours))
            word(e, 'G', modes[i].ours / 10.0, 1);
        e->said |= 1u << modes[i].group;
    }
    if (e->line->len > 0) {
        e->modes_given = TRUE;
        end_line(e);
    }
}

void dt_emit_follow_modes(DtEmit *e, const DtCodeBlock *b)
{
    for (size_t i = 0; i < G_N_ELEMENTS(modes); i++)
        if ((b->g_groups & (1u << modes[i].group)) && b->g[modes[i].group] == modes[i].ours)
            e->said |= 1u << modes[i].group;
    if (b->g_groups & (1u << G_MOTION))
        e->motion = b->g[G_MOTION] <= 30 ? b->g[G_MOTION] / 10 : -1;
    if (b->has & LETTER('F'))
        e->feed = block_value(b, 'F');
}

void dt_emit_home(DtEmit *e)
{
    dt_emit_lift(e);
    dt_emit_settle(e);
    if (e->profile->dialect.home && *e->profile->dialect.home)
        dt_emit_text(e, e->profile->dialect.home, strcspn(e->profile->dialect.home, "\r\n"));
    e->homed = TRUE;
    e->at = dt_point(0, 0);
}

static gboolean differs(double a, double b)
{
    return fabs(a - b) > 1e-9;
}

static void axes(DtEmit *e, DtPoint to)
{
    if (!e->place_said || differs(to.x, e->at.x))
        word(e, 'X', to.x, e->decimals[0]);
    if (!e->place_said || differs(to.y, e->at.y))
        word(e, 'Y', to.y, e->decimals[1]);
    e->at = to;
    e->place_said = TRUE;
}

static void motion(DtEmit *e, int code)
{
    if (e->motion != code)
        word(e, 'G', code, 0);
    e->motion = code;
}

DtPoint dt_emit_rounded(const DtEmit *e, DtPoint p)
{
    const double x = e->per_mm[0], y = e->per_mm[1];
    return dt_point(round(p.x * x) / x, round(p.y * y) / y);
}

static gboolean stands_there(const DtEmit *e, DtPoint to)
{
    return e->place_said && !differs(to.x, e->at.x) && !differs(to.y, e->at.y);
}

void dt_emit_travel(DtEmit *e, DtPoint to)
{
    to = dt_emit_rounded(e, to);
    if (stands_there(e, to))
        return;
    dt_emit_settle(e);
    motion(e, 0);
    axes(e, to);
    end_line(e);
}

static void feed(DtEmit *e, double mm_min)
{
    if (differs(mm_min, e->feed))
        word(e, 'F', mm_min, 3);
    e->feed = mm_min;
}

enum { LINE_WITH_FEED = 40, ARC_WITH_FEED = 60 }; /* bytes */

/* F goes on a line of its own if both would be too long. */
static void feed_first(DtEmit *e, double mm_min, int with_feed)
{
    if (e->longest >= with_feed || !differs(mm_min, e->feed))
        return;
    feed(e, mm_min);
    end_line(e);
}

void dt_emit_draw(DtEmit *e, DtPoint to, double feed_mm_min)
{
    to = dt_emit_rounded(e, to);
    if (stands_there(e, to))
        return;
    dt_emit_settle(e);
    feed_first(e, feed_mm_min, LINE_WITH_FEED);
    motion(e, 1);
    axes(e, to);
    feed(e, feed_mm_min);
    end_line(e);
}

void dt_emit_arc(DtEmit *e, DtPoint to, DtPoint centre, gboolean clockwise, double feed_mm_min)
{
    to = dt_emit_rounded(e, to);
    dt_emit_settle(e);
    feed_first(e, feed_mm_min, ARC_WITH_FEED);
    motion(e, clockwise ? 2 : 3);
    const int fine = MAX(e->decimals[0], e->decimals[1]) + 1;
    const DtPoint from = e->at;
    e->place_said = FALSE; /* an arc states both */
    axes(e, to);
    word(e, 'I', centre.x - from.x, fine);
    word(e, 'J', centre.y - from.y, fine);
    feed(e, feed_mm_min);
    end_line(e);
}
