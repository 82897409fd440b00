/* number: decimals to integers, exactly rounded, half away from zero. */
#include "core.h"

#include <math.h>

enum { MOST_MM = 20000, MOST_INCHES = 787 };

const DTC_FLASH uint32_t dtc_tens[10] = {1000000000, 100000000, 10000000, 1000000, 100000,
                                         10000,      1000,      100,      10,      1};

float dtc_least(float a, float b)
{
    return dtc_below(a, b) ? a : b;
}

float dtc_most(float a, float b)
{
    return dtc_below(a, b) ? b : a;
}

static uint32_t ten_to(uint8_t power)
{
    return dtc_tens[9 - power];
}

/* The part times 10^places. */
static uint32_t scaled(const DtcNumber *n, uint8_t places)
{
    if (n->places <= places)
        return n->part * ten_to((uint8_t)(places - n->places));
    uint32_t unit = ten_to((uint8_t)(n->places - places));
    return (n->part + unit / 2) / unit;
}

bool dtc_number_nm(const DtcNumber *n, bool inches, int64_t *nm)
{
    if (n->whole > (inches ? MOST_INCHES : MOST_MM))
        return false;
    uint32_t unit = inches ? 25400000u : 1000000u;
    uint32_t rest = scaled(n, inches ? 9 : 6);
    if (inches) /* times 0.0254, rounded, in 32 bits */
        rest = rest / 10000 * 254 + (rest % 10000 * 254 + 5000) / 10000;
    int64_t size = (int64_t)((uint64_t)n->whole * unit + rest);
    *nm = n->negative ? -size : size;
    return true;
}

float dtc_number_float(const DtcNumber *n)
{
    float size = (float)n->whole + (float)n->part / (float)ten_to(n->places);
    return n->negative ? -size : size;
}

/* In two halves of 32 bits, which an 8-bit chip converts much faster than 64. */
float dtc_mm(int64_t nm)
{
    int32_t low = (int32_t)dtc_lower(nm), high = (int32_t)dtc_upper(nm);
    if (high == (low < 0 ? -1 : 0))
        return (float)low * 1e-6f;
    return (float)high * 4294.967296f + (float)(uint32_t)low * 1e-6f;
}

/* No finer than a float is beyond two metres. */
int64_t dtc_nm(float mm)
{
    if (fabsf(mm) < 2000)
        return (int32_t)(mm * 1e6f);
    return (int64_t)(int32_t)(mm * 1e5f) * 10;
}

float dtc_length(float x, float y)
{
    return sqrtf(x * x + y * y);
}

bool dtc_number_thousandths(const DtcNumber *n, uint32_t *thousandths)
{
    if (n->whole > 4000000 || (n->negative && (n->whole || n->part)))
        return false;
    *thousandths = n->whole * 1000 + scaled(n, 3);
    return true;
}
