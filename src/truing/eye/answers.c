/* answers: what a person reads from a sheet, as text and as numbers. */
#include "drawtrue/json.h"
#include "truing/eye/eye.h"

#include <math.h>
#include <string.h>

/* A number at the start of *text, which is advanced past it: digits, a point and a sign. strtod() would
 * also take 0x3 or 1e1, which are typing errors here. */
static gboolean take_number(const char **text, double *value)
{
    char *end;
    *text += strspn(*text, " \t");
    const gsize n = strspn(*text, "+-.0123456789");
    g_autofree char *number = g_strndup(*text, n);
    *value = g_ascii_strtod(number, &end);
    if (n == 0 || *end != '\0' || !isfinite(*value))
        return FALSE;
    *text += n;
    *text += strspn(*text, " \t");
    return TRUE;
}

static gboolean take_word(const char **text, const char *word)
{
    const gsize n = strlen(word);
    if (g_ascii_strncasecmp(*text, word, n) != 0)
        return FALSE;
    *text += n;
    *text += strspn(*text, " \t");
    return TRUE;
}

typedef struct {
    double low, high;
    gboolean meets; /* another tick than that of its own number */
    double tick;
} Parsed;

/* "6", "between 6 and 7", "6 to 7", "6 at 7"; "mm" may follow. */
static gboolean parse(const char *text, Parsed *out)
{
    const char *at = text + strspn(text, " \t");
    const gboolean between = take_word(&at, "between");
    *out = (Parsed){0};
    if (!take_number(&at, &out->low))
        return FALSE;
    out->high = out->low;
    if (between ? !take_word(&at, "and") || !take_number(&at, &out->high)
                : take_word(&at, "to") && !take_number(&at, &out->high))
        return FALSE;
    out->meets = take_word(&at, "at");
    if (out->meets && !take_number(&at, &out->tick))
        return FALSE;
    take_word(&at, "mm");
    return *at == '\0';
}

static void set_no_reading(const DtAsk *a, const char *text, GError **error)
{
    if (strchr(text, ',') != NULL)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: '%s' is not a reading; decimals take a point, as in 3.5", a->name, text);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: '%s' is not a reading; give a number, or 'between 6 and 7', or ? where "
                    "you cannot tell",
                    a->name, text);
}

static void set_out_of_range(const DtAsk *a, const char *text, GError **error)
{
    if (a->kind == DT_ASK_RULE || a->kind == DT_ASK_EDGE)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %s is out of range; readings are in mm, from %.1f to %.1f", a->name, text,
                    a->least, a->most);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %s is out of range; readings go from %g to %g", a->name, text, a->least,
                    a->most);
}

gboolean dt_eye_answer(const DtAsk *a, const char *text, DtEyeReading *out, GError **error)
{
    enum { MOST_SHIFT = 4 };
    Parsed p;
    if (!parse(text, &p) || (p.meets && a->kind != DT_ASK_VERNIER)) {
        set_no_reading(a, text, error);
        return FALSE;
    }
    *out = (DtEyeReading){.value = (p.low + p.high) / 2,
                          .sd = MAX(fabs(p.high - p.low) / 2 / sqrt(3), a->sd)};
    const double shift = p.meets ? round(p.tick - out->value) : 0;
    if (MIN(p.low, p.high) < a->least || MAX(p.low, p.high) > a->most || fabs(shift) > MOST_SHIFT) {
        set_out_of_range(a, text, error);
        return FALSE;
    }
    out->shift = (int)shift;
    return TRUE;
}

/* Readings of a sheet --------------------------------------------------------------------------- */

DtEyeReadings *dt_eye_readings_new(const DtTestSheet *s)
{
    DtEyeReadings *r = g_new0(DtEyeReadings, 1);
    r->asks = dt_eye_asks(s, &r->n);
    r->answers = g_new0(DtEyeAnswer, MAX(r->n, 1));
    return r;
}

void dt_eye_readings_free(DtEyeReadings *r)
{
    if (r == NULL)
        return;
    for (size_t i = 0; i < r->n; i++)
        for (int k = 0; k < DT_EYE_TIMES; k++)
            g_free(r->answers[i].text[k]);
    g_free(r->answers);
    g_free(r->asks);
    g_free(r);
}

/* The mean of the answers; scatter beyond that of a plain answer increases its uncertainty. */
static void sum_up(const DtAsk *a, DtEyeAnswer *e)
{
    double sum = 0, squares = 0, sd2 = 0;
    e->n = 0;
    for (int k = 0; k < DT_EYE_TIMES; k++) {
        DtEyeReading one;
        if (e->text[k] == NULL || !dt_eye_answer(a, e->text[k], &one, NULL))
            continue;
        sum += one.value;
        squares += one.value * one.value;
        sd2 += one.sd * one.sd;
        e->shift = e->n == 0 ? one.shift : e->shift;
        e->n++;
    }
    const double n = (double)e->n;
    e->value = e->n > 0 ? sum / n : NAN;
    const double scatter = e->n > 1 ? MAX(squares - sum * sum / n, 0) / (n - 1) : 0;
    e->sd = e->n > 0 ? sqrt(MAX(sd2 / n, scatter) / n) : NAN;
}

gboolean dt_eye_readings_set(DtEyeReadings *r, size_t ask, size_t i, const char *text,
                             GError **error)
{
    const DtAsk *a = &r->asks[ask];
    DtEyeAnswer *e = &r->answers[ask];
    const gboolean unknown = text == NULL || strcmp(text, "?") == 0;
    DtEyeReading one;
    if (!unknown && !dt_eye_answer(a, text, &one, error))
        return FALSE;
    g_free(e->text[i]);
    e->text[i] = unknown ? NULL : g_strdup(text);
    sum_up(a, e);
    return TRUE;
}

/* The readings of one question, with commas between. A maker may have meant a comma as a decimal point. */
static gboolean take_list(DtEyeReadings *r, size_t ask, const char *text, GError **error)
{
    const DtAsk *a = &r->asks[ask];
    g_auto(GStrv) parts = g_strsplit(text, ",", -1);
    const guint n = g_strv_length(parts);
    if (n == 0 || (n > 1 && a->times == 1)) {
        set_no_reading(a, text, error);
        return FALSE;
    }
    if (n > a->times) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    "%s: it is read %zu times at most; a comma stands between two readings, and "
                    "decimals take a point",
                    a->name, a->times);
        return FALSE;
    }
    for (guint k = 0; k < n; k++) { /* all are looked at before one is taken */
        DtEyeReading one;
        g_autoptr(GError) why = NULL;
        if (strcmp(g_strstrip(parts[k]), "?") == 0 || dt_eye_answer(a, parts[k], &one, &why))
            continue;
        if (n > 1)
            g_set_error(error, DT_ERROR, why->code,
                        "%s; a comma stands between two readings, and decimals take a point",
                        why->message);
        else
            g_propagate_error(error, g_steal_pointer(&why));
        return FALSE;
    }
    for (size_t k = 0; k < a->times; k++)
        if (!dt_eye_readings_set(r, ask, k, k < n ? parts[k] : NULL, error))
            return FALSE;
    return TRUE;
}

gboolean dt_eye_readings_take(DtEyeReadings *r, const char *argument, GError **error)
{
    const char *equals = strchr(argument, '=');
    for (size_t i = 0; equals && i < r->n; i++) {
        const DtAsk *a = &r->asks[i];
        if (strlen(a->name) == (gsize)(equals - argument) &&
            g_ascii_strncasecmp(a->name, argument, strlen(a->name)) == 0)
            return take_list(r, i, equals + 1, error);
    }
    g_autoptr(GString) names = g_string_new(NULL);
    for (size_t i = 0; i < r->n; i++)
        g_string_append_printf(names, " %s", r->asks[i].name);
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                "'%s' is not a reading of this sheet; readings look like X1=6, and it has%s",
                argument, names->str);
    return FALSE;
}

size_t dt_eye_readings_count(const DtEyeReadings *r)
{
    size_t n = 0;
    for (size_t i = 0; i < r->n; i++)
        n += r->answers[i].n > 0;
    return n;
}

gboolean dt_eye_value(const DtEyeReadings *r, DtSheetKind part, int row, double *value, double *sd)
{
    for (size_t i = 0; i < r->n; i++)
        if (r->asks[i].part == part && r->asks[i].row == row && r->answers[i].n > 0) {
            *value = r->answers[i].value;
            *sd = r->answers[i].sd;
            return TRUE;
        }
    return FALSE;
}

/* In the journal -------------------------------------------------------------------------------- */

char *dt_eye_readings_to_json(const DtEyeReadings *r)
{
    JsonBuilder *b = dt_json_begin();
    for (size_t i = 0; i < r->n; i++) {
        if (r->answers[i].n == 0)
            continue;
        dt_json_begin_array(b, r->asks[i].name);
        for (size_t k = 0; k < r->asks[i].times; k++)
            if (r->answers[i].text[k])
                json_builder_add_string_value(b, r->answers[i].text[k]);
        json_builder_end_array(b);
    }
    return dt_json_end(b);
}

static void take_answers(DtEyeReadings *r, size_t ask, JsonNode *node)
{
    JsonArray *a = node && JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
    for (guint k = 0; a && k < MIN(json_array_get_length(a), r->asks[ask].times); k++) {
        JsonNode *text = json_array_get_element(a, k);
        if (JSON_NODE_HOLDS_VALUE(text) && json_node_get_value_type(text) == G_TYPE_STRING)
            dt_eye_readings_set(r, ask, k, json_node_get_string(text), NULL);
    }
}

gboolean dt_eye_readings_from_json(DtEyeReadings *r, const char *text, GError **error)
{
    g_autoptr(JsonParser) parser = json_parser_new();
    if (*text == '\0')
        return TRUE;
    JsonNode *root =
        json_parser_load_from_data(parser, text, -1, NULL) ? json_parser_get_root(parser) : NULL;
    if (root == NULL || !JSON_NODE_HOLDS_OBJECT(root)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "the journal's readings of this sheet are damaged");
        return FALSE;
    }
    for (size_t i = 0; i < r->n; i++)
        take_answers(r, i, json_object_get_member(json_node_get_object(root), r->asks[i].name));
    return TRUE;
}

void dt_eye_readings_rule(const DtEyeReadings *r, double rule[2][DT_EYE_TIMES], size_t n[2])
{
    for (size_t i = 0; i < r->n; i++) {
        const DtAsk *a = &r->asks[i];
        for (size_t k = 0; k < a->times && a->kind == DT_ASK_RULE && a->times == DT_EYE_TIMES;
             k++) {
            DtEyeReading one;
            if (r->answers[i].text[k] && dt_eye_answer(a, r->answers[i].text[k], &one, NULL))
                rule[a->axis][n[a->axis]++] = one.value;
        }
    }
}
