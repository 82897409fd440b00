/* eye-square: what the axes are off square by, from the figure drawn twice.
 *
 * With the scales s and the small angles e (square) and t (turn of the paper beyond a quarter), a mark at
 * (x, y) leaves ink at (s_x x + e s_y y, s_y y). The first figure's ink is turned to
 * (u - s_y y - t s_x x, v + s_x x + e s_y y - t s_y y), with u and v unknown as the paper was laid down by
 * hand. Where a vernier's tick at (x', y') lines up with a tick at (x, y), along X
 *     u - t s_x x - e s_y y' = s_x x' + s_y y,
 * and along Y
 *     v - t s_y y + e s_y y  = s_y y' - s_x x.
 * Two verniers each, far apart, give four equations for u, v, t and e. */
#include "truing/eye/eye.h"

#include <math.h>
#include <string.h>

enum { N = 4 };

/* Gauss's elimination with pivots; FALSE where it is singular. */
static gboolean eliminate(double a[N][N + 1])
{
    for (int c = 0; c < N; c++) {
        int best = c;
        for (int r = c + 1; r < N; r++)
            if (fabs(a[r][c]) > fabs(a[best][c]))
                best = r;
        if (fabs(a[best][c]) < 1e-9)
            return FALSE;
        for (int k = 0; k <= N; k++) {
            const double swap = a[c][k];
            a[c][k] = a[best][k];
            a[best][k] = swap;
        }
        for (int r = 0; r < N; r++) {
            const double f = r == c ? 0 : a[r][c] / a[c][c];
            for (int k = c; k <= N; k++)
                a[r][k] -= f * a[c][k];
        }
    }
    for (int c = 0; c < N; c++)
        a[c][N] /= a[c][c];
    return TRUE;
}

/* The equation of one vernier, read at k, in the unknowns u, v, t and e. */
static gboolean equation(const DtTestSheet *s, const DtAsk *ask, double k, int shift,
                         const double scale[2], double row[N + 1])
{
    DtPoint first, second;
    if (!dt_eye_ticks(s, ask, k, shift, &first, &second))
        return FALSE;
    memset(row, 0, (N + 1) * sizeof *row);
    const double sx = scale[0], sy = scale[1];
    if (ask->axis == 0) {
        row[0] = 1;
        row[2] = -sx * first.x;
        row[3] = -sy * second.y;
        row[4] = sx * second.x + sy * first.y;
    } else {
        row[1] = 1;
        row[2] = -sy * first.y;
        row[3] = sy * first.y;
        row[4] = sy * second.y - sx * first.x;
    }
    return TRUE;
}

/* The four readings. */
typedef struct {
    const DtTestSheet *s;
    const DtAsk *asks[N];
    double k[N], sd[N];
    int shift[N];
} Readings;

static gboolean solve(const Readings *r, const double k[N], const double scale[2], double *square,
                      double *turn)
{
    double a[N][N + 1];
    for (int i = 0; i < N; i++)
        if (!equation(r->s, r->asks[i], k[i], r->shift[i], scale, a[i]))
            return FALSE;
    if (!eliminate(a))
        return FALSE;
    *turn = a[2][N];
    *square = a[3][N];
    return TRUE;
}

/* By how much the result changes with each reading and scale, times its uncertainty, squared and added
 * (GUM, 5.1.2). */
static double variance(const Readings *r, const double scale[2], const double scale_sd[2],
                       double square)
{
    double sum = 0, moved, turn;
    for (int i = 0; i < N; i++) {
        double near[N];
        memcpy(near, r->k, sizeof near);
        const double step = r->k[i] > 0 ? -0.01 : 0.01;
        near[i] += step;
        if (solve(r, near, scale, &moved, &turn))
            sum += pow((moved - square) / step * r->sd[i], 2);
    }
    for (int i = 0; i < 2; i++) {
        const double step = 1e-5;
        double near[2] = {scale[0], scale[1]};
        near[i] += step;
        if (solve(r, r->k, near, &moved, &turn))
            sum += pow((moved - square) / step * scale_sd[i], 2);
    }
    return sum;
}

/* By how many numbers of a vernier a place off by so much displaces its reading. */
static double numbers_of(const DtTestSheet *s, const DtAsk *a, double k, int shift, double mm)
{
    DtPoint main, vernier, next_main, next;
    const double to = k + 1 <= a->most ? k + 1 : k - 1;
    if (!dt_eye_ticks(s, a, k, shift, &main, &vernier) ||
        !dt_eye_ticks(s, a, to, shift, &next_main, &next))
        return 0;
    /* the combs may lie along different axes */
    const double least_mm =
        fabs(dt_point_distance(main, next_main) - dt_point_distance(vernier, next));
    return least_mm > 0 ? mm / least_mm : 0;
}

gboolean dt_eye_solve_square(const DtTestSheet *s, const DtEyeReadings *r, const double scale[2],
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out)
{
    static const double scales_known[2] = {0, 0};
    Readings q = {.s = s};
    double turn;
    int n = 0;
    for (size_t i = 0; i < r->n && n < N; i++)
        if (r->asks[i].part == DT_SHEET_SQUARE && r->answers[i].n > 0) {
            q.asks[n] = &r->asks[i];
            q.k[n] = r->answers[i].value;
            q.sd[n] = r->answers[i].sd;
            q.shift[n++] = r->answers[i].shift;
        }
    if (n < N || !solve(&q, q.k, scale, &out->square, &turn))
        return FALSE;
    out->sd = sqrt(variance(&q, scale, scale_sd, out->square));
    for (int i = 0; i < N; i++) /* the figure is drawn twice, on either axis */
        q.sd[i] = M_SQRT2 * numbers_of(s, q.asks[i], q.k[i], q.shift[i], unseen_mm);
    out->unseen_sd = sqrt(variance(&q, scale, scales_known, out->square));
    out->turn = turn;
    return TRUE;
}
