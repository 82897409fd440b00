/* dialect: the words, replies and limits of one controller; all of it data from the profile. */
#pragma once

#include <glib.h>

/* What a controller takes and says; all of it data from the profile. Escapes of the file such as \x05
 * are bytes here. */
typedef struct {
    char *greeting;    /* how its first line after a reset begins; "" where it says nothing */
    char *accept;      /* how a reply that accepts a line begins */
    char *refuse;      /* how a reply that refuses a line begins */
    char *notices;     /* how lines begin that it sends of its own accord and that answer nothing,
                          * separated by commas: "busy, heat"; "" where there are none */
    char *words;       /* the words it takes, space separated: "G0 G1 G4 G28 M3 M5 X Y F S P" */
    char *pen_down;    /* a line that drops the pen, e.g. "M3 S40" */
    char *pen_up;      /* a line that lifts it */
    char *home;        /* a line that homes both axes */
    char *program_end; /* last line of a program; "" for none */
    char *ask_state;   /* bytes that ask for its state at once; "" where it has none */
    char *hold, *go_on, *abandon; /* bytes that act at once; "" where it has none */
    int window;                   /* bytes its receive buffer holds; 0: unknown, send and wait */
    int blocks;                   /* moves that it plans ahead */
    double reply_delay_s; /* from the end of a reply on the wire until the sender has read it */
    int longest_line;     /* bytes, line end not counted */
    int decimals;         /* digits after the point that it can use */
    double reply_timeout_s;
    gboolean line_check; /* it checks the CRC that a line's comment carries */
    gboolean settings;   /* it gives its settings as parameters, as our own board does */
    int baud;
} DtDialect;

/* DtDialect.words is the list of what a controller takes, separated by spaces or commas:
 *     G0 M3        a code; G38.2 has a decimal
 *     X S          a letter, with any number after it
 *     S0..255      a letter whose number must lie in this range, in the units of the program
 *     G4+P G2+I+J  a code that is taken only with these letters in the same block
 *     comment:none | round | semicolon | both     comment forms; round is (like this)
 *     gap:needed | free                           whether words must stand apart
 *     delete:taken | refused                      a '/' before a block
 *     expressions:taken | refused                 parameters and expressions
 *     dwell:s | ms                                what the P of a dwell counts
 *     untried:G2                                  a word that 'learn' could not try: not used
 * Where the list says nothing: round, free, taken, refused and s. M0 and M1 need not be in the list:
 * the sender itself waits at them. A line may have 256 bytes (NISTIR 6556, 3.3.1), or as many as
 * `longest_line` says if those are fewer. */
