// Amounts as people weigh and measure them.
import { amountIn, another } from "../lib/units";

/** As the card's own sentence has it: kilograms from 1,000 g on, or in the units that were chosen. */
export function amountShown(amount: number, unit: string): string {
  if (another(unit)) return amountIn(amount, unit, 1);
  if (unit === "g" && amount >= 1000) return amountIn(amount / 1000, "kg", 2);
  if (unit === "mL" && amount >= 1000) return amountIn(amount / 1000, "L", 2);
  return amountIn(amount, unit, 1);
}
