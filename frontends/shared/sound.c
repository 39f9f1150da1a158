#include "sound.h"

#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "outfile.h"
#include "sound_parts.h"

enum { BLOCK = 1024 };

struct hy_sound {
    hy_outfile *file;
    SNDFILE *sndfile;
    char *path;
    hy_sound_options options;
    hy_sound_cue *cues;
    size_t cue_count, cue_room;
    int container;   /* SF_FORMAT_WAV, _FLAC or _OGG */
    int bits;        /* of integers; 0: samples are stored as floats */
    int error;       /* errno of the first write that failed */
    uint64_t frames; /* so far */
    uint64_t clipped;
    float peak;
    uint64_t dither; /* state of the generator */
};

/* libsndfile writes through these, so that the cause of a failed write is known. */
static sf_count_t file_length(void *user)
{
    hy_sound *sound = user;
    struct stat st;
    if (fflush(hy_outfile_stream(sound->file)) != 0 || fstat(hy_outfile_descriptor(sound->file), &st) != 0) {
        return -1;
    }
    return st.st_size;
}

static sf_count_t file_seek(sf_count_t offset, int whence, void *user)
{
    hy_sound *sound = user;
    FILE *stream = hy_outfile_stream(sound->file);
    if (fseeko(stream, offset, whence) != 0) { /* flushes */
        sound->error = sound->error != 0 ? sound->error : errno;
        return -1;
    }
    return ftello(stream);
}

static sf_count_t file_read(void *data, sf_count_t size, void *user)
{
    hy_sound *sound = user;
    return (sf_count_t)fread(data, 1, (size_t)size, hy_outfile_stream(sound->file));
}

static sf_count_t file_write(const void *data, sf_count_t size, void *user)
{
    hy_sound *sound = user;
    errno = 0;
    size_t done = fwrite(data, 1, (size_t)size, hy_outfile_stream(sound->file));
    if (done != (size_t)size && sound->error == 0) {
        sound->error = errno != 0 ? errno : EIO;
    }
    return (sf_count_t)done;
}

static sf_count_t file_tell(void *user)
{
    hy_sound *sound = user;
    return ftello(hy_outfile_stream(sound->file));
}

static SF_VIRTUAL_IO through_outfile = {file_length, file_seek, file_read, file_write, file_tell};

static int container_of(const char *path)
{
    if (strcmp(path, "-") == 0) {
        return SF_FORMAT_WAV;
    }
    const char *slash = strrchr(path, '/');
    const char *dot = strrchr(slash != NULL ? slash : path, '.');
    if (dot == NULL) {
        return 0;
    }
    return strcasecmp(dot, ".wav") == 0    ? SF_FORMAT_WAV
           : strcasecmp(dot, ".flac") == 0 ? SF_FORMAT_FLAC
           : strcasecmp(dot, ".ogg") == 0  ? SF_FORMAT_OGG
                                           : 0;
}

static int check(hy_sound *sound, hy_diag *diag)
{
    const hy_sound_options *o = &sound->options;
    sound->container = container_of(sound->path);
    if (sound->container == 0) {
        return hy_fail(diag, "cannot write %s: the name must end in .wav, .flac or .ogg", sound->path);
    }
    /* WAV states any rate, and the raw staircase of a slow clock needs low ones; the encoders do not go there */
    const unsigned least = sound->container == SF_FORMAT_WAV ? 1 : 8000;
    if (o->rate < least || o->rate > 192000) {
        return hy_fail(diag, "cannot write %s: the rate must be %u to 192000 Hz, not %u", sound->path, least,
                       (unsigned)o->rate);
    }
    if (sound->container != SF_FORMAT_OGG) {
        if (o->bits != 16 && o->bits != 24 && o->bits != 32) {
            return hy_fail(diag, "cannot write %s: bits must be 16, 24 or 32 (floating point), not %d", sound->path,
                           o->bits);
        }
        if (o->bits == 32 && sound->container == SF_FORMAT_FLAC) {
            return hy_fail(diag, "cannot write %s: FLAC holds whole numbers of 16 or 24 bits; 32 bits need .wav",
                           sound->path);
        }
        sound->bits = o->bits == 32 ? 0 : o->bits;
    }
    if (o->dither != 0 && sound->bits == 0) {
        return hy_fail(diag, "cannot write %s: dither is for 16 or 24 bits in .wav or .flac", sound->path);
    }
    return 0;
}

static int open_encoder(hy_sound *sound, hy_diag *diag)
{
    int coding = sound->container == SF_FORMAT_OGG ? SF_FORMAT_VORBIS
                 : sound->bits == 16               ? SF_FORMAT_PCM_16
                 : sound->bits == 24               ? SF_FORMAT_PCM_24
                                                   : SF_FORMAT_FLOAT;
    SF_INFO info = {.samplerate = (int)sound->options.rate, .channels = 1, .format = sound->container | coding};
    if (!sf_format_check(&info)) {
        return hy_fail(diag, "cannot write %s: this libsndfile can't write the format", sound->path);
    }
    sound->sndfile = sf_open_virtual(&through_outfile, SFM_WRITE, &info, sound);
    if (sound->sndfile == NULL) {
        return hy_fail(diag, "cannot write %s: %s", sound->path, sf_strerror(NULL));
    }
    sf_command(sound->sndfile, SFC_SET_ADD_PEAK_CHUNK, NULL, SF_FALSE); /* it holds the time of day */
    if (sound->container == SF_FORMAT_OGG) {
        double quality = 0.6;
        sf_command(sound->sndfile, SFC_SET_VBR_ENCODING_QUALITY, &quality, sizeof quality);
    }
    return 0;
}

hy_sound *hy_sound_open(const char *path, const hy_sound_options *options, hy_diag *diag)
{
    hy_sound *sound = calloc(1, sizeof *sound);
    if (sound != NULL) {
        sound->path = strdup(path);
    }
    if (sound == NULL || sound->path == NULL) {
        free(sound);
        hy_fail(diag, "cannot write %s: out of memory", path);
        return NULL;
    }
    sound->options = *options;
    int result = check(sound, diag);
    if (result == 0) {
        sound->file = hy_outfile_open(path, diag);
        result = sound->file != NULL ? open_encoder(sound, diag) : -1;
    }
    if (result != 0) {
        hy_sound_abandon(sound);
        return NULL;
    }
    return sound;
}

/* Uniform in [0, 1), 32 bits: SplitMix64 from state 0 (its increment and multipliers are the published ones). */
static double uniform(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return (double)(z >> 32) * 0x1p-32;
}

/* To the nearest whole step, a tie to the even one; full scale is -2^(bits-1) .. 2^(bits-1) - 1. */
static int quantise(hy_sound *sound, float x)
{
    double scale = ldexp(1.0, sound->bits - 1);
    double step = (double)x * scale;
    if (sound->options.dither != 0) {
        double first = uniform(&sound->dither);
        step += first - uniform(&sound->dither); /* triangular, -1 .. +1 */
    }
    step = rint(step);
    if (step >= -scale && step <= scale - 1) {
        return (int)step;
    }
    sound->clipped++;
    return isnan(step) ? 0 : (int)(step < 0 ? -scale : scale - 1);
}

static sf_count_t write_block(hy_sound *sound, const float *frames, size_t count)
{
    short shorts[BLOCK];
    int ints[BLOCK];
    switch (sound->bits) {
    case 16:
        for (size_t i = 0; i < count; i++) {
            shorts[i] = (short)quantise(sound, frames[i]);
        }
        return sf_writef_short(sound->sndfile, shorts, (sf_count_t)count);
    case 24:
        for (size_t i = 0; i < count; i++) {
            ints[i] = quantise(sound, frames[i]) * 256; /* libsndfile wants the value at the top of an int */
        }
        return sf_writef_int(sound->sndfile, ints, (sf_count_t)count);
    default:
        for (size_t i = 0; i < count; i++) {
            sound->clipped += !(fabsf(frames[i]) <= 1.0f); /* stored as it is, but worth telling */
        }
        return sf_writef_float(sound->sndfile, frames, (sf_count_t)count);
    }
}

static int fail_write(hy_sound *sound, hy_diag *diag)
{
    if (sound->error != 0) {
        return hy_outfile_fail(sound->file, sound->error, diag);
    }
    return hy_fail(diag, "cannot write %s: %s", sound->path, sf_strerror(sound->sndfile));
}

int hy_sound_write(hy_sound *sound, const float *frames, size_t count, hy_diag *diag)
{
    if (sound->container == SF_FORMAT_WAV) {
        uint64_t bytes = (sound->frames + count) * (uint64_t)(sound->options.bits / 8);
        if (bytes > UINT32_MAX - UINT64_C(4096)) { /* room for the header */
            return hy_fail(diag, "cannot write %s: a WAV file ends at 4 GiB; .flac and .ogg do not", sound->path);
        }
    }
    for (size_t i = 0; i < count; i++) {
        float size = fabsf(frames[i]);
        sound->peak = size > sound->peak ? size : sound->peak;
    }
    sound->frames += count;
    while (count > 0) {
        size_t n = count < BLOCK ? count : BLOCK;
        if (write_block(sound, frames, n) != (sf_count_t)n || sound->error != 0) {
            return fail_write(sound, diag);
        }
        frames += n;
        count -= n;
    }
    return 0;
}

uint64_t hy_sound_clipped(const hy_sound *sound)
{
    return sound->clipped;
}

float hy_sound_peak(const hy_sound *sound)
{
    return sound->peak;
}

int hy_sound_mark(hy_sound *sound, int64_t frame, const char *name, hy_diag *diag)
{
    if (sound->container != SF_FORMAT_WAV) {
        return 0;
    }
    if (sound->cue_count == sound->cue_room) {
        size_t room = sound->cue_room == 0 ? 16 : 2 * sound->cue_room;
        hy_sound_cue *cues = realloc(sound->cues, room * sizeof *cues);
        if (cues == NULL) {
            return hy_fail(diag, "cannot write %s: out of memory", sound->path);
        }
        sound->cues = cues;
        sound->cue_room = room;
    }
    char *copy = strdup(name);
    if (copy == NULL) {
        return hy_fail(diag, "cannot write %s: out of memory", sound->path);
    }
    sound->cues[sound->cue_count++] = (hy_sound_cue){frame, copy};
    return 0;
}

int hy_sound_finish(hy_sound *sound, hy_diag *diag)
{
    if (sound->sndfile != NULL) {
        int error = sf_close(sound->sndfile); /* writes what is pending and the header with the final counts */
        sound->sndfile = NULL;
        if (sound->error != 0 || error != 0) {
            return sound->error != 0 ? fail_write(sound, diag)
                                     : hy_fail(diag, "cannot write %s: %s", sound->path, sf_error_number(error));
        }
        FILE *stream = hy_outfile_stream(sound->file);
        int failed = sound->container == SF_FORMAT_WAV   ? hy_wav_append_marks(stream, sound->cues, sound->cue_count)
                     : sound->container == SF_FORMAT_OGG ? hy_ogg_fix_serial(stream)
                                                         : 0;
        if (failed != 0) {
            sound->error = errno != 0 ? errno : EIO;
            return fail_write(sound, diag);
        }
    }
    return hy_outfile_finish(sound->file, diag);
}

int hy_sound_commit(hy_sound *sound, hy_diag *diag)
{
    int result = hy_sound_finish(sound, diag);
    if (result == 0) {
        result = hy_outfile_commit(sound->file, diag);
        sound->file = NULL;
    }
    hy_sound_abandon(sound);
    return result;
}

void hy_sound_abandon(hy_sound *sound)
{
    if (sound == NULL) {
        return;
    }
    if (sound->sndfile != NULL) {
        sf_close(sound->sndfile);
    }
    hy_outfile_abandon(sound->file);
    for (size_t i = 0; i < sound->cue_count; i++) {
        free(sound->cues[i].name);
    }
    free(sound->cues);
    free(sound->path);
    free(sound);
}
