/* line-check: a line's CRC as an RS-274 comment. */
#include "drawtrue/code.h"

uint16_t dt_code_crc16(const char *bytes, gsize n)
{
    unsigned crc = 0;
    for (gsize i = 0; i < n; i++) {
        crc ^= (unsigned)(uint8_t)bytes[i] << 8;
        for (int bit = 0; bit < 8; bit++)
            crc = (crc << 1) ^ (crc & 0x8000 ? 0x1021u : 0);
        crc &= 0xFFFF;
    }
    return (uint16_t)crc;
}

char *dt_code_add_check(const char *line, gsize len)
{
    return g_strdup_printf("%.*s(*%04X)", (int)len, line, dt_code_crc16(line, len));
}
