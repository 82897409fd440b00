/* learn-session: learning as a task of the session, over its own port. */
#include "link/learn/learn.h"
#include "link/session.h"

#include <gio/gio.h>
#include <math.h>
#include <poll.h>
#include <stdint.h>
#include <unistd.h>

/* FALSE with an error where a person stopped it. */
static gboolean goes_on(DtSession *s, GError **error)
{
    if (!dt_session_wants(s, WANTS(STOP)))
        return TRUE;
    g_set_error_literal(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "learning was stopped by hand");
    return FALSE;
}

static gboolean write_all(void *user, const char *bytes, gsize n, GError **error)
{
    DtSession *s = user;
    return goes_on(s, error) && dt_port_write_all(s->port, bytes, n, error);
}

static gssize read_some(void *user, char *to, gsize room, double wait_s, GError **error)
{
    DtSession *s = user;
    struct pollfd in[2] = {{dt_port_fd(s->port), POLLIN, 0}, {s->wake, POLLIN, 0}};
    const int ready = poll(in, 2, (int)ceil(MAX(wait_s, 0) * 1000));
    uint64_t count;
    if (ready > 0 && (in[1].revents & POLLIN) && read(s->wake, &count, sizeof count) < 0)
        return 0; /* another wake-up has emptied it */
    if (!goes_on(s, error))
        return -1;
    return ready > 0 && in[0].revents ? dt_port_read(s->port, to, room, error) : 0;
}

static gboolean reopen(void *user, GError **error)
{
    DtSession *s = user;
    dt_session_close(s);
    s->port = dt_port_open(s->port_path, s->profile->dialect.baud, error);
    return s->port != NULL;
}

static gint64 now_us(void *user)
{
    (void)user;
    return g_get_monotonic_time();
}

static void tell(const char *text, void *user)
{
    dt_session_tell(user, DT_EVENT_FOUND, text);
}

static void note_end(const DtSnapshot *last, gpointer data)
{
    (void)last;
    (void)data;
}

static GError *learn(DtSession *s, const DtLearnOptions *o)
{
    GError *error = NULL;
    const DtLearnJob job = {
        .wire = {write_all, read_some, reopen, now_us, s},
        .boot_s = o->boot_s,
        .may_move = o->may_move,
        .tell = tell,
        .user = s,
    };
    dt_learnt_clear(&s->learnt);
    g_clear_error(&s->learn_error);
    s->port = dt_port_open(s->port_path, s->profile->dialect.baud, &error);
    if (s->port == NULL)
        return error;
    dt_session_enter(s, DT_STATE_LEARNING, NULL);
    dt_learn_controller(s->profile, &job, &s->learnt, &error);
    return error;
}

static void learn_task(DtSession *s, gpointer data)
{
    g_autofree DtLearnOptions *o = data;
    dt_session_close(s); /* a board that restarts greets */
    s->learn_error = learn(s, o);
    dt_session_close(s);
    const DtState state = s->learn_error == NULL                 ? DT_STATE_DONE
                          : s->learn_error->domain == G_IO_ERROR ? DT_STATE_STOPPED
                                                                 : DT_STATE_FAILED;
    dt_session_finish(s, &(DtTaskEnd){.state = state, .error = s->learn_error, .ended = note_end},
                      NULL);
}

gboolean dt_session_learn(DtSession *s, const DtLearnOptions *o, GError **error)
{
    if (!dt_session_has_port(s)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "learning needs a port");
        return FALSE;
    }
    DtLearnOptions *own = g_memdup2(o, sizeof *o);
    const gboolean begun = dt_session_begin(s, DT_STATE_OPENING, learn_task, own, error);
    if (!begun)
        g_free(own);
    return begun;
}

gboolean dt_session_learnt(DtSession *s, DtLearnt *out, GError **error)
{
    if (s->learn_error != NULL) {
        g_propagate_error(error, g_error_copy(s->learn_error));
        return FALSE;
    }
    *out = s->learnt;
    s->learnt = (DtLearnt){0};
    return TRUE;
}
