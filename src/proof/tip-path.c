/* tip-path: the path of the pen tip over the paper, and each pen's share of it. */
#include "proof/private.h"

static void add_travel(DtProofTrace *t, DtPoint from, DtPoint to, double t0, double t1)
{
    DtProofTravel travel = {from, to, t0, t1};
    if (dt_point_distance(from, to) > 1e-6)
        g_array_append_val(t->travels, travel);
}

/* A program from elsewhere may name more pens than the rack has. */
static void begin_run(DtProofTrace *t, const DtProfile *p, uint16_t pen, DtPoint at)
{
    if (pen >= p->rack.n)
        pen = (uint16_t)(p->rack.n - 1);
    dt_lines_begin(&t->ink);
    dt_lines_point(&t->ink, at);
    g_array_append_val(t->pen, pen);
}

static void trace_moves(DtProofTrace *t, const DtProfile *p, const DtMoves *m, const double *at_s)
{
    DtPoint at = dt_machine_ink_at(p, dt_point(0, 0));
    gboolean down = FALSE;
    double now = 0;
    for (size_t i = 0; i < m->n; i++) {
        const DtMove *move = &m->m[i];
        double then = at_s ? at_s[i] : 0;
        switch (move->kind) {
        case DT_MOVE_PEN_DOWN:
            if (!down)
                begin_run(t, p, move->pen, at);
            down = TRUE;
            break;
        case DT_MOVE_PEN_UP:
            down = FALSE;
            break;
        case DT_MOVE_TRAVEL:
        case DT_MOVE_DRAW:
        case DT_MOVE_SLACK:
            if (!down)
                add_travel(t, at, move->ink, now, then);
            else if (dt_point_distance(at, move->ink) > 1e-9)
                dt_lines_point(&t->ink, move->ink);
            at = move->ink;
            break;
        case DT_MOVE_HOME:
        case DT_MOVE_PEN_CHANGE: /* another tip, which may be elsewhere in the holder */
        case DT_MOVE_TURN_PAPER:
        case DT_MOVE_END:
            at = move->ink;
            break;
        }
        now = then;
    }
}

static void trace_sequence(DtProofTrace *t, const DtProfile *p, const DtSequence *s)
{
    DtPoint at = dt_machine_ink_at(p, dt_point(0, 0));
    for (size_t i = 0; i < s->n; i++) {
        const DtPolyline *r = &s->polylines[i];
        if (r->n == 0)
            continue;
        if (i && s->polylines[i - 1].pen != r->pen) {
            DtPoint change = dt_machine_ink_at(p, p->change_at);
            add_travel(t, at, change, 0, 0);
            at = change;
        }
        if (r->has_run_in) {
            add_travel(t, at, r->run_in, 0, 0);
            at = r->run_in;
        }
        add_travel(t, at, s->pts[r->first], 0, 0);
        begin_run(t, p, r->pen, s->pts[r->first]);
        for (size_t k = 1; k < r->n; k++)
            dt_lines_point(&t->ink, s->pts[r->first + k]);
        at = s->pts[r->first + r->n - 1];
    }
    add_travel(t, at, dt_machine_ink_at(p, p->park), 0, 0);
}

void dt_proof_trace(DtProofTrace *t, const DtProofInput *in)
{
    dt_lines_init(&t->ink);
    t->pen = g_array_new(FALSE, FALSE, sizeof(uint16_t));
    t->travels = g_array_new(FALSE, FALSE, sizeof(DtProofTravel));
    if (in->moves)
        trace_moves(t, in->profile, in->moves, in->times ? in->times->at_s : NULL);
    else if (in->sequence)
        trace_sequence(t, in->profile, in->sequence);
    t->box = dt_lines_box(&t->ink);
}

void dt_proof_trace_clear(DtProofTrace *t)
{
    dt_lines_clear(&t->ink);
    g_array_unref(t->pen);
    g_array_unref(t->travels);
}

/* A planned program states which of its moves only take up slack. One that was read does not: those
 * in which the tip hardly follows the axes. */
static gboolean is_slack(const DtMove *m, DtPoint at, DtPoint sent, gboolean stated)
{
    return m->kind == DT_MOVE_SLACK ||
           (!stated && dt_point_distance(at, m->ink) < 0.01 * dt_point_distance(sent, m->to));
}

void dt_proof_pens(const DtProfile *p, const DtMoves *m, const DtTimes *times, DtProofPen *pens)
{
    for (size_t i = 0; i < p->rack.n; i++)
        pens[i] = (DtProofPen){0};
    DtPoint at = dt_machine_ink_at(p, dt_point(0, 0)), sent = {0, 0};
    const gboolean stated = times && times->slack_s > 0;
    gboolean down = FALSE;
    double now = 0;
    size_t turns = 0;
    for (size_t i = 0; i < m->n; i++) {
        const DtMove *move = &m->m[i];
        DtProofPen *pen = &pens[MIN(move->pen, p->rack.n - 1)];
        double then = times && times->at_s ? times->at_s[i] : 0, took = then - now;
        now = then;
        switch (move->kind) {
        case DT_MOVE_PEN_DOWN:
            pen->strokes += !down;
            if (pen->turn == 0)
                pen->turn = ++turns;
            pen->lift_s += took;
            down = TRUE;
            break;
        case DT_MOVE_PEN_UP:
            pen->lift_s += took;
            down = FALSE;
            break;
        case DT_MOVE_TRAVEL:
        case DT_MOVE_DRAW:
        case DT_MOVE_SLACK:
            *(is_slack(move, at, sent, stated) ? &pen->slack_s
              : down                           ? &pen->ink_s
                                               : &pen->travel_s) += took;
            pen->ink_mm += down ? dt_point_distance(at, move->ink) : 0;
            break;
        case DT_MOVE_HOME:
        case DT_MOVE_PEN_CHANGE:
        case DT_MOVE_TURN_PAPER:
        case DT_MOVE_END:
            break;
        }
        at = move->ink;
        sent = move->to;
    }
}

size_t dt_proof_pen_order(const DtProofPen *pens, size_t n, size_t *order)
{
    size_t drawing = 0;
    for (size_t i = 0; i < n; i++)
        if (pens[i].turn > 0) {
            order[pens[i].turn - 1] = i;
            drawing++;
        }
    return drawing;
}
