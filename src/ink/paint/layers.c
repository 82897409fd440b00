/* layers: layers and overlaps of them, each stored once. */
#include "ink/paint/layers.h"

#include "ink/paint/number-lists.h"

#include <math.h>

/* Resolution for comparing colour components: finer than a browser's, so that many thin layers
 * mix well. */
#define STEPS 4095

struct DtPaintLayers {
    DtNumberLists keys;     /* index of the layers by content */
    GArray *layers;         /* DtPaintLayer, by layer */
    GPtrArray *tones;       /* those of the layers, by number: DtTone or DtMeans */
    DtNumberLists overlaps; /* layers from the top down, by label minus DT_STACK_FIRST */
    GArray *scratch;        /* int32_t */
};

DtPaintLayers *dt_paint_layers_new(void)
{
    DtPaintLayers *c = g_new(DtPaintLayers, 1);
    dt_number_lists_init(&c->keys);
    dt_number_lists_init(&c->overlaps);
    c->layers = g_array_new(FALSE, FALSE, sizeof(DtPaintLayer));
    c->tones = g_ptr_array_new();
    c->scratch = g_array_new(FALSE, FALSE, sizeof(int32_t));
    return c;
}

void dt_paint_layers_free(DtPaintLayers *c)
{
    if (!c)
        return;
    dt_number_lists_clear(&c->keys);
    dt_number_lists_clear(&c->overlaps);
    g_array_free(c->layers, TRUE);
    g_ptr_array_free(c->tones, TRUE);
    g_array_free(c->scratch, TRUE);
    g_free(c);
}

static const DtPaintLayer *layer_at(const DtPaintLayers *c, int32_t layer)
{
    return &g_array_index(c->layers, DtPaintLayer, layer);
}

static gboolean changes(const DtPaintLayer *layer)
{
    return layer->tone || layer->means;
}

static DtColour colour_at(const DtPaintLayer *layer, const DtPoint *at)
{
    if (at && layer->means)
        return dt_means_at(layer->means, *at);
    return at && layer->tone ? dt_art_tone_at(layer->tone, *at) : layer->colour;
}

/* Of a layer that changes from place to place; -1 otherwise. */
static int32_t tone_number(DtPaintLayers *c, const DtPaintLayer *layer)
{
    guint i = 0;
    gconstpointer tone = layer->tone ? (gconstpointer)layer->tone : layer->means;
    if (!tone)
        return -1;
    if (!g_ptr_array_find(c->tones, tone, &i)) {
        i = c->tones->len;
        g_ptr_array_add(c->tones, (gpointer)(gsize)tone);
    }
    return (int32_t)i;
}

static int32_t step_of(double v)
{
    return (int32_t)lround(CLAMP(v, 0, 1) * STEPS);
}

/* The layer's number. Layers that differ by less than a step are the same. */
static int32_t layer_number(DtPaintLayers *c, const DtPaintLayer *layer)
{
    const DtColour *k = &layer->colour;
    int32_t key[9] = {step_of(k->r),     step_of(k->g),         step_of(k->b),
                      step_of(k->alpha), tone_number(c, layer), layer->opaque,
                      layer->pen,        layer->group,          layer->ink};
    uint32_t i = dt_number_lists_put(&c->keys, key, G_N_ELEMENTS(key));
    if (i == c->layers->len)
        g_array_append_val(c->layers, *layer);
    return (int32_t)i;
}

int dt_paint_layers_label(DtPaintLayers *c, const DtPaintLayer *layer)
{
    int32_t i = layer_number(c, layer);
    return DT_STACK_FIRST + (int)dt_number_lists_put(&c->overlaps, &i, 1);
}

/* Looking ----------------------------------------------------------------------------------- */

/* Premultiplied. */
static void lay_under(DtColour *sum, DtColour c, double alpha)
{
    double k = (1 - sum->alpha) * alpha;
    *sum = (DtColour){sum->r + k * c.r, sum->g + k * c.g, sum->b + k * c.b, sum->alpha + k};
}

static DtColour divided(DtColour c)
{
    if (!(c.alpha > 0))
        return (DtColour){0, 0, 0, 0};
    return (DtColour){c.r / c.alpha, c.g / c.alpha, c.b / c.alpha, c.alpha};
}

/* A traversal down an overlap: what has been seen of the groups above and of the present one, as
 * if it had no opacity of its own. */
typedef struct {
    DtColour above, inside;
    int group, pen;
    double opacity;
} Look;

static void leave_group(Look *l)
{
    lay_under(&l->above, divided(l->inside), l->inside.alpha * l->opacity);
    l->inside = (DtColour){0, 0, 0, 0};
}

static double hidden_so_far(const Look *l)
{
    return l->above.alpha + (1 - l->above.alpha) * l->inside.alpha * l->opacity;
}

static void look_at(Look *l, const DtPaintLayer *layer, DtColour c)
{
    if (layer->group != l->group) {
        leave_group(l);
        l->group = layer->group;
        l->opacity = layer->opacity;
    }
    if (layer->pen >= 0 && l->pen < 0 && c.alpha >= DT_PAINT_LAYER_SOLID &&
        hidden_so_far(l) < DT_PAINT_LAYER_SOLID)
        l->pen = layer->pen;
    lay_under(&l->inside, c, MIN(c.alpha / l->opacity, 1));
}

static DtSeen look(const DtPaintLayers *c, int label, const DtPoint *at)
{
    Look l = {.group = -1, .pen = -1, .opacity = 1};
    size_t n;
    const int32_t *overlap =
        dt_number_lists_at(&c->overlaps, (uint32_t)(label - DT_STACK_FIRST), &n);
    for (size_t i = 0; i < n; i++) {
        const DtPaintLayer *layer = layer_at(c, overlap[i]);
        look_at(&l, layer, colour_at(layer, at));
    }
    leave_group(&l);
    return (DtSeen){divided(l.above), l.pen};
}

DtSeen dt_paint_layers_seen_at(const DtPaintLayers *c, int label, DtPoint at)
{
    return look(c, label, &at);
}

DtSeen dt_paint_layers_seen(const DtPaintLayers *c, int label)
{
    return look(c, label, NULL);
}

gboolean dt_paint_layers_changes(const DtPaintLayers *c, int label)
{
    size_t n;
    const int32_t *overlap =
        dt_number_lists_at(&c->overlaps, (uint32_t)(label - DT_STACK_FIRST), &n);
    for (size_t i = 0; i < n; i++)
        if (changes(layer_at(c, overlap[i])))
            return TRUE;
    return FALSE;
}

gboolean dt_paint_layers_is_picture(const DtPaintLayers *c, int label)
{
    size_t n;
    const int32_t *overlap =
        dt_number_lists_at(&c->overlaps, (uint32_t)(label - DT_STACK_FIRST), &n);
    for (size_t i = 0; i < n; i++) {
        const DtPaintLayer *layer = layer_at(c, overlap[i]);
        if (layer->tone && dt_art_tone_is_picture(layer->tone))
            return TRUE;
    }
    return FALSE;
}

int dt_paint_layers_ink(const DtPaintLayers *c, int label)
{
    size_t n;
    const int32_t *overlap =
        dt_number_lists_at(&c->overlaps, (uint32_t)(label - DT_STACK_FIRST), &n);
    return layer_at(c, overlap[0])->ink;
}

/* Laying ------------------------------------------------------------------------------------ */

/* Whether two consecutive layers are one layer. */
static gboolean can_mix(const DtPaintLayer *upper, const DtPaintLayer *lower)
{
    return !changes(upper) && !changes(lower) && upper->group == lower->group && upper->pen < 0 &&
           lower->pen < 0 && upper->ink < 0 && lower->ink < 0;
}

static DtPaintLayer mix(const DtPaintLayer *upper, const DtPaintLayer *lower)
{
    Look l = {.group = upper->group, .pen = -1, .opacity = upper->opacity};
    look_at(&l, upper, upper->colour);
    look_at(&l, lower, lower->colour);
    leave_group(&l);
    DtPaintLayer m = *upper;
    m.colour = divided(l.above);
    m.opaque = m.colour.alpha >= DT_PAINT_LAYER_OPAQUE;
    return m;
}

/* Adds a layer under those of `overlap`; FALSE if nothing below it can be seen. */
static gboolean add_layer_to(DtPaintLayers *c, GArray *overlap, int32_t layer)
{
    if (overlap->len > 0) {
        int32_t *last = &g_array_index(overlap, int32_t, overlap->len - 1);
        if (can_mix(layer_at(c, *last), layer_at(c, layer))) {
            DtPaintLayer mixed = mix(layer_at(c, *last), layer_at(c, layer));
            *last = layer_number(c, &mixed);
            return !mixed.opaque;
        }
    }
    g_array_append_val(overlap, layer);
    return !layer_at(c, layer)->opaque;
}

static int lay_overlap(const int *labels, size_t n, void *user)
{
    DtPaintLayers *c = user;
    gboolean translucent = TRUE;
    g_array_set_size(c->scratch, 0);
    for (size_t i = 0; i < n && translucent && labels[i] >= DT_STACK_FIRST; i++) {
        size_t count;
        const int32_t *overlap =
            dt_number_lists_at(&c->overlaps, (uint32_t)(labels[i] - DT_STACK_FIRST), &count);
        for (size_t k = 0; k < count && translucent; k++)
            translucent = add_layer_to(c, c->scratch, overlap[k]);
    }
    return DT_STACK_FIRST +
           (int)dt_number_lists_put(&c->overlaps, (const int32_t *)(const void *)c->scratch->data,
                                    c->scratch->len);
}

static gboolean is_translucent(int label, void *user)
{
    const DtPaintLayers *c = user;
    size_t n;
    if (label < DT_STACK_FIRST)
        return FALSE;
    const int32_t *overlap =
        dt_number_lists_at(&c->overlaps, (uint32_t)(label - DT_STACK_FIRST), &n);
    return !layer_at(c, overlap[n - 1])->opaque;
}

DtStackOverlap dt_paint_layers_overlap(DtPaintLayers *c)
{
    return (DtStackOverlap){is_translucent, lay_overlap, c};
}
