/* learn-replies: the greeting, and how lines are answered. */
#include "link/learn/learn.h"

#include <string.h>

/* The text up to its first digit, without the blanks before that: numbers change from reply to
 * reply. */
static void cut_at_digit(char *text)
{
    text[strcspn(text, "0123456789")] = '\0';
    g_strchomp(text);
}

/* Opening the port resets many boards (common practice, no source): the greeting may take seconds.
 * A board that says nothing is not reset, or has no greeting. */
gboolean dt_learn_greeting(DtLearner *l)
{
    char line[MOST_REPLY], greeting[MOST_REPLY] = "";
    double wait = l->options.boot_s;
    dt_learn_tell(l, "waiting up to %.0f s for its greeting", wait);
    while (dt_learn_read_line(l, wait, line)) {
        wait = 0.5; /* more lines of the same greeting */
        if (greeting[0] == '\0')
            g_strlcpy(greeting, line, sizeof greeting);
    }
    cut_at_digit(greeting);
    l->out->greeting = g_strdup(greeting);
    dt_learn_tell(l, greeting[0] ? "it greets with '%s'" : "it greets with nothing%s", greeting);
    return l->error == NULL;
}

/* One reply, whatever it says. */
static gboolean ask(DtLearner *l, const char *line, char reply[MOST_REPLY])
{
    g_autofree char *text = g_strconcat(line, "\n", NULL);
    return dt_learn_send(l, text, strlen(text)) && dt_learn_read_line(l, l->wait_s, reply);
}

/* What all replies have in common, cut back to whole words and before any number. */
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

/* Lines that no controller takes, wrong in different ways. */
static gboolean learn_refusal(DtLearner *l)
{
    static const char *const nonsense[] = {"G9871", "X--1", "(", "M5 G"};
    char replies[G_N_ELEMENTS(nonsense)][MOST_REPLY];
    size_t n = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(nonsense); i++)
        n += ask(l, nonsense[i], replies[n]) ? 1 : 0;
    if (n == 0)
        return FALSE;
    l->out->refuse = common_beginning(replies, n);
    return *l->out->refuse != '\0';
}

/* Lines that most controllers take and that move nothing. */
static gboolean learn_acceptance(DtLearner *l)
{
    static const char *const harmless[] = {"G90", "G21", "M5", "G94", "G4 P0"};
    char replies[3][MOST_REPLY];
    for (size_t i = 0; i < G_N_ELEMENTS(harmless); i++) {
        if (!ask(l, harmless[i], replies[0]) || dt_reply_of(NULL, l->out->refuse, replies[0]) == DT_REPLY_REFUSE)
            continue;
        l->base = harmless[i];
        gint64 start = g_get_monotonic_time();
        size_t n = 1;
        while (n < 3 && ask(l, l->base, replies[n]))
            n++;
        l->out->latency_s = (double)(g_get_monotonic_time() - start) / 1e6 / (double)MAX(n - 1, 1);
        l->out->accept = common_beginning(replies, n);
        if (*l->out->accept != '\0')
            return TRUE;
    }
    return FALSE;
}

gboolean dt_learn_replies(DtLearner *l)
{
    l->wait_s = 3;
    dt_learn_send(l, "\n", 1); /* ends whatever a line before has left */
    dt_learn_drain(l, 0.5);
    if (!learn_refusal(l) || !learn_acceptance(l)) {
        if (l->error == NULL)
            g_set_error(&l->error, DT_ERROR, DT_ERROR_INPUT,
                        l->out->refuse == NULL
                            ? "the controller answers no line; check the bit rate and the port"
                            : "the controller's replies do not tell a line that it takes from one "
                              "that it refuses");
        return FALSE;
    }
    l->wait_s = CLAMP(10 * l->out->latency_s, 1, 5);
    dt_learn_tell(l, "it takes a line with '%s' and refuses one with '%s', after %.0f ms",
               l->out->accept, l->out->refuse, l->out->latency_s * 1000);
    return TRUE;
}
