/* glyph: letters as outlines. Pango chooses fonts, shapes and orders; cairo provides the
 * outlines. */
#include "art/text/text.h"

#include <pango/pangocairo.h>
#include <stdlib.h>

/* Text is shaped at this size and scaled, so that the resolution of Pango's units and of
 * FreeType's 26.6 fixed point does not show in small letters. */
#define EM 256.0

struct ArtShaper {
    PangoContext *context;
    cairo_t *cr;          /* of a surface of one pixel: for outlines */
    GHashTable *outlines; /* Key → DtPath * */
    GHashTable *units;    /* PangoFontDescription * → Units * */
};

/* What CSS measures by, in em. */
typedef struct {
    double ex, ch, cap, ic, line;
} Units;

typedef struct {
    PangoFont *font;
    PangoGlyph glyph;
} Key;

static guint key_hash(gconstpointer p)
{
    const Key *k = p;
    return g_direct_hash(k->font) * 31u + k->glyph;
}

static gboolean key_equal(gconstpointer a, gconstpointer b)
{
    const Key *p = a, *q = b;
    return p->font == q->font && p->glyph == q->glyph;
}

static void key_free(gpointer p)
{
    Key *k = p;
    g_object_unref(k->font);
    g_free(k);
}

static void path_free(gpointer p)
{
    dt_path_clear(p);
    g_free(p);
}

/* A separate font map for each thread, so that what is known about fonts is kept from one
 * drawing to the next. */
static GPrivate map_of_thread = G_PRIVATE_INIT(g_object_unref);

/* GLib frees thread-private data when threads end, but not that of the main thread. */
static void free_map_at_exit(void)
{
    g_private_replace(&map_of_thread, NULL);
}

static PangoFontMap *font_map(void)
{
    static gsize once;
    PangoFontMap *map = g_private_get(&map_of_thread);
    if (!map) {
        map = pango_cairo_font_map_new();
        g_private_set(&map_of_thread, map);
    }
    if (g_once_init_enter(&once)) {
        atexit(free_map_at_exit);
        g_once_init_leave(&once, 1);
    }
    return map;
}

ArtShaper *dt_art_shaper_of(ArtReader *r)
{
    if (r->shaper)
        return r->shaper;
    ArtShaper *s = r->shaper = g_new0(ArtShaper, 1);
    s->context = pango_font_map_create_context(font_map());
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    /* Nobody else requests this setting, on which outlines do not depend: cairo shares a face
     * among all users in the process that request the same, and whoever requests too large a
     * size spoils it for all. */
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_SUBPIXEL);
    cairo_font_options_set_subpixel_order(options, CAIRO_SUBPIXEL_ORDER_VBGR);
    pango_cairo_context_set_font_options(s->context, options);
    pango_cairo_context_set_resolution(s->context, 72);
    pango_context_set_round_glyph_positions(s->context, FALSE);
    cairo_font_options_destroy(options);
    cairo_surface_t *pixel = cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1);
    s->cr = cairo_create(pixel);
    cairo_surface_destroy(pixel);
    s->outlines = g_hash_table_new_full(key_hash, key_equal, key_free, path_free);
    s->units = g_hash_table_new_full((GHashFunc)pango_font_description_hash,
                                     (GEqualFunc)pango_font_description_equal,
                                     (GDestroyNotify)pango_font_description_free, g_free);
    return s;
}

void dt_art_shaper_free(ArtShaper *s)
{
    if (!s)
        return;
    g_hash_table_unref(s->outlines);
    g_hash_table_unref(s->units);
    cairo_destroy(s->cr);
    g_object_unref(s->context);
    g_free(s);
}

/* Outlines ------------------------------------------------------------------------------------- */

static DtPoint em_point(const cairo_path_data_t *d)
{
    return (DtPoint){d->point.x / EM, d->point.y / EM};
}

static DtPath *outline_from_cairo(cairo_t *cr)
{
    DtPath *out = g_new0(DtPath, 1);
    cairo_path_t *path = cairo_copy_path(cr);
    for (int i = 0; i < path->num_data; i += path->data[i].header.length) {
        const cairo_path_data_t *d = &path->data[i];
        switch (d->header.type) {
        case CAIRO_PATH_MOVE_TO: /* cairo ends with a single one */
            if (i + d->header.length < path->num_data)
                dt_path_move(out, em_point(d + 1));
            break;
        case CAIRO_PATH_LINE_TO:
            dt_path_line(out, em_point(d + 1));
            break;
        case CAIRO_PATH_CURVE_TO:
            dt_path_cubic(out, em_point(d + 1), em_point(d + 2), em_point(d + 3));
            break;
        case CAIRO_PATH_CLOSE_PATH:
            dt_path_close(out);
            break;
        }
    }
    cairo_path_destroy(path);
    return out;
}

/* cairo emits a move after each close; drawing continues from there only with the next part of
 * the glyph. */
static void drop_lone_moves(DtPath *p)
{
    gsize verbs = 0, points = 0, from = 0;
    for (gsize i = 0; i < p->n_verb; i++) {
        static const gsize counts[] = {1, 1, 3, 0};
        gsize n = counts[p->verb[i]];
        gboolean lone =
            p->verb[i] == DT_PATH_MOVE && (i + 1 == p->n_verb || p->verb[i + 1] == DT_PATH_MOVE);
        if (!lone) {
            p->verb[verbs++] = p->verb[i];
            memmove(p->pts + points, p->pts + from, n * sizeof *p->pts);
            points += n;
        }
        from += n;
    }
    p->n_verb = verbs;
    p->n_pts = points;
}

static const DtPath *outline_of(ArtShaper *s, PangoFont *font, PangoGlyph glyph)
{
    Key key = {font, glyph};
    DtPath *path = g_hash_table_lookup(s->outlines, &key);
    if (path)
        return path;
    cairo_scaled_font_t *scaled = pango_cairo_font_get_scaled_font(PANGO_CAIRO_FONT(font));
    cairo_new_path(s->cr);
    if (scaled) {
        cairo_set_scaled_font(s->cr, scaled);
        cairo_glyph_t g = {glyph, 0, 0};
        cairo_glyph_path(s->cr, &g, 1);
    }
    path = outline_from_cairo(s->cr);
    drop_lone_moves(path);
    Key *kept = g_new(Key, 1);
    *kept = (Key){g_object_ref(font), glyph};
    g_hash_table_insert(s->outlines, kept, path);
    return path;
}

/* Shaping -------------------------------------------------------------------------------------- */

/* "'Some Font', serif" as Pango writes it. */
static char *pango_families(const char *css)
{
    GString *out = g_string_new(NULL);
    for (const char *p = css; *p; p++)
        if (*p != '"' && *p != '\'')
            g_string_append_c(out, *p);
    return g_string_free(out, FALSE);
}

static PangoFontDescription *description_of(const ArtStyle *s)
{
    static const PangoStyle slants[] = {PANGO_STYLE_NORMAL, PANGO_STYLE_OBLIQUE,
                                        PANGO_STYLE_ITALIC};
    PangoFontDescription *d = pango_font_description_new();
    g_autofree char *families = pango_families(s->font_family);
    pango_font_description_set_family(d, families);
    pango_font_description_set_style(d, slants[s->font_style]);
    pango_font_description_set_weight(d, (PangoWeight)s->font_weight);
    pango_font_description_set_stretch(d, (PangoStretch)s->font_stretch);
    pango_font_description_set_variant(d, (PangoVariant)s->small_caps);
    if (s->variations) {
        g_autofree char *axes = pango_families(s->variations); /* without quotes */
        g_strdelimit(axes, " ", '=');
        pango_font_description_set_variations(d, axes);
    }
    pango_font_description_set_absolute_size(d, EM * PANGO_SCALE);
    return d;
}

enum { LEFT_TO_RIGHT = 0x202d, RIGHT_TO_LEFT = 0x202e };

typedef struct {
    ArtReader *r;
    ArtShaper *s;
    const ArtSpan *span;
    const char *text;
    double scale, letter_spacing, word_spacing;
    double x;
    ArtPiece *out;
} Shaping;

static const char *family_of(PangoFont *font)
{
    PangoFontDescription *d = pango_font_describe(font);
    const char *family = g_intern_string(pango_font_description_get_family(d));
    pango_font_description_free(d);
    return family;
}

/* The characters of utf8_of(), which take no room. */
static gboolean is_direction(gunichar c)
{
    return c == LEFT_TO_RIGHT || c == RIGHT_TO_LEFT;
}

static void take_run(Shaping *t, const PangoLayoutRun *run)
{
    PangoFont *font = run->item->analysis.font;
    if (!t->out->family && font)
        t->out->family = family_of(font);
    const PangoGlyphString *gs = run->glyphs;
    for (int i = 0; i < gs->num_glyphs; i++) {
        const PangoGlyphInfo *info = &gs->glyphs[i];
        const char *at = t->text + run->item->offset + gs->log_clusters[i];
        if (is_direction(g_utf8_get_char(at)))
            continue;
        double unit = t->scale / PANGO_SCALE;
        ArtGlyph g = {.x = t->x + info->geometry.x_offset * unit,
                      .y = info->geometry.y_offset * unit,
                      .advance = info->geometry.width * unit};
        if (info->glyph & PANGO_GLYPH_UNKNOWN_FLAG)
            dt_art_note(t->r, t->span->node, "no font has the letter U+%04X: left out",
                        g_utf8_get_char(at));
        else if (info->glyph != PANGO_GLYPH_EMPTY)
            g.outline = outline_of(t->s, font, info->glyph);
        gboolean cluster_ends =
            i + 1 == gs->num_glyphs || gs->log_clusters[i + 1] != gs->log_clusters[i];
        if (cluster_ends) {
            g.advance += t->letter_spacing;
            if (*at == ' ')
                g.advance += t->word_spacing;
        }
        t->x += g.advance;
        g_array_append_val(t->out->glyphs, g);
    }
}

/* The height of the letter x; `missing` if the font has none. */
static double x_height(ArtShaper *s, const PangoFontDescription *d, double missing, double scale)
{
    PangoFont *font = pango_context_load_font(s->context, d);
    if (!font)
        return missing;
    cairo_text_extents_t e = {.height = 0};
    cairo_scaled_font_t *scaled = pango_cairo_font_get_scaled_font(PANGO_CAIRO_FONT(font));
    if (scaled)
        cairo_scaled_font_text_extents(scaled, "x", &e);
    g_object_unref(font);
    return e.height > 0 ? -e.y_bearing * scale : missing;
}

/* Height above the baseline and advance of a text in a font, em; FALSE if it lacks a letter. */
static gboolean measure(ArtShaper *s, const PangoFontDescription *d, const char *text,
                        double *height, double *advance)
{
    PangoFont *font = pango_context_load_font(s->context, d);
    cairo_scaled_font_t *scaled =
        font ? pango_cairo_font_get_scaled_font(PANGO_CAIRO_FONT(font)) : NULL;
    PangoCoverage *coverage = scaled ? pango_font_get_coverage(font, NULL) : NULL;
    gboolean has = coverage &&
                   pango_coverage_get(coverage, (int)g_utf8_get_char(text)) == PANGO_COVERAGE_EXACT;
    if (has) {
        cairo_text_extents_t e;
        cairo_scaled_font_text_extents(scaled, text, &e);
        *height = -e.y_bearing / EM;
        *advance = e.x_advance / EM;
    }
    if (coverage)
        g_object_unref(coverage);
    if (font)
        g_object_unref(font);
    return has;
}

/* CSS Values 4, 6.1.1, with its fallbacks for fonts that lack a letter. */
static const Units *units_of(ArtShaper *s, const ArtStyle *style)
{
    PangoFontDescription *d = description_of(style);
    Units *u = g_hash_table_lookup(s->units, d);
    if (u) {
        pango_font_description_free(d);
        return u;
    }
    double height = 0, advance = 0;
    u = g_new(Units, 1);
    *u = (Units){0.5, 0.5, 0.7, 1, 1.2};
    if (measure(s, d, "x", &height, &advance))
        u->ex = height;
    if (measure(s, d, "0", &height, &advance))
        u->ch = advance;
    if (measure(s, d, "H", &height, &advance))
        u->cap = height;
    if (measure(s, d, "\u6c34", &height, &advance))
        u->ic = advance;
    PangoFontMetrics *m = pango_context_get_metrics(s->context, d, NULL);
    u->line =
        (pango_font_metrics_get_ascent(m) + pango_font_metrics_get_descent(m)) / EM / PANGO_SCALE;
    pango_font_metrics_unref(m);
    g_hash_table_insert(s->units, d, u);
    return u;
}

double dt_art_font_unit(const ArtStyle *s, ArtUnit unit, const ArtRoot *root)
{
    if (!root || !root->reader)
        return s->font_size / 2;
    if (unit != ART_UNIT_CH)
        dt_art_note_line(root->reader, root->reader->doc->root->line,
                         "lengths in ex, cap, ic or lh depend on the font that is found here");
    const Units *u = units_of(dt_art_shaper_of(root->reader), s);
    double em = unit == ART_UNIT_EX    ? u->ex
                : unit == ART_UNIT_CH  ? u->ch
                : unit == ART_UNIT_CAP ? u->cap
                : unit == ART_UNIT_IC  ? u->ic
                                       : u->line;
    return em * s->font_size;
}

static void take_metrics(ArtShaper *s, const PangoFontDescription *d, double scale, ArtPiece *out)
{
    PangoFontMetrics *m = pango_context_get_metrics(s->context, d, NULL);
    double unit = scale / PANGO_SCALE;
    out->ascent = pango_font_metrics_get_ascent(m) * unit;
    out->descent = pango_font_metrics_get_descent(m) * unit;
    out->x_height = x_height(s, d, out->ascent / 2, scale);
    out->underline_at = -pango_font_metrics_get_underline_position(m) * unit;
    out->strike_at = -pango_font_metrics_get_strikethrough_position(m) * unit;
    out->line_thickness = pango_font_metrics_get_underline_thickness(m) * unit;
    pango_font_metrics_unref(m);
}

/* The letters, behind a character that forces their direction where it is known (UAX 9, 2.2). */
static char *utf8_of(const ArtLetter *letters, gsize n, const ArtStyle *s, gboolean forced)
{
    GString *text = g_string_new(NULL);
    if (forced)
        g_string_append_unichar(text, s->rtl ? RIGHT_TO_LEFT : LEFT_TO_RIGHT);
    for (gsize i = 0; i < n; i++)
        g_string_append_unichar(text, letters[i].c);
    return g_string_free(text, FALSE);
}

static double spacing_px(ArtReader *r, ArtLength l, const ArtStyle *s)
{
    return dt_art_px_of(l, s, s->font_size, &r->root);
}

static void add_features(GString *out, int bits, const char *const *names, gsize n)
{
    for (gsize i = 0; i < n; i++)
        if (bits & 1 << i)
            g_string_append_printf(out, "%s%s", out->len ? ", " : "", names[i]);
}

/* OpenType features that the style requests, in the order of their bits: CSS Fonts 4, 6. */
static char *features_of(const ArtStyle *s)
{
    static const char *const ligatures[] = {"liga 0, clig 0, dlig 0, hlig 0, calt 0",
                                            "liga 0, clig 0", "dlig", "hlig", "calt 0"};
    static const char *const numerals[] = {"lnum", "onum", "pnum", "tnum",
                                           "frac", "afrc", "ordn", "zero"};
    static const char *const east_asian[] = {"jp78", "jp83", "jp90", "jp04", "smpl",
                                             "trad", "fwid", "pwid", "ruby"};
    static const char *const positions[] = {"subs", "sups"};
    GString *out = g_string_new(s->no_kerning ? "kern 0" : NULL);
    add_features(out, s->ligatures, ligatures, G_N_ELEMENTS(ligatures));
    add_features(out, s->numerals, numerals, G_N_ELEMENTS(numerals));
    add_features(out, s->east_asian, east_asian, G_N_ELEMENTS(east_asian));
    add_features(out, s->glyph_position, positions, G_N_ELEMENTS(positions));
    if (s->features)
        g_string_append_printf(out, "%s%s", out->len ? ", " : "", s->features);
    return g_string_free(out, FALSE);
}

static PangoAttrList *attributes_of(const ArtStyle *s)
{
    PangoAttrList *list = pango_attr_list_new();
    if (s->lang)
        pango_attr_list_insert(list, pango_attr_language_new(pango_language_from_string(s->lang)));
    g_autofree char *features = features_of(s);
    if (*features)
        pango_attr_list_insert(list, pango_attr_font_features_new(features));
    return list;
}

/* font-size-adjust: the size at which the x-height is the requested share of the font size. */
static double size_of(ArtShaper *s, const ArtStyle *style)
{
    if (!(style->size_adjust > 0))
        return style->font_size;
    double ex = units_of(s, style)->ex;
    return ex > 0 ? style->font_size * style->size_adjust / ex : style->font_size;
}

void dt_art_shape_text(ArtReader *r, const ArtLetter *letters, gsize n, const ArtSpan *span,
                       gboolean forced, ArtPiece *out)
{
    ArtShaper *s = dt_art_shaper_of(r);
    const ArtStyle *style = &span->style;
    *out = (ArtPiece){.size = size_of(s, style),
                      .glyphs = g_array_new(FALSE, FALSE, sizeof(ArtGlyph))};
    g_autofree char *text = utf8_of(letters, n, style, forced);
    PangoLayout *layout = pango_layout_new(s->context);
    PangoFontDescription *d = description_of(style);
    pango_context_set_base_dir(s->context, style->rtl ? PANGO_DIRECTION_RTL : PANGO_DIRECTION_LTR);
    pango_layout_set_auto_dir(layout, FALSE);
    pango_layout_set_single_paragraph_mode(layout, TRUE);
    pango_layout_set_font_description(layout, d);
    PangoAttrList *list = attributes_of(style);
    pango_layout_set_attributes(layout, list);
    pango_attr_list_unref(list);
    pango_layout_set_text(layout, text, -1);
    Shaping t = {.r = r,
                 .s = s,
                 .span = span,
                 .text = text,
                 .scale = size_of(s, style) / EM,
                 .letter_spacing = spacing_px(r, style->letter_spacing, style),
                 .word_spacing = spacing_px(r, style->word_spacing, style),
                 .out = out};
    PangoLayoutLine *line = pango_layout_get_line_readonly(layout, 0);
    for (GSList *run = line ? line->runs : NULL; run; run = run->next)
        take_run(&t, run->data);
    out->width = t.x;
    take_metrics(s, d, t.scale, out);
    pango_font_description_free(d);
    g_object_unref(layout);
}

void dt_art_piece_clear(ArtPiece *p)
{
    if (p->glyphs)
        g_array_free(p->glyphs, TRUE);
    p->glyphs = NULL;
}
