/* expr: the values of words: numbers, parameters, expressions and functions (NISTIR 6556, 3.3.2).
 */
#include "code/read/scan.h"

#include <math.h>

static gboolean read_parameter(Scan *s, double *out)
{
    const char *start = s->at++;
    double index;
    skip_blanks(s);
    if (!dt_scan_value(s, &index))
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
} /* rounded down, not towards zero: 3.3.2.4 */
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

/* The functions (table of 3.3.2.4) with their number of arguments. */
static const struct {
    const char *name;
    double (*of)(double);
    double least, most;
    const char *domain;
} functions[] = {
    {"ABS", in_abs, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"ACOS", in_acos, -1, 1, N_("from -1 to 1")},
    {"ASIN", in_asin, -1, 1, N_("from -1 to 1")},
    {"COS", in_cos, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"EXP", in_exp, -G_MAXDOUBLE, 700, N_("up to 700")},
    {"FIX", in_fix, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"FUP", in_fup, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"LN", in_ln, G_MINDOUBLE, G_MAXDOUBLE, N_("above 0")},
    {"ROUND", in_round, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"SIN", in_sin, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
    {"SQRT", in_sqrt, 0, G_MAXDOUBLE, N_("of 0 or more")},
    {"TAN", in_tan, -G_MAXDOUBLE, G_MAXDOUBLE, ""},
};

/* Whether `name` comes next, blanks between its letters allowed; if so, goes past it. */
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
            FAULT_AT(s, FAULT_EXPRESSION, where, "a negative number has no fractional power");
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

/* The operator of this level that comes next; goes past it. */
static Operator take_operator(Scan *s, int level)
{
    const char *start = s->at;
    if (*s->at == ']')
        return OP_NONE;
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
        return dt_scan_value(s, out);
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
    if (!good) {
        s->open++;
        return FALSE;
    }
    skip_blanks(s);
    if (*s->at != ']') {
        FAULT_AT(s, FAULT_EXPRESSION, s->at, "expected ']' or an operator here");
        s->open++;
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
                     dt_messages_find(functions[i].domain), v);
            return FALSE;
        }
        *out = functions[i].of(v);
        return TRUE;
    }
    FAULT_AT(s, FAULT_NUMBER, start, "expected a number here");
    return FALSE;
}

gboolean dt_scan_value(Scan *s, double *out)
{
    char c = *s->at;
    if ((c >= '0' && c <= '9') || c == '.')
        return scan_number(s, out);
    if (c == '-' || c == '+') {
        const char *after = s->at + 1;
        while (is_blank(*after))
            after++;
        if ((*after >= '0' && *after <= '9') || *after == '.')
            return scan_number(s, out);
        FAULT_AT(s, FAULT_NUMBER, s->at, "a sign needs a digit after it");
        return FALSE;
    }
    if (c == '#')
        return read_parameter(s, out);
    if (c == '[')
        return read_brackets(s, out);
    if (g_ascii_isalpha(c))
        return read_function(s, out);
    FAULT_AT(s, FAULT_NUMBER, s->at, "expected a number here");
    return FALSE;
}
