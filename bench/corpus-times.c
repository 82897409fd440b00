/* corpus times: what plan, inspect, run and proof predict for one drawing, beside what the virtual
 * machine takes. Usage: corpus-times [N] [DIR]: the three examples and N drawings (10 by default) of
 * DIR or of Debian's openclipart-svg. Homing is left out: where it begins nobody knows. */
#include "drive.h"
#include "support/files.h"

#include "drawtrue/job.h"
#include "drawtrue/program.h"

#include <math.h>
#include <stdio.h>

#define PROFILE "examples/workshop.ini"
#define RIG "bench/rig.ini"

typedef struct {
    double plan_s, inspect_s, run_s, proof_s, rig_s;
} Times;

static double inspect_s(const DtProfile *p, const char *program, GError **error)
{
    DtInspection i;
    if (!dt_code_judge(p, program, NULL, &i, error))
        return NAN;
    const double s = i.time_s - i.home_s;
    dt_inspection_clear(&i);
    return s;
}

static double run_s(const DtProfile *p, const char *program, GError **error)
{
    DtProgramTotals totals;
    g_autoptr(DtProgram) g = dt_program_open(p, program, error);
    return g && dt_program_check(g, FALSE, &totals, error) ? totals.seconds : NAN;
}

static double proof_s(const DtProfile *p, const char *program, GError **error)
{
    DtInspection i;
    DtTimes t;
    if (!dt_code_inspect(p, program, &i, error))
        return NAN;
    dt_machine_time(p, &i.moves, FALSE, &t);
    dt_inspection_fit_times(&i, &i.moves, &t);
    dt_inspection_clear(&i);
    return t.total_s - t.home_s;
}

static gboolean on_rig(const DtProfile *p, const char *program, const char *folder, double *s,
                       GError **error)
{
    DtRigFigures figures;
    const gboolean good = drive_rig(p, program, RIG, folder, &figures, error);
    *s = figures.time_s;
    return good;
}

/* What a program that homes and does nothing else but one line takes beyond what is predicted. */
static gboolean measure_homing(const DtProfile *p, const char *folder, double *s, GError **error)
{
    g_auto(DtSequence) line = {0};
    g_auto(DtMoves) moves = {0};
    g_autofree char *program = g_build_filename(folder, "line.nc", NULL);
    dt_sequence_begin(&line, 0, 0);
    dt_sequence_point(&line, dt_point(20, 20));
    dt_sequence_point(&line, dt_point(30, 20));
    if (!dt_machine_moves(p, &line, &moves, error) ||
        !dt_job_write_program(p, NULL, &moves, program, NULL, error) ||
        !on_rig(p, program, folder, s, error))
        return FALSE;
    *s -= inspect_s(p, program, error);
    return *error == NULL;
}

static gboolean measure(const DtProfile *p, const char *svg, const char *folder, double homing_s,
                        Times *t, GError **error)
{
    g_auto(DtJob) job = {0};
    const DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    if (!dt_job_plan(p, svg, &o, &job, NULL, error) ||
        !dt_job_write_program(p, NULL, &job.moves, program, NULL, error))
        return FALSE;
    t->plan_s = job.times.total_s - job.times.home_s;
    t->inspect_s = inspect_s(p, program, error);
    if (*error == NULL)
        t->run_s = run_s(p, program, error);
    if (*error == NULL)
        t->proof_s = proof_s(p, program, error);
    if (*error != NULL || !on_rig(p, program, folder, &t->rig_s, error))
        return FALSE;
    t->rig_s -= homing_s;
    return TRUE;
}

static double spread(const Times *t)
{
    const double least = MIN(MIN(t->plan_s, t->inspect_s), MIN(t->run_s, t->proof_s));
    return MAX(MAX(t->plan_s, t->inspect_s), MAX(t->run_s, t->proof_s)) - least;
}

int main(int argc, char **argv)
{
    static const char *const examples[] = {
        "examples/packet-label.svg", "examples/planting-calendar.svg", "examples/garden-bed.svg"};
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = files_for_corpus(argc, argv, 10, &error);
    g_autofree char *folder = files ? g_dir_make_tmp("drawtrue-corpus-XXXXXX", &error) : NULL;
    g_autoptr(DtProfile) p = folder ? dt_profile_load(PROFILE, &error) : NULL;
    double homing_s = 0;
    if (p == NULL || !measure_homing(p, folder, &homing_s, &error)) {
        fprintf(stderr, "corpus: %s\n", error->message);
        return error->code;
    }
    for (size_t i = G_N_ELEMENTS(examples); i > 0; i--)
        g_ptr_array_insert(files, 0, g_strdup(examples[i - 1]));
    printf(
        "Homing takes %.1f s on the rig and is left out. Predicted s, and off the rig:\n%-24s %9s "
        "%9s %9s %9s %7s %9s %7s\n",
        homing_s, "drawing", "plan", "inspect", "run", "proof", "apart", "rig", "off %");
    size_t n = 0, alike = 0, near = 0;
    for (guint i = 0; i < files->len; i++) {
        Times t;
        g_autoptr(GError) failed = NULL;
        g_autofree char *name = g_path_get_basename(files->pdata[i]);
        printf("%-24.24s", name);
        if (!measure(p, files->pdata[i], folder, homing_s, &t, &failed)) {
            printf(" %s\n", failed->message);
            continue;
        }
        const double off = 100 * (t.run_s / t.rig_s - 1);
        n++;
        alike += spread(&t) <= 0.1;
        near += fabs(off) <= 1;
        printf(" %9.1f %9.1f %9.1f %9.1f %7.2f %9.1f %+7.2f\n", t.plan_s, t.inspect_s, t.run_s,
               t.proof_s, spread(&t), t.rig_s, off);
        fflush(stdout);
    }
    printf("%zu drawings: predicted alike within 0.1 s on %zu, within 1 %% of the rig on %zu.\n", n,
           alike, near);
    return alike == n ? 0 : 1;
}
