/* lift: by which words a program from elsewhere means its pen to go up and down. Private. */
#pragma once

#include "code/judge/pen.h"

enum { Z_LEVELS = 64 };

typedef struct {
    DtLiftKind kind;
    double threshold_z; /* LIFT_BY_Z: down below it, or above it where `down_is_high` */
    gboolean down_is_high;
    gboolean ever_down;
} DtLiftStyle;

/* Gathers, move by move, how long the program draws and travels at each height. */
typedef struct {
    double z[Z_LEVELS], drawn[Z_LEVELS], travelled[Z_LEVELS];
    int levels;
    size_t spindle_downs, own_downs;
    DtPenState spindle_pen, own_pen;
    double spindle_drawn, own_drawn;
} DtLiftScan;

void dt_lift_scan_action(DtLiftScan *s, const DtPenRule *rule, const DtAction *a);
void dt_lift_scan_block(DtLiftScan *s, const DtPenRule *rule, const DtCodeBlock *b);
/* The style that fits what was scanned best on this machine. */
DtLiftStyle dt_lift_decide(const DtLiftScan *s, const DtPenRule *rule);

static inline DtPenState dt_lift_at_z(const DtLiftStyle *style, double z)
{
    return (z < style->threshold_z) != style->down_is_high ? PEN_DOWN : PEN_UP;
}
