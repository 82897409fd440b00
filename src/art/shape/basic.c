/* basic: basic shapes of CSS (CSS Shapes 1, 3) as paths. */
#include "art/style/property.h"

#include <math.h>

typedef enum { CIRCLE, ELLIPSE, INSET, RECT, XYWH, POLYGON, PATH, SHAPE, N_FUNCTIONS } Function;
static const char *const names[N_FUNCTIONS] = {"circle(", "ellipse(", "inset(", "rect(",
                                               "xywh(",   "polygon(", "path(",  "shape("};

/* A parsed shape: the function's arguments and its reference box. */
typedef struct {
    int function; /* -1: only the box */
    char *arguments;
    gboolean has_box;
    ArtBoxKind box;
} Parsed;

static gboolean box_of(const char *word, ArtBoxKind *out)
{
    static const ArtWord words[] = {{"fill-box", ART_BOX_FILL},     {"content-box", ART_BOX_FILL},
                                    {"padding-box", ART_BOX_FILL},  {"stroke-box", ART_BOX_STROKE},
                                    {"border-box", ART_BOX_STROKE}, {"margin-box", ART_BOX_STROKE},
                                    {"view-box", ART_BOX_VIEW}};
    int kind;
    if (!dt_art_pick(word, words, G_N_ELEMENTS(words), &kind))
        return FALSE;
    *out = (ArtBoxKind)kind;
    return TRUE;
}

static gboolean take_apart(const char *text, Parsed *out)
{
    g_auto(GStrv) words = dt_art_value_words(text);
    *out = (Parsed){.function = -1, .box = ART_BOX_STROKE};
    for (char **w = words; *w; w++) {
        gsize len = strlen(*w);
        if (!out->has_box && box_of(*w, &out->box)) {
            out->has_box = TRUE;
            continue;
        }
        int f = 0;
        while (f < N_FUNCTIONS && g_ascii_strncasecmp(*w, names[f], strlen(names[f])) != 0)
            f++;
        if (f == N_FUNCTIONS || out->function >= 0 || (*w)[len - 1] != ')') {
            g_clear_pointer(&out->arguments, g_free);
            return FALSE;
        }
        out->function = f;
        gsize head = strlen(names[f]);
        out->arguments = g_strndup(*w + head, len - head - 1);
    }
    return out->function >= 0 || out->has_box;
}

/* Where a shape is measured: its reference box in user units. */
typedef struct {
    const ArtStyle *style; /* NULL: only parsed */
    const ArtRoot *root;
    DtBox box;
} Scene;

/* Without a style, the sign: whether a value is valid depends on nothing else. */
static double px(const Scene *x, ArtLength l, double whole)
{
    return x->style ? dt_art_px_of(l, x->style, whole, x->root) : l.value < 0 ? -1 : 1;
}

static gboolean length_word(const Scene *x, const char *word, double whole, double *out)
{
    ArtLength l;
    if (!dt_art_length(word, &l) || (l.unit == ART_UNIT_NUMBER && l.value != 0))
        return FALSE;
    *out = px(x, l, whole);
    return TRUE;
}

/* A radius of a circle or an ellipse along one axis, from the centre to the sides of the box. */
static gboolean radius_word(const Scene *x, const char *word, double low, double high, double whole,
                            double *out)
{
    if (dt_art_word_is(word, "closest-side"))
        *out = MIN(fabs(low), fabs(high));
    else if (dt_art_word_is(word, "farthest-side"))
        *out = MAX(fabs(low), fabs(high));
    else
        return length_word(x, word, whole, out) && *out >= 0;
    return TRUE;
}

/* "... at position": the centre; the middle of the box by default. */
static gboolean centre(const Scene *x, char **words, int *n_before, DtPoint *out)
{
    int n = 0;
    ArtOrigin at = {
        {.value = 50, .unit = ART_UNIT_PERCENT}, {.value = 50, .unit = ART_UNIT_PERCENT}, TRUE};
    while (words[n] && !dt_art_word_is(words[n], "at"))
        n++;
    *n_before = n;
    if (words[n]) {
        g_autofree char *rest = g_strjoinv(" ", words + n + 1);
        if (!dt_art_position(rest, &at))
            return FALSE;
    }
    out->x = x->box.x0 + px(x, at.x, dt_box_width(x->box));
    out->y = x->box.y0 + px(x, at.y, dt_box_height(x->box));
    return TRUE;
}

static gboolean round_shape(const Scene *x, const char *arguments, gboolean circle, DtPath *out)
{
    g_auto(GStrv) words = dt_art_value_words(arguments);
    DtPoint c;
    int n;
    if (!centre(x, words, &n, &c))
        return FALSE;
    double w = dt_box_width(x->box), h = dt_box_height(x->box), rx, ry;
    double left = c.x - x->box.x0, right = x->box.x1 - c.x;
    double top = c.y - x->box.y0, bottom = x->box.y1 - c.y;
    if (circle) {
        const char *word = n > 0 ? words[0] : "closest-side";
        double across, down;
        if (n > 1 || !radius_word(x, word, left, right, hypot(w, h) / G_SQRT2, &across) ||
            !radius_word(x, word, top, bottom, hypot(w, h) / G_SQRT2, &down))
            return FALSE;
        rx = ry = dt_art_word_is(word, "farthest-side") ? MAX(across, down) : MIN(across, down);
    } else if ((n != 0 && n != 2) ||
               !radius_word(x, n ? words[0] : "closest-side", left, right, w, &rx) ||
               !radius_word(x, n ? words[1] : "closest-side", top, bottom, h, &ry)) {
        return FALSE;
    }
    dt_art_ellipse_path(out, c.x, c.y, rx, ry);
    return TRUE;
}

/* Up to four lengths in CSS order of sides: top, right, bottom, left. */
static gboolean sides(const Scene *x, char **words, int n, double out[4])
{
    static const int of[4][4] = {{0, 0, 0, 0}, {0, 1, 0, 1}, {0, 1, 2, 1}, {0, 1, 2, 3}};
    double w = dt_box_width(x->box), h = dt_box_height(x->box);
    if (n < 1 || n > 4)
        return FALSE;
    for (int i = 0; i < 4; i++)
        if (!length_word(x, words[of[n - 1][i]], i % 2 ? w : h, &out[i]))
            return FALSE;
    return TRUE;
}

/* rect(): distances from the upper left corner; `auto` is the box's own side. */
static gboolean edges(const Scene *x, char **words, int n, double out[4])
{
    double w = dt_box_width(x->box), h = dt_box_height(x->box);
    if (n != 4)
        return FALSE;
    for (int i = 0; i < 4; i++) {
        double whole = i % 2 ? w : h, v;
        if (dt_art_word_is(words[i], "auto"))
            v = i == 0 || i == 3 ? 0 : whole;
        else if (!length_word(x, words[i], whole, &v))
            return FALSE;
        out[i] = i == 0 || i == 3 ? v : whole - v;
    }
    return TRUE;
}

static gboolean place_and_size(const Scene *x, char **words, int n, double out[4])
{
    double w = dt_box_width(x->box), h = dt_box_height(x->box), v[4];
    if (n != 4)
        return FALSE;
    for (int i = 0; i < 4; i++)
        if (!length_word(x, words[i], i % 2 ? h : w, &v[i]) || (i >= 2 && v[i] < 0))
            return FALSE;
    out[0] = v[1];
    out[3] = v[0];
    out[1] = w - v[0] - v[2];
    out[2] = h - v[1] - v[3];
    return TRUE;
}

/* "round a b / c d": one pair of radii for all corners is drawn; FALSE for anything else. */
static gboolean corners(const Scene *x, char **words, double *rx, double *ry)
{
    double w = dt_box_width(x->box), h = dt_box_height(x->box);
    int n = (int)g_strv_length(words);
    *rx = *ry = 0;
    if (n == 0)
        return TRUE;
    return n == 2 && length_word(x, words[1], w, rx) && length_word(x, words[1], h, ry) &&
           *rx >= 0 && *ry >= 0;
}

static gboolean inset_shape(const Scene *x, const char *arguments, Function f, DtPath *out)
{
    g_auto(GStrv) words = dt_art_value_words(arguments);
    int n = 0;
    double side[4], rx, ry;
    while (words[n] && !dt_art_word_is(words[n], "round"))
        n++;
    gboolean good = f == INSET  ? sides(x, words, n, side)
                    : f == RECT ? edges(x, words, n, side)
                                : place_and_size(x, words, n, side);
    if (!good || !corners(x, words + n, &rx, &ry))
        return FALSE;
    double left = x->box.x0 + side[3], top = x->box.y0 + side[0];
    double w = x->box.x1 - side[1] - left, h = x->box.y1 - side[2] - top;
    if (w > 0 && h > 0)
        dt_art_rect_path(out, left, top, w, h, rx, ry);
    return TRUE;
}

static gboolean fill_rule(const char **p, DtFillRule *rule)
{
    static const struct {
        const char *word;
        DtFillRule rule;
    } words[] = {{"evenodd", DT_FILL_EVENODD}, {"nonzero", DT_FILL_NONZERO}};
    *p = art_skip_space(*p);
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++) {
        gsize n = strlen(words[i].word);
        const char *after = art_skip_space(*p + (strlen(*p) < n ? strlen(*p) : n));
        if (g_ascii_strncasecmp(*p, words[i].word, n) == 0 && *after == ',') {
            *rule = words[i].rule;
            *p = art_skip_space(after + 1);
        }
    }
    return TRUE;
}

static gboolean polygon(const Scene *x, const char *p, DtPath *out, DtFillRule *rule)
{
    double w = dt_box_width(x->box), h = dt_box_height(x->box);
    fill_rule(&p, rule);
    const char *end = p + strlen(p);
    gboolean first = TRUE;
    while (p < end) {
        const char *comma = dt_art_css_find(p, end, ",");
        g_autofree char *pair = g_strndup(p, (gsize)(comma - p));
        g_auto(GStrv) words = dt_art_value_words(pair);
        DtPoint at;
        if (g_strv_length(words) != 2 || !length_word(x, words[0], w, &at.x) ||
            !length_word(x, words[1], h, &at.y))
            return FALSE;
        at = (DtPoint){x->box.x0 + at.x, x->box.y0 + at.y};
        if (first)
            dt_path_move(out, at);
        else
            dt_path_line(out, at);
        first = FALSE;
        p = comma < end ? comma + 1 : end;
    }
    if (!first)
        dt_path_close(out);
    return !first;
}

static gboolean path_string(const Scene *x, const char *p, DtPath *out, DtFillRule *rule)
{
    fill_rule(&p, rule);
    gsize len = strlen(p), at;
    if (len < 2 || (*p != '"' && *p != '\'') || strchr(p + 1, *p) != p + len - 1)
        return FALSE;
    g_autofree char *d = g_strndup(p + 1, len - 2);
    if (!dt_art_path_data(d, out, &at))
        return FALSE;
    dt_path_transform(out, dt_affine_translate(x->box.x0, x->box.y0));
    return TRUE;
}

static gboolean draw(const Scene *x, const Parsed *p, DtPath *out, DtFillRule *rule)
{
    *rule = DT_FILL_NONZERO;
    switch (p->function) {
    case CIRCLE:
    case ELLIPSE:
        return round_shape(x, p->arguments, p->function == CIRCLE, out);
    case INSET:
    case RECT:
    case XYWH:
        return inset_shape(x, p->arguments, (Function)p->function, out);
    case POLYGON:
        return polygon(x, p->arguments, out, rule);
    case PATH:
        return path_string(x, p->arguments, out, rule);
    case SHAPE:
        return FALSE;
    default:
        dt_art_rect_path(out, x->box.x0, x->box.y0, dt_box_width(x->box), dt_box_height(x->box), 0,
                         0);
        return TRUE;
    }
}

gboolean dt_art_shape_is_valid(const char *text)
{
    Parsed p;
    Scene x = {.box = {0, 0, 4, 4}};
    DtFillRule rule;
    g_auto(DtPath) path = {0};
    if (!take_apart(text, &p))
        return FALSE;
    gboolean good = draw(&x, &p, &path, &rule);
    g_free(p.arguments);
    return good;
}

gboolean dt_art_basic_shape(ArtReader *r, ArtNode *n, const char *text, const ArtStyle *s,
                            const ArtScope *scope, DtPath *out, DtFillRule *rule)
{
    Parsed p;
    if (!take_apart(text, &p))
        return FALSE;
    Scene x = {s, &r->root, dt_art_reference_box(r, n, s, scope, p.box)};
    gboolean good = !dt_box_is_empty(x.box) && draw(&x, &p, out, rule);
    g_free(p.arguments);
    return good;
}
