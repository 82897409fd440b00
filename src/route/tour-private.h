/* What tour.c gives to start.c and improve.c. */
#pragma once

#include "route/tour.h"

/* Positions and length from the order. */
void dt_tour_measure(DtTour *t);
/* Coordinates in which nearness on paper stands for nearness in time; g_free(). */
DtPoint *dt_tour_scaled(const DtTour *t);
