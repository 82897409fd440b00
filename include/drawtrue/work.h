/* work: a handle on long work, by which any thread can cancel it and see its progress. It is not
 * passed as a parameter: like GCancellable's, it is the current one of the working thread, from
 * dt_work_enter() to dt_work_leave(). */
#pragma once

#include <glib.h>
#include <stdatomic.h>

typedef enum {
    DT_STAGE_WAITING, /* nothing has started yet */
    DT_STAGE_READ,    /* a drawing or program */
    DT_STAGE_INK,     /* shapes to strokes */
    DT_STAGE_ORDER,   /* strokes to a sequence */
    DT_STAGE_MOVES,   /* moves, corrections and times */
    DT_STAGE_WRITE,   /* the program's text and file */
    DT_STAGE_PICTURE,
    DT_STAGE_COUNT,
} DtStage;

typedef struct {
    DtStage stage;
    double done; /* of the stage, 0 to 1 */
} DtWorkState;

typedef struct DtWork DtWork;

/* Called on the working thread when the stage changes, and otherwise at most every 50 ms. */
typedef void (*DtWorkListener)(const DtWorkState *state, void *user);

/* `listener` may be NULL. Reference counted; the last dt_work_unref() frees it. */
DtWork *dt_work_new(DtWorkListener listener, void *user);
DtWork *dt_work_ref(DtWork *w);
void dt_work_unref(DtWork *w);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtWork, dt_work_unref)

/* Cancels the work for good, from any thread or signal handler: it fails with
 * G_IO_ERROR_CANCELLED and leaves nothing behind. */
void dt_work_cancel(DtWork *w);
gboolean dt_work_is_cancelled(const DtWork *w);
/* May be called from any thread. */
DtWorkState dt_work_state(const DtWork *w);

/* "read", for programs; "reading the drawing", for people. Static. */
const char *dt_stage_word(DtStage stage);
const char *dt_stage_title(DtStage stage);

/* Makes `w` the current work of this thread; NULL keeps the present one. Returns the previous
 * one, for dt_work_leave(). */
DtWork *dt_work_enter(DtWork *w);
void dt_work_leave(DtWork *before);

/* For those who work -------------------------------------------------------------------------- */

/* The following four do nothing if the thread has no current work. */

void dt_work_begin(DtStage stage);
/* `done` counts within the stage, or within the part of it set by dt_work_set_range(); 0 to 1. */
void dt_work_report(double done);
/* Later reports count from `from` to `to` of the stage; a new stage starts with its full range. */
void dt_work_set_range(double from, double to);

/* FALSE with G_IO_ERROR_CANCELLED if the current work was cancelled. */
gboolean dt_work_check(GError **error);

extern _Thread_local const atomic_int *dt_work_flag; /* private */

/* Whether the current work was cancelled; once TRUE it stays so. Costs two loads, and belongs in
 * every loop that may run for long: the loop ends early, and its caller fails by
 * dt_work_check(), so that an incomplete result is never taken for a complete one. No more than
 * 50 ms may pass between two calls. */
static inline gboolean dt_work_stopped(void)
{
    return atomic_load_explicit(dt_work_flag, memory_order_relaxed) != 0;
}
