/* page: a proof: the sheet with its ink, a title above it and figures below. */
#include "proof/page.h"

#include <math.h>
#include <string.h>

/* Figures -------------------------------------------------------------------------------------- */

static double travel_mm(const DtProofTrace *t)
{
    double sum = 0;
    for (guint i = 0; i < t->travels->len; i++) {
        const DtProofTravel *h = &g_array_index(t->travels, DtProofTravel, i);
        sum += dt_point_distance(h->from, h->to);
    }
    return sum;
}

static char *make_figures(const DtProofPage *g)
{
    const DtProofInput *in = g->in;
    if (in->figures)
        return g_strdup(in->figures);
    if (g->trace.ink.n == 0)
        return g_strdup("");
    GString *s = g_string_new(NULL);
    if (in->times) {
        g_autofree char *time = dt_base_duration(in->times->total_s);
        g_string_append_printf(s, _("time %s    "), time);
    }
    g_string_append_printf(s, _("ink %.2f m"), dt_lines_total_length(&g->trace.ink) / 1000);
    const DtRack *rack = &in->profile->rack;
    const char *between = " (";
    for (size_t i = 0; i < g->n_used; i++) {
        const DtProofPen *pen = &g->pens[g->used[i]];
        if (pen->strokes < g->trace.ink.n) {
            g_string_append_printf(s, "%s%s %.2f", between, rack->pens[g->used[i]].name,
                                   pen->ink_mm / 1000);
            between = ", ";
        }
    }
    size_t lifts = in->times ? in->times->lifts : g->trace.ink.n;
    double travel = in->times ? in->times->travel_mm : travel_mm(&g->trace);
    g_string_append_printf(s, _("%s    lifts %zu    travel %.2f m"), between[0] == ',' ? ")" : "",
                           lifts, travel / 1000);
    return g_string_free(s, FALSE);
}

/* The pens of the trace if there are no moves. */
static void add_up_trace(DtProofPage *g)
{
    size_t turns = 0;
    for (size_t i = 0; i < g->trace.ink.n; i++) {
        DtProofPen *pen = &g->pens[g_array_index(g->trace.pen, uint16_t, i)];
        pen->strokes++;
        if (pen->turn == 0)
            pen->turn = ++turns;
        pen->ink_mm += dt_lines_length(&g->trace.ink, i);
    }
}

/* Layout --------------------------------------------------------------------------------------- */

static DtBox sheet_box(const DtProfile *p)
{
    return (DtBox){p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
}

/* The sheet and the ink on and around it; ink far off the bed, as in a program from elsewhere,
 * must not shrink the sheet to a dot. */
static DtBox shown(const DtProofPage *g)
{
    const DtProfile *p = g->in->profile;
    DtBox sheet = sheet_box(p), bed = {0, 0, p->travel[0], p->travel[1]};
    DtBox ink = dt_box_intersect(g->trace.box, dt_box_grow(dt_box_union(sheet, bed), 20));
    return dt_box_grow(dt_box_is_empty(ink) ? sheet : dt_box_union(sheet, ink), 6);
}

static void lay_out(DtProofPage *g)
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
    scale = MIN(COLUMN * k / dt_box_width(bed),
                (dt_proof_shows_artwork(g->in) ? 110 : 170) * k / dt_box_height(bed));
    g->map = (DtProofFrame){bed, g->column_x, HEADER * k, scale};
    double left = dt_proof_frame_height(&g->frame) + FOOTER * k,
           right = dt_proof_column_height(g) + 12 * k;
    g->height = ceil(HEADER * k + MAX(left, right));
}

/* The sheet ------------------------------------------------------------------------------------ */

static DtColour paler(DtColour c, double by)
{
    return (DtColour){c.r + by * (1 - c.r), c.g + by * (1 - c.g), c.b + by * (1 - c.b), c.alpha};
}

/* The strokes of one pen, or of all (-1) one over the other. */
static void draw_ink_of(cairo_t *cr, const DtProofPage *g, int pen)
{
    for (size_t i = 0; i < g->trace.ink.n; i++) {
        const int own = g_array_index(g->trace.pen, uint16_t, i);
        const DtPen *with = &g->in->profile->rack.pens[own];
        if (pen >= 0 && own != pen)
            continue;
        cairo_set_line_width(cr, with->tip);
        dt_proof_colour(cr, g->in->order ? paler(with->colour, 0.72) : with->colour);
        dt_proof_path(cr, &g->trace.ink, i);
        cairo_stroke(cr);
    }
}

/* Inks let the light through, so those of several pens multiply, whichever comes first. An SVG would need pixels for
 * that with this cairo: there the later ink hides the other. */
static void draw_ink(cairo_t *cr, const DtProofPage *g)
{
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    if (cairo_surface_get_type(cairo_get_target(cr)) == CAIRO_SURFACE_TYPE_SVG) {
        draw_ink_of(cr, g, -1);
        return;
    }
    cairo_push_group(cr); /* of all ink, which hides the travel beneath */
    for (size_t pen = 0; pen < g->in->profile->rack.n; pen++) {
        cairo_push_group(cr);
        draw_ink_of(cr, g, (int)pen);
        cairo_pop_group_to_source(cr);
        cairo_set_operator(cr, CAIRO_OPERATOR_MULTIPLY);
        cairo_paint(cr);
        cairo_set_operator(cr, CAIRO_OPERATOR_OVER);
    }
    cairo_pop_group_to_source(cr);
    cairo_paint(cr);
}

static void draw_travel(cairo_t *cr, const DtProofPage *g)
{
    const GArray *travels = g->trace.travels;
    double total = g->in->times ? g->in->times->total_s : 0;
    cairo_set_line_width(cr, (g->in->order ? 1.1 : 0.7) * g->k / g->frame.scale);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_BUTT);
    for (guint i = 0; i < travels->len; i++) {
        const DtProofTravel *h = &g_array_index(travels, DtProofTravel, i);
        double when =
            total > 0 && h->t1 > 0 ? 0.5 * (h->t0 + h->t1) / total : (i + 0.5) / travels->len;
        dt_proof_colour(cr, g->in->order ? dt_proof_when(when) : dt_proof_travel);
        cairo_move_to(cr, h->from.x, h->from.y);
        cairo_line_to(cr, h->to.x, h->to.y);
        cairo_stroke(cr);
    }
}

static void draw_sheet(cairo_t *cr, const DtProofPage *g)
{
    dt_proof_frame_bed(cr, &g->frame, g->in->profile);
    dt_proof_frame_enter(cr, &g->frame);
    if (g->in->drawing && g->trace.ink.n == 0)
        dt_art_paint(g->in->drawing, cr);
    if (!g->in->order)
        draw_travel(cr, g);
    draw_ink(cr, g);
    if (g->in->order)
        draw_travel(cr, g);
    cairo_restore(cr);
    dt_proof_draw_marks(cr, &g->frame, &g->trace, g->in->profile, g->in->order, g->k);
}

/* The page ------------------------------------------------------------------------------------- */

static void draw_header(cairo_t *cr, const DtProofPage *g)
{
    const DtProfile *p = g->in->profile;
    double k = g->k;
    g_autofree char *right = g_strdup_printf(_("%s on %s"), p->paper_name, p->name);
    DtProofType small = {13 * k, FALSE, 1, dt_proof_faint, 0};
    double right_w = dt_proof_letters_width(cr, &small, right);
    dt_proof_letters(cr, g->width - PAD * k, 40 * k, &small, right);
    if (g->in->title)
        dt_proof_letters(
            cr, PAD * k, 40 * k,
            &(DtProofType){22 * k, TRUE, 0, dt_proof_text, g->width - (2 * PAD + 24) * k - right_w},
            g->in->title);
}

/* Directly below the sheet. */
static void draw_footer(cairo_t *cr, const DtProofPage *g)
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
    const DtProofPage *g = user;
    dt_proof_colour(cr, dt_proof_ground);
    cairo_paint(cr);
    draw_header(cr, g);
    draw_sheet(cr, g);
    dt_proof_draw_column(cr, g);
    draw_footer(cr, g);
}

gboolean dt_proof_write(const DtProofInput *in, const char *path, int width_px, GError **error)
{
    if (!dt_proof_check_path(path, error))
        return FALSE;
    DtProofPage g = {.in = in, .k = (double)width_px / BASE, .width = width_px};
    dt_proof_trace(&g.trace, in);
    g.pens = g_new0(DtProofPen, in->profile->rack.n);
    if (in->moves)
        dt_proof_pens(in->profile, in->moves, in->times, g.pens);
    else
        add_up_trace(&g);
    g.used = g_new(size_t, in->profile->rack.n);
    g.n_used = dt_proof_pen_order(g.pens, in->profile->rack.n, g.used);
    g.figures = make_figures(&g);
    lay_out(&g);
    gboolean good = dt_proof_emit(path, g.width, g.height, draw_page, &g, error);
    dt_proof_trace_clear(&g.trace);
    g_free(g.pens);
    g_free(g.used);
    g_free(g.figures);
    return good;
}
