/* chains: stretches of edges as long lines. End 2i is the first point of line i, end 2i + 1 its last. */
#include "ink/look/chains.h"
#include "ink/point-hash.h"

#define NONE G_MAXSIZE

typedef struct {
    size_t n, end[2]; /* ends here; the first two of them */
} Meeting;

typedef struct {
    const DtLines *l;
    GHashTable *meetings; /* by point */
    gboolean *used;       /* of each line */
    DtLines *out;
} Chains;

static DtPoint *end_point(const DtLines *l, size_t end)
{
    return dt_lines_at(l, end / 2) + (end % 2 ? dt_lines_count(l, end / 2) - 1 : 0);
}

static GHashTable *find_meetings(const DtLines *l)
{
    GHashTable *all = g_hash_table_new_full(dt_point_hash, dt_point_equal, NULL, g_free);
    for (size_t end = 0; end < 2 * l->n; end++) {
        DtPoint *at = end_point(l, end);
        Meeting *m = g_hash_table_lookup(all, at);
        if (!m)
            g_hash_table_insert(all, at, m = g_new0(Meeting, 1));
        if (m->n < 2)
            m->end[m->n] = end;
        m->n++;
    }
    return all;
}

/* The only other end where this one is. */
static size_t continues_at(const Chains *c, size_t end)
{
    const Meeting *m = g_hash_table_lookup(c->meetings, end_point(c->l, end));
    return m->n != 2 ? NONE : m->end[0] == end ? m->end[1] : m->end[0];
}

/* The line of an end, from there on, and those that continue it. */
static void follow(Chains *c, size_t end)
{
    const size_t start = end;
    dt_lines_begin(c->out);
    dt_lines_point(c->out, *end_point(c->l, end));
    while (end != NONE && !c->used[end / 2]) {
        const size_t n = dt_lines_count(c->l, end / 2);
        const DtPoint *p = dt_lines_at(c->l, end / 2);
        c->used[end / 2] = TRUE;
        const size_t next = continues_at(c, end ^ 1);
        for (size_t k = 1; k < n; k++)
            if (next != start || k + 1 < n)
                dt_lines_point(c->out, p[end % 2 ? n - 1 - k : k]);
        end = next;
    }
    if (end == start)
        dt_lines_close(c->out);
}

void dt_chain_stretches(DtLines *l)
{
    g_auto(DtLines) out;
    dt_lines_init(&out);
    g_autoptr(GHashTable) meetings = find_meetings(l);
    g_autofree gboolean *used = g_new0(gboolean, l->n + 1);
    Chains c = {l, meetings, used, &out};
    for (size_t end = 0; end < 2 * l->n; end++)
        if (!used[end / 2] && continues_at(&c, end) == NONE)
            follow(&c, end);
    for (size_t i = 0; i < l->n; i++)
        if (!used[i])
            follow(&c, 2 * i);
    DtLines all = *l;
    *l = out;
    out = all;
}
