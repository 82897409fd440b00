/* dot-gain: what the steps of a pen's tone scale tell: the n of Yule and Nielsen (1951), by eye and by a scan. */
#include "drawtrue/ink.h"
#include "truing/solve/solve.h"

#include <math.h>

enum { MOST_STEPS = 16 };
static const double two_sided_95 = 1.96;
static const double known_sd = 1; /* a larger uncertainty tells nothing */
/* Of a step's light: how evenly a pen covers, and how near the eye's or the scanner's scale of tones is to light. */
static const double light_sd = 0.01;
/* Of a step's pitch, as a share: the sheet is drawn without corrections, and a pulley off centre and a scale that is not
 * right change it by so much from place to place. */
static const double pitch_sd = 0.02;

/* What steps of a pen show: the share that each covers, and the light that it reflects. */
typedef struct {
    double share[MOST_STEPS], light[MOST_STEPS], sd[MOST_STEPS]; /* sd: of the light */
    size_t n;
    double ink; /* light of dense ink; of paper it is 1 */
} Steps;

/* By how much n changes with what each step shows, times its uncertainty, squared and added (GUM 5.1.2). A step's
 * share in n is that of least squares, dR / sum of dR^2, R being its light by the model and dR its change with n: so
 * steps that are lighter than any n has them leave n as uncertain as others do. */
static double sd_of(const Steps *s, double n)
{
    const double step = 0.002;
    double changes[MOST_STEPS], squares = 0, sum = 0;
    for (size_t i = 0; i < s->n; i++) {
        changes[i] = (dt_ink_hatch_light(s->share[i], 1, s->ink, n + step) -
                      dt_ink_hatch_light(s->share[i], 1, s->ink, n)) /
                     step;
        squares += changes[i] * changes[i];
    }
    for (size_t i = 0; i < s->n && squares > 0; i++) {
        const double uneven = pitch_sd * s->share[i] * (1 - s->ink);
        sum += pow(changes[i] / squares, 2) *
               (s->sd[i] * s->sd[i] + light_sd * light_sd + uneven * uneven);
    }
    return squares > 0 ? sqrt(sum) : INFINITY;
}

static void tell(const DtProfile *p, int pen, const Steps *s, DtFigures *out)
{
    const double n = dt_ink_fit_dot_gain(s->share, s->light, s->n, 1, s->ink);
    if (n == 0)
        return;
    DtFigure f = {.kind = DT_ERROR_OF_DOT_GAIN,
                  .axis = -1,
                  .pen = pen,
                  .at = NAN,
                  .value = n,
                  .sd = sd_of(s, n)};
    f.known = f.sd < known_sd;
    f.proposed = f.known && fabs(n - MAX(p->rack.pens[pen].dot_gain, 1)) > two_sided_95 * f.sd;
    dt_figures_add(out, &f);
}

/* The pen's line as the profile will have it. */
static double tip_of(const DtProfile *p, int pen, const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == DT_ERROR_OF_TIP_WIDTH && f->f[i].pen == pen && f->f[i].proposed)
            return f->f[i].value;
    return p->rack.pens[pen].tip;
}

/* Between steps by interpolation. */
static double share_at(const DtTestSheet *s, int pen, double place, double tip)
{
    const int low = (int)floor(place);
    const double a = dt_sheet_tone_share(s, pen, low, tip);
    return place > low ? a + (place - low) * (dt_sheet_tone_share(s, pen, low + 1, tip) - a) : a;
}

void dt_tell_tone_seen(const DtProfile *p, const DtTestSheet *s, int pen, double place, double sd,
                       DtFigures *out)
{
    const double tip = tip_of(p, pen, out), white = 1;
    const double ink = dt_colour_luminance(p->rack.pens[pen].colour);
    const double bars = dt_sheet_tone_share(s, pen, 0, tip), share = share_at(s, pen, place, tip),
                 beside = share_at(s, pen, place > 1 ? place - 1 : place + 1, tip);
    if (bars <= 0 || share <= 0 || beside <= 0)
        return;
    /* half of what lies between two steps, as light of the bars: at n = 1 the share itself */
    const Steps steps = {.share = {share},
                         .light = {white - bars * (white - ink)},
                         .sd = {sd * fabs(share - beside) * (white - ink)},
                         .n = 1,
                         .ink = ink};
    tell(p, pen, &steps, out);
}

void dt_tell_tones(const DtModel *m, DtFigures *out)
{
    for (int pen = 0; pen < (int)m->p->rack.n; pen++) {
        const double tip = tip_of(m->p, pen, out);
        double dense = 0, n_dense = 0;
        Steps steps = {.n = 0};
        for (int place = 0; place < MOST_STEPS; place++) {
            double light = 0, sd = 0, n = 0;
            for (int k = 0; k < m->n_scans; k++)
                for (size_t i = 0; i < m->e->scans[k]->n_tones; i++) {
                    const DtSeenTone *t = &m->e->scans[k]->tones[i];
                    if (t->pen != pen || t->place != place)
                        continue;
                    light += t->light;
                    sd += t->sd * t->sd;
                    n++;
                }
            if (n == 0)
                continue;
            if (place == 0) {
                dense = light;
                n_dense = n;
                continue;
            }
            steps.share[steps.n] = dt_sheet_tone_share(m->e->sheet, pen, place, tip);
            steps.light[steps.n] = light / n;
            steps.sd[steps.n++] = sqrt(sd) / n;
        }
        if (n_dense == 0 || steps.n == 0)
            continue;
        steps.ink = dense / n_dense;
        tell(m->p, pen, &steps, out);
    }
}
