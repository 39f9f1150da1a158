/* A clock sweep by reloading the timer that makes the clock: each phoneme has another one, from 300 kHz up to 720 kHz and down
 * again. Tempo, pitch and formants follow. */
#include "board.h"
#include "speech.h"

enum { SLOWEST = 24, FASTEST = 10, TIMES = 4 };

static uint8_t at, times;
static uint8_t half = SLOWEST;
static int8_t step = -1;
static volatile uint8_t go = 1;

static void say_next(void)
{
    chip_clock(half);
    step = half == FASTEST ? 1 : half == SLOWEST ? -1 : step;
    half += step;
    chip_write(pgm_read_byte(&speech[at].code), pgm_read_byte(&speech[at].level));
    at++;
}

ISR(INT0_vect)
{
    if (at == SPEECH_LENGTH) {
        at = 0;
        times++;
    }
    if (times == TIMES) {
        go = 0;
    } else {
        say_next();
    }
}

int main(void)
{
    board_start();
    board_say(PSTR("sweeper: 300 to 720 kHz\r\n"));
    request_interrupt();
    say_next();
    board_wait(&go);
}
