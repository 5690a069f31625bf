// Which view stands where. On a desk the logbook lies beside the card.
import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { capital, say } from "./lib/say";
import { to, usePlace } from "./lib/route";
import { Body, Head, Page, Row, Side, tubName } from "./parts/page";
import { Update } from "./parts/update";
import { drawn, tubs, useKnown } from "./state";
import { Bathing } from "./views/bathing";
import { Choose, isPad, Log } from "./views/log";
import { Forecast } from "./views/forecast";
import { Logbook } from "./views/logbook";
import { Now } from "./views/now";
import { Round } from "./views/round";
import { Settings } from "./views/settings";
import { Sheet } from "./views/sheet";
import { Things, THINGS } from "./views/things";
import { TOLD, ToldView } from "./views/told";
import { Water } from "./views/water";
import { Write } from "./views/write";

function useDesk(): boolean {
  const query = matchMedia("(min-width: 77.5em)");
  const [desk, setDesk] = useState(query.matches);
  useEffect(() => {
    const listener = () => setDesk(query.matches);
    query.addEventListener("change", listener);
    return () => query.removeEventListener("change", listener);
  }, []);
  return desk;
}

const ELSE = ["bathing", "plan", "worth", "ahead", "sheet", "why", "parts", "waters", "set-up"] as const;

/** Views beside the five. */
function More({ tub }: { tub: string }) {
  return (
    <Page title={tubName(tub)} under={say("more")} view="more" tub={tub} up={{ href: to(tub, "now"), word: say("view-now") }}>
      <Body style={{ paddingTop: 0 }}>
        {ELSE.map((view) => <a class="row line" href={to(tub, view)}><span class="hour" /><span class="text"><b>{capital(say(`view-${view}`))}</b><span class="small">{say(`under-${view}`)}</span></span></a>)}
      </Body>
    </Page>
  );
}

function View({ tub, view, about }: { tub: string; view: string; about: string }) {
  if (view === "log" && about === "choose") return <Choose tub={tub} />;
  if (view === "log" && !isPad(about)) return <Write key={about} tub={tub} kind={about === "filled" ? "exchange" : about} />;
  if (view === "log") return <Log key={about} tub={tub} about={about} />;
  if (view === "write") return <Write key={about} tub={tub} kind={about} />;
  if (view === "water") return <Water tub={tub} />;
  if (view === "forecast") return <Forecast tub={tub} />;
  if (view === "logbook") return <Logbook tub={tub} about={about} />;
  if (view === "bathing") return <Bathing tub={tub} />;
  if (view === "sheet") return <Sheet tub={tub} />;
  if (view in THINGS) return <Things key={view} tub={tub} view={view} />;
  if (view === "more") return <More tub={tub} />;
  if (TOLD.includes(view)) return <ToldView key={view} tub={tub} view={view} />;
  return <Now tub={tub} />;
}

export function App() {
  const known = useKnown();
  drawn();
  const place = usePlace();
  const desk = useDesk();
  if (known.trouble) return <Trouble why={known.trouble} />;
  // Until the logbook is open, the cards of before stand in the round and on their tubs.
  if (!known.ready && (tubs().length === 0 || !["round", "now"].includes(place.view))) return <div class="page"><Head title={say("app")} /><Body><Row><p class="working" role="status">{say("opening")}</p></Row></Body></div>;
  const unknown = place.tub && !tubs().some(({ id }) => id === place.tub);
  const view = !place.tub || unknown
    ? place.view === "settings" ? <Settings about={place.about} /> : place.view === "new" ? <Write tub="" kind="tub" /> : <Round />
    : <View {...place} />;
  return (
    <>
      <Update />
      {desk && place.tub && !unknown
        ? <Desk main={view} beside={place.view === "now" ? <Logbook tub={place.tub} about="" /> : <Now tub={place.tub} />} turned={place.view !== "now"} />
        : view}
    </>
  );
}

/** The main page and what lies beside it; `turned`: that comes first. */
function Desk({ main, beside, turned }: { main: ComponentChildren; beside: ComponentChildren; turned: boolean }) {
  const sides = [<Side.Provider key="main" value={{ beside: false, right: turned }}>{main}</Side.Provider>, <Side.Provider key="beside" value={{ beside: true, right: !turned }}>{beside}</Side.Provider>];
  return <div class="desk">{turned ? sides.reverse() : sides}</div>;
}

/** The logbook of this device cannot be read or written, or the program did not arrive whole: what is lost, and what is not. */
function Trouble({ why }: { why: string }) {
  const program = why.startsWith("/app/");
  return (
    <div class="page">
      <Head title={say("app")} weight="double" />
      <Body><Row hour={say("now")} fixed><h2 class="act">{program ? say("program-lost") : say("storage-lost")}</h2><p>{program ? say("program-why") : say("storage-why")}</p><p class="fault" role="alert">{why}</p>
        </Row></Body>
      <div class="acts one"><button class="key next" onClick={() => location.reload()}>{say("try-again")}</button></div>
    </div>
  );
}
