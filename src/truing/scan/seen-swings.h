/* seen-swings: the strokes in steps of a scan. Private to the room. */
#pragma once

#include "truing/scan/pose.h"

/* The middle of each stroke once a pixel along it, DtSwingSeen, into `out`; what is not clear is left out. */
void dt_scan_measure_swings(const DtScanPicture *p, const DtScanPose *pose, const DtTestSheet *s,
                            double mm_px, GArray *out);
