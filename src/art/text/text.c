/* text: text elements. Characters, collected with their positions, are divided into pieces that
 * are shaped together, and set in chunks that are shifted by the anchor. */
#include "art/text/text.h"

#include <math.h>

/* Setting -------------------------------------------------------------------------------------- */

const ArtLetter *dt_art_text_letter(const ArtText *t, guint i)
{
    return &g_array_index(t->letters, ArtLetter, i);
}

/* Whether a letter of vertical text is upright: CSS Writing Modes 4, 5.1. */
static gboolean is_upright(const ArtText *t, guint i)
{
    const ArtLetter *l = dt_art_text_letter(t, i);
    const ArtStyle *s = &((const ArtSpan *)t->spans->pdata[l->span])->style;
    return s->vertical == ART_WRITING_DOWN && s->orientation != ART_ORIENTATION_SIDEWAYS &&
           (s->orientation == ART_ORIENTATION_UPRIGHT || g_unichar_iswide(l->c));
}

static gboolean starts_run(const ArtText *t, guint i)
{
    if (i == 0)
        return TRUE;
    const ArtLetter *l = dt_art_text_letter(t, i), *before = dt_art_text_letter(t, i - 1);
    return l->has != 0 || (before->has & ART_HAS_ROTATE) || l->span != before->span ||
           is_upright(t, i) || is_upright(t, i - 1) ||
           (t->levels && t->levels[i] != t->levels[i - 1]);
}

static GArray *cut(ArtText *t)
{
    GArray *runs = g_array_new(FALSE, FALSE, sizeof(ArtRun));
    for (guint i = 0; i < t->letters->len; i++) {
        if (starts_run(t, i)) {
            ArtRun run = {.first = i,
                          .span = t->spans->pdata[dt_art_text_letter(t, i)->span],
                          .level = t->levels ? t->levels[i] : -1,
                          .upright = is_upright(t, i)};
            g_array_append_val(runs, run);
        }
        g_array_index(runs, ArtRun, runs->len - 1).n++;
    }
    return runs;
}

static gboolean starts_chunk(const ArtText *t, const GArray *runs, guint i)
{
    const ArtRun *run = &g_array_index(runs, ArtRun, i);
    return i == 0 || (dt_art_text_letter(t, run->first)->has & (ART_HAS_X | ART_HAS_Y)) ||
           run->span->path != g_array_index(runs, ArtRun, i - 1).span->path;
}

double dt_art_text_baseline(const ArtStyle *s, const ArtPiece *p)
{
    int kind = s->alignment != ART_BASELINE_AUTO ? s->alignment : s->baseline;
    switch (kind) {
    case ART_BASELINE_MIDDLE:
        return p->x_height / 2;
    case ART_BASELINE_CENTRAL:
        return (p->ascent - p->descent) / 2;
    case ART_BASELINE_MATHEMATICAL:
        return p->ascent / 2;
    case ART_BASELINE_HANGING:
        return p->ascent * 0.8;
    case ART_BASELINE_BEFORE:
        return p->ascent;
    case ART_BASELINE_AFTER:
        return -p->descent;
    default:
        return 0;
    }
}

/* Shift of a chunk whose pen went from 0 to `width`; negative for right to left. */
static double anchor_shift(const ArtStyle *s, double width)
{
    return s->anchor == ART_ANCHOR_MIDDLE ? -width / 2 : s->anchor == ART_ANCHOR_END ? -width : 0;
}

/* Positions runs `from` to `to` of one chunk, starting at `pen`; returns the new pen position. */
static DtPoint place_chunk(ArtText *t, GArray *runs, guint from, guint to, DtPoint pen)
{
    DtPoint at = pen, start = pen;
    int writing = g_array_index(runs, ArtRun, from).span->style.vertical;
    gboolean down = writing != ART_WRITING_ACROSS, up = writing == ART_WRITING_SIDEWAYS_LR;
    for (guint i = from; i < to; i++) {
        ArtRun *run = &g_array_index(runs, ArtRun, i);
        const ArtLetter *l = dt_art_text_letter(t, run->first);
        if (l->has & ART_HAS_X)
            at.x = l->x;
        if (l->has & ART_HAS_Y)
            at.y = l->y;
        if (i == from && !t->fitted)
            start = at;
        const double stretch = i > from ? t->stretch : 1;
        at.x += l->has & ART_HAS_DX ? l->dx * (down ? 1 : stretch) : 0;
        at.y += l->has & ART_HAS_DY ? l->dy * (down ? stretch : 1) : 0;
        if (i == from && t->fitted)
            start = at; /* the length begins here */
        if (t->rtl && !down)
            at.x -= run->piece.width;
        run->at = at;
        if (down)
            at.y += up ? -run->piece.width : run->piece.width;
        else if (!t->rtl)
            at.x += run->piece.width;
    }
    if (t->levels && !down)
        dt_art_text_reorder(&g_array_index(runs, ArtRun, from), to - from, start.x, t->rtl);
    const ArtRun *head = &g_array_index(runs, ArtRun, from);
    double shift = anchor_shift(&head->span->style, down ? at.y - start.y : at.x - start.x);
    for (guint i = from; i < to; i++) {
        ArtRun *run = &g_array_index(runs, ArtRun, i);
        *(down ? &run->at.y : &run->at.x) += shift;
    }
    *(down ? &at.y : &at.x) += shift;
    return at;
}

static void place(ArtText *t, GArray *runs)
{
    DtPoint pen = {0, 0};
    for (guint i = 0; i < runs->len;) {
        guint end = i + 1;
        while (end < runs->len && !starts_chunk(t, runs, end))
            end++;
        pen = place_chunk(t, runs, i, end, pen);
        i = end;
    }
}

/* Emitting ------------------------------------------------------------------------------------- */

static void append_glyph(DtPath *to, const DtPath *glyph, DtAffine m)
{
    const DtPoint *p = glyph->pts;
    for (gsize i = 0; i < glyph->n_verb; i++) {
        switch ((DtPathVerb)glyph->verb[i]) {
        case DT_PATH_MOVE:
            dt_path_move(to, dt_affine_apply(m, *p++));
            break;
        case DT_PATH_LINE:
            dt_path_line(to, dt_affine_apply(m, *p++));
            break;
        case DT_PATH_CUBIC:
            dt_path_cubic(to, dt_affine_apply(m, p[0]), dt_affine_apply(m, p[1]),
                          dt_affine_apply(m, p[2]));
            p += 3;
            break;
        case DT_PATH_CLOSE:
            dt_path_close(to);
            break;
        }
    }
}

void dt_art_text_bar(DtPath *to, DtAffine m, double y, double width, double thickness)
{
    DtPoint c[4] = {{0, y}, {width, y}, {width, y + thickness}, {0, y + thickness}};
    for (int i = 0; i < 4; i++) {
        DtPoint p = dt_affine_apply(m, c[i]);
        if (i == 0)
            dt_path_move(to, p);
        else
            dt_path_line(to, p);
    }
    dt_path_close(to);
}

DtAffine dt_art_text_run_map(const ArtText *t, const ArtRun *run)
{
    const ArtStyle *s = &run->span->style;
    double lift = run->span->shift - dt_art_text_baseline(s, &run->piece);
    DtAffine m = dt_affine_translate(0, -lift);
    gboolean central = s->vertical == ART_WRITING_DOWN && s->orientation == ART_ORIENTATION_MIXED;
    if (run->upright)
        m = dt_affine_translate(-run->across / 2, run->piece.ascent);
    else if (s->vertical) /* lines run downwards, through the middle of the letters */
        m = dt_affine_then(
            dt_affine_translate(0, central ? (run->piece.ascent - run->piece.descent) / 2 : 0),
            dt_affine_rotate(s->vertical == ART_WRITING_SIDEWAYS_LR ? -G_PI_2 : G_PI_2));
    if (dt_art_text_letter(t, run->first)->has & ART_HAS_ROTATE)
        m = dt_affine_then(
            m, dt_affine_rotate(dt_art_text_letter(t, run->first)->rotate * G_PI / 180));
    return dt_affine_then(m, dt_affine_translate(run->at.x, run->at.y));
}

static void straight_path(const ArtText *t, const ArtRun *run, DtPath *out)
{
    DtAffine m = dt_art_text_run_map(t, run);
    double size = run->piece.size;
    for (guint i = 0; i < run->piece.glyphs->len; i++) {
        const ArtGlyph *g = &g_array_index(run->piece.glyphs, ArtGlyph, i);
        if (g->outline)
            append_glyph(out, g->outline,
                         dt_affine_then((DtAffine){size * t->stretch, 0, 0, size, g->x, g->y}, m));
    }
}

static double start_offset(const ArtText *t, const ArtNode *path, const ArtTrack *track)
{
    const char *text = dt_art_attr(path, ART_AT_START_OFFSET);
    ArtLength l;
    if (!text || !dt_art_length(text, &l))
        return 0;
    ArtStyle s;
    dt_art_style_in_place(t->r, path, &s);
    double unit = l.unit == ART_UNIT_PERCENT || l.unit == ART_UNIT_MATH ? 1 : track->unit;
    return dt_art_px_of(l, &s, track->length, &t->r->root) * unit;
}

/* Each glyph is centred on the track: 10.13.3. */
static void track_path(const ArtText *t, const ArtRun *run, const ArtTrack *track, DtPath *out)
{
    double size = run->piece.size;
    double start = start_offset(t, run->span->path, track) + run->at.x;
    double lift =
        run->span->shift - dt_art_text_baseline(&run->span->style, &run->piece) - run->at.y;
    for (guint i = 0; i < run->piece.glyphs->len; i++) {
        const ArtGlyph *g = &g_array_index(run->piece.glyphs, ArtGlyph, i);
        DtPoint at;
        double angle;
        if (!g->outline)
            continue;
        if (!dt_art_text_path_at(track, start + g->x + g->advance / 2, &at, &angle)) {
            dt_art_note(t->r, run->span->path,
                        "letters beyond the end of their path are left out, as in browsers");
            continue;
        }
        DtAffine m = {size, 0, 0, size, -g->advance / 2, g->y - lift};
        m = dt_affine_then(m, dt_affine_rotate(angle));
        append_glyph(out, g->outline, dt_affine_then(m, dt_affine_translate(at.x, at.y)));
    }
}

/* Whether the requested families begin with a generic one (CSS Fonts 4, 2.1.1), which any font
 * satisfies. */
static gboolean asks_for_any(const char *families)
{
    static const char *const generic[] = {"serif",   "sans-serif", "monospace", "cursive",
                                          "fantasy", "system-ui",  "math",      "emoji"};
    const gsize n = strcspn(families, ",");
    for (gsize i = 0; i < G_N_ELEMENTS(generic); i++)
        if (strlen(generic[i]) == n && g_ascii_strncasecmp(families, generic[i], n) == 0)
            return TRUE;
    return g_ascii_strncasecmp(families, "ui-", 3) == 0;
}

/* The font that draws the letters, if it is not the requested one. */
static void tell_font(ArtReader *r, const ArtRun *run)
{
    const char *asked = run->span->style.font_family, *family = run->piece.family;
    if (!family)
        return;
    if (asked == dt_art_no_family) {
        dt_art_note(r, run->span->node,
                    "no font is named: drawn in %s, where a browser may choose another", family);
        return;
    }
    g_autofree char *first = g_strndup(asked, strcspn(asked, ","));
    g_strdelimit(first, "\"'", ' ');
    g_strstrip(first);
    if (!asks_for_any(asked) && g_ascii_strcasecmp(first, family) != 0)
        dt_art_note(r, run->span->node, "the font %.60s is not installed: drawn in %s", first,
                    family);
}

static void tell_doubts(ArtReader *r, const ArtSpan *span, gboolean single_line)
{
    const ArtStyle *s = &span->style;
    int kind = s->alignment != ART_BASELINE_AUTO ? s->alignment : s->baseline;
    if (kind > ART_BASELINE_ALPHABETIC)
        dt_art_note(r, span->node,
                    "a baseline other than the alphabetic one is the font's own; "
                    "browsers round it, and know fewer");
    if (s->vertical)
        dt_art_note(r, span->node,
                    "vertical text is set by the font's own metrics; browsers round "
                    "them");
    if (s->size_adjust > 0)
        dt_art_note(r, span->node, "font-size-adjust is based on the x-height");
    if (!s->size_is_said && g_ascii_strcasecmp(s->font_family, "monospace") == 0)
        dt_art_note(r, span->node,
                    "a monospace text without a size in px or the like: browsers set it at 13/16 "
                    "of the size");
    if (s->small_caps && !single_line)
        dt_art_note(r, span->node, "small capitals are taken from the font, or made by Pango");
    if (s->font_stretch != 4)
        dt_art_note(r, span->node, "font-stretch takes the nearest width that is installed");
}

static void emit_run(ArtText *t, const ArtRun *run, const ArtScope *scope, const ArtTrack *track)
{
    ArtReader *r = t->r;
    ArtStyle s = run->span->style;
    if (s.hidden && r->mode != ART_MODE_BOX)
        return;
    tell_font(r, run);
    tell_doubts(r, run->span, run->piece.single_line);
    g_auto(DtPath) path = {0};
    if (run->span->path) {
        if (track)
            track_path(t, run, track, &path);
    } else if (r->mode == ART_MODE_BOX) { /* letters count with their whole cell: 7.11 */
        const ArtPiece *p = &run->piece;
        dt_art_text_bar(&path, dt_art_text_run_map(t, run), -p->ascent, p->width,
                        p->ascent + p->descent);
    } else {
        straight_path(t, run, &path);
    }
    dt_art_text_lines(t, run, scope, ART_UNDERLINE | ART_OVERLINE);
    if (run->piece.single_line)
        dt_art_single_line_style(&s, scope);
    s.fill_rule = DT_FILL_NONZERO;
    ArtScope in = *scope;
    in.style = &s;
    if (path.n_verb > 0)
        dt_art_emit_path(r, run->span->node, &in, &s, &path);
    dt_art_text_lines(t, run, scope, ART_LINE_THROUGH);
}

static void emit(ArtText *t, GArray *runs, const ArtScope *scope)
{
    const ArtNode *path = NULL;
    ArtTrack track = {.length = 0};
    gboolean has_track = FALSE;
    for (guint i = 0; i < runs->len; i++) {
        const ArtRun *run = &g_array_index(runs, ArtRun, i);
        if (run->span->path && run->span->path != path) {
            dt_art_text_path_clear(&track);
            path = run->span->path;
            has_track = dt_art_text_path_of(t->r, path, scope, &track);
            if (has_track)
                dt_art_note(t->r, path,
                            "letters on a path stand with their middles on it; browsers "
                            "round their places");
            if (!has_track)
                dt_art_note(t->r, path, "<textPath> has no path to follow: left out");
        }
        emit_run(t, run, scope, has_track && run->span->path ? &track : NULL);
    }
    dt_art_text_path_clear(&track);
}

static gboolean needs_box(const ArtText *t)
{
    for (guint i = 0; i < t->spans->len; i++) {
        const ArtSpan *s = t->spans->pdata[i];
        if (s->style.fill.kind == ART_PAINT_SERVER || s->style.stroke.kind == ART_PAINT_SERVER)
            return TRUE;
    }
    return FALSE;
}

static void shape_run(const ArtText *t, ArtRun *run, const ArtSpan *span)
{
    const ArtLetter *letters = dt_art_text_letter(t, run->first);
    const gboolean forced = run->level >= 0;
    if (!t->r->o.single_line_text ||
        !dt_art_shape_single_line(t->r, letters, run->n, span, forced, &run->piece))
        dt_art_shape_text(t->r, letters, run->n, span, forced, &run->piece);
}

static void shape_runs(ArtText *t, GArray *runs)
{
    for (guint i = 0; i < runs->len; i++) {
        ArtRun *run = &g_array_index(runs, ArtRun, i);
        ArtSpan span = *run->span;
        if (run->level >= 0)
            span.style.rtl = run->level % 2;
        shape_run(t, run, &span);
        if (run->upright) {
            run->across = run->piece.width;
            run->piece.width = run->piece.ascent + run->piece.descent;
        }
    }
}

/* By how much dx or dy moves a run on. */
static double moved_on(const ArtText *t, const ArtRun *run)
{
    const ArtLetter *l = dt_art_text_letter(t, run->first);
    if (run->span->style.vertical != ART_WRITING_ACROSS)
        return l->has & ART_HAS_DY ? l->dy : 0;
    return l->has & ART_HAS_DX ? l->dx : 0;
}

/* textLength: the letters are spaced, or they and their spaces stretched, to the length, which includes what dx or dy
 * moves those behind the first (10.5). */
static void fit_length(ArtText *t, GArray *runs, double wanted, gboolean stretch)
{
    double natural = 0;
    guint glyphs = 0;
    for (guint i = 0; i < runs->len; i++) {
        const ArtRun *run = &g_array_index(runs, ArtRun, i);
        natural += run->piece.width + (i > 0 ? moved_on(t, run) : 0);
        glyphs += run->piece.glyphs->len;
    }
    if (!(natural > 0 && wanted >= 0) || glyphs == 0)
        return;
    double spread = stretch || glyphs < 2 ? 0 : (wanted - natural) / (glyphs - 1);
    t->stretch = stretch ? wanted / natural : 1;
    t->fitted = TRUE;
    ArtPiece *last = NULL;
    for (guint i = 0; i < runs->len; i++) {
        ArtPiece *p = &g_array_index(runs, ArtRun, i).piece;
        last = p->glyphs->len > 0 ? p : last;
        for (guint k = 0; k < p->glyphs->len; k++) {
            ArtGlyph *g = &g_array_index(p->glyphs, ArtGlyph, k);
            g->x = g->x * t->stretch + spread * k;
            g->advance = g->advance * t->stretch + spread;
        }
        p->width = p->width * t->stretch + spread * p->glyphs->len;
    }
    last->width -= spread; /* the text ends with its last letter */
}

static void fit_text_length(ArtText *t, const ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                            GArray *runs)
{
    const char *text = dt_art_attr(n, ART_AT_TEXT_LENGTH),
               *how = dt_art_attr(n, ART_AT_LENGTH_ADJUST);
    ArtLength l;
    if (text && dt_art_length(text, &l))
        fit_length(t, runs, dt_art_px(l, s, scope, ART_ALONG_X, &t->r->root),
                   how && strcmp(how, "spacingAndGlyphs") == 0);
}

void dt_art_text(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s)
{
    ArtText t = {.r = r,
                 .letters = g_array_new(FALSE, FALSE, sizeof(ArtLetter)),
                 .spans = g_ptr_array_new_with_free_func(g_free),
                 .controls = g_array_new(FALSE, FALSE, sizeof(ArtControl)),
                 .space_before = TRUE,
                 .stretch = 1,
                 .decorator = s->decoration ? dt_art_text_decorator(r, s, NULL) : NULL,
                 .rtl = s->rtl};
    dt_art_text_gather(&t, n, s, scope, NULL, dt_art_text_shift(r, n, s, scope));
    dt_art_text_drop_space(&t);
    if (t.letters->len > ART_MAX_LETTERS) {
        dt_art_fail(r, n->line, "a text has more than %d letters", ART_MAX_LETTERS);
        g_array_set_size(t.letters, 0);
    }
    if (s->vertical == ART_WRITING_ACROSS)
        dt_art_text_find_levels(&t);
    GArray *runs = cut(&t);
    shape_runs(&t, runs);
    fit_text_length(&t, n, s, scope, runs);
    place(&t, runs);
    ArtScope in = *scope;
    DtBox box;
    if (r->mode == ART_MODE_PAINT && needs_box(&t)) {
        box = dt_art_node_box(r, n, scope);
        in.object_box = &box;
    }
    emit(&t, runs, &in);
    for (guint i = 0; i < runs->len; i++)
        dt_art_piece_clear(&g_array_index(runs, ArtRun, i).piece);
    g_array_free(runs, TRUE);
    g_array_free(t.letters, TRUE);
    g_array_free(t.controls, TRUE);
    g_free(t.levels);
    g_ptr_array_unref(t.spans);
}
