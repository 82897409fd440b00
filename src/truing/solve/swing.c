/* swing: see swing.h. */
#include "truing/solve/swing.h"

#include <math.h>
#include <string.h>

enum { MOST_STEPS = 64, LEAST_SEEN = 5, LEAST_CORNERS = 16, ROWS = 4 };
static const double stands_out = 4.5;
static const double least_sd_share =
    0.08; /* the nib's width rounds swings off, the shorter ones more */
static const double lowest_hz = 15, highest_hz = 80, finer = 1.05;
static const double dampings[] = {0.05, 0.1, 0.2};
static const double off_mm = 0.8,
                    shift_step_mm = 0.02; /* of a stroke along itself: slack, scale, twist */

/* One stroke as it was commanded, by the coordinates along and across it. */
typedef struct {
    double along[MOST_STEPS + 1], across[MOST_STEPS + 1];
    int n;              /* corners, the run-up's and the run-out's ends left out */
    double speed, jump; /* mm/s */
} Stroke;

typedef struct {
    double u, left; /* mm: along from the corner; what is left of a straight line */
} Seen;

/* What was seen of one step in one scan. */
typedef struct {
    int corner;      /* which one of the axis; several scans of the same ink share it */
    gboolean starts; /* the axis starts there; otherwise it stops */
    guint first, n;
} Piece;

typedef struct {
    GArray *seen, *pieces;
    int corners;
    double step_s, speed, jump;
} Corners;

static gboolean load_stroke(const DtTestSheet *s, int axis, int row, Stroke *out)
{
    *out = (Stroke){.n = 0};
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind != DT_MARK_SWING || m->axis != axis || m->row != row || m->place == 0 ||
            out->n > MOST_STEPS)
            continue;
        out->along[out->n] = axis == 0 ? m->from.y : m->from.x;
        out->across[out->n++] = axis == 0 ? m->from.x : m->from.y;
        if (m->place == 1) {
            const DtPoint d = dt_point_sub(m->to, m->from);
            out->speed = m->feed_mm_s * fabs(axis == 0 ? d.y : d.x) / hypot(d.x, d.y);
            out->jump = m->feed_mm_s * fabs(axis == 0 ? d.x : d.y) / hypot(d.x, d.y);
        }
    }
    return out->n > 2 && out->speed > 0 && out->jump > 0;
}

/* Which step `along` is in; -1: none. */
static int step_of(const Stroke *k, double along)
{
    for (int i = 0; i + 1 < k->n; i++)
        if (along >= k->along[i] && along < k->along[i + 1])
            return i;
    return -1;
}

static double commanded(const Stroke *k, int i, double along)
{
    const double f = (along - k->along[i]) / (k->along[i + 1] - k->along[i]);
    return k->across[i] + f * (k->across[i + 1] - k->across[i]);
}

/* The deviation of v from its straight line over x, in place; the sum of its squares. */
static double straighten(const double *x, double *v, guint n)
{
    double mx = 0, mv = 0, xx = 0, xv = 0, sum = 0;
    for (guint i = 0; i < n; i++) {
        mx += x[i] / n;
        mv += v[i] / n;
    }
    for (guint i = 0; i < n; i++) {
        xx += (x[i] - mx) * (x[i] - mx);
        xv += (x[i] - mx) * (v[i] - mv);
    }
    for (guint i = 0; i < n; i++) {
        v[i] -= mv + (xx > 0 ? xv / xx : 0) * (x[i] - mx);
        sum += v[i] * v[i];
    }
    return sum;
}

/* What one scan shows of a stroke. */
typedef struct {
    double *along, *across, *x, *v; /* x, v: scratch */
    guint n;
} Line;

static void load_line(Line *l, const DtScan *scan, int axis, int row)
{
    *l = (Line){.along = g_new(double, scan->n_swings + 1),
                .across = g_new(double, scan->n_swings + 1),
                .x = g_new(double, scan->n_swings + 1),
                .v = g_new(double, scan->n_swings + 1)};
    for (size_t i = 0; i < scan->n_swings; i++) {
        const DtSwingSeen *seen = &scan->swings[i];
        if (seen->axis != axis || seen->row != row)
            continue;
        l->along[l->n] = seen->along;
        l->across[l->n++] = seen->across;
    }
}

static void clear_line(Line *l)
{
    g_free(l->along);
    g_free(l->across);
    g_free(l->x);
    g_free(l->v);
}

/* The mean square of what is seen from `low` to `high` against the commanded stroke moved along by `shift`. */
static double against(const Stroke *k, Line *l, double low, double high, double shift)
{
    guint n = 0;
    for (guint i = 0; i < l->n; i++) {
        const double at = l->along[i] + shift;
        const int step = l->along[i] < low || l->along[i] > high ? -1 : step_of(k, at);
        if (step < 0)
            continue;
        l->x[n] = at;
        l->v[n++] = l->across[i] - commanded(k, step, at);
    }
    return n >= LEAST_SEEN ? straighten(l->x, l->v, n) / n : G_MAXDOUBLE;
}

/* How far the stroke lies along itself at a step, by the corners around it: slack, scale and twist move all of it,
 * and a pulley off centre not every part alike. */
static double shift_at(const Stroke *k, Line *l, int step)
{
    enum { AROUND = 2 };
    const double low = k->along[MAX(step - AROUND, 0)],
                 high = k->along[MIN(step + 1 + AROUND, k->n - 1)];
    double best = G_MAXDOUBLE, shift = 0;
    for (double by = -off_mm + shift_step_mm; by < off_mm; by += shift_step_mm) {
        const double off = against(k, l, low - by, high - by, by);
        if (off < best) {
            best = off;
            shift = by;
        }
    }
    return shift;
}

static void add_piece(Corners *c, const Stroke *k, Line *l, int step, double clear_mm)
{
    const double shift = shift_at(k, l, step);
    Piece piece = {c->corners + step, step % 2 == 0, c->seen->len, 0};
    for (guint i = 0; i < l->n; i++) {
        const double at = l->along[i] + shift;
        if (at < k->along[step] + clear_mm || at > k->along[step + 1] - clear_mm)
            continue;
        const Seen s = {at - k->along[step], l->across[i] - commanded(k, step, at)};
        g_array_append_val(c->seen, s);
    }
    piece.n = c->seen->len - piece.first;
    if (piece.n >= LEAST_SEEN)
        g_array_append_val(c->pieces, piece);
    else
        g_array_set_size(c->seen, piece.first);
}

static void take_stroke(Corners *c, const DtEvidence *e, const Stroke *k, int axis, int row,
                        double tip)
{
    /* so near to a corner the nib's round edge makes the middle of the ink another than the nib's */
    const double clear_mm = tip / 2 * k->jump / k->speed + 0.03;
    for (size_t s = 0; s < e->n_scans; s++) {
        Line l;
        load_line(&l, e->scans[s], axis, row);
        for (int step = 0; step + 1 < k->n; step++)
            add_piece(c, k, &l, step, clear_mm);
        clear_line(&l);
    }
    c->corners += k->n - 1;
    c->step_s = (k->along[1] - k->along[0]) / k->speed;
    c->speed = k->speed;
    c->jump = k->jump;
}

/* The deviation of the carriage t after its drive has jumped to a speed lower by one, and by turns up and down every
 * `step_s` before: x'' + 2 z w x' + w^2 x = 0, x(0) = 0, x'(0) = 1 for each jump, all added; in units of 1 / w. */
static double swing_at(double hz, double z, double t, double step_s)
{
    enum { BEFORE = 10 };
    const double w = 2 * G_PI * hz, damped = w * sqrt(1 - z * z);
    double sum = 0;
    for (int k = 0; k < BEFORE; k++) {
        const double since = t + k * step_s;
        sum += (k % 2 ? -1 : 1) * exp(-z * w * since) * sin(damped * since);
    }
    return sum;
}

/* The size of such a swing over all corners, and its standard uncertainty. */
static double size_of(const Corners *c, double hz, double z, double *sd)
{
    g_autofree double *gv = g_new0(double, c->corners + 1), *gg = g_new0(double, c->corners + 1);
    double sum_gv = 0, sum_gg = 0, squares = 0, n = 0;
    for (guint i = 0; i < c->pieces->len; i++) {
        const Piece *p = &g_array_index(c->pieces, Piece, i);
        g_autofree double *x = g_new(double, p->n), *g = g_new(double, p->n),
                          *v = g_new(double, p->n);
        for (guint j = 0; j < p->n; j++) {
            const Seen *s = &g_array_index(c->seen, Seen, p->first + j);
            x[j] = s->u;
            v[j] = s->left;
            g[j] = (p->starts ? -1 : 1) * swing_at(hz, z, s->u / c->speed, c->step_s);
        }
        straighten(x, v, p->n);
        gg[p->corner] += straighten(x, g, p->n);
        for (guint j = 0; j < p->n; j++)
            gv[p->corner] += g[j] * v[j];
    }
    for (int i = 0; i < c->corners; i++) {
        sum_gv += gv[i];
        sum_gg += gg[i];
        n += gg[i] > 0;
    }
    const double size = sum_gg > 0 ? sum_gv / sum_gg : 0;
    for (int i = 0; i < c->corners; i++)
        squares += (gv[i] - size * gg[i]) * (gv[i] - size * gg[i]);
    *sd = n > 1 && sum_gg > 0 ? sqrt(squares * n / (n - 1)) / sum_gg : G_MAXDOUBLE;
    return size;
}

/* The size over its uncertainty, by the damping that suits it best. */
static double clearest(const Corners *c, double hz, double *sd)
{
    double best = 0;
    *sd = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(dampings); i++) {
        double one_sd;
        const double size = size_of(c, hz, dampings[i], &one_sd);
        best = MAX(best, size / one_sd);
        *sd = MAX(*sd, one_sd);
    }
    return best;
}

static void search(const Corners *c, DtSwing *out)
{
    enum { MOST = 64 };
    double t[MOST], best = 0;
    int n = 0;
    for (double hz = lowest_hz; hz <= highest_hz && n < MOST; hz *= finer, n++) {
        double sd;
        t[n] = clearest(c, hz, &sd);
        if (t[n] > best)
            out->hz = hz;
        best = MAX(best, t[n]);
        out->sd = MAX(out->sd, sd);
    }
    if (best < stands_out) {
        out->hz = 0;
        return;
    }
    /* as far as the squares are explained almost as well: by one less */
    double low = out->hz, high = out->hz, hz = lowest_hz;
    for (int i = 0; i < n; i++, hz *= finer)
        if (t[i] * t[i] > best * best - 1) {
            low = MIN(low, hz);
            high = MAX(high, hz);
        }
    out->size = c->jump / (2 * G_PI * out->hz);
    out->sd = out->size * MAX((high - low) / (2 * out->hz), least_sd_share);
}

void dt_find_swing(const DtEvidence *e, const DtProfile *p, int axis, DtSwing *out)
{
    Corners c = {.seen = g_array_new(FALSE, FALSE, sizeof(Seen)),
                 .pieces = g_array_new(FALSE, FALSE, sizeof(Piece))};
    Stroke k;
    *out = (DtSwing){0};
    for (int row = 0; row < ROWS; row++)
        if (load_stroke(e->sheet, axis, row, &k))
            take_stroke(&c, e, &k, axis, row, p->rack.pens[0].tip);
    gboolean seen[MOST_STEPS * ROWS] = {FALSE};
    int corners = 0;
    for (guint i = 0; i < c.pieces->len; i++)
        seen[g_array_index(c.pieces, Piece, i).corner] = TRUE;
    for (int i = 0; i < c.corners; i++)
        corners += seen[i];
    out->drawn = corners >= LEAST_CORNERS;
    if (out->drawn)
        search(&c, out);
    g_array_unref(c.seen);
    g_array_unref(c.pieces);
}
