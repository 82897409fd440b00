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

/* NIST StRD, "Filip" (Filippelli), higher difficulty: a polynomial of the tenth degree whose columns are all but
 * dependent on each other. Data and certified values as the GNU Scientific Library's own tests have them, which
 * ask for 1e-7 (multifit/test_filip.c of gsl 2.7.1). */
static void test_filip(void)
{
    enum { M = 82, N = 11 };
    static const double data[M][2] = {
        {-6.860120914, 0.8116}, {-4.324130045, 0.9072}, {-4.358625055, 0.9052},
        {-4.358426747, 0.9039}, {-6.955852379, 0.8053}, {-6.661145254, 0.8377},
        {-6.355462942, 0.8667}, {-6.118102026, 0.8809}, {-7.115148017, 0.7975},
        {-6.815308569, 0.8162}, {-6.519993057, 0.8515}, {-6.204119983, 0.8766},
        {-5.853871964, 0.8885}, {-6.109523091, 0.8859}, {-5.79832982, 0.8959},
        {-5.482672118, 0.8913}, {-5.171791386, 0.8959}, {-4.851705903, 0.8971},
        {-4.517126416, 0.9021}, {-4.143573228, 0.909},  {-3.709075441, 0.9139},
        {-3.499489089, 0.9199}, {-6.300769497, 0.8692}, {-5.953504836, 0.8872},
        {-5.642065153, 0.89},   {-5.031376979, 0.891},  {-4.680685696, 0.8977},
        {-4.329846955, 0.9035}, {-3.928486195, 0.9078}, {-8.56735134, 0.7675},
        {-8.363211311, 0.7705}, {-8.107682739, 0.7713}, {-7.823908741, 0.7736},
        {-7.522878745, 0.7775}, {-7.218819279, 0.7841}, {-6.920818754, 0.7971},
        {-6.628932138, 0.8329}, {-6.323946875, 0.8641}, {-5.991399828, 0.8804},
        {-8.781464495, 0.7668}, {-8.663140179, 0.7633}, {-8.473531488, 0.7678},
        {-8.247337057, 0.7697}, {-7.971428747, 0.77},   {-7.676129393, 0.7749},
        {-7.352812702, 0.7796}, {-7.072065318, 0.7897}, {-6.774174009, 0.8131},
        {-6.478861916, 0.8498}, {-6.159517513, 0.8741}, {-6.835647144, 0.8061},
        {-6.53165267, 0.846},   {-6.224098421, 0.8751}, {-5.910094889, 0.8856},
        {-5.598599459, 0.8919}, {-5.290645224, 0.8934}, {-4.974284616, 0.894},
        {-4.64454848, 0.8957},  {-4.290560426, 0.9047}, {-3.885055584, 0.9129},
        {-3.408378962, 0.9209}, {-3.13200249, 0.9219},  {-8.726767166, 0.7739},
        {-8.66695597, 0.7681},  {-8.511026475, 0.7665}, {-8.165388579, 0.7703},
        {-7.886056648, 0.7702}, {-7.588043762, 0.7761}, {-7.283412422, 0.7809},
        {-6.995678626, 0.7961}, {-6.691862621, 0.8253}, {-6.392544977, 0.8602},
        {-6.067374056, 0.8809}, {-6.684029655, 0.8301}, {-6.378719832, 0.8664},
        {-6.065855188, 0.8834}, {-5.752272167, 0.8898}, {-5.132414673, 0.8964},
        {-4.811352704, 0.8963}, {-4.098269308, 0.9074}, {-3.66174277, 0.9119},
        {-3.2644011, 0.9228},
    };
    static const double certified[N][2] = {
        {-1467.48961422980, 298.084530995537},
        {-2772.17959193342, 559.779865474950},
        {-2316.37108160893, 466.477572127796},
        {-1127.97394098372, 227.204274477751},
        {-354.478233703349, 71.6478660875927},
        {-75.1242017393757, 15.2897178747400},
        {-10.8753180355343, 2.23691159816033},
        {-1.06221498588947, 0.221624321934227},
        {-0.670191154593408E-01, 0.142363763154724E-01},
        {-0.246781078275479E-02, 0.535617408889821E-03},
        {-0.402962525080404E-04, 0.896632837373868E-05},
    };
    double a[M * N], b[M], x[N], v[N * N], rss;
    for (int i = 0; i < M; i++) {
        b[i] = data[i][1];
        for (int j = 0; j < N; j++)
            a[i * N + j] = pow(data[i][0], j);
    }
    g_assert_true(dt_least_squares(M, N, a, b, x, v, &rss));
    g_assert_cmpfloat(fabs(rss / 0.795851382172941E-03 - 1), <, 1e-7);
    for (int j = 0; j < N; j++) {
        g_assert_cmpfloat(fabs(x[j] / certified[j][0] - 1), <, 1e-7);
        const double sd = sqrt(v[j * N + j] * rss / (M - N));
        g_assert_cmpfloat(fabs(sd / certified[j][1] - 1), <, 1e-7);
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
    g_test_add_func("/squares/filip", test_filip);
    g_test_add_func("/squares/wampler", test_wampler);
    g_test_add_func("/squares/gum-thermometer", test_gum_thermometer);
    g_test_add_func("/squares/gum-impedance", test_gum_impedance);
    g_test_add_func("/squares/refused", test_what_cannot_be_told_is_refused);
    return g_test_run();
}
