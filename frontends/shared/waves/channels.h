/* The channels of a logic analyser: signals of one bit with plain names. Shared by the readers of its files. */
#ifndef HY_CHANNELS_H
#define HY_CHANNELS_H

#include "diag.h"
#include "vcd_read.h"

enum { HY_CHANNELS_MAX = 512, HY_CHANNEL_NAME_MAX = 80 };

typedef struct hy_channel {
    char name[HY_CHANNEL_NAME_MAX + 1];
    unsigned place; /* bit of the sample, or column of the row */
    int selected;
    char level; /* told last: 0, 1, x, z; '\0': none yet */
} hy_channel;

typedef struct hy_channels {
    hy_channel *all;
    unsigned count;
} hy_channels;

/* Adds one. A name may hold anything that a line can show; a longer one is cut. 0, or -1 if there are too many. */
int hy_channels_add(hy_channels *channels, const char *name, size_t length, unsigned place, const char *file,
                    hy_diag *diag);
void hy_channels_free(hy_channels *channels);

/* As in vcd_read.h. */
hy_vcd_var hy_channels_var(const hy_channels *channels, unsigned var);
hy_vcd_name hy_channels_name(const hy_channels *channels, unsigned var);
int hy_channels_matches(const hy_channels *channels, unsigned var, const char *text, size_t length, int fold);
unsigned hy_channels_select(hy_channels *channels, unsigned var);

/* Tells the listener of a channel's level ('0', '1', 'x' or 'z') if it is selected and the level is news. */
int hy_channels_tell(hy_channels *channels, unsigned var, int64_t ps, char level, const hy_vcd_listener *listener);

/* Samples a second as analysers write it: "1 MHz", "12.5MHz", "500 kHz", "24000000". 0, or -1 if s[0..n) is none, or not from
 * 1 Hz to 100 GHz. */
int hy_rate_read(const char *s, size_t n, double *rate);

#endif
