/* traffic-state: parses the state that a board reports, in our words or in its own. */
#include "link/traffic.h"

#include <string.h>

static DtBoardWord board_word(const char *text, gsize n)
{
    static const struct {
        const char *text;
        DtBoardWord word;
    } words[] = {
        {"still", DT_BOARD_STILL},   {"moving", DT_BOARD_MOVING},   {"held", DT_BOARD_HELD},
        {"homing", DT_BOARD_HOMING}, {"unhomed", DT_BOARD_UNHOMED}, {"stopped", DT_BOARD_STOPPED},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
        if (strlen(words[i].text) == n && strncmp(text, words[i].text, n) == 0)
            return words[i].word;
    return DT_BOARD_UNKNOWN;
}

static gboolean value_of(char **words, const char *key, double *value)
{
    for (; words[0] != NULL && words[1] != NULL; words++) {
        if (g_ascii_strcasecmp(words[0], key) != 0)
            continue;
        char *end;
        *value = g_ascii_strtod(words[1], &end);
        return end != words[1] && *end == '\0';
    }
    return FALSE;
}

static gboolean has_pair(char **words, const char *key, const char *value)
{
    for (; words[0] != NULL && words[1] != NULL; words++)
        if (strcmp(words[0], key) == 0)
            return strcmp(words[1], value) == 0;
    return FALSE;
}

/* The number behind a letter that begins a word: "x 1.5", "X:1.5", "X=1.5" or "X1.5". */
static gboolean number_behind(const char *text, char letter, double *value)
{
    for (const char *c = text; *c != '\0'; c++) {
        if (g_ascii_tolower(*c) != letter || (c > text && g_ascii_isalpha(c[-1])))
            continue;
        const char *number = c + 1 + strspn(c + 1, " :=");
        char *end;
        *value = g_ascii_strtod(number, &end);
        return end != number && !g_ascii_isalpha(*number) && !g_ascii_isalpha(*end);
    }
    return FALSE;
}

gboolean dt_board_position(const char *text, DtBoardState *s)
{
    *s = (DtBoardState){.has_position = TRUE, .word = DT_BOARD_MOVING};
    return number_behind(text, 'x', &s->x) && number_behind(text, 'y', &s->y);
}

gboolean dt_board_state(const char *text, DtBoardState *s)
{
    g_auto(GStrv) words = g_strsplit_set(text, " ", -1);
    if (words[0] == NULL || words[1] == NULL)
        return FALSE;
    *s = (DtBoardState){.word = board_word(words[1], strlen(words[1]))};
    double line = 0;
    s->has_position = value_of(words, "x", &s->x) && value_of(words, "y", &s->y);
    s->has_line = value_of(words, "line", &line) && line >= 0 && line <= LAST_NUMBER;
    s->line = s->has_line ? (unsigned)line : 0;
    s->pen_down = has_pair(words, "pen", "down");
    s->pen_known = s->pen_down || has_pair(words, "pen", "up");
    s->at_switch[0] = has_pair(words, "switch", "x-") || has_pair(words, "switch", "xy");
    s->at_switch[1] = has_pair(words, "switch", "-y") || has_pair(words, "switch", "xy");
    return s->word != DT_BOARD_UNKNOWN && s->has_position && s->has_line && s->pen_known;
}
