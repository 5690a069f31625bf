// Amounts as people weigh and measure them.
import { figure } from "../lib/say";

/** As the card's own sentence has it: kilograms from 1,000 g on. */
export function amountShown(amount: number, unit: string): string {
  if (unit === "g" && amount >= 1000) return `${figure(+(amount / 1000).toFixed(2))} kg`;
  if (unit === "mL" && amount >= 1000) return `${figure(+(amount / 1000).toFixed(2))} L`;
  return `${figure(+amount.toFixed(1))} ${unit}`;
}
