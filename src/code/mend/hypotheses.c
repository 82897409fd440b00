/* hypotheses: every way in which the words of a program may mean its pen, scored by the evidence
 * of the whole program.
 *
 * A first pass takes the census of words: heights, speeds, spindle codes, lines of other
 * controllers. Each meaning that they allow is a hypothesis. A second pass follows all of them
 * at once, one bit each, and counts what each draws and travels, and in how many pieces. The
 * table of signs at the end turns the counts into scores. All weights are judgements from common
 * practice, no source; the unit is a point, and DT_CLEAR_BY is the distance in points that
 * decides. */
#include "code/mend/trial.h"

#include <math.h>
#include <string.h>

/* The trial ----------------------------------------------------------------------------------- */

static void end_run(DtTrial *t, int i)
{
    DtHypothesis *h = &t->h[i];
    const gboolean drew = (t->drawing >> i) & 1;
    const size_t moves = t->moves - h->run_begun, feeds = t->feeds - h->run_feeds;
    const size_t closed = moves >= 3 && dt_point_distance(h->run_from, t->at) < 0.01;
    if (drew) {
        h->strokes++;
        h->ink_runs += moves >= 3;
        h->ink_loops += closed;
    } else {
        h->feed_travels += feeds > 0;
        h->long_feed_travels += feeds >= 3;
        h->feed_then_rapid += feeds > 0 && t->last_change > h->run_begun;
        h->travel_runs += moves >= 3;
        h->travel_loops += closed;
    }
    h->run_begun = t->moves;
    h->run_feeds = t->feeds;
    h->run_from = t->at;
}

static void set_words(DtTrial *t, int i, DtPenState state)
{
    if (state == PEN_UNKNOWN || ((t->words_down >> i) & 1) == (state == PEN_DOWN))
        return;
    DtHypothesis *h = &t->h[i];
    t->words_down ^= (DtMask)1 << i;
    if (state == PEN_DOWN) {
        h->drops++;
        h->dropped_at = t->moves;
    } else if (h->dropped_at == t->moves) {
        h->dots++;
        h->early_dots += t->any_move ? 0 : 1;
        if (!((t->drawing >> i) & 1))
            end_run(t, i); /* travel to the next dot begins */
    }
    /* lifted and lowered again between two moves: another stroke begins */
    if (state == PEN_DOWN && ((t->drawing >> i) & 1) && t->any_move)
        end_run(t, i);
}

static DtMaskUse *use_of(DtTrial *t, DtMask mask)
{
    size_t slot = (size_t)((mask * 0x9E3779B97F4A7C15u) >> 54) % DT_MASKS;
    while (t->uses[slot].used && t->uses[slot].mask != mask)
        slot = (slot + 1) % DT_MASKS;
    if (!t->uses[slot].used) {
        if (t->n_uses == DT_MASKS / 2) {
            t->too_many = TRUE;
            return NULL;
        }
        t->n_uses++;
        t->uses[slot].used = TRUE;
        t->uses[slot].mask = mask;
    }
    return &t->uses[slot];
}

static void end_rapids(DtTrial *t)
{
    for (DtMask m = t->drawing & t->rapids; m != 0 && t->rapids_in_row > 0; m &= m - 1) {
        DtHypothesis *h = &t->h[__builtin_ctzll(m)];
        h->rapid_runs++;
        h->long_rapid_runs += t->rapids_in_row >= 2;
    }
    t->rapids_in_row = 0;
}

static void try_move(DtTrial *t, const DtAction *a, DtMask down, double length)
{
    const gboolean rapid = a->kind == ACT_TRAVERSE;
    const DtMask drawing = rapid ? down & t->rapids : down;
    if (!t->any_move)
        t->drawing = drawing; /* a run begins here */
    if (!rapid || drawing != t->drawing)
        end_rapids(t);
    for (DtMask changed = drawing ^ t->drawing; changed != 0; changed &= changed - 1)
        end_run(t, __builtin_ctzll(changed));
    for (int i = 0; i < t->n; i++) {
        t->h[i].last_drawn = (drawing >> i) & 1;
        if (!t->any_move)
            t->h[i].first_drawn = t->h[i].last_drawn;
    }
    if (rapid && t->was_feed)
        t->last_change = t->moves;
    t->was_feed = !rapid;
    t->any_move = TRUE;
    t->drawing = drawing;
    t->moves++;
    t->feeds += rapid ? 0 : 1;
    t->rapids_in_row += rapid ? 1 : 0;
    t->at = dt_point(a->to[0], a->to[1]);
    DtMaskUse *use = use_of(t, drawing);
    if (use == NULL)
        return;
    *(rapid ? &use->rapid : &use->feed) += length;
    use->arc += a->kind == ACT_ARC ? length : 0;
}

/* A plunge: a tool is fed into the work, from wherever it came by a rapid. */
static void note_plunge(DtTrial *t, int i, const DtAction *a, DtMask before)
{
    DtHypothesis *h = &t->h[i];
    const DtReading *r = &h->reading;
    if (r->kind != READ_HEIGHT || a->to[r->axis] == a->from[r->axis] ||
        (a->to[r->axis] > a->from[r->axis]) != r->down_is_high)
        return;
    h->plunges++;
    h->plunges_met += (~before & t->words_down) >> i & 1;
}

static double range(const DtLevels *l)
{
    double low = l->at[0], high = l->at[0];
    for (int i = 1; i < l->n; i++) {
        low = MIN(low, l->at[i]);
        high = MAX(high, l->at[i]);
    }
    return high - low;
}

/* Whether a line moves along X or Y and changes the height or the speed by little of what the program uses: a
 * surface that is followed, or power that varies, as against a pen that is lifted. */
static gboolean is_slight(const DtTrial *t, const DtReading *r, const DtAction *a)
{
    static const double most = 0.25;
    const gboolean moves = (t->block->has & (LETTER('X') | LETTER('Y'))) != 0;
    if (r->kind == READ_HEIGHT && a->kind != ACT_SPINDLE)
        return moves &&
               fabs(a->to[r->axis] - a->from[r->axis]) < most * range(&t->census->height[r->axis]);
    if (r->kind == READ_SPEED && a->kind == ACT_SPINDLE)
        return moves && fabs(a->speed - t->speed) < most * range(&t->census->speed);
    return FALSE;
}

static void note_slight_changes(DtTrial *t, const DtAction *a, DtMask before)
{
    for (DtMask m = before ^ t->words_down; m != 0; m &= m - 1) {
        const int i = __builtin_ctzll(m);
        if (is_slight(t, &t->h[i].reading, a))
            *((before >> i) & 1 ? &t->h[i].slight_lifts : &t->h[i].slight_drops) += 1;
    }
}

static void trial_block(void *user, const DtCodeBlock *b)
{
    DtTrial *t = user;
    t->block = b;
    t->ended |= b->closes;
    if (t->ended || b->deleted || b->n_words == 0)
        return;
    if (!t->by_letter && !b->own_code && b->m_groups == 0 &&
        (b->has & ~(AXIS_LETTERS | LETTER('F') | LETTER('N'))) == 0)
        return;
    for (int i = 0; i < t->n; i++)
        set_words(t, i, dt_reading_block(&t->h[i].reading, t->rule, b));
}

static void trial_action(void *user, const DtAction *a)
{
    DtTrial *t = user;
    t->ended |= a->kind == ACT_END;
    if (t->ended)
        return;
    const gboolean motion = dt_action_is_motion(a);
    if (!motion && a->kind != ACT_SPINDLE)
        return;
    const double length = motion ? dt_action_length(a) : 0;
    const gboolean height =
        motion &&
        (a->to[2] != a->from[2] || a->to[3] != a->from[3] || a->to[4] != a->from[4] ||
         a->to[5] != a->from[5] || (t->block->has & (AXIS_LETTERS & ~(LETTER('X') | LETTER('Y')))));
    DtMask before = t->words_down, rising = ~(DtMask)0;
    DtPenState after[DT_MOST_HYPOTHESES];
    for (int i = 0; i < t->n && (height || !motion); i++) {
        after[i] = dt_reading_action(&t->h[i].reading, t->rule, t->block, a);
        if (after[i] == PEN_UP)
            rising &= ~((DtMask)1 << i);
    }
    if (length > 0) /* upward motion comes before the move, downward motion after it */
        try_move(t, a, before & rising, length);
    for (int i = 0; i < t->n && (height || !motion); i++) {
        set_words(t, i, after[i]);
        if (a->kind == ACT_FEED && length == 0)
            note_plunge(t, i, a, before);
    }
    note_slight_changes(t, a, before);
    if (a->kind == ACT_SPINDLE)
        t->speed = a->speed;
}

/* What was drawn ------------------------------------------------------------------------------ */

static void sum_up(DtTrial *t)
{
    end_rapids(t);
    for (int i = 0; i < t->n; i++) {
        t->h[i].ends_down = (t->words_down >> i) & 1 && t->h[i].reading.kind != READ_MOVES;
        if (t->any_move)
            end_run(t, i);
    }
    for (size_t k = 0; k < DT_MASKS; k++) {
        const DtMaskUse *u = &t->uses[k];
        for (int i = 0; i < t->n && u->used; i++) {
            DtHypothesis *h = &t->h[i];
            if ((u->mask >> i) & 1) {
                h->ink += u->rapid + u->feed;
                h->rapid_ink += u->rapid;
            } else {
                h->rapid_travel += u->rapid;
                h->feed_travel += u->feed;
                h->arc_travel += u->arc;
            }
        }
    }
}

/* Length in mm that one draws and the other does not; a dot counts as half a millimetre. */
static double difference(const DtTrial *t, int a, int b)
{
    if (a == b)
        return 0;
    const size_t dots_a = t->h[a].dots - t->h[a].early_dots;
    const size_t dots_b = t->h[b].dots - t->h[b].early_dots;
    double mm = 0.5 * fabs((double)dots_a - (double)dots_b);
    for (size_t k = 0; k < DT_MASKS; k++)
        if (t->uses[k].used && (((t->uses[k].mask >> a) ^ (t->uses[k].mask >> b)) & 1))
            mm += t->uses[k].rapid + t->uses[k].feed;
    return t->too_many ? G_MAXDOUBLE : mm;
}

/* The signs ----------------------------------------------------------------------------------- */

static double ratio(double part, double whole)
{
    return whole > 0 ? part / whole : 0;
}

static double prior(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    /* words that never recur prove little */
    return h->reading.kind == READ_MOVES || h->drops >= 2 || h->dots > 0 ||
                   (h->drops == 1 && h->feed_travel + h->rapid_travel > 0)
               ? h->prior
               : MIN(h->prior, 0.25);
}

static double alternates(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return MIN(2.5, 0.65 * log2(1 + (double)h->drops));
}

static double first_drawn(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return h->first_drawn;
}

static double last_drawn(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return h->last_drawn;
}

static double ends_down(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return h->ends_down;
}

static double arcs_travelled(const DtTrial *t, const DtHypothesis *h)
{
    return ratio(h->arc_travel, t->census->arc_mm);
}

static double long_travels(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return ratio((double)h->long_feed_travels, (double)h->feed_travels);
}

static double feed_then_rapid(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return ratio((double)h->feed_then_rapid, (double)h->feed_travels);
}

static double mixed_travel(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return ratio(2 * MIN(h->feed_travel, h->rapid_travel), h->feed_travel + h->rapid_travel);
}

static double loops(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return ratio((double)h->ink_loops, (double)h->ink_runs) -
           ratio((double)h->travel_loops, (double)h->travel_runs);
}

/* Both ways: a tool may enter the work on a ramp. */
static double slight_changes(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return ratio((double)MIN(h->slight_drops, h->slight_lifts), (double)h->drops);
}

static double rapids_drawn(const DtTrial *t, const DtHypothesis *h)
{
    const double straight = t->census->feed_mm - t->census->arc_mm;
    if (!h->reading.rapids_draw || h->rapid_ink <= 0 || straight <= 1e-6)
        return 0; /* nothing else could draw a line */
    return 1 - ratio((double)h->long_rapid_runs, (double)h->rapid_runs);
}

static double plunges(const DtTrial *t, const DtHypothesis *h)
{
    (void)t;
    return ratio((double)h->plunges_met, (double)h->plunges);
}

static const struct {
    double weight;
    double (*sign)(const DtTrial *t, const DtHypothesis *h);
} signs[] = {
    {1, prior},            /* how usual it is */
    {1, alternates},       /* its words recur between moves */
    {-1.5, first_drawn},   /* the way from home to the first shape is travel */
    {-1, last_drawn},      /* so is the way back */
    {-1.5, ends_down},     /* the pen is left up */
    {-3, arcs_travelled},  /* travel does not run along arcs */
    {-4, long_travels},    /* nor along many moves at a feed */
    {-2, mixed_travel},    /* a file with rapids uses them to travel */
    {-2, feed_then_rapid}, /* especially not first at a feed and then by a rapid */
    {1, loops},            /* shapes are closed, travel is not */
    {1, plunges},          /* what is fed towards the work reaches it */
    {-3, slight_changes},  /* nor lifted by a fraction of the height in the midst of moves */
    {-3, rapids_drawn},    /* a single rapid between feed moves is travel */
};

/* No sign tells apart how a letter counts: its readings are as likely as the likeliest of them. */
static void level_letters(DtTrial *t)
{
    for (int i = 0; i < t->n; i++)
        for (int k = 0; k < t->n && dt_reading_goes_by_letter(&t->h[i].reading); k++)
            if (dt_reading_goes_by_letter(&t->h[k].reading) &&
                t->h[k].reading.letter == t->h[i].reading.letter && t->h[k].score > -G_MAXDOUBLE)
                t->h[k].score = MAX(t->h[k].score, t->h[i].score);
}

static void rate(DtTrial *t)
{
    for (int i = 0; i < t->n; i++) {
        DtHypothesis *h = &t->h[i];
        h->score = 0;
        for (size_t k = 0; k < G_N_ELEMENTS(signs); k++)
            h->score += signs[k].weight * signs[k].sign(t, h);
        if (h->ink <= 0 && h->dots == 0)
            h->score = -G_MAXDOUBLE; /* it draws nothing */
    }
    level_letters(t);
}

static const double same = 0.05; /* mm of ink */

static DtRatedReading rated(const DtTrial *t, int i)
{
    const DtHypothesis *h = &t->h[i];
    gboolean is_machine = FALSE;
    for (int k = 0; k < t->n; k++)
        is_machine |= t->h[k].reading.kind == READ_MACHINE && difference(t, i, k) <= same;
    return (DtRatedReading){h->reading, h->score, h->ink, h->strokes, h->dots, is_machine};
}

static int best_but(const DtTrial *t, const int *chosen, int n)
{
    int best = -1;
    for (int i = 0; i < t->n; i++) {
        gboolean new_ink = t->h[i].score > -G_MAXDOUBLE;
        for (int k = 0; k < n && new_ink; k++)
            new_ink = difference(t, i, chosen[k]) > same;
        if (new_ink && (best < 0 || t->h[i].score > t->h[best].score))
            best = i;
    }
    return best;
}

static void decide(const DtTrial *t, DtPenVerdict *out)
{
    int chosen[DT_MOST_RIVALS + 1];
    int n = 0;
    for (int i = 0; i < t->n; i++)
        out->n += t->h[i].score > -G_MAXDOUBLE;
    for (; n <= DT_MOST_RIVALS; n++) {
        const int next = best_but(t, chosen, n);
        if (next < 0)
            break;
        chosen[n] = next;
        if (n == 0)
            out->best = rated(t, next);
        else
            out->rivals[out->n_rivals++] = rated(t, next);
    }
    /* Words that only ever lift leave open whether moves without them draw. */
    const gboolean never_lowered = out->n > 0 && out->best.reading.kind == READ_MOVES &&
                                   t->census->machine_up && !t->census->machine_down;
    out->in_doubt = never_lowered ||
                    (out->n_rivals > 0 && out->best.score - out->rivals[0].score < DT_CLEAR_BY);
}

void dt_hypotheses_judge(const DtVocabulary *open, const DtPenRule *rule, const char *text,
                         gsize len, DtPenVerdict *out)
{
    static const DtListener trial_listener = {NULL, trial_block, trial_action, NULL};
    g_autofree DtCensus *c = g_new0(DtCensus, 1);
    g_autofree DtTrial *t = g_new0(DtTrial, 1);
    memset(out, 0, sizeof *out);
    t->rule = rule;
    t->census = c;
    dt_census_take(c, open, rule, text, len);
    dt_trial_suppose(t);
    DtReader *r = dt_reader_new(&trial_listener, open, t);
    dt_reader_read_text(r, text, len);
    dt_reader_free(r);
    sum_up(t);
    rate(t);
    decide(t, out);
    out->turns = c->turned[0] || c->turned[2];
}
