// What the server does not take: which entries, why, and what can be done about it. They stay in the logbook of this device, whatever is decided.
import { faults, words, type Sentence } from "tables";
import type { Refused as Refusal } from "../book/shelf";
import { refusedOf, type Entry } from "../entries";
import { to } from "../lib/route";
import { called, has, say } from "../lib/say";
import { decide, useKnown } from "../state";
import { Para, Row } from "./page";
import { inShort } from "./reading";

/** A role by its meaning, as the tables have it. */
export const roleSaid = (role = "") => called(words.role!.find(([word]) => word === role)?.[1] ?? role);

const OF_PERSON: Record<string, Sentence> = { "other-tub": "refused-do-sign-in", "not-of-role": "refused-do-sign-in", "not-allowed": "refused-do-sign-in", "other-role": "refused-do-role" };

/** Why, by the server's stable word: whose matter it is, else what kind of fault its program sees (data/entry/faults.csv). */
function why({ fields, row }: Entry): string {
  const own = `refused-${row.refused!.reason}`;
  return say(has(own) ? own : (`refused-${faults[row.refused!.reason] ?? "other"}` as Sentence), { role: roleSaid(fields.role) });
}

const ofPerson = ({ reason }: Refusal) => reason in OF_PERSON;
const once = (texts: string[]) => [...new Set(texts)].join(" ");

/** On the card of a tub: what of it is not on the server, and why. */
export function RefusedOf({ tub }: { tub: string }) {
  useKnown();
  const entries = refusedOf(tub);
  if (entries.length === 0) return null;
  const first = entries[0]!.fields;
  return (
    <Row><div role="status"><Para lead={say("refused-lead")}>{entries.map(({ fields }) => inShort(fields)).join(", ")}. {once(entries.map(why))} <a class="touch" href={to(tub, "logbook", first.id)}>{say("refused-what-to-do")}</a></Para></div></Row>
  );
}

/** On their line in the logbook: why, what to do, and the keys that do it. */
export function Decide({ entries }: { entries: Entry[] }) {
  const open = entries.filter(({ row }) => !row.refused!.kept);
  const said = once(open.map(({ row }) => row.refused!).filter((refused) => !ofPerson(refused)).map(({ sentence }) => sentence));
  return (
    <div class="refused">
      {open.length > 0 && <p>{once(open.map(why))} {said && <>{say("refused-said")} <q lang="en">{said}</q> </>}{once(open.map(({ row }) => say(OF_PERSON[row.refused!.reason] ?? "refused-do-anew")))}</p>}
      <div class="pair">
        <button class="key" onClick={() => void decide(entries, false)}>{say("refused-send")}</button>
        {open.length > 0 && <button class="key" onClick={() => void decide(entries, true)}>{say("refused-keep")}</button>}
      </div>
    </div>
  );
}
