/* hyoid vectors: an input becomes stimulus and expected pins, clock by clock, for an HDL test bench. */
#ifndef HY_VECTORS_H
#define HY_VECTORS_H

int hy_vectors_main(int argc, char **argv);

#endif
