/* The full screen: ncurses between cells and a terminal, keys and a session. */
#ifndef HY_TERMINAL_H
#define HY_TERMINAL_H

#include <signal.h>

#include "device.h"
#include "session.h"

/* Plays until the user quits, a signal comes (*stop becomes true) or the device goes: 0, or -1. The terminal is as it was
 * afterwards. */
int hy_terminal_run(hy_live_session *session, hy_device *device, const volatile sig_atomic_t *stop, hy_diag *diag);

/* The same from lines of standard input, without a screen. `err` gets what is not an answer. */
int hy_lines_run(hy_live_session *session, hy_device *device, const volatile sig_atomic_t *stop, FILE *err,
                 hy_diag *diag);

#endif
