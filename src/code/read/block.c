/* block: splits one line of text into words with values. Spaces and tabs are ignored, letters
 * may be upper or lower case, and a value is a number, a parameter, an expression in brackets or
 * a function of one (NISTIR 6556, 3.3). */
#include "code/read/scan.h"

#include <glib/gprintf.h>

#include <math.h>
#include <stdarg.h>
#include <string.h>

void dt_block_fault(DtCodeBlock *b, DtFaultFunc fault, void *user, DtFaultKind kind, int column,
                    const char *format, ...)
{
    b->faults++;
    if (fault == NULL)
        return;
    char text[FAULT_TEXT];
    va_list args;
    va_start(args, format);
    g_vsnprintf(text, sizeof text, _(format), args);
    va_end(args);
    fault(user, kind, column, text);
}

/* Words --------------------------------------------------------------------------------------- */

/* Whether a word seems to begin at this letter; in prose another letter follows it. */
static gboolean begins_word(const Scan *s)
{
    const char *after = s->at + 1;
    while (is_blank(*after))
        after++;
    if (g_ascii_isalpha(*after))
        return FALSE;
    return !g_ascii_isalpha(s->at[-1]) || (*after && strchr("0123456789.+-#[", *after));
}

/* After a fault: skips to what looks like the next word outside brackets, or to a comment,
 * parameter or the end. */
static void skip_word(Scan *s)
{
    int depth = s->open;
    s->open = 0;
    for (; *s->at != '\n'; s->at++) {
        char c = *s->at;
        depth += c == '[' ? 1 : c == ']' && depth > 0 ? -1 : 0;
        if (depth == 0 && (c == '(' || c == ';' || c == '#'))
            return;
        if (depth == 0 && g_ascii_isalpha(c) && s->at > s->block->text && begins_word(s))
            return;
    }
}

static gboolean is_own_code(const DtVocabulary *own, gboolean is_g, long code)
{
    if (own && own->open && !is_g)
        return TRUE;
    return own && (is_g ? dt_vocabulary_takes_g(own, (int)MIN(code, DT_G_CODES))
                        : dt_vocabulary_takes_m(own, (int)MIN(code, DT_M_CODES)));
}

static void store_code(Scan *s, const DtCodeWord *word, uint8_t at)
{
    DtCodeBlock *b = s->block;
    const char *where = b->text + word->column - 1;
    gboolean is_g = word->letter == 'G';
    int scale = is_g ? 10 : 1, most = is_g ? G_TENTHS : M_NUMBERS;
    double scaled = word->value * scale;
    long code = scaled >= 0 && scaled < 1e6 ? (long)(scaled + 0.5) : -1;
    gboolean whole = code >= 0 && fabs(scaled - (double)code) <= 1e-4;
    if (!whole || code >= most || !(is_g ? dt_g_codes : dt_m_codes)[code].known) {
        if (whole && is_own_code(s->own, is_g, code)) {
            b->own_code = TRUE;
            return;
        }
        FAULT_AT(s, FAULT_CODE, where, "RS-274 has no %c%g", word->letter, word->value);
        return;
    }
    unsigned group = (is_g ? dt_g_codes : dt_m_codes)[code].group;
    uint32_t *groups = is_g ? &b->g_groups : &b->m_groups;
    short *codes = is_g ? b->g : b->m;
    if (*groups & (1u << group)) {
        gboolean mist_and_flood =
            !is_g && group == M_COOLANT && codes[group] != code && codes[group] != 9 && code != 9;
        if (!mist_and_flood)
            FAULT_AT(s, FAULT_TWICE, where, "%c%g and %c%g cannot be in one line", word->letter,
                     (double)codes[group] / scale, word->letter, word->value);
        return;
    }
    *groups |= 1u << group;
    codes[group] = (short)code;
    (is_g ? b->g_word : b->m_word)[group] = at;
    if (!is_g && ++b->n_m > MOST_M)
        FAULT_AT(s, FAULT_COMBINATION, where, "a line can have at most %d M words", MOST_M);
}

static void store_word(Scan *s, DtCodeWord word)
{
    DtCodeBlock *b = s->block;
    const char *where = b->text + word.column - 1;
    if (b->n_words == MOST_WORDS) {
        FAULT_AT(s, FAULT_COMBINATION, where, "a line can have at most %d words", MOST_WORDS);
        return;
    }
    uint8_t at = (uint8_t)b->n_words;
    b->words[b->n_words++] = word;
    if (word.letter == 'G' || word.letter == 'M') {
        store_code(s, &word, at);
        return;
    }
    if (b->has & LETTER(word.letter)) {
        FAULT_AT(s, FAULT_TWICE, where, "%c appears twice in one line", word.letter);
        return;
    }
    if (word.letter == 'N' &&
        (b->n_words > 1 || b->comment || b->n_settings > 0 || word.value < 0 ||
         (word.value > 99999 && !(s->own && s->own->open)) || word.value != floor(word.value))) {
        FAULT_AT(s, FAULT_VALUE, where,
                 "a line number comes first in its line and is a whole number up to 99999");
        return;
    }
    b->has |= LETTER(word.letter);
    b->value[word.letter - 'A'] = word.value;
    b->letter_word[word.letter - 'A'] = at;
}

static void read_word(Scan *s)
{
    const char *start = s->at;
    char letter = next_letter(s);
    if (dt_letters[letter - 'A'] == NULL &&
        !(s->own &&
          ((s->own->open && letter != 'O') || dt_vocabulary_takes_letter(s->own, letter)))) {
        FAULT_AT(s, FAULT_LETTER, start,
                 letter == 'E' ? N_("RS-274 has no letter E: numbers have no exponent")
                               : N_("RS-274 has no letter %c"),
                 letter);
        s->at++;
        skip_word(s);
        return;
    }
    if (s->block->n_words > 0 && start > s->block->text && !is_blank(start[-1]))
        s->block->plain_gap = FALSE;
    s->at++;
    skip_blanks(s);
    DtCodeWord word = {letter, column_of(s, start), 0};
    unsigned digit = (unsigned)(uint8_t)*s->at - '0';
    if (digit < 10 ? scan_number(s, &word.value) : dt_scan_value(s, &word.value))
        store_word(s, word);
    else
        skip_word(s);
}

static void read_setting(Scan *s)
{
    const char *start = s->at++;
    double index, value;
    skip_blanks(s);
    s->block->computed = TRUE;
    if (!dt_scan_value(s, &index)) {
        skip_word(s);
        return;
    }
    long number = fabs(index) < 1e6 ? lround(index) : 0;
    skip_blanks(s);
    if (fabs(index - (double)number) > 1e-4 || number < 1 || number >= PARAMETERS) {
        FAULT_AT(s, FAULT_PARAMETER, start, "parameters are #1 to #%d", PARAMETERS - 1);
        skip_word(s);
    } else if (*s->at != '=') {
        FAULT_AT(s, FAULT_EXPRESSION, s->at, "expected '=' after #%ld", number);
        skip_word(s);
    } else {
        s->at++;
        skip_blanks(s);
        DtCodeBlock *b = s->block;
        if (!dt_scan_value(s, &value)) {
            skip_word(s);
        } else if (b->n_settings == MOST_SETTINGS) {
            FAULT_AT(s, FAULT_COMBINATION, start, "a line sets at most %d parameters",
                     MOST_SETTINGS);
        } else {
            b->setting[b->n_settings].index = (int)number;
            b->setting[b->n_settings].column = column_of(s, start);
            b->setting[b->n_settings++].value = value;
        }
    }
}

static void note_comment(Scan *s, const char *text, size_t len, const char *where)
{
    DtCodeBlock *b = s->block;
    b->comment = text;
    b->comment_len = len;
    b->comment_column = column_of(s, where);
    *(*where == ';' ? &b->semicolon_column : &b->round_column) = b->comment_column;
    while (len > 0 && is_blank(*text)) {
        text++;
        len--;
    }
    b->message = len >= 4 && g_ascii_strncasecmp(text, "MSG,", 4) == 0;
}

static gboolean is_control(char c)
{
    return ((uint8_t)c < ' ' && c != '\t' && c != '\r') || c == 0x7F;
}

/* A control byte is not allowed in a comment either; some act at once on a controller. */
static void check_comment_bytes(Scan *s, const char *from, const char *to)
{
    gboolean any = FALSE;
    for (const char *at = from; at < to; at++)
        any |= is_control(*at);
    for (const char *at = from; any && at < to; at++)
        if (is_control(*at))
            FAULT_AT(s, FAULT_COMMENT, at, "the byte 0x%02X is not allowed in a comment",
                     (unsigned)(uint8_t)*at);
}

static void read_comment(Scan *s)
{
    const char *start = s->at++;
    int depth = 1; /* the standard ends a comment at the first ')', but the last one was meant */
    for (; *s->at != '\n'; s->at++) {
        if (*s->at == ')' && --depth == 0)
            break;
        if (*s->at == '(' && ++depth == 2)
            FAULT_AT(s, FAULT_COMMENT, s->at, "a comment cannot contain another");
    }
    check_comment_bytes(s, start, s->at);
    note_comment(s, start + 1, (size_t)(s->at - start) - 1, start);
    if (*s->at == '\n')
        FAULT_AT(s, FAULT_COMMENT, start, "the comment is not closed");
    else
        s->at++;
}

static void read_rest_as_comment(Scan *s)
{
    const char *start = s->at;
    s->at = s->block->text + s->block->len;
    check_comment_bytes(s, start, s->at);
    s->block->semicolon = TRUE;
    note_comment(s, start + 1, (size_t)(s->at - start) - 1, start);
}

/* Nothing but blanks around it. */
static gboolean stands_alone(const Scan *s)
{
    const DtCodeBlock *b = s->block;
    for (const char *at = b->text; at < b->text + b->len; at++)
        if (at != s->at && !is_blank(*at))
            return FALSE;
    return TRUE;
}

static void read_stray(Scan *s)
{
    uint8_t c = (uint8_t)*s->at;
    if (c == '\r') { /* what follows was meant as another line */
        FAULT_AT(s, FAULT_BYTE, s->at, "a carriage return without a line feed does not end a line");
        s->at = s->block->text + s->block->len;
        return;
    }
    if (c == '%' && stands_alone(s))
        s->block->percent = TRUE;
    else if (c >= ' ' && c <= '~')
        FAULT_AT(s, c == ']' || c == '=' ? FAULT_EXPRESSION : FAULT_NUMBER, s->at,
                 "'%c' is not allowed here", c);
    else
        FAULT_AT(s, FAULT_BYTE, s->at, "the byte 0x%02X is not allowed in a program", c);
    s->at++;
    if (!s->block->percent)
        skip_word(s);
}

/* What follows is not for the controller, but its bytes still go over the wire. */
static void skip_deleted(Scan *s)
{
    const char *end = s->block->text + s->block->len;
    check_comment_bytes(s, s->at, end);
    s->at = end;
}

/* A line is '/', N, and then words, settings and comments (3.3). */
static gboolean stands_first(const Scan *s)
{
    const char *at = s->block->text;
    while (at < s->at && is_blank(*at))
        at++;
    return at == s->at;
}

static void read_other(Scan *s)
{
    switch (*s->at) {
    case '(':
        read_comment(s);
        break;
    case ';':
        read_rest_as_comment(s);
        break;
    case '#':
        read_setting(s);
        break;
    case '/':
        if (stands_first(s)) {
            s->block->deleted = TRUE;
            skip_deleted(s);
            break;
        }
        read_stray(s);
        break;
    default:
        read_stray(s);
    }
}

gboolean dt_block_matches(const DtCodeBlock *b, const DtCodeBlock *pattern)
{
    for (int i = 0; i < pattern->n_words; i++) {
        const DtCodeWord *want = &pattern->words[i];
        int k = 0;
        while (k < b->n_words &&
               (b->words[k].letter != want->letter || fabs(b->words[k].value - want->value) > 1e-9))
            k++;
        if (k == b->n_words)
            return FALSE;
    }
    return pattern->n_words > 0;
}

void dt_block_read(DtCodeBlock *b, const char *text, size_t len, const DtParameters *parameters,
                   const DtVocabulary *own, DtFaultFunc fault, void *user)
{
    b->has = b->g_groups = b->m_groups = 0;
    b->n_words = b->n_m = b->n_settings = b->faults = 0;
    b->comment = NULL;
    b->round_column = b->semicolon_column = 0;
    b->semicolon = b->message = b->deleted = b->percent = b->closes = b->computed = FALSE;
    b->own_code = FALSE;
    b->plain_gap = TRUE;
    b->text = text;
    b->len = len;
    Scan s = {
        .at = text, .block = b, .parameters = parameters, .own = own, .fault = fault, .user = user};
    const char *end = text + len;
    while (s.at < end) {
        char c = *s.at;
        if (g_ascii_isalpha(c))
            read_word(&s);
        else if (is_blank(c))
            s.at++;
        else
            read_other(&s);
    }
}
