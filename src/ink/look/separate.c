/* separate: shares of several pens by coordinate descent, kept for colours in 32 steps a channel. */
#include "ink/look/separate.h"

#include <math.h>
#include <string.h>

/* A further pen must reduce the mean difference by this much, or that and the error of light and shade together. */
#define FURTHER_PEN 3.0
/* The second of two pens at most, the mean difference. */
#define SECOND_PEN 1.5
/* And by this much more if neither is the best single pen: lines of two other hues show from near. */
#define OTHER_PENS 1.5
/* Colours by which pairs of pens are compared, and pairs that are then evaluated by all. */
enum { PAIR_COLOURS = 6, BEST_PAIRS = 4 };
/* Number of colours that are sampled to choose pens. */
enum { MOST_LOOKED = 48 };
/* More than any difference. */
#define MUCH 1e3
/* Shares are found to 1/256: halvings of the step, rounds over all pens. */
enum { ROUNDS = 10, CHANNEL_STEPS = 32 };

typedef struct {
    uint8_t known, share[DT_SEPARATION_MOST];
} Entry;

struct DtSeparation {
    const DtAppear *appear;
    int pen[DT_SEPARATION_MOST];
    unsigned n;
    DtSeparationRules rules;
    double difference, shade;
    /* L* of a black among the pens that no other ink makes deeper. 0: they do, as while pens are chosen: dark pictures would
     * have no colour at all. */
    double black;
    Entry *entries; /* CHANNEL_STEPS cubed */
};

static double difference_at(const DtSeparation *s, DtLab colour, const double *share)
{
    double light[3];
    dt_appear_light_of_many(s->appear, s->pen, share, s->n, light);
    const DtLab seen = dt_colour_lab_linear(light[0], light[1], light[2]);
    if (seen.l < s->black)
        return MUCH;
    return dt_colour_difference(colour, seen) +
           (s->rules.shades ? DT_APPEAR_LIGHTNESS_COUNTS * fabs(seen.l - colour.l) : 0);
}

/* As a function of one pen's share the difference has one minimum, or nearly: a coarse search,
 * then halvings. */
static double improve(const DtSeparation *s, DtLab colour, double *share, unsigned i, double best)
{
    double at = share[i];
    for (int k = 0; k <= 8; k++) {
        share[i] = k / 8.0;
        double d = difference_at(s, colour, share);
        if (d < best) {
            best = d;
            at = share[i];
        }
    }
    for (double step = 1.0 / 16; step > 1.0 / 300; step /= 2)
        for (int way = -1; way <= 1; way += 2) {
            share[i] = CLAMP(at + way * step, 0, 1);
            double d = difference_at(s, colour, share);
            if (d < best) {
                best = d;
                at = share[i];
            }
        }
    share[i] = at;
    return best;
}

/* How the pattern of one or two pens looks. */
static double pattern_from(const DtSeparation *s, DtLab colour, const double *share, gboolean near)
{
    DtRecipe r = {{s->pen[0], s->n > 1 && share[1] > 0 ? s->pen[1] : -1}, {share[0], share[1]}};
    if (share[0] <= 0) {
        r = (DtRecipe){{r.pen[1], -1}, {share[1], 0}};
        if (s->n < 2 || share[1] <= 0)
            r = DT_RECIPE_PAPER;
    }
    return dt_appear_tone_difference(s->appear, colour, r, s->rules.way, near);
}

static double pattern_at(const DtSeparation *s, DtLab colour, const double *share)
{
    return pattern_from(s, colour, share, s->rules.judge == DT_JUDGE_NEAR);
}

/* If it looks nearer from 40 cm, one of the pens covers everything. */
static void prefer_dense(const DtSeparation *s, DtLab colour, double *share)
{
    double least = pattern_at(s, colour, share);
    for (unsigned i = 0; i < s->n; i++) {
        double dense[DT_SEPARATION_MOST] = {0};
        dense[i] = 1;
        if (pattern_at(s, colour, dense) >= least)
            continue;
        least = pattern_at(s, colour, dense);
        memcpy(share, dense, sizeof dense);
    }
}

/* Where one pen's share can only improve together with another's: both at once, by smaller and
 * smaller steps. */
static double improve_both(const DtSeparation *s, DtLab colour, double *share, unsigned i,
                           unsigned k, double best)
{
    for (double step = 1.0 / 8; step > 1.0 / 300; step /= 2)
        for (int way = 0; way < 4; way++) {
            const double at[2] = {share[i], share[k]};
            share[i] = CLAMP(at[0] + (way & 1 ? step : -step), 0, 1);
            share[k] = CLAMP(at[1] + (way & 2 ? step : -step), 0, 1);
            const double d = difference_at(s, colour, share);
            if (d < best) {
                best = d;
                continue;
            }
            share[i] = at[0];
            share[k] = at[1];
        }
    return best;
}

/* The best of all pens in a few even shares: the difference has more than one minimum. */
static double begin(const DtSeparation *s, DtLab colour, double *share)
{
    const unsigned shares = s->n <= 2 ? 9 : s->n == 3 ? 5 : 3;
    unsigned all = 1;
    double best = G_MAXDOUBLE;
    for (unsigned i = 0; i < s->n; i++)
        all *= shares;
    for (unsigned at = 0; at < all; at++) {
        double tried[DT_SEPARATION_MOST] = {0};
        for (unsigned i = 0, left = at; i < s->n; i++, left /= shares)
            tried[i] = left % shares / (shares - 1.0);
        const double d = difference_at(s, colour, tried);
        if (d < best) {
            best = d;
            memcpy(share, tried, sizeof tried);
        }
    }
    return best;
}

static double solve(const DtSeparation *s, DtLab colour, double *share)
{
    double best = begin(s, colour, share);
    for (int round = 0; round < (s->n > 1 ? ROUNDS : 1); round++) {
        double before = best;
        for (unsigned i = 0; i < s->n; i++)
            best = improve(s, colour, share, i, best);
        for (unsigned i = 0; i < s->n; i++)
            for (unsigned k = i + 1; k < s->n; k++)
                best = improve_both(s, colour, share, i, k, best);
        if (before - best < 0.01)
            break;
    }
    if (s->rules.judge == DT_JUDGE_NEAR && s->n <= 2)
        prefer_dense(s, colour, share);
    return best;
}

/* With one or two pens the pattern counts; with more, the mean colour. */
static double look_at(const DtSeparation *s, DtLab colour, const double *share, double mean)
{
    return s->n > 2 ? mean : pattern_at(s, colour, share);
}

size_t dt_separation_step(size_t n)
{
    return MAX(n / MOST_LOOKED, (size_t)1);
}

static double lightness_of(const DtSeparation *s, const double *share)
{
    double light[3];
    dt_appear_light_of_many(s->appear, s->pen, share, s->n, light);
    return dt_colour_lab_linear(light[0], light[1], light[2]).l;
}

/* The error of light and shade: the standard deviation of L* of the ink from that of the colours. */
typedef struct {
    double sum, squares;
    size_t n;
} Shade;

static void add_shade(Shade *s, double l)
{
    s->sum += l;
    s->squares += l * l;
    s->n++;
}

static double shade_of(const Shade *s)
{
    const double n = (double)MAX(s->n, 1);
    return sqrt(MAX(s->squares / n - s->sum * s->sum / n / n, 0));
}

static double mean_difference(const DtSeparation *s, const DtColour *colours, size_t n,
                              double *shade)
{
    double sum = 0;
    Shade off = {0, 0, 0};
    const size_t step = dt_separation_step(n);
    for (size_t i = 0; i < n; i += step) {
        const DtLab colour = dt_colour_lab(colours[i]);
        double share[DT_SEPARATION_MOST], mean = solve(s, colour, share);
        sum += look_at(s, colour, share, mean);
        add_shade(&off, lightness_of(s, share) - colour.l);
    }
    *shade = s->rules.shades ? shade_of(&off) : 0;
    return sum / (double)MAX(off.n, 1);
}

int dt_separation_dense(const DtAppear *appear, const DtColour *colours, size_t n, gboolean shades,
                        double *difference)
{
    int best = -1;
    *difference = G_MAXDOUBLE;
    const size_t step = dt_separation_step(n);
    Shade off = {0, 0, 0};
    for (size_t i = 0; i < n && shades; i += step)
        add_shade(&off, dt_colour_lab(colours[i]).l);
    for (int pen = 0; pen < dt_appear_n_pens(appear); pen++) {
        double sum = 0;
        size_t count = 0;
        for (size_t i = 0; i < n; i += step, count++)
            sum += dt_colour_difference(dt_colour_lab(colours[i]),
                                        dt_appear_lab(appear, (DtRecipe){{pen, -1}, {1, 0}}));
        if (count > 0 && sum / (double)count < *difference) {
            *difference = sum / (double)count;
            best = pen;
        }
    }
    *difference += shade_of(&off);
    return best;
}

static gboolean is_chosen(const DtSeparation *s, int pen)
{
    for (unsigned i = 0; i < s->n; i++)
        if (s->pen[i] == pen)
            return TRUE;
    return FALSE;
}

/* Adds the pen that reduces the difference most; FALSE if none is worth it. */
static gboolean add_pen(DtSeparation *s, const DtColour *colours, size_t n)
{
    int best = -1;
    double bar = s->n == 0 ? G_MAXDOUBLE : s->difference + s->shade - FURTHER_PEN;
    const double most = s->n == 0 ? G_MAXDOUBLE : s->difference;
    double difference = 0, shade = 0;
    for (int pen = 0; pen < dt_appear_n_pens(s->appear); pen++) {
        if (is_chosen(s, pen))
            continue;
        double its_shade;
        s->pen[s->n++] = pen;
        const double its = mean_difference(s, colours, n, &its_shade);
        s->n--;
        if (its + its_shade >= bar || its >= most)
            continue;
        bar = its + its_shade;
        best = pen;
        difference = its;
        shade = its_shade;
    }
    if (best < 0)
        return FALSE;
    s->pen[s->n++] = best;
    s->difference = difference;
    s->shade = shade;
    return TRUE;
}

typedef struct {
    int pen[2];
    double rough; /* mean difference of a few colours, and what it costs by itself */
} Pair;

static void keep_pair(Pair *kept, Pair p)
{
    int i = BEST_PAIRS;
    for (; i > 0 && p.rough < kept[i - 1].rough; i--)
        kept[i] = kept[i - 1]; /* the last one drops out beyond the end */
    kept[i] = p;
}

static double rough_difference(const DtSeparation *s, const DtColour *colours, size_t n)
{
    const size_t m = MIN(n, PAIR_COLOURS);
    double sum = 0, share[DT_SEPARATION_MOST];
    for (size_t i = 0; i < m; i++)
        sum += begin(s, dt_colour_lab(colours[(2 * i + 1) * n / (2 * m)]), share);
    return m > 0 ? sum / (double)m : 0;
}

/* What two pens cost by themselves, beside the best single one. */
static double cost_of_pair(const int *pen, int single)
{
    return SECOND_PEN + (pen[0] == single || pen[1] == single ? 0 : OTHER_PENS);
}

/* The best pairs, about, the nearer pen of each first. One need not have the best single pen: greens are by blue and
 * yellow even where the rack has a grey. */
static void find_pairs(const DtSeparation *s, const DtColour *colours, size_t n, Pair *kept)
{
    const int n_pens = dt_appear_n_pens(s->appear);
    g_autofree double *alone = g_new(double, n_pens);
    DtSeparation tried = *s;
    for (int i = 0; i <= BEST_PAIRS; i++)
        kept[i].rough = G_MAXDOUBLE;
    for (int p = 0; p < n_pens; p++) {
        tried.n = 1;
        tried.pen[0] = p;
        alone[p] = p == s->pen[0] ? 0 : rough_difference(&tried, colours, n);
        tried.n = 2;
        for (int q = 0; q < p; q++) {
            tried.pen[0] = alone[p] < alone[q] ? p : q;
            tried.pen[1] = alone[p] < alone[q] ? q : p;
            const double rough =
                rough_difference(&tried, colours, n) + cost_of_pair(tried.pen, s->pen[0]);
            keep_pair(kept, (Pair){{tried.pen[0], tried.pen[1]}, rough});
        }
    }
}

/* Two pens instead of one, if that is worth it. */
static void take_pair(DtSeparation *s, const DtColour *colours, size_t n)
{
    Pair kept[BEST_PAIRS + 1];
    DtSeparation tried = *s, best = *s;
    double bar = s->difference;
    find_pairs(s, colours, n, kept);
    tried.n = 2;
    for (int i = 0; i < BEST_PAIRS && kept[i].rough < G_MAXDOUBLE; i++) {
        memcpy(tried.pen, kept[i].pen, sizeof kept[i].pen);
        tried.difference = mean_difference(&tried, colours, n, &tried.shade);
        const double cost = tried.difference + cost_of_pair(tried.pen, s->pen[0]);
        if (cost >= bar)
            continue;
        bar = cost;
        best = tried;
    }
    *s = best;
}

static double black_of(const DtSeparation *s)
{
    double black = 0;
    for (unsigned i = 0; i < s->n; i++) {
        const double own = dt_appear_lab(s->appear, (DtRecipe){{s->pen[i], -1}, {1, 0}}).l;
        if (own < DT_APPEAR_BLACK)
            black = MAX(black, own - 1e-6);
    }
    return black;
}

/* Drops pens that have no ink in any of the colours that is not laid over black only to make it deeper. */
static void drop_unused(DtSeparation *s, const DtColour *colours, size_t n)
{
    double most[DT_SEPARATION_MOST] = {0};
    const size_t step = dt_separation_step(n);
    unsigned kept = 0;
    for (size_t i = 0; i < n; i += step) {
        double share[DT_SEPARATION_MOST];
        solve(s, dt_colour_lab(colours[i]), share);
        for (unsigned k = 0; k < s->n; k++)
            most[k] = MAX(most[k], share[k]);
    }
    for (unsigned k = 0; k < s->n; k++)
        if (most[k] >= DT_RECIPE_LEAST || s->n == 1)
            s->pen[kept++] = s->pen[k];
    s->n = MAX(kept, MIN(s->n, 1));
}

DtSeparation *dt_separation_new(const DtAppear *appear, const DtColour *colours, size_t n,
                                DtSeparationRules rules)
{
    DtSeparation *s = g_new0(DtSeparation, 1);
    s->appear = appear;
    s->rules = rules;
    s->entries = g_new0(Entry, CHANNEL_STEPS * CHANNEL_STEPS * CHANNEL_STEPS);
    if (rules.asked >= 0) {
        s->pen[s->n++] = rules.asked;
        s->difference = mean_difference(s, colours, n, &s->shade);
        return s;
    }
    while (s->n < MIN(rules.most, DT_SEPARATION_MOST) && add_pen(s, colours, n))
        if (rules.most == 2 && !rules.shades) {
            take_pair(s, colours, n);
            break;
        }
    s->black = black_of(s);
    drop_unused(s, colours, n);
    if (rules.shades) /* light and shade in the dark parts of a picture are worth the ink */
        s->black = 0;
    s->difference = mean_difference(s, colours, n, &s->shade);
    return s;
}

double dt_separation_near(const DtSeparation *s, const DtColour *colours, size_t n)
{
    double sum = 0;
    Shade off = {0, 0, 0};
    for (size_t i = 0; i < n; i++) {
        const DtLab colour = dt_colour_lab(colours[i]);
        double share[DT_SEPARATION_MOST], mean = solve(s, colour, share);
        sum += s->n > 2 ? mean : pattern_from(s, colour, share, TRUE);
        add_shade(&off, lightness_of(s, share) - colour.l);
    }
    return (n ? sum / (double)n : 0) + (s->rules.shades ? shade_of(&off) : 0);
}

void dt_separation_free(DtSeparation *s)
{
    if (!s)
        return;
    g_free(s->entries);
    g_free(s);
}

unsigned dt_separation_n_pens(const DtSeparation *s)
{
    return s->n;
}

int dt_separation_pen(const DtSeparation *s, unsigned i)
{
    return s->pen[i];
}

double dt_separation_difference(const DtSeparation *s)
{
    return s->difference;
}

static unsigned step_of(double v)
{
    return (unsigned)CLAMP(lround(v * (CHANNEL_STEPS - 1)), 0, CHANNEL_STEPS - 1);
}

static const Entry *entry_at(DtSeparation *s, unsigned r, unsigned g, unsigned b)
{
    Entry *e = &s->entries[(r * CHANNEL_STEPS + g) * CHANNEL_STEPS + b];
    if (!e->known) {
        double share[DT_SEPARATION_MOST], k = 1.0 / (CHANNEL_STEPS - 1);
        solve(s, dt_colour_lab((DtColour){r * k, g * k, b * k, 1}), share);
        for (unsigned i = 0; i < s->n; i++)
            e->share[i] = (uint8_t)lround(share[i] * 255);
        e->known = 1;
    }
    return e;
}

/* Interpolated linearly along the channel's diagonal between the steps: greys, to which the eye
 * is most sensitive, have all their levels. */
double dt_separation_share(DtSeparation *s, unsigned i, DtColour c)
{
    unsigned at[3] = {step_of(c.r), step_of(c.g), step_of(c.b)};
    double v[3] = {c.r, c.g, c.b}, off = 0;
    for (int k = 0; k < 3; k++)
        off += v[k] * (CHANNEL_STEPS - 1) - at[k];
    off /= 3;
    double here = entry_at(s, at[0], at[1], at[2])->share[i];
    int way = off > 0 ? 1 : -1;
    for (int k = 0; k < 3; k++)
        if ((way < 0 && at[k] == 0) || (way > 0 && at[k] == CHANNEL_STEPS - 1))
            return here / 255;
    double next =
        entry_at(s, at[0] + (unsigned)way, at[1] + (unsigned)way, at[2] + (unsigned)way)->share[i];
    return (here + fabs(off) * (next - here)) / 255;
}
