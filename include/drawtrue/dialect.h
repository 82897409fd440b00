/* dialect: the words, replies and limits of one controller, all of it data from the profile. */
#pragma once

#include <glib.h>

/* What a controller accepts and replies. Escapes in the file such as \x05 are bytes here. */
typedef struct {
    char *greeting;    /* how its first line after a reset begins; "" if it sends none */
    char *accept;      /* how a reply that accepts a line begins */
    char *refuse;      /* how a reply that refuses a line begins */
    char *notices;     /* beginnings of lines that it sends unasked and that answer nothing,
                        * separated by commas: "busy, heat"; "": none */
    char *words;       /* the words it accepts, separated by spaces: "G0 G1 G4 G28 M3 M5 X Y F S
                        * P" */
    char *pen_down;    /* a line that lowers the pen, e.g. "M3 S40" */
    char *pen_up;      /* a line that lifts it */
    char *home;        /* a line that homes both axes */
    char *program_end; /* last line of a program; "" for none */
    char *ask_state;   /* bytes that request its state at once; "": none */
    char *hold, *go_on, *abandon; /* bytes that act at once; "": none */
    int window;                   /* size of its receive buffer in bytes; 0: unknown, send a line
                                   * and wait */
    int blocks;                   /* how many moves it plans ahead */
    double reply_delay_s; /* from the end of a reply on the wire until the sender has read it */
    int longest_line;     /* bytes, without the line end */
    int decimals;         /* digits after the decimal point that it can use */
    double reply_timeout_s;
    gboolean line_check; /* it checks the CRC in a line's comment */
    gboolean settings;   /* its settings are parameters, as on our own board */
    int baud;
} DtDialect;

/* DtDialect.words lists what a controller accepts, separated by spaces or commas:
 *     G0 M3        a code; G38.2 has a decimal
 *     X S          a letter, with any number after it
 *     S0..255      a letter whose number must be in this range, in the units of the program
 *     G4+P G2+I+J  a code that is accepted only with these letters in the same block
 *     comment:none | round | semicolon | both     comment forms; round is (like this)
 *     gap:needed | free                           whether words need blanks between them
 *     delete:taken | refused                      a '/' before a block
 *     expressions:taken | refused                 parameters and expressions
 *     dwell:s | ms                                the unit of P in a dwell
 *     untried:G2                                  a word that 'learn' could not try: not used
 * By default: round, free, taken, refused and s. M0 and M1 need not be in the list, since the
 * sender itself waits at them. A line may have 256 bytes (NISTIR 6556, 3.3.1), or `longest_line`
 * if that is less. */
