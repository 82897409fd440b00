#include "bare-chip.h"

#include <elf.h>
#include <glib/gstdio.h>
#include <simavr/sim_core.h>
#include <string.h>

enum { VECTORS = 26, WORDS_EACH = 2 };
enum { RJMP_TO_ITSELF = 0xcfff, RETI = 0x9518 };
enum { MACHINE_AVR = 83, ARCHITECTURE_5 = 5 };
enum { STACK_LOW = 0x5d, STACK_HIGH = 0x5e, PRESCALE = 1024 };

typedef struct {
    Elf32_Ehdr header;
    Elf32_Shdr sections[3];
    char names[24];
    uint16_t code[VECTORS * WORDS_EACH];
} Image;

/* An ELF file whose reset vector loops and whose other vectors return. */
static void make_image(Image *image)
{
    static const char names[24] = "\0.text\0.shstrtab";
    *image = (Image){.header = {.e_ident = {ELFMAG0, ELFMAG1, ELFMAG2, ELFMAG3, ELFCLASS32,
                                            ELFDATA2LSB, EV_CURRENT},
                                .e_type = ET_EXEC,
                                .e_machine = MACHINE_AVR,
                                .e_version = EV_CURRENT,
                                .e_flags = ARCHITECTURE_5,
                                .e_shoff = offsetof(Image, sections),
                                .e_ehsize = sizeof(Elf32_Ehdr),
                                .e_shentsize = sizeof(Elf32_Shdr),
                                .e_shnum = 3,
                                .e_shstrndx = 2},
                     .sections = {{0},
                                  {.sh_name = 1,
                                   .sh_type = SHT_PROGBITS,
                                   .sh_flags = SHF_ALLOC | SHF_EXECINSTR,
                                   .sh_offset = offsetof(Image, code),
                                   .sh_size = sizeof image->code,
                                   .sh_addralign = 2},
                                  {.sh_name = 7,
                                   .sh_type = SHT_STRTAB,
                                   .sh_offset = offsetof(Image, names),
                                   .sh_size = sizeof names,
                                   .sh_addralign = 1}}};
    memcpy(image->names, names, sizeof names);
    image->code[0] = RJMP_TO_ITSELF;
    for (int i = 1; i < VECTORS * WORDS_EACH; i++)
        image->code[i] = RETI;
}

DtRig *bare_rig_new(const char *rig_text, const DtChipOptions *o, GError **error)
{
    g_autofree char *path = NULL;
    Image image;
    make_image(&image);
    g_close(g_file_open_tmp("drawtrue-XXXXXX", &path, NULL), NULL);
    g_assert_true(g_file_set_contents(path, (const char *)&image, sizeof image, NULL));
    DtRig *r = dt_rig_new_from_text(rig_text, "test", NULL);
    DtChipOptions options = *o;
    options.image = path;
    g_assert_true(dt_rig_use_chip(r, &options, error) == (*error == NULL));
    g_unlink(path);
    return r;
}

DtRig *bare_chip_new(const char *rig_text, const DtChipOptions *o)
{
    g_autoptr(GError) error = NULL;
    DtRig *r = bare_rig_new(rig_text, o, &error);
    g_assert_no_error(error);
    bare_chip(r)->avr->cycle += bare_chip(r)->avr->cycle % 2;
    return r;
}

void bare_put(Chip *c, uint16_t address, uint8_t value)
{
    const unsigned i = AVR_DATA_TO_IO(address);
    if (c->avr->io[i].w.c)
        c->avr->io[i].w.c(c->avr, address, value, c->avr->io[i].w.param);
    else
        c->avr->data[address] = value;
}

uint8_t bare_get(Chip *c, uint16_t address)
{
    const unsigned i = AVR_DATA_TO_IO(address);
    if (c->avr->io[i].r.c)
        c->avr->data[address] = c->avr->io[i].r.c(c->avr, address, c->avr->io[i].r.param);
    return c->avr->data[address];
}

void bare_put_pair(Chip *c, uint16_t low, uint16_t value)
{
    bare_put(c, low + 1, (uint8_t)(value >> 8));
    bare_put(c, low, (uint8_t)value);
}

uint16_t bare_get_pair(Chip *c, uint16_t low)
{
    const uint8_t byte = bare_get(c, low);
    return (uint16_t)(byte | bare_get(c, low + 1) << 8);
}

static avr_cycle_count_t on_time(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    (void)user;
    return 0;
}

void bare_pass(Chip *c, uint64_t cycles)
{
    const uint64_t until = c->avr->cycle + cycles;
    avr_cycle_timer_register(c->avr, cycles, on_time, NULL);
    while (c->avr->cycle < until)
        avr_run(c->avr);
    avr_cycle_timer_cancel(c->avr, on_time, NULL);
}

void bare_align(Chip *c, unsigned after)
{
    bare_pass(c, (PRESCALE + after - c->avr->cycle % PRESCALE) % PRESCALE + PRESCALE);
}

void bare_serve(Chip *c, gboolean on)
{
    c->avr->data[STACK_LOW] = 0xff;
    c->avr->data[STACK_HIGH] = 8;
    avr_sreg_set(c->avr, S_I, (uint8_t)on);
}

gboolean bare_pending(Chip *c, uint8_t vector)
{
    return chip_vector(c, vector)->pending;
}

static void on_entry(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    *(unsigned *)user += value;
}

void bare_count(Chip *c, uint8_t vector, unsigned *n)
{
    avr_irq_register_notify(chip_vector(c, vector)->irq + AVR_INT_IRQ_RUNNING, on_entry, n);
}
