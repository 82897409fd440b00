/* traffic-answers: replies, what each says about the lines in flight, and the consequences of
 * two equal states. */
#include "link/traffic-inside.h"

#include "drawtrue/code.h"
#include "link/reply.h"

#include <math.h>
#include <string.h>

static const double same_place = 0.05; /* mm, by which boards round positions */

enum {
    IMPOSSIBLE = 12,        /* number of times in a row that a board reports an impossible line
                             * number */
    DOUBTS = 3,             /* number of times that a refused line is sent again before the
                             * refusal counts */
    NOTICED_US = 600000000, /* for this long after an answer, unsolicited messages keep us
                             * waiting */
};

static unsigned before_number(unsigned n)
{
    return n <= 1 ? LAST_NUMBER : n - 1;
}

static void pop(DtTraffic *w)
{
    const DtSent done = *dt_traffic_at(w, 0);
    w->head = (w->head + 1) % RING;
    w->n--;
    w->bytes -= done.len;
    if (w->n == 0)
        *w->unknown = '\0';
    w->events.taken(&done, w->user);
}

gboolean dt_traffic_count_is_lost(const DtTraffic *w, const DtBoardState *s)
{
    return w->dialect->line_check && s->has_line && s->line == 0 &&
           (w->n ? dt_traffic_at(w, 0)->n : w->next_n) != 1;
}

static void take_accept(DtTraffic *w, const char *text)
{
    w->unasked += w->n == 0;
    if (w->n == 0 || w->phase != PHASE_FLOW)
        return;
    if (!w->dialect->line_check) {
        pop(w);
        return;
    }
    unsigned n;
    const char *rest;
    gssize i =
        dt_reply_number(text, strlen(w->dialect->accept), LAST_NUMBER, &n, &rest) && *rest == '\0'
            ? dt_traffic_index(w, n)
            : -1;
    if (i == 0) {
        pop(w);
        while (w->n > 0 && dt_traffic_at(w, 0)->answered)
            pop(w);
    } else if (i > 0) {
        dt_traffic_at(w, (size_t)i)->answered = TRUE;
        w->suspect = TRUE;
    }
    /* Otherwise it is a doubled or a late one. */
}

/* "refused 7 check" and "refused 9 order 7" both want line 7. */
static unsigned wanted_number(unsigned n, const char *reason)
{
    if (strcmp(reason, "check") == 0)
        return n;
    if (!g_str_has_prefix(reason, "order "))
        return 0;
    char *end;
    const guint64 wanted = g_ascii_strtoull(reason + 6, &end, 10);
    return *end == '\0' && wanted <= LAST_NUMBER ? (unsigned)wanted : 0;
}

static void take_refusal(DtTraffic *w, const char *text)
{
    unsigned n = 0;
    const char *reason = text + strlen(w->dialect->refuse);
    gboolean named = dt_reply_number(text, strlen(w->dialect->refuse), LAST_NUMBER, &n, &reason);
    reason += strspn(reason, " ");
    if (!w->dialect->line_check) {
        w->events.refused(dt_traffic_oldest(w), reason, w->user);
        return;
    }
    w->wanted = named ? wanted_number(n, reason) : 0;
    if (w->phase != PHASE_FLOW)
        return; /* the rest of what was in flight */
    gssize i = named ? dt_traffic_index(w, n) : -1;
    gboolean noise = g_str_has_prefix(reason, "check") || g_str_has_prefix(reason, "order");
    if (i == 0 && !noise && dt_traffic_at(w, 0)->doubts >= DOUBTS) {
        w->events.refused(dt_traffic_at(w, 0), reason, w->user);
        return;
    }
    if (i >= 0 && !noise)
        dt_traffic_at(w, (size_t)i)->doubts++;
    dt_traffic_start_drain(w);
}

/* For a board that reports no state word: it stands where it was before. */
static gboolean parse_position(const DtTraffic *w, const char *text, DtBoardState *s)
{
    if (!dt_board_position(text, s))
        return FALSE;
    if (w->has_reported_position && s->x == w->last_reported.x && s->y == w->last_reported.y)
        s->word = DT_BOARD_STILL;
    return TRUE;
}

/* Whether the board can be where this reply says, given what is in flight. */
static gboolean is_possible(const DtTraffic *w, const DtBoardState *s)
{
    const unsigned oldest = w->n ? dt_traffic_at(w, 0)->n : w->next_n;
    return s->line == before_number(oldest) || (oldest == 1 && s->line == 0) ||
           dt_traffic_index(w, s->line) >= 0;
}

static gboolean same_standing(const DtBoardState *a, const DtBoardState *b)
{
    return a->line == b->line && a->word == b->word;
}

static void pop_through(DtTraffic *w, unsigned line)
{
    for (gssize i = dt_traffic_index(w, line); i >= 0; i--)
        pop(w);
    while (w->n > 0 && dt_traffic_at(w, 0)->answered)
        pop(w);
}

static gboolean stands(DtBoardWord word)
{
    return word == DT_BOARD_STILL || word == DT_BOARD_UNHOMED;
}

static double dwell_in_flight(const DtTraffic *w)
{
    double s = 0;
    for (size_t i = 0; i < w->n; i++)
        s += dt_traffic_at(w, i)->dwell_s;
    return s;
}

static gboolean has_patience(const DtTraffic *w, gint64 now_us)
{
    const double wait_s = dwell_in_flight(w) + (w->dialect->line_check ? 0 : BLIND_US / 1e6);
    return now_us - w->heard_us <= SILENCE_US + (gint64)(wait_s * 1e6);
}

/* A board that counts no lines stands still although answers are missing: if it is at the end of
 * its lines, the answers were lost; if elsewhere, lines were. */
static void reconcile_uncounted(DtTraffic *w, const DtBoardState *s, gint64 now_us)
{
    if (w->n == 0 || !stands(s->word) || has_patience(w, now_us))
        return;
    const DtProgramState *end = &dt_traffic_at(w, w->n - 1)->after;
    const gboolean there =
        fabs(s->x - end->at.x) < same_place && fabs(s->y - end->at.y) < same_place;
    if (!there || (s->pen_known && s->pen_down != end->pen_down)) {
        w->events.disagreed(0, w->user);
        return;
    }
    if (*w->unknown != '\0') { /* it may have refused one of them, which moved nothing */
        w->events.refused(NULL, w->unknown, w->user);
        return;
    }
    w->heard_us = now_us;
    while (w->n > 0)
        pop(w);
}

/* Noise causes an impossible line number once, or another one each time; a board that keeps
 * reporting it counts differently from us. One that counts from zero is found by
 * dt_traffic_count_is_lost(). */
static void note_impossible(DtTraffic *w, const DtBoardState *s)
{
    const gboolean same = w->impossible > 0 && w->impossible_line == s->line;
    w->impossible = s->line == 0 ? 0 : same ? w->impossible + 1 : 1;
    w->impossible_line = s->line;
    if (w->impossible < IMPOSSIBLE)
        return;
    w->impossible = 0;
    w->events.disagreed(dt_traffic_number_after(s->line), w->user);
}

/* Two consecutive equal state replies decide what became of the lines in flight. */
static void reconcile(DtTraffic *w, const DtBoardState *s, gint64 now_us)
{
    if (!w->dialect->line_check) {
        reconcile_uncounted(w, s, now_us);
        return;
    }
    if (w->n == 0 && w->phase == PHASE_FLOW) { /* nothing depends on it */
        w->agreed = FALSE;
        w->impossible = 0;
        return;
    }
    if (!is_possible(w, s)) {
        w->agreed = FALSE;
        note_impossible(w, s);
        return;
    }
    w->impossible = 0;
    const gboolean again = w->agreed && same_standing(&w->last_state, s);
    w->last_state = *s;
    w->agreed = TRUE;
    if (!again) {
        if (w->phase == PHASE_ASK || dt_traffic_index(w, s->line) >= 0)
            w->asked_us = now_us - ASK_AGAIN_US; /* the second one at once */
        return;
    }
    pop_through(w, s->line);
    w->agreed = FALSE;
    if (w->phase == PHASE_ASK) {
        dt_traffic_go_back(w);
        return;
    }
    w->suspect = FALSE;
    if (w->n > 0 && stands(s->word) && !has_patience(w, now_us))
        dt_traffic_start_drain(
            w); /* it stands and waits: the line, or its end, was lost on the way */
}

static void believe(DtTraffic *w, const DtBoardState *s, gint64 now_us)
{
    w->alive_us = now_us;
    w->has_reported_position = s->has_position;
    w->last_reported = dt_point(s->x, s->y);
    reconcile(w, s, now_us);
    if (w->events.state != NULL)
        w->events.state(s, w->user);
}

static void take_state(DtTraffic *w, const char *text, gint64 now_us)
{
    DtBoardState s;
    if (!dt_board_state(text, &s)) {
        w->suspect = TRUE;
        return;
    }
    believe(w, &s, now_us);
}

/* It answers nothing, but the board lives; one that does this for ever is given up nevertheless. */
static void take_notice(DtTraffic *w, gint64 now_us)
{
    if (now_us - w->heard_us < NOTICED_US)
        w->alive_us = now_us;
}

/* A reply in no words of the profile: garbled, or a refusal that cannot be told from other
 * messages. */
static void take_other(DtTraffic *w, const char *text)
{
    if (w->events.other != NULL)
        w->events.other(text, w->user);
    w->suspect = TRUE;
    if (w->n > 0 && *w->unknown == '\0')
        g_strlcpy(w->unknown, text, sizeof w->unknown);
}

/* What remains of a reply after the echo of a line in flight. */
static const char *past_echo(const DtTraffic *w, const char *text)
{
    for (size_t i = 0; i < w->n; i++) {
        const char *rest = dt_reply_past_echo(text, dt_traffic_at(w, i)->text);
        if (rest != text)
            return rest;
    }
    return text;
}

static void take_reply(DtTraffic *w, const char *text, gint64 now_us)
{
    const DtDialect *d = w->dialect;
    DtBoardState s;
    if (*d->greeting != '\0' && g_str_has_prefix(text, d->greeting)) {
        w->heard_us = w->alive_us = now_us;
        w->events.greeting(text, w->user);
        return;
    }
    if (dt_reply_of("state", NULL, text) == DT_REPLY_ACCEPT) {
        take_state(w, text, now_us);
        return;
    }
    DtReply reply = dt_reply_of(d->accept, d->refuse, text);
    if (reply == DT_REPLY_OTHER) {
        text = past_echo(w, text);
        reply = dt_reply_of(d->accept, d->refuse, text);
    }
    if (reply != DT_REPLY_OTHER)
        w->heard_us = w->alive_us = now_us;
    if (reply == DT_REPLY_REFUSE)
        take_refusal(w, text);
    else if (reply == DT_REPLY_ACCEPT)
        take_accept(w, text);
    else if (*text == '\0' || dt_reply_is_notice(d->notices, text))
        take_notice(w, now_us);
    else if (!d->line_check && parse_position(w, text, &s))
        believe(w, &s, now_us);
    else
        take_other(w, text);
}

static gboolean is_text(char c)
{
    return (c >= ' ' && c < 0x7F) || c == '\n' || c == '\r' || c == '\t';
}

void dt_traffic_feed(DtTraffic *w, const char *bytes, gsize n, gint64 now_us)
{
    w->received_us = now_us;
    w->received += n;
    for (gsize i = 0; i < n; i++) {
        w->noise += !is_text(bytes[i]);
        if (bytes[i] == '\n' || bytes[i] == '\r') { /* or both, and the line between is empty */
            w->reply[w->reply_len] = '\0';
            gboolean usable = w->reply_len > 0 && !w->reply_too_long;
            w->reply_len = 0;
            w->reply_too_long = FALSE;
            if (usable)
                take_reply(w, w->reply, now_us);
        } else if (w->reply_len < LONGEST_REPLY) {
            w->reply[w->reply_len++] = bytes[i];
        } else {
            w->reply_too_long = TRUE;
        }
    }
}
