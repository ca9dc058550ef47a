// The one script of the office page. It only helps: every page reads and every form works without
// it. It refreshes what changed without touching what is being typed, keeps the place in the
// queue, and says so when the office cannot be reached.

const stale = document.getElementById("stale");
let again = null;

// Words over the page, and what a button beside them tries once more.
function say(words, retry = null) {
  if (!words && again) return;
  again = retry;
  stale.textContent = words;
  stale.hidden = !words;
  if (retry) {
    const button = document.createElement("button");
    button.textContent = "Try again";
    button.addEventListener("click", tryAgain);
    stale.append(" ", button);
  }
}

function tryAgain() {
  const retry = again;
  again = null;
  say("");
  retry?.();
}

// A field that holds something the server does not know yet.
function dirty(field) {
  if (field.type === "hidden") return false;
  if (field.type === "checkbox") return field.checked !== field.defaultChecked;
  if (field.tagName === "SELECT") return field.selectedIndex !== Math.max([...field.options].findIndex((o) => o.defaultSelected), 0);
  return field.value !== field.defaultValue;
}

// An element that must not be replaced now: something is typed in it, or is about to be.
function busy(element) {
  if ([...element.querySelectorAll("input, select, textarea")].some(dirty)) return true;
  const at = document.activeElement;
  return element.contains(at) && at.matches("input, select, textarea") && at.type !== "checkbox";
}

// Puts the new state of one part in place. Items of the queue are exchanged one by one, so that
// the one being worked on stays as it is.
function exchange(old, fresh) {
  if (old.outerHTML === fresh.outerHTML) return;
  const at = document.activeElement;
  const focus = pathOf(at, old);
  const onward = follower(at, old, fresh);
  for (const details of old.querySelectorAll("details[open]")) {
    const twin = details.id
      ? fresh.querySelector("#" + CSS.escape(details.id))
      : matching(details, fresh);
    if (twin) twin.open = true;
  }
  for (const item of old.querySelectorAll(".slip")) {
    const twin = fresh.querySelector("#" + CSS.escape(item.id));
    if (!busy(item)) continue;
    if (twin) twin.replaceWith(item);
    else fresh.querySelector(".slips")?.prepend(item);
  }
  if (busy(old) && !old.querySelector(".slips")) return;
  old.replaceWith(fresh);
  // What was typed in moved over as it was; anything else has a twin at the same place.
  if (focus) (fresh.contains(at) ? at : find(focus, fresh) ?? onward)?.focus({ preventScroll: true });
}

// Where work goes on when the item in hand is settled and gone: at the next that is still there, at
// the one before it, at the heading.
function follower(at, old, fresh) {
  const items = [...old.querySelectorAll(".slip")];
  const n = items.indexOf(at?.closest(".slip"));
  if (n < 0) return null;
  const twins = [...items.slice(n + 1), ...items.slice(0, n).reverse()].map((item) => fresh.querySelector("#" + CSS.escape(item.id)));
  return twins.find(Boolean) ?? fresh.querySelector(".slip") ?? fresh.querySelector("#settle-t");
}

// The same details element in the fresh part: the one at the same place of the same item.
function matching(details, fresh) {
  const home = details.closest("[id]");
  const twin = home && (fresh.id === home.id ? fresh : fresh.querySelector("#" + CSS.escape(home.id)));
  if (!twin) return null;
  return twin.querySelectorAll("details")[[...home.querySelectorAll("details")].indexOf(details)];
}

// Where the focus is, in terms that outlive a refresh: the nearest id and the n-th control in it.
function pathOf(element, part) {
  if (!element || !part.contains(element)) return null;
  const home = element.closest("[id]");
  return { id: home.id, n: [...home.querySelectorAll("a, button, summary")].indexOf(element) };
}

function find(focus, part) {
  const home = part.id === focus.id ? part : part.querySelector("#" + CSS.escape(focus.id));
  return home && (home.querySelectorAll("a, button, summary")[focus.n] ?? home);
}

// Every look at the survey has a number, and every part keeps that of the look it is from: an answer
// that comes late never puts an older state over a newer one.
let looks = 0;
const seen = new Map();

// Asks the office; the parts of the page it answered with, as a document of their own, or what kept it.
async function ask(address, parts, wish) {
  const from = new URL(address, location);
  if (parts) from.searchParams.set("only", parts);
  const answer = await fetch(from, wish);
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  return { ok: answer.ok, status: answer.status, fresh };
}

function put(fresh, look) {
  for (const twin of fresh.querySelectorAll("[data-part]")) {
    const part = document.querySelector(`[data-part]#${CSS.escape(twin.id)}`);
    if (!part || look < (seen.get(twin.id) ?? 0)) continue;
    seen.set(twin.id, look);
    exchange(part, twin);
  }
  ready();
}

// Brings the page to where the survey stands, or only the named parts of it, which is quicker.
async function show(address, parts = "") {
  const look = ++looks;
  const { ok, status, fresh } = await ask(address, parts);
  if (!ok) throw new Error(String(status));
  put(fresh, look);
}

// Brings the whole page to where the survey stands, soon; asked for again meanwhile, later.
let soon = 0;
function catchUp(wait) {
  clearTimeout(soon);
  soon = setTimeout(async () => {
    try {
      await show(location.href);
      // Rates that are being tried come to something else on another roof.
      for (const form of document.querySelectorAll("form[data-try]")) if (busy(form)) reckon(form);
    } catch {
      say("What you see may be old: the office could not be asked for the news.", () => catchUp(0));
    }
  }, wait);
}

// A plan too large for the page comes after it, and then its units are links here, too.
async function plan() {
  const picture = document.querySelector("img[data-plan]");
  if (!picture) return;
  const answer = await fetch(picture.src);
  const drawn = new DOMParser().parseFromString(await answer.text(), "image/svg+xml").documentElement;
  if (drawn.tagName !== "svg") return;
  drawn.setAttribute("role", "group");
  picture.replaceWith(document.importNode(drawn, true));
}

function ready() {
  plan().catch(() => {});
  for (const hint of document.querySelectorAll(".keys")) hint.hidden = false;
  document.documentElement.classList.add("keyed");
  const unit = new URL(location).searchParams.get("unit");
  onPlan("data-chosen", unit);
  onPlan("data-asked", document.activeElement?.closest(".slip")?.dataset.about);
}

// Marks a unit on the plan, and no other.
function onPlan(mark, unit) {
  for (const link of document.querySelectorAll(`.plan a[${mark}]`)) link.removeAttribute(mark);
  if (!unit) return;
  for (const link of document.querySelectorAll(`.plan a[data-unit="${CSS.escape(unit)}"]`)) link.toggleAttribute(mark, true);
}

// What the item in hand is about is marked on the plan.
document.addEventListener("focusin", (event) => onPlan("data-asked", event.target.closest(".slip")?.dataset.about));

// Settling: the same form, sent without leaving the page. The answer is what it changes at once, with
// the next question in it; the rest of the page follows when the hand rests. What could not be sent
// stays here and is tried again when the office answers; sent twice it counts once.
const AT_ONCE = "title,hazards,settle";
const RESTED = 600;

document.addEventListener("submit", (event) => {
  const form = event.target;
  const part = form.closest("[data-part]")?.id;
  if (!part || form.method !== "post" || !/\/(settle|hazards|revoke)$/.test(form.action)) return;
  event.preventDefault();
  send(form, part, new URLSearchParams(new FormData(form)));
});

async function send(form, part, body) {
  const item = form.closest(".slip");
  const next = item?.nextElementSibling?.id ?? item?.previousElementSibling?.id;
  const buttons = form.querySelectorAll("button");
  for (const button of buttons) button.disabled = true;
  clearTimeout(soon);
  try {
    const look = ++looks;
    const to = new URL(form.action);
    to.search = location.search;
    const { ok, status, fresh } = await ask(to, `${AT_ONCE},${part}`, { method: "post", body });
    again = null;
    if (!ok) {
      const told = [...fresh.querySelectorAll("main .lead, main .next")].map((line) => line.textContent);
      say(["Not kept.", ...(told.length ? told : [`The office answered ${status}; try again.`])].join(" "));
      catchUp(RESTED);
      return;
    }
    say("");
    if (form.isConnected) form.reset();
    document.activeElement?.blur();
    put(fresh, look);
    land(item?.id, next, part);
    catchUp(RESTED);
  } catch {
    say("Not kept: the office cannot be reached. What you entered is still here, and is sent as soon as the office answers.",
      () => send(form, part, body));
  } finally {
    for (const button of buttons) button.disabled = false;
  }
}

// Where work goes on after an answer: at the item if it still waits, at the next one, at what was
// done, or in the part where it was done.
function land(item, next, part) {
  const id = (name) => name && document.getElementById(name);
  const there = item || next
    ? id(item) ?? id(next) ?? document.querySelector(".slip") ?? id("settle-t")
    : id({ hazards: "hazards-t", papers: "links-t" }[part] ?? "done");
  there?.focus();
}

// Rates: what they come to is asked for while they are typed.
let reckoning = 0;
function reckon(form) {
  const turn = ++reckoning;
  setTimeout(async () => {
    if (turn !== reckoning) return;
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "try");
    try {
      const { ok, fresh } = await ask(form.action, "", { method: "post", body });
      if (turn !== reckoning) return;
      say(ok ? "" : fresh.querySelector(".wrong, .lead")?.textContent ?? "");
      const twin = ok && fresh.getElementById(form.dataset.try);
      if (twin) document.getElementById(form.dataset.try).replaceWith(twin);
    } catch {
      say("The office cannot be reached; the figures are of the rates before. Try again when it answers.");
    }
  }, 120);
}

document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-try]");
  if (form) reckon(form);
});

// A rate book from a file, put where it can be read and changed before it is kept.
document.addEventListener("change", async (event) => {
  const into = event.target.dataset?.into;
  const file = into && event.target.files?.[0];
  if (file) document.getElementById(into).value = await file.text();
});

// From photo to photo.
document.addEventListener("keydown", (event) => {
  const way = { ArrowLeft: "prev", ArrowRight: "next" }[event.key];
  if (!way || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
  if (!document.querySelector(".large") || event.target.matches("input, select, textarea")) return;
  document.querySelector(`a[rel=${way}]`)?.click();
});

// A unit of this survey opens beside the plan; an item of the queue that is on the page is gone to.
document.addEventListener("click", async (event) => {
  const link = event.target.closest("a");
  if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const panel = document.getElementById("unit");
  const to = new URL(link.href?.baseVal ?? link.href, location);
  if (!panel || to.pathname !== location.pathname) return;
  const item = document.getElementById(decodeURIComponent(to.hash.slice(1)));
  if (item?.matches(".slip")) {
    event.preventDefault();
    item.focus();
    return;
  }
  const asks = to.searchParams.has("unit") || to.hash === "#unit";
  if (!asks || to.searchParams.has("all")) return;
  event.preventDefault();
  try {
    history.pushState(null, "", to);
    await show(to, "unit");
    const open = document.getElementById("unit");
    open.focus({ preventScroll: true });
    open.parentElement.scrollTop = 0;
    open.scrollIntoView({ block: "nearest" });
  } catch {
    location.assign(to);
  }
});
addEventListener("popstate", () => show(location.href).catch(() => location.reload()));

// Keys of the queue; they work only while the focus is in it and not in a field.
document.addEventListener("keydown", (event) => {
  const list = event.target.closest?.("#settle");
  if (!list || event.ctrlKey || event.altKey || event.metaKey || /INPUT|SELECT/.test(event.target.tagName)) return;
  const items = [...list.querySelectorAll(".slip")];
  const at = items.indexOf(event.target.closest(".slip"));
  if (event.key === "n" || event.key === "p") {
    items[event.key === "n" ? at + 1 : Math.max(at - 1, 0)]?.focus();
  } else if (event.key >= "1" && event.key <= "9" && at >= 0) {
    const buttons = [...items[at].querySelectorAll("button")].filter((b) => b.offsetParent);
    buttons[Number(event.key) - 1]?.click();
  } else return;
  event.preventDefault();
});

// News from the roof and from others in the office: the server says where the survey stands, the page
// asks for what it lacks.
const live = document.querySelector("[data-live]")?.dataset.live;

if (live) {
  let waiting = false;
  const news = new EventSource(live);
  const lost = () => again || say("The office cannot be reached. What you see may be old; it refreshes by itself.");
  news.addEventListener("open", () => (again ? tryAgain() : say("")));
  news.addEventListener("error", lost);
  addEventListener("offline", lost);
  // Of what was done here the page knows from the answer, which may still be on its way.
  const stands = {};
  const known = () => {
    const page = document.querySelector("[data-live]").dataset;
    return Object.entries(stands).every(([of, stand]) => page[of] === stand);
  };
  const hear = async ({ type, data }) => {
    stands[type] = data;
    if (waiting || known()) return;
    waiting = true;
    await new Promise((soon) => setTimeout(soon, 150));
    waiting = false;
    if (!known()) catchUp(0);
  };
  news.addEventListener("heads", hear);
  news.addEventListener("office", hear);
}

ready();
