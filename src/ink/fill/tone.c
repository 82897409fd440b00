/* tone: coverage by Murray and Davies, and hatches that vary. */
#include "ink/fill/tone.h"

#include "drawtrue/work.h"

#include <math.h>

double dt_ink_coverage(DtColour colour, DtColour pen, DtColour paper)
{
    double y = dt_colour_luminance(dt_colour_over(colour, paper));
    double bare = dt_colour_luminance(paper), solid = dt_colour_luminance(pen);
    return bare > solid ? CLAMP((bare - y) / (bare - solid), 0, 1) : 1;
}

static double mix(double paper, double pen, double coverage)
{
    return dt_colour_encoded(dt_colour_linear(paper) * (1 - coverage) +
                             dt_colour_linear(pen) * coverage);
}

DtColour dt_tone_mix(DtColour paper, DtColour pen, double coverage)
{
    return (DtColour){mix(paper.r, pen.r, coverage), mix(paper.g, pen.g, coverage),
                      mix(paper.b, pen.b, coverage), 1};
}

/* Thinning ----------------------------------------------------------------------------------
 * Line after line, every place along it owes what was asked for since the last ink beside it, and a line
 * is drawn where half a tip is owed: an error diffusion (Floyd and Steinberg 1976) across the lines. An
 * even tone so has evenly spaced lines, whatever its share, and no ink is lost or made. */

/* Places along a line, in tips. */
#define BIN_TIPS 0.5
/* The error is averaged over this many places to either side before the decision, and a line in
 * progress continues until the error is slightly smaller, so that runs are long. */
enum { SMOOTH = 4 };
#define HOLD 0.2
/* How much of a difference flows from a place to the next, line by line. */
#define LEVEL 0.2

typedef struct {
    const DtHatching *h;
    DtToneFunc tone;
    void *user;
    double tip, bin, u0;
    size_t n_bins;
    double *owed; /* mm, by place */
    double *sum;  /* scratch: running sums */
    DtLines *out;
} Thinner;

static void draw_run(const Thinner *t, int32_t line, double u0, double u1)
{
    DtCrossing a = {.u = u0, .line = line}, b = {.u = u1, .line = line};
    DtPoint ends[2] = {dt_hatch_point(t->h, &a), dt_hatch_point(t->h, &b)};
    dt_lines_append(t->out, ends, 2, FALSE);
}

static size_t bin_of(const Thinner *t, double u)
{
    return MIN((size_t)MAX((u - t->u0) / t->bin, 0), t->n_bins - 1);
}

/* A stretch of a line, and the part of it that is drawn. */
typedef struct {
    int32_t line;
    double u0, u1;
} Interval;

/* Draws from a to b. The error there is reduced by the ink, including what the round ends cover;
 * those at the region's edge cover the strip before which the lines stop. */
static void pay(const Thinner *t, const Interval *in, double a, double b)
{
    draw_run(t, in->line, a, b);
    if (a > in->u0)
        a -= G_PI / 8 * t->tip;
    if (b < in->u1)
        b += G_PI / 8 * t->tip;
    for (size_t i = bin_of(t, a); i <= bin_of(t, b); i++) {
        double from = t->u0 + (double)i * t->bin, covered = MIN(b, from + t->bin) - MAX(a, from);
        t->owed[i] -= t->tip * MAX(covered, 0) / t->bin;
    }
}

/* Whether the places around number i, from..to being those of the interval, have accumulated
 * half a line. */
static gboolean owes_line(const Thinner *t, size_t i, size_t from, size_t to, gboolean drawing)
{
    size_t a = i >= from + SMOOTH ? i - SMOOTH : from, b = MIN(i + SMOOTH, to) + 1;
    double bar = t->tip * (0.5 + (drawing ? -HOLD : HOLD));
    return t->sum[b] - t->sum[a] >= bar * (double)(b - a);
}

/* What is decided by averages is subtracted by averages: otherwise the errors of neighbours
 * would drift apart without limit. */
static void level(const Thinner *t, size_t from, size_t to)
{
    double before = t->owed[from];
    for (size_t i = from; i < to; i++) {
        double flow = LEVEL * (before - t->owed[i + 1]);
        before = t->owed[i + 1];
        t->owed[i] -= flow;
        t->owed[i + 1] += flow;
    }
}

static void thin_interval(const Thinner *t, int32_t line, double u0, double u1)
{
    size_t from = bin_of(t, u0), to = bin_of(t, u1);
    const Interval in = {line, u0, u1};
    double least = t->tip, start = NAN, end = NAN;
    for (size_t i = from; i <= to; i++) {
        DtCrossing c = {.u = CLAMP(t->u0 + ((double)i + 0.5) * t->bin, u0, u1), .line = line};
        t->owed[i] += t->h->grid.pitch * CLAMP(t->tone(dt_hatch_point(t->h, &c), t->user), 0, 1);
    }
    level(t, from, to);
    t->sum[from] = 0;
    for (size_t i = from; i <= to; i++)
        t->sum[i + 1] = t->sum[i] + t->owed[i];
    gboolean drawing = FALSE;
    for (size_t i = from; i <= to; i++) {
        drawing = owes_line(t, i, from, to, drawing);
        if (!drawing)
            continue;
        double a = MAX(u0, t->u0 + (double)i * t->bin), b = MIN(u1, a + t->bin);
        if (isnan(start)) {
            start = a;
        } else if (a - end > least) {
            if (end - start >= least)
                pay(t, &in, start, end);
            start = a;
        }
        end = b;
    }
    if (!isnan(start) && (end - start >= least))
        pay(t, &in, start, end);
}

void dt_tone_thin(const DtHatching *h, DtToneFunc tone, void *user, double tip, DtLines *out)
{
    Thinner t = {.h = h, .tone = tone, .user = user, .tip = tip, .bin = tip * BIN_TIPS, .out = out};
    double u1 = -G_MAXDOUBLE;
    t.u0 = G_MAXDOUBLE;
    for (size_t i = 0; i < h->n; i++) {
        t.u0 = MIN(t.u0, h->c[2 * i].u);
        u1 = MAX(u1, h->c[2 * i + 1].u);
    }
    if (h->n == 0)
        return;
    t.bin = MAX(t.bin, (u1 - t.u0) / 1e6);
    t.n_bins = (size_t)((u1 - t.u0) / t.bin) + 1;
    t.owed = g_new0(double, t.n_bins + 1);
    t.sum = g_new(double, t.n_bins + 2);
    for (size_t i = 0; i < h->n && !dt_work_stopped(); i++)
        thin_interval(&t, h->c[2 * i].line, h->c[2 * i].u, h->c[2 * i + 1].u);
    g_free(t.owed);
    g_free(t.sum);
}
