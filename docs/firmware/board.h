/* The board that the example firmware is written for: an ATmega328P at 14.4 MHz and the chip.
 *
 *     PC0..PC5  -> P0..P5      code
 *     PD4, PD5  -> I0, I1      inflection
 *     PD3       -> strobe      with a pull-down: until the firmware runs, the pin floats
 *     PD2 (INT0) <- request    high: the chip wants the next phoneme
 *     PB3 (OC2A) -> clock      timer 2 toggles it: 14.4 MHz / (2 n), n = 10 for 720 kHz
 *     PD1 (TXD)                text, 38400 baud
 *
 * Other AVRs of the family do as well; then check the pins of OC2A and INT0. */
#ifndef BOARD_H
#define BOARD_H

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>

#define STROBE (1 << PD3)
#define INFLECTION (1 << PD4 | 1 << PD5)

static inline void board_start(void)
{
    DDRC = 0x3f;
    DDRD = STROBE | INFLECTION;
    DDRB = 1 << PB3;
    UBRR0 = 22; /* 38400 baud, 1.9 % fast */
    UCSR0B = 1 << TXEN0;
}

/* Text; returns when the last bit is out, so that nothing of it disturbs what follows. */
static inline void board_say(PGM_P text)
{
    for (char c; (c = (char)pgm_read_byte(text)) != '\0'; text++) {
        while (!(UCSR0A & 1 << UDRE0)) {
        }
        UCSR0A = 1 << TXC0;
        UDR0 = (uint8_t)c;
    }
    while (!(UCSR0A & 1 << TXC0)) {
    }
}

/* The chip's clock from here on: 14.4 MHz / (2 * half). The timer is reloaded right behind a match: a compare value below the
 * count under way would let it run on to 255 once, a gap of 18 us. For that, half must be at least 10, and interrupts off. */
static inline void chip_clock(uint8_t half)
{
    if (TCCR2B & 1 << CS20) {
        TIFR2 = 1 << OCF2A;
        while (!(TIFR2 & 1 << OCF2A)) {
        }
        OCR2A = half - 1;
    } else {
        OCR2A = half - 1;
        TCCR2A = 1 << COM2A0 | 1 << WGM21; /* toggle OC2A, count up to OCR2A */
        TCCR2B = 1 << CS20;
    }
}

/* One phoneme. The code stands half a microsecond before strobe rises, strobe is high for 1.5 us: what a part needs, its data
 * or its owner must say. */
static inline void chip_write(uint8_t code, uint8_t level)
{
    PORTC = code;
    PORTD = (PORTD & ~INFLECTION) | level << PD4;
    __builtin_avr_delay_cycles(4);
    PORTD |= STROBE;
    __builtin_avr_delay_cycles(20);
    PORTD &= ~STROBE;
}

/* Request calls the interrupt routine INT0_vect whenever it rises. */
static inline void request_interrupt(void)
{
    EICRA = 1 << ISC01 | 1 << ISC00;
    EIFR = 1 << INTF0;
    EIMSK = 1 << INT0;
}

/* Waits for interrupts, which do the work, until *go becomes 0; then sleeps for good. */
static inline void board_wait(volatile uint8_t *go)
{
    set_sleep_mode(SLEEP_MODE_IDLE); /* the timers run on */
    sei();
    while (*go) {
        sleep_mode();
    }
    cli();
    sleep_mode();
}

#endif
