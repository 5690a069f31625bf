// A reading in few words: its name, and its value as it was entered.
import { analytes, type Sentence } from "tables";
import { called, figure, say } from "../lib/say";
import { converted, oneOf } from "../lib/units";

interface Value { form?: string; value?: string; high?: string }

/** In words for the reader, in signs for the eye. */
export function valueShown({ form, value, high }: Value): string {
  if (form === "between") return say("a-to-b", { a: figure(value!), b: figure(high!) });
  if (form === "below") return say("below-n", { n: figure(value!) });
  if (form === "above") return say("above-n", { n: figure(value!) });
  return value === undefined ? say("unreadable") : figure(value);
}

type Fields = Record<string, string>;

export const nameOf = ({ analyte }: Fields) => called(analytes[analyte!]?.name ?? analyte!);

/** The unit stands beside it where it is not the usual one. A temperature is said in the unit of this device; in that one it is as it was typed. */
export function valueOf(fields: Fields): string {
  if (fields.analyte === "temperature") return degrees(fields);
  return `${valueShown(fields)}${fields.unit && fields.unit !== analytes[fields.analyte!]?.unit ? ` ${fields.unit}` : ""}`;
}

export const DEGREES: Record<string, string> = { Cel: "°C", degF: "°F" };

function degrees(fields: Fields): string {
  const [from = "Cel", to] = [fields.unit, oneOf("Cel", "degF")];
  const one = (text?: string) => text && (from === to ? text : String(+converted(Number(text), from, to).toFixed(1)));
  return `${valueShown({ ...fields, value: one(fields.value), high: one(fields.high) })} ${DEGREES[to] ?? to}`;
}

/** A reading by its name and value, anything else by its kind. */
export const inShort = (fields: Fields) => (fields.kind === "reading" ? `${nameOf(fields)} ${valueOf(fields)}` : say(`kind-${fields.kind}` as Sentence));
