// Asking the office. Every way it can go wrong is one Trouble, with words that say what to do.

export class Trouble extends Error {
  constructor(kind, text, detail = {}) {
    super(text);
    Object.assign(this, { kind, ...detail });
  }
}

const PATIENCE = 60_000;
// Small enough to get through a weak signal, large enough not to take all day.
const PIECE = 256 * 1024;
const KEPT = "Everything is still on this phone.";

let token;
export const showToken = (it) => { token = it; };

async function ask(method, path, headers = {}, body) {
  if (token) headers.Authorization = `Bearer ${token}`;
  const how = { method, headers, body, cache: "no-store", credentials: "omit", redirect: "error" };
  try {
    return await fetch(path, { ...how, signal: AbortSignal.timeout(PATIENCE) });
  } catch {
    throw new Trouble("no-answer", `No answer from the office. ${KEPT} Try again where there is signal.`);
  }
}

async function json(answer) {
  try {
    return await answer.json();
  } catch {
    throw new Trouble("no-answer", `What came back is not from the office, or broke off. ${KEPT} If this is a \
guest network, open its own page first, then try again.`);
  }
}

async function good(answer) {
  if (answer.ok) return answer;
  const { detail = "no reason given", place } = await json(answer);
  const wait = answer.headers.get("Retry-After");
  switch (answer.status) {
    case 401: throw new Trouble("unknown", `The office does not know this phone any more. ${KEPT} Ask for a \
new code and enrol it again.`);
    case 403: throw new Trouble("forbidden", `The office refuses: ${detail}. ${KEPT}`);
    case 404: throw new Trouble("gone", `The office says: ${detail}. ${KEPT}`);
    case 400: case 413: case 422: throw new Trouble("refused", detail, { place });
    case 429: throw new Trouble("wait", `The office is asked too often. ${KEPT} Try again in ${wait ?? 60} seconds.`);
    case 507: throw new Trouble("full", `The office has no room left: ${detail}. ${KEPT} Tell the office, and \
exchange again later.`);
    default: throw new Trouble("fault", `The office could not do it (${answer.status}): ${detail}. ${KEPT} Try \
again; if it stays so, tell the office.`, { status: answer.status });
  }
}

export async function get(path) {
  return json(await good(await ask("GET", path)));
}

// A fresh token in place of the one that is shown, which works until the fresh one is first used.
export async function freshToken() {
  return (await json(await good(await ask("POST", "/v1/token")))).token;
}

export async function post(path, body) {
  const headers = { "Content-Type": "application/json" };
  return json(await good(await ask("POST", path, headers, JSON.stringify(body))));
}

// Sends a photo's original, from wherever an earlier try left off. Returns once it is there.
export async function sendPhoto(survey, hash, bytes, mediaType, progress) {
  const begin = async () => where(await good(await ask("POST", "/v1/uploads", {
    "Content-Type": mediaType,
    "Upload-Length": String(bytes.byteLength),
    "Upload-Complete": "?0",
    "Scupper-Photo": hash,
    "Scupper-Part": "original",
    "Scupper-Content": hash,
    "Scupper-Survey": survey,
  })));
  let stands = await begin();
  const { place } = stands;
  for (let stuck = 0; !stands.whole; ) {
    progress(stands.offset / bytes.byteLength);
    const piece = bytes.slice(stands.offset, stands.offset + PIECE);
    const last = stands.offset + piece.byteLength === bytes.byteLength;
    const answer = await ask("PATCH", place, {
      "Content-Type": "application/partial-upload",
      "Upload-Offset": String(stands.offset),
      "Upload-Complete": last ? "?1" : "?0",
    }, piece);
    // 409 tells where it truly stands; 404 that it is over or was forgotten: beginning again tells.
    let next;
    if (answer.status === 404) next = await begin();
    else next = where(answer.status === 409 ? answer : await good(answer));
    stuck = next.offset > stands.offset ? 0 : stuck + 1;
    if (stuck > 3) throw new Trouble("fault", `The photo does not get on. ${KEPT} Exchange again.`);
    stands = next;
  }
}

function where({ headers }) {
  return {
    place: headers.get("Location"),
    offset: Number(headers.get("Upload-Offset") ?? 0),
    whole: headers.get("Upload-Complete") === "?1",
  };
}
