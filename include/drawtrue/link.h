/* link: is it really being drawn? Streams a program to a controller over a serial port. */
#pragma once

#include "drawtrue/code.h"

typedef enum {
    DT_RUN_WAITING,     /* for a greeting, a reply, a person: `text` says for what */
    DT_RUN_PROGRESS,
    DT_RUN_PEN_CHANGE,  /* `pen` is the next pen; drawing goes on after dt_run_go_on() */
    DT_RUN_REPEATED,    /* a line was sent again after a failed check or a lost reply */
    DT_RUN_REFUSED,     /* the controller refused line `line` */
    DT_RUN_PAUSED,
    DT_RUN_DONE,
} DtRunEventKind;

typedef struct {
    DtRunEventKind kind;
    double done;      /* 0 to 1, by estimated time */
    double left_s;    /* estimated */
    double ink_mm;    /* drawn so far */
    int pen;
    size_t line;      /* program line acknowledged last, 1-based */
    const char *text; /* for people; may be NULL */
} DtRunEvent;

typedef void (*DtRunListener)(const DtRunEvent *e, void *user);

typedef struct {
    const char *port;
    const char *journal;     /* path of the SQLite journal; NULL for the default place */
    gboolean pens_ready;     /* do not wait at pen changes (virtual machine, or one pen) */
    DtRunListener listener;  /* may be NULL */
    void *user;
} DtRunOptions;

/* Streams the program file to the controller at `port` and returns when the machine has finished
 * it. TRUE when every line was accepted and the machine stands at its end. Otherwise the pen is up as
 * far as the controller can still be reached, and the error says what is drawn and what to do. */
gboolean dt_link_run(const DtProfile *p, const char *program_path, const DtRunOptions *o,
                     GError **error);
