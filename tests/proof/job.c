/* A job of three pens for the tests of proof. */
#include "job.h"

#include <math.h>

void job_add_spiral(DtSequence *s, unsigned pen, DtPoint at, double radius)
{
    dt_sequence_begin(s, pen, s->n);
    for (int i = 0; i <= 200; i++) {
        double a = i * 0.2, r = radius * i / 200;
        dt_sequence_point(s, dt_point(at.x + r * cos(a), at.y + r * sin(a)));
    }
}

void job_add_hatch(DtSequence *s, unsigned pen, DtBox b)
{
    for (double y = b.y0; y < b.y1; y += 1) {
        dt_sequence_begin(s, pen, s->n);
        dt_sequence_point(s, dt_point(b.x0, y));
        dt_sequence_point(s, dt_point(b.x1, y));
    }
}

void job_make(Job *j)
{
    j->p = dt_profile_new();
    j->p->ink_tolerance = 0; /* its lengths are held against those that were asked for */
    dt_sequence_init(&j->s);
    dt_moves_init(&j->m);
    job_add_spiral(&j->s, 0, dt_point(60, 70), 40);
    job_add_spiral(&j->s, 0, dt_point(150, 100), 25);
    job_add_hatch(&j->s, 1, (DtBox){120, 30, 180, 60});
    job_add_spiral(&j->s, 2, dt_point(105, 74), 18);
    g_assert_true(dt_machine_moves(j->p, &j->s, &j->m, NULL));
    dt_machine_time(j->p, &j->m, TRUE, &j->t);
}

void job_clear(Job *j)
{
    dt_profile_free(j->p);
    dt_sequence_clear(&j->s);
    dt_moves_clear(&j->m);
    dt_times_clear(&j->t);
}
