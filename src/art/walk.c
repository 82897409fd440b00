/* walk: traverses the tree in painting order. */
#include "art/private.h"

#include "drawtrue/work.h"

#include <math.h>

gboolean dt_art_go_deeper(ArtReader *r, const ArtNode *n, ArtScope *scope)
{
    if (r->error || !dt_work_check(&r->error))
        return FALSE;
    dt_work_report(0.5 + 0.5 * (double)r->visits / (double)r->doc->n_nodes);
    if (++scope->depth > ART_MAX_DEPTH) {
        dt_art_fail(r, n->line, "elements nested deeper than %d", ART_MAX_DEPTH);
        return FALSE;
    }
    if (++r->visits > r->doc->n_nodes * 2 + ART_MAX_VISITS) {
        dt_art_fail(r, n->line, "its references unfold to more than %u elements",
                    (unsigned)ART_MAX_VISITS);
        return FALSE;
    }
    return TRUE;
}

static gboolean has_geometry(const ArtNode *n)
{
    switch (n->tag) {
    case ART_TAG_RECT:
    case ART_TAG_CIRCLE:
    case ART_TAG_ELLIPSE:
    case ART_TAG_IMAGE:
    case ART_TAG_SVG:
    case ART_TAG_USE:
        return TRUE;
    default:
        return FALSE;
    }
}

gboolean dt_art_attr_length(const ArtNode *n, ArtName name, const ArtStyle *s, ArtLength *out)
{
    int slot =
        (s->geometry_set || s->geometry_auto) && has_geometry(n) ? dt_art_geometry_slot(name) : -1;
    if (slot >= 0 && s->geometry_set & 1u << slot) {
        *out = s->geometry[slot];
        return TRUE;
    }
    if (slot >= 0 && s->geometry_auto & 1u << slot)
        return FALSE;
    const char *text = dt_art_attr(n, name);
    return text && dt_art_length(text, out);
}

double dt_art_attr_px(ArtReader *r, const ArtNode *n, ArtName name, const ArtStyle *s,
                      const ArtScope *scope, ArtAlong along, ArtLength missing)
{
    ArtLength l;
    if (!dt_art_attr_length(n, name, s, &l)) {
        l = missing;
        dt_art_note_length(r, n, name);
    }
    return dt_art_px(l, s, scope, along, &r->root);
}

void dt_art_style_in_place(ArtReader *r, const ArtNode *n, ArtStyle *out)
{
    const ArtNode *chain[ART_MAX_DEPTH];
    int depth = 0;
    for (const ArtNode *a = n; a && depth < ART_MAX_DEPTH; a = a->parent)
        chain[depth++] = a;
    ArtStyle parent;
    dt_art_style_initial(&parent);
    *out = parent;
    while (depth > 0) {
        dt_art_style_compute(out, &parent, chain[--depth], r->sheet, r->doc->tree, &r->root);
        parent = *out;
    }
}

/* Groups --------------------------------------------------------------------------------------- */

static const char *title_of(const ArtNode *n)
{
    for (const ArtNode *c = n->first; c; c = c->next)
        if (c->tag == ART_TAG_TITLE)
            return c->first && c->first->tag == ART_TAG_WORDS ? c->first->words : NULL;
    return NULL;
}

int dt_art_add_group(ArtReader *r, const ArtNode *n, const ArtScope *scope, double opacity,
                     const DtSoft *soft)
{
    DtGroup g = {.id = n->id,
                 .classes = n->classes,
                 .title = title_of(n),
                 .parent = r->groups->len ? scope->group : -1,
                 .line = n->line,
                 .opacity = opacity,
                 .soft = soft};
    g_array_append_val(r->groups, g);
    return (int)r->groups->len - 1;
}

/* A leaf whose fill and stroke overlap becomes a group of its own if it is translucent. */
static gboolean needs_group(const ArtNode *n, const ArtStyle *s)
{
    switch (n->tag) {
    case ART_TAG_G:
    case ART_TAG_A:
    case ART_TAG_SVG:
    case ART_TAG_USE:
        return TRUE;
    case ART_TAG_SWITCH:
    case ART_TAG_TEXT:
        return s->opacity < 1;
    default:
        return s->opacity < 1 &&
               ((s->fill.kind != ART_PAINT_NONE && s->stroke.kind != ART_PAINT_NONE) ||
                s->marker_start || s->marker_mid || s->marker_end ||
                s->fill.kind == ART_PAINT_SERVER);
    }
}

/* Conditions ----------------------------------------------------------------------------------- */

static gboolean language_matches(const char *list)
{
    const char *const *mine = g_get_language_names();
    g_auto(GStrv) wanted = g_strsplit(list, ",", -1);
    for (char **w = wanted; *w; w++) {
        char *want = g_strstrip(*w);
        for (const char *const *m = mine; *m && *want; m++) {
            const char *name = strcmp(*m, "C") == 0 ? "en" : *m;
            gsize len = strcspn(name, "_.@-");
            if (g_ascii_strncasecmp(want, name, len) == 0 &&
                (want[len] == '\0' || want[len] == '-'))
                return TRUE;
        }
    }
    return FALSE;
}

/* Whether a browser has all of the extensions; of those it has, only <foreignObject> uses any. */
static gboolean are_known(const char *names)
{
    g_auto(GStrv) each = g_strsplit_set(names, " \t\r\n\f", -1);
    gboolean any = FALSE;
    for (char **name = each; *name; name++) {
        any |= **name != '\0';
        if (**name && strcmp(*name, "http://www.w3.org/1999/xhtml") != 0 &&
            strcmp(*name, "http://www.w3.org/1998/Math/MathML") != 0)
            return FALSE;
    }
    return any;
}

/* requiredFeatures of SVG 1.1 is no longer a condition (SVG 2, 5.8.2): browsers draw elements
 * that have it. */
gboolean dt_art_conditions(const ArtNode *n)
{
    const char *languages = dt_art_attr(n, ART_AT_SYSTEM_LANGUAGE);
    if (languages && !language_matches(languages))
        return FALSE;
    const char *extensions = dt_art_attr(n, ART_AT_REQUIRED_EXTENSIONS);
    return !extensions || are_known(extensions);
}

/* Elements ------------------------------------------------------------------------------------- */

/* A viewport of w by h at x,y of the scope, for nested svg, symbol and marker. FALSE if nothing
 * can be visible. */
static gboolean enter_viewport(ArtReader *r, const ArtNode *n, const ArtStyle *s, double x,
                               double y, double w, double h, ArtScope *scope)
{
    if (!(w > 0 && h > 0))
        return FALSE;
    DtAffine map;
    DtBox box;
    gboolean slice;
    if (!dt_art_view_map(r, n, w, h, &map, &box, &slice))
        return FALSE;
    DtAffine at = dt_affine_then(dt_affine_translate(x, y), scope->ctm);
    if (!s->overflow && r->mode == ART_MODE_PAINT)
        scope->clip = dt_art_add_rect_clip(r, (DtBox){0, 0, w, h}, at, scope->clip);
    scope->ctm = dt_affine_then(map, at);
    scope->vw = dt_box_width(box);
    scope->vh = dt_box_height(box);
    return TRUE;
}

static void nested_svg(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                       const ArtLength *w, const ArtLength *h)
{
    static const ArtLength zero = {.value = 0, .unit = ART_UNIT_NUMBER},
                           whole = {.value = 100, .unit = ART_UNIT_PERCENT};
    ArtScope in = *scope;
    double width = w ? dt_art_px(*w, s, scope, ART_ALONG_X, &r->root)
                     : dt_art_attr_px(r, n, ART_AT_WIDTH, s, scope, ART_ALONG_X, whole);
    double height = h ? dt_art_px(*h, s, scope, ART_ALONG_Y, &r->root)
                      : dt_art_attr_px(r, n, ART_AT_HEIGHT, s, scope, ART_ALONG_Y, whole);
    double x = dt_art_attr_px(r, n, ART_AT_X, s, scope, ART_ALONG_X, zero);
    double y = dt_art_attr_px(r, n, ART_AT_Y, s, scope, ART_ALONG_Y, zero);
    if ((s->geometry_set || s->geometry_auto) && n->tag == ART_TAG_SVG)
        dt_art_note(r, n,
                    "the place and size of an inner <svg> in a style: browsers take them from "
                    "its attributes alone");
    if (enter_viewport(r, n, s, x, y, width, height, &in))
        dt_art_walk_children(r, n, &in);
}

/* The size that a use gives to the svg or symbol it refers to; NULL if it gives none. */
static const ArtLength *use_size(ArtReader *r, const ArtNode *use, ArtName name, ArtLength *room)
{
    const char *text = dt_art_attr(use, name);
    if (text && dt_art_length(text, room))
        return room;
    dt_art_note_length(r, use, name);
    return NULL;
}

static void use_target(ArtReader *r, ArtNode *use, ArtNode *target, const ArtStyle *s,
                       const ArtScope *scope)
{
    if (target->tag != ART_TAG_SYMBOL && target->tag != ART_TAG_SVG) {
        dt_art_walk_node(r, target, scope);
        return;
    }
    ArtScope in = *scope;
    if (!dt_art_go_deeper(r, target, &in))
        return;
    ArtStyle style;
    dt_art_style_compute(&style, s, target, r->sheet, r->doc->tree, &r->root);
    if (!style.display)
        return;
    in.style = &style;
    in.ctm = dt_affine_then(style.transform, in.ctm);
    ArtLength w, h;
    const ArtLength *width = use_size(r, use, ART_AT_WIDTH, &w);
    const ArtLength *height = use_size(r, use, ART_AT_HEIGHT, &h);
    nested_svg(r, target, &style, &in, width, height);
}

static void use(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope)
{
    const char *href = dt_art_href(n);
    ArtNode *target = dt_art_target(r->doc, href);
    if (!target) {
        if (href)
            dt_art_note(r, n, "<use> refers to %s%.60s, which is not in this file: left out",
                        href[0] == '#' ? "" : _("another file, "), href);
        return;
    }
    gboolean ancestor = FALSE;
    for (const ArtNode *a = n; a; a = a->parent)
        ancestor |= a == target;
    if (ancestor || target->busy > 0) {
        dt_art_note(r, n, "<use> refers to itself through %.60s: left out", href);
        return;
    }
    ArtScope in = *scope;
    in.style = s;
    ArtContext context = {.style = s, .scope = scope, .use = n};
    in.context = &context;
    ArtNode *outer = r->used;
    r->used = target;
    target->busy++;
    use_target(r, n, target, s, &in);
    target->busy--;
    r->used = outer;
}

static void take_switch(ArtReader *r, ArtNode *n, const ArtScope *scope)
{
    for (ArtNode *c = n->first; c; c = c->next) {
        gboolean paintable = c->tag != ART_TAG_OTHER && c->tag != ART_TAG_WORDS &&
                             c->tag != ART_TAG_TITLE && c->tag != ART_TAG_FOREIGN_OBJECT &&
                             c->tag != ART_TAG_STYLE && c->tag != ART_TAG_DEFS;
        if (c->tag == ART_TAG_FOREIGN_OBJECT && dt_art_conditions(c))
            dt_art_note(r, c,
                        "what a <foreignObject> holds is not a drawing: the <switch> shows what "
                        "follows in its place");
        if (paintable && dt_art_conditions(c)) {
            dt_art_walk_node(r, c, scope);
            return;
        }
    }
}

void dt_art_walk_children(ArtReader *r, ArtNode *n, const ArtScope *scope)
{
    for (ArtNode *c = n->first; c && !r->error; c = c->next)
        dt_art_walk_node(r, c, scope);
}

static gboolean is_painted(const ArtNode *n)
{
    switch (n->tag) {
    case ART_TAG_A:
    case ART_TAG_G:
    case ART_TAG_SVG:
    case ART_TAG_SWITCH:
    case ART_TAG_USE:
    case ART_TAG_TEXT:
    case ART_TAG_IMAGE:
    case ART_TAG_CIRCLE:
    case ART_TAG_ELLIPSE:
    case ART_TAG_LINE:
    case ART_TAG_PATH:
    case ART_TAG_POLYGON:
    case ART_TAG_POLYLINE:
    case ART_TAG_RECT:
        return TRUE;
    default:
        return FALSE;
    }
}

static void shape(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope)
{
    if (s->hidden && r->mode != ART_MODE_BOX)
        return;
    /* Markers and patterns recurse to here before this path is finished, so each level uses its
     * own. */
    if (r->spare_paths->len == 0)
        g_ptr_array_add(r->spare_paths, g_new0(DtPath, 1));
    DtPath *path = g_ptr_array_steal_index_fast(r->spare_paths, r->spare_paths->len - 1);
    path->n_verb = path->n_pts = 0;
    if (dt_art_shape_path(r, n, s, scope, path))
        dt_art_emit_path(r, n, scope, s, path);
    g_ptr_array_add(r->spare_paths, path);
}

void dt_art_walk_content(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope)
{
    switch (n->tag) {
    case ART_TAG_A:
    case ART_TAG_G:
        dt_art_walk_children(r, n, scope);
        break;
    case ART_TAG_SWITCH:
        take_switch(r, n, scope);
        break;
    case ART_TAG_SVG:
        nested_svg(r, n, s, scope, NULL, NULL);
        break;
    case ART_TAG_USE:
        use(r, n, s, scope);
        break;
    case ART_TAG_TEXT:
        dt_art_text(r, n, scope, s);
        break;
    case ART_TAG_IMAGE:
        dt_art_image(r, n, scope, s);
        break;
    default:
        shape(r, n, s, scope);
    }
}

/* Inside a clipPath only shapes, text and uses of them count: SVG 1.1 14.3.5. */
static gboolean counts_in_clip(const ArtReader *r, const ArtNode *n)
{
    if (r->mode != ART_MODE_CLIP)
        return TRUE;
    return n->tag != ART_TAG_G && n->tag != ART_TAG_A && n->tag != ART_TAG_SVG &&
           n->tag != ART_TAG_SWITCH && n->tag != ART_TAG_IMAGE;
}

/* The place of a use moves its clip, mask and filter too: they are in the coordinates of its content (SVG 1.1, 5.6). */
static DtAffine place_of_use(ArtReader *r, const ArtNode *n, const ArtStyle *s,
                             const ArtScope *scope)
{
    static const ArtLength zero = {.value = 0, .unit = ART_UNIT_NUMBER};
    if (n->tag != ART_TAG_USE)
        return DT_AFFINE_IDENTITY;
    return dt_affine_translate(dt_art_attr_px(r, n, ART_AT_X, s, scope, ART_ALONG_X, zero),
                               dt_art_attr_px(r, n, ART_AT_Y, s, scope, ART_ALONG_Y, zero));
}

void dt_art_walk_node(ArtReader *r, ArtNode *n, const ArtScope *outer)
{
    if (n->tag == ART_TAG_FOREIGN_OBJECT && r->mode == ART_MODE_PAINT)
        dt_art_note(r, n, "what a <foreignObject> holds is not a drawing: left out");
    if (!is_painted(n) || !counts_in_clip(r, n))
        return;
    ArtScope in = *outer;
    if (!dt_art_go_deeper(r, n, &in) || !dt_art_conditions(n))
        return;
    ArtStyle s;
    dt_art_style_compute(&s, outer->style, n, r->sheet, r->doc->tree, &r->root);
    if (!s.display)
        return;
    in.style = &s;
    in.ctm = dt_affine_then(dt_art_own_map(r, n, &s, &in), outer->ctm);
    in.ctm = dt_affine_then(place_of_use(r, n, &s, &in), in.ctm);
    if (r->mode == ART_MODE_PAINT) {
        ArtCut cut;
        in.alpha *= s.opacity;
        if (!(in.alpha > 0) || !dt_art_clip_of(r, n, &s, &in, &cut))
            return;
        in.clip = cut.clip;
        in.soft = cut.soft;
        in.alpha *= cut.level;
        gboolean masked = cut.level < 1 || cut.soft != outer->soft;
        if (masked || needs_group(n, &s))
            in.group = dt_art_add_group(r, n, &in, s.opacity * cut.level,
                                        cut.soft != outer->soft ? cut.soft : NULL);
    } else if (r->mode == ART_MODE_CLIP) {
        int outer_clip = r->region_clip;
        ArtScope bare = in;
        ArtCut cut;
        bare.clip = outer_clip;
        if (!dt_art_clip_of(r, n, &s, &bare, &cut))
            return;
        r->region_clip = cut.clip;
        dt_art_walk_content(r, n, &s, &in);
        r->region_clip = outer_clip;
        return;
    }
    guint first = r->shapes->len, backdrop = r->backdrop;
    gboolean own = s.isolated || s.opacity < 1 || s.mask || s.clip_path || s.filter ||
                   s.blend != ART_BLEND_NORMAL;
    if (own)
        r->backdrop = first;
    dt_art_walk_content(r, n, &s, &in);
    r->backdrop = backdrop;
    if (r->mode != ART_MODE_PAINT || r->error)
        return;
    if (s.filter) /* which may paint where the element does not */
        dt_art_filter(r, n, &s, &in, first);
    if (r->shapes->len == first)
        return;
    if (s.blend != ART_BLEND_NORMAL && !r->error)
        dt_art_blend(r, n, &s, &in, backdrop, first);
}

DtBox dt_art_node_box(ArtReader *r, ArtNode *n, const ArtScope *scope)
{
    /* A box within a box traverses its content twice. */
    if (r->boxes == ART_MAX_BOXES) {
        dt_art_note(r, n, "a transform about its own box, more than %d deep: taken about 0,0",
                    ART_MAX_BOXES);
        return DT_BOX_EMPTY;
    }
    ArtMode mode = r->mode;
    DtBox box = r->box;
    ArtScope in = *scope;
    in.ctm = DT_AFFINE_IDENTITY;
    r->mode = ART_MODE_BOX;
    r->box = DT_BOX_EMPTY;
    r->boxes++;
    dt_art_walk_content(r, n, scope->style, &in);
    r->boxes--;
    DtBox found = r->box;
    r->mode = mode;
    r->box = box;
    return found;
}

/* The root ---------------------------------------------------------------------------------- */

/* The background of the page if it is a single colour. */
static void paint_background(ArtReader *r, const ArtNode *root, const ArtStyle *s,
                             const ArtScope *scope)
{
    const char *p = s->background;
    ArtColourRead read;
    ArtColourScene scene = {&s->color.colour, s->dark};
    if (*p == '\0' || strcmp(p, "none") == 0)
        return;
    if (!dt_art_colour_at(&p, &scene, &read) || *art_skip_space(p)) {
        dt_art_note(r, root, "background: %.60s of the outermost <svg> is not drawn",
                    s->background);
        return;
    }
    read.colour.alpha *= s->opacity;
    g_auto(DtPath) path = {0};
    dt_art_rect_path(&path, 0, 0, scope->vw, scope->vh, 0, 0);
    if (read.colour.alpha > 0)
        dt_art_emit_tone(r, root, scope, &path,
                         (DtPaint){.kind = DT_PAINT_FLAT, .colour = read.colour});
}

void dt_art_page_hint(ArtReader *r)
{
    ArtStyle initial;
    dt_art_style_initial(&initial);
    dt_art_page_size(r, r->doc->root, &initial, &r->root.vw, &r->root.vh);
}

void dt_art_walk_root(ArtReader *r)
{
    ArtNode *root = r->doc->root;
    ArtStyle initial, s;
    dt_art_style_initial(&initial);
    dt_art_style_compute(&s, &initial, root, r->sheet, r->doc->tree, &r->root);
    r->root.rem = s.font_size;
    double w, h;
    gboolean sized = dt_art_page_size(r, root, &s, &w, &h);
    if (!(w > 0 && h > 0 && w * ART_MM_PER_PX < ART_MAX_COORDINATE &&
          h * ART_MM_PER_PX < ART_MAX_COORDINATE)) {
        dt_art_fail(r, root->line,
                    "the page has no size that can be drawn: width %g px, height %g px", w, h);
        return;
    }
    r->root.vw = w;
    r->root.vh = h;
    r->d->width = w * ART_MM_PER_PX;
    r->d->height = h * ART_MM_PER_PX;
    r->d->view = (DtBox){0, 0, r->d->width, r->d->height};
    r->unit_mm = ART_MM_PER_PX;
    r->tolerance = r->o.tolerance * MIN(1, MAX(r->d->width, r->d->height) / 210);
    ArtScope scope = {.style = &s,
                      .ctm = dt_affine_scale(ART_MM_PER_PX, ART_MM_PER_PX),
                      .vw = w,
                      .vh = h,
                      .clip = -1,
                      .group = 0,
                      .alpha = s.opacity};
    dt_art_add_group(r, root, &scope, s.opacity, NULL);
    if (!s.display)
        dt_art_note(r, root, "display: none of the outermost <svg> is ignored, as in browsers");
    DtAffine map;
    DtBox box;
    gboolean slice;
    if (!dt_art_view_map(r, root, w, h, &map, &box, &slice)) {
        dt_art_note(r, root, "the viewBox is empty, so nothing is drawn");
        return;
    }
    if (sized)
        scope.clip = dt_art_add_rect_clip(r, r->d->view, DT_AFFINE_IDENTITY, -1);
    ArtStyle about = s; /* the page is a CSS box, which is rotated about its middle */
    if (!about.origin.given)
        about.origin = (ArtOrigin){
            {.value = 50, .unit = ART_UNIT_PERCENT}, {.value = 50, .unit = ART_UNIT_PERCENT}, TRUE};
    about.transform_box = ART_BOX_VIEW;
    scope.ctm = dt_affine_then(dt_art_own_map(r, root, &about, &scope), scope.ctm);
    if (s.background)
        paint_background(r, root, &s, &scope);
    scope.ctm = dt_affine_then(map, scope.ctm);
    scope.vw = dt_box_width(box);
    scope.vh = dt_box_height(box);
    ArtCut cut;
    if (!dt_art_clip_of(r, root, &s, &scope, &cut))
        return;
    scope.clip = cut.clip;
    scope.soft = cut.soft;
    scope.alpha *= cut.level;
    DtGroup *whole = &g_array_index(r->groups, DtGroup, 0);
    whole->opacity *= cut.level;
    whole->soft = cut.soft;
    dt_art_walk_children(r, root, &scope);
}
