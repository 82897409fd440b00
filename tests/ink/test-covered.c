/* ink: lines that lie over, under and beside other things, as a table of cases. A witness of its own paints the
 * planned ink pen by pen, lighter pens first, by opaque and by transparent inks, and looks whether each line
 * is apart from both of its sides. */
#include "shapes-in-ink.h"

#include "drawtrue/base.h"
#include "ink/paint/colour-difference.h"

#include <math.h>

static DtPen pens[3] = {
    {.name = (char *)"yellow", .colour = {0.96, 0.82, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1}};
enum { N_PENS = 3 }; /* from the lightest to the darkest */

/* A line is apart from its sides by so much (CIEDE2000). */
#define APART 4.0
/* Samples along a line, and the least share of them that must show it. */
#define SAMPLES 60
#define LEAST 0.98
/* The sides: from half a line on, by so much more (mm), and so far along it each way (mm). */
#define SIDE_FROM 0.15
#define SIDE_TO 0.45
#define SIDE_ALONG 1.0
#define STEP 0.15 /* between the places that are looked at, mm */

typedef enum { OPAQUE, TRANSPARENT } Inks;

typedef struct {
    const char *name, *shapes;
    DtPoint from, to; /* what is looked at */
    double width;     /* mm, of the line in ink */
    double on, off;   /* of its dashes, mm, from `from` on; 0: none */
} Case;

#define FIELD(paint) "<rect x='20' y='20' width='40' height='40' fill='" paint "'/>"
#define LINE(paint) "<path d='M24 27L56 49' fill='none' stroke='" paint "' stroke-width='.4'/>"
#define LETTER(paint) "<rect x='25' y='39.5' width='30' height='.9' fill='" paint "'/>"
#define STRIP(paint) "<rect x='20' y='39.5' width='40' height='1' fill='" paint "'/>"
#define LEVEL(paint, dash)                                                                         \
    "<path d='M24 40H56' fill='none' stroke='" paint "' stroke-width='.4' stroke-dasharray='" dash \
    "'/>"
/* A line of a field's own paint, attached to it, over another field. */
#define ATTACHED(paint) "<path d='M20 20H28V39.6H56V40.4H28V60H20Z' fill='" paint "'/>"
#define ALONG_ATTACHED {30, 40}, {54.5, 40}, 0.8, 0, 0
#define ALONG_LINE {25, 27.6875}, {55, 48.3125}, 0.4, 0, 0
#define ALONG_LETTER {25.5, 39.95}, {54.5, 39.95}, 0.9, 0, 0
#define ALONG_LEVEL {24.2, 40}, {55.8, 40}, 0.4, 0, 0
#define GRADIENT(from, to)                                                                         \
    "<linearGradient id='g'><stop stop-color='" from "'/><stop offset='1' stop-color='" to         \
    "'/></linearGradient>"

static const Case cases[] = {
    {"lighter over dense", FIELD("#1a1a1a") LINE("#f5d018"), ALONG_LINE},
    {"middle over dense", FIELD("#1a1a1a") LINE("#2e7d32"), ALONG_LINE},
    {"lighter over green", FIELD("#2e7d32") LINE("#f5d018"), ALONG_LINE},
    {"darker over yellow", FIELD("#f5d018") LINE("#000"), ALONG_LINE},
    {"darker over green", FIELD("#2e7d32") LINE("#000"), ALONG_LINE},
    {"same pen over dense", FIELD("#5a5a20") LINE("#111"), ALONG_LINE},
    {"same pen, lighter paint", FIELD("#123a14") LINE("#3f8f42"), ALONG_LINE},
    {"paper over black", FIELD("#000") LINE("#fff"), ALONG_LINE},
    {"paper over green", FIELD("#2e7d32") LINE("#fff"), ALONG_LINE},
    {"black over an open hatch", FIELD("#bbb") LINE("#000"), ALONG_LINE},
    {"black over a close hatch", FIELD("#777") LINE("#000"), ALONG_LINE},
    {"yellow over a close hatch", FIELD("#777") LINE("#f5d018"), ALONG_LINE},
    {"green over a pale field", FIELD("#f6ecb0") LINE("#2e7d32"), ALONG_LINE},
    {"black over crossed hatches", FIELD("#8a8a20") LINE("#000"), ALONG_LINE},
    {"lighter letter over black", FIELD("#000") LETTER("#f5d018"), ALONG_LETTER},
    {"paper letter over black", FIELD("#000") LETTER("#fff"), ALONG_LETTER},
    {"paper letter over green", FIELD("#2e7d32") LETTER("#fff"), ALONG_LETTER},
    {"darker letter over yellow", FIELD("#f5d018") LETTER("#000"), ALONG_LETTER},
    {"green letter over black", FIELD("#000") LETTER("#2e7d32"), ALONG_LETTER},
    {"black letter over a hatch", FIELD("#aaa") LETTER("#000"), ALONG_LETTER},
    {"attached grey line over black", FIELD("#000") ATTACHED("#444"), ALONG_ATTACHED},
    {"attached pale line over black", FIELD("#000") ATTACHED("#999"), .from = {30, 40},
     .to = {54.5, 40}, .width = 0.2}, /* its middle, beside which it is bare */
    {"attached green line over black", FIELD("#000") ATTACHED("#2e7d32"), ALONG_ATTACHED},
    {"yellow over a black line", LEVEL("#000", "none") LINE("#f5d018"), ALONG_LINE},
    {"black over a yellow line", LEVEL("#f5d018", "none") LINE("#000"), ALONG_LINE},
    {"green under a black line", LINE("#2e7d32") LEVEL("#000", "none"), ALONG_LINE},
    {"black over a grey line", LEVEL("#ccc", "none") LINE("#000"), ALONG_LINE},
    {"grey under a black line", LINE("#999") LEVEL("#000", "none"), ALONG_LINE},
    {"yellow dashes over black", FIELD("#000") LEVEL("#f5d018", "4 3"), .from = {24, 40},
     .to = {56, 40}, .width = 0.4, .on = 4, .off = 3},
    {"black dashes over yellow", FIELD("#f5d018") LEVEL("#000", "4 3"), .from = {24, 40},
     .to = {56, 40}, .width = 0.4, .on = 4, .off = 3},
    {"paper dashes over black", FIELD("#000") LEVEL("#fff", "4 3"), .from = {24, 40},
     .to = {56, 40}, .width = 0.4, .on = 4, .off = 3},
    {"over a field with holes",
     "<path d='M20 20H60V60H20Z M30 30V50H36V30Z' fill='#000'/>" LEVEL("#f5d018", "none"),
     ALONG_LEVEL},
    {"through a narrow hole",
     "<path d='M20 20H60V60H20Z M22 38.8V41.2H58V38.8Z' fill='#000'/>" LEVEL("#2e7d32", "none"),
     ALONG_LEVEL},
    {"along a thin dark field", STRIP("#3b2a1a") LEVEL("#f5d018", "none"), ALONG_LEVEL},
    {"along a thin pale field", STRIP("#f5d018") LEVEL("#000", "none"), ALONG_LEVEL},
    {"across a thin dark field", STRIP("#000") LINE("#f5d018"), ALONG_LINE},
    {"over a dark gradient", GRADIENT("#000", "#777") FIELD("url(#g)") LINE("#f5d018"), ALONG_LINE},
    {"paper over a dark gradient", GRADIENT("#000", "#333") FIELD("url(#g)") LINE("#fff"),
     ALONG_LINE},
    {"black over a pale gradient", GRADIENT("#f5d018", "#fff") FIELD("url(#g)") LINE("#000"),
     ALONG_LINE},
    {"over two gradients",
     GRADIENT("#000",
              "#555") "<rect x='20' y='20' width='20' height='40' fill='url(#g)'/>"
                      "<rect x='40' y='20' width='20' height='40' fill='url(#g)'/>" LINE("#f5d018"),
     ALONG_LINE},
    {"inside a clip",
     "<clipPath id='c'><circle cx='40' cy='38' r='19'/></clipPath><g clip-path='url(#c)'>" FIELD(
         "#000") LINE("#f5d018") "</g>",
     ALONG_LINE},
    {"over a clipped field",
     "<clipPath id='c'><circle cx='40' cy='38' r='9'/></clipPath><g clip-path='url(#c)'>" FIELD(
         "#000") "</g>" LINE("#f5d018"),
     ALONG_LINE},
    {"over a pattern",
     "<pattern id='p' width='8' height='8' patternUnits='userSpaceOnUse'><rect width='8' "
     "height='4' fill='#000'/><rect y='4' width='8' height='4' fill='#2e7d32'/></pattern>" FIELD(
         "url(#p)") LINE("#f5d018"),
     ALONG_LINE},
    {"over a translucent field",
     "<rect x='20' y='20' width='40' height='40' fill='#000' fill-opacity='.6'/>" LINE("#f5d018"),
     ALONG_LINE},
    {"under a translucent field",
     LINE("#000") "<rect x='20' y='20' width='40' height='40' fill='#f5d018' "
                  "fill-opacity='.4'/>",
     ALONG_LINE},
    {"black under a half opaque field",
     LINE("#000") "<rect x='20' y='20' width='40' height='40' fill='#f5d018' "
                  "fill-opacity='.75'/>",
     ALONG_LINE},
    {"yellow under a half opaque field",
     LINE("#f5d018") "<rect x='20' y='20' width='40' height='40' fill='#2e7d32' "
                     "fill-opacity='.6'/>",
     ALONG_LINE},
    {"black under a half opaque gradient",
     GRADIENT("#f5d018", "#2e7d32") LINE(
         "#000") "<rect x='20' y='20' width='40' height='40' fill='url(#g)' fill-opacity='.6'/>",
     ALONG_LINE},
    {"in a translucent group", "<g opacity='.7'>" FIELD("#000") LINE("#f5d018") "</g>", ALONG_LINE},
    {"over a thick stroke",
     "<path d='M22 40H58' stroke='#000' stroke-width='12' fill='none'/>" LEVEL("#f5d018", "none"),
     ALONG_LEVEL},
    {"along a field's edge",
     "<rect x='20' y='40' width='40' height='20' fill='#000'/>" LEVEL("#f5d018", "none"),
     ALONG_LEVEL},
    {"beside a field",
     "<rect x='20' y='40.35' width='40' height='20' fill='#000'/>" LEVEL("#2e7d32", "none"),
     ALONG_LEVEL},
    {"between two fields",
     "<rect x='20' y='20' width='40' height='20' fill='#000'/>"
     "<rect x='20' y='40' width='40' height='20' fill='#2e7d32'/>" LEVEL("#f5d018", "none"),
     ALONG_LEVEL},
    {"sharp corner of a hatch", "<path d='M20 40L60 33V47Z' fill='#999'/>", .from = {20.6, 40},
     .to = {21, 40}, .width = 0.4},
    {"sharp corner of a gradient",
     GRADIENT("#888", "#222") "<path d='M20 40L60 33V47Z' fill='url(#g)'/>", .from = {20.6, 40},
     .to = {21, 40}, .width = 0.4},
    {"black bar over coarse bands",
     FIELD("#26264c") "<path d='M24 27L56 49' stroke='#000' stroke-width='2'/>",
     {25, 27.6875},
     {55, 48.3125},
     1.9,
     0,
     0},
    {"bar with fine gaps over dense ink",
     FIELD("#2e7d32") "<path d='M40 25V55' stroke='#6f9a74' stroke-width='1.25'/>",
     .from = {40, 26}, .to = {40, 54}, .width = 1.2},
    {"bar in the dark end of a gradient",
     GRADIENT("#f4d58a", "#2e7d32") "<rect x='-40' y='20' width='100' height='40' fill='url(#g)'/>"
                                    "<path d='M52 25V55' stroke='#6f9a74' stroke-width='1.25'/>",
     .from = {52, 26}, .to = {52, 54}, .width = 1.2},
    {"hairline over black",
     FIELD("#000") "<path d='M24 27L56 49' stroke='#f5d018' stroke-width='.1'/>", ALONG_LINE},
};

/* The pens whose ink lies on a place, as bits. */
static unsigned ink_at(const DtStrokes *s, DtPoint p)
{
    unsigned found = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        const double r = pens[k->pen].tip / 2;
        for (size_t j = 0; j + (k->closed ? 0 : 1) < k->n && !(found & 1u << k->pen); j++) {
            const DtPoint a = s->pts[k->first + j], b = s->pts[k->first + (j + 1) % k->n];
            if (MIN(a.x, b.x) - r <= p.x && p.x <= MAX(a.x, b.x) + r && MIN(a.y, b.y) - r <= p.y &&
                p.y <= MAX(a.y, b.y) + r && dt_point_segment_distance(p, a, b) <= r)
                found |= 1u << k->pen;
        }
    }
    return found;
}

/* Adds the light of a place to a sum: what each pen's ink makes of what is there. */
static void add_light(unsigned ink, Inks inks, double *sum)
{
    double light[3] = {1, 1, 1};
    for (int pen = 0; pen < N_PENS; pen++) {
        const DtColour c = pens[pen].colour;
        const double own[3] = {dt_colour_linear(c.r), dt_colour_linear(c.g), dt_colour_linear(c.b)};
        for (int k = 0; k < 3 && (ink & 1u << pen); k++)
            light[k] = inks == OPAQUE ? own[k] : light[k] * own[k];
    }
    for (int k = 0; k < 3; k++)
        sum[k] += light[k];
}

/* The mean colours, by opaque and by transparent inks, of a strip along a line, from..to mm aside of it. */
static void look_at(const DtStrokes *s, DtPoint at, DtPoint way, double along, double from,
                    double to, DtLab lab[2])
{
    double sum[2][3] = {{0}};
    int n = 0;
    for (double u = -along; u <= along + 1e-9; u += STEP)
        for (double v = from; v <= to + 1e-9; v += STEP, n++) {
            const DtPoint p = {at.x + way.x * u - way.y * v, at.y + way.y * u + way.x * v};
            const unsigned ink = ink_at(s, p);
            add_light(ink, OPAQUE, sum[OPAQUE]);
            add_light(ink, TRANSPARENT, sum[TRANSPARENT]);
        }
    for (int k = 0; k < 2; k++)
        lab[k] = dt_colour_lab_linear(sum[k][0] / n, sum[k][1] / n, sum[k][2] / n);
}

/* The share of a line that is seen by opaque and by transparent inks. */
static void look_along(const DtStrokes *s, const Case *c, double seen[2])
{
    const double length = dt_point_distance(c->from, c->to), half = c->width / 2;
    const DtPoint way = dt_point_scale(dt_point_sub(c->to, c->from), 1 / length);
    int n = 0, good[2] = {0, 0};
    for (int i = 0; i < SAMPLES; i++) {
        const double along = (i + 0.5) / SAMPLES;
        const double in_dash = c->on > 0 ? fmod(along * length, c->on + c->off) : 0;
        if (c->on > 0 && (in_dash < c->width || in_dash > c->on - c->width))
            continue;
        const DtPoint at = dt_point_lerp(c->from, c->to, along);
        DtLab line[2], left[2], right[2];
        look_at(s, at, way, STEP, 0, 0, line);
        look_at(s, at, way, SIDE_ALONG, half + SIDE_FROM, half + SIDE_TO, left);
        look_at(s, at, way, SIDE_ALONG, -half - SIDE_TO, -half - SIDE_FROM, right);
        for (int k = 0; k < 2; k++)
            good[k] += dt_colour_difference(line[k], left[k]) >= APART &&
                       dt_colour_difference(line[k], right[k]) >= APART;
        n++;
    }
    for (int k = 0; k < 2; k++)
        seen[k] = (double)good[k] / n;
}

static void test_nothing_drawn_is_covered(void)
{
    const DtRack rack = {pens, N_PENS};
    G_STATIC_ASSERT(G_N_ELEMENTS(cases) >= 40);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(DtStrokes) s = shapes_in_ink(cases[i].shapes, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
        double seen[2];
        look_along(&s, &cases[i], seen);
        g_test_message("%s: %.3f seen by opaque inks, %.3f by transparent ones", cases[i].name,
                       seen[OPAQUE], seen[TRANSPARENT]);
        if (MIN(seen[OPAQUE], seen[TRANSPARENT]) < LEAST)
            g_test_fail();
    }
}

/* A white letter with a grey edge on a dark field: the letter stays bare, and its edge is told from it and from
 * the field. */
static void test_white_is_not_inked_to_tell_it_apart(void)
{
    const DtRack rack = {pens, N_PENS};
    const Case edge = {"", "", {25, 38}, {55, 38}, 0.4, 0, 0};
    g_auto(DtStrokes) s =
        shapes_in_ink(FIELD("#53426c") "<rect x='24' y='38' width='32' height='1.8' fill='#fff' "
                                       "stroke='#a1a1a1' stroke-width='.22'/>",
                      &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
    double seen[2];
    look_along(&s, &edge, seen);
    g_assert_cmpfloat(MIN(seen[OPAQUE], seen[TRANSPARENT]), >=, LEAST);
    for (double x = 25; x < 55; x += 0.1)
        for (double y = 38.5; y < 39.3; y += 0.1)
            g_assert_cmpuint(ink_at(&s, (DtPoint){x, y}), ==, 0);
}

/* What a layer lets through too little to be seen is hidden. */
static void test_a_nearly_opaque_layer_hides(void)
{
    const DtRack rack = {pens, N_PENS};
    static const struct {
        double opacity;
        gboolean hides;
    } layers[] = {{0.5, FALSE}, {0.8, FALSE}, {0.97, TRUE}, {1, TRUE}};
    for (size_t i = 0; i < G_N_ELEMENTS(layers); i++) {
        g_autofree char *svg =
            g_strdup_printf(LINE("#000") "<rect x='20' y='20' width='40' height='40' "
                                         "fill='#2e7d32' fill-opacity='%g'/>",
                            layers[i].opacity);
        g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
        int lines = 0;
        for (size_t k = 0; k < s.n; k++)
            lines += s.strokes[k].kind == DT_INK_OUTLINE;
        g_assert_cmpint(lines, ==, layers[i].hides ? 0 : 1);
    }
}

/* With every field dense none gives way: then the witness must miss lines. */
static void test_the_witness_sees_what_is_lost(void)
{
    const DtRack rack = {pens, N_PENS};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.solid = TRUE;
    int lost = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(DtStrokes) s = shapes_in_ink(cases[i].shapes, &rack, &o, NULL);
        double seen[2];
        look_along(&s, &cases[i], seen);
        lost += seen[OPAQUE] < LEAST;
    }
    g_test_message("%d lines are lost", lost);
    g_assert_cmpint(lost, >=, 15);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/covered/cases", test_nothing_drawn_is_covered);
    g_test_add_func("/ink/covered/white", test_white_is_not_inked_to_tell_it_apart);
    g_test_add_func("/ink/covered/layers", test_a_nearly_opaque_layer_hides);
    g_test_add_func("/ink/covered/witness", test_the_witness_sees_what_is_lost);
    return g_test_run();
}
