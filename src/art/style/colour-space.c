/* colour-space: conversion between colour spaces, mixing, and mapping into the gamut of sRGB.
 * Matrices and steps of CSS Color 4, sections 10 to 13 and 18. */
#include "art/style/colour.h"

#include <math.h>

typedef struct {
    double m[3][3];
} Matrix;

static const Matrix srgb_to_xyz = {{{506752.0 / 1228815, 87881.0 / 245763, 12673.0 / 70218},
                                    {87098.0 / 409605, 175762.0 / 245763, 12673.0 / 175545},
                                    {7918.0 / 409605, 87881.0 / 737289, 1001167.0 / 1053270}}};
static const Matrix p3_to_xyz = {{{608311.0 / 1250200, 189793.0 / 714400, 198249.0 / 1000160},
                                  {35783.0 / 156275, 247089.0 / 357200, 198249.0 / 2500400},
                                  {0, 32229.0 / 714400, 5220557.0 / 5000800}}};
static const Matrix a98_to_xyz = {{{573536.0 / 994567, 263643.0 / 1420810, 187206.0 / 994567},
                                   {591459.0 / 1989134, 6239551.0 / 9945670, 374412.0 / 4972835},
                                   {53769.0 / 1989134, 351524.0 / 4972835, 4929758.0 / 4972835}}};
static const Matrix prophoto_to_xyz50 = {
    {{0.79776664490064230, 0.13518129740053308, 0.03134773412839220},
     {0.28807482881940130, 0.71183523424187300, 0.00008993693872564},
     {0, 0, 0.82510460251046020}}};
static const Matrix rec2020_to_xyz = {
    {{63426534.0 / 99577255, 20160776.0 / 139408157, 47086771.0 / 278816314},
     {26158966.0 / 99577255, 472592308.0 / 697040785, 8267143.0 / 139408157},
     {0, 19567812.0 / 697040785, 295819943.0 / 278816314}}};
static const Matrix d50_to_d65 = {
    {{0.955473421488075, -0.02309845494876471, 0.06325924320057072},
     {-0.0283697093338637, 1.0099953980813041, 0.021041441191917323},
     {0.012314014864481998, -0.020507649298898964, 1.330365926242124}}};
static const Matrix xyz_to_lms = {{{0.8190224379967030, 0.3619062600528904, -0.1288737815209879},
                                   {0.0329836539323885, 0.9292868615863434, 0.0361446663506424},
                                   {0.0481771893596242, 0.2642395317527308, 0.6335478284694309}}};
static const Matrix lms_to_oklab = {
    {{0.2104542683093140, 0.7936177747023054, -0.0040720430116193},
     {1.9779985324311684, -2.4285922420485799, 0.4505937096174110},
     {0.0259040424655478, 0.7827717124575296, -0.8086757549230774}}};

#define REC2020_A 1.09929682680944
#define REC2020_B 0.018053968510807
#define LAB_E (216.0 / 24389)
#define LAB_K (24389.0 / 27)
static const double white_d50[3] = {0.3457 / 0.3585, 1, (1 - 0.3457 - 0.3585) / 0.3585};

static void apply(const Matrix *m, double c[3])
{
    double v[3] = {c[0], c[1], c[2]};
    for (int i = 0; i < 3; i++)
        c[i] = m->m[i][0] * v[0] + m->m[i][1] * v[1] + m->m[i][2] * v[2];
}

static void apply_inverse(const Matrix *m, double c[3])
{
    const double(*a)[3] = m->m;
    Matrix inverse;
    double det = 0;
    for (int i = 0; i < 3; i++)
        det += a[0][i] *
               (a[1][(i + 1) % 3] * a[2][(i + 2) % 3] - a[1][(i + 2) % 3] * a[2][(i + 1) % 3]);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            inverse.m[j][i] = (a[(i + 1) % 3][(j + 1) % 3] * a[(i + 2) % 3][(j + 2) % 3] -
                               a[(i + 1) % 3][(j + 2) % 3] * a[(i + 2) % 3][(j + 1) % 3]) /
                              det;
    apply(&inverse, c);
}

/* Transfer functions, mirrored below 0 as in 10.2 to 10.6. */
static double to_linear(ArtSpace s, double v)
{
    double x = fabs(v), y = x;
    switch (s) {
    case ART_SPACE_SRGB:
    case ART_SPACE_P3:
        y = dt_art_linear(x);
        break;
    case ART_SPACE_A98:
        y = pow(x, 563.0 / 256);
        break;
    case ART_SPACE_PROPHOTO:
        y = x <= 16.0 / 512 ? x / 16 : pow(x, 1.8);
        break;
    case ART_SPACE_REC2020: /* ITU-R BT.2020-2, table 4 */
        y = x < REC2020_B * 4.5 ? x / 4.5 : pow((x + REC2020_A - 1) / REC2020_A, 1 / 0.45);
        break;
    default:
        break;
    }
    return copysign(y, v);
}

static double from_linear(ArtSpace s, double v)
{
    double x = fabs(v), y = x;
    switch (s) {
    case ART_SPACE_SRGB:
    case ART_SPACE_P3:
        y = dt_art_unlinear(x);
        break;
    case ART_SPACE_A98:
        y = pow(x, 256.0 / 563);
        break;
    case ART_SPACE_PROPHOTO:
        y = x >= 1.0 / 512 ? pow(x, 1 / 1.8) : 16 * x;
        break;
    case ART_SPACE_REC2020:
        y = x > REC2020_B ? REC2020_A * pow(x, 0.45) - (REC2020_A - 1) : 4.5 * x;
        break;
    default:
        break;
    }
    return copysign(y, v);
}

static const Matrix *rgb_matrix(ArtSpace s)
{
    switch (s) {
    case ART_SPACE_P3:
        return &p3_to_xyz;
    case ART_SPACE_A98:
        return &a98_to_xyz;
    case ART_SPACE_REC2020:
        return &rec2020_to_xyz;
    case ART_SPACE_PROPHOTO:
        return &prophoto_to_xyz50;
    default:
        return &srgb_to_xyz;
    }
}

static void to_polar(double c[3])
{
    double chroma = hypot(c[1], c[2]), hue = atan2(c[2], c[1]) * 180 / G_PI;
    c[1] = chroma;
    c[2] = hue < 0 ? hue + 360 : hue;
}

static void from_polar(double c[3])
{
    double hue = c[2] * G_PI / 180, chroma = c[1];
    c[1] = chroma * cos(hue);
    c[2] = chroma * sin(hue);
}

static void lab_to_xyz50(double c[3])
{
    double y = (c[0] + 16) / 116, f[3] = {c[1] / 500 + y, y, y - c[2] / 200};
    for (int i = 0; i < 3; i++) {
        double cube = f[i] * f[i] * f[i];
        if (i == 1)
            cube = c[0] > LAB_K * LAB_E ? cube : c[0] / LAB_K;
        else if (cube <= LAB_E)
            cube = (116 * f[i] - 16) / LAB_K;
        f[i] = cube;
    }
    for (int i = 0; i < 3; i++)
        c[i] = f[i] * white_d50[i];
}

static void xyz50_to_lab(double c[3])
{
    double f[3];
    for (int i = 0; i < 3; i++) {
        double v = c[i] / white_d50[i];
        f[i] = v > LAB_E ? cbrt(v) : (LAB_K * v + 16) / 116;
    }
    c[0] = 116 * f[1] - 16;
    c[1] = 500 * (f[0] - f[1]);
    c[2] = 200 * (f[1] - f[2]);
}

/* CSS Color 4, 7.1: hue in degrees, the rest 0 to 1. */
static double hsl_channel(double hue, double s, double l, double offset)
{
    double k = fmod(offset + hue / 30, 12);
    if (k < 0)
        k += 12;
    double a = s * MIN(l, 1 - l);
    return l - a * MAX(-1, MIN(MIN(k - 3, 9 - k), 1));
}

static void hsl_to_srgb(double c[3])
{
    double h = c[0], s = c[1] / 100, l = c[2] / 100;
    c[0] = hsl_channel(h, s, l, 0);
    c[1] = hsl_channel(h, s, l, 8);
    c[2] = hsl_channel(h, s, l, 4);
}

static void hwb_to_srgb(double c[3])
{
    double white = c[1] / 100, black = c[2] / 100;
    double h = c[0];
    for (int i = 0; i < 3; i++)
        c[i] = white + black >= 1 ? white / (white + black)
                                  : hsl_channel(h, 1, 0.5,
                                                i == 0   ? 0
                                                : i == 1 ? 8
                                                         : 4) *
                                            (1 - white - black) +
                                        white;
}

/* Components this close differ only by the rounding of the conversions. */
#define GREY 1e-6

static double hue_of(const double c[3], double most, double spread)
{
    if (spread < GREY)
        return 0;
    double h = most == c[0]   ? (c[1] - c[2]) / spread + (c[1] < c[2] ? 6 : 0)
               : most == c[1] ? (c[2] - c[0]) / spread + 2
                              : (c[0] - c[1]) / spread + 4;
    return h * 60;
}

static void srgb_to_hsl(double c[3])
{
    double most = MAX(c[0], MAX(c[1], c[2])), least = MIN(c[0], MIN(c[1], c[2]));
    double light = (most + least) / 2, spread = most - least, sat = 0;
    double h = hue_of(c, most, spread);
    if (spread >= GREY && light != 0 && light != 1)
        sat = (most - light) / MIN(light, 1 - light);
    if (sat < 0) {
        h = fmod(h + 180, 360);
        sat = -sat;
    }
    c[0] = h;
    c[1] = sat * 100;
    c[2] = light * 100;
}

static void srgb_to_hwb(double c[3])
{
    double most = MAX(c[0], MAX(c[1], c[2])), least = MIN(c[0], MIN(c[1], c[2]));
    c[0] = hue_of(c, most, most - least);
    c[1] = least * 100;
    c[2] = (1 - most) * 100;
}

static void to_xyz(ArtSpace s, double c[3])
{
    switch (s) {
    case ART_SPACE_XYZ:
        return;
    case ART_SPACE_LCH:
        from_polar(c);
        /* fall through */
    case ART_SPACE_LAB:
        lab_to_xyz50(c);
        /* fall through */
    case ART_SPACE_XYZ_D50:
        apply(&d50_to_d65, c);
        return;
    case ART_SPACE_OKLCH:
        from_polar(c);
        /* fall through */
    case ART_SPACE_OKLAB:
        apply_inverse(&lms_to_oklab, c);
        for (int i = 0; i < 3; i++)
            c[i] = c[i] * c[i] * c[i];
        apply_inverse(&xyz_to_lms, c);
        return;
    case ART_SPACE_HSL:
        hsl_to_srgb(c);
        break;
    case ART_SPACE_HWB:
        hwb_to_srgb(c);
        break;
    default:
        break;
    }
    if (s == ART_SPACE_HSL || s == ART_SPACE_HWB)
        s = ART_SPACE_SRGB;
    for (int i = 0; i < 3; i++)
        c[i] = to_linear(s, c[i]);
    apply(rgb_matrix(s), c);
    if (s == ART_SPACE_PROPHOTO)
        apply(&d50_to_d65, c);
}

static void from_xyz(ArtSpace s, double c[3])
{
    switch (s) {
    case ART_SPACE_XYZ:
        return;
    case ART_SPACE_XYZ_D50:
        apply_inverse(&d50_to_d65, c);
        return;
    case ART_SPACE_LAB:
    case ART_SPACE_LCH:
        apply_inverse(&d50_to_d65, c);
        xyz50_to_lab(c);
        if (s == ART_SPACE_LCH)
            to_polar(c);
        return;
    case ART_SPACE_OKLAB:
    case ART_SPACE_OKLCH:
        apply(&xyz_to_lms, c);
        for (int i = 0; i < 3; i++)
            c[i] = cbrt(c[i]);
        apply(&lms_to_oklab, c);
        if (s == ART_SPACE_OKLCH)
            to_polar(c);
        return;
    default:
        break;
    }
    ArtSpace rgb = s == ART_SPACE_HSL || s == ART_SPACE_HWB ? ART_SPACE_SRGB : s;
    if (rgb == ART_SPACE_PROPHOTO)
        apply_inverse(&d50_to_d65, c);
    apply_inverse(rgb_matrix(rgb), c);
    for (int i = 0; i < 3; i++)
        c[i] = from_linear(rgb, c[i]);
    if (s == ART_SPACE_HSL)
        srgb_to_hsl(c);
    else if (s == ART_SPACE_HWB)
        srgb_to_hwb(c);
}

int dt_art_space_hue(ArtSpace space)
{
    switch (space) {
    case ART_SPACE_HSL:
    case ART_SPACE_HWB:
        return 0;
    case ART_SPACE_LCH:
    case ART_SPACE_OKLCH:
        return 2;
    default:
        return -1;
    }
}

int dt_art_space_of(const char *name, gsize len)
{
    static const struct {
        const char *name;
        ArtSpace space;
    } names[] = {{"srgb", ART_SPACE_SRGB},
                 {"srgb-linear", ART_SPACE_SRGB_LINEAR},
                 {"display-p3", ART_SPACE_P3},
                 {"a98-rgb", ART_SPACE_A98},
                 {"prophoto-rgb", ART_SPACE_PROPHOTO},
                 {"rec2020", ART_SPACE_REC2020},
                 {"xyz-d50", ART_SPACE_XYZ_D50},
                 {"xyz-d65", ART_SPACE_XYZ},
                 {"xyz", ART_SPACE_XYZ},
                 {"lab", ART_SPACE_LAB},
                 {"lch", ART_SPACE_LCH},
                 {"oklab", ART_SPACE_OKLAB},
                 {"oklch", ART_SPACE_OKLCH},
                 {"hsl", ART_SPACE_HSL},
                 {"hwb", ART_SPACE_HWB}};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++)
        if (strlen(names[i].name) == len && g_ascii_strncasecmp(names[i].name, name, len) == 0)
            return (int)names[i].space;
    return -1;
}

ArtTint dt_art_tint_in(ArtTint t, ArtSpace space)
{
    if (t.space == space)
        return t;
    int hue = dt_art_space_hue(space);
    ArtTint out = t;
    out.space = space;
    out.missing = t.missing & 8;
    to_xyz(t.space, out.c);
    from_xyz(space, out.c);
    /* A grey has no hue: 4.4. */
    double chroma = hue == 2 ? out.c[1] : space == ART_SPACE_HSL ? out.c[1] : 1;
    if (space == ART_SPACE_HWB && out.c[1] + out.c[2] >= 100 - 1e-6)
        chroma = 0;
    if (hue >= 0 && chroma < (space == ART_SPACE_OKLCH ? 4e-6 : 1.5e-3))
        out.missing |= 1u << hue;
    return out;
}

/* Gamut mapping -------------------------------------------------------------------------------- */

static gboolean in_gamut(const double c[3])
{
    const double slack = 1e-5;
    for (int i = 0; i < 3; i++)
        if (c[i] < -slack || c[i] > 1 + slack)
            return FALSE;
    return TRUE;
}

static ArtTint clipped(ArtTint t)
{
    ArtTint out = dt_art_tint_in(t, ART_SPACE_SRGB);
    for (int i = 0; i < 3; i++)
        out.c[i] = CLAMP(out.c[i], 0, 1);
    return out;
}

/* deltaEOK: 13.2.3. */
static double difference(ArtTint a, ArtTint b)
{
    a = dt_art_tint_in(a, ART_SPACE_OKLAB);
    b = dt_art_tint_in(b, ART_SPACE_OKLAB);
    return hypot(a.c[0] - b.c[0], hypot(a.c[1] - b.c[1], a.c[2] - b.c[2]));
}

/* Reduces chroma in OKLCH until the clipped colour is not noticeably different: 13.2.4. */
static ArtTint mapped_into(ArtTint origin)
{
    const double noticeable = 0.02, fine = 0.0001;
    ArtTint at = dt_art_tint_in(origin, ART_SPACE_OKLCH), clip = clipped(at);
    if (at.c[0] >= 1 || at.c[0] <= 0) {
        double v = at.c[0] >= 1;
        return (ArtTint){.space = ART_SPACE_SRGB, .c = {v, v, v}, .alpha = origin.alpha};
    }
    if (difference(clip, at) < noticeable)
        return clip;
    double low = 0, high = at.c[1];
    gboolean low_in = TRUE;
    while (high - low > fine) {
        at.c[1] = (low + high) / 2;
        if (low_in && in_gamut(dt_art_tint_in(at, ART_SPACE_SRGB).c)) {
            low = at.c[1];
            continue;
        }
        clip = clipped(at);
        double e = difference(clip, at);
        if (e >= noticeable) {
            high = at.c[1];
        } else if (noticeable - e < fine) {
            return clip;
        } else {
            low_in = FALSE;
            low = at.c[1];
        }
    }
    return clip;
}

DtColour dt_art_tint_colour(ArtTint t, gboolean *mapped)
{
    for (int i = 0; i < 3; i++)
        t.c[i] = isfinite(t.c[i]) ? t.c[i] : 0;
    ArtTint s = dt_art_tint_in(t, ART_SPACE_SRGB);
    *mapped = !in_gamut(s.c);
    s = *mapped ? mapped_into(t) : clipped(s);
    return (DtColour){s.c[0], s.c[1], s.c[2], CLAMP(t.alpha, 0, 1)};
}

/* Mixing --------------------------------------------------------------------------------------- */

/* 12.4: hue b adjusted relative to a by the interpolation method. */
static double hue_toward(double a, double b, ArtHueWay way)
{
    double d = fmod(b, 360) - fmod(a, 360);
    switch (way) {
    case ART_HUE_LONGER:
        if (d > 0 && d < 180)
            d -= 360;
        else if (d > -180 && d <= 0)
            d += 360;
        break;
    case ART_HUE_INCREASING:
        d = d < 0 ? d + 360 : d;
        break;
    case ART_HUE_DECREASING:
        d = d > 0 ? d - 360 : d;
        break;
    default:
        d = d > 180 ? d - 360 : d < -180 ? d + 360 : d;
    }
    return a + d;
}

ArtTint dt_art_tint_mix(ArtTint a, ArtTint b, double t, ArtSpace space, ArtHueWay way)
{
    a = dt_art_tint_in(a, space);
    b = dt_art_tint_in(b, space);
    int hue = dt_art_space_hue(space);
    for (int i = 0; i < 3; i++) { /* a component that one lacks is taken from the other: 12.2 */
        if (a.missing & 1u << i)
            a.c[i] = b.c[i];
        if (b.missing & 1u << i)
            b.c[i] = a.c[i];
    }
    if (a.missing & 8)
        a.alpha = b.alpha;
    if (b.missing & 8)
        b.alpha = a.alpha;
    ArtTint out = {.space = space, .missing = a.missing & b.missing};
    out.alpha = a.alpha + (b.alpha - a.alpha) * t;
    for (int i = 0; i < 3; i++) {
        if (i == hue)
            out.c[i] = fmod(a.c[i] + (hue_toward(a.c[i], b.c[i], way) - a.c[i]) * t + 720, 360);
        else if (out.alpha > 0)
            out.c[i] = (a.c[i] * a.alpha * (1 - t) + b.c[i] * b.alpha * t) / out.alpha;
        else
            out.c[i] = 0; /* stays premultiplied: 12.3 */
    }
    return out;
}
