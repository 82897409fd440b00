/* machines: the controllers that the programs are judged on, as changes to the built-in profile. */
#pragma once

#include "drawtrue/code.h"

/* NULL for a name that is not in the table. Freed with dt_profile_free(). */
DtProfile *machine_by_name(const char *name);
