/* invented: boards with one odd behaviour each, played by a thread on a pseudo-terminal. They are made
 * up: none is anybody's product. They share no code with the program but the CRC, which tests/code
 * checks. */
#pragma once

#include <glib.h>

typedef enum { ECHO_NONE, ECHO_LINE, ECHO_BEFORE_REPLY, ECHO_WITH_PROMPT } Echo;
typedef enum { LONG_REFUSED, LONG_CUT, LONG_SPLIT, LONG_UNANSWERED } LongLine;
typedef enum { END_TAKEN, END_REFUSED, END_RESTARTS, END_LOCKS, END_UNANSWERED } End;
typedef enum {
    BYTE_IN_LINE, /* it is part of a line, which is then refused */
    BYTE_IGNORED, /* it is dropped */
    BYTE_ACTS,
    BYTE_STICKS,    /* DC3 holds for good; ENQ silences the board */
    BYTE_PLACE,     /* ENQ: the place in words of the board's own */
    BYTE_AND_REPLY, /* ENQ: the same, and then as if a line had been taken */
} AtOnce;

/* What is 0 or NULL is as with the plainest board. Times are in ms of the board's clock. */
typedef struct {
    /* How it speaks. */
    const char *accept, *refuse; /* "done", "wrong" */
    const char *greeting;        /* lines; NULL: none */
    const char *line_end;        /* "\n" */
    Echo echo;
    gboolean counts;       /* a running number behind each acceptance */
    gboolean says_why;     /* a reason behind each refusal */
    gboolean own_refusals; /* each refusal in other words */
    gboolean refuses_silently, takes_all, answers_twice, is_mute;
    const char *report;   /* a line before each acceptance */
    const char *help;     /* a line behind each refusal */
    const char *busy;     /* said every 100 ms while it works; NULL: nothing */
    const char *chat;     /* said unasked, every `chat_ms` */
    const char *chat_end; /* "\n"; "": no line end */
    unsigned chat_ms;
    unsigned delay_ms, boot_ms;
    unsigned again_ms;       /* so long after an answer it says it once more; 0: it does not */
    unsigned garbles, drops; /* every so manieth reply; 0: none */

    /* What it takes. */
    const char *words;    /* codes and letters */
    const char *comments; /* "round", "semicolon", "both"; NULL: none */
    gboolean gaps;        /* words must stand apart */
    gboolean no_numbers, no_slash, expressions, checks;
    int decimals;   /* most digits after the point; 0: any */
    int most_s;     /* 0: any */
    gboolean ms;    /* dwells count milliseconds */
    gboolean plans; /* answers dwells and moves before it does them */

    /* Its buffer. */
    int longest; /* 80 */
    LongLine overlong;
    int rx; /* bytes it keeps while it works; 0: none, negative: 64 */

    /* What becomes of it. */
    AtOnce ask, hold, abandon;
    End m2, m30;
    const char *restarts_at;              /* a line that begins so restarts it */
    const char *hangs_at;                 /* silences it until the port is opened anew */
    unsigned restart_once, restart_every; /* lines */
} Invented;

enum { INVENTED_FASTER = 4 }; /* its clock against the computer's */

typedef struct Board Board;

Board *invented_new(const Invented *kind);
const char *invented_port(const Board *b);
/* One without thread and port: its clock goes on only while bytes are sent to it or waited for. */
Board *invented_new_on_desk(const Invented *kind);
void invented_send(Board *b, const char *bytes, gsize n);
/* What it says within `wait_s` of its clock; 0: nothing. */
gsize invented_hear(Board *b, char *to, gsize room, double wait_s);
gint64 invented_now_us(const Board *b);
/* As a computer does that opens the port: most boards restart then. */
void invented_reset(Board *b);
/* Stops the thread; after it the list of what was drawn is complete. */
void invented_stop(Board *b);
void invented_free(Board *b);
/* What it drew since it was made, restarts or not: a line "x,y-x,y" for each motion with the pen down. */
GPtrArray *invented_ink(Board *b);
/* What a board of this kind would draw of a program's text, undisturbed; freed by the caller. */
GPtrArray *invented_ink_of(const Invented *kind, const char *program);
gboolean invented_pen_is_down(const Board *b);
/* Times that it started, the first one included. */
unsigned invented_resets(const Board *b);
/* Whether it ever homed, moved along an axis or lowered the pen. */
gboolean invented_has_moved(const Board *b);
