/* truing-loop: see truing-loop.h. */
#include "truing-loop.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static DtRig *run(const TruthMachine *t, const char *text, gsize len, double *seconds,
                  GError **error)
{
    g_autofree char *truth = truth_rig_text(t);
    DtRig *rig = dt_rig_new_from_text(truth, "truth", error);
    DtRigFigures f;
    if (rig == NULL)
        return NULL;
    dt_rig_run_text(rig, text, len);
    dt_rig_figures(rig, &f);
    *seconds = f.time_s;
    if (f.lines_refused == 0 && f.endstop_hits == 0)
        return rig;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "the rig refused %u lines and ran into its stops %u times", f.lines_refused,
                f.endstop_hits);
    dt_rig_free(rig);
    return NULL;
}

/* A reader of a rule errs by up to 0.1 mm. */
static void read_rule(LoopSheet *s, const TruthMachine *t)
{
    const double reads_mm = 0.1;
    const int way[2] = {1, 1};
    g_autoptr(GRand) r = g_rand_new_with_seed(t->seed + 7919);
    for (int axis = 0; axis < 2; axis++) {
        DtPoint at[2] = {{0, 0}, {0, 0}};
        for (size_t i = 0; i < s->sheet->n; i++) {
            const DtMark *k = &s->sheet->marks[i];
            if (k->kind == DT_MARK_GAUGE && k->part == DT_SHEET_SCAN && k->axis == axis &&
                k->place > 0)
                at[k->place - 1] = truth_ink(t, dt_point_lerp(k->from, k->to, 0.5), way);
        }
        for (int i = 0; i < 3; i++)
            s->rule[axis][i] =
                dt_point_distance(at[0], at[1]) + g_rand_double_range(r, -reads_mm, reads_mm);
    }
}

static DtTestSheet *new_sheet(const TruthMachine *t, const DtProfile *p, GError **error)
{
    return dt_sheet_new(p, DT_SHEET_SCAN, "2026-01-01", t->seed & 4095, error);
}

/* Moves short marks of a sheet to one side or the other. */
static void displace(DtTestSheet *s, const LoopFault *fault, guint32 seed)
{
    const double corner_mm = 45;
    g_autoptr(GRand) r = g_rand_new_with_seed(seed + 15485863);
    for (size_t i = 0; i < s->n; i++) {
        DtMark *m = &s->marks[i];
        if (m->kind != DT_MARK_POSITION || m->part != DT_SHEET_SCAN)
            continue;
        const double share = g_rand_double(r), by = g_rand_double_range(r, -1, 1);
        const DtPoint across = m->axis == 0 ? dt_point(1, 0) : dt_point(0, 1);
        const gboolean in_corner =
            m->from.x - s->paper_at.x < corner_mm && m->from.y - s->paper_at.y < corner_mm;
        const gboolean in_row = m->axis == fault->row / 3 && m->row == fault->row % 3;
        double mm = share < fault->share ? by * fault->mm : 0;
        if (fault->corner && in_corner)
            mm = by * fault->mm;
        if (fault->row >= 0)
            mm = in_row ? fault->mm : 0;
        m->from = dt_point_add(m->from, dt_point_scale(across, mm));
        m->to = dt_point_add(m->to, dt_point_scale(across, mm));
    }
}

gboolean loop_draw_sheet(LoopSheet *s, const TruthMachine *t, const DtProfile *p,
                         const char *folder, int n_scans, double dpi, GError **error)
{
    return loop_draw_faulty_sheet(s, t, p, folder, n_scans, dpi, NULL, error);
}

gboolean loop_draw_faulty_sheet(LoopSheet *s, const TruthMachine *t, const DtProfile *p,
                                const char *folder, int n_scans, double dpi, const LoopFault *fault,
                                GError **error)
{
    gsize len;
    *s = (LoopSheet){.sheet = new_sheet(t, p, error)};
    if (s->sheet == NULL)
        return FALSE;
    g_autoptr(DtTestSheet) drawn = new_sheet(t, p, error);
    if (fault)
        displace(drawn, fault, t->seed);
    g_autofree char *text = dt_sheet_write(drawn, p, &len, error);
    g_autoptr(DtRig) rig = text ? run(t, text, len, &s->seconds, error) : NULL;
    g_autoptr(GRand) r = g_rand_new_with_seed(t->seed + 104729);
    for (int k = 0; rig && k < n_scans; k++) {
        g_autofree char *scan = truth_scan_text(t, k, g_rand_double_range(r, -1.5, 1.5), dpi);
        g_autofree char *path = g_strdup_printf("%s/scan-%u-%d.jpg", folder, t->seed, k);
        if (!dt_rig_set_scan(rig, scan, "scan", error) || !dt_rig_scan(rig, path, error))
            return FALSE;
        s->scans[k] = dt_scan_read(path, s->sheet, NULL, error);
        g_unlink(path);
        if (s->scans[k] == NULL)
            return FALSE;
    }
    if (rig)
        read_rule(s, t);
    return rig != NULL;
}

gboolean loop_scan_to(const LoopSheet *s, const TruthMachine *t, const DtProfile *p,
                      const char *path, double dpi, GError **error)
{
    gsize len;
    double seconds;
    g_autofree char *text = dt_sheet_write(s->sheet, p, &len, error);
    g_autofree char *scan = truth_scan_text(t, 0, 0.7, dpi);
    g_autoptr(DtRig) rig = text ? run(t, text, len, &seconds, error) : NULL;
    return rig && dt_rig_set_scan(rig, scan, "scan", error) && dt_rig_scan(rig, path, error);
}

void loop_sheet_clear(LoopSheet *s)
{
    for (int k = 0; k < LOOP_MOST_SCANS; k++)
        dt_scan_free(s->scans[k]);
    dt_sheet_free(s->sheet);
}

DtFigures *loop_solve(const LoopSheet *s, const DtProfile *p, int n_scans, GError **error)
{
    const DtEvidence e = {.sheet = s->sheet,
                          .scans = (const DtScan *const *)s->scans,
                          .n_scans = (size_t)n_scans,
                          .rule_mm = {s->rule[0], s->rule[1]},
                          .n_rule = {3, 3}};
    return dt_truing_solve(p, &e, NULL, error);
}

/* Corrections ------------------------------------------------------------------------------------ */

static void load_table(DtTable *table, const DtFigures *f, DtErrorKind kind, int axis)
{
    g_free(table->at);
    g_free(table->value);
    *table = (DtTable){g_new(double, f->n), g_new(double, f->n), 0};
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].proposed) {
            table->at[table->n] = f->f[i].at;
            table->value[table->n++] =
                kind == DT_ERROR_OF_BACKLASH ? MAX(f->f[i].value, 0) : f->f[i].value;
        }
}

void loop_correct(DtProfile *p, const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (!g->proposed)
            continue;
        if (g->kind == DT_ERROR_OF_SCALE)
            p->scale[g->axis] = g->value;
        if (g->kind == DT_ERROR_OF_SQUARE)
            p->square = g->value;
        if (g->kind == DT_ERROR_OF_PULLEY) {
            p->pulley_error[g->axis] = g->value;
            p->pulley_phase[g->axis] = g->value_2;
        }
    }
    for (int axis = 0; axis < 2; axis++) {
        load_table(&p->backlash[axis], f, DT_ERROR_OF_BACKLASH, axis);
        load_table(&p->position[axis], f, DT_ERROR_OF_POSITION, axis);
        load_table(&p->straight[axis], f, DT_ERROR_OF_STRAIGHT, axis);
        load_table(&p->twist[axis], f, DT_ERROR_OF_TWIST, axis);
    }
}

/* Drawing ------------------------------------------------------------------------------------------ */

/* Of a polyline, at a share of its length. */
static DtPoint share_at(const DtPoint *pts, size_t n, double share)
{
    double length = 0;
    for (size_t i = 1; i < n; i++)
        length += dt_point_distance(pts[i - 1], pts[i]);
    double left = share * length;
    for (size_t i = 1; i < n; i++) {
        const double d = dt_point_distance(pts[i - 1], pts[i]);
        if (left <= d && d > 0)
            return dt_point_lerp(pts[i - 1], pts[i], left / d);
        left -= d;
    }
    return pts[n - 1];
}

typedef struct {
    DtPoint from, to; /* middles */
    double turn;
} Lie;

/* How the landed ink lies against the planned: by places along strokes that are not too long. */
static Lie find_lie(const DtSequence *s, const DtRig *rig)
{
    enum { SHARES = 9 };
    double n = 0, cross = 0, size = 0;
    Lie lie = {0};
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < s->n; i++) {
            const DtRigStroke k = dt_rig_stroke(rig, i);
            const DtPoint *landed = (const DtPoint *)(const void *)k.xy,
                          *planned = s->pts + s->polylines[i].first;
            for (int j = 0; j < SHARES && k.n > 1 && s->polylines[i].n > 1; j++) {
                const DtPoint a = share_at(planned, s->polylines[i].n, (j + 0.5) / SHARES);
                const DtPoint b = share_at(landed, k.n, (j + 0.5) / SHARES);
                if (pass == 0) {
                    lie.from = dt_point_add(lie.from, b);
                    lie.to = dt_point_add(lie.to, a);
                    n++;
                } else {
                    const DtPoint u = dt_point_sub(b, dt_point_scale(lie.from, 1 / n));
                    const DtPoint v = dt_point_sub(a, dt_point_scale(lie.to, 1 / n));
                    cross += dt_point_cross(u, v);
                    size += dt_point_dot(u, v);
                }
            }
        }
    return (Lie){dt_point_scale(lie.from, 1 / n), dt_point_scale(lie.to, 1 / n),
                 atan2(cross, size)};
}

static DtPoint laid(const Lie *l, DtPoint p)
{
    const DtPoint d = dt_affine_apply_vector(dt_affine_rotate(l->turn), dt_point_sub(p, l->from));
    return dt_point_add(l->to, d);
}

static gboolean compare(const DtSequence *s, const DtRig *rig, WitnessError *out, GError **error)
{
    if (dt_rig_stroke_count(rig) != s->n) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%zu strokes were planned and %zu landed",
                    s->n, dt_rig_stroke_count(rig));
        return FALSE;
    }
    g_auto(WitnessInk) planned = {0}, landed = {0};
    const Lie lie = find_lie(s, rig);
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    for (size_t i = 0; i < s->n; i++) {
        const DtPolyline *l = &s->polylines[i];
        const DtRigStroke k = dt_rig_stroke(rig, i);
        g_autofree DtPoint *pts = g_new(DtPoint, k.n);
        for (size_t j = 0; j < k.n; j++)
            pts[j] = laid(&lie, dt_point(k.xy[2 * j], k.xy[2 * j + 1]));
        witness_ink_add(&planned, s->pts + l->first, l->n, FALSE, 0);
        witness_ink_add(&landed, pts, k.n, FALSE, 0);
    }
    const WitnessOptions o = WITNESS_OPTIONS_DEFAULT;
    witness_compare(&planned, &landed, &o, out);
    return TRUE;
}

gboolean loop_plan_art(const DtProfile *p, const char *art, DtJob *job, GError **error)
{
    const DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    return dt_job_plan(p, art, &o, job, NULL, error);
}

gboolean loop_draw_art(const TruthMachine *t, const DtProfile *p, const DtSequence *s,
                       WitnessError *out, GError **error)
{
    g_auto(DtMoves) moves = {0};
    gsize len;
    double seconds;
    if (!dt_machine_moves(p, s, &moves, error))
        return FALSE;
    g_autofree char *text = dt_code_write(p, &moves, &len, error);
    g_autoptr(DtRig) rig = text ? run(t, text, len, &seconds, error) : NULL;
    return rig && compare(s, rig, out, error);
}

gboolean loop_expect(const DtProfile *p, const DtSequence *s, const DtFigures *f,
                     DtExpectation *out, GError **error)
{
    g_auto(DtMoves) moves = {0};
    return dt_machine_moves(p, s, &moves, error) && dt_truing_expect(p, f, s, &moves, out);
}

/* Truth -------------------------------------------------------------------------------------------- */

typedef struct {
    double mean, slope, middle;
} Line;

static double curve_truth(const TruthMachine *t, DtErrorKind kind, int axis, double at)
{
    switch (kind) {
    case DT_ERROR_OF_POSITION:
        return truth_table_at(&t->position[axis], at);
    case DT_ERROR_OF_STRAIGHT:
        return truth_table_at(&t->straight[axis], at) +
               t->wave / 2 * sin(2 * G_PI * at / t->wave_length);
    case DT_ERROR_OF_BACKLASH:
        return truth_table_at(&t->slack[axis], at);
    default:
        return truth_table_at(&t->twist[axis], at);
    }
}

/* The straight line through the truth at the knots of a curve. */
static Line line_of(const TruthMachine *t, const DtFigures *f, DtErrorKind kind, int axis)
{
    double n = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis) {
            const double at = f->f[i].at, v = curve_truth(t, kind, axis, at);
            n++;
            x += at;
            y += v;
            xx += at * at;
            xy += at * v;
        }
    const double slope = (xy - x * y / n) / (xx - x * x / n);
    return (Line){y / n, slope, x / n};
}

double loop_truth(const TruthMachine *t, const DtFigures *f, const DtFigure *g)
{
    switch (g->kind) {
    case DT_ERROR_OF_SCALE:
        return t->scale[g->axis] * (1 + line_of(t, f, DT_ERROR_OF_POSITION, g->axis).slope);
    case DT_ERROR_OF_SQUARE:
        return t->square_deg * G_PI / 180 + line_of(t, f, DT_ERROR_OF_STRAIGHT, 0).slope +
               line_of(t, f, DT_ERROR_OF_STRAIGHT, 1).slope;
    case DT_ERROR_OF_POSITION:
    case DT_ERROR_OF_STRAIGHT: {
        const Line l = line_of(t, f, g->kind, g->axis);
        return curve_truth(t, g->kind, g->axis, g->at) - l.mean - l.slope * (g->at - l.middle);
    }
    case DT_ERROR_OF_BACKLASH:
    case DT_ERROR_OF_TWIST:
        return curve_truth(t, g->kind, g->axis, g->at);
    case DT_ERROR_OF_PULLEY:
        return t->pulley[g->axis];
    case DT_ERROR_OF_SCATTER:
        return t->scatter[g->axis];
    default:
        return NAN;
    }
}
