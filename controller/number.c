/* number: decimals to integers, exactly rounded, half away from zero. */
#include "core.h"

enum { MOST_MM = 20000, MOST_INCHES = 787 };

bool dtc_number_nm(const DtcNumber *n, bool inches, int64_t *nm)
{
    if (n->whole > (inches ? MOST_INCHES : MOST_MM))
        return false;
    uint32_t unit = inches ? 25400000u : 1000000u, rest = (n->billionths + 500) / 1000;
    if (inches)
        rest = (uint32_t)(((uint64_t)n->billionths * 254 + 5000) / 10000);
    int64_t size = (int64_t)((uint64_t)n->whole * unit + rest);
    *nm = n->negative ? -size : size;
    return true;
}

float dtc_number_float(const DtcNumber *n)
{
    float size = (float)n->whole + (float)n->billionths * 1e-9f;
    return n->negative ? -size : size;
}

/* In two halves of 32 bits, which an 8-bit chip converts far sooner than 64. */
float dtc_mm(int64_t nm)
{
    int32_t low = (int32_t)nm, high = (int32_t)(nm >> 32);
    if (high == (low < 0 ? -1 : 0))
        return (float)low * 1e-6f;
    return (float)high * 4294.967296f + (float)(uint32_t)low * 1e-6f;
}

bool dtc_number_thousandths(const DtcNumber *n, uint32_t *thousandths)
{
    if (n->whole > 4000000 || (n->negative && (n->whole || n->billionths)))
        return false;
    *thousandths = n->whole * 1000 + (n->billionths + 500000) / 1000000;
    return true;
}
