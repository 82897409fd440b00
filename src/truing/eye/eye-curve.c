/* eye-curve: curves through evenly spaced knots, as unknowns of least squares: what is usual of them, as further
 * observations, and whether the readings need one. */
#include "truing/eye/eye.h"

#include <math.h>

int dt_eye_usual_bends(int knots, double bend_mm, double *rows, int n)
{
    for (int k = 0; k + 2 < knots; k++) {
        double *row = rows + k * n;
        row[k] = row[k + 2] = 1 / bend_mm;
        row[k + 1] = -2 / bend_mm;
    }
    return MAX(knots - 2, 0);
}

int dt_eye_level_curve(int knots, double *rows, int n)
{
    const double strict_mm = 1e-5;
    for (int k = 0; k < knots; k++) {
        rows[k] = 1 / strict_mm;
        rows[n + k] = (k - (knots - 1) / 2.0) / strict_mm;
    }
    return 2;
}

double dt_eye_bend_mm(double usual_mm, double step_mm)
{
    const double usual_step_mm = 20;
    return usual_mm * pow(step_mm / usual_step_mm, 1.5);
}

double dt_eye_chi_square_95(double degrees)
{
    static const double table[] = {0,     3.841, 5.991, 7.815, 9.488, 11.07,
                                   12.59, 14.07, 15.51, 16.92, 18.31};
    const int last = G_N_ELEMENTS(table) - 1, low = CLAMP((int)degrees, 0, last - 1);
    if (degrees > last)
        return degrees + 2.33 * sqrt(2 * degrees);
    return table[low] + (degrees - low) * (table[low + 1] - table[low]);
}

gboolean dt_eye_is_better(int m, double left, const double *hat, double left_curve,
                          const double *hat_curve)
{
    const double least = 0.05; /* of an unknown: what is usual, not the readings, decides on less */
    double sum = 0, squares = 0;
    for (int i = 0; i < m; i++)
        for (int j = 0; j < m; j++) {
            const double d = hat_curve[i * m + j] - hat[i * m + j];
            sum += i == j ? d : 0;
            squares += d * d;
        }
    if (sum < least || squares <= 0)
        return FALSE;
    return left - left_curve > squares / sum * dt_eye_chi_square_95(sum * sum / squares);
}
