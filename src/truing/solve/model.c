/* model: see model.h. */
#include "truing/solve/model.h"

#include "truing/sheet/scan-part.h"

#include <math.h>
#include <string.h>

/* Of position and straightness; wider ones pass kinks of a rail on to the pulley. */
static const double knot_mm = 6;
static const double slack_knot_mm = 22, twist_knot_mm = 40, wave_knot_mm = 12;
static const double piece_mm = 5; /* of a long line, as scan.c cuts it */

/* Curves --------------------------------------------------------------------------------------- */

static int cell_of(const DtCurve *c, double at, double *f)
{
    const double t = CLAMP((at - c->from) / c->step, 0, c->n - 1.0);
    const int i = MIN((int)t, c->n - 2);
    *f = t - i;
    return c->first + i;
}

double dt_curve_at(const DtCurve *c, const double *b, double at)
{
    double f;
    const int i = cell_of(c, at, &f);
    return b[i] * (1 - f) + b[i + 1] * f;
}

void dt_curve_add(const DtCurve *c, double at, double by, double *row)
{
    double f;
    const int i = cell_of(c, at, &f);
    row[i] += by * (1 - f);
    row[i + 1] += by * f;
}

static DtCurve make_curve(DtModel *m, double from, double to, double step)
{
    const int n = MAX((int)ceil((to - from) / step), 3);
    const DtCurve c = {m->n, n + 1, from, (to - from) / n};
    m->n += n + 1;
    return c;
}

/* Items ---------------------------------------------------------------------------------------- */

static int sign(double v)
{
    return (v > 0) - (v < 0);
}

static DtItem make_item(const DtTestSheet *s, size_t mark, int piece)
{
    const DtMark *k = &s->marks[mark];
    const double length = dt_point_distance(k->from, k->to);
    const gboolean line = k->kind == DT_MARK_GAUGE;
    const int pieces = line ? MAX((int)(length / piece_mm), 1) : 1;
    DtItem item = {.mark = mark,
                   .piece = piece,
                   .axis = line ? 1 - k->axis : k->axis,
                   .middle = dt_point_lerp(k->from, k->to, (piece + 0.5) / pieces),
                   .along = dt_point_scale(dt_point_sub(k->to, k->from), 1 / length),
                   .line = -1,
                   .weight = 1};
    const double along[2] = {item.along.x, item.along.y};
    for (int i = 0; i < 2; i++)
        item.way[i] = fabs(along[i]) > 1e-6 ? sign(along[i]) : k->approach[i] < 0 ? -1 : 1;
    return item;
}

DtItem dt_model_item(const DtTestSheet *s, size_t mark)
{
    return make_item(s, mark, 0);
}

gboolean dt_model_in_row(const DtModel *m, const DtItem *item, int axis, int row)
{
    return item->line < 0 && item->axis == axis && m->e->sheet->marks[item->mark].row == row;
}

/* Which piece of a long line was seen. */
static int piece_of(const DtScan *scan, const DtMark *k, const DtSeen *seen)
{
    DtAffine back;
    const double length = dt_point_distance(k->from, k->to);
    const int pieces = MAX((int)(length / piece_mm), 1);
    if (k->kind != DT_MARK_GAUGE || !dt_affine_invert(scan->rough, &back))
        return 0;
    const DtPoint c = dt_affine_apply(back, seen->at), d = dt_point_sub(k->to, k->from);
    const double t = dt_point_dot(dt_point_sub(c, k->from), d) / (length * length);
    return CLAMP((int)floor(t * pieces), 0, pieces - 1);
}

static gint64 key_of(size_t mark, int piece)
{
    return (gint64)mark << 20 | piece;
}

static void load_items(DtModel *m)
{
    const DtTestSheet *s = m->e->sheet;
    g_autoptr(GHashTable) at = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    GArray *items = g_array_new(FALSE, FALSE, sizeof(DtItem));
    for (int k = 0; k < m->n_scans; k++)
        for (size_t i = 0; i < m->e->scans[k]->n; i++) {
            const DtSeen *seen = &m->e->scans[k]->seen[i];
            if (s->marks[seen->mark].part != DT_SHEET_SCAN)
                continue;
            const int piece = piece_of(m->e->scans[k], &s->marks[seen->mark], seen);
            gint64 key = key_of(seen->mark, piece);
            gpointer found = g_hash_table_lookup(at, &key);
            if (found == NULL) {
                const DtItem item = make_item(s, seen->mark, piece);
                g_array_append_val(items, item);
                found = GUINT_TO_POINTER(items->len);
                g_hash_table_insert(at, g_memdup2(&key, sizeof key), found);
            }
            g_array_index(items, DtItem, GPOINTER_TO_UINT(found) - 1).seen[k] = seen;
        }
    m->n_items = items->len;
    m->items = (DtItem *)(void *)g_array_free(items, FALSE);
}

static void number_lines(DtModel *m)
{
    g_autofree int *line_of = g_new(int, m->e->sheet->n + 1);
    for (size_t i = 0; i < m->e->sheet->n; i++)
        line_of[i] = -1;
    for (size_t i = 0; i < m->n_items; i++) {
        DtItem *item = &m->items[i];
        if (m->e->sheet->marks[item->mark].kind != DT_MARK_GAUGE)
            continue;
        if (line_of[item->mark] < 0)
            line_of[item->mark] = m->n_lines++;
        item->line = line_of[item->mark];
    }
}

/* Unknowns ------------------------------------------------------------------------------------- */

/* Of all that was seen, along an axis, commanded mm. */
static void find_range(const DtModel *m, int axis, double *from, double *to)
{
    *from = G_MAXDOUBLE;
    *to = -G_MAXDOUBLE;
    for (size_t i = 0; i < m->n_items; i++) {
        const double at = axis == 0 ? m->items[i].middle.x : m->items[i].middle.y;
        *from = MIN(*from, at);
        *to = MAX(*to, at);
    }
    if (*to - *from < 10)
        *to = *from + 10;
}

/* On the glass, downwards, over all scans. */
static void find_glass_range(const DtModel *m, double *from, double *to)
{
    *from = G_MAXDOUBLE;
    *to = -G_MAXDOUBLE;
    for (int k = 0; k < m->n_scans; k++)
        for (size_t i = 0; i < m->e->scans[k]->n; i++) {
            const double y = m->e->scans[k]->seen[i].at.y;
            *from = MIN(*from, y);
            *to = MAX(*to, y);
        }
}

static int take(DtModel *m, int n)
{
    const int first = m->n;
    m->n += n;
    return first;
}

static void lay_out(DtModel *m)
{
    double from, to;
    for (int i = 0; i < 2; i++) {
        m->scale[i] = take(m, 1);
        m->pulley[i] = take(m, 2);
        m->gear[i] = take(m, 2);
        m->glass_scale[i] = take(m, 1);
        find_range(m, i, &from, &to);
        m->curves[DT_CURVE_POSITION + i] = make_curve(m, from, to, knot_mm);
        m->curves[DT_CURVE_STRAIGHT + i] = make_curve(m, from, to, knot_mm);
        m->curves[DT_CURVE_SLACK + i] = make_curve(m, from, to, slack_knot_mm);
        m->curves[DT_CURVE_TWIST + i] = make_curve(m, from, to, twist_knot_mm);
    }
    m->square = take(m, 1);
    m->skew = take(m, 1);
    m->card[0] = take(m, 2);
    m->card[1] = m->card[0] + 1;
    m->lines = take(m, m->n_lines);
    find_glass_range(m, &from, &to);
    m->glass_mm = MAX(to - from, 10) / 2;
    for (int i = 0; i < 2; i++)
        m->curves[DT_CURVE_WAVE + i] = make_curve(m, from, to, wave_knot_mm);
    for (int k = 0; k < m->n_scans; k++) {
        m->pose[k].photograph = m->e->scans[k]->photograph;
        m->pose[k].first = take(m, 3 + (m->pose[k].photograph ? 2 * DT_BEND_TERMS : 0));
    }
}

static void start(DtModel *m)
{
    m->b = g_new0(double, m->n);
    for (int k = 0; k < m->n_scans; k++) {
        const DtAffine rough = m->e->scans[k]->rough;
        const DtPoint at = dt_affine_apply(rough, m->middle);
        double *pose = m->b + m->pose[k].first;
        pose[0] = at.x;
        pose[1] = at.y;
        pose[2] = atan2(rough.yx, rough.xx);
    }
}

void dt_model_init(DtModel *m, const DtProfile *p, const DtEvidence *e)
{
    const DtTestSheet *s = e->sheet;
    *m = (DtModel){.p = p, .e = e, .n_scans = (int)MIN(e->n_scans, DT_MOST_SCANS)};
    m->middle = dt_point(s->paper_at.x + s->paper_w / 2, s->paper_at.y + s->paper_h / 2);
    for (int i = 0; i < 2; i++)
        m->turn[i] = G_PI * (p->pulley_diameter[i] + p->cord_diameter[i]);
    load_items(m);
    number_lines(m);
    lay_out(m);
    start(m);
}

void dt_model_clear(DtModel *m)
{
    g_free(m->items);
    g_free(m->b);
}

/* Prediction ----------------------------------------------------------------------------------- */

/* Along one rail. */
static double rail_at(const DtModel *m, int i, double c, const int way[2], double *k, double *row)
{
    const DtCurve *position = &m->curves[DT_CURVE_POSITION + i],
                  *slack = &m->curves[DT_CURVE_SLACK + i];
    const DtCurve *twist = &m->curves[DT_CURVE_TWIST + i];
    const double u = c * (1 + m->b[m->scale[i]]), t = 2 * G_PI * u / m->turn[i];
    const double *pulley = m->b + m->pulley[i], *gear = m->b + m->gear[i];
    const double g = m->gear_period[i] > 0 ? 2 * G_PI * u / m->gear_period[i] : 0;
    *k = u + pulley[0] * sin(t) + pulley[1] * cos(t);
    if (g != 0)
        *k += gear[0] * sin(g) + gear[1] * cos(g);
    if (way[i] < 0)
        *k += dt_curve_at(slack, m->b, *k);
    if (row) {
        row[m->scale[i]] += c;
        row[m->pulley[i]] += sin(t);
        row[m->pulley[i] + 1] += cos(t);
        if (g != 0) {
            row[m->gear[i]] += sin(g);
            row[m->gear[i] + 1] += cos(g);
        }
        dt_curve_add(position, *k, 1, row);
        dt_curve_add(twist, *k, way[1 - i] / 2.0, row);
        if (way[i] < 0)
            dt_curve_add(slack, *k, 1, row);
    }
    return *k + dt_curve_at(position, m->b, *k) + way[1 - i] / 2.0 * dt_curve_at(twist, m->b, *k);
}

DtPoint dt_model_ink(const DtModel *m, DtPoint c, const int way[2], double *x_row, double *y_row)
{
    double kx, ky;
    const double rx = rail_at(m, 0, c.x, way, &kx, x_row), ry = rail_at(m, 1, c.y, way, &ky, y_row);
    const double sine = sin(m->b[m->square]), cosine = cos(m->b[m->square]);
    const DtCurve *straight = m->curves + DT_CURVE_STRAIGHT;
    if (x_row) {
        for (int i = 0; i < m->n; i++)
            x_row[i] += sine * y_row[i];
        x_row[m->square] += ry * cosine;
        y_row[m->square] -= ry * sine;
        dt_curve_add(&straight[1], ky, 1, x_row);
        dt_curve_add(&straight[0], kx, 1, y_row);
    }
    return dt_point(rx + ry * sine + dt_curve_at(&straight[1], m->b, ky),
                    ry * cosine + dt_curve_at(&straight[0], m->b, kx));
}

/* The bends of a photograph: all terms of the second to the fifth degree. */
static void bend_terms(const DtModel *m, double gx, double gy, const double *pose,
                       double t[DT_BEND_TERMS])
{
    const double u = (gx - pose[0]) / m->glass_mm, v = (gy - pose[1]) / m->glass_mm;
    int n = 0;
    for (int degree = 2; degree <= 5; degree++)
        for (int i = 0; i <= degree; i++)
            t[n++] = pow(u, degree - i) * pow(v, i);
}

/* Adds what a photograph bends to a place seen, and its derivatives by the bends to the projected row. */
static DtPoint bend(const DtModel *m, int k, double gx, double gy, DtPoint normal, double *row)
{
    const double *pose = m->b + m->pose[k].first;
    double t[DT_BEND_TERMS];
    DtPoint by = {0, 0};
    if (!m->pose[k].photograph)
        return by;
    bend_terms(m, gx, gy, pose, t);
    for (int i = 0; i < DT_BEND_TERMS; i++) {
        by.x += pose[3 + i] * t[i];
        by.y += pose[3 + DT_BEND_TERMS + i] * t[i];
        if (row) {
            row[m->pose[k].first + 3 + i] += normal.x * t[i];
            row[m->pose[k].first + 3 + DT_BEND_TERMS + i] += normal.y * t[i];
        }
    }
    return by;
}

/* Where scan k sees the ink of a command; with `row`, the derivatives along `normal`. */
static DtPoint seen_at(const DtModel *m, int k, DtPoint c, const int way[2], DtPoint normal,
                       double *row, double *scratch)
{
    double *x_row = row ? scratch : NULL, *y_row = row ? scratch + m->n : NULL;
    if (row)
        memset(scratch, 0, 2 * (size_t)m->n * sizeof *scratch);
    const DtPoint ink = dt_model_ink(m, c, way, x_row, y_row);
    const double *pose = m->b + m->pose[k].first;
    const double u = ink.x - m->middle.x, v = m->middle.y - ink.y, cosine = cos(pose[2]),
                 sine = sin(pose[2]);
    const double gx = pose[0] + u * cosine - v * sine, gy = pose[1] + u * sine + v * cosine;
    const double skew = m->b[m->skew], sx = 1 + m->b[m->glass_scale[0]],
                 sy = 1 + m->b[m->glass_scale[1]];
    const DtCurve *wave = m->curves + DT_CURVE_WAVE;
    const double x = gx + skew * gy + dt_curve_at(&wave[0], m->b, gy);
    const double y = gy + dt_curve_at(&wave[1], m->b, gy);
    if (row) {
        const double ax = normal.x * sx, ay = normal.y * sy;
        const double by_gx = ax, by_gy = ax * skew + ay;
        const double by_x = by_gx * cosine + by_gy * sine, by_y = by_gx * sine - by_gy * cosine;
        for (int i = 0; i < m->n; i++)
            row[i] = by_x * x_row[i] + by_y * y_row[i];
        row[m->pose[k].first] += by_gx;
        row[m->pose[k].first + 1] += by_gy;
        row[m->pose[k].first + 2] +=
            by_gx * (-u * sine - v * cosine) + by_gy * (u * cosine - v * sine);
        row[m->skew] += ax * gy;
        row[m->glass_scale[0]] += normal.x * x;
        row[m->glass_scale[1]] += normal.y * y;
        dt_curve_add(&wave[0], gy, ax, row);
        dt_curve_add(&wave[1], gy, ay, row);
    }
    return dt_point_add(dt_point(sx * x, sy * y), bend(m, k, gx, gy, normal, row));
}

DtPoint dt_model_normal(const DtModel *m, const DtItem *item, int k)
{
    const DtPoint normal = item->seen[k]->normal,
                  axis = item->axis == 0 ? dt_point(1, 0) : dt_point(0, 1);
    const DtPoint plus = dt_affine_apply_vector(m->e->scans[k]->rough, axis);
    return dt_point_scale(normal, sign(dt_point_dot(plus, normal)));
}

double dt_model_residual(const DtModel *m, const DtItem *item, int k, double *row, double *scratch)
{
    const DtSeen *seen = item->seen[k];
    DtPoint c = item->middle;
    /* The line is long in one direction: the command whose ink lies abreast of what was measured. */
    const DtPoint at = seen_at(m, k, c, item->way, seen->normal, NULL, NULL);
    const DtPoint ahead =
        seen_at(m, k, dt_point_add(c, item->along), item->way, seen->normal, NULL, NULL);
    const DtPoint along = dt_point_sub(ahead, at), off = dt_point_sub(seen->at, at);
    c = dt_point_add(
        c, dt_point_scale(item->along, dt_point_dot(off, along) / dt_point_dot(along, along)));
    const DtPoint normal = dt_model_normal(m, item, k);
    const DtPoint there = seen_at(m, k, c, item->way, normal, row, scratch);
    double residual = dt_point_dot(normal, dt_point_sub(seen->at, there));
    if (item->line >= 0) {
        if (row)
            row[m->lines + item->line] += 1;
        residual -= m->b[m->lines + item->line];
    }
    return residual;
}

gboolean dt_model_gauge_ticks(const DtTestSheet *s, int axis, DtPoint ticks[2])
{
    gboolean found[2] = {FALSE, FALSE};
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *k = &s->marks[i];
        if (k->kind == DT_MARK_GAUGE && k->part == DT_SHEET_SCAN && k->axis == axis &&
            k->row == DT_SHEET_GAUGE_ROW && k->place > 0) {
            ticks[k->place - 1] = dt_point_lerp(k->from, k->to, 0.5);
            found[k->place - 1] = TRUE;
        }
    }
    return found[0] && found[1];
}

double dt_model_rule_mean(const DtEvidence *e, int axis)
{
    double sum = 0;
    for (size_t i = 0; i < e->n_rule[axis]; i++)
        sum += e->rule_mm[axis][i];
    return sum / (double)e->n_rule[axis];
}
