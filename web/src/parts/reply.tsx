// Questions of the card that yes, no and "don't know" answer, all on one page.
import { useState } from "preact/hooks";
import type { Sentence } from "tables";
import { say } from "../lib/say";
import type { Fact } from "../state";

const REPLIES = ["yes", "no", "unknown"] as const;

/** `only`: the one reply that means something here. */
export function Reply({ questions, put, fault, only }: { questions: string[]; put: (facts: Fact[]) => void; fault: string; only?: "yes" }) {
  const [replies, setReplies] = useState<Record<string, string>>({});
  const all = questions.every((question) => replies[question]);
  return (
    <form onSubmit={(event) => (event.preventDefault(), put(questions.map((question) => ({ kind: "reply", fields: [["question", question], ["reply", replies[question]!]] }))))}>
      <div class="acts still">
        {questions.map((question) => (
          <fieldset style={{ display: "contents" }}>
            <legend class="what" style={{ gridColumn: "1 / -1" }}>{say(`question-${question}` as Sentence)}</legend>
            {(only ? [only] : REPLIES).map((reply) => (
              <button type="button" class={only ? "key whole" : "key third"} aria-pressed={replies[question] === reply}
                onClick={() => setReplies({ ...replies, [question]: reply })}>{say(`reply-${reply}`)}</button>
            ))}
          </fieldset>
        ))}
      </div>
      <div class="acts one">
        {fault && <p class="fault key whole" role="alert">{fault}</p>}
        <button class="key next" disabled={!all}>{say("log-it")}</button>
      </div>
    </form>
  );
}
