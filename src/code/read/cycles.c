/* cycles: canned cycles as plain moves (NISTIR 6556, 3.5.16). Tapping and back boring turn a
 * spindle in step with an axis, which no pen does: their feed moves are passed on as they are. */
#include "code/read/rs274.h"

#include <math.h>
#include <string.h>

typedef struct {
    DtReader *r;
    int a, b, depth; /* the plane's axes and the one across it */
    double at_r, at_z, clear, feed;
} Cycle;

static void go(Cycle *c, DtActionKind kind, int axis, double to)
{
    double target[AXES];
    memcpy(target, c->r->at, sizeof target);
    target[axis] = to;
    dt_reader_move(c->r, kind, target, kind == ACT_FEED ? c->feed : 0);
}

static void dwell(Cycle *c)
{
    DtAction a = {.kind = ACT_DWELL, .seconds = c->r->cycle.has_p ? c->r->cycle.p : 0};
    if (c->r->listener.action)
        c->r->listener.action(c->r->user, &a);
}

static void peck(Cycle *c)
{
    const double back = 0.254; /* 0.010 inch short of the last depth */
    double step = c->r->cycle.q, down = c->at_r > c->at_z ? -1 : 1;
    double reached = c->at_r;
    for (int pecks = 0; fabs(reached - c->at_z) > 1e-9 && pecks < 100000; pecks++) {
        if (pecks > 0) {
            go(c, ACT_TRAVERSE, c->depth, c->at_r);
            go(c, ACT_TRAVERSE, c->depth, reached - down * back);
        }
        reached = down < 0 ? MAX(reached - step, c->at_z) : MIN(reached + step, c->at_z);
        go(c, ACT_FEED, c->depth, reached);
    }
}

/* One hole, starting above it at the R level or the first level. */
static void one_hole(Cycle *c, int mode)
{
    go(c, ACT_TRAVERSE, c->depth, c->at_r);
    if (mode == 830)
        peck(c);
    else
        go(c, ACT_FEED, c->depth, c->at_z);
    if (mode == 820 || mode == 860 || mode == 880 || mode == 890)
        dwell(c);
    if (mode == 840 || mode == 850 || mode == 890)
        go(c, ACT_FEED, c->depth, c->at_r);
    go(c, ACT_TRAVERSE, c->depth, c->clear);
}

static void keep_words(DtReader *r, int depth)
{
    const DtCodeBlock *b = &r->block;
    char across = "XYZ"[depth];
    if (b->has & LETTER('R')) {
        r->cycle.r = block_value(b, 'R') * r->unit;
        r->cycle.has_r = TRUE;
    }
    if (b->has & LETTER(across)) {
        r->cycle.z = block_value(b, across) * r->unit;
        r->cycle.has_z = TRUE;
    }
    if (b->has & LETTER('Q')) {
        r->cycle.q = block_value(b, 'Q') * r->unit;
        r->cycle.has_q = TRUE;
    }
    if (b->has & LETTER('P')) {
        r->cycle.p = block_value(b, 'P');
        r->cycle.has_p = TRUE;
    }
}

static gboolean may_cycle(DtReader *r, int mode, double repeats)
{
    const DtCodeBlock *b = &r->block;
    const char *wrong = NULL;
    if (!r->cycle.has_r || !r->cycle.has_z)
        wrong = _("a canned cycle needs its depth and R");
    else if (mode == 830 && !(r->cycle.has_q && r->cycle.q > 0))
        wrong = _("a peck drilling cycle needs Q above 0");
    else if (repeats < 1 || repeats != floor(repeats) || repeats > 10000)
        wrong = _("the repeats of a cycle are a whole number from 1 to 10000");
    else if (r->modal[G_FEED_MODE] == 930)
        wrong = _("a canned cycle cannot be used with inverse time feed");
    if (wrong)
        dt_reader_fault(r, FAULT_COMBINATION, b->n_words ? b->words[0].column : 1, "%s", wrong);
    return wrong == NULL;
}

void dt_reader_cycle(DtReader *r, const double to[AXES])
{
    const DtCodeBlock *b = &r->block;
    short plane = r->modal[G_PLANE];
    Cycle c = {.r = r,
               .a = plane == 190 ? 1 : 0,
               .b = plane == 170 ? 1 : 2,
               .depth = plane == 170   ? 2
                        : plane == 180 ? 1
                                       : 0};
    double repeats = b->has & LETTER('L') ? block_value(b, 'L') : 1;
    keep_words(r, c.depth);
    if (!may_cycle(r, r->modal[G_MOTION], repeats))
        return;
    gboolean absolute = r->modal[G_DISTANCE] == 900;
    double first_level = r->at[c.depth];
    double base = absolute ? r->offset[c.depth] : first_level;
    c.at_r = base + r->cycle.r;
    c.at_z = absolute ? base + r->cycle.z : c.at_r + r->cycle.z;
    c.clear = r->modal[G_RETRACT] == 980 ? MAX(first_level, c.at_r) : c.at_r;
    c.feed = dt_reader_feed(r, 1);
    double step[2] = {to[c.a] - r->at[c.a], to[c.b] - r->at[c.b]};
    if (r->at[c.depth] < c.at_r)
        go(&c, ACT_TRAVERSE, c.depth, c.at_r);
    for (int i = 0; i < (int)repeats; i++) {
        double over[AXES];
        memcpy(over, r->at, sizeof over);
        over[c.a] = absolute ? to[c.a] : r->at[c.a] + step[0];
        over[c.b] = absolute ? to[c.b] : r->at[c.b] + step[1];
        dt_reader_move(r, ACT_TRAVERSE, over, 0);
        one_hole(&c, r->modal[G_MOTION]);
    }
}
