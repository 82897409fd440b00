/* emit: text for one controller, with the state that the text sent so far has set. Private. */
#pragma once

#include "code/judge/pen.h"

/* The state before the pen was lowered, as long as only dwells follow. */
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
    char lacking[8];   /* first word that was needed and is not in the dialect; "" if there is
                        * none */
    int motion;        /* modal G0 to G3; -1: not stated */
    double feed;       /* F as stated, mm/min; -1: not stated */
    DtPoint at;        /* commanded */
    DtPenState pen;
    double settle_s; /* dwell that the pen still needs */
    DtDrop drop;
    uint32_t said;        /* modal groups that were sent, bit by group */
    gboolean modes_given; /* dt_emit_modes() has written some; for its caller to clear */
    gboolean homed;
    gboolean place_said; /* the text has stated the position `at` since dt_emit_forget() */
    int decimals[2];     /* of X and Y */
    double per_mm[2];    /* the units of these last decimals */
} DtEmit;

void dt_emit_init(DtEmit *e, const DtProfile *p, const DtVocabulary *v, const DtPenRule *rule);
void dt_emit_set_decimals(DtEmit *e, int axis, int decimals);
void dt_emit_clear(DtEmit *e);
/* Whether the dialect had all words that were written, in lines of its length; `name` stands for
 * the profile. */
gboolean dt_emit_check(const DtEmit *e, const char *name, GError **error);
/* Everything modal is stated again from here on: drawing may start here. */
void dt_emit_forget(DtEmit *e);
/* The point where the text has moved the carriage. */
DtPoint dt_emit_rounded(const DtEmit *e, DtPoint p);
/* Bytes as they are, with a line end. */
void dt_emit_text(DtEmit *e, const char *text, size_t len);
void dt_emit_comment(DtEmit *e, const char *text, size_t len);
/* Pen up (down), unless it is already; its dwell follows before the next motion. */
void dt_emit_lift(DtEmit *e);
void dt_emit_drop(DtEmit *e);
/* The same with another S in the line that lowers it; 0: the profile's. */
void dt_emit_drop_by(DtEmit *e, double s);
/* The state of the text before a line that may lower the pen. */
DtDrop dt_emit_before_drop(const DtEmit *e);
/* That line was written and moves nothing; the state before it was `drop`. */
void dt_emit_note_still(DtEmit *e, DtDrop before, DtDrop drop);
/* Removes a pen drop after which nothing was drawn; FALSE if there is none. */
gboolean dt_emit_undo_drop(DtEmit *e);
/* The outstanding dwell; TRUE if one was written. */
gboolean dt_emit_settle(DtEmit *e);
void dt_emit_dwell(DtEmit *e, double seconds);
/* G21 G90 and the like, if this controller has an alternative and nothing was sent. The lines of a
 * pen that an axis moves are preceded by them. */
void dt_emit_modes(DtEmit *e);
/* Tracks the modes of a line that stays. */
void dt_emit_follow_modes(DtEmit *e, const DtCodeBlock *b);
void dt_emit_home(DtEmit *e);
void dt_emit_travel(DtEmit *e, DtPoint to);
void dt_emit_draw(DtEmit *e, DtPoint to, double feed_mm_min);
/* An arc about `centre` (commanded) to `to`. */
void dt_emit_arc(DtEmit *e, DtPoint to, DtPoint centre, gboolean clockwise, double feed_mm_min);
