// What was just written, and what the core asks back about it: shown above the card until something else is written.
import { useEffect, useState } from "preact/hooks";
import { clock } from "../lib/time";
import { to } from "../lib/route";
import { say } from "../lib/say";
import { Row } from "./page";
import { inShort } from "./reading";
import { useAnswer, type Written } from "../state";

let just: Written | null = null;

export function tell(written: Written): void {
  just = written;
}

/** `waits`: the card is being worked out; the sentences come after it. Until then it is said in fewer words. */
export function Logged({ tub, waits }: { tub: string; waits: boolean }) {
  const mine = just && just.entries[0]?.fields.tub === tub ? just : null;
  const [odd, setOdd] = useState<string[]>([]);
  const { answer } = useAnswer(tub, mine && !waits ? "logbook last=40" : "");
  useEffect(() => {
    let here = true;
    mine?.asked.then((answer) => here && setOdd((answer?.asked ?? []).map(({ text }) => text)), () => {});
    return () => void (here = false);
  }, [mine]);
  if (!mine) return null;
  const ids = new Set(mine.entries.map(({ fields }) => fields.id));
  const told = answer?.entries?.filter(({ entry }) => ids.has(entry)).map(({ said: words }) => words!.text) ?? [];
  const said = told.length > 0 ? told : mine.entries.map(({ fields }) => inShort(fields));
  return (
    <Row hour={clock(mine.entries[0]!.fields.at!)}>
      <p role="status"><b class="lead">{say("logged")}</b> {said.join("; ")} <a class="touch" href={to(tub, "logbook", mine.entries[0]!.fields.sample ?? mine.entries[0]!.fields.id)}>{say("wrong")}</a></p>
      {odd.map((text) => <p class="fault">{text}</p>)}
    </Row>
  );
}
