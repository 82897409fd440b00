/* appear-lines: the look of lines, and of parts too narrow for a pattern. */
#include "ink/look/appear-tables.h"
#include "ink/look/patterns.h"

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
            mix_light(a->paper_light, light, dt_pattern_line(x, width, apart, sigma), 1, art);
            mix_light(a->paper_light, a->light[pen], dt_pattern_line(x, drawn, apart, sigma),
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

/* A recipe of one pen in a strip of a grey: a pen that covers a part of it draws one line. */
static double strip_difference(const DtAppear *a, DtLab grey, double width, int pen, double share)
{
    const double y = pow((MAX(grey.l, 8) + 16) / 116, 3), light[3] = {y, y, y};
    const double tip = a->rack->pens[pen].tip;
    return line_difference(a, light, width, pen, share < 1 ? tip : MAX(tip, width));
}

/* Widths of lines are distinguished in steps of this, mm. */
#define WIDTH_STEP 0.01

/* Lines of one paint often follow one another. */
static DtLab lab_of_line(DtAppear *a, DtColour paint)
{
    if (!a->has_line || !dt_colour_equal(a->line, paint)) {
        a->has_line = TRUE;
        a->line = paint;
        a->line_lab = dt_colour_lab(paint);
    }
    return a->line_lab;
}

double dt_appear_line_difference(DtAppear *a, DtColour paint, double width, int pen, double drawn)
{
    const DtLab lab = lab_of_line(a, paint);
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
