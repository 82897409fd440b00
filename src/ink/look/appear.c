/* appear: the look of hatches, by tables of their blurred patterns. */
#include "ink/look/appear.h"

#include <math.h>
#include <string.h>

/* Standard deviations of the eye's luminance blur on the paper, mm, from 40 cm and from 2 m (the
 * narrow Gaussian of S-CIELAB, Zhang and Wandell 1997), and the weight of each. */
#define NEAR 0.14
#define FAR 0.70
#define NEAR_COUNTS 0.55
/* Sample points across half a pattern. */
enum { NEAR_SAMPLES = 12, FAR_SAMPLES = 5, SAMPLES = NEAR_SAMPLES + FAR_SAMPLES };
/* The shares that are tried. */
static const double levels[] = {0.06, 0.075, 0.09, 0.11, 0.13, 0.155, 0.18, 0.21, 0.24, 0.28, 0.32,
                                0.36, 0.40,  0.45, 0.50, 0.55, 0.60,  0.65, 0.70, 0.75, 0.80, 1.00};
enum { LEVELS = G_N_ELEMENTS(levels) };
/* Of tones. */
enum { TONE_STEPS = 20 };
/* Of two pens. */
static const int pair_levels[] = {3, 6, 9, 12, 15, 18, 21};
/* A dense area whose difference is larger by no more than this is preferred to a pattern. */
#define DENSE_BONUS 1.0
/* A second pen must reduce the difference by this much. */
#define SECOND_PEN 2.0
/* Number of pairs of pens that are evaluated exactly. */
enum { BEST_PAIRS = 6 };

struct DtAppear {
    const DtRack *rack;
    DtColour paper;
    double paper_light[3];
    DtLab paper_lab;
    double (*light)[3];               /* of each pen */
    double *gain;                     /* its n of Yule and Nielsen */
    double (*over)[3];                /* of each two pens: light of both inks */
    DtLab *lab;                       /* the same */
    double (*share)[LEVELS][SAMPLES]; /* of each pen: local coverage of its blurred lines */
    DtLab (*seen)[LEVELS][SAMPLES];
    /* The same of hatches whose share changes from place to place, in steps of 1/TONE_STEPS. */
    double (*tone_share)[TONE_STEPS + 1][SAMPLES];
    DtLab (*tone_seen)[TONE_STEPS + 1][SAMPLES];
    gboolean near_bound;
    GHashTable *known; /* of colours and limits -> DtRecipe */
    GHashTable *lines; /* of lines' colours, widths and pens -> double: their differences */
};

static void light_of(DtColour c, double out[3])
{
    out[0] = dt_colour_linear(c.r);
    out[1] = dt_colour_linear(c.g);
    out[2] = dt_colour_linear(c.b);
}

/* Coverage at x from the centre of a line of width w, of blurred lines a period apart. */
static double blurred_share(double x, double w, double period, double sigma)
{
    double sum = 0, reach = 4 * sigma + w;
    int n = (int)ceil(reach / period) + 1;
    for (int k = -n; k <= n; k++) {
        double d = x - k * period, s = sigma * G_SQRT2;
        sum += (erf((d + w / 2) / s) - erf((d - w / 2) / s)) / 2;
    }
    return MIN(sum, 1);
}

/* After Murray and Davies, and Yule and Nielsen where n > 1. */
static void mix_light(const double *paper, const double *ink, double share, double n, double *out)
{
    for (int c = 0; c < 3; c++)
        out[c] = n == 1 ? paper[c] * (1 - share) + ink[c] * share
                        : pow(pow(paper[c], 1 / n) * (1 - share) + pow(ink[c], 1 / n) * share, n);
}

static DtLab lab_of(const double *light)
{
    return dt_colour_lab_linear(light[0], light[1], light[2]);
}

static void make_tables(DtAppear *a, size_t pen)
{
    double tip = a->rack->pens[pen].tip;
    for (int k = 0; k < LEVELS; k++)
        for (int i = 0; i < SAMPLES; i++) {
            gboolean near = i < NEAR_SAMPLES;
            double period = tip / levels[k];
            double at = near ? (i + 0.5) / NEAR_SAMPLES : (i - NEAR_SAMPLES + 0.5) / FAR_SAMPLES;
            double share = k == LEVELS - 1
                               ? 1
                               : blurred_share(at * period / 2, tip, period, near ? NEAR : FAR);
            double light[3];
            mix_light(a->paper_light, a->light[pen], share, a->gain[pen], light);
            a->share[pen][k][i] = share;
            a->seen[pen][k][i] = lab_of(light);
        }
}

/* Lines of a tone are a tip apart and are dropped one by one: where most are drawn the gaps form
 * the pattern, each a tip wide. */
static double blurred_tone(double at, double share, double tip, double sigma)
{
    if (share <= 0 || share >= 1)
        return share;
    const double rarer = MIN(share, 1 - share), period = tip / rarer;
    const double part = blurred_share(at * period / 2, tip, period, sigma);
    return share <= 0.5 ? part : 1 - part;
}

static void make_tone_tables(DtAppear *a, size_t pen)
{
    const double tip = a->rack->pens[pen].tip;
    for (int k = 0; k <= TONE_STEPS; k++)
        for (int i = 0; i < SAMPLES; i++) {
            const gboolean near = i < NEAR_SAMPLES;
            const double at =
                near ? (i + 0.5) / NEAR_SAMPLES : (i - NEAR_SAMPLES + 0.5) / FAR_SAMPLES;
            double light[3];
            const double share = blurred_tone(at, (double)k / TONE_STEPS, tip, near ? NEAR : FAR);
            mix_light(a->paper_light, a->light[pen], share, a->gain[pen], light);
            a->tone_share[pen][k][i] = share;
            a->tone_seen[pen][k][i] = lab_of(light);
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
            if (p != q && dt_rack_overprint(a->rack, p, q, &measured)) {
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
    a->tone_share = g_malloc0(rack->n * sizeof *a->tone_share);
    a->tone_seen = g_malloc0(rack->n * sizeof *a->tone_seen);
    for (size_t i = 0; i < rack->n; i++) {
        light_of(rack->pens[i].colour, a->light[i]);
        a->lab[i] = lab_of(a->light[i]);
        a->gain[i] = MAX(rack->pens[i].dot_gain, 1);
        make_tables(a, i);
        make_tone_tables(a, i);
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

/* Differences -------------------------------------------------------------------------------- */

static int level_of(double share)
{
    int best = 0;
    for (int k = 1; k < LEVELS; k++)
        if (fabs(levels[k] - share) < fabs(levels[best] - share))
            best = k;
    return best;
}

static double one_pen(const DtAppear *a, DtLab colour, int pen, int level)
{
    if (level == LEVELS - 1)
        return dt_colour_difference(colour, a->lab[pen]);
    double near = 0, far = 0;
    const DtLab *seen = a->seen[pen][level];
    for (int i = 0; i < NEAR_SAMPLES; i++)
        near += dt_colour_difference(colour, seen[i]);
    for (int i = NEAR_SAMPLES; i < SAMPLES; i++)
        far += dt_colour_difference(colour, seen[i]);
    return NEAR_COUNTS * near / NEAR_SAMPLES + (1 - NEAR_COUNTS) * far / FAR_SAMPLES;
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
    return NEAR_COUNTS * two_pen_part(a, colour, pen, level, 0, NEAR_SAMPLES) +
           (1 - NEAR_COUNTS) * two_pen_part(a, colour, pen, level, NEAR_SAMPLES, SAMPLES);
}

double dt_appear_difference(const DtAppear *a, DtLab colour, DtRecipe r)
{
    if (r.pen[0] < 0)
        return dt_colour_difference(colour, a->paper_lab);
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
    double sum = 0;
    for (int i = 0; i < NEAR_SAMPLES; i++)
        sum += dt_colour_difference(colour, a->seen[r.pen[0]][level[0]][i]);
    return sum / NEAR_SAMPLES;
}

static int tone_step(double share)
{
    return (int)CLAMP(lround(share * TONE_STEPS), 0, TONE_STEPS);
}

/* The mean over sample points of the patterns of one or two tones. */
static double tone_part(const DtAppear *a, DtLab colour, DtRecipe r, int from, int to)
{
    const int step[2] = {tone_step(r.share[0]), tone_step(r.share[1])};
    double sum = 0;
    int n = 0;
    for (int i = from; i < to && r.pen[1] < 0; i++, n++)
        sum += dt_colour_difference(colour, a->tone_seen[r.pen[0]][step[0]][i]);
    for (int i = from; i < to && r.pen[1] >= 0; i++)
        for (int k = from; k < to; k++, n++) {
            double light[3];
            two_inks(a, r.pen[0], a->tone_share[r.pen[0]][step[0]][i], r.pen[1],
                     a->tone_share[r.pen[1]][step[1]][k], light);
            sum += dt_colour_difference(colour, lab_of(light));
        }
    return sum / n;
}

double dt_appear_tone_difference(const DtAppear *a, DtLab colour, DtRecipe r, gboolean near)
{
    if (r.pen[0] < 0)
        return dt_colour_difference(colour, a->paper_lab);
    const double from_near = tone_part(a, colour, r, 0, NEAR_SAMPLES);
    return near ? from_near
                : NEAR_COUNTS * from_near +
                      (1 - NEAR_COUNTS) * tone_part(a, colour, r, NEAR_SAMPLES, SAMPLES);
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

static gboolean is_too_far(const DtAppear *a, DtLab colour, DtRecipe r)
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

static void take(Best *best, DtRecipe r, double difference, double bonus)
{
    if (difference - bonus < best->cost)
        *best = (Best){r, difference - bonus};
}

static gboolean may_hatch(DtAppearLimits l, int pen)
{
    return !l.flat && (l.hatch < 0 || l.hatch == pen);
}

static void try_one_pen(const DtAppear *a, DtLab colour, DtAppearLimits l, Best *best)
{
    for (int pen = 0; pen < (int)a->rack->n; pen++) {
        if (l.only >= 0 && l.only != pen)
            continue;
        for (int k = 0; k < LEVELS; k++) {
            gboolean dense = k == LEVELS - 1;
            if (!dense && (!may_hatch(l, pen) || levels[k] < l.least))
                continue;
            const DtRecipe r = {{pen, -1}, {levels[k], 0}};
            if (dense || !is_too_far(a, colour, r))
                take(best, r, one_pen(a, colour, pen, k), dense ? DENSE_BONUS : 0);
        }
    }
}

typedef struct {
    int pen[2], level[2];
    double mean; /* difference of the mean colour */
} Pair;

static void keep_pair(Pair *kept, Pair p)
{
    int i = BEST_PAIRS;
    while (i > 0 && p.mean < kept[i - 1].mean)
        i--;
    if (i == BEST_PAIRS)
        return;
    memmove(kept + i + 1, kept + i, (size_t)(BEST_PAIRS - 1 - i) * sizeof *kept);
    kept[i] = p;
}

static gboolean may_cross(DtAppearLimits l, int p, int q)
{
    return p != q && (l.hatch < 0 ||
                      (MIN(p, q) == MIN(l.hatch, l.second) && MAX(p, q) == MAX(l.hatch, l.second)));
}

/* A lighter ink over a dense darker one: it makes a black slightly deeper, for twice the time. */
static gboolean darkens_dense(const DtAppear *a, DtRecipe r)
{
    return r.share[0] >= 1 && a->lab[r.pen[1]].l > a->lab[r.pen[0]].l;
}

/* The difference of a pattern is never below that of its mean colour, apart from the curvature
 * of CIEDE2000: so only the pairs with the best means are evaluated. */
static void try_two_pens(const DtAppear *a, DtLab colour, DtAppearLimits l, Best *best)
{
    Pair kept[BEST_PAIRS + 1];
    for (int i = 0; i <= BEST_PAIRS; i++)
        kept[i].mean = G_MAXDOUBLE;
    int n = (int)a->rack->n, m = (int)G_N_ELEMENTS(pair_levels);
    for (int p = 0; p < n; p++)
        for (int q = 0; q < n; q++)
            for (int i = 0; may_cross(l, p, q) && i < m; i++)
                for (int k = 0; k < m - 1 && k <= i; k++) {
                    Pair pair = {{p, q}, {pair_levels[i], pair_levels[k]}, 0};
                    DtRecipe r = {{p, q}, {levels[pair.level[0]], levels[pair.level[1]]}};
                    if (r.share[0] < l.least || r.share[1] < l.least ||
                        (l.hatch >= 0 && darkens_dense(a, r)))
                        continue;
                    pair.mean = dt_colour_difference(colour, dt_appear_lab(a, r));
                    keep_pair(kept, pair);
                }
    for (int i = 0; i < BEST_PAIRS && kept[i].mean < G_MAXDOUBLE; i++) {
        const Pair *p = &kept[i];
        DtRecipe r = {{p->pen[0], p->pen[1]}, {levels[p->level[0]], levels[p->level[1]]}};
        if (!is_too_far(a, colour, r))
            take(best, r, two_pens(a, colour, p->pen, p->level), -SECOND_PEN);
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
        take(&best, DT_RECIPE_PAPER, dt_colour_difference(colour, a->paper_lab), 0);
    try_one_pen(a, colour, l, &best);
    if (l.two_pens && !l.flat && l.only < 0 && best.cost > SECOND_PEN)
        try_two_pens(a, colour, l, &best);
    g_hash_table_insert(a->known, key, g_memdup2(&best.r, sizeof best.r));
    return best.r;
}

/* Lines -------------------------------------------------------------------------------------- */

double dt_appear_thin_difference(const DtAppear *a, DtLab colour, int pen, double share)
{
    DtLab ink = dt_appear_lab(a, (DtRecipe){{pen, -1}, {share, 0}});
    return dt_colour_difference((DtLab){colour.l, colour.a / 2, colour.b / 2},
                                (DtLab){ink.l, ink.a / 2, ink.b / 2});
}

int dt_appear_choose_thin(const DtAppear *a, DtLab colour, gboolean ink)
{
    int best = ink ? 0 : -1;
    for (int pen = best; pen < (int)a->rack->n; pen++)
        if (dt_appear_thin_difference(a, colour, pen, 1) <
            dt_appear_thin_difference(a, colour, best, 1))
            best = pen;
    return best;
}

/* Pens whose a* and b* differ this little from those of the nearest pen have the same hue. */
#define SAME_HUE 15.0
/* Another pen must look nearer by this much. */
#define OTHER_PEN 3.0

/* Difference between a line of a pen's ink, `drawn` mm wide, and one of this light and width, over
 * the width of the ink. */
static double line_difference(const DtAppear *a, const double *light, double width, int pen,
                              double drawn)
{
    const double apart = 1000 * (drawn + width);
    double sum[2] = {0, 0};
    for (int i = 0; i < NEAR_SAMPLES; i++)
        for (int far = 0; far < 2; far++) {
            const double x = (i + 0.5) / NEAR_SAMPLES * drawn / 2, sigma = far ? FAR : NEAR;
            double art[3], ink[3];
            mix_light(a->paper_light, light, blurred_share(x, width, apart, sigma), 1, art);
            mix_light(a->paper_light, a->light[pen], blurred_share(x, drawn, apart, sigma),
                      a->gain[pen], ink);
            sum[far] += dt_colour_difference(lab_of(art), lab_of(ink)) / NEAR_SAMPLES;
        }
    return NEAR_COUNTS * sum[0] + (1 - NEAR_COUNTS) * sum[1];
}

int dt_appear_choose_line(const DtAppear *a, DtColour paint, double width, int nearest)
{
    double light[3];
    light_of(paint, light);
    int best = nearest;
    double least =
        line_difference(a, light, width, nearest, a->rack->pens[nearest].tip) - OTHER_PEN;
    for (int pen = 0; pen < (int)a->rack->n; pen++) {
        const DtLab *own = &a->lab[pen], *near = &a->lab[nearest];
        if (pen == nearest || hypot(own->a - near->a, own->b - near->b) > SAME_HUE ||
            width >= a->rack->pens[pen].tip)
            continue;
        const double d = line_difference(a, light, width, pen, a->rack->pens[pen].tip);
        if (d < least) {
            least = d;
            best = pen;
        }
    }
    return best;
}

/* Grey ink for a grey line or narrow part may look less near than a colour by this much. */
#define GREY_INK 3.0

static gboolean is_grey(DtLab c)
{
    return hypot(c.a, c.b) < DT_APPEAR_GREY;
}

/* A recipe of one pen in a strip of a grey: a pen that covers a part of it draws one line. */
static double strip_difference(const DtAppear *a, DtLab grey, double width, int pen, double share)
{
    const double y = pow((MAX(grey.l, 8) + 16) / 116, 3), light[3] = {y, y, y};
    const double tip = a->rack->pens[pen].tip;
    return line_difference(a, light, width, pen, share < 1 ? tip : MAX(tip, width));
}

/* Widths of lines are distinguished in steps of this, mm. */
#define WIDTH_STEP 0.01

double dt_appear_line_difference(DtAppear *a, DtColour paint, double width, int pen, double drawn)
{
    const DtLab lab = dt_colour_lab(paint);
    if (!is_grey(lab) || !is_grey(a->lab[pen]))
        return dt_colour_difference(lab, a->lab[pen]);
    const guint64 rgb = (guint64)(lround(paint.r * 255) << 16 | lround(paint.g * 255) << 8 |
                                  lround(paint.b * 255)),
                  art = (guint64)MIN(width / WIDTH_STEP, UINT16_MAX),
                  ink = (guint64)MIN(drawn / WIDTH_STEP, UINT16_MAX);
    const gint64 key = (gint64)(((rgb << 8 | (guint64)pen) << 16 | art) << 16 | ink);
    double *known = g_hash_table_lookup(a->lines, &key), light[3];
    if (!known) {
        light_of(paint, light);
        known = g_new(double, 1);
        *known = line_difference(a, light, (double)(art + 1) * WIDTH_STEP, pen,
                                 (double)(ink + 1) * WIDTH_STEP);
        g_hash_table_insert(a->lines, g_memdup2(&key, sizeof key), known);
    }
    return *known;
}

DtRecipe dt_appear_keep_grey(const DtAppear *a, DtLab colour, double width, double least,
                             DtRecipe r)
{
    if (r.pen[0] < 0 || !is_grey(colour) || is_grey(a->lab[r.pen[0]]))
        return r;
    DtRecipe best = r;
    double most = strip_difference(a, colour, width, r.pen[0], r.share[0]) + GREY_INK;
    for (int pen = 0; pen < (int)a->rack->n; pen++)
        for (int line = 0; line < 2 && is_grey(a->lab[pen]); line++) {
            const double share = line ? least : 1,
                         d = strip_difference(a, colour, width, pen, share);
            if (d < most) {
                most = d;
                best = (DtRecipe){{pen, -1}, {share, 0}};
            }
        }
    return best;
}
