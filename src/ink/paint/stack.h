/* stack (private to ink): painted areas and lines, from the bottom up, and their visible parts.
 *
 * Where thousands of areas overlap, most of their edges cross where they cannot be seen. So the
 * stack is flattened in groups as it grows, and the flat groups again, until one is left: edges
 * that are hidden in a group meet nothing outside it. */
#pragma once

#include "ink/plane/plane.h"

/* Covers others and is itself bare paper. Other labels, from DT_STACK_FIRST on, are the
 * caller's. */
enum { DT_STACK_PAPER = 1, DT_STACK_FIRST = 2 };

/* How translucent labels combine with others. */
typedef struct {
    gboolean (*is_translucent)(int label, void *user);
    DtOverlapFunc
        overlap; /* the label of translucent ones over one another, or over one that is not translucent */
    void *user;
} DtStackOverlap;

typedef struct DtStack DtStack;

/* `overlaps` is copied; NULL if no label is translucent. */
DtStack *dt_stack_new(const DtStackOverlap *overlaps);
void dt_stack_free(DtStack *s);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtStack, dt_stack_free)

/* Lays an area on top; labels are small numbers. Both fail as dt_plane_build() does. */
gboolean dt_stack_add_area(DtStack *s, int label, const DtLines *rings, DtPlaneRule rule,
                           GError **error);
/* Lays lines on top; `owner` is returned with each of their visible parts. Lines hide nothing. */
gboolean dt_stack_add_lines(DtStack *s, int owner, const DtLines *lines, GError **error);
/* After all were added. */
gboolean dt_stack_finish(DtStack *s, GError **error);
/* After the end: the visible part of all areas of a label, a clean region; NULL where there is
 * none. */
const DtLines *dt_stack_region(const DtStack *s, int label);
size_t dt_stack_n_labels(const DtStack *s); /* one more than the highest label that is seen */
/* After the end: the visible parts of all lines; owners[i] is line i's, overlays[i] the label of
 * the translucent areas over it, 0 for none. Either may be NULL. */
const DtLines *dt_stack_lines(const DtStack *s, const int **owners, const int **overlays);
