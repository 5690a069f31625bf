// Functions of a worker called from the page: one message there, one back.

type Call = { call: number; name: string; args: unknown[] };
type Back = { call: number; value?: unknown; fault?: { message: string; more?: unknown } };

/** A fault that crossed between worker and page with what it carries. */
export class Fault extends Error {
  constructor(message: string, readonly more?: unknown) {
    super(message);
  }
}

type Methods = Record<string, (...args: never[]) => unknown>;
export type Remote<T extends Methods> = { [K in keyof T]: (...args: Parameters<T[K]>) => Promise<Awaited<ReturnType<T[K]>>> };

/** In the worker: answer calls, one after the other, so that what is asked first is answered first. */
export function answerCalls(methods: Methods): void {
  let last: Promise<unknown> = Promise.resolve();
  self.onmessage = ({ data }: MessageEvent<Call>) => {
    last = last.then(async () => {
      try {
        const value = await methods[data.name]!(...(data.args as never[]));
        self.postMessage({ call: data.call, value } satisfies Back);
      } catch (fault) {
        const { message, more } = fault as Fault;
        self.postMessage({ call: data.call, fault: { message, more } } satisfies Back);
      }
    });
  };
}

/** In the page: the worker's functions. Messages without a call number go to `told`. */
export function remote<T extends Methods>(worker: Worker, told: (message: unknown) => void = () => {}): Remote<T> {
  let calls = 0;
  const waiting = new Map<number, { good: (value: unknown) => void; bad: (fault: Fault) => void }>();
  worker.onmessage = ({ data }: MessageEvent<Back>) => {
    const call = waiting.get(data.call);
    if (!call) return told(data);
    waiting.delete(data.call);
    if (data.fault) call.bad(new Fault(data.fault.message, data.fault.more));
    else call.good(data.value);
  };
  worker.onerror = (event) => {
    for (const { bad } of waiting.values()) bad(new Fault(event.message));
    waiting.clear();
  };
  return new Proxy({} as Remote<T>, {
    get: (_, name: string) => (...args: unknown[]) =>
      new Promise((good, bad) => {
        waiting.set(++calls, { good, bad });
        worker.postMessage({ call: calls, name, args } satisfies Call);
      }),
  });
}
