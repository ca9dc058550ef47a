// What this phone keeps, in IndexedDB. A write is called kept when the browser says that it is on
// disk; one that is cut off in the middle leaves nothing of itself.

const NAME = "scupper-walk";
const PLACES = { facts: null, roofs: "survey_id", outbox: "id", photos: null, told: "id" };
const TOLD = 100;
let opening;

function open() {
  opening ??= new Promise((done, fail) => {
    const ask = indexedDB.open(NAME, 1);
    ask.onupgradeneeded = () => {
      for (const [place, keyPath] of Object.entries(PLACES)) {
        ask.result.createObjectStore(place, keyPath ? { keyPath } : {});
      }
    };
    ask.onerror = () => fail(ask.error);
    ask.onsuccess = () => {
      // The browser may close it, to clear it or to let another tab change it.
      ask.result.onclose = () => { opening = undefined; };
      ask.result.onversionchange = () => { ask.result.close(); opening = undefined; };
      done(ask.result);
    };
  }).catch((error) => { opening = undefined; throw error; });
  return opening;
}

// Runs work over some places as one step, whole or not at all; its request's result comes back.
async function step(places, mode, work) {
  const db = await open();
  return new Promise((done, fail) => {
    const change = db.transaction(places, mode, { durability: "strict" });
    let asked;
    change.oncomplete = () => done(asked?.result);
    change.onabort = () => fail(change.error ?? new Error("the browser gave up"));
    try {
      asked = work((place) => change.objectStore(place));
    } catch (error) {
      change.abort();
      fail(error);
    }
  });
}

const read = (place, work) => step([place], "readonly", (at) => work(at(place)));
const write = (place, work) => step([place], "readwrite", (at) => { work(at(place)); });

export const fact = (name) => read("facts", (at) => at.get(name));
export const setFact = (name, value) => write("facts", (at) => at.put(value, name));
export const roofs = () => read("roofs", (at) => at.getAll());
export const roof = (survey) => read("roofs", (at) => at.get(survey));
export const setRoof = (card) => write("roofs", (at) => at.put(card));
export const photo = (id) => read("photos", (at) => at.get(id));
// What waits, oldest first: the ids say when.
export const waiting = () => read("outbox", (at) => at.getAll());
export const change = (entry) => write("outbox", (at) => at.put(entry));

// The note half written for a survey, and what is chosen.
const draftOf = (survey) => `draft ${survey}`;
export const setDraft = (survey, draft) => setFact(draftOf(survey), draft);
export const draft = async (survey) => ({ text: "", heard: [], began: null, about: "", ...(await fact(draftOf(survey))) });

export async function told(survey) {
  const all = await read("told", (at) => at.getAll());
  return all.filter((it) => it.survey === survey).reverse();
}

// Keeps an entry, a photo's bytes with it, and forgets the half-written note it came from: all or
// nothing, so that a tab killed here neither loses a note nor keeps it twice.
export function keep(entry, { bytes, done } = {}) {
  return step(["outbox", "photos", "facts"], "readwrite", (at) => {
    at("outbox").put(entry);
    if (bytes) at("photos").put(bytes, entry.id);
    if (done) at("facts").delete(draftOf(done));
  });
}

export function drop(id) {
  return step(["outbox", "photos"], "readwrite", (at) => {
    at("outbox").delete(id);
    at("photos").delete(id);
  });
}

// The same entry under another name.
export async function rename(entry, id) {
  const bytes = entry.kind === "photo" ? await photo(entry.id) : undefined;
  const named = { ...entry, id, body: { ...entry.body, [entry.kind === "note" ? "note_id" : "id"]: id } };
  await step(["outbox", "photos"], "readwrite", (at) => {
    at("outbox").delete(entry.id);
    at("photos").delete(entry.id);
    at("outbox").put(named);
    if (bytes) at("photos").put(bytes, id);
  });
}

// The office says that these are on its disk: lets go of them and keeps what it made of them.
export async function settle(answers, card) {
  const known = await read("told", (at) => at.getAllKeys());
  const old = known.slice(0, Math.max(0, known.length + answers.length - TOLD));
  await step(["outbox", "photos", "told", "roofs"], "readwrite", (at) => {
    for (const answer of answers) {
      at("outbox").delete(answer.id);
      at("photos").delete(answer.id);
      at("told").put(answer);
    }
    for (const id of old) at("told").delete(id);
    at("roofs").put(card);
  });
}

// Puts everything that waits for one survey into another.
export async function move(from, to) {
  const entries = (await waiting()).filter((entry) => entry.survey === from);
  await step(["outbox"], "readwrite", (at) => {
    for (const entry of entries) at("outbox").put({ ...entry, survey: to });
  });
}

// Asks the browser not to clear this by itself; whether it agreed.
export async function holdFast() {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

// Megabytes that the browser will still give, if it says.
export async function room() {
  const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
  return quota === undefined ? undefined : Math.floor((quota - usage) / 2 ** 20);
}
