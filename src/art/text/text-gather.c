/* text-gather: collects the characters of a text element with their positions (SVG 1.1, 10.4 to
 * 10.9). */
#include "art/text/text.h"

#include <stddef.h>

static guint add_span(ArtText *t, const ArtNode *n, const ArtStyle *s, const ArtNode *path,
                      double shift)
{
    ArtSpan *span = g_new(ArtSpan, 1);
    *span =
        (ArtSpan){.node = n, .path = path, .style = *s, .shift = shift, .decorator = t->decorator};
    g_ptr_array_add(t->spans, span);
    return t->spans->len - 1;
}

/* The letter in another case, up to three letters; returns their number. `before` is the
 * preceding letter; a capital starts a word. */
static int in_case(gunichar c, int letter_case, gunichar before, gunichar out[3])
{
    char utf8[6];
    gboolean inside = g_unichar_isalnum(before) || before == '\'';
    out[0] = c;
    if (letter_case == ART_CASE_LOWER)
        out[0] = g_unichar_tolower(c);
    else if (letter_case == ART_CASE_CAPITAL)
        out[0] = inside ? c : g_unichar_totitle(c);
    else if (letter_case == ART_CASE_FULL_WIDTH && c > ' ' && c < 0x7f)
        out[0] = c - 0x21 + 0xff01;
    if (letter_case != ART_CASE_UPPER)
        return 1;
    g_autofree char *up = g_utf8_strup(utf8, g_unichar_to_utf8(c, utf8));
    int n = 0;
    for (const char *p = up; *p && n < 3; p = g_utf8_next_char(p))
        out[n++] = g_utf8_get_char(p);
    return n;
}

static gunichar last_letter(const ArtText *t)
{
    guint n = t->letters->len;
    return n ? g_array_index(t->letters, ArtLetter, n - 1).c : ' ';
}

/* White space as in browsers (CSS Text 3, 4.1): a line end counts as a space, and spaces are
 * collapsed unless they are preserved. */
static void add_words(ArtText *t, const char *words, guint span, gboolean keep)
{
    int letter_case = ((const ArtSpan *)t->spans->pdata[span])->style.letter_case;
    const char *end = words + strlen(words);
    for (const char *p = words; p < end; p = g_utf8_next_char(p)) {
        gunichar c = g_utf8_get_char_validated(p, end - p);
        if (c == (gunichar)-1 || c == (gunichar)-2)
            return;
        if (c == '\n' || c == '\r' || c == '\t')
            c = ' ';
        if (c == ' ' && !keep && t->space_before)
            continue;
        gunichar cased[3];
        int n = in_case(c, letter_case, last_letter(t), cased);
        for (int i = 0; i < n; i++) {
            ArtLetter letter = {.c = cased[i], .span = span};
            g_array_append_val(t->letters, letter);
        }
        t->space_before = c == ' ' && !keep;
    }
}

static void add_target_words(ArtText *t, const ArtNode *n, guint span, gboolean keep, int depth)
{
    for (const ArtNode *c = n->first; c; c = c->next) {
        if (c->tag == ART_TAG_WORDS)
            add_words(t, c->words, span, keep);
        else if (depth < 32)
            add_target_words(t, c, span, keep, depth + 1);
    }
}

/* Assigns the i-th value of a list to the i-th letter from `first`, unless an inner element has
 * set one. */
static void give_places(ArtText *t, const ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        guint first, ArtName name, unsigned flag, gsize offset, ArtAlong along)
{
    const char *text = dt_art_attr(n, name);
    gsize count = 0;
    g_autofree ArtLength *list = text ? dt_art_length_list(text, &count) : NULL;
    if (text && strchr(text, '('))
        dt_art_note(t->r, n, "a math function places letters, which browsers do not take there");
    for (gsize i = 0; list && first + i < t->letters->len; i++) {
        ArtLetter *l = &g_array_index(t->letters, ArtLetter, first + i);
        if (i >= count && flag != ART_HAS_ROTATE)
            break;
        if (l->has & flag)
            continue;
        double v = dt_art_px(list[MIN(i, count - 1)], s, scope, along, &t->r->root);
        memcpy((char *)l + offset, &v, sizeof v);
        l->has |= flag;
    }
}

double dt_art_text_shift(ArtReader *r, const ArtNode *n, const ArtStyle *s, const ArtScope *scope)
{
    gboolean plain = s->baseline_shift.kind == ART_SHIFT_LENGTH &&
                     s->baseline_shift.length.unit != ART_UNIT_PERCENT;
    if (!plain)
        dt_art_note(r, n,
                    "baseline-shift by a keyword or a percentage is relative to the font size; in "
                    "browsers, to the line height");
    switch (s->baseline_shift.kind) {
    case ART_SHIFT_SUB:
        return -0.2 * s->font_size;
    case ART_SHIFT_SUPER:
        return 0.4 * s->font_size;
    default: {
        ArtLength l = s->baseline_shift.length;
        (void)scope;
        return dt_art_px_of(l, s, s->font_size, &r->root);
    }
    }
}

const ArtDecorator *dt_art_text_decorator(ArtReader *r, const ArtStyle *style,
                                          const ArtDecorator *outer)
{
    ArtStyle *own = dt_art_store_alloc(r->store, sizeof *own);
    ArtDecorator *d = dt_art_store_alloc(r->store, sizeof *d);
    *own = *style;
    *d = (ArtDecorator){own, outer};
    return d;
}

void dt_art_text_gather(ArtText *t, ArtNode *n, const ArtStyle *s, const ArtScope *outer,
                        const ArtNode *path, double shift)
{
    ArtScope scope = *outer;
    if (!dt_art_go_deeper(t->r, n, &scope))
        return;
    scope.style = s;
    guint first = t->letters->len, own = G_MAXUINT;
    dt_art_text_enter(t, s);
    if (n->tag == ART_TAG_TREF) {
        dt_art_note(t->r, n, "<tref> is drawn, which browsers no longer do");
        const ArtNode *target = dt_art_target(t->r->doc, dt_art_href(n));
        if (target)
            add_target_words(t, target, add_span(t, n, s, path, shift), s->keep_space, 0);
    }
    for (ArtNode *c = n->first; c; c = c->next) {
        if (c->tag == ART_TAG_WORDS) {
            if (own == G_MAXUINT)
                own = add_span(t, n, s, path, shift);
            add_words(t, c->words, own, s->keep_space);
            continue;
        }
        if ((c->tag != ART_TAG_TSPAN && c->tag != ART_TAG_A && c->tag != ART_TAG_TREF &&
             c->tag != ART_TAG_TEXT_PATH) ||
            !dt_art_conditions(c))
            continue;
        ArtStyle style;
        dt_art_style_compute(&style, s, c, t->r->sheet, t->r->doc->tree, &t->r->root);
        if (!style.display)
            continue;
        const ArtDecorator *decorator = t->decorator;
        if (style.decoration)
            t->decorator = dt_art_text_decorator(t->r, &style, decorator);
        style.fill_opacity *= style.opacity;
        style.stroke_opacity *= style.opacity;
        if (c->tag != ART_TAG_TEXT_PATH && dt_art_attr(c, ART_AT_TEXT_LENGTH))
            dt_art_note(t->r, c, "textLength of a part of a text is ignored");
        dt_art_text_gather(t, c, &style, &scope, c->tag == ART_TAG_TEXT_PATH ? c : path,
                           shift + dt_art_text_shift(t->r, c, &style, &scope));
        t->decorator = decorator;
    }
    dt_art_text_leave(t, s);
    give_places(t, n, s, &scope, first, ART_AT_X, ART_HAS_X, offsetof(ArtLetter, x), ART_ALONG_X);
    give_places(t, n, s, &scope, first, ART_AT_Y, ART_HAS_Y, offsetof(ArtLetter, y), ART_ALONG_Y);
    give_places(t, n, s, &scope, first, ART_AT_DX, ART_HAS_DX, offsetof(ArtLetter, dx),
                ART_ALONG_X);
    give_places(t, n, s, &scope, first, ART_AT_DY, ART_HAS_DY, offsetof(ArtLetter, dy),
                ART_ALONG_Y);
    give_places(t, n, s, &scope, first, ART_AT_ROTATE, ART_HAS_ROTATE, offsetof(ArtLetter, rotate),
                ART_ALONG_X);
}

void dt_art_text_drop_space(ArtText *t)
{
    if (t->letters->len == 0 || !t->space_before)
        return;
    g_array_set_size(t->letters, t->letters->len - 1);
}
