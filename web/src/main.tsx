import { render } from "preact";
import { App } from "./app";
import { undress } from "./look/dress";
import { serveOffline } from "./parts/update";
import { begin } from "./state";

undress();
void begin();
void serveOffline().catch(() => {});
render(<App />, document.getElementById("app")!);
