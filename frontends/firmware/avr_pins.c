/* The wiring: ports and timers move the chip's pins, and the chip moves request. */
#include <stdlib.h>
#include <string.h>

#include "avr.h"

#include <avr_extint.h>
#include <avr_ioport.h>
#include <avr_uart.h>

#include "ticks.h"

enum { LATE = 64 }; /* no instruction takes so many cycles */

static const hy_lead *lead_of(const hy_avr *m, int lead)
{
    return lead == HY_AVR_CLOCK ? &m->wiring->clock : &m->wiring->pin[lead];
}

/* ---- from the ports to the chip ---- */

static int connects_timer(const hy_avr *m, int lead)
{
    const hy_avr_outlet *o = &m->outlet[lead];
    return o->timer != NULL && avr_regbit_get(m->avr, o->timer->comp[o->comparator].com) != avr_timer_com_normal;
}

/* What the chip sees on a lead. */
int hy_avr_level(hy_avr *m, int lead)
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
static void sense_levels(hy_avr *m)
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

void hy_avr_show_request(hy_avr *m)
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
static void await_request(hy_avr *m, uint64_t tick)
{
    uint64_t cycle;
    avr_cycle_timer_cancel(m->avr, request_due, m);
    if (hy_board_next_request(&m->board, tick, &cycle) == 0 && cycle != UINT64_MAX) {
        avr_cycle_timer_register(m->avr, cycle > m->avr->cycle ? cycle - m->avr->cycle : 0, request_due, m);
    }
}

static avr_cycle_count_t request_due(avr_t *avr, avr_cycle_count_t when, void *param)
{
    hy_avr *m = param;
    (void)avr;
    hy_board_show_request(&m->board, when);
    hy_avr_show_request(m);
    await_request(m, when * HY_TICKS);
    return 0;
}

static void clock_level(hy_avr *m, uint64_t tick, int level)
{
    int rises = level && !m->clock;
    m->clock = level;
    if (rises) {
        int before = m->board.request;
        hy_board_edge(&m->board, tick);
        if (m->board.request != before) {
            hy_avr_show_request(m);
        }
    }
}

/* A port changes now: so do the leads that go to it. */
static void look_at_port(hy_avr *m, int port)
{
    uint64_t tick = m->avr->cycle * HY_TICKS + 2;
    uint64_t strobes = m->board.strobing.strobes;
    for (int lead = 0; lead < HY_AVR_LEADS; lead++) {
        const hy_lead *l = lead_of(m, lead);
        if (l->kind != HY_TO_PORT || l->port != port) {
            continue;
        }
        int level = hy_avr_level(m, lead);
        if (lead == HY_AVR_CLOCK && !connects_timer(m, lead)) {
            clock_level(m, tick + 1, level);
        } else if (lead < HY_AVR_CLOCK) {
            hy_board_pin(&m->board, tick, (hy_pin)lead, level);
        }
    }
    if (!m->board.by_edges && m->board.strobing.strobes != strobes) {
        await_request(m, tick);
    }
}

static void on_port(avr_irq_t *irq, uint32_t value, void *param)
{
    const struct hy_avr_port *p = param;
    (void)irq;
    p->machine->port[p->port - 'A'] = (uint8_t)value;
    look_at_port(p->machine, p->port);
}

static void on_ddr(avr_irq_t *irq, uint32_t value, void *param)
{
    const struct hy_avr_port *p = param;
    hy_avr *m = p->machine;
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
static uint64_t moved_at(const hy_avr *m, const hy_avr_outlet *o, int level)
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
    hy_avr_outlet *o = param;
    hy_avr *m = o->machine;
    (void)irq;
    int lead = (int)(o - m->outlet);
    const hy_lead *l = lead_of(m, lead);
    o->level = (int)(value & 1);
    if (!(m->ddr[l->port - 'A'] >> l->bit & 1)) {
        return;
    }
    uint64_t tick = moved_at(m, o, o->level) * HY_TICKS;
    int level = o->level ^ l->inverted;
    if (lead == HY_AVR_CLOCK) {
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

static avr_ioport_t *port_of(const hy_avr *m, int port)
{
    for (avr_io_t *io = m->avr->io_port; io != NULL; io = io->next) {
        if (io->kind != NULL && strcmp(io->kind, "port") == 0 && ((avr_ioport_t *)io)->name == port) {
            return (avr_ioport_t *)io;
        }
    }
    return NULL;
}

/* A microcontroller may lack the port, but of the ports it has, the simulator does not know which pins are brought out. */
static int must_exist(hy_avr *m, const hy_lead *lead)
{
    if (lead->kind != HY_TO_PORT || port_of(m, lead->port) != NULL) {
        return 0;
    }
    char ports[2 * HY_AVR_PORTS + 1] = "";
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

static void watch_ports(hy_avr *m)
{
    for (int port = 'A'; port <= 'L'; port++) {
        if (port_of(m, port) != NULL) {
            struct hy_avr_port *p = &m->param[port - 'A'];
            *p = (struct hy_avr_port){m, port};
            const uint32_t irqs = (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port);
            avr_irq_register_notify(avr_io_getirq(m->avr, irqs, IOPORT_IRQ_REG_PORT), on_port, p);
            avr_irq_register_notify(avr_io_getirq(m->avr, irqs, IOPORT_IRQ_DIRECTION_ALL), on_ddr, p);
        }
    }
}

static void watch_timer(hy_avr *m, avr_timer_t *timer)
{
    for (int i = 0; i < AVR_TIMER_COMP_COUNT; i++) {
        const avr_regbit_t pin = timer->comp[i].com_pin;
        for (int lead = 0; pin.reg != 0 && lead < HY_AVR_LEADS; lead++) {
            const hy_lead *l = lead_of(m, lead);
            const avr_ioport_t *port = l->kind == HY_TO_PORT ? port_of(m, l->port) : NULL;
            if (port != NULL && port->r_port == pin.reg && l->bit == pin.bit) {
                m->outlet[lead] = (hy_avr_outlet){m, timer, i, 0};
                avr_irq_register_notify(timer->io.irq + TIMER_IRQ_OUT_COMP + i, on_outlet, &m->outlet[lead]);
            }
        }
    }
}

static int watch_uart(hy_avr *m)
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

int hy_avr_wire(hy_avr *m)
{
    for (int lead = 0; lead < HY_AVR_LEADS; lead++) {
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

void hy_avr_ports_reset(hy_avr *m)
{
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
    hy_avr_show_request(m);
    if (!m->board.by_edges) {
        await_request(m, m->avr->cycle * HY_TICKS + 2);
    }
}
