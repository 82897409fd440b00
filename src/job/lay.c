/* lay: adapts a program to a sheet that lies elsewhere on the bed, rotated.
 *
 * Rotating the program's own coordinates would be wrong, because they contain corrections for
 * the directions and places they were made for. So the ink is worked out, transformed, and
 * planned anew. */
#include "job/private.h"
#include "drawtrue/program.h"

#include <math.h>
#include <string.h>

static const double same_point = 1e-6, width_tolerance = 2; /* mm */

static void add_point(DtSequence *s, DtPoint ink)
{
    if (s->n > 0 && s->polylines[s->n - 1].n > 0 &&
        dt_point_distance(s->pts[s->n_pts - 1], ink) < same_point)
        return; /* slack was taken up: the carriage stood still */
    dt_sequence_point(s, ink);
}

typedef struct {
    DtAffine m;
    gboolean
        is_foreign; /* the ink is meant where the program commands it, whatever this machine would make of it */
    DtSequence *to;
} Tracing;

static void add_ink(const DtProgramState *s, void *user)
{
    const Tracing *c = user;
    if (s->pen_down)
        add_point(c->to, dt_affine_apply(c->m, c->is_foreign ? s->at : s->tip));
}

/* The ink of the whole program, on the bed, mapped by m. */
static gboolean trace(DtProgram *g, DtAffine m, gboolean is_foreign, DtSequence *s, GError **error)
{
    Tracing c = {m, is_foreign, s};
    dt_program_watch(g, add_ink, &c);
    DtProgramLine line;
    g_autoptr(GError) problem = NULL;
    while (dt_program_next(g, &line, &problem)) {
        const DtProgramState *now = dt_program_state(g);
        if (line.kind != DT_LINE_PEN_DOWN)
            continue;
        dt_sequence_begin(s, now->pen_index, now->begun - 1);
        add_ink(now, &c);
    }
    if (problem == NULL)
        return TRUE;
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
}

gboolean dt_job_sheet_at(const DtProfile *p, DtPoint left, DtPoint right, DtAffine *out,
                         GError **error)
{
    const DtPoint a = dt_machine_ink_at(p, left), b = dt_machine_ink_at(p, right);
    const double apart = dt_point_distance(a, b);
    if (fabs(apart - p->paper_w) > width_tolerance) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "the two corners are %.1f mm apart, and the sheet of the profile is %.1f mm wide",
            apart, p->paper_w);
        return FALSE;
    }
    const DtAffine home = dt_affine_translate(-p->paper_at.x, -p->paper_at.y);
    const double turn = atan2(b.y - a.y, b.x - a.x) - p->paper_turn;
    const DtAffine turned = dt_affine_then(home, dt_affine_rotate(turn));
    *out = dt_affine_then(turned, dt_affine_translate(a.x, a.y));
    return TRUE;
}

/* The profile with the paper where it lies. */
static DtProfile *profile_laid(const DtProfile *p, DtPoint left, DtPoint right)
{
    const DtPoint a = dt_machine_ink_at(p, left), b = dt_machine_ink_at(p, right);
    DtProfile *laid = dt_profile_copy(p);
    laid->paper_at = a;
    laid->paper_turn = atan2(b.y - a.y, b.x - a.x);
    laid->paper_is_job_s = TRUE;
    return laid;
}

/* Checks the program; what its head says. Without comments there is no head, and ours is the likelier origin. */
static gboolean check(const DtProfile *p, const char *path, DtHead *head, DtStatedPaper *paper,
                      GError **error)
{
    DtProgramTotals totals;
    g_autoptr(DtProgram) g = dt_program_open(p, path, error);
    if (g == NULL || !dt_program_check(g, TRUE, &totals, error))
        return FALSE;
    *head = dt_code_has_heads(p) ? totals.head : DT_HEAD_CORRECTED;
    *paper = totals.paper;
    return TRUE;
}

gboolean dt_job_lay(const DtProfile *p, const char *program_path, DtPoint left, DtPoint right,
                    const char *out_path, GError **error)
{
    DtAffine m;
    DtHead head;
    DtStatedPaper paper;
    if (!check(p, program_path, &head, &paper, error))
        return FALSE;
    g_autoptr(DtProfile) meant = dt_profile_copy(p);
    dt_code_take_paper(&paper, meant);
    if (!dt_job_sheet_at(meant, left, right, &m, error))
        return FALSE;
    g_autoptr(DtProfile) laid = profile_laid(meant, left, right);
    const DtJobOptions plan = {.no_corrections = head == DT_HEAD_UNCORRECTED};
    g_autoptr(DtProfile) own = NULL;
    DtProfile exact = *dt_job_profile(p, &plan, &own); /* shares what it points to: not freed */
    exact.ink_tolerance = 0;                           /* already contained in the program */
    g_autoptr(DtProgram) g = dt_program_open(&exact, program_path, error);
    g_auto(DtSequence) s;
    g_auto(DtMoves) moves;
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    return g != NULL && trace(g, m, head < DT_HEAD_UNCORRECTED, &s, error) &&
           dt_machine_moves(&exact, &s, &moves, error) &&
           dt_job_write_program(laid, &plan, &moves, out_path, NULL, error);
}
