/* across: tones that change across the lines of a hatch only, in lines whose spaces change as the tone does. */
#include "ink/fill/steps.h"

#include "drawtrue/work.h"
#include "ink/fill/fit.h"
#include "ink/fill/trails.h"

#include <math.h>

/* Lines are turned by no more than this. */
#define MOST_TURN (G_PI / 7)
/* The direction without change is the same everywhere from this coherence on. */
#define COHERENT 0.98
/* Rows on which a line may lie: so many to a tip, and no more in all. */
#define ROWS_PER_TIP 16
#define MOST_ROWS 100000.0
/* Where the rows could cross the edge more often than this the area is hatched in steps instead. */
#define MOST_CROSSINGS 5000000.0
/* The tone along a row is looked at this often, in tips. */
#define PLACE_TIPS 4.0
/* Bands of more lines than this would be too wide. */
enum { MOST_IN_BAND = 7 };

static double apart(double a, double b)
{
    const double d = fabs(fmod(a - b, G_PI));
    return MIN(d, G_PI - d);
}

gboolean dt_fill_changes_across(const DtLines *inset, const DtFillStyle *f, double angle,
                                const DtToneChange *c)
{
    return c->coherence >= COHERENT && apart(c->along, angle) <= MOST_TURN &&
           dt_lines_total_length(inset) * ROWS_PER_TIP <= MOST_CROSSINGS * f->tip;
}

/* The intervals of one row are from[row] to from[row + 1]. */
typedef struct {
    const DtFillStyle *f;
    DtHatching h;
    int32_t first; /* line of the first row */
    size_t rows;
    size_t *from;
    double *tone; /* mean of each row; of an empty one, -1 */
    double wide;
    GArray *runs;
    int hatch;
} Rows;

static void find_rows(Rows *r)
{
    r->first = r->h.c[0].line;
    r->rows = (size_t)(r->h.c[2 * r->h.n - 2].line - r->first) + 1;
    r->from = g_new(size_t, r->rows + 1);
    size_t i = 0;
    for (size_t row = 0; row <= r->rows; row++) {
        while (i < r->h.n && r->h.c[2 * i].line < r->first + (int64_t)row)
            i++;
        r->from[row] = i;
    }
}

static double tone_of_row(const Rows *r, size_t row)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = r->from[row]; i < r->from[row + 1]; i++) {
        const double u0 = r->h.c[2 * i].u, length = r->h.c[2 * i + 1].u - u0;
        const size_t m = (size_t)MAX(ceil(length / (PLACE_TIPS * r->f->tip)), 1);
        for (size_t k = 0; k < m; k++, n++) {
            DtCrossing c = r->h.c[2 * i];
            c.u = u0 + length * ((double)k + 0.5) / (double)m;
            sum += CLAMP(r->f->tone(dt_hatch_point(&r->h, &c), r->f->tone_user), 0, 1);
        }
    }
    return n > 0 ? sum / (double)n : -1;
}

static void add_line(Rows *r, size_t row, int64_t line)
{
    for (size_t i = r->from[row]; i < r->from[row + 1]; i++) {
        const DtPoint p = dt_hatch_point(&r->h, &r->h.c[2 * i]);
        const double k = cos(r->h.grid.angle), s = sin(r->h.grid.angle);
        const DtTrailRun run = {.hatch = r->hatch,
                                .line = line,
                                .u = {r->h.c[2 * i].u, r->h.c[2 * i + 1].u},
                                .v = p.y * k - p.x * s,
                                .pitch = r->wide};
        g_array_append_val(r->runs, run);
    }
}

/* The rows from `begin` to `end` - 1 have n lines side by side in their middle. */
static void add_band(Rows *r, size_t begin, size_t end, unsigned n, int64_t *line)
{
    const double middle = (double)(begin + end - 1) / 2, per_line = r->wide / r->h.grid.pitch;
    for (unsigned k = 0; k < n; k++) {
        const double at = middle + ((double)k - (n - 1) / 2.0) * per_line;
        add_line(r, (size_t)CLAMP(lround(at), (long)begin, (long)end - 1), (*line)++);
    }
}

/* Row after row owes its share of ink, until it is that of a line, or of a band of lines where the tone is dark. */
static void space_lines(Rows *r)
{
    const double step = r->h.grid.pitch;
    double owed = 0;
    int64_t line = 0;
    size_t begin = 0;
    unsigned n = 0;
    for (size_t row = 0; row < r->rows; row++) {
        if (r->tone[row] < 0) { /* there is nothing: the next line joins none before it */
            owed = 0;
            n = 0;
            begin = row + 1;
            line++;
            continue;
        }
        if (n == 0)
            n = MIN(dt_fill_lines_in_band(r->tone[row]), MOST_IN_BAND);
        owed += r->tone[row] * step;
        if (owed < n * r->wide)
            continue;
        add_band(r, begin, row + 1, n, &line);
        owed -= n * r->wide;
        begin = row + 1;
        n = 0;
    }
}

static void draw_rows(const DtHatching *h, const DtLines *piece, void *user)
{
    Rows *r = user;
    dt_fill_enter_piece(r->f, piece);
    r->hatch++;
    if (h->n == 0)
        return;
    r->h = *h;
    find_rows(r);
    r->tone = g_new(double, r->rows);
    for (size_t row = 0; row < r->rows && !dt_work_stopped(); row++)
        r->tone[row] = tone_of_row(r, row);
    if (!dt_work_stopped())
        space_lines(r);
    g_free(r->from);
    g_free(r->tone);
}

gboolean dt_fill_tone_across(const DtLines *inset, const DtFillStyle *f, const DtToneChange *change,
                             DtLines *out, GError **error)
{
    const DtBox b = dt_lines_box(inset);
    const double most = hypot(dt_box_width(b), dt_box_height(b)),
                 step = MAX(f->tip / ROWS_PER_TIP, most / MOST_ROWS);
    g_autoptr(GArray) runs = g_array_new(FALSE, FALSE, sizeof(DtTrailRun));
    Rows r = {.f = f, .wide = f->tip * MAX(f->spread, 1), .runs = runs};
    if (!dt_hatch_pieces(inset, (DtHatchGrid){change->along, step, 0}, DT_HATCH_SINGLE,
                         DT_FIT_SHEET, draw_rows, &r, error))
        return FALSE;
    dt_trails_draw(runs, inset, change->along, f->tip, dt_fill_joins_runs(f), out);
    return TRUE;
}
