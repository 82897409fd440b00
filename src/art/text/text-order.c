/* text-order: in which order text of two directions stands, over all elements of a text (UAX 9; SVG 1.1, 10.7.4). */
#include "art/text/text.h"

#include <pango/pango.h>

enum {
    BIDI_NORMAL,
    BIDI_EMBED,
    BIDI_OVERRIDE,
    BIDI_ISOLATE,
    BIDI_ISOLATE_OVERRIDE,
    BIDI_PLAINTEXT
};
enum { LRE = 0x202a, RLE, PDF, LRO, RLO, LRI = 0x2066, RLI, FSI, PDI };

/* The characters that CSS Writing Modes 4, 2.4.3 puts before and behind an element; 0: none. */
typedef struct {
    gunichar open[2], close[2];
} Controls;

static Controls controls_of(const ArtStyle *s)
{
    switch (s->bidi) {
    case BIDI_EMBED:
        return (Controls){{s->rtl ? RLE : LRE}, {PDF}};
    case BIDI_OVERRIDE:
        return (Controls){{s->rtl ? RLO : LRO}, {PDF}};
    case BIDI_ISOLATE:
        return (Controls){{s->rtl ? RLI : LRI}, {PDI}};
    case BIDI_ISOLATE_OVERRIDE:
        return (Controls){{FSI, s->rtl ? RLO : LRO}, {PDF, PDI}};
    case BIDI_PLAINTEXT:
        return (Controls){{FSI}, {PDI}};
    default:
        return (Controls){{0}, {0}};
    }
}

static void add_controls(ArtText *t, const gunichar c[2])
{
    for (int i = 0; i < 2 && c[i] != 0; i++) {
        const ArtControl control = {t->letters->len, c[i]};
        g_array_append_val(t->controls, control);
    }
}

void dt_art_text_enter(ArtText *t, const ArtStyle *s)
{
    add_controls(t, controls_of(s).open);
}

void dt_art_text_leave(ArtText *t, const ArtStyle *s)
{
    add_controls(t, controls_of(s).close);
}

/* All letters and controls in their order. */
static char *whole_text(const ArtText *t)
{
    GString *text = g_string_new(NULL);
    guint k = 0;
    for (guint i = 0; i <= t->letters->len; i++) {
        for (; k < t->controls->len && g_array_index(t->controls, ArtControl, k).before <= i; k++)
            g_string_append_unichar(text, g_array_index(t->controls, ArtControl, k).c);
        if (i < t->letters->len)
            g_string_append_unichar(text, dt_art_text_letter(t, i)->c);
    }
    return g_string_free(text, FALSE);
}

void dt_art_text_find_levels(ArtText *t)
{
    PangoDirection base = t->rtl ? PANGO_DIRECTION_RTL : PANGO_DIRECTION_LTR;
    g_autofree char *text = whole_text(t);
    g_autofree guint8 *levels = pango_log2vis_get_embedding_levels(text, -1, &base);
    gboolean differ = t->controls->len > 0;
    guint k = 0, at = 0;
    t->levels = g_new(guint8, t->letters->len + 1);
    for (guint i = 0; i < t->letters->len; i++) {
        for (; k < t->controls->len && g_array_index(t->controls, ArtControl, k).before <= i; k++)
            at++;
        t->levels[i] = levels[at++];
        differ |= t->levels[i] != (t->rtl ? 1 : 0);
    }
    if (!differ)
        g_clear_pointer(&t->levels, g_free);
}

/* Puts runs of one line in their visual order: rule L2. `order` numbers them from 0. */
static void order_visually(const ArtRun *runs, guint n, guint *order)
{
    int highest = 0;
    for (guint i = 0; i < n; i++) {
        order[i] = i;
        highest = MAX(highest, runs[i].level);
    }
    for (int level = highest; level > 0; level--)
        for (guint i = 0; i < n;) {
            guint end = i;
            while (end < n && runs[order[end]].level >= level)
                end++;
            for (guint a = i, b = end; a + 1 < b; a++, b--) {
                const guint swapped = order[a];
                order[a] = order[b - 1];
                order[b - 1] = swapped;
            }
            i = MAX(end, i + 1);
        }
}

void dt_art_text_reorder(ArtRun *runs, guint n, double start, gboolean rtl)
{
    g_autofree guint *order = g_new(guint, n + 1);
    g_autofree double *shift = g_new(double, n + 1);
    double before = 0;
    for (guint i = 0; i < n; i++) {
        const double w = runs[i].piece.width;
        shift[i] = rtl ? runs[i].at.x + w - (start - before) : runs[i].at.x - (start + before);
        before += w;
    }
    order_visually(runs, n, order);
    double x = rtl ? start - before : start;
    for (guint i = 0; i < n; i++) {
        ArtRun *run = &runs[order[i]];
        run->at.x = x + shift[order[i]];
        x += run->piece.width;
    }
}
