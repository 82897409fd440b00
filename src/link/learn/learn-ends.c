/* learn-ends: bytes that act at once, and the state of a board after the end of a program. They
 * come last, since the board may behave differently afterwards. */
#include "link/learn/learn.h"

#include <string.h>

/* Bytes that act at once -------------------------------------------------------------------- */

static const char ask_byte[] = "\x05", hold_byte[] = "\x13", go_on_bytes[] = "\x11\x11",
                  abandon_bytes[] = "\x18\x18";

/* Sends the byte, and returns whether a state arrived that nothing else had requested. */
static gboolean tells_state(DtLearner *l)
{
    g_ptr_array_set_size(l->others, 0);
    l->states = 0;
    dt_learn_send(l, ask_byte, 1);
    for (int i = 0; i < 10 && l->states == 0 && l->error == NULL; i++)
        dt_learn_hear_some(l, MIN(l->wait_s, 1) / 10);
    return l->states > 0;
}

/* ENQ is answered by a state or a position, and by nothing that could be taken for the answer to
 * a line. If it becomes part of the line instead, the line is refused. */
static gboolean answers_enq(DtLearner *l)
{
    l->states = 0;
    dt_learn_drain(l, 0.3, 0.6);
    if (l->states > 0) /* it reports it all the time */
        return FALSE;
    dt_traffic_reset(l->traffic, 1);
    const gboolean told = tells_state(l) && tells_state(l);
    dt_learn_drain(l, 0.1 + l->out->latency_s, 1);
    const gboolean clean = dt_traffic_unasked(l->traffic) == 0 && l->others->len == 0;
    if (dt_learn_ask(l, l->base, l->wait_s) != DT_REPLY_ACCEPT) {
        dt_learn_ask(l, l->base, l->wait_s); /* a line that contained the byte is finished */
        return FALSE;
    }
    if (told && !clean)
        dt_learn_tell(l, "ENQ is answered by more than a state, which a run cannot use");
    return told && clean;
}

static gboolean tells_held(DtLearner *l, gboolean wanted)
{
    for (int i = 0; i < 4 && l->out->asks && l->error == NULL; i++) {
        if (tells_state(l) && (l->state.word == DT_BOARD_HELD) == wanted)
            return TRUE;
        dt_learn_drain(l, 0.1, 0.1);
    }
    return FALSE;
}

/* Whether a line after a dwell waits as long as DC1 does not come. */
static gboolean holds_lines(DtLearner *l)
{
    g_autofree char *text =
        g_strdup_printf("%s\n%s\n", l->dwell_in_ms ? "G4 P100" : "G4 P0.1", l->base);
    if (!dt_learn_knows(l, "G4") || !dt_learn_begin(l, text, 2))
        return FALSE;
    dt_learn_hear(l, 0.6 + 4 * l->out->latency_s, 2);
    return l->refused == 0 && l->accepted < 2;
}

/* Whether it reports that it is held after DC3, or lines wait, until DC1 comes twice. */
static gboolean learn_hold(DtLearner *l)
{
    dt_learn_send(l, hold_byte, 1);
    dt_learn_drain(l, 0.05, 0.1);
    const gboolean held = tells_held(l, TRUE) || holds_lines(l);
    dt_learn_send(l, go_on_bytes, 2); /* our board requires it twice, others may */
    dt_learn_drain(l, 0.3 + 2 * l->out->latency_s, l->wait_s);
    if (!held || (l->out->asks && !tells_held(l, FALSE)))
        return FALSE;
    return dt_learn_ask(l, l->base, l->wait_s) == DT_REPLY_ACCEPT;
}

/* A long dwell ends at once. */
static gboolean learn_abandon(DtLearner *l)
{
    static const double dwell_s = 4;
    if (!l->dwells)
        return FALSE;
    dt_learn_begin(l, l->dwell_in_ms ? "G4 P4000\n" : "G4 P4\n", 1);
    dt_learn_drain(l, 0.1 + l->out->latency_s, 0.3 + l->out->latency_s);
    const double start = dt_learn_now_s(l);
    dt_learn_send(l, abandon_bytes, 2); /* twice, as to go on */
    dt_learn_drain(l, 0.2 + l->out->latency_s, 0.5 + l->out->latency_s);
    dt_learn_send(l, "\n", 1); /* the byte may be part of a line */
    dt_learn_drain(l, 0.1 + l->out->latency_s, 0.5 + l->out->latency_s);
    const DtReply reply = dt_learn_ask(l, l->base, dwell_s + l->wait_s);
    const gboolean quick = dt_learn_now_s(l) - start < dwell_s * 0.7;
    dt_learn_drain(l, 0.3 + l->out->latency_s, dwell_s);
    return reply == DT_REPLY_ACCEPT && quick;
}

/* Leaves the board answering again, or marks the pass as void. */
static void settle(DtLearner *l, const char *name)
{
    dt_learn_send(l, "\n", 1);
    dt_learn_drain(l, 0.3 + l->out->latency_s, l->wait_s);
    for (int i = 0; i < 3 && l->error == NULL; i++)
        if (dt_learn_ask(l, l->base, l->wait_s) == DT_REPLY_ACCEPT)
            return;
    dt_learn_void(l, name);
}

static gboolean try_bytes(DtLearner *l, const char *name, gboolean (*try)(DtLearner *l))
{
    if (l->error != NULL || dt_learn_is_harmful(l, name))
        return FALSE;
    l->line = name;
    const gboolean good = try(l);
    settle(l, name);
    l->line = NULL;
    return good && l->error == NULL;
}

/* What was sent before may be under way still. */
static void wait_for_standstill(DtLearner *l)
{
    for (int i = 0; i < 50 && l->out->asks && l->error == NULL; i++) {
        if (!tells_state(l) || l->state.word != DT_BOARD_MOVING)
            return;
        dt_learn_drain(l, 0.2, 0.2);
    }
}

void dt_learn_bytes_at_once(DtLearner *l)
{
    l->out->asks = try_bytes(l, "ENQ", answers_enq);
    wait_for_standstill(l);
    l->out->holds = try_bytes(l, _("DC3 and DC1"), learn_hold);
    l->out->abandons = try_bytes(l, "CAN", learn_abandon);
    dt_learn_tell(l, "%s its state when asked, %s at once, %s at once",
                  l->out->asks ? _("it tells") : _("it does not tell"),
                  l->out->holds ? _("holds") : _("does not hold"),
                  l->out->abandons ? _("abandons") : _("does not abandon"));
}

/* The end of a program ---------------------------------------------------------------------- */

typedef enum { UNTRIED, REFUSED, GOES_ON, RESTARTS, FALLS_SILENT, LOCKS } Fate;

/* Whether it accepts the base line, allowing for one lost reply. */
static gboolean goes_on(DtLearner *l)
{
    return dt_learn_ask(l, l->base, l->wait_s) == DT_REPLY_ACCEPT ||
           dt_learn_ask(l, l->base, l->wait_s) == DT_REPLY_ACCEPT;
}

/* Recovers a board that an end word has locked; FALSE if that is impossible. */
static gboolean bring_back(DtLearner *l)
{
    const DtWire *wire = &l->options.wire;
    if (wire->reopen == NULL || !wire->reopen(wire->user, &l->error))
        return FALSE;
    l->greeted = FALSE;
    const double until = dt_learn_now_s(l) + l->options.boot_s;
    while (!l->greeted && l->error == NULL && dt_learn_now_s(l) < until)
        dt_learn_drain(l, 0.2, 0.2);
    return goes_on(l);
}

/* The state of a board after this line; `ready` is set if it could be recovered. */
static Fate try_end(DtLearner *l, const char *line, gboolean *ready)
{
    l->expects_greeting = TRUE;
    l->greeted = FALSE;
    DtReply reply = dt_learn_ask(l, line, l->wait_s);
    if (reply == DT_REPLY_OTHER && !l->greeted)
        reply = dt_learn_ask(l, line, l->wait_s);
    dt_learn_drain(l, 0.5 + l->out->latency_s, 2);
    *ready = goes_on(l);
    const Fate fate = l->greeted                 ? RESTARTS
                      : reply == DT_REPLY_REFUSE ? REFUSED
                      : reply == DT_REPLY_OTHER  ? FALLS_SILENT
                      : *ready                   ? GOES_ON
                                                 : LOCKS;
    if (!*ready && l->error == NULL)
        *ready = bring_back(l);
    l->expects_greeting = FALSE;
    return fate;
}

/* Whether a program may end with it: it is accepted, and the board is ready for the next
 * program. */
static gboolean learn_end_line(DtLearner *l, const char *line, gboolean *ready)
{
    static const char *const fates[] = {
        [UNTRIED] = N_("was not tried"),
        [REFUSED] = N_("is refused"),
        [GOES_ON] = N_("is taken"),
        [RESTARTS] = N_("restarts the board, and is not used"),
        [FALLS_SILENT] = N_("is not answered, and is not used"),
        [LOCKS] = N_("is taken, but nothing after it, and is not used"),
    };
    const Fate fate = *ready ? try_end(l, line, ready) : UNTRIED;
    if (l->error != NULL)
        return FALSE;
    if (fate == GOES_ON)
        dt_learn_add_words_of(l, line);
    else if (fate != UNTRIED &&
             (line[1] == '\0' || line[strspn(line + 1, "0123456789") + 1] == '\0'))
        dt_learn_note_tried(l, line);
    dt_learn_tell(l, "%s %s", line, _(fates[fate]));
    return fate == GOES_ON;
}

void dt_learn_end(DtLearner *l)
{
    const char *old = l->profile->dialect.program_end;
    const char *lines[] = {old && *old ? old : "M2", "M2", "M30"}; /* the profile's comes first */
    const char *chosen = "";
    gboolean ready = TRUE;
    for (size_t i = 0; i < G_N_ELEMENTS(lines) && l->error == NULL; i++) {
        const gboolean again = i > 0 && g_str_equal(lines[i], lines[0]);
        if (!again && learn_end_line(l, lines[i], &ready) && *chosen == '\0')
            chosen = lines[i];
    }
    g_free(l->out->program_end);
    l->out->program_end = g_strdup(chosen);
    if (!ready)
        return;
    dt_learn_try(l, "G21"); /* which the end may have taken back */
    dt_learn_try(l, "G90");
}
