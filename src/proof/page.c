/* page: a proof: the sheet with its ink, and beside it the bed, the pens and where the time goes.
 */
#include "proof-private.h"

#include <math.h>
#include <string.h>

/* Sizes at a picture width of BASE; everything scales with it. */
enum { BASE = 1200, PAD = 28, HEADER = 62, FOOTER = 46, COLUMN = 268, GAP = 26, TONES = 28 };

typedef struct {
    const DtProofInput *in;
    DtProofTrace trace;
    DtProofPen *pens;
    double k; /* picture units for one unit of the sizes above */
    double width, height;
    DtProofFrame frame; /* the sheet, large */
    DtProofFrame map;   /* the bed, small */
    double column_x;
    char *figures;
} Page;

/* Where the time goes -------------------------------------------------------------------------- */

typedef enum { INK, SLACK, TRAVEL, LIFTS, HOMING, N_PARTS } Part;

static const struct {
    const char *name;
    DtColour colour;
} parts[N_PARTS] = {
    [INK] = {"ink", {0.20, 0.19, 0.17, 1}},       [SLACK] = {"slack", {0.72, 0.30, 0.24, 1}},
    [TRAVEL] = {"travel", {0.30, 0.55, 0.76, 1}}, [LIFTS] = {"lifts", {0.93, 0.62, 0.18, 1}},
    [HOMING] = {"homing", {0.66, 0.64, 0.60, 1}},
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

/* Figures -------------------------------------------------------------------------------------- */

char *dt_proof_duration(double seconds)
{
    if (seconds < 59.95)
        return g_strdup_printf("%.1f s", seconds);
    long whole = lround(seconds);
    if (whole < 3600)
        return g_strdup_printf("%ld min %02ld s", whole / 60, whole % 60);
    return g_strdup_printf("%ld h %02ld min", whole / 3600, whole / 60 % 60);
}

static double travel_mm(const DtProofTrace *t)
{
    double sum = 0;
    for (guint i = 0; i < t->hops->len; i++) {
        const DtProofHop *h = &g_array_index(t->hops, DtProofHop, i);
        sum += dt_point_distance(h->from, h->to);
    }
    return sum;
}

static char *make_figures(const Page *g)
{
    const DtProofInput *in = g->in;
    if (in->figures)
        return g_strdup(in->figures);
    if (g->trace.ink.n == 0)
        return g_strdup("");
    GString *s = g_string_new(NULL);
    if (in->times) {
        g_autofree char *time = dt_proof_duration(in->times->total_s);
        g_string_append_printf(s, "time %s    ", time);
    }
    g_string_append_printf(s, "ink %.2f m", dt_lines_total_length(&g->trace.ink) / 1000);
    const DtRack *rack = &in->profile->rack;
    const char *between = " (";
    for (size_t i = 0; i < rack->n; i++)
        if (g->pens[i].strokes && g->pens[i].strokes < g->trace.ink.n) {
            g_string_append_printf(s, "%s%s %.2f", between, rack->pens[i].name,
                                   g->pens[i].ink_mm / 1000);
            between = ", ";
        }
    size_t lifts = in->times ? in->times->lifts : g->trace.ink.n;
    double travel = in->times ? in->times->travel_mm : travel_mm(&g->trace);
    g_string_append_printf(s, "%s    lifts %zu    travel %.2f m", between[0] == ',' ? ")" : "",
                           lifts, travel / 1000);
    return g_string_free(s, FALSE);
}

/* Pens of the trace where there are no moves to ask. */
static void add_up_trace(Page *g)
{
    for (size_t i = 0; i < g->trace.ink.n; i++) {
        DtProofPen *pen = &g->pens[g_array_index(g->trace.pen, uint16_t, i)];
        pen->strokes++;
        pen->ink_mm += dt_lines_length(&g->trace.ink, i);
    }
}

/* Layout --------------------------------------------------------------------------------------- */

static DtBox sheet_box(const DtProfile *p)
{
    return (DtBox){p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
}

static size_t used_pens(const Page *g)
{
    size_t n = 0;
    for (size_t i = 0; i < g->in->profile->rack.n; i++)
        n += g->pens[i].strokes > 0;
    return n;
}

static gboolean shows_pen_times(const Page *g)
{
    return g->in->order && g->in->moves && g->in->times && g->in->times->at_s;
}

static double column_height(const Page *g)
{
    double h = dt_proof_frame_height(&g->map) / g->k + 34;
    if (used_pens(g))
        h += 34 + 42 * (double)used_pens(g);
    if (g->in->tones)
        h += 60 + TONES * (double)used_pens(g);
    if (g->in->times)
        h += 184 + (g->in->before ? 46 : 0);
    if (shows_pen_times(g))
        h += 54 + 18 * (double)used_pens(g);
    return (h + (g->in->order ? 66 : 0)) * g->k;
}

/* The sheet and the ink on and around it; ink far off the bed, as a program from elsewhere may have
 * it, must not shrink the sheet to a dot. */
static DtBox shown(const Page *g)
{
    const DtProfile *p = g->in->profile;
    DtBox sheet = sheet_box(p), bed = {0, 0, p->travel[0], p->travel[1]};
    DtBox ink = dt_box_intersect(g->trace.box, dt_box_grow(dt_box_union(sheet, bed), 20));
    return dt_box_grow(dt_box_is_empty(ink) ? sheet : dt_box_union(sheet, ink), 6);
}

static void lay_out(Page *g)
{
    const DtProfile *p = g->in->profile;
    double k = g->k, main_w = g->width - (2 * PAD + GAP + COLUMN) * k;
    DtBox view = shown(g);
    double scale = MIN(main_w / dt_box_width(view), 1.1 * main_w / dt_box_height(view));
    g->frame = (DtProofFrame){view, 0, HEADER * k, scale};
    g->frame.x = PAD * k + 0.5 * (main_w - dt_proof_frame_width(&g->frame));
    g->column_x = g->width - (PAD + COLUMN) * k;

    DtBox bed =
        dt_box_grow(dt_box_union(sheet_box(p), (DtBox){0, 0, p->travel[0], p->travel[1]}), 4);
    scale = MIN(COLUMN * k / dt_box_width(bed), 170 * k / dt_box_height(bed));
    g->map = (DtProofFrame){bed, g->column_x, HEADER * k, scale};
    double left = dt_proof_frame_height(&g->frame) + FOOTER * k, right = column_height(g) + 12 * k;
    g->height = ceil(HEADER * k + MAX(left, right));
}

/* The sheet ------------------------------------------------------------------------------------ */

static DtColour paler(DtColour c, double by)
{
    return (DtColour){c.r + by * (1 - c.r), c.g + by * (1 - c.g), c.b + by * (1 - c.b), c.alpha};
}

static void draw_ink(cairo_t *cr, const Page *g)
{
    const DtRack *rack = &g->in->profile->rack;
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    for (size_t i = 0; i < g->trace.ink.n; i++) {
        const DtPen *pen = &rack->pens[g_array_index(g->trace.pen, uint16_t, i)];
        cairo_set_line_width(cr, pen->tip);
        dt_proof_colour(cr, g->in->order ? paler(pen->colour, 0.72) : pen->colour);
        dt_proof_path(cr, &g->trace.ink, i);
        cairo_stroke(cr);
    }
}

static void draw_travel(cairo_t *cr, const Page *g)
{
    const GArray *hops = g->trace.hops;
    double total = g->in->times ? g->in->times->total_s : 0;
    cairo_set_line_width(cr, (g->in->order ? 1.1 : 0.7) * g->k / g->frame.scale);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_BUTT);
    for (guint i = 0; i < hops->len; i++) {
        const DtProofHop *h = &g_array_index(hops, DtProofHop, i);
        double when =
            total > 0 && h->t1 > 0 ? 0.5 * (h->t0 + h->t1) / total : (i + 0.5) / hops->len;
        dt_proof_colour(cr, g->in->order ? dt_proof_when(when) : dt_proof_travel);
        cairo_move_to(cr, h->from.x, h->from.y);
        cairo_line_to(cr, h->to.x, h->to.y);
        cairo_stroke(cr);
    }
}

static void ring(cairo_t *cr, DtPoint at, double radius, DtColour colour)
{
    cairo_new_path(cr);
    cairo_arc(cr, at.x, at.y, radius, 0, 2 * G_PI);
    cairo_set_source_rgba(cr, 1, 1, 1, 0.9);
    cairo_set_line_width(cr, radius * 0.9);
    cairo_stroke_preserve(cr);
    dt_proof_colour(cr, colour);
    cairo_set_line_width(cr, radius * 0.4);
    cairo_stroke(cr);
}

static void draw_mark(cairo_t *cr, const Page *g, DtPoint bed, DtColour colour, const char *text,
                      double dy)
{
    double k = g->k;
    DtPoint at = dt_proof_frame_at(&g->frame, bed);
    ring(cr, at, 5.5 * k, colour);
    gboolean left = at.x > g->frame.x + 0.85 * dt_proof_frame_width(&g->frame);
    dt_proof_label(cr, at.x + (left ? -10 : 10) * k, at.y + dy * k,
                   &(DtProofType){12 * k, TRUE, left ? 1 : 0, colour, 0}, text);
}

static void draw_marks(cairo_t *cr, const Page *g)
{
    const DtLines *ink = &g->trace.ink;
    DtPoint home = dt_machine_ink_at(g->in->profile, dt_point(0, 0));
    if (dt_box_contains(g->frame.view, home))
        draw_mark(cr, g, home, dt_proof_faint, "home", -8);
    if (ink->n_pts == 0)
        return;
    draw_mark(cr, g, ink->pts[ink->n_pts - 1], dt_proof_end, "end", 14);
    draw_mark(cr, g, ink->pts[0], dt_proof_start, "start", -4);
}

static void draw_sheet(cairo_t *cr, const Page *g)
{
    dt_proof_frame_bed(cr, &g->frame, g->in->profile);
    dt_proof_frame_enter(cr, &g->frame);
    if (g->in->drawing && g->trace.ink.n == 0)
        dt_proof_paint(cr, g->in->drawing);
    if (!g->in->order)
        draw_travel(cr, g);
    draw_ink(cr, g);
    if (g->in->order)
        draw_travel(cr, g);
    cairo_restore(cr);
    draw_marks(cr, g);
}

/* The column ----------------------------------------------------------------------------------- */

static double draw_heading(cairo_t *cr, const Page *g, double y, const char *text)
{
    dt_proof_letters(cr, g->column_x, y + 13 * g->k,
                     &(DtProofType){13 * g->k, TRUE, 0, dt_proof_text, COLUMN * g->k}, text);
    return y + 26 * g->k;
}

static double draw_map(cairo_t *cr, const Page *g)
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
    g_autofree char *text = g_strdup_printf("bed %g \303\227 %g mm, sheet %g \303\227 %g mm",
                                            p->travel[0], p->travel[1], p->paper_w, p->paper_h);
    dt_proof_letters(cr, g->column_x, y,
                     &(DtProofType){11 * g->k, FALSE, 0, dt_proof_faint, COLUMN * g->k}, text);
    return y + 20 * g->k;
}

static void draw_pen(cairo_t *cr, const Page *g, double y, const DtPen *pen, const DtProofPen *use)
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
    g_string_printf(s, "%.2f m, %zu stroke%s", use->ink_mm / 1000, use->strokes,
                    use->strokes == 1 ? "" : "s");
    if (pen_s(use) > 0) {
        g_autofree char *time = dt_proof_duration(pen_s(use));
        g_string_append_printf(s, ", %s", time);
    }
    dt_proof_letters(cr, x + 58 * k, y + 29 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, (COLUMN - 58) * k}, s->str);
    g_string_free(s, TRUE);
}

static double draw_pens(cairo_t *cr, const Page *g, double y)
{
    const DtRack *rack = &g->in->profile->rack;
    y = draw_heading(cr, g, y, "Pens, in drawing order");
    for (size_t i = 0; i < rack->n; i++)
        if (g->pens[i].strokes) {
            draw_pen(cr, g, y, &rack->pens[i], &g->pens[i]);
            y += 42 * g->k;
        }
    return y + 8 * g->k;
}

/* Each pen's tones at the scale of the sheet. */
static double draw_tones(cairo_t *cr, const Page *g, double y)
{
    static const char *const marks[] = {"0", "50", "100"};
    const DtRack *rack = &g->in->profile->rack;
    double k = g->k, x = g->column_x, w = COLUMN * k, half = w / 22;
    y = draw_heading(cr, g, y, "Tones, % of the paper covered");
    for (size_t i = 0; i < rack->n; i++)
        if (g->pens[i].strokes) {
            dt_proof_tones(cr, &rack->pens[i], g->in->tones,
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

static void draw_cells(cairo_t *cr, const Page *g, double y, DtProofType type, const char *name,
                       char *const *cells)
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

/* Where each pen's time goes. */
static double draw_pen_times(cairo_t *cr, const Page *g, double y)
{
    static char *const heads[] = {(char *)"ink", (char *)"slack", (char *)"travel", (char *)"lifts",
                                  (char *)"all"};
    const DtRack *rack = &g->in->profile->rack;
    double k = g->k;
    DtProofType type = {11 * k, FALSE, 0, dt_proof_faint, 0};
    y = draw_heading(cr, g, y, "Time of each pen, min:s");
    draw_cells(cr, g, y + 4 * k, type, "", heads);
    type.colour = dt_proof_text;
    for (size_t i = 0; i < rack->n; i++) {
        const DtProofPen *pen = &g->pens[i];
        if (pen->strokes == 0)
            continue;
        y += 18 * k;
        char *cells[] = {clock_text(pen->ink_s), clock_text(pen->slack_s),
                         clock_text(pen->travel_s), clock_text(pen->lift_s),
                         clock_text(pen_s(pen))};
        draw_cells(cr, g, y + 4 * k, type, rack->pens[i].name, cells);
        for (gsize j = 0; j < G_N_ELEMENTS(cells); j++)
            g_free(cells[j]);
    }
    return y + 28 * k;
}

static double draw_time_row(cairo_t *cr, const Page *g, double y, Part part, double seconds)
{
    double k = g->k;
    cairo_rectangle(cr, g->column_x, y, 10 * k, 10 * k);
    dt_proof_colour(cr, parts[part].colour);
    cairo_fill(cr);
    DtProofType type = {12 * k, FALSE, 0, dt_proof_text, 0};
    dt_proof_letters(cr, g->column_x + 18 * k, y + 9.5 * k, &type, parts[part].name);
    g_autofree char *time = dt_proof_duration(seconds);
    type.align = 1;
    dt_proof_letters(cr, g->column_x + 190 * k, y + 9.5 * k, &type, time);
    g_autofree char *share = g_strdup_printf("%.0f %%", 100 * seconds / g->in->times->total_s);
    dt_proof_letters(cr, g->column_x + 250 * k, y + 9.5 * k, &type, share);
    return y + 19 * k;
}

/* The same drawing in its own order. */
static double draw_before(cairo_t *cr, const Page *g, double y, double px_per_s)
{
    double k = g->k, part[N_PARTS];
    split_time(g->in->profile, g->in->before_moves, g->in->before, part);
    draw_bar(cr, part, g->column_x, y, 8 * k, px_per_s);
    g_autofree char *was = dt_proof_duration(g->in->before->total_s);
    g_autofree char *text = g_strdup_printf("in the drawing's own order: %s", was);
    dt_proof_letters(cr, g->column_x, y + 23 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, COLUMN * k}, text);
    return y + 42 * k;
}

static void draw_totals(cairo_t *cr, const Page *g, double y)
{
    const DtTimes *t = g->in->times;
    double k = g->k;
    g_autofree char *total = dt_proof_duration(t->total_s);
    DtProofType bold = {12 * k, TRUE, 0, dt_proof_text, 0};
    dt_proof_letters(cr, g->column_x + 18 * k, y + 9.5 * k, &bold, "drawing");
    bold.align = 1;
    dt_proof_letters(cr, g->column_x + 190 * k, y + 9.5 * k, &bold, total);
    if (t->changes == 0)
        return;
    g_autofree char *time = dt_proof_duration(t->change_s);
    g_autofree char *text = g_strdup_printf("and %zu pen change%s by hand, about %s", t->changes,
                                            t->changes == 1 ? "" : "s", time);
    dt_proof_letters(cr, g->column_x, y + 32 * k,
                     &(DtProofType){11 * k, FALSE, 0, dt_proof_faint, COLUMN * k}, text);
}

static void draw_times(cairo_t *cr, const Page *g, double y)
{
    const DtTimes *t = g->in->times, *before = g->in->before;
    double k = g->k, longest = before ? MAX(before->total_s, t->total_s) : t->total_s;
    double part[N_PARTS];
    y = draw_heading(cr, g, y, "Where the time goes");
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

static double draw_order_key(cairo_t *cr, const Page *g, double y)
{
    enum { STEPS = 16 };
    double k = g->k, w = COLUMN * k;
    y = draw_heading(cr, g, y, "Order of the travel");
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
    dt_proof_letters(cr, g->column_x, y + 24 * k, &small, "first");
    small.align = 1;
    dt_proof_letters(cr, g->column_x + w, y + 24 * k, &small, "last");
    return y + 40 * k;
}

/* The page ------------------------------------------------------------------------------------- */

static void draw_header(cairo_t *cr, const Page *g)
{
    const DtProfile *p = g->in->profile;
    double k = g->k;
    g_autofree char *right = g_strdup_printf("%s on %s", p->paper_name, p->name);
    DtProofType small = {13 * k, FALSE, 1, dt_proof_faint, 0};
    double right_w = dt_proof_letters_width(cr, &small, right);
    dt_proof_letters(cr, g->width - PAD * k, 40 * k, &small, right);
    if (g->in->title)
        dt_proof_letters(
            cr, PAD * k, 40 * k,
            &(DtProofType){22 * k, TRUE, 0, dt_proof_text, g->width - (2 * PAD + 24) * k - right_w},
            g->in->title);
}

/* Right under the sheet. */
static void draw_footer(cairo_t *cr, const Page *g)
{
    double k = g->k, x = PAD * k, y = g->frame.y + dt_proof_frame_height(&g->frame) + 29 * k;
    double length = dt_proof_round_length(120 * k / g->frame.scale);
    dt_proof_scale_bar(cr, &g->frame, x, y - 4 * k, length, 12 * k);
    x += length * g->frame.scale + 84 * k;
    dt_proof_letters(cr, x, y,
                     &(DtProofType){12.5 * k, FALSE, 0, dt_proof_text, g->column_x - GAP * k - x},
                     g->figures);
}

static void draw_page(cairo_t *cr, gpointer user)
{
    const Page *g = user;
    dt_proof_colour(cr, dt_proof_ground);
    cairo_paint(cr);
    draw_header(cr, g);
    draw_sheet(cr, g);
    double y = draw_map(cr, g);
    if (used_pens(g))
        y = draw_pens(cr, g, y);
    if (g->in->tones)
        y = draw_tones(cr, g, y);
    if (g->in->order)
        y = draw_order_key(cr, g, y);
    if (shows_pen_times(g))
        y = draw_pen_times(cr, g, y);
    if (g->in->times)
        draw_times(cr, g, y);
    draw_footer(cr, g);
}

gboolean dt_proof_write(const DtProofInput *in, const char *path, int width_px, GError **error)
{
    if (!dt_proof_check_path(path, error))
        return FALSE;
    Page g = {.in = in, .k = (double)width_px / BASE, .width = width_px};
    dt_proof_trace(&g.trace, in);
    g.pens = g_new0(DtProofPen, in->profile->rack.n);
    if (in->moves)
        dt_proof_pens(in->profile, in->moves, in->times, g.pens);
    else
        add_up_trace(&g);
    g.figures = make_figures(&g);
    lay_out(&g);
    gboolean good = dt_proof_emit(path, g.width, g.height, draw_page, &g, error);
    dt_proof_trace_clear(&g.trace);
    g_free(g.pens);
    g_free(g.figures);
    return good;
}
