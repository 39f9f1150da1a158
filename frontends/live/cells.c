#include "cells.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

void hy_cells_clear(hy_cells *c, int rows, int columns)
{
    c->rows = rows < HY_CELLS_ROWS ? rows : HY_CELLS_ROWS;
    c->columns = columns < HY_CELLS_COLUMNS ? columns : HY_CELLS_COLUMNS;
    for (int r = 0; r < c->rows; r++) {
        for (int k = 0; k < c->columns; k++) {
            c->cell[r][k] = (hy_cell){' ', HY_PLAIN};
        }
    }
}

void hy_cells_set(hy_cells *c, int row, int column, hy_style style, uint32_t point)
{
    if (row >= 0 && row < c->rows && column >= 0 && column < c->columns) {
        c->cell[row][column] = (hy_cell){point, (uint8_t)style};
    }
}

int hy_cells_put(hy_cells *c, int row, int column, hy_style style, const char *text)
{
    size_t n = strlen(text);
    while (n > 0) {
        uint32_t point;
        const size_t used = hy_utf8(text, n, &point);
        if (used == 0) {
            break;
        }
        if (point < 0x300 || point > 0x36f) { /* combining marks have no column of their own */
            hy_cells_set(c, row, column++, style, point < ' ' ? '?' : point);
        }
        text += used;
        n -= used;
    }
    return column;
}

int hy_cells_print(hy_cells *c, int row, int column, hy_style style, const char *format, ...)
{
    char text[512];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    return hy_cells_put(c, row, column, style, text);
}

void hy_cells_rule(hy_cells *c, int row, const char *title)
{
    for (int k = 0; k < c->columns; k++) {
        hy_cells_set(c, row, k, HY_DIM, 0x2500);
    }
    if (title[0] != '\0') {
        hy_cells_print(c, row, 2, HY_DIM, " %s ", title);
    }
}

char hy_cells_ascii(uint32_t point)
{
    static const struct {
        uint32_t point;
        char ascii;
    } stand_ins[] = {{0x2500, '-'}, {0x2502, '|'}, {0x2588, '#'}, {0x2593, '%'}, {0x2592, '+'}, {0x2591, '.'},
                     {0x25b6, '>'}, {0x25cf, '*'}, {0x25cb, 'o'}, {0x2190, '<'}, {0x2192, '>'}, {0x2191, '^'},
                     {0x2193, 'v'}, {0x00d7, 'x'}, {0x00b7, '-'}, {0x2581, '_'}, {0x2594, '-'}, {0x25b2, '^'},
                     {0x251c, '|'}, {0x2524, '|'}, {0x253c, '|'}, {0x2580, '"'}, {0x2584, '_'}, {0x25c6, '*'},
                     {0x2026, '.'}, {0x2212, '-'}, {0x00bc, '<'}};
    if (point < 0x7f) {
        return (char)point;
    }
    for (size_t i = 0; i < sizeof stand_ins / sizeof stand_ins[0]; i++) {
        if (stand_ins[i].point == point) {
            return stand_ins[i].ascii;
        }
    }
    return '?';
}
