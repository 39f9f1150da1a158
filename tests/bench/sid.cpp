/* libsidplayfp's reSIDfp, for comparison: a sound chip of the same years, emulated clock by clock and resampled. The library
 * drives its chip only from within a computer that plays a tune, so a small one is made here: three voices with
 * three wave forms, a new note every eight frames, through the filter whose cut-off moves every frame.
 * SID_ABSENT plays the same without a sound chip: what the computer around it costs. */
#include <cstdint>
#include <cstdlib>
#include <vector>

#include <sidplayfp/SidConfig.h>
#include <sidplayfp/SidTune.h>
#include <sidplayfp/builders/residfp.h>
#include <sidplayfp/sidplayfp.h>

#include "bench.h"

namespace
{

// load address 0x1000; init 0x1000, play 0x1003, the latter 50 times a second
const std::uint8_t program[] = {
    0x4c, 0x06, 0x10,                   // 1000  jmp 1006
    0x4c, 0x16, 0x10,                   // 1003  jmp 1016
    0xa2, 0x18,                         // 1006  ldx #18
    0xbd, 0x70, 0x10,                   // 1008  lda 1070,x    registers at the start
    0x9d, 0x00, 0xd4,                   // 100b  sta d400,x
    0xca,                               // 100e  dex
    0x10, 0xf7,                         // 100f  bpl 1008
    0xa9, 0x00,                         // 1011  lda #0
    0x85, 0xfb,                         // 1013  sta fb
    0x60,                               // 1015  rts
    0xe6, 0xfb,                         // 1016  inc fb
    0xa5, 0xfb,                         // 1018  lda fb
    0x8d, 0x16, 0xd4,                   // 101a  sta d416      cut-off
    0x29, 0x07,                         // 101d  and #7
    0xd0, 0x38,                         // 101f  bne 1059      every eighth frame:
    0xa5, 0xfb,                         // 1021  lda fb
    0x4a, 0x4a, 0x4a,                   // 1023  lsr, lsr, lsr
    0x29, 0x07,                         // 1026  and #7
    0xaa,                               // 1028  tax
    0xbd, 0x60, 0x10,                   // 1029  lda 1060,x    notes
    0x8d, 0x01, 0xd4,                   // 102c  sta d401
    0xbd, 0x61, 0x10,                   // 102f  lda 1061,x
    0x8d, 0x08, 0xd4,                   // 1032  sta d408
    0xbd, 0x62, 0x10,                   // 1035  lda 1062,x
    0x8d, 0x0f, 0xd4,                   // 1038  sta d40f
    0xa0, 0x40, 0x8c, 0x04, 0xd4,       // 103b  ldy #40, sty d404   gates off
    0xa0, 0x20, 0x8c, 0x0b, 0xd4,       // 1040  ldy #20, sty d40b
    0xa0, 0x10, 0x8c, 0x12, 0xd4,       // 1045  ldy #10, sty d412
    0xa0, 0x41, 0x8c, 0x04, 0xd4,       // 104a  ldy #41, sty d404   gates on: pulse, saw, triangle
    0xa0, 0x21, 0x8c, 0x0b, 0xd4,       // 104f  ldy #21, sty d40b
    0xa0, 0x11, 0x8c, 0x12, 0xd4,       // 1054  ldy #11, sty d412
    0x60,                               // 1059  rts
    0xea, 0xea, 0xea, 0xea, 0xea, 0xea, // 105a
    0x11, 0x16, 0x1c, 0x22, 0x19, 0x21, 0x0e, 0x14, 0x1b, 0x25, // 1060  notes
    0xea, 0xea, 0xea, 0xea, 0xea, 0xea,                         // 106a
    0x00, 0x11, 0x00, 0x08, 0x41, 0x22, 0xa8,                   // 1070  frequency, pulse width, gate, envelope
    0x00, 0x16, 0x00, 0x08, 0x21, 0x22, 0xa8,                   // 1077
    0x00, 0x1c, 0x00, 0x08, 0x11, 0x22, 0xa8,                   // 107e
    0x00, 0x40, 0xf7, 0x1f,                                     // 1085  cut-off, resonance and routing, volume
};

std::vector<std::uint8_t> tune_bytes()
{
    std::vector<std::uint8_t> bytes(0x7c, 0);
    const std::uint8_t start[] = {'P', 'S', 'I', 'D', 0, 2, 0, 0x7c, 0x10, 0x00, 0x10, 0x00, 0x10, 0x03, 0, 1, 0, 1};
    for (std::size_t i = 0; i < sizeof start; i++) {
        bytes[i] = start[i];
    }
    bytes[0x77] = 0x14; // PAL, 6581
    bytes.insert(bytes.end(), program, program + sizeof program);
    return bytes;
}

} // namespace

double bench_sid(double seconds, int variant)
{
    static const std::vector<std::uint8_t> bytes = tune_bytes();
    ReSIDfpBuilder builder("bench");
    SidTune tune(bytes.data(), static_cast<std::uint_least32_t>(bytes.size()));
    tune.selectSong(1);
    builder.create(1);
    builder.filter(true);
    sidplayfp player;
    SidConfig config = player.config();
    config.frequency = 48000;
    config.samplingMethod = SidConfig::RESAMPLE_INTERPOLATE;
    config.playback = SidConfig::MONO;
    config.powerOnDelay = 0;
    config.sidEmulation = variant == SID_WHOLE ? &builder : nullptr;
    if (!builder.getStatus() || !player.config(config) || !tune.getStatus() || !player.load(&tune)) {
        return 0.0;
    }
    short block[4800];
    const unsigned wanted = static_cast<unsigned>(seconds * 10.0) + 1;
    int loudest = 0;
    for (unsigned i = 0; i < wanted; i++) {
        if (player.play(block, 4800) != 4800) {
            return 0.0;
        }
        for (short sample : block) {
            loudest = std::abs(sample) > loudest ? std::abs(sample) : loudest;
        }
    }
    if (variant == SID_WHOLE && loudest < 1000) {
        return 0.0; // nothing was heard
    }
    return wanted * 0.1;
}
