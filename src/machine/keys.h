/* keys: the one table of all keys of a profile, used for loading, checking, the template and
 * messages. Private to the room. */
#pragma once

#include "machine/key-value.h"

typedef enum {
    DT_KEY_NUMBER, /* double */
    DT_KEY_RATIO,  /* double, may be written as a fraction */
    DT_KEY_WHOLE,  /* int */
    DT_KEY_FLAG,   /* gboolean */
    DT_KEY_TEXT,   /* char *: printable, one line */
    DT_KEY_BYTES,  /* char *: with escapes such as \x05 */
    DT_KEY_POINT,  /* DtPoint */
    DT_KEY_TABLE,  /* DtTable */
    DT_KEY_COLOUR, /* DtColour */
    DT_KEY_PAPER,  /* char *, and the profile's paper_w and paper_h */
} DtKeyType;

typedef struct {
    const char *section; /* "pen" stands for every [pen NAME] */
    const char *name;
    DtKeyType type;
    DtUnit unit;
    double least, most; /* limits of each number in it, internal units; longest text in bytes */
    const char *preset; /* the default as it would be written; NULL: derived from other keys */
    gsize offset;       /* in DtProfile; in DtPen for pens */
    const char *help;   /* description in a sentence or two */
} DtKey;

typedef struct {
    const char *name;
    const char *help;
} DtKeySection;

extern const DtKey dt_keys[];
extern const gsize dt_n_keys;
extern const DtKeySection dt_key_sections[];
extern const gsize dt_n_key_sections;

/* The current name of a key: `name` itself, unless that is an older name of it. */
const char *dt_key_name_now(const char *section, const char *name);

/* Reads `text` into the field of `base` (a DtProfile or DtPen) that the key stands for, and
 * frees its old value. FALSE with the reason, freed by the caller, if its form or range is
 * wrong. */
gboolean dt_key_set(const DtKey *k, gpointer base, const char *text, char **why);
/* Frees the contents of the field. */
void dt_key_clear(const DtKey *k, gpointer base);
/* After a copy of `base` was made: gives its field memory of its own. */
void dt_key_own(const DtKey *k, gpointer base);
/* "0.5 mm/s to 500 mm/s"; freed by the caller; NULL if there is no range to state. */
char *dt_key_range(const DtKey *k);
