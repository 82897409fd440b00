/* steps: slow changes of tone as even hatches side by side.
 *
 * Leaving out lines of a dense hatch makes gaps of a tip's width, few and far between where the tone is dark: the
 * eye sees each of them. Lines evenly spaced, with gaps as fine as the pen allows, look like the tone. */
#include "ink/fill/steps.h"

#include "drawtrue/work.h"
#include "ink/fill/fit.h"
#include "ink/fill/runs.h"
#include "ink/fill/trails.h"

#include <math.h>

/* The shares of the even hatches, about 4 units of L* apart in black ink while the gaps are wide enough; dark ones are
 * such that the gaps are narrow. */
static const double shares[] = {0.06, 0.08, 0.10, 0.13,  0.16,  0.20, 0.25, 0.31,
                                0.37, 0.43, 0.49, 0.55,  0.61,  0.67, 0.72, 0.77,
                                0.80, 0.83, 0.87, 0.905, 0.935, 0.95, 0.97, 1.00};
enum { STEPS = G_N_ELEMENTS(shares) };
/* Where the tone changes faster than this (per mm) only every second of the shares is used. */
#define FINE 0.0125
/* A step is at least this many of its pitches wide: there is none of lighter tones, which are thinned. */
#define LEAST_PITCHES 2.0

/* The tone is sampled at places this far apart, over half this distance, in tips. */
#define SAMPLE_TIPS 4.0
/* The tone is looked at this often along a line, in tips; shorter runs are not drawn. */
#define PLACE_TIPS 0.5

static double tone_at(const DtFillStyle *f, DtPoint p)
{
    return f->tone(p, f->tone_user);
}

gboolean dt_fill_tone_change(const DtLines *inset, const DtFillStyle *f, double angle,
                             DtToneChange *out)
{
    const double step = SAMPLE_TIPS * f->tip, d = step / 2;
    g_auto(DtHatching) h = {0};
    double sum = 0, xx = 0, xy = 0, yy = 0; /* the structure tensor (Foerstner and Guelch 1987) */
    size_t n = 0;
    *out = (DtToneChange){0, 0, 0};
    if (!dt_hatch_lines(inset, DT_FILL_NONZERO, (DtHatchGrid){angle, step, 0}, &h, NULL))
        return FALSE;
    for (size_t i = 0; i < h.n; i++) {
        const double length = h.c[2 * i + 1].u - h.c[2 * i].u;
        const size_t m = (size_t)ceil(length / step);
        for (size_t k = 0; k < m; k++, n++) {
            DtCrossing c = h.c[2 * i];
            c.u += length * ((double)k + 0.5) / (double)m;
            const DtPoint p = dt_hatch_point(&h, &c);
            const double here = tone_at(f, p), x = (tone_at(f, dt_point(p.x + d, p.y)) - here) / d,
                         y = (tone_at(f, dt_point(p.x, p.y + d)) - here) / d;
            sum += hypot(x, y);
            xx += x * x;
            xy += x * y;
            yy += y * y;
        }
    }
    const double twice = atan2(2 * xy, xx - yy), all = xx + yy;
    out->change = n > 0 ? sum / (double)n : 0;
    out->along = fmod(twice / 2 + 1.5 * G_PI, G_PI);
    out->coherence = all > 0 ? hypot(2 * xy, xx - yy) / all : 0;
    return n > 0;
}

/* What is drawn of a hatch: where the tone is at least `from` and less than `to`. */
typedef struct {
    const DtFillStyle *f;
    double from, to;
    double pitch; /* mean distance of lines, mm */
    int hatch;
    GArray *runs; /* DtTrailRun */
    DtLines *out; /* of what is thinned */
} Step;

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
    if (dt_fill_joins_runs(s->f))
        dt_fill_join_runs(&runs, h->grid, h->band, s->f->tip, s->out);
    else
        dt_lines_append_lines(s->out, &runs);
}

/* A run from a to b of an interval. */
static void add_run(const DtHatching *h, const Step *s, size_t interval, double a, double b)
{
    const DtCrossing *from = &h->c[2 * interval], *to = &h->c[2 * interval + 1];
    const DtPoint p = dt_hatch_point(h, from);
    const DtTrailRun run = {.hatch = s->hatch,
                            .line = from->line,
                            .u = {a, b},
                            .v = p.y * cos(h->grid.angle) - p.x * sin(h->grid.angle),
                            .pitch = s->pitch,
                            .open = {a > from->u, b < to->u}};
    if (b - a >= PLACE_TIPS * s->f->tip)
        g_array_append_val(s->runs, run);
}

static gboolean is_in_step(const DtHatching *h, const Step *s, size_t interval, double u)
{
    DtCrossing c = h->c[2 * interval];
    c.u = u;
    const double share = tone_at(s->f, dt_hatch_point(h, &c));
    return share >= s->from && share < s->to;
}

static void add_interval(const DtHatching *h, const Step *s, size_t i)
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
        add_run(h, s, i, start, u);
        start = NAN;
    }
    if (!isnan(start))
        add_run(h, s, i, start, h->c[2 * i + 1].u);
}

static void draw_step(const DtHatching *h, const DtLines *piece, void *user)
{
    Step *s = user;
    dt_fill_enter_piece(s->f, piece);
    s->hatch++;
    for (size_t i = 0; i < h->n && !dt_work_stopped(); i++)
        add_interval(h, s, i);
}

/* The first share that is used, of every `by`-th. */
static int first_share(const DtToneChange *change, int by, double wide)
{
    int i = (STEPS - 1) % by;
    while (i + by < STEPS &&
           shares[i + by] - shares[i] < LEAST_PITCHES * wide / shares[i] * change->change)
        i += by;
    return i;
}

gboolean dt_fill_tone_steps(const DtLines *inset, const DtFillStyle *f, double angle,
                            const DtToneChange *change, DtLines *out, GError **error)
{
    const double wide = f->tip * MAX(f->spread, 1);
    g_autoptr(GArray) runs = g_array_new(FALSE, FALSE, sizeof(DtTrailRun));
    const int by = change->change > FINE ? 2 : 1, first = first_share(change, by, wide);
    Step s = {f, -1, shares[first], f->pitch, 0, runs, out};
    if (first + by < STEPS)
        s.to -= (shares[first + by] - shares[first]) / 2;
    if (!dt_hatch_pieces(inset, (DtHatchGrid){angle, f->pitch, 0}, DT_HATCH_SINGLE, DT_FIT_SHEET,
                         draw_light, &s, error))
        return FALSE;
    for (int i = first; i < STEPS; i += by) {
        const DtHatchBand band = {dt_fill_lines_in_band(shares[i]), wide};
        const int next = i + by;
        s.from = s.to;
        s.to = next < STEPS ? (shares[i] + shares[next]) / 2 : G_MAXDOUBLE;
        s.pitch = wide / shares[i];
        if (!dt_hatch_pieces(inset, (DtHatchGrid){angle, band.n * s.pitch, 0}, band, DT_FIT_SHEET,
                             draw_step, &s, error))
            return FALSE;
    }
    dt_trails_draw(runs, inset, angle, f->tip, dt_fill_joins_runs(f), out);
    return TRUE;
}
