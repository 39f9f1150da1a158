/* The microcontroller: libsimavr, its ports wired to a board. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <avr_eeprom.h>
#include <avr_extint.h>
#include <avr_ioport.h>
#include <avr_timer.h>
#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_core_decl.h>

#include "avr_text.h"
#include "image.h"
#include "simulate.h"
#include "ticks.h"

enum {
    PORTS = 'L' - 'A' + 1,
    CLOCK = HY_PINS, /* the lead behind the chip's inputs */
    LEADS,
    LATE = 64,       /* no instruction takes so many cycles */
    MEMORY = 1 << 16 /* what a 16-bit address reaches; avr_init allocates less, and stray firmware would leave it */
};

/* A timer's output that drives a lead. */
typedef struct outlet {
    struct machine *machine;
    avr_timer_t *timer; /* null: the lead's pin is no timer's */
    int comparator;
    int level;
} outlet;

typedef struct machine {
    const hy_simulation *simulation;
    const hy_wiring *wiring;
    avr_t *avr;
    hy_board board;
    hy_diag *diag;
    uint8_t port[PORTS], ddr[PORTS]; /* as last written */
    struct port_param {
        struct machine *machine;
        int port;
    } param[PORTS];
    outlet outlet[LEADS];
    int clock;          /* the level of a clock that the firmware makes */
    avr_irq_t *request; /* the pin that the chip's request drives, or null */
    int was_reset;
    hy_simulated *simulated;
    hy_avr_text text;
} machine;

static const hy_lead *lead_of(const machine *m, int lead)
{
    return lead == CLOCK ? &m->wiring->clock : &m->wiring->pin[lead];
}

/* ---- from the ports to the chip ---- */

static int connects_timer(const machine *m, int lead)
{
    const outlet *o = &m->outlet[lead];
    return o->timer != NULL && avr_regbit_get(m->avr, o->timer->comp[o->comparator].com) != avr_timer_com_normal;
}

/* What the chip sees on a lead. */
static int level_of(machine *m, int lead)
{
    const hy_lead *l = lead_of(m, lead);
    if (l->kind != HY_TO_PORT) {
        return l->kind == HY_TIED_HIGH;
    }
    int latch = m->port[l->port - 'A'] >> l->bit & 1;
    int driven = m->ddr[l->port - 'A'] >> l->bit & 1;
    if (!connects_timer(m, lead)) {
        m->outlet[lead].level = latch;
    }
    /* a pin that isn't driven is pulled from outside, or else by the latch's own pull-up */
    int line = driven ? m->outlet[lead].level : l->pull != 0 ? l->pull > 0 : latch;
    return line ^ l->inverted;
}

/* A level-triggered interrupt makes the simulator look at its pin in every cycle while that is low, even if it is disabled:
 * worth it only where the firmware has enabled one for request. */
static void sense_levels(machine *m)
{
    for (avr_io_t *io = m->avr->io_port; io != NULL; io = io->next) {
        if (io->kind == NULL || strcmp(io->kind, "extint") != 0) {
            continue;
        }
        avr_extint_t *extint = (avr_extint_t *)io;
        const hy_lead *l = &m->wiring->request;
        for (int i = 0; i < EXTINT_COUNT; i++) {
            int wanted = m->request != NULL && extint->eint[i].port_pin == l->bit &&
                         extint->eint[i].port_ioctl == (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(l->port) &&
                         avr_regbit_get(m->avr, extint->eint[i].vector.enable);
            extint->eint[i].strict_lvl_trig = (uint8_t)wanted;
        }
    }
}

static void show_request(machine *m)
{
    sense_levels(m);
    if (m->request != NULL) {
        int level = m->board.request ^ m->wiring->request.inverted;
        /* a write to the port must find it as it is, whatever the latch says */
        avr_ioport_external_t external = {.name = (unsigned long)m->wiring->request.port & 0x7f,
                                          .mask = 1UL << m->wiring->request.bit & 0xff,
                                          .value = (unsigned long)level << m->wiring->request.bit & 0xff};
        avr_ioctl(m->avr, (uint32_t)AVR_IOCTL_IOPORT_SET_EXTERNAL(m->wiring->request.port), &external);
        avr_raise_irq(m->request, (uint32_t)level);
    }
}

static avr_cycle_count_t request_due(avr_t *avr, avr_cycle_count_t when, void *param);

/* Sets the alarm for the next change of request. */
static void await_request(machine *m, uint64_t tick)
{
    uint64_t cycle;
    avr_cycle_timer_cancel(m->avr, request_due, m);
    if (hy_board_next_request(&m->board, tick, &cycle) == 0 && cycle != UINT64_MAX) {
        avr_cycle_timer_register(m->avr, cycle > m->avr->cycle ? cycle - m->avr->cycle : 0, request_due, m);
    }
}

static avr_cycle_count_t request_due(avr_t *avr, avr_cycle_count_t when, void *param)
{
    machine *m = param;
    (void)avr;
    hy_board_show_request(&m->board, when);
    show_request(m);
    await_request(m, when * HY_TICKS);
    return 0;
}

static void clock_level(machine *m, uint64_t tick, int level)
{
    int rises = level && !m->clock;
    m->clock = level;
    if (rises) {
        int before = m->board.request;
        hy_board_edge(&m->board, tick);
        if (m->board.request != before) {
            show_request(m);
        }
    }
}

/* A port changes now: so do the leads that go to it. */
static void look_at_port(machine *m, int port)
{
    uint64_t tick = m->avr->cycle * HY_TICKS + 2;
    uint64_t strobes = m->board.strobing.strobes;
    for (int lead = 0; lead < LEADS; lead++) {
        const hy_lead *l = lead_of(m, lead);
        if (l->kind != HY_TO_PORT || l->port != port) {
            continue;
        }
        int level = level_of(m, lead);
        if (lead == CLOCK && !connects_timer(m, lead)) {
            clock_level(m, tick + 1, level);
        } else if (lead < CLOCK) {
            hy_board_pin(&m->board, tick, (hy_pin)lead, level);
        }
    }
    if (!m->board.by_edges && m->board.strobing.strobes != strobes) {
        await_request(m, tick);
    }
}

static void on_port(avr_irq_t *irq, uint32_t value, void *param)
{
    const struct port_param *p = param;
    (void)irq;
    p->machine->port[p->port - 'A'] = (uint8_t)value;
    look_at_port(p->machine, p->port);
}

static void on_ddr(avr_irq_t *irq, uint32_t value, void *param)
{
    const struct port_param *p = param;
    machine *m = p->machine;
    (void)irq;
    m->ddr[p->port - 'A'] = (uint8_t)value;
    if (m->request != NULL && p->port == m->wiring->request.port && value >> m->wiring->request.bit & 1) {
        m->simulated->fights = 1;
    }
    look_at_port(m, p->port);
}

/* ---- timers' outputs ---- */

/* The cycle in which a timer moved its output. The simulator tells of it after the instruction under way, but its timer knows:
 * it counts from tov_base, where it last was 0, and matches comp_cycles later; at its end it has just set tov_base. */
static uint64_t moved_at(const machine *m, const outlet *o, int level)
{
    const avr_timer_t *t = o->timer;
    const avr_timer_comp_t *c = &t->comp[o->comparator];
    int mode = avr_regbit_get(m->avr, c->com);
    int at_end = mode == avr_timer_com_toggle  ? c->comp_cycles == t->tov_cycles
                 : mode == avr_timer_com_clear ? level
                                               : !level;
    uint64_t when = at_end ? t->tov_base : t->tov_base + c->comp_cycles;
    uint64_t now = m->avr->cycle;
    return when <= now && now - when < LATE ? when : now;
}

static void on_outlet(avr_irq_t *irq, uint32_t value, void *param)
{
    outlet *o = param;
    machine *m = o->machine;
    (void)irq;
    int lead = (int)(o - m->outlet);
    const hy_lead *l = lead_of(m, lead);
    o->level = (int)(value & 1);
    if (!(m->ddr[l->port - 'A'] >> l->bit & 1)) {
        return;
    }
    uint64_t tick = moved_at(m, o, o->level) * HY_TICKS;
    int level = o->level ^ l->inverted;
    if (lead == CLOCK) {
        clock_level(m, tick, level);
        return;
    }
    uint64_t strobes = m->board.strobing.strobes;
    hy_board_pin(&m->board, tick, (hy_pin)lead, level);
    if (!m->board.by_edges && m->board.strobing.strobes != strobes) {
        await_request(m, tick);
    }
}

/* ---- the UART ---- */

static void on_text(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    hy_avr_text_put(param, (unsigned char)value);
}

/* ---- wiring ---- */

static avr_ioport_t *port_of(const machine *m, int port)
{
    for (avr_io_t *io = m->avr->io_port; io != NULL; io = io->next) {
        if (io->kind != NULL && strcmp(io->kind, "port") == 0 && ((avr_ioport_t *)io)->name == port) {
            return (avr_ioport_t *)io;
        }
    }
    return NULL;
}

/* A microcontroller may lack the port, but of the ports it has, the simulator does not know which pins are brought out. */
static int must_exist(machine *m, const hy_lead *lead)
{
    if (lead->kind != HY_TO_PORT || port_of(m, lead->port) != NULL) {
        return 0;
    }
    char ports[2 * PORTS + 1] = "";
    size_t used = 0;
    for (int port = 'A'; port <= 'L'; port++) {
        if (port_of(m, port) != NULL) {
            ports[used++] = ' ';
            ports[used++] = (char)port;
        }
    }
    return hy_fail_at(m->diag, m->simulation->wiring_name, lead->line, lead->column,
                      "found P%c%u, which %s does not have; its ports are%s", lead->port, lead->bit, m->wiring->mcu,
                      ports);
}

static void watch_ports(machine *m)
{
    for (int port = 'A'; port <= 'L'; port++) {
        if (port_of(m, port) != NULL) {
            struct port_param *p = &m->param[port - 'A'];
            *p = (struct port_param){m, port};
            const uint32_t irqs = (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port);
            avr_irq_register_notify(avr_io_getirq(m->avr, irqs, IOPORT_IRQ_REG_PORT), on_port, p);
            avr_irq_register_notify(avr_io_getirq(m->avr, irqs, IOPORT_IRQ_DIRECTION_ALL), on_ddr, p);
        }
    }
}

static void watch_timer(machine *m, avr_timer_t *timer)
{
    for (int i = 0; i < AVR_TIMER_COMP_COUNT; i++) {
        const avr_regbit_t pin = timer->comp[i].com_pin;
        for (int lead = 0; pin.reg != 0 && lead < LEADS; lead++) {
            const hy_lead *l = lead_of(m, lead);
            const avr_ioport_t *port = l->kind == HY_TO_PORT ? port_of(m, l->port) : NULL;
            if (port != NULL && port->r_port == pin.reg && l->bit == pin.bit) {
                m->outlet[lead] = (outlet){m, timer, i, 0};
                avr_irq_register_notify(timer->io.irq + TIMER_IRQ_OUT_COMP + i, on_outlet, &m->outlet[lead]);
            }
        }
    }
}

static int watch_uart(machine *m)
{
    const hy_wiring *w = m->wiring;
    if (w->uart < 0) {
        return 0;
    }
    avr_irq_t *irq = avr_io_getirq(m->avr, (uint32_t)AVR_IOCTL_UART_GETIRQ('0' + w->uart), UART_IRQ_OUTPUT);
    if (irq == NULL) {
        return w->uart_line == 0
                   ? 0
                   : hy_fail_at(m->diag, m->simulation->wiring_name, w->uart_line, w->uart_column,
                                "found UART %d, which %s does not have; expected another, or off", w->uart, w->mcu);
    }
    uint32_t flags = 0; /* neither coloured lines nor naps */
    avr_ioctl(m->avr, (uint32_t)AVR_IOCTL_UART_SET_FLAGS('0' + w->uart), &flags);
    avr_irq_register_notify(irq, on_text, &m->text);
    return 0;
}

static int wire(machine *m)
{
    for (int lead = 0; lead < LEADS; lead++) {
        if (must_exist(m, lead_of(m, lead)) != 0) {
            return -1;
        }
    }
    if (must_exist(m, &m->wiring->request) != 0) {
        return -1;
    }
    watch_ports(m);
    for (avr_io_t *io = m->avr->io_port; io != NULL; io = io->next) {
        if (io->kind != NULL && strcmp(io->kind, "timer") == 0) {
            watch_timer(m, (avr_timer_t *)io);
        }
    }
    if (m->wiring->request.kind == HY_TO_PORT) {
        m->request = avr_io_getirq(m->avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(m->wiring->request.port),
                                   (int)m->wiring->request.bit);
    }
    return watch_uart(m);
}

/* ---- the microcontroller itself ---- */

static void no_nap(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

static machine *the_machine; /* for the simulator's two callbacks that carry nothing else; the process has one */
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

static int unknown_mcu(const machine *m)
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
static int widen(machine *m)
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

static int load(machine *m)
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

static int power_up(machine *m, hy_log *log)
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
    if (widen(m) != 0 || load(m) != 0 || wire(m) != 0) {
        return -1;
    }
    uint8_t level[HY_PINS];
    for (int pin = 0; pin < HY_PINS; pin++) {
        level[pin] = (uint8_t)level_of(m, pin);
    }
    int by_edges = m->wiring->clock.kind == HY_TO_PORT;
    m->clock = by_edges ? level_of(m, CLOCK) : 0;
    if (hy_board_init(&m->board, m->simulation->part, m->wiring->mcu_hz, by_edges ? -1.0 : m->wiring->clock_hz, level,
                      log, m->diag) != 0) {
        return -1;
    }
    show_request(m);
    return 0;
}

/* The watchdog has bitten: every register is 0 again, and the simulator has forgotten its alarms. */
static void after_reset(machine *m)
{
    m->was_reset = 0;
    m->simulated->resets++;
    memset(m->port, 0, sizeof m->port);
    memset(m->ddr, 0, sizeof m->ddr);
    for (int port = 'A'; port <= 'L'; port++) {
        if (port_of(m, port) != NULL) {
            const uint32_t irqs = (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port);
            for (int i = 0; i < IOPORT_IRQ_COUNT; i++) { /* or what the firmware writes again would be passed over */
                avr_io_getirq(m->avr, irqs, i)->flags |= IRQ_FLAG_INIT;
            }
            look_at_port(m, port);
        }
    }
    show_request(m);
    if (!m->board.by_edges) {
        await_request(m, m->avr->cycle * HY_TICKS + 2);
    }
}

static int run(machine *m)
{
    const hy_simulation *s = m->simulation;
    const uint64_t slice = m->wiring->mcu_hz / 100 + 1;
    uint64_t idle = s->idle < UINT64_MAX / HY_TICKS ? s->idle * HY_TICKS : UINT64_MAX;
    uint64_t look = slice;
    const pid_t parent = getppid();
    int state = cpu_Running;
    m->simulated->ended = HY_ENDED_LIMIT;
    m->avr->run_cycle_limit = 1000;
    while (m->diag->text[0] == '\0' && m->avr->cycle < s->limit) {
        state = avr_run(m->avr);
        if (m->was_reset) {
            after_reset(m);
            m->avr->run_cycle_limit = 1000;
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
        double seconds = (double)m->avr->cycle / m->wiring->mcu_hz;
        return hy_fail(
            m->diag,
            "%s: the firmware crashed after %.6f s, at address 0x%04x: %s; --for %.6fs shows what came before",
            s->firmware, seconds, m->avr->pc, hy_avr_text_reason(&m->text), seconds);
    }
    m->simulated->ended = state == cpu_Done ? HY_ENDED_ASLEEP : m->simulated->ended;
    return m->diag->text[0] != '\0' ? -1 : 0;
}

int hy_simulate_here(const hy_simulation *simulation, hy_log *log, hy_simulated *simulated, hy_diag *diag)
{
    machine *m = calloc(1, sizeof *m);
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
