/* fuzz-pathdata: path data, numbers, transforms, and flattening within its bound. */
#include "art/private.h"

#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *text = g_strndup((const char *)data, size);
    g_auto(DtPath) path = {0};
    gsize at = 0;
    if (!dt_art_path_data(text, &path, &at) && at > strlen(text))
        g_error("the error stands beyond the end");
    static const gsize counts[] = {1, 1, 3, 0};
    gsize points = 0;
    for (gsize i = 0; i < path.n_verb; i++)
        points += counts[path.verb[i]];
    if (points != path.n_pts)
        g_error("verbs and points do not agree");
    g_auto(DtLines) l = {0};
    dt_path_flatten(&path, DT_AFFINE_IDENTITY, 0.01, &l);
    DtAffine m;
    (void)dt_art_transform(text, &m);
    gsize n;
    g_free(dt_art_length_list(text, &n));
    const char *s = text;
    double v, reference;
    if (art_number(&s, &v)) { /* as the C library reads the same characters */
        g_autofree char *number = g_strndup(text, (gsize)(s - text));
        reference = g_ascii_strtod(number, NULL);
        if (isfinite(reference) && fabs(reference) > 1e-290 &&
            fabs(v - reference) > 1e-12 * fabs(reference))
            g_error("%s is read as %.17g", number, v);
    }
    return 0;
}
