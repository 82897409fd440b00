/* bench-link-dense: the densest programs of a corpus at full feed, in real time.
 *
 * Each drawing is planned for the built-in machine. Of each program the strokes are taken that need
 * the most lines a second over about half a minute, and of those the densest 20 are drawn by the
 * sender in real time, at 115200 baud with 20 ms of reply latency, and once more in virtual time,
 * where the planner cannot run dry. What the strokes take longer is starvation. */
#include "bench-link.h"

#include "drawtrue/job.h"
#include "support/drawing.h"
#include "drawtrue/rig.h"
#include "support/files.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { DENSEST = 20, AT_ONCE = 4 };
static const double stretch_s = 30, latency_s = 0.020;

/* Of a program's text. */
typedef struct {
    const char *from;
    gsize len;
    double ends_s; /* on the rig's clock, never dry */
    unsigned lines;
} Stroke;

typedef struct {
    char *drawing, *text;
    gsize len;
    double lines_a_s, longest_line;
    /* what came of it */
    double real_s, full_s;
    unsigned starved, lines;
    char *failed;
} Dense;

static void clear_dense(gpointer data)
{
    Dense *d = data;
    g_free(d->drawing);
    g_free(d->text);
    g_free(d->failed);
    g_free(d);
}

/* The program's head, its strokes and its tail: a stroke begins with its comment. */
static GArray *split(const char *text, gsize *head)
{
    GArray *strokes = g_array_new(FALSE, FALSE, sizeof(Stroke));
    for (const char *at = text; (at = strstr(at, "(stroke ")) != NULL; at++) {
        const char *next = strstr(at + 1, "(stroke ");
        const Stroke s = {.from = at, .len = next ? (gsize)(next - at) : strlen(at)};
        g_array_append_val(strokes, s);
    }
    *head = strokes->len ? (gsize)(g_array_index(strokes, Stroke, 0).from - text) : strlen(text);
    return strokes;
}

typedef struct {
    DtRig *rig;
    GArray *strokes;
    guint at;
} Timing;

static void note_line(const char *line, const char *answer, void *user)
{
    (void)answer;
    Timing *t = user;
    if (g_str_has_prefix(line, "(stroke ") && t->at < t->strokes->len)
        t->at++;
    if (t->at == 0)
        return;
    Stroke *s = &g_array_index(t->strokes, Stroke, t->at - 1);
    s->lines++;
    s->ends_s = dt_rig_clock_s(t->rig);
}

static void time_strokes(const char *text, gsize len, GArray *strokes)
{
    g_autoptr(DtRig) rig = dt_rig_new(NULL, NULL);
    Timing t = {.rig = rig, .strokes = strokes};
    dt_rig_listen(rig, note_line, &t);
    dt_rig_run_text(rig, text, len);
}

/* The run of strokes of at most the stretch's time, or the one stroke that is longer, with the most
 * lines a second. */
static void find_densest(const GArray *strokes, guint *first, guint *n, double *lines_a_s)
{
    *lines_a_s = 0;
    *first = *n = 0;
    const Stroke *s = (const Stroke *)(void *)strokes->data;
    for (guint i = 1; i < strokes->len; i++) {
        unsigned lines = 0;
        for (guint k = i; k < strokes->len; k++) {
            const double time = s[k].ends_s - s[i - 1].ends_s;
            lines += s[k].lines;
            if (time > stretch_s && k > i)
                break;
            if (time < stretch_s / 3 || !(lines / time > *lines_a_s))
                continue;
            *lines_a_s = lines / time;
            *first = i;
            *n = k - i + 1;
        }
    }
}

/* NULL where the drawing gives no program, or one too short. */
static Dense *densest_of(const char *drawing)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtJob) job = {0};
    gsize len = 0, head;
    if (!dt_job_plan(p, drawing, &DT_JOB_OPTIONS_DEFAULT, &job, NULL, NULL) ||
        job.times.total_s > 4 * 3600)
        return NULL;
    g_autofree char *text = dt_code_write(p, &job.moves, &len, NULL);
    if (text == NULL)
        return NULL;
    g_autoptr(GArray) strokes = split(text, &head);
    time_strokes(text, len, strokes);
    guint first, n;
    double lines_a_s;
    find_densest(strokes, &first, &n, &lines_a_s);
    if (n == 0)
        return NULL;
    GString *cut = g_string_new_len(text, (gssize)head);
    for (guint i = first; i < first + n; i++) {
        const Stroke *s = &g_array_index(strokes, Stroke, i);
        g_string_append_len(cut, s->from, (gssize)s->len);
    }
    if (first + n < strokes->len)
        g_string_append(cut, "G0X0Y0\nM2\n");
    Dense *d = g_new0(Dense, 1);
    d->drawing = g_path_get_basename(drawing);
    d->lines_a_s = lines_a_s;
    d->len = cut->len;
    d->text = g_string_free(cut, FALSE);
    return d;
}

static int by_density(const void *a, const void *b)
{
    const Dense *x = *(const Dense *const *)a, *y = *(const Dense *const *)b;
    return x->lines_a_s < y->lines_a_s ? 1 : x->lines_a_s > y->lines_a_s ? -1 : 0;
}

/* Drawing ----------------------------------------------------------------------------------- */

typedef struct {
    DtRig *rig;
    gboolean real_time;
    volatile int stop;
} Serving;

static gpointer serve(gpointer data)
{
    Serving *s = data;
    dt_rig_serve(s->rig, s->real_time, FALSE, &s->stop, NULL);
    return NULL;
}

/* Time that the strokes take on the paper, s; negative where the run failed. */
static double draw(Dense *d, const char *folder, gboolean real_time)
{
    g_autofree char *settings = g_strdup_printf("[board]\nbaud = 115200\nreply_delay_s = %.3f\n",
                                                real_time ? latency_s : 0);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) rig = dt_rig_new_from_text(settings, "bench", &error);
    const char *port = rig ? dt_rig_open_port(rig, &error) : NULL;
    if (port == NULL)
        g_error("%s", error->message);
    Serving s = {rig, real_time, 0};
    GThread *thread = g_thread_new("rig", serve, &s);
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *program = g_strdup_printf("%s/%p.nc", folder, (void *)d);
    g_autofree char *journal = g_strdup_printf("%s/%p.db", folder, (void *)d);
    g_file_set_contents(program, d->text, (gssize)d->len, NULL);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE, .doubts = TRUE};
    if (!drawing_program(p, port, program, &o, NULL, NULL, &error))
        d->failed = g_strdup(error->message);
    s.stop = 1;
    g_thread_join(thread);
    double on_paper = 0;
    for (size_t i = 0; i < dt_rig_stroke_count(rig); i++)
        on_paper += dt_rig_stroke(rig, i).to_s - dt_rig_stroke(rig, i).from_s;
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    d->lines = f.lines_taken;
    if (real_time)
        d->starved = f.starved;
    return on_paper;
}

static void draw_both(gpointer data, gpointer folder)
{
    Dense *d = data;
    d->full_s = draw(d, folder, FALSE);
    if (d->failed == NULL)
        d->real_s = draw(d, folder, TRUE);
}

static GPtrArray *find_all(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) drawings = files_for_corpus(argc, argv, 200, &error);
    if (drawings == NULL) {
        g_printerr("bench: %s\n", error->message);
        return NULL;
    }
    GPtrArray *all = g_ptr_array_new_with_free_func(clear_dense);
    for (guint i = 0; i < drawings->len; i++) {
        Dense *d = densest_of(drawings->pdata[i]);
        if (d != NULL)
            g_ptr_array_add(all, d);
        fprintf(stderr, "\r%u of %u drawings planned ", i + 1, drawings->len);
    }
    fputs("\r\033[K", stderr);
    printf(
        "\ndense: the densest stretches of %u programs from %u drawings, in real time, %.0f ms\n",
        all->len, drawings->len, latency_s * 1000);
    g_ptr_array_sort(all, by_density);
    if (all->len > DENSEST)
        g_ptr_array_set_size(all, DENSEST);
    return all;
}

int bench_link_dense(int argc, char **argv, const char *folder)
{
    g_autoptr(GPtrArray) all = find_all(argc, argv);
    if (all == NULL)
        return 1;
    GThreadPool *pool = g_thread_pool_new(draw_both, (gpointer)folder, AT_ONCE, TRUE, NULL);
    for (guint i = 0; i < all->len; i++)
        g_thread_pool_push(pool, all->pdata[i], NULL);
    g_thread_pool_free(pool, FALSE, TRUE);
    puts("  drawing                        lines  lines/s   on paper   never dry  starved  stops");
    unsigned stops = 0;
    for (guint i = 0; i < all->len; i++) {
        const Dense *d = all->pdata[i];
        if (d->failed != NULL) {
            printf("  %-28.28s  failed: %s\n", d->drawing, d->failed);
            continue;
        }
        printf("  %-28.28s  %6u   %6.1f  %7.2f s   %7.2f s  %5.2f %%  %5u\n", d->drawing, d->lines,
               d->lines_a_s, d->real_s, d->full_s, 100 * (d->real_s - d->full_s) / d->full_s,
               d->starved);
        stops += d->starved;
    }
    printf("  planner found empty in mid-stroke: %u times\n", stops);
    return 0;
}
