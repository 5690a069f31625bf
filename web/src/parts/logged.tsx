// What was just written, and what the core asks back about it: shown above the card until something else is written.
import { useEffect, useState } from "preact/hooks";
import type { Answer } from "tables";
import { clock } from "../lib/time";
import { to } from "../lib/route";
import { say } from "../lib/say";
import { Row } from "./page";
import { useAnswer, type Entry } from "../state";

interface Just { entries: Entry[]; asked: Promise<Answer> }
let just: Just | null = null;

export function tell(entries: Entry[], asked: Promise<Answer>): void {
  just = { entries, asked };
}

export function Logged({ tub }: { tub: string }) {
  const mine = just && just.entries[0]?.fields.tub === tub ? just : null;
  const [odd, setOdd] = useState<string[]>([]);
  const { answer } = useAnswer(tub, "logbook last=40");
  useEffect(() => {
    let here = true;
    mine?.asked.then(({ asked }) => here && setOdd((asked ?? []).map(({ text }) => text)), () => {});
    return () => void (here = false);
  }, [mine]);
  if (!mine) return null;
  const ids = new Set(mine.entries.map(({ fields }) => fields.id));
  const said = answer?.entries?.filter(({ entry }) => ids.has(entry)).map(({ said: words }) => words!.text) ?? [];
  return (
    <Row hour={clock(mine.entries[0]!.fields.at!)}>
      <p role="status"><b class="lead">{say("logged")}</b> {said.join("; ")} <a class="touch" href={to(tub, "logbook", mine.entries[0]!.fields.sample ?? mine.entries[0]!.fields.id)}>{say("wrong")}</a></p>
      {odd.map((text) => <p class="fault">{text}</p>)}
    </Row>
  );
}
