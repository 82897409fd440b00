/* emit: text for one controller, with what it has been sent so far. Private. */
#pragma once

#include "code/judge/pen.h"

/* What was before the pen dropped, for as long as nothing but dwells came after. */
typedef struct {
    gboolean fresh;
    gsize length; /* of the text */
    int motion;
    double feed, settle_s;
    DtPenState pen;
} DtDrop;

typedef struct {
    const DtProfile *profile;
    const DtVocabulary *words;
    const DtPenRule *rule;
    GString *out, *line;
    int longest;       /* bytes; 0: any */
    gboolean too_long; /* a line did not fit */
    char lacking[8];   /* first word that was needed and is not in the dialect; "" for none */
    int motion;        /* modal G0 to G3; -1: not said */
    double feed;       /* F as said, mm/min; -1: not said */
    DtPoint at;        /* commanded */
    DtPenState pen;
    double settle_s; /* dwell that the pen still needs */
    DtDrop drop;
    uint32_t said; /* modal groups that were sent, bit by group */
    gboolean homed;
    gboolean place_said; /* the text says where `at` is since dt_emit_forget() */
    int decimals[2];     /* of X and Y */
} DtEmit;

void dt_emit_init(DtEmit *e, const DtProfile *p, const DtVocabulary *v, const DtPenRule *rule);
void dt_emit_clear(DtEmit *e);
/* Everything modal is said anew from here on: drawing may begin here. */
void dt_emit_forget(DtEmit *e);
/* The point that the text stands for. */
DtPoint dt_emit_rounded(const DtEmit *e, DtPoint p);
/* Bytes as they stand, with a line end. */
void dt_emit_text(DtEmit *e, const char *text, size_t len);
void dt_emit_comment(DtEmit *e, const char *text, size_t len);
/* Pen up (down), where it is not; its dwell is owed until the next motion. */
void dt_emit_lift(DtEmit *e);
void dt_emit_drop(DtEmit *e);
/* The same with another S in the line that drops it; 0: the profile's. */
void dt_emit_drop_by(DtEmit *e, double s);
/* As the text stands before a line that may drop the pen. */
DtDrop dt_emit_before_drop(const DtEmit *e);
/* That line is written, moves nothing, and the drop before it was `drop`. */
void dt_emit_note_still(DtEmit *e, DtDrop before, DtDrop drop);
/* Takes a drop back after which nothing was drawn; FALSE where there is none. */
gboolean dt_emit_undo_drop(DtEmit *e);
/* The dwell that is owed; TRUE where one was written. */
gboolean dt_emit_settle(DtEmit *e);
void dt_emit_dwell(DtEmit *e, double seconds);
/* G21 G90 and the like, where this controller has a choice and nothing was sent. */
gboolean dt_emit_modes(DtEmit *e);
/* Takes the modes of a line that stays into account. */
void dt_emit_follow_modes(DtEmit *e, const DtCodeBlock *b);
void dt_emit_home(DtEmit *e);
void dt_emit_travel(DtEmit *e, DtPoint to);
void dt_emit_draw(DtEmit *e, DtPoint to, double feed_mm_min);
/* An arc about `centre` (commanded) to `to`. */
void dt_emit_arc(DtEmit *e, DtPoint to, DtPoint centre, gboolean clockwise, double feed_mm_min);
