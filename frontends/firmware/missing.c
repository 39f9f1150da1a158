/* Built without the simulator. */
#include "simulate.h"

const char *hy_simulator_missing(void)
{
    return "this hyoid was built without libsimavr, so that no firmware can be run; install libsimavr-dev and "
           "libelf-dev (Debian) and build it again";
}

hy_log *hy_simulate(const hy_simulation *simulation, hy_simulated *simulated, hy_diag *diag)
{
    (void)simulation;
    (void)simulated;
    hy_fail(diag, "%s", hy_simulator_missing());
    return NULL;
}
