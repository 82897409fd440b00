/* fuzz-sheet: any bytes as the record of a test sheet, and as answers to what it asks, are refused in words or
 * give a sheet that can be asked, drawn and solved without harm. */
#include "drawtrue/truing.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void demand(gboolean holds)
{
    if (!holds)
        abort();
}

static void use(const DtTestSheet *s, const char *text)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    g_autoptr(GError) error = NULL;
    for (size_t i = 0; i < r->n; i++) {
        g_autofree char *question = dt_eye_question(&r->asks[i]);
        demand(*question != '\0');
        dt_eye_readings_set(r, i, 0, "1", NULL);
    }
    (void)dt_eye_readings_from_json(r, text, NULL); /* it is no such record, and may say so */
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    demand(f != NULL || error->code == DT_ERROR_INPUT);
    g_auto(DtMoves) m = {0};
    g_clear_error(&error);
    demand(dt_sheet_moves(s, p, &m, &error) || error->code == DT_ERROR_INPUT);
    for (size_t i = 0; i < m.n; i++)
        demand(m.m[i].to.x >= -1e-6 && m.m[i].to.x <= p->travel[0] + 1e-6);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *text = g_strndup((const char *)data, size);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtTestSheet) s = dt_sheet_from_json(text, &error);
    if (s)
        use(s, text);
    else
        demand(error && error->domain == DT_ERROR && error->code == DT_ERROR_INPUT);
    return 0;
}
