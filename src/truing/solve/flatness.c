/* flatness: see flatness.h. */
#include "truing/solve/flatness.h"

#include "drawtrue/base.h"
#include "truing/solve/solve.h"

#include <math.h>

/* Cameras ------------------------------------------------------------------------------------------ */

/* A lens moves what it shows by k r^2 (u, v) from the middle of the picture (Brown 1966, "Decentering distortion of
 * lenses", its first radial term), a tilt of the camera by (p u + q v) (u, v). Rails and cords make errors that depend on
 * one coordinate, a scanner's carriage such as depend on the way down; neither makes the products u v^2, v u^2 and u v in
 * these, by which they are told. If the lens is not above the middle of the sheet, that adds terms of the tilt's form.
 * Rails that are not parallel may make v u^2 alone: both parts of k must be found. */
enum { LENS_ACROSS, LENS_DOWN, TILT_ACROSS, TILT_DOWN, TERMS };

typedef struct {
    double size;               /* half of the sheet's diagonal, by which places are divided, mm */
    int column[DT_MOST_SCANS]; /* the first term of each flat scan */
    DtPoint middle[DT_MOST_SCANS]; /* of the sheet */
} Camera;

static void bend_as_camera(gconstpointer data, const DtModel *m, const DtItem *item, int k,
                           double *by)
{
    const Camera *c = data;
    if (m->pose[k].photograph)
        return;
    const DtPoint n = dt_model_normal(m, item, k),
                  at = dt_point_scale(dt_point_sub(item->seen[k]->at, c->middle[k]), 1 / c->size);
    const double square = dt_point_dot(at, at), outwards = dt_point_dot(at, n);
    by += c->column[k];
    by[LENS_ACROSS] = n.x * at.x * square;
    by[LENS_DOWN] = n.y * at.y * square;
    by[TILT_ACROSS] = at.x * outwards;
    by[TILT_DOWN] = at.y * outwards;
}

/* The smaller of both parts of the lens, if both are significant and bend the same way; else 0. */
static double lens_of(const double *b, const double *sd)
{
    const double least_mm = 0.05, least_sds = 4;
    for (int i = LENS_ACROSS; i <= LENS_DOWN; i++)
        if (fabs(b[i]) < least_sds * sd[i])
            return 0;
    const double size = MIN(fabs(b[LENS_ACROSS]), fabs(b[LENS_DOWN]));
    return b[LENS_ACROSS] * b[LENS_DOWN] > 0 && size >= least_mm ? size : 0;
}

/* A camera in the hand tilts by far more. As little as this may come from rails that are not parallel. */
static double tilt_of(const double *b, const double *sd)
{
    const double least_mm = 0.3, least_sds = 5;
    const double size = hypot(b[TILT_ACROSS], b[TILT_DOWN]),
                 by = MAX(sd[TILT_ACROSS], sd[TILT_DOWN]);
    return size >= least_mm && size > least_sds * by ? size : 0;
}

gboolean dt_find_bent(const DtModel *m, const DtModelFit *fit, DtBentEvidence *out)
{
    Camera c = {.size = hypot(m->e->sheet->paper_w, m->e->sheet->paper_h) / 2};
    double b[TERMS * DT_MOST_SCANS], v[TERMS * TERMS * DT_MOST_SCANS * DT_MOST_SCANS];
    int n = 0;
    gboolean found = FALSE;
    *out = (DtBentEvidence){.e = *m->e};
    out->e.scans = out->list;
    for (int k = 0; k < m->n_scans; k++) {
        out->scans[k] = *m->e->scans[k];
        out->list[k] = &out->scans[k];
        c.column[k] = n;
        c.middle[k] = dt_affine_apply(out->scans[k].rough, m->middle);
        n += m->pose[k].photograph ? 0 : TERMS;
    }
    if (n == 0 || !dt_residuals_explain(&fit->left_over, n, bend_as_camera, &c, FALSE, b, v))
        return FALSE;
    for (int k = 0; k < m->n_scans; k++) {
        double sd[TERMS];
        if (m->pose[k].photograph)
            continue;
        for (int i = 0; i < TERMS; i++)
            sd[i] = sqrt(v[(c.column[k] + i) * (n + 1)]);
        out->lens_mm[k] = lens_of(b + c.column[k], sd);
        out->tilt_mm[k] = tilt_of(b + c.column[k], sd);
        out->scans[k].photograph = out->lens_mm[k] > 0 || out->tilt_mm[k] > 0;
        found |= out->scans[k].photograph;
    }
    return found;
}

void dt_note_bent(const DtBentEvidence *b, DtFigures *out)
{
    for (size_t k = 0; k < b->e.n_scans; k++) {
        g_autofree char *text =
            b->lens_mm[k] > 0
                ? g_strdup_printf(_("%s bends the sheet by %.2f mm towards its corners, as a lens "
                                    "does and a scanner never: only slack and other differences "
                                    "between neighbouring marks are taken from it"),
                                  b->scans[k].path, b->lens_mm[k])
            : b->tilt_mm[k] > 0
                ? g_strdup_printf(_("%s shows the sheet drawn out by %.2f mm towards a corner, as "
                                    "a tilted camera does and a scanner never: only slack and "
                                    "other differences between neighbouring marks are taken from "
                                    "it (if it is a scan: does a rail turn as the carriage "
                                    "travels along the other?)"),
                                  b->scans[k].path, b->tilt_mm[k])
                : NULL;
        if (text)
            dt_figures_note(out, text);
    }
}

/* Steps -------------------------------------------------------------------------------------------- */

typedef struct {
    DtPoint normal; /* of the line, commanded */
    double at;      /* along the normal from the sheet's middle, mm */
    int scan, flat; /* in which the marks are displaced, and how many scans are no photographs */
    double mm, sds; /* by how much, and by how many standard deviations */
} Step;

/* Towards each other across the line. With several scans against the mean of the others. */
static void step(gconstpointer data, const DtModel *m, const DtItem *item, int k, double *by)
{
    const Step *s = data;
    const double beyond = dt_point_dot(dt_point_sub(item->middle, m->middle), s->normal) - s->at,
                 share = 1.0 / s->flat, mine = (k == s->scan ? 1 : 0) - (s->flat > 1 ? share : 0);
    if (!m->pose[k].photograph)
        *by = (item->axis == 0 ? s->normal.x : s->normal.y) * (beyond > 0 ? -0.5 : 0.5) * mine;
}

/* Wherever a line may run: the step that is the most significant. */
static Step find_step(const DtModel *m, const DtModelFit *fit, int flat)
{
    enum { DIRECTIONS = 8 };
    const double apart_mm = 10, border_mm = 20;
    Step best = {.sds = 0};
    for (int i = 0; i < m->n_scans * DIRECTIONS; i++) {
        const double angle = G_PI * (i % DIRECTIONS) / DIRECTIONS;
        Step s = {.normal = {cos(angle), sin(angle)}, .scan = i / DIRECTIONS, .flat = flat};
        const double half =
            (fabs(s.normal.x) * m->e->sheet->paper_w + fabs(s.normal.y) * m->e->sheet->paper_h) /
                2 -
            border_mm;
        if (m->pose[s.scan].photograph || (flat == 2 && best.flat > 0 && best.scan != s.scan))
            continue; /* of two, what one shows the other does too */
        for (s.at = -half; s.at <= half; s.at += apart_mm) {
            double variance;
            if (!dt_residuals_explain(&fit->left_over, 1, step, &s, flat > 1, &s.mm, &variance))
                continue;
            s.sds = fabs(s.mm) / sqrt(variance);
            if (best.flat == 0 || s.sds > best.sds)
                best = s;
        }
    }
    return best;
}

gboolean dt_check_steps(const DtModel *m, const DtModelFit *fit, GError **error)
{
    const double least_mm = 0.04, of_several = 6, of_one = 7;
    int flat = 0;
    for (int k = 0; k < m->n_scans; k++)
        flat += m->pose[k].photograph ? 0 : 1;
    const Step s = find_step(m, fit, MAX(flat, 1));
    if (s.sds < (flat > 1 ? of_several : of_one) || fabs(s.mm) < least_mm)
        return TRUE;
    const DtPoint at = dt_point_add(m->middle, dt_point_scale(s.normal, s.at));
    const double degrees = fmod(atan2(s.normal.y, s.normal.x) * 180 / G_PI + 90, 180);
    if (flat > 1)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "the scans differ by %.2f mm beyond a line through about (X, Y) = (%.0f, %.0f) "
                    "mm at %.0f degrees to X: in one of them the sheet did not lie flat, or it "
                    "moved; lay it flat and scan it again",
                    fabs(s.mm), at.x, at.y, degrees);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: beyond a line through about (X, Y) = (%.0f, %.0f) mm at %.0f degrees to X "
                    "the marks are displaced by %.2f mm: the sheet was folded, or it moved while "
                    "it was drawn or scanned",
                    m->e->scans[s.scan]->path, at.x, at.y, degrees, fabs(s.mm));
    return FALSE;
}
