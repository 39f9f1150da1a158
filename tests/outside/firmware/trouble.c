/* Firmware in trouble, by -DTROUBLE=n. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>

int main(void)
{
#if TROUBLE == 1 /* writes all over the memory */
    for (volatile uint8_t *p = (volatile uint8_t *)0x100;; p++) {
        *p = 0x55;
    }
#elif TROUBLE == 2 /* jumps out of the flash */
    ((void (*)(void))0x3fff)();
    ((void (*)(void))0x3ffe)();
#elif TROUBLE == 3 /* does nothing, for ever */
    for (;;) {
    }
#elif TROUBLE == 4 /* strobes at once, and is reset by its watchdog over and over */
    MCUSR = 0;
    wdt_disable();
    DDRC = 0x3f;
    DDRD = 1 << PD3;
    PORTC = 0x24;
    PORTD |= 1 << PD3;
    PORTD &= ~(1 << PD3);
    wdt_enable(WDTO_120MS);
    for (;;) {
    }
#elif TROUBLE == 5 /* drives the pin that request drives, and says what a terminal should not hear */
    DDRD = 1 << PD2;
    UBRR0 = 22;
    UCSR0B = 1 << TXEN0;
    for (const char *c = "a\033[2Jb\r\n\377"; *c != 0; c++) {
        while (!(UCSR0A & 1 << UDRE0)) {
        }
        UDR0 = *c;
    }
    for (;;) {
    }
#elif TROUBLE == 6 /* reads where there is nothing */
    volatile uint8_t x = *(volatile uint8_t *)0xf000;
    (void)x;
    for (;;) {
    }
#endif
}
