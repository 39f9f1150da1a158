/* Sound files, read back by libsndfile's reading side. */
#include <criterion/criterion.h>
#include <math.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <unistd.h>

#include "scratch.h"
#include "sound.h"

static hy_diag diag;

TestSuite(sound, .init = scratch_begin, .fini = scratch_end);

static void write_file(const char *path, const hy_sound_options *options, const float *frames, size_t count,
                       uint64_t clipped)
{
    diag.text[0] = '\0';
    hy_sound *sound = hy_sound_open(path, options, &diag);
    cr_assert_not_null(sound, "%s", diag.text);
    for (size_t at = 0; at < count; at += 700) { /* not in one piece */
        size_t n = count - at < 700 ? count - at : 700;
        cr_assert_eq(hy_sound_write(sound, frames + at, n, &diag), 0, "%s", diag.text);
    }
    cr_assert_eq(hy_sound_clipped(sound), clipped);
    cr_assert_eq(hy_sound_finish(sound, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_sound_commit(sound, &diag), 0, "%s", diag.text);
}

static SNDFILE *open_back(const char *path, SF_INFO *info)
{
    *info = (SF_INFO){0};
    SNDFILE *in = sf_open(path, SFM_READ, info);
    cr_assert_not_null(in, "%s", sf_strerror(NULL));
    cr_assert_eq(info->channels, 1);
    return in;
}

/* Reads `count` frames as ints, full scale at 2^31. */
static void read_back(const char *path, int rate, int *ints, size_t count)
{
    SF_INFO info;
    SNDFILE *in = open_back(path, &info);
    cr_assert_eq(info.samplerate, rate);
    cr_assert_eq(info.frames, (sf_count_t)count);
    cr_assert_eq(sf_readf_int(in, ints, (sf_count_t)count), (sf_count_t)count);
    sf_close(in);
}

Test(sound, rounds_to_nearest_ties_to_even_and_clips)
{
    const float step = 0x1p-15f;
    const float in[] = {
        0,           step,  -step,    0.5f * step, 1.5f * step, -0.5f * step,     -1.5f * step,     2.4f * step,
        2.6f * step, -1.0f, 1 - step, 1.0f,        7.0f,        -1 - 0.4f * step, -1 - 0.6f * step, -7.0f,
        INFINITY,    NAN};
    const int out[] = {0, 1, -1, 0, 2, 0, -2, 2, 3, -32768, 32767, 32767, 32767, -32768, -32768, -32768, 32767, 0};
    enum { COUNT = sizeof in / sizeof in[0] };
    static const char *const names[] = {"a.wav", "a.flac"};
    for (int i = 0; i < 2; i++) {
        int back[COUNT];
        hy_sound_options options = {.rate = 48000, .bits = 16};
        write_file(scratch(names[i]), &options, in, COUNT, 6);
        read_back(scratch(names[i]), 48000, back, COUNT);
        for (int k = 0; k < COUNT; k++) {
            cr_assert_eq(back[k] / 65536, out[k], "%s %d: %d", names[i], k, back[k] / 65536);
        }
    }
}

Test(sound, writes_24_bits_exactly)
{
    enum { COUNT = 20001 }; /* odd, so that the WAV needs a pad byte */
    float *in = malloc(COUNT * sizeof *in);
    int *back = malloc(COUNT * sizeof *back);
    for (int i = 0; i < COUNT; i++) {
        in[i] = sinf((float)i * 0.01f) * 0.999f;
    }
    static const char *const names[] = {"a.wav", "a.FLAC"};
    for (int i = 0; i < 2; i++) {
        hy_sound_options options = {.rate = 20000, .bits = 24};
        write_file(scratch(names[i]), &options, in, COUNT, 0);
        read_back(scratch(names[i]), 20000, back, COUNT);
        for (int k = 0; k < COUNT; k++) {
            cr_assert_eq(back[k] % 256, 0);
            cr_assert_eq(back[k] / 256, (int)nearbyint((double)in[k] * 8388608.0));
        }
    }
    free(in);
    free(back);
}

Test(sound, keeps_floats_as_they_are)
{
    const float in[] = {0.1f, -1.5f, 1.0f, 3.0f, 1e-20f};
    float back[5];
    hy_sound_options options = {.rate = 192000, .bits = 32};
    write_file(scratch("a.wav"), &options, in, 5, 2);
    SF_INFO info;
    SNDFILE *file = open_back(scratch("a.wav"), &info);
    cr_assert_eq(info.format, SF_FORMAT_WAV | SF_FORMAT_FLOAT);
    cr_assert_eq(sf_readf_float(file, back, 5), 5);
    sf_close(file);
    cr_assert_eq(memcmp(in, back, sizeof in), 0);
    size_t size;
    char *bytes = scratch_read(scratch("a.wav"), &size);
    for (size_t i = 0; i + 4 <= size; i++) {
        cr_assert_neq(memcmp(bytes + i, "PEAK", 4), 0, "a time stamp");
    }
    free(bytes);
}

Test(sound, knows_the_peak)
{
    const float in[] = {0.25f, -0.75f, 0.5f};
    hy_sound_options options = {.rate = 8000, .bits = 16};
    hy_sound *sound = hy_sound_open(scratch("a.wav"), &options, &diag);
    cr_assert_eq(hy_sound_write(sound, in, 3, &diag), 0);
    cr_assert(hy_sound_peak(sound) == 0.75f);
    hy_sound_abandon(sound);
    cr_assert_eq(scratch_count(), 0);
}

Test(sound, ogg_sounds_like_the_input)
{
    enum { COUNT = 48000 };
    float *in = malloc(COUNT * sizeof *in);
    float *back = malloc(COUNT * sizeof *back);
    for (int i = 0; i < COUNT; i++) {
        in[i] = 0.5f * sinf((float)i * 0.06f);
    }
    hy_sound_options options = {.rate = 48000, .bits = 16};
    write_file(scratch("a.ogg"), &options, in, COUNT, 0);
    SF_INFO info;
    SNDFILE *file = open_back(scratch("a.ogg"), &info);
    cr_assert_eq(info.frames, COUNT);
    cr_assert_eq(sf_readf_float(file, back, COUNT), COUNT);
    sf_close(file);
    double wrong = 0;
    double all = 0;
    for (int i = 0; i < COUNT; i++) {
        wrong += pow((double)(in[i] - back[i]), 2);
        all += pow((double)in[i], 2);
    }
    cr_assert_lt(10 * log10(wrong / all), -20.0);
    free(in);
    free(back);
}

Test(sound, all_formats_at_the_extreme_rates)
{
    static const char *const names[] = {"a.wav", "a.flac", "a.ogg"};
    const float in[100] = {0};
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 2; k++) {
            int back[100];
            hy_sound_options options = {.rate = k == 0 ? 8000 : 192000, .bits = 16};
            write_file(scratch(names[i]), &options, in, 100, 0);
            read_back(scratch(names[i]), (int)options.rate, back, 100);
        }
    }
}

Test(sound, an_empty_file_is_a_file)
{
    static const char *const names[] = {"a.wav", "a.flac", "a.ogg"};
    for (int i = 0; i < 3; i++) {
        hy_sound_options options = {.rate = 48000, .bits = 24};
        write_file(scratch(names[i]), &options, NULL, 0, 0);
        cr_assert_eq(access(scratch(names[i]), 0), 0);
    }
    int none;
    read_back(scratch("a.wav"), 48000, &none, 0);
}

Test(sound, two_runs_give_the_same_bytes)
{
    static const char *const names[][2] = {{"a.wav", "b.wav"}, {"a.flac", "b.flac"}, {"a.ogg", "b.ogg"}};
    float in[9000];
    for (int i = 0; i < 9000; i++) {
        in[i] = 0.4f * sinf((float)i * 0.11f);
    }
    for (int i = 0; i < 3; i++) {
        hy_sound_options options = {.rate = 44100, .bits = 16, .dither = i < 2};
        write_file(scratch(names[i][0]), &options, in, 9000, 0);
        write_file(scratch(names[i][1]), &options, in, 9000, 0);
        scratch_same(scratch(names[i][0]), scratch(names[i][1]));
    }
}

Test(sound, dither_is_triangular)
{
    enum { COUNT = 200000 };
    float *in = malloc(COUNT * sizeof *in);
    int *back = malloc(COUNT * sizeof *back);
    double mean = 0;
    double square = 0;
    for (int i = 0; i < COUNT; i++) {
        in[i] = 0.3f * 0x1p-15f; /* a third of a step would vanish without dither */
    }
    hy_sound_options options = {.rate = 48000, .bits = 16, .dither = 1};
    write_file(scratch("a.wav"), &options, in, COUNT, 0);
    read_back(scratch("a.wav"), 48000, back, COUNT);
    for (int i = 0; i < COUNT; i++) {
        double error = back[i] / 65536 - 0.3;
        mean += error / COUNT;
        square += error * error / COUNT;
    }
    cr_assert_float_eq(mean, 0, 0.01);
    cr_assert_float_eq(square, 0.25, 0.01); /* 3 steps^2 / 12 */
    free(in);
    free(back);
}

/* Cue points with their names, as libsndfile and so most programs read them. */
static void check_marks(const char *path, int bits, size_t marks)
{
    const float in[1001] = {0};
    int64_t *frames = malloc(marks * sizeof *frames);
    char(*names)[24] = malloc(marks * sizeof *names);
    const hy_sound_options options = {.rate = 48000, .bits = bits};
    hy_sound *sound = hy_sound_open(path, &options, &diag);
    cr_assert_not_null(sound, "%s", diag.text);
    for (size_t i = 0; i < marks; i++) {
        frames[i] = (int64_t)(i * 1000 / marks);
        snprintf(names[i], sizeof names[i], i % 2 != 0 ? "mark %zu" : "\u00e4%zu", i);
        cr_assert_eq(hy_sound_mark(sound, frames[i], names[i], &diag), 0);
    }
    cr_assert_eq(hy_sound_write(sound, in, 1001, &diag), 0);
    cr_assert_eq(hy_sound_commit(sound, &diag), 0, "%s", diag.text);

    SF_INFO info;
    SNDFILE *file = open_back(path, &info);
    cr_assert_eq(info.frames, 1001);
    uint32_t count = 0;
    sf_command(file, SFC_GET_CUE_COUNT, &count, sizeof count);
    cr_assert_eq(count, marks);
    size_t size = sizeof count + marks * sizeof(SF_CUE_POINT);
    SF_CUES *cues = calloc(1, size > sizeof *cues ? size : sizeof *cues);
    cr_assert_eq(sf_command(file, SFC_GET_CUE, cues, (int)size), SF_TRUE);
    const SF_CUE_POINT *point = cues->cue_points;
    for (size_t i = 0; i < marks; i++, point++) {
        cr_assert_eq(point->sample_offset, frames[i]);
        cr_assert_eq(point->position, frames[i]);
        cr_assert_str_eq(point->name, names[i]);
    }
    sf_close(file);
    free(cues);
    free(frames);
    free(names);
}

Test(sound, marks_are_cue_points_with_names)
{
    check_marks(scratch("a.wav"), 16, 1);
    check_marks(scratch("a.wav"), 24, 99);   /* 3003 bytes of data: the chunks behind it start at an even place */
    check_marks(scratch("a.wav"), 32, 1000); /* libsndfile refuses to read more */
}

Test(sound, a_wav_without_marks_has_nothing_but_header_and_data)
{
    const float in[10] = {0};
    size_t size;
    hy_sound_options options = {.rate = 48000, .bits = 16};
    write_file(scratch("a.wav"), &options, in, 10, 0);
    free(scratch_read(scratch("a.wav"), &size));
    cr_assert_eq(size, 44 + 20);
}

static void refused(const char *path, hy_sound_options options, const char *why)
{
    char expected[700];
    diag.text[0] = '\0';
    cr_assert_null(hy_sound_open(path, &options, &diag));
    snprintf(expected, sizeof expected, "cannot write %s: %s", path, why);
    cr_assert_str_eq(diag.text, expected);
    cr_assert_eq(scratch_count(), 0);
}

Test(sound, refuses_with_a_reason)
{
    hy_sound_options normal = {.rate = 48000, .bits = 16};
    refused(scratch("a.mp3"), normal, "the name must end in .wav, .flac or .ogg");
    refused(scratch("wav"), normal, "the name must end in .wav, .flac or .ogg");
    refused(scratch("a.wav"), (hy_sound_options){.rate = 0, .bits = 16}, "the rate must be 1 to 192000 Hz, not 0");
    refused(scratch("a.flac"), (hy_sound_options){.rate = 7999, .bits = 16},
            "the rate must be 8000 to 192000 Hz, not 7999");
    refused(scratch("a.wav"), (hy_sound_options){.rate = 192001, .bits = 16},
            "the rate must be 1 to 192000 Hz, not 192001");
    refused(scratch("a.wav"), (hy_sound_options){.rate = 48000, .bits = 8},
            "bits must be 16, 24 or 32 (floating point), not 8");
    refused(scratch("a.flac"), (hy_sound_options){.rate = 48000, .bits = 32},
            "FLAC holds whole numbers of 16 or 24 bits; 32 bits need .wav");
    refused(scratch("a.wav"), (hy_sound_options){.rate = 48000, .bits = 32, .dither = 1},
            "dither is for 16 or 24 bits in .wav or .flac");
    char why[500];
    snprintf(why, sizeof why, "the folder %s does not exist", scratch("none"));
    refused(scratch("none/a.wav"), normal, why);
}

Test(sound, a_wav_ends_at_4_gib)
{
    const float in[1] = {0};
    hy_sound_options options = {.rate = 48000, .bits = 16};
    hy_sound *sound = hy_sound_open(scratch("a.wav"), &options, &diag);
    cr_assert_eq(hy_sound_write(sound, in, (size_t)1 << 31, &diag), -1); /* told before the frames are looked at */
    cr_assert_not_null(strstr(diag.text, "a WAV file ends at 4 GiB; .flac and .ogg do not"), "%s", diag.text);
    hy_sound_abandon(sound);
    cr_assert_eq(scratch_count(), 0);
}

Test(sound, a_full_disk_is_told)
{
    const float in[5000] = {0};
    cr_assert_eq(symlink("/dev/full", scratch("full.wav")), 0);
    cr_assert_eq(symlink("/dev/full", scratch("full.flac")), 0);
    cr_assert_eq(symlink("/dev/full", scratch("full.ogg")), 0);
    static const char *const names[] = {"full.wav", "full.flac", "full.ogg"};
    for (int i = 0; i < 3; i++) {
        hy_sound_options options = {.rate = 48000, .bits = 16};
        diag.text[0] = '\0';
        hy_sound *sound = hy_sound_open(scratch(names[i]), &options, &diag);
        cr_assert_not_null(sound, "%s", diag.text);
        cr_assert_eq(hy_sound_write(sound, in, 5000, &diag), 0);
        cr_assert_eq(hy_sound_commit(sound, &diag), -1);
        cr_assert_not_null(strstr(diag.text, "the disk is full"), "%s", diag.text);
    }
}

/* Here the failure comes from inside libsndfile's writes. */
Test(sound, a_disk_that_fills_up_while_writing_is_told)
{
    const char *disk = scratch("disk");
    mkdir(disk, 0777);
    if (geteuid() != 0 || mount("tmpfs", disk, "tmpfs", 0, "size=64k") != 0) {
        cr_skip("mounting a small disk needs root");
    }
    static const char *const names[] = {"disk/a.wav", "disk/a.flac", "disk/a.ogg"};
    char told[3][600];
    uint32_t noise = 1;
    for (int i = 0; i < 3; i++) {
        hy_sound_options options = {.rate = 48000, .bits = 16};
        diag.text[0] = '\0';
        hy_sound *sound = hy_sound_open(scratch(names[i]), &options, &diag);
        int result = sound != NULL ? 0 : -1;
        for (int block = 0; result == 0 && block < 1000; block++) {
            float in[1000];
            for (int k = 0; k < 1000; k++) {
                noise = noise * 1664525u + 1013904223u;
                in[k] = (float)noise * 0x1p-32f - 0.5f;
            }
            result = hy_sound_write(sound, in, 1000, &diag);
        }
        hy_sound_abandon(sound);
        snprintf(told[i], sizeof told[i], "%s", diag.text);
    }
    int left = scratch_count();
    umount(disk);
    for (int i = 0; i < 3; i++) {
        cr_assert_not_null(strstr(told[i], ": the disk is full"), "%s", told[i]);
    }
    cr_assert_eq(left, 1);
}
