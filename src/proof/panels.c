/* panels: several pictures side by side, each with title and figures. */
#include "proof/private.h"

#include <math.h>
#include <string.h>

enum { BASE = 1600, PAD = 30, HEADER = 62, GAP = 24, TITLE = 30, LINE = 19, SCALE_TEXT = 58 };

typedef struct {
    const DtProofSheet *s;
    double k, width, height;
    unsigned columns;
    DtProofFrame *frames; /* one for each panel */
} Sheet;

static unsigned count_lines(const char *text)
{
    unsigned n = text && *text ? 1 : 0;
    for (const char *c = text; c && *c; c++)
        n += *c == '\n' && c[1];
    return n;
}

/* Layout --------------------------------------------------------------------------------------- */

static double aspect(const DtProofPanel *p)
{
    return dt_box_width(p->view) / dt_box_height(p->view);
}

/* Panels from..to-1 side by side with their tops at y; returns where the next row begins. */
static double lay_row(Sheet *g, size_t from, size_t to, double y)
{
    double k = g->k, aspects = 0;
    unsigned lines = 0;
    for (size_t i = from; i < to; i++) {
        aspects += aspect(&g->s->panels[i]);
        lines = MAX(lines, count_lines(g->s->panels[i].figures));
    }
    double room = g->width - (2 * PAD + GAP * (double)(to - from - 1)) * k;
    double height = MIN(room / aspects, 0.8 * g->width);
    double x = PAD * k + 0.5 * (room - height * aspects);
    for (size_t i = from; i < to; i++) {
        const DtProofPanel *p = &g->s->panels[i];
        g->frames[i] = (DtProofFrame){p->view, x, y + TITLE * k, height / dt_box_height(p->view)};
        x += height * aspect(p) + GAP * k;
    }
    return y + TITLE * k + height + (LINE * lines + 30) * k;
}

static void lay_out(Sheet *g)
{
    size_t n = g->s->n_panels;
    double y = (g->s->title ? HEADER : PAD) * g->k;
    for (size_t i = 0; i < n; i += g->columns)
        y = lay_row(g, i, MIN(i + g->columns, n), y);
    g->height = ceil(y + (LINE * count_lines(g->s->figures) + 14) * g->k);
}

/* Panels --------------------------------------------------------------------------------------- */

static void draw_sequence(cairo_t *cr, const DtProfile *p, const DtSequence *s)
{
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    for (size_t i = 0; i < s->n; i++) {
        const DtPolyline *r = &s->polylines[i];
        if (r->n == 0)
            continue;
        cairo_move_to(cr, s->pts[r->first].x, s->pts[r->first].y);
        for (size_t j = 1; j < MAX(r->n, 2); j++) {
            DtPoint at = s->pts[r->first + MIN(j, r->n - 1)];
            cairo_line_to(cr, at.x, at.y);
        }
        const DtPen *pen = &p->rack.pens[MIN(r->pen, p->rack.n - 1)];
        cairo_set_line_width(cr, pen->tip);
        dt_proof_colour(cr, pen->colour);
        cairo_stroke(cr);
    }
}

static void draw_frames(cairo_t *cr, const Sheet *g, const DtProofPanel *p, double px)
{
    for (size_t i = 0; i < p->n_marks; i++) {
        DtBox b = p->marks[i];
        cairo_rectangle(cr, b.x0, b.y0, dt_box_width(b), dt_box_height(b));
        dt_proof_colour(cr, dt_proof_mark);
        cairo_set_line_width(cr, 2 * g->k * px);
        cairo_set_line_join(cr, CAIRO_LINE_JOIN_MITER);
        cairo_stroke(cr);
    }
}

static void draw_content(cairo_t *cr, const Sheet *g, const DtProofPanel *p, const DtProofFrame *f)
{
    double px = 1 / f->scale;
    dt_proof_frame_bed(cr, f, g->s->profile);
    dt_proof_frame_enter(cr, f);
    if (p->drawing)
        dt_art_paint(p->drawing, cr);
    if (p->sequence)
        draw_sequence(cr, g->s->profile, p->sequence);
    for (size_t i = 0; i < p->n_layers; i++) {
        const DtProofLayer *l = &p->layers[i];
        dt_proof_stroke(cr, l->lines, l->colour, l->width > 0 ? l->width : 1.2 * g->k * px);
    }
    draw_frames(cr, g, p, px);
    cairo_restore(cr);
    cairo_rectangle(cr, f->x, f->y, dt_proof_frame_width(f), dt_proof_frame_height(f));
    dt_proof_colour(cr, dt_proof_bed_edge);
    cairo_set_line_width(cr, g->k);
    cairo_stroke(cr);
}

static void draw_lines(cairo_t *cr, const Sheet *g, double x, double y, double width,
                       const char *text)
{
    g_auto(GStrv) lines = g_strsplit(text ? text : "", "\n", -1);
    for (char **line = lines; *line; line++, y += LINE * g->k)
        dt_proof_letters(cr, x, y, &(DtProofType){13 * g->k, FALSE, 0, dt_proof_faint, width},
                         *line);
}

/* A bar above the panel's right end, clear of the ink; the title is on the left. */
static void draw_scale(cairo_t *cr, const Sheet *g, const DtProofFrame *f)
{
    double k = g->k, w = dt_proof_frame_width(f);
    double most = CLAMP(0.28 * w, 40 * k, 120 * k);
    double length = dt_proof_round_length(most / f->scale);
    dt_proof_scale_bar(cr, f, f->x + w - length * f->scale - SCALE_TEXT * k, f->y - 12 * k, length,
                       12 * k);
}

static void draw_panel(cairo_t *cr, const Sheet *g, size_t i)
{
    const DtProofPanel *p = &g->s->panels[i];
    const DtProofFrame *f = &g->frames[i];
    double k = g->k, w = dt_proof_frame_width(f);
    draw_content(cr, g, p, f);
    draw_scale(cr, g, f);
    if (p->title)
        dt_proof_letters(cr, f->x, f->y - 10 * k,
                         &(DtProofType){15 * k, TRUE, 0, dt_proof_text, 0.58 * w}, p->title);
    draw_lines(cr, g, f->x, f->y + dt_proof_frame_height(f) + 20 * k, w, p->figures);
}

static void draw_all(cairo_t *cr, gpointer user)
{
    const Sheet *g = user;
    double k = g->k;
    dt_proof_colour(cr, dt_proof_ground);
    cairo_paint(cr);
    if (g->s->title)
        dt_proof_letters(cr, PAD * k, 40 * k,
                         &(DtProofType){24 * k, TRUE, 0, dt_proof_text, g->width - 2 * PAD * k},
                         g->s->title);
    for (size_t i = 0; i < g->s->n_panels; i++)
        draw_panel(cr, g, i);
    draw_lines(cr, g, PAD * k, g->height - (LINE * count_lines(g->s->figures) + 4) * k,
               g->width - 2 * PAD * k, g->s->figures);
}

gboolean dt_proof_write_sheet(const DtProofSheet *s, const char *path, int width_px, GError **error)
{
    if (!dt_proof_check_path(path, error))
        return FALSE;
    for (size_t i = 0; i < s->n_panels; i++) {
        DtBox v = s->panels[i].view;
        if (!(dt_box_width(v) > 0 && dt_box_height(v) > 0) || !isfinite(aspect(&s->panels[i]))) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: panel %zu shows nothing of the bed",
                        path, i + 1);
            return FALSE;
        }
    }
    Sheet g = {.s = s, .k = (double)width_px / BASE, .width = width_px};
    g.columns = s->columns ? s->columns : (unsigned)MAX(s->n_panels, 1);
    g.frames = g_new0(DtProofFrame, s->n_panels);
    lay_out(&g);
    gboolean good = dt_proof_emit(path, g.width, g.height, draw_all, &g, error);
    g_free(g.frames);
    return good;
}
