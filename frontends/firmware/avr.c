/* The microcontroller is powered up with its firmware, and runs. */
#include "avr.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <avr_eeprom.h>
#include <sim_core_decl.h>

#include "image.h"
#include "ticks.h"

enum {
    MEMORY = 1 << 16, /* what a 16-bit address reaches; avr_init allocates less, and stray firmware would leave it */
    STRIDE = 1000     /* CPU cycles */
};

static void no_nap(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

static hy_avr *the_machine; /* for the simulator's two callbacks that carry nothing else; the process has one */
static void (*core_reset)(avr_t *avr);

/* The simulator is about to tell why it stops. */
static void on_message(avr_t *avr, const int level, const char *format, va_list args)
{
    (void)avr;
    if (level == LOG_ERROR && the_machine != NULL) {
        hy_avr_text_trouble(&the_machine->text, format, args);
    }
}

static void on_reset(avr_t *avr)
{
    the_machine->was_reset = 1;
    if (core_reset != NULL) {
        core_reset(avr);
    }
}

static int unknown_mcu(const hy_avr *m)
{
    const char *names[256];
    size_t count = 0;
    for (int i = 0; avr_kind[i] != NULL; i++) {
        for (int k = 0; k < 4 && avr_kind[i]->names[k] != NULL && count < sizeof names / sizeof names[0]; k++) {
            names[count++] = avr_kind[i]->names[k];
        }
    }
    return hy_avr_unknown(m->wiring, m->simulation->wiring_name, names, count, m->diag);
}

static int known_mcu(const char *name)
{
    for (int i = 0; avr_kind[i] != NULL; i++) {
        for (int k = 0; k < 4 && avr_kind[i]->names[k] != NULL; k++) {
            if (strcmp(avr_kind[i]->names[k], name) == 0) {
                return 1;
            }
        }
    }
    return 0;
}

/* Gives stray addresses memory of their own. */
static int widen(hy_avr *m)
{
    avr_t *avr = m->avr;
    size_t flash = avr->rampz != 0 ? (size_t)1 << 24 : MEMORY, used = (size_t)avr->flashend + 4;
    uint8_t *data = realloc(avr->data, MEMORY + 1);
    uint8_t *wide = flash > used ? realloc(avr->flash, flash + 4) : avr->flash;
    avr->data = data != NULL ? data : avr->data;
    avr->flash = wide != NULL ? wide : avr->flash;
    if (data == NULL || wide == NULL) {
        return hy_fail(m->diag, "not enough memory for the microcontroller");
    }
    memset(avr->data + avr->ramend + 1, 0, (size_t)MEMORY - avr->ramend);
    if (flash > used) {
        memset(avr->flash + used, 0xff, flash + 4 - used);
    }
    return 0;
}

static int load(hy_avr *m)
{
    hy_image image;
    const char *path = m->simulation->firmware;
    if (hy_image_read(&image, path, m->diag) != 0) {
        return -1;
    }
    int result = 0;
    avr_eeprom_desc_t eeprom = {.ee = image.eeprom.bytes, .offset = 0, .size = (uint32_t)image.eeprom.size};
    if (image.flash.size > (size_t)m->avr->flashend + 1) {
        result = hy_fail(m->diag, "%s: needs %zu bytes of flash; %s has %zu", path, image.flash.size, m->wiring->mcu,
                         (size_t)m->avr->flashend + 1);
    } else if (image.eeprom.size > 0 && avr_ioctl(m->avr, AVR_IOCTL_EEPROM_SET, &eeprom) < 0) {
        result = hy_fail(m->diag, "%s: needs %zu bytes of EEPROM; %s has %u", path, image.eeprom.size, m->wiring->mcu,
                         m->avr->e2end > 0 ? m->avr->e2end + 1 : 0);
    } else {
        avr_loadcode(m->avr, image.flash.bytes, (uint32_t)image.flash.size, 0);
        m->avr->codeend = (uint32_t)image.flash.size;
    }
    hy_image_free(&image);
    return result;
}

static int power_up(hy_avr *m, hy_log *log)
{
    avr_global_logger_set(on_message);
    if (!known_mcu(m->wiring->mcu)) {
        return unknown_mcu(m);
    }
    m->avr = avr_make_mcu_by_name(m->wiring->mcu);
    if (m->avr == NULL || avr_init(m->avr) != 0) {
        return hy_fail(m->diag, "the simulator can't make an %s", m->wiring->mcu);
    }
    m->avr->frequency = m->wiring->mcu_hz;
    m->avr->sleep = no_nap;
    core_reset = m->avr->reset;
    m->avr->reset = on_reset;
    if (widen(m) != 0 || load(m) != 0 || hy_avr_wire(m) != 0) {
        return -1;
    }
    uint8_t level[HY_PINS];
    for (int pin = 0; pin < HY_PINS; pin++) {
        level[pin] = (uint8_t)hy_avr_level(m, pin);
    }
    int by_edges = m->wiring->clock.kind == HY_TO_PORT;
    m->clock = by_edges ? hy_avr_level(m, HY_AVR_CLOCK) : 0;
    if (hy_board_init(&m->board, m->simulation->part, m->wiring->mcu_hz, by_edges ? -1.0 : m->wiring->clock_hz, level,
                      log, m->diag) != 0) {
        return -1;
    }
    hy_avr_show_request(m);
    return 0;
}

static int run(hy_avr *m)
{
    const hy_simulation *s = m->simulation;
    const uint64_t slice = m->wiring->mcu_hz / 100 + 1;
    uint64_t idle = s->idle < UINT64_MAX / HY_TICKS ? s->idle * HY_TICKS : UINT64_MAX;
    uint64_t look = slice;
    const pid_t parent = getppid();
    int state = cpu_Running;
    m->simulated->ended = HY_ENDED_LIMIT;
    while (m->diag->text[0] == '\0' && m->avr->cycle < s->limit) {
        /* so many cycles at once while nothing is due, but not beyond the limit */
        m->avr->run_cycle_limit = s->limit - m->avr->cycle > UINT64_C(2) * STRIDE ? STRIDE : 1;
        state = avr_run(m->avr);
        if (m->was_reset) {
            m->was_reset = 0;
            m->simulated->resets++;
            hy_avr_ports_reset(m);
        }
        if (state == cpu_Done || state == cpu_Crashed || state == cpu_Stopped) {
            break;
        }
        if (m->avr->cycle >= look) {
            look = m->avr->cycle + slice;
            if (getppid() != parent) {
                return hy_fail(m->diag, "nobody waits for the firmware any more");
            }
            if (hy_board_idle(&m->board, m->avr->cycle * HY_TICKS, idle)) {
                m->simulated->ended = HY_ENDED_IDLE;
                break;
            }
        }
    }
    if (state == cpu_Crashed || state == cpu_Stopped) {
        double us = (double)m->avr->cycle * 1e6 / m->wiring->mcu_hz;
        return hy_fail(
            m->diag,
            "%s: the firmware crashed after %.6f s, at address 0x%04x: %s; --for %.0fus shows what came before",
            s->firmware, us * 1e-6, m->avr->pc, hy_avr_text_reason(&m->text), us > 3.0 ? us - 2.0 : 1.0);
    }
    m->simulated->ended = state == cpu_Done ? HY_ENDED_ASLEEP : m->simulated->ended;
    return m->diag->text[0] != '\0' ? -1 : 0;
}

int hy_simulate_here(const hy_simulation *simulation, hy_log *log, hy_simulated *simulated, hy_diag *diag)
{
    hy_avr *m = calloc(1, sizeof *m);
    if (m == NULL) {
        return hy_fail(diag, "not enough memory for the microcontroller");
    }
    m->simulation = simulation;
    m->wiring = simulation->wiring;
    m->diag = diag;
    m->simulated = simulated;
    hy_avr_text_start(&m->text, simulation->text);
    the_machine = m;
    int result = power_up(m, log);
    if (result == 0) {
        result = run(m);
    }
    hy_avr_text_finish(&m->text);
    if (result == 0) {
        uint64_t tick = m->avr->cycle * HY_TICKS + HY_TICKS - 1;
        uint64_t end = simulated->ended == HY_ENDED_IDLE    ? m->board.stirred
                       : simulated->ended == HY_ENDED_LIMIT ? simulation->limit * HY_TICKS
                                                            : tick;
        result = hy_board_finish(&m->board, tick, end);
        simulated->cycles = m->avr->cycle;
        simulated->edges = m->board.edges;
        simulated->strobing = m->board.strobing;
    }
    hy_board_free(&m->board);
    if (m->avr != NULL) {
        avr_terminate(m->avr);
    }
    free(m);
    the_machine = NULL;
    return result;
}
