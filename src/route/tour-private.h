/* Shared by tour.c, start.c and improve.c. */
#pragma once

#include "route/tour.h"

/* Positions and length from the order. */
void dt_tour_measure(DtTour *t);
/* Coordinates in which distance on paper approximates time; g_free(). */
DtPoint *dt_tour_scaled(const DtTour *t);
/* Empty lists, of at most `most` neighbours. */
void dt_tour_clear_near(DtTour *t, unsigned most);
/* Adds a node to another one's list of neighbours, which has room for `width` of them. */
void dt_tour_add_near(DtTour *t, int32_t self, uint32_t other, unsigned *have);
/* The lists where nodes are ends of sections. */
void dt_tour_find_near_ends(DtTour *t);
