/* chip-settings: gives the chip the rig file's [controller] settings as a person at the port would, by the
 * parameters that docs/board.md lists. Those that are standard are not sent. */
#include "chip-inside.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

typedef struct {
    unsigned number;
    size_t at;
    gboolean whole;
} Parameter;

#define AXES(number, field)                                                                        \
    {number, offsetof(DtSettings, field[0]), FALSE},                                               \
    {                                                                                              \
        (number) + 10, offsetof(DtSettings, field[1]), FALSE                                       \
    }
#define WHOLE(number, field)                                                                       \
    {                                                                                              \
        number, offsetof(DtSettings, field), TRUE                                                  \
    }

static const Parameter parameters[] = {
    AXES(411, steps_per_mm),
    AXES(412, speed),
    AXES(413, acceleration),
    AXES(414, pull_in),
    AXES(415, travel),
    {431, offsetof(DtSettings, home_speed), FALSE},
    {432, offsetof(DtSettings, pull_off), FALSE},
    {451, offsetof(DtSettings, chord), FALSE},
    WHOLE(441, pen_up_us),
    WHOLE(442, pen_us_per_s),
    WHOLE(444, pen_wait_ms),
    WHOLE(445, settle_ms),
    WHOLE(446, drop_ms),
    WHOLE(433, debounce_us),
    WHOLE(452, rest_s),
};

static double value_of(const DtSettings *s, const Parameter *p)
{
    const char *field = (const char *)s + p->at;
    float number;
    uint16_t whole;
    memcpy(&number, field, sizeof number);
    memcpy(&whole, field, sizeof whole);
    return p->whole ? whole : (double)number;
}

enum { BOOT_MS = 100, PATIENCE_MS = 3000 };

/* Sends a line and waits until it is answered and stored; FALSE if it is refused. */
static gboolean send_line(DtRig *r, const char *line)
{
    DtChipFigures f;
    const unsigned taken = r->machine.figures.lines_taken;
    for (const char *p = line; *p; p++)
        dt_rig_chip_send(r, (guint8)*p);
    for (int ms = 0; ms < PATIENCE_MS; ms += 20) {
        const unsigned written = ((Chip *)r->chip)->eeprom.writes;
        dt_rig_chip_run(r, 0.02);
        dt_rig_chip_figures(r, &f);
        if (r->machine.figures.lines_taken > taken && f.eeprom_writes == written && !f.eeprom_busy)
            return TRUE;
    }
    return FALSE;
}

static gboolean send_all(DtRig *r, GError **error)
{
    const DtSettings standard = dt_settings_default;
    dt_rig_chip_run(r, BOOT_MS * 1e-3);
    for (gsize i = 0; i < G_N_ELEMENTS(parameters); i++) {
        const double value = value_of(&r->settings, &parameters[i]);
        if (value == value_of(&standard, &parameters[i]))
            continue;
        g_autofree char *line = g_strdup_printf("#%u=%.6f\n", parameters[i].number, value);
        if (!send_line(r, line)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "the chip does not support %s",
                        g_strchomp(line));
            return FALSE;
        }
    }
    return TRUE;
}

/* What the image cannot do. */
static gboolean is_plain(const RigTruth *t)
{
    return *t->words == '\0' && !t->spaces && t->comments && t->check && t->ask && t->hold &&
           t->longest_line == 0 && t->rx_bytes == 128;
}

gboolean chip_settings_send(Chip *c, GError **error)
{
    DtRig *r = c->rig;
    if (!is_plain(&r->truth)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "the rig file sets a vocabulary or a buffer that differs from the image's");
        return FALSE;
    }
    GArray *faults = r->faults.list;
    r->faults.list = g_array_new(FALSE, FALSE, sizeof(RigFault));
    const gboolean good = send_all(r, error);
    g_array_unref(r->faults.list);
    r->faults.list = faults;
    r->faults.bytes = r->faults.lines = 0;
    r->machine.figures = (DtRigFigures){0};
    r->first_line = -1;
    dt_rig_drop_out(r);
    return good;
}
