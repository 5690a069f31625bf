// What was read, one under the other: the hour stands in the margin once, beside all that is of it.
import { clock, day } from "../lib/time";
import { spoken } from "../lib/say";
import { Row } from "./page";

export function Dated({ list }: { list: { at?: string | null; text: string }[] }) {
  const groups: { hour: string; texts: string[] }[] = [];
  for (const { at, text } of list) {
    const hour = at ? `${day(at, spoken())} ${clock(at)}` : "";
    if (groups.at(-1)?.hour === hour) groups.at(-1)!.texts.push(text);
    else groups.push({ hour, texts: [text] });
  }
  return <>{groups.map(({ hour, texts }) => <Row hour={hour}>{texts.map((text) => <p>{text}</p>)}</Row>)}</>;
}
