/* eye-twist: by how much the carriage of an axis shifts when the other axis turns round, from the verniers whose
 * combs were drawn across in opposite ways.
 *
 * A tick commanded at c and drawn with the other axis going towards - stands at s c - T / 2, towards + at
 * s c + T / 2, with the scale s and the twist T. Where one of either comb line up, T = s (c - c'). */
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"

#include <math.h>

void dt_eye_solve_twist(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r, int axis,
                        DtEyeTwist *out)
{
    double square = 0;
    *out = (DtEyeTwist){0};
    for (size_t i = 0; i < r->n && out->n < DT_EYE_TWISTS; i++) {
        const DtAsk *a = &r->asks[i];
        if (a->part == DT_SHEET_SLACK && a->row >= DT_SLACK_TWIST_ROW && a->axis == axis &&
            r->answers[i].n > 0 &&
            dt_eye_apart(s, a, &r->answers[i], p->scale[axis], &out->at[out->n], &out->mm[out->n],
                         &out->sd[out->n]))
            out->n++;
    }
    for (int i = 0; i < out->n; i++)
        square += pow((out->mm[i] - dt_table_at(&p->twist[axis], out->at[i])) / out->sd[i], 2);
    out->twists = out->n > 0 && square > dt_eye_chi_square_95(out->n);
}
