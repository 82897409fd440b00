/* trace: converts a drawing to strokes. Every painted part is put on a stack, in painting order,
 * as an area or as lines; the visible parts are then drawn (reveal.c).
 *
 * What is painted after the last translucent paint gets its ink at once, and hides what lies
 * beneath where that ink goes. What may lie beneath a translucent paint is put down as a layer:
 * the mixture of the layers at a place decides what is drawn there. */
#include "ink/trace.h"

#include "drawtrue/work.h"
#include "ink/dedupe.h"
#include "ink/outline.h"
#include "ink/plane/trim.h"

#include <math.h>
#include <string.h>

/* A stroke up to this much wider than the tip is drawn as one line. */
#define ONE_LINE 1.1
/* Paint of the paper's own colour must cover nearly everything before what lies beneath it is
 * left out. */
#define COVERING 0.9
/* A layer fainter than this cannot be seen: half a step of eight bits. */
#define FAINTEST (0.5 / 255)
/* Lines of one pen this close to one another (mm) are one line. */
#define COINCIDENT 0.02
/* Gaps of dashes that are shorter than this many tips are inked by the pen's round ends. */
#define BRIDGE_TIPS 0.5
/* A dot is drawn this long (mm). */
#define DOT 0.01
/* A stroke that differs this little from its shape's own fill (CIEDE2000) is part of it. */
#define SAME_PAINT 2.3
/* A tone is sampled on a grid of this many places a side to see whether it is translucent. */
#define LOOKS 16

/* Paints ------------------------------------------------------------------------------------ */

static int shape_index(const DtTrace *t, const DtShape *s)
{
    return (int)(s - t->d->shapes);
}

static double rough_area(const DtLines *l)
{
    double sum = 0;
    for (size_t i = 0; i < l->n; i++)
        sum += dt_lines_area(l, i);
    return fabs(sum);
}

static gboolean has_tone(const DtPaint *paint)
{
    return paint->kind == DT_PAINT_TONE && paint->tone;
}

static gboolean is_opaque(const DtPaint *paint, DtBox box)
{
    if (!has_tone(paint) || dt_box_is_empty(box))
        return paint->colour.alpha >= DT_PAINT_LAYER_OPAQUE;
    for (int i = 0; i <= LOOKS * LOOKS + 2 * LOOKS; i++) {
        DtPoint at = {box.x0 + dt_box_width(box) * (i % (LOOKS + 1)) / LOOKS,
                      box.y0 + dt_box_height(box) * (i / (LOOKS + 1)) / LOOKS};
        if (dt_art_tone_at(paint->tone, at).alpha < DT_PAINT_LAYER_OPAQUE)
            return FALSE;
    }
    return TRUE;
}

/* The innermost group around a shape that is painted as one, with its opacity and that of those
 * around it. */
static void find_group(const DtTrace *t, const DtShape *s, DtPaintLayer *layer)
{
    int group = s->group;
    for (size_t i = 0; i < t->d->n_groups && group >= 0 && (size_t)group < t->d->n_groups; i++) {
        double opacity = t->d->groups[group].opacity;
        if (opacity > 0 && opacity < 1) {
            layer->opacity *= opacity;
            if (layer->group < 0)
                layer->group = group;
        }
        group = t->d->groups[group].parent;
    }
}

/* A paint by itself. */
static DtPaintLayer layer_alone(const DtTrace *t, const DtShape *s, const DtPaint *paint)
{
    return (DtPaintLayer){.colour = paint->colour,
                          .tone = has_tone(paint) ? paint->tone : NULL,
                          .pen = dt_pens_asked(t->pens, s),
                          .group = -1,
                          .opacity = 1,
                          .ink = -1};
}

/* Counts a paint that is left out. */
static gboolean leave_out(DtTrace *t)
{
    t->faint++;
    return TRUE;
}

static DtInk choose_ink(DtTrace *t, const DtShape *s, const DtPaint *paint, double area)
{
    DtPaintLayer layer = layer_alone(t, s, paint);
    int label = layer.tone && t->o->tone ? dt_paint_layers_label(t->layers, &layer) : -1;
    return dt_trace_choose(t, (DtSeen){layer.colour, layer.pen}, label, area);
}

/* Whether one of a shape's paints is translucent. A requested pen either draws a paint or does
 * not. */
static gboolean is_translucent(const DtTrace *t, const DtShape *s)
{
    const DtPaint *paints[2] = {&s->fill, &s->stroke.paint};
    DtBox box = dt_lines_box(&s->outline);
    if (dt_pens_asked(t->pens, s) >= 0)
        return FALSE;
    for (int i = 0; i < 2; i++)
        if (paints[i]->kind != DT_PAINT_NONE && paints[i]->colour.alpha > 0 &&
            !is_opaque(paints[i], box))
            return TRUE;
    return FALSE;
}

/* If appearance decides, no ink is decided before everything is visible. */
static int find_last_translucent(const DtTrace *t)
{
    if (t->appear)
        return (int)t->d->n_shapes - 1;
    size_t i = t->o->hide ? t->d->n_shapes : 0;
    while (i > 0 && !is_translucent(t, &t->d->shapes[i - 1]))
        i--;
    return (int)i - 1;
}

static gboolean lies_beneath(const DtTrace *t, const DtShape *s)
{
    return shape_index(t, s) <= t->last_translucent;
}

/* Areas ------------------------------------------------------------------------------------- */

/* The part of an area near the bed and inside the shape's clip, whose rule is *rule then. */
static gboolean cut_area(DtTrace *t, const DtShape *s, const DtLines *area, DtLines *out,
                         DtPlaneRule *rule, GError **error)
{
    dt_lines_append_lines(out, area);
    dt_trim_rings(out);
    return s->clip < 0 || dt_clips_cut_area(t->clips, s->clip, out, rule, error);
}

static gboolean outline_alone(DtTrace *t, const DtLines *area, DtPlaneRule rule, DtInk ink,
                              int shape, GError **error)
{
    g_auto(DtLines) region;
    dt_lines_init(&region);
    return dt_region_clean(area, rule, &region, error) &&
           dt_trace_region(t, &region, ink, shape, error);
}

/* The label of an ink on the stack. */
static int label_of_ink(DtTrace *t, int number)
{
    DtPaintLayer settled = {.opaque = TRUE, .pen = -1, .group = -1, .opacity = 1, .ink = number};
    return number < 0 ? DT_STACK_PAPER : dt_paint_layers_label(t->layers, &settled);
}

/* An area whose ink is decided. Even if nothing hides anything, the areas of one ink are one
 * area, so that they are not inked twice. */
static gboolean add_inked(DtTrace *t, const DtShape *s, double alpha, DtInk ink,
                          const DtLines *area, DtPlaneRule rule, GError **error)
{
    double least = ink.pen < 0 ? COVERING : t->o->tone && !t->o->hide ? 0 : DT_PAINT_LAYER_SOLID;
    if (alpha < least && ink.pen >= 0)
        return leave_out(t);
    if (alpha < least || (ink.pen < 0 && !t->o->hide))
        return TRUE;
    g_auto(DtLines) cut;
    dt_lines_init(&cut);
    if (!cut_area(t, s, area, &cut, &rule, error))
        return FALSE;
    if (!t->o->hide && !t->o->fill)
        return outline_alone(t, &cut, rule, ink, shape_index(t, s), error);
    int number = dt_trace_ink_number(t, ink, NULL);
    if (!t->o->hide)
        return dt_trace_lay_beside(t, number, &cut, rule, error);
    return dt_stack_add_area(t->stack, label_of_ink(t, number), &cut, rule, error);
}

/* Whether a paint is drawn in some places and not in others: only if ink is dense. */
static gboolean comes_in_parts(const DtTrace *t, const DtPaint *paint)
{
    return has_tone(paint) && !t->o->tone && t->o->fill;
}

/* Where a shape's tone, by itself, is drawn, inside a box and the shape's clip. */
static gboolean find_parts(DtTrace *t, const DtShape *s, const DtPaint *paint, DtBox box,
                           DtThreshold *parts, GError **error)
{
    *parts = (DtThreshold){.all = FALSE};
    if (s->clip >= 0) {
        const DtLines *mask = dt_clips_region(t->clips, s->clip, error);
        if (!mask)
            return FALSE;
        box = dt_box_intersect(box, dt_lines_box(mask));
    }
    DtPaintLayer layer = layer_alone(t, s, paint);
    return dt_trace_parts(t, dt_paint_layers_label(t->layers, &layer), box, parts, error);
}

/* An area of a tone, in dense ink, by itself: where it looks like the paper it also hides. */
static gboolean add_parts(DtTrace *t, const DtShape *s, const DtPaint *paint, const DtLines *area,
                          DtPlaneRule rule, GError **error)
{
    g_auto(DtThreshold) parts = {.all = FALSE};
    g_auto(DtLines) covers, drawn;
    dt_lines_init(&covers);
    dt_lines_init(&drawn);
    if (!find_parts(t, s, paint, dt_lines_box(area), &parts, error))
        return FALSE;
    if (parts.all)
        return add_inked(t, s, 1, dt_trace_choose(t, parts.mean, -1, rough_area(area)), area, rule,
                         error);
    if (!dt_region_intersect(area, rule, &parts.covers, &covers, error) ||
        !dt_region_intersect(area, rule, &parts.ink, &drawn, error))
        return FALSE;
    DtInk paper = DT_INK_PAPER;
    if (covers.n > 0 && !add_inked(t, s, 1, paper, &covers, DT_PLANE_NONZERO, error))
        return FALSE;
    return drawn.n == 0 ||
           add_inked(t, s, 1, dt_trace_choose(t, parts.mean, -1, dt_region_area(&drawn)), &drawn,
                     DT_PLANE_NONZERO, error);
}

/* An area as a layer over those beneath. */
static gboolean add_layer_to(DtTrace *t, const DtShape *s, const DtPaint *paint,
                             const DtLines *area, DtPlaneRule rule, GError **error)
{
    DtPaintLayer layer = layer_alone(t, s, paint);
    const gboolean asked = layer.pen >= 0 && !layer.tone;
    if (asked && layer.colour.alpha < DT_PAINT_LAYER_SOLID)
        return leave_out(t);
    layer.opaque = asked || (layer.colour.alpha >= DT_PAINT_LAYER_OPAQUE &&
                             is_opaque(paint, dt_lines_box(area)));
    if (!layer.opaque)
        find_group(t, s, &layer);
    if (layer.colour.alpha < FAINTEST)
        return leave_out(t);
    g_auto(DtLines) cut;
    dt_lines_init(&cut);
    return cut_area(t, s, area, &cut, &rule, error) &&
           dt_stack_add_area(t->stack, dt_paint_layers_label(t->layers, &layer), &cut, rule, error);
}

/* An area of any paint. */
static gboolean add_painted(DtTrace *t, const DtShape *s, const DtPaint *paint, const DtLines *area,
                            DtPlaneRule rule, double size, GError **error)
{
    if (lies_beneath(t, s))
        return add_layer_to(t, s, paint, area, rule, error);
    if (comes_in_parts(t, paint))
        return add_parts(t, s, paint, area, rule, error);
    return add_inked(t, s, paint->colour.alpha, choose_ink(t, s, paint, size), area, rule, error);
}

static gboolean add_fill(DtTrace *t, const DtShape *s, GError **error)
{
    if (s->fill.kind == DT_PAINT_NONE || s->fill.colour.alpha <= 0)
        return TRUE;
    g_auto(DtLines) closed;
    dt_lines_init(&closed);
    if (!dt_look_close_fill(t, (size_t)shape_index(t, s), &closed, error))
        return FALSE;
    if (closed.n > 0)
        return add_painted(t, s, &s->fill, &closed, DT_PLANE_NONZERO, 0, error);
    return add_painted(t, s, &s->fill, &s->outline, dt_plane_rule(s->rule), rough_area(&s->outline),
                       error);
}

/* Lines ------------------------------------------------------------------------------------- */

static gboolean add_lines(DtTrace *t, const DtShape *s, int pen, DtLines *centre, GError **error)
{
    int shape = shape_index(t, s);
    dt_trim_lines(centre);
    if (s->clip >= 0 &&
        !dt_clips_cut_lines(t->clips, s->clip, dt_art_stroke_width_mm(&s->stroke), centre, error))
        return FALSE;
    if (t->o->hide)
        return dt_stack_add_lines(t->stack, dt_trace_owner(t, pen, shape), centre, error);
    dt_trace_lines(t, centre, pen, shape);
    return TRUE;
}

/* Lines of any paint. */
static gboolean add_painted_lines(DtTrace *t, const DtShape *s, const DtPaint *paint, int pen,
                                  DtLines *centre, GError **error)
{
    if (!comes_in_parts(t, paint))
        return paint->colour.alpha < DT_PAINT_LAYER_SOLID ? leave_out(t)
                                                          : add_lines(t, s, pen, centre, error);
    g_auto(DtThreshold) parts = {.all = FALSE};
    return find_parts(t, s, paint, dt_lines_box(centre), &parts, error) &&
           (parts.all || dt_clips_mask_lines(&parts.ink, centre, error)) &&
           add_lines(t, s, pen, centre, error);
}

/* A line without dashes of its own takes those of its class, or of the nearest group's; `d` is
 * the width of the drawn line, mm. `dash` has room for ten. */
static void dash_by_class(const DtTrace *t, const DtShape *s, double d, DtStrokeStyle *st,
                          double *dash)
{
    size_t n = 0;
    const double *type = dt_dash_of_class(s->classes, &n);
    int group = s->group;
    for (size_t i = 0; !type && i < t->d->n_groups && group >= 0 && (size_t)group < t->d->n_groups;
         i++) {
        type = dt_dash_of_class(t->d->groups[group].classes, &n);
        group = t->d->groups[group].parent;
    }
    double scale = sqrt(fabs(dt_affine_determinant(st->user_to_mm)));
    if (!type || st->n_dash > 0 || !(scale > 0))
        return;
    for (size_t i = 0; i < n; i++)
        dash[i] = type[i] * d / scale;
    st->dash = dash;
    st->n_dash = n;
}

/* Whether the shape's own fill has the ink of its stroke. A line along the edge of such a fill
 * would extend half a pen beyond what is painted, so the stroke is merged into the fill's area. */
static gboolean joins_fill(DtTrace *t, const DtShape *s, DtInk ink)
{
    const DtPaint *fill = &s->fill;
    if (!t->o->hide || !t->o->fill || fill->kind == DT_PAINT_NONE ||
        fill->colour.alpha < DT_PAINT_LAYER_SOLID)
        return FALSE;
    DtInk own = choose_ink(t, s, fill, 0);
    return own.pen == ink.pen && own.level == ink.level && own.label == ink.label;
}

/* A stroke if appearance decides: a thin one with a colour of its own is a line, all others are
 * areas. */
static gboolean add_stroke_by_look(DtTrace *t, const DtShape *s, DtStrokeStyle *st, double width,
                                   GError **error)
{
    int pen;
    double dash[10];
    DtPaintLayer layer = layer_alone(t, s, &st->paint);
    int asked = layer.pen >= 0 ? layer.pen : dt_pens_ruled(t->pens, st->paint.colour);
    gboolean area = dt_look_line_is_area(t, st->paint.colour, width, asked, &pen);
    double tip = pen < 0 ? 0 : t->rack->pens[pen].tip;
    const DtPaint *fill = &s->fill;
    gboolean joins = fill->kind == DT_PAINT_FLAT && st->paint.kind == DT_PAINT_FLAT &&
                     fill->colour.alpha >= DT_PAINT_LAYER_OPAQUE &&
                     dt_ink_colour_distance(fill->colour, st->paint.colour) < SAME_PAINT;
    g_auto(DtLines) l;
    dt_lines_init(&l);
    dash_by_class(t, s, MAX(width, tip), st, dash);
    if (!dt_look_find_side_by_side(t, (size_t)shape_index(t, s), error))
        return FALSE;
    if (t->side_by_side)
        *st = dt_look_close_gaps(st);
    if (area || joins || width > tip * ONE_LINE || t->side_by_side) {
        return dt_outline_region(&s->outline, st, t->o->tolerance / 2, &l, error) &&
               add_painted(t, s, &st->paint, &l, DT_PLANE_NONZERO, 0, error);
    }
    dt_outline_centre(&s->outline, st, DOT, BRIDGE_TIPS * tip, &l);
    const DtColour seen = dt_colour_over(st->paint.colour, t->o->paper);
    dt_pens_record(t->pens, (DtInkMatch){.colour = seen,
                                         .pen = pen,
                                         .across = -1,
                                         .coverage = 1,
                                         .area_mm2 = dt_lines_total_length(&l) * width,
                                         .distance = dt_appear_line_difference(t->appear, seen,
                                                                               width, pen, tip)});
    return add_lines(t, s, pen, &l, error);
}

static gboolean add_stroke(DtTrace *t, const DtShape *s, GError **error)
{
    DtStrokeStyle st = s->stroke;
    double width = dt_art_stroke_width_mm(&st), dash[10];
    if (st.paint.kind == DT_PAINT_NONE || st.paint.colour.alpha <= 0 || !(width > 0))
        return TRUE;
    if (t->appear)
        return add_stroke_by_look(t, s, &st, width, error);
    DtInk ink = choose_ink(t, s, &st.paint, dt_lines_total_length(&s->outline) * width);
    double tip = ink.pen < 0 ? 0 : t->rack->pens[ink.pen].tip;
    g_auto(DtLines) l;
    dt_lines_init(&l);
    dash_by_class(t, s, MAX(width, tip), &st, dash);
    if (ink.pen < 0 || width > tip * ONE_LINE || joins_fill(t, s, ink)) {
        return dt_outline_region(&s->outline, &st, t->o->tolerance / 2, &l, error) &&
               add_painted(t, s, &st.paint, &l, DT_PLANE_NONZERO, 0, error);
    }
    dt_outline_centre(&s->outline, &st, DOT, BRIDGE_TIPS * tip, &l);
    return add_painted_lines(t, s, &st.paint, ink.pen, &l, error);
}

/* All together ------------------------------------------------------------------------------ */

static gboolean trace_shapes(DtTrace *t, GError **error)
{
    const char *name = t->d->path ? t->d->path : "drawing";
    for (size_t i = 0; i < t->d->n_shapes; i++) {
        const DtShape *s = &t->d->shapes[i];
        if (!t->only_thin)
            dt_work_report((double)i / (double)t->d->n_shapes / 2);
        if (!dt_work_check(error))
            return FALSE;
        gboolean good = s->stroke_first ? add_stroke(t, s, error) && add_fill(t, s, error)
                                        : add_fill(t, s, error) && add_stroke(t, s, error);
        if (!good) {
            g_prefix_error(error, "%s:%d: ", name, s->line);
            return FALSE;
        }
    }
    if (!dt_stack_finish(t->stack, error) || !dt_trace_reveal(t, error)) {
        g_prefix_error(error, "%s: ", name);
        return FALSE;
    }
    return TRUE;
}

static gboolean appearance_decides(const DtInkOptions *o)
{
    return !o->solid && !o->tone && o->fill && o->hide;
}

/* Traces with an empty stack. `mixes`: translucent paints mix with what lies beneath; otherwise
 * each is judged alone. */
static gboolean trace_afresh(DtTrace *t, gboolean mixes, DtInkReport *report, GError **error)
{
    t->layers = dt_paint_layers_new();
    DtStackOverlap overlaps = dt_paint_layers_overlap(t->layers);
    t->pens = dt_pens_new(t->d, t->rack, t->o);
    t->stack = dt_stack_new(&overlaps);
    t->appear = appearance_decides(t->o) && mixes ? dt_appear_new(t->rack, t->o->paper) : NULL;
    memset(t->line_looks, 0, sizeof t->line_looks);
    t->inks = g_array_new(FALSE, FALSE, sizeof(DtInkPlace));
    g_array_set_clear_func(t->inks, dt_trace_clear_place);
    t->thin = g_array_new(FALSE, FALSE, sizeof(DtThinPlace));
    t->faint = t->together = t->points_wanted = 0;
    t->pointed = NULL;
    t->unseen_mm = t->beside_mm2 = t->crowded_mm = t->texture_mm2 = 0;
    t->unsearched = FALSE;
    t->tones_tip = 0;
    t->run_end = 0;
    t->last_translucent = mixes ? find_last_translucent(t) : -1;
    gboolean good = trace_shapes(t, error);
    if (good && t->appear && !t->only_thin) {
        dt_look_lighten_lines(t);
        dt_look_count_unseen(t);
    }
    if (report && good)
        dt_pens_report(t->pens, report);
    dt_stack_free(t->stack);
    g_array_free(t->inks, TRUE);
    if (!t->only_thin)
        g_array_free(t->thin, TRUE);
    g_clear_pointer(&t->pointed, g_ptr_array_unref);
    dt_lines_clear(&t->tones);
    dt_lines_clear(&t->tones_inset);
    dt_pens_free(t->pens);
    dt_appear_free(t->appear);
    dt_paint_layers_free(t->layers);
    g_clear_pointer(&t->means, dt_means_free);
    return good;
}

/* Pens that replace others. Swaps are simultaneous: blue for green and green for blue exchanges
 * both. */
static int swapped(const DtInkOptions *o, int pen)
{
    for (size_t i = 0; i < o->n_swaps; i++)
        if (o->swaps[i].from == pen)
            return o->swaps[i].to;
    return pen;
}

static void swap_pens(const DtInkOptions *o, DtStrokes *s, size_t first, DtInkReport *r)
{
    for (size_t i = first; i < s->n && o->n_swaps > 0; i++)
        s->strokes[i].pen = (uint16_t)swapped(o, s->strokes[i].pen);
    for (size_t i = 0; r && i < r->n; i++) {
        r->matches[i].pen = swapped(o, r->matches[i].pen);
        r->matches[i].across = swapped(o, r->matches[i].across);
    }
}

/* Gradients and pictures that were drawn without their tones. */
static void count_dense_tones(const DtTrace *t, DtInkReport *r)
{
    for (size_t i = 0; i < t->d->n_shapes; i++) {
        const DtShape *s = &t->d->shapes[i];
        const DtPaint *paints[2] = {&s->fill, &s->stroke.paint};
        for (int k = 0; k < 2; k++)
            if (comes_in_parts(t, paints[k]) && paints[k]->colour.alpha > 0) {
                if (dt_art_tone_is_picture(paints[k]->tone))
                    r->dense_pictures++;
                else
                    r->dense_gradients++;
            }
    }
}

/* The ink of all pens, mm^2. */
static double ink_area(const DtTrace *t)
{
    double sum = 0;
    for (size_t i = t->first; i < t->out->n; i++)
        sum += dt_strokes_length(t->out, i) * t->rack->pens[t->out->strokes[i].pen].tip;
    return sum;
}

static void drop_strokes(DtStrokes *s, size_t n)
{
    if (n < s->n)
        s->n_pts = s->strokes[n].first;
    s->n = MIN(s->n, n);
}

/* More shapes than this are not looked at once more. */
#define MOST_SHAPES 20000

/* If appearance does not decide, what the ink must show is found as if it did. */
static gboolean count_unseen_in_dense(DtTrace *t, GError **error)
{
    DtInkOptions look = *t->o;
    look.solid = look.tone = FALSE;
    if (!appearance_decides(&look))
        return TRUE;
    t->unseen_mm = NAN;
    if (t->d->n_shapes > MOST_SHAPES)
        return TRUE;
    g_auto(DtStrokes) none = {0};
    DtTrace art = {
        .d = t->d, .rack = t->rack, .o = &look, .clips = t->clips, .out = &none, .only_thin = TRUE};
    GError *failure = NULL;
    const gboolean good = trace_afresh(&art, TRUE, NULL, &failure);
    if (good) {
        t->thin = art.thin;
        t->unseen_mm = art.unseen_mm;
        dt_look_count_unseen(t);
    }
    g_array_free(art.thin, TRUE);
    if (good || failure->domain == DT_PLANE_ERROR) {
        g_clear_error(&failure);
        return TRUE;
    }
    g_propagate_error(error, failure);
    return FALSE;
}

gboolean dt_ink_trace(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o, DtStrokes *out,
                      DtInkReport *report, GError **error)
{
    if (report)
        *report = (DtInkReport){.n = 0};
    if (!dt_trace_check_options(rack, o, error))
        return FALSE;
    DtTrace t = {.d = d, .rack = rack, .o = o, .out = out, .first = out->n};
    t.clips = dt_clips_new(d);
    GError *failure = NULL;
    gboolean alone = FALSE;
    gboolean good = trace_afresh(&t, TRUE, report, &failure);
    if (!good && failure->domain == DT_PLANE_ERROR) {
        /* translucent areas that cross too often can still be judged one by one */
        g_clear_error(&failure);
        drop_strokes(out, t.first);
        if (report)
            dt_ink_report_clear(report);
        alone = TRUE;
        good = trace_afresh(&t, FALSE, report, &failure);
    }
    if (alone)
        t.unseen_mm = NAN; /* what the artwork shows there is not known */
    else if (good && report && !appearance_decides(o))
        good = count_unseen_in_dense(&t, &failure);
    if (good && report) {
        report->lost_mm = dt_look_lost_mm(&t);
        report->unseen_mm = t.unseen_mm;
        report->unseen_at = t.unseen_at;
        report->judged_alone = alone;
        report->faint = t.faint;
        report->beside = t.beside_mm2 > 0 ? t.beside_mm2 / ink_area(&t) : 0;
        report->crowded_mm = t.crowded_mm;
        report->texture_mm2 = t.texture_mm2;
        report->thinned_out = o->thin_out;
        report->together = t.together;
        report->points_wanted = t.points_wanted > o->points ? t.points_wanted : 0;
        report->points = o->points;
        report->unsearched = t.unsearched;
        if (alone || !appearance_decides(o))
            count_dense_tones(&t, report);
    }
    if (good)
        swap_pens(o, out, t.first, report);
    if (good && o->dedupe)
        dt_dedupe_strokes(out, t.first, rack, MAX(COINCIDENT, o->tolerance));
    dt_clips_free(t.clips);
    good = good && dt_work_check(&failure);
    if (failure != NULL)
        g_propagate_error(error, failure);
    return dt_plane_settle_error(good, error);
}
