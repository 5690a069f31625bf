// This device: looks, language, who writes, where the only copy is, files in and out, signing in.
import { useEffect, useState } from "preact/hooks";
import { words } from "tables";
import { stamp } from "../lib/time";
import { to } from "../lib/route";
import { called, capital, languages, say, spoken } from "../lib/say";
import { choose, oneOf } from "../lib/units";
import { problemOf, problemSaid } from "../lib/problem";
import { Body, Head, Row, WhereKept } from "../parts/page";
import { roleSaid } from "../parts/refused";
import { exportLines, refusedOf } from "../entries";
import { bring, decide, known, meetServer, tubs, useFact, useKnown } from "../state";
import { dress, speakNow } from "../look/dress";

/** What can be shown in other units (data/shown.csv): first as it is inside. */
const UNITS: ["temperature" | "volume" | "weight", ...[string, string][]][] = [
  ["temperature", ["Cel", "°C"], ["degF", "°F"]], ["volume", ["L", "L, mL"], ["gal-us", "US gal, US fl oz"], ["gal-imp", "imp gal, imp fl oz"]], ["weight", ["g", "g, kg"], ["oz", "oz, lb"]]];

/** `about`: the problem that led here. */
export function Settings({ about }: { about: string }) {
  useKnown();
  const [by, setBy] = useFact("by", "");
  const [role, setRole] = useFact("role", "");
  const [look, setLook] = useFact("look", "day");
  return (
    <div class="page">
      <Head title={capital(say("view-settings"))} up={{ href: to("", "round"), word: say("view-round") }} />
      <Body>
        <Row>
          <label class="field">{say("initials")}<input maxLength={24} value={by} onInput={(e) => setBy(e.currentTarget.value)} autocomplete="off" /></label>
          <label class="field">{say("role")}<select value={role} onChange={(e) => setRole(e.currentTarget.value)}><option value="">–</option>{words.role!.filter(([word]) => word !== "device").map(([word, meaning]) => <option value={word}>{called(meaning)}</option>)}</select></label>
          <fieldset class="field" style={{ border: 0, padding: 0 }}><legend>{say("look")}</legend>
            <div class="times">{(["day", "dusk"] as const).map((name) => <button class="key" style={{ gridColumn: "span 2" }} aria-pressed={look === name} onClick={() => (setLook(name), dress(name))}>{say(`look-${name}`)}</button>)}</div></fieldset>
          {languages.length > 1 && <label class="field">{say("language")}<select value={spoken()} onChange={(e) => speakNow(e.currentTarget.value)}>{languages.map((language) => <option value={language}>{new Intl.DisplayNames([language], { type: "language" }).of(language)}</option>)}</select></label>}
          <fieldset class="field" style={{ border: 0, padding: 0 }}><legend>{say("units")}</legend>
            {UNITS.map(([name, ...words]) => <label class="field">{say(`units-${name}`)}<select value={oneOf(...words.map(([word]) => word))} onChange={(e) => choose(e.currentTarget.value, ...words.map(([word]) => word))}>{words.map(([word, label]) => <option value={word}>{label}</option>)}</select></label>)}</fieldset>
          <p class="small" style={{ marginTop: "16px" }}>{say("zone", { zone: Intl.DateTimeFormat().resolvedOptions().timeZone })}</p>
        </Row>
        {tubs().length > 0 && <Row><h2>{say("of-each-tub")}</h2><p>{tubs().map(({ id, name }) => <a class="touch" style={{ marginRight: "24px" }} href={to(id, "set-up")}>{name}</a>)}</p></Row>}
        {about && <Row><p class="fault" role="alert">{problemSaid({ kind: about, status: 401 })}</p></Row>}
        <Row><h2>{say("where-kept")}</h2><WhereKept /><Persist /><Insecure /></Row>
        <WhoIsIn />
        <Row><h2>{say("files")}</h2><Files /></Row>
      </Body>
    </div>
  );
}

/** The browser may throw away what is kept here unless it is asked not to. */
function Persist() {
  const [kept, setKept] = useState<boolean | null>(null);
  useEffect(() => void navigator.storage?.persisted?.().then(setKept), []);
  if (kept === null) return null;
  return kept ? <p class="small">{say("persists")}</p> : <button class="key" onClick={() => void navigator.storage.persist().then(setKept)}>{say("ask-persist")}</button>;
}

function Insecure() {
  return isSecureContext ? null : <p class="fault">{say("not-secure")}</p>;
}

/** Who is signed in, and a form for whoever is not, or is not the one who may. */
function WhoIsIn() {
  const met = known.met;
  if (met?.how === "sign-in") return <Row><SignIn /></Row>;
  const who = met?.how === "met" ? met.who : {};
  if (!who.role && !(met?.how === "problem" && met.status === 403)) return null;
  return (
    <Row>
      {who.role && <p>{who.name ? say("signed-in", { name: who.name, role: roleSaid(who.role) }) : say("signed-in-link", { role: roleSaid(who.role) })}</p>}
      <details><summary class="touch">{say("sign-in-other")}</summary><SignIn /></details>
    </Row>
  );
}

/** Whoever signs in may write what somebody else might not: what was refused is sent again. */
function SignIn() {
  const [name, setName] = useState("");
  const [passphrase, setPassphrase] = useState("");
  const [fault, setFault] = useState("");
  async function submit(event: Event): Promise<void> {
    event.preventDefault();
    const body = JSON.stringify({ name, passphrase });
    const response = await fetch("/api/session", { method: "POST", headers: { "Content-Type": "application/json" }, body }).catch(() => null);
    setPassphrase("");
    setFault(!response ? say("problem-unreached") : response.ok ? "" : problemSaid(await problemOf(response)));
    if (!response?.ok) return;
    await decide(refusedOf(), false);
    await meetServer();
  }
  return (
    <form onSubmit={submit}>
      <h2>{say("sign-in")}</h2>
      <label class="field">{say("name")}<input required autocomplete="username" value={name} onInput={(e) => setName(e.currentTarget.value)} /></label>
      <label class="field">{say("passphrase")}<input required type="password" autocomplete="current-password" value={passphrase} onInput={(e) => setPassphrase(e.currentTarget.value)} /></label>
      {fault && <p class="fault" role="alert">{fault}</p>}
      <button class="key" style={{ marginTop: "12px", width: "100%" }}>{say("sign-in")}</button>
    </form>
  );
}

function Files() {
  const [said, setSaid] = useState("");
  function save(): void {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([exportLines()], { type: "application/jsonl" }));
    link.download = `tubwright-${stamp(new Date()).slice(0, 10)}.jsonl`;
    link.click();
    URL.revokeObjectURL(link.href);
  }
  async function read(file: File | undefined): Promise<void> {
    if (!file) return;
    const { taken, had, refused } = await bring((await file.text()).split("\n"));
    setSaid([say("brought", { taken, had }), ...refused.slice(0, 5).map(({ line, why }) => say("line-refused", { line, why }))].join(" "));
  }
  return (
    <>
      <button class="key" style={{ width: "100%", marginTop: "8px" }} onClick={save}>{say("export")}</button>
      <label class="field">{say("import")}<input type="file" accept=".jsonl,application/jsonl,text/plain" onChange={(e) => void read(e.currentTarget.files?.[0])} /></label>
      <p role="status">{said}</p>
    </>
  );
}
