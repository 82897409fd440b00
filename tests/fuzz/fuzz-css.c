/* fuzz-css: the bytes as a style sheet, as a style attribute and as each property in turn. */
#include "art/private.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void each(const char *name, char *value, gboolean important, void *user)
{
    (void)important;
    ArtStyle *s = user;
    ArtStyle parent;
    ArtStore *store = dt_art_store_new();
    dt_art_style_initial(&parent);
    ArtRoot root = {.rem = 16, .vw = 300, .vh = 200, .variables = TRUE};
    ArtSetting setting = {
        .style = s, .parent = &parent, .store = store, .root = &root, .css = TRUE};
    dt_art_property_set(&setting, dt_art_name_of(name), value);
    for (int p = ART_NAME_OTHER + 1; p < ART_N_PROPERTIES; p++) {
        ArtStyle trial = parent;
        setting.style = &trial;
        dt_art_property_set(&setting, (ArtName)p, value);
    }
    dt_art_store_free(store);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *text = g_strndup((const char *)data, size);
    ArtStyle style;
    dt_art_style_initial(&style);
    dt_art_css_declarations(text, strlen(text), each, &style);
    if (!g_utf8_validate(text, -1, NULL))
        return 0;
    g_autofree char *escaped = g_markup_escape_text(text, -1);
    g_autofree char *svg = g_strconcat(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'><style>", escaped,
        "</style><g id='a' class='b c'><rect width='5' height='5' class='b'/><circle id='d' r='2'/>"
        "<path d='M0 0h5v5' style='",
        escaped, "'/></g></svg>", NULL);
    dt_drawing_free(dt_art_read_data(svg, strlen(svg), "fuzz.svg", NULL, NULL));
    return 0;
}
