/* census: the heights, speeds, spindle codes and lines of other controllers in a program. */
#include "code/mend/census.h"

#include <math.h>
#include <string.h>

static void note_level(DtLevels *l, double value, double weight)
{
    int nearest = 0;
    for (int i = 0; i < l->n; i++)
        if (fabs(l->at[i] - value) < fabs(l->at[nearest] - value))
            nearest = i;
    if (l->n < DT_LEVELS && (l->n == 0 || fabs(l->at[nearest] - value) > 1e-6)) {
        nearest = l->n++;
        l->at[nearest] = value;
    }
    l->moved[nearest] += weight;
}

static void note_key(DtCensus *c, const char *key)
{
    int i = 0;
    while (i < c->n_keys && strcmp(c->key[i], key) != 0)
        i++;
    if (i == DT_LINE_KEYS)
        return;
    if (i == c->n_keys)
        g_strlcpy(c->key[c->n_keys++], key, DT_LINE_KEY);
    c->key_count[i]++;
}

static void note_share(DtShare *s, double amount, double length)
{
    const double per_mm = length > 0 ? amount / length : 0;
    s->least = s->n == 0 ? per_mm : MIN(s->least, per_mm);
    s->most = s->n == 0 ? per_mm : MAX(s->most, per_mm);
    s->n++;
}

/* The letters of a move along X or Y that the standard does not have. */
static void note_letters(DtCensus *c, const DtCodeBlock *b, const DtAction *move)
{
    const double length = dt_action_length(move);
    for (int i = 0; i < b->n_words; i++) {
        const DtCodeWord *w = &b->words[i];
        DtLetterUse *u = &c->letter[w->letter - 'A'];
        if (dt_letters[w->letter - 'A'] != NULL)
            continue;
        u->moves++;
        u->rapids += move->kind == ACT_TRAVERSE ? 1 : 0;
        if (w->value > 0)
            note_share(&u->value, w->value, length);
        if (block_rises(b, w->letter))
            note_share(&u->rise, w->value - b->before[w->letter - 'A'], length);
    }
}

static void census_block(void *user, const DtCodeBlock *b)
{
    DtCensus *c = user;
    char key[DT_LINE_KEY];
    c->block = b;
    c->ended |= b->closes;
    if (c->ended || b->deleted)
        return;
    if (dt_reading_line_key(b, key))
        note_key(c, key);
    else if (b->has & LETTER('S'))
        note_level(&c->speed, block_value(b, 'S'), 1);
    if (c->rule->kind != LIFT_BY_OWN_WORD)
        return; /* its words may be on several lines, and in other units */
    c->machine_down |= dt_block_matches(b, &c->rule->down);
    c->machine_up |= dt_block_matches(b, &c->rule->up);
}

double dt_action_length(const DtAction *a)
{
    if (a->kind == ACT_ARC && a->first == 0 && a->second == 1)
        return fabs(a->sweep) * a->radius;
    return hypot(a->to[0] - a->from[0], a->to[1] - a->from[1]);
}

gboolean dt_action_is_motion(const DtAction *a)
{
    return a->kind == ACT_TRAVERSE || a->kind == ACT_FEED || a->kind == ACT_ARC;
}

static gboolean is_as_written(const DtAction *a, int turn, double speed)
{
    return a->turn == turn &&
           (speed < 0 || (a->speed_said && fabs(a->speed - speed) <= 0.01 * speed));
}

static void census_spindle(DtCensus *c, const DtAction *a)
{
    const gboolean said = (c->block->m_groups & (1u << M_SPINDLE)) != 0;
    c->turned[a->turn + 1] |= said;
    if (c->rule->kind != LIFT_BY_SPINDLE || (a->turn == 0 && !said))
        return;
    const gboolean down = is_as_written(a, c->rule->down_turn, c->rule->down_speed);
    const gboolean up = is_as_written(a, c->rule->up_turn, c->rule->up_speed);
    c->machine_down |= down;
    c->machine_up |= up;
    c->other_speeds |= c->turns && a->turn != 0 && a->speed_said && a->speed > 0 && !down && !up;
    c->turns = a->turn != 0;
}

static void census_height(DtCensus *c, const DtAction *a)
{
    if (c->rule->kind != LIFT_BY_Z || a->to[2] == a->from[2])
        return;
    const double way = fabs(c->rule->up_z - c->rule->down_z);
    c->machine_down |= fabs(a->to[2] - c->rule->down_z) <= 0.05 * way;
    c->machine_up |= fabs(a->to[2] - c->rule->up_z) <= 0.05 * way;
}

static void census_action(void *user, const DtAction *a)
{
    DtCensus *c = user;
    c->ended |= a->kind == ACT_END;
    if (c->ended)
        return;
    if (a->kind == ACT_SPINDLE)
        census_spindle(c, a);
    if (!dt_action_is_motion(a))
        return;
    const double length = dt_action_length(a);
    *(a->kind == ACT_TRAVERSE ? &c->rapid_mm : &c->feed_mm) += length;
    if (a->kind == ACT_ARC)
        c->arc_mm += length;
    census_height(c, a);
    if (c->block->has & (LETTER('X') | LETTER('Y'))) {
        c->moves++;
        note_letters(c, c->block, a);
    }
    for (int axis = 2; axis < AXES; axis++)
        if (a->to[axis] != a->from[axis] || length > 0)
            note_level(&c->height[axis], a->to[axis], length);
}

void dt_census_take(DtCensus *c, const DtVocabulary *open, const DtPenRule *rule, const char *text,
                    gsize len)
{
    static const DtListener listener = {NULL, census_block, census_action, NULL};
    memset(c, 0, sizeof *c);
    c->rule = rule;
    DtReader *r = dt_reader_new(&listener, open, c);
    dt_reader_read_text(r, text, len);
    dt_reader_free(r);
}
