/* key-list: public access to the table of keys, for a form. */
#include "machine/keys.h"

#include <string.h>

gboolean dt_profile_key(size_t i, DtProfileKey *out)
{
    static const char *const types[] = {
        [DT_KEY_NUMBER] = "number", [DT_KEY_RATIO] = "ratio", [DT_KEY_WHOLE] = "whole",
        [DT_KEY_FLAG] = "flag",     [DT_KEY_TEXT] = "text",   [DT_KEY_BYTES] = "bytes",
        [DT_KEY_POINT] = "point",   [DT_KEY_TABLE] = "table", [DT_KEY_COLOUR] = "colour",
        [DT_KEY_PAPER] = "paper",
    };
    if (i >= dt_n_keys)
        return FALSE;
    const DtKey *k = &dt_keys[i];
    *out = (DtProfileKey){k->section,     k->name,
                          types[k->type], dt_value_unit_name(k->unit),
                          k->preset,      k->help ? _(k->help) : NULL,
                          dt_key_range(k)};
    return TRUE;
}

const char *dt_profile_section_help(const char *section)
{
    for (gsize i = 0; i < dt_n_key_sections; i++)
        if (strcmp(dt_key_sections[i].name, section) == 0)
            return _(dt_key_sections[i].help);
    return NULL;
}
