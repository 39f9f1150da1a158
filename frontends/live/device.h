/* The sound device, through PortAudio. */
#ifndef HY_DEVICE_H
#define HY_DEVICE_H

#include <stdint.h>
#include <stdio.h>

#include "diag.h"
#include "player.h"

typedef struct hy_device_options {
    const char *name;  /* a device's number or part of its name; null: the default one */
    uint32_t rate;     /* 0: 48000, or what the device can */
    double latency_ms; /* asked for; 0: a low one */
} hy_device_options;

typedef struct hy_device hy_device;

/* Starts PortAudio; one at a time. Call it with standard error quiet. 0, or -1. */
int hy_device_begin(hy_diag *diag);
void hy_device_end(void);

/* The output devices, one a line. -1 if there are none or it can't be written. */
int hy_device_list(FILE *out, hy_diag *diag);

/* Chooses and checks a device. Null on error: no such device, none at all, or the rate won't do. */
hy_device *hy_device_choose(const hy_device_options *options, hy_diag *diag);
/* Lets it play. The player outlives the device. 0, or -1. */
int hy_device_start(hy_device *device, hy_player *player, hy_diag *diag);
/* Stops and frees. */
void hy_device_close(hy_device *device);

const char *hy_device_name(const hy_device *device);
uint32_t hy_device_rate(const hy_device *device);
double hy_device_latency_ms(const hy_device *device); /* of the sound once it has left us, as the device tells */
double hy_device_time(void *device);                  /* its clock, s */

/* Underruns so far, and the longest that the callback took, as a share of the time it had. */
uint64_t hy_device_xruns(const hy_device *device);
double hy_device_worst_load(const hy_device *device);

/* -1 with a message once the device has stopped asking for sound; 0 while it plays. */
int hy_device_check(hy_device *device, hy_diag *diag);

#endif
