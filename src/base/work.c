/* work: cancelling and progress of long work. */
#include "drawtrue/work.h"

#include "drawtrue/messages.h"

#include <gio/gio.h>
#include <malloc.h>
#include <stdint.h>

#define BETWEEN_REPORTS_US (50 * 1000)
#define STEPS 1000000 /* of a stage's progress */

struct DtWork {
    atomic_int references, cancelled;
    _Atomic uint64_t state; /* stage * (STEPS + 1) + steps done, so that both are read and
                             * written together */
    double from, to;        /* the range of the stage that reports cover now */
    gint64 reported_us;
    DtWorkListener listener;
    void *user;
};

static const atomic_int never;
static _Thread_local DtWork *current;
_Thread_local const atomic_int *dt_work_flag = &never;

static const struct {
    const char *word, *title;
} stages[DT_STAGE_COUNT] = {
    [DT_STAGE_WAITING] = {N_("waiting"), N_("waiting")},
    [DT_STAGE_READ] = {"read", N_("reading the drawing")},
    [DT_STAGE_INK] = {"ink", N_("planning strokes")},
    [DT_STAGE_ORDER] = {"order", N_("ordering strokes")},
    [DT_STAGE_MOVES] = {"moves", N_("computing moves")},
    [DT_STAGE_WRITE] = {"write", N_("writing the program")},
    [DT_STAGE_PICTURE] = {"picture", N_("drawing the picture")},
};

const char *dt_stage_word(DtStage stage)
{
    return stages[stage].word;
}

const char *dt_stage_title(DtStage stage)
{
    return _(stages[stage].title);
}

/* Freed memory up to this size stays with the process: returning the many arrays of a dense
 * drawing to the system one by one takes longer than a cancel may. */
#define KEPT_BYTES (256 << 20)
/* Larger arrays are mapped and returned each by itself, smaller ones are not, as that takes longer than
 * their use. (Once the limit above is set, this one does not adapt.) */
#define MAPPED_BYTES (4 << 20)

DtWork *dt_work_new(DtWorkListener listener, void *user)
{
    static gsize is_set;
    if (g_once_init_enter(&is_set)) {
        mallopt(M_TRIM_THRESHOLD, KEPT_BYTES);
        mallopt(M_MMAP_THRESHOLD, MAPPED_BYTES);
        g_once_init_leave(&is_set, 1);
    }
    DtWork *w = g_new0(DtWork, 1);
    atomic_init(&w->references, 1);
    w->to = 1;
    w->listener = listener;
    w->user = user;
    return w;
}

DtWork *dt_work_ref(DtWork *w)
{
    atomic_fetch_add(&w->references, 1);
    return w;
}

void dt_work_unref(DtWork *w)
{
    if (w != NULL && atomic_fetch_sub(&w->references, 1) == 1)
        g_free(w);
}

void dt_work_cancel(DtWork *w)
{
    atomic_store(&w->cancelled, 1);
}

gboolean dt_work_is_cancelled(const DtWork *w)
{
    return atomic_load(&w->cancelled) != 0;
}

DtWorkState dt_work_state(const DtWork *w)
{
    const uint64_t state = atomic_load(&w->state);
    return (DtWorkState){(DtStage)(state / (STEPS + 1)), (double)(state % (STEPS + 1)) / STEPS};
}

static void make_current(DtWork *w)
{
    current = w;
    dt_work_flag = w != NULL ? &w->cancelled : &never;
}

DtWork *dt_work_enter(DtWork *w)
{
    DtWork *before = current;
    if (w != NULL)
        make_current(w);
    return before;
}

void dt_work_leave(DtWork *before)
{
    make_current(before);
}

static void tell(DtWork *w, gboolean at_once)
{
    if (w->listener == NULL)
        return;
    const gint64 now = g_get_monotonic_time();
    if (!at_once && now - w->reported_us < BETWEEN_REPORTS_US)
        return;
    w->reported_us = now;
    const DtWorkState state = dt_work_state(w);
    w->listener(&state, w->user);
}

void dt_work_begin(DtStage stage)
{
    if (current == NULL)
        return;
    const gboolean is_new = dt_work_state(current).stage != stage;
    current->from = 0;
    current->to = 1;
    atomic_store(&current->state, (uint64_t)stage * (STEPS + 1));
    tell(current, is_new);
}

void dt_work_report(double done)
{
    if (current == NULL)
        return;
    const double of_stage = current->from + (current->to - current->from) * CLAMP(done, 0, 1);
    const uint64_t stage = atomic_load(&current->state) / (STEPS + 1);
    atomic_store(&current->state, stage * (STEPS + 1) + (uint64_t)(of_stage * STEPS));
    tell(current, FALSE);
}

void dt_work_set_range(double from, double to)
{
    if (current == NULL)
        return;
    current->from = from;
    current->to = to;
}

gboolean dt_work_check(GError **error)
{
    if (!dt_work_stopped())
        return TRUE;
    g_set_error_literal(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "cancelled");
    return FALSE;
}
