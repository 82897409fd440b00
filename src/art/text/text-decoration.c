/* text-decoration: lines under, over and through text. */
#include "art/text/text.h"

#include <math.h>

/* Where a stretch of a polyline lies within a band. */
static void cross_band(DtPoint a, DtPoint b, double y0, double y1, double *x0, double *x1)
{
    if (MAX(a.y, b.y) <= y0 || MIN(a.y, b.y) >= y1)
        return;
    const double dy = b.y - a.y;
    const double from = dy != 0 ? CLAMP((y0 - a.y) / dy, 0, 1) : 0;
    const double to = dy != 0 ? CLAMP((y1 - a.y) / dy, 0, 1) : 1;
    const double xa = a.x + from * (b.x - a.x), xb = a.x + to * (b.x - a.x);
    *x0 = MIN(*x0, MIN(xa, xb));
    *x1 = MAX(*x1, MAX(xa, xb));
}

/* Where a glyph crosses a band below the baseline: text-decoration-skip-ink. */
static gboolean crossing(const ArtGlyph *g, double size, double y0, double y1, double *x0,
                         double *x1)
{
    g_auto(DtLines) lines = {0};
    *x0 = G_MAXDOUBLE;
    *x1 = -G_MAXDOUBLE;
    if (!g->outline)
        return FALSE;
    dt_path_flatten(g->outline, (DtAffine){size, 0, 0, size, g->x, g->y}, size / 200, &lines);
    for (gsize i = 0; i < lines.n; i++) {
        const DtPoint *p = dt_lines_at(&lines, i);
        for (gsize k = 1; k < dt_lines_count(&lines, i); k++)
            cross_band(p[k - 1], p[k], y0, y1, x0, x1);
    }
    return *x0 <= *x1;
}

/* A bar of this thickness, or its middle where letters are lines too. */
static void add_bar(DtPath *to, const ArtRun *run, DtAffine m, DtPoint from, double width,
                    double thickness)
{
    if (!run->piece.single_line) {
        dt_art_text_bar(to, dt_affine_then(dt_affine_translate(from.x, 0), m), from.y, width,
                        thickness);
        return;
    }
    const double y = from.y + thickness / 2;
    dt_path_move(to, dt_affine_apply(m, dt_point(from.x, y)));
    dt_path_line(to, dt_affine_apply(m, dt_point(from.x + width, y)));
}

/* A line of constant thickness along the run, interrupted at letters that it would cross. */
static void add_line(DtPath *to, const ArtRun *run, DtAffine m, double y, double thickness,
                     gboolean skip)
{
    double from = 0, size = run->piece.size;
    for (guint i = 0; skip && i < run->piece.glyphs->len; i++) {
        double x0, x1;
        if (!crossing(&g_array_index(run->piece.glyphs, ArtGlyph, i), size, y, y + thickness, &x0,
                      &x1))
            continue;
        if (x0 - thickness > from)
            add_bar(to, run, m, dt_point(from, y), x0 - thickness - from, thickness);
        from = MAX(from, x1 + thickness);
    }
    if (run->piece.width > from)
        add_bar(to, run, m, dt_point(from, y), run->piece.width - from, thickness);
}

/* Positions and thickness as browsers choose them by default: a tenth of the font size, clear of
 * the baseline (from their pictures; CSS Text Decoration 4 leaves it open). */
static void add_decorations(ArtReader *r, DtPath *to, const ArtRun *run, const ArtStyle *s,
                            int kinds, DtAffine m)
{
    const ArtPiece *p = &run->piece;
    double t = MAX(s->font_size / 10, 1e-9), under;
    int d = s->decoration & kinds;
    if (s->decoration_thickness.given)
        t = dt_art_px_of(s->decoration_thickness.length, s, s->font_size, &r->root);
    under = MAX(1, ceil(t / 2));
    if (s->underline_offset.given)
        under = dt_art_px_of(s->underline_offset.length, s, s->font_size, &r->root);
    gboolean twice = s->decoration_style == ART_LINE_DOUBLE;
    if (d & ART_UNDERLINE)
        for (int i = 0; i <= twice; i++)
            add_line(to, run, m, under + 2 * i * t, t, TRUE);
    if (d & ART_OVERLINE)
        for (int i = 0; i <= twice; i++)
            add_line(to, run, m, -p->ascent - t - 2 * i * t, t, FALSE);
    if (d & ART_LINE_THROUGH)
        for (int i = 0; i <= twice; i++)
            add_line(to, run, m, -p->ascent / 3 - t / 2 + 2 * i * t, t, FALSE);
}

static void emit_decorator(ArtText *t, const ArtRun *run, const ArtScope *scope,
                           const ArtDecorator *d, int kinds)
{
    static const char *const styles[] = {
        [ART_LINE_DOTTED] = "dotted", [ART_LINE_DASHED] = "dashed", [ART_LINE_WAVY] = "wavy"};
    if (!d)
        return;
    emit_decorator(t, run, scope, d->outer, kinds);
    g_auto(DtPath) path = {0};
    ArtStyle s = *d->style;
    ArtScope in = *scope;
    if (s.decoration & ART_MISSPELT)
        dt_art_note(t->r, run->span->node, "a spelling mark is not drawn");
    if (s.decoration & kinds && s.decoration_style >= ART_LINE_DOTTED)
        dt_art_note(t->r, run->span->node, "a %s line of text is drawn solid",
                    styles[s.decoration_style]);
    if (s.decoration & kinds && s.decoration_style == ART_LINE_DOUBLE)
        dt_art_note(t->r, run->span->node,
                    "a double line of text: browsers choose its gap themselves");
    add_decorations(t->r, &path, run, &s, kinds, dt_art_text_run_map(t, run));
    if (path.n_verb == 0)
        return;
    if (s.decoration & ART_OVERLINE & kinds)
        dt_art_note(t->r, run->span->node,
                    "an overline is drawn at the font's height; browsers round it");
    if (s.underline_offset.given && s.decoration & ART_UNDERLINE & kinds)
        dt_art_note(t->r, run->span->node,
                    "text-underline-offset is drawn as CSS says; browsers differ in SVG");
    if (s.decoration_painted || !s.decoration_color.current) {
        dt_art_note(
            t->r, run->span->node,
            "text-decoration-color is drawn as CSS says; browsers paint the line as the text");
        s.fill = (ArtPaint){.kind = ART_PAINT_COLOUR,
                            .colour = dt_art_colour_of(&s.decoration_color, &s)};
        s.stroke.kind = ART_PAINT_NONE;
    }
    if (run->piece.single_line)
        dt_art_single_line_style(&s, scope);
    s.fill_rule = s.clip_rule = DT_FILL_NONZERO;
    in.style = &s;
    dt_art_emit_path(t->r, run->span->node, &in, &s, &path);
}

void dt_art_text_lines(ArtText *t, const ArtRun *run, const ArtScope *scope, int kinds)
{
    if (!run->span->decorator || t->r->mode == ART_MODE_BOX)
        return;
    if (run->span->path)
        dt_art_note(t->r, run->span->node, "a line of text along a path is not drawn");
    else
        emit_decorator(t, run, scope, run->span->decorator, kinds);
}
