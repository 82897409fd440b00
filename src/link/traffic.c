/* traffic: the window, the replies and the way back after noise.
 *
 * The one truth about what the board has taken is its own state reply. Whatever does not add up (a
 * reply that skips a line, a refusal, a silence) makes us stop trusting single replies: it
 * asks the state until two replies agree, and sends again from the line after the last one taken.
 */
#include "link/traffic.h"

#include "drawtrue/code.h"
#include "link/reply.h"

#include <math.h>
#include <string.h>

static const double same_place = 0.05; /* mm, as boards round what they tell */

enum {
    IMPOSSIBLE = 12,     /* times in a row that a board tells the same line that cannot be */
    DOUBTS = 3,          /* times that a refused line is sent again before it is believed */
    UNTAKEN = 8,         /* times that a line is sent again which the board only never takes */
    RING = 1024,         /* lines in flight at most */
    LONGEST_REPLY = 200, /* bytes; what is longer is noise */
    QUIET_US = 60000,    /* after this long without a byte, nothing is under way */
    SILENCE_US = 300000, /* then we ask what is going on */
    ASK_AGAIN_US = 250000,
    NOTICED_US = 600000000, /* so long after an answer, what it says unasked keeps us waiting */
    BLIND_US = 2000000,     /* silence of a board that cannot be asked, on top of the work it has */
};

typedef enum {
    PHASE_FLOW,  /* sending */
    PHASE_DRAIN, /* waiting until both directions are quiet */
    PHASE_ASK,   /* asking for the last line taken, to go back to the one after it */
} Phase;

struct DtTraffic {
    const DtDialect *dialect;
    gboolean gaps; /* words must stand apart */
    char *ask;
    DtTrafficEvents events;
    void *user;

    DtSent *ring; /* the lines in flight, oldest first from `head` */
    size_t head, n;
    gsize bytes;
    unsigned next_n;
    DtSent answered; /* the line answered last; n 0 where there is none */

    GString *out;
    gsize out_urgent; /* bytes at its head that overtake lines */
    char reply[LONGEST_REPLY + 1];
    gsize reply_len;
    gboolean reply_too_long;
    char unknown[LONGEST_REPLY + 1]; /* the first reply in no words of the profile since all was
                                      * answered; "" for none */

    Phase phase;
    unsigned wanted;                      /* N word that the last refusal asks for; 0: none */
    unsigned wanted_in_vain;              /* times in a row that it is none of those in flight */
    unsigned impossible, impossible_line; /* times in a row that the board told this line */
    gboolean suspect;                     /* something did not add up: ask soon */
    gboolean agreed;                      /* `last_state` holds a state reply of this enquiry */
    DtBoardState last_state;
    gboolean has_reported_position; /* by the last state, `last_reported` */
    DtPoint last_reported;
    gint64 received_us, sent_us, asked_us;
    gint64 heard_us; /* an answer to a line */
    gint64 alive_us; /* anything that makes sense */
    size_t noise, received;
    size_t unasked; /* acceptances since the reset that no line was waiting for */
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
    w->answered = (DtSent){0};
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

static DtSent *at(const DtTraffic *w, size_t i)
{
    return &w->ring[(w->head + i) % RING];
}

static unsigned after_number(unsigned n)
{
    return n % LAST_NUMBER + 1;
}

static unsigned before_number(unsigned n)
{
    return n <= 1 ? LAST_NUMBER : n - 1;
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
        s += at(w, i)->seconds;
    return s;
}

const DtSent *dt_traffic_oldest(const DtTraffic *w)
{
    return w->n ? at(w, 0) : NULL;
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
    DtSent *s = at(w, w->n++);
    *s = *line;
    s->n = w->dialect->line_check ? w->next_n : 0;
    s->len = write_line(w, line->text, s->n, s->text, sizeof s->text);
    s->answered = FALSE;
    s->doubts = s->repeats = 0;
    w->next_n = after_number(w->next_n);
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

/* A line that is sent over and over and never taken is refused, whatever the words. */
static gboolean is_never_taken(DtTraffic *w)
{
    if (w->n == 0 || ++at(w, 0)->repeats <= UNTAKEN)
        return FALSE;
    w->events.refused(at(w, 0), *w->unknown ? w->unknown : _("it is never taken"), w->user);
    return TRUE;
}

static void send_again(DtTraffic *w)
{
    if (is_never_taken(w))
        return;
    w->phase = PHASE_FLOW;
    w->suspect = w->agreed = FALSE;
    for (size_t i = 0; i < w->n; i++) {
        at(w, i)->answered = FALSE;
        g_string_append_len(w->out, at(w, i)->text, (gssize)at(w, i)->len);
    }
    if (w->n > 0 && w->events.repeated != NULL)
        w->events.repeated(at(w, 0), w->user);
}

/* Index of the line with this N word among those in flight, -1 where there is none. */
static gssize find_number(const DtTraffic *w, unsigned n)
{
    for (size_t i = 0; i < w->n; i++)
        if (at(w, i)->n == n)
            return (gssize)i;
    return -1;
}

/* Whether the board keeps asking for a line that it has answered long ago: its count is not ours
 * any more, and nobody can tell what it has executed. */
static gboolean counts_differently(DtTraffic *w)
{
    const gboolean odd = w->n > 0 && w->wanted != 0 && find_number(w, w->wanted) < 0;
    w->wanted_in_vain = odd ? w->wanted_in_vain + 1 : 0;
    return w->wanted_in_vain >= 3;
}

static void start_drain(DtTraffic *w)
{
    if (w->phase == PHASE_FLOW)
        g_string_truncate(w->out, w->out_urgent); /* the lines are all in the ring still */
    w->phase = PHASE_DRAIN;
    w->agreed = FALSE;
}

static void ask(DtTraffic *w, gint64 now_us)
{
    if (*w->ask != '\0' && strchr(w->out->str, *w->ask) == NULL)
        dt_traffic_urgent(w, w->ask);
    w->asked_us = now_us;
}

/* Answers ------------------------------------------------------------------------------------- */

static void pop(DtTraffic *w)
{
    const DtSent done = *at(w, 0);
    w->head = (w->head + 1) % RING;
    w->n--;
    w->bytes -= done.len;
    w->answered = done;
    if (w->n == 0)
        *w->unknown = '\0';
    w->events.taken(&done, w->user);
}

const DtSent *dt_traffic_find(const DtTraffic *w, unsigned n)
{
    if (n == 0)
        return NULL;
    gssize i = find_number(w, n);
    if (i >= 0)
        return at(w, (size_t)i);
    return w->answered.n == n ? &w->answered : NULL;
}

gboolean dt_traffic_count_is_lost(const DtTraffic *w, const DtBoardState *s)
{
    return w->dialect->line_check && s->has_line && s->line == 0 &&
           (w->n ? at(w, 0)->n : w->next_n) != 1;
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
            ? find_number(w, n)
            : -1;
    if (i == 0) {
        pop(w);
        while (w->n > 0 && at(w, 0)->answered)
            pop(w);
    } else if (i > 0) {
        at(w, (size_t)i)->answered = TRUE;
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
    gssize i = named ? find_number(w, n) : -1;
    gboolean noise = g_str_has_prefix(reason, "check") || g_str_has_prefix(reason, "order");
    if (i == 0 && !noise && at(w, 0)->doubts >= DOUBTS) {
        w->events.refused(at(w, 0), reason, w->user);
        return;
    }
    if (i >= 0 && !noise)
        at(w, (size_t)i)->doubts++;
    start_drain(w);
}

/* Of a board that tells no word: it stands where it was found before. */
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
    const unsigned oldest = w->n ? at(w, 0)->n : w->next_n;
    return s->line == before_number(oldest) || (oldest == 1 && s->line == 0) ||
           find_number(w, s->line) >= 0;
}

static gboolean same_standing(const DtBoardState *a, const DtBoardState *b)
{
    return a->line == b->line && a->word == b->word;
}

static void pop_through(DtTraffic *w, unsigned line)
{
    for (gssize i = find_number(w, line); i >= 0; i--)
        pop(w);
    while (w->n > 0 && at(w, 0)->answered)
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
        s += at(w, i)->dwell_s;
    return s;
}

static gboolean has_patience(const DtTraffic *w, gint64 now_us)
{
    const double wait_s = dwell_in_flight(w) + (w->dialect->line_check ? 0 : BLIND_US / 1e6);
    return now_us - w->heard_us <= SILENCE_US + (gint64)(wait_s * 1e6);
}

/* A board that counts no lines stands, though answers are missing: where its lines end, the answers
 * were lost; elsewhere, lines were. */
static void reconcile_uncounted(DtTraffic *w, const DtBoardState *s, gint64 now_us)
{
    if (w->n == 0 || !stands(s->word) || has_patience(w, now_us))
        return;
    const DtProgramState *end = &at(w, w->n - 1)->after;
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

/* Noise tells a line that cannot be once, or another one each time; a board that keeps to it counts
 * otherwise than we do. One that counts from nothing is found by dt_traffic_count_is_lost(). */
static void note_impossible(DtTraffic *w, const DtBoardState *s)
{
    const gboolean same = w->impossible > 0 && w->impossible_line == s->line;
    w->impossible = s->line == 0 ? 0 : same ? w->impossible + 1 : 1;
    w->impossible_line = s->line;
    if (w->impossible < IMPOSSIBLE)
        return;
    w->impossible = 0;
    w->events.disagreed(after_number(s->line), w->user);
}

/* Two state replies that agree, one after the other, decide what became of the lines in flight. */
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
        if (w->phase == PHASE_ASK || find_number(w, s->line) >= 0)
            w->asked_us = now_us - ASK_AGAIN_US; /* the second one at once */
        return;
    }
    pop_through(w, s->line);
    w->agreed = FALSE;
    if (w->phase == PHASE_ASK) {
        if (counts_differently(w))
            w->events.disagreed(w->wanted, w->user);
        else
            send_again(w);
        return;
    }
    w->suspect = FALSE;
    if (w->n > 0 && stands(s->word) && !has_patience(w, now_us))
        start_drain(w); /* it stands and waits: the line, or its end, was lost on the way */
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

/* It answers nothing, but the board lives; one that says so for ever is given up all the same. */
static void take_notice(DtTraffic *w, gint64 now_us)
{
    if (now_us - w->heard_us < NOTICED_US)
        w->alive_us = now_us;
}

/* A reply in no words of the profile: garbled, or a refusal that cannot be told from other talk. */
static void take_other(DtTraffic *w, const char *text)
{
    if (w->events.other != NULL)
        w->events.other(text, w->user);
    w->suspect = TRUE;
    if (w->n > 0 && *w->unknown == '\0')
        g_strlcpy(w->unknown, text, sizeof w->unknown);
}

/* What is left of a reply behind the echo of a line in flight. */
static const char *past_echo(const DtTraffic *w, const char *text)
{
    for (size_t i = 0; i < w->n; i++) {
        const char *rest = dt_reply_past_echo(text, at(w, i)->text);
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

/* Time ---------------------------------------------------------------------------------------- */

static gint64 tick_drain(DtTraffic *w, gint64 now_us)
{
    gint64 quiet_at = MAX(w->received_us, w->sent_us) + QUIET_US;
    if (now_us < quiet_at)
        return quiet_at;
    if (*w->ask == '\0') {
        if (counts_differently(w))
            w->events.disagreed(w->wanted, w->user);
        else
            send_again(w);
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
            return G_MAXINT64; /* nothing can be done but wait */
        if (now_us >= lost_at) {
            w->heard_us = now_us;
            start_drain(w);
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
