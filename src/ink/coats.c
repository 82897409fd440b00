/* coats: coats and piles of them, each kept once. */
#include "coats.h"

#include "piles.h"

#include <math.h>

/* Steps in which the parts of a colour are told apart: finer than a browser's, so that many thin
 * coats mix well. */
#define STEPS 4095

struct DtCoats {
    DtPiles keys;     /* what tells coats apart, by coat */
    GArray *coats;    /* DtCoat, by coat */
    GPtrArray *tones; /* those of the coats, by number */
    DtPiles piles;    /* coats from the top down, by label less DT_STACK_FIRST */
    GArray *scratch;  /* int32_t */
};

DtCoats *dt_coats_new(void)
{
    DtCoats *c = g_new(DtCoats, 1);
    dt_piles_init(&c->keys);
    dt_piles_init(&c->piles);
    c->coats = g_array_new(FALSE, FALSE, sizeof(DtCoat));
    c->tones = g_ptr_array_new();
    c->scratch = g_array_new(FALSE, FALSE, sizeof(int32_t));
    return c;
}

void dt_coats_free(DtCoats *c)
{
    if (!c)
        return;
    dt_piles_clear(&c->keys);
    dt_piles_clear(&c->piles);
    g_array_free(c->coats, TRUE);
    g_ptr_array_free(c->tones, TRUE);
    g_array_free(c->scratch, TRUE);
    g_free(c);
}

static const DtCoat *coat_at(const DtCoats *c, int32_t coat)
{
    return &g_array_index(c->coats, DtCoat, coat);
}

static int32_t tone_number(DtCoats *c, const DtTone *tone)
{
    guint i = 0;
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

/* The coat's number. Coats that differ by less than a step are one. */
static int32_t coat_number(DtCoats *c, const DtCoat *coat)
{
    const DtColour *k = &coat->colour;
    int32_t key[9] = {
        step_of(k->r), step_of(k->g), step_of(k->b), step_of(k->alpha), tone_number(c, coat->tone),
        coat->opaque,  coat->pen,     coat->group,   coat->ink};
    uint32_t i = dt_piles_put(&c->keys, key, G_N_ELEMENTS(key));
    if (i == c->coats->len)
        g_array_append_val(c->coats, *coat);
    return (int32_t)i;
}

int dt_coats_label(DtCoats *c, const DtCoat *coat)
{
    int32_t i = coat_number(c, coat);
    return DT_STACK_FIRST + (int)dt_piles_put(&c->piles, &i, 1);
}

/* Looking ----------------------------------------------------------------------------------------
 */

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

/* A look down a pile: what has been seen of the groups above and of the present one, as if it had
 * no opacity of its own. */
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

static void look_at(Look *l, const DtCoat *coat, DtColour c)
{
    if (coat->group != l->group) {
        leave_group(l);
        l->group = coat->group;
        l->opacity = coat->opacity;
    }
    if (coat->pen >= 0 && l->pen < 0 && c.alpha >= DT_COAT_SOLID &&
        hidden_so_far(l) < DT_COAT_SOLID)
        l->pen = coat->pen;
    lay_under(&l->inside, c, MIN(c.alpha / l->opacity, 1));
}

static DtSeen look(const DtCoats *c, int label, const DtPoint *at)
{
    Look l = {.group = -1, .pen = -1, .opacity = 1};
    size_t n;
    const int32_t *pile = dt_piles_at(&c->piles, (uint32_t)(label - DT_STACK_FIRST), &n);
    for (size_t i = 0; i < n; i++) {
        const DtCoat *coat = coat_at(c, pile[i]);
        look_at(&l, coat, at && coat->tone ? dt_art_tone_at(coat->tone, *at) : coat->colour);
    }
    leave_group(&l);
    return (DtSeen){divided(l.above), l.pen};
}

DtSeen dt_coats_seen_at(const DtCoats *c, int label, DtPoint at)
{
    return look(c, label, &at);
}

DtSeen dt_coats_seen(const DtCoats *c, int label)
{
    return look(c, label, NULL);
}

gboolean dt_coats_changes(const DtCoats *c, int label)
{
    size_t n;
    const int32_t *pile = dt_piles_at(&c->piles, (uint32_t)(label - DT_STACK_FIRST), &n);
    for (size_t i = 0; i < n; i++)
        if (coat_at(c, pile[i])->tone)
            return TRUE;
    return FALSE;
}

int dt_coats_ink(const DtCoats *c, int label)
{
    size_t n;
    const int32_t *pile = dt_piles_at(&c->piles, (uint32_t)(label - DT_STACK_FIRST), &n);
    return coat_at(c, pile[0])->ink;
}

/* Laying -----------------------------------------------------------------------------------------
 */

/* Whether two coats that follow one another are one coat. */
static gboolean can_mix(const DtCoat *upper, const DtCoat *lower)
{
    return !upper->tone && !lower->tone && upper->group == lower->group && upper->pen < 0 &&
           lower->pen < 0 && upper->ink < 0 && lower->ink < 0;
}

static DtCoat mix(const DtCoat *upper, const DtCoat *lower)
{
    Look l = {.group = upper->group, .pen = -1, .opacity = upper->opacity};
    look_at(&l, upper, upper->colour);
    look_at(&l, lower, lower->colour);
    leave_group(&l);
    DtCoat m = *upper;
    m.colour = divided(l.above);
    m.opaque = m.colour.alpha >= DT_COAT_OPAQUE;
    return m;
}

/* Adds a coat under those of `pile`; FALSE where nothing below it can be seen. */
static gboolean add_coat(DtCoats *c, GArray *pile, int32_t coat)
{
    if (pile->len > 0) {
        int32_t *last = &g_array_index(pile, int32_t, pile->len - 1);
        if (can_mix(coat_at(c, *last), coat_at(c, coat))) {
            DtCoat mixed = mix(coat_at(c, *last), coat_at(c, coat));
            *last = coat_number(c, &mixed);
            return !mixed.opaque;
        }
    }
    g_array_append_val(pile, coat);
    return !coat_at(c, coat)->opaque;
}

static int lay_pile(const int *labels, size_t n, void *user)
{
    DtCoats *c = user;
    gboolean sheer = TRUE;
    g_array_set_size(c->scratch, 0);
    for (size_t i = 0; i < n && sheer && labels[i] >= DT_STACK_FIRST; i++) {
        size_t count;
        const int32_t *pile =
            dt_piles_at(&c->piles, (uint32_t)(labels[i] - DT_STACK_FIRST), &count);
        for (size_t k = 0; k < count && sheer; k++)
            sheer = add_coat(c, c->scratch, pile[k]);
    }
    return DT_STACK_FIRST + (int)dt_piles_put(&c->piles,
                                              (const int32_t *)(const void *)c->scratch->data,
                                              c->scratch->len);
}

static gboolean is_sheer(int label, void *user)
{
    const DtCoats *c = user;
    size_t n;
    if (label < DT_STACK_FIRST)
        return FALSE;
    const int32_t *pile = dt_piles_at(&c->piles, (uint32_t)(label - DT_STACK_FIRST), &n);
    return !coat_at(c, pile[n - 1])->opaque;
}

DtStackPiles dt_coats_piles(DtCoats *c)
{
    return (DtStackPiles){is_sheer, lay_pile, c};
}
