/* assign: chooses the best look for each area, then changes those that cannot be told apart. */
#include "ink/look/assign.h"

#include "drawtrue/work.h"
#include "ink/fill/fill.h"
#include "ink/look/board.h"
#include "ink/look/dark.h"
#include "ink/trace.h"

#include <math.h>

/* Paints that differ by more than this are told apart on paper: about two units of CIEDE2000 can be
 * seen side by side (common practice, no source); shades of one colour may blend. */
#define DIFFERENT 5.0
/* Penalty for another hatch direction, per mm of border: it looks the same and takes slightly
 * longer. */
#define TURN_COST 0.2
/* The gaps of bands of this many lines are so far apart that the edge between it and dense ink is not seen by them. */
#define COARSE_BAND 3
/* Paints whose L* differs by less than this are equally light. */
#define AS_LIGHT 3.0
/* Paints up to this L* are black (common practice, no source) unless they are lighter than the darkest ink by this much. */
#define MOST_BLACK 12.0
#define AS_BLACK 2.0
/* A grey of this chroma leans to inks from whose hue its own differs by less than an angle with this cosine. */
#define LEANS 2.0
#define ABOUT 0.8
/* The weight of an edge is limited to its contrast (CIEDE2000) over this width, mm. */
#define EDGE_WORTH 4.0
/* Lines and letters keep their colour rather than fields: their differences have this weight. */
#define NARROW_COUNTS 3.0
/* A second pen for greys must reduce the difference by this much. */
#define SECOND_PEN 2.0
/* Hatches may increase the mean difference from 40 cm by this much in return for a smaller one
 * from 2 m. */
#define FARTHER 0.3
/* Rounds of separating neighbours. */
enum { ROUNDS = 3 };

static const DtPartBorder *border_at(const DtBoard *b, guint i)
{
    return &g_array_index(b->borders, DtPartBorder, i);
}

static DtAppearLimits limits_of(const DtLookArea *a)
{
    return (DtAppearLimits){.only = a->asked,
                            .hatch = -1,
                            .second = -1,
                            .least = a->least,
                            .flat = a->narrow,
                            .two_pens = !a->narrow};
}

static double cost_of(const DtBoard *b, const DtLookArea *a, DtRecipe r)
{
    return a->narrow ? dt_appear_thin_difference(b->appear, a->lab, r.pen[0], r.share[0])
                     : dt_appear_difference(b->appear, a->lab, r);
}

/* Narrow parts use one pen, by lightness first: dense, or a single line along the centre. */
static DtRecipe choose_narrow(const DtBoard *b, const DtLookArea *a, int only)
{
    DtRecipe best = DT_RECIPE_PAPER;
    double least = only < 0 ? cost_of(b, a, best) : G_MAXDOUBLE;
    for (int pen = 0; pen < dt_appear_n_pens(b->appear); pen++)
        for (int line = 0; line < 2 && (only < 0 || pen == only); line++) {
            DtRecipe r = {{pen, -1}, {line ? a->least : 1, 0}};
            if (cost_of(b, a, r) < least) {
                least = cost_of(b, a, r);
                best = r;
            }
        }
    return a->asked >= 0 ? best
                         : dt_appear_keep_grey(b->appear, a->lab, b->tip / MAX(a->least, 0.1),
                                               a->least, best);
}

static DtRecipe choose_alone(const DtBoard *b, const DtLookArea *a)
{
    return a->narrow ? choose_narrow(b, a, a->asked)
                     : dt_appear_choose(b->appear, a->lab, limits_of(a));
}

/* Greys ------------------------------------------------------------------------------------ */

static gboolean is_grey(DtLab c)
{
    return hypot(c.a, c.b) < DT_APPEAR_GREY;
}

static gboolean is_free_grey(const DtLookArea *a)
{
    return !a->fixed && !a->narrow && a->asked < 0 && is_grey(a->lab);
}

/* A grey by one pen, or by two where second >= 0. */
static DtRecipe choose_grey(const DtBoard *b, const DtLookArea *a, int pen, int second)
{
    DtAppearLimits l = {.only = -1,
                        .hatch = pen,
                        .second = second,
                        .greys = TRUE,
                        .least = a->least,
                        .two_pens = second >= 0};
    return dt_appear_choose(b->appear, a->lab, l);
}

/* The total difference of all greys with these pens, weighted by area; two pens across one
 * another count more. */
static double cost_of_greys(const DtBoard *b, int pen, int second)
{
    double sum = 0;
    for (size_t i = 0; i < b->n && !dt_work_stopped(); i++) {
        const DtLookArea *a = &b->areas[i];
        if (!is_free_grey(a))
            continue;
        DtRecipe r = choose_grey(b, a, pen, second);
        sum += a->area * (cost_of(b, a, r) + (r.pen[1] >= 0 ? SECOND_PEN : 0));
    }
    return sum;
}

/* All greys are hatched with grey inks and one other pen, or the same two: otherwise a range of
 * greys would change its hue. */
static void choose_greys(DtBoard *b)
{
    int best = -1, second = -1, n_pens = dt_appear_n_pens(b->appear);
    double least = G_MAXDOUBLE;
    for (int pen = 0; pen < n_pens; pen++) {
        const double sum = cost_of_greys(b, pen, -1);
        if (sum < least) {
            least = sum;
            best = pen;
        }
    }
    for (int pen = 0; pen < n_pens; pen++) {
        const double sum = pen == best ? least : cost_of_greys(b, best, pen);
        if (sum < least) {
            least = sum;
            second = pen;
        }
    }
    b->grey_pens[0] = best;
    b->grey_pens[1] = second;
    for (size_t i = 0; i < b->n && best >= 0 && !dt_work_stopped(); i++)
        if (is_free_grey(&b->areas[i]))
            b->areas[i].recipe = choose_grey(b, &b->areas[i], best, second);
}

static DtLab lab_of_pen(const DtBoard *b, int pen)
{
    return dt_appear_lab(b->appear, (DtRecipe){{pen, -1}, {1, 0}});
}

/* Whether a grey is slightly coloured, and by about an ink's hue. */
static gboolean leans_to(DtLab grey, DtLab ink)
{
    const double chroma = hypot(grey.a, grey.b);
    return chroma >= LEANS &&
           grey.a * ink.a + grey.b * ink.b >= ABOUT * chroma * hypot(ink.a, ink.b);
}

/* Nor does a grey change its hue to be told apart from what is beside it: a black outline would be coloured. */
static gboolean would_colour(const DtBoard *b, const DtLookArea *a, int pen)
{
    const DtLab ink = lab_of_pen(b, pen);
    return is_free_grey(a) && pen != b->grey_pens[0] && pen != b->grey_pens[1] && !is_grey(ink) &&
           !leans_to(a->lab, ink);
}

/* All areas, each by itself ------------------------------------------------------------------ */

static void choose_all(DtBoard *b)
{
    for (size_t i = 0; i < b->n && !dt_work_stopped(); i++)
        if (!b->areas[i].fixed)
            b->areas[i].recipe = choose_alone(b, &b->areas[i]);
    choose_greys(b);
}

/* Whether the whole drawing would differ more from the artwork, from 40 cm, than in dense ink. */
static gboolean looks_farther_than_dense(const DtBoard *b)
{
    double looked = 0, dense = 0, area = 0;
    for (size_t i = 0; i < b->n && !dt_work_stopped(); i++) {
        const DtLookArea *a = &b->areas[i];
        area += a->area;
        if (a->fixed || a->narrow || a->asked >= 0)
            continue;
        looked += a->area * dt_appear_near_difference(b->appear, a->lab, a->recipe);
        dense += a->area * dt_appear_dense_difference(b->appear, a->lab);
    }
    return looked > dense + FARTHER * area;
}

/* Telling apart ------------------------------------------------------------------------------ */

static DtLab paint_of(const DtBoard *b, int i)
{
    return i < 0 ? dt_appear_lab(b->appear, DT_RECIPE_PAPER) : b->areas[i].lab;
}

/* Whether two areas differ in the artwork so much that they must differ on paper. */
static gboolean must_differ(const DtBoard *b, const DtPartBorder *x)
{
    if (x->b < 0 || (x->a >= 0 && (b->areas[x->a].fixed || b->areas[x->b].fixed)) ||
        (x->a < 0 && b->areas[x->b].fixed))
        return FALSE;
    if (b->areas[x->b].sliver || (x->a >= 0 && b->areas[x->a].sliver))
        return FALSE;
    const DtLab one = paint_of(b, x->a), other = paint_of(b, x->b);
    const double d = dt_colour_difference(one, other);
    return MAX(one.l, other.l) >= MIN(b->darkest + AS_BLACK, MOST_BLACK) &&
           d > (x->a < 0 ? DT_APPEAR_NEARLY_WHITE : DIFFERENT);
}

/* Whether a line along the middle of a narrow area leaves its edges bare. */
static gboolean has_bare_edges(const DtLookArea *a, DtRecipe r)
{
    return a->narrow && dt_recipe_is_open(r);
}

static gboolean is_lost_in(const DtBoard *b, int area, DtRecipe r, DtRecipe beside)
{
    return area >= 0 && dt_look_is_line_lost(&b->areas[area], r, beside, b->tip);
}

static gboolean is_nearly_white(const DtBoard *b, const DtLookArea *a)
{
    return dt_colour_difference(a->lab, paint_of(b, -1)) <= DT_APPEAR_NEARLY_WHITE;
}

/* Whether a narrow area that is left bare gets a line along its middle where it is on another (-1: the paper). */
static gboolean is_drawn_on(const DtBoard *b, int area, int other)
{
    return area >= 0 && b->areas[area].on_dark && !is_nearly_white(b, &b->areas[area]) &&
           paint_of(b, other).l > b->areas[area].lab.l + AS_LIGHT;
}

/* What is seen of a hatch at the edge of its area: of coarse bands hardly a gap, as of dense ink. */
static DtLab lab_at_edge(const DtBoard *b, DtRecipe r)
{
    if (dt_recipe_is_one_way(r) && dt_recipe_other_pen(r) < 0 &&
        dt_fill_lines_in_band(r.share[0]) >= COARSE_BAND)
        r.share[0] = 1;
    return dt_appear_lab(b->appear, r);
}

/* Whether the lighter one of two paints has the lighter ink. */
static gboolean is_in_order(DtLab one, DtLab other, const DtLab ink[2])
{
    return fabs(one.l - other.l) < AS_LIGHT || (one.l < other.l) == (ink[0].l < ink[1].l);
}

/* Whether recipes of different pens look different by transparent inks and by opaque ones: one pen may hide another that
 * only one of the recipes has. */
static gboolean are_pens_told_apart(const DtBoard *b, DtRecipe r, DtRecipe s)
{
    return dt_colour_difference(dt_appear_lab(b->appear, r), dt_appear_lab(b->appear, s)) >=
               DT_LOOK_TOLD_APART &&
           dt_colour_difference(dt_appear_opaque_lab(b->appear, r),
                                dt_appear_opaque_lab(b->appear, s)) >= DT_LOOK_TOLD_APART;
}

/* Whether they do, if one of them had another recipe and direction. */
static gboolean differ(const DtBoard *b, guint i, int changed, DtRecipe recipe, int turn)
{
    const DtPartBorder *x = border_at(b, i);
    DtRecipe r[2];
    int turns[2] = {0, 0};
    for (int k = 0; k < 2; k++) {
        int area = k ? x->b : x->a;
        r[k] = area < 0 ? DT_RECIPE_PAPER : area == changed ? recipe : b->areas[area].recipe;
        if (area >= 0)
            turns[k] = area == changed ? turn : b->areas[area].turn;
    }
    if (r[0].pen[0] < 0 && r[1].pen[0] < 0)
        return (x->a >= 0 && b->areas[x->a].outline >= 0) || b->areas[x->b].outline >= 0 ||
               is_drawn_on(b, x->a, x->b) || is_drawn_on(b, x->b, x->a);
    const gboolean lost = is_lost_in(b, x->a, r[0], r[1]) || is_lost_in(b, x->b, r[1], r[0]);
    if (!dt_recipe_same_pens(r[0], r[1]))
        return b->gap[i] || (!lost && (!dt_recipe_share_a_pen(r[0], r[1]) ||
                                       are_pens_told_apart(b, r[0], r[1])));
    if (b->gap[i] || (x->a >= 0 && has_bare_edges(&b->areas[x->a], r[0]) &&
                      has_bare_edges(&b->areas[x->b], r[1])))
        return TRUE;
    if (lost)
        return FALSE;
    if (dt_recipe_is_one_way(r[0]) && dt_recipe_is_one_way(r[1]) && turns[0] != turns[1])
        return TRUE;
    const DtLab ink[2] = {lab_at_edge(b, r[0]), lab_at_edge(b, r[1])};
    return dt_colour_difference(ink[0], ink[1]) >= DT_LOOK_TOLD_APART &&
           is_in_order(paint_of(b, x->a), paint_of(b, x->b), ink);
}

static gboolean is_trouble(const DtBoard *b, guint i)
{
    const DtPartBorder *x = border_at(b, i);
    return must_differ(b, x) && !differ(b, i, x->b, b->areas[x->b].recipe, b->areas[x->b].turn);
}

/* What it is worth to tell two paints apart, per mm of their border. */
static double worth_of_difference(DtLab one, DtLab other)
{
    return EDGE_WORTH * dt_colour_difference(one, other);
}

static double worth_of(const DtBoard *b, const DtPartBorder *x)
{
    return worth_of_difference(paint_of(b, x->a), paint_of(b, x->b));
}

/* The price of a bare gap, per mm, by the differences of the bare paper and of the ink. */
static double price_of_gap(double bare, double inked, double tip)
{
    return DT_LOOK_GAP_TIPS * tip * MAX(bare - inked, 0);
}

gboolean dt_look_is_worth_a_gap(const DtAppear *appear, DtLab field, DtLab beside, double tip)
{
    double inked = G_MAXDOUBLE;
    for (int pen = 0; pen < dt_appear_n_pens(appear); pen++)
        inked = MIN(inked, dt_appear_difference(appear, field, (DtRecipe){{pen, -1}, {1, 0}}));
    return price_of_gap(dt_appear_difference(appear, field, DT_RECIPE_PAPER), inked, tip) <
           worth_of_difference(field, beside);
}

/* The cost of leaving the paper bare along a border, per mm, if one of its areas had another recipe;
 * G_MAXDOUBLE if that tells nothing apart. */
static double cost_of_gap(const DtBoard *b, const DtPartBorder *x, int changed, DtRecipe recipe)
{
    double bare = 0, inked = 0;
    int n = 0;
    for (int k = 0; k < 2; k++) {
        const int area = k ? x->b : x->a;
        if (area < 0)
            return G_MAXDOUBLE;
        const DtLookArea *a = &b->areas[area];
        const DtRecipe r = area == changed ? recipe : a->recipe;
        if (r.pen[0] < 0)
            return G_MAXDOUBLE;
        if (a->narrow)
            continue;
        bare += cost_of(b, a, DT_RECIPE_PAPER);
        inked += cost_of(b, a, r);
        n++;
    }
    return n > 0 ? price_of_gap(bare / n, inked / n, b->tip) : G_MAXDOUBLE;
}

DtTurnout dt_board_turnout(const DtBoard *b, int area, DtRecipe recipe, int turn)
{
    DtTurnout sum = {0, 0};
    const GArray *own = b->by_area[area];
    for (guint k = 0; k < own->len; k++) {
        const guint i = g_array_index(own, guint, k);
        const DtPartBorder *x = border_at(b, i);
        if (!must_differ(b, x))
            continue;
        const gboolean now = differ(b, i, area, b->areas[area].recipe, b->areas[area].turn);
        const gboolean then = differ(b, i, area, recipe, turn);
        if (then && !now)
            sum.solved += x->length;
        else if (now && !then)
            sum.spoiled += x->length * MIN(worth_of(b, x), cost_of_gap(b, x, area, recipe));
    }
    return sum;
}

typedef enum { NOTHING, CHANGE, GAP, OUTLINE } Way;

typedef struct {
    Way way;
    int area;
    DtRecipe recipe;
    int turn;
    double cost;
} Option;

static void take(Option *best, Option o)
{
    if (o.cost < best->cost)
        *best = o;
}

static double colour_difference(const DtBoard *b, const DtLookArea *a, DtRecipe r)
{
    return dt_colour_difference(a->lab, dt_appear_lab(b->appear, r));
}

/* How far a narrow area with another pen would differ from the rest of its paint, by the share that has its pen now: a
 * line that changes its pen where it crosses a field is not seen as one. */
static double difference_from_kin(const DtBoard *b, int area, int pen)
{
    const DtLookArea *a = &b->areas[area];
    double now = 0, all = a->area;
    if (!a->narrow || a->recipe.pen[0] < 0 || pen < 0 || pen == a->recipe.pen[0])
        return 0;
    for (int i = b->kin[area]; i != area; i = b->kin[i]) {
        now += b->areas[i].recipe.pen[0] == a->recipe.pen[0] ? b->areas[i].area : 0;
        all += b->areas[i].area;
    }
    return dt_appear_difference(b->appear, lab_of_pen(b, a->recipe.pen[0]),
                                (DtRecipe){{pen, -1}, {1, 0}}) *
           now / all;
}

/* Another recipe for an area: its cost is the increased difference, and the worth of the borders that could
 * not be told apart any longer. A narrow one's pen is chosen by lightness first, but another hue only to tell it
 * apart counts in full: a gap or a line of its own ink may do. */
static void try_recipe(const DtBoard *b, int area, DtRecipe r, int turn, double extra, Option *best)
{
    const DtLookArea *a = &b->areas[area];
    const DtTurnout t = dt_board_turnout(b, area, r, turn);
    if (t.solved <= 0)
        return;
    double farther = cost_of(b, a, r) - cost_of(b, a, a->recipe);
    if (a->narrow)
        farther = NARROW_COUNTS *
                  MAX(MAX(farther, colour_difference(b, a, r) - colour_difference(b, a, a->recipe)),
                      difference_from_kin(b, area, r.pen[0]));
    const double cost = a->area * MAX(farther, 0) + extra + t.spoiled;
    take(best, (Option){CHANGE, area, r, turn, cost / t.solved});
}

/* Lines of one pen in two directions keep to equal shares, since those of the other direction would still hide what the
 * first shows, or become dense in one. */
static void try_shares(const DtBoard *b, int area, Option *best)
{
    const DtLookArea *a = &b->areas[area];
    const gboolean crossed = a->recipe.pen[1] == a->recipe.pen[0];
    for (int way = -1; way <= 1; way += 2) {
        DtRecipe r = a->recipe;
        for (int k = 0; k < 6; k++) {
            r.share[0] = dt_appear_next_share(r.share[0], way);
            if (r.share[0] <= 0 || (r.share[0] < a->least))
                break;
            if (crossed)
                r = r.share[0] > DT_LOOK_MOST_EACH
                        ? (DtRecipe){{r.pen[0], -1}, {1, 0}}
                        : (DtRecipe){{r.pen[0], r.pen[0]}, {r.share[0], r.share[0]}};
            try_recipe(b, area, r, a->turn, 0, best);
        }
    }
}

/* What is nearly white is never inked to be told apart: its neighbour is. */
static void try_area(const DtBoard *b, int area, double length, Option *best)
{
    const DtLookArea *a = &b->areas[area];
    if (a->fixed || (a->asked < 0 && is_nearly_white(b, a)))
        return;
    int n_pens = dt_appear_n_pens(b->appear);
    if (dt_recipe_is_one_way(a->recipe) && !a->narrow)
        for (int k = 1; k < DT_LOOK_TURNS; k++)
            try_recipe(b, area, a->recipe, (a->turn + k) % DT_LOOK_TURNS,
                       TURN_COST * (k + 1) * length, best);
    if (a->asked < 0 || a->recipe.pen[0] >= 0) {
        if (a->recipe.pen[0] >= 0 && !a->narrow)
            try_shares(b, area, best);
        for (int pen = 0; pen < n_pens && a->asked < 0; pen++) {
            if (would_colour(b, a, pen))
                continue;
            DtAppearLimits l = {.only = pen, .hatch = pen, .second = -1, .least = a->least};
            DtRecipe r =
                a->narrow ? choose_narrow(b, a, pen) : dt_appear_choose(b->appear, a->lab, l);
            try_recipe(b, area, r, a->turn, 0, best);
        }
        if (a->asked < 0)
            try_recipe(b, area, DT_RECIPE_PAPER, a->turn, 0, best);
    }
}

/* The paper left bare along a border between two inked areas. */
static void try_gap(const DtBoard *b, guint i, Option *best)
{
    const double cost = cost_of_gap(b, border_at(b, i), -1, DT_RECIPE_PAPER);
    take(best, (Option){GAP, -1, DT_RECIPE_PAPER, 0, cost});
}

/* The pen for a line that shows an area which is left bare. */
static int outline_pen(const DtBoard *b, const DtLookArea *a, int *nearest)
{
    *nearest = a->asked >= 0 ? a->asked : dt_appear_choose_thin(b->appear, a->lab, TRUE);
    const DtRecipe line = {{*nearest, -1}, {1, 0}};
    return a->asked >= 0 ? *nearest
                         : dt_appear_keep_grey(b->appear, a->lab, b->tip, 1, line).pen[0];
}

/* A line along the edge of an area that is left bare. */
static void try_outline(const DtBoard *b, guint i, Option *best)
{
    const DtPartBorder *x = border_at(b, i);
    const DtLookArea *a = &b->areas[x->b];
    int nearest;
    if (a->recipe.pen[0] >= 0 || a->narrow || (x->a >= 0 && b->areas[x->a].recipe.pen[0] >= 0))
        return;
    const int pen = outline_pen(b, a, &nearest);
    take(best, (Option){OUTLINE, x->b, DT_RECIPE_PAPER, pen,
                        b->tip * dt_appear_thin_difference(b->appear, a->lab, nearest, 1)});
}

/* A narrow area may border on dark fields, over which it shows bare, and on lighter ones or on bare paper, where it
 * does not. If it is left bare it gets a pen for its middle, which is drawn only where both sides are lighter. */
static void show_on_lighter(const DtBoard *b, DtLookArea *a)
{
    int nearest;
    if (a->narrow && !a->fixed && a->recipe.pen[0] < 0 && !is_nearly_white(b, a))
        a->outline = outline_pen(b, a, &nearest);
}

static void tell_apart(DtBoard *b, guint i)
{
    const DtPartBorder *x = border_at(b, i);
    Option best = {NOTHING, -1, DT_RECIPE_PAPER, 0, worth_of(b, x)};
    try_area(b, x->b, x->length, &best);
    if (x->a >= 0)
        try_area(b, x->a, x->length, &best);
    try_gap(b, i, &best);
    try_outline(b, i, &best);
    if (best.way == CHANGE) {
        b->areas[best.area].recipe = best.recipe;
        b->areas[best.area].turn = best.turn;
    } else if (best.way == GAP) {
        b->gap[i] = TRUE;
    } else if (best.way == OUTLINE) {
        b->areas[best.area].outline = best.turn;
    } else {
        b->settled[i] = TRUE;
    }
}

typedef struct {
    guint border;
    double weight;
} Trouble;

static int heaviest_first(const void *pa, const void *pb)
{
    const Trouble *a = pa, *b = pb;
    if (a->weight != b->weight)
        return a->weight > b->weight ? -1 : 1;
    return (a->border > b->border) - (a->border < b->border);
}

static gboolean tell_all_apart(DtBoard *b)
{
    g_autoptr(GArray) troubles = g_array_new(FALSE, FALSE, sizeof(Trouble));
    for (guint i = 0; i < b->borders->len && !dt_work_stopped(); i++) {
        const DtPartBorder *x = border_at(b, i);
        if (b->settled[i] || !is_trouble(b, i))
            continue;
        Trouble t = {i, x->length * worth_of(b, x)};
        g_array_append_val(troubles, t);
    }
    g_array_sort(troubles, heaviest_first);
    for (guint k = 0; k < troubles->len && !dt_work_stopped(); k++) {
        guint i = g_array_index(troubles, Trouble, k).border;
        if (is_trouble(b, i))
            tell_apart(b, i);
    }
    return troubles->len > 0;
}

void dt_look_assign(DtAppear *appear, DtLookArea *areas, size_t n, const GArray *borders,
                    double tip, GArray *gaps)
{
    DtBoard b = {appear,
                 areas,
                 n,
                 borders,
                 g_new(GArray *, n + 1),
                 g_new0(gboolean, borders->len + 1),
                 g_new0(gboolean, borders->len + 1),
                 dt_look_find_kin(areas, n),
                 tip,
                 {-1, -1},
                 100};
    for (int pen = 0; pen < dt_appear_n_pens(appear); pen++)
        b.darkest = MIN(b.darkest, lab_of_pen(&b, pen).l);
    for (size_t i = 0; i < n; i++) {
        b.by_area[i] = g_array_new(FALSE, FALSE, sizeof(guint));
        areas[i].turn = 0;
        areas[i].outline = -1;
    }
    for (guint i = 0; i < borders->len; i++) {
        const DtPartBorder *x = border_at(&b, i);
        if (x->a >= 0)
            g_array_append_val(b.by_area[x->a], i);
        g_array_append_val(b.by_area[x->b], i);
    }
    choose_all(&b);
    if (looks_farther_than_dense(&b)) {
        dt_appear_bound_near(appear);
        choose_all(&b);
    }
    dt_look_cross_dark(appear, areas, n);
    for (int round = 0; round < ROUNDS && tell_all_apart(&b); round++)
        ;
    dt_board_turn_off_lines(&b);
    for (size_t i = 0; i < n && !dt_work_stopped(); i++)
        show_on_lighter(&b, &areas[i]);
    for (guint i = 0; i < borders->len; i++)
        if (b.gap[i])
            g_array_append_val(gaps, *border_at(&b, i));
    for (size_t i = 0; i < n; i++)
        g_array_free(b.by_area[i], TRUE);
    g_free(b.by_area);
    g_free(b.gap);
    g_free(b.settled);
    g_free(b.kin);
}
