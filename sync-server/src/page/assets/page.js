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

let asked = 0;

// Brings the page to where the survey stands, or only the named parts of it, which is quicker.
async function show(address, only = "") {
  const turn = ++asked;
  const from = new URL(address, location);
  if (only) from.searchParams.set("only", only);
  const answer = await fetch(from, { headers: { accept: "text/html" } });
  if (!answer.ok) throw new Error(String(answer.status));
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (turn !== asked) return;
  for (const twin of fresh.querySelectorAll("[data-part]")) {
    const part = document.getElementById(twin.id);
    if (part) exchange(part, twin);
  }
  ready();
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
  for (const link of document.querySelectorAll(".plan a")) {
    const to = new URL(link.href?.baseVal ?? link.href, location).searchParams.get("unit");
    link.toggleAttribute(mark, to !== null && to === unit);
  }
}

// What the item in hand is about is marked on the plan.
document.addEventListener("focusin", (event) => onPlan("data-asked", event.target.closest(".slip")?.dataset.about));

// Settling: the same form, sent without leaving the page, then on to the next item. What could not
// be sent stays here and is tried again when the office answers; sent twice it counts once.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.closest("[data-part]") || form.method !== "post" || form.action.endsWith("/links")) return;
  event.preventDefault();
  send(form, new URLSearchParams(new FormData(form)));
});

async function send(form, body) {
  const item = form.closest(".slip");
  const next = item?.nextElementSibling?.id ?? item?.previousElementSibling?.id;
  const buttons = form.querySelectorAll("button");
  for (const button of buttons) button.disabled = true;
  try {
    const answer = await fetch(form.action, { method: "post", body });
    if (!answer.ok) {
      const told = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main");
      again = null;
      say("Not kept. " + (told?.querySelector(".lead")?.textContent ?? "The office answered " + answer.status + "."));
      return;
    }
    again = null;
    say("");
    if (form.isConnected) form.reset();
    document.activeElement?.blur();
    await show(location.href, "title,hazards,settle");
    if (item) {
      (document.getElementById(item.id) ?? document.getElementById(next) ?? document.querySelector(".slip") ?? document.getElementById("settle-t"))?.focus();
    }
    else (document.getElementById(form.closest(".hazards") ? "hazards-t" : "done"))?.focus();
    // The rest of the page follows from the same change, and may come a moment later.
    setTimeout(() => show(location.href).catch(() => {}), 250);
  } catch {
    say("Not kept: the office cannot be reached. What you entered is still here, and is sent as soon as the office answers.",
      () => send(form, body));
  } finally {
    for (const button of buttons) button.disabled = false;
  }
}

// Rates: what they come to is asked for while they are typed.
let reckoning = 0;
document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-try]");
  if (!form) return;
  const turn = ++reckoning;
  setTimeout(async () => {
    if (turn !== reckoning) return;
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "try");
    try {
      const answer = await fetch(form.action, { method: "post", body });
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (turn !== reckoning) return;
      const wrong = fresh.querySelector(".wrong");
      say(wrong && !answer.ok ? wrong.textContent : "");
      const twin = fresh.getElementById(form.dataset.try);
      if (answer.ok && twin) document.getElementById(form.dataset.try).replaceWith(twin);
    } catch {
      say("The office cannot be reached; the figures are of the rates before.");
    }
  }, 120);
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
  const hear = async ({ type, data }) => {
    if (data === document.querySelector("[data-live]")?.dataset[type] || waiting) return;
    waiting = true;
    await new Promise((soon) => setTimeout(soon, 150));
    waiting = false;
    show(location.href).catch(() => say("What you see may be old: the office could not be asked for the news."));
  };
  news.addEventListener("heads", hear);
  news.addEventListener("office", hear);
}

ready();
