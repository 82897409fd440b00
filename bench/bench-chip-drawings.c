/* bench-chip-drawings: the three examples and N drawings of the corpus on paper of A8, through the chip and
 * through the rig's core. */
#include "bench-chip.h"
#include "drawtrue/job.h"
#include "support/files.h"
#include "support/ink-apart.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>

#define PROFILE "examples/workshop.ini"
#define RIG "bench/rig-chip.ini"

static const double time_limit = 0.002, half_step_mm = 0.0101; /* with the rig's scale */

typedef struct {
    char *name, *program;
    double time_s;
} Sheet;

static void clear_sheet(gpointer data)
{
    Sheet *s = data;
    g_free(s->name);
    g_free(s->program);
    g_free(s);
}

static int by_time(gconstpointer a, gconstpointer b)
{
    const double x = (*(Sheet *const *)a)->time_s, y = (*(Sheet *const *)b)->time_s;
    return (x > y) - (x < y);
}

static Sheet *plan(const DtProfile *p, const char *svg, const char *folder, unsigned number)
{
    g_auto(DtJob) job = {0};
    g_autoptr(GError) error = NULL;
    const DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    g_autofree char *name = g_strdup_printf("%u.nc", number);
    Sheet *s = g_new0(Sheet, 1);
    s->name = g_path_get_basename(svg);
    s->program = g_build_filename(folder, name, NULL);
    if (dt_job_plan(p, svg, &o, &job, NULL, &error) &&
        dt_job_write_program(p, NULL, &job.moves, s->program, NULL, &error)) {
        s->time_s = job.times.total_s;
        return s;
    }
    printf("%-26.26s %s\n", s->name, error->message);
    clear_sheet(s);
    return NULL;
}

/* Three times as many as are asked for are planned, and the quickest drawn. */
static void plan_corpus(const DtProfile *small, unsigned n, const char *folder, GPtrArray *to)
{
    g_autoptr(GError) error = NULL;
    char *argv[] = {NULL, NULL};
    g_autoptr(GPtrArray) files = n ? files_for_corpus(1, argv, 3 * (long)n, &error) : NULL;
    g_autoptr(GPtrArray) sheets = g_ptr_array_new();
    for (guint i = 0; files && i < files->len; i++) {
        fprintf(stderr, "planning %u of %u: %s\n", i + 1, files->len, (char *)files->pdata[i]);
        Sheet *s = plan(small, files->pdata[i], folder, 10 + i);
        if (s)
            g_ptr_array_add(sheets, s);
    }
    g_ptr_array_sort(sheets, by_time);
    for (guint i = 0; i < sheets->len; i++)
        if (i < n)
            g_ptr_array_add(to, sheets->pdata[i]);
        else
            clear_sheet(sheets->pdata[i]);
}

typedef struct {
    unsigned drawn, good, lost;
    double apart, off, hours, processor_s;
} Sum;

/* Less what it stood at stops and without a line: there a chip's clock goes on until the sender, who lives in
 * real time, comes, and the core's stands. */
static double own_time(const Drawn *d)
{
    return d->figures.time_s - d->figures.stop_s - d->chip.waited_s;
}

static gboolean judge(const Sheet *s, const Drawn *core, const Drawn *chip, Sum *sum)
{
    const DtRigFigures *f = &chip->figures;
    const double apart = ink_apart(core->rig, chip->rig);
    const double off = own_time(chip) / own_time(core) - 1;
    const unsigned lost = f->bytes_lost + chip->chip.no_room;
    const gboolean good = apart <= half_step_mm && fabs(off) <= time_limit &&
                          f->lines_refused == 0 && lost == 0 && f->steps_lost == 0 &&
                          f->endstop_hits == 0 && chip->chip.unasked == 0 && f->pen_up_at_end;
    printf("%-26.26s %7.1f %7.1f %+6.2f%% %7.1f %8.4f %5u %4u %4u %4u %7.1f %6.1f %s\n", s->name,
           own_time(core), own_time(chip), 100 * off, f->ink_mm, apart < G_MAXDOUBLE ? apart : NAN,
           f->lines_taken, f->lines_refused, lost, f->steps_lost + chip->chip.bad_patterns,
           chip->processor_s, f->time_s / chip->processor_s, good ? "" : "NO");
    sum->drawn++;
    sum->good += (unsigned)good;
    sum->lost += f->lines_refused + lost + f->steps_lost;
    sum->apart = MAX(sum->apart, apart);
    sum->off = MAX(sum->off, fabs(off));
    sum->hours += f->time_s / 3600;
    sum->processor_s += chip->processor_s;
    return good;
}

static void draw(const DtProfile *p, const Sheet *s, const char *folder, Sum *sum)
{
    const DtChipOptions o = {.image = bench_image, .seed = 1};
    g_autoptr(GError) error = NULL;
    Drawn core = {0}, chip = {0};
    if (bench_draw(p, s->program, RIG, NULL, folder, &core, &error) &&
        bench_draw(p, s->program, RIG, &o, folder, &chip, &error)) {
        judge(s, &core, &chip, sum);
    } else {
        printf("%-26.26s %s\n", s->name, error->message);
        sum->drawn++;
    }
    fflush(stdout);
    bench_clear(&core);
    bench_clear(&chip);
}

int bench_drawings(unsigned n, double longest_s)
{
    static const char *const examples[] = {
        "examples/packet-label.svg", "examples/planting-calendar.svg", "examples/garden-bed.svg"};
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-chip-XXXXXX", &error);
    g_autoptr(DtProfile) p = folder ? dt_profile_load(PROFILE, &error) : NULL;
    g_autoptr(GPtrArray) sheets = g_ptr_array_new_with_free_func(clear_sheet);
    Sum sum = {0};
    if (p == NULL) {
        fprintf(stderr, "bench: %s\n", error->message);
        return error->code;
    }
    g_autoptr(DtProfile) small = dt_profile_load(PROFILE, &error);
    small->paper_w = 74;
    small->paper_h = 52;
    small->margin = 3;
    plan_corpus(small, n, folder, sheets);
    for (unsigned i = 0; i < G_N_ELEMENTS(examples); i++) {
        Sheet *s = plan(p, examples[i], folder, i);
        if (s)
            g_ptr_array_add(sheets, s);
    }
    g_ptr_array_sort(sheets, by_time);
    printf("%-26s %7s %7s %7s %7s %8s %5s %4s %4s %4s %7s %6s\n", "drawing", "core s", "chip s",
           "off", "ink mm", "apart mm", "lines", "ref.", "lost", "step", "cpu s", "speed");
    unsigned asked = n + G_N_ELEMENTS(examples);
    for (guint i = 0; i < sheets->len; i++) {
        const Sheet *s = sheets->pdata[i];
        if (s->time_s <= longest_s) {
            draw(p, s, folder, &sum);
            continue;
        }
        printf("%-26.26s %7.1f s: left out, longer than %.0f s\n", s->name, s->time_s, longest_s);
        asked--;
    }
    g_autofree char *all = g_strdup_printf("%u of %u", asked, asked);
    bench_row("drawings as the core draws them", all, sum.good == asked, "%u of %u", sum.good,
              sum.drawn);
    bench_row("  their ink apart from the core's", "a half step: 0.0101 mm",
              sum.apart <= half_step_mm, "%.4f mm", sum.apart < G_MAXDOUBLE ? sum.apart : NAN);
    bench_row("  their times", "0.2 %", sum.off <= time_limit, "%.2f %% off", 100 * sum.off);
    bench_row("  lines refused, bytes lost, steps lost", "0", sum.lost == 0, "%u", sum.lost);
    printf("%.2f h simulated in %.0f s of processor time\n", sum.hours, sum.processor_s);
    return sum.good < asked;
}
