/* suppose: the ways in which the words of a census may mean the pen, each as a hypothesis. */
#include "code/mend/trial.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void suppose(DtTrial *t, double prior, const DtReading *r)
{
    if (t->n < DT_MOST_HYPOTHESES)
        t->h[t->n++] = (DtHypothesis){.reading = *r, .prior = prior};
}

/* Each as it is and, if the file has rapids, also with rapids that draw. */
static void suppose_both(DtTrial *t, double prior, DtReading r)
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

/* Beyond the levels along which the carriage moves there may be one that it only dips into: for dots, as holes
 * are drilled from a height between that of travel and their bottom. */
static void suppose_dots(DtTrial *t, int axis, const double *moved, int n_moved)
{
    double at[DT_LEVELS];
    const int n = sorted_levels(&t->census->height[axis], FALSE, at);
    const double low = moved[0], high = moved[n_moved - 1];
    for (int i = 0; i + 1 < n; i++) {
        DtReading r = {READ_HEIGHT, .axis = axis, .threshold = (at[i] + at[i + 1]) / 2};
        const gboolean is_nought = is_about_nought(at, n, r.threshold);
        r.down_is_high = at[i] == high;
        if (at[i + 1] == low || r.down_is_high)
            suppose(t, r.down_is_high ? 0.5 : is_nought ? 2.5 : 2, &r);
    }
}

static void suppose_heights(DtTrial *t)
{
    for (int axis = 2; axis < AXES; axis++) {
        double at[DT_LEVELS], tried[6];
        int n = sorted_levels(&t->census->height[axis], TRUE, at);
        if (n > 1)
            suppose_dots(t, axis, at, n);
        else
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

static void suppose_speeds(DtTrial *t)
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

static void suppose_spindle(DtTrial *t)
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
static void suppose_lines(DtTrial *t)
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

/* `all`: every move with the letter draws; where every move bears it, that is no way to tell them apart. */
static void suppose_letter(DtTrial *t, char letter, gboolean all, DtReadingKind kind)
{
    const DtLetterUse *u = &t->census->letter[letter - 'A'];
    if (all && u->moves == t->census->moves)
        return;
    suppose(t, 3,
            &(DtReading){
                .kind = all ? READ_LETTER : kind, .letter = letter, .rapids_draw = u->rapids > 0});
    t->by_letter = TRUE;
}

static gboolean goes_with_length(const DtShare *s)
{
    return s->n >= 4 && s->least > 0 && s->most <= 2 * s->least;
}

/* What is fed while it draws, such as material, is stated by a letter: the whole up to the end of a move, which rises
 * while it draws, or what is fed in one move. Other moves may draw back what was fed. What goes with the length of the
 * moves shows which of the two it is, first of all what is stated itself, since its rises can go with it. Where neither
 * does, both are supposed, or none: a letter that hardly ever rises may be a speed. */
static void suppose_letters(DtTrial *t)
{
    for (char letter = 'A'; letter <= 'Z'; letter++) {
        const DtLetterUse *u = &t->census->letter[letter - 'A'];
        const gboolean by_move = goes_with_length(&u->value),
                       as_whole = goes_with_length(&u->rise) && !by_move;
        const gboolean all_rise = u->rise.n == u->moves, all_above = u->value.n == u->moves;
        const gboolean is_open = !by_move && !as_whole && u->rise.n >= 3 && u->value.n >= 3;
        const gboolean may_be_whole = as_whole || is_open || (all_rise && u->moves >= 2);
        if (may_be_whole)
            suppose_letter(t, letter, all_rise, READ_RISING);
        if ((by_move || is_open) && !(may_be_whole && all_rise && all_above))
            suppose_letter(t, letter, all_above, READ_ABOVE_0);
    }
}

void dt_trial_suppose(DtTrial *t)
{
    const DtCensus *c = t->census;
    if (c->machine_down)
        suppose_both(t, c->machine_up && !c->other_speeds ? 6 : 2,
                     (DtReading){.kind = READ_MACHINE});
    if (c->rapid_mm > 0 && c->feed_mm > 0)
        suppose(t, 0.5, &(DtReading){.kind = READ_MOVES});
    suppose_spindle(t);
    suppose_speeds(t);
    suppose_heights(t);
    suppose_letters(t);
    suppose_lines(t);
    for (int i = 0; i < t->n; i++) {
        t->rapids |= t->h[i].reading.rapids_draw ? (DtMask)1 << i : 0;
        if (t->h[i].reading.kind == READ_MOVES)
            t->words_down |= (DtMask)1 << i;
    }
}
