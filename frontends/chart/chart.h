#ifndef HY_CHART_H
#define HY_CHART_H

/* The verb: hyoid chart. argv[0] is "chart". Returns the exit status. */
int hy_chart_main(int argc, char **argv);

#endif
