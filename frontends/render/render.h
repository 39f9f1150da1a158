/* hyoid render. */
#ifndef HY_RENDER_H
#define HY_RENDER_H

/* The verb: argv[0] is its name; returns the exit status. */
int hy_render_main(int argc, char **argv);

#endif
