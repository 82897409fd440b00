/* options: the one table of planning options, and sets of their values. */
#include "drawtrue/options.h"

#include "drawtrue/json.h"
#include "job/private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    PAPER,
    PAPER_AT,
    MARGIN,
    TRUE_SIZE,
    NO_TURN,
    SHEETS,
    OVERLAP,
    HATCH,
    ANGLE,
    PITCH,
    OUTLINES,
    NO_EDGE,
    TONE,
    SOLID,
    PICTURE,
    POINTS,
    MINUTES,
    PENS,
    SWAP,
    COLOUR,
    NO_HIDE,
    THIN_OUT,
    PAGE,
    SINGLE_LINE,
    TOLERANCE,
    INK_TOLERANCE,
    JOIN,
    NO_RETRACE,
    KEEP_ORDER,
    ONE_WAY,
    LIGHT_FIRST,
    SEED,
    EFFORT,
    NO_CORRECTIONS,
    N_OPTIONS,
};

#define MOST_TILES 100
#define MOST_EFFORT 1e9
#define LONGEST_TEXT 1000

static const char *const hatches[] = {"fastest", "serpentine", "lines", "crossed", "rings", NULL};
static const DtHatch hatch_of[] = {DT_HATCH_FASTEST, DT_HATCH_SERPENTINE, DT_HATCH_LINES,
                                   DT_HATCH_CROSSED, DT_HATCH_RINGS};

static const char *const pictures[] = {"crossed", "hatch", "contour", "stipple",
                                       "tour",    "flow",  NULL};
static const DtPicture picture_of[] = {DT_PICTURE_CROSSED, DT_PICTURE_HATCH, DT_PICTURE_CONTOUR,
                                       DT_PICTURE_STIPPLE, DT_PICTURE_TOUR,  DT_PICTURE_FLOW};

#define FLAG(name, group, help)                                                                    \
    {                                                                                              \
        name, DT_OPTION_FLAG, NULL, 0, 1, NULL, NULL, group, NULL, help                            \
    }

/* clang-format off */
static const DtOption table[N_OPTIONS] = {
    [PAPER] = {"paper", DT_OPTION_PAPER, NULL, 0, 0, NULL, NULL, "paper", "SIZE",
               N_("Paper: A5, \"A5 landscape\", 120x80 (mm)")},
    [PAPER_AT] = {"paper-at", DT_OPTION_POINT, "mm", -10000, 10000, NULL, NULL, "paper", "X,Y",
                  N_("Lower left corner of the paper on the bed")},
    [MARGIN] = {"margin", DT_OPTION_NUMBER, "mm", 0, 1000, NULL, NULL, "paper", "MM",
                N_("Kept free along the paper's edge")},
    [TRUE_SIZE] = FLAG("true-size", "paper", N_("Do not scale to the paper")),
    [NO_TURN] = FLAG("no-turn", "paper", N_("Do not turn the drawing to fit better")),
    [SHEETS] = {"sheets", DT_OPTION_GRID, NULL, 1, MOST_TILES, NULL, NULL, "paper", "GRID",
                N_("Over several sheets: 2x3 fills two side by side, three high; any: at true size")},
    [OVERLAP] = {"overlap", DT_OPTION_NUMBER, "mm", 6, 1000, "10", NULL, "paper", "MM",
                 N_("Overlap of sheets side by side")},
    [HATCH] = {"hatch", DT_OPTION_CHOICE, NULL, 0, 0, "fastest", hatches, "fills", "KIND",
               N_("Fills: fastest, serpentine, lines, crossed or rings")},
    [ANGLE] = {"angle", DT_OPTION_NUMBER, N_("degrees"), -3600, 3600, NULL, NULL, "fills", "DEG",
               N_("Angle of the hatch lines; without it the machine's fastest direction")},
    [PITCH] = {"pitch", DT_OPTION_NUMBER, "mm", 0, 1000, "0", NULL, "fills", "MM",
               N_("Distance between hatch lines, 0 for the pen's width")},
    [OUTLINES] = FLAG("outlines", "fills", N_("Outlines only, no fills")),
    [NO_EDGE] = FLAG("no-edge", "fills", N_("No line along a fill's edge, hatch lines alone")),
    [TONE] = FLAG("tone", "fills", N_("Each paint by itself: lighter ones get a wider pitch")),
    [SOLID] = FLAG("solid", "fills", N_("Dense fills everywhere, each paint in the nearest pen")),
    [PICTURE] = {"picture", DT_OPTION_CHOICE, NULL, 0, 0, "crossed", pictures, "fills", "KIND",
                 N_("Photographs: crossed, hatch, contour, stipple, tour or flow")},
    [POINTS] = {"points", DT_OPTION_WHOLE, NULL, 0, 1000000, "0", NULL, "fills", "N",
                N_("Points of stipple and tour, 0: by the pen's width")},
    [MINUTES] = {"minutes", DT_OPTION_NUMBER, "min", 0.1, 100000, NULL, NULL, "fills", "N",
                 N_("Stay within this time, pen changes included: opens hatches where it must")},
    [PENS] = {"pens", DT_OPTION_TEXT, NULL, 0, 0, NULL, NULL, "pens", "NAMES",
              N_("Only these pens, such as black,blue")},
    [SWAP] = {"swap", DT_OPTION_TEXT, NULL, 0, 0, NULL, NULL, "pens", "PEN=PEN",
              N_("Draw with one pen what another would draw, such as blue=green")},
    [COLOUR] = {"colour", DT_OPTION_TEXT, NULL, 0, 0, NULL, NULL, "pens", "#RRGGBB=PEN",
                N_("The pen for paints of a colour, such as #3a8a40=green")},
    [NO_HIDE] = FLAG("no-hide", "fills", N_("Draw what lies beneath other shapes too")),
    [THIN_OUT] = FLAG("thin-out", "lines", N_("Leave out some lines where lines finer than the pen crowd")),
    [PAGE] = {"page", DT_OPTION_WHOLE, NULL, 1, 100000, "1", NULL, "paper", "N",
              N_("Page of a PDF file")},
    [SINGLE_LINE] = FLAG("single-line", "lines", N_("Text in single-line letters")),
    [TOLERANCE] = {"tolerance", DT_OPTION_NUMBER, "mm", 1e-4, 1, "0.01", NULL, "lines", "MM",
                   N_("Largest deviation from a curve")},
    [INK_TOLERANCE] = {"ink-tolerance", DT_OPTION_NUMBER, "mm", 0, 1, NULL, NULL, "lines", "MM",
                       N_("How far the ink may leave its line where that saves time")},
    [JOIN] = {"join", DT_OPTION_NUMBER, "mm", 0, 100, "0.2", NULL, "lines", "MM",
              N_("Longest gap that is drawn across")},
    [NO_RETRACE] = FLAG("no-retrace", "lines", N_("Never go back over a line to save a lift")),
    [KEEP_ORDER] = FLAG("keep-order", "order", N_("Draw in the drawing's own order")),
    [ONE_WAY] = FLAG("one-way", "order", N_("Draw fill lines in one direction only")),
    [LIGHT_FIRST] = FLAG("light-first", "order", N_("With --solid too, light pens first and dark ones last, not in the "
                              "rack's order")),
    [SEED] = {"seed", DT_OPTION_WHOLE, NULL, 0, G_MAXINT, "1", NULL, "order", "N",
              N_("Seed of the order search")},
    [EFFORT] = {"effort", DT_OPTION_WHOLE, NULL, 0, MOST_EFFORT, "20000", NULL, "order", "N",
                N_("Iterations of the order search; 0: none")},
    [NO_CORRECTIONS] = FLAG("no-corrections", "machine",
                            N_("Leave the machine's measured errors uncorrected")),
};
/* clang-format on */

struct DtOptions {
    char *text[N_OPTIONS]; /* NULL: not given */
};

const DtOption *dt_options_table(size_t *n)
{
    *n = N_OPTIONS;
    return table;
}

DtOptions *dt_options_new(void)
{
    return g_new0(DtOptions, 1);
}

void dt_options_free(DtOptions *o)
{
    for (size_t i = 0; o != NULL && i < N_OPTIONS; i++)
        g_free(o->text[i]);
    g_free(o);
}

/* Values ------------------------------------------------------------------------------------- */

/* '-' and '_' are equivalent. */
static gboolean is_name(const char *a, const char *b)
{
    for (; *a && *b; a++, b++)
        if ((*a == '_' ? '-' : *a) != (*b == '_' ? '-' : *b))
            return FALSE;
    return *a == *b;
}

static int find_option(const char *name, GError **error)
{
    for (int i = 0; i < N_OPTIONS; i++)
        if (is_name(table[i].name, name))
            return i;
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "there is no planning option '%.60s'", name);
    return -1;
}

/* The whole text as one finite number. */
static gboolean read_number(const char *text, double *out)
{
    char *end = NULL;
    *out = g_ascii_strtod(text, &end);
    return end != text && *end == '\0' && isfinite(*out);
}

static gboolean read_point(const char *text, DtPoint *out)
{
    g_auto(GStrv) parts = g_strsplit(text, ",", 0);
    return g_strv_length(parts) == 2 && read_number(g_strstrip(parts[0]), &out->x) &&
           read_number(g_strstrip(parts[1]), &out->y);
}

/* 0, 0 for "any". */
static gboolean read_grid(const char *text, DtJobTiling *out)
{
    out->columns = out->rows = 0;
    if (strcmp(text, "any") == 0)
        return TRUE;
    char *end = NULL;
    guint64 columns = g_ascii_strtoull(text, &end, 10), rows = 0;
    if (*end == 'x' && g_ascii_isdigit(text[0]) && g_ascii_isdigit(end[1]))
        rows = g_ascii_strtoull(end + 1, &end, 10);
    out->columns = (unsigned)MIN(columns, G_MAXUINT);
    out->rows = (unsigned)MIN(rows, G_MAXUINT);
    return *end == '\0' && columns >= 1 && rows >= 1 && columns <= MOST_TILES && rows <= MOST_TILES;
}

static int read_choice(const DtOption *k, const char *text)
{
    for (int i = 0; k->choices[i] != NULL; i++)
        if (strcmp(k->choices[i], text) == 0)
            return i;
    return -1;
}

/* "0 to 100 mm" */
static char *range_text(const DtOption *k)
{
    return g_strdup_printf(_("%.10g to %.10g%s%s"), k->least, k->most, k->unit ? " " : "",
                           k->unit ? _(k->unit) : "");
}

static gboolean is_within(const DtOption *k, double v)
{
    return v >= k->least && v <= k->most;
}

/* What the option accepts, for a message. */
static char *describe_values(int i)
{
    const DtOption *k = &table[i];
    g_autofree char *range = range_text(k);
    switch (k->type) {
    case DT_OPTION_FLAG:
        return g_strdup(_("true or false"));
    case DT_OPTION_CHOICE:
        return g_strjoinv(", ", (char **)(uintptr_t)k->choices);
    case DT_OPTION_POINT:
        return g_strdup(_("two lengths in mm, such as 20,10"));
    case DT_OPTION_GRID:
        return g_strdup(
            _("columns x rows, such as 2x3, each 1 to 100, or 'any' for as many as true "
              "size takes"));
    case DT_OPTION_TEXT:
        return g_strdup(_("a list with commas, such as black,blue"));
    case DT_OPTION_PAPER: /* its text says so already */
        break;
    case DT_OPTION_WHOLE:
        return g_strdup_printf(_("a whole number, %s"), range);
    case DT_OPTION_NUMBER:
        break;
    }
    return i == PITCH ? g_strdup(_("0.01 to 1000 mm, or 0 for the pen's width"))
                      : g_steal_pointer(&range);
}

static gboolean is_right(int i, const char *text)
{
    const DtOption *k = &table[i];
    double number;
    DtPoint point;
    DtJobTiling tiling;
    switch (k->type) {
    case DT_OPTION_FLAG:
        return strcmp(text, "true") == 0 || strcmp(text, "false") == 0;
    case DT_OPTION_NUMBER:
        return read_number(text, &number) && is_within(k, number) &&
               (i != PITCH || number == 0 || number >= 0.01);
    case DT_OPTION_WHOLE:
        return read_number(text, &number) && is_within(k, number) && number == floor(number);
    case DT_OPTION_CHOICE:
        return read_choice(k, text) >= 0;
    case DT_OPTION_POINT:
        return read_point(text, &point) && is_within(k, point.x) && is_within(k, point.y);
    case DT_OPTION_GRID:
        return read_grid(text, &tiling);
    case DT_OPTION_TEXT:
        return *text != '\0' && strlen(text) <= LONGEST_TEXT;
    case DT_OPTION_PAPER:
        break;
    }
    return FALSE;
}

static gboolean check_value(int i, const char *text, GError **error)
{
    double w, h;
    if (table[i].type == DT_OPTION_PAPER) {
        if (dt_machine_paper(text, &w, &h, error))
            return TRUE;
        if (error != NULL && *error != NULL)
            (*error)->code = DT_ERROR_USAGE;
        return FALSE;
    }
    if (is_right(i, text))
        return TRUE;
    g_autofree char *takes = describe_values(i);
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "--%s takes %s; '%.60s' is not one", table[i].name,
                takes, text);
    return FALSE;
}

gboolean dt_options_set(DtOptions *o, const char *name, const char *text, GError **error)
{
    const int i = find_option(name, error);
    if (i < 0)
        return FALSE;
    if (text == NULL && table[i].type == DT_OPTION_FLAG)
        text = "true";
    if (!check_value(i, text ? text : "", error))
        return FALSE;
    g_free(o->text[i]);
    o->text[i] = g_strdup(text);
    return TRUE;
}

const char *dt_options_get(const DtOptions *o, const char *name)
{
    const int i = find_option(name, NULL);
    return i >= 0 ? o->text[i] : NULL;
}

/* JSON --------------------------------------------------------------------------------------- */

static char *number_text(double v)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    return g_strdup(g_ascii_formatd(text, sizeof text, "%.15g", v));
}

/* A member as text in the form of the command line; NULL if it has no such form. */
static char *text_of_node(JsonNode *node)
{
    if (JSON_NODE_HOLDS_ARRAY(node)) {
        JsonArray *a = json_node_get_array(node);
        if (json_array_get_length(a) != 2)
            return NULL;
        g_autofree char *x = text_of_node(json_array_get_element(a, 0));
        g_autofree char *y = text_of_node(json_array_get_element(a, 1));
        return x && y ? g_strdup_printf("%s,%s", x, y) : NULL;
    }
    if (!JSON_NODE_HOLDS_VALUE(node))
        return NULL;
    if (json_node_get_value_type(node) == G_TYPE_STRING)
        return g_strdup(json_node_get_string(node));
    if (json_node_get_value_type(node) == G_TYPE_BOOLEAN)
        return g_strdup(json_node_get_boolean(node) ? "true" : "false");
    return number_text(json_node_get_double(node));
}

gboolean dt_options_read_json(DtOptions *o, JsonObject *object, GError **error)
{
    g_autoptr(DtOptions) fresh = dt_options_new();
    gboolean cleared[N_OPTIONS] = {FALSE};
    g_autoptr(GList) names = json_object_get_members(object);
    for (GList *l = names; l != NULL; l = l->next) {
        JsonNode *node = json_object_get_member(object, l->data);
        const int i = find_option(l->data, error);
        if (i < 0)
            return FALSE;
        cleared[i] = JSON_NODE_HOLDS_NULL(node);
        if (cleared[i])
            continue;
        g_autofree char *text = text_of_node(node);
        if (!dt_options_set(fresh, l->data, text ? text : "", error))
            return FALSE;
    }
    for (int i = 0; i < N_OPTIONS; i++)
        if (cleared[i] || fresh->text[i] != NULL) {
            g_free(o->text[i]);
            o->text[i] = g_steal_pointer(&fresh->text[i]);
        }
    return TRUE;
}

static char *json_name(const DtOption *k)
{
    return g_strdelimit(g_strdup(k->name), "-", '_');
}

static void add_value(JsonBuilder *b, const DtOption *k, const char *text)
{
    double number = 0;
    DtPoint point;
    if (text == NULL) {
        json_builder_add_null_value(b);
    } else if (k->type == DT_OPTION_FLAG) {
        json_builder_add_boolean_value(b, strcmp(text, "true") == 0);
    } else if (k->type == DT_OPTION_NUMBER && read_number(text, &number)) {
        json_builder_add_double_value(b, number);
    } else if (k->type == DT_OPTION_WHOLE && read_number(text, &number)) {
        json_builder_add_int_value(b, (gint64)number);
    } else if (k->type == DT_OPTION_POINT && read_point(text, &point)) {
        json_builder_begin_array(b);
        json_builder_add_double_value(b, point.x);
        json_builder_add_double_value(b, point.y);
        json_builder_end_array(b);
    } else {
        json_builder_add_string_value(b, text);
    }
}

void dt_options_add_json(const DtOptions *o, JsonBuilder *b)
{
    for (size_t i = 0; i < N_OPTIONS; i++)
        if (o->text[i] != NULL) {
            g_autofree char *name = json_name(&table[i]);
            json_builder_set_member_name(b, name);
            add_value(b, &table[i], o->text[i]);
        }
}

static void add_option(JsonBuilder *b, const DtOption *k)
{
    static const char *const types[] = {
        [DT_OPTION_FLAG] = "flag",     [DT_OPTION_NUMBER] = "number", [DT_OPTION_WHOLE] = "whole",
        [DT_OPTION_CHOICE] = "choice", [DT_OPTION_PAPER] = "paper",   [DT_OPTION_POINT] = "point",
        [DT_OPTION_GRID] = "grid",     [DT_OPTION_TEXT] = "text",
    };
    g_autofree char *name = json_name(k);
    json_builder_begin_object(b);
    dt_json_text(b, "name", name);
    dt_json_text(b, "type", types[k->type]);
    dt_json_text(b, "group", k->group);
    dt_json_text(b, "help", _(k->help));
    dt_json_text(b, "unit", k->unit);
    if (k->type == DT_OPTION_NUMBER || k->type == DT_OPTION_WHOLE || k->type == DT_OPTION_POINT) {
        dt_json_number(b, "least", k->least);
        dt_json_number(b, "most", k->most);
    }
    json_builder_set_member_name(b, "default");
    add_value(b, k, k->preset);
    if (k->choices != NULL) {
        json_builder_set_member_name(b, "choices");
        json_builder_begin_array(b);
        for (int i = 0; k->choices[i] != NULL; i++)
            json_builder_add_string_value(b, k->choices[i]);
        json_builder_end_array(b);
    }
    json_builder_end_object(b);
}

void dt_options_add_table(JsonBuilder *b, const char *member)
{
    json_builder_set_member_name(b, member);
    json_builder_begin_array(b);
    for (size_t i = 0; i < N_OPTIONS; i++)
        add_option(b, &table[i]);
    json_builder_end_array(b);
}

/* The command line --------------------------------------------------------------------------- */

/* Lists given more than once on the command line count together. */
static gboolean extend_value(DtOptions *o, const char *name, const char *text, GError **error)
{
    const int i = find_option(name, error);
    if (i < 0)
        return FALSE;
    if ((i != PENS && i != SWAP && i != COLOUR) || o->text[i] == NULL || text == NULL ||
        *text == '\0')
        return dt_options_set(o, name, text, error);
    g_autofree char *all = g_strjoin(",", o->text[i], text, NULL);
    return dt_options_set(o, name, all, error);
}

static gboolean take_option(const char *name, const char *value, gpointer options, GError **error)
{
    return extend_value(options, name + strspn(name, "-"), value, error);
}

/* The help with unit and default: made once and kept while the program runs. */
static const char *help_text(size_t i)
{
    static char *texts[N_OPTIONS];
    static gsize made;
    if (g_once_init_enter(&made)) {
        for (size_t k = 0; k < N_OPTIONS; k++) {
            const DtOption *o = &table[k];
            g_autofree char *unit = o->unit ? g_strdup_printf(", %s", _(o->unit)) : g_strdup("");
            texts[k] = o->preset ? g_strdup_printf("%s%s (%s)", _(o->help), unit, o->preset)
                                 : g_strdup_printf("%s%s", _(o->help), unit);
        }
        g_once_init_leave(&made, 1);
    }
    return texts[i];
}

GOptionEntry *dt_options_entries(void)
{
    GOptionEntry *e = g_new0(GOptionEntry, N_OPTIONS + 1);
    for (size_t i = 0; i < N_OPTIONS; i++)
        e[i] = (GOptionEntry){.long_name = table[i].name,
                              .flags = table[i].type == DT_OPTION_FLAG ? G_OPTION_FLAG_NO_ARG : 0,
                              .arg = G_OPTION_ARG_CALLBACK,
                              .arg_data = (gpointer)(uintptr_t)take_option,
                              .description = help_text(i),
                              .arg_description = table[i].argument};
    return e;
}

/* A plan's input ------------------------------------------------------------------------------ */

/* The value, or its default; for options that always have one. */
static const char *value_of(const DtOptions *o, size_t i)
{
    return o->text[i] != NULL ? o->text[i] : table[i].preset;
}

static double number_of(const DtOptions *o, size_t i)
{
    double v = 0;
    read_number(value_of(o, i), &v);
    return v;
}

static gboolean has(const DtOptions *o, size_t flag)
{
    return g_strcmp0(o->text[flag], "true") == 0;
}

static DtJobOptions job_options(const DtOptions *o)
{
    DtJobOptions j = DT_JOB_OPTIONS_DEFAULT;
    j.art.tolerance = j.ink.tolerance = number_of(o, TOLERANCE);
    j.art.single_line_text = has(o, SINGLE_LINE);
    j.art.page = (int)number_of(o, PAGE);
    j.own_angle = o->text[ANGLE] != NULL;
    if (j.own_angle)
        j.ink.angle = number_of(o, ANGLE) * G_PI / 180;
    j.ink.hatch = hatch_of[read_choice(&table[HATCH], value_of(o, HATCH))];
    j.ink.pitch = number_of(o, PITCH);
    j.ink.fill = !has(o, OUTLINES);
    j.ink.edge = !has(o, NO_EDGE);
    j.ink.hide = !has(o, NO_HIDE);
    j.ink.thin_out = has(o, THIN_OUT);
    j.ink.tone = has(o, TONE);
    j.ink.solid = has(o, SOLID);
    j.ink.picture = picture_of[read_choice(&table[PICTURE], value_of(o, PICTURE))];
    j.ink.points = (size_t)number_of(o, POINTS);
    j.own_picture = o->text[PICTURE] != NULL;
    j.minutes = o->text[MINUTES] != NULL ? number_of(o, MINUTES) : 0;
    j.route.seed = (uint64_t)number_of(o, SEED);
    j.route.iterations = (uint64_t)number_of(o, EFFORT);
    j.route.join = number_of(o, JOIN);
    if (has(o, NO_RETRACE))
        j.route.retrace = 0;
    j.route.keep_order = has(o, KEEP_ORDER);
    j.route.one_way = has(o, ONE_WAY);
    j.route.light_first = has(o, LIGHT_FIRST) || !j.ink.solid;
    j.placement.fit = has(o, TRUE_SIZE) ? DT_FIT_TRUE_SIZE : DT_FIT_MARGINS;
    j.placement.turn = !has(o, NO_TURN);
    j.no_corrections = has(o, NO_CORRECTIONS);
    return j;
}

gboolean dt_options_apply(const DtOptions *o, const DtProfile *profile, DtPlanInput *out,
                          GError **error)
{
    *out = (DtPlanInput){.job = job_options(o)};
    g_autoptr(DtProfile) p = dt_profile_copy(profile);
    if (o->text[PAPER] != NULL) {
        if (!dt_machine_paper(o->text[PAPER], &p->paper_w, &p->paper_h, error))
            return FALSE;
        g_free(p->paper_name);
        p->paper_name = g_strdup(o->text[PAPER]);
    }
    if (o->text[PAPER_AT] != NULL)
        read_point(o->text[PAPER_AT], &p->paper_at);
    p->paper_is_job_s = p->paper_w != profile->paper_w || p->paper_h != profile->paper_h ||
                        p->paper_at.x != profile->paper_at.x ||
                        p->paper_at.y != profile->paper_at.y;
    if (o->text[MARGIN] != NULL)
        p->margin = number_of(o, MARGIN);
    if (o->text[INK_TOLERANCE] != NULL)
        p->ink_tolerance = number_of(o, INK_TOLERANCE);
    if (!dt_job_apply_pens(o->text[PENS], o->text[SWAP], o->text[COLOUR], p, &out->job.ink, error))
        return FALSE;
    if (has(o, SOLID) && has(o, TONE)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "--solid and --tone exclude each other: dense fills have no tones");
        return FALSE;
    }
    out->several = o->text[SHEETS] != NULL;
    if (out->several && out->job.minutes > 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "--minutes is for one sheet; it cannot be used with --sheets");
        return FALSE;
    }
    if (out->several)
        read_grid(o->text[SHEETS], &out->tiling);
    out->tiling.overlap = number_of(o, OVERLAP);
    out->profile = g_steal_pointer(&p);
    return TRUE;
}

void dt_plan_input_clear(DtPlanInput *p)
{
    g_clear_pointer(&p->profile, dt_profile_free);
}
