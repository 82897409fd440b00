/* eye-picture: exactly what is asked, magnified. */
#include "drawtrue/proof.h"
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"

gboolean dt_eye_picture(const DtTestSheet *s, const DtProfile *p, const DtAsk *a, const char *path,
                        int width_px, GError **error)
{
    g_autofree char *question = dt_eye_question(a);
    /* below a tall, narrow picture there is room for few letters side by side */
    const double least_share = 0.14, columns_of_square = 140;
    DtBox area = dt_box_intersect(a->view, dt_sheet_paper(s));
    const double lacking = least_share * dt_box_height(area) - dt_box_width(area);
    area.x0 -= MAX(lacking, 0) / 2;
    area.x1 += MAX(lacking, 0) / 2;
    const double columns = columns_of_square * dt_box_width(area) / dt_box_height(area);
    g_autofree char *shown = dt_base_lay_out(question, (unsigned)CLAMP(columns, 20, 70));
    g_autofree char *title = g_strdup_printf(_("%s of sheet %" PRId64), a->name, s->number);
    DtSheetView view = {.area = area, .title = title, .text = shown};
    if (dt_eye_place_at(s, a, &view.ring))
        view.ring_mm = 2.5;
    return dt_sheet_write_view(s, p, &view, path, width_px, error);
}
