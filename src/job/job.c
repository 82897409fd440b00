/* job: runs the rooms one after the other and keeps each stage. */
#include "job/private.h"

#include <math.h>

/* of the reader's notes, in a message */
#define MOST_NOTES 10

const DtProfile *dt_job_profile(const DtProfile *p, const DtJobOptions *o, DtProfile **own)
{
    if (!o->no_corrections)
        return p;
    *own = dt_profile_copy(p);
    dt_profile_drop_corrections(*own);
    return *own;
}

static double seconds_of(const DtProfile *p, const DtSequence *s)
{
    g_auto(DtMoves) moves = {0};
    DtTimes t;
    if (!dt_machine_moves(p, s, &moves, NULL))
        return G_MAXDOUBLE;
    dt_machine_time(p, &moves, FALSE, &t);
    return t.total_s;
}

/* If there are more strokes than this they are not cut where they meet. */
enum { MOST_CUT = 20000 };

/* Drops cutting and retracing if this machine draws the job sooner without them. */
static gboolean weigh_cut(const DtProfile *p, const DtRouteOptions *route, DtJob *job,
                          GError **error)
{
    DtRouteOptions once = *route;
    DtCost cost = dt_profile_cost(p);
    DtSequence s;
    dt_sequence_init(&s);
    once.cut = FALSE;
    if (!dt_route_order(&job->strokes, &cost, &p->rack, &once, &s, error)) {
        dt_sequence_clear(&s);
        return FALSE;
    }
    if (seconds_of(p, &s) < seconds_of(p, &job->sequence)) {
        DtSequence other = job->sequence;
        job->sequence = s;
        s = other;
    }
    dt_sequence_clear(&s);
    return dt_work_check(error);
}

gboolean dt_job_order(const DtProfile *p, const DtJobOptions *o, DtJob *job, GError **error)
{
    DtRouteOptions route = o->route;
    route.start = dt_machine_ink_at(p, dt_point(0, 0));
    route.end = dt_machine_ink_at(p, p->park);
    route.change_at = dt_machine_ink_at(p, p->change_at);
    DtCost cost = dt_profile_cost(p);
    if (job->strokes.n > MOST_CUT)
        route.cut = FALSE;
    if (route.one_way)
        dt_job_set_one_way(p, &route);
    return dt_route_order(&job->strokes, &cost, &p->rack, &route, &job->sequence, error) &&
           (!job->sequence.is_cut || weigh_cut(p, &route, job, error)) &&
           (!route.one_way || dt_job_weigh_one_way(p, &route, job, error));
}

/* Each stop in mid-stroke leaves extra ink there: avoiding it is worth a little time. */
static double stops_s(const DtTimes *t)
{
    const double stop_s = 1;
    return stop_s * (double)t->starved;
}

static double worth(const DtTimes *t)
{
    return t->total_s + stops_s(t);
}

static double motors_s(const DtProfile *p, const DtMoves *moves)
{
    DtTimes t;
    dt_machine_time(p, moves, FALSE, &t);
    return t.total_s;
}

/* What moves may take, without the wire, and still be better than those of the job: thinner ones
 * can save no more than the wire costs now. */
static double most_motors_s(const DtProfile *p, const DtJob *job)
{
    return motors_s(p, &job->moves) + job->times.held_up_s + stops_s(&job->times);
}

static void take_if_better(const DtProfile *p, DtMoves *moves, DtJob *job)
{
    DtTimes times;
    dt_code_times(p, moves, TRUE, &times);
    if (worth(&times) < worth(&job->times)) {
        DtMoves old_moves = job->moves;
        DtTimes old_times = job->times;
        job->moves = *moves;
        job->times = times;
        *moves = old_moves;
        times = old_times;
    }
    dt_times_clear(&times);
}

/* Shares of the ink tolerance that thinning may use, in rising order. */
static const double thin_shares[] = {0.15, 0.35, 0.6, 0.9};

/* Uses thinner moves if they take less time. The thinner, the sharper are the corners: if the motors
 * alone take too long, they do so with fewer points, too. */
static gboolean try_thinner(const DtProfile *p, DtJob *job, GError **error)
{
    const double most_s = most_motors_s(p, job);
    gboolean good = TRUE, hopeless = FALSE;
    DtMoves moves;
    dt_moves_init(&moves);
    for (size_t i = 0; i < G_N_ELEMENTS(thin_shares) && good && !hopeless && !dt_work_stopped();
         i++) {
        const double thin = thin_shares[i] * p->ink_tolerance;
        good = dt_machine_moves_thinned(p, &job->sequence, thin, &moves, error);
        hopeless = good && motors_s(p, &moves) > most_s;
        if (good && !hopeless)
            take_if_better(p, &moves, job);
    }
    dt_moves_clear(&moves);
    return good;
}

/* Up to a hundredth of the time may be lost to the wire before fewer points are tried. */
static gboolean is_held_up(const DtTimes *t)
{
    return t->starved > 0 || t->held_up_s > 0.01 * t->total_s;
}

gboolean dt_job_move(const DtProfile *p, DtJob *job, GError **error)
{
    if (!dt_machine_moves(p, &job->sequence, &job->moves, error))
        return FALSE;
    dt_code_times(p, &job->moves, TRUE, &job->times);
    if (p->ink_tolerance > 0 && is_held_up(&job->times) && !try_thinner(p, job, error))
        return FALSE;
    return dt_work_check(error);
}

DtInkOptions dt_job_ink_options(const DtProfile *p, const DtJobOptions *o)
{
    DtInkOptions ink = o->ink;
    if (!o->own_angle)
        ink.angle = dt_machine_fastest_angle(p);
    if (ink.hatch == DT_HATCH_FASTEST && (o->own_angle || o->route.one_way))
        ink.hatch = DT_HATCH_SERPENTINE;
    ink.seconds = dt_job_fill_seconds;
    ink.seconds_user = (void *)(uintptr_t)p;
    return ink;
}

/* For the colours that were left to the bare paper. */
static void append_paper_colours(GString *s, const DtInkReport *colours)
{
    enum { MOST_NAMED = 4 };
    size_t n = 0;
    for (size_t i = 0; i < colours->n; i++) {
        const DtColour c = colours->matches[i].colour;
        if (colours->matches[i].pen >= 0 || n++ >= MOST_NAMED)
            continue;
        g_string_append_printf(s, "%s #%02lx%02lx%02lx", n == 1 ? _("\nleft to the paper:") : ",",
                               lround(255 * c.r), lround(255 * c.g), lround(255 * c.b));
    }
    if (n > MOST_NAMED)
        g_string_append_printf(s, _(" and %zu colours more"), n - MOST_NAMED);
}

/* Whether nothing of the drawing lies on its page. A shape without a size has no place. */
static gboolean is_beside_page(const DtDrawing *d)
{
    for (size_t i = 0; i < d->n_shapes; i++) {
        const DtBox box = dt_lines_box(&d->shapes[i].outline);
        if (dt_box_is_empty(box) || !dt_box_is_empty(dt_box_intersect(box, d->view)))
            return FALSE;
    }
    return d->n_shapes > 0;
}

/* The reason may be in the notes of the drawing's reader, or in what became of its paints. */
gboolean dt_job_refuse_bare(const DtDrawing *d, const DtInkReport *colours, const char *art_path,
                            GError **error)
{
    GString *why = g_string_new(NULL);
    char *note;
    if (is_beside_page(d))
        g_string_append(
            why, _(": its shapes lie outside of its page: make the page larger, or move them"));
    append_paper_colours(why, colours);
    for (size_t i = 0; (note = dt_ink_report_note(colours, i)) != NULL; i++) {
        g_string_append_printf(why, "\n%s", note);
        g_free(note);
    }
    for (size_t i = 0; i < MIN(d->n_notes, MOST_NOTES); i++)
        g_string_append_printf(why, "\n%s:%d: %s", art_path, d->notes[i].line, d->notes[i].text);
    if (why->len == 0)
        g_string_append(why, d->n_shapes > 0 ? _(": what it paints looks like the paper")
                                             : _(": no shape in it is painted"));
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: nothing in it would put ink on the paper%s",
                art_path, why->str);
    g_string_free(why, TRUE);
    return FALSE;
}

void dt_job_init(DtJob *job)
{
    *job = (DtJob){0};
    dt_strokes_init(&job->strokes);
    dt_sequence_init(&job->sequence);
    dt_moves_init(&job->moves);
}

gboolean dt_job_draw(const DtProfile *p, const DtJobOptions *o, DtJob *job, GError **error)
{
    const DtInkOptions ink = dt_job_ink_options(p, o);
    dt_work_begin(DT_STAGE_INK);
    if (!dt_ink_trace(job->drawing, &p->rack, &ink, &job->strokes, &job->colours, error))
        return FALSE;
    if (job->strokes.n == 0)
        return TRUE;
    if (o->program_only && !(o->minutes > 0)) /* for the sake of a time limit it is traced again */
        dt_drawing_forget_shapes(job->drawing);
    dt_work_begin(DT_STAGE_ORDER);
    if (o->ink.picture == DT_PICTURE_TOUR && !dt_job_join_tours(p, o, &job->strokes, error))
        return FALSE;
    if (!dt_job_order(p, o, job, error))
        return FALSE;
    dt_work_begin(DT_STAGE_MOVES);
    return dt_job_move(p, job, error);
}

static gboolean plan(const DtProfile *p, const char *art_path, const DtJobOptions *o, DtJob *job,
                     GError **error)
{
    dt_work_begin(DT_STAGE_READ);
    job->drawing = dt_art_read(art_path, &o->art, error);
    if (job->drawing == NULL)
        return FALSE;
    if (!dt_machine_place(p, job->drawing, &o->placement, &job->placed, error))
        return FALSE;
    dt_art_place(job->drawing, job->placed);
    return dt_job_draw(p, o, job, error) &&
           (job->strokes.n > 0 ||
            dt_job_refuse_bare(job->drawing, &job->colours, art_path, error)) &&
           (!(o->minutes > 0) || dt_job_fit_budget(p, o, job, error));
}

gboolean dt_job_plan(const DtProfile *profile, const char *art_path, const DtJobOptions *o,
                     DtJob *job, DtWork *work, GError **error)
{
    g_autoptr(DtProfile) own = NULL;
    DtWork *before = dt_work_enter(work);
    dt_job_init(job);
    const gboolean good = plan(dt_job_profile(profile, o, &own), art_path, o, job, error);
    if (!good)
        dt_job_clear(job);
    dt_work_leave(before);
    return good;
}

gboolean dt_job_write_program(const DtProfile *profile, const DtJobOptions *o, const DtMoves *moves,
                              const char *path, DtWork *work, GError **error)
{
    const DtWriteOptions how = {.lacks_corrections = o && o->no_corrections};
    DtWork *before = dt_work_enter(work);
    dt_work_begin(DT_STAGE_WRITE);
    gsize len = 0;
    g_autofree char *text = dt_code_write_as(profile, moves, &how, &len, error);
    const gboolean good = text != NULL && dt_base_write_file(path, text, len, error);
    dt_work_leave(before);
    return good;
}

void dt_job_clear(DtJob *job)
{
    g_clear_pointer(&job->drawing, dt_drawing_free);
    dt_strokes_clear(&job->strokes);
    dt_ink_report_clear(&job->colours);
    dt_sequence_clear(&job->sequence);
    dt_moves_clear(&job->moves);
    dt_times_clear(&job->times);
}
