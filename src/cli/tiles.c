/* tiles: large art over several sheets: a program for each, one picture of all. */
#include "drawtrue/proof.h"
#include "drawtrue/json.h"
#include "cli/planning.h"

#include <string.h>

/* "map.nc" becomes "map-3.nc". */
static char *numbered(const char *output, size_t number)
{
    const char *name = strrchr(output, G_DIR_SEPARATOR);
    const char *dot = strrchr(name ? name : output, '.');
    int stem = dot ? (int)(dot - output) : (int)strlen(output);
    return g_strdup_printf("%.*s-%zu%s", stem, output, number, dot ? dot : "");
}

/* Reports ----------------------------------------------------------------------------------- */

/* `files` holds the programs' names, or the picture's. */
static void report_json(const DtProfile *p, const DtJobSheets *s, const char *art_path,
                        gboolean programs, GPtrArray *files)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "art", art_path);
    dt_json_text(b, "machine", p->name);
    dt_json_text(b, "paper", p->paper_name);
    dt_json_count(b, "columns", s->columns);
    dt_json_count(b, "rows", s->rows);
    if (!programs)
        dt_json_text(b, "picture", files->pdata[0]);
    json_builder_set_member_name(b, "sheets");
    json_builder_begin_array(b);
    for (size_t i = 0; i < s->n; i++) {
        const DtTimes *t = &s->sheets[i].job.times;
        json_builder_begin_object(b);
        if (programs)
            dt_json_text(b, "program", files->pdata[i]);
        dt_json_count(b, "column", s->sheets[i].column);
        dt_json_count(b, "row", s->sheets[i].row);
        dt_json_number(b, "time_s", t->total_s);
        dt_json_number(b, "ink_mm", t->ink_mm);
        dt_json_number(b, "travel_mm", t->travel_mm);
        dt_json_count(b, "lifts", t->lifts);
        dt_json_count(b, "pen_changes", t->changes);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    dt_cli_add_colours(b, p, &s->colours);
    dt_cli_add_notes(b, s->drawing, art_path);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    puts(text);
}

static char *figures(const DtTimes *t)
{
    g_autofree char *time = dt_base_duration(t->total_s);
    return g_strdup_printf("time %s, ink %.2f m, %zu lifts, %zu pen change%s", time,
                           t->ink_mm / 1000, t->lifts, t->changes, t->changes == 1 ? "" : "s");
}

static void report_text(const DtProfile *p, const DtJobSheets *s, const char *art_path,
                        gboolean programs, GPtrArray *files)
{
    (void)programs;
    printf("%s on %u by %u sheets of %s (%s)\n", art_path, s->columns, s->rows, p->paper_name,
           p->name);
    for (size_t i = 0; i < s->n; i++) {
        const DtJobSheet *sheet = &s->sheets[i];
        g_autofree char *text = figures(&sheet->job.times);
        printf("  sheet %zu (column %u, row %u from above): %s\n", i + 1, sheet->column, sheet->row,
               text);
    }
    g_autofree char *colours = dt_cli_colours(p, &s->colours);
    fputs(colours, stdout);
    g_autofree char *notes = dt_cli_notes(s->drawing, art_path);
    fputs(notes, stdout);
    for (guint i = 0; i < files->len; i++)
        printf("  written to %s\n", (const char *)files->pdata[i]);
    puts("  lay the sheets on one another so that their crosses meet");
}

/*  ------------------------------------------------------------------------------------------ */

gboolean dt_cli_write_sheets(const DtProfile *p, const DtJobSheets *sheets, const char *art_path,
                             const char *output, gboolean json, GError **error)
{
    g_autoptr(GPtrArray) files = g_ptr_array_new_with_free_func(g_free);
    for (size_t i = 0; i < sheets->n; i++) {
        char *path = numbered(output, i + 1);
        g_ptr_array_add(files, path);
        if (!dt_job_write_program(p, &sheets->sheets[i].job.moves, path, NULL, error))
            return FALSE;
    }
    (json ? report_json : report_text)(p, sheets, art_path, TRUE, files);
    return TRUE;
}

/* Panels in the order of the sheets; a bare sheet among them has a panel without ink, so that the
 * picture is laid out as the sheets will be. */
static void fill_panels(const DtProfile *p, const DtJobSheets *sheets, DtProofPanel *panels)
{
    DtBox paper = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
    for (unsigned i = 0; i < sheets->columns * sheets->rows; i++)
        panels[i] = (DtProofPanel){.title = "bare", .view = dt_box_grow(paper, 2)};
    for (size_t i = 0; i < sheets->n; i++) {
        const DtJobSheet *s = &sheets->sheets[i];
        DtProofPanel *panel = &panels[(s->row - 1) * sheets->columns + s->column - 1];
        panel->title = g_strdup_printf("sheet %zu", i + 1);
        panel->figures = figures(&s->job.times);
        panel->sequence = &s->job.sequence;
    }
}

gboolean dt_cli_prove_sheets(const DtProfile *p, const DtJobSheets *sheets, const char *art_path,
                             const char *output, int width_px, gboolean json, GError **error)
{
    g_autofree char *title = g_path_get_basename(art_path);
    size_t n = (size_t)sheets->columns * sheets->rows;
    g_autofree DtProofPanel *panels = g_new0(DtProofPanel, n);
    fill_panels(p, sheets, panels);
    DtProofSheet picture = {.title = title,
                            .figures = "Lay the sheets on one another so that their crosses meet.",
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
    g_autoptr(GPtrArray) files = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(files, g_strdup(output));
    (json ? report_json : report_text)(p, sheets, art_path, FALSE, files);
    return TRUE;
}
