/* bench-ink: hatching against GEOS, growth with size, lifts, tone, and hiding: ./dev bench --ink.
 */
#include "bench-ink.h"

#include <stdio.h>

int main(void)
{
    printf("hatch lines through a wavy disc: ours and GEOS intersecting the same lines\n");
    bench_hatch_against_geos();
    printf("\ngrowth: the same, ours alone, 10000 lines\n");
    bench_hatch_growth();
    printf("\nhiding: the 50 largest drawings of openclipart-svg\n");
    return bench_hiding();
}
