// Entries on their way to the shop. Each is one form with its client_id, kept in this browser's database from the tap on
// "Send" until the shop has said that it has it; whoever sends it twice sends the same entry. An entry belongs to the
// user who wrote it: it is neither shown to another nor sent while another is signed in.
//
// A classic script with one global: pages load it, and so does the service worker, which cannot import modules everywhere.

self.outbox = (() => {
  const DATABASE = "run-in-book";
  const STORE = "outbox";
  const PATIENCE_MS = 20_000;
  const RECEIVED_KEPT_MS = 3 * 86_400_000;
  const channel = "BroadcastChannel" in self ? new BroadcastChannel("outbox") : null;
  const watchers = new Set();
  channel?.addEventListener("message", () => watchers.forEach((watcher) => watcher()));

  function changed() {
    channel?.postMessage("changed");
    watchers.forEach((watcher) => watcher());
  }

  function opened() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open(DATABASE, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: ["user", "id"] });
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
      asked.onblocked = () => reject(new Error("blocked"));
    });
  }

  // Resolves when it is on the disk, not when it is on its way there: the battery may be empty in a second.
  async function within(mode, act) {
    const database = await opened();
    try {
      return await new Promise((resolve, reject) => {
        const transaction = database.transaction(STORE, mode, { durability: "strict" });
        const asked = act(transaction.objectStore(STORE));
        transaction.oncomplete = () => resolve(asked?.result);
        transaction.onerror = transaction.onabort = () => reject(transaction.error);
      });
    } finally {
      database.close();
    }
  }

  // In the order in which they were written: a meter that has run on is asked about only where something is missing.
  async function everything() {
    const all = await within("readonly", (store) => store.getAll());
    return all.sort((one, other) => one.writtenAt.localeCompare(other.writtenAt));
  }

  const get = (user, id) => within("readonly", (store) => store.get([user, id]));

  const of = async (user) => (await everything()).filter((one) => one.user === user);

  const isWaiting = (one) => one.state !== "received";

  async function put(item) {
    await within("readwrite", (store) => store.put({ ...item, state: "waiting" }));
    changed();
  }

  async function remove(user, id) {
    await within("readwrite", (store) => store.delete([user, id]));
    changed();
  }

  // What the shop answered, unless the entry was written anew in the meantime.
  async function mark(sent, told) {
    await within("readwrite", (store) => {
      const asked = store.get([sent.user, sent.id]);
      asked.onsuccess = () => {
        const now = asked.result;
        if (!now || now.stamp !== sent.stamp || now.state === "received") return;
        const kept = { ...now, ...told };
        if (kept.state === "received") Object.assign(kept, { fields: [], receivedAt: Date.now() });
        store.put(kept);
      };
    });
    changed();
  }

  async function token() {
    if (typeof document !== "undefined") return document.cookie.match(/(?:^|;\s*)csrftoken=([^;]+)/)?.[1] ?? "";
    return (await self.cookieStore?.get("csrftoken"))?.value ?? "";
  }

  const impatient = (more) => ({ credentials: "same-origin", redirect: "manual", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS), ...more });

  // The number of the user who is signed in; "" for nobody, null when the shop cannot be reached.
  async function whoIsSignedIn() {
    try {
      const answer = await fetch("/api/v1/me/", impatient({ headers: { Accept: "application/json" } }));
      if (answer.ok) return String((await answer.json()).user_id);
      return answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403 ? "" : null;
    } catch {
      return null;
    }
  }

  // The answer of the shop; null when it had none to give, undefined when it was not reached.
  async function send(item) {
    const body = new URLSearchParams(item.fields);
    body.set("sent_at", new Date().toISOString());
    const headers = { Accept: "application/json", "X-CSRFToken": await token(), "X-Written-By": item.user };
    let answer;
    try {
      answer = await fetch(item.url, impatient({ method: "POST", body, headers }));
    } catch {
      return undefined;
    }
    if (answer.type === "opaqueredirect") return { state: "signin" };
    const told = await answer.json().catch(() => null);
    if (told?.state === "other") return { state: "signin" };
    if (told?.state) return told;
    return answer.status === 404 ? { state: "refused" } : null;
  }

  async function sendAll() {
    const all = await everything();
    const old = all.filter((one) => !isWaiting(one) && Date.now() - one.receivedAt > RECEIVED_KEPT_MS);
    for (const one of old) await remove(one.user, one.id);
    const ready = all.filter((one) => one.state === "waiting" || one.state === "signin");
    if (!ready.length) return;
    const user = await whoIsSignedIn();
    if (user === null) return;
    for (const one of ready) {
      if (one.user !== user) {
        if (one.state !== "signin") await mark(one, { state: "signin" });
        continue;
      }
      const told = await send(one);
      if (told) await mark(one, told);
      else if (one.state !== "waiting") await mark(one, { state: "waiting" });
      if (told === undefined) break;
    }
  }

  // One sender at a time, over all tabs and the service worker.
  async function flush() {
    return navigator.locks ? navigator.locks.request("outbox", sendAll) : sendAll();
  }

  async function countWaiting() {
    return (await everything()).filter(isWaiting).length;
  }

  return { of, get, put, remove, mark, flush, countWaiting, isWaiting, token, watch: (watcher) => watchers.add(watcher) };
})();
