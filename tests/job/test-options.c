/* options: one table, the same refusal from text and from JSON, and a profile that stays as it is. */
#include "drawtrue/json.h"
#include "drawtrue/options.h"
#include "job/private.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

static gboolean read_json(DtOptions *o, const char *text, GError **error)
{
    g_autoptr(JsonNode) node = json_from_string(text, NULL);
    g_assert_nonnull(node);
    return dt_options_read_json(o, json_node_get_object(node), error);
}

static char *written(const DtOptions *o)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_options_add_json(o, b);
    json_builder_end_object(b);
    return dt_json_write(b, FALSE);
}

static void test_json_and_text_say_the_same(void)
{
    static const char text[] = "{\"paper\":\"A5 landscape\",\"paper_at\":[20.5,10.0],"
                               "\"true_size\":true,\"hatch\":\"rings\",\"pitch\":0.4,"
                               "\"effort\":300}";
    g_autoptr(DtOptions) a = dt_options_new(), b = dt_options_new();
    g_assert_true(dt_options_set(a, "paper", "A5 landscape", NULL));
    g_assert_true(dt_options_set(a, "paper-at", "20.5,10", NULL));
    g_assert_true(dt_options_set(a, "true-size", NULL, NULL));
    g_assert_true(dt_options_set(a, "hatch", "rings", NULL));
    g_assert_true(dt_options_set(a, "pitch", "0.4", NULL));
    g_assert_true(dt_options_set(a, "effort", "300", NULL));
    g_assert_true(read_json(b, text, NULL));
    g_autofree char *from_text = written(a), *from_json = written(b);
    g_assert_cmpstr(from_text, ==, text);
    g_assert_cmpstr(from_json, ==, text);
    g_assert_true(read_json(b, "{\"hatch\":null}", NULL));
    g_assert_null(dt_options_get(b, "hatch"));
}

static void test_wrong_values_are_refused_alike(void)
{
    static const struct {
        const char *name, *text, *json, *says;
    } cases[] = {
        {"pitch", "0.001", "{\"pitch\":0.001}", "--pitch takes 0.01 to 1000 mm"},
        {"pitch", "nan", "{\"pitch\":\"nan\"}", "--pitch takes"},
        {"margin", "-1", "{\"margin\":-1}", "--margin takes 0 to 1000 mm"},
        {"margin", "5 cm", "{\"margin\":\"5 cm\"}", "--margin takes"},
        {"effort", "1.5", "{\"effort\":1.5}", "--effort takes a whole number"},
        {"hatch", "dense", "{\"hatch\":\"dense\"}",
         "--hatch takes fastest, serpentine, lines, crossed, rings"},
        {"paper-at", "20", "{\"paper_at\":\"20\"}", "--paper-at takes two lengths"},
        {"sheets", "0x1", "{\"sheets\":\"0x1\"}", "--sheets takes columns x rows"},
        {"overlap", "2", "{\"overlap\":2}", "--overlap takes 6 to 1000 mm"},
        {"tone", "maybe", "{\"tone\":\"maybe\"}", "--tone takes true or false"},
        {"paper", "A77", "{\"paper\":\"A77\"}", "A77"},
        {"shade", "red", "{\"shade\":\"red\"}", "no planning option 'shade'"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtOptions) o = dt_options_new();
        g_autoptr(GError) by_text = NULL, by_json = NULL;
        g_assert_false(dt_options_set(o, cases[i].name, cases[i].text, &by_text));
        g_assert_false(read_json(o, cases[i].json, &by_json));
        g_assert_nonnull(strstr(by_text->message, cases[i].says));
        g_assert_cmpstr(by_text->message, ==, by_json->message);
        g_assert_null(dt_options_get(o, cases[i].name));
    }
}

static void test_nothing_is_taken_from_json_that_is_wrong_in_part(void)
{
    g_autoptr(DtOptions) o = dt_options_new();
    g_assert_true(dt_options_set(o, "join", "2", NULL));
    g_assert_false(read_json(o, "{\"tone\":true,\"join\":1,\"pitch\":-1}", NULL));
    g_assert_null(dt_options_get(o, "tone"));
    g_assert_cmpstr(dt_options_get(o, "join"), ==, "2");
}

static void test_the_profile_stays_as_it_is(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtOptions) o = dt_options_new();
    g_auto(DtPlanInput) in = {0};
    const double w = p->paper_w, margin = p->margin;
    g_autofree char *name = g_strdup(p->paper_name);
    g_assert_true(
        read_json(o, "{\"paper\":\"61x47\",\"margin\":3,\"angle\":90,\"sheets\":\"2x3\"}", NULL));
    g_assert_true(dt_options_apply(o, p, &in, NULL));
    g_assert_cmpfloat(in.profile->paper_w, ==, 61);
    g_assert_cmpfloat(in.profile->margin, ==, 3);
    g_assert_cmpfloat_with_epsilon(in.job.ink.angle, G_PI / 2, 1e-12);
    g_assert_true(in.several);
    g_assert_cmpuint(in.tiling.columns, ==, 2);
    g_assert_cmpuint(in.tiling.rows, ==, 3);
    g_assert_cmpfloat(p->paper_w, ==, w);
    g_assert_cmpfloat(p->margin, ==, margin);
    g_assert_cmpstr(p->paper_name, ==, name);
}

static void test_defaults_are_the_rooms_own(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtOptions) o = dt_options_new();
    g_auto(DtPlanInput) in = {0};
    const DtJobOptions usual = DT_JOB_OPTIONS_DEFAULT;
    g_assert_true(dt_options_apply(o, p, &in, NULL));
    g_assert_false(in.several);
    g_assert_cmpfloat(in.tiling.overlap, ==, 10);
    g_assert_cmpfloat(in.job.art.tolerance, ==, usual.art.tolerance);
    g_assert_cmpfloat(in.job.ink.tolerance, ==, usual.ink.tolerance);
    g_assert_cmpint(in.job.ink.hatch, ==, usual.ink.hatch);
    g_assert_cmpfloat(in.job.ink.pitch, ==, usual.ink.pitch);
    g_assert_true(in.job.ink.fill == usual.ink.fill && in.job.ink.edge == usual.ink.edge &&
                  in.job.ink.hide == usual.ink.hide && in.job.ink.tone == usual.ink.tone);
    g_assert_cmpuint(in.job.route.iterations, ==, usual.route.iterations);
    g_assert_cmpuint(in.job.route.seed, ==, usual.route.seed);
    g_assert_cmpfloat(in.job.route.join, ==, usual.route.join);
    g_assert_cmpint(in.job.placement.turn, ==, usual.placement.turn);
}

/* Every row has what a form needs, and its own default passes its own check. */
static void test_the_table_is_whole(void)
{
    size_t n;
    const DtOption *table = dt_options_table(&n);
    for (size_t i = 0; i < n; i++) {
        g_autoptr(DtOptions) o = dt_options_new();
        g_assert_true(table[i].name && table[i].group && table[i].help);
        g_assert_true((table[i].argument == NULL) == (table[i].type == DT_OPTION_FLAG));
        g_assert_true((table[i].choices != NULL) == (table[i].type == DT_OPTION_CHOICE));
        if (table[i].preset != NULL)
            g_assert_true(dt_options_set(o, table[i].name, table[i].preset, NULL));
        for (size_t k = 0; k < i; k++)
            g_assert_cmpstr(table[k].name, !=, table[i].name);
    }
}

/* A text is neither empty nor longer than 1000 bytes. */
static void test_texts_have_a_length(void)
{
    size_t n;
    const DtOption *table = dt_options_table(&n);
    g_autofree char *longest = g_strnfill(1000, 'x'), *longer = g_strnfill(1001, 'x');
    for (size_t i = 0; i < n; i++) {
        g_autoptr(DtOptions) o = dt_options_new();
        if (table[i].type != DT_OPTION_TEXT)
            continue;
        g_assert_false(dt_options_set(o, table[i].name, "", NULL));
        g_assert_false(dt_options_set(o, table[i].name, longer, NULL));
        g_assert_true(dt_options_set(o, table[i].name, longest, NULL));
        g_assert_true(dt_options_set(o, table[i].name, "x", NULL));
    }
}

/* Help names the unit and the default; a flag takes no argument; the values end in the options. */
static void test_the_command_line_has_every_option(void)
{
    size_t n;
    const DtOption *table = dt_options_table(&n);
    g_autofree GOptionEntry *entries = dt_options_entries();
    for (size_t i = 0; i < n; i++) {
        const DtOption *k = &table[i];
        g_autofree char *help =
            g_strconcat(k->help, k->unit ? ", " : "", k->unit ? k->unit : "", k->preset ? " (" : "",
                        k->preset ? k->preset : "", k->preset ? ")" : "", NULL);
        g_assert_cmpstr(entries[i].long_name, ==, k->name);
        g_assert_cmpstr(entries[i].description, ==, help);
        g_assert_cmpstr(entries[i].arg_description, ==, k->argument);
        g_assert_cmpint(entries[i].flags, ==, k->type == DT_OPTION_FLAG ? G_OPTION_FLAG_NO_ARG : 0);
        g_assert_cmpint(entries[i].arg, ==, G_OPTION_ARG_CALLBACK);
    }
    g_assert_null(entries[n].long_name);
    g_autoptr(DtOptions) o = dt_options_new();
    g_autoptr(GOptionContext) context = g_option_context_new(NULL);
    GOptionGroup *group = g_option_group_new(NULL, NULL, NULL, o, NULL);
    g_option_context_set_main_group(context, group);
    g_option_group_add_entries(group, entries);
    char *words[] = {(char *)"plan",
                     (char *)"--solid",
                     (char *)"--join",
                     (char *)"0.5",
                     (char *)"--paper-at=3,4",
                     (char *)"a.svg",
                     NULL};
    char **argv = words;
    int argc = 6;
    g_autoptr(GError) error = NULL;
    g_assert_true(g_option_context_parse(context, &argc, &argv, &error));
    g_assert_cmpint(argc, ==, 2);
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtPlanInput) in = {0};
    g_assert_true(dt_options_apply(o, p, &in, &error));
    g_assert_true(in.job.ink.solid);
    g_assert_cmpfloat(in.job.route.join, ==, 0.5);
    g_assert_cmpfloat(in.profile->paper_at.y, ==, 4);
}

/* A form is made from the table: each option with its type, group, help, unit, range, default and choices. */
static void test_the_form_has_every_option(void)
{
    static const char *const types[] = {
        [DT_OPTION_FLAG] = "flag",     [DT_OPTION_NUMBER] = "number", [DT_OPTION_WHOLE] = "whole",
        [DT_OPTION_CHOICE] = "choice", [DT_OPTION_PAPER] = "paper",   [DT_OPTION_POINT] = "point",
        [DT_OPTION_GRID] = "grid",     [DT_OPTION_TEXT] = "text"};
    size_t n;
    const DtOption *table = dt_options_table(&n);
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_options_add_table(b, "options");
    json_builder_end_object(b);
    g_autoptr(JsonNode) root = json_builder_get_root(b);
    JsonArray *list = json_object_get_array_member(json_node_get_object(root), "options");
    g_assert_cmpuint(json_array_get_length(list), ==, n);
    for (size_t i = 0; i < n; i++) {
        const DtOption *k = &table[i];
        JsonObject *o = json_array_get_object_element(list, (guint)i);
        const gboolean ranged =
            k->type == DT_OPTION_NUMBER || k->type == DT_OPTION_WHOLE || k->type == DT_OPTION_POINT;
        g_autofree char *name = g_strdelimit(g_strdup(k->name), "-", '_');
        g_assert_cmpstr(json_object_get_string_member(o, "name"), ==, name);
        g_assert_cmpstr(json_object_get_string_member(o, "type"), ==, types[k->type]);
        g_assert_cmpstr(json_object_get_string_member(o, "group"), ==, k->group);
        g_assert_cmpstr(json_object_get_string_member(o, "help"), ==, k->help);
        g_assert_cmpstr(json_object_get_string_member_with_default(o, "unit", NULL), ==, k->unit);
        g_assert_cmpint(json_object_has_member(o, "least"), ==, ranged);
        g_assert_cmpint(json_object_has_member(o, "most"), ==, ranged);
        if (ranged) {
            g_assert_cmpfloat_with_epsilon(json_object_get_double_member(o, "least"), k->least,
                                           1e-4);
            g_assert_cmpfloat_with_epsilon(json_object_get_double_member(o, "most"), k->most, 1e-4);
        }
        g_assert_true(json_object_has_member(o, "default"));
        g_assert_cmpint(json_object_has_member(o, "choices"), ==, k->choices != NULL);
        for (guint c = 0; k->choices && k->choices[c]; c++)
            g_assert_cmpstr(
                json_array_get_string_element(json_object_get_array_member(o, "choices"), c), ==,
                k->choices[c]);
    }
}

/* Both ends of a range are within it, what is just outside is refused; and so with each part of a place. */
static void assert_taken(const DtOption *k, double number, gboolean taken)
{
    g_autoptr(DtOptions) o = dt_options_new();
    char digits[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_dtostr(digits, sizeof digits, number);
    for (int part = 0; part < (k->type == DT_OPTION_POINT ? 2 : 1); part++) {
        g_autofree char *text = k->type != DT_OPTION_POINT ? g_strdup(digits)
                                : part                     ? g_strdup_printf("1,%s", digits)
                                                           : g_strdup_printf("%s,1", digits);
        if (dt_options_set(o, k->name, text, NULL) != taken)
            g_error("--%s %s is%s taken", k->name, text, taken ? " not" : "");
    }
}

static void test_ranges_hold_at_their_ends(void)
{
    size_t n;
    const DtOption *table = dt_options_table(&n);
    for (size_t i = 0; i < n; i++) {
        const DtOption *k = &table[i];
        const double step = k->type == DT_OPTION_WHOLE ? 1 : 1e-6;
        if (k->type != DT_OPTION_NUMBER && k->type != DT_OPTION_WHOLE && k->type != DT_OPTION_POINT)
            continue;
        assert_taken(k, k->least, TRUE);
        assert_taken(k, k->most, TRUE);
        assert_taken(k, k->least - step, FALSE);
        assert_taken(k, k->most + step, FALSE);
        if (strcmp(k->name, "pitch") == 0) { /* 0: by the pen */
            assert_taken(k, 0.01, TRUE);
            assert_taken(k, 0.009999, FALSE);
        }
    }
}

/* What a plan is made of, a field after the other. */
static char *describe(const DtOptions *o)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtPlanInput) in = {0};
    g_autoptr(GError) error = NULL;
    dt_options_apply(o, p, &in, &error);
    g_assert_no_error(error);
    const DtJobOptions *j = &in.job;
    const DtProfile *q = in.profile;
    return g_strdup_printf(
        "curve=%g|ink=%g|single=%d|page=%d|own_angle=%d|angle=%.4f|hatch=%d|pitch=%g|fill=%d|"
        "edge=%d|"
        "hide=%d|thin_out=%d|tone=%d|solid=%d|picture=%d|points=%zu|own_picture=%d|minutes=%g|seed="
        "%" PRIu64 "|tries=%" PRIu64
        "|join=%g|retrace=%d|keep=%d|one_way=%d|light_first=%d|fit=%d|turn=%d|"
        "bare=%d|paper=%gx%g|name=%s|at=%g,%g|margin=%g|off=%g|several=%d|grid=%ux%u|overlap=%g|"
        "pens=%zu|swaps=%zu|rules=%zu|spread=%g",
        j->art.tolerance, j->ink.tolerance, j->art.single_line_text, j->art.page, j->own_angle,
        j->ink.angle, j->ink.hatch, j->ink.pitch, j->ink.fill, j->ink.edge, j->ink.hide,
        j->ink.thin_out, j->ink.tone, j->ink.solid, j->ink.picture, j->ink.points, j->own_picture,
        j->minutes, j->route.seed, j->route.iterations, j->route.join, j->route.retrace > 0,
        j->route.keep_order, j->route.one_way, j->route.light_first, j->placement.fit,
        j->placement.turn, j->no_corrections, q->paper_w, q->paper_h, q->paper_name, q->paper_at.x,
        q->paper_at.y, q->margin, q->ink_tolerance, in.several, in.tiling.columns, in.tiling.rows,
        in.tiling.overlap, q->rack.n, j->ink.n_swaps, j->ink.n_rules, j->ink.spread);
}

/* The fields that differ from those of a plan without options. */
static char *changed_by(const DtOptions *o)
{
    g_autoptr(DtOptions) none = dt_options_new();
    g_autofree char *usual = describe(none), *now = describe(o);
    g_auto(GStrv) a = g_strsplit(usual, "|", -1), b = g_strsplit(now, "|", -1);
    GString *s = g_string_new(NULL);
    for (int i = 0; a[i] && b[i]; i++)
        if (strcmp(a[i], b[i]) != 0)
            g_string_append_printf(s, "%s%s", s->len ? " " : "", b[i]);
    return g_string_free(s, FALSE);
}

static void test_each_option_sets_its_own_field(void)
{
    static const struct {
        const char *name, *text, *changes;
    } cases[] = {{"paper", "A6", "paper=105x148 name=A6"},
                 {"paper-at", "20.5,10", "at=20.5,10"},
                 {"margin", "3", "margin=3"},
                 {"true-size", "true", "fit=1"},
                 {"no-turn", "true", "turn=0"},
                 {"sheets", "2x3", "several=1 grid=2x3"},
                 {"sheets", "any", "several=1"},
                 {"overlap", "12", "overlap=12"},
                 {"angle", "90", "own_angle=1 angle=1.5708"},
                 {"pitch", "0.7", "pitch=0.7"},
                 {"outlines", "true", "fill=0"},
                 {"no-edge", "true", "edge=0"},
                 {"tone", "true", "tone=1"},
                 {"solid", "true", "solid=1 light_first=0"},
                 {"points", "77", "points=77"},
                 {"minutes", "2.5", "minutes=2.5"},
                 {"pens", "red,blue", "pens=2"},
                 {"swap", "red=blue", "swaps=1"},
                 {"colour", "#3a8a40=blue", "rules=1"},
                 {"no-hide", "true", "hide=0"},
                 {"thin-out", "true", "thin_out=1"},
                 {"page", "4", "page=4"},
                 {"single-line", "true", "single=1"},
                 {"tolerance", "0.05", "curve=0.05 ink=0.05"},
                 {"ink-tolerance", "0.03", "off=0.03"},
                 {"join", "1.5", "join=1.5"},
                 {"no-retrace", "true", "retrace=0"},
                 {"keep-order", "true", "keep=1"},
                 {"one-way", "true", "one_way=1"},
                 {"light-first", "true", ""}, /* they are first unless fills are solid */
                 {"seed", "9", "seed=9"},
                 {"effort", "123", "tries=123"},
                 {"no-corrections", "true", "bare=1"}};
    static const struct {
        const char *name, *text;
        int value;
    } choices[] = {
        {"hatch", "fastest", DT_HATCH_FASTEST},     {"hatch", "serpentine", DT_HATCH_SERPENTINE},
        {"hatch", "lines", DT_HATCH_LINES},         {"hatch", "crossed", DT_HATCH_CROSSED},
        {"hatch", "rings", DT_HATCH_RINGS},         {"picture", "crossed", DT_PICTURE_CROSSED},
        {"picture", "hatch", DT_PICTURE_HATCH},     {"picture", "contour", DT_PICTURE_CONTOUR},
        {"picture", "stipple", DT_PICTURE_STIPPLE}, {"picture", "tour", DT_PICTURE_TOUR},
        {"picture", "flow", DT_PICTURE_FLOW}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtOptions) o = dt_options_new();
        g_assert_true(dt_options_set(o, cases[i].name, cases[i].text, NULL));
        g_autofree char *changed = changed_by(o);
        g_assert_cmpstr(changed, ==, cases[i].changes);
        /* a flag that is said to be off is off */
        if (strcmp(cases[i].text, "true") == 0) {
            g_assert_true(dt_options_set(o, cases[i].name, "false", NULL));
            g_autofree char *off = changed_by(o);
            g_assert_cmpstr(off, ==, "");
        }
    }
    for (size_t i = 0; i < G_N_ELEMENTS(choices); i++) {
        g_autoptr(DtOptions) o = dt_options_new();
        g_assert_true(dt_options_set(o, choices[i].name, choices[i].text, NULL));
        g_autofree char *all = describe(o);
        g_autofree char *wanted = g_strdup_printf("|%s=%d|", choices[i].name, choices[i].value);
        g_assert_nonnull(strstr(all, wanted));
        g_assert_true((strstr(all, "|own_picture=1|") != NULL) == (choices[i].name[0] == 'p'));
    }
    g_autoptr(DtOptions) both = dt_options_new();
    g_assert_true(dt_options_set(both, "solid", "true", NULL));
    g_assert_true(dt_options_set(both, "light-first", "true", NULL));
    g_autofree char *solid = changed_by(both);
    g_assert_cmpstr(solid, ==, "solid=1");
}

/* A limit of time is for one sheet. */
static void test_no_limit_for_several_sheets(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtOptions) o = dt_options_new();
    g_autoptr(GError) error = NULL;
    g_auto(DtPlanInput) in = {0};
    g_assert_true(dt_options_set(o, "sheets", "2x1", NULL));
    g_assert_true(dt_options_set(o, "minutes", "0.1", NULL));
    g_assert_false(dt_options_apply(o, p, &in, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    g_assert_nonnull(strstr(error->message, "--minutes is for one sheet"));
}

/* The rack is black, red, blue. */
static gboolean apply_pens(const char *pens, const char *swap, const char *colour, DtProfile **p,
                           DtInkOptions *ink, GError **error)
{
    *p = dt_profile_new();
    *ink = DT_INK_OPTIONS_DEFAULT;
    return dt_job_apply_pens(pens, swap, colour, *p, ink, error);
}

static void test_pens_swaps_and_colours_are_read_in_full(void)
{
    g_autoptr(DtProfile) p = NULL;
    g_autoptr(GError) error = NULL;
    DtInkOptions ink;
    g_assert_true(apply_pens("red, blue", "red=blue,blue = red", "#3a8a40=blue,#000000=red", &p,
                             &ink, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(p->rack.n, ==, 2);
    g_assert_cmpstr(p->rack.pens[0].name, ==, "red");
    g_assert_cmpuint(ink.n_swaps, ==, 2);
    g_assert_cmpint(ink.swaps[1].from, ==, 1);
    g_assert_cmpint(ink.swaps[1].to, ==, 0);
    g_assert_cmpuint(ink.n_rules, ==, 2);
    g_assert_cmpint(ink.rules[0].pen, ==, 1);
    g_assert_cmpfloat_with_epsilon(ink.rules[0].colour.r, 0x3a / 255.0, 1e-12);
    g_assert_cmpfloat_with_epsilon(ink.rules[0].colour.g, 0x8a / 255.0, 1e-12);
    g_assert_cmpfloat_with_epsilon(ink.rules[0].colour.b, 0x40 / 255.0, 1e-12);
    g_assert_cmpfloat(ink.rules[0].colour.alpha, ==, 1);
    g_assert_cmpint(ink.rules[1].pen, ==, 0);
}

static void test_pens_that_are_wrong_are_refused_wherever_they_stand(void)
{
    static const struct {
        const char *pens, *swap, *colour, *said;
    } wrong[] = {{"green", NULL, NULL, "--pens: the rack has no pen 'green'"},
                 {"red,green", NULL, NULL, "'green'"},
                 {NULL, "red=blue,red", NULL, "--swap takes pairs with '='; 'red' is not one"},
                 {NULL, "green=red", NULL, "'green'"},
                 {NULL, "red=blue,red=green", NULL, "'green'"},
                 {NULL, NULL, "#000000=red,3a8a40=red", "'3a8a40' is not one"},
                 {NULL, NULL, "#3a8a4=red", "'#3a8a4' is not one"},
                 {NULL, NULL, "#3a8a400=red", "'#3a8a400' is not one"},
                 {NULL, NULL, "#+3a8a4=red", "'#+3a8a4' is not one"},
                 {NULL, NULL, "#-3a8a4=red", "'#-3a8a4' is not one"},
                 {NULL, NULL, "#0x3a8a=red", "'#0x3a8a' is not one"},
                 {NULL, NULL, "#3a8a4g=red", "'#3a8a4g' is not one"},
                 {NULL, NULL, "+3a8a40=red", "'+3a8a40' is not one"},
                 {NULL, NULL, "#000000=red,#000000=green", "'green'"},
                 {NULL, NULL, "#000000", "--colour takes pairs"}};
    for (size_t i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_autoptr(DtProfile) p = NULL;
        g_autoptr(GError) error = NULL;
        DtInkOptions ink;
        g_assert_false(apply_pens(wrong[i].pens, wrong[i].swap, wrong[i].colour, &p, &ink, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
        g_assert_nonnull(strstr(error->message, wrong[i].said));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/options/json-and-text", test_json_and_text_say_the_same);
    g_test_add_func("/options/refusals", test_wrong_values_are_refused_alike);
    g_test_add_func("/options/all-or-nothing",
                    test_nothing_is_taken_from_json_that_is_wrong_in_part);
    g_test_add_func("/options/profile", test_the_profile_stays_as_it_is);
    g_test_add_func("/options/defaults", test_defaults_are_the_rooms_own);
    g_test_add_func("/options/table", test_the_table_is_whole);
    g_test_add_func("/options/texts", test_texts_have_a_length);
    g_test_add_func("/options/command-line", test_the_command_line_has_every_option);
    g_test_add_func("/options/form", test_the_form_has_every_option);
    g_test_add_func("/options/ranges", test_ranges_hold_at_their_ends);
    g_test_add_func("/options/fields", test_each_option_sets_its_own_field);
    g_test_add_func("/options/minutes", test_no_limit_for_several_sheets);
    g_test_add_func("/options/pens", test_pens_swaps_and_colours_are_read_in_full);
    g_test_add_func("/options/pens-wrong",
                    test_pens_that_are_wrong_are_refused_wherever_they_stand);
    return g_test_run();
}
