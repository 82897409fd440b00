/* learn-words: which words are taken. Nothing here moves, but for dt_learn_moving_words(), which is
 * called only after the user has agreed. */
#include "drawtrue/code.h"
#include "link/learn/learn.h"

#include <string.h>

/* Each word with a line that holds it and does nothing, and what undoes its mode. A word that needs
 * others is tried only where those are taken. */
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

/* Moves of no length. With distances from where it stands they are so anywhere; from the origin
 * they are so only once it was homed. */
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

void dt_learn_add_word(DtLearner *l, const char *word)
{
    if (!dt_learn_knows(l, word))
        g_string_append_printf(l->words, l->words->len ? " %s" : "%s", word);
}

static gboolean try_word(DtLearner *l, const char *word, const char *line, const char *undo)
{
    if (dt_learn_try(l, line) != DT_REPLY_ACCEPT)
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
            try_word(l, zero_moves[i].word, zero_moves[i].line, NULL);
}

/* What the profile says of words that could not be tried without a move. */
static void keep_untried(DtLearner *l)
{
    static const char *const untried[] = {"G0", "G1", "X", "Y",   "Z",  "G2", "G3",
                                          "I",  "J",  "R", "G28", "M3", "M4"};
    g_auto(GStrv) old = g_strsplit(l->profile->dialect.words, " ", -1);
    for (size_t i = 0; i < G_N_ELEMENTS(untried); i++)
        if (g_strv_contains((const char *const *)old, untried[i]))
            dt_learn_add_word(l, untried[i]);
}

static gboolean takes_speed(DtLearner *l, int speed)
{
    g_autofree char *line = g_strdup_printf("S%d", speed);
    return dt_learn_try(l, line) == DT_REPLY_ACCEPT;
}

/* The greatest S, while no spindle turns that would follow it: not on a machine whose pen is up by
 * a speed. */
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

/* What the dwell's number counts shows only on a clock, so what the profile says stays. */
static void keep_dwell_unit(DtLearner *l)
{
    if (dt_learn_knows(l, "G4") && strstr(l->profile->dialect.words, "dwell:ms"))
        g_string_append(l->settings, " dwell:ms");
}

void dt_learn_still_words(DtLearner *l)
{
    for (size_t i = 0; i < G_N_ELEMENTS(still) && l->error == NULL; i++)
        try_word(l, still[i].word, still[i].line, still[i].undo);
    learn_greatest_speed(l);
    keep_dwell_unit(l);
    g_autofree char *numbered = g_strdup_printf("N1 %s", l->base);
    try_word(l, "N", numbered, NULL);
    if (dt_learn_knows(l, "G91")) {
        try_zero_moves(l);
        dt_learn_try(l, "G91");
        dt_learn_try(l, "G90");
    }
    if (!l->options.may_move)
        keep_untried(l);
}

/* Words that move: homing, the pen, arcs of 2 mm radius beside the origin, and moves of no length
 * from the origin where the controller knows no incremental distances. */
void dt_learn_moving_words(DtLearner *l)
{
    enum { HOMING_S = 180, MOVE_S = 20 };
    const DtDialect *d = &l->profile->dialect;
    const char *up = d->pen_up && *d->pen_up ? d->pen_up : "M5";
    dt_learn_try(l, up);
    const char *home = d->home && *d->home ? d->home : "G28";
    l->homed = dt_learn_try_for(l, home, HOMING_S) == DT_REPLY_ACCEPT;
    if (l->homed && strcmp(home, "G28") == 0)
        dt_learn_add_word(l, "G28");
    if (d->pen_down && *d->pen_down) {
        if (dt_learn_try_for(l, d->pen_down, MOVE_S) == DT_REPLY_ACCEPT) {
            g_auto(GStrv) words = g_strsplit(d->pen_down, " ", -1);
            dt_learn_add_word(l, words[0]);
        }
        dt_learn_try(l, up);
    }
    if (!l->homed)
        return;
    dt_learn_try(l, "G90");
    if (!dt_learn_knows(l, "G0"))
        try_zero_moves(l);
    if (!dt_learn_knows(l, "G1") || dt_learn_try_for(l, "G1 X5 Y5 F300", MOVE_S) != DT_REPLY_ACCEPT)
        return;
    static const struct {
        const char *word, *line;
    } arcs[] = {{"G2", "G2 X5 Y5 I2 J0"}, {"I", "G2 X5 Y5 I2"}, {"J", "G3 X5 Y5 J2"},
                {"G3", "G3 X5 Y5 I2 J0"}, {"R", "G2 X7 Y5 R2"}, {"R", "G3 X5 Y5 R2"},
                {"G2", "G2 X7 Y5 R2"},    {"G3", "G3 X5 Y5 R2"}};
    for (size_t i = 0; i < G_N_ELEMENTS(arcs); i++)
        if (dt_learn_try_for(l, arcs[i].line, MOVE_S) == DT_REPLY_ACCEPT)
            dt_learn_add_word(l, arcs[i].word);
    dt_learn_try_for(l, "G0 X0 Y0", MOVE_S);
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

/* A word that may stand beside the base line. */
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

static void learn_check(DtLearner *l)
{
    g_autofree char *good = dt_code_add_check(l->base, strlen(l->base));
    g_autofree char *bad = g_strdup(good);
    char *digit = bad + strlen(bad) - 2;
    *digit = *digit == '0' ? '1' : '0';
    l->out->line_check = dt_learn_try(l, good) == DT_REPLY_ACCEPT && dt_learn_try(l, bad) == DT_REPLY_REFUSE;
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
    /* These end a program, so they come when all else is known. */
    try_word(l, "M2", "M2", NULL);
    try_word(l, "M30", "M30", NULL);
    dt_learn_try(l, "G21");
    dt_learn_try(l, "G90");
}
