/* hyoid diagnose: which named fault explains a recording best. */
#ifndef HY_DIAGNOSE_H
#define HY_DIAGNOSE_H

int hy_diagnose_main(int argc, char **argv);

#endif
