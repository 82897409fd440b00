/* eye-waits: the waits of the pen and the S of its drop, from the ladders of the settle sheet. */
#include "drawtrue/code.h"
#include "truing/eye/eye.h"
#include "truing/solve/solve.h"

#include <math.h>

/* How long an axis that starts takes for a distance that the eye just misses. */
static double unseen_s(const DtProfile *p, int axis)
{
    const double unseen_mm = 0.12, v = p->pull_in[axis], a = p->acceleration[axis];
    return (sqrt(v * v + 2 * a * unseen_mm) - v) / a;
}

static double wait_of(const DtTestSheet *s, int row, int place)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->part == DT_SHEET_SETTLE && m->kind == DT_MARK_DASH && m->row == row &&
            m->place == place)
            return MAX(row == 0 ? m->drop_s : m->lift_s, 0);
    }
    return NAN;
}

/* S of a dash of the third ladder. */
static double drop_word_of(const DtTestSheet *s, int place)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->part == DT_SHEET_SETTLE && m->kind == DT_MARK_DASH && m->row == 2 &&
            m->place == place)
            return m->drop_word;
    }
    return NAN;
}

/* The dash that was read begins in time as far as the eye can tell; the pen may need the
 * invisible rest more. */
static void solve_settle(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                         DtFigures *out)
{
    for (int row = 0; row < 2; row++) {
        double place, sd;
        if (!dt_eye_value(r, DT_SHEET_SETTLE, row, &place, &sd))
            continue;
        const double wait = wait_of(s, row, (int)ceil(place)),
                     has = row == 0 ? p->drop_s : p->lift_s;
        const double step = wait_of(s, row, 2) - wait_of(s, row, 1);
        DtFigure f = {.kind = row == 0 ? DT_ERROR_OF_DROP_TIME : DT_ERROR_OF_LIFT_TIME,
                      .axis = -1,
                      .pen = -1,
                      .at = NAN,
                      .known = TRUE,
                      .value = wait + unseen_s(p, row),
                      .sd = step / sqrt(12)};
        f.proposed = f.value > has || f.value < has - step;
        dt_figures_add(out, &f);
    }
}

/* The S of the first dash that was drawn completely, plus one step: pens wear, and paper is not
 * flat. If the profile's is larger by several steps the pen falls farther and is pressed harder
 * than necessary. */
static void solve_height(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                         DtFigures *out)
{
    enum { ROW = 2, MORE = 3 };
    double place, sd, has, least, most;
    if (!dt_eye_value(r, DT_SHEET_SETTLE, ROW, &place, &sd) ||
        !dt_code_drop_word(p, &has, &least, &most))
        return;
    const double word = drop_word_of(s, (int)ceil(place)),
                 step = drop_word_of(s, 1) - drop_word_of(s, 0);
    if (isnan(word) || !(step > 0))
        return;
    DtFigure f = {.kind = DT_ERROR_OF_DROP_WORD,
                  .axis = -1,
                  .pen = -1,
                  .at = NAN,
                  .known = TRUE,
                  .value = MIN(word + step, most),
                  .sd = step / sqrt(12)};
    f.proposed = f.value > has + step / 2 || f.value < has - MORE * step;
    dt_figures_add(out, &f);
    if (f.proposed)
        dt_figures_note(out, "from another height the pen takes another time to fall: draw the "
                             "settle sheet again");
}

void dt_eye_solve_waits(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out)
{
    solve_settle(p, s, r, out);
    solve_height(p, s, r, out);
}
