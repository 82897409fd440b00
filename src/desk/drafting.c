/* drafting: turns a drawing or program into ink on the page, a program, and a run that can be
 * started; on a thread of its own, one at a time. A change in the meantime cancels it. */
#include "desk/private.h"

#include "drawtrue/report.h"
#include "drawtrue/truing.h"

#include <cairo.h>
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/resource.h>

typedef struct DtDraft {
    gatomicrefcount refs;
    DtDesk *desk; /* used by the main thread only */
    GMainContext *context;
    GThread *thread;
    DtWork *work;
    DtSession *session;
    DtRunOptions run_options;
    char *journal, *source, *program;
    char *name;      /* of the source, for people */
    gboolean handed; /* `program` is owned by the desk; otherwise it is deleted with the draft */
    gboolean is_program, lays, has_port;
    DtPoint left, right;
    size_t sheet;
    gint64 resumes;
    DtPlanInput in;
} Draft;

/* Results of the thread, passed to the main context. */
typedef struct {
    Draft *draft;
    DtDraftState state; /* DT_DRAFT_NONE: keep it */
    DtWorkState work;
    GBytes *ink, *picture;
    DtInkSummary summary;
    char *report, *problem;
    size_t sheets;
    DtRun *run;
    gboolean written, ended;
    DtOwnOrder own;
} Found;

static void unref_draft(Draft *t)
{
    if (!g_atomic_ref_count_dec(&t->refs))
        return;
    dt_work_unref(t->work);
    dt_session_unref(t->session);
    dt_plan_input_clear(&t->in);
    g_free(t->journal);
    g_free(t->source);
    g_free(t->program);
    g_free(t->name);
    g_main_context_unref(t->context);
    g_free(t);
}

static void free_found(gpointer data)
{
    Found *f = data;
    g_clear_pointer(&f->ink, g_bytes_unref);
    g_clear_pointer(&f->picture, g_bytes_unref);
    g_clear_pointer(&f->run, dt_run_unref);
    g_free(f->report);
    g_free(f->problem);
    unref_draft(f->draft);
    g_free(f);
}

/* On the main thread ------------------------------------------------------------------------ */

static void replace_text(char **to, char **from)
{
    if (*from == NULL)
        return;
    g_free(*to);
    *to = g_steal_pointer(from);
}

/* Not earlier: the thread may have been reading its program until now. */
static void join_draft(Draft *t)
{
    g_thread_join(t->thread);
    if (!t->handed && !t->is_program)
        g_unlink(t->program);
}

static void end_draft(DtDesk *d)
{
    Draft *t = d->draft;
    d->draft = NULL;
    join_draft(t);
    unref_draft(t);
    if (d->draft_again) {
        d->draft_again = FALSE;
        dt_desk_draft(d);
    }
}

static DtBox paper_of(const DtProfile *p)
{
    return (DtBox){p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
}

static void take_ink(DtDeskDrawing *w, Found *f)
{
    if (f->ink != NULL) {
        const DtProfile *p = f->draft->in.profile;
        w->ink_paper = paper_of(p);
        if (f->draft->is_program) { /* which may have stated its own */
            w->paper = w->ink_paper;
            g_free(w->paper_name);
            w->paper_name = g_strdup(p->paper_name);
        }
        g_clear_pointer(&w->ink, g_bytes_unref);
        w->ink = g_steal_pointer(&f->ink);
        w->summary = f->summary;
        w->sheets = f->sheets;
        w->ink_number++;
    }
    if (f->picture != NULL) {
        g_clear_pointer(&w->picture, g_bytes_unref);
        w->picture = g_steal_pointer(&f->picture);
        w->picture_number++;
    }
}

static gboolean take(gpointer data)
{
    Found *f = data;
    DtDesk *d = f->draft->desk;
    if (d == NULL || d->draft != f->draft)
        return G_SOURCE_REMOVE;
    DtDeskDrawing *w = &d->drawing;
    if (!d->draft_again) {
        take_ink(w, f);
        replace_text(&w->report, &f->report);
        replace_text(&w->problem, &f->problem);
        w->work = f->work;
        if (f->own.known)
            w->own = f->own;
        if (f->written) {
            g_free(w->program);
            w->program = g_strdup(f->draft->program);
            w->is_draft = TRUE;
            f->draft->handed = TRUE;
        }
        if (f->state != DT_DRAFT_NONE)
            w->state = f->state;
        if (f->run != NULL)
            dt_desk_set_run(d, g_steal_pointer(&f->run));
        dt_desk_changed(d,
                        f->summary.strokes > 0 ? DT_PART_DRAWING | DT_PART_RUN : DT_PART_DRAWING);
    }
    if (f->ended)
        end_draft(d);
    return G_SOURCE_REMOVE;
}

/* On the draft's thread --------------------------------------------------------------------- */

static Found *found_new(Draft *t)
{
    Found *f = g_new0(Found, 1);
    g_atomic_ref_count_inc(&t->refs);
    f->draft = t;
    f->work = dt_work_state(t->work);
    return f;
}

static void deliver(Found *f)
{
    GSource *source = g_idle_source_new();
    g_source_set_priority(source, G_PRIORITY_DEFAULT);
    g_source_set_callback(source, take, f, free_found);
    g_source_attach(source, f->draft->context);
    g_source_unref(source);
}

static void on_work(const DtWorkState *state, void *user)
{
    (void)state;
    deliver(found_new(user));
}

static void show(Draft *t, const DtMoves *m, const DtTimes *times, char *report, size_t sheets)
{
    Found *f = found_new(t);
    f->ink = dt_desk_ink_bytes(m, times, &f->summary);
    f->report = report;
    f->sheets = sheets;
    f->state = DT_DRAFT_SEEN;
    deliver(f);
}

/* A program as this machine would draw it. */
static gboolean show_program(Draft *t, const char *path, gboolean reports, GError **error)
{
    DtInspection i = {0};
    DtTimes times = {0};
    const DtProfile *p = t->in.profile;
    const gboolean good = dt_code_inspect(p, path, &i, error);
    if (good) {
        if (t->is_program)
            dt_code_take_paper(&i.paper, t->in.profile);
        dt_machine_time(p, &i.moves, TRUE, &times);
        dt_inspection_fit_times(&i, &i.moves, &times);
        show(t, &i.moves, &times, reports ? dt_report_inspection(p, &i, NULL, t->name, TRUE) : NULL,
             1);
    }
    dt_times_clear(&times);
    dt_inspection_clear(&i);
    return good;
}

static cairo_status_t append_png(void *to, const unsigned char *bytes, unsigned n)
{
    g_byte_array_append(to, bytes, n);
    return CAIRO_STATUS_SUCCESS;
}

/* The artwork on its sheet, painted by us: nothing of the file itself reaches the page. */
static void show_picture(Draft *t, const DtDrawing *drawing)
{
    enum { LONGER_PX = 1800 };
    const DtProfile *p = t->in.profile;
    const double scale = LONGER_PX / MAX(p->paper_w, p->paper_h);
    cairo_surface_t *s = cairo_image_surface_create(
        CAIRO_FORMAT_ARGB32, (int)(p->paper_w * scale + 0.5), (int)(p->paper_h * scale + 0.5));
    cairo_t *cr = cairo_create(s);
    cairo_scale(cr, scale, -scale);
    cairo_translate(cr, -p->paper_at.x, -p->paper_at.y - p->paper_h);
    dt_art_paint(drawing, cr);
    cairo_destroy(cr);
    GByteArray *bytes = g_byte_array_new();
    const gboolean good =
        cairo_surface_write_to_png_stream(s, append_png, bytes) == CAIRO_STATUS_SUCCESS;
    cairo_surface_destroy(s);
    GBytes *png = g_byte_array_free_to_bytes(bytes);
    if (!good) {
        g_bytes_unref(png);
        return;
    }
    Found *f = found_new(t);
    f->picture = png;
    deliver(f);
}

/* The next steps take seconds, and the page that shows the first picture has priority. */
static void step_back(void)
{
    enum { NICE = 5 };
    setpriority(PRIO_PROCESS, 0, NICE); /* on Linux for the calling thread only */
}

/* The drawing in its original order, which needs no search: the first picture, and the reference
 * for the plan. */
static gboolean show_own_order(Draft *t, GError **error)
{
    g_auto(DtJob) job = {0};
    DtJobOptions o = t->in.job;
    o.route.keep_order = TRUE;
    if (!dt_job_plan(t->in.profile, t->source, &o, &job, t->work, error))
        return FALSE;
    Found *f = found_new(t);
    dt_desk_own_order(&job.moves, &job.times, &f->own);
    f->ink = dt_desk_ink_bytes(&job.moves, &job.times, &f->summary);
    f->sheets = 1;
    deliver(f);
    step_back();
    show_picture(t, job.drawing);
    return !dt_work_is_cancelled(t->work) || dt_work_check(error);
}

/* Without a port the program is ready, and the run waits until a port is chosen. */
static gboolean check_run(Draft *t, GError **error)
{
    DtRun *r = t->has_port ? dt_run_new(t->session, t->program, &t->run_options, error) : NULL;
    if (r == NULL && t->has_port)
        return FALSE;
    Found *f = found_new(t);
    f->run = r;
    f->state = DT_DRAFT_READY;
    deliver(f);
    return TRUE;
}

/* Writes the program of the moves, aligned with the sheet whose corners were touched, and makes
 * its run. */
static gboolean write_program(Draft *t, const DtMoves *moves, GError **error)
{
    if (!dt_job_write_program(t->in.profile, &t->in.job, moves, t->program, t->work, error))
        return FALSE;
    if (t->lays) {
        g_autofree char *laid =
            g_strdup_printf("%.*s-laid.nc", (int)strlen(t->program) - 3, t->program);
        const gboolean good = dt_job_lay(t->in.profile, t->program, t->left, t->right, laid, error);
        g_unlink(t->program);
        if (!good)
            return FALSE;
        g_free(t->program);
        t->program = g_steal_pointer(&laid);
        if (!show_program(t, t->program, FALSE, error))
            return FALSE;
    }
    Found *f = found_new(t);
    f->written = TRUE;
    deliver(f);
    return check_run(t, error);
}

/* The plan's report, with the expected ink error. */
static char *plan_report(Draft *t, const DtJob *job)
{
    g_autoptr(GError) problem = NULL;
    g_autoptr(DtMeasured) measured = dt_truing_measured(t->journal, t->in.profile, &problem);
    const DtReportTrueness trueness = {measured, problem ? problem->message : NULL, NULL};
    return dt_report_plan(t->in.profile, job, &trueness, t->name, NULL, TRUE);
}

static gboolean draft_sheets(Draft *t, GError **error)
{
    g_auto(DtJobSheets) sheets = {0};
    const DtProfile *p = t->in.profile;
    if (!dt_job_plan_sheets(p, t->source, &t->in.job, &t->in.tiling, &sheets, t->work, error))
        return FALSE;
    const DtJob *own = &sheets.sheets[MIN(t->sheet, sheets.n - 1)].job;
    DtJob whole = *own; /* with the drawing, for the report alone */
    whole.drawing = sheets.drawing;
    whole.colours = sheets.colours;
    show(t, &own->moves, &own->times, plan_report(t, &whole), sheets.n);
    return write_program(t, &own->moves, error);
}

static gboolean draft_drawing(Draft *t, GError **error)
{
    g_auto(DtJob) job = {0};
    if (!show_own_order(t, error) ||
        !dt_job_plan(t->in.profile, t->source, &t->in.job, &job, t->work, error))
        return FALSE;
    show(t, &job.moves, &job.times, plan_report(t, &job), 1);
    return write_program(t, &job.moves, error);
}

/* A message names our copy of the file, which people know by its own name. */
static char *problem_text(const Draft *t, const GError *error)
{
    g_autoptr(GString) text = g_string_new(error->message);
    g_string_replace(text, t->source, t->name, 0);
    g_autofree char *folder = g_path_get_dirname(t->program),
                    *begin = g_strconcat(folder, "/", NULL);
    g_string_replace(text, begin, "", 0);
    return g_utf8_make_valid(text->str, -1);
}

static gpointer run_draft(gpointer data)
{
    Draft *t = data;
    g_autoptr(GError) error = NULL;
    DtWork *before = dt_work_enter(t->work);
    const gboolean good = t->is_program ? show_program(t, t->source, TRUE, &error) &&
                                              (t->resumes != 0 || check_run(t, &error))
                          : t->in.several ? draft_sheets(t, &error)
                                          : draft_drawing(t, &error);
    dt_work_leave(before);
    Found *f = found_new(t);
    if (!good) {
        f->state = DT_DRAFT_FAILED;
        f->problem = problem_text(t, error);
    }
    f->ended = TRUE;
    deliver(f);
    return NULL;
}

/* ---------------------------------------------------------------------------------------------- */

/* "garden-bed-20261128-144512-3.nc", a readable name for the log: creates a file that no other
 * desk with the same folder has. */
static char *program_path(DtDesk *d)
{
    enum { MOST_TRIES = 1000 };
    g_autoptr(GDateTime) now = g_date_time_new_now_local();
    g_autofree char *when = g_date_time_format(now, "%Y%m%d-%H%M%S");
    g_autofree char *stem = g_strndup(d->drawing.name, strcspn(d->drawing.name, "."));
    g_strcanon(stem, G_CSET_A_2_Z G_CSET_a_2_z G_CSET_DIGITS "_-", '-');
    if (strlen(stem) > 40)
        stem[40] = '\0';
    g_mkdir_with_parents(d->work, 0700); /* it may have been deleted meanwhile */
    for (guint i = d->drawing.revision;; i++) {
        g_autofree char *file = g_strdup_printf("%s-%s-%u.nc", *stem ? stem : "drawing", when, i);
        char *path = g_build_filename(d->work, file, NULL);
        const int fd = g_open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        if (fd >= 0)
            g_close(fd, NULL);
        if (fd >= 0 || errno != EEXIST || i - d->drawing.revision > MOST_TRIES)
            return path;
        g_free(path);
    }
}

/* A draft in progress may still be reading it, and deletes it at its end. */
static void drop_program(DtDesk *d)
{
    DtDeskDrawing *w = &d->drawing;
    if (w->is_draft && d->draft != NULL && d->draft->handed)
        d->draft->handed = FALSE;
    else if (w->is_draft)
        g_unlink(w->program);
    g_clear_pointer(&w->program, g_free);
    w->is_draft = FALSE;
}

static void reset_drawing(DtDesk *d, const DtProfile *p)
{
    DtDeskDrawing *w = &d->drawing;
    drop_program(d);
    g_clear_pointer(&w->problem, g_free);
    w->own.known = FALSE;
    w->paper = paper_of(p);
    w->margin = p->margin;
    g_free(w->paper_name);
    w->paper_name = g_strdup(p->paper_name);
}

static Draft *draft_new(DtDesk *d, DtPlanInput *in)
{
    const DtDeskDrawing *w = &d->drawing;
    Draft *t = g_new0(Draft, 1);
    g_atomic_ref_count_init(&t->refs);
    t->desk = d;
    t->context = g_main_context_ref(d->context);
    t->work = dt_work_new(on_work, t);
    t->session = dt_session_ref(d->session);
    t->journal = g_strdup(d->journal);
    t->run_options = (DtRunOptions){.journal = t->journal,
                                    .pens_ready = d->pens_ready,
                                    .names_pens = d->is_rig,
                                    .skip_strokes = w->skip};
    t->has_port = d->port_path != NULL;
    t->source = g_strdup(w->source);
    t->name = g_strdup(w->name);
    t->is_program = w->is_program;
    t->resumes = w->resumes;
    t->program = w->is_program ? g_strdup(w->source) : program_path(d);
    t->lays = w->has_left && w->has_right && !w->is_program;
    t->left = w->left;
    t->right = w->right;
    t->sheet = w->sheet;
    t->in = *in;
    *in = (DtPlanInput){0};
    return t;
}

void dt_desk_draft(DtDesk *d)
{
    DtDeskDrawing *w = &d->drawing;
    g_auto(DtPlanInput) in = {0};
    g_autoptr(GError) error = NULL;
    dt_desk_changed(d, DT_PART_DRAWING | DT_PART_RUN);
    w->revision++;
    if (d->draft != NULL) {
        dt_work_cancel(d->draft->work);
        d->draft_again = TRUE;
    }
    if (w->resumes == 0)
        dt_desk_drop_run(d);
    if (!dt_options_apply(w->options, d->profile, &in, &error)) {
        reset_drawing(d, d->profile);
        w->state = DT_DRAFT_FAILED;
        w->problem = g_strdup(error->message);
        return;
    }
    reset_drawing(d, in.profile);
    w->state = w->source ? DT_DRAFT_WORKING : DT_DRAFT_NONE;
    if (d->draft != NULL || w->source == NULL)
        return;
    if (w->is_program)
        w->program = g_strdup(w->source);
    d->draft = draft_new(d, &in);
    d->draft->thread = g_thread_new("draft", run_draft, d->draft);
}

void dt_desk_stop_draft(DtDesk *d)
{
    Draft *t = d->draft;
    if (t == NULL)
        return;
    dt_work_cancel(t->work);
    d->draft_again = FALSE;
    join_draft(t);
    t->desk = NULL; /* its results are discarded */
    d->draft = NULL;
    unref_draft(t);
}

gboolean dt_desk_mend(DtDesk *d, GError **error)
{
    DtMending mending = {0};
    gsize n;
    g_autofree char *text = NULL;
    if (!d->drawing.is_program || d->drawing.resumes != 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "there is no program to fix");
        return FALSE;
    }
    text = dt_code_mend(d->profile, d->drawing.source, NULL, &n, &mending, error);
    dt_mending_clear(&mending);
    g_autofree char *path = program_path(d), *name = g_strdup(d->drawing.name);
    if (text == NULL || !dt_base_write_file(path, text, n, error))
        return FALSE;
    dt_desk_set_source(d, path, name, 0);
    return TRUE;
}
