/* verdict: reads what the rig wrote and holds it against the plan and against librsvg. */
#include "support/verdict.h"
#include "drawtrue/base.h"
#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>

void verdict_planned(const DtJob *job, WitnessInk *ink)
{
    witness_ink_init(ink);
    const DtStrokes *s = &job->strokes;
    for (size_t i = 0; i < s->n; i++)
        witness_ink_add(ink, s->pts + s->strokes[i].first, s->strokes[i].n, s->strokes[i].closed,
                        s->strokes[i].pen);
}

/* ink.json ------------------------------------------------------------------------------------- */

static gboolean read_point(JsonNode *node, DtPoint *p)
{
    if (!JSON_NODE_HOLDS_ARRAY(node))
        return FALSE;
    JsonArray *pair = json_node_get_array(node);
    if (json_array_get_length(pair) != 2)
        return FALSE;
    *p = (DtPoint){json_array_get_double_element(pair, 0), json_array_get_double_element(pair, 1)};
    return isfinite(p->x) && isfinite(p->y);
}

/* A controller is told of a stop, not of a pen, so that the rig may know its pens only by turns:
 * the name that appears n-th then stands for the n-th pen of the plan. */
typedef struct {
    const DtSequence *sequence;
    const DtRack *rack;
    GPtrArray *names; /* as they appeared, owned by the parser */
} Pens;

static int planned_pen(const DtSequence *s, guint turn)
{
    guint turns = 0;
    for (size_t i = 0; i < s->n; i++) {
        if (i > 0 && s->polylines[i].pen != s->polylines[i - 1].pen)
            turns++;
        if (turns == turn)
            return s->polylines[i].pen;
    }
    return -1;
}

static int pen_of(Pens *pens, const char *name)
{
    for (size_t i = 0; i < pens->rack->n; i++)
        if (strcmp(pens->rack->pens[i].name, name) == 0)
            return (int)i;
    guint turn = 0;
    while (turn < pens->names->len && strcmp(pens->names->pdata[turn], name) != 0)
        turn++;
    if (turn == pens->names->len)
        g_ptr_array_add(pens->names, (gpointer)(gsize)name);
    return planned_pen(pens->sequence, turn);
}

static gboolean read_stroke(JsonNode *node, Pens *pens, WitnessInk *ink)
{
    JsonObject *stroke = JSON_NODE_HOLDS_OBJECT(node) ? json_node_get_object(node) : NULL;
    if (!stroke || !json_object_has_member(stroke, "points"))
        return FALSE;
    const int pen = pen_of(pens, json_object_get_string_member_with_default(stroke, "pen", ""));
    JsonArray *points = json_object_get_array_member(stroke, "points");
    if (pen < 0 || !points)
        return FALSE;
    const guint n = json_array_get_length(points);
    g_autofree DtPoint *p = g_new(DtPoint, MAX(n, 1));
    for (guint i = 0; i < n; i++)
        if (!read_point(json_array_get_element(points, i), &p[i]))
            return FALSE;
    witness_ink_add(ink, p, n, FALSE, (unsigned)pen);
    return TRUE;
}

gboolean verdict_read_ink(const char *path, const DtRack *rack, const DtSequence *sequence,
                          WitnessInk *ink, GError **error)
{
    witness_ink_init(ink);
    g_autoptr(JsonParser) parser = json_parser_new();
    g_autoptr(GError) why = NULL;
    if (!json_parser_load_from_file(parser, path, &why)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", path, why->message);
        return FALSE;
    }
    JsonNode *root = json_parser_get_root(parser);
    JsonObject *all = root && JSON_NODE_HOLDS_OBJECT(root) ? json_node_get_object(root) : NULL;
    JsonArray *strokes = all && json_object_has_member(all, "strokes")
                             ? json_object_get_array_member(all, "strokes")
                             : NULL;
    g_autoptr(GPtrArray) names = g_ptr_array_new();
    Pens pens = {sequence, rack, names};
    for (guint i = 0; strokes && i < json_array_get_length(strokes); i++)
        if (!read_stroke(json_array_get_element(strokes, i), &pens, ink)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: stroke %u is not as expected", path,
                        i);
            return FALSE;
        }
    if (!strokes)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: it holds no ink", path);
    return strokes != NULL;
}

/* Judgement ------------------------------------------------------------------------------------ */

/* How far from the origin the carriage may stand and still be home: the slack of its drives. */
#define AT_ORIGIN 1.0

void verdict_of(const DtJob *job, const WitnessInk *landed, const DtRigFigures *rig, Verdict *out)
{
    g_auto(WitnessInk) planned;
    verdict_planned(job, &planned);
    *out = (Verdict){.rig = *rig, .time_estimated_s = job->times.total_s};
    out->ends_at_origin_pen_up = rig->pen_up_at_end && hypot(rig->end_x, rig->end_y) <= AT_ORIGIN;
    out->coverage.iou = NAN;
    witness_compare(&planned, landed, &WITNESS_OPTIONS_DEFAULT, &out->error);
}

gboolean verdict_cover(const DtProfile *p, const DtJob *job, const char *svg,
                       const WitnessInk *landed, double px_per_mm, const char *picture,
                       Verdict *out, GError **error)
{
    const WitnessSheet sheet = {
        job->drawing->width,
        job->drawing->height,
        job->placed,
        {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w, p->paper_at.y + p->paper_h},
        px_per_mm};
    g_autofree double *tips = g_new(double, p->rack.n);
    for (size_t i = 0; i < p->rack.n; i++)
        tips[i] = p->rack.pens[i].tip;
    return witness_coverage(svg, &sheet, landed, tips, p->rack.n, picture, &out->coverage, error);
}

gboolean verdict_is_complete(const Verdict *v)
{
    return v->rig.lines_refused == 0 && v->rig.endstop_hits == 0 && v->rig.bytes_lost == 0 &&
           v->error.missing == 0 && v->error.stray == 0 && v->ends_at_origin_pen_up;
}
