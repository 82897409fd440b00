/* place: where a drawing lies on the sheet and on the bed. */
#include "drawtrue/machine.h"

#include <math.h>

/* Placement --------------------------------------------------------------------------------- */

/* One way of placing the page: upright or rotated, with its size on the bed. */
typedef struct {
    double w, h, scale;
    gboolean turned;
} Lay;

static Lay lay_page(DtBox page, double scale, gboolean turned)
{
    double w = dt_box_width(page) * scale, h = dt_box_height(page) * scale;
    return turned ? (Lay){h, w, scale, TRUE} : (Lay){w, h, scale, FALSE};
}

static double fit_scale(DtBox page, DtBox area, gboolean turned)
{
    Lay one = lay_page(page, 1, turned);
    return MIN(dt_box_width(area) / MAX(one.w, 1e-9), dt_box_height(area) / MAX(one.h, 1e-9));
}

static Lay choose_lay(DtBox page, DtBox area, const DtPlacement *o)
{
    double upright = fit_scale(page, area, FALSE), turned = fit_scale(page, area, TRUE);
    if (o->fit == DT_FIT_MARGINS)
        return o->turn && turned > upright * (1 + 1e-9) ? lay_page(page, turned, TRUE)
                                                        : lay_page(page, upright, FALSE);
    return lay_page(page, 1, o->turn && upright < 1 - 1e-9 && turned >= 1 - 1e-9);
}

/* Puts the page's lower left corner at (x, y) on the bed. */
static DtAffine lay_map(DtBox page, Lay l, double x, double y)
{
    double s = l.scale;
    if (l.turned) /* a quarter turn counterclockwise, after the flip of y */
        return (DtAffine){0, s, s, 0, x - s * page.y0, y - s * page.x0};
    return (DtAffine){s, 0, 0, -s, x - s * page.x0, y + s * page.y1};
}

static gboolean refuse(const DtProfile *p, const char *path, DtBox art, DtBox within,
                       const char *what, GError **error)
{
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: on the bed the drawing would go from x %.2f to %.2f and y %.2f to %.2f mm, "
                "beyond %s: x %.2f to %.2f, y %.2f to %.2f mm (paper %s, %g by %g mm at %g, %g)",
                path, art.x0, art.x1, art.y0, art.y1, what, within.x0, within.x1, within.y0,
                within.y1, p->paper_name, p->paper_w, p->paper_h, p->paper_at.x, p->paper_at.y);
    return FALSE;
}

static gboolean box_holds(DtBox outer, DtBox inner)
{
    const double slip = 1e-6;
    return inner.x0 >= outer.x0 - slip && inner.y0 >= outer.y0 - slip &&
           inner.x1 <= outer.x1 + slip && inner.y1 <= outer.y1 + slip;
}

static gboolean is_sound(DtBox b)
{
    return isfinite(b.x0) && isfinite(b.y0) && isfinite(b.x1) && isfinite(b.y1) &&
           !dt_box_is_empty(b);
}

gboolean dt_machine_place(const DtProfile *p, const DtDrawing *d, const DtPlacement *o,
                          DtAffine *out, GError **error)
{
    const char *path = d->path ? d->path : "drawing";
    DtBox art = dt_art_box(d), page = d->view;
    if (!is_sound(page) || (dt_box_width(page) == 0 && dt_box_height(page) == 0))
        page = art;
    if (!is_sound(page)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: there is nothing to draw", path);
        return FALSE;
    }
    DtBox sheet = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
    DtBox reach = dt_machine_reach(p), area = sheet;
    if (o->fit == DT_FIT_MARGINS)
        area = dt_box_intersect(dt_box_grow(sheet, -p->margin), reach);
    if (2 * p->margin >= MIN(p->paper_w, p->paper_h) && o->fit == DT_FIT_MARGINS) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: margins of %g mm leave nothing of the paper (%s, %g by %g mm)", path,
                    p->margin, p->paper_name, p->paper_w, p->paper_h);
        return FALSE;
    }
    if (dt_box_is_empty(area) || dt_box_is_empty(reach))
        return refuse(p, path, sheet, reach, _("the machine's reach"), error);
    Lay l = choose_lay(page, area, o);
    *out = lay_map(page, l, area.x0 + o->align_x * (dt_box_width(area) - l.w),
                   area.y0 + o->align_y * (dt_box_height(area) - l.h));
    /* nothing outside the page is painted */
    DtBox painted = dt_box_intersect(art, page);
    DtBox laid = dt_affine_apply_box(*out, dt_box_is_empty(painted) ? page : painted);
    if (!box_holds(sheet, laid))
        return refuse(p, path, laid, sheet, _("the paper"), error);
    if (!box_holds(reach, laid))
        return refuse(p, path, laid, reach, _("the machine's reach"), error);
    return TRUE;
}
