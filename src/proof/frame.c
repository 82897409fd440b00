/* frame: what surrounds the ink: colours, lettering, bed, sheet and scale. */
#include "proof/private.h"

#include <math.h>
#include <string.h>

const DtColour dt_proof_ground = {0.969, 0.961, 0.941, 1};
const DtColour dt_proof_text = {0.15, 0.14, 0.12, 1};
const DtColour dt_proof_faint = {0.46, 0.44, 0.40, 1};
const DtColour dt_proof_bed = {0.894, 0.847, 0.757, 1};
const DtColour dt_proof_bed_edge = {0.70, 0.63, 0.50, 1};
const DtColour dt_proof_paper = {1, 1, 1, 1};
const DtColour dt_proof_travel = {0.16, 0.45, 0.70, 0.40};
const DtColour dt_proof_start = {0.05, 0.50, 0.25, 1};
const DtColour dt_proof_end = {0.75, 0.15, 0.12, 1};
const DtColour dt_proof_mark = {0.85, 0.33, 0.05, 1};

DtColour dt_proof_when(double fraction)
{
    /* of rising lightness, so that it can be read without colour vision; the last ones turn to
     * orange */
    static const DtColour stops[] = {{0.17, 0.14, 0.47, 1},
                                     {0.13, 0.40, 0.62, 1},
                                     {0.12, 0.62, 0.57, 1},
                                     {0.55, 0.74, 0.26, 1},
                                     {0.97, 0.66, 0.14, 1}};
    enum { LAST = G_N_ELEMENTS(stops) - 1 };
    double f = CLAMP(fraction, 0, 1) * LAST;
    int i = MIN((int)f, LAST - 1);
    double k = f - i;
    DtColour a = stops[i], b = stops[i + 1];
    return (DtColour){a.r + k * (b.r - a.r), a.g + k * (b.g - a.g), a.b + k * (b.b - a.b), 1};
}

/* Lettering ------------------------------------------------------------------------------------ */

static void choose_type(cairo_t *cr, const DtProofType *t)
{
    cairo_select_font_face(cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                           t->bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(cr, t->size);
}

static double advance(cairo_t *cr, const char *text)
{
    cairo_text_extents_t e;
    cairo_text_extents(cr, text, &e);
    return e.x_advance;
}

double dt_proof_letters_width(cairo_t *cr, const DtProofType *t, const char *text)
{
    choose_type(cr, t);
    return advance(cr, text);
}

/* The text, cut to the width; freed by the caller. */
static char *cut(cairo_t *cr, const DtProofType *t, const char *text)
{
    /* invalid UTF-8 (in a file name) must not put the whole picture into an error state */
    char *s = g_utf8_make_valid(text, -1);
    while (t->width > 0 && advance(cr, s) > t->width && g_utf8_strlen(s, -1) > 2) {
        char *end = g_utf8_offset_to_pointer(s, g_utf8_strlen(s, -1) - 2);
        *end = '\0';
        char *shorter = g_strconcat(s, "\342\200\246", NULL);
        g_free(s);
        s = shorter;
    }
    return s;
}

static void move_to_text(cairo_t *cr, double x, double y, const DtProofType *t, const char *text)
{
    cairo_move_to(cr, x - t->align * advance(cr, text), y);
}

void dt_proof_letters(cairo_t *cr, double x, double y, const DtProofType *t, const char *text)
{
    choose_type(cr, t);
    g_autofree char *s = cut(cr, t, text);
    move_to_text(cr, x, y, t, s);
    dt_proof_colour(cr, t->colour);
    cairo_show_text(cr, s);
}

void dt_proof_label(cairo_t *cr, double x, double y, const DtProofType *t, const char *text)
{
    choose_type(cr, t);
    g_autofree char *s = cut(cr, t, text);
    move_to_text(cr, x, y, t, s);
    cairo_text_path(cr, s);
    cairo_set_source_rgba(cr, 1, 1, 1, 0.85);
    cairo_set_line_width(cr, t->size * 0.3);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_stroke(cr);
    dt_proof_letters(cr, x, y, t, text);
}

/* Bed ------------------------------------------------------------------------------------------ */

DtPoint dt_proof_frame_at(const DtProofFrame *f, DtPoint bed)
{
    return dt_point(f->x + (bed.x - f->view.x0) * f->scale, f->y + (f->view.y1 - bed.y) * f->scale);
}

void dt_proof_frame_enter(cairo_t *cr, const DtProofFrame *f)
{
    cairo_save(cr);
    cairo_rectangle(cr, f->x, f->y, dt_proof_frame_width(f), dt_proof_frame_height(f));
    cairo_clip(cr);
    cairo_matrix_t m = {
        f->scale, 0, 0, -f->scale, f->x - f->view.x0 * f->scale, f->y + f->view.y1 * f->scale};
    cairo_transform(cr, &m);
}

static void box_path(cairo_t *cr, DtBox b)
{
    cairo_rectangle(cr, b.x0, b.y0, dt_box_width(b), dt_box_height(b));
}

void dt_proof_frame_bed(cairo_t *cr, const DtProofFrame *f, const DtProfile *p)
{
    double px = 1 / f->scale;
    DtBox sheet = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
    dt_proof_frame_enter(cr, f);
    box_path(cr, (DtBox){0, 0, p->travel[0], p->travel[1]});
    dt_proof_colour(cr, dt_proof_bed);
    cairo_fill_preserve(cr);
    dt_proof_colour(cr, dt_proof_bed_edge);
    cairo_set_line_width(cr, 3 * px);
    cairo_stroke(cr);
    for (int i = 3; i > 0; i--) { /* a soft shadow */
        DtBox shade = {sheet.x0 + i * px, sheet.y0 - i * px, sheet.x1 + i * px, sheet.y1 - i * px};
        box_path(cr, shade);
        cairo_set_source_rgba(cr, 0, 0, 0, 0.10);
        cairo_fill(cr);
    }
    box_path(cr, sheet);
    dt_proof_colour(cr, dt_proof_paper);
    cairo_fill(cr);
    cairo_restore(cr);
}

double dt_proof_round_length(double most)
{
    static const double steps[] = {5, 2, 1};
    double decade = pow(10, floor(log10(most)));
    for (gsize i = 0; i < G_N_ELEMENTS(steps); i++)
        if (steps[i] * decade <= most)
            return steps[i] * decade;
    return decade;
}

void dt_proof_scale_bar(cairo_t *cr, const DtProofFrame *f, double x, double y, double length,
                        double size)
{
    double w = length * f->scale, tick = size * 0.35;
    cairo_move_to(cr, x, y - tick);
    cairo_line_to(cr, x, y + tick);
    cairo_move_to(cr, x + w, y - tick);
    cairo_line_to(cr, x + w, y + tick);
    cairo_move_to(cr, x, y);
    cairo_line_to(cr, x + w, y);
    dt_proof_colour(cr, dt_proof_text);
    cairo_set_line_width(cr, MAX(1, size * 0.1));
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_BUTT);
    cairo_stroke(cr);
    g_autofree char *text = g_strdup_printf("%g mm", length);
    dt_proof_letters(cr, x + w + size * 0.6, y + size * 0.36,
                     &(DtProofType){size, FALSE, 0, dt_proof_text, 0}, text);
}
