/* block: one line of text as words with values. Spaces and tabs count for nothing, letters may be
 * of either case, and a value is a number, a parameter, an expression in brackets or a function of
 * one (NISTIR 6556, 3.3). */
#include "rs274.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

typedef struct {
    const char *at;
    DtCodeBlock *block;
    const DtParameters *parameters;
    const DtVocabulary *own;
    DtFaultFunc fault;
    void *user;
    int depth;
} Scan;

void dt_block_fault(DtCodeBlock *b, DtFaultFunc fault, void *user, DtFaultKind kind, int column,
                    const char *format, ...)
{
    b->faults++;
    if (fault == NULL)
        return;
    va_list args;
    va_start(args, format);
    g_autofree char *text = g_strdup_vprintf(format, args);
    va_end(args);
    fault(user, kind, column, text);
}

static int column_of(const Scan *s, const char *at)
{
    return (int)(at - s->block->text) + 1;
}

#define FAULT_AT(s, kind, where, ...)                                                              \
    dt_block_fault((s)->block, (s)->fault, (s)->user, kind, column_of(s, where), __VA_ARGS__)

static inline gboolean is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

static void skip_blanks(Scan *s)
{
    while (is_blank(*s->at))
        s->at++;
}

static char next_letter(const Scan *s)
{
    return g_ascii_toupper(*s->at);
}

static gboolean read_value(Scan *s, double *out);

/* Digits, with at most one point and blanks between them. Up to 19 digits are kept in one integer
 * and divided by a power of ten once, which rounds correctly for all numbers of a program. */
static inline gboolean read_number(Scan *s, double *out)
{
    static const double powers[] = {1,    1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9, 1e10,
                                    1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20};
    const char *start = s->at, *at = start;
    gboolean minus = *at == '-', point = FALSE;
    if (minus || *at == '+')
        at++;
    uint64_t digits = 0;
    int fraction = 0;
    double beyond = 1;
    gboolean any = FALSE;
    for (;; at++) {
        unsigned digit = (unsigned)(uint8_t)*at - '0';
        if (G_LIKELY(digit < 10)) {
            any = TRUE;
            if (G_LIKELY(digits < 100000000000000000u)) {
                digits = digits * 10 + digit;
                fraction += point;
            } else if (!point) {
                beyond *= 10;
            }
        } else if (*at == '.' && !point) {
            point = TRUE;
        } else if (!is_blank(*at)) {
            break;
        }
    }
    s->at = at;
    if (!any) {
        FAULT_AT(s, FAULT_NUMBER, start, "a number needs a digit");
        return FALSE;
    }
    double value = fraction > 0 ? (double)digits / powers[fraction] : (double)digits * beyond;
    *out = minus ? -value : value;
    return TRUE;
}

static gboolean read_parameter(Scan *s, double *out)
{
    const char *start = s->at++;
    double index;
    skip_blanks(s);
    if (!read_value(s, &index))
        return FALSE;
    long number = lround(index);
    if (!(fabs(index) < 1e6) || fabs(index - (double)number) > 1e-4 || number < 1 ||
        number >= PARAMETERS) {
        FAULT_AT(s, FAULT_PARAMETER, start, "parameters are #1 to #%d", PARAMETERS - 1);
        return FALSE;
    }
    s->block->computed = TRUE;
    if (!s->parameters->set[number]) {
        FAULT_AT(s, FAULT_UNSET, start, "parameter #%ld is used before it is set", number);
        return FALSE;
    }
    *out = s->parameters->value[number];
    return TRUE;
}

/* Expressions -------------------------------------------------------------------------------- */

static const double degrees = 57.295779513082320877;

static double in_abs(double v)
{
    return fabs(v);
}
static double in_acos(double v)
{
    return acos(v) * degrees;
}
static double in_asin(double v)
{
    return asin(v) * degrees;
}
static double in_cos(double v)
{
    return cos(v / degrees);
}
static double in_exp(double v)
{
    return exp(v);
}
static double in_fix(double v)
{
    return floor(v);
} /* towards less, not towards zero: 3.3.2.4 */
static double in_fup(double v)
{
    return ceil(v);
}
static double in_ln(double v)
{
    return log(v);
}
static double in_round(double v)
{
    return round(v);
}
static double in_sin(double v)
{
    return sin(v / degrees);
}
static double in_sqrt(double v)
{
    return sqrt(v);
}
static double in_tan(double v)
{
    return tan(v / degrees);
}

/* The functions (table of 3.3.2.4) with the arguments that they take. */
static const struct {
    const char *name;
    double (*of)(double);
    double least, most;
    const char *domain;
} functions[] = {
    {"ABS", in_abs, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"ACOS", in_acos, -1, 1, "from -1 to 1"},
    {"ASIN", in_asin, -1, 1, "from -1 to 1"},
    {"COS", in_cos, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"EXP", in_exp, -G_MAXDOUBLE, 700, "up to 700"},
    {"FIX", in_fix, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"FUP", in_fup, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"LN", in_ln, G_MINDOUBLE, G_MAXDOUBLE, "above 0"},
    {"ROUND", in_round, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"SIN", in_sin, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"SQRT", in_sqrt, 0, G_MAXDOUBLE, "of 0 or more"},
    {"TAN", in_tan, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
};

/* Whether `name` stands next, blanks between its letters allowed; then goes past it. */
static gboolean take_name(Scan *s, const char *name)
{
    const char *at = s->at;
    for (; *name; name++) {
        while (is_blank(*at))
            at++;
        if (g_ascii_toupper(*at) != *name)
            return FALSE;
        at++;
    }
    s->at = at;
    skip_blanks(s);
    return TRUE;
}

typedef enum {
    OP_NONE,
    OP_POWER,
    OP_TIMES,
    OP_DIVIDE,
    OP_MOD,
    OP_PLUS,
    OP_MINUS,
    OP_AND,
    OP_OR,
    OP_XOR
} Operator;

/* The binary operators with their three levels of precedence. */
static const struct {
    const char *name;
    Operator op;
    int level;
} operators[] = {
    {"**", OP_POWER, 3}, {"*", OP_TIMES, 2}, {"/", OP_DIVIDE, 2},
    {"MOD", OP_MOD, 2},  {"+", OP_PLUS, 1},  {"-", OP_MINUS, 1},
    {"AND", OP_AND, 1},  {"OR", OP_OR, 1},   {"XOR", OP_XOR, 1},
};

static gboolean apply(Scan *s, const char *where, Operator op, double *left, double right)
{
    double a = *left, r = 0;
    switch (op) {
    case OP_POWER:
        if (a < 0 && right != floor(right)) {
            FAULT_AT(s, FAULT_EXPRESSION, where, "a negative number has no broken power");
            return FALSE;
        }
        r = pow(a, right);
        break;
    case OP_TIMES:
        r = a * right;
        break;
    case OP_DIVIDE:
    case OP_MOD:
        if (right == 0) {
            FAULT_AT(s, FAULT_EXPRESSION, where, "division by zero");
            return FALSE;
        }
        r = op == OP_DIVIDE ? a / right : a - right * floor(a / right);
        if (op == OP_MOD && r < 0)
            r += fabs(right);
        break;
    case OP_PLUS:
        r = a + right;
        break;
    case OP_MINUS:
        r = a - right;
        break;
    case OP_AND:
        r = a != 0 && right != 0;
        break;
    case OP_OR:
        r = a != 0 || right != 0;
        break;
    case OP_XOR:
        r = (a != 0) != (right != 0);
        break;
    case OP_NONE:
        break;
    }
    if (!isfinite(r)) {
        FAULT_AT(s, FAULT_EXPRESSION, where, "the result is too large");
        return FALSE;
    }
    *left = r;
    return TRUE;
}

/* The operator of this level that stands next, and goes past it. */
static Operator take_operator(Scan *s, int level)
{
    const char *start = s->at;
    for (size_t i = 0; i < G_N_ELEMENTS(operators); i++)
        if (operators[i].level == level && take_name(s, operators[i].name))
            return operators[i].op;
    s->at = start;
    return OP_NONE;
}

/* Reads values joined by operators of at least `level`, from left to right. */
static gboolean read_level(Scan *s, int level, double *out)
{
    if (level > 3)
        return read_value(s, out);
    if (!read_level(s, level + 1, out))
        return FALSE;
    for (;;) {
        skip_blanks(s);
        const char *where = s->at;
        Operator op = take_operator(s, level);
        double right;
        if (op == OP_NONE)
            return TRUE;
        if (!read_level(s, level + 1, &right) || !apply(s, where, op, out, right))
            return FALSE;
    }
}

static gboolean read_brackets(Scan *s, double *out)
{
    const char *start = s->at++;
    if (s->depth >= DEEPEST_BRACKETS) {
        FAULT_AT(s, FAULT_EXPRESSION, start, "brackets are more than %d deep", DEEPEST_BRACKETS);
        return FALSE;
    }
    s->depth++;
    s->block->computed = TRUE;
    skip_blanks(s);
    gboolean good = read_level(s, 1, out);
    s->depth--;
    if (!good)
        return FALSE;
    skip_blanks(s);
    if (*s->at != ']') {
        FAULT_AT(s, FAULT_EXPRESSION, s->at, "']' or an operator should stand here");
        return FALSE;
    }
    s->at++;
    return TRUE;
}

static gboolean read_arctangent(Scan *s, const char *start, double *out)
{
    double over, under;
    if (*s->at != '[' || !read_brackets(s, &over))
        return *s->at == '[' ? FALSE
                             : (FAULT_AT(s, FAULT_EXPRESSION, start, "ATAN needs '['"), FALSE);
    skip_blanks(s);
    if (*s->at != '/') {
        FAULT_AT(s, FAULT_EXPRESSION, s->at, "ATAN is written ATAN[..]/[..]");
        return FALSE;
    }
    s->at++;
    skip_blanks(s);
    if (*s->at != '[') {
        FAULT_AT(s, FAULT_EXPRESSION, s->at, "ATAN is written ATAN[..]/[..]");
        return FALSE;
    }
    if (!read_brackets(s, &under))
        return FALSE;
    *out = atan2(over, under) * degrees;
    return TRUE;
}

static gboolean read_function(Scan *s, double *out)
{
    const char *start = s->at;
    s->block->computed = TRUE;
    if (take_name(s, "ATAN"))
        return read_arctangent(s, start, out);
    for (size_t i = 0; i < G_N_ELEMENTS(functions); i++) {
        if (!take_name(s, functions[i].name))
            continue;
        double v;
        if (*s->at != '[') {
            FAULT_AT(s, FAULT_EXPRESSION, s->at, "%s needs '['", functions[i].name);
            return FALSE;
        }
        if (!read_brackets(s, &v))
            return FALSE;
        if (!(v >= functions[i].least && v <= functions[i].most)) {
            FAULT_AT(s, FAULT_EXPRESSION, start, "%s takes values %s, not %g", functions[i].name,
                     functions[i].domain, v);
            return FALSE;
        }
        *out = functions[i].of(v);
        return TRUE;
    }
    FAULT_AT(s, FAULT_NUMBER, start, "a number should stand here");
    return FALSE;
}

static gboolean read_value(Scan *s, double *out)
{
    char c = *s->at;
    if ((c >= '0' && c <= '9') || c == '.')
        return read_number(s, out);
    if (c == '-' || c == '+') {
        const char *after = s->at + 1;
        while (is_blank(*after))
            after++;
        if ((*after >= '0' && *after <= '9') || *after == '.')
            return read_number(s, out);
        FAULT_AT(s, FAULT_NUMBER, s->at, "a sign needs a digit after it");
        return FALSE;
    }
    if (c == '#')
        return read_parameter(s, out);
    if (c == '[')
        return read_brackets(s, out);
    if (g_ascii_isalpha(c))
        return read_function(s, out);
    FAULT_AT(s, FAULT_NUMBER, s->at, "a number should stand here");
    return FALSE;
}

/* Words --------------------------------------------------------------------------------------- */

/* After a fault: to the next letter outside brackets, or to a comment, parameter or the end. */
static void skip_word(Scan *s)
{
    int depth = 0;
    for (; *s->at != '\n'; s->at++) {
        char c = *s->at;
        depth += c == '[' ? 1 : c == ']' && depth > 0 ? -1 : 0;
        if (depth == 0 && (g_ascii_isalpha(c) || c == '(' || c == ';' || c == '#'))
            return;
    }
}

static gboolean is_own_code(const DtVocabulary *own, gboolean is_g, long code)
{
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
    long code = fabs(scaled) < 1e6 ? lround(scaled) : -1;
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
            FAULT_AT(s, FAULT_TWICE, where, "%c%g and %c%g cannot stand in one line", word->letter,
                     (double)codes[group] / scale, word->letter, word->value);
        return;
    }
    *groups |= 1u << group;
    codes[group] = (short)code;
    (is_g ? b->g_word : b->m_word)[group] = at;
    if (!is_g && ++b->n_m > MOST_M)
        FAULT_AT(s, FAULT_COMBINATION, where, "a line takes at most %d M words", MOST_M);
}

static void store_word(Scan *s, DtCodeWord word)
{
    DtCodeBlock *b = s->block;
    const char *where = b->text + word.column - 1;
    if (b->n_words == MOST_WORDS) {
        FAULT_AT(s, FAULT_COMBINATION, where, "a line takes at most %d words", MOST_WORDS);
        return;
    }
    uint8_t at = (uint8_t)b->n_words;
    b->words[b->n_words++] = word;
    if (word.letter == 'G' || word.letter == 'M') {
        store_code(s, &word, at);
        return;
    }
    if (b->has & LETTER(word.letter)) {
        FAULT_AT(s, FAULT_TWICE, where, "%c stands twice in one line", word.letter);
        return;
    }
    if (word.letter == 'N' && (b->n_words > 1 || word.value < 0 || word.value > 99999 ||
                               word.value != floor(word.value))) {
        FAULT_AT(s, FAULT_VALUE, where,
                 "a line number stands first in its line and is a whole number up to 99999");
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
        !(s->own && dt_vocabulary_takes_letter(s->own, letter))) {
        FAULT_AT(s, FAULT_LETTER, start,
                 letter == 'E' ? "RS-274 has no letter E: numbers have no exponent"
                               : "RS-274 has no letter %c",
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
    if (read_value(s, &word.value))
        store_word(s, word);
    else
        skip_word(s);
}

static void read_setting(Scan *s)
{
    const char *start = s->at++;
    double index, value;
    skip_blanks(s);
    if (!read_value(s, &index)) {
        skip_word(s);
        return;
    }
    long number = fabs(index) < 1e6 ? lround(index) : 0;
    skip_blanks(s);
    if (fabs(index - (double)number) > 1e-4 || number < 1 || number >= PARAMETERS) {
        FAULT_AT(s, FAULT_PARAMETER, start, "parameters are #1 to #%d", PARAMETERS - 1);
        skip_word(s);
    } else if (*s->at != '=') {
        FAULT_AT(s, FAULT_EXPRESSION, s->at, "'=' should stand after #%ld", number);
        skip_word(s);
    } else {
        s->at++;
        skip_blanks(s);
        DtCodeBlock *b = s->block;
        if (!read_value(s, &value)) {
            skip_word(s);
        } else if (b->n_settings == MOST_SETTINGS) {
            FAULT_AT(s, FAULT_COMBINATION, start, "a line sets at most %d parameters",
                     MOST_SETTINGS);
        } else {
            b->setting[b->n_settings].index = (int)number;
            b->setting[b->n_settings++].value = value;
        }
    }
    s->block->computed = TRUE;
}

static void note_comment(Scan *s, const char *text, size_t len, const char *where)
{
    DtCodeBlock *b = s->block;
    b->comment = text;
    b->comment_len = len;
    b->comment_column = column_of(s, where);
    while (len > 0 && is_blank(*text)) {
        text++;
        len--;
    }
    b->message = len >= 4 && g_ascii_strncasecmp(text, "MSG,", 4) == 0;
}

static void read_comment(Scan *s)
{
    const char *start = s->at++;
    for (; *s->at != ')' && *s->at != '\n'; s->at++)
        if (*s->at == '(')
            FAULT_AT(s, FAULT_COMMENT, s->at, "a comment cannot hold another");
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
    s->block->semicolon = TRUE;
    note_comment(s, start + 1, (size_t)(s->at - start) - 1, start);
}

static void read_stray(Scan *s)
{
    uint8_t c = (uint8_t)*s->at;
    if (c == '%' && s->block->n_words == 0)
        s->block->percent = TRUE;
    else if (c >= ' ' && c <= '~')
        FAULT_AT(s, c == ']' || c == '=' ? FAULT_EXPRESSION : FAULT_NUMBER, s->at,
                 "'%c' cannot stand here", c);
    else
        FAULT_AT(s, FAULT_BYTE, s->at, "the byte 0x%02X is no part of a program", c);
    s->at++;
    if (c != '%')
        skip_word(s);
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
        if (s->block->n_words == 0 && !s->block->deleted) {
            s->block->deleted = TRUE;
            s->at++;
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
    b->semicolon = b->message = b->deleted = b->percent = b->computed = FALSE;
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
