/* features: drawings of one feature each, kept in tables, and how two pictures of one are held
 * against each other.
 *
 * A table is a text file. "= TEXT" sets the template of the lines after it, "=" alone takes it away;
 * "# ..." and empty lines say nothing. Every other line is a name, a tab and a value, which stands in
 * the template where that has a %. What does not begin with <svg xmlns or <? is wrapped in an <svg> of
 * 100 by 100 user units. */
#pragma once

#include "drawtrue/art.h"

#include <cairo.h>

#define FEATURE_SIDE 480 /* px of the longer side of a picture */
#define FEATURE_TILE 40  /* px of the side of a reference picture: means of squares */

typedef struct {
    char *name, *svg;
    gsize len;
} Feature;

/* All of a folder: the lines of its tables (*.txt), and its files (*.svg); in the order of
 * their names. Free with g_ptr_array_unref(). */
GPtrArray *features_read(const char *folder, GError **error);

/* The drawing in a picture whose longer side is `side` px, its page fitted; `edges`: how edges are smoothed. */
cairo_surface_t *features_paint(const DtDrawing *d, int side, cairo_antialias_t edges);
void features_size(const DtDrawing *d, int side, int *w, int *h);

typedef struct {
    double iou;    /* the share of what either paints at least half that the other paints so too, at
                    * the pixel or one beside it */
    double faint;  /* the same of what is painted at all */
    double colour; /* the share of that whose colours over white lie within 16 of 255 of those */
    gboolean same;
} FeatureMatch;

FeatureMatch features_match(cairo_surface_t *a, cairo_surface_t *b);

/* A picture of that longer side, a multiple of the tile's, as a tile of FEATURE_TILE by FEATURE_TILE, premultiplied, at `out`; `stride` in pixels. */
void features_tile(cairo_surface_t *picture, int side, guint32 *out, int stride);
/* How far the drawing's picture is from a tile that a browser's was made of: the mean over the pixels of
 * what they differ by over white in the channel that differs most, 0 to 255. */
double features_distance(const DtDrawing *d, const guint32 *reference, int stride);
/* What is kept of a drawing of a folder, as a line of its verdicts.tsv, without the end of the line: its name;
 * `verdict`, as bench/corpus-features judged it against the browser; its distance; and its notes with
 * their lines, or why it is refused. `d` may be NULL: it is refused. */
char *features_verdict(const Feature *f, const char *verdict, const DtDrawing *d, double distance,
                       const char *refusal);
