/* known: every other property, attribute and element of SVG 2 and of the CSS modules that
 * browsers draw, and how it is treated. */
#include "art/style/known.h"

/* Page layout, animation, sound and interaction: no effect on paper. */
static const char nothing[] =
    " -webkit-text-fill-color -webkit-text-stroke -webkit-text-stroke-width "
    "-webkit-text-stroke-color -webkit-tap-highlight-color -webkit-font-smoothing "
    "-moz-osx-font-smoothing -webkit-user-select -moz-user-select -ms-user-select "
    "-webkit-print-color-adjust -webkit-appearance "
    "accent-color align-content align-items align-self appearance aspect-ratio "
    "background-attachment backface-visibility block-size bottom box-decoration-break box-sizing "
    "break-after break-before break-inside caption-side caret-color caret clear color-adjust "
    "color-rendering color-scheme column-count column-fill column-gap column-rule "
    "column-rule-color column-rule-style column-rule-width column-span column-width columns "
    "contain-intrinsic-size contain-intrinsic-width contain-intrinsic-height content "
    "content-visibility counter-increment counter-reset counter-set cursor empty-cells "
    "enable-background field-sizing flex flex-basis flex-direction flex-flow flex-grow flex-shrink "
    "flex-wrap float font-optical-sizing font-palette font-smooth font-synthesis-position "
    "forced-color-adjust gap grid grid-area grid-auto-columns grid-auto-flow grid-auto-rows "
    "grid-column grid-column-end grid-column-gap grid-column-start grid-gap grid-row grid-row-end "
    "grid-row-gap grid-row-start grid-template grid-template-areas grid-template-columns "
    "grid-template-rows hanging-punctuation hyphenate-character hyphenate-limit-chars hyphens "
    "image-orientation image-resolution inline-size inset inset-block inset-block-end "
    "inset-block-start inset-inline inset-inline-end inset-inline-start interactivity "
    "interpolate-size isolation justify-content justify-items justify-self left line-break "
    "line-height line-height-step list-style list-style-image list-style-position list-style-type "
    "margin-trim math-depth math-shift math-style max-block-size max-height max-inline-size "
    "max-width min-block-size min-height min-inline-size min-width object-position object-view-box "
    "order orphans overflow-anchor overflow-block overflow-inline overflow-wrap "
    "overscroll-behavior overscroll-behavior-block overscroll-behavior-inline "
    "overscroll-behavior-x overscroll-behavior-y page page-break-after page-break-before "
    "page-break-inside perspective perspective-origin place-content place-items place-self "
    "pointer-events position print-color-adjust quotes reading-flow resize right row-gap "
    "ruby-align "
    "ruby-position scroll-behavior scroll-margin scroll-padding scroll-snap-align "
    "scroll-snap-stop scroll-snap-type scroll-timeline scrollbar-color scrollbar-gutter "
    "scrollbar-width shape-image-threshold shape-inside shape-margin shape-outside shape-padding "
    "shape-subtract solid-color solid-opacity speak speak-as tab-size table-layout text-align "
    "text-align-all text-align-last text-autospace text-box text-box-edge text-box-trim "
    "text-decoration-skip text-group-align text-indent text-justify text-overflow text-rendering "
    "text-size-adjust -webkit-text-size-adjust text-spacing-trim text-wrap text-wrap-mode "
    "text-wrap-style timeline-scope top touch-action transform-style transition "
    "transition-behavior transition-delay transition-duration transition-property "
    "transition-timing-function user-select view-timeline view-transition-name "
    "view-transition-class visibility-x widows will-change word-break word-wrap wrap-after z-index "
    "color-profile color-rendering shape-rendering image-rendering buffered-rendering "
    "animation-composition animation-delay animation-direction animation-duration "
    "animation-fill-mode animation-iteration-count animation-play-state animation-range "
    "animation-timeline animation-timing-function anchor-name anchor-scope position-anchor "
    "position-area position-try position-visibility stroke-alignment stroke-dashadjust "
    "stroke-dashcorner solid-opacity line-increment white-space-trim text-underline-mode "
    "baseline-source initial-letter dynamic-range-limit app-region size zoom-x audio-level "
    "viewport-fill viewport-fill-opacity nav-index marker-pattern "
    "marker-segment marker-knockout-left marker-knockout-right marker-side corner-shape ";

/* For CSS boxes, of which the outermost <svg> is the only one. */
static const char boxes[] =
    " border border-block border-block-end border-block-start border-bottom border-bottom-color "
    "border-bottom-left-radius border-bottom-right-radius border-bottom-style border-bottom-width "
    "border-collapse border-color border-end-end-radius border-end-start-radius border-image "
    "border-image-outset border-image-repeat border-image-slice border-image-source "
    "border-image-width border-inline border-inline-end border-inline-start border-left "
    "border-left-color border-left-style border-left-width border-radius border-right "
    "border-right-color border-right-style border-right-width border-spacing "
    "border-start-end-radius border-start-start-radius border-style border-top border-top-color "
    "border-top-left-radius border-top-right-radius border-top-style border-top-width border-width "
    "box-shadow margin margin-block margin-block-end margin-block-start margin-bottom "
    "margin-inline margin-inline-end margin-inline-start margin-left margin-right margin-top "
    "padding padding-block padding-block-end padding-block-start padding-bottom padding-inline "
    "padding-inline-end padding-inline-start padding-left padding-right padding-top "
    "background-blend-mode background-clip background-image background-origin background-position "
    "background-position-x background-position-y background-repeat background-size object-fit "
    "contain container container-name container-type overflow-clip-margin ";

/* They affect a drawing, and are not drawn. */
static const char noted[] =
    " animation animation-name backdrop-filter clip font-language-override "
    "font-synthesis font-synthesis-small-caps font-synthesis-style font-synthesis-weight "
    "font-variant-alternates font-variant-emoji glyph-orientation-horizontal "
    "glyph-orientation-vertical kerning mask-border mask-border-source mask-border-slice "
    "mask-border-width mask-border-outset mask-border-repeat mask-border-mode mask-clip "
    "mask-composite mask-mode mask-origin mask-position mask-repeat mask-size outline "
    "outline-color outline-offset outline-style outline-width text-combine-upright text-emphasis "
    "text-emphasis-color text-emphasis-position text-emphasis-style text-shadow "
    "text-decoration-skip-ink text-underline-position zoom "
    "-webkit-mask-box-image -webkit-box-reflect ";

/* Attributes, classified likewise; those of filter and animation elements are read with them. */
static const char nothing_attributes[] =
    " about accumulate additive amplitude attributeName attributeType azimuth baseFrequency "
    "baseProfile begin bias by calcMode clip-path-units contentScriptType contentStyleType "
    "color-interpolation-filters "
    "crossorigin datatype decoding diffuseConstant divisor download dur edgeMode elevation end "
    "exponent externalResourcesRequired fetchpriority fill-x filterRes filterUnits "
    "flood-color flood-opacity fetchpriority font-face-format format from hreflang "
    "in in2 inlist integrity intercept k1 k2 k3 k4 kernelMatrix kernelUnitLength keyPoints "
    "keySplines keyTimes lighting-color limitingConeAngle max min mode name nonce numOctaves "
    "operator order origin ping playbackorder "
    "pointsAtX pointsAtY pointsAtZ prefix preserveAlpha primitiveUnits profile property radius "
    "referrerpolicy rel "
    "repeatCount repeatDur resource restart result rev role scale seed slope snapshotTime "
    "specularConstant specularExponent stdDeviation stitchTiles surfaceScale tabindex tableValues "
    "target targetX targetY timelinebegin title to typeof values version vocab xChannelSelector "
    "yChannelSelector z zoomAndPan bbox focusable focusHighlight nav-next nav-prev "
    "unicode glyph-name horiz-adv-x horiz-origin-x horiz-origin-y vert-adv-y vert-origin-x "
    "vert-origin-y units-per-em ascent descent cap-height x-height panose-1 stemv stemh slope "
    "accent-height alphabetic ideographic mathematical hanging underline-position "
    "underline-thickness strikethrough-position strikethrough-thickness overline-position "
    "overline-thickness unicode-range widths g1 g2 u1 u2 k orientation arabic-form "
    "rendering-intent string glyphRef viewTarget async defer src xmlns autofocus slot part is "
    "popover inert hidden translate spellcheck dir draggable enterkeyhint exportparts itemid "
    "itemprop itemref itemscope itemtype data method spacing ";

static const char noted_attributes[] = " hatchUnits ";

/* Elements that paint nothing themselves, or are read with the elements they belong to. */
static const char nothing_elements[] =
    " animate animateColor animateMotion animateTransform audio color-profile cursor desc discard "
    "feBlend feColorMatrix feComponentTransfer feComposite feConvolveMatrix feDiffuseLighting "
    "feDisplacementMap feDistantLight feDropShadow feFlood feFuncA feFuncB feFuncG feFuncR "
    "feGaussianBlur feImage feMerge feMergeNode feMorphology feOffset fePointLight "
    "feSpecularLighting feSpotLight feTile feTurbulence font-face font-face-format font-face-name "
    "font-face-src font-face-uri glyph glyphRef hatchpath hkern link meshpatch meshrow metadata "
    "missing-glyph mpath set source track view vkern flowPara flowRegion flowSpan flowLine "
    "flowDiv flowRegionExclude ";

static const char noted_elements[] =
    " altGlyph altGlyphDef altGlyphItem canvas flowRoot font hatch iframe mesh meshgradient "
    "multiImage script solidColor solidcolor unknown video prefetch handler listener tbreak "
    "textArea ";

typedef struct {
    const char *words;
    ArtKnown known;
} List;

/* Vendor-specific names: "-ink-...", "-x-...". */
static gboolean is_private(const char *name)
{
    return name[0] == '-' && g_ascii_strncasecmp(name, "-webkit-", 8) != 0;
}

static GHashTable *table_of(const List *lists, gsize n)
{
    GHashTable *t = g_hash_table_new(g_str_hash, g_str_equal);
    for (gsize i = 0; i < n; i++) {
        char **words = g_strsplit(lists[i].words, " ", -1);
        for (char **w = words; *w; w++)
            if (**w)
                g_hash_table_insert(t, (gpointer)g_intern_string(*w),
                                    GINT_TO_POINTER(lists[i].known));
        g_strfreev(words);
    }
    return t;
}

static ArtKnown look_up(GHashTable *table, const char *name)
{
    return (ArtKnown)GPOINTER_TO_INT(g_hash_table_lookup(table, name));
}

ArtKnown dt_art_known_property(const char *name)
{
    static GHashTable *table;
    if (g_once_init_enter(&table)) {
        const List lists[] = {
            {nothing, ART_KNOWN_NOTHING}, {boxes, ART_KNOWN_BOX}, {noted, ART_KNOWN_NOTED}};
        g_once_init_leave(&table, table_of(lists, G_N_ELEMENTS(lists)));
    }
    ArtKnown known = look_up(table, name);
    return known == ART_KNOWN_NOT && is_private(name) ? ART_KNOWN_NOTHING : known;
}

ArtKnown dt_art_known_attribute(const char *name)
{
    static GHashTable *table;
    if (g_once_init_enter(&table)) {
        const List lists[] = {{nothing_attributes, ART_KNOWN_NOTHING},
                              {noted_attributes, ART_KNOWN_NOTED}};
        g_once_init_leave(&table, table_of(lists, G_N_ELEMENTS(lists)));
    }
    if (g_str_has_prefix(name, "on") || g_str_has_prefix(name, "data-") ||
        g_str_has_prefix(name, "aria-"))
        return ART_KNOWN_NOTHING;
    ArtKnown known = look_up(table, name);
    return known == ART_KNOWN_NOT ? dt_art_known_property(name) : known;
}

ArtKnown dt_art_known_element(const char *name)
{
    static GHashTable *table;
    if (g_once_init_enter(&table)) {
        const List lists[] = {{nothing_elements, ART_KNOWN_NOTHING},
                              {noted_elements, ART_KNOWN_NOTED}};
        g_once_init_leave(&table, table_of(lists, G_N_ELEMENTS(lists)));
    }
    return look_up(table, name);
}

gboolean dt_art_is_no_request(const char *value)
{
    static const char *const words[] = {
        "none",        "normal", "auto",    "0",      "0px",          "initial", "unset",
        "transparent", "1",      "inherit", "revert", "currentColor", "medium",  "0 none"};
    g_autofree char *v = g_strstrip(g_strdup(value));
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
        if (g_ascii_strcasecmp(v, words[i]) == 0)
            return TRUE;
    return FALSE;
}
