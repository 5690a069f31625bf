// The logbook of this device: IndexedDB, as promises.

/** Where an entry stands: on this device alone, on the server, under a seal that server and device both have. */
export enum State {
  Here,
  Server,
  Sealed,
}

/** That the server does not take an entry, and what somebody decided about it. */
export interface Refused {
  /** A stable word (docs/api.md), and the server's own sentence, in English. */
  reason: string;
  sentence: string;
  /** It stays on this device alone. */
  kept?: boolean;
}

export interface Row {
  seq?: number;
  line: string;
  state: State;
  refused?: Refused;
}

/** What was worked out of a tub, and by which program. */
export interface Kept {
  program: string;
  bytes: Uint8Array;
}

type Store = "lines" | "facts" | "kept";

export function settled<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((good, bad) => {
    request.onsuccess = () => good(request.result);
    request.onerror = () => bad(request.error!);
  });
}

function upgrade(db: IDBDatabase): void {
  const lines = db.createObjectStore("lines", { keyPath: "seq", autoIncrement: true });
  lines.createIndex("line", "line", { unique: true });
  lines.createIndex("state", "state");
  db.createObjectStore("facts");
  db.createObjectStore("kept");
}

export async function open() {
  const request = indexedDB.open("tubwright", 1);
  request.onupgradeneeded = () => upgrade(request.result);
  const db = await settled(request);
  db.onversionchange = () => db.close();
  return {
    get: <T>(store: Store, key: IDBValidKey) => settled<T | undefined>(db.transaction(store).objectStore(store).get(key)),
    /** Rows behind this number, in order, at most so many. */
    rows: (after: number, most?: number) => settled<Row[]>(db.transaction("lines").objectStore("lines").getAll(IDBKeyRange.lowerBound(after, true), most)),
    count: (store: Store) => settled<number>(db.transaction(store).objectStore(store).count()),
    /** The number of the last row; 0: none. */
    last: async () => ((await settled<IDBCursor | null>(db.transaction("lines").objectStore("lines").openKeyCursor(null, "prev")))?.key as number | undefined) ?? 0,
    /** Everything whose key begins so. */
    all: <T>(store: Store, prefix: string) => settled<T[]>(db.transaction(store).objectStore(store).getAll(IDBKeyRange.bound(prefix, prefix + "\uffff"))),
    put: (store: Store, value: unknown, key?: IDBValidKey) => settled(db.transaction(store, "readwrite").objectStore(store).put(value, key)),
    /** Do something in one transaction: all of it is written to the disk, or none. */
    change<T>(stores: Store[], act: (tx: IDBTransaction) => Promise<T>): Promise<T> {
      return new Promise((good, bad) => {
        const tx = db.transaction(stores, "readwrite", { durability: "strict" });
        let value: T;
        tx.oncomplete = () => good(value);
        tx.onabort = () => bad(tx.error ?? new Error("the entry could not be stored"));
        act(tx).then((made) => (value = made), (fault) => {
          bad(fault);
          try {
            tx.abort();
          } catch {
            // It ended by itself.
          }
        });
      });
    },
  };
}
