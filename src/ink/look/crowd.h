/* crowd (private to ink): how closely the lines of a pen lie, on a grid, by direction. */
#pragma once

#include "ink/trace.h"

/* A stretch of a line that does not turn back, and its samples. */
typedef struct {
    size_t line, first, n; /* samples first to first + n - 1 */
    double begin, step;    /* mm along the line; between samples */
    gboolean thin;
    double width; /* mm, of a line of ink that takes as much light from the paper */
} DtCrowdStretch;

typedef struct {
    DtPoint at;
    double angle; /* 0 to pi */
    guint32 stretch;
    int next;   /* the next kept one in its cell, -1: none */
    float free; /* distance of the nearest kept line beside it over the least */
    gboolean kept;
} DtCrowdSample;

typedef struct {
    double tip, cell;
    DtPoint origin;
    int w, h;
    float *art, *ink; /* shares by direction: planes of w * h */
    float *all_art, *all_ink;
    float *left;       /* share of the ink that is wanted; 1: all lines are drawn */
    int *head;         /* the last kept sample of each cell, -1: none */
    GArray *stretches; /* DtCrowdStretch */
    GArray *samples;   /* DtCrowdSample */
} DtCrowd;

static inline DtCrowdSample *dt_crowd_sample(const DtCrowd *c, size_t i)
{
    return &g_array_index(c->samples, DtCrowdSample, i);
}

static inline size_t dt_crowd_cell(const DtCrowd *c, DtPoint p)
{
    const int x = CLAMP((int)((p.x - c->origin.x) / c->cell), 0, c->w - 1);
    const int y = CLAMP((int)((p.y - c->origin.y) / c->cell), 0, c->h - 1);
    return (size_t)y * (size_t)c->w + (size_t)x;
}

/* A grid over the lines of a pen with this tip, mm; no samples yet. */
void dt_crowd_init(DtCrowd *c, const DtLines *l);
void dt_crowd_clear(DtCrowd *c);
/* After all samples are added: finds what they cover, and what is wanted. */
void dt_crowd_cover(DtCrowd *c);
/* The pitch wanted between lines of a sample's direction there, mm; 0: all of them are drawn. */
double dt_crowd_pitch(const DtCrowd *c, const DtCrowdSample *p);
