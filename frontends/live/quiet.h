/* Sound libraries write to standard error whatever they like, over our screen too. Here it is taken away from them. */
#ifndef HY_QUIET_H
#define HY_QUIET_H

#include <stdio.h>

/* From here on file descriptor 2 leads nowhere; our own lines go to the stream that is returned, which is the old one. If
 * that can't be done, or `verbose`, it is stderr and nothing changes. */
FILE *hy_quiet_begin(int verbose);

/* Standard error is as it was. */
void hy_quiet_end(void);

#endif
