/* port: the rig's end of the pseudo-terminal, and the waiting that couples the virtual clock to
 * a sender in real time. */
#include "inside.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

enum { GRACE_US = 300000, NAP_US = 20000, LOOK_EVERY = 64 };

static gboolean fail(GError **error, const char *what)
{
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", what, g_strerror(errno));
    return FALSE;
}

/* Sets the other end to raw mode and leaves it closed: the master then reports a hang-up until
 * somebody opens it. */
static gboolean set_raw(const char *path, GError **error)
{
    int fd = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios t;
    if (fd < 0)
        return fail(error, path);
    gboolean good = tcgetattr(fd, &t) == 0;
    if (good) {
        cfmakeraw(&t);
        good = tcsetattr(fd, TCSANOW, &t) == 0;
    }
    if (!good)
        fail(error, path);
    close(fd);
    return good;
}

const char *dt_rig_open_port(DtRig *r, GError **error)
{
    r->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (r->master < 0 || grantpt(r->master) != 0 || unlockpt(r->master) != 0) {
        fail(error, "pseudo-terminal");
        return NULL;
    }
    char path[128];
    if (ptsname_r(r->master, path, sizeof path) != 0) {
        fail(error, "pseudo-terminal");
        return NULL;
    }
    fcntl(r->master, F_SETFL, O_NONBLOCK);
    if (!set_raw(path, error))
        return NULL;
    g_free(r->port);
    r->port = g_strdup(path);
    r->connected = FALSE;
    return r->port;
}

/* Left by a rig, this one or one that was killed: no other link or file is ever replaced. */
static gboolean is_link_to_terminal(const char *path)
{
    g_autofree char *to = g_file_read_link(path, NULL);
    return to != NULL && g_str_has_prefix(to, "/dev/pts/");
}

void dt_rig_unlink_port(DtRig *r)
{
    g_autofree char *to = r->link ? g_file_read_link(r->link, NULL) : NULL;
    if (to != NULL && g_strcmp0(to, r->port) == 0)
        unlink(r->link);
}

gboolean dt_rig_link_port(DtRig *r, const char *path, GError **error)
{
    struct stat st;
    if (lstat(path, &st) == 0 && !is_link_to_terminal(path)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: already exists, and is not a link to a virtual machine's port", path);
        return FALSE;
    }
    g_autofree char *beside = g_strdup_printf("%s.%d", path, (int)getpid());
    if (symlink(r->port, beside) != 0)
        return fail(error, path);
    if (rename(beside, path) != 0) {
        fail(error, path);
        unlink(beside);
        return FALSE;
    }
    if (r->link != path) {
        g_free(r->link);
        r->link = g_strdup(path);
    }
    return TRUE;
}

/* One look at the port ---------------------------------------------------------------------- */

typedef struct {
    DtRig *r;
    gboolean real_time;
    gint64 started;   /* real time at which the rig's clock was 0 */
    gint64 last_byte; /* real time of the last byte in either direction, except questions for the
                       * state */
    gboolean asked;   /* the host's last message was a question for the state: it is waiting, and
                       * has no line */
    guint64 acked;    /* bytes of lines that had been answered by then */
    gboolean hung_up;
} Session;

/* How many bytes may be sent to the host now. */
static guint due_bytes(const DtRig *r)
{
    gint64 now = g_get_monotonic_time();
    if (r->late_until > now)
        return 0;
    if (!r->real_time)
        return r->out->len;
    guint n = 0;
    for (guint i = 0; i < r->out_due->len; i++) {
        RigDue d = g_array_index(r->out_due, RigDue, i);
        if (d.at > now)
            break;
        n += d.n;
    }
    return n;
}

static void forget_due(DtRig *r, guint n)
{
    while (n > 0 && r->out_due->len > 0) {
        RigDue *d = &g_array_index(r->out_due, RigDue, 0);
        guint now = MIN(n, d->n);
        d->n -= now;
        n -= now;
        if (d->n == 0)
            g_array_remove_index(r->out_due, 0);
    }
}

/* A host whose line is answered may have the next one. */
static void note_answers(Session *s)
{
    if (s->acked != s->r->acked_bytes)
        s->asked = FALSE;
    s->acked = s->r->acked_bytes;
}

static void write_out(Session *s)
{
    GByteArray *out = s->r->out;
    note_answers(s);
    for (guint n = due_bytes(s->r); n > 0;) {
        ssize_t now = write(s->r->master, out->data, n);
        if (now < 0 && errno == EINTR)
            continue;
        if (now <= 0)
            break; /* full: continued later; hung up: read_in finds out */
        g_byte_array_remove_range(out, 0, (guint)now);
        forget_due(s->r, (guint)now);
        n -= (guint)now;
        if (!s->asked)
            s->last_byte = g_get_monotonic_time();
    }
}

static gboolean only_asks(const uint8_t *bytes, gsize n)
{
    for (gsize i = 0; i < n; i++)
        if (bytes[i] != DT_BYTE_ASK)
            return FALSE;
    return TRUE;
}

static gboolean read_in(Session *s)
{
    DtRig *r = s->r;
    uint8_t bytes[1024];
    if (r->queue_n + sizeof bytes > RIG_QUEUE)
        return FALSE;
    ssize_t n = read(r->master, bytes, sizeof bytes);
    if (n == 0 || (n < 0 && errno == EIO))
        s->hung_up = TRUE;
    if (n <= 0)
        return FALSE;
    s->asked = only_asks(bytes, (gsize)n);
    if (!s->asked)
        s->last_byte = g_get_monotonic_time();
    /* In virtual time the sender is never late: what it sends while the clock stands still could
     * have arrived as soon as the line was free, as far back as the buffer is deep. */
    double credit = s->real_time || r->chip ? 0 : r->truth.rx_bytes * r->byte_us;
    dt_rig_queue(r, bytes, (unsigned)n, (double)r->now - credit);
    return TRUE;
}

/* Waits for bytes from the host for up to `us` of real time. */
static gboolean wait_in(Session *s, gint64 us)
{
    struct pollfd p = {s->r->master, POLLIN, 0};
    if (due_bytes(s->r) > 0)
        p.events |= POLLOUT;
    struct timespec t = {us / 1000000, us % 1000000 * 1000};
    ppoll(&p, 1, &t, NULL);
    write_out(s);
    return read_in(s);
}

static gboolean is_open(int master)
{
    struct pollfd p = {master, POLLIN, 0};
    poll(&p, 1, 0);
    return (p.revents & POLLHUP) == 0;
}

static void connect_host(Session *s)
{
    DtRig *r = s->r;
    r->connected = TRUE;
    s->hung_up = FALSE;
    if (r->truth.reset_on_open) {
        dt_rig_drop_out(r);
        dt_rig_reset(r);
    }
    write_out(s);
    s->last_byte = g_get_monotonic_time();
}

/* The two clocks ---------------------------------------------------------------------------- */

/* Whether a sender could make a difference now: the core could accept a line that has not
 * arrived. */
static gboolean wants_line(const DtRig *r)
{
    return r->queue_n == 0 && r->board->ready(r);
}

static void step_virtual(Session *s)
{
    DtRig *r = s->r;
    dt_rig_settle(r);
    write_out(s);
    const int events_until_look =
        r->chip ? 1 : LOOK_EVERY; /* a chip's event is a whole millisecond */
    for (int events = 0; events < events_until_look; events++) {
        if (r->out->len > 0) {
            if (r->late_until > g_get_monotonic_time())
                wait_in(s, NAP_US / 10);
            break;
        }
        if (wants_line(r)) {
            gint64 left = s->last_byte + GRACE_US - g_get_monotonic_time();
            if (read_in(s) || (!s->hung_up && left > 0 && wait_in(s, left)))
                break;
        }
        if (!dt_rig_advance(r, -1)) {
            if (!s->hung_up)
                wait_in(s, NAP_US);
            return;
        }
        dt_rig_settle(r);
    }
    read_in(s);
}

static void step_real(Session *s)
{
    DtRig *r = s->r;
    gint64 real = g_get_monotonic_time() - s->started;
    do
        dt_rig_settle(r);
    while (dt_rig_advance(r, real));
    r->now = MAX(r->now, real);
    dt_rig_settle(r);
    write_out(s);
    gint64 wait = NAP_US;
    if (r->deadline >= 0)
        wait = MIN(wait, MAX(r->deadline - r->now, 1));
    if (r->queue_n > 0)
        wait = MIN(wait, MAX((gint64)(r->last_arrival + r->byte_us) - r->now, 1));
    if (r->out_due->len > 0)
        wait = MIN(wait, MAX(g_array_index(r->out_due, RigDue, 0).at - g_get_monotonic_time(), 1));
    if (s->hung_up)
        g_usleep((gulong)wait);
    else
        wait_in(s, wait);
}

/* Faults that the port plays out in real time ----------------------------------------------- */

/* The board continues with what it has, in real time, and nobody hears it. */
static void run_unheard(DtRig *r, gint64 us)
{
    const gint64 until = r->now + us;
    dt_rig_settle(r);
    while (dt_rig_advance(r, until))
        dt_rig_settle(r);
    r->now = MAX(r->now, until);
    dt_rig_drop_out(r);
}

static gboolean is_silent(Session *s)
{
    DtRig *r = s->r;
    const gint64 now = g_get_monotonic_time();
    if (r->faults.silence_s >= 0) {
        double forever = 1e6;
        double wait = r->faults.silence_s > 0 ? r->faults.silence_s : forever;
        r->silent_until = now + (gint64)(wait * 1e6);
        r->faults.silence_s = -1;
    }
    if (r->silent_until == 0)
        return FALSE;
    if (now >= r->silent_until) {
        r->silent_until = 0;
        return FALSE;
    }
    if (s->hung_up)
        g_usleep(NAP_US);
    else
        wait_in(s, NAP_US);
    r->queue_n = 0; /* nobody listens */
    run_unheard(r, g_get_monotonic_time() - now);
    return TRUE;
}

/* Removes the port and, after a while, replaces it with a new one. */
static gboolean unplug(Session *s, volatile int *stop, GError **error)
{
    DtRig *r = s->r;
    gint64 back = g_get_monotonic_time() + (gint64)(r->faults.unplug_s * 1e6);
    gboolean for_good = r->faults.unplug_s <= 0;
    r->faults.unplug_s = -1;
    write_out(s);
    dt_rig_unlink_port(r);
    close(r->master);
    r->master = -1;
    dt_rig_drop_out(r);
    r->queue_n = 0;
    if (r->faults.power && r->board->unplug)
        r->board->unplug(r);
    while ((for_good || g_get_monotonic_time() < back) && !(stop && *stop)) {
        if (!r->faults.power)
            dt_rig_settle(r);
        if (r->faults.power || !dt_rig_advance(r, -1))
            g_usleep(2000);
    }
    if (stop && *stop)
        return TRUE;
    if (r->faults.power)
        dt_rig_reset(r);
    s->hung_up = FALSE;
    return dt_rig_open_port(r, error) != NULL && (!r->link || dt_rig_link_port(r, r->link, error));
}

/* After a hang-up the machine still carries out what it was sent. */
static gboolean is_at_rest(DtRig *r)
{
    dt_rig_settle(r);
    return r->board->rests(r) && r->queue_n == 0;
}

gboolean dt_rig_serve(DtRig *r, gboolean real_time, gboolean once, volatile int *stop,
                      GError **error)
{
    r->real_time = real_time;
    Session s = {.r = r, .real_time = real_time, .started = g_get_monotonic_time() - r->now};
    while (stop == NULL || !*stop) {
        if (!r->connected || s.hung_up) {
            if (s.hung_up && r->connected && once && is_at_rest(r))
                break;
            if (is_open(r->master)) {
                connect_host(&s);
                continue;
            }
            if (!r->connected) {
                g_usleep(2000);
                if (real_time)
                    r->now = g_get_monotonic_time() - s.started;
                continue;
            }
        }
        if (is_silent(&s))
            continue;
        if (r->faults.unplug_s >= 0) {
            if (!unplug(&s, stop, error))
                return FALSE;
            continue; /* nobody has opened the new port */
        }
        if (real_time)
            step_real(&s);
        else
            step_virtual(&s);
        if (s.hung_up && !once && is_at_rest(r))
            r->connected = FALSE;
    }
    r->now += (gint64)(r->truth.lift_s * 1e6) + 1; /* the pen is up by then */
    dt_rig_machine_settle(&r->machine, r->now);
    return TRUE;
}
