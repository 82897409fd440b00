/* fuzz-profile: any bytes as a machine's profile are refused in words or give a sound profile. */
#include "drawtrue/machine.h"
#include "drawtrue/report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void demand(gboolean holds)
{
    if (!holds)
        abort();
}

/* Whatever was accepted must be fit to plan with. */
static void use(const DtProfile *p)
{
    for (int i = 0; i < 2; i++) {
        demand(p->travel[i] > 0 && p->speed[i] > 0 && p->acceleration[i] > 0);
        demand(isfinite(p->steps_per_mm[i]) && p->steps_per_mm[i] > 0);
        demand(p->scale[i] > 0 && fabs(p->square) < 1);
    }
    demand(p->rack.n > 0 && p->rack.pens[0].tip > 0);
    demand(p->paper_w > 0 && p->paper_h > 0);
    g_autofree char *text = dt_report_machine(p, FALSE), *json = dt_report_machine(p, TRUE);
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    for (int i = 0; i < 8; i++)
        dt_sequence_point(&s, dt_point(20 + 7 * (i & 3), 30 + 5 * (i * 3 % 4)));
    g_auto(DtMoves) m;
    dt_moves_init(&m);
    g_autoptr(GError) error = NULL;
    if (dt_machine_moves(p, &s, &m, &error))
        for (size_t i = 0; i < m.n; i++) {
            demand(isfinite(m.m[i].to.x) && isfinite(m.m[i].ink.y));
            demand(m.m[i].to.x >= -1e-6 && m.m[i].to.x <= p->travel[0] + 1e-6);
        }
    else
        demand(error->code == DT_ERROR_INPUT);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_read_data((const char *)data, size, "fuzz.ini", &error);
    if (p)
        use(p);
    else
        demand(error && error->domain == DT_ERROR && error->code == DT_ERROR_INPUT);
    return 0;
}
