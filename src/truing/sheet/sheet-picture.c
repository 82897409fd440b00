/* sheet-picture: how a sheet will look on the paper. */
#include "drawtrue/proof.h"
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"

#include <math.h>

/* `p`: whose scale and squareness bring what is drawn after the turn to where it will be; NULL: none. */
static void add_lines(const DtTestSheet *s, const DtProfile *p, uint16_t pen, DtLines *out)
{
    gboolean turned = FALSE;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        const DtPoint ends[] = {m->from, m->to};
        turned |= m->kind == DT_MARK_PAUSE;
        if (!dt_mark_is_stroke(m) || m->pen != pen)
            continue;
        dt_lines_begin(out);
        for (int k = 0; k < 2; k++)
            dt_lines_point(out, !turned ? ends[k]
                                : p     ? dt_sheet_unturned_place(s, p, ends[k])
                                        : dt_sheet_turned_back(s, ends[k]));
    }
}

void dt_sheet_lines(const DtTestSheet *s, uint16_t pen, DtLines *out)
{
    add_lines(s, NULL, pen, out);
}

static void add_ring(DtPoint at, double radius, DtLines *out)
{
    enum { SIDES = 48 };
    dt_lines_begin(out);
    for (int k = 0; k <= SIDES; k++) {
        const double a = 2 * G_PI * k / SIDES;
        dt_lines_point(out, dt_point(at.x + radius * cos(a), at.y + radius * sin(a)));
    }
}

gboolean dt_sheet_write_view(const DtTestSheet *s, const DtProfile *p, const DtSheetView *view,
                             const char *path, int width_px, GError **error)
{
    static const DtColour red = {0.82, 0.12, 0.12, 1};
    const size_t n = p->rack.n + (view->ring_mm > 0);
    g_autofree DtLines *lines = g_new0(DtLines, n);
    g_autofree DtProofLayer *layers = g_new0(DtProofLayer, n);
    for (size_t i = 0; i < p->rack.n; i++) {
        add_lines(s, view->as_known ? p : NULL, (uint16_t)i, &lines[i]);
        layers[i] = (DtProofLayer){&lines[i], p->rack.pens[i].colour, p->rack.pens[i].tip};
    }
    if (view->ring_mm > 0) {
        add_ring(view->ring, view->ring_mm, &lines[p->rack.n]);
        layers[p->rack.n] = (DtProofLayer){&lines[p->rack.n], red, 0.1 * view->ring_mm};
    }
    const DtProofPanel panel = {
        .view = view->area, .layers = layers, .n_layers = n, .figures = view->text};
    const DtProofSheet sheet = {
        .title = view->title, .profile = p, .panels = &panel, .n_panels = 1};
    const gboolean good = dt_proof_write_sheet(&sheet, path, width_px, error);
    for (size_t i = 0; i < n; i++)
        dt_lines_clear(&lines[i]);
    return good;
}

DtBox dt_sheet_paper(const DtTestSheet *s)
{
    return (DtBox){s->paper_at.x, s->paper_at.y, s->paper_at.x + s->paper_w,
                   s->paper_at.y + s->paper_h};
}

gboolean dt_sheet_picture(const DtTestSheet *s, const DtProfile *p, const char *path, int width_px,
                          GError **error)
{
    g_autofree char *title =
        g_strdup_printf(_("test sheet %" PRId64 " of %s, %s"), s->number, s->machine, s->date);
    const DtSheetView view = {
        .area = dt_box_grow(dt_sheet_paper(s), 3), .title = title, .as_known = TRUE};
    return dt_sheet_write_view(s, p, &view, path, width_px, error);
}
