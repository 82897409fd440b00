/* demo-report: the demo's figures, from the drawing, the profile and what the rig wrote of both
 * runs. Usage: demo-report DRAWING PROFILE FOLDER FOLDER holds trued/ and plain/, each with job.nc,
 * ink.json and rig.json; report.json is written into it. The plan is made once more here, and must
 * come out as the job.nc that was drawn. */
#include "drawtrue/base.h"
#include "verdict.h"
#include <json-glib/json-glib.h>
#include <stdio.h>
#include <string.h>

#define PX_PER_MM 20 /* of the coverage */

/* One of the two runs. */
typedef struct {
    const char *folder;
    DtProfile *profile;
    DtJob job;
    WitnessInk landed;
    Verdict verdict;
} Run;
