/* The survey: the sequence that a recording for a test or a calibration must contain, played on the bench. Its steps come from
 *
 *     hyoid survey --fixed-clock --c survey.h
 *
 * which must stand beside this file. (A timer can't make the survey's clock steps from 14.4 MHz, so they are left out.)
 * Timer 1 counts milliseconds: 14.4 MHz / 8 = 1800 a millisecond. */
#include "board.h"

#define HYOID_SURVEY_MEMORY PROGMEM
#include "survey.h"

#define MS 1800

static volatile uint8_t go = 1;
static uint16_t at;      /* the next step */
static uint16_t rest_ms; /* of the present one */
static uint16_t ms_left; /* until the present wait is over; 0: no end */
static uint8_t asked;    /* waiting for request */

static void wait_from(uint16_t count, uint16_t ms)
{
    OCR1A = count + MS;
    TIFR1 = 1 << OCF1A;
    ms_left = ms;
}

static void step(uint16_t count);

/* The chip is ready, or was waited for long enough. `count`: when. */
static void step_is_over(uint16_t count)
{
    asked = 0;
    if (rest_ms > 0) {
        wait_from(count, rest_ms);
    } else {
        step(count);
    }
}

static void step(uint16_t count)
{
    if (at == HYOID_SURVEY_STEPS) {
        go = 0;
        return;
    }
    const struct hyoid_survey_step *s = &hyoid_survey[at++];
    uint8_t code = pgm_read_byte(&s->code), level = pgm_read_byte(&s->inflection);
    rest_ms = pgm_read_word(&s->rest_ms);
    if (code == HYOID_SURVEY_NO_STROBE) {
        PORTD = (PORTD & ~INFLECTION) | level << PD4;
        step_is_over(count);
        return;
    }
    chip_write(code, level);
    asked = 1;
    wait_from(count, pgm_read_word(&s->most_ms));
}

ISR(INT0_vect)
{
    uint16_t now = TCNT1;
    if (asked) {
        step_is_over(now);
    }
}

/* A millisecond is over. The next wait counts from then, not from now, so that this routine's time does not add up. */
ISR(TIMER1_COMPA_vect)
{
    uint16_t then = OCR1A;
    OCR1A = then + MS;
    if (ms_left == 0 || --ms_left > 0) {
        return;
    }
    if (asked) {
        step_is_over(then);
    } else {
        step(then);
    }
}

int main(void)
{
    board_start();
    board_say(PSTR("survey\r\n"));
    chip_clock(10);
    request_interrupt();
    TCCR1B = 1 << CS11;
    TIMSK1 = 1 << OCIE1A;
    step(TCNT1);
    board_wait(&go);
}
