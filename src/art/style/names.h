/* names, private: elements, properties and attributes that have a meaning, one table row each. */
#pragma once

/* clang-format off */
#define ART_TAGS(X) \
    X(A, "a") \
    X(CIRCLE, "circle") \
    X(CLIP_PATH, "clipPath") \
    X(DEFS, "defs") \
    X(ELLIPSE, "ellipse") \
    X(G, "g") \
    X(IMAGE, "image") \
    X(LINE, "line") \
    X(LINEAR_GRADIENT, "linearGradient") \
    X(MARKER, "marker") \
    X(MASK, "mask") \
    X(PATH, "path") \
    X(PATTERN, "pattern") \
    X(POLYGON, "polygon") \
    X(POLYLINE, "polyline") \
    X(RADIAL_GRADIENT, "radialGradient") \
    X(RECT, "rect") \
    X(STOP, "stop") \
    X(STYLE, "style") \
    X(SVG, "svg") \
    X(SWITCH, "switch") \
    X(SYMBOL, "symbol") \
    X(TEXT, "text") \
    X(TEXT_PATH, "textPath") \
    X(TITLE, "title") \
    X(TREF, "tref") \
    X(TSPAN, "tspan") \
    X(USE, "use") \
    X(FOREIGN_OBJECT, "foreignObject") \
    X(FILTER, "filter") \
    X(ANIMATE, "animate") \
    X(ANIMATE_TRANSFORM, "animateTransform") \
    X(ANIMATE_MOTION, "animateMotion") \
    X(ANIMATE_COLOR, "animateColor") \
    X(SET, "set") \
    X(LINK, "link")

/* Style properties, which are also attributes: id, name, inherited, field of ArtStyle, parser. */
#define ART_PROPERTIES(X) \
    X(COLOR, "color", 1, color, color) \
    X(COLOR_INTERPOLATION, "color-interpolation", 1, linear_colours, interpolation) \
    X(FONT_SIZE, "font-size", 1, font_size, font_size) \
    X(CLIP_PATH, "clip-path", 0, clip_path, clip_path) \
    X(CLIP_RULE, "clip-rule", 1, clip_rule, rule) \
    X(DIRECTION, "direction", 1, rtl, direction) \
    X(DISPLAY, "display", 0, display, display) \
    X(BASELINE_SHIFT, "baseline-shift", 0, baseline_shift, baseline_shift) \
    X(DOMINANT_BASELINE, "dominant-baseline", 1, baseline, baseline) \
    X(ALIGNMENT_BASELINE, "alignment-baseline", 0, alignment, baseline) \
    X(FILL, "fill", 1, fill, paint) \
    X(FILL_OPACITY, "fill-opacity", 1, fill_opacity, opacity) \
    X(FILL_RULE, "fill-rule", 1, fill_rule, rule) \
    X(FILTER, "filter", 0, filter, filter_list) \
    X(FONT_FAMILY, "font-family", 1, font_family, family) \
    X(FONT_STRETCH, "font-stretch", 1, font_stretch, font_stretch) \
    X(FONT_STYLE, "font-style", 1, font_style, font_style) \
    X(FONT_VARIANT, "font-variant", 1, small_caps, font_variant) \
    X(FONT_WEIGHT, "font-weight", 1, font_weight, font_weight) \
    X(LETTER_SPACING, "letter-spacing", 1, letter_spacing, spacing) \
    X(MARKER_END, "marker-end", 1, marker_end, url) \
    X(MARKER_MID, "marker-mid", 1, marker_mid, url) \
    X(MARKER_START, "marker-start", 1, marker_start, url) \
    X(MASK, "mask", 0, mask, mask) \
    X(MASK_TYPE, "mask-type", 0, mask_by_alpha, mask_type) \
    X(MIX_BLEND_MODE, "mix-blend-mode", 0, blend, blend_mode) \
    X(OPACITY, "opacity", 0, opacity, opacity) \
    X(OVERFLOW, "overflow", 0, overflow, overflow) \
    X(PAINT_ORDER, "paint-order", 1, paint_order, paint_order) \
    X(STOP_COLOR, "stop-color", 0, stop_color, color) \
    X(STOP_OPACITY, "stop-opacity", 0, stop_opacity, opacity) \
    X(STROKE, "stroke", 1, stroke, paint) \
    X(STROKE_DASHARRAY, "stroke-dasharray", 1, dash, dash) \
    X(STROKE_DASHOFFSET, "stroke-dashoffset", 1, dash_offset, length) \
    X(STROKE_LINECAP, "stroke-linecap", 1, cap, cap) \
    X(STROKE_LINEJOIN, "stroke-linejoin", 1, join, join) \
    X(STROKE_MITERLIMIT, "stroke-miterlimit", 1, miter_limit, miter_limit) \
    X(STROKE_OPACITY, "stroke-opacity", 1, stroke_opacity, opacity) \
    X(STROKE_WIDTH, "stroke-width", 1, stroke_width, width) \
    X(TEXT_ANCHOR, "text-anchor", 1, anchor, anchor) \
    X(TEXT_DECORATION, "text-decoration", 0, decoration, decoration) \
    X(TEXT_TRANSFORM, "text-transform", 1, letter_case, text_transform) \
    X(TRANSFORM_BOX, "transform-box", 0, transform_box, transform_box) \
    X(TRANSFORM_ORIGIN, "transform-origin", 0, origin, transform_origin) \
    X(TRANSFORM, "transform", 0, transform, transform) \
    X(UNICODE_BIDI, "unicode-bidi", 0, bidi, bidi) \
    X(VECTOR_EFFECT, "vector-effect", 0, fixed_stroke, vector_effect) \
    X(VISIBILITY, "visibility", 1, hidden, visibility) \
    X(WHITE_SPACE, "white-space", 1, keep_space, white_space) \
    X(WORD_SPACING, "word-spacing", 1, word_spacing, spacing) \
    X(WRITING_MODE, "writing-mode", 1, vertical, writing_mode) \
    X(XML_SPACE, "xml:space", 1, keep_space, space) \
    X(XML_LANG, "xml:lang", 1, lang, text) \
    X(COLOR_SCHEME, "color-scheme", 1, dark, color_scheme) \
    X(COLOR_INTERPOLATION_FILTERS, "color-interpolation-filters", 1, filter_in_srgb, filter_interpolation) \
    X(FLOOD_COLOR, "flood-color", 0, flood_color, color) \
    X(FLOOD_OPACITY, "flood-opacity", 0, flood_opacity, opacity) \
    X(LIGHTING_COLOR, "lighting-color", 0, lighting_color, color) \
    X(ISOLATION, "isolation", 0, isolated, isolation) \
    X(BACKGROUND, "background", 0, background, text) \
    X(BACKGROUND_COLOR, "background-color", 0, background, text) \
    X(TRANSLATE, "translate", 0, translate, translate) \
    X(ROTATE_PROPERTY, "rotate", 0, rotate, rotate) \
    X(SCALE, "scale", 0, scale, scale) \
    X(OFFSET_PATH, "offset-path", 0, offset_path, offset_path) \
    X(OFFSET_DISTANCE, "offset-distance", 0, offset_distance, length) \
    X(OFFSET_ROTATE, "offset-rotate", 0, offset_rotate, offset_rotate) \
    X(OFFSET_ANCHOR, "offset-anchor", 0, offset_anchor, offset_place) \
    X(OFFSET_POSITION, "offset-position", 0, offset_position, offset_place) \
    X(TEXT_ORIENTATION, "text-orientation", 1, orientation, orientation) \
    X(FONT_KERNING, "font-kerning", 1, no_kerning, font_kerning) \
    X(FONT_FEATURE_SETTINGS, "font-feature-settings", 1, features, feature_settings) \
    X(FONT_VARIANT_CAPS, "font-variant-caps", 1, small_caps, font_variant) \
    X(FONT_VARIANT_LIGATURES, "font-variant-ligatures", 1, ligatures, ligatures) \
    X(FONT_VARIANT_NUMERIC, "font-variant-numeric", 1, numerals, numerals) \
    X(FONT_VARIANT_EAST_ASIAN, "font-variant-east-asian", 1, east_asian, east_asian) \
    X(FONT_VARIANT_POSITION, "font-variant-position", 1, glyph_position, glyph_position) \
    X(FONT_VARIATION_SETTINGS, "font-variation-settings", 1, variations, variations) \
    X(FONT_SIZE_ADJUST, "font-size-adjust", 1, size_adjust, size_adjust) \
    X(FONT_WIDTH, "font-width", 1, font_stretch, font_stretch) \
    X(TEXT_DECORATION_LINE, "text-decoration-line", 0, decoration, decoration_line) \
    X(TEXT_DECORATION_STYLE, "text-decoration-style", 0, decoration_style, decoration_style) \
    X(TEXT_DECORATION_COLOR, "text-decoration-color", 0, decoration_color, color) \
    X(TEXT_DECORATION_THICKNESS, "text-decoration-thickness", 0, decoration_thickness, auto_length) \
    X(TEXT_UNDERLINE_OFFSET, "text-underline-offset", 1, underline_offset, auto_length) \
    X(WHITE_SPACE_COLLAPSE, "white-space-collapse", 1, keep_space, white_space_collapse) \
    X(MASK_IMAGE, "mask-image", 0, mask, mask) \
    X(ANIMATION, "animation", 0, animation, text) \
    X(ANIMATION_NAME, "animation-name", 0, animation_name, text) \
    X(ANIMATION_FILL_MODE, "animation-fill-mode", 0, animation_fill, text)

#define ART_ATTRIBUTES(X) \
    X(CLASS, "class") \
    X(CLIP_PATH_UNITS, "clipPathUnits") \
    X(CX, "cx") \
    X(CY, "cy") \
    X(D, "d") \
    X(DX, "dx") \
    X(DY, "dy") \
    X(FONT, "font") \
    X(FR, "fr") \
    X(FX, "fx") \
    X(FY, "fy") \
    X(GRADIENT_TRANSFORM, "gradientTransform") \
    X(GRADIENT_UNITS, "gradientUnits") \
    X(HEIGHT, "height") \
    X(HREF, "href") \
    X(XLINK_HREF, "xlink:href") \
    X(ID, "id") \
    X(LANG, "lang") \
    X(LENGTH_ADJUST, "lengthAdjust") \
    X(MARKER_ALL, "marker") \
    X(MARKER_HEIGHT, "markerHeight") \
    X(MARKER_UNITS, "markerUnits") \
    X(MARKER_WIDTH, "markerWidth") \
    X(MASK_CONTENT_UNITS, "maskContentUnits") \
    X(MASK_UNITS, "maskUnits") \
    X(OFFSET, "offset") \
    X(ORIENT, "orient") \
    X(PATH_LENGTH, "pathLength") \
    X(PATTERN_CONTENT_UNITS, "patternContentUnits") \
    X(PATTERN_TRANSFORM, "patternTransform") \
    X(PATTERN_UNITS, "patternUnits") \
    X(POINTS, "points") \
    X(PRESERVE_ASPECT_RATIO, "preserveAspectRatio") \
    X(R, "r") \
    X(REF_X, "refX") \
    X(REF_Y, "refY") \
    X(REQUIRED_EXTENSIONS, "requiredExtensions") \
    X(ROTATE, "rotate") \
    X(RX, "rx") \
    X(RY, "ry") \
    X(SIDE, "side") \
    X(START_OFFSET, "startOffset") \
    X(STYLE, "style") \
    X(SYSTEM_LANGUAGE, "systemLanguage") \
    X(TEXT_LENGTH, "textLength") \
    X(TYPE, "type") \
    X(VIEW_BOX, "viewBox") \
    X(WIDTH, "width") \
    X(X, "x") \
    X(X1, "x1") \
    X(X2, "x2") \
    X(Y, "y") \
    X(Y1, "y1") \
    X(Y2, "y2") \
    X(MEDIA, "media") \
    X(SPREAD_METHOD, "spreadMethod") \
    X(REQUIRED_FEATURES, "requiredFeatures") \
    X(PATH_AT, "path") \
    X(ALL, "all") \
    X(NO_EFFECT, "")
/* clang-format on */

typedef enum {
    ART_TAG_OTHER, /* an element without meaning here */
    ART_TAG_WORDS, /* character data */
#define X(id, name) ART_TAG_##id,
    ART_TAGS(X)
#undef X
        ART_N_TAGS
} ArtTag;

typedef enum {
    ART_NAME_OTHER,
#define X(id, name, inherited, field, parser) ART_P_##id,
    ART_PROPERTIES(X)
#undef X
        ART_N_PROPERTIES,
    ART_AT_BEFORE_FIRST = ART_N_PROPERTIES - 1,
#define X(id, name) ART_AT_##id,
    ART_ATTRIBUTES(X)
#undef X
        ART_N_NAMES
} ArtName;

ArtTag dt_art_tag_of(const char *name);
ArtName dt_art_name_of(const char *name);
const char *dt_art_name_text(ArtName name);
