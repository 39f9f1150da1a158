/* Says a stored score: every rise of request calls for the next phoneme. The score is speaker.score. */
#include "board.h"
#include "speech.h"

static uint8_t at;
static volatile uint8_t go = 1;

ISR(INT0_vect)
{
    if (at == SPEECH_LENGTH) {
        go = 0;
        return;
    }
    chip_write(pgm_read_byte(&speech[at].code), pgm_read_byte(&speech[at].level));
    at++;
}

int main(void)
{
    board_start();
    board_say(PSTR("speaker: high water at six\r\n"));
    chip_clock(10);
    request_interrupt();
    chip_write(pgm_read_byte(&speech[0].code),
               pgm_read_byte(&speech[0].level)); /* request is high: the first is due */
    at = 1;
    board_wait(&go);
}
