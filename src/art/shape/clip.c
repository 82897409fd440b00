/* clip: clipPath (SVG 1.1 14.3). */
#include "art/private.h"

typedef struct {
    DtAffine ctm;
    int parent, index;
} Cached;

/* The regions of a clipPath's children in the space of `scope`. */
static void gather_regions(ArtReader *r, ArtNode *clip, const ArtScope *scope, GArray *out)
{
    ArtMode mode = r->mode;
    GArray *regions = r->regions;
    int region_clip = r->region_clip;
    r->mode = ART_MODE_CLIP;
    r->regions = out;
    r->region_clip = -1;
    dt_art_walk_children(r, clip, scope);
    r->mode = mode;
    r->regions = regions;
    r->region_clip = region_clip;
}

/* Adds the clip for an element whose user space is the scope's; FALSE if nothing can be visible. */
static gboolean add_clip_path(ArtReader *r, ArtNode *n, ArtNode *clip, const ArtScope *scope,
                              int *index)
{
    ArtStyle style;
    dt_art_style_in_place(r, clip, &style);
    ArtScope in = *scope;
    in.style = &style;
    if (!dt_art_go_deeper(r, clip, &in))
        return FALSE;
    ArtCut outer = {.clip = scope->clip};
    DtBox clipped;
    if (style.clip_path) { /* relative to the box of what is clipped as well: 14.3.5 */
        clipped = scope->object_box ? *scope->object_box : dt_art_node_box(r, n, scope);
        in.object_box = &clipped;
        if (!dt_art_clip_of(r, clip, &style, &in, &outer))
            return FALSE;
    }
    int parent = outer.clip;
    const char *units = dt_art_attr(clip, ART_AT_CLIP_PATH_UNITS);
    gboolean by_box = units && strcmp(units, "objectBoundingBox") == 0;
    if (by_box) {
        DtBox box = scope->object_box ? *scope->object_box : dt_art_node_box(r, n, scope);
        if (dt_box_is_empty(box) || !(dt_box_width(box) > 0 && dt_box_height(box) > 0))
            return FALSE;
        DtAffine fit = {dt_box_width(box), 0, 0, dt_box_height(box), box.x0, box.y0};
        /* The clipPath's transform applies to the user space of the box. */
        in.ctm = dt_affine_then(fit, dt_affine_then(style.transform, in.ctm));
        in.vw = in.vh = 1;
    } else {
        in.ctm = dt_affine_then(style.transform, in.ctm);
    }
    in.object_box = NULL;
    Cached *cached = g_hash_table_lookup(r->clip_cache, clip);
    if (cached && cached->parent == parent && art_same_map(cached->ctm, in.ctm)) {
        *index = cached->index;
        return TRUE;
    }
    g_autoptr(GArray) regions = g_array_new(FALSE, FALSE, sizeof(DtClipRegion));
    gather_regions(r, clip, &in, regions);
    if (regions->len == 0)
        return FALSE; /* an empty clipPath lets nothing through */
    DtClipRegion *kept = dt_art_store_alloc(r->store, regions->len * sizeof *kept);
    memcpy(kept, regions->data, regions->len * sizeof *kept);
    *index = dt_art_add_clip(r, kept, regions->len, parent);
    cached = g_new(Cached, 1);
    *cached = (Cached){in.ctm, parent, *index};
    g_hash_table_replace(r->clip_cache, clip, cached);
    return TRUE;
}

/* Adds a basic shape of CSS as a clip; FALSE if it lets nothing through. */
static gboolean add_basic_shape(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                                int *index)
{
    g_auto(DtPath) path = {0};
    g_auto(DtLines) lines = {0};
    DtFillRule rule = DT_FILL_NONZERO;
    if (!dt_art_basic_shape(r, n, s->clip_path, s, scope, &path, &rule))
        return FALSE;
    dt_art_flatten(r, n, &path, scope->ctm, r->tolerance, &lines);
    r->points += lines.n_pts;
    if (lines.n == 0)
        return FALSE;
    DtClipRegion *region = dt_art_store_zero(r->store, sizeof *region);
    region->rule = rule;
    region->clip = -1;
    dt_art_store_lines(r, &lines, &region->outline);
    *index = dt_art_add_clip(r, region, 1, scope->clip);
    return TRUE;
}

gboolean dt_art_clip_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        ArtCut *cut)
{
    *cut = (ArtCut){scope->clip, 1, scope->soft};
    if (s->clip_path && s->clip_path[0] != '#') {
        if (strchr(s->clip_path, '(') || strstr(s->clip_path, "-box")) {
            if (!add_basic_shape(r, n, s, scope, &cut->clip))
                return FALSE;
        } else {
            dt_art_note(r, n, "the clip %.60s is not in this file: not clipped", s->clip_path);
        }
    } else if (s->clip_path) {
        ArtNode *target = dt_art_target(r->doc, s->clip_path);
        if (!target || target->tag != ART_TAG_CLIP_PATH) {
            dt_art_note(r, n, "the clip %.60s is not in this file: not clipped", s->clip_path);
        } else if (target->busy > 0) {
            dt_art_note(r, n, "the clip %.60s refers to itself", s->clip_path);
            return FALSE;
        } else {
            target->busy++;
            gboolean shows = add_clip_path(r, n, target, scope, &cut->clip);
            target->busy--;
            if (!shows)
                return FALSE;
        }
    }
    return !s->mask || dt_art_mask_of(r, n, s, scope, cut);
}
