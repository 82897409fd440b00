/* held-figures: what a machine was found to be like, as lines of a table of held figures. */
#pragma once

#include "drawtrue/truing.h"

void held_say_figures(GString *out, const DtFigures *f);
/* What the profile gets of them, and the parts suspected. */
void held_say_changes(GString *out, const DtProfile *p, const DtTestSheet *s, const DtFigures *f);
