/* hershey: single-line letters from the glyph data that the U.S. National Bureau of Standards
 * published (Hershey 1967; NBS Special Publication 424), as Debian's hershey-fonts-data ships it.
 *
 * A record is a glyph number in five columns, a count of coordinate pairs in three, and the pairs,
 * two letters each, as offsets from 'R': first the left and right bearing, then points, with " R"
 * for pen up. Records stand in the order of ASCII from the space on. y grows downwards; capitals
 * reach from -12 to the baseline at 9. */
#include "art/text/text.h"

#include <glib/gstdio.h>

#define FOLDER "/usr/share/hershey-fonts"
#define GLYPHS 96
#define BASELINE 9.0
#define CAP_HEIGHT 21.0
#define CAP_HEIGHT_EM 0.72 /* of common text faces */
#define UNIT (CAP_HEIGHT_EM / CAP_HEIGHT)
#define LARGEST_FILE (1 << 20)

typedef struct {
    gboolean there;
    double left, right; /* units */
    DtPath path;        /* em */
} Glyph;

typedef struct {
    gboolean tried, there;
    Glyph glyphs[GLYPHS];
} Face;

/* Faces by weight and family: plain, bold, script. */
enum { PLAIN, BOLD, SCRIPT, N_FACES };
static const char *const files[N_FACES] = {"rowmans.jhf", "futuram.jhf", "scripts.jhf"};

struct ArtSingleLine {
    Face faces[N_FACES];
    GPtrArray *made; /* of DtPath *: letters with an accent, slanted or of another size */
};

static DtPoint em_point(double x, double y, double left)
{
    return (DtPoint){(x - left) * UNIT, (y - BASELINE) * UNIT};
}

/* Reads `pairs` coordinate pairs at *s, which may be broken by line ends. */
static gboolean read_glyph(const char **s, int pairs, Glyph *g)
{
    gboolean down = FALSE;
    for (int i = 0; i < pairs; i++) {
        char c[2];
        for (int k = 0; k < 2; k++) {
            while (**s == '\n' || **s == '\r')
                (*s)++;
            if (**s == '\0')
                return FALSE;
            c[k] = *(*s)++;
        }
        double x = c[0] - 'R', y = c[1] - 'R';
        if (i == 0) {
            g->left = x;
            g->right = y;
        } else if (c[0] == ' ' && c[1] == 'R') {
            down = FALSE;
        } else {
            if (down)
                dt_path_line(&g->path, em_point(x, y, g->left));
            else
                dt_path_move(&g->path, em_point(x, y, g->left));
            down = TRUE;
        }
    }
    g->there = TRUE;
    return TRUE;
}

static void load_face(Face *f, const char *file)
{
    f->tried = TRUE;
    g_autofree char *path = g_build_filename(FOLDER, file, NULL);
    g_autofree char *text = dt_base_read_file(path, LARGEST_FILE, NULL, NULL);
    if (!text)
        return;
    const char *s = text;
    for (int i = 0; i < GLYPHS && *s; i++) {
        if (strlen(s) < 8)
            return;
        char count[4] = {s[5], s[6], s[7], '\0'};
        int pairs = (int)g_ascii_strtoll(count, NULL, 10);
        s += 8;
        if (pairs < 1 || !read_glyph(&s, pairs, &f->glyphs[i]))
            return;
        while (*s && *s != '\n')
            s++;
        while (*s == '\n' || *s == '\r')
            s++;
    }
    f->there = f->glyphs['A' - ' '].there;
}

static Face *face_of(ArtReader *r, const ArtStyle *s)
{
    if (!r->single_line) {
        r->single_line = g_new0(ArtSingleLine, 1);
        r->single_line->made = g_ptr_array_new();
    }
    g_autofree char *family = g_ascii_strdown(s->font_family, -1);
    int which = strstr(family, "script") || strstr(family, "cursive") ? SCRIPT
                : s->font_weight >= 600                               ? BOLD
                                                                      : PLAIN;
    Face *f = &r->single_line->faces[which];
    if (!f->tried)
        load_face(f, files[which]);
    return f;
}

/* Accents: strokes in units about the middle of the letter, above its height or below its foot. */
typedef struct {
    gunichar mark;
    gboolean below;
    int n;
    signed char x[6], y[6];
} Accent;

static const Accent accents[] = {
    {0x300, FALSE, 2, {-2, 2}, {-6, -2}},                      /* grave */
    {0x301, FALSE, 2, {-2, 2}, {-2, -6}},                      /* acute */
    {0x302, FALSE, 3, {-3, 0, 3}, {-2, -6, -2}},               /* circumflex */
    {0x303, FALSE, 4, {-4, -1, 1, 4}, {-2, -5, -2, -5}},       /* tilde */
    {0x304, FALSE, 2, {-3, 3}, {-4, -4}},                      /* macron */
    {0x306, FALSE, 4, {-3, -1, 1, 3}, {-6, -3, -3, -6}},       /* breve */
    {0x30a, FALSE, 5, {0, 2, 0, -2, 0}, {-2, -4, -6, -4, -2}}, /* ring */
    {0x30c, FALSE, 3, {-3, 0, 3}, {-6, -2, -6}},               /* caron */
    {0x327, TRUE, 4, {0, 1, 2, -1}, {0, 2, 4, 5}},             /* cedilla */
    {0x328, TRUE, 3, {0, -1, 2}, {0, 3, 4}},                   /* ogonek */
};

enum { DIAERESIS = 0x308 }; /* two dots, each a short stroke */

/* NULL if the mark is not in the table. */
static const Accent *find_accent(gunichar mark)
{
    for (gsize i = 0; i < G_N_ELEMENTS(accents); i++)
        if (accents[i].mark == mark)
            return &accents[i];
    return NULL;
}

/* FALSE if there are no strokes for it. `top` is the upper edge of what has been drawn, which an accent above the
 * letter raises for the next one. */
static gboolean draw_accent(DtPath *to, const Glyph *g, gunichar mark, double *top)
{
    const double middle = (g->left + g->right) / 2, height = 6;
    const Accent *a = find_accent(mark);
    if (a == NULL && mark != DIAERESIS)
        return FALSE;
    if (mark == DIAERESIS)
        for (int side = -2; side <= 2; side += 4) {
            dt_path_move(to, em_point(middle + side, *top - 4, g->left));
            dt_path_line(to, em_point(middle + side, *top - 3, g->left));
        }
    for (int k = 0; a != NULL && k < a->n; k++) {
        const double y = (a->below ? BASELINE : *top) + a->y[k];
        const DtPoint p = em_point(middle + a->x[k], y, g->left);
        if (k == 0)
            dt_path_move(to, p);
        else
            dt_path_line(to, p);
    }
    if (a == NULL || !a->below)
        *top -= height;
    return TRUE;
}

static double top_of(const DtPath *p)
{
    double top = 0;
    for (gsize i = 0; i < p->n_pts; i++)
        top = MIN(top, p->pts[i].y);
    return top / UNIT + BASELINE;
}

/* Copies a letter's strokes. The dot of i and j is what lies above half the height of a capital. */
static void copy_strokes(DtPath *to, const DtPath *from, gboolean without_dot)
{
    gboolean dot = FALSE;
    for (gsize i = 0; i < from->n_verb; i++) {
        const DtPoint p = from->pts[i];
        if (from->verb[i] == DT_PATH_MOVE) {
            dot = without_dot;
            for (gsize k = i; k < from->n_verb && (k == i || from->verb[k] != DT_PATH_MOVE); k++)
                dot &= from->pts[k].y < -CAP_HEIGHT / 2 * UNIT;
            if (!dot)
                dt_path_move(to, p);
        } else if (!dot) {
            dt_path_line(to, p);
        }
    }
}

/* Whether an accent stands above the letter, where the dot of i and j gives way to it: Soft_Dotted of the Unicode
 * Character Database. */
static gboolean stands_above(const gunichar *parts, gsize n)
{
    gboolean above = FALSE;
    for (gsize i = 1; i < n; i++) {
        const Accent *a = find_accent(parts[i]);
        above |= parts[i] == DIAERESIS || (a != NULL && !a->below);
    }
    return above;
}

/* Common characters that ASCII writes differently. */
static gunichar plain_form(gunichar c)
{
    switch (c) {
    case 0xa0:
        return ' ';
    case 0x2018:
    case 0x2019:
        return '\'';
    case 0x201c:
    case 0x201d:
        return '"';
    case 0x2010:
    case 0x2011:
    case 0x2013:
    case 0x2014:
    case 0x2212:
        return '-';
    default:
        return c;
    }
}

/* The letter's strokes; NULL if the faces have none. */
static const DtPath *strokes_of(ArtReader *r, const Face *f, gunichar c, const Glyph **glyph)
{
    gunichar parts[8];
    gsize n = g_unichar_fully_decompose(plain_form(c), FALSE, parts, G_N_ELEMENTS(parts));
    n = MIN(n, G_N_ELEMENTS(parts));
    if (n == 0 || parts[0] < ' ' || parts[0] >= ' ' + GLYPHS || !f->glyphs[parts[0] - ' '].there)
        return NULL;
    const Glyph *g = *glyph = &f->glyphs[parts[0] - ' '];
    if (n == 1)
        return &g->path;
    DtPath *path = g_new0(DtPath, 1);
    g_ptr_array_add(r->single_line->made, path);
    const gboolean soft_dotted = parts[0] == 'i' || parts[0] == 'j';
    copy_strokes(path, &g->path, soft_dotted && stands_above(parts, n));
    double top = top_of(path);
    for (gsize i = 1; i < n; i++)
        if (!draw_accent(path, g, parts[i], &top))
            return NULL;
    return path;
}

/* What the faces lack is made from their letters: slanted ones, by 12 degrees (from memory: the angle of common
 * oblique faces), and small capitals, 0.7 of the size as browsers make them (from their pictures). */
static const double slant = 0.21256, small = 0.7;

typedef struct {
    gunichar c;
    double size; /* of the font's */
} Shown;

/* The letter that is drawn for one of the text, by Pango's variants of capitals. */
static Shown shown_letter(const ArtStyle *s, gunichar c)
{
    const gboolean all = s->small_caps == 2 || s->small_caps == 4;
    const gboolean lower = s->small_caps >= 1 && s->small_caps <= 4 && g_unichar_islower(c);
    const gboolean upper = (all || s->small_caps == 5) && g_unichar_isupper(c);
    return (Shown){lower ? g_unichar_toupper(c) : c, lower || upper ? small : 1};
}

/* A copy of the strokes of another size or slant; the strokes themselves if they need none. */
static const DtPath *shaped(ArtReader *r, const ArtStyle *s, const DtPath *strokes, double size)
{
    if (size == 1 && s->font_style == 0)
        return strokes;
    DtPath *path = g_new0(DtPath, 1);
    g_ptr_array_add(r->single_line->made, path);
    const DtAffine m = {size, 0, s->font_style != 0 ? -slant * size : 0, size, 0, 0};
    for (gsize i = 0; i < strokes->n_verb; i++) {
        const DtPoint p = dt_affine_apply(m, strokes->pts[i]);
        if (strokes->verb[i] == DT_PATH_MOVE)
            dt_path_move(path, p);
        else
            dt_path_line(path, p);
    }
    return path;
}

gboolean dt_art_shape_single_line(ArtReader *r, const ArtLetter *letters, gsize n,
                                  const ArtSpan *span, gboolean forced, ArtPiece *out)
{
    const ArtStyle *s = &span->style;
    const gboolean backwards = forced && s->rtl;
    const Face *f = face_of(r, s);
    if (!f->there) {
        dt_art_note(r, span->node,
                    "the single-line letters (hershey-fonts-data) are not "
                    "installed: outlines are drawn");
        return FALSE;
    }
    ArtScope nowhere = {0};
    double letter_spacing = dt_art_px(s->letter_spacing, s, &nowhere, ART_ALONG_X, &r->root);
    double word_spacing = dt_art_px(s->word_spacing, s, &nowhere, ART_ALONG_X, &r->root);
    *out = (ArtPiece){.size = span->style.font_size,
                      .glyphs = g_array_new(FALSE, FALSE, sizeof(ArtGlyph)),
                      .single_line = TRUE,
                      .ascent = 0.93 * s->font_size,
                      .descent = 0.24 * s->font_size,
                      .x_height = 14 * UNIT * s->font_size};
    double x = 0;
    for (gsize i = 0; i < n; i++) {
        const Glyph *glyph = NULL;
        gunichar c = letters[backwards ? n - 1 - i : i].c;
        if (backwards)
            g_unichar_get_mirror_char(c, &c);
        const Shown shown = shown_letter(s, c);
        const DtPath *path = strokes_of(r, f, shown.c, &glyph);
        if (!path) {
            dt_art_note(r, span->node,
                        "no single-line letter U+%04X: this text is drawn as outlines", c);
            dt_art_piece_clear(out);
            return FALSE;
        }
        path = shaped(r, s, path, shown.size);
        double advance = (glyph->right - glyph->left) * UNIT * s->font_size * shown.size +
                         letter_spacing + (c == ' ' ? word_spacing : 0);
        ArtGlyph g = {.outline = path->n_verb ? path : NULL, .x = x, .advance = advance};
        g_array_append_val(out->glyphs, g);
        x += advance;
    }
    out->width = x;
    return TRUE;
}

void dt_art_single_line_style(ArtStyle *s, const ArtScope *scope)
{
    double mm = dt_affine_max_stretch(scope->ctm);
    if (s->fill.kind != ART_PAINT_NONE)
        s->stroke = s->fill;
    s->fill.kind = ART_PAINT_NONE;
    s->stroke_opacity = s->fill_opacity;
    s->stroke_width =
        (ArtLength){.value = MIN(s->font_size / 20, mm > 0 ? 0.2 / mm : 1), .unit = ART_UNIT_PX};
    s->cap = DT_CAP_ROUND;
    s->join = DT_JOIN_ROUND;
    s->dash.n = 0;
    s->fixed_stroke = FALSE;
}

/* The strokes of a glyph from `x` on, y up, with `size` mm per em. */
static void add_strokes(DtLines *out, const DtPath *strokes, double x, double size)
{
    const DtPoint *p = strokes->pts;
    for (gsize i = 0; i < strokes->n_verb; i++, p++) {
        if (strokes->verb[i] == DT_PATH_MOVE)
            dt_lines_begin(out);
        dt_lines_point(out, dt_point(x + p->x * size, -p->y * size));
    }
}

gboolean dt_art_letters(const char *text, double cap_height, DtLines *out, double *width,
                        GError **error)
{
    g_autofree Face *f = g_new0(Face, 1);
    load_face(f, files[PLAIN]);
    if (!f->there)
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "the single-line letters (hershey-fonts-data) are not installed");
    const double size = cap_height / CAP_HEIGHT_EM;
    double x = 0;
    for (const char *c = text; f->there && *c; c++) {
        const Glyph *g = &f->glyphs[*c >= ' ' && *c <= '~' ? *c - ' ' : '?' - ' '];
        add_strokes(out, &g->path, x, size);
        x += (g->right - g->left) * UNIT * size;
    }
    if (width)
        *width = x;
    for (int i = 0; i < GLYPHS; i++)
        dt_path_clear(&f->glyphs[i].path);
    return f->there;
}

void dt_art_single_line_free(ArtSingleLine *f)
{
    if (!f)
        return;
    for (int i = 0; i < N_FACES; i++)
        for (int k = 0; k < GLYPHS; k++)
            dt_path_clear(&f->faces[i].glyphs[k].path);
    for (guint i = 0; i < f->made->len; i++) {
        dt_path_clear(f->made->pdata[i]);
        g_free(f->made->pdata[i]);
    }
    g_ptr_array_unref(f->made);
    g_free(f);
}
