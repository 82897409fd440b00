/* pose: how a sheet lies in a picture. Private to the room. */
#pragma once

#include "truing/scan/scan-picture.h"
#include "truing/sheet/scan-part.h"

/* From commanded mm to a picture's pixels: a polynomial of up to the third degree, which follows how the
 * machine and the scanner bend. */
typedef struct {
    DtPoint middle; /* of the sheet, commanded mm */
    double size;    /* by which the places are divided, mm */
    int terms;      /* 3: affine, 6: second degree, 10: third */
    double x[10], y[10];
} DtScanWarp;

DtPoint dt_scan_warp(const DtScanWarp *w, DtPoint c);
/* Its linear part at a place: pixels a mm. */
DtAffine dt_scan_warp_slope(const DtScanWarp *w, DtPoint c);

typedef struct {
    DtScanWarp warp; /* in pixels of the whole picture */
    gboolean mirrored;
    gboolean photograph;   /* bent or in perspective as no scanner does it */
    double bend_mm;        /* by how much */
    guint expected, found; /* marks of rows that should be in the picture, and that are */
    guint finders;         /* that are where they should be */
    double outside;        /* share of the marks that lie outside of it */
} DtScanPose;

/* Finds the sheet by its finders and then by its rows. FALSE, with the reason (g_free), where it is not
 * there. */
gboolean dt_scan_find_pose(const DtScanPicture *p, const DtTestSheet *s, DtScanPose *out,
                           char **why);
