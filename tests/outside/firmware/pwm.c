/* The chip's clock from a PWM output, which the timer clears at a match and sets at its end; a phoneme is held for 200 ms. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

int main(void)
{
    DDRC = 0x3f;
    DDRD = 1 << PD3;
    DDRB = 1 << PB1;
    ICR1 = 22;
    OCR1A = 6;
    TCCR1A = 1 << COM1A1 | 1 << WGM11;
    TCCR1B = 1 << WGM13 | 1 << WGM12 | 1 << CS10; /* mode 14: fast, up to ICR1 */
    PORTC = 0x24;
    PORTD |= 1 << PD3;
    PORTD &= ~(1 << PD3);
    __builtin_avr_delay_cycles(3200000);
    cli();
    sleep_mode();
}
