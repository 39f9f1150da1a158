/* sick INPUT OUT.wav FAULT=STRENGTH... | part=DIR | offset=MS | scale=RATIO: what a chip with these defects says to the input, at
 * 24 kHz. Names are the core's. */
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input.h"
#include "partfile.h"
#include "recording/model.h"

typedef struct defects {
    double strength[HYOID_FAULTS];
} defects;

static void prepare(void *user, hyoid_stream *stream)
{
    const defects *d = user;
    for (int f = 0; f < HYOID_FAULTS; f++) {
        if (d->strength[f] > 0) {
            hyoid_chip_set_fault(&stream->chip, (hyoid_fault)f, d->strength[f]);
        }
    }
}

static _Noreturn void die(const char *what)
{
    fprintf(stderr, "sick: %s\n", what);
    exit(2);
}

static void set(defects *d, const char *name, double strength)
{
    for (int f = 0; f < HYOID_FAULTS; f++) {
        if (strcmp(hyoid_fault_describe((hyoid_fault)f)->name, name) == 0) {
            d->strength[f] = strength;
            return;
        }
    }
    die("no such fault");
}

static void write_sound(const char *path, const hy_model *model)
{
    SF_INFO info = {.samplerate = 24000, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_24};
    SNDFILE *out = sf_open(path, SFM_WRITE, &info);
    if (out == NULL || sf_writef_float(out, model->samples, (sf_count_t)model->count) != (sf_count_t)model->count) {
        die("the sound can't be written");
    }
    sf_close(out);
}

int main(int argc, char **argv)
{
    hy_diag diag = {""};
    defects d = {{0}};
    hy_partfile *file = NULL;
    hy_model_setup setup = {.part = hyoid_part_default(), .scale = 1, .tail = 0.2, .longest = 1e4, .user = &d};
    setup.prepare = prepare;
    for (int i = 3; i < argc; i++) {
        char *equals = strchr(argv[i], '=');
        if (equals == NULL) {
            die("NAME=VALUE is wanted");
        }
        *equals = '\0';
        double value = strtod(equals + 1, NULL);
        if (strcmp(argv[i], "part") == 0) {
            file = hy_partfile_read(equals + 1, &diag);
            if (file == NULL) {
                die(diag.text);
            }
            setup.part = hy_partfile_part(file);
        } else if (strcmp(argv[i], "offset") == 0) {
            setup.offset_ms = (int)value;
        } else if (strcmp(argv[i], "scale") == 0) {
            setup.scale = value;
        } else {
            set(&d, argv[i], value);
        }
    }
    setup.host = (hy_host_options){.clock_hz = setup.part->nominal_hz, .level = 1};
    hy_input input;
    if (argc < 3 || hy_input_read(&input, argv[1], setup.part, &setup.host, &diag) != 0) {
        die(diag.text[0] != '\0' ? diag.text : "INPUT OUT.wav NAME=VALUE...");
    }
    setup.input = &input;
    hy_model *model = hy_model_render(&setup, &diag);
    if (model == NULL) {
        die(diag.text);
    }
    write_sound(argv[2], model);
    hy_model_free(model);
    hy_input_free(&input);
    hy_partfile_free(file);
    return 0;
}
