/* units/convert.h: units of the trade, converted once, at the edge.
 *
 * Inside there is one unit for each quantity: concentration mg/L, volume L, mass g, temperature
 * degree Celsius, duration h, conductivity uS/cm at 25 degrees, output (of a cell) g/h, power kW,
 * energy kWh, flow L/min, fraction 0..1, length cm, potential mV, current A, plain number 1.
 * The table is data/units.csv (word, UCUM code, quantity, basis, factor, divisor, zero, source). */
#ifndef TW_UNITS_CONVERT_H
#define TW_UNITS_CONVERT_H

#include "gen/unit_tables.h" /* enum tw_unit, tw_quantity, tw_basis; tw_unit_row */
#include "num/status.h"
#include "units/text.h"

/* The row of a unit: word, quantity, basis, factor. Never NULL. UCUM code, name and source stand in tw_units_about. */
const tw_unit_row *tw_units_row(tw_unit unit);

/* Find a unit by its canonical word, as it stands in the logbook ("mg/L", "gal-us", "Cel").
 *   TW_ERR_AMBIGUOUS  a word such as a bare "gal" that must be asked; *out is left alone
 *   TW_ERR_UNKNOWN    no such word */
tw_status tw_units_find(tw_text word, tw_unit *out);

/* Find a unit by what a person may type: the canonical word or an alias ("l", "litres", "°C",
 * "F"), upper or lower case where no other unit is meant. Statuses as above. */
tw_status tw_units_find_typed(tw_text word, tw_unit *out);

/* When a word is ambiguous: the units that it can mean, for the question back. Returns how many
 * were written (at most cap); 0 when the word is not ambiguous. */
size_t tw_units_meanings(tw_text word, tw_unit *out, size_t cap);

/* Typed value to the inside unit of its quantity, and back. */
double tw_units_inside(tw_unit unit, double typed);
double tw_units_typed(tw_unit unit, double inside);

/* A difference or a standard deviation: as above without the zero point (9 degF are 5 K). */
double tw_units_inside_difference(tw_unit unit, double typed);

/* Word and typed value in one step. TW_ERR_UNKNOWN, TW_ERR_AMBIGUOUS as tw_units_find. */
tw_status tw_units_to_si(tw_text word, double typed, double *inside);

/* Name of a quantity ("concentration"). Never NULL. */
const char *tw_units_quantity_name(tw_quantity quantity);

/* Find a quantity by its name in the tables. TW_ERR_UNKNOWN when there is none. */
tw_status tw_units_quantity_find(tw_text name, tw_quantity *out);

#endif
