/* eye-picture: exactly what is asked, magnified. */
#include "drawtrue/proof.h"
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"

gboolean dt_eye_picture(const DtTestSheet *s, const DtProfile *p, const DtAsk *a, const char *path,
                        int width_px, GError **error)
{
    g_autofree char *question = dt_eye_question(a);
    g_autofree char *shown = dt_base_lay_out(question, 70);
    g_autofree char *title = g_strdup_printf(_("%s of sheet %" PRId64), a->name, s->number);
    const DtSheetView view = {
        .area = dt_box_intersect(a->view, dt_sheet_paper(s)), .title = title, .text = shown};
    return dt_sheet_write_view(s, p, &view, path, width_px, error);
}
