/* correct-program: applies the corrections of the profile to a program that lacks them. Its
 * coordinates are the places where the ink should land. */
#include "drawtrue/job.h"

static void trace(const DtMoves *m, DtSequence *s)
{
    DtPoint at = {0, 0};
    gboolean down = FALSE;
    for (size_t i = 0; i < m->n; i++) {
        const DtMove *v = &m->m[i];
        if (v->kind == DT_MOVE_PEN_DOWN) {
            dt_sequence_begin(s, v->pen, v->polyline);
            dt_sequence_point(s, at); /* enough for a dot */
        }
        down = v->kind == DT_MOVE_PEN_DOWN || (down && v->kind == DT_MOVE_DRAW);
        if (v->kind == DT_MOVE_DRAW && down && dt_point_distance(at, v->to) > 1e-6)
            dt_sequence_point(s, v->to);
        at = v->to;
    }
}

gboolean dt_job_has_corrections(const DtProfile *p)
{
    gboolean has = p->square != 0;
    for (int i = 0; i < 2; i++) {
        has |= p->scale[i] != 1 || p->pulley_error[i] != 0;
        for (size_t k = 0; k < p->position[i].n; k++)
            has |= p->position[i].value[k] != 0;
        for (size_t k = 0; k < p->straight[i].n; k++)
            has |= p->straight[i].value[k] != 0;
        for (size_t k = 0; k < p->backlash[i].n; k++)
            has |= p->backlash[i].value[k] != 0;
        for (size_t k = 0; k < p->twist[i].n; k++)
            has |= p->twist[i].value[k] != 0;
    }
    return has;
}

char *dt_job_correct_program(const DtProfile *p, const char *text, gsize len, gsize *out_len,
                             GError **error)
{
    DtInspection i;
    const DtHead head = dt_code_head(text);
    if (head == DT_HEAD_CORRECTED || head == DT_HEAD_UNCORRECTED) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            head == DT_HEAD_CORRECTED
                                ? _("the program was written with a machine's corrections; they "
                                    "would be applied twice")
                                : _("drawtrue planned the program without corrections; plan the "
                                    "drawing again without --no-corrections"));
        return NULL;
    }
    if (!dt_code_inspect_text(p, text, len, &i, error))
        return NULL;
    g_auto(DtSequence) s;
    g_auto(DtMoves) moves;
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    trace(&i.moves, &s);
    dt_inspection_clear(&i);
    return dt_machine_moves(p, &s, &moves, error) ? dt_code_write(p, &moves, out_len, error) : NULL;
}
