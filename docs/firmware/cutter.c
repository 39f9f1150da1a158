/* The same in a hurry: no phoneme is given more than 80 ms. Timer 1 counts them, in steps of 64 / 14.4 MHz = 4.4 us. */
#include "board.h"
#include "speech.h"

#define HOLD (80UL * 14400 / 64) /* ms * kHz / prescaler */

static uint8_t at;
static volatile uint8_t go = 1;

static void say_next(void)
{
    if (at == SPEECH_LENGTH) {
        go = 0;
        return;
    }
    chip_write(pgm_read_byte(&speech[at].code), pgm_read_byte(&speech[at].level));
    at++;
}

/* Request came first. The 80 ms begin anew. */
ISR(INT0_vect)
{
    say_next();
    OCR1A = TCNT1 + HOLD;
    TIFR1 = 1 << OCF1A;
}

/* 80 ms are over. Counted from the last time, not from now, so that the routine's own time does not add up. */
ISR(TIMER1_COMPA_vect)
{
    OCR1A += HOLD;
    say_next();
}

int main(void)
{
    board_start();
    board_say(PSTR("cutter: high water at six, 80 ms a phoneme\r\n"));
    chip_clock(10);
    request_interrupt();
    TIMSK1 = 1 << OCIE1A;
    OCR1A = HOLD;
    TCCR1B = 1 << CS11 | 1 << CS10;
    say_next();
    board_wait(&go);
}
