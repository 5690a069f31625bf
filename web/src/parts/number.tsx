// Figures by big keys: no system keyboard hides LOG.
import { useState } from "preact/hooks";
import { figure, say } from "../lib/say";

const FIGURES = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0"];

export function NumberKeys({ name, value, put }: { name: string; value: string; put: (value: string) => void }) {
  const [typed, setTyped] = useState(value);
  const press = (key: string) => setTyped((key === "." && typed.includes(".")) || typed.length > 8 ? typed : typed + key);
  function keyed(event: KeyboardEvent): void {
    const key = event.key === "," ? "." : event.key;
    if (FIGURES.includes(key)) press(key);
    else if (key === "Backspace") setTyped(typed.slice(0, -1));
    else if (key === "Enter" && good) put(clean);
    else return;
    event.preventDefault();
  }
  const good = /^\d+(\.\d+)?$/.test(typed);
  const clean = typed.replace(/^0+(?=\d)/, "");
  return (
    <div onKeyDown={keyed}>
      <p class="count"><output aria-live="polite" aria-label={name}>{figure(typed) || "–"}</output></p>
      <div class="keys">
        {FIGURES.map((key) => <button class="key" style={{ minHeight: "60px", borderWidth: "1.5px", borderColor: "var(--edge)" }} onClick={() => press(key)}>{figure(key)}</button>)}
        <button class="key" style={{ minHeight: "60px", borderWidth: "1.5px", borderColor: "var(--edge)" }} onClick={() => setTyped(typed.slice(0, -1))} aria-label={say("take-back-figure")}>←</button>
        <button class="key" style={{ gridColumn: "1 / -1" }} disabled={!good} onClick={() => put(clean)}>{say("set")}</button>
      </div>
    </div>
  );
}
