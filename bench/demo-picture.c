/* demo-picture: artwork, uncorrected ink and corrected ink side by side. */
#include "demo.h"
#include "drawtrue/proof.h"

static const DtColour plan_colour = {0.0, 0.45, 1.0, 1.0};

/* The landed ink of each pen, and the planned outlines to lay over it. */
typedef struct {
    DtLines *lines; /* one for each pen, then the plan */
    DtProofLayer *layers;
    size_t n_pens;
} Layers;

static void add_plan(DtLines *to, const DtStrokes *s)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->strokes[i].kind != DT_INK_FILL)
            dt_lines_append(to, s->pts + s->strokes[i].first, s->strokes[i].n,
                            s->strokes[i].closed);
}

static void layers_init(Layers *l, const DtProfile *p, const WitnessInk *landed,
                        const DtStrokes *planned)
{
    const size_t n = l->n_pens = p->rack.n;
    l->lines = g_new(DtLines, n + 1);
    l->layers = g_new(DtProofLayer, n + 1);
    for (size_t i = 0; i <= n; i++) {
        const DtPen *pen = &p->rack.pens[i % n];
        dt_lines_init(&l->lines[i]);
        l->layers[i] = i < n ? (DtProofLayer){&l->lines[i], pen->colour, pen->tip}
                             : (DtProofLayer){&l->lines[i], plan_colour, 0};
    }
    for (guint i = 0; i < landed->lines->len; i++) {
        const WitnessLine *line = &g_array_index(landed->lines, WitnessLine, i);
        dt_lines_append(&l->lines[line->pen], &g_array_index(landed->pts, DtPoint, line->first),
                        line->n, FALSE);
    }
    add_plan(&l->lines[n], planned);
}

static void layers_clear(Layers *l)
{
    for (size_t i = 0; i <= l->n_pens; i++)
        dt_lines_clear(&l->lines[i]);
    g_free(l->lines);
    g_free(l->layers);
}

static char *figures_of(const Verdict *v)
{
    return g_strdup_printf("ink error %.2f mm for 95 of 100 samples, at most %.2f mm\n"
                           "covered area agrees to %.1f %%",
                           v->error.p95, v->error.max, 100 * v->coverage.iou);
}

gboolean demo_picture(const DtProfile *p, const DtJob *job, const DemoRun *trued,
                      const DemoRun *plain, DtBox detail, const char *path, int width_px,
                      GError **error)
{
    Layers without, with;
    layers_init(&without, p, &plain->landed, &job->strokes);
    layers_init(&with, p, &trued->landed, &job->strokes);
    const DtBox sheet = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                         p->paper_at.y + p->paper_h};
    const size_t n = p->rack.n;
    g_autofree char *plain_figures = figures_of(&plain->verdict);
    g_autofree char *trued_figures = figures_of(&trued->verdict);
    const DtProofPanel panels[] = {
        {.title = "the drawing",
         .figures = "as the artist made it\n ",
         .view = sheet,
         .drawing = job->drawing,
         .marks = &detail,
         .n_marks = 1},
        {.title = "ink without corrections",
         .figures = plain_figures,
         .view = sheet,
         .layers = without.layers,
         .n_layers = n,
         .marks = &detail,
         .n_marks = 1},
        {.title = "ink with corrections",
         .figures = trued_figures,
         .view = sheet,
         .layers = with.layers,
         .n_layers = n,
         .marks = &detail,
         .n_marks = 1},
        {.view = detail, .drawing = job->drawing},
        {.view = detail, .layers = without.layers, .n_layers = n + 1},
        {.view = detail, .layers = with.layers, .n_layers = n},
    };
    const DtProofSheet all = {
        .title = "The same drawing on the same home-made machine",
        .figures =
            "Below, the framed part magnified. Thin blue lines: where the pen was meant to go.",
        .profile = p,
        .panels = panels,
        .n_panels = G_N_ELEMENTS(panels),
        .columns = 3,
    };
    const gboolean ok = dt_proof_write_sheet(&all, path, width_px, error);
    layers_clear(&without);
    layers_clear(&with);
    return ok;
}
