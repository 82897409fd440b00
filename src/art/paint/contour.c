/* contour: converts pictures to areas: the contours of their half level, cell by cell of four
 * samples. */
#include "art/paint/levels.h"

static int level_at(const ArtLevels *l, int x, int y)
{
    return l->level[(gsize)y * (gsize)l->w + (gsize)x];
}

#define HALF 127.5 /* a value that no level has */

static double crossing(int a, int b)
{
    return (HALF - a) / (b - a);
}

/* Edges of the grid: of cell (x, y) the top one runs from sample (x,y) to (x+1,y), the left one
 * from (x,y) to (x,y+1). */
typedef enum { TOP, RIGHT, BOTTOM, LEFT } Side;

static DtPoint edge_point(const ArtLevels *l, int x, int y, Side side)
{
    int a = level_at(l, x, y), b = level_at(l, x + 1, y);
    int c = level_at(l, x + 1, y + 1), d = level_at(l, x, y + 1);
    switch (side) {
    case TOP:
        return (DtPoint){x + crossing(a, b), y};
    case RIGHT:
        return (DtPoint){x + 1, y + crossing(b, c)};
    case BOTTOM:
        return (DtPoint){x + crossing(d, c), y + 1};
    default:
        return (DtPoint){x, y + crossing(a, d)};
    }
}

static int corners(const ArtLevels *l, int x, int y)
{
    return (level_at(l, x, y) > HALF) | (level_at(l, x + 1, y) > HALF) << 1 |
           (level_at(l, x + 1, y + 1) > HALF) << 2 | (level_at(l, x, y + 1) > HALF) << 3;
}

/* The side at which the contour that enters a cell at a given side leaves it, with the inside on
 * its right; -1 if none enters there. Each of the two saddles keeps its inside corners separate. */
static int leave_by(int c, Side enter)
{
    static const signed char table[16][4] = {
        /* TOP RIGHT BOTTOM LEFT */
        [0] = {-1, -1, -1, -1},     [1] = {LEFT, -1, -1, -1},     [2] = {-1, TOP, -1, -1},
        [3] = {-1, LEFT, -1, -1},   [4] = {-1, -1, RIGHT, -1},    [5] = {LEFT, -1, RIGHT, -1},
        [6] = {-1, -1, TOP, -1},    [7] = {-1, -1, LEFT, -1},     [8] = {-1, -1, -1, BOTTOM},
        [9] = {BOTTOM, -1, -1, -1}, [10] = {-1, TOP, -1, BOTTOM}, [11] = {-1, BOTTOM, -1, -1},
        [12] = {-1, -1, -1, RIGHT}, [13] = {RIGHT, -1, -1, -1},   [14] = {-1, -1, -1, TOP},
        [15] = {-1, -1, -1, -1},
    };
    return table[c][enter];
}

/* Follows one contour from the top edge of cell (x, y) until it is back there. */
static void follow(const ArtLevels *l, int x, int y, guint8 *seen, DtLines *out)
{
    Side enter = TOP;
    int sx = x, sy = y;
    dt_lines_begin(out);
    do {
        if (enter == TOP)
            seen[(gsize)y * (gsize)l->w + (gsize)x] = 1;
        dt_lines_point(out, edge_point(l, x, y, enter));
        int leave = leave_by(corners(l, x, y), enter);
        if (leave < 0)
            break;
        x += leave == RIGHT ? 1 : leave == LEFT ? -1 : 0;
        y += leave == BOTTOM ? 1 : leave == TOP ? -1 : 0;
        enter = (Side)((leave + 2) % 4);
    } while (x != sx || y != sy || enter != TOP);
    dt_lines_close(out);
}

/* Keeps the points of p[0..n) that deviate by more than a quarter pixel: Douglas and Peucker
 * 1973. */
static void thin(const DtPoint *p, gsize from, gsize to, guint8 *keep)
{
    GArray *stack = g_array_new(FALSE, FALSE, 2 * sizeof(gsize));
    gsize range[2] = {from, to};
    g_array_append_vals(stack, range, 1);
    while (stack->len > 0) {
        memcpy(range, stack->data + (stack->len - 1) * sizeof range, sizeof range);
        g_array_set_size(stack, stack->len - 1);
        double worst = 0.25;
        gsize at = 0;
        for (gsize i = range[0] + 1; i < range[1]; i++) {
            double d = dt_point_segment_distance(p[i], p[range[0]], p[range[1]]);
            if (d > worst) {
                worst = d;
                at = i;
            }
        }
        if (at == 0)
            continue;
        keep[at] = 1;
        gsize left[2] = {range[0], at}, right[2] = {at, range[1]};
        g_array_append_vals(stack, left, 1);
        g_array_append_vals(stack, right, 1);
    }
    g_array_free(stack, TRUE);
}

static void append_thinned(DtLines *out, const DtPoint *p, gsize n)
{
    if (n < 3)
        return;
    g_autofree guint8 *keep = g_malloc0(n);
    keep[0] = keep[n / 2] = keep[n - 1] = 1;
    thin(p, 0, n / 2, keep);
    thin(p, n / 2, n - 1, keep);
    dt_lines_begin(out);
    for (gsize i = 0; i < n; i++)
        if (keep[i])
            dt_lines_point(out, p[i]);
    dt_lines_close(out);
}

void dt_art_levels_trace(const ArtLevels *l, DtLines *out)
{
    g_autofree guint8 *seen = g_malloc0((gsize)l->w * (gsize)l->h);
    g_auto(DtLines) raw = {0};
    for (int y = 0; y + 1 < l->h; y++) {
        const guint8 *row = l->level + (gsize)y * (gsize)l->w;
        for (int x = 0; x + 1 < l->w; x++)
            if (row[x] > HALF && row[x + 1] < HALF && !seen[row - l->level + x]) /* enters there */
                follow(l, x, y, seen, &raw);
    }
    for (gsize i = 0; i < raw.n; i++)
        append_thinned(out, dt_lines_at(&raw, i), dt_lines_count(&raw, i));
}
