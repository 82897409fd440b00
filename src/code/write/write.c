/* write: writes moves as RS-274 text in the words of one controller. */
#include "code/write/arcs.h"
#include "code/write/emit.h"
#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

typedef struct {
    const DtProfile *profile;
    DtVocabulary words;
    DtPenRule rule;
    DtEmit emit;
    DtCost cost;
    double arc_tolerance;  /* 0: no arcs */
    gboolean tries_limits; /* feeds are intended, however fast */
    gboolean lacks_corrections;
    DtPoint at;      /* as it was meant, not rounded */
    size_t polyline; /* of the last stroke comment; G_MAXSIZE if there is none */
} Writer;

static void put_line(Writer *w, const char *text)
{
    if (text && *text)
        dt_emit_text(&w->emit, text, strlen(text));
}

/* ASCII only. */
static void put_comment(Writer *w, const char *text)
{
    g_autofree char *ascii = dt_base_comment_text(text);
    dt_emit_comment(&w->emit, ascii, strlen(ascii));
}

/* The pen's line and its dwell, which belong together. */
static void lift(Writer *w, double wait_s)
{
    if (w->emit.pen == PEN_UP)
        return;
    dt_emit_lift(&w->emit);
    w->emit.settle_s = wait_s;
    dt_emit_settle(&w->emit);
}

static void drop(Writer *w, double wait_s, double s)
{
    if (w->emit.pen == PEN_DOWN)
        return;
    dt_emit_drop_by(&w->emit, s);
    w->emit.settle_s = wait_s;
    dt_emit_settle(&w->emit);
}

static void say_stroke(Writer *w, const DtMove *m)
{
    const DtRack *rack = &w->profile->rack;
    const char *pen = m->pen < rack->n ? rack->pens[m->pen].name : NULL;
    g_autofree char *text = g_strdup_printf("stroke %zu pen %s", m->polyline + 1, pen ? pen : "?");
    put_comment(w, text);
    w->polyline = m->polyline;
    dt_emit_forget(&w->emit); /* so that a resumed run may start here */
}

/* A feed in mm/min, never above the requested one; the feed in force if that is at most 2 %
 * slower, or a fifth of that when limits are tested. */
static double feed_of(const Writer *w, double feed_mm_s)
{
    const double asked = feed_mm_s * 60, said = w->emit.feed;
    const double near = w->tries_limits ? 0.996 : 0.98;
    if (said > 0 && said <= asked * (1 + 1e-9) && said >= asked * near)
        return said;
    return asked >= 100 ? floor(asked + 1e-6) : MAX(floor(asked * 1000 + 1e-6) / 1000, 0.001);
}

/* Highest speed in the direction that results from rounding the coordinates. */
static double reached(const Writer *w, DtPoint to)
{
    if (w->tries_limits)
        return G_MAXDOUBLE;
    const DtPoint d = dt_point_sub(dt_emit_rounded(&w->emit, to), w->emit.at);
    const double speed = d.x != 0 || d.y != 0 ? dt_route_speed_along(&w->cost, d) : 0;
    return speed > 0 ? speed : G_MAXDOUBLE;
}

static void go(Writer *w, int motion, DtPoint to, double feed_mm_s)
{
    w->at = to;
    if (motion == 0)
        dt_emit_travel(&w->emit, to);
    else
        dt_emit_draw(&w->emit, to, feed_of(w, MIN(feed_mm_s, reached(w, to))));
}

/* Arcs ---------------------------------------------------------------------------------------- */

/* Moves the centre onto the line of points equidistant from both ends, so that the ends as
 * written have one radius. */
static DtPoint even_centre(DtPoint from, DtPoint to, DtPoint centre)
{
    DtPoint chord = dt_point_sub(to, from), middle = dt_point_lerp(from, to, 0.5);
    double along = dt_point_dot(dt_point_sub(centre, middle), chord) / dt_point_dot(chord, chord);
    return dt_point_sub(centre, dt_point_scale(chord, along));
}

static void put_arc(Writer *w, DtPoint to, const DtArcFit *fit, double feed_mm_s)
{
    const DtPoint end = dt_emit_rounded(&w->emit, to);
    const DtPoint centre = even_centre(w->emit.at, end, fit->centre);
    dt_emit_arc(&w->emit, to, centre, fit->sweep < 0, feed_of(w, feed_mm_s));
    w->at = to;
}

/* Whether the arc stays within the travel even where it bulges. */
static gboolean bulges_within(const Writer *w, const DtPoint *p, size_t n)
{
    DtBox bed = {0, 0, w->profile->travel[0], w->profile->travel[1]};
    bed = dt_box_grow(bed, -w->arc_tolerance);
    for (size_t i = 0; i < n; i++)
        if (!dt_box_contains(bed, p[i]))
            return FALSE;
    return TRUE;
}

/* Writes moves from m[0] on as an arc, if one fits; returns how many moves it replaces. */
static size_t try_arc(Writer *w, const DtMove *m, size_t n)
{
    DtPoint p[MOST_ARC_POINTS];
    size_t k = 0;
    double feed = G_MAXDOUBLE;
    if (w->emit.pen != PEN_DOWN || w->arc_tolerance <= 0)
        return 0;
    p[k++] = w->at;
    while (k < MOST_ARC_POINTS && k <= n && m[k - 1].kind == DT_MOVE_DRAW &&
           m[k - 1].polyline == m[0].polyline) {
        p[k] = m[k - 1].to;
        k++;
    }
    DtArcFit fit;
    size_t good = k >= LEAST_ARC_POINTS ? dt_arc_fit(p, k, w->arc_tolerance, &fit) : 0;
    if (good == 0 || !bulges_within(w, p, good))
        return 0;
    for (size_t i = 0; i + 1 < good; i++)
        feed = MIN(feed, m[i].feed_mm_s);
    put_arc(w, p[good - 1], &fit, feed);
    return good - 1;
}

static void change_pen(Writer *w, const DtMove *m)
{
    const DtRack *rack = &w->profile->rack;
    lift(w, w->profile->lift_s);
    g_autofree char *text =
        g_strdup_printf("pen %s", m->pen < rack->n ? rack->pens[m->pen].name : "?");
    put_comment(w, text);
    put_line(w, "M0");
    dt_emit_forget(&w->emit);
}

static void turn_paper(Writer *w)
{
    lift(w, w->profile->lift_s);
    put_comment(w, DT_TURNS_PAPER);
    put_line(w, "M0");
    dt_emit_forget(&w->emit);
}

static void finish(Writer *w)
{
    lift(w, w->profile->lift_s);
    DtPoint park = w->profile->park;
    gboolean at_rest = (w->at.x == 0 && w->at.y == 0) || (w->at.x == park.x && w->at.y == park.y);
    if (!at_rest)
        go(w, 0, dt_point(0, 0), 0);
    put_line(w, w->profile->dialect.program_end);
}

static void put_move(Writer *w, const DtMove *m)
{
    gboolean in_stroke = m->kind == DT_MOVE_TRAVEL || m->kind == DT_MOVE_DRAW ||
                         m->kind == DT_MOVE_SLACK || m->kind == DT_MOVE_PEN_DOWN;
    if (in_stroke && w->polyline != m->polyline && m->polyline != G_MAXSIZE)
        say_stroke(w, m);
    switch (m->kind) {
    case DT_MOVE_HOME:
        lift(w, w->profile->lift_s);
        dt_emit_home(&w->emit);
        dt_emit_forget(&w->emit);
        w->at = dt_point(0, 0);
        break;
    case DT_MOVE_TRAVEL:
        go(w, m->feed_mm_s > 0 ? 1 : 0, m->to, m->feed_mm_s);
        break;
    case DT_MOVE_DRAW:
    case DT_MOVE_SLACK:
        go(w, w->emit.pen == PEN_DOWN ? 1 : 0, m->to, m->feed_mm_s);
        break;
    case DT_MOVE_PEN_UP:
        lift(w, dt_move_wait_s(m, w->profile->lift_s));
        break;
    case DT_MOVE_PEN_DOWN:
        drop(w, dt_move_wait_s(m, w->profile->drop_s), m->drop_word);
        break;
    case DT_MOVE_PEN_CHANGE:
        change_pen(w, m);
        break;
    case DT_MOVE_TURN_PAPER:
        turn_paper(w);
        break;
    case DT_MOVE_END:
        finish(w);
        break;
    }
}

static void put_head(Writer *w, const char *made)
{
    const DtProfile *p = w->profile;
    g_autofree char *file = p->path ? g_path_get_basename(p->path) : g_strdup("built in");
    g_autofree char *text = g_strdup_printf("drawtrue " DT_VERSION "%s for %s, profile %s", made,
                                            p->name ? p->name : "a plotter", file);
    put_comment(w, text);
}

/* What dt_judge_note_paper() reads. The profile's own paper goes without saying. */
static void say_paper(Writer *w)
{
    const DtProfile *p = w->profile;
    if (!p->paper_is_job_s)
        return;
    g_autofree char *turned = p->paper_turn != 0
                                  ? g_strdup_printf(" turned %.6g", p->paper_turn * 180 / G_PI)
                                  : g_strdup("");
    g_autofree char *text =
        g_strdup_printf(DT_PAPER_SAID "%.10g x %.10g mm at %.10g,%.10g%s: %s", p->paper_w,
                        p->paper_h, p->paper_at.x, p->paper_at.y, turned, p->paper_name);
    put_comment(w, text);
}

static void say_head(Writer *w)
{
    put_head(w, w->lacks_corrections ? " uncorrected" : "");
    say_paper(w);
    dt_emit_modes(&w->emit);
}

static gboolean may_write(const DtProfile *p, const DtMoves *m, GError **error)
{
    const DtDialect *d = &p->dialect;
    const char *name = p->path ? p->path : "profile";
    const char *lacks = NULL;
    for (size_t i = 0; i < m->n && lacks == NULL; i++)
        if (m->m[i].kind == DT_MOVE_HOME && !(d->home && *d->home))
            lacks = N_("line that homes it");
        else if (m->m[i].kind == DT_MOVE_PEN_DOWN && !(d->pen_down && *d->pen_down))
            lacks = N_("line that drops the pen");
        else if (m->m[i].kind == DT_MOVE_PEN_UP && !(d->pen_up && *d->pen_up))
            lacks = N_("line that lifts the pen");
    if (lacks)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: the controller has no %s, which this "
                    "job needs",
                    name, _(lacks));
    return lacks == NULL;
}

static gboolean fits(const Writer *w, const char *text, const char *what, const char *name,
                     GError **error)
{
    if (w->emit.longest == 0 || text == NULL || strlen(text) <= (size_t)w->emit.longest)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: %s is %zu bytes long, and a line may have %d on this controller", name, what,
                strlen(text), w->emit.longest);
    return FALSE;
}

enum { SHORTEST_USABLE_LINE = 24 }; /* "G1 Y-123.456" */

static gboolean lines_fit(const Writer *w, const char *name, GError **error)
{
    const DtDialect *d = &w->profile->dialect;
    if (w->emit.longest > 0 && w->emit.longest < SHORTEST_USABLE_LINE) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: lines of %d bytes are too short for a move; at least %d are needed", name,
                    d->longest_line, SHORTEST_USABLE_LINE + d->longest_line - w->emit.longest);
        return FALSE;
    }
    return fits(w, d->home, _("the line that homes"), name, error) &&
           fits(w, d->pen_down, _("the line that drops the pen"), name, error) &&
           fits(w, d->pen_up, _("the line that lifts the pen"), name, error) &&
           fits(w, d->program_end, _("the program's last line"), name, error);
}

/* Arcs as far as the dialect has them. */
static double arc_tolerance(const Writer *w, const DtWriteOptions *o)
{
    const DtVocabulary *v = &w->words;
    gboolean arcs = o && dt_vocabulary_takes_g(v, 20) && dt_vocabulary_takes_g(v, 30) &&
                    dt_vocabulary_takes_letter(v, 'I') && dt_vocabulary_takes_letter(v, 'J');
    return arcs ? o->arc_tolerance : 0;
}

/* FALSE if it was cancelled or the dialect does not allow it. */
static gboolean write_moves(Writer *w, const DtMoves *m, const char *name, GError **error)
{
    say_head(w);
    if (w->tries_limits)
        put_comment(w, DT_TRIES_LIMITS);
    for (size_t i = 0; i < m->n && !dt_work_stopped();) {
        dt_work_report((double)i / (double)m->n);
        size_t as_arc = m->m[i].kind == DT_MOVE_DRAW ? try_arc(w, &m->m[i], m->n - i) : 0;
        if (as_arc == 0)
            put_move(w, &m->m[i]);
        i += MAX(as_arc, 1);
    }
    return dt_work_check(error) && dt_emit_check(&w->emit, name, error);
}

char *dt_code_write(const DtProfile *p, const DtMoves *m, gsize *len, GError **error)
{
    return dt_code_write_as(p, m, NULL, len, error);
}

char *dt_code_write_as(const DtProfile *p, const DtMoves *m, const DtWriteOptions *o, gsize *len,
                       GError **error)
{
    const char *name = p->path ? p->path : "profile";
    Writer w = {.profile = p,
                .polyline = G_MAXSIZE,
                .cost = dt_profile_cost(p),
                .tries_limits = o && o->tries_limits,
                .lacks_corrections = o && o->lacks_corrections};
    if (!dt_vocabulary_compile(&p->dialect, name, &w.words, error) || !may_write(p, m, error))
        return NULL;
    dt_pen_rule_init(&w.rule, &p->dialect, &w.words);
    dt_emit_init(&w.emit, p, &w.words, &w.rule);
    for (int axis = 0; axis < 2; axis++)
        dt_emit_set_decimals(&w.emit, axis,
                             dt_number_decimals(p->steps_per_mm[axis], p->dialect.decimals));
    w.arc_tolerance = arc_tolerance(&w, o);
    const gboolean good = lines_fit(&w, name, error) && write_moves(&w, m, name, error);
    char *text = NULL;
    if (good) {
        if (len)
            *len = w.emit.out->len;
        text = g_string_free(w.emit.out, FALSE);
        w.emit.out = NULL;
    }
    dt_emit_clear(&w.emit);
    dt_pen_rule_clear(&w.rule);
    return text;
}

char *dt_code_mended_head(const DtProfile *p, GError **error)
{
    Writer w = {.profile = p, .polyline = G_MAXSIZE};
    if (!dt_vocabulary_compile(&p->dialect, p->path ? p->path : "profile", &w.words, error))
        return NULL;
    dt_pen_rule_init(&w.rule, &p->dialect, &w.words);
    dt_emit_init(&w.emit, p, &w.words, &w.rule);
    put_head(&w, " mended");
    char *head = g_strndup(w.emit.out->str, w.emit.out->len);
    dt_emit_clear(&w.emit);
    dt_pen_rule_clear(&w.rule);
    return head;
}
