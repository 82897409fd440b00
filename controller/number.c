/* number: decimals to integers, exactly rounded, half away from zero. */
#include "core.h"

bool dtc_number_nm(const DtcNumber *n, bool inches, int32_t *nm)
{
    uint32_t limit = inches ? 83 : 2146;
    if (n->whole > limit)
        return false;
    uint32_t size;
    if (inches)
        size = n->whole * 25400000u + (uint32_t)(((uint64_t)n->billionths * 254 + 5000) / 10000);
    else
        size = n->whole * 1000000u + (n->billionths + 500) / 1000;
    *nm = n->negative ? -(int32_t)size : (int32_t)size;
    return true;
}

bool dtc_number_thousandths(const DtcNumber *n, uint32_t *thousandths)
{
    if (n->whole > 4000000 || (n->negative && (n->whole || n->billionths)))
        return false;
    *thousandths = n->whole * 1000 + (n->billionths + 500000) / 1000000;
    return true;
}
