/* hypotheses: every way in which the words of a program may mean its pen, scored by the evidence
 * of the whole program.
 *
 * A first pass takes the census of words: heights, speeds, spindle codes, lines of other
 * controllers. Each meaning that they allow is a hypothesis. A second pass follows all of them
 * at once, one bit each, and counts what each draws and travels, and in how many pieces. The
 * table of signs at the end turns the counts into scores. All weights are judgements from common
 * practice, no source; the unit is a point, and DT_CLEAR_BY is the distance in points that
 * decides. */
#include "code/mend/hypotheses.h"

#include "code/mend/census.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MASKS = 1024 };

typedef uint64_t Mask;

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The hypotheses ------------------------------------------------------------------------------ */

typedef struct {
    DtReading reading;
    double prior;
    /* what the program does under it */
    double ink, rapid_ink, feed_travel, rapid_travel, arc_travel;
    size_t drops;   /* the words lower the pen */
    size_t strokes; /* runs that draw */
    size_t dots;    /* lowered and lifted in one place */
    size_t feed_travels,
        long_feed_travels;  /* of runs that travel at feed: of three moves or more */
    size_t feed_then_rapid; /* of them: a rapid follows in the same run */
    size_t ink_loops, ink_runs, travel_loops, travel_runs; /* of three moves and more: closed */
    size_t rapid_runs, long_rapid_runs; /* runs of rapids that draw: of two or more */
    gboolean first_drawn, last_drawn, ends_down;
    size_t run_begun, run_feeds; /* moves before the current run */
    DtPoint run_from;
    size_t dropped_at; /* moves before the last drop */
    double score;
} Hypothesis;

typedef struct {
    Mask mask;
    double rapid, feed, arc;
    gboolean used;
} MaskUse;

typedef struct {
    Hypothesis h[DT_MOST_HYPOTHESES];
    int n;
    const DtCensus *census;
    const DtPenRule *rule;
    Mask words_down; /* by the words alone */
    Mask rapids;     /* those that draw with rapids */
    Mask drawing;    /* of the last move */
    size_t moves, feeds, rapids_in_row;
    size_t last_change; /* moves before the last rapid that followed a move at feed */
    gboolean was_feed;
    DtPoint at;
    MaskUse uses[MASKS];
    size_t n_uses;
    gboolean too_many, any_move, ended, by_letter;
    const DtCodeBlock *block;
} Trial;

static void suppose(Trial *t, double prior, const DtReading *r)
{
    if (t->n < DT_MOST_HYPOTHESES)
        t->h[t->n++] = (Hypothesis){.reading = *r, .prior = prior};
}

/* Each as it is and, if the file has rapids, also with rapids that draw. */
static void suppose_both(Trial *t, double prior, DtReading r)
{
    suppose(t, prior, &r);
    if (t->census->rapid_mm > 0) {
        r.rapids_draw = TRUE;
        suppose(t, prior, &r);
    }
}

/* The sorted levels that count, written to `at`. */
static int sorted_levels(const DtLevels *l, gboolean moved_only, double at[DT_LEVELS])
{
    int n = 0;
    for (int i = 0; i < l->n; i++)
        if (!moved_only || l->moved[i] > 0)
            at[n++] = l->at[i];
    qsort(at, (size_t)n, sizeof *at, by_value);
    return n;
}

/* The gaps between levels that are tried: those around zero, and the widest. */
static int thresholds(const double *at, int n, int most, double out[])
{
    gboolean taken[DT_LEVELS] = {FALSE};
    int found = 0;
    for (int i = 0; i + 1 < n && found < most; i++)
        if (at[i] <= 1e-9 && at[i + 1] > 1e-9) {
            taken[i] = TRUE;
            out[found++] = (at[i] + at[i + 1]) / 2;
        }
    while (found < most) {
        int widest = -1;
        for (int i = 0; i + 1 < n; i++)
            if (!taken[i] && (widest < 0 || at[i + 1] - at[i] > at[widest + 1] - at[widest]))
                widest = i;
        if (widest < 0)
            break;
        taken[widest] = TRUE;
        out[found++] = (at[widest] + at[widest + 1]) / 2;
    }
    return found;
}

static gboolean is_about_nought(const double *at, int n, double threshold)
{
    for (int i = 1; i < n; i++)
        if (at[i] > 1e-9)
            return threshold < at[i] && threshold > at[i - 1] && at[i - 1] <= 1e-9;
    return FALSE;
}

static void suppose_heights(Trial *t)
{
    for (int axis = 2; axis < AXES; axis++) {
        double at[DT_LEVELS], tried[6];
        int n = sorted_levels(&t->census->height[axis], TRUE, at);
        if (n < 2)
            n = sorted_levels(&t->census->height[axis], FALSE, at); /* dots only */
        const int found = thresholds(at, n, axis == 2 ? 5 : 2, tried);
        for (int i = 0; i < found; i++) {
            const double nought = is_about_nought(at, n, tried[i]) ? 0.5 : 0;
            DtReading r = {READ_HEIGHT, .axis = axis, .threshold = tried[i]};
            suppose_both(t, 2 + nought, r);
            r.down_is_high = TRUE;
            suppose(t, axis == 2 ? 0.5 : 2, &r);
        }
    }
}

static void suppose_speeds(Trial *t)
{
    double at[DT_LEVELS], tried[4];
    const gboolean *turned = t->census->turned;
    const int n = sorted_levels(&t->census->speed, FALSE, at);
    const int found = thresholds(at, n, 4, tried);
    for (int i = 0; i < found; i++) {
        const gboolean power = is_about_nought(at, n, tried[i]);
        DtReading r = {READ_SPEED, .threshold = tried[i], .down_is_high = TRUE,
                       .turns = turned[0] || turned[2]};
        suppose_both(t, power ? 3 : 2, r);
        r.down_is_high = FALSE;
        suppose(t, power ? 0.5 : 2, &r);
    }
}

static void suppose_spindle(Trial *t)
{
    static const struct {
        gboolean down[3]; /* M4, M5, M3 */
        double prior;
    } ways[] = {
        {{TRUE, FALSE, TRUE}, 2},
        {{FALSE, TRUE, FALSE}, 1},
        {{FALSE, FALSE, TRUE}, 1.5},
        {{TRUE, FALSE, FALSE}, 1.5},
    };
    const gboolean *turned = t->census->turned;
    if (!turned[0] && !turned[2])
        return;
    const int n = turned[0] && turned[2] ? 4 : 2;
    for (int i = 0; i < n; i++) {
        DtReading r = {.kind = READ_SPINDLE};
        memcpy(r.down_of_turn, ways[i].down, sizeof r.down_of_turn);
        suppose_both(t, ways[i].prior, r);
    }
}

/* Two lines, neither much rarer than the other; the most frequent first. */
static void suppose_lines(Trial *t)
{
    const DtCensus *c = t->census;
    int order[DT_LINE_KEYS];
    for (int i = 0; i < c->n_keys; i++) {
        int k = i;
        for (; k > 0 && c->key_count[order[k - 1]] < c->key_count[i]; k--)
            order[k] = order[k - 1];
        order[k] = i;
    }
    const int most = MIN(c->n_keys, 5);
    for (int i = 0; i < most; i++)
        for (int k = 0; k < most; k++) {
            const size_t a = c->key_count[order[i]], b = c->key_count[order[k]];
            if (i == k || MAX(a, b) > 2 * MIN(a, b) + 2)
                continue;
            DtReading r = {.kind = READ_LINE};
            g_strlcpy(r.down, c->key[order[i]], DT_LINE_KEY);
            g_strlcpy(r.up, c->key[order[k]], DT_LINE_KEY);
            suppose(t, 1.5, &r);
            if (c->feed_mm <= 0) {
                r.rapids_draw = TRUE;
                suppose(t, 1.5, &r);
            }
        }
}

/* What is fed while it draws, such as material: a letter whose value rises with each move that bears it, or, where it
 * counts from the move before, goes with the length of the move. Any other value leaves open whether the move draws: it
 * may draw back what was fed. */
static void suppose_letters(Trial *t)
{
    const DtCensus *c = t->census;
    for (int i = 0; i < 26; i++) {
        const DtLetterUse *u = &c->letter[i];
        const gboolean rises = u->falls == 0 && u->repeats == 0;
        const gboolean goes_with_length =
            u->moves >= 4 && u->least_per_mm > 0 && u->most_per_mm <= 2 * u->least_per_mm;
        if (u->moves < 3 || u->moves == c->moves || !(rises || goes_with_length))
            continue;
        suppose(t, 3,
                &(DtReading){
                    .kind = READ_LETTER, .letter = (char)('A' + i), .rapids_draw = u->rapids > 0});
        t->by_letter = TRUE;
    }
}

static void suppose_all(Trial *t)
{
    const DtCensus *c = t->census;
    if (c->machine_down)
        suppose_both(t, c->machine_up ? 6 : 2, (DtReading){.kind = READ_MACHINE});
    if (c->rapid_mm > 0 && c->feed_mm > 0)
        suppose(t, 0.5, &(DtReading){.kind = READ_MOVES});
    suppose_spindle(t);
    suppose_speeds(t);
    suppose_heights(t);
    suppose_letters(t);
    suppose_lines(t);
    for (int i = 0; i < t->n; i++) {
        t->rapids |= t->h[i].reading.rapids_draw ? (Mask)1 << i : 0;
        if (t->h[i].reading.kind == READ_MOVES)
            t->words_down |= (Mask)1 << i;
    }
}

/* The trial ----------------------------------------------------------------------------------- */

static void end_run(Trial *t, int i)
{
    Hypothesis *h = &t->h[i];
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

static void set_words(Trial *t, int i, DtPenState state)
{
    if (state == PEN_UNKNOWN || ((t->words_down >> i) & 1) == (state == PEN_DOWN))
        return;
    Hypothesis *h = &t->h[i];
    t->words_down ^= (Mask)1 << i;
    if (state == PEN_DOWN) {
        h->drops++;
        h->dropped_at = t->moves;
    } else {
        h->dots += h->dropped_at == t->moves ? 1 : 0;
    }
    /* lifted and lowered again between two moves: another stroke begins */
    if (state == PEN_DOWN && ((t->drawing >> i) & 1) && t->any_move)
        end_run(t, i);
}

static MaskUse *use_of(Trial *t, Mask mask)
{
    size_t slot = (size_t)((mask * 0x9E3779B97F4A7C15u) >> 54) % MASKS;
    while (t->uses[slot].used && t->uses[slot].mask != mask)
        slot = (slot + 1) % MASKS;
    if (!t->uses[slot].used) {
        if (t->n_uses == MASKS / 2) {
            t->too_many = TRUE;
            return NULL;
        }
        t->n_uses++;
        t->uses[slot].used = TRUE;
        t->uses[slot].mask = mask;
    }
    return &t->uses[slot];
}

static void end_rapids(Trial *t)
{
    for (Mask m = t->drawing & t->rapids; m != 0 && t->rapids_in_row > 0; m &= m - 1) {
        Hypothesis *h = &t->h[__builtin_ctzll(m)];
        h->rapid_runs++;
        h->long_rapid_runs += t->rapids_in_row >= 2;
    }
    t->rapids_in_row = 0;
}

static void try_move(Trial *t, const DtAction *a, Mask down, double length)
{
    const gboolean rapid = a->kind == ACT_TRAVERSE;
    const Mask drawing = rapid ? down & t->rapids : down;
    if (!t->any_move)
        t->drawing = drawing; /* a run begins here */
    if (!rapid || drawing != t->drawing)
        end_rapids(t);
    for (Mask changed = drawing ^ t->drawing; changed != 0; changed &= changed - 1)
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
    MaskUse *use = use_of(t, drawing);
    if (use == NULL)
        return;
    *(rapid ? &use->rapid : &use->feed) += length;
    use->arc += a->kind == ACT_ARC ? length : 0;
}

static void trial_block(void *user, const DtCodeBlock *b)
{
    Trial *t = user;
    t->block = b;
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
    Trial *t = user;
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
    Mask before = t->words_down, rising = ~(Mask)0;
    DtPenState after[DT_MOST_HYPOTHESES];
    for (int i = 0; i < t->n && (height || !motion); i++) {
        after[i] = dt_reading_action(&t->h[i].reading, t->rule, t->block, a);
        if (after[i] == PEN_UP)
            rising &= ~((Mask)1 << i);
    }
    if (length > 0) /* upward motion comes before the move, downward motion after it */
        try_move(t, a, before & rising, length);
    for (int i = 0; i < t->n && (height || !motion); i++)
        set_words(t, i, after[i]);
}

/* What was drawn ------------------------------------------------------------------------------ */

static void sum_up(Trial *t)
{
    end_rapids(t);
    for (int i = 0; i < t->n; i++) {
        t->h[i].ends_down = (t->words_down >> i) & 1 && t->h[i].reading.kind != READ_MOVES;
        if (t->any_move)
            end_run(t, i);
    }
    for (size_t k = 0; k < MASKS; k++) {
        const MaskUse *u = &t->uses[k];
        for (int i = 0; i < t->n && u->used; i++) {
            Hypothesis *h = &t->h[i];
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
static double difference(const Trial *t, int a, int b)
{
    if (a == b)
        return 0;
    double mm = 0.5 * fabs((double)t->h[a].dots - (double)t->h[b].dots);
    for (size_t k = 0; k < MASKS; k++)
        if (t->uses[k].used && (((t->uses[k].mask >> a) ^ (t->uses[k].mask >> b)) & 1))
            mm += t->uses[k].rapid + t->uses[k].feed;
    return t->too_many ? G_MAXDOUBLE : mm;
}

/* The signs ----------------------------------------------------------------------------------- */

static double ratio(double part, double whole)
{
    return whole > 0 ? part / whole : 0;
}

static double prior(const Trial *t, const Hypothesis *h)
{
    (void)t;
    /* words that never recur prove little */
    return h->reading.kind == READ_MOVES || h->drops >= 2 || h->dots > 0 ||
                   (h->drops == 1 && h->feed_travel + h->rapid_travel > 0)
               ? h->prior
               : MIN(h->prior, 0.25);
}

static double alternates(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return MIN(2, 0.5 * log2(1 + (double)h->drops));
}

static double first_drawn(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return h->first_drawn;
}

static double last_drawn(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return h->last_drawn;
}

static double ends_down(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return h->ends_down;
}

static double arcs_travelled(const Trial *t, const Hypothesis *h)
{
    return ratio(h->arc_travel, t->census->arc_mm);
}

static double long_travels(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return ratio((double)h->long_feed_travels, (double)h->feed_travels);
}

static double feed_then_rapid(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return ratio((double)h->feed_then_rapid, (double)h->feed_travels);
}

static double mixed_travel(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return ratio(2 * MIN(h->feed_travel, h->rapid_travel), h->feed_travel + h->rapid_travel);
}

static double loops(const Trial *t, const Hypothesis *h)
{
    (void)t;
    return ratio((double)h->ink_loops, (double)h->ink_runs) -
           ratio((double)h->travel_loops, (double)h->travel_runs);
}

static double rapids_drawn(const Trial *t, const Hypothesis *h)
{
    const double straight = t->census->feed_mm - t->census->arc_mm;
    if (!h->reading.rapids_draw || h->rapid_ink <= 0 || straight <= 1e-6)
        return 0; /* nothing else could draw a line */
    return 1 - ratio((double)h->long_rapid_runs, (double)h->rapid_runs);
}

static const struct {
    double weight;
    double (*sign)(const Trial *t, const Hypothesis *h);
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
    {-3, rapids_drawn},    /* a single rapid between feed moves is travel */
};

static void rate(Trial *t)
{
    for (int i = 0; i < t->n; i++) {
        Hypothesis *h = &t->h[i];
        h->score = 0;
        for (size_t k = 0; k < G_N_ELEMENTS(signs); k++)
            h->score += signs[k].weight * signs[k].sign(t, h);
        if (h->ink <= 0 && h->dots == 0)
            h->score = -G_MAXDOUBLE; /* it draws nothing */
    }
}

static const double same = 0.05; /* mm of ink */

static DtRatedReading rated(const Trial *t, int i)
{
    const Hypothesis *h = &t->h[i];
    gboolean is_machine = FALSE;
    for (int k = 0; k < t->n; k++)
        is_machine |= t->h[k].reading.kind == READ_MACHINE && difference(t, i, k) <= same;
    return (DtRatedReading){h->reading, h->score, h->ink, h->strokes, h->dots, is_machine};
}

static int best_but(const Trial *t, const int *chosen, int n)
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

static void decide(const Trial *t, DtPenVerdict *out)
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
    g_autofree Trial *t = g_new0(Trial, 1);
    memset(out, 0, sizeof *out);
    t->rule = rule;
    t->census = c;
    dt_census_take(c, open, rule, text, len);
    suppose_all(t);
    DtReader *r = dt_reader_new(&trial_listener, open, t);
    dt_reader_read_text(r, text, len);
    dt_reader_free(r);
    sum_up(t);
    rate(t);
    decide(t, out);
    out->turns = c->turned[0] || c->turned[2];
}
