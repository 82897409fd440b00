/* size: scale and final size of a drawing, cautions, and what a time limit cost. */
#include "report/size.h"

#include "drawtrue/json.h"

#include <math.h>
#include <stdlib.h>

/* A drawing enlarged more than this was hardly made for it: its details become coarse. */
#define MOST_ENLARGED 20.0
/* Number of colours that are named. */
enum { MOST_NAMED = 4 };
/* mm^2; a smaller area of a colour is not worth a caution. */
#define LEAST_AREA 1.0

static double scale_of(const DtAffine *m)
{
    return sqrt(fabs(dt_affine_determinant(*m)));
}

static gboolean is_turned(const DtAffine *m)
{
    return fabs(m->xy) > fabs(m->xx);
}

/* The painted part of the page. */
static DtBox painted_box(const DtDrawing *d)
{
    DtBox painted = dt_art_box(d), shown = dt_box_intersect(painted, d->view);
    return dt_box_is_empty(d->view) ? painted : shown;
}

void dt_report_add_size(GString *s, JsonBuilder *b, const DtDrawing *d, const DtAffine *placed)
{
    const double scale = scale_of(placed);
    const DtBox box = painted_box(d);
    const gboolean empty = dt_box_is_empty(box);
    const double w = empty ? 0 : dt_box_width(box), h = empty ? 0 : dt_box_height(box);
    if (s != NULL)
        g_string_append_printf(s,
                               _("  scale %.3g%s: the drawing is %.1f by %.1f mm on the paper\n"),
                               scale, is_turned(placed) ? _(", turned by 90 degrees") : "", w, h);
    if (b != NULL) {
        dt_json_number(b, "scale", scale);
        dt_json_number(b, "width_mm", w);
        dt_json_number(b, "height_mm", h);
    }
}

typedef struct {
    guint32 rgb;
    double area, distance; /* mm^2; the largest */
} FarColour;

static guint32 rgb_of(DtColour c)
{
    return (guint32)lround(c.r * 255) << 16 | (guint32)lround(c.g * 255) << 8 |
           (guint32)lround(c.b * 255);
}

static int by_rgb(const void *pa, const void *pb)
{
    const FarColour *a = pa, *b = pb;
    return (a->rgb > b->rgb) - (a->rgb < b->rgb);
}

static int by_area(const void *pa, const void *pb)
{
    const FarColour *a = pa, *b = pb;
    if (a->area != b->area)
        return a->area > b->area ? -1 : 1;
    return by_rgb(pa, pb);
}

/* The colours that the ink does not match, the largest areas first. One that several recipes draw is one colour. */
static FarColour *find_far(const DtInkReport *r, size_t *n)
{
    FarColour *far = g_new(FarColour, r->n + 1);
    size_t all = 0;
    for (size_t i = 0; i < r->n; i++) {
        const DtInkMatch *m = &r->matches[i];
        if (m->distance > DT_REPORT_FAR_COLOUR && m->area_mm2 >= LEAST_AREA)
            far[all++] = (FarColour){rgb_of(m->colour), m->area_mm2, m->distance};
    }
    qsort(far, all, sizeof *far, by_rgb);
    *n = 0;
    for (size_t i = 0; i < all; i++)
        if (*n > 0 && far[*n - 1].rgb == far[i].rgb) {
            far[*n - 1].area += far[i].area;
            far[*n - 1].distance = MAX(far[*n - 1].distance, far[i].distance);
        } else {
            far[(*n)++] = far[i];
        }
    qsort(far, *n, sizeof *far, by_area);
    return far;
}

static char *far_colours(const DtInkReport *r)
{
    size_t n;
    g_autofree FarColour *far = find_far(r, &n);
    double area = 0;
    for (size_t i = 0; i < n; i++)
        area += far[i].area;
    if (n == 0)
        return NULL;
    GString *s = g_string_new(NULL);
    g_string_append_printf(
        s,
        P_("%zu colour has no good match among the pens (%.0f mm\302\262):",
           "%zu colours have no good match among the pens (%.0f mm\302\262):", n),
        n, area);
    for (size_t i = 0; i < MIN(n, MOST_NAMED); i++)
        g_string_append_printf(s, _("%s #%06lx off by %.0f"), i ? "," : "",
                               (unsigned long)far[i].rgb, far[i].distance);
    if (n > MOST_NAMED)
        g_string_append(s, _(", and others"));
    return g_string_free(s, FALSE);
}

char *dt_report_caution(const DtDrawing *d, const DtAffine *placed, const DtInkReport *colours,
                        size_t i)
{
    const double scale = placed ? scale_of(placed) : 1;
    if (scale > MOST_ENLARGED && i-- == 0)
        return g_strdup_printf(_("caution: enlarged %.0f times, from a page of %.1f by %.1f mm; "
                                 "corners and steps of its outlines may show"),
                               scale, d->width, d->height);
    char *far = colours && i == 0 ? far_colours(colours) : NULL;
    if (far == NULL)
        return NULL;
    char *text = g_strconcat(_("caution: "), far, NULL);
    g_free(far);
    return text;
}

/* Time -------------------------------------------------------------------------------------- */

static const char *picture_name(DtPicture p)
{
    static const char *const names[] = {
        [DT_PICTURE_HATCH] = "hatch",     [DT_PICTURE_CROSSED] = "crossed",
        [DT_PICTURE_CONTOUR] = "contour", [DT_PICTURE_STIPPLE] = "stipple",
        [DT_PICTURE_TOUR] = "tour",       [DT_PICTURE_FLOW] = "flow"};
    return names[p];
}

/* What was given up to meet the time limit. */
static void add_budget(JsonBuilder *b, const DtBudget *budget)
{
    json_builder_set_member_name(b, "budget");
    json_builder_begin_object(b);
    dt_json_number(b, "asked_s", budget->asked_s);
    dt_json_number(b, "full_s", budget->full_s);
    dt_json_number(b, "spread", budget->spread);
    dt_json_text(b, "picture", budget->picture_changed ? picture_name(budget->picture) : NULL);
    json_builder_end_object(b);
}

static void append_budget(GString *s, const DtBudget *budget)
{
    g_autofree char *asked = dt_base_duration(budget->asked_s);
    g_autofree char *full = dt_base_duration(budget->full_s);
    if (budget->spread <= 1 && !budget->picture_changed) {
        g_string_append_printf(s, _("  within %s as it is, pen changes included\n"), asked);
        return;
    }
    g_string_append_printf(s, _("  to stay within %s (%s in full, pen changes included):"), asked,
                           full);
    if (budget->picture_changed)
        g_string_append_printf(s, _(" photographs by '--picture %s'%s"),
                               picture_name(budget->picture), budget->spread > 1 ? "," : "");
    if (budget->spread > 1)
        g_string_append_printf(s, _(" hatches %.2f times as open"), budget->spread);
    g_string_append_c(s, '\n');
}

void dt_report_add_budget(GString *s, JsonBuilder *b, const DtBudget *budget)
{
    if (s != NULL)
        append_budget(s, budget);
    if (b != NULL)
        add_budget(b, budget);
}
