#include <criterion/criterion.h>
#include <string.h>

#include "../../frontends/firmware/wiring.h"
#include "inputs.h"

static hy_diag diag;

/* From memory of exactly its size, so that a sanitizer sees a step beyond. */
static int parse(hy_wiring *w, const char *text)
{
    size_t size = strlen(text);
    char *copy = malloc(size + 1);
    cr_assert_not_null(copy);
    char *start = copy + 1;
    memcpy(start, text, size);
    diag.text[0] = '\0';
    int result = hy_wiring_parse(w, "w", start, size, &diag);
    free(copy);
    return result;
}

#define HEAD "mcu atmega328p\nfrequency 16M\n"
#define PINS "p = PC0..PC5\ni = low\nstrobe = PD3\n"

Test(wiring, a_whole_board)
{
    hy_wiring w;
    cr_assert_eq(parse(&w, "\xef\xbb\xbf# a board\r\n mcu\tATmega328P # as printed on it\r\nfrequency 14.4M\r\n"
                           "p = pc0..pc5\ni0=high\ni1 = PD5 inverted\nstrobe = PD3 pull-down inverted\n"
                           "request = PD2 inverted\nclock = PB3\nuart 1"),
                 0, "%s", diag.text);
    cr_expect_str_eq(w.mcu, "atmega328p");
    cr_expect_eq(w.mcu_hz, 14400000);
    for (unsigned i = 0; i < 6; i++) {
        cr_expect_eq(w.pin[i].kind, HY_TO_PORT);
        cr_expect_eq(w.pin[i].port, 'C');
        cr_expect_eq(w.pin[i].bit, i);
        cr_expect_eq(w.pin[i].line, 4);
        cr_expect_eq(w.pin[i].column, 5);
    }
    cr_expect_eq(w.pin[HY_I0].kind, HY_TIED_HIGH);
    cr_expect_eq(w.pin[HY_I1].port, 'D');
    cr_expect_eq(w.pin[HY_I1].inverted, 1);
    cr_expect_eq(w.pin[HY_STROBE].pull, -1);
    cr_expect_eq(w.pin[HY_STROBE].inverted, 1);
    cr_expect_eq(w.request.inverted, 1);
    cr_expect_eq(w.request.bit, 2);
    cr_expect_eq(w.clock.port, 'B');
    cr_expect_eq(w.uart, 1);
}

Test(wiring, a_clock_of_its_own_and_what_may_be_left_out)
{
    hy_wiring w;
    cr_assert_eq(parse(&w, HEAD PINS "clock = 720k\n"), 0, "%s", diag.text);
    cr_expect_eq(w.clock.kind, HY_UNWIRED);
    cr_expect_eq(w.clock_hz, 720e3);
    cr_expect_eq(w.request.kind, HY_UNWIRED);
    cr_expect_eq(w.uart, 0);
    cr_expect_eq(w.uart_line, 0);
    cr_assert_eq(parse(&w, HEAD PINS "clock = 0\nuart off"), 0, "%s", diag.text);
    cr_expect_eq(w.clock_hz, 0.0);
    cr_expect_eq(w.uart, -1);
}

Test(wiring, the_files_that_we_ship)
{
    static const char *const files[] = {"docs/firmware/timer-clock.wiring", "docs/firmware/own-clock.wiring"};
    for (size_t i = 0; i < 2; i++) {
        hy_wiring w;
        char *text = source_text(files[i]);
        cr_expect_eq(parse(&w, text), 0, "%s", diag.text);
        free(text);
    }
}

/* Between `begin` and `end`, in a page of the documentation. */
static void example_in(const char *page, const char *begin, const char *end)
{
    char *text = source_text(page);
    char *start = strstr(text, begin);
    cr_assert_not_null(start, "%s: no example", page);
    start += strlen(begin);
    char *stop = strstr(start, end);
    cr_assert_not_null(stop);
    *stop = '\0';
    hy_wiring w;
    cr_expect_eq(parse(&w, start), 0, "%s: %s", page, diag.text);
    free(text);
}

Test(wiring, the_documentations_examples)
{
    example_in("docs/firmware.md", "```wiring\n", "```");
    example_in("docs/man/hyoid-wiring.5", ".Bd -literal -offset indent\n", ".Ed");
}

/* What is wrong, where, and what would be right. */
Test(wiring, errors_name_the_place)
{
    static const struct {
        const char *text, *message;
    } cases[] = {
        {"", "w: found no line for mcu"},
        {"mcu atmega328p", "w: found no line for frequency"},
        {HEAD "p = PC0..PC5\ni = low\nclock = 1M", "w: found no line for strobe, and an input must not float"},
        {HEAD "p = low\nstrobe = PD3\nclock = 1M\ni1 = low", "found no line for i0"},
        {HEAD PINS, "w: found no line for clock"},
        {HEAD "strob = PD3", "w:3:1: found \"strob\"; did you mean strobe?"},
        {HEAD "elephant = PD3", "w:3:1: found \"elephant\"; expected p, p0..p5"},
        {HEAD "strobe PD3", "w:3:8: found \"PD3\"; expected \"=\""},
        {HEAD "strobe", "w:3:7: found the end of the line; expected \"=\""},
        {HEAD "strobe =", "w:3:9: found the end of the line; expected a port's pin such as PB0"},
        {HEAD "strobe = PD8", "w:3:10: found \"PD8\"; expected a port's pin"},
        {HEAD "strobe = PI0", "w:3:10: found \"PI0\"; expected a port's pin"},
        {HEAD "strobe = D3", "w:3:10: found \"D3\"; expected a port's pin"},
        {HEAD "strobe = low", "w:3:10: found \"low\"; expected a port's pin such as PB0"},
        {HEAD "strobe = PD33", "w:3:10: found \"PD33\""},
        {HEAD "strobe = PD3 inverted inverted", "w:3:23: found \"inverted\"; expected \"inverted\", \"pull-up\""},
        {HEAD "strobe = PD3 pull-up pull-down", "w:3:22: found \"pull-down\""},
        {HEAD "request = PD3 pull-up", "w:3:15: found \"pull-up\"; expected no pull on request"},
        {HEAD "strobe = PD3\nstrobe = PD4", "w:4:1: found strobe again; line 3 has said it"},
        {HEAD "p = PC0..PC5\np3 = PD4", "w:4:1: found p3 again; line 3 has said it"},
        {HEAD "i1 = PC0\ni = low", "w:4:1: found i again; line 3 has said it"},
        {HEAD "p = PC0..PC4", "w:3:5: found \"PC0..PC4\"; expected six pins of a port such as PC0..PC5"},
        {HEAD "p = PC3..PC8", "w:3:5: found \"PC3..PC8\""},
        {HEAD "p = PC0..PD5", "w:3:5: found \"PC0..PD5\""},
        {HEAD "p = PC0-5", "w:3:5: found \"PC0-5\""},
        {HEAD "i = PC0", "w:3:5: found \"PC0\"; expected two pins"},
        {HEAD "i0 = low high", "w:3:10: found \"high\"; expected the end of the line"},
        {HEAD "clock = fast", "w:3:9: found \"fast\"; expected a port's pin such as PB3, or a frequency"},
        {HEAD "clock = 101M", "w:3:9: found \"101M\""},
        {"mcu", "w:1:4: found the end of the line; expected a microcontroller's type"},
        {"mcu = atmega328p", "w:1:5: found \"=\"; expected a microcontroller's type"},
        {"mcu a b", "w:1:7: found \"b\"; expected the end of the line"},
        {"mcu aaaaaaaaaabbbbbbbbbbccccccccccdd", "w:1:5: found"},
        {"frequency 26M", "w:1:11: found \"26M\"; expected the microcontroller's clock"},
        {"frequency 1000.5", "w:1:11: found \"1000.5\""},
        {"uart 10", "w:1:6: found \"10\"; expected the number of a UART"},
        {"mcu x\xff", "w:1:6: found "},
        {"mcu x\ry", "w:1:6: found "},
        {"# \x01", "w:1:3: found "},
        {HEAD PINS "clock = PB3\nrequest = PD3",
         "w:7:11: found PD3, which line 5 gives to strobe: two outputs would fight"},
        {HEAD PINS "clock = PB3\nrequest = PB3", "w:7:11: found PB3, which line 6 gives to clock"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        hy_wiring w;
        cr_expect_eq(parse(&w, cases[i].text), -1, "%s", cases[i].text);
        cr_expect_not_null(strstr(diag.text, cases[i].message), "%s\n gave: %s\nnot: %s", cases[i].text, diag.text,
                           cases[i].message);
    }
}

Test(wiring, a_nul_byte_ends_nothing)
{
    static const char text[] = "mcu a\0b\n";
    hy_wiring w;
    diag.text[0] = '\0';
    cr_expect_eq(hy_wiring_parse(&w, "w", text, sizeof text - 1, &diag), -1);
    cr_expect_not_null(strstr(diag.text, "w:1:6: found "), "%s", diag.text);
}
