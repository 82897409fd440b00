/* learn-sizes: the longest line and the receive window. */
#include "drawtrue/code.h"
#include "link/learn/learn.h"

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

/* Whether a line of this length is answered exactly once, as it should be: a controller may
 * split a long line, or drop its end and accept the rest. */
static gboolean answers_length(DtLearner *l, const GString *line, DtReply wanted)
{
    if (dt_learn_try(l, line->str) != wanted)
        return FALSE;
    dt_learn_drain(l, 0.05 + 2 * l->out->latency_s, l->wait_s);
    const size_t answers = l->accepted + l->refused + dt_traffic_unasked(l->traffic);
    return answers <= 1;
}

/* Whether a line of this length is accepted and read to its end. */
static gboolean takes_length(DtLearner *l, int length)
{
    static const char nonsense[] = " G"; /* of which a truncated line keeps nothing */
    g_autoptr(GString) good = spread_line(l, length), bad = g_string_new(l->base);
    while ((int)bad->len < length - (int)strlen(nonsense))
        g_string_append_c(bad, ' ');
    g_string_append(bad, nonsense);
    return answers_length(l, good, DT_REPLY_ACCEPT) && answers_length(l, bad, DT_REPLY_REFUSE);
}

static int longest_line(DtLearner *l)
{
    int least = (int)(strlen(l->base) + strlen(l->other)) + 2;
    int most = LONGEST_TRIED;
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

static const char filler[] = "M5\n";

enum {
    DWELL_BYTES = 8 /* "G4 P0.5" or "G4 P500", and its end */,
    FILLER_BYTES = sizeof filler - 1,
    DWELL_PADDING = 4
};

/* Sends this many bytes at once: a dwell, padded by `padding` blanks, that delays the
 * controller, and lines after it that lift the pen, which mean the same however they are
 * mutilated. Counts the lines that are accepted; the number sent goes into `sent`. */
static int burst(DtLearner *l, int bytes, int padding, int *sent)
{
    int rest = bytes - DWELL_BYTES - padding, fillers = rest / FILLER_BYTES;
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_printf(text, "%s%*s\n", l->dwell_in_ms ? "G4 P500" : "G4 P0.5", padding, "");
    for (int i = 0; i < fillers; i++) {
        if (i == fillers - 1)
            g_string_append_len(text, "  ", rest % FILLER_BYTES);
        g_string_append(text, filler);
    }
    *sent = fillers + 1;
    if (!dt_learn_begin(l, text->str, (size_t)*sent))
        return 0;
    double wait_s = l->wait_s + 1;
    for (size_t i = 1; i <= (size_t)*sent; i++, wait_s = l->wait_s) {
        dt_learn_hear(l, wait_s, i);
        if (l->accepted + l->refused < i)
            break;
    }
    const int taken = (int)l->accepted;
    if (taken < *sent) {
        dt_learn_send(l, "\n", 1); /* ends what is left of a mutilated line */
        dt_learn_drain(l, 0.3 + 2 * l->out->latency_s, 2 * l->wait_s);
    }
    return taken;
}

/* Whether this many unanswered bytes are all kept. */
static gboolean keeps(DtLearner *l, int bytes, int padding)
{
    int sent;
    return burst(l, bytes, padding, &sent) == sent;
}

/* The refusal of a line of this length with a wrong check, without numbers. */
static void reason_at(DtLearner *l, int length, char reason[MOST_REPLY])
{
    enum { CHECK_BYTES = 7 }; /* (*1A2B) */
    g_autoptr(GString) line = spread_line(l, length - CHECK_BYTES);
    g_autofree char *checked = dt_code_add_check(line->str, line->len);
    char *digit = checked + strlen(checked) - 2;
    *digit = *digit == '0' ? '1' : '0';
    reason[0] = '\0';
    if (dt_learn_try(l, checked) != DT_REPLY_REFUSE)
        return;
    char *to = reason;
    for (const char *from = l->reason; *from; from++)
        if (!g_ascii_isdigit(*from))
            *to++ = *from;
    *to = '\0';
}

/* A line with a wrong check is refused for its check as long as it fits the buffer completely,
 * and for its length beyond that, whatever the longest accepted line: so no byte is lost. 0 if
 * it behaves otherwise. */
static int window_by_checks(DtLearner *l)
{
    int least = 32, most = LONGEST_TRIED;
    char fits[MOST_REPLY], beyond[MOST_REPLY], reason[MOST_REPLY];
    if ((int)(strlen(l->base) + strlen(l->other)) + 8 > least)
        return 0;
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

/* The most bytes that are kept, found by bursts of growing size; 0 if not even a line is. The
 * part of the first burst that is too long which is accepted shows how many bytes of it were
 * kept, to within a line; from there on bursts grow by one byte at most. */
static int most_kept(DtLearner *l, int longest)
{
    static const int sizes[] = {63,  64,  65,  80,  96,  112, 127, 128, 129, 144, 160, 192,  224,
                                255, 256, 257, 320, 384, 448, 511, 512, 513, 640, 768, 1023, 1024};
    int known = 0, taken = 0, sent = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(sizes) && l->error == NULL && taken == sent; i++) {
        if (sizes[i] <= longest)
            continue;
        taken = burst(l, sizes[i], 0, &sent);
        if (taken == sent)
            known = sizes[i];
    }
    if (taken == sent) /* more than is useful; unless nothing delayed it, which proves nothing */
        return l->dwells ? known : 0;
    int counted = DWELL_BYTES + FILLER_BYTES * (taken - 1);
    if (counted > known && keeps(l, counted, 0))
        known = counted;
    int most = known + 2 * FILLER_BYTES; /* the last line sent was wider */
    while (known > 0 && known < most && l->error == NULL && keeps(l, known + 1, 0))
        known++;
    return known;
}

/* A controller that removes a line from its buffer before executing it keeps that many bytes
 * more, the more the longer the line is; the next one may be short. */
static gboolean takes_out_its_line(DtLearner *l, int kept, int longest)
{
    return longest >= DWELL_BYTES + DWELL_PADDING && keeps(l, kept + DWELL_PADDING, DWELL_PADDING);
}

/* Whether lines can be delayed by a dwell, and others sent after it that move nothing. */
static gboolean can_burst(const DtLearner *l)
{
    return dt_learn_knows(l, "G4") && dt_learn_knows(l, "M5") && !dt_learn_is_harmful(l, filler);
}

/* A line that just fits the buffer shows its size without losing a byte; but whether bytes are
 * kept while a line is executed is shown only by bursts after a dwell. If that cannot be tried,
 * a controller that checks its lines is trusted, since lost lines are sent again. */
static int window(DtLearner *l, int longest)
{
    const int by_checks = l->out->line_check ? window_by_checks(l) : 0;
    const int guess = by_checks > longest           ? by_checks
                      : is_buffer_size(longest + 1) ? longest + 1
                                                    : 0;
    if (!can_burst(l))
        return l->out->line_check ? guess : 0;
    const gboolean trusted = l->dwells || l->out->line_check;
    if (trusted && guess > DWELL_BYTES + FILLER_BYTES && keeps(l, guess - 1, 0))
        return guess;
    static const double too_slow_s = 0.25; /* a burst would take minutes, without a gain */
    const int kept = l->out->latency_s < too_slow_s ? most_kept(l, longest) : 0;
    if (kept == 0)
        return 0;
    const int found = takes_out_its_line(l, kept, longest) ? kept - DWELL_BYTES : kept;
    return found > longest ? found : 0; /* less than a line: each line waits for its reply */
}

void dt_learn_sizes(DtLearner *l)
{
    if (l->other == NULL)
        return;
    int longest = longest_line(l);
    if (longest == 0)
        return;
    dt_learn_tell(l, "its longest line is %d bytes", longest);
    l->out->longest_line = longest;
    l->out->window = window(l, longest);
    if (l->out->window > 0)
        dt_learn_tell(l, "its receive window is %d bytes", l->out->window);
    else
        dt_learn_tell(l, "no receive window was found: each line waits for the reply to the last");
}
