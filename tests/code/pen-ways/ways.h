/* ways: programs from elsewhere, in many ways of meaning a pen, with the ink that they mean. */
#pragma once

#include <glib.h>

typedef struct {
    char *name; /* of its way and its drawing */
    char *text;
    gsize len;
    char *ink;        /* as on_rig_meant() takes it; from the generator's own positions */
    gboolean unclear; /* even a person might not tell */
} WayProgram;

int ways_count(void);
const char *ways_name(int way);
int ways_drawings(void);
/* `seed` moves, turns and scales the drawing. Freed with ways_clear(). FALSE, and nothing to free, where
 * the way cannot draw it: dots without words for the pen, or lines by drilling. */
gboolean ways_write(int way, int drawing, guint32 seed, WayProgram *out);
void ways_clear(WayProgram *p);
