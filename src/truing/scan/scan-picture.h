/* scan-picture: the grey pixels of a scan, and what is dark in it. Private to the room. Places are in pixels;
 * the middle of the first pixel is at 0.5, 0.5. */
#pragma once

#include "drawtrue/geom.h"

typedef struct {
    int w, h;
    double dpi; /* as its file says; 0: it does not */
    guint8 *grey;
} DtScanPicture;

/* DT_ERROR_IO or DT_ERROR_INPUT with the path. */
gboolean dt_scan_picture_load(const char *path, DtScanPicture *out, GError **error);
void dt_scan_picture_clear(DtScanPicture *p);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtScanPicture, dt_scan_picture_clear)

/* Each pixel the mean of `by` by `by` of the other. */
void dt_scan_picture_shrink(const DtScanPicture *p, int by, DtScanPicture *out);

/* By linear interpolation; of the nearest pixel beyond the edge. */
double dt_scan_grey_at(const DtScanPicture *p, double x, double y);

/* A dark figure that hangs together, corners included. */
typedef struct {
    int n; /* pixels */
    DtPoint middle;
    double along, across; /* standard deviation of its pixels along its long axis and across it */
    double angle;         /* of the long axis, radians, y down */
    double radius;        /* of its farthest pixel from the middle */
} DtScanFigure;

/* Figures of at least `least` pixels that are darker than their surroundings of `around` pixels each
 * way; a GArray of DtScanFigure. */
GArray *dt_scan_figures(const DtScanPicture *p, int around, int least);
