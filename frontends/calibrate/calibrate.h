/* hyoid calibrate: a part from recordings of a chip. */
#ifndef HY_CALIBRATE_H
#define HY_CALIBRATE_H

int hy_calibrate_main(int argc, char **argv);

#endif
