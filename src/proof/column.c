/* column: what is shown beside the sheet: the bed, the pens, their tones and the breakdown of
 * the time. */
#include "proof/page.h"

#include <math.h>

enum { TONES = 28, ARTWORK = 150 };

/* Where the time goes -------------------------------------------------------------------------- */

typedef enum { INK, SLACK, TRAVEL, LIFTS, HOMING, N_PARTS } Part;

static const struct {
    const char *name;
    DtColour colour;
} parts[N_PARTS] = {
    [INK] = {N_("ink"), {0.20, 0.19, 0.17, 1}},
    [SLACK] = {N_("slack"), {0.72, 0.30, 0.24, 1}},
    [TRAVEL] = {N_("travel"), {0.30, 0.55, 0.76, 1}},
    [LIFTS] = {N_("lifts"), {0.93, 0.62, 0.18, 1}},
    [HOMING] = {N_("homing"), {0.66, 0.64, 0.60, 1}},
};

static double pen_s(const DtProofPen *p)
{
    return p->ink_s + p->slack_s + p->travel_s + p->lift_s;
}

/* Seconds of each part. */
static void split_time(const DtProfile *p, const DtMoves *m, const DtTimes *t, double *part)
{
    part[HOMING] = t->home_s;
    if (m == NULL || t->at_s == NULL) {
        part[INK] = t->ink_s;
        part[SLACK] = 0;
        part[TRAVEL] = t->travel_s;
        part[LIFTS] = t->lift_s;
        return;
    }
    g_autofree DtProofPen *pens = g_new0(DtProofPen, p->rack.n);
    dt_proof_pens(p, m, t, pens);
    part[INK] = part[SLACK] = part[TRAVEL] = part[LIFTS] = 0;
    for (size_t i = 0; i < p->rack.n; i++) {
        part[INK] += pens[i].ink_s;
        part[SLACK] += pens[i].slack_s;
        part[TRAVEL] += pens[i].travel_s;
        part[LIFTS] += pens[i].lift_s;
    }
}

/* Bands from left to right, `px_per_s` wide for each second. */
static void draw_bar(cairo_t *cr, const double *part, double x, double y, double height,
                     double px_per_s)
{
    for (int i = 0; i < N_PARTS; i++) {
        double w = part[i] * px_per_s;
        cairo_rectangle(cr, x, y, w, height);
        dt_proof_colour(cr, parts[i].colour);
        cairo_fill(cr);
        x += w;
    }
}

/* Parts of the column ----------------------------------------------------------------------- */

static gboolean shows_pen_times(const DtProofPage *g)
{
    return g->in->order && g->in->moves && g->in->times && g->in->times->at_s;
}

/* Heading, two bars of time, two of error with a line above, and notes. */
static double one_way_height(const DtOneWay *w)
{
    return w->lost > 0 ? 150 : 96;
}

double dt_proof_column_height(const DtProofPage *g)
{
    double h = dt_proof_frame_height(&g->map) / g->k + 34;
    if (dt_proof_shows_artwork(g->in))
        h += 26 + ARTWORK + 54;
    if (g->n_used)
        h += 34 + 42 * (double)g->n_used;
    if (g->in->tones)
        h += 60 + TONES * (double)g->n_used;
    if (g->in->times)
        h += 184 + (g->in->before ? 46 : 0);
    if (g->in->drawing && g->in->drawing->n_notes > 0)
        h += 29;
    if (g->in->one_way)
        h += one_way_height(g->in->one_way);
    if (shows_pen_times(g))
        h += 54 + 18 * (double)g->n_used;
    return (h + (g->in->order ? 66 : 0)) * g->k;
}

/* The column ----------------------------------------------------------------------------------- */

static double draw_heading(cairo_t *cr, const DtProofPage *g, double y, const char *text)
{
    dt_proof_letters(cr, g->column_x, y + 13 * g->k,
                     &(DtProofType){13 * g->k, TRUE, 0, dt_proof_text, COLUMN * g->k}, text);
    return y + 26 * g->k;
}

static double draw_map(cairo_t *cr, const DtProofPage *g)
{
    const DtProfile *p = g->in->profile;
    dt_proof_frame_bed(cr, &g->map, p);
    dt_proof_frame_enter(cr, &g->map);
    if (!dt_box_is_empty(g->trace.box)) {
        DtBox b = g->trace.box;
        cairo_rectangle(cr, b.x0, b.y0, dt_box_width(b), dt_box_height(b));
        cairo_set_source_rgba(cr, 0.16, 0.45, 0.70, 0.18);
        cairo_fill_preserve(cr);
        dt_proof_colour(cr, dt_proof_travel);
        cairo_set_line_width(cr, g->k / g->map.scale);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
    double y = g->map.y + dt_proof_frame_height(&g->map) + 14 * g->k;
    g_autofree char *text = g_strdup_printf(_("bed %g \303\227 %g mm, sheet %g \303\227 %g mm"),
                                            p->travel[0], p->travel[1], p->paper_w, p->paper_h);
    dt_proof_letters(cr, g->column_x, y,
                     &(DtProofType){11 * g->k, FALSE, 0, dt_proof_faint, COLUMN * g->k}, text);
    return y + 20 * g->k;
}

/* The sheet as the artist painted it, and how much the ink differs from it. */
static double draw_artwork(cairo_t *cr, const DtProofPage *g, double y)
{
    const DtProfile *p = g->in->profile;
    const DtProofLook *look = g->in->look;
    double k = g->k, w = COLUMN * k, h = ARTWORK * k;
    y = draw_heading(cr, g, y, _("The artwork"));
    DtProofFrame f = {
        {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w, p->paper_at.y + p->paper_h},
        g->column_x,
        y,
        MIN(w / p->paper_w, h / p->paper_h)};
    cairo_rectangle(cr, f.x, f.y, dt_proof_frame_width(&f), dt_proof_frame_height(&f));
    dt_proof_colour(cr, dt_proof_paper);
    cairo_fill_preserve(cr);
    dt_proof_colour(cr, dt_proof_bed_edge);
    cairo_set_line_width(cr, k);
    cairo_stroke(cr);
    dt_proof_frame_enter(cr, &f);
    dt_art_paint(g->in->drawing, cr);
    cairo_restore(cr);
    y += dt_proof_frame_height(&f) + 17 * k;
    DtProofType type = {11 * k, FALSE, 0, dt_proof_text, w};
    g_autofree char *near =
        g_strdup_printf(_("ink differs by %.1f at 40 cm, %.1f at 2 m"), look->near, look->far);
    dt_proof_letters(cr, g->column_x, y, &type, near);
    g_autofree char *light =
        g_strdup_printf(_("in CIEDE2000; L* differs by %.1f at 2 m"), look->lightness);
    type.colour = dt_proof_faint;
    dt_proof_letters(cr, g->column_x, y + 16 * k, &type, light);
    return y + 37 * k;
}

static void draw_pen(cairo_t *cr, const DtProofPage *g, double y, const DtPen *pen,
                     const DtProofPen *use)
{
    double k = g->k, x = g->column_x;
    double width = CLAMP(pen->tip * g->frame.scale, 1 * k, 16 * k);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_width(cr, width);
    dt_proof_colour(cr, pen->colour);
    cairo_move_to(cr, x + 8 * k, y + 9 * k);
    cairo_line_to(cr, x + 44 * k, y + 9 * k);
    cairo_stroke(cr);
    g_autofree char *name = g_strdup_printf("%s  %g mm", pen->name, pen->tip);
    dt_proof_letters(cr, x + 58 * k, y + 13 * k,
                     &(DtProofType){13 * k, FALSE, 0, dt_proof_text, (COLUMN - 58) * k}, name);
    GString *s = g_string_new(NULL);
    g_string_printf(s, P_("%.2f m, %zu stroke", "%.2f m, %zu strokes", use->strokes),
                    use->ink_mm / 1000, use->strokes);
    if (pen_s(use) > 0) {
        g_autofree char *time = dt_base_duration(pen_s(use));
        g_string_append_printf(s, ", %s", time);
    }
    dt_proof_letters(cr, x + 58 * k, y + 29 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, (COLUMN - 58) * k}, s->str);
    g_string_free(s, TRUE);
}

static double draw_pens(cairo_t *cr, const DtProofPage *g, double y)
{
    const DtRack *rack = &g->in->profile->rack;
    y = draw_heading(cr, g, y, _("Pens, in drawing order"));
    for (size_t i = 0; i < g->n_used; i++) {
        draw_pen(cr, g, y, &rack->pens[g->used[i]], &g->pens[g->used[i]]);
        y += 42 * g->k;
    }
    return y + 8 * g->k;
}

/* Each pen's tones at the scale of the sheet. */
static double draw_tones(cairo_t *cr, const DtProofPage *g, double y)
{
    static const char *const marks[] = {"0", "50", "100"};
    const DtRack *rack = &g->in->profile->rack;
    double k = g->k, x = g->column_x, w = COLUMN * k, half = w / 22;
    /* xgettext:no-c-format */
    y = draw_heading(cr, g, y, _("Tones, % of the paper covered"));
    for (size_t i = 0; i < g->n_used; i++) {
        dt_proof_tones(cr, &rack->pens[g->used[i]], g->in->tones,
                       (DtBox){x, y, x + w, y + (TONES - 5) * k}, g->frame.scale);
        y += TONES * k;
    }
    for (int i = 0; i < 3; i++)
        dt_proof_letters(cr, x + half + i * (w - 2 * half) / 2, y + 9 * k,
                         &(DtProofType){11 * k, FALSE, 0.5, dt_proof_faint, 0}, marks[i]);
    return y + 26 * k;
}

/* "17:35": minutes and seconds, for the columns of a table. */
static char *clock_text(double seconds)
{
    long whole = lround(seconds);
    return g_strdup_printf("%ld:%02ld", whole / 60, whole % 60);
}

static void draw_cells(cairo_t *cr, const DtProofPage *g, double y, DtProofType type,
                       const char *name, char *const *cells)
{
    static const double right[] = {112, 152, 194, 230, 268};
    type.align = 0;
    type.width = 74 * g->k;
    dt_proof_letters(cr, g->column_x, y, &type, name);
    type.align = 1;
    type.width = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(right); i++)
        dt_proof_letters(cr, g->column_x + right[i] * g->k, y, &type, cells[i]);
}

/* Breakdown of each pen's time. */
static double draw_pen_times(cairo_t *cr, const DtProofPage *g, double y)
{
    /* narrow columns: about six letters each */
    char *heads[] = {(char *)C_("narrow column", "ink"), (char *)C_("narrow column", "slack"),
                     (char *)C_("narrow column", "travel"), (char *)C_("narrow column", "lifts"),
                     (char *)C_("narrow column", "all")};
    const DtRack *rack = &g->in->profile->rack;
    double k = g->k;
    DtProofType type = {11 * k, FALSE, 0, dt_proof_faint, 0};
    y = draw_heading(cr, g, y, _("Time of each pen, min:s"));
    draw_cells(cr, g, y + 4 * k, type, "", heads);
    type.colour = dt_proof_text;
    for (size_t i = 0; i < g->n_used; i++) {
        const DtProofPen *pen = &g->pens[g->used[i]];
        y += 18 * k;
        char *cells[] = {clock_text(pen->ink_s), clock_text(pen->slack_s),
                         clock_text(pen->travel_s), clock_text(pen->lift_s),
                         clock_text(pen_s(pen))};
        draw_cells(cr, g, y + 4 * k, type, rack->pens[g->used[i]].name, cells);
        for (gsize j = 0; j < G_N_ELEMENTS(cells); j++)
            g_free(cells[j]);
    }
    return y + 28 * k;
}

static double draw_time_row(cairo_t *cr, const DtProofPage *g, double y, Part part, double seconds)
{
    double k = g->k;
    cairo_rectangle(cr, g->column_x, y, 10 * k, 10 * k);
    dt_proof_colour(cr, parts[part].colour);
    cairo_fill(cr);
    DtProofType type = {12 * k, FALSE, 0, dt_proof_text, 0};
    dt_proof_letters(cr, g->column_x + 18 * k, y + 9.5 * k, &type, _(parts[part].name));
    g_autofree char *time = dt_base_duration(seconds);
    type.align = 1;
    dt_proof_letters(cr, g->column_x + 190 * k, y + 9.5 * k, &type, time);
    g_autofree char *share = g_strdup_printf("%.0f %%", 100 * seconds / g->in->times->total_s);
    dt_proof_letters(cr, g->column_x + 250 * k, y + 9.5 * k, &type, share);
    return y + 19 * k;
}

/* The same drawing in its original order. */
static double draw_before(cairo_t *cr, const DtProofPage *g, double y, double px_per_s)
{
    double k = g->k, part[N_PARTS];
    split_time(g->in->profile, g->in->before_moves, g->in->before, part);
    draw_bar(cr, part, g->column_x, y, 8 * k, px_per_s);
    g_autofree char *was = dt_base_duration(g->in->before->total_s);
    g_autofree char *text = g_strdup_printf(_("in the drawing's own order: %s"), was);
    dt_proof_letters(cr, g->column_x, y + 23 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, COLUMN * k}, text);
    return y + 42 * k;
}

static void draw_totals(cairo_t *cr, const DtProofPage *g, double y)
{
    const DtTimes *t = g->in->times;
    double k = g->k;
    g_autofree char *total = dt_base_duration(t->total_s);
    DtProofType bold = {12 * k, TRUE, 0, dt_proof_text, 0};
    dt_proof_letters(cr, g->column_x + 18 * k, y + 9.5 * k, &bold, _("drawing"));
    bold.align = 1;
    dt_proof_letters(cr, g->column_x + 190 * k, y + 9.5 * k, &bold, total);
    if (t->changes == 0)
        return;
    g_autofree char *time = dt_base_duration(t->change_s);
    g_autofree char *text = g_strdup_printf(P_("and %zu pen change by hand, about %s",
                                               "and %zu pen changes by hand, about %s", t->changes),
                                            t->changes, time);
    dt_proof_letters(cr, g->column_x, y + 32 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, COLUMN * k}, text);
}

static void draw_times(cairo_t *cr, const DtProofPage *g, double y)
{
    const DtTimes *t = g->in->times, *before = g->in->before;
    double k = g->k, longest = before ? MAX(before->total_s, t->total_s) : t->total_s;
    double part[N_PARTS];
    y = draw_heading(cr, g, y, _("Where the time goes"));
    if (!(longest > 0))
        return;
    split_time(g->in->profile, g->in->moves, t, part);
    draw_bar(cr, part, g->column_x, y, 14 * k, COLUMN * k / longest);
    y += 24 * k;
    if (before)
        y = draw_before(cr, g, y, COLUMN * k / longest);
    for (int i = 0; i < N_PARTS; i++)
        if (part[i] > 0)
            y = draw_time_row(cr, g, y, (Part)i, part[i]);
    draw_totals(cr, g, y);
}

/* Two bars, one below the other, with a name at the left and a value at the right. */
static double draw_pair(cairo_t *cr, const DtProofPage *g, double y, const double *value,
                        char *const *text)
{
    const char *const names[] = {_("both ways"), _("one way")};
    const double k = g->k, from = 70 * k, to = 190 * k, most = MAX(value[0], value[1]);
    DtProofType type = {11 * k, FALSE, 0, dt_proof_text, 0};
    for (int i = 0; i < 2; i++) {
        type.align = 0;
        dt_proof_letters(cr, g->column_x, y + 9 * k, &type, names[i]);
        cairo_rectangle(cr, g->column_x + from, y + k, (to - from) * value[i] / most, 8 * k);
        dt_proof_colour(cr, i == 0 ? parts[HOMING].colour : parts[TRAVEL].colour);
        cairo_fill(cr);
        type.align = 1;
        dt_proof_letters(cr, g->column_x + COLUMN * k, y + 9 * k, &type, text[i]);
        y += 16 * k;
    }
    return y;
}

static double draw_note(cairo_t *cr, const DtProofPage *g, double y, const char *text)
{
    const double k = g->k;
    dt_proof_letters(cr, g->column_x, y + 10 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, COLUMN * k}, text);
    return y + 17 * k;
}

/* Cost in time and gain in accuracy of one-way fills. */
static double draw_one_way(cairo_t *cr, const DtProofPage *g, double y)
{
    const DtOneWay *w = g->in->one_way;
    const char axis = w->axis ? 'Y' : 'X';
    g_autofree char *heading = g_strdup_printf(_("Fills one way along %c"), axis);
    y = draw_heading(cr, g, y, heading);
    g_autofree char *both_s = dt_base_duration(w->time_s[0]);
    g_autofree char *one_s = dt_base_duration(w->time_s[1]);
    y = draw_pair(cr, g, y, w->time_s, (char *[]){both_s, one_s});
    if (!(w->lost > 0)) {
        g_autofree char *none =
            g_strdup_printf(_("no lost motion of %c is known: gain unknown"), axis);
        return draw_note(cr, g, y, none) + 12 * g->k;
    }
    g_autofree char *what = g_strdup_printf(_("their mean error along %c, left uncorrected"), axis);
    y = draw_note(cr, g, y + 2 * g->k, what);
    g_autofree char *both_mm = g_strdup_printf("%.3f mm", w->error_mm[0]);
    g_autofree char *one_mm = g_strdup_printf("%.3f mm", w->error_mm[1]);
    return draw_pair(cr, g, y + 2 * g->k, w->error_mm, (char *[]){both_mm, one_mm}) + 16 * g->k;
}

static double draw_order_key(cairo_t *cr, const DtProofPage *g, double y)
{
    enum { STEPS = 16 };
    double k = g->k, w = COLUMN * k;
    y = draw_heading(cr, g, y, _("Order of the travel"));
    cairo_pattern_t *shades = cairo_pattern_create_linear(g->column_x, 0, g->column_x + w, 0);
    for (int i = 0; i <= STEPS; i++) {
        DtColour c = dt_proof_when((double)i / STEPS);
        cairo_pattern_add_color_stop_rgb(shades, (double)i / STEPS, c.r, c.g, c.b);
    }
    cairo_rectangle(cr, g->column_x, y, w, 10 * k);
    cairo_set_source(cr, shades);
    cairo_fill(cr);
    cairo_pattern_destroy(shades);
    DtProofType small = {11 * k, FALSE, 0, dt_proof_faint, 0};
    dt_proof_letters(cr, g->column_x, y + 24 * k, &small, _("first"));
    small.align = 1;
    dt_proof_letters(cr, g->column_x + w, y + 24 * k, &small, _("last"));
    return y + 40 * k;
}

/* How much of the artwork is described rather than drawn. */
static double draw_doubts(cairo_t *cr, const DtProofPage *g, double y)
{
    size_t n = g->in->drawing->n_notes;
    g_autofree char *text = g_strdup_printf(
        P_("%zu note on the artwork in the report", "%zu notes on the artwork in the report", n),
        n);
    return draw_note(cr, g, y, text) + 12 * g->k;
}

void dt_proof_draw_column(cairo_t *cr, const DtProofPage *g)
{
    double y = draw_map(cr, g);
    if (dt_proof_shows_artwork(g->in))
        y = draw_artwork(cr, g, y);
    if (g->n_used)
        y = draw_pens(cr, g, y);
    if (g->in->tones)
        y = draw_tones(cr, g, y);
    if (g->in->order)
        y = draw_order_key(cr, g, y);
    if (shows_pen_times(g))
        y = draw_pen_times(cr, g, y);
    if (g->in->one_way)
        y = draw_one_way(cr, g, y);
    if (g->in->drawing && g->in->drawing->n_notes > 0)
        y = draw_doubts(cr, g, y);
    if (g->in->times)
        draw_times(cr, g, y);
}
