/* foreign: rewrites forms of other controls, which NISTIR 6556 does not have, in its form. */
#include "code/mend/foreign.h"

#include "drawtrue/messages.h"

#include <string.h>

typedef enum { FORM_RETURNS, FORM_CHECKSUM, FORM_UNITS, FORMS } Form;

static const char *const says[FORMS] = {
    [FORM_RETURNS] = N_("lines end with a carriage return alone, which the standard does not have"),
    [FORM_CHECKSUM] = N_("checksums at line ends, which the standard does not have, are left out"),
    [FORM_UNITS] = N_("G70 and G71, which the standard does not have, are taken for inches and mm"),
};

typedef struct {
    DtFormFunc tell;
    void *user;
    gboolean reported[FORMS];
    size_t line;
} Forms;

static void note(Forms *f, Form form)
{
    if (!f->reported[form])
        f->tell(f->user, f->line, says[form]);
    f->reported[form] = TRUE;
}

static char *skip_blanks(char *at, const char *end)
{
    while (at < end && (*at == ' ' || *at == '\t' || *at == '\r'))
        at++;
    return at;
}

/* "*57" followed by nothing but a comment. */
static gboolean blank_checksum(char *at, const char *end)
{
    char *digits = at + 1, *after = digits;
    while (after < end && after - digits < 3 && g_ascii_isdigit(*after))
        after++;
    const char *rest = skip_blanks(after, end);
    if (after == digits || (rest < end && *rest != ';' && *rest != '('))
        return FALSE;
    memset(at, ' ', (size_t)(after - at));
    return TRUE;
}

/* The digits of "70" or "71" after a G; NULL if another number is there. */
static char *unit_digits(char *at, const char *end)
{
    at = skip_blanks(at, end);
    if (end - at < 2 || at[0] != '7' || (at[1] != '0' && at[1] != '1'))
        return NULL;
    const char next = at + 2 < end ? at[2] : ' ';
    return g_ascii_isdigit(next) || next == '.' ? NULL : at;
}

/* A unit word comes without the letters of a cycle. */
static gboolean has_cycle_letters(const char *line, const char *end)
{
    for (; line < end && *line != '(' && *line != ';'; line++)
        if (strchr("PpQqUuWw", *line) != NULL && *line != '\0')
            return TRUE;
    return FALSE;
}

static void do_line(Forms *f, char *line, const char *end)
{
    int comment = 0, bracket = 0;
    for (char *at = line; at < end; at++) {
        comment += *at == '(' ? 1 : *at == ')' && comment > 0 ? -1 : 0;
        if (comment > 0)
            continue;
        if (*at == ';')
            return;
        bracket += *at == '[' ? 1 : *at == ']' ? -1 : 0;
        if (*at == '*' && bracket <= 0 && blank_checksum(at, end))
            note(f, FORM_CHECKSUM);
        char *unit = *at == 'G' || *at == 'g' ? unit_digits(at + 1, end) : NULL;
        if (unit == NULL || has_cycle_letters(line, end))
            continue;
        unit[0] = '2';
        note(f, FORM_UNITS);
    }
}

char *dt_foreign_forms(const char *text, gsize len, DtFormFunc tell, void *user)
{
    Forms f = {tell, user, {FALSE}, 1};
    char *copy = g_malloc(len + 1);
    if (len > 0)
        memcpy(copy, text, len);
    copy[len] = '\0';
    if (len > 0 && memchr(copy, '\n', len) == NULL && memchr(copy, '\r', len - 1) != NULL) {
        for (gsize i = 0; i < len; i++)
            copy[i] = copy[i] == '\r' ? '\n' : copy[i];
        note(&f, FORM_RETURNS);
    }
    for (char *line = copy, *end; line < copy + len; line = end + 1, f.line++) {
        end = memchr(line, '\n', (size_t)(copy + len - line));
        end = end != NULL ? end : copy + len;
        do_line(&f, line, end);
    }
    return copy;
}
