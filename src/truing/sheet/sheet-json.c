/* sheet-json: a sheet as it stands in the journal. Sheets have many marks, so a mark is an array of
 * numbers in the order that "columns" names. */
#include "drawtrue/json.h"
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

/* Sheets of earlier versions lack the last columns: runs, and the S word. */
enum { COLUMNS = 19, OLD_COLUMNS = 16, VERSION = 1 };

static const char *const columns[COLUMNS] = {
    "kind",
    "part",
    "axis",
    "from_x",
    "from_y",
    "to_x",
    "to_y",
    "approach_x",
    "approach_y",
    "row",
    "place",
    "pen",
    "feed_mm_s",
    "lift_s",
    "drop_s",
    "needs_no_reversal",
    "acceleration_mm_s2",
    "start_mm_s",
    "drop_word",
};

static void to_numbers(const DtMark *m, double v[COLUMNS])
{
    const double all[COLUMNS] = {
        m->kind,
        m->part,
        m->axis,
        m->from.x,
        m->from.y,
        m->to.x,
        m->to.y,
        m->approach[0],
        m->approach[1],
        m->row,
        m->place,
        m->pen,
        m->feed_mm_s,
        m->lift_s,
        m->drop_s,
        m->needs_no_reversal,
        m->acceleration_mm_s2,
        m->start_mm_s,
        m->drop_word,
    };
    memcpy(v, all, sizeof all);
}

static DtMark from_numbers(const double v[COLUMNS])
{
    return (DtMark){.kind = (DtMarkKind)v[0],
                    .part = (DtSheetKind)v[1],
                    .axis = (int)v[2],
                    .from = {v[3], v[4]},
                    .to = {v[5], v[6]},
                    .approach = {(int)v[7], (int)v[8]},
                    .row = (int)v[9],
                    .place = (int)v[10],
                    .pen = (uint16_t)v[11],
                    .feed_mm_s = v[12],
                    .lift_s = v[13],
                    .drop_s = v[14],
                    .needs_no_reversal = v[15] != 0,
                    .acceleration_mm_s2 = v[16],
                    .start_mm_s = v[17],
                    .drop_word = v[18]};
}

/* Exact: a sheet that was read back is the one that was written. */
static void add_exact(JsonBuilder *b, const char *name, double value)
{
    json_builder_set_member_name(b, name);
    json_builder_add_double_value(b, value);
}

static void add_marks(JsonBuilder *b, const DtTestSheet *s)
{
    dt_json_begin_array(b, "columns");
    for (int i = 0; i < COLUMNS; i++)
        json_builder_add_string_value(b, columns[i]);
    json_builder_end_array(b);
    dt_json_begin_array(b, "marks");
    for (size_t i = 0; i < s->n; i++) {
        double v[COLUMNS];
        to_numbers(&s->marks[i], v);
        json_builder_begin_array(b);
        for (int k = 0; k < COLUMNS; k++)
            json_builder_add_double_value(b, v[k]);
        json_builder_end_array(b);
    }
    json_builder_end_array(b);
}

char *dt_sheet_to_json(const DtTestSheet *s)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_count(b, "version", VERSION);
    dt_json_count(b, "kinds", s->kinds);
    dt_json_count(b, "number", (size_t)s->number);
    dt_json_text(b, "machine", s->machine);
    dt_json_text(b, "date", s->date);
    add_exact(b, "paper_x", s->paper_at.x);
    add_exact(b, "paper_y", s->paper_at.y);
    add_exact(b, "paper_w", s->paper_w);
    add_exact(b, "paper_h", s->paper_h);
    add_exact(b, "overrun", s->overrun);
    add_marks(b, s);
    json_builder_end_object(b);
    char *text = dt_json_write(b, FALSE);
    g_object_unref(b);
    return text;
}

/* Reading ------------------------------------------------------------------------------------- */

static gboolean refuse(GError **error, const char *what)
{
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "this record of a sheet %s", what);
    return FALSE;
}

/* A finite number in a range. */
static gboolean take_number(JsonNode *n, double least, double most, double *to)
{
    const GType type = n && JSON_NODE_HOLDS_VALUE(n) ? json_node_get_value_type(n) : G_TYPE_INVALID;
    if (type != G_TYPE_DOUBLE && type != G_TYPE_INT64)
        return FALSE;
    *to = json_node_get_double(n);
    return isfinite(*to) && *to >= least && *to <= most;
}

static gboolean take_member(JsonObject *o, const char *name, double least, double most, double *to,
                            GError **error)
{
    if (take_number(json_object_get_member(o, name), least, most, to))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "this record of a sheet lacks a sound '%s'", name);
    return FALSE;
}

static gboolean take_text(JsonObject *o, const char *name, char **to, GError **error)
{
    JsonNode *n = json_object_get_member(o, name);
    if (n == NULL || !JSON_NODE_HOLDS_VALUE(n) || json_node_get_value_type(n) != G_TYPE_STRING) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "this record of a sheet lacks its '%s'", name);
        return FALSE;
    }
    *to = json_node_dup_string(n);
    return TRUE;
}

static gboolean take_mark(JsonNode *n, DtTestSheet *s)
{
    static const double widest_mm = 1e4, sharpest_mm_s2 = 1e6;
    double v[COLUMNS] = {0};
    JsonArray *a = JSON_NODE_HOLDS_ARRAY(n) ? json_node_get_array(n) : NULL;
    const guint length = a ? json_array_get_length(a) : 0;
    if (length < OLD_COLUMNS || length > COLUMNS)
        return FALSE;
    for (guint k = 0; k < length; k++) {
        const double most = k < OLD_COLUMNS ? widest_mm : sharpest_mm_s2;
        if (!take_number(json_array_get_element(a, k), -most, most, &v[k]))
            return FALSE;
    }
    if (v[0] < 0 || v[0] >= DT_MARK_KINDS || v[1] < 0 || v[2] < -1 || v[2] > 1 || fabs(v[7]) > 1 ||
        fabs(v[8]) > 1 || v[9] < 0 || v[11] < 0)
        return FALSE;
    const DtMark m = from_numbers(v);
    dt_sheet_add(s, &m);
    return TRUE;
}

static gboolean take_marks(JsonObject *o, DtTestSheet *s, GError **error)
{
    enum { MOST_MARKS = 100000 };
    JsonNode *n = json_object_get_member(o, "marks");
    JsonArray *a = n && JSON_NODE_HOLDS_ARRAY(n) ? json_node_get_array(n) : NULL;
    if (a == NULL || json_array_get_length(a) > MOST_MARKS)
        return refuse(error, _("lacks its marks"));
    for (guint i = 0; i < json_array_get_length(a); i++)
        if (!take_mark(json_array_get_element(a, i), s))
            return refuse(error, _("has an unsound mark"));
    return TRUE;
}

static gboolean take_sheet(JsonObject *o, DtTestSheet *s, GError **error)
{
    static const double widest_mm = 1e4;
    double version, kinds, number;
    if (!take_member(o, "version", 1, G_MAXINT, &version, error))
        return FALSE;
    if (version > VERSION)
        return refuse(error, _("was written by a newer drawtrue"));
    if (!take_member(o, "kinds", 0, 1 << 16, &kinds, error) ||
        !take_member(o, "number", 0, 1e15, &number, error) ||
        !take_text(o, "machine", &s->machine, error) || !take_text(o, "date", &s->date, error) ||
        !take_member(o, "paper_x", -widest_mm, widest_mm, &s->paper_at.x, error) ||
        !take_member(o, "paper_y", -widest_mm, widest_mm, &s->paper_at.y, error) ||
        !take_member(o, "paper_w", 1, widest_mm, &s->paper_w, error) ||
        !take_member(o, "paper_h", 1, widest_mm, &s->paper_h, error) ||
        !take_member(o, "overrun", 0, widest_mm, &s->overrun, error))
        return FALSE;
    s->kinds = (guint)kinds;
    s->number = (gint64)number;
    return take_marks(o, s, error);
}

DtTestSheet *dt_sheet_from_json(const char *text, GError **error)
{
    g_autoptr(JsonParser) parser = json_parser_new();
    g_autoptr(GError) why = NULL;
    if (!json_parser_load_from_data(parser, text, -1, &why)) {
        refuse(error, _("is no JSON"));
        return NULL;
    }
    JsonNode *root = json_parser_get_root(parser);
    if (root == NULL || !JSON_NODE_HOLDS_OBJECT(root)) {
        refuse(error, _("is no JSON object"));
        return NULL;
    }
    g_autoptr(DtTestSheet) s = g_new0(DtTestSheet, 1);
    if (!take_sheet(json_node_get_object(root), s, error))
        return NULL;
    return g_steal_pointer(&s);
}
