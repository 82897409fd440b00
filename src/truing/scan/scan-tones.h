/* scan-tones: the light of hatched steps in a scan. Private to the room. */
#pragma once

#include "truing/scan/pose.h"

/* Where a pen's ink lies against where the pose has it, from its strokes; and how wide its line is there, mm. */
typedef struct {
    int pen;
    DtPoint px;
    double tip;
} DtScanPenShift;

/* The tone steps of these pens, DtSeenTone, into `out`; those beyond the picture's edge are left out. */
void dt_scan_measure_tones(const DtScanPicture *p, const DtScanPose *pose, const DtTestSheet *s,
                           const DtScanPenShift *shifts, size_t n_shifts, GArray *out);
