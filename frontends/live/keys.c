#include "keys.h"

const hy_key hy_keys[] = {
    {' ', "space", "toggle", "play or pause the score"},
    {'a', "a", "again", "the score again"},
    {HY_KEY_RIGHT, "\xe2\x86\x90 \xe2\x86\x92", "clock +1%", "clock down, up by 1 %"},
    {HY_KEY_LEFT, NULL, "clock -1%", NULL},
    {HY_KEY_UP, "\xe2\x86\x93 \xe2\x86\x91", "clock +1st", "clock down, up by a semitone"},
    {HY_KEY_DOWN, NULL, "clock -1st", NULL},
    {'n', "n", "nominal", "clock to nominal"},
    {'s', "s", "sweep ", "sweep to a clock in a time"},
    {'b', "b", "back", "back from the sweep"},
    {'z', "z", "zero", "clock to 0 in 2 s, and up again"},
    {'0', "0..3", "level 0", "inflection level"},
    {'1', NULL, "level 1", NULL},
    {'2', NULL, "level 2", NULL},
    {'3', NULL, "level 3", NULL},
    {'[', "[ ]", "hold -10%", "hold shorter, longer"},
    {']', NULL, "hold +10%", NULL},
    {'\\', "\\", "hold off", "hold off"},
    {'o', "o", "sustain", "let the last sound go on"},
    {HY_KEY_TAB, "tab", NULL, "phonemes by keys, and back"},
    {'w', "w", "word ", "say English"},
    {'p', "p", "say ", "say phonemes"},
    {'m', "m", "babble", "babble"},
    {'h', "h", "hush", "forget what was typed"},
    {'r', "r", "record", "record, stop recording"},
    {'-', "- +", "volume -3dB", "volume"},
    {'+', NULL, "volume +3dB", NULL},
    {'=', NULL, "volume +3dB", NULL},
    {'l', "l", "limiter", "limiter off, on"},
    {'v', "v", NULL, "spectrogram or waveform"},
    {':', ":", "", "any command"},
    {'?', "?", "help", "this list"},
    {'q', "q", "quit", "quit"},
    {3, NULL, "quit", NULL}, /* control C, where the terminal hands it on */
};
const size_t hy_key_count = sizeof hy_keys / sizeof hy_keys[0];

const hy_key *hy_key_find(int key)
{
    for (size_t i = 0; i < hy_key_count; i++) {
        if (hy_keys[i].key == key) {
            return &hy_keys[i];
        }
    }
    return NULL;
}

const hy_group hy_groups[HY_GROUPS] = {
    {"high front", 'a', {0x29, 0x3c, 0x2c, 0x09, 0x0a, 0x0b, 0x27, -1, -1}},     /* iy, ih */
    {"mid front", 'b', {0x21, 0x05, 0x06, 0x20, 0x00, 0x01, 0x02, 0x3b, -1}},    /* ey, eh */
    {"low, mid", 'c', {0x2f, 0x2e, 0x32, 0x33, 0x23, 0x31, 0x3a, 0x36, -1}},     /* ae, ah, ax, er, ux */
    {"high back", 'd', {0x37, 0x28, 0x16, 0x17, 0x34, 0x35, 0x26, -1, -1}},      /* uw, uh, ow */
    {"low back", 'e', {0x30, 0x13, 0x3d, 0x08, 0x15, 0x24, -1, -1, -1}},         /* ao, aa */
    {"stops", 'f', {0x25, 0x0e, 0x2a, 0x1e, 0x19, 0x1c, 0x04, 0x10, 0x1a}},      /* p b t d k g dx ch jh */
    {"fricatives", 'g', {0x1d, 0x0f, 0x39, 0x38, 0x1f, 0x12, 0x11, 0x07, 0x1b}}, /* f v th dh s z sh zh hh */
    {"nasals, glides", 'h', {0x0c, 0x0d, 0x14, 0x18, 0x2b, 0x2d, 0x22, -1, -1}}, /* m n ng l r w y */
    {"pauses", 'i', {0x03, 0x3e, 0x3f, -1, -1, -1, -1, -1, -1}},                 /* pau, end */
};
