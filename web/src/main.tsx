import { render } from "preact";
import { App } from "./app";
import { undress } from "./look/dress";
import { serveOffline } from "./parts/update";
import { begin, recall } from "./state";

await recall(undress());
render(<App />, document.getElementById("app")!);
void begin(); // once the cards of before stand there
void serveOffline().catch(() => {});
