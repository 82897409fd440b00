/* rig: the board, its messages and its clock. Bytes arrive at the UART's rate; between two
 * events nothing happens, so that hours take seconds. */
#include "inside.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

/* What the board does ------------------------------------------------------------------------- */

static void note_answer(DtRig *r);
static void hold_pen(DtRig *r);

void dt_rig_hear(DtRig *r, char byte)
{
    if (byte != '\n') {
        g_string_append_c(r->answer, byte);
        return;
    }
    note_answer(r);
    g_string_truncate(r->answer, 0);
}

void dt_rig_servo(DtRig *r, uint16_t pulse_us)
{
    if (pulse_us >= r->truth.pen_down_us && !r->machine.commanded_down)
        hold_pen(r);
    dt_rig_machine_servo(&r->machine, pulse_us, r->now);
}

/* Making and unmaking ----------------------------------------------------------------------- */

DtRig *dt_rig_new_from_text(const char *text, const char *name, GError **error)
{
    DtRig *r = g_new0(DtRig, 1);
    r->master = -1;
    r->board = &dt_rig_core_board;
    if (!dt_rig_truth_read(&r->truth, text, name, error)) {
        dt_rig_truth_clear(&r->truth);
        g_free(r);
        return NULL;
    }
    g_autofree char *problem = NULL;
    if (!dt_rig_faults_read(&r->faults, r->truth.faults, (guint32)r->truth.seed, &problem)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: [faults] list: not a fault: '%s'", name,
                    problem);
        dt_rig_faults_clear(&r->faults);
        dt_rig_truth_clear(&r->truth);
        g_free(r);
        return NULL;
    }
    dt_rig_truth_settings(&r->truth, &r->settings);
    r->hardware = dt_rig_core_hardware;
    memset(r->memory, 0xff, sizeof r->memory);
    r->byte_us = 1e7 / r->truth.baud; /* 8N1: 10 bits a byte */
    r->deadline = r->first_line = -1;
    r->answer = g_string_new(NULL);
    r->out = g_byte_array_new();
    r->out_due = g_array_new(FALSE, FALSE, sizeof(RigDue));
    r->acks = g_array_new(FALSE, FALSE, sizeof(RigAck));
    r->lines = g_queue_new();
    r->line = g_string_new(NULL);
    dt_rig_machine_init(&r->machine, &r->truth);
    dt_rig_reset(r);
    return r;
}

DtRig *dt_rig_new(const char *rig_file, GError **error)
{
    if (rig_file == NULL)
        return dt_rig_new_from_text("", "built-in", error);
    g_autofree char *text = dt_base_read_file(rig_file, 1 << 20, NULL, error);
    return text ? dt_rig_new_from_text(text, rig_file, error) : NULL;
}

void dt_rig_free(DtRig *r)
{
    if (r == NULL)
        return;
    dt_rig_unlink_port(r);
    if (r->master >= 0)
        close(r->master);
    if (r->board->free)
        r->board->free(r);
    dt_rig_machine_clear(&r->machine);
    dt_rig_faults_clear(&r->faults);
    dt_rig_truth_clear(&r->truth);
    g_string_free(r->answer, TRUE);
    g_byte_array_unref(r->out);
    g_array_unref(r->out_due);
    g_array_unref(r->acks);
    g_queue_free_full(r->lines, g_free);
    g_string_free(r->line, TRUE);
    g_free(r->next_pen);
    g_free(r->port);
    g_free(r->link);
    g_free(r);
}

void dt_rig_watch(DtRig *r, DtRigWatch watch, void *user)
{
    r->watch = watch;
    r->watch_user = user;
}

void dt_rig_listen(DtRig *r, DtRigTalk talk, void *user)
{
    r->talk = talk;
    r->talk_user = user;
}

void dt_rig_drop_out(DtRig *r)
{
    g_byte_array_set_size(r->out, 0);
    g_array_set_size(r->out_due, 0);
}

/* The sender starts afresh: nothing is in flight. */
static void forget_traffic(DtRig *r)
{
    g_array_set_size(r->acks, 0);
    r->known = (RigAck){0};
    r->in_bytes = r->begun_bytes = r->acked_bytes = 0;
    r->in_lines = r->begun_lines = r->acked_lines = 0;
    r->line_timed = FALSE;
}

static void forget_lines(DtRig *r)
{
    forget_traffic(r);
    g_queue_clear_full(r->lines, g_free);
    g_string_truncate(r->line, 0);
}

void dt_rig_reset(DtRig *r)
{
    r->queue_n = 0;
    forget_lines(r);
    g_string_truncate(r->answer, 0);
    r->board->reset(r);
}

/* Pens --------------------------------------------------------------------------------------- */

/* The pen that a comment "(pen NAME)" names, or NULL. */
static char *named_pen(const char *line)
{
    const char *at = strstr(line, "(pen ");
    if (at == NULL)
        return NULL;
    at += strlen("(pen ");
    const char *end = strchr(at, ')');
    return end && end > at ? g_strstrip(g_strndup(at, (gsize)(end - at))) : NULL;
}

static void put_pen_in(DtRig *r, const char *name)
{
    RigMachine *m = &r->machine;
    if (m->pen && strcmp(m->pen, name) == 0)
        return;
    if (m->pen && !r->stop_seen)
        m->figures.changes_without_stop++;
    g_free(m->pen);
    m->pen = g_strdup(name);
    r->stop_seen = FALSE;
}

/* If no comment names pens they are used in turn, one after each stop. */
static void take_next_in_order(DtRig *r)
{
    g_auto(GStrv) order = g_strsplit_set(r->truth.pen_order, " \t", -1);
    unsigned n = g_strv_length(order);
    if (n == 0 || r->next_pen)
        return;
    put_pen_in(r, order[MIN(r->next_in_order, n - 1)]);
    r->next_in_order++;
}

static void look_for_pen(DtRig *r, const char *line)
{
    char *name = named_pen(line);
    if (name == NULL)
        return;
    g_free(r->next_pen);
    r->next_pen = name;
}

/* The person at the machine, who changes pens at stops. */
static void attend(DtRig *r)
{
    RigMachine *m = &r->machine;
    dt_rig_machine_settle(m, r->now);
    const DtState state = r->board->state(r);
    const gboolean homed = r->board->homed(r), stopped = state == DT_STATE_STOPPED;
    if (stopped && !r->at_stop) {
        r->stop_seen = TRUE;
        r->stop_since = r->now;
    }
    if (!stopped && r->at_stop) {
        m->figures.pen_changes++;
        m->figures.stop_s += 1e-6 * (double)(r->now - r->stop_since);
        take_next_in_order(r);
    }
    r->at_stop = stopped;
    if (homed && !r->was_homed)
        m->figures.homings++;
    r->was_homed = homed;
    const gboolean homing = state == DT_STATE_HOMING;
    if (homing != r->was_homing)
        m->figures.home_s += (homing ? -1e-6 : 1e-6) * (double)r->now;
    r->was_homing = homing;
}

/* The pen is about to be used: it is the one named last. */
static void hold_pen(DtRig *r)
{
    if (r->next_pen)
        put_pen_in(r, r->next_pen);
    else if (r->machine.pen == NULL)
        take_next_in_order(r);
}

/* Talk --------------------------------------------------------------------------------------- */

static void say(DtRig *r, const char *text)
{
    g_autofree char *bytes = dt_rig_faults_reply(r, text);
    const guint n = (guint)strlen(bytes);
    /* The core says it at once, a chip at the rate of its UART. */
    r->reply_passed = MAX(r->reply_passed, (double)r->now) + (r->chip ? 0 : (double)n * r->byte_us);
    r->machine.figures.replies++;
    g_byte_array_append(r->out, (const guint8 *)bytes, n);
    if (!r->real_time || n == 0)
        return;
    /* In real time a reply takes its time on the wire, and then waits for the host's bus. */
    r->sent_at = MAX(r->sent_at, (double)g_get_monotonic_time()) + (double)n * r->byte_us;
    RigDue due = {n, (gint64)(r->sent_at + r->truth.reply_delay_s * 1e6)};
    g_array_append_val(r->out_due, due);
}

/* The core's answer in the words of the rig file: its first word and number are followed by a
 * reason if the line was refused. */
static char *translate(const DtRig *r, const char *first, const char *rest)
{
    const char *number = rest;
    const char *reason = strchr(rest, ' ');
    int digits = reason ? (int)(reason - number) : (int)strlen(number);
    if (!r->truth.numbers)
        return g_strconcat(first, reason ? reason : "", NULL);
    return g_strdup_printf("%s %.*s%s", first, digits, number, reason ? reason : "");
}

static void end_line(DtRig *r, const char *answer)
{
    g_autofree char *line = g_queue_pop_head(r->lines);
    if (line == NULL)
        return;
    r->acked_bytes += strlen(line) + 1;
    r->acked_lines++;
    look_for_pen(r, line);
    if (r->talk)
        r->talk(line, answer, r->talk_user);
}

static void note_answer(DtRig *r)
{
    const char *text = r->answer->str;
    g_autofree char *own = NULL;
    if (r->board->heard)
        r->board->heard(r, text);
    if (g_str_has_prefix(text, "taken ") || g_str_has_prefix(text, "refused "))
        dt_rig_faults_line(r);
    if (g_str_has_prefix(text, "taken ")) {
        own = translate(r, r->truth.accept, text + 6);
        r->machine.figures.lines_taken++;
        end_line(r, own);
    } else if (g_str_has_prefix(text, "refused ")) {
        own = translate(r, r->truth.refuse, text + 8);
        r->machine.figures.lines_refused++;
        end_line(r, own);
    } else if (g_str_has_prefix(text, "state ")) {
        if (strstr(text, " switch -") == NULL && g_str_has_prefix(text, "state unhomed") &&
            r->core.locked)
            r->machine.figures.stopped_on_switch = TRUE;
        own = r->truth.ask ? g_strdup(text) : NULL;
    } else if (g_str_has_prefix(text, "parameter ")) {
        own = g_strdup(text);
    } else if (*r->truth.greeting) {
        own = g_strdup(r->truth.greeting);
    }
    if (own)
        say(r, own);
    const RigAck ack = {r->acked_bytes, r->acked_lines,
                        r->reply_passed + r->truth.reply_delay_s * 1e6};
    g_array_append_val(r->acks, ack);
}

/* The clock ---------------------------------------------------------------------------------- */

static gboolean is_urgent(const DtRig *r, uint8_t byte)
{
    if (byte == DT_BYTE_ASK)
        return r->truth.ask;
    return r->truth.hold &&
           (byte == DT_BYTE_GO_ON || byte == DT_BYTE_HOLD || byte == DT_BYTE_ABANDON);
}

/* Bytes of the next line, as far as they have arrived. */
static unsigned next_line_bytes(const DtRig *r)
{
    unsigned n = 0;
    while (n < r->queue_n)
        if (r->queue[(r->queue_head + n++) % RIG_QUEUE] == '\n')
            break;
    return n;
}

/* A sender has no more bytes or lines in flight than it ever had: it did not send the next line
 * before it had read the reply that made room for it. */
static void time_next_line(DtRig *r)
{
    const guint64 bytes = r->begun_bytes + next_line_bytes(r), lines = r->begun_lines + 1;
    guint passed = 0;
    while (passed < r->acks->len &&
           (bytes > r->known.bytes + r->most_bytes || lines > r->known.lines + r->most_lines))
        r->known = g_array_index(r->acks, RigAck, passed++);
    g_array_remove_range(r->acks, 0, passed);
    r->last_arrival = MAX(r->last_arrival, r->known.at);
    r->line_timed = TRUE;
}

/* Arrival time of the next byte. */
static double next_arrival(DtRig *r)
{
    if (!r->line_timed)
        time_next_line(r);
    return r->last_arrival + r->byte_us;
}

void dt_rig_queue(DtRig *r, const uint8_t *bytes, unsigned n, double not_before)
{
    if (r->queue_n == 0)
        r->last_arrival = MAX(r->last_arrival, not_before);
    for (unsigned i = 0; i < n; i++) {
        r->queue[(r->queue_head + r->queue_n++) % RIG_QUEUE] = bytes[i];
        if (is_urgent(r, bytes[i]))
            continue;
        r->in_bytes++;
        r->in_lines += bytes[i] == '\n';
    }
    r->most_bytes = MAX(r->most_bytes, r->in_bytes - r->acked_bytes);
    r->most_lines = MAX(r->most_lines, r->in_lines - r->acked_lines);
}

static void receive(DtRig *r, uint8_t byte)
{
    if (r->first_line < 0)
        r->first_line = r->now;
    if (is_urgent(r, byte)) {
        r->board->receive(r, byte);
        r->abandoned = r->abandoned || (byte == DT_BYTE_ABANDON && r->board->abandons(r));
        return;
    }
    if (!r->board->receive(r, byte)) {
        r->machine.figures.bytes_lost++;
        return;
    }
    if (byte != '\n') {
        g_string_append_c(r->line, (char)byte);
        return;
    }
    g_queue_push_tail(r->lines, g_strndup(r->line->str, r->line->len));
    g_string_truncate(r->line, 0);
}

static gboolean deliver(DtRig *r)
{
    gboolean any = FALSE;
    while (r->queue_n > 0 && next_arrival(r) <= (double)r->now + 0.5) {
        uint8_t byte = r->queue[r->queue_head];
        r->queue_head = (r->queue_head + 1) % RIG_QUEUE;
        r->queue_n--;
        r->last_arrival += r->byte_us;
        if (r->chip && r->last_arrival + 2 < (double)r->now)
            r->last_arrival = (double)r->now; /* a real UART cannot have had it before */
        if (!is_urgent(r, byte)) {
            r->begun_bytes++;
            r->begun_lines += byte == '\n';
        }
        if (byte == '\n')
            r->line_timed = FALSE;
        uint8_t arrives[RIG_STRAYS + 2];
        unsigned n = dt_rig_faults_byte(r, byte, arrives);
        for (unsigned i = 0; i < n; i++)
            receive(r, arrives[i]);
        any = TRUE;
        if (byte == '\n')
            break; /* the core runs far faster than the UART */
    }
    return any;
}

static void suffer(DtRig *r)
{
    if (r->faults.list->len == 0)
        return;
    dt_rig_faults_time(r);
    if (r->faults.reset) {
        r->faults.reset = FALSE;
        dt_rig_reset(r);
    }
    if (r->was_homing)
        r->machine.axis[0].forced = r->machine.axis[1].forced = FALSE;
}

void dt_rig_settle(DtRig *r)
{
    do {
        suffer(r);
        while (r->board->poll(r)) {
            attend(r);
            if (r->abandoned && !r->board->abandons(r)) {
                forget_lines(r);
                r->abandoned = FALSE;
            }
        }
        attend(r);
        dt_rig_watch_hunger(r);
    } while (deliver(r));
}

gboolean dt_rig_advance(DtRig *r, gint64 not_beyond)
{
    const gint64 arrival = r->queue_n > 0 ? (gint64)ceil(next_arrival(r)) : -1;
    gboolean arrives = arrival >= 0 && (not_beyond < 0 || arrival <= not_beyond);
    if (r->board->advance(r, arrives ? MAX(arrival, r->now) : not_beyond))
        return TRUE;
    if (arrives)
        r->now = MAX(r->now, arrival);
    return arrives;
}

/* Without a port ---------------------------------------------------------------------------- */

/* Bytes sent but not yet accepted, or not answered. */
static unsigned waiting_bytes(const DtRig *r)
{
    if (r->chip)
        return (unsigned)(r->in_bytes - r->acked_bytes);
    return r->queue_n + (DtRxCount)(r->core.rx_head - r->core.rx_tail + r->core.rx_owed);
}

/* Sends lines as long as the unanswered bytes fit the window, longer ones at once, and continues
 * at stops. */
void dt_rig_run_text(DtRig *r, const char *text, gsize len)
{
    unsigned window = (unsigned)r->truth.rx_bytes - 1;
    gsize at = 0;
    gboolean ended = len == 0 || text[len - 1] == '\n';
    for (;;) {
        dt_rig_settle(r);
        dt_rig_drop_out(r);
        unsigned waiting = waiting_bytes(r);
        const char *end = at < len ? memchr(text + at, '\n', len - at) : NULL;
        gsize n = end ? (gsize)(end - (text + at)) + 1 : len - at;
        gboolean flood = n > window;
        if (flood)
            n = r->board->ready(r) && r->queue_n == 0 ? MIN(n, RIG_QUEUE) : 0;
        /* The sender is never late: the bytes could have come while the line was free. */
        double since = (double)r->now - (r->chip ? 0 : window * r->byte_us);
        if (n > 0 && (flood || waiting + n <= window)) {
            dt_rig_queue(r, (const uint8_t *)text + at, (unsigned)n, since);
            at += n;
        } else if (at == len && !ended) {
            dt_rig_queue(r, (const uint8_t *)"\n", 1, since);
            ended = TRUE;
        } else if (r->board->state(r) == DT_STATE_STOPPED) {
            r->board->receive(r, DT_BYTE_GO_ON);
            r->board->receive(r, DT_BYTE_GO_ON);
        } else if (!dt_rig_advance(r, -1)) {
            break;
        }
    }
    r->now += (gint64)(r->truth.lift_s * 1e6) + 1; /* the pen is up by then */
    dt_rig_machine_settle(&r->machine, r->now);
}

/* What came of it --------------------------------------------------------------------------- */

void dt_rig_figures(const DtRig *r, DtRigFigures *out)
{
    const RigMachine *m = &r->machine;
    *out = m->figures;
    if (r->first_line >= 0 && m->last_motion > r->first_line)
        out->time_s = (double)(m->last_motion - r->first_line) * 1e-6;
    out->pen_up_at_end = !m->commanded_down;
    dt_rig_machine_holder(m, &out->end_x, &out->end_y);
    out->homed = r->board->homed(r);
    out->motors_off = m->axis[0].loose && m->axis[1].loose;
    out->bytes = r->faults.bytes;
    out->faults = r->faults.happened;
}

double dt_rig_clock_s(const DtRig *r)
{
    return (double)r->now * 1e-6;
}

size_t dt_rig_stroke_count(const DtRig *r)
{
    return r->machine.ink.strokes->len;
}

DtRigStroke dt_rig_stroke(const DtRig *r, size_t i)
{
    const RigInk *k = &r->machine.ink;
    const RigStroke *s = &g_array_index(k->strokes, RigStroke, i);
    return (DtRigStroke){g_ptr_array_index(k->names, s->pen),
                         (const double *)(void *)(k->xy->data + s->first * 2 * sizeof(double)),
                         s->n, s->from_s, s->to_s};
}
