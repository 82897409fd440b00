/* compose: from the visible parts of the stack to inks, for all areas of the drawing together. */
#include "drawtrue/work.h"
#include "ink/fill/fill.h"
#include "ink/look/compose.h"

#include <math.h>
#include <string.h>

/* An open hatch shows a shape that is at least this many of its pitches wide. */
#define LEAST_PITCHES 2.0
/* Factor between the width and twice the area over the edge length: few parts are long strips. */
#define WIDTH_FACTOR 1.25
/* For parts with more points than this only the average width decides whether they are narrow:
 * an inset deeper than most of a part crosses itself so often that it would take minutes. */
enum { MOST_INSET = 50000 };
/* Gradients and pictures are sampled at about this many points to choose their pens. */
#define TONE_SAMPLES 2500
/* A tone with more distinct colours than this, in 16 steps per channel, is a picture even if it is no raster. */
enum { PICTURE_COLOURS = 40 };
/* Narrow parts whose paint changes are divided so often: into up to four. */
enum { NARROW_DIVISIONS = 2 };

/* Paints ------------------------------------------------------------------------------------- */

/* The number of a flat paint, kept once; the table is by colour and pen. */
static int flat_paint(DtCompose *c, GHashTable *known, DtColour colour, int asked)
{
    if (asked < 0)
        asked = dt_pens_ruled(c->t->pens, colour);
    guint key = (guint)lround(colour.r * 255) << 16 | (guint)lround(colour.g * 255) << 8 |
                (guint)lround(colour.b * 255);
    gint64 full = (gint64)key * 65536 + asked + 1;
    gpointer found = g_hash_table_lookup(known, &full);
    if (found)
        return GPOINTER_TO_INT(found) - 1;
    DtSeenPaint p = {
        .colour = colour, .lab = dt_colour_lab(colour), .asked = asked, .label = -1, .tone = -1};
    g_array_append_val(c->paints, p);
    g_hash_table_insert(known, g_memdup2(&full, sizeof full), GINT_TO_POINTER(c->paints->len));
    return (int)c->paints->len - 1;
}

/* Colours of a tone within its region, laid over the paper. */
static GArray *sample_tone(const DtTrace *t, int label, const DtLines *region)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof(DtColour));
    DtBox b = dt_lines_box(region);
    double step = MAX(sqrt(dt_box_width(b) * dt_box_height(b) / TONE_SAMPLES), 0.05);
    g_auto(DtHatching) h = {0};
    if (dt_hatch_lines(region, DT_FILL_NONZERO, (DtHatchGrid){0, step, step / 2}, &h, NULL))
        for (size_t i = 0; i < h.n; i++)
            for (double u = h.c[2 * i].u; u <= h.c[2 * i + 1].u; u += step) {
                DtCrossing at = {.u = u, .line = h.c[2 * i].line};
                DtSeen seen = dt_paint_layers_seen_at(t->layers, label, dt_hatch_point(&h, &at));
                DtColour over = dt_colour_over(seen.colour, t->o->paper);
                g_array_append_val(out, over);
            }
    if (out->len == 0) {
        DtColour mean = dt_colour_over(dt_paint_layers_seen(t->layers, label).colour, t->o->paper);
        g_array_append_val(out, mean);
    }
    return out;
}

static gboolean has_many_colours(const GArray *samples)
{
    g_autoptr(GHashTable) seen = g_hash_table_new(NULL, NULL);
    for (guint i = 0; i < samples->len; i++) {
        const DtColour *c = &g_array_index(samples, DtColour, i);
        guint key = (guint)(c->r * 15.99) << 8 | (guint)(c->g * 15.99) << 4 | (guint)(c->b * 15.99);
        g_hash_table_add(seen, GUINT_TO_POINTER(key + 1));
    }
    return g_hash_table_size(seen) > PICTURE_COLOURS;
}

/* Whether no circle of some width fits into a part. */
static gboolean is_narrow(const DtPart *p, double width)
{
    if (p->width >= width)
        return FALSE;
    if (p->area < width * width * G_PI / 4 || p->rings.n_pts > MOST_INSET)
        return TRUE;
    g_auto(DtLines) plain, deeper;
    dt_lines_init(&plain);
    dt_lines_init(&deeper);
    dt_region_simplify(&p->rings, 0.01, &plain);
    return dt_region_inset(&plain, width / 2, &deeper, NULL) && deeper.n == 0;
}

/* Whether a paint that changes is visible only in narrow parts, such as a line over a gradient:
 * no pattern would show its tones. */
static gboolean is_narrow_tone(const DtCompose *c, const DtLines *region)
{
    const double length = dt_lines_total_length(region);
    const DtPart p = {.rings = *region,
                      .area = dt_region_area(region),
                      .width = length > 0 ? 2 * dt_region_area(region) / length : 0};
    return is_narrow(&p, DT_LOOK_NARROW_TIPS * dt_compose_tip(c->t));
}

static int tone_paint(DtCompose *c, int label, int asked, gboolean narrow, const GArray *samples)
{
    const DtColour *colours = (const DtColour *)(const void *)samples->data;
    double sum[3] = {0, 0, 0};
    for (guint i = 0; i < samples->len; i++) {
        sum[0] += colours[i].r / samples->len;
        sum[1] += colours[i].g / samples->len;
        sum[2] += colours[i].b / samples->len;
    }
    DtColour mean = {sum[0], sum[1], sum[2], 1};
    DtSeenPaint p = {
        .colour = mean, .lab = dt_colour_lab(mean), .asked = asked, .label = label, .tone = label};
    const gboolean picture =
        dt_paint_layers_is_picture(c->t->layers, label) || has_many_colours(samples);
    if (narrow) {
        p.label = -1;
        g_array_append_val(c->paints, p);
        return (int)c->paints->len - 1;
    }
    p.picture = picture;
    p.separation = dt_separation_new(c->t->appear, colours, samples->len,
                                     dt_compose_separation_rules(c->t, &p, DT_JUDGE_BOTH));
    dt_separation_dense(c->t->appear, colours, samples->len, picture, &p.dense);
    if (!picture && p.dense <= dt_separation_difference(p.separation)) { /* as a flat paint */
        g_clear_pointer(&p.separation, dt_separation_free);
        p.label = -1;
    } else {
        p.colours = g_array_new(FALSE, FALSE, sizeof(DtColour));
        for (guint i = 0; i < samples->len; i += (guint)dt_separation_step(samples->len))
            g_array_append_val(p.colours, colours[i]);
    }
    g_array_append_val(c->paints, p);
    return (int)c->paints->len - 1;
}

static void clear_lines(gpointer l)
{
    dt_lines_clear(l);
}

static void add_region(DtCompose *c, int paint, const DtLines *region)
{
    if (c->regions->len < c->paints->len)
        g_array_set_size(c->regions, c->paints->len);
    dt_compose_paint(c, paint)->labels++;
    dt_lines_append_lines(&g_array_index(c->regions, DtLines, paint), region);
}

/* Adds what changes from place to place; narrow parts may be divided so often. */
static void add_tone(DtCompose *c, int label, int asked, const DtLines *region, int divisions)
{
    g_autoptr(GArray) samples = sample_tone(c->t, label, region);
    const gboolean narrow = is_narrow_tone(c, region);
    g_auto(DtLines) one, other;
    dt_lines_init(&one);
    dt_lines_init(&other);
    if (narrow && asked < 0 && divisions > 0 &&
        dt_compose_divide_narrow(c, label, samples, region, &one, &other)) {
        add_tone(c, label, asked, &one, divisions - 1);
        add_tone(c, label, asked, &other, divisions - 1);
        return;
    }
    add_region(c, tone_paint(c, label, asked, narrow, samples), region);
}

void dt_compose_add_tone(DtCompose *c, int label, const DtLines *region)
{
    add_tone(c, label, -1, region, 0);
}

/* Everything visible, by paint. */
static void collect_paints(DtCompose *c)
{
    DtTrace *t = c->t;
    g_autoptr(GHashTable) known = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    int n = (int)dt_stack_n_labels(t->stack);
    for (int label = DT_STACK_FIRST; label < n && !dt_work_stopped(); label++) {
        const DtLines *region = dt_stack_region(t->stack, label);
        if (!region)
            continue;
        DtSeen seen = dt_paint_layers_seen(t->layers, label);
        if (dt_paint_layers_changes(t->layers, label)) {
            add_tone(c, label, seen.pen, region, NARROW_DIVISIONS);
            continue;
        }
        const DtColour colour = dt_colour_over(seen.colour, t->o->paper);
        add_region(c, flat_paint(c, known, colour, seen.pen), region);
    }
}

static gboolean take_apart(DtCompose *c, GError **error)
{
    for (guint i = 0; i < c->regions->len; i++) {
        DtLines *all = &g_array_index(c->regions, DtLines, i);
        g_auto(DtLines) clean;
        dt_lines_init(&clean);
        if (dt_compose_paint(c, (int)i)->labels == 1) { /* what the stack gives is clean */
            clean = *all;
            dt_lines_init(all);
        } else if (!dt_region_clean(all, DT_PLANE_NONZERO, &clean, error)) {
            return FALSE;
        }
        dt_lines_clear(all);
        if (dt_compose_paint(c, (int)i)->label >= 0) {
            DtPart whole = {.label = (int)i, .area = dt_region_area(&clean)};
            dt_lines_copy(&whole.rings, &clean);
            g_array_append_val(c->parts, whole);
        } else {
            c->t->together += !dt_parts_add(c->parts, (int)i, &clean);
        }
    }
    if (c->regions->len > 1)
        return dt_parts_borders(c->parts, &c->edges, &c->borders, error);
    dt_parts_borders_apart(c->parts, &c->edges, &c->borders);
    return dt_work_check(error);
}

/* Areas -------------------------------------------------------------------------------------- */

/* The paint that each part shares most border with, -1: the paper. */
static int *main_neighbours(const DtCompose *c)
{
    int *beside = g_new(int, c->parts->len + 1);
    g_autofree double *length = g_new0(double, c->parts->len + 1);
    for (guint i = 0; i < c->parts->len; i++)
        beside[i] = -1;
    for (guint i = 0; i < c->borders->len; i++) {
        const DtPartBorder *b = &g_array_index(c->borders, DtPartBorder, i);
        for (int k = 0; k < 2; k++) {
            int own = k ? b->b : b->a, other = k ? b->a : b->b;
            if (own >= 0 && b->length > length[own]) {
                length[own] = b->length;
                beside[own] = other < 0 ? -1 : dt_compose_part(c, (guint)other)->label;
            }
        }
    }
    return beside;
}

static int find_area(DtCompose *c, DtAreaKey key)
{
    for (guint i = 0; i < c->keys->len; i++) {
        const DtAreaKey *k = &g_array_index(c->keys, DtAreaKey, i);
        if (k->paint == key.paint && k->beside == key.beside && k->narrow == key.narrow &&
            k->on_dark == key.on_dark && k->least == key.least)
            return (int)i;
    }
    const DtSeenPaint *p = dt_compose_paint(c, key.paint);
    DtLookArea a = {.lab = p->lab,
                    .asked = p->asked,
                    .narrow = key.narrow,
                    .on_dark = key.on_dark,
                    .least = key.least / 100.0,
                    .fixed = p->label >= 0,
                    .recipe = DT_RECIPE_PAPER};
    g_array_append_val(c->areas, a);
    g_array_append_val(c->keys, key);
    return (int)c->areas->len - 1;
}

/* Few steps, so that parts of one paint and about the same size are one area. */
static int least_share(double width, double tip)
{
    static const int steps[] = {0, 9, 13, 18, 24, 32, 45, 60};
    double least = 100 * LEAST_PITCHES * tip / MAX(WIDTH_FACTOR * width, DT_LOOK_NARROW_TIPS * tip);
    for (size_t i = 0; i < G_N_ELEMENTS(steps); i++)
        if (steps[i] >= least || (i == 0 && least <= 100 * DT_RECIPE_LEAST))
            return steps[i];
    return steps[G_N_ELEMENTS(steps) - 1];
}

/* The coverage of a line along the centre of a narrow part, also in few steps; full if it is
 * hardly wider than the line. */
static int line_share(double width, double tip)
{
    double share = tip / MAX(width, tip);
    return share > 0.77 ? 100 : share > 0.58 ? 66 : share > 0.45 ? 50 : 40;
}

/* Drops the places of parts that joined others if they are narrow together: they are looked for again. */
static void drop_thin_of_narrow(const DtCompose *c)
{
    GArray *thin = c->t->thin;
    guint n = 0;
    for (guint i = 0; i < thin->len; i++) {
        const DtThinPlace *p = &g_array_index(thin, DtThinPlace, i);
        if (!c->sides[p->part].narrow)
            g_array_index(thin, DtThinPlace, n++) = *p;
    }
    g_array_set_size(thin, n);
}

static void find_sides(DtCompose *c)
{
    const double narrow = DT_LOOK_NARROW_TIPS * dt_compose_tip(c->t);
    c->sides = g_new0(DtPartSides, c->parts->len + 1);
    for (guint i = 0; i < c->parts->len && !dt_work_stopped(); i++) {
        const DtPart *p = dt_compose_part(c, i);
        c->sides[i].narrow = dt_compose_paint(c, p->label)->label < 0 && is_narrow(p, narrow);
    }
    drop_thin_of_narrow(c);
    dt_compose_find_thin(c, TRUE);
}

/* Whether a narrow part that is left bare shows, or can be drawn where it does not, but for a tip's length. */
static gboolean is_on_dark(const DtPartSides *p, double tip)
{
    return p->on_dark > tip && p->on_other <= tip;
}

static void make_areas(DtCompose *c)
{
    double tip = dt_compose_tip(c->t);
    g_autofree int *beside = main_neighbours(c);
    c->area_of = g_new(int, c->parts->len + 1);
    for (guint i = 0; i < c->parts->len; i++) {
        const DtPart *p = dt_compose_part(c, i);
        DtAreaKey key = {p->label, -1, c->sides[i].narrow, is_on_dark(&c->sides[i], tip), 0};
        if (dt_compose_paint(c, p->label)->label < 0) {
            key.beside = key.narrow ? beside[i] : -1;
            key.least = key.narrow ? line_share(p->width, tip) : least_share(p->width, tip);
        }
        c->area_of[i] = find_area(c, key);
        dt_compose_area(c, c->area_of[i])->area += p->area;
    }
    dt_compose_mark_slivers(c);
}

/* Laying ------------------------------------------------------------------------------------- */

static DtInk ink_of(const DtCompose *c, int area)
{
    const DtLookArea *a = dt_compose_area(c, area);
    const DtSeenPaint *p = dt_compose_paint(c, g_array_index(c->keys, DtAreaKey, area).paint);
    DtInk ink = DT_INK_PAPER;
    if (p->label >= 0) {
        ink.label = p->label;
        ink.pen =
            dt_separation_n_pens(p->separation) > 0 ? dt_separation_pen(p->separation, 0) : -1;
        return ink;
    }
    ink.turn = a->turn;
    ink.narrow = a->narrow;
    if (a->recipe.pen[0] < 0) {
        ink.pen = a->outline;
        ink.level = 0;
        return ink;
    }
    ink.pen = a->recipe.pen[0];
    ink.level = (int)lround(a->recipe.share[0] * DT_TRACE_LEVELS);
    ink.across = a->recipe.pen[1];
    ink.across_level = (int)lround(a->recipe.share[1] * DT_TRACE_LEVELS);
    if (ink.level == DT_TRACE_LEVELS && ink.across < 0)
        ink.turn = 0;
    return ink;
}

/* The difference of a flat part. One that is too narrow for a pattern is a line: the eye blurs it with the
 * paper beside it. */
static double flat_difference(const DtCompose *c, guint part)
{
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    const DtPart *p = dt_compose_part(c, part);
    const DtSeenPaint *paint = dt_compose_paint(c, p->label);
    const int pen = a->recipe.pen[0];
    if (!a->narrow || pen < 0)
        return dt_colour_difference(paint->lab, dt_appear_lab(c->t->appear, a->recipe));
    const double tip = c->t->rack->pens[pen].tip,
                 drawn = a->recipe.share[0] < 1 ? tip : MAX(tip, p->width);
    return dt_appear_line_difference(c->t->appear, paint->colour, p->width, pen, drawn);
}

static void record(const DtCompose *c, guint part)
{
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    const DtSeenPaint *p = dt_compose_paint(c, dt_compose_part(c, part)->label);
    DtInkMatch m = {.colour = p->colour,
                    .pen = -1,
                    .across = -1,
                    .coverage = 1,
                    .area_mm2 = dt_compose_part(c, part)->area};
    if (p->label >= 0) {
        unsigned n = dt_separation_n_pens(p->separation);
        m.pen = n > 0 ? dt_separation_pen(p->separation, 0) : -1;
        m.across = n > 1 ? dt_separation_pen(p->separation, 1) : -1;
        m.coverage = n > 0 ? dt_separation_share(p->separation, 0, p->colour) : 1;
        m.across_coverage = n > 1 ? dt_separation_share(p->separation, 1, p->colour) : 0;
        m.distance = dt_separation_difference(p->separation);
    } else {
        m.pen = a->recipe.pen[0];
        const double *share = a->recipe.share;
        const gboolean twice = a->recipe.pen[1] == m.pen;
        m.across = twice ? -1 : a->recipe.pen[1];
        m.coverage = m.pen < 0 ? 1 : twice ? 1 - (1 - share[0]) * (1 - share[1]) : share[0];
        m.across_coverage = m.across < 0 ? 0 : share[1];
        m.distance = flat_difference(c, part);
    }
    dt_pens_record(c->t->pens, m);
}

/* The parts of each place as one clean region: those of one paint are one region already, others
 * may share edges. */
static gboolean lay_regions(DtCompose *c, const int *place_of, GError **error)
{
    guint n = c->t->inks->len;
    g_autofree int *place_of_part = g_new(int, c->parts->len + 1);
    for (guint i = 0; i < c->parts->len; i++)
        place_of_part[i] = place_of[c->area_of[i]];
    dt_compose_join_crossings(c, place_of_part);
    dt_compose_join_attached(c, place_of_part);
    const guint attached_from = c->parts->len - c->attached->len;
    g_autofree int *paint = g_new(int, n + 1);
    g_autofree gboolean *mixed = g_new0(gboolean, n + 1);
    for (guint i = 0; i < n; i++)
        paint[i] = -1;
    for (guint i = 0; i < c->parts->len; i++) {
        int place = place_of_part[i], own = dt_compose_part(c, i)->label;
        if (place < 0)
            continue;
        mixed[place] |= paint[place] >= 0 && (paint[place] != own || i >= attached_from);
        paint[place] = own;
        dt_lines_append_lines(&dt_trace_place(c->t, (guint)place)->only,
                              &dt_compose_part(c, i)->rings);
    }
    for (guint i = 0; i < n; i++) {
        DtLines *only = &dt_trace_place(c->t, i)->only;
        DtLines clean;
        if (!dt_work_check(error))
            return FALSE;
        if (!mixed[i])
            continue;
        dt_lines_init(&clean);
        gboolean good = dt_region_clean(only, DT_PLANE_NONZERO, &clean, error);
        dt_lines_clear(only);
        *only = clean;
        if (!good)
            return FALSE;
    }
    return TRUE;
}

/* All places whose paints change, as one region. */
static gboolean join_tones(DtCompose *c, GError **error)
{
    g_auto(DtLines) all;
    unsigned n = 0;
    dt_lines_init(&all);
    for (guint i = 0; i < c->t->inks->len; i++) {
        const DtInkPlace *place = dt_trace_place(c->t, i);
        if (place->separation) {
            dt_lines_append_lines(&all, &place->only);
            n++;
        }
    }
    return n < 2 || dt_region_clean(&all, DT_PLANE_NONZERO, &c->t->tones, error);
}

/* Whether paints of an ink are kept apart: where a line with its pen would not show, and narrow ones, since two that
 * are side by side have a middle each. */
static gboolean keeps_apart(DtInk ink)
{
    return ink.label < 0 && (ink.narrow || ink.level >= DT_LOOK_SHOWS_OVER * DT_TRACE_LEVELS);
}

static gboolean lay_parts(DtCompose *c, int *place_of, GError **error)
{
    for (int i = 0; i < (int)c->areas->len; i++) {
        DtInk ink = ink_of(c, i);
        DtSeenPaint *p = dt_compose_paint(c, g_array_index(c->keys, DtAreaKey, i).paint);
        place_of[i] = dt_trace_ink_number(c->t, ink, keeps_apart(ink) ? &p->lab : NULL);
        if (place_of[i] < 0)
            continue;
        DtInkPlace *place = dt_trace_place(c->t, (guint)place_of[i]);
        if (!keeps_apart(ink))
            place->paint = p->lab;
        if (p->separation)
            place->separation = g_steal_pointer(&p->separation);
        place->picture = p->picture;
        place->beside_lighter |= !dt_compose_area(c, i)->on_dark;
    }
    return lay_regions(c, place_of, error) && join_tones(c, error);
}

static DtLab tone_at(const DtCompose *c, int label, DtPoint at)
{
    const DtColour seen = dt_paint_layers_seen_at(c->t->layers, label, at).colour;
    return dt_colour_lab(dt_colour_over(seen, c->t->o->paper));
}

DtLab dt_compose_paint_at(const DtCompose *c, int part, DtPoint at)
{
    if (part < 0)
        return dt_appear_lab(c->t->appear, DT_RECIPE_PAPER);
    const DtSeenPaint *p = dt_compose_paint(c, dt_compose_part(c, (guint)part)->label);
    return p->label < 0 ? p->lab : tone_at(c, p->label, at);
}

DtLab dt_compose_art_at(const DtCompose *c, int part, DtPoint at)
{
    const int tone =
        part < 0 ? -1 : dt_compose_paint(c, dt_compose_part(c, (guint)part)->label)->tone;
    return tone < 0 ? dt_compose_paint_at(c, part, at) : tone_at(c, tone, at);
}

static void clear_area(gpointer area)
{
    g_clear_pointer(&((DtLookArea *)area)->along, g_free);
}

/* All together ------------------------------------------------------------------------------- */

static gboolean compose(DtCompose *c, GError **error)
{
    collect_paints(c);
    if (!dt_work_check(error) || !dt_compose_average_textures(c, error) || !take_apart(c, error) ||
        !dt_compose_join_blends(c, DT_LOOK_NARROW_TIPS * dt_compose_tip(c->t), error) ||
        !dt_compose_take_off_lines(c, DT_LOOK_NARROW_TIPS * dt_compose_tip(c->t), error))
        return FALSE;
    find_sides(c);
    make_areas(c);
    dt_compose_find_thin_lines(c);
    dt_compose_bound_tones(c);
    g_autoptr(GArray) borders = dt_parts_group_borders(c->borders, c->area_of);
    dt_look_assign(c->t->appear, (DtLookArea *)(void *)c->areas->data, c->areas->len, borders,
                   dt_compose_tip(c->t), c->gaps);
    if (!dt_work_check(error))
        return FALSE;
    for (guint i = 0; i < c->parts->len; i++)
        record(c, i);
    if (c->t->only_thin)
        return dt_work_check(error);
    g_autofree int *place_of = g_new(int, c->areas->len + 1);
    return lay_parts(c, place_of, error) && dt_compose_edges(c, place_of, error) &&
           dt_compose_make_room(c, place_of, error);
}

gboolean dt_look_compose(DtTrace *t, GError **error)
{
    DtCompose c = {.t = t,
                   .paints = g_array_new(FALSE, FALSE, sizeof(DtSeenPaint)),
                   .regions = g_array_new(FALSE, TRUE, sizeof(DtLines)),
                   .parts = g_array_new(FALSE, FALSE, sizeof(DtPart)),
                   .areas = g_array_new(FALSE, FALSE, sizeof(DtLookArea)),
                   .keys = g_array_new(FALSE, FALSE, sizeof(DtAreaKey)),
                   .attached = g_array_new(FALSE, FALSE, sizeof(int)),
                   .gaps = g_array_new(FALSE, FALSE, sizeof(DtPartBorder))};
    g_array_set_clear_func(c.regions, clear_lines);
    g_array_set_clear_func(c.parts, dt_part_clear);
    g_array_set_clear_func(c.areas, clear_area);
    gboolean good = compose(&c, error);
    for (guint i = 0; i < c.paints->len; i++) {
        DtSeenPaint *p = dt_compose_paint(&c, (int)i);
        dt_separation_free(p->separation);
        if (p->colours)
            g_array_free(p->colours, TRUE);
    }
    g_array_free(c.paints, TRUE);
    g_array_free(c.regions, TRUE);
    g_array_free(c.parts, TRUE);
    if (c.edges)
        g_array_free(c.edges, TRUE);
    if (c.borders)
        g_array_free(c.borders, TRUE);
    g_array_free(c.areas, TRUE);
    g_array_free(c.keys, TRUE);
    g_array_free(c.attached, TRUE);
    g_array_free(c.gaps, TRUE);
    g_free(c.area_of);
    g_free(c.sides);
    return good;
}
