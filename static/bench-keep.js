// Values on their way to the shop's books: written to this tablet's own database first, sent then, as often as it
// takes. Each has a key, so that one sent twice is there once. Nothing here knows the page.

const NAME = "thumbplane-bench";
const STORE = "entries";
const LONGEST_WAIT_MS = 10000;

function open() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "order", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

let opened;

async function within(mode, deed) {
  opened ??= open().catch((cause) => {
    opened = undefined;
    throw cause;
  });
  const database = await opened;
  return new Promise((resolve, reject) => {
    // strict: the disk has it before we say so, because a tablet may die the next moment
    const transaction = database.transaction(STORE, mode, { durability: "strict" });
    const asked = deed(transaction.objectStore(STORE));
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

/** Every entry on this tablet, oldest first; those with `sent` have reached the books. */
export const all = () => within("readonly", (store) => store.getAll());

/** Keeps an entry; once this resolves, it survives the tablet. */
export const keep = (entry) => within("readwrite", (store) => store.add(entry));

const change = (entry) => within("readwrite", (store) => store.put(entry));

/** Forgets entries that the page itself shows by now. */
export const forget = (orders) =>
  within("readwrite", (store) => {
    for (const order of orders) store.delete(order);
  });

/** How many values wait on this tablet, of anybody. */
export async function waiting() {
  return (await all()).filter((entry) => !entry.sent && !entry.refused).length;
}

/** A key nobody else makes; randomUUID is not there on a page without TLS. */
export function newKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Sends what waits, oldest first. `answered(entry, answer)` hears each answer; `changed({state, count, others})` hears
 * how it stands: "saved", "sending", "offline", "signed-out", "refused".
 */
export function sender(staff, { since, answered, changed }) {
  let running = null;
  let wanted = false;
  let pause = 500;
  let timer;

  async function send() {
    for (;;) {
      wanted = false;
      const entries = (await all()).filter((entry) => !entry.sent && !entry.refused);
      const others = entries.filter((entry) => entry.staff !== staff);
      const mine = entries.filter((entry) => entry.staff === staff);
      const tell = (state, count) => changed({ state, count, others });
      if (!mine.length) {
        tell("saved", 0);
        if (wanted) continue;
        return;
      }
      tell("sending", mine.length);
      for (const [place, entry] of mine.entries()) {
        const left = mine.length - place;
        let response;
        try {
          response = await fetch(`/bench/jobs/${entry.job}/cells`, {
            method: "POST",
            body: new URLSearchParams({
              key: entry.key,
              cell: entry.cell,
              typed: entry.typed,
              replaces: entry.replaces,
              settles: entry.settles ?? 0,
              sure: entry.sure ? "yes" : "",
              after: entry.after,
              since: since(),
            }),
          });
        } catch {
          tell("offline", left);
          return again();
        }
        const isAnswer = response.headers.get("content-type")?.startsWith("application/json");
        if (response.ok && isAnswer) {
          pause = 500;
          const answer = await response.json();
          const kept = ["stands", "disputed", "late"].includes(answer.outcome);
          // what the books did not take stays in its cell with what they said, and no longer waits
          const { words, likely, outcome } = answer;
          await change({ ...entry, ...(kept ? { sent: answer.seen } : { refused: outcome, said: { words, likely } }) });
          answered(entry, answer);
        } else if (response.status === 401 || response.status === 403 || response.redirected) {
          tell("signed-out", left);
          return again();
        } else if (response.status >= 500 || response.status === 408 || response.status === 429) {
          tell("offline", left);
          return again();
        } else {
          await change({ ...entry, refused: "refused" });
          answered(entry, { outcome: "refused", cells: [], disputes: [] });
        }
      }
    }
  }

  function again() {
    clearTimeout(timer);
    timer = setTimeout(kick, pause);
    pause = Math.min(pause * 2, LONGEST_WAIT_MS);
  }

  /** Sends what waits; resolves when nothing more can be sent now. */
  function kick() {
    wanted = true;
    running ??= send()
      .catch((cause) => console.error(cause))
      .finally(() => {
        running = null;
      });
    return running;
  }

  window.addEventListener("online", () => {
    pause = 500;
    kick();
  });
  return { kick };
}
