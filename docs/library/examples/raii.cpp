// The C++ header: memory that looks after itself, exceptions instead of status codes.
//
//     raii FILE.wav        the same samples as hello.c
#include <cstdio>

#include <hyoid/hyoid.hpp>

#include "wav.h"

int main(int argc, char **argv)
{
    try {
        hyoid::player player(48000);
        unsigned latches = 0;
        player.on_latch([&latches](std::uint64_t, std::int64_t, unsigned) { latches++; });
        for (unsigned code : {0x1bu, 0x02u, 0x18u, 0x35u, 0x3eu}) {
            player.write(HYOID_ON_REQUEST, code);
        }
        std::vector<float> sound = player.frames(20000);
        hyoid::player moved = std::move(player); // what it owns moves along
        const std::vector<float> rest = moved.frames(28000);
        sound.insert(sound.end(), rest.begin(), rest.end());
        std::printf("%u latches, request is %s\n", latches, moved.request_at(HYOID_PS_PER_S * 2) ? "high" : "low");

        const std::unique_ptr<std::FILE, int (*)(std::FILE *)> file(std::fopen(argc > 1 ? argv[1] : "raii.wav", "wb"),
                                                                    std::fclose);
        if (!file) {
            return 1;
        }
        wav_head(file.get(), 48000, static_cast<std::uint32_t>(sound.size()));
        wav_samples(file.get(), sound.data(), sound.size());
        moved.write(0, 0x03); // in the past: throws
    } catch (const hyoid::error &e) {
        std::printf("refused: %s\n", e.what());
        return e.status() == HYOID_E_PAST ? 0 : 1;
    }
    return 1;
}
