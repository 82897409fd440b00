/* traffic: the window, what is sent when, and resynchronisation after noise.
 *
 * The only reliable source on what the board has accepted is its own state reply. After anything
 * inconsistent (a reply that skips a line, a refusal, a silence) single replies are no longer
 * trusted: the state is requested until two replies agree, and lines are sent again from the one
 * after the last line accepted. */
#include "link/traffic-inside.h"

#include "drawtrue/code.h"

#include <string.h>

enum {
    UNTAKEN = 8,      /* number of times that a line is sent again if the board never accepts it */
    QUIET_US = 60000, /* after this long without a byte, nothing is under way */
};

DtTraffic *dt_traffic_new(const DtDialect *d, const DtTrafficEvents *events, void *user)
{
    DtTraffic *w = g_new0(DtTraffic, 1);
    w->dialect = d;
    w->gaps = dt_dialect_needs_gaps(d);
    w->ask = g_strdup(d->ask_state ? d->ask_state : "");
    w->events = *events;
    w->user = user;
    w->ring = g_new0(DtSent, RING);
    w->out = g_string_new(NULL);
    w->next_n = 1;
    return w;
}

void dt_traffic_free(DtTraffic *w)
{
    if (w == NULL)
        return;
    g_free(w->ask);
    g_free(w->ring);
    g_string_free(w->out, TRUE);
    g_free(w);
}

void dt_traffic_reset(DtTraffic *w, unsigned next)
{
    w->head = w->n = 0;
    w->bytes = 0;
    w->next_n = next;
    w->phase = PHASE_FLOW;
    w->suspect = w->agreed = FALSE;
    w->wanted = w->wanted_in_vain = 0;
    w->unasked = 0;
    g_string_truncate(w->out, 0);
    w->out_urgent = 0;
    w->reply_len = 0;
    w->reply_too_long = FALSE;
    *w->unknown = '\0';
}

unsigned dt_traffic_number_after(unsigned n)
{
    return n % LAST_NUMBER + 1;
}

size_t dt_traffic_in_flight(const DtTraffic *w)
{
    return w->n;
}

gboolean dt_traffic_waits(const DtTraffic *w)
{
    return w->n > 0 || w->phase != PHASE_FLOW;
}

gsize dt_traffic_bytes_in_flight(const DtTraffic *w)
{
    return w->bytes;
}

double dt_traffic_work_s(const DtTraffic *w)
{
    double s = 0;
    for (size_t i = 0; i < w->n; i++)
        s += dt_traffic_at(w, i)->seconds;
    return s;
}

const DtSent *dt_traffic_oldest(const DtTraffic *w)
{
    return w->n ? dt_traffic_at(w, 0) : NULL;
}

/* Sending ------------------------------------------------------------------------------------- */

static gsize write_line(const DtTraffic *w, const char *text, unsigned n, char *to, gsize room)
{
    if (!w->dialect->line_check)
        return (gsize)g_snprintf(to, (gulong)room, "%s\n", text);
    gsize len = (gsize)g_snprintf(to, (gulong)room, "N%u%s%s", n, w->gaps ? " " : "", text);
    return len +
           (gsize)g_snprintf(to + len, (gulong)(room - len), "(*%04X)\n", dt_code_crc16(to, len));
}

gboolean dt_traffic_has_room(const DtTraffic *w, const char *text)
{
    if (w->phase != PHASE_FLOW || w->n == RING)
        return FALSE;
    if (w->dialect->window <= 0)
        return w->n == 0;
    char line[sizeof w->ring[0].text];
    gsize len = write_line(w, text, w->next_n, line, sizeof line);
    return w->bytes + len <= (gsize)w->dialect->window - 1;
}

void dt_traffic_push(DtTraffic *w, const DtSent *line, gint64 now_us)
{
    g_return_if_fail(w->n < RING);
    DtSent *s = dt_traffic_at(w, w->n++);
    *s = *line;
    s->n = w->dialect->line_check ? w->next_n : 0;
    s->len = write_line(w, line->text, s->n, s->text, sizeof s->text);
    s->answered = FALSE;
    s->doubts = s->repeats = 0;
    w->next_n = dt_traffic_number_after(w->next_n);
    w->bytes += s->len;
    g_string_append_len(w->out, s->text, (gssize)s->len);
    if (w->n == 1) /* a silence begins with the first line that wants an answer */
        w->heard_us = w->alive_us = now_us;
    w->sent_us = now_us;
}

void dt_traffic_urgent(DtTraffic *w, const char *bytes)
{
    g_string_insert(w->out, (gssize)w->out_urgent, bytes);
    w->out_urgent += strlen(bytes);
}

const char *dt_traffic_output(const DtTraffic *w, gsize *n)
{
    *n = w->out->len;
    return w->out->str;
}

void dt_traffic_written(DtTraffic *w, gsize n)
{
    g_string_erase(w->out, 0, (gssize)n);
    w->out_urgent -= MIN(n, w->out_urgent);
}

/* A line that is sent again and again and never accepted counts as refused, whatever the words. */
static gboolean is_never_taken(DtTraffic *w)
{
    if (w->n == 0 || ++dt_traffic_at(w, 0)->repeats <= UNTAKEN)
        return FALSE;
    w->events.refused(dt_traffic_at(w, 0), *w->unknown ? w->unknown : _("it is never taken"),
                      w->user);
    return TRUE;
}

static void send_again(DtTraffic *w)
{
    if (is_never_taken(w))
        return;
    w->phase = PHASE_FLOW;
    w->suspect = w->agreed = FALSE;
    for (size_t i = 0; i < w->n; i++) {
        dt_traffic_at(w, i)->answered = FALSE;
        g_string_append_len(w->out, dt_traffic_at(w, i)->text, (gssize)dt_traffic_at(w, i)->len);
    }
    if (w->n > 0 && w->events.repeated != NULL)
        w->events.repeated(dt_traffic_at(w, 0), w->user);
}

gssize dt_traffic_index(const DtTraffic *w, unsigned n)
{
    for (size_t i = 0; i < w->n; i++)
        if (dt_traffic_at(w, i)->n == n)
            return (gssize)i;
    return -1;
}

/* Whether the board keeps requesting a line that it answered long ago: its count differs from
 * ours, and it is unknown what it has executed. */
static gboolean counts_differently(DtTraffic *w)
{
    const gboolean odd = w->n > 0 && w->wanted != 0 && dt_traffic_index(w, w->wanted) < 0;
    w->wanted_in_vain = odd ? w->wanted_in_vain + 1 : 0;
    return w->wanted_in_vain >= 3;
}

void dt_traffic_start_drain(DtTraffic *w)
{
    if (w->phase == PHASE_FLOW)
        g_string_truncate(w->out, w->out_urgent); /* all lines are still in the ring */
    w->phase = PHASE_DRAIN;
    w->agreed = FALSE;
}

void dt_traffic_go_back(DtTraffic *w)
{
    if (counts_differently(w))
        w->events.disagreed(w->wanted, w->user);
    else
        send_again(w);
}

static void ask(DtTraffic *w, gint64 now_us)
{
    if (*w->ask != '\0' && strchr(w->out->str, *w->ask) == NULL)
        dt_traffic_urgent(w, w->ask);
    w->asked_us = now_us;
}

/* Time ---------------------------------------------------------------------------------------- */

static gint64 tick_drain(DtTraffic *w, gint64 now_us)
{
    gint64 quiet_at = MAX(w->received_us, w->sent_us) + QUIET_US;
    if (now_us < quiet_at)
        return quiet_at;
    if (*w->ask == '\0') {
        dt_traffic_go_back(w);
        w->sent_us = now_us;
        return now_us + SILENCE_US;
    }
    w->phase = PHASE_ASK;
    w->agreed = FALSE;
    ask(w, now_us);
    return now_us + ASK_AGAIN_US;
}

static gint64 tick_flow(DtTraffic *w, gint64 now_us)
{
    if (w->n == 0)
        return G_MAXINT64;
    if (*w->ask == '\0') {
        gint64 lost_at = w->heard_us + BLIND_US + (gint64)(dt_traffic_work_s(w) * 1e6);
        if (!w->dialect->line_check)
            return G_MAXINT64; /* nothing to do but wait */
        if (now_us >= lost_at) {
            w->heard_us = now_us;
            dt_traffic_start_drain(w);
            return now_us + QUIET_US;
        }
        return lost_at;
    }
    gint64 ask_at =
        MAX(w->suspect || w->agreed ? 0 : w->heard_us + SILENCE_US, w->asked_us + ASK_AGAIN_US);
    if (now_us < ask_at)
        return ask_at;
    ask(w, now_us);
    return now_us + ASK_AGAIN_US;
}

gint64 dt_traffic_tick(DtTraffic *w, gint64 now_us)
{
    if (w->phase == PHASE_DRAIN)
        return tick_drain(w, now_us);
    if (w->phase == PHASE_FLOW)
        return tick_flow(w, now_us);
    if (now_us < w->asked_us + ASK_AGAIN_US)
        return w->asked_us + ASK_AGAIN_US;
    ask(w, now_us);
    return now_us + ASK_AGAIN_US;
}

gint64 dt_traffic_alive_us(const DtTraffic *w)
{
    return w->alive_us;
}

unsigned dt_traffic_wanted(const DtTraffic *w)
{
    return w->wanted;
}

size_t dt_traffic_unasked(const DtTraffic *w)
{
    return w->unasked;
}

const char *dt_traffic_unknown_reply(const DtTraffic *w)
{
    return w->unknown;
}

void dt_traffic_noise(const DtTraffic *w, size_t *noise, size_t *all)
{
    *noise = w->noise;
    *all = w->received;
}
