/* tiles: large artwork over several sheets: a program for each, one picture of all. */
#include "cli/planning.h"
#include "cli/print.h"

#include <string.h>

/* "map.nc" becomes "map-3.nc". */
static char *numbered(const char *output, size_t number)
{
    const char *name = strrchr(output, G_DIR_SEPARATOR);
    const char *dot = strrchr(name ? name : output, '.');
    int stem = dot ? (int)(dot - output) : (int)strlen(output);
    return g_strdup_printf("%.*s-%zu%s", stem, output, number, dot ? dot : "");
}

gboolean dt_cli_write_sheets(const DtPlanInput *in, const DtJobSheets *sheets,
                             const DtReportTrueness *trueness, const char *art_path,
                             const char *output, gboolean force, gboolean json, GError **error)
{
    g_autoptr(GPtrArray) files = g_ptr_array_new_with_free_func(g_free);
    for (size_t i = 0; i < sheets->n; i++) {
        g_ptr_array_add(files, numbered(output, i + 1));
        if (!dt_cli_claim_output(files->pdata[i], DT_FILE_PROGRAM, art_path, in->profile, force,
                                 error))
            return FALSE;
    }
    for (size_t i = 0; i < sheets->n; i++)
        if (!dt_cli_write_program(in, &sheets->sheets[i].job.moves, files->pdata[i], error))
            return FALSE;
    g_autofree char *report =
        dt_report_sheets(in->profile, sheets, trueness, art_path, TRUE,
                         (const char *const *)(const void *)files->pdata, json);
    dt_cli_print_report(report, json);
    dt_cli_note_plan(in, &sheets->colours, art_path);
    return TRUE;
}

/* Panels in the order of the sheets; a blank sheet gets a panel without ink, so that the picture
 * is laid out like the sheets. */
static void fill_panels(const DtProfile *p, const DtJobSheets *sheets, DtProofPanel *panels)
{
    DtBox paper = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
    for (unsigned i = 0; i < sheets->columns * sheets->rows; i++)
        panels[i] = (DtProofPanel){.title = _("bare"), .view = dt_box_grow(paper, 2)};
    for (size_t i = 0; i < sheets->n; i++) {
        const DtJobSheet *s = &sheets->sheets[i];
        DtProofPanel *panel = &panels[(s->row - 1) * sheets->columns + s->column - 1];
        panel->title = g_strdup_printf(_("sheet %zu"), i + 1);
        panel->figures = dt_report_sheet_figures(&s->job.times);
        panel->sequence = &s->job.sequence;
    }
}

gboolean dt_cli_prove_sheets(const DtProfile *p, const DtJobSheets *sheets,
                             const DtReportTrueness *trueness, const char *art_path,
                             const char *output, int width_px, gboolean json, GError **error)
{
    g_autofree char *title = g_path_get_basename(art_path);
    size_t n = (size_t)sheets->columns * sheets->rows;
    g_autofree DtProofPanel *panels = g_new0(DtProofPanel, n);
    fill_panels(p, sheets, panels);
    DtProofSheet picture = {.title = title,
                            .figures = _("Align the sheets by their crosses."),
                            .profile = p,
                            .panels = panels,
                            .n_panels = n,
                            .columns = sheets->columns};
    gboolean good = dt_proof_write_sheet(&picture, output, width_px, error);
    for (size_t i = 0; i < n; i++)
        if (panels[i].sequence) {
            g_free((char *)(uintptr_t)panels[i].title);
            g_free((char *)(uintptr_t)panels[i].figures);
        }
    if (!good)
        return FALSE;
    g_autofree char *report = dt_report_sheets(p, sheets, trueness, art_path, FALSE, &output, json);
    dt_cli_print_report(report, json);
    return TRUE;
}
