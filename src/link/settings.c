/* settings: reads and writes our board's parameters (RS-274/NGC, NISTIR 6556, 3.3.2.2). */
#include "drawtrue/settings.h"

#include "link/port.h"
#include "link/reply.h"
#include "link/session.h"
#include "link/traffic.h"

#include <math.h>
#include <poll.h>
#include <string.h>

typedef struct {
    const DtProfile *profile;
    const char *path;
    DtPort *port;
    GString *heard; /* bytes of a line that is not whole yet */
    GString *line;
} Talk;

/* For the parameters of one axis and of the other, by their numbers. */
enum { AXIS_APART = 10 };

static const double quiet_s = 0.5, rounding = 6e-5;

/* The next line from the board; FALSE without an error if none comes in time. */
static gboolean hear(Talk *t, double wait_s, GError **error)
{
    const gint64 end = g_get_monotonic_time() + (gint64)(wait_s * 1e6);
    for (;;) {
        char *stop = memchr(t->heard->str, '\n', t->heard->len);
        if (stop != NULL) {
            g_string_truncate(t->line, 0);
            g_string_append_len(t->line, t->heard->str, stop - t->heard->str);
            g_string_erase(t->heard, 0, stop - t->heard->str + 1);
            g_strchomp(t->line->str);
            t->line->len = strlen(t->line->str);
            return TRUE;
        }
        const gint64 left = end - g_get_monotonic_time();
        struct pollfd in = {dt_port_fd(t->port), POLLIN, 0};
        if (left <= 0 || poll(&in, 1, (int)(left / 1000) + 1) < 0)
            return FALSE;
        char bytes[256];
        const gssize n = in.revents ? dt_port_read(t->port, bytes, sizeof bytes, error) : 0;
        if (n < 0)
            return FALSE;
        g_string_append_len(t->heard, bytes, n);
    }
}

static gboolean say(Talk *t, const char *text, GError **error)
{
    return dt_port_write_all(t->port, text, strlen(text), error);
}

/* `error` is never NULL, here and below. */
static gboolean set_silent(const Talk *t, GError **error)
{
    if (*error == NULL)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: not an answer that our own board would give; only its settings can be "
                    "read and sent",
                    t->path);
    return FALSE;
}

/* Waits until the board stands still and is ready. */
static gboolean greet(Talk *t, GError **error)
{
    const DtDialect *d = &t->profile->dialect;
    const gint64 end = g_get_monotonic_time() + (gint64)(d->reply_timeout_s * 1e6);
    DtBoardState state;
    while (g_get_monotonic_time() < end) {
        if (!say(t, d->ask_state, error))
            return FALSE;
        while (hear(t, quiet_s, error))
            if (g_str_has_prefix(t->line->str, "state ") && dt_board_state(t->line->str, &state)) {
                if (state.word == DT_BOARD_STILL || state.word == DT_BOARD_UNHOMED)
                    return TRUE;
                g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                            "%s: the machine is moving; let it finish, or abandon what it does",
                            t->path);
                return FALSE;
            }
        if (*error != NULL)
            return FALSE;
    }
    return set_silent(t, error);
}

/* "parameter 411 98.5000" */
static gboolean is_parameter(const char *text, unsigned *number, double *value)
{
    const char *rest;
    if (!g_str_has_prefix(text, "parameter ") ||
        !dt_reply_number(text, strlen("parameter "), 65535, number, &rest))
        return FALSE;
    *value = g_ascii_strtod(rest, NULL);
    return TRUE;
}

/* A parameter line and its answer: the value now in force. `refused` is set if the board
 * answered and refused it. */
static gboolean ask(Talk *t, const char *line, unsigned parameter, double *value, gboolean *refused,
                    GError **error)
{
    const DtDialect *d = &t->profile->dialect;
    gboolean told = FALSE;
    *refused = FALSE;
    if (!say(t, line, error))
        return FALSE;
    while (hear(t, d->reply_timeout_s, error)) {
        unsigned number;
        const DtReply reply = dt_reply_of(d->accept, d->refuse, t->line->str);
        if (reply == DT_REPLY_REFUSE) {
            *refused = TRUE;
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the board refuses %.*s: %s", t->path,
                        (int)strcspn(line, "\n"), line, t->line->str);
            return FALSE;
        }
        if (reply == DT_REPLY_ACCEPT)
            return told ? TRUE : set_silent(t, error);
        if (is_parameter(t->line->str, &number, value) && number == parameter)
            told = TRUE;
    }
    return set_silent(t, error);
}

static gboolean is_apart(const DtBoardSetting *s, double board)
{
    return fabs(s->profile - board) > rounding + 1e-6 * fabs(s->profile);
}

static void add(GArray *all, unsigned parameter, const char *name, const char *unit, double value)
{
    const DtBoardSetting s = {.parameter = parameter, .name = name, .unit = unit, .profile = value};
    g_array_append_val(all, s);
}

static void list_axis(const DtProfile *p, unsigned axis, GArray *all)
{
    const unsigned first = 411 + AXIS_APART * axis;
    const struct {
        const char *names[2], *unit;
        double value;
    } rows[] = {
        {{"steps_per_mm_x", "steps_per_mm_y"}, "half steps/mm", p->steps_per_mm[axis]},
        {{"speed_x", "speed_y"}, "mm/s", p->speed[axis]},
        {{"acceleration_x", "acceleration_y"}, "mm/s2", p->acceleration[axis]},
        {{"pull_in_x", "pull_in_y"}, "mm/s", p->pull_in[axis]},
        {{"travel_x", "travel_y"}, "mm", p->travel[axis]},
        {{"switch_opens_x", "switch_opens_y"}, "", p->switch_opens[axis] ? 1 : 0},
        {{"motor_reversed_x", "motor_reversed_y"}, "", p->motor_reversed[axis] ? 1 : 0},
    };
    for (guint i = 0; i < G_N_ELEMENTS(rows); i++)
        add(all, first + i, rows[i].names[axis], rows[i].unit, rows[i].value);
}

/* As docs/board.md numbers them, in the board's units. */
static GArray *list(const DtProfile *p)
{
    GArray *all = g_array_new(FALSE, TRUE, sizeof(DtBoardSetting));
    list_axis(p, 0, all);
    list_axis(p, 1, all);
    add(all, 431, "home_speed", "mm/s", p->home_speed);
    add(all, 432, "home_pull_off", "mm", p->home_pull_off);
    add(all, 433, "switch_time", "us", round(p->switch_s * 1e6));
    add(all, 441, "pen_up_pulse", "us", round(p->pen_up_pulse_s * 1e6));
    add(all, 442, "pen_pulse_per_s", "us", round(p->pen_pulse_per_s * 1e6));
    add(all, 446, "pen_fall_time", "ms", round(p->pen_fall_s * 1e3));
    add(all, 452, "motor_rest", "s", round(p->motor_rest_s));
    return all;
}

static gboolean read_all(Talk *t, GArray *all, GError **error)
{
    for (guint i = 0; i < all->len; i++) {
        DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        g_autofree char *line = g_strdup_printf("#%u=#%u\n", s->parameter, s->parameter);
        gboolean refused;
        if (!ask(t, line, s->parameter, &s->board, &refused, error))
            return FALSE;
        s->differs = is_apart(s, s->board);
    }
    return TRUE;
}

/* One pass over those that still differ. What the board refuses now it may accept once another
 * one is in force: speeds are limited together with the steps per mm. */
static guint write_some(Talk *t, GArray *all, GError **refused, GError **error)
{
    guint done = 0;
    for (guint i = 0; i < all->len; i++) {
        DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        if (!s->differs || s->written)
            continue;
        char number[G_ASCII_DTOSTR_BUF_SIZE];
        g_ascii_formatd(number, sizeof number, "%.4f", s->profile);
        g_autofree char *line = g_strdup_printf("#%u=%s\n", s->parameter, number);
        g_autoptr(GError) problem = NULL;
        double now = s->board;
        gboolean is_refusal;
        if (ask(t, line, s->parameter, &now, &is_refusal, &problem)) {
            s->written = !is_apart(s, now);
            done += (guint)s->written;
        } else if (!is_refusal) {
            g_propagate_error(error, g_steal_pointer(&problem));
            return 0;
        } else {
            g_clear_error(refused);
            *refused = g_steal_pointer(&problem);
        }
    }
    return done;
}

static gboolean write_all(Talk *t, GArray *all, GError **error)
{
    g_autoptr(GError) refused = NULL;
    do
        g_clear_error(&refused);
    while (write_some(t, all, &refused, error) > 0 && refused != NULL);
    if (refused != NULL && *error == NULL)
        *error = g_steal_pointer(&refused);
    return *error == NULL;
}

GArray *dt_link_settings(const DtProfile *p, const char *port, gboolean send, GError **error)
{
    g_autoptr(GError) problem = NULL;
    Talk t = {.profile = p, .path = port, .port = dt_port_open(port, p->dialect.baud, error)};
    if (t.port == NULL)
        return NULL;
    t.heard = g_string_new(NULL);
    t.line = g_string_new(NULL);
    g_autoptr(GArray) all = list(p);
    const gboolean good = *p->dialect.ask_state == '\0'
                              ? set_silent(&t, &problem)
                              : greet(&t, &problem) && read_all(&t, all, &problem) &&
                                    (!send || write_all(&t, all, &problem));
    g_string_free(t.heard, TRUE);
    g_string_free(t.line, TRUE);
    dt_port_close(t.port);
    if (good)
        return g_steal_pointer(&all);
    g_propagate_error(error, g_steal_pointer(&problem));
    return NULL;
}

/* In a run ----------------------------------------------------------------------------------- */

void dt_settings_note(GArray *all, const char *text)
{
    unsigned number;
    double value;
    if (all == NULL || !is_parameter(text, &number, &value))
        return;
    for (guint i = 0; i < all->len; i++) {
        DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        if (s->parameter != number)
            continue;
        s->board = value;
        s->differs = is_apart(s, value);
    }
}

/* What differs, for people; NULL where nothing does. */
static char *differences(const GArray *all)
{
    GString *text = g_string_new(NULL);
    for (guint i = 0; i < all->len; i++) {
        const DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        if (!s->differs)
            continue;
        if (text->len > 0)
            g_string_append(text, ", ");
        g_string_append_printf(text, _("%s is %g and not %g"), s->name, s->board, s->profile);
    }
    return g_string_free(text, text->len == 0);
}

gboolean dt_session_compare_settings(DtSession *s)
{
    g_autoptr(GArray) all = list(s->profile);
    gboolean good = TRUE;
    s->settings = all;
    for (guint i = 0; i < all->len && good; i++) {
        const unsigned n = g_array_index(all, DtBoardSetting, i).parameter;
        g_autofree char *line = g_strdup_printf("#%u=#%u", n, n);
        good = dt_session_command(s, line, DT_LINE_OTHER, 0);
    }
    s->settings = NULL;
    g_autofree char *apart = good ? differences(all) : NULL;
    if (apart != NULL) {
        g_autofree char *text = g_strdup_printf(_("the board's settings differ from the profile: "
                                                  "%s; 'drawtrue machine --send' writes them"),
                                                apart);
        dt_session_tell(s, DT_EVENT_FOUND, text);
    }
    return good;
}
