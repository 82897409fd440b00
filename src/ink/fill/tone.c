/* tone: coverage by Murray and Davies, and hatches that vary. */
#include "ink/fill/tone.h"

#include "drawtrue/work.h"

#include <math.h>

/* Tones are told apart in this many steps, and repeat after so many lines. */
enum { STEPS = 32, STEP_BITS = 5 };

double dt_ink_coverage(DtColour colour, DtColour pen, DtColour paper)
{
    double y = dt_colour_luminance(dt_colour_over(colour, paper));
    double bare = dt_colour_luminance(paper), solid = dt_colour_luminance(pen);
    return bare > solid ? CLAMP((bare - y) / (bare - solid), 0, 1) : 1;
}

static double linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

static double encoded(double v)
{
    return v <= 0.0031308 ? v * 12.92 : 1.055 * pow(v, 1 / 2.4) - 0.055;
}

static double mix(double paper, double pen, double coverage)
{
    return encoded(linear(paper) * (1 - coverage) + linear(pen) * coverage);
}

DtColour dt_tone_mix(DtColour paper, DtColour pen, double coverage)
{
    return (DtColour){mix(paper.r, pen.r, coverage), mix(paper.g, pen.g, coverage),
                      mix(paper.b, pen.b, coverage), 1};
}

/* The coverage from which on a line is drawn: its number's bits reversed. */
static double threshold(int32_t line)
{
    uint32_t k = (uint32_t)line & (STEPS - 1), reversed = 0;
    for (int i = 0; i < STEP_BITS; i++, k >>= 1)
        reversed = reversed << 1 | (k & 1);
    return (reversed + 0.5) / STEPS;
}

typedef struct {
    const DtHatching *h;
    DtToneFunc tone;
    void *user;
    double least;
    DtLines *out;
} Thinner;

static void draw_run(const Thinner *t, int32_t line, double u0, double u1)
{
    if (u1 - u0 < t->least)
        return;
    DtCrossing a = {.u = u0, .line = line}, b = {.u = u1, .line = line};
    DtPoint ends[2] = {dt_hatch_point(t->h, &a), dt_hatch_point(t->h, &b)};
    dt_lines_append(t->out, ends, 2, FALSE);
}

static void thin_interval(const Thinner *t, int32_t line, double u0, double u1)
{
    double least = threshold(line), from = NAN, to = NAN;
    int n = MAX(1, (int)ceil((u1 - u0) / (t->least / 2)));
    for (int i = 0; i < n; i++) {
        double a = u0 + (u1 - u0) * i / n, b = u0 + (u1 - u0) * (i + 1) / n;
        DtCrossing c = {.u = (a + b) / 2, .line = line};
        if (t->tone(dt_hatch_point(t->h, &c), t->user) < least)
            continue;
        if (isnan(from)) {
            from = a;
        } else if (a - to > t->least) {
            draw_run(t, line, from, to);
            from = a;
        }
        to = b;
    }
    if (!isnan(from))
        draw_run(t, line, from, to);
}

void dt_tone_thin(const DtHatching *h, DtToneFunc tone, void *user, double least, DtLines *out)
{
    Thinner t = {h, tone, user, least, out};
    for (size_t i = 0; i < h->n && !dt_work_stopped(); i++)
        thin_interval(&t, h->c[2 * i].line, h->c[2 * i].u, h->c[2 * i + 1].u);
}
