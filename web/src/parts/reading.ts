// A reading in few words: its name, and its value as it was entered.
import { analytes, type Sentence } from "tables";
import { called, figure, say } from "../lib/say";

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

/** The unit stands beside it where it is not the usual one. */
export const valueOf = (fields: Fields) => `${valueShown(fields)}${fields.unit && fields.unit !== analytes[fields.analyte!]?.unit ? ` ${fields.unit}` : ""}`;

/** A reading by its name and value, anything else by its kind. */
export const inShort = (fields: Fields) => (fields.kind === "reading" ? `${nameOf(fields)} ${valueOf(fields)}` : say(`kind-${fields.kind}` as Sentence));
