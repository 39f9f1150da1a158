/* hyoid firmware. */
#ifndef HY_FIRMWARE_H
#define HY_FIRMWARE_H

/* The verb: argv[0] is its name; returns the exit status. */
int hy_firmware_main(int argc, char **argv);

#endif
