/* steps: slow changes of tone as even hatches side by side.
 *
 * Leaving out lines of a dense hatch makes gaps of a tip's width, few and far between where the tone is dark: the
 * eye sees each of them. Lines evenly spaced, with gaps as fine as the pen allows, look like the tone. */
#include "ink/fill/steps.h"

#include "ink/fill/fit.h"
#include "ink/fill/runs.h"

#include <math.h>

/* The shares of the even hatches, about 8 units of L* apart in black ink. The tones that are nearer to a lighter
 * share than to the first of these are thinned. */
static const double shares[] = {0.40, 0.50, 0.60, 0.70, 0.80, 0.87, 0.93, 0.97, 1.00};
enum { STEPS = G_N_ELEMENTS(shares) };
#define FIRST (1.5 * shares[0] - 0.5 * shares[1])

/* Mean change of the share per mm up to which a tone is slow: steps of 0.1 are then 2 mm wide. */
#define SLOW 0.05
/* It is sampled at places this far apart, over half this distance, in tips. */
#define SAMPLE_TIPS 4.0
/* The tone is looked at this often along a line, in tips; shorter runs are not drawn. */
#define PLACE_TIPS 0.5
/* Runs of adjacent lines are joined over this distance along them, in tips: the edge of a step may be aslant. */
#define REACH_TIPS 2.0

static double tone_at(const DtFillStyle *f, DtPoint p)
{
    return f->tone(p, f->tone_user);
}

static double change_at(const DtFillStyle *f, DtPoint p)
{
    const double d = SAMPLE_TIPS / 2 * f->tip, here = tone_at(f, p);
    return hypot(tone_at(f, dt_point(p.x + d, p.y)) - here,
                 tone_at(f, dt_point(p.x, p.y + d)) - here) /
           d;
}

gboolean dt_fill_is_slow_tone(const DtLines *inset, const DtFillStyle *f, double angle)
{
    const double step = SAMPLE_TIPS * f->tip;
    g_auto(DtHatching) h = {0};
    double sum = 0;
    size_t n = 0;
    if (!dt_hatch_lines(inset, DT_FILL_NONZERO, (DtHatchGrid){angle, step, 0}, &h, NULL))
        return FALSE;
    for (size_t i = 0; i < h.n; i++) {
        const double length = h.c[2 * i + 1].u - h.c[2 * i].u;
        const size_t m = (size_t)ceil(length / step);
        for (size_t k = 0; k < m; k++, n++) {
            DtCrossing c = h.c[2 * i];
            c.u += length * ((double)k + 0.5) / (double)m;
            sum += change_at(f, dt_hatch_point(&h, &c));
        }
    }
    return n > 0 && sum <= SLOW * (double)n;
}

/* What is drawn of a hatch: where the tone is at least `from` and less than `to`. */
typedef struct {
    const DtFillStyle *f;
    double from, to;
    DtLines *out;
} Step;

static void join(const DtHatching *h, const Step *s, const DtLines *runs, double reach)
{
    if (s->f->hatch == DT_HATCH_FASTEST && s->f->pitch <= s->f->tip)
        dt_fill_join_runs(runs, h->grid, h->band, reach, s->out);
    else
        dt_lines_append_lines(s->out, runs);
}

static double light_tone(DtPoint at, void *user)
{
    const Step *s = user;
    const double share = tone_at(s->f, at);
    return share < s->to ? share : 0;
}

static void draw_light(const DtHatching *h, const DtLines *piece, void *user)
{
    Step *s = user;
    g_auto(DtLines) runs;
    dt_lines_init(&runs);
    dt_fill_enter_piece(s->f, piece);
    dt_tone_thin(h, light_tone, s, s->f->tip * MAX(s->f->spread, 1), &runs);
    join(h, s, &runs, s->f->tip);
}

/* A run from a to b of an interval. Its round ends reach beyond it, but at the area's edge they stay inside. */
static void add_run(const DtHatching *h, size_t interval, double a, double b, double tip,
                    DtLines *out)
{
    DtCrossing from = h->c[2 * interval], to = h->c[2 * interval + 1];
    if (a > from.u)
        from.u = a + G_PI / 8 * tip;
    if (b < to.u)
        to.u = b - G_PI / 8 * tip;
    const DtPoint ends[2] = {dt_hatch_point(h, &from), dt_hatch_point(h, &to)};
    if (to.u - from.u >= PLACE_TIPS * tip)
        dt_lines_append(out, ends, 2, FALSE);
}

static gboolean is_in_step(const DtHatching *h, const Step *s, size_t interval, double u)
{
    DtCrossing c = h->c[2 * interval];
    c.u = u;
    const double share = tone_at(s->f, dt_hatch_point(h, &c));
    return share >= s->from && share < s->to;
}

static void add_interval(const DtHatching *h, const Step *s, size_t i, DtLines *runs)
{
    const double tip = s->f->tip, u0 = h->c[2 * i].u, length = h->c[2 * i + 1].u - u0;
    const size_t n = (size_t)MAX(ceil(length / (PLACE_TIPS * tip)), 1);
    double start = NAN;
    for (size_t k = 0; k < n; k++) {
        const double u = u0 + length * (double)k / (double)n;
        const gboolean in = is_in_step(h, s, i, u + length / (double)n / 2);
        if (in && isnan(start))
            start = u;
        if (in || isnan(start))
            continue;
        add_run(h, i, start, u, tip, runs);
        start = NAN;
    }
    if (!isnan(start))
        add_run(h, i, start, u0 + length, tip, runs);
}

static void draw_step(const DtHatching *h, const DtLines *piece, void *user)
{
    const Step *s = user;
    g_auto(DtLines) runs;
    dt_lines_init(&runs);
    dt_fill_enter_piece(s->f, piece);
    for (size_t i = 0; i < h->n; i++)
        add_interval(h, s, i, &runs);
    join(h, s, &runs, REACH_TIPS * s->f->tip);
}

gboolean dt_fill_tone_steps(const DtLines *inset, const DtFillStyle *f, double angle, DtLines *out,
                            GError **error)
{
    const double wide = f->tip * MAX(f->spread, 1);
    Step s = {f, -1, FIRST, out};
    if (!dt_hatch_pieces(inset, (DtHatchGrid){angle, f->pitch, 0}, DT_HATCH_SINGLE, DT_FIT_SHEET,
                         draw_light, &s, error))
        return FALSE;
    for (int i = 0; i < STEPS; i++) {
        const DtHatchBand band = {dt_fill_lines_in_band(shares[i]), wide};
        s.from = s.to;
        s.to = i + 1 < STEPS ? (shares[i] + shares[i + 1]) / 2 : G_MAXDOUBLE;
        if (!dt_hatch_pieces(inset, (DtHatchGrid){angle, band.n * wide / shares[i], 0}, band,
                             DT_FIT_SHEET, draw_step, &s, error))
            return FALSE;
    }
    return TRUE;
}
