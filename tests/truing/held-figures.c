/* held-figures: see held-figures.h. */
#include "held-figures.h"

void held_say_figures(GString *out, const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        g_string_append_printf(out, "  %s %d pen %d at %.1f: ", dt_error_word(g->kind), g->axis,
                               g->pen, g->at);
        if (!g->known)
            g_string_append(out, "unknown\n");
        else
            g_string_append_printf(out, "%.5f (%.5f), %.4f (%.5f), gain %.3f%s\n", g->value, g->sd,
                                   g->value_2, g->sd_2, g->gain_mm,
                                   g->proposed ? ", proposed" : "");
    }
    g_string_append_printf(out, "  ink %.3f, then %.3f mm\n", f->ink_before_mm, f->ink_after_mm);
    g_auto(GStrv) notes = g_strsplit(f->notes ? f->notes : "", "\n", -1);
    for (char **note = notes; *note; note++)
        if (**note)
            g_string_append_printf(out, "  note: %s\n", *note);
}

void held_say_changes(GString *out, const DtProfile *p, const DtTestSheet *s, const DtFigures *f)
{
    size_t n;
    DtProfileChange *c = dt_truing_changes(p, s, f, &n);
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(out, "  [%s] %s = %s\n", c[i].section, c[i].key, c[i].value);
    dt_truing_free_changes(c, n);
    g_autofree DtSuspect *suspects = dt_truing_diagnose(p, f, &n);
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(out, "  suspect %s, axis %d, %.3f mm (%.3f)%s: %s; %s\n",
                               dt_part_word(suspects[i].part), suspects[i].axis, suspects[i].ink_mm,
                               suspects[i].sd_mm, suspects[i].corrected ? ", corrected" : "",
                               dt_part_title(suspects[i].part), dt_part_repair(suspects[i].part));
}
