/* links: places, corners, and the shortest retraces over the ink between places where odd
 * numbers of ends meet. The additions by which a graph can be drawn in few runs are such
 * retraces (Edmonds and Johnson 1973, "Matching, Euler tours and the Chinese postman"). */
#include "route/links.h"

#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

/* Retraces are searched among at most this many nodes around each one. */
enum { MOST_REACHED = 300 };

/* Corners ------------------------------------------------------------------------------------ */

static double along(const double limit[2], DtPoint d)
{
    const double share = MAX(fabs(d.x) / limit[0], fabs(d.y) / limit[1]);
    return share > 0 ? hypot(d.x, d.y) / share : 0;
}

/* The speed reached within this length when starting and ending slowly. */
static double speed_on(const DtCost *c, DtPoint dir, double mm)
{
    const double v = along(c->speed, dir), p = along(c->pull_in, dir),
                 a = along(c->acceleration, dir);
    return MAX(MIN(v, sqrt(p * p + a * mm)), 1e-3);
}

/* Time lost by a ramp from the speed v down to s, or up. */
static double ramp_s(const DtCost *c, DtPoint dir, double v, double s)
{
    return v > s ? (v - s) * (v - s) / (2 * v * along(c->acceleration, dir)) : 0;
}

/* Time for an axis to take up its lost motion, starting from its pull-in. */
static double slack_s(const DtCost *c, int axis)
{
    const double p = c->pull_in[axis], a = c->acceleration[axis];
    const double t = c->slack[axis] > 0 ? (sqrt(p * p + 2 * a * c->slack[axis]) - p) / a : 0;
    return MAX(t, c->slack[axis] / c->speed[axis]);
}

/* Lost motion to be taken up between two directions, s: both axes do so simultaneously. */
static double turn_s(const DtCost *c, DtPoint in, DtPoint out)
{
    const double least = 0.05; /* of a direction: a smaller component does not count as a
                                * reversal */
    const double a[2] = {in.x, in.y}, b[2] = {out.x, out.y};
    double slack = 0;
    for (int i = 0; i < 2; i++)
        if (a[i] * b[i] < 0 && MIN(fabs(a[i]), fabs(b[i])) > least)
            slack = MAX(slack, slack_s(c, i));
    return slack;
}

/* Extra time for turning from one direction into the other, compared with two lines at full
 * speed, s. */
static double corner_s(const DtCost *c, DtPoint in, double mm_in, DtPoint out, double mm_out)
{
    if ((in.x == 0 && in.y == 0) || (out.x == 0 && out.y == 0))
        return 0;
    const double v = speed_on(c, in, mm_in), w = speed_on(c, out, mm_out);
    const double change[2] = {fabs(out.x - in.x), fabs(out.y - in.y)};
    double s = MIN(v, w);
    for (int i = 0; i < 2; i++)
        if (change[i] > 1e-9)
            s = MIN(s, c->pull_in[i] / change[i]);
    return ramp_s(c, in, v, s) + ramp_s(c, out, w, s) + turn_s(c, in, out);
}

static int32_t micro(double s)
{
    return s < DT_METRIC_LIMIT * 1e-6 ? (int32_t)(s * 1e6 + 0.5) : DT_METRIC_LIMIT;
}

static DtPoint unit(DtPoint from, DtPoint to)
{
    const DtPoint d = dt_point_sub(to, from);
    const double n = sqrt(dt_point_dot(d, d));
    return n > 0 ? dt_point_scale(d, 1 / n) : dt_point(0, 0);
}

static DtPoint back(DtPoint d)
{
    return dt_point(-d.x, -d.y);
}

/* Ends --------------------------------------------------------------------------------------- */

static uint32_t root_of(uint32_t *group, uint32_t i)
{
    while (group[i] != i)
        i = group[i] = group[group[i]];
    return i;
}

/* Numbers the places: nodes tied by contacts. */
static uint32_t *places_of(const DtSections *s, uint32_t *n_places)
{
    uint32_t *group = g_new(uint32_t, s->n_nodes + 1);
    for (uint32_t i = 0; i < s->n_nodes; i++)
        group[i] = i;
    for (uint32_t i = 0; i < s->n_contacts; i++)
        group[root_of(group, s->contact[i][0])] = root_of(group, s->contact[i][1]);
    g_autofree uint32_t *number = g_new(uint32_t, s->n_nodes + 1);
    *n_places = 0;
    for (uint32_t i = 0; i < s->n_nodes; i++)
        if (root_of(group, i) == i)
            number[i] = (*n_places)++;
    for (uint32_t i = 0; i < s->n_nodes; i++)
        root_of(group, i);
    uint32_t *place = g_new(uint32_t, s->n_nodes + 1);
    for (uint32_t i = 0; i < s->n_nodes; i++)
        place[i] = number[root_of(group, i)];
    g_free(group);
    return place;
}

static double length_of(const DtPiece *p)
{
    double sum = 0;
    for (size_t k = 1; k < p->n; k++)
        sum += dt_point_distance(p->pts[k - 1], p->pts[k]);
    return sum;
}

/* The next point after an end that differs from it. */
static DtPoint heading(const DtPiece *p, gboolean last)
{
    const DtPoint at = p->pts[last ? p->n - 1 : 0];
    for (size_t k = 1; k < p->n; k++) {
        const DtPoint next = p->pts[last ? p->n - 1 - k : k];
        if (dt_point_distance(at, next) > 1e-6)
            return unit(at, next);
    }
    return dt_point(0, 0);
}

static void set_end(DtLinks *l, size_t i, const uint32_t *place)
{
    const DtPiece *p = &l->sections->set.p[i / 2];
    const uint32_t node = l->sections->node[i / 2][i % 2];
    DtSectionEnd *e = &l->end[i];
    if (node == DT_NO_NODE) {
        *e = (DtSectionEnd){.at = dt_piece_start(p), .node = node, .place = DT_NO_NODE};
        return;
    }
    *e = (DtSectionEnd){.at = p->pts[i % 2 ? p->n - 1 : 0],
                        .dir = heading(p, i % 2),
                        .length = length_of(p),
                        .node = node,
                        .place = place[node]};
    const double v = speed_on(&l->cost, e->dir, e->length), s = along(l->cost.pull_in, e->dir);
    e->stop = e->dir.x == 0 && e->dir.y == 0 ? 0 : micro(ramp_s(&l->cost, e->dir, v, s));
}

/* Sorts the ends by place and finds the odd ones. */
static void gather_places(DtLinks *l)
{
    l->first_at = g_new0(uint32_t, l->n_places + 2);
    l->at_place = g_new(uint32_t, l->n + 1);
    for (size_t i = 0; i < l->n; i++)
        if (l->end[i].place != DT_NO_NODE)
            l->first_at[l->end[i].place + 1]++;
    for (uint32_t p = 0; p < l->n_places; p++)
        l->first_at[p + 1] += l->first_at[p];
    g_autofree uint32_t *next = g_memdup2(l->first_at, (l->n_places + 1) * sizeof *next);
    for (size_t i = 0; i < l->n; i++)
        if (l->end[i].place != DT_NO_NODE)
            l->at_place[next[l->end[i].place]++] = (uint32_t)i;
    for (size_t i = 0; i < l->n; i++) {
        const uint32_t p = l->end[i].place;
        l->end[i].is_odd = p != DT_NO_NODE && (l->first_at[p + 1] - l->first_at[p]) % 2 != 0;
    }
}

/* Ways back ---------------------------------------------------------------------------------- */

/* Dijkstra 1959, over the nodes within range. */
typedef struct {
    DtLinks *l;
    double longest;
    double *mm;       /* of each node; infinite: not reached */
    uint32_t *step;   /* section end by which it was reached; DT_NO_NODE: across a contact */
    uint32_t *before; /* from which node */
    uint8_t *is_done;
    uint32_t reached[MOST_REACHED];
    guint n;
    uint32_t (*contact_of)[2]; /* sorted by node: node, other */
    uint32_t *first_contact;
    uint32_t *node_end, *first_end; /* ends sorted by node */
} Search;

static void reach(Search *s, uint32_t node, double mm, uint32_t step, uint32_t before)
{
    if (mm > s->longest || mm >= s->mm[node])
        return;
    if (isinf(s->mm[node])) {
        if (s->n == MOST_REACHED)
            return;
        s->reached[s->n++] = node;
    }
    s->mm[node] = mm;
    s->step[node] = step;
    s->before[node] = before;
}

static void go_on_from(Search *s, uint32_t node)
{
    const DtLinks *l = s->l;
    for (uint32_t k = s->first_end[node]; k < s->first_end[node + 1]; k++) {
        const uint32_t e = s->node_end[k];
        reach(s, l->end[e ^ 1].node, s->mm[node] + l->end[e].length, e, node);
    }
    for (uint32_t k = s->first_contact[node]; k < s->first_contact[node + 1]; k++) {
        const uint32_t other = s->contact_of[k][1];
        const double gap = dt_point_distance(l->sections->at[node], l->sections->at[other]);
        reach(s, other, s->mm[node] + gap, DT_NO_NODE, node);
    }
}

static void search_from(Search *s, uint32_t node)
{
    s->n = 0;
    reach(s, node, 0, DT_NO_NODE, node);
    for (;;) {
        uint32_t next = DT_NO_NODE;
        for (guint i = 0; i < s->n; i++) {
            const uint32_t k = s->reached[i];
            if (!s->is_done[k] && (next == DT_NO_NODE || s->mm[k] < s->mm[next]))
                next = k;
        }
        if (next == DT_NO_NODE)
            return;
        s->is_done[next] = 1;
        go_on_from(s, next);
    }
}

static void forget(Search *s)
{
    for (guint i = 0; i < s->n; i++) {
        s->mm[s->reached[i]] = INFINITY;
        s->is_done[s->reached[i]] = 0;
    }
}

/* Records the retrace from the search's node to this one; FALSE if no section is on it. */
static gboolean add_path(Search *s, uint32_t from, uint32_t to)
{
    DtLinks *l = s->l;
    DtWayBack path = {.first = l->steps->len};
    for (uint32_t k = to; k != from; k = s->before[k])
        if (s->step[k] != DT_NO_NODE) {
            g_array_append_val(l->steps, s->step[k]);
            path.mm += l->end[s->step[k]].length;
            path.n++;
        }
    uint32_t *step = &g_array_index(l->steps, uint32_t, path.first);
    for (uint32_t i = 0; i < path.n / 2; i++) {
        const uint32_t swapped = step[i];
        step[i] = step[path.n - 1 - i];
        step[path.n - 1 - i] = swapped;
    }
    if (path.n > 0)
        g_array_append_val(l->paths, path);
    return path.n > 0;
}

/* Time along a path between two ends, including the corners at both. */
static double path_s(const DtLinks *l, const DtWayBack *path, uint32_t a, uint32_t b)
{
    const uint32_t *step = &g_array_index(l->steps, uint32_t, path->first);
    DtPoint in = back(l->end[a].dir);
    double mm_in = l->end[a].length, sum = 0;
    for (uint32_t i = 0; i < path->n; i++) {
        const DtSectionEnd *e = &l->end[step[i]];
        const DtPoint mean = unit(e->at, l->end[step[i] ^ 1].at);
        const double v = along(l->cost.speed, mean.x == 0 && mean.y == 0 ? e->dir : mean);
        sum += corner_s(&l->cost, in, mm_in, e->dir, e->length) + (v > 0 ? e->length / v : 0);
        in = back(l->end[step[i] ^ 1].dir);
        mm_in = e->length;
    }
    return sum + corner_s(&l->cost, in, mm_in, l->end[b].dir, l->end[b].length);
}

static int32_t lift_cost(const DtLinks *l, uint32_t a, uint32_t b)
{
    const DtSectionEnd *p = &l->end[a], *q = &l->end[b];
    const DtPoint travel = unit(p->at, q->at);
    DtMetric lifted = l->metric;
    lifted.join2 = -1;
    const double slack = turn_s(&l->cost, back(p->dir), travel) + turn_s(&l->cost, travel, q->dir);
    return MIN(DT_METRIC_LIMIT, dt_metric_step(&lifted, p->at, q->at) + p->stop + q->stop +
                                    micro(slack + DT_LINKS_LIFT_MORE_S));
}

/* There is one at most between two ends: between their nodes. */
static void add_retrace(DtLinks *l, uint32_t from, DtRetrace r)
{
    DtRetrace *list = l->retrace + (size_t)from * DT_LINKS_MOST;
    unsigned n = l->n_retrace[from], i;
    if (n == DT_LINKS_MOST && list[n - 1].cost <= r.cost)
        return;
    if (n < DT_LINKS_MOST)
        n++;
    for (i = n - 1; i > 0 && list[i - 1].cost > r.cost; i--)
        list[i] = list[i - 1];
    list[i] = r;
    l->n_retrace[from] = (uint8_t)n;
}

static void link_ends(Search *s, uint32_t path, uint32_t from, uint32_t to)
{
    DtLinks *l = s->l;
    const DtWayBack *p = dt_links_path(l, path);
    for (uint32_t i = s->first_end[from]; i < s->first_end[from + 1]; i++)
        for (uint32_t k = s->first_end[to]; k < s->first_end[to + 1]; k++) {
            const uint32_t a = s->node_end[i], b = s->node_end[k];
            const int32_t cost = micro(path_s(l, p, a, b));
            if (a == b || cost >= lift_cost(l, a, b))
                continue;
            add_retrace(l, a, (DtRetrace){b, path, cost, FALSE});
            add_retrace(l, b, (DtRetrace){a, path, cost, TRUE});
        }
}

/* Every node is an end of some section. */
static void link_from(Search *s, uint32_t node)
{
    DtLinks *l = s->l;
    const DtSectionEnd *e = &l->end[s->node_end[s->first_end[node]]];
    if (!e->is_odd)
        return;
    search_from(s, node);
    for (guint i = 0; i < s->n; i++) {
        const uint32_t other = s->reached[i];
        if (other <= node)
            continue;
        const DtSectionEnd *f = &l->end[s->node_end[s->first_end[other]]];
        if (f->is_odd && f->place != e->place && add_path(s, node, other))
            link_ends(s, l->paths->len - 1, node, other);
    }
    forget(s);
}

static void sort_by_node(const DtLinks *l, Search *s)
{
    const uint32_t n = l->sections->n_nodes;
    s->first_end = g_new0(uint32_t, n + 2);
    s->node_end = g_new(uint32_t, l->n + 1);
    s->first_contact = g_new0(uint32_t, n + 2);
    s->contact_of = g_malloc(sizeof *s->contact_of * (2 * (size_t)l->sections->n_contacts + 1));
    for (size_t i = 0; i < l->n; i++)
        if (l->end[i].node != DT_NO_NODE)
            s->first_end[l->end[i].node + 1]++;
    for (uint32_t i = 0; i < 2 * l->sections->n_contacts; i++)
        s->first_contact[l->sections->contact[i / 2][i % 2] + 1]++;
    for (uint32_t i = 0; i < n; i++) {
        s->first_end[i + 1] += s->first_end[i];
        s->first_contact[i + 1] += s->first_contact[i];
    }
    g_autofree uint32_t *end = g_memdup2(s->first_end, (n + 1) * sizeof *end);
    g_autofree uint32_t *contact = g_memdup2(s->first_contact, (n + 1) * sizeof *contact);
    for (size_t i = 0; i < l->n; i++)
        if (l->end[i].node != DT_NO_NODE)
            s->node_end[end[l->end[i].node]++] = (uint32_t)i;
    for (uint32_t i = 0; i < 2 * l->sections->n_contacts; i++) {
        const uint32_t *c = l->sections->contact[i / 2], from = c[i % 2], to = c[1 - i % 2];
        s->contact_of[contact[from]][0] = from;
        s->contact_of[contact[from]++][1] = to;
    }
}

static void find_ways_back(DtLinks *l, double longest)
{
    const uint32_t n = l->sections->n_nodes;
    Search s = {.l = l,
                .longest = longest,
                .mm = g_new(double, n + 1),
                .step = g_new(uint32_t, n + 1),
                .before = g_new(uint32_t, n + 1),
                .is_done = g_new0(uint8_t, n + 1)};
    sort_by_node(l, &s);
    for (uint32_t i = 0; i < n; i++)
        s.mm[i] = INFINITY;
    for (uint32_t i = 0; i < n && !dt_work_stopped(); i++)
        link_from(&s, i);
    g_free(s.mm);
    g_free(s.step);
    g_free(s.before);
    g_free(s.is_done);
    g_free(s.contact_of);
    g_free(s.first_contact);
    g_free(s.node_end);
    g_free(s.first_end);
}

/* All ------------------------------------------------------------------------------------------ */

DtLinks *dt_links_new(const DtSections *s, const DtCost *cost, double join, double longest)
{
    DtLinks *l = g_new0(DtLinks, 1);
    l->sections = s;
    l->cost = *cost;
    l->metric = dt_metric_of_cost(cost, join);
    l->n = 2 * s->set.n;
    l->end = g_new(DtSectionEnd, l->n + 1);
    l->paths = g_array_new(FALSE, FALSE, sizeof(DtWayBack));
    l->steps = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    l->retrace = g_new(DtRetrace, l->n * DT_LINKS_MOST + 1);
    l->n_retrace = g_new0(uint8_t, l->n + 1);
    g_autofree uint32_t *place = places_of(s, &l->n_places);
    for (size_t i = 0; i < l->n; i++)
        set_end(l, i, place);
    gather_places(l);
    if (longest > 0)
        find_ways_back(l, longest);
    l->known_shift = 64 - 12;
    while (l->known_shift > 64 - 22 && (size_t)1 << (64 - l->known_shift) < 32 * l->n)
        l->known_shift--;
    l->known = g_new(DtKnownCost, (size_t)1 << (64 - l->known_shift));
    dt_links_forget(l);
    return l;
}

void dt_links_free(DtLinks *l)
{
    if (!l)
        return;
    g_free(l->known);
    g_free(l->end);
    g_array_unref(l->paths);
    g_array_unref(l->steps);
    g_free(l->retrace);
    g_free(l->n_retrace);
    g_free(l->at_place);
    g_free(l->first_at);
    g_free(l);
}

static size_t known_at(const DtLinks *l, uint32_t a, uint32_t b)
{
    return (a * UINT64_C(0x9E3779B97F4A7C15) + b * UINT64_C(0xC2B2AE3D27D4EB4F)) >> l->known_shift;
}

int32_t dt_links_cost(DtLinks *l, uint32_t a, uint32_t b)
{
    const uint32_t low = MIN(a, b), high = MAX(a, b);
    DtKnownCost *k = &l->known[known_at(l, low, high)];
    if (k->a != low || k->b != high)
        *k = (DtKnownCost){low, high, dt_links_between(l, low, high).cost};
    return k->cost;
}

void dt_links_forget(DtLinks *l)
{
    memset(l->known, 0xff, sizeof *l->known << (64 - l->known_shift));
}

DtPassage dt_links_between(const DtLinks *l, uint32_t a, uint32_t b)
{
    const DtSectionEnd *p = &l->end[a], *q = &l->end[b];
    const DtPoint gap = dt_point_sub(q->at, p->at);
    const double gap2 = dt_point_dot(gap, gap);
    DtPassage best;
    if (gap2 <= l->metric.join2) {
        const double mm = sqrt(gap2);
        double s = corner_s(&l->cost, back(p->dir), p->length, q->dir, q->length);
        if (mm > 1e-6)
            s += mm / along(l->cost.speed, gap);
        best = (DtPassage){.kind = DT_LINK_JOIN, .cost = micro(s)};
    } else {
        best = (DtPassage){.kind = DT_LINK_LIFT, .cost = lift_cost(l, a, b)};
    }
    for (unsigned i = 0; i < l->n_retrace[a]; i++) {
        const DtRetrace *r = &l->retrace[(size_t)a * DT_LINKS_MOST + i];
        if (r->to == b && r->cost < best.cost && !dt_links_path(l, r->path)->is_banned)
            best = (DtPassage){DT_LINK_RETRACE, r->cost, r->path, r->backwards};
    }
    for (unsigned i = 0; i < l->n_retrace[b]; i++) {
        const DtRetrace *r = &l->retrace[(size_t)b * DT_LINKS_MOST + i];
        if (r->to == a && r->cost < best.cost && !dt_links_path(l, r->path)->is_banned)
            best = (DtPassage){DT_LINK_RETRACE, r->cost, r->path, !r->backwards};
    }
    return best;
}

double dt_links_saved(const DtLinks *l, const DtPassage *link, uint32_t a, uint32_t b)
{
    return lift_cost(l, a, b) - link->cost;
}

void dt_links_points(const DtLinks *l, const DtPassage *link, GArray *points)
{
    const DtWayBack *path = dt_links_path(l, link->path);
    const uint32_t *step = &g_array_index(l->steps, uint32_t, path->first);
    for (uint32_t i = 0; i < path->n; i++) {
        const uint32_t e = link->backwards ? step[path->n - 1 - i] ^ 1 : step[i];
        const DtPiece *p = &l->sections->set.p[e / 2];
        for (size_t k = 0; k < p->n; k++)
            g_array_append_val(points, p->pts[e % 2 ? p->n - 1 - k : k]);
    }
}

void dt_links_move(DtLinks *l, uint32_t end, DtPoint at)
{
    l->end[end].at = at;
}
