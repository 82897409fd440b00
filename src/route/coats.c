/* coats: keeps retraces within their limits. No line is retraced more than once, and all
 * retraces together have a maximum length; those that save least for their length become lifts,
 * and the order is improved without them. */
#include "route/links.h"

#include <stdlib.h>

enum { ROUNDS = 4 };

typedef struct {
    uint32_t path;
    double worth; /* time saved per mm */
} Used;

static int most_worth_first(const void *x, const void *y)
{
    const Used *a = x, *b = y;
    if (a->worth != b->worth)
        return a->worth > b->worth ? -1 : 1;
    return (a->path > b->path) - (a->path < b->path);
}

static GArray *find_used(const DtLinks *l, const DtPiece *pieces, size_t n)
{
    GArray *used = g_array_new(FALSE, FALSE, sizeof(Used));
    for (size_t i = 1; i < n; i++) {
        const uint32_t a = dt_piece_last_end(&pieces[i - 1]), b = dt_piece_first_end(&pieces[i]);
        const DtPassage link = dt_links_between(l, a, b);
        if (link.kind != DT_LINK_RETRACE)
            continue;
        const double mm = dt_links_path(l, link.path)->mm;
        const Used u = {link.path, dt_links_saved(l, &link, a, b) / MAX(mm, 1e-3)};
        g_array_append_val(used, u);
    }
    return used;
}

/* Bans the excess; returns the number of banned retraces. */
static size_t ban(DtLinks *l, const DtPiece *pieces, size_t n, double most_mm)
{
    g_autoptr(GArray) used = find_used(l, pieces, n);
    g_autofree uint8_t *is_covered = g_new0(uint8_t, l->sections->set.n);
    size_t banned = 0;
    double sum = 0;
    if (used->len > 1)
        qsort(used->data, used->len, sizeof(Used), most_worth_first);
    for (guint i = 0; i < used->len; i++) {
        DtWayBack *path = &g_array_index(l->paths, DtWayBack, g_array_index(used, Used, i).path);
        const uint32_t *step = &g_array_index(l->steps, uint32_t, path->first);
        gboolean fits = sum + path->mm <= most_mm;
        for (uint32_t k = 0; k < path->n; k++)
            fits = fits && !is_covered[step[k] / 2];
        if (!fits) {
            path->is_banned = TRUE;
            banned++;
            continue;
        }
        sum += path->mm;
        for (uint32_t k = 0; k < path->n; k++)
            is_covered[step[k] / 2] = 1;
    }
    if (banned > 0)
        dt_links_forget(l);
    return banned;
}

/* Improves the order until no retrace has to be banned, a few times at most. */
void dt_links_order(DtLinks *l, DtPiece *pieces, size_t n, DtPiecesTask *task, double most_mm)
{
    const double from = task->from, all = task->to - from;
    task->links = l;
    for (int round = 0; round < ROUNDS; round++) {
        task->from =
            from + all * (1 - 1.0 / (1 << round)); /* each takes half of the previous iterations */
        task->to = from + all * (1 - 0.5 / (1 << round));
        dt_pieces_order(&l->metric, pieces, n, task);
        dt_links_place_rounds(l, pieces, n, task);
        if (ban(l, pieces, n, most_mm) == 0 && round > 0)
            break;
        task->keep = TRUE;
        task->kicks /= 2;
        task->seed++;
    }
    while (ban(l, pieces, n, most_mm) > 0)
        dt_links_place_rounds(l, pieces, n, task);
}
