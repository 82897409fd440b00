/* drive: a program through the virtual machine in one call: the rig in a process of its own, the
 * run in this one, over a pseudo-terminal, in virtual time. */
#pragma once

#include "drawtrue/machine.h"
#include "drawtrue/rig.h"

/* Runs the program file on the machine of the rig file (NULL: the built-in one) and leaves the
 * rig's ink.json, ink.svg and ink.png in `folder`. Fails with the run's own error where the program
 * was not drawn to its end, with DT_ERROR_IO where the rig died; the figures are filled in whenever
 * the rig could still report them. Pen changes are gone over at once. */
gboolean drive_rig(const DtProfile *p, const char *program, const char *rig_file,
                   const char *folder, DtRigFigures *figures, GError **error);
