/* A screen as cells, painted by functions that know no terminal. */
#ifndef HY_CELLS_H
#define HY_CELLS_H

#include <stddef.h>
#include <stdint.h>

typedef enum hy_style {
    HY_PLAIN,
    HY_DIM,
    HY_BOLD,
    HY_ACCENT,
    HY_GOOD,
    HY_WARN,
    HY_ALARM,
    HY_MARKED,
    HY_STYLES
} hy_style;

enum { HY_CELLS_ROWS = 200, HY_CELLS_COLUMNS = 400 }; /* a larger terminal is used in part */

typedef struct hy_cell {
    uint32_t point; /* a code point one column wide */
    uint8_t style;  /* hy_style */
} hy_cell;

typedef struct hy_cells {
    int rows, columns;
    hy_cell cell[HY_CELLS_ROWS][HY_CELLS_COLUMNS];
} hy_cells;

/* Blank, of this size, as far as there is room. */
void hy_cells_clear(hy_cells *cells, int rows, int columns);

/* UTF-8 text from a place on; what lies outside is left out, and so are combining marks. Returns the column after it. */
int hy_cells_put(hy_cells *cells, int row, int column, hy_style style, const char *text);
int hy_cells_print(hy_cells *cells, int row, int column, hy_style style, const char *format, ...)
    __attribute__((format(printf, 5, 6)));
void hy_cells_set(hy_cells *cells, int row, int column, hy_style style, uint32_t point);
void hy_cells_rule(hy_cells *cells, int row, const char *title);

/* What a terminal without Unicode shows for a code point. */
char hy_cells_ascii(uint32_t point);

#endif
