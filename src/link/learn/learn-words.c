/* learn-words: which words are accepted. Nothing here moves, except dt_learn_moving_words(),
 * which is called only after the user has agreed. */
#include "drawtrue/code.h"
#include "link/learn/learn.h"
#include "link/session.h"

#include <string.h>

/* Each word with a line that contains it and has no effect, and what undoes its mode. A word
 * that needs others is tried only if those are accepted. */
static const struct {
    const char *word, *line, *undo, *needs;
} still[] = {
    {"G17", "G17", NULL, NULL},  {"G18", "G18", "G17", NULL}, {"G19", "G19", "G17", NULL},
    {"G20", "G20", "G21", NULL}, {"G21", "G21", NULL, NULL},  {"G40", "G40", NULL, NULL},
    {"G49", "G49", NULL, NULL},  {"G54", "G54", NULL, NULL},  {"G61", "G61", NULL, NULL},
    {"G64", "G64", NULL, NULL},  {"G80", "G80", NULL, NULL},  {"G90", "G90", NULL, NULL},
    {"G91", "G91", NULL, NULL},  {"G93", "G93", "G94", NULL}, {"G94", "G94", NULL, NULL},
    {"F", "F100", NULL, NULL},   {"G4", "G4 P0", NULL, NULL}, {"P", "G4 P0", NULL, NULL},
    {"M5", "M5", NULL, NULL},    {"S", "S0", NULL, NULL},
};

/* Moves of zero length. With incremental distances they are so anywhere; in absolute coordinates
 * only after homing. */
static const struct {
    const char *word, *line, *needs;
} zero_moves[] = {
    {"G0", "G0 X0", NULL}, {"X", "G0 X0", "G0"},      {"Y", "G0 Y0", "G0"},
    {"Z", "G0 Z0", "G0"},  {"G1", "G1 X0 F100", "F"}, {"G53", "G53 G0 X0", "G0"},
};

gboolean dt_learn_knows(const DtLearner *l, const char *word)
{
    g_autofree char *spaced = g_strdup_printf(" %s ", word);
    g_autofree char *all = g_strdup_printf(" %s ", l->words->str);
    return strstr(all, spaced) != NULL;
}

void dt_learn_note_tried(DtLearner *l, const char *word)
{
    g_hash_table_add(l->tried, g_strdup(word));
}

void dt_learn_add_word(DtLearner *l, const char *word)
{
    dt_learn_note_tried(l, word);
    if (!dt_learn_knows(l, word))
        g_string_append_printf(l->words, l->words->len ? " %s" : "%s", word);
}

void dt_learn_add_words_of(DtLearner *l, const char *line)
{
    for (const char *c = line; *c != '\0'; c++) {
        if (!g_ascii_isalpha(*c))
            continue;
        const char letter = g_ascii_toupper(*c);
        const gsize digits = strspn(c + 1, "0123456789.");
        g_autofree char *word = letter == 'G' || letter == 'M'
                                    ? g_strdup_printf("%c%.*s", letter, (int)digits, c + 1)
                                    : g_strdup_printf("%c", letter);
        dt_learn_add_word(l, word);
    }
}

gboolean dt_learn_try_word(DtLearner *l, const char *word, const char *line, const char *undo)
{
    const DtReply reply = dt_learn_try(l, line);
    if (reply != DT_REPLY_OTHER)
        dt_learn_note_tried(l, word);
    if (reply != DT_REPLY_ACCEPT)
        return FALSE;
    dt_learn_add_word(l, word);
    if (undo)
        dt_learn_try(l, undo);
    return TRUE;
}

static void try_zero_moves(DtLearner *l)
{
    for (size_t i = 0; i < G_N_ELEMENTS(zero_moves); i++)
        if (zero_moves[i].needs == NULL || dt_learn_knows(l, zero_moves[i].needs))
            dt_learn_try_word(l, zero_moves[i].word, zero_moves[i].line, NULL);
}

static gboolean takes_speed(DtLearner *l, int speed)
{
    g_autofree char *line = g_strdup_printf("S%d", speed);
    return dt_learn_try(l, line) == DT_REPLY_ACCEPT;
}

/* The highest S, while no spindle turns that would follow it: not on a machine whose pen is
 * lifted by a speed. */
static void learn_greatest_speed(DtLearner *l)
{
    const char *up = l->profile->dialect.pen_up;
    int good = 0, bad = 99999;
    if (!dt_learn_knows(l, "S") || !dt_learn_knows(l, "M5") || (up && strchr(up, 'S')) ||
        takes_speed(l, bad))
        return;
    while (bad - good > 1 && l->error == NULL) {
        int middle = (good + bad) / 2;
        *(takes_speed(l, middle) ? &good : &bad) = middle;
    }
    l->most_s = good;
    takes_speed(l, 0);
}

static double dwell_took_s(DtLearner *l, const char *dwell)
{
    const double start = dt_learn_now_s(l);
    dt_learn_try(l, dwell);
    dt_learn_try(l, l->base);
    return dt_learn_now_s(l) - start;
}

/* The unit of the dwell's number is measured, if lines wait for the dwell; otherwise that of the
 * profile stays. */
static void learn_dwell_unit(DtLearner *l)
{
    static const double dwell_s = 0.4;
    if (!dt_learn_knows(l, "G4"))
        return;
    const gboolean said_ms =
        l->profile->dialect.words != NULL && strstr(l->profile->dialect.words, "dwell:ms") != NULL;
    const double none_s = dwell_took_s(l, "G4 P0");
    const gboolean seconds = dwell_took_s(l, "G4 P0.4") - none_s > dwell_s / 2;
    l->dwells = seconds;
    if (!seconds && said_ms)
        l->dwells = dwell_took_s(l, "G4 P400") - none_s > dwell_s / 2;
    l->dwell_in_ms = said_ms && !(l->dwells && seconds);
    if (!l->dwells)
        dt_learn_tell(
            l, said_ms ? _("the unit of a dwell's P could not be found out; it stays milliseconds")
                       : _("the unit of a dwell's P could not be found out; it stays seconds"));
    if (l->dwell_in_ms)
        g_string_append(l->settings, " dwell:ms");
}

void dt_learn_still_words(DtLearner *l)
{
    for (size_t i = 0; i < G_N_ELEMENTS(still) && l->error == NULL; i++)
        dt_learn_try_word(l, still[i].word, still[i].line, still[i].undo);
    learn_greatest_speed(l);
    learn_dwell_unit(l);
    g_autofree char *numbered = g_strdup_printf("N1 %s", l->base);
    dt_learn_try_word(l, "N", numbered, NULL);
    if (dt_learn_knows(l, "G91")) {
        try_zero_moves(l);
        dt_learn_try(l, "G91");
        dt_learn_try(l, "G90");
    }
}

/* A line of the profile, which tries its words; TRUE if it is accepted. */
static gboolean try_own_line(DtLearner *l, const char *key, const char *line, double wait_s)
{
    if (line == NULL || *line == '\0')
        return FALSE;
    const DtReply reply = dt_learn_try_for(l, line, wait_s);
    if (reply == DT_REPLY_ACCEPT) {
        dt_learn_add_words_of(l, line);
        return TRUE;
    }
    if (l->error != NULL)
        return FALSE;
    dt_learn_tell(l,
                  reply == DT_REPLY_REFUSE ? _("it refuses the profile's %s = %s")
                                           : _("it does not answer the profile's %s = %s"),
                  key, line);
    if (reply == DT_REPLY_REFUSE && strcspn(line, " ") > 1) {
        g_autofree char *word = g_strndup(line, 1 + strspn(line + 1, "0123456789."));
        dt_learn_note_tried(l, word);
    }
    char *all = *l->out->refused ? g_strdup_printf("%s; %s = %s", l->out->refused, key, line)
                                 : g_strdup_printf("%s = %s", key, line);
    g_free(l->out->refused);
    l->out->refused = all;
    return FALSE;
}

/* Arcs of 2 mm radius beside the origin. */
static void try_arcs(DtLearner *l, double wait_s)
{
    static const struct {
        const char *word, *line;
    } arcs[] = {{"G2", "G2 X5 Y5 I2 J0"}, {"I", "G2 X5 Y5 I2"}, {"J", "G3 X5 Y5 J2"},
                {"G3", "G3 X5 Y5 I2 J0"}, {"R", "G2 X7 Y5 R2"}, {"R", "G3 X5 Y5 R2"},
                {"G2", "G2 X7 Y5 R2"},    {"G3", "G3 X5 Y5 R2"}};
    for (size_t i = 0; i < G_N_ELEMENTS(arcs); i++) {
        const DtReply reply = dt_learn_try_for(l, arcs[i].line, wait_s);
        if (reply == DT_REPLY_ACCEPT)
            dt_learn_add_word(l, arcs[i].word);
        else if (reply == DT_REPLY_REFUSE)
            dt_learn_note_tried(l, arcs[i].word);
    }
}

/* Whether each mode that was tried can be undone: in inches, or with incremental distances, the
 * moves would go farther than was agreed. */
static gboolean knows_way_back(DtLearner *l)
{
    static const char *const modes[][2] = {
        {"G20", "G21"}, {"G91", "G90"}, {"G93", "G94"}, {"G18", "G17"}, {"G19", "G17"}};
    for (size_t i = 0; i < G_N_ELEMENTS(modes); i++)
        if (dt_learn_knows(l, modes[i][0]) && !dt_learn_knows(l, modes[i][1])) {
            dt_learn_tell(l, "it takes %s but not %s, so no more moves are tried", modes[i][0],
                          modes[i][1]);
            return FALSE;
        }
    return TRUE;
}

/* Words that move: homing, the pen, arcs, and moves of zero length from the origin if the
 * controller has no incremental distances. */
void dt_learn_moving_words(DtLearner *l)
{
    enum { MOVE_S = 10 };
    const DtDialect *d = &l->profile->dialect;
    dt_learn_tell(l, "now it moves: home, the pen once, and arcs near home");
    try_own_line(l, "pen_up", d->pen_up, l->wait_s + MOVE_S);
    l->homed = try_own_line(l, "home", d->home, dt_session_home_limit_s(l->profile));
    try_own_line(l, "pen_down", d->pen_down, MOVE_S);
    if (d->pen_up && *d->pen_up)
        dt_learn_try(l, d->pen_up);
    if (!l->homed || !knows_way_back(l))
        return;
    dt_learn_try(l, "G90");
    if (!dt_learn_knows(l, "G0"))
        try_zero_moves(l);
    if (!dt_learn_knows(l, "G1") || dt_learn_try_for(l, "G1 X5 Y5 F300", MOVE_S) != DT_REPLY_ACCEPT)
        return;
    try_arcs(l, MOVE_S);
    dt_learn_try_for(l, "G0 X0 Y0", MOVE_S);
    if (d->pen_up && *d->pen_up)
        dt_learn_try_for(l, d->pen_up, MOVE_S); /* many boards accept it after all motion has
                                                 * ended */
}

/* Forms ------------------------------------------------------------------------------------- */

static void note_setting(DtLearner *l, const char *setting)
{
    g_string_append_printf(l->settings, " %s", setting);
}

static gboolean try_joined(DtLearner *l, const char *before, const char *after)
{
    g_autofree char *line = g_strconcat(before, after, NULL);
    return dt_learn_try(l, line) == DT_REPLY_ACCEPT;
}

/* A word that may be added to the base line. */
static const char *find_partner(DtLearner *l)
{
    static const char *const partners[] = {"G21", "G90", "F100", "M5", "G94"};
    for (size_t i = 0; i < G_N_ELEMENTS(partners); i++) {
        g_autofree char *line = g_strdup_printf("%s %s", l->base, partners[i]);
        if (partners[i][0] != l->base[0] || strcmp(partners[i], l->base) != 0)
            if (dt_learn_try(l, line) == DT_REPLY_ACCEPT)
                return partners[i];
    }
    return NULL;
}

/* Whether a line as a run would send it, numbered and checked, is answered with its number. */
static gboolean answers_numbered(DtLearner *l)
{
    unsigned next = 1;
    gboolean good = FALSE;
    l->dialect.line_check = TRUE;
    for (int i = 0; i < 2 && !good && l->error == NULL; i++) {
        DtSent line = {.kind = DT_LINE_OTHER};
        g_strlcpy(line.text, l->base, sizeof line.text);
        dt_learn_drain(l, 0, 0.2);
        dt_traffic_reset(l->traffic, next);
        l->accepted = l->refused = 0;
        g_ptr_array_set_size(l->others, 0);
        dt_traffic_push(l->traffic, &line, 0);
        gsize n;
        const char *bytes = dt_traffic_output(l->traffic, &n);
        if (!dt_learn_send(l, bytes, n))
            break;
        dt_traffic_written(l->traffic, n);
        dt_learn_hear(l, l->wait_s, 1);
        good = l->accepted == 1;
        next = dt_traffic_wanted(l->traffic); /* it may have counted lines before */
        if (next == 0)
            break;
    }
    l->dialect.line_check = FALSE;
    return good;
}

static void learn_check(DtLearner *l)
{
    g_autofree char *good = dt_code_add_check(l->base, strlen(l->base));
    g_autofree char *bad = g_strdup(good);
    char *digit = bad + strlen(bad) - 2;
    *digit = *digit == '0' ? '1' : '0';
    if (dt_learn_try(l, good) != DT_REPLY_ACCEPT || dt_learn_try(l, bad) != DT_REPLY_REFUSE)
        return;
    l->out->line_check = answers_numbered(l);
    if (!l->out->line_check)
        dt_learn_tell(
            l, "it checks lines, but its replies do not number them, so a run cannot use that");
}

/* Digits after the decimal point; a controller that cannot use more may refuse them. */
static void learn_decimals(DtLearner *l)
{
    enum { MOST_TRIED = 4 };
    if (!dt_learn_knows(l, "F"))
        return;
    int most = 0;
    for (int digits = 1; digits <= MOST_TRIED; digits++) {
        g_autofree char *line = g_strdup_printf("F100.%.*s", digits, "1234");
        if (dt_learn_try(l, line) != DT_REPLY_ACCEPT)
            break;
        most = digits;
    }
    l->out->decimals = most;
    if (most < MOST_TRIED)
        dt_learn_tell(l, "it takes %d digits after the point", most);
}

void dt_learn_forms(DtLearner *l)
{
    gboolean round = try_joined(l, l->base, " (a remark)");
    gboolean semicolon = try_joined(l, l->base, " ;a remark");
    if (!round || semicolon)
        note_setting(l, round ? "comment:both" : semicolon ? "comment:semicolon" : "comment:none");
    l->other = find_partner(l);
    if (l->other && !try_joined(l, l->base, l->other))
        note_setting(l, "gap:needed");
    if (!try_joined(l, "/", l->base))
        note_setting(l, "delete:refused");
    if (dt_learn_knows(l, "F") && dt_learn_try(l, "F[50+50]") == DT_REPLY_ACCEPT)
        note_setting(l, "expressions:taken");
    learn_check(l);
    learn_decimals(l);
    dt_learn_try(l, "G21");
    dt_learn_try(l, "G90");
}
