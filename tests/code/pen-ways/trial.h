/* trial: one program of a way, mended for one machine and drawn on the virtual one. */
#pragma once

#include "drawtrue/code.h"
#include "pen-ways/ways.h"

typedef enum { TRIAL_RIGHT, TRIAL_DOUBT, TRIAL_REFUSED, TRIAL_WRONG, TRIALS } TrialResult;

/* On the virtual machine or, faster, by the moves that the judge finds in the result.
 * RIGHT: it draws what is meant and nothing else. DOUBT: refused with the right reading among those
 * that are named. WRONG: anything else but a refusal. *why is freed by the caller. */
TrialResult trial_run(const DtProfile *p, const WayProgram *program, gboolean on_rig, char **why);
