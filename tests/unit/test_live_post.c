/* Volume and limiter between the audio pin and the sound device. */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "../../frontends/live/post.h"

enum { RATE = 48000, BLOCK = 240, AHEAD = 48 };

static hy_post post;

/* A second: the first rise is over. */
static void settle(double volume, int limiter)
{
    float block[BLOCK];
    hy_post_init(&post, RATE);
    for (int i = 0; i < 2 * RATE / BLOCK; i++) {
        memset(block, 0, sizeof block);
        hy_post_run(&post, block, BLOCK, volume, limiter, 0);
    }
}

static float noise(uint32_t *state)
{
    *state = *state * 1664525U + 1013904223U;
    return (float)(*state >> 8) / 8388608.0F - 1.0F;
}

Test(live_post, starts_silent_and_rises_for_a_second)
{
    float block[BLOCK], before = 0.0F;
    hy_post_init(&post, RATE);
    for (int i = 0; i < RATE / BLOCK; i++) {
        for (int k = 0; k < BLOCK; k++) {
            block[k] = 0.5F;
        }
        hy_post_run(&post, block, BLOCK, 1.0, 1, 0);
        cr_assert_leq(block[BLOCK - 1], 0.5F * (float)((i + 1) * BLOCK) / RATE + 1e-4F);
        cr_assert_geq(block[0], before);
        before = block[BLOCK - 1];
    }
    cr_assert_float_eq(before, 0.5F, 0.001F);
}

Test(live_post, lets_everything_through_bit_for_bit_when_it_has_nothing_to_do)
{
    float in[BLOCK], out[BLOCK], late[AHEAD] = {0};
    uint32_t state = 1;
    settle(1.0, 1);
    for (int round = 0; round < 50; round++) {
        for (int k = 0; k < BLOCK; k++) {
            in[k] = noise(&state) * 0.7F;
        }
        memcpy(out, in, sizeof out);
        hy_post_run(&post, out, BLOCK, 1.0, round < 25, 0);
        for (int k = 0; k < BLOCK; k++) {
            const float expected = k < AHEAD ? late[k] : in[k - AHEAD];
            cr_assert_eq(out[k], expected);
        }
        memcpy(late, in + BLOCK - AHEAD, sizeof late);
    }
}

Test(live_post, limiter_never_lets_more_than_its_ceiling_through)
{
    for (uint32_t seed = 1; seed <= 20; seed++) {
        uint32_t state = seed;
        float block[BLOCK], worst = 0.0F;
        settle(1.0, 1);
        for (int round = 0; round < 100; round++) {
            const float size = round % 10 < 5 ? 0.1F : 8.0F * fabsf(noise(&state));
            for (int k = 0; k < BLOCK; k++) {
                block[k] = noise(&state) * (k % 37 == 0 ? size : 0.3F);
            }
            hy_post_run(&post, block, BLOCK, 1.0, 1, 0);
            worst = fmaxf(worst, post.peak);
        }
        cr_assert_leq(worst, (float)HY_POST_CEILING * 1.000001F, "seed %u: %g", seed, (double)worst);
        cr_assert_geq(worst, 0.3F);
    }
}

Test(live_post, bypassed_it_lets_peaks_through)
{
    float block[BLOCK] = {0};
    settle(1.0, 0);
    block[100] = 2.0F;
    hy_post_run(&post, block, BLOCK, 1.0, 0, 0);
    cr_assert_eq(post.peak, 2.0F);
    cr_assert_eq(post.least, 1.0F);
}

Test(live_post, volume_and_bypass_make_no_jump)
{
    float block[BLOCK], last = 0.5F;
    settle(1.0, 1);
    for (int round = 0; round < 40; round++) {
        for (int k = 0; k < BLOCK; k++) {
            block[k] = 0.5F;
        }
        hy_post_run(&post, block, BLOCK, round < 10 ? 1.0 : round < 20 ? 0.01 : 1.0, round % 2, 0);
        for (int k = 0; k < BLOCK && round > 0; k++) {
            cr_assert_leq(fabsf(block[k] - last), 0.5F / (0.02F * RATE) * 1.01F);
            last = block[k];
        }
        last = block[BLOCK - 1];
    }
}

Test(live_post, fades_to_nothing_within_the_block)
{
    float block[BLOCK];
    settle(1.0, 1);
    for (int round = 0; round < 2; round++) {
        for (int k = 0; k < BLOCK; k++) {
            block[k] = 0.5F;
        }
        hy_post_run(&post, block, BLOCK, 1.0, 1, round == 0);
    }
    cr_assert_leq(fabsf(block[AHEAD - 1]), 1e-3F, "the last faded sample comes out 1 ms later");
    cr_assert_gt(block[BLOCK - 1], 0.05F, "and then it rises again");
}
