/* animate: the final state of animations: end values that are frozen (SMIL 3, timing), and
 * keyframes that are kept (CSS Animations 1). */
#include "art/private.h"

static const char *value_by_key(const ArtNode *n, const char *key)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (strcmp(n->attrs[i].key, key) == 0)
            return n->attrs[i].value;
    return NULL;
}

/* Sets an attribute of an element, or adds one. */
static void put_attribute(ArtDoc *doc, ArtNode *n, ArtName name, const char *key, const char *value)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (strcmp(n->attrs[i].key, key) == 0) {
            n->attrs[i].value = value;
            return;
        }
    ArtAttr *attrs = dt_art_store_alloc(doc->tree, (n->n_attrs + 1) * sizeof *attrs);
    if (n->n_attrs > 0)
        memcpy(attrs, n->attrs, n->n_attrs * sizeof *attrs);
    attrs[n->n_attrs] = (ArtAttr){name, key, value};
    n->attrs = attrs;
    n->n_attrs++;
}

/* Whether it starts by itself and then keeps its end value. */
static gboolean stays(const ArtNode *n)
{
    const char *begin = value_by_key(n, "begin"), *fill = dt_art_attr(n, ART_P_FILL);
    const char *repeat = value_by_key(n, "repeatCount"), *dur = value_by_key(n, "dur");
    const char *end = value_by_key(n, "end");
    if (begin && !g_ascii_isdigit(*art_skip_space(begin)) && !strchr(".+-", *art_skip_space(begin)))
        return FALSE; /* started by an event, or by another one */
    if (repeat && strcmp(repeat, "indefinite") == 0)
        return FALSE;
    if (fill && strcmp(fill, "freeze") == 0)
        return TRUE;
    return n->tag == ART_TAG_SET && !end && (!dur || strcmp(dur, "indefinite") == 0);
}

/* The last of a list separated by semicolons. */
static const char *last_of(ArtDoc *doc, const char *values)
{
    gsize len = strlen(values);
    while (len > 0 && (art_is_space(values[len - 1]) || values[len - 1] == ';'))
        len--;
    gsize from = len;
    while (from > 0 && values[from - 1] != ';')
        from--;
    const char *text = dt_art_store_text(doc->tree, values + from, len - from);
    return art_skip_space(text);
}

static const char *end_value(ArtDoc *doc, const ArtNode *n)
{
    const char *values = value_by_key(n, "values"), *to = value_by_key(n, "to");
    if (value_by_key(n, "additive") || value_by_key(n, "by"))
        return NULL;
    return values ? last_of(doc, values) : to;
}

static const char *joined(ArtDoc *doc, const char *a, const char *between, const char *b,
                          const char *after)
{
    g_autofree char *text = g_strconcat(a, between, b, after, NULL);
    return dt_art_store_text(doc->tree, text, strlen(text));
}

/* Sets the target to its final value; FALSE if it cannot be determined. */
static gboolean freeze(ArtDoc *doc, const ArtNode *n, ArtNode *target)
{
    const char *key = value_by_key(n, "attributeName"), *value = end_value(doc, n);
    if (!key || !value || !stays(n) || n->tag == ART_TAG_ANIMATE_MOTION)
        return FALSE;
    ArtName name = dt_art_name_of(key);
    if (name == ART_NAME_OTHER)
        return FALSE;
    if (n->tag == ART_TAG_ANIMATE_TRANSFORM) {
        const char *type = dt_art_attr(n, ART_AT_TYPE);
        value = joined(doc, type ? type : "translate", "(", value, ")");
        put_attribute(doc, target, name, key, value);
    } else if (name < ART_N_PROPERTIES && name != ART_P_TRANSFORM) { /* overrides every style */
        const char *style = dt_art_attr(target, ART_AT_STYLE);
        value =
            joined(doc, joined(doc, style ? style : "", ";", key, ":"), value, " !important", "");
        put_attribute(doc, target, ART_AT_STYLE, "style", value);
    } else {
        put_attribute(doc, target, name, key, value);
    }
    return TRUE;
}

void dt_art_animations_freeze(ArtReader *r)
{
    ArtDoc *doc = r->doc;
    for (ArtNode *n = doc->root; n; n = dt_art_next_node(n)) {
        if (n->tag != ART_TAG_ANIMATE && n->tag != ART_TAG_SET &&
            n->tag != ART_TAG_ANIMATE_TRANSFORM && n->tag != ART_TAG_ANIMATE_MOTION &&
            n->tag != ART_TAG_ANIMATE_COLOR)
            continue;
        const char *href = dt_art_href(n);
        ArtNode *target = href ? dt_art_target(doc, href) : n->parent;
        if (target && target->tag != ART_TAG_OTHER && freeze(doc, n, target))
            dt_art_note(r, n, "<%s> is drawn as it is when it has ended", n->local);
        else
            dt_art_note(r, n, "<%s> is left out: nothing moves on paper", n->local);
    }
}

/* Keyframes ------------------------------------------------------------------------------------ */

/* The block of the keyframe at 100%; NULL if there is none. */
static const char *last_keyframe(const char *text, gsize *len)
{
    const char *end = text + strlen(text), *found = NULL;
    for (const char *p = dt_art_css_skip(text, end); p < end;) {
        const char *open = dt_art_css_find(p, end, "{");
        if (open == end)
            break;
        const char *close = dt_art_css_find(open + 1, end, "}");
        g_autofree char *selector = g_ascii_strdown(p, open - p);
        if (strstr(selector, "100%") || strstr(selector, "to")) {
            found = open + 1;
            *len = (gsize)(close - open - 1);
        }
        p = dt_art_css_skip(close < end ? close + 1 : end, end);
    }
    return found;
}

static gboolean has_word(const char *list, const char *word)
{
    gsize n = strlen(word);
    for (const char *p = list; p && (p = strstr(p, word)); p += n)
        if ((p == list || art_is_space(p[-1]) || p[-1] == ',') &&
            (p[n] == '\0' || art_is_space(p[n]) || p[n] == ','))
            return TRUE;
    return FALSE;
}

const char *dt_art_animation_end(const ArtStyle *s, const ArtSheet *sheet, gsize *len)
{
    const char *all = s->animation ? s->animation : "", *fill = s->animation_fill;
    g_auto(GStrv) words = g_strsplit_set(s->animation_name ? s->animation_name : all, " ,", -1);
    if ((fill ? !has_word(fill, "forwards") && !has_word(fill, "both")
              : !has_word(all, "forwards") && !has_word(all, "both")) ||
        has_word(all, "infinite") || has_word(all, "paused"))
        return NULL;
    const char *found = NULL;
    for (char **w = words; *w; w++) {
        const char *frames = **w ? dt_art_sheet_keyframes(sheet, *w) : NULL;
        const char *block = frames ? last_keyframe(frames, len) : NULL;
        found = block ? block : found;
    }
    return found;
}
