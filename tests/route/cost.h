/* cost: the axes and the pen of a small machine, whose slack differs between its axes. */
#pragma once

#include "route/links.h"

static const DtCost cost = {.speed = {12, 4},
                            .acceleration = {150, 80},
                            .pull_in = {3, 2},
                            .lift_s = 0.1,
                            .drop_s = 0.15,
                            .slack = {0.2, 0.4}};
