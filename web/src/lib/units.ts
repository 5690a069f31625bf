// In which units this device shows temperatures, litres and weights (data/shown.csv; sentences of the core: src/units/shown.h). What was typed stays as it
// was typed, numbers of answers stay in the core's units: only what people see is converted, and what they type has the unit beside it.
import { factors, shownIn } from "tables";
import { figure } from "./say";

const KEY = "tubwright-units";
const CHOICES = [...new Set(shownIn.map(({ choice }) => choice))];
const chosen = (localStorage.getItem(KEY) ?? "").split(",").filter((word) => CHOICES.includes(word));

/** Those of a question. */
export const units = () => chosen.join(",");
/** The one of these that was chosen; else the first. */
export const oneOf = (...words: string[]) => words.find((word) => chosen.includes(word)) ?? words[0]!;

/** From now on: this one of these. */
export function choose(word: string, ...instead: string[]): void {
  localStorage.setItem(KEY, [...chosen.filter((other) => !instead.includes(other)), word].filter((other) => CHOICES.includes(other)).join(","));
  location.reload();
}

export interface Measured { value: number; decimals: number; unit: string }

/** A value in a unit of the tables as one in another. */
export function converted(value: number, from: string, to: string): number {
  const [[a, b, zero], [c, d, other]] = [factors[from]!, factors[to]!];
  return from === to ? value : ((value - zero) * a * d) / (b * c) + other;
}

/** Three significant digits. */
const decimalsFor = (size: number) => (size === 0 || (size >= 1 && size < 9.995) ? 2 : size < 0.1 ? 4 : size < 1 ? 3 : size < 99.95 ? 1 : 0);

/** A value in a unit as answers write it ("g", "°C"), as it is shown. */
export function measured(value: number, unit: string, decimals: number): Measured {
  const row = shownIn.filter(({ choice, seen, least }) => chosen.includes(choice) && seen === unit && Math.abs(value) >= least).at(-1);
  if (!row) return { value, decimals, unit };
  const other = converted(value, row.of, row.unit);
  return { value: other, unit: row.label, decimals: row.digits === 0 ? decimals : decimalsFor(Math.abs(other)) };
}

/** The same without zeros behind the point, as amounts stand. */
export function amountIn(value: number, unit: string, decimals: number): string {
  const { value: other, decimals: places, unit: label } = measured(value, unit, decimals);
  return `${figure(+other.toFixed(places))} ${label}`;
}

/** The unit in which somebody types what answers write in this one: its word in entries and as it is shown. */
export function typedIn(seen: string): { word: string; label: string } {
  const row = shownIn.find(({ choice, seen: of }) => chosen.includes(choice) && of === seen);
  return row ? { word: row.unit, label: row.label } : { word: seen, label: seen };
}

/** Whether it is shown in another unit than it has. */
export const another = (unit: string) => shownIn.some(({ choice, seen }) => chosen.includes(choice) && seen === unit);
