/* appear: the look of hatches, by tables of their blurred patterns. */
#include "ink/fill/fill.h"
#include "ink/look/appear-tables.h"
#include "ink/look/patterns.h"

#include <string.h>

/* About two units of L* of a black pen apart. */
static const double levels[] = {0.06, 0.07, 0.09, 0.11, 0.13, 0.15, 0.18, 0.21, 0.24, 0.28,
                                0.32, 0.36, 0.40, 0.44, 0.48, 0.52, 0.55, 0.58, 0.61, 0.64,
                                0.67, 0.70, 0.72, 0.74, 0.76, 0.78, 0.80, 0.83, 0.85, 0.87,
                                0.89, 0.90, 0.92, 0.93, 0.95, 0.96, 0.97, 1.00};
G_STATIC_ASSERT(G_N_ELEMENTS(levels) == LEVELS);
/* Of two pens, before they are refined. */
static const double pair_levels[] = {0.13, 0.28, 0.44, 0.64, 0.83, 1.00};
/* A dense area whose difference is larger by no more than this is preferred to a pattern of single lines, and to one of
 * bands, which do not take less time. */
#define DENSE_BONUS 1.0
#define DENSE_OVER_BANDS 0.4
/* A second pen's lines, which take longer, must reduce the difference by this much. */
#define SECOND_PEN 0.8
/* And by so much more where neither pen is dense: the ends of the lines would show along the edge. */
#define BOTH_OPEN 0.3
/* The mean difference of a pattern can be below that of its mean colour by about this. */
#define CURVATURE 0.5
/* The difference of a pattern from 40 cm from its own mean counts so much where that of two pens is estimated. */
#define ROUGH_COUNTS 0.5
/* The smaller a shape is, the more of it is edge, where the ends of lines show: the mean difference of a pattern from
 * its own mean, from 40 cm, counts so much more, times the least coverage that shows the shape. */
#define EDGE_COUNTS 0.8
/* A pen that covers this much is nearly dense. */
#define HARDLY_A_GAP 0.9
/* Number of pairs of pens that are evaluated exactly. */
enum { BEST_PAIRS = 6 };
/* Levels of the first step by which a pair is refined. */
enum { PAIR_STEP = 4 };

/* The standard deviation of the blur at a sample, and its number among those from its distance. */
static double distance_of(int sample, int *i, int *n)
{
    const gboolean near = sample < NEAR_SAMPLES;
    *i = near ? sample : sample - NEAR_SAMPLES;
    *n = near ? NEAR_SAMPLES : FAR_SAMPLES;
    return near ? NEAR : FAR;
}

static DtLab lab_of_share(const DtAppear *a, size_t pen, double share)
{
    double light[3];
    mix_light(a->paper_light, a->light[pen], share, a->gain[pen], light);
    return lab_of(light);
}

/* The mean over the sample points of one pen's open hatch from one distance. */
static double one_pen_part(const DtAppear *a, DtLab colour, int pen, int level, gboolean near)
{
    const int n = near ? NEAR_SAMPLES : FAR_SAMPLES;
    const DtLab *seen = a->seen[pen][level] + (near ? 0 : NEAR_SAMPLES);
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += dt_colour_difference(colour, seen[i]) / n;
    return sum;
}

static void make_tables(DtAppear *a, size_t pen)
{
    const double tip = a->rack->pens[pen].tip;
    for (int level = 0; level < LEVELS; level++) {
        const double band = tip * dt_fill_lines_in_band(levels[level]);
        for (int k = 0; k < SAMPLES; k++) {
            int i, n;
            const double sigma = distance_of(k, &i, &n);
            a->share[pen][level][k] = dt_pattern_hatch(i, n, levels[level], band, sigma);
            a->seen[pen][level][k] = lab_of_share(a, pen, a->share[pen][level][k]);
        }
        a->mean[pen][level] = lab_of_share(a, pen, levels[level]);
        a->rough[pen][level] =
            level < LEVELS - 1 ? one_pen_part(a, a->mean[pen][level], (int)pen, level, TRUE) : 0;
    }
}

static void make_tone_tables(DtAppear *a, size_t pen, DtToneWay way)
{
    const double tip = a->rack->pens[pen].tip;
    for (int step = 0; step <= TONE_STEPS; step++)
        for (int k = 0; k < SAMPLES; k++) {
            int i, n;
            const double sigma = distance_of(k, &i, &n);
            const double share = dt_pattern_tone(i, n, (double)step / TONE_STEPS, tip, sigma, way);
            a->tone_share[pen][way][step][k] = share;
            a->tone_seen[pen][way][step][k] = lab_of_share(a, pen, share);
        }
}

/* Measured, or multiplied. */
static void measure_overprints(DtAppear *a)
{
    const size_t n = a->rack->n;
    for (size_t p = 0; p < n; p++)
        for (size_t q = 0; q < n; q++) {
            double *both = a->over[p * n + q];
            DtColour measured;
            if (p == q) {
                memcpy(both, a->light[p], sizeof a->light[p]);
                continue;
            }
            if (dt_rack_overprint(a->rack, p, q, &measured)) {
                light_of(measured, both);
                continue;
            }
            for (int c = 0; c < 3; c++) {
                const double paper = a->paper_light[c];
                both[c] = a->light[p][c] * (paper > 0 ? MIN(a->light[q][c] / paper, 1) : 1);
            }
        }
}

DtAppear *dt_appear_new(const DtRack *rack, DtColour paper)
{
    DtAppear *a = g_new0(DtAppear, 1);
    a->rack = rack;
    a->paper = paper;
    light_of(paper, a->paper_light);
    a->paper_lab = lab_of(a->paper_light);
    a->light = g_malloc0(rack->n * sizeof *a->light);
    a->lab = g_new(DtLab, rack->n);
    a->gain = g_new(double, rack->n);
    a->over = g_malloc0(rack->n * rack->n * sizeof *a->over);
    a->share = g_malloc0(rack->n * sizeof *a->share);
    a->seen = g_malloc0(rack->n * sizeof *a->seen);
    a->mean = g_malloc0(rack->n * sizeof *a->mean);
    a->rough = g_malloc0(rack->n * sizeof *a->rough);
    a->tone_share = g_malloc0(rack->n * sizeof *a->tone_share);
    a->tone_seen = g_malloc0(rack->n * sizeof *a->tone_seen);
    for (size_t i = 0; i < rack->n; i++) {
        light_of(rack->pens[i].colour, a->light[i]);
        a->lab[i] = lab_of(a->light[i]);
        a->gain[i] = MAX(rack->pens[i].dot_gain, 1);
        make_tables(a, i);
        make_tone_tables(a, i, DT_TONE_THINNED);
        make_tone_tables(a, i, DT_TONE_EVEN);
    }
    measure_overprints(a);
    a->known = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
    a->lines = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
    return a;
}

void dt_appear_free(DtAppear *a)
{
    if (!a)
        return;
    g_free(a->light);
    g_free(a->lab);
    g_free(a->gain);
    g_free(a->over);
    g_free(a->share);
    g_free(a->seen);
    g_free(a->mean);
    g_free(a->rough);
    g_free(a->tone_share);
    g_free(a->tone_seen);
    g_hash_table_unref(a->known);
    g_hash_table_unref(a->lines);
    g_free(a);
}

/* Neugebauer's equations in the space of Yule and Nielsen, of two pens by their overprint as measured, of more
 * with all inks multiplied. */
static double channel_of_two(const DtAppear *a, const int *pen, const double *share, int c)
{
    const double n = MAX(a->gain[pen[0]], a->gain[pen[1]]), s = share[0], t = share[1];
    const double light[4] = {a->paper_light[c], a->light[pen[0]][c], a->light[pen[1]][c],
                             a->over[(size_t)pen[0] * a->rack->n + (size_t)pen[1]][c]};
    const double part[4] = {(1 - s) * (1 - t), s * (1 - t), (1 - s) * t, s * t};
    double sum = 0;
    for (int i = 0; i < 4; i++)
        sum += part[i] * (n == 1 ? light[i] : pow(light[i], 1 / n));
    return n == 1 ? sum : pow(sum, n);
}

void dt_appear_light_of_many(const DtAppear *a, const int *pen, const double *share, size_t n,
                             double light[3])
{
    if (n == 2) {
        for (int c = 0; c < 3; c++)
            light[c] = channel_of_two(a, pen, share, c);
        return;
    }
    memcpy(light, a->paper_light, sizeof a->paper_light);
    for (size_t i = 0; i < n; i++) {
        double alone[3];
        mix_light(a->paper_light, a->light[pen[i]], share[i], a->gain[pen[i]], alone);
        for (int c = 0; c < 3; c++)
            light[c] *= a->paper_light[c] > 0 ? MIN(alone[c] / a->paper_light[c], 1) : 1;
    }
}

/* Reflected light of a place where two pens cover shares independently of one another. */
static void two_inks(const DtAppear *a, int p, double sp, int q, double sq, double *light)
{
    dt_appear_light_of_many(a, (int[2]){p, q}, (double[2]){sp, sq}, 2, light);
}

void dt_appear_light(const DtAppear *a, DtRecipe r, double light[3])
{
    if (r.pen[0] < 0)
        memcpy(light, a->paper_light, sizeof a->paper_light);
    else if (r.pen[1] < 0)
        mix_light(a->paper_light, a->light[r.pen[0]], r.share[0], a->gain[r.pen[0]], light);
    else
        two_inks(a, r.pen[0], r.share[0], r.pen[1], r.share[1], light);
}

DtLab dt_appear_lab(const DtAppear *a, DtRecipe r)
{
    double light[3];
    dt_appear_light(a, r, light);
    return lab_of(light);
}

DtLab dt_appear_opaque_lab(const DtAppear *a, DtRecipe r)
{
    DtColour measured;
    if (r.pen[0] < 0 || r.pen[1] < 0 || r.pen[0] == r.pen[1] ||
        dt_rack_overprint(a->rack, (size_t)r.pen[0], (size_t)r.pen[1], &measured))
        return dt_appear_lab(a, r);
    const int top = a->lab[r.pen[1]].l < a->lab[r.pen[0]].l ? 1 : 0;
    const int pen[2] = {r.pen[1 - top], r.pen[top]}; /* from below */
    double light[3];
    memcpy(light, a->paper_light, sizeof light);
    for (int i = 0; i < 2; i++)
        mix_light(light, a->light[pen[i]], r.share[i == 0 ? 1 - top : top], a->gain[pen[i]], light);
    return lab_of(light);
}

/* Differences -------------------------------------------------------------------------------- */

static int level_of(double share)
{
    int best = 0;
    for (int k = 1; k < LEVELS; k++)
        if (fabs(levels[k] - share) < fabs(levels[best] - share))
            best = k;
    return best;
}

static double lightness_off(DtLab colour, DtLab mean)
{
    return DT_APPEAR_LIGHTNESS_COUNTS * fabs(colour.l - mean.l);
}

/* Of ink without a pattern. */
static double even_difference(DtLab colour, DtLab ink)
{
    return dt_colour_difference(colour, ink) + lightness_off(colour, ink);
}

static double one_pen(const DtAppear *a, DtLab colour, int pen, int level)
{
    if (level == LEVELS - 1)
        return even_difference(colour, a->lab[pen]);
    return NEAR_COUNTS * one_pen_part(a, colour, pen, level, TRUE) +
           (1 - NEAR_COUNTS) * one_pen_part(a, colour, pen, level, FALSE) +
           lightness_off(colour, a->mean[pen][level]);
}

/* The mean over sample points of one pen's pattern and of the other's. */
static double two_pen_part(const DtAppear *a, DtLab colour, const int *pen, const int *level,
                           int from, int to)
{
    double sum = 0;
    int n = 0;
    for (int i = from; i < to; i++)
        for (int k = from; k < to; k++, n++) {
            double light[3];
            two_inks(a, pen[0], a->share[pen[0]][level[0]][i], pen[1],
                     a->share[pen[1]][level[1]][k], light);
            sum += dt_colour_difference(colour, lab_of(light));
        }
    return sum / n;
}

static double two_pens(const DtAppear *a, DtLab colour, const int *pen, const int *level)
{
    const DtRecipe r = {{pen[0], pen[1]}, {levels[level[0]], levels[level[1]]}};
    return NEAR_COUNTS * two_pen_part(a, colour, pen, level, 0, NEAR_SAMPLES) +
           (1 - NEAR_COUNTS) * two_pen_part(a, colour, pen, level, NEAR_SAMPLES, SAMPLES) +
           lightness_off(colour, dt_appear_lab(a, r));
}

double dt_appear_difference(const DtAppear *a, DtLab colour, DtRecipe r)
{
    if (r.pen[0] < 0)
        return even_difference(colour, a->paper_lab);
    int level[2] = {level_of(r.share[0]), level_of(r.share[1])};
    return r.pen[1] < 0 ? one_pen(a, colour, r.pen[0], level[0])
                        : two_pens(a, colour, r.pen, level);
}

double dt_appear_near_difference(const DtAppear *a, DtLab colour, DtRecipe r)
{
    if (r.pen[0] < 0)
        return dt_colour_difference(colour, a->paper_lab);
    const int level[2] = {level_of(r.share[0]), level_of(r.share[1])};
    if (r.pen[1] >= 0)
        return two_pen_part(a, colour, r.pen, level, 0, NEAR_SAMPLES);
    return one_pen_part(a, colour, r.pen[0], level[0], TRUE);
}

static int tone_step(double share)
{
    return (int)CLAMP(lround(share * TONE_STEPS), 0, TONE_STEPS);
}

/* The mean over sample points of the patterns of one or two tones. */
static double tone_part(const DtAppear *a, DtLab colour, DtRecipe r, DtToneWay way, int from,
                        int to)
{
    const int step[2] = {tone_step(r.share[0]), tone_step(r.share[1])};
    double sum = 0;
    int n = 0;
    for (int i = from; i < to && r.pen[1] < 0; i++, n++)
        sum += dt_colour_difference(colour, a->tone_seen[r.pen[0]][way][step[0]][i]);
    for (int i = from; i < to && r.pen[1] >= 0; i++)
        for (int k = from; k < to; k++, n++) {
            double light[3];
            two_inks(a, r.pen[0], a->tone_share[r.pen[0]][way][step[0]][i], r.pen[1],
                     a->tone_share[r.pen[1]][way][step[1]][k], light);
            sum += dt_colour_difference(colour, lab_of(light));
        }
    return sum / n;
}

double dt_appear_tone_difference(const DtAppear *a, DtLab colour, DtRecipe r, DtToneWay way,
                                 gboolean near)
{
    if (r.pen[0] < 0)
        return dt_colour_difference(colour, a->paper_lab);
    const double from_near = tone_part(a, colour, r, way, 0, NEAR_SAMPLES);
    return near ? from_near
                : NEAR_COUNTS * from_near +
                      (1 - NEAR_COUNTS) * tone_part(a, colour, r, way, NEAR_SAMPLES, SAMPLES);
}

double dt_appear_dense_difference(const DtAppear *a, DtLab colour)
{
    const double bare = dt_colour_difference(colour, a->paper_lab);
    double least = bare <= DT_APPEAR_NEARLY_WHITE ? bare : G_MAXDOUBLE;
    for (size_t i = 0; i < a->rack->n; i++)
        least = MIN(least, dt_colour_difference(colour, a->lab[i]));
    return least;
}

void dt_appear_bound_near(DtAppear *a)
{
    a->near_bound = TRUE;
    g_hash_table_remove_all(a->known);
}

gboolean dt_appear_is_too_far(const DtAppear *a, DtLab colour, DtRecipe r)
{
    return a->near_bound &&
           dt_appear_near_difference(a, colour, r) > dt_appear_dense_difference(a, colour);
}

int dt_appear_n_pens(const DtAppear *a)
{
    return (int)a->rack->n;
}

double dt_appear_next_share(double share, int way)
{
    int k = level_of(share) + way;
    return k < 0 || k >= LEVELS ? 0 : levels[k];
}

/* Choosing ----------------------------------------------------------------------------------- */

typedef struct {
    DtRecipe r;
    double cost;
} Best;

static void take(Best *best, DtRecipe r, double cost)
{
    if (cost < best->cost)
        *best = (Best){r, cost};
}

static gboolean may_hatch(const DtAppear *a, DtAppearLimits l, int pen)
{
    return !l.flat && (l.hatch < 0 || l.hatch == pen || (l.greys && is_grey(a->lab[pen])));
}

static double bonus_of(int level)
{
    return level == LEVELS - 1                        ? DENSE_BONUS
           : dt_fill_lines_in_band(levels[level]) > 1 ? DENSE_BONUS - DENSE_OVER_BANDS
                                                      : 0;
}

/* What a pen's lines cost by themselves. */
static double cost_of_level(const DtAppear *a, DtAppearLimits l, int pen, int level)
{
    return EDGE_COUNTS * l.least * a->rough[pen][level] - bonus_of(level);
}

static gboolean may_cover(const DtAppear *a, DtAppearLimits l, int pen, int level)
{
    return (l.only < 0 || l.only == pen) &&
           (level == LEVELS - 1 || (may_hatch(a, l, pen) && levels[level] >= l.least));
}

static void try_level(const DtAppear *a, DtLab colour, DtAppearLimits l, int pen, int level,
                      Best *best)
{
    const DtRecipe r = {{pen, -1}, {levels[level], 0}};
    if (level == LEVELS - 1 || !dt_appear_is_too_far(a, colour, r))
        take(best, r, one_pen(a, colour, pen, level) + cost_of_level(a, l, pen, level));
}

/* The one with the best mean first, then those whose mean is no worse than that: the difference of a pattern is hardly
 * below that of its mean colour. */
static void try_one_pen(const DtAppear *a, DtLab colour, DtAppearLimits l, Best *best)
{
    const int n = (int)a->rack->n * LEVELS;
    g_autofree double *mean = g_new(double, n);
    int first = -1;
    for (int i = 0; i < n; i++) {
        const int pen = i / LEVELS, level = i % LEVELS;
        mean[i] = G_MAXDOUBLE;
        if (!may_cover(a, l, pen, level))
            continue;
        mean[i] = even_difference(colour, a->mean[pen][level]) + cost_of_level(a, l, pen, level);
        if (first < 0 || mean[i] < mean[first])
            first = i;
    }
    if (first >= 0)
        try_level(a, colour, l, first / LEVELS, first % LEVELS, best);
    for (int i = 0; i < n; i++)
        if (mean[i] < best->cost + CURVATURE)
            try_level(a, colour, l, i / LEVELS, i % LEVELS, best);
}

typedef struct {
    int pen[2], level[2];
    double cost; /* estimated */
} Pair;

static void keep_pair(Pair *kept, Pair p)
{
    int i = BEST_PAIRS;
    while (i > 0 && p.cost < kept[i - 1].cost)
        i--;
    if (i == BEST_PAIRS)
        return;
    memmove(kept + i + 1, kept + i, (size_t)(BEST_PAIRS - 1 - i) * sizeof *kept);
    kept[i] = p;
}

static gboolean may_cross(const DtAppear *a, DtAppearLimits l, int p, int q)
{
    return p != q && (p == l.second || may_hatch(a, l, p)) && (q == l.second || may_hatch(a, l, q));
}

/* A lighter ink over or under a dense darker one, or one with hardly a gap, for a grey, and over or under any lines of a
 * black for whatever paint: it makes the black slightly deeper, for twice the time, and its hue is not seen. */
static gboolean only_darkens(const DtAppear *a, DtAppearLimits l, DtRecipe r)
{
    const int k = a->lab[r.pen[1]].l < a->lab[r.pen[0]].l ? 1 : 0;
    const double darkest = a->lab[r.pen[k]].l;
    return (darkest < DT_APPEAR_BLACK || (l.hatch >= 0 && r.share[k] >= HARDLY_A_GAP)) &&
           dt_appear_lab(a, r).l < darkest;
}

static DtRecipe recipe_of(Pair p)
{
    return (DtRecipe){{p.pen[0], p.pen[1]}, {levels[p.level[0]], levels[p.level[1]]}};
}

static gboolean may_be_pair(const DtAppear *a, DtAppearLimits l, Pair p)
{
    const DtRecipe r = recipe_of(p);
    return p.level[1] < LEVELS - 1 && r.share[0] >= l.least && r.share[1] >= l.least &&
           !only_darkens(a, l, r);
}

static double distance_between(DtLab a, DtLab b)
{
    return sqrt((a.l - b.l) * (a.l - b.l) + (a.a - b.a) * (a.a - b.a) + (a.b - b.b) * (a.b - b.b));
}

/* The mean difference of the pattern of one of two pens from its own mean: the less, the less its lines differ from what
 * is between them, which the other pen has inked. */
static double rough_of_one(const DtAppear *a, Pair p, int k)
{
    const int pen = p.pen[k], other = p.pen[1 - k];
    const double rough = a->rough[pen][p.level[k]];
    if (rough <= 0)
        return 0;
    double light[3];
    two_inks(a, other, levels[p.level[1 - k]], pen, 1, light);
    const double alone = distance_between(a->paper_lab, a->lab[pen]);
    const double over = distance_between(a->mean[other][p.level[1 - k]], lab_of(light));
    return alone > over ? rough * over / alone : rough;
}

/* Of both patterns together, about. */
static double rough_of(const DtAppear *a, Pair p)
{
    return hypot(rough_of_one(a, p, 0), rough_of_one(a, p, 1));
}

/* What two pens cost by themselves. */
static double cost_of_pair(const DtAppear *a, DtAppearLimits l, Pair p)
{
    return SECOND_PEN + (p.level[0] < LEVELS - 1 ? BOTH_OPEN : 0) +
           EDGE_COUNTS * l.least * rough_of(a, p);
}

/* The cost of a pair, about. */
static double estimate(const DtAppear *a, DtLab colour, DtAppearLimits l, Pair p)
{
    const double mean = even_difference(colour, dt_appear_lab(a, recipe_of(p)));
    return hypot(mean, ROUGH_COUNTS * rough_of(a, p)) + cost_of_pair(a, l, p);
}

/* A pen's lines a few levels up or down, as long as that improves the estimate, by smaller and smaller steps. */
static void refine(const DtAppear *a, DtLab colour, DtAppearLimits l, Pair *p)
{
    for (int step = PAIR_STEP; step > 0; step /= 2)
        for (int way = 0; way < 4; way++) {
            Pair next = *p;
            int *level = &next.level[way / 2];
            *level += way % 2 ? step : -step;
            if (*level < 0 || *level > LEVELS - 1 || !may_be_pair(a, l, next))
                continue;
            next.cost = estimate(a, colour, l, next);
            if (next.cost >= p->cost)
                continue;
            *p = next;
            way = -1;
        }
}

static Pair best_of_pair(const DtAppear *a, DtLab colour, DtAppearLimits l, int p, int q)
{
    const int m = (int)G_N_ELEMENTS(pair_levels);
    Pair best = {.cost = G_MAXDOUBLE};
    for (int i = 0; i < m; i++)
        for (int k = 0; k < m - 1 && k <= i; k++) {
            Pair pair = {{p, q}, {level_of(pair_levels[i]), level_of(pair_levels[k])}, 0};
            if (!may_be_pair(a, l, pair))
                continue;
            pair.cost = estimate(a, colour, l, pair);
            if (pair.cost < best.cost)
                best = pair;
        }
    return best;
}

static void try_two_pens(const DtAppear *a, DtLab colour, DtAppearLimits l, Best *best)
{
    Pair kept[BEST_PAIRS + 1];
    for (int i = 0; i <= BEST_PAIRS; i++)
        kept[i].cost = G_MAXDOUBLE;
    int n = (int)a->rack->n;
    for (int p = 0; p < n; p++)
        for (int q = 0; q < n; q++)
            if (may_cross(a, l, p, q))
                keep_pair(kept, best_of_pair(a, colour, l, p, q));
    for (int i = 0; i < BEST_PAIRS && kept[i].cost < G_MAXDOUBLE; i++) {
        refine(a, colour, l, &kept[i]);
        const DtRecipe r = recipe_of(kept[i]);
        if (!dt_appear_is_too_far(a, colour, r))
            take(best, r,
                 two_pens(a, colour, kept[i].pen, kept[i].level) + cost_of_pair(a, l, kept[i]));
    }
}

static gint64 *pack(DtLab c, DtAppearLimits l)
{
    gint64 key = (gint64)lround(c.l * 2) * 1024 * 1024 + (gint64)lround(c.a * 2 + 512) * 1024 +
                 (gint64)lround(c.b * 2 + 512);
    key = key * 64 + l.only + 1;
    key = key * 64 + l.hatch + 1;
    key = key * 64 + l.second + 1;
    key = key * 32 + (gint64)lround(l.least * 31);
    key = key * 2 + (l.greys ? 1 : 0);
    return g_memdup2(&(gint64){key * 4 + (l.flat ? 2 : 0) + (l.two_pens ? 1 : 0)}, sizeof key);
}

DtRecipe dt_appear_choose(DtAppear *a, DtLab colour, DtAppearLimits l)
{
    gint64 *key = pack(colour, l);
    const DtRecipe *known = g_hash_table_lookup(a->known, key);
    if (known) {
        g_free(key);
        return *known;
    }
    Best best = {DT_RECIPE_PAPER, G_MAXDOUBLE};
    if (l.only < 0)
        take(&best, DT_RECIPE_PAPER, even_difference(colour, a->paper_lab));
    try_one_pen(a, colour, l, &best);
    if (l.two_pens && !l.flat && l.only < 0 && best.cost > SECOND_PEN)
        try_two_pens(a, colour, l, &best);
    g_hash_table_insert(a->known, key, g_memdup2(&best.r, sizeof best.r));
    return best.r;
}
