/* pen-bound: how well can a pen that is wider than some of what it has to draw do at all? */
#pragma once

#include <stdint.h>

/* An upper bound on the intersection over union with a mask (w*h pixels, 1 where painted) of the
 * ink of a round pen of this radius (pixels, 3 or more) for all plans that draw what is narrower
 * than the pen with lines along its middle, any part of it, and leave out the rest.
 *
 * Let A be the mask, O its opening by the pen's disc (what the pen can ink without leaving A), and
 * K = A - O, what is narrower. Each p of K has a middle m(p): the place within the pen's reach that
 * is farthest from the edge. Where p is drawn all of the pen's disc about m(p) is ink. A place q
 * outside A within reach of N(q) such middles, counted once for each p, is ink where any of these p
 * is drawn; let each of them pay 1/N(q) for it. So the ink outside A is at least the sum, over the
 * p that are drawn, of cost(p) = sum over the q outside A in the disc about m(p) of 1/N(q), and
 * exactly that where all of K is drawn. With S = A and the ink IoU = |S| / (|A| + |ink - A|) <= |S|
 * / (|A| + sum over S of cost), where O costs nothing. It is greatest where S takes the cheapest
 * pixels first; the bound is the best of all such S.
 *
 * Not bounded: plans that set dots with gaps between them, or draw beside the middle. Along a line
 * as wide as w dots that touch reach 2w / (pi r), where the line, drawn, reaches w / 2r. */
double pen_bound_iou(const uint8_t *mask, int w, int h, double radius);
