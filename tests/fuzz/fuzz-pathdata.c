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
    /* As the reader bounds it: a curve of 1e17 mm alone has some 60,000 points. */
    dt_path_flatten_at_most(&path, DT_AFFINE_IDENTITY, 0.01, 1000000, &l);
    const DtBox box = dt_lines_box(&l), all = dt_path_box(&path, DT_AFFINE_IDENTITY);
    const double slack = 0.01 + 1e-6 * (fabs(all.x0) + fabs(all.x1) + fabs(all.y0) + fabs(all.y1));
    if (isfinite(slack) && l.n_pts > 0 && fabs(slack) < 1e90 &&
        (box.x0 < all.x0 - slack || box.y0 < all.y0 - slack || box.x1 > all.x1 + slack ||
         box.y1 > all.y1 + slack))
        g_error("the lines reach beyond the box");
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
