/* eye-picture: exactly what is asked, magnified. */
#include "drawtrue/proof.h"
#include "truing/eye/eye.h"

gboolean dt_eye_picture(const DtTestSheet *s, const DtProfile *p, const DtAsk *a, const char *path,
                        int width_px, GError **error)
{
    g_autofree DtLines *lines = g_new0(DtLines, p->rack.n);
    g_autofree DtProofLayer *layers = g_new0(DtProofLayer, p->rack.n);
    for (size_t i = 0; i < p->rack.n; i++) {
        dt_sheet_lines(s, (uint16_t)i, &lines[i]);
        layers[i] = (DtProofLayer){&lines[i], p->rack.pens[i].colour, p->rack.pens[i].tip};
    }
    const DtBox paper = {s->paper_at.x, s->paper_at.y, s->paper_at.x + s->paper_w,
                         s->paper_at.y + s->paper_h};
    g_autofree char *question = dt_eye_question(a);
    g_autofree char *shown = dt_base_lay_out(question, 70);
    const DtProofPanel panel = {.view = dt_box_intersect(a->view, paper),
                                .layers = layers,
                                .n_layers = p->rack.n,
                                .figures = shown};
    g_autofree char *title = g_strdup_printf(_("%s of sheet %" PRId64), a->name, s->number);
    const DtProofSheet sheet = {.title = title, .profile = p, .panels = &panel, .n_panels = 1};
    const gboolean good = dt_proof_write_sheet(&sheet, path, width_px, error);
    for (size_t i = 0; i < p->rack.n; i++)
        dt_lines_clear(&lines[i]);
    return good;
}
