/* dialect: compiles the profile's list of words. */
#include "code/dialect.h"

#include <math.h>
#include <string.h>

static void allow_all_ranges(DtVocabulary *v)
{
    for (int i = 0; i < 26; i++) {
        v->low[i] = -G_MAXDOUBLE;
        v->high[i] = G_MAXDOUBLE;
    }
}

/* Settings written as name:value among the words. */
static const struct {
    const char *token;
    size_t offset;
    gboolean value;
} settings[] = {
    {"comment:none", offsetof(DtVocabulary, round_comments), FALSE},
    {"comment:none", offsetof(DtVocabulary, semicolon_comments), FALSE},
    {"comment:round", offsetof(DtVocabulary, round_comments), TRUE},
    {"comment:round", offsetof(DtVocabulary, semicolon_comments), FALSE},
    {"comment:semicolon", offsetof(DtVocabulary, round_comments), FALSE},
    {"comment:semicolon", offsetof(DtVocabulary, semicolon_comments), TRUE},
    {"comment:both", offsetof(DtVocabulary, round_comments), TRUE},
    {"comment:both", offsetof(DtVocabulary, semicolon_comments), TRUE},
    {"gap:needed", offsetof(DtVocabulary, gap_needed), TRUE},
    {"gap:free", offsetof(DtVocabulary, gap_needed), FALSE},
    {"delete:taken", offsetof(DtVocabulary, block_delete), TRUE},
    {"delete:refused", offsetof(DtVocabulary, block_delete), FALSE},
    {"expressions:taken", offsetof(DtVocabulary, expressions), TRUE},
    {"expressions:refused", offsetof(DtVocabulary, expressions), FALSE},
};

static gboolean apply_setting(DtVocabulary *v, const char *token)
{
    gboolean known = FALSE;
    for (size_t i = 0; i < G_N_ELEMENTS(settings); i++)
        if (strcmp(token, settings[i].token) == 0) {
            *(gboolean *)((char *)v + settings[i].offset) = settings[i].value;
            known = TRUE;
        }
    if (strcmp(token, "dwell:ms") == 0 || strcmp(token, "dwell:s") == 0) {
        v->dwell_unit_s = strcmp(token, "dwell:ms") == 0 ? 0.001 : 1;
        known = TRUE;
    }
    return known;
}

/* Reads "+X+Y" from `text`; FALSE if it contains anything else. */
static gboolean read_needs(const char *text, uint32_t *needs)
{
    for (; *text; text += 2) {
        if (text[0] != '+' || !g_ascii_isalpha(text[1]))
            return FALSE;
        *needs |= 1u << (g_ascii_toupper(text[1]) - 'A');
    }
    return TRUE;
}

static gboolean read_code(DtWordRule *codes, const char *text)
{
    char *end;
    double number = g_ascii_strtod(text, &end);
    long tenths = lround(number * 10);
    if (end == text || number < 0 || tenths >= DT_G_CODES ||
        fabs(number * 10 - (double)tenths) > 1e-6)
        return FALSE;
    codes[tenths].taken = TRUE;
    return read_needs(end, &codes[tenths].needs);
}

static gboolean read_letter(DtVocabulary *v, int letter, const char *text)
{
    v->letter[letter].taken = TRUE;
    const char *dots = strstr(text, "..");
    if (dots) {
        g_autofree char *first = g_strndup(text, (gsize)(dots - text)); /* or "0." would be read */
        char *end;
        double low = g_ascii_strtod(first, &end);
        if (end == first || *end != '\0')
            return FALSE;
        double high = g_ascii_strtod(dots + 2, &end);
        if (end == dots + 2 || !(low <= high))
            return FALSE;
        v->low[letter] = low;
        v->high[letter] = high;
        text = end;
    }
    return read_needs(text, &v->letter[letter].needs);
}

static gboolean read_token(DtVocabulary *v, const char *token)
{
    static const char untried[] =
        "untried:"; /* a word that is not used until somebody has tried it */
    if (g_str_has_prefix(token, untried)) {
        DtVocabulary unused;
        memset(&unused, 0, sizeof unused);
        token += strlen(untried);
        return strchr(token, ':') == NULL && read_token(&unused, token);
    }
    if (strchr(token, ':'))
        return apply_setting(v, token);
    char letter = g_ascii_toupper(token[0]);
    gboolean code = token[0] && token[1] && token[1] != '+';
    if (letter == 'G' && code)
        return read_code(v->g, token + 1);
    if (letter == 'M' && code)
        return read_code(v->m, token + 1);
    if (!g_ascii_isalpha(letter) || letter == 'G' || letter == 'M')
        return FALSE;
    return read_letter(v, letter - 'A', token + 1);
}

/* A line and its end must also fit into the window. */
static void set_longest_line(const DtDialect *d, DtVocabulary *v)
{
    enum { SENDERS_BYTES = 14 };
    v->longest_line =
        d->longest_line > 0 ? MIN(d->longest_line, DT_LONGEST_BLOCK) : DT_LONGEST_BLOCK;
    if (d->window > 0)
        v->longest_line = CLAMP(d->window - 2, 1, v->longest_line);
    v->overhead = d->line_check ? SENDERS_BYTES : 0;
}

gboolean dt_vocabulary_compile(const DtDialect *d, const char *name, DtVocabulary *out,
                               GError **error)
{
    memset(out, 0, sizeof *out);
    allow_all_ranges(out);
    out->round_comments = out->block_delete = TRUE;
    out->dwell_unit_s = 1;
    out->decimals = d->decimals;
    set_longest_line(d, out);
    g_auto(GStrv) tokens = g_strsplit_set(d->words ? d->words : "", " \t,", -1);
    for (char **t = tokens; *t; t++)
        if (**t && !read_token(out, *t)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "%s: '%s' is not a word of a controller; words look like G1, X, S0..255, "
                        "G4+P or comment:none",
                        name, *t);
            return FALSE;
        }
    return TRUE;
}

gboolean dt_dialect_needs_gaps(const DtDialect *d)
{
    DtVocabulary v;
    return dt_vocabulary_compile(d, "", &v, NULL) && v.gap_needed;
}

gboolean dt_code_takes(const DtProfile *p, const char *word)
{
    DtVocabulary v;
    if (!dt_vocabulary_compile(&p->dialect, "profile", &v, NULL))
        return FALSE;
    if (*word == '(')
        return v.round_comments;
    if (*word == ';')
        return v.semicolon_comments;
    const int tenths = (int)lround(g_ascii_strtod(word + 1, NULL) * 10);
    if (word[1] == '\0')
        return dt_vocabulary_takes_letter(&v, *word);
    return *word == 'G' ? dt_vocabulary_takes_g(&v, tenths)
                        : *word == 'M' && dt_vocabulary_takes_m(&v, tenths / 10);
}

gboolean dt_code_cannot_wait(const DtProfile *p)
{
    return MAX(p->drop_s, p->lift_s) > 0 && !dt_code_takes(p, "G4");
}

double dt_code_dwell_unit_s(const DtProfile *p)
{
    DtVocabulary v;
    return dt_vocabulary_compile(&p->dialect, "profile", &v, NULL) ? v.dwell_unit_s : 1;
}

static const double powers[] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};

int dt_number_write(double value, int decimals, char *out)
{
    decimals = CLAMP(decimals, 0, 9);
    double scaled = value * powers[decimals];
    if (!(fabs(scaled) < 9e18)) /* too large for fixed notation, which no machine's travel is */
        return (int)strlen(g_ascii_formatd(out, 40, "%.0f", CLAMP(value, -1e30, 1e30)));
    int64_t units = llround(scaled);
    uint64_t rest = units < 0 ? 0 - (uint64_t)units : (uint64_t)units;
    while (decimals > 0 && rest % 10 == 0) {
        rest /= 10;
        decimals--;
    }
    char reversed[24];
    int n = 0;
    for (; rest > 0 || n <= decimals; rest /= 10) {
        reversed[n++] = (char)('0' + rest % 10);
    }
    char *to = out;
    if (units < 0)
        *to++ = '-';
    while (n > 0) {
        *to++ = reversed[--n];
        if (n == decimals && n > 0)
            *to++ = '.';
    }
    *to = '\0';
    return (int)(to - out);
}

int dt_number_decimals(double steps_per_mm, int most)
{
    int decimals = 0;
    while (decimals < most && decimals < 9 &&
           !(powers[decimals] >= 2 * steps_per_mm)) /* 10^-d / 2 <= step / 4 */
        decimals++;
    return decimals;
}
