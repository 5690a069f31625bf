/* answer/fan.c: drawing a forecast. */
#include "answer/fan.h"

#include <math.h>
#include <string.h>

#include "units/decimal.h"

static double larger(double a, double b)
{
    return a > b ? a : b;
}

tw_fan_scale tw_answer_fan_scale(const tw_fan *fan, uint32_t hours, size_t columns, double floor_mg_per_l,
                                 double ceiling_mg_per_l)
{
    double top = larger(ceiling_mg_per_l, floor_mg_per_l);
    for (uint32_t h = 0; h <= hours && h <= fan->hours; h++)
        top = larger(top, fan->chlorine[h].q95);
    top = ceil(top + 0.25);
    const tw_fan_scale scale = {.top = top < 2.0 ? 2.0 : top, .columns = columns < 20 ? 20 : columns > 80 ? 80 : columns,
                                .floor_mg_per_l = floor_mg_per_l, .ceiling_mg_per_l = ceiling_mg_per_l};
    return scale;
}

/* The column of an amount, within the drawing. */
static size_t column_of(const tw_fan_scale *scale, double mg_per_l)
{
    const double at = floor(mg_per_l / scale->top * (double)(scale->columns - 1) + 0.5);
    if (!(at > 0.0))
        return 0;
    return at > (double)(scale->columns - 1) ? scale->columns - 1 : (size_t)at;
}

static size_t end_line(char *buf, size_t columns)
{
    size_t n = columns;
    while (n > 0 && buf[n - 1] == ' ')
        n--;
    buf[n] = '\0';
    return n;
}

size_t tw_answer_fan_axis(const tw_fan_scale *scale, char buf[TW_FAN_LINE])
{
    memset(buf, ' ', scale->columns + 2);
    /* Figures at every 1, 2, 5, 10, ... mg/L, as many as have room. */
    double step = 1.0;
    const double most = (double)scale->columns / 5.0;
    while (scale->top / step > most)
        step = step < 2.0 ? 2.0 : step < 5.0 ? 5.0 : step * 2.0;
    for (double v = 0.0; v <= scale->top; v += step) {
        char figure[TW_DECIMAL_BYTES];
        const size_t n = tw_units_decimal_write(v, 0, figure, sizeof figure);
        const size_t at = column_of(scale, v);
        if (at + n <= scale->columns + 1)
            memcpy(buf + at, figure, n);
    }
    return end_line(buf, scale->columns + 2);
}

size_t tw_answer_fan_line(const tw_fan_scale *scale, const tw_fan *fan, uint32_t hour, char buf[TW_FAN_LINE])
{
    const tw_spread *s = &fan->chlorine[hour];
    memset(buf, ' ', scale->columns);
    if (scale->floor_mg_per_l > 0.0)
        buf[column_of(scale, scale->floor_mg_per_l)] = '|';
    if (scale->ceiling_mg_per_l > 0.0)
        buf[column_of(scale, scale->ceiling_mg_per_l)] = '|';
    for (size_t c = column_of(scale, s->q05); c <= column_of(scale, s->q95); c++)
        buf[c] = buf[c] == '|' ? '+' : '-';
    for (size_t c = column_of(scale, s->q25); c <= column_of(scale, s->q75); c++)
        buf[c] = buf[c] == '+' ? '+' : '=';
    buf[column_of(scale, s->q05)] = '[';
    buf[column_of(scale, s->q95)] = ']';
    const size_t made = column_of(scale, fan->made[hour].q50);
    const size_t all = column_of(scale, s->q50);
    buf[made] = 'm';
    buf[all] = 'o'; /* where they meet nothing is left of the doses */
    return end_line(buf, scale->columns);
}
