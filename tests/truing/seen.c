/* seen: see seen.h. */
#include "seen.h"

#include <math.h>
#include <string.h>

static const double piece_mm = 5; /* of a long line */
static const double low_mm = 5, size_mm = 110, down_mm = 100;

DtProfile *seen_profile(void)
{
    static const char text[] = "[motion]\ntravel_x = 130 mm\ntravel_y = 130 mm\n"
                               "[drive]\npulley_x = 12 mm\npulley_y = 10 mm\n"
                               "[paper]\nsize = 110x110\nat = 5, 5 mm\n";
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

DtTestSheet *seen_sheet(const DtProfile *p)
{
    g_autoptr(GError) error = NULL;
    DtTestSheet *s = dt_sheet_new_blank(p, DT_SHEET_SCAN, "2026-03-14", 5);
    dt_sheet_add_scan_part(s, p, &error);
    g_assert_no_error(error);
    return s;
}

/* A whole period over the paper: a sine, or a cosine; neither has a mean, and the cosine no slope. */
static double curve(double size, double at)
{
    return size * cos(2 * G_PI * (at - low_mm) / size_mm);
}

static double rail(const SeenTruth *t, const DtProfile *p, int i, double c, const int way[2],
                   double *k)
{
    const double u = c * (1 + t->scale[i]);
    const double turn = G_PI * (p->pulley_diameter[i] + p->cord_diameter[i]);
    *k =
        u + t->pulley[i][0] * sin(2 * G_PI * u / turn) + t->pulley[i][1] * cos(2 * G_PI * u / turn);
    if (t->gear_period[i] > 0)
        *k += t->gear[i][0] * sin(2 * G_PI * u / t->gear_period[i]) +
              t->gear[i][1] * cos(2 * G_PI * u / t->gear_period[i]);
    if (way[i] < 0)
        *k += t->slack[i] + t->slack_slope[i] * (*k - low_mm - size_mm / 2);
    return *k + curve(t->position[i], *k) + way[1 - i] * t->twist[i] / 2;
}

DtPoint seen_ink(const SeenTruth *t, const DtProfile *p, DtPoint c, const int way[2])
{
    double kx, ky;
    const double rx = rail(t, p, 0, c.x, way, &kx), ry = rail(t, p, 1, c.y, way, &ky);
    return dt_point(rx + ry * sin(t->square) + curve(t->straight[1], ky),
                    ry * cos(t->square) + curve(t->straight[0], kx));
}

DtPoint seen_on_glass(const SeenTruth *t, DtPoint middle, DtPoint at, double angle, DtPoint ink)
{
    const double u = ink.x - middle.x, v = middle.y - ink.y;
    const double gx = at.x + u * cos(angle) - v * sin(angle),
                 gy = at.y + u * sin(angle) + v * cos(angle);
    const double phase = 2 * G_PI * gy / down_mm;
    return dt_point((1 + t->glass_scale[0]) * (gx + t->skew * gy + t->wave[0] * sin(phase)),
                    (1 + t->glass_scale[1]) * (gy + t->wave[1] * sin(phase)));
}

/* By Box and Muller. */
static double normal(GRand *r)
{
    const double u = 1 - g_rand_double(r), v = g_rand_double(r);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v);
}

typedef struct {
    const SeenTruth *t;
    const DtProfile *p;
    const DtTestSheet *s;
    DtPoint middle, at;
    double angle;
    DtScan *out;
    GRand *own, *shared; /* what each scan does, and what the pen did */
} Maker;

static int sign_of(double v)
{
    return (v > 1e-6) - (v < -1e-6);
}

static void add_piece(Maker *m, size_t mark, int piece, int pieces)
{
    const DtMark *k = &m->s->marks[mark];
    const DtPoint c = dt_point_lerp(k->from, k->to, (piece + 0.5) / pieces);
    const double dx = sign_of(k->to.x - k->from.x), dy = sign_of(k->to.y - k->from.y);
    const int way[2] = {dx != 0              ? (int)dx
                        : k->approach[0] < 0 ? -1
                                             : 1,
                        dy != 0              ? (int)dy
                        : k->approach[1] < 0 ? -1
                                             : 1};
    DtPoint ink = seen_ink(m->t, m->p, c, way);
    /* the place across the stroke is what counts */
    const int axis = dx != 0 ? 1 : 0;
    double off = m->t->pen_sd * normal(m->shared);
    off += way[axis] < 0 ? m->t->slack_sd * normal(m->shared) : 0;
    *(axis == 0 ? &ink.x : &ink.y) += off;
    const DtPoint ahead = seen_ink(m->t, m->p, dt_point(c.x + dx, c.y + dy), way);
    const DtPoint a = seen_on_glass(m->t, m->middle, m->at, m->angle, ink);
    const DtPoint b = seen_on_glass(m->t, m->middle, m->at, m->angle,
                                    dt_point(ahead.x + (axis == 0) * off, ahead.y + axis * off));
    const DtPoint along = dt_point_scale(dt_point_sub(b, a), 1 / dt_point_distance(a, b));
    DtSeen *seen = &m->out->seen[m->out->n++];
    const double left_or_right = (mark + (size_t)piece) % 2 ? 1 : -1,
                 by = m->t->scan_sd * normal(m->own);
    seen->mark = mark;
    seen->normal = dt_point(-along.y * left_or_right, along.x * left_or_right);
    seen->at = dt_point_add(a, dt_point_scale(seen->normal, by));
    seen->sd = 0.003;
    seen->width = 0.4;
}

static void add_all(Maker *m)
{
    size_t room = 0;
    for (size_t i = 0; i < m->s->n; i++)
        room += 1 + (size_t)(dt_point_distance(m->s->marks[i].from, m->s->marks[i].to) / piece_mm);
    m->out->seen = g_new0(DtSeen, room);
    for (size_t i = 0; i < m->s->n; i++) {
        const DtMark *k = &m->s->marks[i];
        const int pieces = k->kind == DT_MARK_GAUGE
                               ? MAX((int)(dt_point_distance(k->from, k->to) / piece_mm), 1)
                               : 1;
        if (k->kind != DT_MARK_POSITION && (k->kind != DT_MARK_GAUGE || k->place > 0))
            continue;
        for (int piece = 0; piece < pieces; piece++)
            add_piece(m, i, piece, pieces);
    }
}

DtScan **seen_scans(const SeenTruth *t, const DtProfile *p, const DtTestSheet *s,
                    const double *angles, size_t n, guint32 seed)
{
    DtScan **out = g_new0(DtScan *, n + 1);
    for (size_t i = 0; i < n; i++) {
        Maker m = {.t = t, .p = p, .s = s, .angle = angles[i]};
        m.middle = dt_point(s->paper_at.x + s->paper_w / 2, s->paper_at.y + s->paper_h / 2);
        m.at = dt_point(80 + 3.0 * i, 90 - 2.0 * i);
        m.own = g_rand_new_with_seed(seed + 1 + (guint32)i);
        m.shared = g_rand_new_with_seed(seed);
        m.out = out[i] = g_new0(DtScan, 1);
        const double c = cos(m.angle), d = sin(m.angle);
        m.out->path = g_strdup_printf("scan-%zu.png", i + 1);
        m.out->dpi = 300;
        m.out->rough = (DtAffine){.xx = c,
                                  .yx = d,
                                  .xy = d,
                                  .yy = -c,
                                  .x0 = m.at.x - m.middle.x * c - m.middle.y * d,
                                  .y0 = m.at.y - m.middle.x * d + m.middle.y * c};
        m.out->turn = ((int)lround(m.angle / (G_PI / 2)) % 4 + 4) % 4;
        add_all(&m);
        g_rand_free(m.own);
        g_rand_free(m.shared);
    }
    return out;
}

void seen_scans_free(DtScan **scans, size_t n)
{
    for (size_t i = 0; i < n; i++)
        dt_scan_free(scans[i]);
    g_free(scans);
}

const SeenTruth seen_usual = {.scale = {0.003, -0.002},
                              .square = 0.004,
                              .pulley = {{0.05, 0.02}, {-0.03, 0.04}},
                              .slack = {0.4, 0.2},
                              .position = {0.02, -0.03},
                              .straight = {0.03, 0.02},
                              .twist = {0.05, -0.03},
                              .glass_scale = {0.001, -0.002},
                              .skew = 0.002,
                              .wave = {0.01, 0.01},
                              .pen_sd = 0.008,
                              .slack_sd = 0.01,
                              .scan_sd = 0.004};

const double seen_quarters[4] = {0.01, 0.5 * G_PI + 0.02, G_PI - 0.03, -0.5 * G_PI};

void seen_model_init(SeenModel *f, const SeenTruth *t, const double *angles, size_t n_scans)
{
    f->p = seen_profile();
    f->s = seen_sheet(f->p);
    f->n_scans = n_scans;
    f->scans = seen_scans(t, f->p, f->s, angles, n_scans, 7);
    f->e =
        (DtEvidence){.sheet = f->s, .scans = (const DtScan *const *)f->scans, .n_scans = n_scans};
    dt_model_init(&f->m, f->p, &f->e);
}

double seen_length(const SeenModel *f, const SeenTruth *t, int axis)
{
    static const int way[2] = {1, 1};
    DtPoint ticks[2];
    g_assert_true(dt_model_gauge_ticks(f->s, axis, ticks));
    return dt_point_distance(seen_ink(t, f->p, ticks[0], way), seen_ink(t, f->p, ticks[1], way));
}

void seen_model_lay_rule(SeenModel *f, const SeenTruth *t)
{
    for (int axis = 0; axis < 2; axis++) {
        f->rule[axis] = seen_length(f, t, axis);
        f->e.rule_mm[axis] = &f->rule[axis];
        f->e.n_rule[axis] = 1;
    }
}

void seen_model_clear(SeenModel *f)
{
    dt_model_clear(&f->m);
    seen_scans_free(f->scans, f->n_scans);
    dt_sheet_free(f->s);
    dt_profile_free(f->p);
}

DtFigures *seen_solve(const SeenModel *f)
{
    g_autoptr(GError) error = NULL;
    DtFigures *out = dt_truing_solve(f->p, &f->e, NULL, &error);
    g_assert_no_error(error);
    return out;
}

void seen_check_refused(const SeenModel *f, const char *why)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_truing_solve(f->p, &f->e, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_test_message("%s", error->message);
    if (strstr(error->message, why) == NULL)
        g_error("\"%s\" lacks \"%s\"", error->message, why);
}
