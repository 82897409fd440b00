/* learn-wire: sends lines to the controller and classifies its replies with the matcher that
 * runs use. */
#include "link/learn/learn.h"

#include <math.h>
#include <string.h>

/* What the matcher tells ---------------------------------------------------------------------- */

static void on_taken(const DtSent *line, void *user)
{
    (void)line;
    ((DtLearner *)user)->accepted++;
}

static void on_refused(const DtSent *line, const char *reason, void *user)
{
    DtLearner *l = user;
    (void)line;
    l->refused++;
    g_strlcpy(l->reason, reason, sizeof l->reason);
}

static void blame(DtLearner *l, const char *line)
{
    const guint times = GPOINTER_TO_UINT(g_hash_table_lookup(l->restarts, line));
    g_hash_table_insert(l->restarts, g_strdup(line), GUINT_TO_POINTER(times + 1));
}

static void end_pass(DtLearner *l)
{
    l->restarted = TRUE;
    if (l->error == NULL)
        g_set_error_literal(&l->error, DT_ERROR, DT_ERROR_INPUT, "the board restarted");
}

/* A message that it repeats without restarting is not a greeting. */
static void note_vain_greeting(DtLearner *l, const char *text)
{
    enum { MOST_VAIN = 3 };
    l->greeted = FALSE;
    if (++l->greetings_in_vain < MOST_VAIN)
        end_pass(l);
    else
        dt_learn_take_notice(l, text);
}

static void on_greeting(const char *text, void *user)
{
    DtLearner *l = user;
    l->greeted = TRUE;
    if (!l->expects_greeting && !l->restarted && l->line == NULL)
        note_vain_greeting(l, text);
}

/* Whether the board has greeted during the current line, answered or not. */
static void judge_greeting(DtLearner *l)
{
    if (!l->greeted || l->expects_greeting || l->error != NULL)
        return;
    if (l->accepted + l->refused > 0) {
        note_vain_greeting(l, l->dialect.greeting);
        return;
    }
    blame(l, l->line);
    end_pass(l);
}

static void on_state(const DtBoardState *state, void *user)
{
    DtLearner *l = user;
    l->states++;
    l->state = *state;
}

static void on_other(const char *text, void *user)
{
    enum { MOST_OTHERS = 256 };
    DtLearner *l = user;
    if (l->others->len < MOST_OTHERS)
        g_ptr_array_add(l->others, g_strdup(text));
}

static void on_disagreed(unsigned wanted, void *user)
{
    (void)wanted;
    (void)user;
}

static const DtTrafficEvents events = {
    .taken = on_taken,
    .refused = on_refused,
    .greeting = on_greeting,
    .state = on_state,
    .disagreed = on_disagreed,
    .other = on_other,
};

void dt_learner_set_replies(DtLearner *l)
{
    DtLearnt *out = l->out;
    l->dialect = (DtDialect){
        .greeting = out->greeting ? out->greeting : (char *)"",
        .accept = out->accept ? out->accept : (char *)"",
        .refuse = out->refuse ? out->refuse : (char *)"",
        .notices = out->notices ? out->notices : (char *)"",
        .words = (char *)"",
        .ask_state = (char *)"",
    };
}

void dt_learner_init(DtLearner *l, const DtProfile *p, const DtLearnJob *job, DtLearnt *out)
{
    memset(l, 0, sizeof *l);
    l->profile = p;
    l->options = *job;
    l->out = out;
    l->end_us = G_MAXINT64;
    dt_learner_set_replies(l);
    l->traffic = dt_traffic_new(&l->dialect, &events, l);
    l->others = g_ptr_array_new_with_free_func(g_free);
    l->restarts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    l->tried = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    l->sent = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    l->words = g_string_new(NULL);
    l->settings = g_string_new(NULL);
}

void dt_learner_clear(DtLearner *l)
{
    dt_traffic_free(l->traffic);
    g_ptr_array_unref(l->others);
    g_hash_table_unref(l->restarts);
    g_hash_table_unref(l->tried);
    g_hash_table_unref(l->sent);
    g_string_free(l->words, TRUE);
    g_string_free(l->settings, TRUE);
    g_clear_error(&l->error);
}

/* Bytes ------------------------------------------------------------------------------------- */

static gint64 now_us(const DtLearner *l)
{
    return l->options.wire.now_us(l->options.wire.user);
}

double dt_learn_now_s(const DtLearner *l)
{
    return (double)now_us(l) / 1e6;
}

gboolean dt_learn_send(DtLearner *l, const char *bytes, gsize n)
{
    if (l->error)
        return FALSE;
    const DtWire *wire = &l->options.wire;
    return wire->write(wire->user, bytes, n, &l->error);
}

gssize dt_learn_hear_some(DtLearner *l, double wait_s)
{
    char some[512];
    const DtWire *wire = &l->options.wire;
    if (l->error)
        return -1;
    const gssize n = wire->read(wire->user, some, sizeof some, wait_s, &l->error);
    const gint64 now = now_us(l);
    if (n > 0)
        dt_traffic_feed(l->traffic, some, (gsize)n, now);
    if (now > l->end_us && l->error == NULL)
        g_set_error(
            &l->error, DT_ERROR, DT_ERROR_INPUT,
            "learning took too long: the board answers too slowly, or talks without end%s%s",
            l->line ? _("; the last line was ") : "", l->line ? l->line : "");
    return n;
}

void dt_learn_hear(DtLearner *l, double wait_s, size_t answers)
{
    const double until = dt_learn_now_s(l) + wait_s;
    double left = wait_s;
    while (l->error == NULL && left > 0 && l->accepted + l->refused < answers) {
        dt_learn_hear_some(l, left);
        left = until - dt_learn_now_s(l);
    }
}

void dt_learn_drain(DtLearner *l, double quiet_s, double most_s)
{
    const double until = dt_learn_now_s(l) + most_s;
    while (l->error == NULL && dt_learn_now_s(l) < until)
        if (dt_learn_hear_some(l, quiet_s) <= 0)
            break;
}

/* Notices ----------------------------------------------------------------------------------- */

static void join_notice(DtLearner *l, const char *prefix)
{
    enum { MOST_NOTICES = 160 /* bytes */ };
    const char *old = l->dialect.notices;
    if (strlen(old) + strlen(prefix) + 2 > MOST_NOTICES)
        return;
    char *joined = *old ? g_strdup_printf("%s, %s", old, prefix) : g_strdup(prefix);
    g_free(l->out->notices);
    l->out->notices = joined;
    if (l->out->greeting != NULL && *l->out->greeting != '\0' &&
        dt_reply_is_notice(joined, l->out->greeting)) {
        g_free(l->out->greeting); /* it says so at other times too */
        l->out->greeting = g_strdup("");
    }
    dt_learner_set_replies(l);
}

/* Whether it is a line of ours, after a prompt or a byte that should act at once; a long one may
 * be truncated. */
static gboolean is_echo(const DtLearner *l, const char *text)
{
    enum { ENOUGH = 8 /* bytes */ };
    while (*text != '\0' && !g_ascii_isalnum(*text))
        text++;
    if (*text == '\0')
        return TRUE; /* of an empty line */
    GHashTableIter each;
    gpointer line;
    g_hash_table_iter_init(&each, l->sent);
    while (g_hash_table_iter_next(&each, &line, NULL)) {
        const char *ours = line;
        ours += strspn(ours, " ");
        const gsize n = MIN(strlen(ours), ENOUGH);
        if (n > 0 && strncmp(text, ours, n) == 0)
            return TRUE;
    }
    return FALSE;
}

void dt_learn_take_notice(DtLearner *l, const char *text)
{
    if (is_echo(l, text))
        return;
    g_autofree char *prefix = g_strndup(text, strcspn(text, " ,0123456789"));
    if (strspn(prefix, "GMNXYZFSPIJR") == strlen(prefix)) /* an empty line, or one that lost
                                                           * bytes */
        return;
    if ((*l->dialect.accept && strstr(prefix, l->dialect.accept)) ||
        dt_reply_is_notice(l->dialect.notices, text) ||
        dt_reply_of(l->dialect.accept, l->dialect.refuse, prefix) != DT_REPLY_OTHER ||
        g_str_has_prefix(l->dialect.accept, prefix) || g_str_has_prefix(l->dialect.refuse, prefix))
        return;
    for (const char *c = prefix; *c != '\0'; c++)
        if (*c <= ' ' || *c > '~') /* noise */
            return;
    dt_learn_tell(l, "it says '%s' unasked", prefix);
    join_notice(l, prefix);
}

/* What came before an answer was not an answer. */
static void note_notices(DtLearner *l)
{
    for (guint i = 0; i < l->others->len; i++)
        dt_learn_take_notice(l, l->others->pdata[i]);
}

/* Lines ------------------------------------------------------------------------------------- */

gboolean dt_learn_is_harmful(const DtLearner *l, const char *line)
{
    return GPOINTER_TO_UINT(g_hash_table_lookup(l->restarts, line)) >= 2;
}

void dt_learn_void(DtLearner *l, const char *line)
{
    if (l->error != NULL)
        return;
    blame(l, line);
    blame(l, line); /* once is enough */
    l->hung = TRUE;
    end_pass(l);
    dt_learn_tell(l, "it has not answered since '%s'", line);
}

gboolean dt_learn_begin(DtLearner *l, const char *text, size_t lines)
{
    dt_learn_drain(l, 0, 0.2); /* what is there belongs to no line */
    dt_traffic_reset(l->traffic, 1);
    l->accepted = l->refused = l->states = 0;
    l->reason[0] = '\0';
    g_ptr_array_set_size(l->others, 0);
    g_auto(GStrv) each = g_strsplit(text, "\n", (gint)lines + 1);
    for (size_t i = 0; i < lines && each[i] != NULL; i++) {
        DtSent sent = {.kind = DT_LINE_OTHER,
                       .dwell_s = 1e6}; /* no position that it reports answers it */
        g_strlcpy(sent.text, each[i], sizeof sent.text - 32);
        dt_traffic_push(l->traffic, &sent, now_us(l));
        g_hash_table_add(l->sent, g_strdup(each[i]));
    }
    gsize waiting;
    dt_traffic_output(l->traffic, &waiting);
    dt_traffic_written(l->traffic, waiting); /* they are written here, whatever their length */
    return dt_learn_send(l, text, strlen(text));
}

/* If anything except an acceptance counts as a refusal, another message came, or none. */
static DtReply by_exclusion(DtLearner *l)
{
    const double grace_s = MIN(l->wait_s, 0.3 + 2 * l->out->latency_s);
    if (l->others->len > 0) {
        dt_learn_hear(l, grace_s, 1);
        return l->accepted ? DT_REPLY_ACCEPT : DT_REPLY_REFUSE;
    }
    return l->silent_refusal ? DT_REPLY_REFUSE : DT_REPLY_OTHER;
}

DtReply dt_learn_ask(DtLearner *l, const char *line, double wait_s)
{
    g_autofree char *text = g_strconcat(line, "\n", NULL);
    const gboolean excludes = *l->dialect.accept != '\0' && *l->dialect.refuse == '\0';
    l->line = line;
    if (!l->expects_greeting)
        l->greeted = FALSE;
    if (dt_learn_begin(l, text, 1)) {
        const double until = dt_learn_now_s(l) + wait_s;
        for (double left = wait_s; left > 0 && l->error == NULL && l->accepted + l->refused == 0 &&
                                   !(excludes && l->others->len > 0);
             left = until - dt_learn_now_s(l))
            dt_learn_hear_some(l, left);
    }
    judge_greeting(l);
    l->line = NULL;
    if (l->error != NULL)
        return DT_REPLY_OTHER;
    if (l->accepted > 0) {
        if (!excludes) /* or they may be late refusals */
            note_notices(l);
        return DT_REPLY_ACCEPT;
    }
    if (l->refused > 0) {
        note_notices(l);
        return DT_REPLY_REFUSE;
    }
    return excludes ? by_exclusion(l) : DT_REPLY_OTHER;
}

/* Whether the board still answers a line that it accepts. */
static gboolean is_alive(DtLearner *l)
{
    for (int i = 0; i < 2 && l->error == NULL; i++) {
        dt_learn_send(l, "\n", 1); /* ends what remains of a line */
        dt_learn_drain(l, 0.3 + l->out->latency_s, l->wait_s);
        if (dt_learn_ask(l, l->base, l->wait_s) == DT_REPLY_ACCEPT)
            return TRUE;
    }
    return FALSE;
}

DtReply dt_learn_try_for(DtLearner *l, const char *line, double wait_s)
{
    if (l->error != NULL || dt_learn_is_harmful(l, line))
        return DT_REPLY_OTHER;
    DtReply reply = dt_learn_ask(l, line, wait_s);
    const gboolean silent =
        l->error == NULL && l->others->len == 0 &&
        (reply == DT_REPLY_OTHER || (reply == DT_REPLY_REFUSE && l->refused == 0));
    static const double worth_it_s = 30;
    if (reply == DT_REPLY_OTHER && l->error == NULL &&
        wait_s < worth_it_s) { /* lost or garbled: once more */
        dt_learn_drain(l, 0.1 + l->out->latency_s, l->wait_s);
        reply = dt_learn_ask(l, line, wait_s);
    }
    if (silent && reply != DT_REPLY_ACCEPT && l->error == NULL && l->base != NULL && !is_alive(l))
        dt_learn_void(l, line);
    return l->error != NULL ? DT_REPLY_OTHER : reply;
}

DtReply dt_learn_try(DtLearner *l, const char *line)
{
    return dt_learn_try_for(l, line, l->wait_s);
}

void dt_learn_tell(DtLearner *l, const char *format, ...)
{
    if (l->options.tell == NULL)
        return;
    va_list args;
    va_start(args, format);
    g_autofree char *text = g_strdup_vprintf(_(format), args);
    va_end(args);
    l->options.tell(text, l->options.user);
}
