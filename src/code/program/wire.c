/* wire: blocks as they are sent to the controller. */
#include "code/program/program.h"

#include <string.h>

/* Whether a word or a setting begins at this column; then goes past it. */
typedef struct {
    int word, setting;
} Place;

static gboolean begins_word(const DtCodeBlock *b, Place *p, int column)
{
    const gboolean begins = p->word < b->n_words && b->words[p->word].column == column;
    p->word += begins;
    return begins;
}

static gboolean begins_setting(const DtCodeBlock *b, Place *p, int column)
{
    const gboolean begins = p->setting < b->n_settings && b->setting[p->setting].column == column;
    p->setting += begins;
    return begins;
}

gsize dt_program_write_wire(const DtProgram *g, const DtCodeBlock *b, int without, char *to,
                            gsize room)
{
    const gboolean gap = g->judge.words.gap_needed;
    const char *end = b->text + (b->deleted || b->percent ? 0 : b->len);
    Place place = {0, 0};
    gboolean kept = FALSE; /* the current word */
    gsize n = 0;
    for (const char *c = b->text; c < end && *c != ';' && n + 2 < room; c++) {
        const int column = (int)(c - b->text) + 1;
        gboolean begins = begins_setting(b, &place, column);
        kept |= begins;
        if (begins_word(b, &place, column)) {
            kept = place.word - 1 != without && b->words[place.word - 1].letter != 'N';
            begins = TRUE;
        }
        if (*c == '(') {
            const char *close = memchr(c, ')', (size_t)(end - c));
            c = close != NULL ? close : end - 1;
            continue;
        }
        if (!kept || g_ascii_isspace(*c))
            continue;
        if (begins && gap && n > 0)
            to[n++] = ' ';
        to[n++] = g_ascii_toupper(*c);
    }
    to[n] = '\0';
    return n;
}

void dt_program_restate(const DtProgram *g, const DtProgramLine *l, gboolean motion, gboolean feed,
                        char *to, gsize room)
{
    const DtProgramState *s = &g->state;
    const char *gap = g->judge.words.gap_needed ? " " : "";
    char code[8] = "", number[G_ASCII_DTOSTR_BUF_SIZE] = "";
    if (motion && !l->names_motion && s->motion >= 0)
        g_snprintf(code, sizeof code, "G%d%s", s->motion, gap);
    if (feed && s->motion > 0 && !l->names_feed && s->feed > 0)
        dt_number_write(s->feed, 3, number);
    g_snprintf(to, (gulong)room, "%s%s%s%s%s", code, l->text, *number ? gap : "",
               *number ? "F" : "", number);
}
