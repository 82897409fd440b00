/* cells: a hash of square cells, each with the stretches that come near it. */
#include "ink/look/cells.h"

#include <math.h>

/* Least width of a cell, mm; as wide as the reach, so that a stretch is in few of them. */
#define LEAST_CELL 1.0

struct DtCells {
    GHashTable *cells; /* gint64 -> GArray of DtCellStretch */
    double reach;
    double width; /* of a cell, and length of the longest stretch, mm */
};

static void free_array(gpointer a)
{
    g_array_free(a, TRUE);
}

DtCells *dt_cells_new(double reach)
{
    DtCells *c = g_new(DtCells, 1);
    *c = (DtCells){g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, free_array), reach,
                   MAX(LEAST_CELL, reach)};
    return c;
}

void dt_cells_free(DtCells *c)
{
    g_hash_table_unref(c->cells);
    g_free(c);
}

static int column(const DtCells *c, double at)
{
    return (int)floor(at / c->width);
}

static gint64 key_of(int x, int y)
{
    return (gint64)x * 4294967296 + y;
}

static void add_to_cell(DtCells *c, int x, int y, DtCellStretch s)
{
    const gint64 key = key_of(x, y);
    GArray *cell = g_hash_table_lookup(c->cells, &key);
    if (!cell) {
        cell = g_array_new(FALSE, FALSE, sizeof(DtCellStretch));
        g_hash_table_insert(c->cells, g_memdup2(&key, sizeof key), cell);
    }
    g_array_append_val(cell, s);
}

static void add_stretch(DtCells *c, DtCellStretch s)
{
    const double by = c->reach;
    for (int y = column(c, MIN(s.a.y, s.b.y) - by); y <= column(c, MAX(s.a.y, s.b.y) + by); y++)
        for (int x = column(c, MIN(s.a.x, s.b.x) - by); x <= column(c, MAX(s.a.x, s.b.x) + by); x++)
            add_to_cell(c, x, y, s);
}

void dt_cells_add(DtCells *c, DtPoint a, DtPoint b, size_t of)
{
    const int n = MAX(1, (int)MIN(ceil(dt_point_distance(a, b) / c->width), 1e6));
    for (int j = 0; j < n; j++)
        add_stretch(c, (DtCellStretch){dt_point_lerp(a, b, (double)j / n),
                                       dt_point_lerp(a, b, (j + 1.0) / n), of});
}

const GArray *dt_cells_near(const DtCells *c, DtPoint at)
{
    const gint64 key = key_of(column(c, at.x), column(c, at.y));
    return g_hash_table_lookup(c->cells, &key);
}
