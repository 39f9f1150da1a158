/* Several chips in several threads over one part: the same samples as one after the other. Run under the thread
 * sanitizer. */
#include <pthread.h>
#include <stdio.h>
#include <string.h>

#include <hyoid/hyoid.h>

enum { THREADS = 4, CHIPS = 2, RATE = 48000, FRAMES = RATE / 2, BLOCK = 64 };

typedef struct voice {
    hyoid_pull pull;
    float ring[1];
    hyoid_input queue[16];
    uint8_t snapshot[HYOID_SNAPSHOT_MAX + 4096];
    float sound[FRAMES];
} voice;

typedef struct job {
    unsigned seed;
    int failed;
    voice voices[CHIPS];
} job;

static int start(voice *v, unsigned seed)
{
    const hyoid_pull_setup setup = {.part = hyoid_part_default(),
                                    .rate = RATE,
                                    .ring = v->ring,
                                    .ring_room = 1,
                                    .queue = v->queue,
                                    .queue_room = 16};
    int bad = hyoid_pull_init(&v->pull, &setup) != HYOID_OK;
    bad |= hyoid_pull_set_clock(&v->pull, 0, 600000.0 + 1000.0 * seed) != HYOID_OK;
    for (unsigned i = 0; i < 12; i++) {
        bad |= hyoid_pull_write(&v->pull, HYOID_ON_REQUEST, (seed * 7 + i * 11) % HYOID_PHONEMES) != HYOID_OK;
    }
    return bad;
}

static void *work(void *user)
{
    job *j = user;
    for (unsigned i = 0; i < CHIPS; i++) {
        j->failed |= start(&j->voices[i], j->seed * CHIPS + i);
    }
    for (size_t at = 0; at < FRAMES; at += BLOCK) {
        for (unsigned i = 0; i < CHIPS; i++) {
            voice *v = &j->voices[i];
            j->failed |= hyoid_pull_frames(&v->pull, v->sound + at, BLOCK) != HYOID_OK;
            size_t length = hyoid_pull_snapshot_write(&v->pull, v->snapshot, sizeof v->snapshot);
            j->failed |= hyoid_pull_snapshot_read(&v->pull, v->snapshot, length) != HYOID_OK;
        }
    }
    return NULL;
}

int main(void)
{
    static job together[THREADS], alone;
    pthread_t threads[THREADS];
    for (unsigned i = 0; i < THREADS; i++) {
        together[i].seed = i;
        if (pthread_create(&threads[i], NULL, work, &together[i]) != 0) {
            return 2;
        }
    }
    for (unsigned i = 0; i < THREADS; i++) {
        pthread_join(threads[i], NULL);
    }
    for (unsigned i = 0; i < THREADS; i++) {
        memset(&alone, 0, sizeof alone);
        alone.seed = i;
        work(&alone);
        for (unsigned k = 0; k < CHIPS; k++) {
            if (together[i].failed || alone.failed ||
                memcmp(alone.voices[k].sound, together[i].voices[k].sound, sizeof alone.voices[k].sound) != 0) {
                fprintf(stderr, "thread %u, chip %u sounds otherwise\n", i, k);
                return 1;
            }
        }
    }
    printf("%d chips in %d threads: as if alone\n", THREADS * CHIPS, THREADS);
    return 0;
}
