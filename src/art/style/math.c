/* math: calc() and the other math functions (CSS Values and Units 4, 10), evaluated in place. */
#include "art/private.h"

#include <math.h>

#define MAX_DEPTH 32
#define MAX_ARGUMENTS 32

typedef struct {
    const char *p;
    const ArtStyle *style; /* NULL: units that depend on the place count as 1 */
    const ArtScope *scope;
    ArtAlong along;
    const ArtRoot *root;
    int depth;
} Reading;

typedef enum {
    F_CALC,
    F_MIN,
    F_MAX,
    F_CLAMP,
    F_ROUND,
    F_MOD,
    F_REM,
    F_SIN,
    F_COS,
    F_TAN,
    F_ASIN,
    F_ACOS,
    F_ATAN,
    F_ATAN2,
    F_POW,
    F_SQRT,
    F_HYPOT,
    F_LOG,
    F_EXP,
    F_ABS,
    F_SIGN,
    F_PROGRESS
} Function;

static const struct {
    const char *name;
    Function function;
    int least, most; /* arguments */
} functions[] = {
    {"calc", F_CALC, 1, 1},
    {"min", F_MIN, 1, MAX_ARGUMENTS},
    {"max", F_MAX, 1, MAX_ARGUMENTS},
    {"clamp", F_CLAMP, 3, 3},
    {"round", F_ROUND, 1, 2},
    {"mod", F_MOD, 2, 2},
    {"rem", F_REM, 2, 2},
    {"sin", F_SIN, 1, 1},
    {"cos", F_COS, 1, 1},
    {"tan", F_TAN, 1, 1},
    {"asin", F_ASIN, 1, 1},
    {"acos", F_ACOS, 1, 1},
    {"atan", F_ATAN, 1, 1},
    {"atan2", F_ATAN2, 2, 2},
    {"pow", F_POW, 2, 2},
    {"sqrt", F_SQRT, 1, 1},
    {"hypot", F_HYPOT, 1, MAX_ARGUMENTS},
    {"log", F_LOG, 1, 2},
    {"exp", F_EXP, 1, 1},
    {"abs", F_ABS, 1, 1},
    {"sign", F_SIGN, 1, 1},
    {"progress", F_PROGRESS, 3, 3},
};

/* The function whose name and bracket are at p; -1 if there is none. */
static int function_at(const char *p, gsize *len)
{
    gsize n = 0;
    while (g_ascii_isalnum(p[n]))
        n++;
    if (n == 0 || p[n] != '(')
        return -1;
    for (gsize i = 0; i < G_N_ELEMENTS(functions); i++)
        if (strlen(functions[i].name) == n && g_ascii_strncasecmp(functions[i].name, p, n) == 0) {
            *len = n + 1;
            return (int)i;
        }
    return -1;
}

gboolean dt_art_has_math(const char *text)
{
    for (const char *bracket = strchr(text, '('); bracket; bracket = strchr(bracket + 1, '(')) {
        const char *from = bracket;
        gsize len;
        while (from > text && g_ascii_isalnum(from[-1]))
            from--;
        if (function_at(from, &len) >= 0)
            return TRUE;
    }
    return FALSE;
}

static gboolean sum(Reading *r, ArtMath *out);

static void skip(Reading *r)
{
    r->p = art_skip_space(r->p);
}

/* A constant by name: 10.7.1. */
static gboolean constant(Reading *r, double *out)
{
    static const struct {
        const char *name;
        double value;
    } names[] = {
        {"-infinity", -INFINITY}, {"infinity", INFINITY}, {"nan", NAN}, {"pi", G_PI}, {"e", G_E}};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
        gsize n = strlen(names[i].name);
        if (g_ascii_strncasecmp(r->p, names[i].name, n) == 0 && !g_ascii_isalnum(r->p[n])) {
            *out = names[i].value;
            r->p += n;
            return TRUE;
        }
    }
    return FALSE;
}

static gboolean angle_factor(const char *p, gsize n, double *out)
{
    static const struct {
        const char *name;
        double degrees;
    } kinds[] = {{"deg", 1}, {"grad", 0.9}, {"rad", 180 / G_PI}, {"turn", 360}};
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++)
        if (strlen(kinds[i].name) == n && g_ascii_strncasecmp(p, kinds[i].name, n) == 0) {
            *out = kinds[i].degrees;
            return TRUE;
        }
    return FALSE;
}

static gboolean is_absolute(ArtUnit u)
{
    return u == ART_UNIT_PX || (u >= ART_UNIT_PT && u <= ART_UNIT_IN);
}

/* A number with or without a unit. */
static gboolean dimension(Reading *r, ArtMath *out)
{
    const char *after = r->p;
    double v, factor;
    *out = (ArtMath){.value = 0};
    if (!dt_art_any_number(&after, &v))
        return FALSE;
    gsize n = 0;
    while (g_ascii_isalpha(after[n]))
        n++;
    if (n == 0 && *after != '%') {
        out->value = v;
    } else if (n > 0 && angle_factor(after, n, &factor)) {
        *out = (ArtMath){.value = v * factor, .kind = ART_MATH_ANGLE};
        after += n;
    } else {
        ArtLength l;
        after = r->p;
        if (!dt_art_length_at(&after, &l))
            return FALSE;
        out->kind = ART_MATH_LENGTH;
        out->percent = l.unit == ART_UNIT_PERCENT;
        out->relative = !is_absolute(l.unit);
        ArtScope nowhere = {0};
        out->value = r->style        ? dt_art_px(l, r->style, r->scope, r->along, r->root)
                     : out->relative ? l.value
                                     : dt_art_px(l, NULL, &nowhere, ART_ALONG_X, NULL);
    }
    r->p = after;
    return TRUE;
}

/* 10.3 and 10.3.1: no finite number but zero is a multiple of an infinite one. */
static double stepped(const char *how, double a, double b)
{
    if (isinf(b) && isfinite(a))
        return strcmp(how, "up") == 0 && a > 0     ? INFINITY
               : strcmp(how, "down") == 0 && a < 0 ? -INFINITY
                                                   : 0;
    double q = a / b;
    if (strcmp(how, "up") == 0)
        return ceil(b < 0 ? -floor(-q) : q) * b;
    if (strcmp(how, "down") == 0)
        return floor(q) * b;
    if (strcmp(how, "to-zero") == 0)
        return trunc(q) * b;
    return floor(q + 0.5) * b;
}

/* 10.3.1: with the sign of `b`. */
static double modulo(double a, double b)
{
    if (isinf(b))
        return (a < 0) == (b < 0) ? a : NAN;
    return a - floor(a / b) * b;
}

/* The word before round()'s first comma: 10.3. */
static void rounding(Reading *r, char how[8])
{
    static const char *const words[] = {"nearest", "up", "down", "to-zero"};
    strcpy(how, "nearest");
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++) {
        gsize n = strlen(words[i]);
        if (g_ascii_strncasecmp(r->p, words[i], n) == 0 && *art_skip_space(r->p + n) == ',') {
            strcpy(how, words[i]);
            r->p = art_skip_space(r->p + n) + 1;
            return;
        }
    }
}

static gboolean all_of_a_kind(const ArtMath *a, int n)
{
    for (int i = 1; i < n; i++)
        if (a[i].kind != a[0].kind)
            return FALSE;
    return TRUE;
}

static double of_angle(const ArtMath *a)
{
    return a->kind == ART_MATH_ANGLE ? a->value * G_PI / 180 : a->value;
}

/* Functions that keep the kind of their arguments; FALSE for all others. */
static gboolean same_kind(Function f, const ArtMath *a, int n, const char *how, double *out)
{
    switch (f) {
    case F_CALC:
        *out = a[0].value;
        return TRUE;
    case F_MIN:
    case F_MAX:
        *out = a[0].value;
        for (int i = 1; i < n; i++)
            *out = f == F_MIN ? MIN(*out, a[i].value) : MAX(*out, a[i].value);
        return TRUE;
    case F_CLAMP:
        *out = MAX(a[0].value, MIN(a[1].value, a[2].value));
        return TRUE;
    case F_ROUND:
        *out = stepped(how, a[0].value, n > 1 ? a[1].value : 1);
        return n > 1 || a[0].kind == ART_MATH_NUMBER;
    case F_MOD:
        *out = modulo(a[0].value, a[1].value);
        return TRUE;
    case F_REM:
        *out = fmod(a[0].value, a[1].value);
        return TRUE;
    case F_HYPOT:
        *out = 0;
        for (int i = 0; i < n; i++)
            *out = hypot(*out, a[i].value);
        return TRUE;
    case F_ABS:
        *out = fabs(a[0].value);
        return TRUE;
    default:
        return FALSE;
    }
}

/* Functions that return a number or an angle. */
static gboolean other_kind(Function f, const ArtMath *a, int n, ArtMath *out)
{
    const double degrees = 180 / G_PI;
    gboolean angle_in = f == F_SIN || f == F_COS || f == F_TAN;
    gboolean any_in = f == F_SIGN || f == F_ATAN2 || f == F_PROGRESS;
    if (!any_in && a[0].kind != ART_MATH_NUMBER && !(angle_in && a[0].kind == ART_MATH_ANGLE))
        return FALSE;
    double x = a[0].value, y = n > 1 ? a[1].value : 0;
    out->kind = ART_MATH_NUMBER;
    switch (f) {
    case F_SIN:
        out->value = sin(of_angle(a));
        break;
    case F_COS:
        out->value = cos(of_angle(a));
        break;
    case F_TAN:
        out->value = tan(of_angle(a));
        break;
    case F_POW:
        out->value = pow(x, y);
        break;
    case F_SQRT:
        out->value = sqrt(x);
        break;
    case F_LOG:
        out->value = n > 1 ? log(x) / log(y) : log(x);
        break;
    case F_EXP:
        out->value = exp(x);
        break;
    case F_SIGN:
        out->value = x > 0 ? 1 : x < 0 ? -1 : x;
        break;
    case F_PROGRESS:
        out->value = y == a[2].value ? 0 : CLAMP((x - y) / (a[2].value - y), 0, 1);
        break;
    default:
        out->kind = ART_MATH_ANGLE;
        out->value = degrees * (f == F_ASIN   ? asin(x)
                                : f == F_ACOS ? acos(x)
                                : f == F_ATAN ? atan(x)
                                              : atan2(x, y));
    }
    return TRUE;
}

/* `none` means no bound in clamp(). */
static gboolean argument(Reading *r, Function f, int at, ArtMath *out)
{
    if (f == F_CLAMP && g_ascii_strncasecmp(r->p, "none", 4) == 0) {
        r->p += 4;
        *out = (ArtMath){.value = at == 0 ? -INFINITY : INFINITY};
        return at != 1;
    }
    return sum(r, out);
}

static gboolean function(Reading *r, int which, ArtMath *out)
{
    ArtMath a[MAX_ARGUMENTS];
    char how[8] = "";
    Function f = functions[which].function;
    int n = 0;
    skip(r);
    if (f == F_ROUND)
        rounding(r, how);
    for (;;) {
        if (n == functions[which].most || !argument(r, f, n, &a[n]))
            return FALSE;
        n++;
        skip(r);
        if (*r->p == ')')
            break;
        if (*r->p != ',')
            return FALSE;
        r->p++;
        skip(r);
    }
    r->p++;
    if (f == F_CLAMP) { /* without bounds it has the kind of the middle argument */
        a[0].kind = isinf(a[0].value) ? a[1].kind : a[0].kind;
        a[2].kind = n > 2 && isinf(a[2].value) ? a[1].kind : a[2].kind;
    }
    if (n < functions[which].least || (f != F_POW && f != F_LOG && !all_of_a_kind(a, n)))
        return FALSE;
    *out = a[0];
    for (int i = 1; i < n; i++) {
        out->percent |= a[i].percent;
        out->relative |= a[i].relative;
    }
    return same_kind(f, a, n, how, &out->value) || other_kind(f, a, n, out);
}

static gboolean value(Reading *r, ArtMath *out)
{
    gsize len;
    gboolean good = FALSE;
    if (++r->depth > MAX_DEPTH)
        return FALSE;
    skip(r);
    int which = function_at(r->p, &len);
    if (which >= 0) {
        r->p += len;
        good = function(r, which, out);
    } else if (*r->p == '(') {
        r->p++;
        good = sum(r, out);
        if (good)
            skip(r);
        good = good && *r->p == ')';
        r->p += good;
    } else {
        *out = (ArtMath){.value = 0};
        good = constant(r, &out->value) || dimension(r, out);
    }
    r->depth--;
    return good;
}

static gboolean product(Reading *r, ArtMath *out)
{
    if (!value(r, out))
        return FALSE;
    for (;;) {
        const char *before = r->p;
        skip(r);
        char c = *r->p;
        ArtMath b;
        if (c != '*' && c != '/') {
            r->p = before;
            return TRUE;
        }
        r->p++;
        if (!value(r, &b) || (c == '/' && b.kind != ART_MATH_NUMBER && b.kind != out->kind) ||
            (c == '*' && out->kind != ART_MATH_NUMBER && b.kind != ART_MATH_NUMBER))
            return FALSE;
        if (c == '/' && b.kind == out->kind)
            out->kind = ART_MATH_NUMBER; /* CSS Values 4, 10.2: units cancel */
        else if (b.kind != ART_MATH_NUMBER)
            out->kind = b.kind;
        out->percent |= b.percent;
        out->relative |= b.relative;
        out->value = c == '*' ? out->value * b.value : out->value / b.value;
    }
}

/* Plus and minus must have spaces around them. */
static gboolean sum(Reading *r, ArtMath *out)
{
    if (++r->depth > MAX_DEPTH || !product(r, out))
        return FALSE;
    for (;;) {
        const char *before = r->p;
        skip(r);
        char c = *r->p;
        if ((c != '+' && c != '-') || r->p == before || !art_is_space(r->p[1])) {
            r->p = before;
            r->depth--;
            return TRUE;
        }
        r->p++;
        ArtMath b;
        if (!product(r, &b) || b.kind != out->kind)
            return FALSE;
        out->percent |= b.percent;
        out->relative |= b.relative;
        out->value += c == '+' ? b.value : -b.value;
    }
}

static gboolean evaluate(Reading *r, ArtMath *out)
{
    gsize len;
    return function_at(r->p, &len) >= 0 && value(r, out);
}

gboolean dt_art_math_at(const char **s, ArtMath *out)
{
    Reading r = {.p = *s};
    if (!evaluate(&r, out))
        return FALSE;
    *s = r.p;
    return TRUE;
}

double dt_art_math_px(const char *text, const ArtStyle *s, const ArtScope *scope, ArtAlong along,
                      const ArtRoot *root)
{
    Reading r = {.p = text, .style = s, .scope = scope, .along = along, .root = root};
    ArtMath m;
    double limit = 1e9; /* px: infinity and NaN are clamped (10.9) */
    if (!evaluate(&r, &m) || isnan(m.value))
        return 0;
    return CLAMP(m.value, -limit, limit);
}
