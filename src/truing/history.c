/* history: figures by name, and as they stand in the journal. */
#include "drawtrue/json.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <string.h>

/* The one table of what is measured. Titles follow ISO 230-1 and ISO 230-2. */
static const struct {
    const char *word, *title, *unit;
    double factor;
} errors[] = {
    [DT_ERROR_OF_SCALE] = {"scale", "scale", "", 1},
    [DT_ERROR_OF_SQUARE] = {"square", "squareness", "degrees", 180 / G_PI},
    [DT_ERROR_OF_BACKLASH] = {"backlash", N_("reversal value"), "mm", 1},
    [DT_ERROR_OF_POSITION] = {"position", N_("mean bidirectional deviation"), "mm", 1},
    [DT_ERROR_OF_STRAIGHT] = {"straight", "straightness", "mm", 1},
    [DT_ERROR_OF_PULLEY] = {"pulley", N_("pulley off centre"), "mm", 1},
    [DT_ERROR_OF_GEAR] = {"gear", N_("gear teeth"), "mm", 1},
    [DT_ERROR_OF_TWIST] = {"twist", N_("shift across at a reversal"), "mm", 1},
    [DT_ERROR_OF_SCATTER] = {"scatter", N_("scatter of the lost motion"), "mm", 1},
    [DT_ERROR_OF_PEN_X] = {"pen-x", N_("pen's place along X"), "mm", 1},
    [DT_ERROR_OF_PEN_Y] = {"pen-y", N_("pen's place along Y"), "mm", 1},
    [DT_ERROR_OF_LIFT_TIME] = {"lift-time", N_("lift time"), "s", 1},
    [DT_ERROR_OF_DROP_TIME] = {"drop-time", N_("drop time"), "s", 1},
    [DT_ERROR_OF_SPEED] = {"speed", N_("speed without lost steps"), "mm/s", 1},
    [DT_ERROR_OF_ACCELERATION] = {"acceleration", N_("acceleration without lost steps"), "mm/s2",
                                  1},
    [DT_ERROR_OF_PULL_IN] = {"pull-in", N_("pull-in without lost steps"), "mm/s", 1},
    [DT_ERROR_OF_RINGING] = {"ringing", "ringing", "mm", 1},
    [DT_ERROR_OF_TIP_PLAY] = {"tip-play", N_("play of the tip"), "mm", 1},
    [DT_ERROR_OF_MEAN_REVERSAL] = {"mean-reversal", N_("mean reversal value"), "mm", 1},
    [DT_ERROR_OF_TIP_WIDTH] = {"tip-width", N_("width of the line"), "mm", 1},
    [DT_ERROR_OF_DOT_GAIN] = {"dot-gain", N_("dot gain (n of Yule and Nielsen)"), "", 1},
    [DT_ERROR_OF_DROP_WORD] = {"drop-word", N_("S that drops the pen"), "", 1},
};

const char *dt_error_title(DtErrorKind kind)
{
    return _(errors[kind].title);
}

const char *dt_error_word(DtErrorKind kind)
{
    return errors[kind].word;
}

const char *dt_error_unit(DtErrorKind kind, double *factor)
{
    *factor = errors[kind].factor;
    return errors[kind].unit;
}

/* Exact, so that what is compared later is what was measured. */
static void add_number(JsonBuilder *b, const char *name, double value)
{
    json_builder_set_member_name(b, name);
    if (isfinite(value))
        json_builder_add_double_value(b, value);
    else
        json_builder_add_null_value(b);
}

char *dt_figures_to_json(const DtFigures *f)
{
    JsonBuilder *b = dt_json_begin();
    add_number(b, "ink_before_mm", f->ink_before_mm);
    add_number(b, "ink_after_mm", f->ink_after_mm);
    dt_json_text(b, "notes", f->notes);
    dt_json_begin_array(b, "figures");
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        json_builder_begin_object(b);
        dt_json_text(b, "figure", errors[g->kind].word);
        dt_json_text(b, "axis", g->axis == 0 ? "x" : g->axis == 1 ? "y" : NULL);
        if (g->pen >= 0)
            dt_json_count(b, "pen", (size_t)g->pen);
        add_number(b, "at_mm", g->at);
        dt_json_flag(b, "known", g->known);
        add_number(b, "value", g->value);
        add_number(b, "standard_uncertainty", g->sd);
        add_number(b, "standard_uncertainty_shared", g->sd_shared);
        add_number(b, "value_2", g->value_2);
        add_number(b, "standard_uncertainty_2", g->sd_2);
        add_number(b, "gain_mm", g->gain_mm);
        dt_json_flag(b, "proposed", g->proposed);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    return dt_json_end(b);
}

static double number_of(JsonObject *o, const char *name, double otherwise)
{
    JsonNode *n = json_object_get_member(o, name);
    const gboolean number = n && JSON_NODE_HOLDS_VALUE(n) &&
                            (json_node_get_value_type(n) == G_TYPE_DOUBLE ||
                             json_node_get_value_type(n) == G_TYPE_INT64);
    return number ? json_node_get_double(n) : otherwise;
}

static const char *text_of(JsonObject *o, const char *name)
{
    JsonNode *n = json_object_get_member(o, name);
    return n && JSON_NODE_HOLDS_VALUE(n) && json_node_get_value_type(n) == G_TYPE_STRING
               ? json_node_get_string(n)
               : "";
}

static gboolean flag_of(JsonObject *o, const char *name)
{
    JsonNode *n = json_object_get_member(o, name);
    return n && JSON_NODE_HOLDS_VALUE(n) && json_node_get_value_type(n) == G_TYPE_BOOLEAN &&
           json_node_get_boolean(n);
}

static gboolean take_figure(JsonNode *n, DtFigures *f)
{
    if (!JSON_NODE_HOLDS_OBJECT(n))
        return FALSE;
    JsonObject *o = json_node_get_object(n);
    size_t kind = 0;
    while (kind < G_N_ELEMENTS(errors) && strcmp(errors[kind].word, text_of(o, "figure")) != 0)
        kind++;
    if (kind == G_N_ELEMENTS(errors))
        return FALSE;
    const char *axis = text_of(o, "axis");
    const double sd = number_of(o, "standard_uncertainty", NAN);
    const DtFigure g = {.kind = (DtErrorKind)kind,
                        .axis = strcmp(axis, "x") == 0   ? 0
                                : strcmp(axis, "y") == 0 ? 1
                                                         : -1,
                        .pen = (int)number_of(o, "pen", -1),
                        .at = number_of(o, "at_mm", NAN),
                        .known = flag_of(o, "known"),
                        .value = number_of(o, "value", NAN),
                        .sd = sd,
                        /* an older journal does not say: it may be all */
                        .sd_shared = number_of(o, "standard_uncertainty_shared", sd),
                        .value_2 = number_of(o, "value_2", NAN),
                        .sd_2 = number_of(o, "standard_uncertainty_2", NAN),
                        .gain_mm = number_of(o, "gain_mm", 0),
                        .proposed = flag_of(o, "proposed")};
    dt_figures_add(f, &g);
    return TRUE;
}

DtFigures *dt_figures_from_json(const char *text, GError **error)
{
    g_autoptr(JsonParser) parser = json_parser_new();
    JsonNode *root =
        json_parser_load_from_data(parser, text, -1, NULL) ? json_parser_get_root(parser) : NULL;
    JsonNode *list = root && JSON_NODE_HOLDS_OBJECT(root)
                         ? json_object_get_member(json_node_get_object(root), "figures")
                         : NULL;
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1);
    gboolean good = list && JSON_NODE_HOLDS_ARRAY(list);
    JsonArray *a = good ? json_node_get_array(list) : NULL;
    for (guint i = 0; good && i < json_array_get_length(a); i++)
        good = take_figure(json_array_get_element(a, i), f);
    if (!good) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "the journal's figures of a sheet are damaged");
        return NULL;
    }
    JsonObject *o = json_node_get_object(root);
    f->ink_before_mm = number_of(o, "ink_before_mm", NAN);
    f->ink_after_mm = number_of(o, "ink_after_mm", NAN);
    const char *notes = text_of(o, "notes");
    f->notes = *notes ? g_strdup(notes) : NULL;
    return g_steal_pointer(&f);
}
