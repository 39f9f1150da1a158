/* No timer, no interrupt: the loop itself clocks the chip, by every other turn another half period, and looks at request. Strobe and
 * request go through inverters. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "../../../docs/firmware/speech.h"

#define CLOCK (1 << PB0)
#define STROBE (1 << PD3)
#define REQUEST (1 << PD2)

int main(void)
{
    uint8_t at = 0, turn = 0;
    DDRC = 0x3f;
    PORTD = STROBE; /* at rest behind the inverter: low */
    DDRD = STROBE | 1 << PD4 | 1 << PD5;
    DDRB = CLOCK;
    for (;;) {
        PORTB |= CLOCK;
        if (turn++ & 1) {
            __builtin_avr_delay_cycles(7);
        }
        PORTB &= ~CLOCK;
        if (!(PIND & REQUEST) && !(PORTD & STROBE)) {
            PORTD |= STROBE; /* request has not fallen yet: one clock more */
        } else if (!(PIND & REQUEST)) {
            if (at == SPEECH_LENGTH) {
                break;
            }
            PORTC = pgm_read_byte(&speech[at].code);
            PORTD = STROBE | pgm_read_byte(&speech[at].level) << PD4;
            at++;
            PORTD &= ~STROBE;
        } else {
            PORTD |= STROBE;
        }
    }
    cli();
    sleep_mode();
}
