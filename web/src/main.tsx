import { render } from "preact";
import { App } from "./app";
import { undress } from "./look/dress";
import { serveOffline } from "./parts/update";
import { begin } from "./state";

void serveOffline().catch(() => {});
await undress();
void begin();
render(<App />, document.getElementById("app")!);
