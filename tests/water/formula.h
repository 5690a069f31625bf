/* tests/water/formula.h: what a list of species holds, counted from the text of their formulas alone.
 *
 * No header of the solver is included here, so that the balances rest on nothing that it computes or reads. */
#ifndef TW_TESTS_WATER_FORMULA_H
#define TW_TESTS_WATER_FORMULA_H

#include <ctype.h>
#include <stddef.h>
#include <string.h>

/* Parts of a formula: metals, C of carbonate, S, B, the ring Cy, P; chlorine on a ring or an O is active, else
 * chloride; X is the anion that takes part in nothing. */
enum { PART_NA, PART_K, PART_CA, PART_MG, PART_C, PART_S, PART_B, PART_CY, PART_P, PART_ACTIVE, PART_CHLORIDE, PART_X, PARTS };

static inline void formula_parts(const char *formula, double part[PARTS], int *charge)
{
    static const struct {
        const char *text;
        int part;
    } names[] = {{"Na", PART_NA}, {"Ca", PART_CA}, {"Mg", PART_MG}, {"CO", PART_C}, {"SO4", PART_S}, {"BO3", PART_B},
                 {"Cy", PART_CY}, {"PO4", PART_P}, {"K", PART_K},   {"X", PART_X}};
    const int active = strstr(formula, "Cy") != NULL || strstr(formula, "OCl") != NULL;
    double group = 1.0;
    memset(part, 0, PARTS * sizeof *part);
    *charge = 0;
    for (const char *at = formula; *at;) {
        if (*at == '+' || *at == '-') {
            const int size = isdigit((unsigned char)at[1]) ? at[1] - '0' : 1;
            *charge = *at == '+' ? size : -size;
            return;
        }
        if (*at == '(') /* Mg(SO4)2 */
            group = 2.0;
        if (strncmp(at, "Cl", 2) == 0) {
            part[active ? PART_ACTIVE : PART_CHLORIDE] += isdigit((unsigned char)at[2]) ? at[2] - '0' : 1.0;
            at += 2;
            continue;
        }
        size_t step = 1;
        for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
            const size_t n = strlen(names[i].text);
            if (strncmp(at, names[i].text, n) != 0)
                continue;
            const int counted = names[i].part <= PART_MG && isdigit((unsigned char)at[n]); /* Na2SO4 */
            part[names[i].part] += counted ? at[n] - '0' : group;
            step = n;
            break;
        }
        at += step;
    }
}

/* Sums over n species: parts, charge, ionic strength and amount of all, mol/kg. */
typedef struct {
    double part[PARTS], charge, strength, amount;
} formula_sums;

static inline formula_sums formula_add_up(const char *const formula[], const double mol_per_kg[], int n)
{
    formula_sums sums = {{0.0}, 0.0, 0.0, 0.0};
    for (int i = 0; i < n; i++) {
        double part[PARTS];
        int z;
        formula_parts(formula[i], part, &z);
        for (int k = 0; k < PARTS; k++)
            sums.part[k] += part[k] * mol_per_kg[i];
        sums.charge += z * mol_per_kg[i];
        sums.strength += 0.5 * z * z * mol_per_kg[i];
        sums.amount += mol_per_kg[i];
    }
    return sums;
}

#endif
