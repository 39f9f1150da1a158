/* Keys and commands of `hyoid live`. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "../../frontends/live/command.h"
#include "../../frontends/live/keys.h"
#include "../../frontends/live/wire.h"

static hy_diag diag;
static hy_command command;

static int reads(const char *line)
{
    diag.text[0] = '\0';
    return hy_command_read(line, &command, &diag) == 0;
}

Test(live_keys, two_keys_reach_each_of_the_64_codes_once)
{
    int count[64] = {0};
    for (int g = 0; g < HY_GROUPS; g++) {
        cr_assert_eq(hy_groups[g].letter, 'a' + g);
        for (int i = 0; i < HY_GROUP_SIZE; i++) {
            const int code = hy_groups[g].codes[i];
            cr_assert(code >= -1 && code < 64);
            count[code >= 0 ? code : 0] += code >= 0;
        }
    }
    for (int code = 0; code < 64; code++) {
        cr_assert_eq(count[code], 1, "code 0x%02x stands on the page %d times", (unsigned)code, count[code]);
    }
}

Test(live_keys, every_key_gives_a_command_that_is_understood)
{
    for (size_t i = 0; i < hy_key_count; i++) {
        cr_assert_eq(hy_key_find(hy_keys[i].key), &hy_keys[i], "key %d stands twice", hy_keys[i].key);
        const char *text = hy_keys[i].command;
        if (text != NULL && text[0] != '\0' && text[strlen(text) - 1] != ' ') {
            cr_assert(reads(text), "%s: %s", text, diag.text);
            cr_assert_neq(command.kind, HY_CMD_NONE);
        }
    }
}

Test(live_keys, values)
{
    cr_assert(reads("clock 650k") && command.kind == HY_CMD_CLOCK && command.value == 650e3);
    cr_assert(reads("clock +1%") && command.kind == HY_CMD_STEP && fabs(command.value - 1.01) < 1e-12);
    cr_assert(reads("clock -12st") && command.kind == HY_CMD_STEP && fabs(command.value - 0.5) < 1e-12);
    cr_assert(reads("sweep 1.2M over 1500ms exp") && command.value == 1.2e6 && command.exponential &&
              command.span == INT64_C(1500000000000));
    cr_assert(reads("sweep 0 over 2s") && command.value == 0.0 && !command.exponential);
    cr_assert(reads("strobe 0x1b") && command.number == 0x1b);
    cr_assert(reads("strobe eh/71") && command.number == 1);
    cr_assert(reads("strobe aa") && command.number == 0x24, "the longest");
    cr_assert(reads("hold 80ms") && command.kind == HY_CMD_HOLD && command.span == INT64_C(80000000000));
    cr_assert(reads("hold off") && command.kind == HY_CMD_HOLD && command.span == 0);
    cr_assert(reads("hold -10%") && command.kind == HY_CMD_HOLD_STEP);
    cr_assert(reads("volume -20") && command.kind == HY_CMD_VOLUME && command.value == -20.0);
    cr_assert(reads("volume +3dB") && command.kind == HY_CMD_VOLUME_STEP && command.value == 3.0);
    cr_assert(reads("at 2.5s level 2") && command.at == INT64_C(2500000000000) && command.number == 2);
    cr_assert(reads("level 2") && command.at == HY_SOON);
    cr_assert(reads("record") && command.on == HY_TOGGLED);
    cr_assert(reads("record a b.wav") && command.on == 1 && strcmp(command.text, "a b.wav") == 0);
    cr_assert(reads("  word  high water ") && strcmp(command.text, "high water ") == 0);
    cr_assert(reads("babble on 7") && command.on == 1 && command.number == 7);
    cr_assert(reads("babble off") && command.on == 0);
    cr_assert(reads("") && command.kind == HY_CMD_NONE);
    cr_assert(reads("# a comment") && command.kind == HY_CMD_NONE);
    cr_assert(reads("wait") && command.span == 0);
    cr_assert(reads("wait 10ms") && command.span == INT64_C(10000000000));
}

Test(live_keys, refusals_say_what_would_be_right)
{
    static const struct {
        const char *line, *says;
    } bad[] = {
        {"slevp 3", "found \"slevp\"; expected a command"},
        {"levle 3", "nearest: level"},
        {"level 4", "found \"4\"; expected 0, 1, 2 or 3"},
        {"level", "found the end of the line; expected 0, 1, 2 or 3"},
        {"clock", "expected a frequency"},
        {"clock 200M", "found \"200M\"; expected a frequency"},
        {"clock -100%", "expected a frequency"},
        {"sweep 300k", "expected over, and a time"},
        {"sweep 300k over 0s", "expected a time above 0"},
        {"sweep 0 over 1s exp", "expected nothing more, or exp"},
        {"sweep 300k over 1s slowly", "found \"slowly\""},
        {"strobe xx", "expected a phoneme"},
        {"strobe 0x40", "expected a phoneme"},
        {"strobe eh/72", "expected a phoneme"},
        {"hold 10", "expected a time"},
        {"volume 1", "expected -60 to 0"},
        {"volume x", "expected -60 to 0"},
        {"babble on 0", "expected a seed"},
        {"limiter maybe", "expected on or off"},
        {"play it", "found \"it\"; expected nothing more"},
        {"at 1s", "expected a command"},
        {"at soon level 1", "expected a time"},
        {"say", "expected phonemes"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cr_assert_not(reads(bad[i].line), "%s was taken", bad[i].line);
        cr_assert_not_null(strstr(diag.text, bad[i].says), "%s: %s", bad[i].line, diag.text);
    }
}

/* Any bytes at all are read or refused. */
Test(live_keys, random_lines)
{
    static const char alphabet[] =
        "clock sweep over exp hold level volume babble on off at 0123456789.kM%+-/st dBmsx\t#\xc3\xa9";
    uint32_t state = 1;
    for (int round = 0; round < 100000; round++) {
        char line[40];
        const size_t n = (state >> 7) % (sizeof line - 1);
        for (size_t i = 0; i < n; i++) {
            state = state * 1664525U + 1013904223U;
            line[i] = alphabet[(state >> 8) % (sizeof alphabet - 1)];
        }
        line[n] = '\0';
        cr_assert_eq(reads(line), diag.text[0] == '\0', "seed 1, round %d", round);
    }
}
