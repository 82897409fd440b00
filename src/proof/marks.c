/* marks: the start and end of the pen's path and home, each with its name where it hides the
 * least ink. */
#include "proof/private.h"

#include <math.h>

static const double ring_radius = 5.5, type_size = 12; /* at a scale of 1 */

/* The length of the segment from a to b that lies in the box (Liang and Barsky 1984). */
static double length_in(DtBox box, DtPoint a, DtPoint b)
{
    const DtPoint d = dt_point_sub(b, a);
    const double p[4] = {-d.x, d.x, -d.y, d.y};
    const double q[4] = {a.x - box.x0, box.x1 - a.x, a.y - box.y0, box.y1 - a.y};
    double from = 0, to = 1;
    for (int i = 0; i < 4; i++) {
        if (p[i] < 0)
            from = MAX(from, q[i] / p[i]);
        else if (p[i] > 0)
            to = MIN(to, q[i] / p[i]);
        else if (q[i] < 0)
            return 0;
    }
    return to > from ? (to - from) * hypot(d.x, d.y) : 0;
}

/* Candidate places for a name of size w by h, the preferred ones first. */
enum { PLACES = 16 };

static void lay_places(DtPoint at, double w, double h, double k, DtBox place[PLACES])
{
    static const struct {
        double across, down; /* from the mark to the name's middle, in half sizes of the name */
    } around[PLACES / 2] = {{1, 0}, {1, 1}, {1, -1}, {-1, 0}, {-1, 1}, {-1, -1}, {0, 1}, {0, -1}};
    for (int i = 0; i < PLACES; i++) {
        const double across = around[i % 8].across, down = around[i % 8].down;
        const double gap = (i < PLACES / 2 ? 9 : 20) * k;
        const double x = at.x + across * (0.5 * w + (down == 0 ? gap : 0.75 * gap));
        const double y = at.y + down * (0.5 * h + (across == 0 ? gap : 0.6 * gap));
        place[i] = (DtBox){x - 0.5 * w, y - 0.5 * h, x + 0.5 * w, y + 0.5 * h};
    }
}

static gboolean meet(DtBox a, DtBox b)
{
    return a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;
}

static void add_hidden(const DtBox place[PLACES], DtBox all, DtPoint a, DtPoint b, double weight,
                       double hidden[PLACES])
{
    const DtBox way = {MIN(a.x, b.x), MIN(a.y, b.y), MAX(a.x, b.x), MAX(a.y, b.y)};
    if (way.x1 < all.x0 || way.x0 > all.x1 || way.y1 < all.y0 || way.y0 > all.y1)
        return;
    for (int i = 0; i < PLACES; i++)
        hidden[i] += weight * length_in(place[i], a, b);
}

/* The ink below each place, in picture units; pale ink counts for less. */
static void add_up_hidden(const DtProofFrame *f, const DtProofTrace *t, gboolean order,
                          const DtBox place[PLACES], double hidden[PLACES])
{
    const double pale = 0.2, ink = order ? pale : 1, travel = order ? 1 : pale;
    DtBox all = place[0];
    for (int i = 1; i < PLACES; i++)
        all = dt_box_union(all, place[i]);
    for (size_t i = 0; i < t->ink.n; i++) {
        const DtPoint *pts = dt_lines_at(&t->ink, i);
        const size_t n = dt_lines_count(&t->ink, i);
        for (size_t j = 1; j < n; j++)
            add_hidden(place, all, dt_proof_frame_at(f, pts[j - 1]), dt_proof_frame_at(f, pts[j]),
                       ink, hidden);
    }
    for (guint i = 0; i < t->travels->len; i++) {
        const DtProofTravel *h = &g_array_index(t->travels, DtProofTravel, i);
        add_hidden(place, all, dt_proof_frame_at(f, h->from), dt_proof_frame_at(f, h->to), travel,
                   hidden);
    }
}

DtBox dt_proof_clear_place(const DtProofFrame *f, const DtProofTrace *t, gboolean order, DtPoint at,
                           double w, double h, double k, const GArray *taken)
{
    DtBox place[PLACES];
    double hidden[PLACES] = {0};
    const double outside = 1e6, in_the_way = 1e4, less_liked = 0.5;
    int best = 0;
    lay_places(at, w, h, k, place);
    add_up_hidden(f, t, order, place, hidden);
    for (int i = 0; i < PLACES; i++) {
        const DtBox b = place[i];
        if (b.x0 < f->x || b.x1 > f->x + dt_proof_frame_width(f) || b.y0 < f->y ||
            b.y1 > f->y + dt_proof_frame_height(f))
            hidden[i] += outside;
        for (guint j = 0; j < taken->len; j++)
            if (meet(b, g_array_index(taken, DtBox, j)))
                hidden[i] += in_the_way;
        hidden[i] += less_liked * k * i;
        if (hidden[i] < hidden[best])
            best = i;
    }
    return place[best];
}

/* Drawing ----------------------------------------------------------------------------------- */

typedef struct {
    DtPoint at; /* picture */
    DtColour colour;
    const char *text;
} Mark;

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

/* A name must not cover a ring. */
static GArray *take_rings(const Mark *marks, size_t n, double k)
{
    GArray *taken = g_array_new(FALSE, FALSE, sizeof(DtBox));
    for (size_t i = 0; i < n; i++) {
        const DtPoint at = marks[i].at;
        const DtBox b = dt_box_grow((DtBox){at.x, at.y, at.x, at.y}, ring_radius * 1.4 * k);
        g_array_append_val(taken, b);
    }
    return taken;
}

static void draw(cairo_t *cr, const DtProofFrame *f, const DtProofTrace *t, gboolean order,
                 const Mark *marks, size_t n, double k)
{
    g_autoptr(GArray) taken = take_rings(marks, n, k);
    for (size_t i = 0; i < n; i++)
        ring(cr, marks[i].at, ring_radius * k, marks[i].colour);
    for (size_t i = 0; i < n; i++) {
        const DtProofType type = {type_size * k, TRUE, 0.5, marks[i].colour, 0};
        const double w = dt_proof_letters_width(cr, &type, marks[i].text), h = type.size;
        const DtBox place = dt_proof_clear_place(f, t, order, marks[i].at, w + 2 * k, h, k, taken);
        g_array_append_val(taken, place);
        dt_proof_label(cr, 0.5 * (place.x0 + place.x1), place.y1 - 0.14 * h, &type, marks[i].text);
    }
}

void dt_proof_draw_marks(cairo_t *cr, const DtProofFrame *f, const DtProofTrace *t,
                         const DtProfile *p, gboolean order, double k)
{
    Mark marks[3];
    size_t n = 0;
    const DtPoint home = dt_machine_ink_at(p, dt_point(0, 0));
    if (t->ink.n_pts > 0) {
        const DtPoint first = t->ink.pts[0], last = t->ink.pts[t->ink.n_pts - 1];
        marks[n++] = (Mark){dt_proof_frame_at(f, last), dt_proof_end, _("end")};
        marks[n++] = (Mark){dt_proof_frame_at(f, first), dt_proof_start, _("start")};
    }
    if (dt_box_contains(f->view, home))
        marks[n++] = (Mark){dt_proof_frame_at(f, home), dt_proof_faint, _("home")};
    draw(cr, f, t, order, marks, n, k);
}
