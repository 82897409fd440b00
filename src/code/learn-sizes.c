/* learn-sizes: the longest line and the receive window. */
#include "learn.h"

#include <string.h>

enum { LONGEST_TRIED = 1024 };

/* Two words far apart. */
static GString *spread_line(const DtLearner *l, int length)
{
    GString *line = g_string_new(l->base);
    int tail = (int)strlen(l->other);
    while ((int)line->len < length - tail)
        g_string_append_c(line, ' ');
    g_string_append(line, l->other);
    return line;
}

/* Whether a line of this many bytes is taken. */
static gboolean takes_length(DtLearner *l, int length)
{
    g_autoptr(GString) line = spread_line(l, length);
    return learn_try(l, line->str) == ANSWER_TAKEN;
}

static int longest_line(DtLearner *l)
{
    int least = (int)(strlen(l->base) + strlen(l->other)) + 1, most = LONGEST_TRIED;
    if (!takes_length(l, least))
        return 0;
    while (most - least > 1 && l->error == NULL) {
        int middle = least + 1 == most ? most : (least + most) / 2;
        if (takes_length(l, middle))
            least = middle;
        else
            most = middle;
    }
    return least;
}

static gboolean is_buffer_size(int bytes)
{
    return bytes >= 32 && ((bytes & (bytes - 1)) == 0 || (bytes & (bytes + 1)) == 0);
}

/* Whether this many bytes unanswered are all kept: a dwell holds the controller up while lines that
 * lift the pen, which mean the same however they are mutilated, wait behind it. */
static gboolean keeps(DtLearner *l, int bytes)
{
    const char *dwell = "G4 P0.5\n", *filler = "M5\n";
    int rest = bytes - (int)strlen(dwell), fillers = rest / 3, padding = rest % 3;
    g_autoptr(GString) burst = g_string_new(dwell);
    for (int i = 0; i < fillers; i++) {
        if (i == fillers - 1)
            g_string_append_len(burst, "  ", padding);
        g_string_append(burst, filler);
    }
    if (!learn_send(l, burst->str, burst->len))
        return FALSE;
    char reply[MOST_REPLY];
    int taken = 0;
    while (taken < fillers + 1 && learn_read_line(l, taken ? l->wait_s : l->wait_s + 1, reply))
        taken += g_str_has_prefix(reply, l->out->accept) ? 1 : 0;
    if (taken == fillers + 1)
        return TRUE;
    learn_send(l, "\n", 1); /* ends what is left of a mutilated line */
    learn_drain(l, l->wait_s);
    return FALSE;
}

/* How a line of this many bytes with a wrong check is refused, numbers left out. */
static void reason_at(DtLearner *l, int length, char reason[MOST_REPLY])
{
    enum { CHECK_BYTES = 7 }; /* (*1A2B) */
    g_autoptr(GString) line = spread_line(l, length - CHECK_BYTES);
    g_autofree char *checked = dt_code_add_check(line->str, line->len);
    char *digit = checked + strlen(checked) - 2;
    *digit = *digit == '0' ? '1' : '0';
    reason[0] = '\0';
    if (learn_ask(l, checked, l->wait_s, reason) != ANSWER_REFUSED) {
        reason[0] = '\0';
        return;
    }
    char *to = reason;
    for (const char *from = reason; *from; from++)
        if (!g_ascii_isdigit(*from))
            *to++ = *from;
    *to = '\0';
}

/* A line whose check is wrong is refused for its check as long as it fits the buffer whole, and for
 * its length beyond, whatever the longest line is that is taken: so no byte is lost. 0 where it is
 * not so. */
static int window_by_checks(DtLearner *l)
{
    int least = 32, most = LONGEST_TRIED;
    char fits[MOST_REPLY], beyond[MOST_REPLY], reason[MOST_REPLY];
    reason_at(l, least, fits);
    reason_at(l, most, beyond);
    if (*fits == '\0' || *beyond == '\0' || strcmp(fits, beyond) == 0)
        return 0;
    while (most - least > 1 && l->error == NULL) {
        int middle = (least + most) / 2;
        reason_at(l, middle, reason);
        *(strcmp(reason, fits) == 0 ? &least : &most) = middle;
    }
    return least + 1; /* its line end lies in the buffer too */
}

/* A line that just fits the buffer tells its size without losing a byte. Where lines are limited
 * more narrowly than that, bursts of growing size are tried behind a dwell; one byte more than a
 * usual size loses one byte at most. */
static int window(DtLearner *l, int longest)
{
    static const int sizes[] = {63,  64,  65,  127, 128, 129,  255,
                                256, 257, 511, 512, 513, 1023, 1024};
    int by_checks = l->out->line_check ? window_by_checks(l) : 0;
    if (by_checks > longest)
        return by_checks;
    if (is_buffer_size(longest + 1) || !learn_knows(l, "G4") || !learn_knows(l, "M5"))
        return is_buffer_size(longest + 1) ? longest + 1 : 0;
    int known = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(sizes) && l->error == NULL; i++) {
        if (sizes[i] <= longest)
            continue;
        if (!keeps(l, sizes[i]))
            break;
        known = sizes[i];
    }
    return known ? known : longest + 1;
}

void learn_sizes(DtLearner *l)
{
    if (l->other == NULL)
        return;
    int longest = longest_line(l);
    if (longest == 0)
        return;
    learn_tell(l, "its longest line is %d bytes", longest);
    l->out->longest_line = longest;
    l->out->window = window(l, longest);
    if (l->out->window)
        learn_tell(l, "its receive window is %d bytes", l->out->window);
}

/* Bytes that act at once
 * --------------------------------------------------------------------------- */

/* ENQ is answered by a line that is no reply to a line. Where it is part of the line instead, the
 * line is refused. */
static gboolean answers_enq(DtLearner *l)
{
    char reply[MOST_REPLY];
    gboolean answered = learn_send(l, "\x05", 1) && learn_read_line(l, MIN(l->wait_s, 1), reply);
    DtAnswer next = learn_try(l, l->base);
    return answered && next == ANSWER_TAKEN;
}

void learn_bytes_at_once(DtLearner *l)
{
    l->out->asks = answers_enq(l);
    if (!l->out->asks)
        learn_try(l, l->base);    /* a line on which the byte was stuck is over */
    learn_send(l, "\x13\x11", 2); /* hold, and go on at once */
    l->out->holds = learn_try(l, l->base) == ANSWER_TAKEN;
    if (!l->out->holds)
        learn_try(l, l->base);
}
