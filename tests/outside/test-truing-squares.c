/* outside: the least squares of truing, against published problems with published answers. */
#include "truing/solve/least-squares.h"
#include "truing/solve/model-fit.h"

#include <math.h>

/* NIST StRD, linear least squares, "Longley" (Longley 1967), higher difficulty: employment by six economic
 * series, 1947 to 1962. Data and certified values as NIST publishes them, from memory. */
static void test_longley(void)
{
    enum { M = 16, N = 7 };
    static const double data[M][7] = {
        {60323, 83.0, 234289, 2356, 1590, 107608, 1947},
        {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
        {60171, 88.2, 258054, 3682, 1616, 109773, 1949},
        {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
        {63221, 96.2, 328975, 2099, 3099, 112075, 1951},
        {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
        {64989, 99.0, 365385, 1870, 3547, 115094, 1953},
        {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
        {66019, 101.2, 397469, 2904, 3048, 117388, 1955},
        {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
        {68169, 108.4, 442769, 2936, 2798, 120445, 1957},
        {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
        {68655, 112.6, 482704, 3813, 2552, 123366, 1959},
        {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
        {69331, 115.7, 518173, 4806, 2572, 127852, 1961},
        {70551, 116.9, 554894, 4007, 2827, 130081, 1962},
    };
    static const double certified[N][2] = {
        {-3482258.63459582, 890420.383607373},
        {15.0618722713733, 84.9149257747669},
        {-0.358191792925910e-01, 0.334910077722432e-01},
        {-2.02022980381683, 0.488399681651699},
        {-1.03322686717359, 0.214274163161675},
        {-0.511041056535807e-01, 0.226073200069370},
        {1829.15146461355, 455.478499142212},
    };
    double a[M * N], b[M], x[N], v[N * N], rss;
    for (int i = 0; i < M; i++) {
        a[i * N] = 1;
        for (int j = 1; j < N; j++)
            a[i * N + j] = data[i][j];
        b[i] = data[i][0];
    }
    g_assert_true(dt_least_squares(M, N, a, b, x, v, &rss));
    for (int j = 0; j < N; j++) {
        g_assert_cmpfloat(fabs(x[j] / certified[j][0] - 1), <, 1e-8);
        const double sd = sqrt(v[j * N + j] * rss / (M - N));
        g_assert_cmpfloat(fabs(sd / certified[j][1] - 1), <, 1e-8);
    }
    g_assert_cmpfloat(fabs(sqrt(rss / (M - N)) / 304.854073561965 - 1), <, 1e-9);
}

/* NIST StRD, "Wampler1" to "Wampler5" (Wampler 1970), higher difficulty: polynomials of the fifth degree at 0
 * to 20 with coefficients 1, or 0.1^k, and with ever larger deviations that change none of them. The
 * deviations from memory. */
static void test_wampler(void)
{
    enum { M = 21, N = 6 };
    static const double off[M] = {759,   -2048, 2048,  -2048, 2523,  -2048, 2048,
                                  -2048, 1838,  -2048, 2048,  -2048, 1838,  -2048,
                                  2048,  -2048, 2523,  -2048, 2048,  -2048, 759};
    static const struct {
        double base, by;
        double within;
    } problems[] = {{1, 0, 1e-9}, {0.1, 0, 1e-9}, {1, 1, 1e-8}, {1, 100, 1e-7}, {1, 10000, 1e-5}};
    for (gsize k = 0; k < G_N_ELEMENTS(problems); k++) {
        double a[M * N], b[M], x[N], v[N * N], rss;
        for (int i = 0; i < M; i++) {
            b[i] = problems[k].by * off[i];
            for (int j = 0; j < N; j++) {
                a[i * N + j] = pow(i, j);
                b[i] += pow(problems[k].base, j) * a[i * N + j];
            }
        }
        g_assert_true(dt_least_squares(M, N, a, b, x, v, &rss));
        for (int j = 0; j < N; j++)
            g_assert_cmpfloat(fabs(x[j] / pow(problems[k].base, j) - 1), <, problems[k].within);
        if (problems[k].by == 1) /* certified residual standard deviation of Wampler3 */
            g_assert_cmpfloat(fabs(sqrt(rss / (M - N)) / 2360.14502379268 - 1), <, 1e-9);
    }
}

/* ISO/IEC Guide 98-3 (GUM), example H.3: a thermometer's correction as a straight line over temperature, with
 * the standard uncertainties of both coefficients, their correlation, and the uncertainty of what the line
 * predicts at 30 degrees. Readings and results as printed there, from memory. */
static void test_gum_thermometer(void)
{
    enum { M = 11, N = 2 };
    static const double t[M] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                24.513, 25.002, 25.503, 26.010, 26.511};
    static const double b[M] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                -0.156, -0.157, -0.159, -0.161, -0.160};
    double a[M * N], x[N], v[N * N], rss;
    for (int i = 0; i < M; i++) {
        a[i * N] = 1;
        a[i * N + 1] = t[i] - 20;
    }
    g_assert_true(dt_least_squares(M, N, a, b, x, v, &rss));
    const double s2 = rss / (M - N), at = 30 - 20;
    g_assert_cmpfloat_with_epsilon(x[0], -0.1712, 5e-5);
    g_assert_cmpfloat_with_epsilon(x[1], 0.00218, 5e-6);
    g_assert_cmpfloat_with_epsilon(sqrt(s2), 0.0035, 5e-5);
    g_assert_cmpfloat_with_epsilon(sqrt(s2 * v[0]), 0.0029, 5e-5);
    g_assert_cmpfloat_with_epsilon(sqrt(s2 * v[3]), 0.00067, 5e-6);
    g_assert_cmpfloat_with_epsilon(v[1] / sqrt(v[0] * v[3]), -0.930, 5e-4);
    g_assert_cmpfloat_with_epsilon(x[0] + at * x[1], -0.1494, 5e-5);
    g_assert_cmpfloat_with_epsilon(sqrt(s2 * (v[0] + 2 * at * v[1] + at * at * v[3])), 0.0041,
                                   5e-5);
}

/* ISO/IEC Guide 98-3 (GUM), example H.2: resistance, reactance and impedance from five simultaneous readings of
 * voltage, current and phase, whose correlations must not be left out. Readings and results as printed there,
 * from memory. */
static void test_gum_impedance(void)
{
    enum { SETS = 5, N = 3 };
    static const double seen[SETS][N] = {{5.007, 19.663e-3, 1.0456},
                                         {4.994, 19.639e-3, 1.0438},
                                         {5.005, 19.640e-3, 1.0468},
                                         {4.990, 19.685e-3, 1.0428},
                                         {4.999, 19.678e-3, 1.0433}};
    double mean[N] = {0}, v[N * N] = {0};
    for (int k = 0; k < SETS; k++)
        for (int i = 0; i < N; i++)
            mean[i] += seen[k][i] / SETS;
    for (int k = 0; k < SETS; k++)
        for (int i = 0; i < N; i++)
            for (int j = 0; j < N; j++)
                v[i * N + j] +=
                    (seen[k][i] - mean[i]) * (seen[k][j] - mean[j]) / (SETS * (SETS - 1));
    const DtModelFit fit = {.v = v};
    const double z = mean[0] / mean[1], c = cos(mean[2]), s = sin(mean[2]);
    const double by_r[N] = {c / mean[1], -z * c / mean[1], -z * s};
    const double by_x[N] = {s / mean[1], -z * s / mean[1], z * c};
    const double by_z[N] = {1 / mean[1], -z / mean[1], 0};
    g_assert_cmpfloat_with_epsilon(z * c, 127.732, 5e-4);
    g_assert_cmpfloat_with_epsilon(z * s, 219.847, 5e-4);
    g_assert_cmpfloat_with_epsilon(z, 254.260, 5e-4);
    /* printed from results that were rounded on the way: within one of the last digit */
    g_assert_cmpfloat_with_epsilon(dt_fit_sd(&fit, N, by_r), 0.071, 1e-3);
    g_assert_cmpfloat_with_epsilon(dt_fit_sd(&fit, N, by_x), 0.295, 1e-3);
    g_assert_cmpfloat_with_epsilon(dt_fit_sd(&fit, N, by_z), 0.236, 1e-3);
}

/* A column that is the sum of two others leaves nothing to tell them by. */
static void test_what_cannot_be_told_is_refused(void)
{
    const double a[] = {1, 2, 3, 4, 5, 9, 7, 8, 15, 1, 0, 1}, b[] = {1, 2, 3, 4};
    double x[3];
    g_assert_false(dt_least_squares(4, 3, a, b, x, NULL, NULL));
    g_assert_false(dt_least_squares(2, 3, a, b, x, NULL, NULL));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/squares/longley", test_longley);
    g_test_add_func("/squares/wampler", test_wampler);
    g_test_add_func("/squares/gum-thermometer", test_gum_thermometer);
    g_test_add_func("/squares/gum-impedance", test_gum_impedance);
    g_test_add_func("/squares/refused", test_what_cannot_be_told_is_refused);
    return g_test_run();
}
