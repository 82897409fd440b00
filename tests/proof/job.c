/* A job of three pens for the tests of proof. */
#include "job.h"

#include <math.h>
#include <string.h>

/* fontconfig keeps what it found for the life of the process. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfontconfig\n";
}

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

void full_make(Full *f, gboolean order)
{
    static const char svg[] =
        "<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='20mm' viewBox='0 0 50 20'>"
        "<rect width='9' height='9'/><image href='no-such.png' width='10' height='10'/></svg>";
    *f = (Full){.tones = DT_INK_OPTIONS_DEFAULT,
                .one_way = {{100, 200}, {0.25, 0.1}, 1, 0.45},
                .look = {4.25, 2.75, 1.5}};
    job_make(&f->job);
    f->drawing = dt_art_read_data(svg, strlen(svg), "a.svg", &DT_ART_OPTIONS_DEFAULT, NULL);
    f->before = f->job.t;
    f->before.total_s *= 2;
    f->before.travel_s += f->job.t.total_s;
    f->before.at_s = NULL;
    f->in = (DtProofInput){.profile = f->job.p,
                           .drawing = f->drawing,
                           .moves = &f->job.m,
                           .times = &f->job.t,
                           .before_moves = &f->job.m,
                           .before = &f->before,
                           .one_way = &f->one_way,
                           .tones = &f->tones,
                           .look = order ? NULL : &f->look,
                           .order = order,
                           .title = "A title"};
}

void full_clear(Full *f)
{
    dt_drawing_free(f->drawing);
    job_clear(&f->job);
}
