#ifndef HY_SWEEP_H
#define HY_SWEEP_H

/* The verb: hyoid sweep. argv[0] is "sweep". Returns the exit status. */
int hy_sweep_main(int argc, char **argv);

#endif
