/* A row's judgement: what lies how far from which limit. */
#include <math.h>

#include "report.h"

hy_report_row hy_report_row_of(const char *name, const char *unit)
{
    return (hy_report_row){.name = name,
                           .unit = unit,
                           .min = NAN,
                           .typ = NAN,
                           .max = NAN,
                           .low = NAN,
                           .mean = NAN,
                           .high = NAN,
                           .uncertainty = NAN,
                           .verdict = HY_INCONCLUSIVE};
}

/* A row with a mean alone was measured once, so to speak. */
static double lowest(const hy_report_row *row)
{
    return isnan(row->low) ? row->mean : row->low;
}

static double highest(const hy_report_row *row)
{
    return isnan(row->high) ? row->mean : row->high;
}

double hy_report_margin(const hy_report_row *row)
{
    /* fmin passes over a NaN */
    return fmin(lowest(row) - row->min, row->max - highest(row));
}

hy_verdict hy_report_judge(const hy_report_row *row)
{
    double margin = hy_report_margin(row);
    double doubt = isnan(row->uncertainty) ? 0.0 : row->uncertainty;
    if (isnan(margin)) {
        return HY_INCONCLUSIVE;
    }
    return margin >= doubt ? HY_PASS : margin < -doubt ? HY_FAIL : HY_INCONCLUSIVE;
}
