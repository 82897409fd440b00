/* learn-replies: the greeting, unsolicited messages, and the answers to lines. */
#include "link/learn/learn.h"

#include <string.h>

/* The text up to its first digit, without trailing blanks: numbers change from reply to reply. */
static void cut_at_digit(char *text)
{
    text[strcspn(text, "0123456789")] = '\0';
    g_strchomp(text);
}

/* Lines that arrive while nothing was asked answer nothing. */
static void listen_for_notices(DtLearner *l, double seconds)
{
    g_ptr_array_set_size(l->others, 0);
    dt_learn_hear(l, seconds, 1);
    for (guint i = 0; i < l->others->len; i++)
        dt_learn_take_notice(l, l->others->pdata[i]);
    g_ptr_array_set_size(l->others, 0);
}

/* Opening the port resets many boards (common practice, no source): the greeting may take seconds.
 * A board that says nothing is not reset, or has no greeting. */
gboolean dt_learn_greeting(DtLearner *l)
{
    static const double quiet_s = 0.5, most_s = 3, listen_s = 1.2;
    const gboolean again = l->n_restarts > 0;
    const double boot_s = again && !l->hung ? quiet_s : l->options.boot_s;
    l->expects_greeting = TRUE;
    l->greeted = FALSE;
    g_ptr_array_set_size(l->others, 0);
    if (!again)
        dt_learn_tell(l, "waiting up to %.0f s for its greeting", boot_s);
    const double until = dt_learn_now_s(l) + boot_s;
    while (l->error == NULL && l->others->len == 0 && !l->greeted && dt_learn_now_s(l) < until)
        dt_learn_hear_some(l, until - dt_learn_now_s(l));
    dt_learn_drain(l, quiet_s, most_s); /* more lines of the same greeting */
    if (!again) {
        char *greeting = g_strdup(l->others->len > 0 ? l->others->pdata[0] : "");
        cut_at_digit(greeting);
        g_free(l->out->greeting);
        l->out->greeting = greeting;
    }
    listen_for_notices(l, listen_s);
    if (!again)
        dt_learner_set_replies(l);
    l->expects_greeting = FALSE;
    if (!again)
        dt_learn_tell(l,
                      *l->dialect.greeting ? _("it greets with '%s'") : _("it sends no greeting%s"),
                      l->dialect.greeting);
    return l->error == NULL;
}

/* The last line that arrives as the reply, whatever its text; FALSE if none does. */
static gboolean ask(DtLearner *l, const char *line, char reply[MOST_REPLY])
{
    const double start = dt_learn_now_s(l);
    g_autofree char *text = g_strconcat(line, "\n", NULL);
    l->line = line;
    if (dt_learn_begin(l, text, 1))
        while (l->others->len == 0 && l->error == NULL && dt_learn_now_s(l) < start + l->wait_s)
            dt_learn_hear_some(l, start + l->wait_s - dt_learn_now_s(l));
    dt_learn_hear(l, CLAMP(2 * (dt_learn_now_s(l) - start), 0.15, 1), 1);
    l->line = NULL;
    if (l->others->len == 0 || l->error != NULL)
        return FALSE;
    g_strlcpy(reply, l->others->pdata[l->others->len - 1], MOST_REPLY);
    return TRUE;
}

/* The common beginning of all replies, cut back to whole words and before any number. */
static char *common_beginning(char (*replies)[MOST_REPLY], size_t n)
{
    size_t len = strlen(replies[0]);
    for (size_t i = 1; i < n; i++) {
        size_t same = 0;
        while (same < len && replies[0][same] == replies[i][same])
            same++;
        len = same;
    }
    gboolean broken = FALSE; /* in the middle of a word of one of them */
    for (size_t i = 0; i < n; i++)
        broken |=
            len > 0 && g_ascii_isalpha(replies[i][len]) && g_ascii_isalpha(replies[i][len - 1]);
    while (broken && len > 0 && replies[0][len - 1] != ' ')
        len--;
    char *text = g_strndup(replies[0], len);
    cut_at_digit(text);
    return text;
}

enum { NONSENSE = 4 };

/* Lines that no controller accepts, wrong in different ways; returns how many are answered. The
 * common beginning of the answers marks a refusal; it may be empty. */
static size_t learn_refusal(DtLearner *l, char replies[NONSENSE][MOST_REPLY])
{
    static const char *const nonsense[NONSENSE] = {"G9871", "X--1", "(", "M5 G"};
    size_t n = 0;
    for (size_t i = 0; i < NONSENSE; i++)
        n += ask(l, nonsense[i], replies[n]) ? 1 : 0;
    g_free(l->out->refuse);
    l->out->refuse = n > 0 ? common_beginning(replies, n) : g_strdup("");
    l->silent_refusal = n == 0;
    return n;
}

static gboolean is_refusal(const DtLearner *l, const char *reply, char (*refusals)[MOST_REPLY],
                           size_t n)
{
    if (dt_reply_of(NULL, l->out->refuse, reply) == DT_REPLY_REFUSE)
        return TRUE;
    for (size_t i = 0; i < n; i++)
        if (strcmp(reply, refusals[i]) == 0)
            return TRUE;
    return FALSE;
}

/* Whether a beginning distinguishes lines that are accepted from all that were refused. */
static gboolean tells_apart(const DtLearner *l, const char *accept, char (*refusals)[MOST_REPLY],
                            size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (dt_reply_of(accept, l->out->refuse, refusals[i]) == DT_REPLY_ACCEPT)
            return FALSE;
    return *accept != '\0';
}

/* Lines that most controllers accept and that move nothing. */
static gboolean learn_acceptance(DtLearner *l, char (*refusals)[MOST_REPLY], size_t n_refusals)
{
    static const char *const harmless[] = {"G90", "G21", "M5", "G94", "G4 P0"};
    char replies[3][MOST_REPLY];
    for (size_t i = 0; i < G_N_ELEMENTS(harmless) && l->error == NULL; i++) {
        if (!ask(l, harmless[i], replies[0]) || is_refusal(l, replies[0], refusals, n_refusals))
            continue;
        size_t n = 1;
        while (n < 3 && ask(l, harmless[i], replies[n]))
            n++;
        g_free(l->out->accept);
        l->out->accept = common_beginning(replies, n);
        l->base = harmless[i];
        if (tells_apart(l, l->out->accept, refusals, n_refusals))
            return TRUE;
    }
    return FALSE;
}

/* The mean of a few, and whether each line is answered exactly once: an extra reply would be
 * taken for that of the next line. */
static gboolean check_answers(DtLearner *l)
{
    enum { TIMES = 3 };
    double sum = 0;
    size_t answers = 0;
    for (int i = 0; i < TIMES && l->error == NULL; i++) {
        const double start = dt_learn_now_s(l);
        if (dt_learn_ask(l, l->base, l->wait_s) != DT_REPLY_ACCEPT)
            continue;
        const double took = dt_learn_now_s(l) - start;
        sum += took;
        answers++;
        dt_learn_drain(l, MAX(0.2, 2 * took), 1.5);
        if (dt_traffic_unasked(l->traffic) > 0) {
            g_set_error(&l->error, DT_ERROR, DT_ERROR_INPUT,
                        "the controller says '%s' more than once for a line, or unasked: it is not "
                        "clear which line it answers",
                        l->out->accept);
            return FALSE;
        }
    }
    l->out->latency_s = answers > 0 ? sum / (double)answers : 0;
    return answers > 0;
}

static void set_unclear(DtLearner *l, gboolean answered)
{
    if (l->error != NULL)
        return;
    g_set_error_literal(
        &l->error, DT_ERROR, DT_ERROR_INPUT,
        answered ? N_("the controller's replies do not distinguish a line that it accepts from one "
                      "that it refuses")
                 : N_("the controller answers no line; check the bit rate and the port"));
}

static gboolean try_replies(DtLearner *l, gboolean *answered)
{
    char refusals[NONSENSE][MOST_REPLY];
    g_clear_pointer(&l->out->accept, g_free);
    g_clear_pointer(&l->out->refuse, g_free);
    dt_learner_set_replies(l);
    const size_t n = learn_refusal(l, refusals);
    const gboolean good = l->error == NULL && learn_acceptance(l, refusals, n);
    *answered = *answered || n > 0 || l->out->accept != NULL;
    if (good)
        dt_learner_set_replies(l);
    return good;
}

gboolean dt_learn_replies(DtLearner *l)
{
    enum { TIMES = 3 };
    gboolean good = FALSE, answered = FALSE;
    l->wait_s = 3;
    l->base = NULL;
    dt_learn_send(l, "\n", 1); /* ends what remains of an earlier line */
    dt_learn_drain(l, 0.5, 2);
    for (int i = 0; i < TIMES && !good && l->error == NULL && (i == 0 || answered); i++) {
        if (i > 0)
            listen_for_notices(l, 4); /* another message may have come in between */
        good = try_replies(l, &answered);
    }
    good = good && check_answers(l);
    if (!good) {
        set_unclear(l, answered);
        return FALSE;
    }
    l->wait_s = CLAMP(10 * l->out->latency_s, 1, 5);
    dt_learn_tell(l,
                  *l->out->refuse
                      ? _("it accepts a line with '%s' and refuses one with '%s', after %.0f ms")
                      : _("it accepts a line with '%s' and refuses one with anything else%s, "
                          "after %.0f ms"),
                  l->out->accept, l->out->refuse, l->out->latency_s * 1000);
    return l->error == NULL;
}
