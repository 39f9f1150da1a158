/* Labels as a TextGrid: tiers `phoneme` (symbol, from latch to latch), `code` (0x..), `request` (low, high), and `mark`
 * (points). The header states counts, so segments are kept in a temporary file until the end. */
#ifndef HY_LABELS_H
#define HY_LABELS_H

#include <stdint.h>

#include "diag.h"

typedef struct hy_labels hy_labels;

hy_labels *hy_labels_open(const char *path, hy_diag *diag);
void hy_labels_latch(hy_labels *labels, int64_t ps, unsigned code);
void hy_labels_request(hy_labels *labels, int64_t ps, int level);
void hy_labels_mark(hy_labels *labels, int64_t ps, const char *name);
int hy_labels_finish(hy_labels *labels, int64_t end_ps, hy_diag *diag);
int hy_labels_commit(hy_labels *labels, hy_diag *diag);
void hy_labels_abandon(hy_labels *labels);

#endif
