/* The audio callback of `hyoid live` makes no system call and touches no allocator and no lock, whatever is ordered. */
#include "../../library/realtime_trap.h"

#include <time.h>

#include "../../../frontends/live/player.h"

enum { BLOCKS = 4000 };

static hy_player *player; /* made before the trap closes */

static void order(hy_order o)
{
    o.ps = HY_SOON;
    hy_ring_put(player->rings.orders, &o, 1);
}

static void cue(int queue, hy_action action)
{
    const hy_cue c = {.action = action};
    hy_ring_put(player->rings.cues[queue], &c, 1);
}

static void hands(unsigned block)
{
    switch (block % 16) {
    case 0:
        order((hy_order){.kind = HY_ORDER_SAY, .number = (int32_t)(block / 16 % 64)});
        break;
    case 1:
        order((hy_order){
            .kind = HY_ORDER_CLOCK, .value = 1e5 + 1e3 * block, .span = HYOID_PS_PER_S / 20, .exponential = 1});
        break;
    case 3:
        order((hy_order){.kind = HY_ORDER_STEP, .value = block % 32 == 3 ? 1.06 : 0.94});
        break;
    case 5:
        order((hy_order){.kind = HY_ORDER_LEVEL, .number = (int32_t)(block / 16 % 4)});
        break;
    case 6:
        order((hy_order){.kind = HY_ORDER_HOLD, .span = block % 3 ? HYOID_PS_PER_S / 20 : 0});
        break;
    case 8:
        order((hy_order){.kind = HY_ORDER_TAKE, .number = block % 32 == 8});
        break;
    case 10:
        order((hy_order){.kind = HY_ORDER_LIMITER, .number = block % 32 == 10});
        order((hy_order){.kind = HY_ORDER_GAIN, .value = block % 3 ? 4.0 : 0.1});
        break;
    case 12:
        order((hy_order){.kind = HY_ORDER_START, .value = block % 48 == 12 ? 0.0 : 720e3});
        order((hy_order){.kind = HY_ORDER_PLAY, .number = 1});
        order((hy_order){.kind = HY_ORDER_CLOCK, .value = 6e5, .span = HYOID_PS_PER_S / 30});
        break;
    case 14:
        order((hy_order){.kind = HY_ORDER_SUSTAIN, .number = block % 32 == 14});
        break;
    default:
        cue(block % 2 ? HY_QUEUE_SCORE : HY_QUEUE_TYPED, (hy_action){.kind = HY_SAY, .number = (int)(block % 64)});
        cue(HY_QUEUE_SCORE, (hy_action){.kind = HY_GLIDE, .hz = 4e5 + 100.0 * block, .ps = HYOID_PS_PER_S / 10});
        cue(HY_QUEUE_SCORE, (hy_action){.kind = HY_REST, .ps = HYOID_PS_PER_S / 100});
        cue(HY_QUEUE_SCORE, (hy_action){.kind = HY_SET_MARK, .name = "mark"});
        break;
    }
}

static double longest; /* share of a block's time that computing it took */

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Computes the next block; `timed` where the trap is open. */
static void render(float *out, size_t frames, int timed)
{
    const double start = timed ? seconds() : 0.0;
    hy_player_render(player, out, frames, 2);
    const double share = timed ? (seconds() - start) * 48000.0 / (double)frames : 0.0;
    longest = frames >= 64 && share > longest ? share : longest;
}

static int play(int timed)
{
    static float out[2 * 512];
    static hy_report report;
    unsigned phonemes = 0, clocks = 0, takes = 0, statuses = 0;
    for (unsigned block = 0; block < BLOCKS; block++) {
        hands(block);
        render(out, 1 + block * 7 % 512, timed);
        if (block % 1000 < 900) { /* sometimes nobody takes what is reported */
            while (hy_ring_take(player->rings.reports, &report, 1) == 1) {
                phonemes += report.kind == HY_REPORT_EVENT && report.event.signal == HY_PHONEME;
                clocks += report.kind == HY_REPORT_EVENT && report.event.signal == HY_CLOCK;
                takes += report.kind == HY_REPORT_TAKE;
                statuses += report.kind == HY_REPORT_STATUS;
            }
            while (hy_ring_take(player->sound, out, 1024) > 0) {
            }
        }
    }
    return phonemes < 200 || clocks < 1000 || takes < 50 || statuses < 1000;
}

static int audio_path(void)
{
    return play(0);
}

int main(void)
{
    player = hy_player_new(hyoid_part_default(), 48000, 720e3, 1);
    if (player == NULL) {
        fprintf(stderr, "FAIL: not enough memory\n");
        return 1;
    }
    const int status = trap_try(audio_path);
    if (status == 0) {
        printf("%d blocks with orders of every kind: no allocation, no lock, no system call\n", BLOCKS);
        play(1);
        printf("the longest of 64 samples or more took %.1f %% of its time\n", 100.0 * longest);
    }
    hy_player_free(player);
    return status;
}
