/* cells: a hash of square cells, each with the stretches that come near it. */
#include "ink/look/cells.h"

#include <math.h>

/* Least width of a cell, mm; as wide as the reach, so that a stretch is in few of them. */
#define LEAST_CELL 1.0

/* A new table has 2^FIRST_BITS cells; at most half of them are in use. */
enum { FIRST_BITS = 6 };

typedef struct {
    int x, y;
    GArray *stretches; /* DtCellStretch; NULL: the cell is not in use */
} Cell;

struct DtCells {
    Cell *table; /* by hash, with linear probing */
    gsize n;     /* cells in use */
    int bits;
    double reach;
    double width; /* of a cell, and length of the longest stretch, mm */
};

DtCells *dt_cells_new(double reach)
{
    DtCells *c = g_new(DtCells, 1);
    *c = (DtCells){g_new0(Cell, (gsize)1 << FIRST_BITS), 0, FIRST_BITS, reach,
                   MAX(LEAST_CELL, reach)};
    return c;
}

static gsize size_of(int bits)
{
    return (gsize)1 << bits;
}

void dt_cells_free(DtCells *c)
{
    for (gsize i = 0; i < size_of(c->bits); i++)
        if (c->table[i].stretches)
            g_array_free(c->table[i].stretches, TRUE);
    g_free(c->table);
    g_free(c);
}

static int column(const DtCells *c, double at)
{
    return (int)floor(at / c->width);
}

/* The cell's place in the table, or the free one for it. */
static Cell *find_cell(Cell *table, int bits, int x, int y)
{
    /* Fibonacci hashing (Knuth, The Art of Computer Programming, volume 3, section 6.4) */
    const guint64 hash = ((guint64)(guint32)x << 32 | (guint32)y) * 0x9e3779b97f4a7c15u;
    gsize i = (gsize)(hash >> (64 - bits));
    while (table[i].stretches && (table[i].x != x || table[i].y != y))
        i = (i + 1) & (size_of(bits) - 1);
    return &table[i];
}

static void enlarge(DtCells *c)
{
    Cell *table = g_new0(Cell, size_of(c->bits + 1));
    for (gsize i = 0; i < size_of(c->bits); i++)
        if (c->table[i].stretches)
            *find_cell(table, c->bits + 1, c->table[i].x, c->table[i].y) = c->table[i];
    g_free(c->table);
    c->table = table;
    c->bits++;
}

static void add_to_cell(DtCells *c, int x, int y, DtCellStretch s)
{
    Cell *cell = find_cell(c->table, c->bits, x, y);
    if (!cell->stretches) {
        if (2 * ++c->n > size_of(c->bits)) {
            enlarge(c);
            cell = find_cell(c->table, c->bits, x, y);
        }
        *cell = (Cell){x, y, g_array_new(FALSE, FALSE, sizeof(DtCellStretch))};
    }
    g_array_append_val(cell->stretches, s);
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
    return find_cell(c->table, c->bits, column(c, at.x), column(c, at.y))->stretches;
}
