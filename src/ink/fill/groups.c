/* groups: pieces of a region that are close to one another. Their edges are sampled; samples are found by cells of a
 * grid. */
#include "ink/fill/groups.h"

#include "drawtrue/work.h"
#include "ink/look/parts.h"
#include "ink/plane/radix.h"

#include <math.h>

/* Distance between samples, in reaches; and about the most of them. */
#define SAMPLE 0.25
#define MOST_SAMPLES 2000000.0

typedef struct {
    DtPoint at;
    uint32_t part;
} Sample;

struct DtGroups {
    double reach, cell;
    GArray *samples;  /* Sample, by cell */
    DtKey *keys;      /* of the samples' cells */
    uint32_t *parent; /* of each part; then its group */
    GArray *groups;   /* DtLines */
};

static void clear_lines(gpointer l)
{
    dt_lines_clear(l);
}

/* Samples ------------------------------------------------------------------------------------ */

static uint64_t cell_key(const DtGroups *g, DtPoint at, int dx, int dy)
{
    const int32_t x = (int32_t)floor(at.x / g->cell) + dx, y = (int32_t)floor(at.y / g->cell) + dy;
    return (uint64_t)dt_radix_signed(y) << 32 | dt_radix_signed(x);
}

static void sample_part(DtGroups *g, const DtLines *rings, uint32_t part, double step)
{
    for (size_t r = 0; r < rings->n; r++) {
        const DtPoint *p = dt_lines_at(rings, r);
        const size_t n = dt_lines_count(rings, r);
        for (size_t i = 0; i < n; i++) {
            const DtPoint a = p[i], b = p[(i + 1) % n];
            const size_t m = (size_t)MAX(ceil(dt_point_distance(a, b) / step), 1);
            for (size_t k = 0; k < m; k++) {
                const Sample s = {dt_point_lerp(a, b, (double)k / (double)m), part};
                g_array_append_val(g->samples, s);
            }
        }
    }
}

static void sort_by_cell(DtGroups *g)
{
    const Sample *old = (const Sample *)(const void *)g->samples->data;
    GArray *sorted = g_array_sized_new(FALSE, FALSE, sizeof(Sample), g->samples->len);
    g->keys = g_new(DtKey, g->samples->len + 1);
    for (guint i = 0; i < g->samples->len; i++)
        g->keys[i] = (DtKey){cell_key(g, old[i].at, 0, 0), i};
    dt_radix_sort(g->keys, g->samples->len);
    for (guint i = 0; i < g->samples->len; i++)
        g_array_append_val(sorted, old[g->keys[i].id]);
    g_array_free(g->samples, TRUE);
    g->samples = sorted;
}

/* The first sample of a cell or one after it. */
static guint first_in(const DtGroups *g, uint64_t key)
{
    guint low = 0, high = g->samples->len;
    while (low < high) {
        const guint middle = low + (high - low) / 2;
        if (g->keys[middle].key < key)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* Groups ------------------------------------------------------------------------------------- */

static uint32_t root_of(const DtGroups *g, uint32_t part)
{
    while (g->parent[part] != part)
        part = g->parent[part] = g->parent[g->parent[part]];
    return part;
}

static void join_near(DtGroups *g, const Sample *s, guint i, uint64_t key)
{
    for (; i < g->samples->len && g->keys[i].key == key; i++) {
        const Sample *other = &g_array_index(g->samples, Sample, i);
        const uint32_t a = root_of(g, s->part), b = root_of(g, other->part);
        if (a != b && dt_point_distance(s->at, other->at) <= g->reach)
            g->parent[MAX(a, b)] = MIN(a, b);
    }
}

/* The cells before a sample's own are joined with it by their own samples. */
static void join_parts(DtGroups *g)
{
    static const int step[5][2] = {{0, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}};
    for (guint i = 0; i < g->samples->len && !dt_work_stopped(); i++) {
        const Sample *s = &g_array_index(g->samples, Sample, i);
        for (size_t k = 0; k < G_N_ELEMENTS(step); k++) {
            const uint64_t key = cell_key(g, s->at, step[k][0], step[k][1]);
            join_near(g, s, first_in(g, key), key);
        }
    }
}

/* Groups are in the order of their first parts. */
static void gather(DtGroups *g, const GArray *parts)
{
    g_autofree uint32_t *group = g_new(uint32_t, parts->len);
    for (uint32_t i = 0; i < parts->len; i++) {
        const uint32_t root = root_of(g, i);
        if (root == i) {
            DtLines none;
            dt_lines_init(&none);
            group[i] = g->groups->len;
            g_array_append_val(g->groups, none);
        }
        group[i] = group[root];
        dt_lines_append_lines(&g_array_index(g->groups, DtLines, group[i]),
                              &g_array_index(parts, DtPart, i).rings);
    }
    for (uint32_t i = 0; i < parts->len; i++)
        g->parent[i] = group[i];
}

DtGroups *dt_groups_new(const DtLines *region, double reach)
{
    DtGroups *g = g_new0(DtGroups, 1);
    g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
    g_array_set_clear_func(parts, dt_part_clear);
    dt_parts_add(parts, 0, region);
    const double step = MAX(SAMPLE * reach, dt_lines_total_length(region) / MOST_SAMPLES);
    g->reach = reach;
    g->cell = MAX(reach, step);
    g->samples = g_array_new(FALSE, FALSE, sizeof(Sample));
    g->groups = g_array_new(FALSE, FALSE, sizeof(DtLines));
    g_array_set_clear_func(g->groups, clear_lines);
    g->parent = g_new(uint32_t, parts->len + 1);
    for (uint32_t i = 0; i < parts->len; i++) {
        g->parent[i] = i;
        if (parts->len > 1)
            sample_part(g, &g_array_index(parts, DtPart, i).rings, i, step);
    }
    sort_by_cell(g);
    join_parts(g);
    gather(g, parts);
    return g;
}

void dt_groups_free(DtGroups *g)
{
    if (!g)
        return;
    g_array_free(g->samples, TRUE);
    g_array_free(g->groups, TRUE);
    g_free(g->keys);
    g_free(g->parent);
    g_free(g);
}

size_t dt_groups_n(const DtGroups *g)
{
    return g->groups->len;
}

const DtLines *dt_groups_region(const DtGroups *g, size_t group)
{
    return &g_array_index(g->groups, DtLines, group);
}

size_t dt_groups_at(const DtGroups *g, DtPoint at)
{
    double least = G_MAXDOUBLE;
    size_t group = 0;
    for (int k = 0; k < 9 && g->groups->len > 1; k++) {
        const uint64_t key = cell_key(g, at, k % 3 - 1, k / 3 - 1);
        for (guint i = first_in(g, key); i < g->samples->len && g->keys[i].key == key; i++) {
            const Sample *s = &g_array_index(g->samples, Sample, i);
            const double away = dt_point_distance(at, s->at);
            if (away >= least)
                continue;
            least = away;
            group = g->parent[s->part];
        }
    }
    return group;
}
